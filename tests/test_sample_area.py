"""The two invented areas: what is committed is what the scripts write, and it is fit for use."""

import runpy
import sys
from pathlib import Path
from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely

from layout import terrain
from layout.grid import Dem
from layout.settings import limits_in_force, load_settings

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "sample_area"
METRIC = ROOT / "tests" / "data" / "metric_area"
LAYERS = (
    "stand",
    "property",
    "may_use",
    "water",
    "access",
    "hazards",
    "keep_out",
    "existing",
    "landing",
    "main_trail",
)
ACRE_M2 = 4046.8564224
TREE_LENGTHS_M = 52.0  # two of 85 ft
FALL_LINE_M = 30.48


def read_dem(path: Path) -> Dem:
    with rasterio.open(path) as file:
        z = file.read(1)
        assert (z != file.nodata).all()
        return Dem(z, file.transform.c, file.transform.f, file.transform.a)


def read_trees(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, dtype={"tree_id": str, "keep": str, "hazard": str})


@pytest.fixture(scope="module")
def sample() -> SimpleNamespace:
    dem = read_dem(SAMPLE / "dem.tif")
    ground = terrain.build(dem)
    x, y = dem.centres()
    return SimpleNamespace(
        dem=dem,
        ground=ground,
        slope=terrain.slope_pct(ground.smooth),
        cells=np.meshgrid(x, y),
        trees=read_trees(SAMPLE / "trees.csv"),
        settings=load_settings(SAMPLE / "area.toml")[0],
        layers={name: gpd.read_file(SAMPLE / f"{name}.gpkg") for name in LAYERS},
        shape={n: gpd.read_file(SAMPLE / f"{n}.gpkg").union_all() for n in LAYERS},
    )


@pytest.fixture(scope="module")
def main_stations(sample: SimpleNamespace) -> terrain.Stations:
    width_m = sample.settings.trails.width_main_m
    return terrain.station_table(sample.ground, sample.shape["main_trail"], width_m)


