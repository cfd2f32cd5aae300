"""Small areas on disk: a slope, a stand, trees and layers, written where a test asks."""

from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
from rasterio.transform import Affine
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

WEST, NORTH = 500_000.0, 4_900_400.0  # of the raster, UTM 18N
SIDE = 400  # cells of 1 m
STAND = box(WEST + 150, NORTH - 250, WEST + 250, NORTH - 150)
LANDING = box(WEST + 190, NORTH - 265, WEST + 215, NORTH - 245)
MAIN = LineString([(WEST + 200, NORTH - 244), (WEST + 200, NORTH - 170)])  # landing end first
TREES = [
    ("1", 180.0, 180.0, "sugar maple", "14.5", "cut"),
    ("2", 220.0, 190.0, "red oak", "18", "cut"),
    ("3", 200.0, 220.0, "white pine", "16", "leave"),
]


def slope(rows: int = SIDE, cols: int = SIDE, cell: float = 1.0, rise: float = 0.1) -> np.ndarray:
    """Give a plane that rises to the north, metres."""
    south = (rows - 0.5 - np.arange(rows)) * cell
    return np.repeat((300 + rise * south)[:, None], cols, axis=1).astype(np.float32)


def write_dem(
    path: Path,
    z: np.ndarray | None = None,
    *,
    crs: str | None = "EPSG:26918",
    transform: Affine | None = None,
    nodata: float | None = None,
    driver: str = "GTiff",
    unit: str = "m",
) -> Path:
    """Write an elevation raster."""
    z = slope() if z is None else z
    bands = z[None] if z.ndim == 2 else z
    with rasterio.open(
        path,
        "w",
        driver=driver,
        width=bands.shape[2],
        height=bands.shape[1],
        count=bands.shape[0],
        dtype=bands.dtype,
        crs=crs,
        transform=transform or Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH),
        nodata=nodata,
    ) as out:
        out.write(bands)
        if unit:
            out.units = (unit,) * bands.shape[0]
    return path


def write_layer(
    path: Path, shapes: Sequence[BaseGeometry | None], crs: str = "EPSG:26918", **columns: object
) -> Path:
    """Write one layer; the file's ending says which kind."""
    table = gpd.GeoDataFrame(columns or {"name": [""] * len(shapes)}, geometry=shapes, crs=crs)
    table.to_file(path, engine="pyogrio")
    return path


def write_trees(path: Path, rows: Sequence[Sequence[str]] | None = None, **options: str) -> Path:
    """Write a tree table."""
    head = options.get("head", "tree_id,x,y,species,dbh_in,mark")
    if rows is None:
        rows = [
            (name, f"{WEST + x}", f"{NORTH - y}", species, dbh, mark)
            for name, x, y, species, dbh, mark in TREES
        ]
    text = "\n".join([head, *(",".join(row) for row in rows)]) + "\n"
    path.write_text(text, encoding="utf-8")
    return path


def tidy_area(folder: Path, **tables: str) -> Path:
    """Write a whole small area without faults; `tables` adds or replaces lines of TOML.

    A keyword names a table (double underscore for a key to be added inside it:
    ``stand__list='"marked"'``), its value is TOML.
    """
    folder.mkdir(exist_ok=True)
    write_dem(folder / "dem.tif")
    write_layer(folder / "stand.gpkg", [STAND])
    write_layer(folder / "landing.gpkg", [LANDING])
    write_layer(folder / "main.gpkg", [MAIN])
    write_layer(folder / "property.gpkg", [STAND.buffer(60, join_style="mitre")])
    write_trees(folder / "trees.csv")
    write_toml(folder, **tables)
    return folder


def write_toml(folder: Path, **tables: str) -> Path:
    """Write area.toml of a tidy area."""
    keys: dict[str, dict[str, str]] = {
        "area": {"name": '"Test lot"', "units": '"metric"'},
        "ground": {"dem": '"dem.tif"'},
        "property": {"line": '"property.gpkg"', "source": '"survey"'},
        "stand": {"boundary": '"stand.gpkg"', "trees": '"trees.csv"'},
        "landing": {"shape": '"landing.gpkg"'},
        "main_trail": {"line": '"main.gpkg"'},
        "tractor": {
            "mass": '"3.2 t"', "front_share": '"38 %"', "pto_power": '"45 kW"',
            "lift_rating": '"1.5 t"', "wheelbase": '"2.1 m"', "track": '"1.5 m"',
            "width": '"1.9 m"', "length": '"5 m"', "cg_height": '"0.85 m"',
            "pivot_height": '"0.5 m"', "hitch_height": '"0.5 m"', "load_behind_axle": '"0.9 m"',
            "fairlead_height": '"0.9 m"', "rollover_frame": '"yes"', "belt": '"yes"',
            "screen": '"yes"',
            "belly_guard": '"yes"',
            "front_ballast": '"yes"',
        },
        "winch": {"pull_rating": '"39 kN"', "rope_breaking": '"80 kN"', "mass": '"400 kg"'},
        "timber": {"rule": '"cubic"'},
        "work": {"crew": "2"},
    }  # fmt: skip
    for name, value in tables.items():
        table, _, key = name.partition("__")
        if not key:
            keys.pop(table, None)
        elif value == "":
            keys[table].pop(key)
        else:
            keys.setdefault(table, {})[key] = value
    lines = ["format = 1"]
    for table, values in keys.items():
        lines += [f"[{table}]", *(f"{key} = {value}" for key, value in values.items())]
    file = folder / "area.toml"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def bow_tie() -> Polygon:
    """Give a stand that crosses itself."""
    w, s, e, n = STAND.bounds
    return Polygon([(w, s), (e, n), (e, s), (w, n)])
