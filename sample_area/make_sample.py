"""Write the sample area: an invented hill woodlot, the same bytes' worth every time.

Run ``python make_sample.py [FOLDER]``; without a folder the files beside this
script are replaced. Nothing here is a real place: the numbers of the grid only
put it somewhere in its UTM zone.
"""

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import phone
import places
import pyogrio
import pyproj
import rasterio
import shapely
import stems
from landform import (
    COLS,
    ROWS,
    SEED,
    SOUTH_M,
    Floats,
    Landform,
    bed_profile,
    bench,
    carve,
    ease_along,
    hillside,
    level,
)
from rasterio import Affine
from shapely.affinity import translate
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

CRS = "EPSG:26918"
EAST_M, NORTH_M = 482_000.0, 4_702_000.0  # grid place of the local origin
STEMS, MARKED = 4500, 180
DATE = "2025-01-01T00:00:00.000Z"  # written into every package instead of the clock


def ground() -> Landform:
    """Build the elevations: hillside, valleys, hollow, pads, the old road's bench."""
    land = hillside(places.BROOK, places.HAYFIELD)
    brook_bed = bed_profile(land, places.BROOK, 2.0, 0.004)
    land = carve(land, places.BROOK, brook_bed, 1.6, 0.45, 60)
    n = len(places.DRAW)
    drop = np.interp(np.arange(n), [0, 6, n / 2, n - 1], [0.3, 1.0, 2.4, 2.8])
    mouth = brook_bed[np.argmin(np.hypot(*(places.BROOK - places.DRAW[-1]).T))]
    draw_bed = np.maximum(bed_profile(land, places.DRAW, drop, 0.02), mouth + 0.05)
    land = carve(land, places.DRAW, draw_bed, 0.7, 0.38, 35)
    hx, hy = places.HOLLOW
    dip = np.hypot((land.x - hx) / 13, (land.y - hy) / 7)
    land = land.with_z(land.z - 0.5 * np.exp(-(dip**2)))
    land = ease_along(land, places.MAIN, 160, 26)
    land = ease_along(land, places.MAIN, 80, 12)
    for x, y, radius_m in places.PADS:
        land = level(land, x, y, radius_m)
    return bench(land, places.OLD_ROAD, 1.9)


def stems_table(land: Landform) -> pd.DataFrame:
    """Build the tree list in local coordinates."""
    rng = np.random.default_rng(SEED + 1)
    main, brook, draw, old = (
        LineString(p) for p in (places.MAIN, places.BROOK, places.DRAW, places.OLD_ROAD)
    )
    hollow = places.hollow_outline()
    bare = shapely.union_all(
        [
            brook.buffer(2.2),
            draw.buffer(0.8),
            old.buffer(2.0),
            main.buffer(1.75),
            hollow.buffer(-2.0),
            places.FOUNDATION.buffer(1.0),
        ]
    )
    dbh = stems.draw_dbh(rng, STEMS)
    spots = stems.place_stems(rng, land, places.STAND.buffer(-0.5).difference(bare), STEMS, dbh)
    species = stems.choose_species(rng, land, spots)
    height = stems.heights_ft(rng, species, dbh)

    points = shapely.points(spots)
    wet = shapely.union_all([brook.buffer(1.5), draw, hollow, places.SPRING])
    to_water = shapely.distance(points, wet)
    steep = land.with_z(land.slope_pct(3.0)).at(spots[:, 0], spots[:, 1])
    edge = shapely.distance(points, places.STAND.exterior)
    worth = np.where(to_water > 32, 1.0, np.where(to_water > 14, 0.4, 0.0))
    worth = worth * np.where(steep < 19, 1.0, np.where(steep < 27, 0.4, 0.25))
    worth = worth * np.where(edge > 7, 1.0, 0.1)
    marked = stems.mark_stems(rng, spots, dbh, worth, MARKED)
    table = stems.frame(spots, species, dbh, height, marked)
    return add_notes(rng, table)


def add_notes(rng: np.random.Generator, table: pd.DataFrame) -> pd.DataFrame:
    """Add measured heights for part of the list, keep and hazard words, defect and lean."""
    n = len(table)
    cut = (table["mark"] == "cut").to_numpy()
    dbh = table["dbh_in"].to_numpy()
    measured = rng.random(n) < np.where(cut, 0.65, 0.06)

    points = shapely.points(table["x"], table["y"])
    main = LineString(places.MAIN)
    far = shapely.distance(points, main)
    keep = np.full(n, "", dtype=object)
    hazard = np.full(n, "", dtype=object)

    def pick(which: np.ndarray, count: int) -> np.ndarray:
        return rng.choice(np.flatnonzero(which & (keep == "") & (hazard == "")), count, False)

    edge = shapely.distance(points, places.STAND.exterior)
    keep[pick(~cut & (dbh > 14) & (dbh < 22), 22)] = "crop"
    keep[pick(~cut & (dbh > 18), 7)] = "seed"
    keep[pick(~cut & (dbh > 20), 5)] = "den"
    keep[pick(~cut & (dbh > 10) & (edge < 6), 4)] = "boundary"
    keep[pick(~cut & (dbh > 12) & (edge < 9), 2)] = "witness"
    for word, count in (("dead top", 3), ("rot", 2), ("split", 1), ("hung", 1)):
        hazard[pick(cut & (dbh > 11), count)] = word
    # Ground within two tree lengths of one that stays is closed, so both stand out of the way.
    beyond = shapely.distance(points, LineString(places.BROOK))
    south = table["y"].to_numpy() < 74
    hazard[pick(~cut & south & (beyond > 3) & (dbh > 9) & (far > 110), 1)] = "dead top"
    corner = np.hypot(table["x"] - 136, table["y"] - 114).to_numpy() < 13
    hazard[pick(~cut & corner & (dbh > 7), 1)] = "split"
    table["keep"], table["hazard"] = keep, hazard
    # A bad tree that stays closes the ground for two of its lengths: it was measured.
    measured |= (hazard != "") & ~cut
    table["height_ft"] = table["height_ft"].where(measured).astype("Int64")

    defect = np.where(cut, rng.choice([0, 0, 5, 5, 10, 15, 25], n), 0)
    table["defect_pct"] = pd.Series(defect).where(cut & (rng.random(n) < 0.8)).astype("Int64")
    leaning = cut & (rng.random(n) < 0.3)
    lean = np.round(rng.gamma(2.0, 1.8, n)).clip(1, 12)
    # nothing leans so far that wedges would not bring it over from the back: see layout/wedge.py
    lean = np.minimum(lean, np.floor(np.degrees(np.arctan(2.0 / (1.2 * dbh)))))
    table["lean_deg"] = pd.Series(lean).where(leaning).astype("Int64")
    toward = (np.round(rng.random(n) * 72) * 5 % 360).astype(int)
    table["lean_azimuth_deg"] = pd.Series(toward).where(leaning).astype("Int64")
    table["x"] = (table["x"] + EAST_M).map("{:.1f}".format)
    table["y"] = (table["y"] + NORTH_M).map("{:.1f}".format)
    return table