def run_script(path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", [str(path), str(folder)])
    monkeypatch.setattr(sys, "path", [str(path.parent), *sys.path])
    with pytest.raises(SystemExit) as done:
        runpy.run_path(str(path), run_name="__main__")
    assert done.value.code == 0


def assert_same_content(new: Path, kept: Path) -> None:
    written = sorted(p.relative_to(new).as_posix() for p in new.rglob("*") if p.is_file())
    assert written
    for name in written:
        if name.endswith(".tif"):
            a, b = read_dem(new / name), read_dem(kept / name)
            assert (a.west_m, a.north_m, a.cell_m) == (b.west_m, b.north_m, b.cell_m)
            # Another build of the maths library may round the last bit another way.
            np.testing.assert_allclose(a.z, b.z, atol=0.011)
        elif name.endswith(".gpkg"):
            layers = gpd.list_layers(new / name)["name"].tolist()
            assert layers == gpd.list_layers(kept / name)["name"].tolist()
            for layer in layers:
                a = gpd.read_file(new / name, layer=layer)
                b = gpd.read_file(kept / name, layer=layer)
                pd.testing.assert_frame_equal(
                    pd.DataFrame(a.drop(columns="geometry")),
                    pd.DataFrame(b.drop(columns="geometry")),
                )
                assert a.crs == b.crs
                assert a.geometry.geom_equals_exact(b.geometry, 0.011).all()
        else:
            assert (new / name).read_text("utf-8") == (kept / name).read_text("utf-8")


@pytest.mark.slow
def test_script_writes_what_is_committed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run_script(SAMPLE / "make_sample.py", tmp_path, monkeypatch)
    assert_same_content(tmp_path, SAMPLE)


def test_metric_script_writes_what_is_committed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_script(METRIC.parent / "make_metric_area.py", tmp_path, monkeypatch)
    assert_same_content(tmp_path, METRIC)


@pytest.mark.parametrize(("folder", "most_bytes"), [(SAMPLE, 4_000_000), (METRIC, 300_000)])
def test_files_are_small(folder: Path, most_bytes: int) -> None:
    files = [p for p in folder.iterdir() if p.is_file()]
    assert sum(p.stat().st_size for p in files) < most_bytes


def test_one_crs_and_valid_shapes(sample: SimpleNamespace) -> None:
    with rasterio.open(SAMPLE / "dem.tif") as file:
        assert file.crs.to_epsg() == 26918
        assert file.dtypes == ("float32",)
    for name, layer in sample.layers.items():
        assert layer.crs.to_epsg() == 26918, name
        assert layer.geometry.is_valid.all(), name
        assert not layer.geometry.is_empty.any(), name


def test_dem_reaches_past_everything_drawn(sample: SimpleNamespace) -> None:
    box = shapely.box(*sample.dem.bounds)
    assert box.contains(sample.shape["stand"].buffer(80))
    for name in LAYERS:
        assert box.contains(sample.shape[name]), name


def test_dem_is_rounded_to_the_centimetre(sample: SimpleNamespace) -> None:
    z = sample.dem.z.astype(float)
    assert np.abs(z * 100 - np.round(z * 100)).max() < 0.01


def test_stand_and_slopes(sample: SimpleNamespace) -> None:
    assert sample.shape["stand"].area / ACRE_M2 == pytest.approx(34, abs=1)
    slope = sample.slope[shapely.contains_xy(sample.shape["stand"], *sample.cells)]
    assert 0.65 < (slope <= 22).mean() < 0.82
    assert 3 < np.percentile(slope, 5) < 7
    assert 40 < np.percentile(slope, 99) < 55


def test_trees(sample: SimpleNamespace) -> None:
    trees = sample.trees
    cut = trees[trees["mark"] == "cut"]
    assert len(trees) == 4500
    assert len(cut) == 180
    assert trees["tree_id"].is_unique
    assert set(trees["mark"]) == {"cut", "leave"}
    assert trees["dbh_in"].between(5, 31).all()
    assert trees["species"].nunique() == 10
    # A reverse J: each 4-inch class holds fewer stems than the one before.
    classes = np.histogram(trees["dbh_in"], bins=[5, 9, 13, 17, 21, 25, 31.1])[0]
    assert (np.diff(classes) < 0).all()
    assert cut["dbh_in"].median() > trees["dbh_in"].median() + 4
    assert shapely.contains_xy(sample.shape["stand"], trees["x"], trees["y"]).all()
    assert set(trees["keep"].dropna()) == {"crop", "seed", "den", "boundary", "witness"}
    assert set(trees["hazard"].dropna()) == {"dead top", "hung", "split", "rot"}
    assert cut["keep"].isna().all()
    assert 0.5 < cut["height_ft"].notna().mean() < 0.9


def test_stems_clump_but_keep_apart(sample: SimpleNamespace) -> None:
    points = sample.trees[["x", "y"]].to_numpy()
    tree = shapely.STRtree(shapely.points(points))
    pairs = tree.query(shapely.points(points), predicate="dwithin", distance=0.8)
    assert (pairs[0] != pairs[1]).sum() == 0
    # Counts in 20 m squares wholly inside vary more than scattered points would.
    west, south, east, north = sample.shape["stand"].bounds
    squares = [
        shapely.box(x, y, x + 20, y + 20)
        for x in np.arange(west, east, 20)
        for y in np.arange(south, north, 20)
    ]
    counts = [
        len(tree.query(s, predicate="contains"))
        for s in squares
        if sample.shape["stand"].contains(s)
    ]
    assert np.var(counts) / np.mean(counts) > 1.3


def test_most_marked_trees_stand_near_ground_a_tractor_can_use(sample: SimpleNamespace) -> None:
    cut = sample.trees[sample.trees["mark"] == "cut"]
    x, y = sample.cells
    easy = shapely.STRtree(shapely.points(x[sample.slope <= 22], y[sample.slope <= 22]))
    near = easy.query(shapely.points(cut["x"], cut["y"]), predicate="dwithin", distance=35.0)
    assert len(np.unique(near[0])) >= 0.85 * len(cut)
    water = shapely.distance(shapely.points(cut["x"], cut["y"]), sample.shape["water"])
    assert (water > 30).mean() > 0.9
    assert (water < 30).any()


def test_landing(sample: SimpleNamespace) -> None:
    landing = sample.shape["landing"]
    inside = shapely.contains_xy(landing, *sample.cells)
    assert landing.area / ACRE_M2 == pytest.approx(0.15, abs=0.01)
    assert sample.shape["may_use"].contains(landing)
    assert 2 <= np.median(sample.slope[inside]) <= 5
    assert sample.slope[inside].max() < 8
    assert landing.distance(sample.shape["water"]) > 65  # widest strip on this ground and 50 ft
    assert landing.distance(sample.shape["hazards"]) > 30
    assert landing.distance(sample.shape["access"]) < 5


def test_drawn_main_keeps_every_limit(
    sample: SimpleNamespace, main_stations: terrain.Stations
) -> None:
    limits = limits_in_force(sample.settings)
    line = sample.shape["main_trail"]
    assert 450 <= line.length <= 700
    assert -main_stations.grade_pct.min() <= limits.favourable_caution_pct
    assert main_stations.grade_pct.max() <= limits.adverse_caution_pct
    assert main_stations.cross_pct.max() <= limits.cross_caution_pct
    gentle = (main_stations.grade_pct <= -3) & (main_stations.grade_pct >= -15)
    assert gentle.mean() > 0.9
    path = line.buffer(sample.settings.trails.width_main_m / 2)
    usable = sample.shape["stand"].union(sample.shape["may_use"])
    assert usable.buffer(0.01).contains(path)
    assert path.distance(sample.shape["water"]) > 40
    assert path.distance(sample.shape["keep_out"]) > 5
    assert path.distance(sample.shape["hazards"]) > TREE_LENGTHS_M
    setback = sample.shape["property"].boundary.buffer(sample.settings.property.error_m)
    assert not path.intersects(setback)


def test_drawn_main_leaves_the_landing_straight(sample: SimpleNamespace) -> None:
    line = sample.shape["main_trail"]
    start = shapely.Point(line.coords[0])
    assert sample.shape["landing"].contains(start)
    chord = start.distance(line.interpolate(20))
    assert chord > 19.98
    assert start.distance(sample.shape["landing"].centroid) < 20


def test_drawn_main_bends_gently(sample: SimpleNamespace, main_stations: terrain.Stations) -> None:
    p = np.column_stack([main_stations.x, main_stations.y])[:-1]
    a, b, c = p[:-4], p[2:-2], p[4:]
    sides = [np.hypot(*(v - u).T) for u, v in ((a, b), (b, c), (a, c))]
    twice_area = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    radius = sides[0] * sides[1] * sides[2] / np.maximum(2 * twice_area, 1e-9)
    assert radius.min() > 2 * sample.settings.trails.turn_radius_m


def test_drawn_main_slants_across_the_hillside(main_stations: terrain.Stations) -> None:
    grade = np.abs(main_stations.grade_pct)
    straight_down = (grade >= 8) & (grade > 0.5 * np.hypot(grade, main_stations.cross_pct))
    longest = run = 0
    for bad in straight_down:
        run = run + 1 if bad else 0
        longest = max(longest, run)
    assert longest <= FALL_LINE_M


def test_main_offers_places_to_park_and_turn(
    sample: SimpleNamespace, main_stations: terrain.Stations
) -> None:
    level = (np.abs(main_stations.grade_pct) <= 10) & (main_stations.cross_pct <= 10)
    assert level.mean() > 0.6
    x, y = sample.cells
    stations_with_pad = []
    for at, px, py in zip(main_stations.at_m, main_stations.x, main_stations.y, strict=True):
        disc = np.hypot(x - px, y - py) <= 7
        east, north = _plane(x[disc] - px, y[disc] - py, sample.dem.z[disc])
        if 100 * np.hypot(east, north) <= 8:
            stations_with_pad.append(at)
    end = main_stations.at_m[-1]
    assert max(stations_with_pad) > end - 15
    gaps = np.diff(stations_with_pad)
    assert gaps.max() < 152  # 500 ft


def _plane(dx: np.ndarray, dy: np.ndarray, z: np.ndarray) -> tuple[float, float]:
    fit = np.linalg.lstsq(np.column_stack([np.ones(dx.size), dx, dy]), z, rcond=None)[0]
    return float(fit[1]), float(fit[2])


def test_hazard_trees_that_stay_close_no_ground_of_the_main(sample: SimpleNamespace) -> None:
    trees = sample.trees
    stay = trees[trees["hazard"].notna() & (trees["mark"] == "leave")]
    assert len(stay) == 2
    points = shapely.points(stay["x"], stay["y"])
    for name in ("main_trail", "landing"):
        assert (shapely.distance(points, sample.shape[name]) > TREE_LENGTHS_M).all()


def test_brook_and_draw_run_downhill(sample: SimpleNamespace) -> None:
    water = sample.layers["water"].set_index("feature_id")
    assert water["water_class"].to_dict() == {
        "brook": "perennial",
        "draw": "intermittent",
        "spring": "spring",
        "hollow": "wetland",
    }
    for name in ("brook", "draw"):
        line = water.geometry[name]
        at = np.arange(0, line.length, 5.0)
        points = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
        col = (points[:, 0] - sample.dem.west_m).astype(int)
        row = (sample.dem.north_m - points[:, 1]).astype(int)
        z = sample.dem.z[row, col]
        assert np.diff(z).max() < 0.15, name
        assert z[0] - z[-1] > 3, name
        # Cut into the ground on both sides.
        banks = [line.parallel_offset(8, side) for side in ("left", "right")]
        for bank in banks:
            p = shapely.get_coordinates(bank.interpolate(bank.length / 2))[0]
            rise = sample.dem.z[int(sample.dem.north_m - p[1]), int(p[0] - sample.dem.west_m)]
            assert rise > z[len(z) // 2] + 0.8, name


def test_metric_area() -> None:
    settings = load_settings(METRIC / "area.toml")[0]
    stand, landing, main = (
        gpd.read_file(METRIC / "area.gpkg", layer=n) for n in ("stand", "landing", "main_trail")
    )
    dem = read_dem(METRIC / "dem.tif")
    trees = pd.read_csv(METRIC / "trees.csv")
    assert settings.area.units == "metric"
    assert settings.water.features == ""
    assert stand.crs.to_epsg() == 25832
    assert 6 <= stand.area.sum() / 1e4 <= 8
    assert (trees["mark"] == "cut").sum() == 20
    assert len(trees) == 320
    assert stand.union_all().contains(landing.union_all().buffer(settings.stand.setback_m))
    ground = terrain.build(dem)
    stations = terrain.station_table(ground, main.geometry.iloc[0], settings.trails.width_main_m)
    limits = limits_in_force(settings)
    assert -stations.grade_pct.min() <= limits.favourable_caution_pct
    assert stations.grade_pct.max() <= limits.adverse_caution_pct
    assert stations.cross_pct.max() <= limits.cross_caution_pct
    inside = shapely.contains_xy(landing.union_all(), *np.meshgrid(*dem.centres()))
    assert np.median(terrain.slope_pct(ground.smooth)[inside]) <= 5
