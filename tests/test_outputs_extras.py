"""Files on request, read back by GDAL: GeoJSON, and rasters laid out for reading by parts."""

import json
import math
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import made_work
import numpy as np
import plan_fixture
import pyogrio
import pyproj
import pytest
import rasterio
import shapely
from made_plan import metric_plan
from oracles import clean_environment, needs
from shapely.affinity import translate
from shapely.geometry import MultiPolygon, box, shape

from layout import terrain
from layout.commands import main
from layout.outputs import (
    Extras,
    crew,
    geojson,
    geopackage,
    overview,
    rasters,
    report,
    write_plan,
)
from layout.outputs.device import degrees
from layout.outputs.device.work_stops import days
from layout.outputs.reach_grid import reach_grid
from layout.plan import Plan
from layout.winch import rules_from

METRIC = Path(__file__).parent / "data" / "metric_area"
VALIDATOR = Path("/usr/lib/python3/dist-packages/osgeo_utils/samples")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_work.worked(plan_fixture.plan())


@pytest.fixture(scope="module")
def written(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_geojson(plan, tmp_path_factory.mktemp("geojson"))


def write_geojson(plan: Plan, folder: Path) -> Path:
    way = degrees.way(plan.area)
    assert way is not None
    geojson.write(plan, folder / "plan.geojson", way, {"format": "1"})
    return folder / "plan.geojson"


def data(path: Path) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return made


def of_layer(path: Path, layer: str) -> list[dict[str, Any]]:
    return [one for one in data(path)["features"] if one["properties"]["layer"] == layer]


def rings(geometry: dict[str, Any]) -> Iterator[tuple[bool, list[list[float]]]]:
    """Give each ring of a geometry, and whether it is an outer one."""
    if geometry["type"] == "Polygon":
        yield from ((n == 0, ring) for n, ring in enumerate(geometry["coordinates"]))
    if geometry["type"] == "MultiPolygon":
        for part in geometry["coordinates"]:
            yield from ((n == 0, ring) for n, ring in enumerate(part))


def flat(values: Any) -> Iterator[list[float]]:
    """Give the places of any coordinates."""
    if values and isinstance(values[0], list):
        for value in values:
            yield from flat(value)
    elif values:
        yield values


# --- GeoJSON


def test_each_layer_is_there_and_each_feature_is_whole(plan: Plan, written: Path) -> None:
    made = data(written)
    assert list(made) == ["type", "note", "about", "features"]  # RFC 7946, 7.1: no "crs" of its own
    assert made["type"] == "FeatureCollection" and made["about"] == {"format": "1"}
    assert made["note"] == "Not walked and flagged = not ready."
    ids = [one["id"] for one in made["features"]]
    assert len(set(ids)) == len(ids)
    for one in made["features"]:
        assert set(one) == {"type", "id", "geometry", "properties"} and one["type"] == "Feature"
    assert len(of_layer(written, "trails")) == len(plan.trails)
    assert len(of_layer(written, "pulls")) == len(plan.pulls)
    assert len(of_layer(written, "trees")) == len(plan.area.trees)
    assert len(of_layer(written, "keep_out")) == len(plan.area.keep_out) > 0
    nowhere = [one["geometry"] is None for one in of_layer(written, "findings")]
    assert nowhere == [finding.at is None for finding in plan.findings]


def test_coordinates_are_degrees_of_seven_decimals_and_rings_are_wound(written: Path) -> None:
    """RFC 7946: 3.1.6 for rings, 4 for longitude and latitude, 11.2 for decimals."""
    outer = inner = 0
    for text in re.findall(r"\[(-?[\d.]+),(-?[\d.]+)\]", written.read_text(encoding="utf-8")):
        lon, lat = map(float, text)
        assert -75.01 < lon < -74.99 and 42.4 < lat < 42.5  # a corner of UTM zone 18
        assert all(len(value.partition(".")[2]) <= 7 for value in text)
    for one in data(written)["features"]:
        for is_outer, ring in rings(one["geometry"] or {"type": ""}):
            x, y = np.array(ring).T
            area = float(
                np.sum((x[:-1] - x[0]) * (y[1:] - y[0]) - (x[1:] - x[0]) * (y[:-1] - y[0]))
            )
            assert ring[0] == ring[-1] and len(ring) >= 4
            assert (area > 0) is is_outer
            outer, inner = outer + is_outer, inner + (not is_outer)
    assert outer > 5


def test_a_hole_is_wound_the_other_way(plan: Plan, tmp_path: Path) -> None:
    hole = box(500_100, 4_700_100, 500_120, 4_700_120)
    stand = MultiPolygon([plan.area.stand.geoms[0].difference(hole)])
    path = write_geojson(replace(plan, area=replace(plan.area, stand=stand)), tmp_path)
    (one,) = of_layer(path, "stand")
    wound = [
        (is_outer, shapely.is_ccw(shapely.linearrings(ring)))
        for is_outer, ring in rings(one["geometry"])
    ]
    assert wound == [(True, True), (False, False)]


def test_each_coordinate_against_proj(plan: Plan, written: Path) -> None:
    """PROJ's own formula for UTM on the ellipsoid of NAD83 (GRS 80), no datum in between."""
    utm = pyproj.Proj("+proj=utm +zone=18 +ellps=GRS80")
    pairs = [
        *zip(of_layer(written, "trails"), (t.line for t in plan.trails), strict=True),
        *zip(of_layer(written, "pulls"), (p.line for p in plan.pulls), strict=True),
        *zip(of_layer(written, "trees"),
             shapely.points(plan.area.trees.x, plan.area.trees.y), strict=True),
    ]  # fmt: skip
    for one, meant in pairs:
        found = np.array(list(flat([one["geometry"]["coordinates"]])))
        lon_lat = np.column_stack(utm(*shapely.get_coordinates(meant).T, inverse=True))
        np.testing.assert_allclose(found, lon_lat, rtol=0, atol=0.6e-7)


def test_gdal_reads_the_same_shapes_back(plan: Plan, written: Path) -> None:
    read = pyogrio.read_dataframe(written).to_crs(plan.area.crs).set_index("layer")
    assert read.loc["trails", "trail_id"].tolist() == [t.trail_id for t in plan.trails]
    for name, meant in (
        ("trails", [t.line for t in plan.trails]),
        ("water_strips", [s.shape for s in plan.strips]),
        ("landing", [plan.landing.shape]),
        ("winch_positions", [shapely.Point(p.x, p.y) for p in plan.positions]),
    ):
        for back, there in zip(read.loc[[name]].geometry, meant, strict=True):
            assert shapely.hausdorff_distance(back, there) < 0.02, name  # 7 decimals each way


def test_columns_are_those_of_the_geopackage_and_what_is_not_known_is_null(
    plan: Plan, written: Path
) -> None:
    (main_trail, spur, *_) = of_layer(written, "trails")
    assert main_trail["properties"]["junction_deg"] is None
    assert main_trail["properties"]["loads"].__class__ is int
    assert spur["properties"]["joins_id"] == "M1"
    tree = of_layer(written, "trees")[0]["properties"]
    assert (tree["tree_id"], tree["note"], tree["in_status"]) == ("T1", "érable, près du mur", None)
    assert "NaN" not in written.read_text(encoding="utf-8")


def test_a_shape_over_the_180th_meridian_is_cut_there(plan: Plan, tmp_path: Path) -> None:
    """RFC 7946, 3.1.9."""
    crs = pyproj.CRS.from_epsg(32601)  # UTM zone 1 north, which begins at the meridian
    east, north = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(-179.9995, 52.0)
    dx, dy = east - 500_225.0, north - 4_700_200.0

    def moved(dem: Any) -> Any:
        return replace(dem, west_m=dem.west_m + dx, north_m=dem.north_m + dy)

    area = replace(
        plan.area, crs=crs, dem=moved(plan.area.dem), stand=translate(plan.area.stand, dx, dy)
    )
    path = write_geojson(replace(plan, area=area), tmp_path)
    (one,) = of_layer(path, "stand")
    made = shape(one["geometry"])
    assert made.geom_type == "MultiPolygon" and len(made.geoms) == 2
    west, east_half = sorted(made.geoms, key=lambda part: part.bounds[0])
    assert (west.bounds[0], east_half.bounds[2]) == (-180.0, 180.0)
    assert west.bounds[2] < -179.9 and east_half.bounds[0] > 179.9
    geod = pyproj.Geod(ellps="WGS84")
    area_m2 = sum(abs(geod.geometry_area_perimeter(part)[0]) for part in made.geoms)
    scale = pyproj.Proj(crs).get_factors(-179.9995, 52.0).areal_scale
    assert area_m2 == pytest.approx(plan.area.stand.area / scale, rel=1e-4)


@pytest.mark.slow
def test_another_gdal_brings_it_back_onto_the_grid(
    plan: Plan, written: Path, tmp_path: Path
) -> None:
    needs("ogr2ogr")
    out = tmp_path / "by.gpkg"
    subprocess.run(
        ["ogr2ogr", "-f", "GPKG", "-t_srs", plan.area.crs.to_string(), out, written,
         "-where", "layer = 'trails'"],
        check=True, capture_output=True, timeout=120, env=clean_environment(),
    )  # fmt: skip
    lines = pyogrio.read_dataframe(out).geometry
    for a, b in zip(lines, (t.line for t in plan.trails), strict=True):
        one, other = shapely.get_coordinates(a), shapely.get_coordinates(b)
        assert one.shape == other.shape and np.hypot(*(one - other).T).max() < 0.01


# --- rasters


def test_slope_classes_lie_where_the_slope_is(plan: Plan, tmp_path: Path) -> None:
    tilted = plan.area.dem
    rows, cols = tilted.shape
    y = np.arange(rows)[:, None] + np.zeros(cols)
    ramp = tilted.with_z((300 + np.where(y < 100, 0.05, 0.25) * y).astype(np.float32))
    ramp.z[200:, 300:] = np.nan
    made = replace(plan, area=replace(plan.area, dem=ramp))
    rasters.slope(made, tmp_path / "slope.tif")
    with rasterio.open(tmp_path / "slope.tif") as band:
        assert band.crs == rasterio.CRS.from_epsg(26918) and band.nodata == 255
        west, south, east, north = band.bounds
        assert (west, south, east, north) == ramp.bounds
        at = list(band.sample([(west + 50, north - 50), (west + 50, north - 300),
                               (east - 50, south + 50)]))  # fmt: skip
        assert [int(value[0]) for value in at] == [0, 2, 255]  # 5 %, 25 %, not known
        tags = band.tags(1)
        assert (tags["CLASS_0"], tags["CLASS_2"], tags["CLASS_5"]) == (
            "0 % up to, but not, 10 %", "20 % up to, but not, 30 %", "60 % and steeper",
        )  # fmt: skip
        assert band.tags()["NOTE"].startswith("Not walked")


def test_strips_are_shut_wherever_they_touch_a_cell(plan: Plan, tmp_path: Path) -> None:
    pond = replace(plan.strips[0], feature_id="pond", shape=box(*plan_fixture.at(200, 200),
                   *plan_fixture.at(220.4, 230)), confirmed=True)  # fmt: skip
    rasters.strips(replace(plan, strips=(*plan.strips, pond)), tmp_path / "strips.tif")
    with rasterio.open(tmp_path / "strips.tif") as band:
        found = band.read(1)
        tags = band.tags(1)
        assert tags["STRIP_1"].endswith("unverified") and "pond" in tags["STRIP_2"]
        assert "unverified" not in tags["STRIP_2"]
        x, y = (np.array(v) for v in band.xy(*np.indices(found.shape).reshape(2, -1)))
        cells = shapely.box(x - 0.5, y - 0.5, x + 0.5, y + 0.5)
    for number, strip in ((1, plan.strips[0]), (2, pond)):
        touched = shapely.area(shapely.intersection(cells, strip.shape)) > 1e-9
        inside = found.ravel() == number
        assert (inside[touched]).all()  # no cell of a strip is left open
        away = shapely.distance(cells, strip.shape) > 1e-6
        assert not inside[away].any()


def test_rope_left_on_level_ground_by_hand(plan: Plan) -> None:
    dem = plan.area.dem.with_z(np.full_like(plan.area.dem.z, 300.0))
    spot = replace(
        plan.positions[0], x=plan_fixture.at(226, 200)[0], y=plan_fixture.at(226, 200)[1],
        rear_azimuth_deg=90.0, trail_id="M1",
    )  # fmt: skip
    area = replace(plan.area, dem=dem, water=(), keep_out=(), hazards=())
    level = replace(plan, area=area, terrain=terrain.build(dem), positions=(spot,), strips=())
    grid = reach_grid(level)
    rules = rules_from(area.settings)
    x, y = np.meshgrid(*grid.centres())
    away = np.hypot(x - spot.x, y - spot.y)
    off = np.abs(np.arctan2(y - spot.y, x - spot.x))  # the rear points east
    widest = math.radians(rules.side.downhill_deg[0])  # of the rope, on level ground
    # a stem may be off by the rope that is left, or by the way to the edge of the wedge
    room = np.minimum(rules.longest_m - away, away * np.sin(widest - off))
    room[(off > widest) | ~shapely.contains_xy(area.stand, x, y)] = -1.0
    clear = away > rules.stump_free_m + 2.0  # nearer than that no pull is short enough to tell
    known = np.isfinite(grid.z)
    assert grid.cell_m == 2.0 and (known & clear).sum() > 60
    np.testing.assert_array_equal(known[clear], (room >= 0)[clear])
    np.testing.assert_allclose(grid.z[known & clear], room[known & clear], atol=0.01)


def test_no_position_no_reach(plan: Plan, tmp_path: Path) -> None:
    rasters.reach(replace(plan, positions=()), tmp_path / "reach.tif")
    with rasterio.open(tmp_path / "reach.tif") as band:
        assert np.isnan(band.read(1)).all() and math.isnan(band.nodata)
        assert band.tags(1)["UNITS"] == "m"


@pytest.mark.slow
def test_reach_at_each_stump_is_the_room_its_pull_has() -> None:
    planned = metric_plan()
    grid = reach_grid(planned)
    best: dict[str, float] = {}
    for pull in planned.pulls:
        best[pull.tree_id] = max(best.get(pull.tree_id, 0.0), pull.margin_m)
    half_m = grid.cell_m / math.sqrt(2)  # a stump is this far from its cell's middle at most
    for pull in planned.pulls:
        x, y = pull.line.coords[-1][:2]
        row, col = grid.fractional(x, y)
        there = float(grid.z[round(float(row)), round(float(col))])
        if math.isnan(there):
            assert pull.margin_m < half_m
        else:
            assert there >= pull.margin_m - half_m - 0.2


@pytest.mark.slow
def test_gdals_own_validator_takes_the_rasters(plan: Plan, tmp_path: Path) -> None:
    script = VALIDATOR / "validate_cloud_optimized_geotiff.py"
    if not script.is_file():
        pytest.skip(f"not installed: {script}")
    rasters.write(plan, tmp_path)
    for name in rasters.NAMES:
        ran = subprocess.run(
            ["/usr/bin/python3", script, "--full-check=yes", tmp_path / name],
            capture_output=True, text=True, check=False, timeout=120, env=clean_environment(),
        )  # fmt: skip
        assert ran.returncode == 0 and "is a valid cloud optimized GeoTIFF" in ran.stdout, ran
    with rasterio.open(tmp_path / "slope_class.tif") as band:
        band_info = (band.profile["driver"], band.read(1), band.transform, band.crs)
        with rasterio.open(
            tmp_path / "plain.tif", "w", driver="GTiff", width=3000, height=2000, count=1,
            dtype="uint8", crs=band_info[3], transform=band_info[2],
        ) as plain:  # fmt: skip
            plain.write(np.zeros((1, 2000, 3000), dtype=np.uint8))
    ran = subprocess.run(
        ["/usr/bin/python3", script, tmp_path / "plain.tif"],
        capture_output=True, text=True, check=False, timeout=120, env=clean_environment(),
    )  # fmt: skip
    assert ran.returncode != 0  # it can say no


# --- asked for, and only then


def test_they_are_written_with_the_rest_and_named_in_the_plan(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(overview, "write", lambda plan, path: path.write_bytes(b"picture"))
    monkeypatch.setattr(crew, "bound", lambda plan: b"sheets")
    monkeypatch.setattr(report, "write", lambda plan, path: path.write_bytes(b"page"))
    monkeypatch.setattr(geopackage, "write", lambda plan, path, said: path.write_bytes(b"map"))
    usual = {path.name for path in write_plan(plan, tmp_path / "out").iterdir()}
    full = write_plan(plan, tmp_path / "out", Extras(by_day=True, geojson=True, rasters=True))
    names = {path.name for path in full.iterdir()}
    assert names - usual == {
        "plan.geojson", "slope_class.tif", "strips.tif", "reach.tif",
        *(f"plan_day_{day.number:02d}.gpx" for day in days(plan)),
    }  # fmt: skip
    assert len(days(plan)) > 1
    assert set(data(full / "plan.json")["files"]) == names
    write_plan(plan, tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == usual  # none is left over


def test_an_option_that_cannot_be_kept_is_told_before_the_planning(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lost = replace(plan.area, crs=pyproj.CRS.from_epsg(2334), folder=tmp_path)
    assert degrees.way(lost) is None
    monkeypatch.setattr("layout.area.read_area", lambda *_, **__: lost)
    (tmp_path / "area.toml").write_text("format = 1\n", encoding="utf-8")
    monkeypatch.setattr("layout.commands.plan.check_settings", lambda path: None)
    assert main(["plan", str(tmp_path), "--geojson"]) == 2
    said = capsys.readouterr().err
    assert "--geojson: the file would be in degrees" in said and "leave --geojson out" in said
    assert not (tmp_path / "out").exists()
