"""Write `metric_area/`: a small invented stand in metres, without water, for quick tests.

Twenty marked trees on gentle ground, a drawn landing and a drawn main trail, no
property line and no water layer. Run ``python make_metric_area.py [FOLDER]``.
"""

import sys
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import rasterio
import shapely
from rasterio import Affine
from shapely.affinity import translate
from shapely.geometry import LineString, Polygon

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "sample_area"))
from landform import Landform, ease_along, fair_line, field, level

CRS = "EPSG:25832"
EAST_M, NORTH_M = 560_000.0, 5_400_000.0  # grid place of the local origin, arbitrary
COLS, ROWS, CELL_M = 255, 200, 2.0  # local x 0..510, y 0..400
SEED = 11
STEMS, MARKED = 320, 20
DATE = "2025-01-01T00:00:00.000Z"
SPECIES = ("beech", "spruce", "fir", "maple", "oak")

STAND = Polygon(
    [(88, 96), (150, 88), (240, 94), (330, 86), (418, 104), (424, 190), (410, 282),
     (330, 300), (226, 306), (140, 294), (92, 270), (84, 180)]
)  # fmt: skip
LANDING = Polygon([(96, 160), (122, 158), (124, 184), (98, 186)])
MAIN = fair_line(
    [(121, 171), (132, 171.5), (144, 172), (156, 172.5), (190, 177), (226, 185), (262, 192),
     (298, 197), (334, 204), (368, 213)]
)  # fmt: skip


def ground() -> Landform:
    """Build a gentle slope rising to the north-east, on 2 m cells."""
    rng = np.random.default_rng(SEED)
    shape = (ROWS, COLS)
    x = np.tile((np.arange(COLS) + 0.5) * CELL_M, (ROWS, 1))
    y = np.tile(((ROWS - np.arange(ROWS) - 0.5) * CELL_M)[:, None], (1, COLS))
    broad = field(rng, shape, 70, 220)
    rolling = field(rng, shape, 22, 60)
    small = field(rng, shape, 6, 18)
    s = y + 14 * np.sin(x / 90) + 5 * broad
    z = 610 + 0.045 * x + 0.085 * s + 0.35 * rolling + 0.05 * small
    z = z + 3.0 / (1 + np.exp(-(s - 262) / 7.0))  # one steeper bank across the upper third
    land = ease_along(Landform(x, y, z), MAIN, 60, 22)
    for px, py, radius_m in ((110, 172, 26), (240, 188, 11), (362, 211, 11)):
        land = level(land, px, py, radius_m, slope=0.03)
    return land


def stems(land: Landform) -> pd.DataFrame:
    """Scatter stems that keep apart; mark some of the large ones, well spread."""
    rng = np.random.default_rng(SEED + 1)
    where = STAND.buffer(-2).difference(LANDING.buffer(1))
    where = where.difference(LineString(MAIN).buffer(2.2))
    west, south, east, north = where.bounds
    spots: list[tuple[float, float]] = []
    while len(spots) < STEMS:
        x = round(float(rng.uniform(west, east)), 1)
        y = round(float(rng.uniform(south, north)), 1)
        if not shapely.contains_xy(where, x, y):
            continue
        if all(np.hypot(x - a, y - b) > 4.5 for a, b in spots):
            spots.append((x, y))
    spots.sort()
    at = np.array(spots)
    dbh = np.round(np.minimum(14 + 16 * rng.weibull(1.3, STEMS), 70), 0)
    species = np.asarray(SPECIES)[rng.choice(5, STEMS, p=[0.4, 0.25, 0.15, 0.12, 0.08])]
    height = np.round(np.minimum(9 + 0.62 * dbh, 34) * (1 + 0.05 * rng.standard_normal(STEMS)), 1)
    off = shapely.distance(shapely.points(at), LineString(MAIN))
    edge = shapely.distance(shapely.points(at), STAND.exterior)
    near_landing = shapely.distance(shapely.points(at), LANDING) < 12
    fit = (dbh >= 26) & (edge > 8) & (off < 95) & ~near_landing
    marked = np.zeros(STEMS, dtype=bool)
    for k in rng.permutation(np.flatnonzero(fit)):
        others = at[marked]
        if not len(others) or np.hypot(*(others - at[k]).T).min() > 21:
            marked[k] = True
        if marked.sum() == MARKED:
            break
    return pd.DataFrame(
        {
            "tree_id": [f"T{k + 1:03d}" for k in range(STEMS)],
            "x": [f"{v:.1f}" for v in at[:, 0] + EAST_M],
            "y": [f"{v:.1f}" for v in at[:, 1] + NORTH_M],
            "species": species,
            "dbh_cm": dbh.astype(int),
            "height_m": height,
            "mark": np.where(marked, "cut", "leave"),
        }
    )


def write_dem(land: Landform, path: Path) -> None:
    """Write elevations rounded to the centimetre."""
    with rasterio.open(
        path, "w", driver="GTiff", height=ROWS, width=COLS, count=1, dtype="float32", crs=CRS,
        transform=Affine(CELL_M, 0.0, EAST_M, 0.0, -CELL_M, NORTH_M + ROWS * CELL_M),
        nodata=-9999.0, compress="deflate", predictor=3, zlevel=9,
    ) as out:  # fmt: skip
        out.write(np.round(land.z, 2).astype(np.float32), 1)


def write_layers(path: Path) -> None:
    """Write stand, landing and main trail as three layers of one package."""
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": DATE})
    try:
        for layer, shape in (
            ("stand", STAND),
            ("landing", LANDING),
            ("main_trail", LineString(MAIN)),
        ):
            moved = shapely.set_precision(translate(shape, EAST_M, NORTH_M), 0.01, mode="pointwise")
            frame = gpd.GeoDataFrame({"name": [layer]}, geometry=[moved], crs=CRS)
            pyogrio.write_dataframe(
                frame, path, layer=layer, driver="GPKG", append=path.exists(), SPATIAL_INDEX="NO"
            )
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def main(argv: list[str]) -> int:
    """Write the files into a folder, `metric_area` beside this script by default."""
    folder = Path(argv[0]) if argv else Path(__file__).parent / "metric_area"
    folder.mkdir(parents=True, exist_ok=True)
    land = ground()
    write_dem(land, folder / "dem.tif")
    write_layers(folder / "area.gpkg")
    stems(land).to_csv(folder / "trees.csv", index=False, lineterminator="\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