def write_dem(land: Landform, path: Path) -> None:
    """Write elevations rounded to the centimetre."""
    z = np.round(land.z, 2).astype(np.float32)
    with rasterio.open(
        path, "w", driver="GTiff", height=ROWS, width=COLS, count=1, dtype="float32", crs=CRS,
        transform=Affine(1.0, 0.0, EAST_M, 0.0, -1.0, NORTH_M + ROWS + SOUTH_M), nodata=-9999.0,
        compress="deflate", predictor=3, zlevel=9, tiled=True, blockxsize=256, blockysize=256,
    ) as out:  # fmt: skip
        out.write(z, 1)
        out.set_band_description(1, "elevation, metres")


def write_layer(
    path: Path, geometry: list[BaseGeometry], crs: str = CRS, **columns: list[object]
) -> None:
    """Write one layer, named after its file, with a fixed date in the package."""
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": DATE})
    try:
        pyogrio.write_dataframe(
            gpd.GeoDataFrame(columns, geometry=geometry, crs=crs), path, layer=path.stem,
            driver="GPKG",
        )  # fmt: skip
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def on_grid(shape: BaseGeometry | Floats, grid_m: float = 0.01) -> BaseGeometry:
    """Move a local shape to grid coordinates, rounded to the centimetre."""
    if isinstance(shape, np.ndarray):
        shape = LineString(shape)
    return shapely.set_precision(translate(shape, EAST_M, NORTH_M), grid_m, mode="pointwise")


def write_vectors(folder: Path) -> None:
    """Write every drawn layer."""
    inside = shapely.box(0, SOUTH_M, COLS, ROWS + SOUTH_M).buffer(-4)
    brook = LineString(places.BROOK).intersection(inside)
    write_layer(folder / "stand.gpkg", [on_grid(places.STAND)], name=["Mill Hollow woodlot"])
    write_layer(folder / "property.gpkg", [on_grid(places.PROPERTY)], name=["co-op parcel"])
    write_layer(folder / "may_use.gpkg", [on_grid(places.HAYFIELD)], name=["hayfield corner, own"])
    write_layer(
        folder / "water.gpkg",
        [on_grid(brook), on_grid(places.DRAW), on_grid(places.SPRING),
         on_grid(places.hollow_outline())],
        feature_id=["brook", "draw", "spring", "hollow"],
        name=["Mill Hollow brook", "the draw", "spring", "wet hollow"],
        water_class=["perennial", "intermittent", "spring", "wetland"],
        bank_width_m=[3.0, 1.0, None, None],
    )  # fmt: skip
    write_layer(folder / "access.gpkg", [on_grid(places.LANE)], name=["farm lane"])
    write_layer(
        folder / "hazards.gpkg", [on_grid(places.WIRE)], hazard_id=["wire-1"], kind=["wire"],
        note=["overhead line along the lane's road end"],
    )  # fmt: skip
    write_layer(folder / "keep_out.gpkg", [on_grid(places.FOUNDATION)], name=["old foundation"])
    write_layer(
        folder / "existing.gpkg", [on_grid(places.OLD_ROAD)], trail_id=["old-road"],
        benched=["yes"], width_m=[3.6], name=["old hauling road under the scarp"],
    )  # fmt: skip
    write_layer(folder / "landing.gpkg", [on_grid(places.LANDING)], name=["landing"])
    write_layer(folder / "main_trail.gpkg", [on_grid(places.MAIN)], name=["main trail"])


def main(argv: list[str]) -> int:
    """Write the files into a folder, this script's own by default."""
    folder = Path(argv[0]) if argv else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    land = ground()
    write_dem(land, folder / "dem.tif")
    write_vectors(folder)
    table = stems_table(land)
    table.to_csv(folder / "trees.csv", index=False, lineterminator="\n")
    table["x"], table["y"] = table["x"].astype(float) - EAST_M, table["y"].astype(float) - NORTH_M
    phone.write(
        folder / "phone", land, table, pyproj.CRS.from_user_input(CRS), EAST_M, NORTH_M, SEED + 2
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
