"""A whole job on ground nobody here made: the volcano's DEM under the Lansing Woods stems.

Maunga Whau (R's `volcano`, 61 x 87 cells of 10 m) carries the Lansing Woods stem
map (spatstat's `lansing`, 2251 stems on 924 x 924 ft, no diameters). The two never
met; only the elevations and the pattern of stems are real. Both are fetched by
package name when the test runs.
"""

import csv
from pathlib import Path

import geopandas as gpd
import numpy as np
import oracles
from shapely.geometry import box

from layout import terrain
from layout.grid import Dem

SIDE_M = 924 * 0.3048
EPSG = 32760  # where the hill stands; the package has no coordinates
WEST_M, NORTH_M = 302_000.0, 5_917_000.0
SPECIES = {
    "hickory": "shagbark hickory",
    "maple": "red maple",
    "whiteoak": "white oak",
    "redoak": "northern red oak",
    "blackoak": "black oak",
    "misc": "basswood",
}


def ground() -> Dem:
    """Give the volcano in a projected CRS."""
    dem = oracles.volcano()
    return Dem(dem.z, WEST_M, NORTH_M, dem.cell_m)


def gentlest_corner(dem: Dem) -> tuple[float, float]:
    """Give west and south of the plot's square where the ground is gentlest."""
    slope = terrain.slope_pct(dem)
    cells = int(np.ceil(SIDE_M / dem.cell_m)) + 2
    rows, cols = dem.shape
    best = (np.inf, 0, 0)
    for r in range(1, rows - cells - 1):
        for c in range(1, cols - cells - 1):
            best = min(best, (float(np.nanmedian(slope[r : r + cells, c : c + cells])), r, c))
    _, r, c = best
    return dem.west_m + (c + 1) * dem.cell_m, dem.north_m - (r + cells - 1) * dem.cell_m


def write(folder: Path, every: int = 12) -> Path:
    """Write the area: every so many a stem is marked, nothing is drawn."""
    folder.mkdir(parents=True, exist_ok=True)
    dem = ground()
    west, south = gentlest_corner(dem)
    oracles.write_tif(dem, folder / "dem.tif", EPSG)
    stems = oracles.spatstat("lansing")
    x = west + np.asarray(stems["x"], dtype=float) * SIDE_M
    y = south + np.asarray(stems["y"], dtype=float) * SIDE_M
    marks = stems["marks"]  # an R factor: codes from 1 into its levels
    kinds = [str(marks["levels"][int(code) - 1]) for code in np.ravel(marks["codes"])]
    stand = box(west, south, west + SIDE_M, south + SIDE_M)
    gpd.GeoDataFrame(geometry=[stand], crs=EPSG).to_file(folder / "stand.gpkg")
    with (folder / "trees.csv").open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["tree_id", "x", "y", "species", "dbh_in", "mark"])
        for i, kind in enumerate(kinds):
            mark = "cut" if i % every == 0 else "leave"
            table.writerow([i + 1, f"{x[i]:.3f}", f"{y[i]:.3f}", SPECIES.get(kind, kind), "", mark])
    (folder / "area.toml").write_text(
        "\n".join(
            [
                "format = 1",
                "[area]",
                'name = "Lansing stems on the volcano"',
                'units = "us"',
                f'crs = "EPSG:{EPSG}"',
                "[ground]",
                'dem = "dem.tif"',
                'elevation_unit = "m"',
                "[stand]",
                'boundary = "stand.gpkg"',
                'trees = "trees.csv"',
                'list = "all"',
                'position_error = "1 m"',
                "[tractor]",
                'preset = "mid"',
                'rollover_frame = "yes"',
                'belt = "yes"',
                'screen = "yes"',
                "",
            ]
        ),
        encoding="utf-8",
    )
    return folder
