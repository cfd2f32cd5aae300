"""What a phone brought home from one corner of the woodlot: a walked edge, marked trees."""

from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pandas as pd
import pyproj
import shapely
from landform import Floats, Landform
from shapely.geometry import Polygon

# One day's walk round the lower corner, the landing's field corner in it; local metres.
CORNER = Polygon(
    [
        (66, 168), (128, 154), (180, 150), (240, 158), (300, 168), (306, 222),
        (298, 268), (240, 276), (176, 300), (112, 292), (96, 232), (68, 206),
    ]
)  # fmt: skip
STEP_M, TRACK_NOISE_M, DOT_NOISE_M = 6.0, 1.5, 3.0
CODES = {
    "sugar maple": "SM", "red maple": "RM", "yellow birch": "YB", "American beech": "BE",
    "white ash": "WA", "northern red oak": "RO", "black cherry": "BC", "eastern hemlock": "HE",
    "eastern white pine": "WP", "American basswood": "BW",
}  # fmt: skip
HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx version="1.1" creator="a phone (invented)" xmlns="http://www.topografix.com/GPX/1/1">\n'
)


def walked_edge(rng: np.random.Generator) -> Floats:
    """Walk round the corner: a point every few paces, off by a slowly changing error."""
    ring = CORNER.exterior
    at = np.arange(0.0, ring.length - 3.0, STEP_M)  # the last steps to the start are not walked
    xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
    drift = rng.normal(0.0, TRACK_NOISE_M, (len(at) + 8, 2))
    smooth = np.column_stack([np.convolve(d, np.full(9, 1 / 3.0), "valid") for d in drift.T])
    return np.asarray(xy + smooth)


def notes(table: pd.DataFrame, rng: np.random.Generator) -> tuple[Floats, list[str]]:
    """Give the marked trees of the corner as dots and spoken notes."""
    inside = shapely.contains_xy(CORNER.buffer(-4), table["x"], table["y"])
    part = table[inside & (table["mark"] == "cut").to_numpy()].reset_index(drop=True)
    xy = part[["x", "y"]].to_numpy(dtype=float) + rng.normal(
        0.0, DOT_NOISE_M / 2**0.5, (len(part), 2)
    )
    said = []
    for row in part.itertuples():
        dbh = round(float(row.dbh_in))
        logs = "" if dbh < 11 else f" {1 + (dbh > 14)}"
        said.append(f"{row.tree_id} {CODES.get(row.species, row.species)} {dbh}{logs}")
    # One dot recorded twice, and one note nobody can read: so it goes in the woods.
    xy = np.vstack([xy, xy[3] + [1.2, -0.8]])
    said += [said[3]]
    said[7] = "the big one by the stone wall"
    return xy, said


def write(folder: Path, land: Landform, table: pd.DataFrame, grid: pyproj.CRS, east_m: float,
          north_m: float, seed: int) -> None:  # fmt: skip
    """Write both files.

    Parameters
    ----------
    folder : Path
        Where; made if missing.
    land : Landform
        Elevations, local coordinates.
    table : DataFrame
        The tree list, local coordinates.
    grid : CRS
    east_m, north_m : float
        Grid place of the local origin.
    seed : int
    """
    rng = np.random.default_rng(seed)
    folder.mkdir(exist_ok=True)
    to_degrees = pyproj.Transformer.from_crs(grid, "EPSG:4326", always_xy=True)

    def spots(xy: Floats, tag: str, inner: list[str]) -> list[str]:
        lon, lat = to_degrees.transform(xy[:, 0] + east_m, xy[:, 1] + north_m)
        height = land.at(xy[:, 0], xy[:, 1])
        return [
            f'<{tag} lat="{la:.7f}" lon="{lo:.7f}"><ele>{z:.1f}</ele>{text}</{tag}>'
            for lo, la, z, text in zip(lon, lat, height, inner, strict=True)
        ]

    edge = walked_edge(rng)
    points = spots(edge, "trkpt", [""] * len(edge))
    (folder / "walked_edge.gpx").write_text(
        HEAD + "<trk><name>edge of the corner</name><trkseg>\n" + "\n".join(points)
        + "\n</trkseg></trk>\n</gpx>\n", encoding="utf-8", newline="\n",
    )  # fmt: skip
    xy, said = notes(table, rng)
    dots = spots(xy, "wpt", [f"<name>{escape(text)}</name>" for text in said])
    (folder / "marked_trees.gpx").write_text(
        HEAD + "\n".join(dots) + "\n</gpx>\n", encoding="utf-8", newline="\n"
    )
