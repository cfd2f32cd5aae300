"""plan.gpx in other programs' hands, and home again as the trails of the next plan."""

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import plan_fixture
import pyogrio
import pytest
import schemas
import shapely
from area_files import LANDING, MAIN, tidy_area
from made_plan import metric_plan
from oracles import clean_environment, needs
from shapely.geometry import LineString, Point
from test_outputs_gpx import AWKWARD, with_trees

from layout import terrain, water
from layout.area import read_area
from layout.checks import check_layout
from layout.errors import InputError
from layout.outputs import gpx
from layout.outputs.device import degrees
from layout.outputs.stop_order import LETTERS
from layout.plan import Plan, make_plan
from layout.records import Trail

METRIC = Path(__file__).parent / "data" / "metric_area"
APART_M = 0.02  # seven decimals of a degree, and a mouth brought onto its line again
WALKED = "walked.gpx"


def written(plan: Plan, folder: Path, name: str = "plan.gpx") -> Path:
    way = degrees.way(plan.area)
    assert way is not None
    gpx.write(plan, folder / name, way)
    return folder / name


@pytest.fixture(scope="module")
def planned() -> Plan:
    return metric_plan()


@pytest.fixture
def lot(planned: Plan, tmp_path: Path) -> Path:
    """Give the area again, with the plan's own file as main trail and trails to keep."""
    folder = tmp_path / "lot"
    shutil.copytree(METRIC, folder, ignore=shutil.ignore_patterns("out*"))
    written(planned, folder, WALKED)
    file = folder / "area.toml"
    text = file.read_text(encoding="utf-8")
    for old, new in (
        ('line = "area.gpkg:main_trail"', f'line = "{WALKED}"'),
        ("[trails]\n", f'[trails]\nfixed = "{WALKED}"\n'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")
    return folder


def same_lines(now: dict[str, LineString], before: Plan) -> None:
    for trail in before.trails:
        there, back = (shapely.get_coordinates(line) for line in (trail.line, now[trail.trail_id]))
        assert np.hypot(*(there[0] - back[0])) < APART_M  # landing end first
        assert shapely.hausdorff_distance(trail.line, now[trail.trail_id], densify=0.05) < APART_M


def test_the_plans_own_file_is_its_trails_again_and_is_judged_alike(
    planned: Plan, lot: Path
) -> None:
    area = read_area(lot)
    assert area.main_trail is not None and area.main_fixed is not None
    same_lines({"M": area.main_trail} | {t.trail_id: t.line for t in area.fixed}, planned)
    assert {t.trail_id: t.joins_id for t in area.fixed} == {
        t.trail_id: t.joins_id for t in planned.trails if t.kind == "spur"
    }
    lines = {t.trail_id: (t.line, t.joins_at_m) for t in area.fixed}
    lines["M"] = (area.main_trail, None)
    trails = tuple(
        replace(t, line=lines[t.trail_id][0], joins_at_m=lines[t.trail_id][1])
        for t in planned.trails
    )
    again = judged(planned, trails)
    assert [f for f in again if f[1] == "stop"] == []
    # half a centimetre may move a figure over a softer limit, nothing more
    assert len(again ^ judged(planned, planned.trails)) <= 2


def judged(plan: Plan, trails: tuple[Trail, ...]) -> set[tuple[str, str, str]]:
    shape = terrain.build(plan.area.dem)
    found = check_layout(
        plan.area, shape, water.strips(plan.area, shape), plan.landing, trails,
        plan.positions, plan.pulls, plan.turning_places, plan.trees,
    )  # fmt: skip
    return {(f.code, f.level, f.subject_id) for f in found if f.subject_layer == "trails"}


@pytest.mark.slow
def test_a_new_plan_on_the_walked_file_keeps_every_line(planned: Plan, lot: Path) -> None:
    plan = make_plan(read_area(lot))
    now = {t.trail_id: t for t in plan.trails}
    same_lines({name: t.line for name, t in now.items()}, planned)
    assert all(now[t.trail_id].source == "fixed" for t in planned.trails if t.kind == "spur")
    assert {p.tree_id for p in planned.pulls} <= {p.tree_id for p in plan.pulls}
    assert [f for f in plan.findings if f.level == "stop"] == []
    assert "flagged or opened already" in (
        written(plan, lot, "again.gpx").read_text(encoding="utf-8")
    )


# --- what is no trail is not taken for one


def tracks(path: Path, rows: list[tuple[str, str, LineString]], *, routes: bool = False) -> Path:
    table = gpd.GeoDataFrame(
        {"name": [r[0] for r in rows], "type": [r[1] for r in rows]},
        geometry=[r[2] for r in rows], crs="EPSG:26918",
    ).to_crs("EPSG:4326")  # fmt: skip
    layer, forced = ("routes", {}) if routes else ("tracks", {"FORCE_GPX_TRACK": "YES"})
    pyogrio.write_dataframe(table, path, driver="GPX", layer=layer, **forced)
    return path


MOUTH = MAIN.interpolate(30.0)
SPUR = LineString([MOUTH, (MOUTH.x + 20, MOUTH.y - 20), (MOUTH.x + 40, MOUTH.y - 25)])
EDGE = LineString(
    [(MAIN.coords[0][0] - 30, MAIN.coords[0][1]), (MAIN.coords[0][0] + 30, MAIN.coords[0][1])]
)
EVERYTHING = [("M", "main trail", MAIN), ("S1", "spur", SPUR), ("BROOK", "strip edge", EDGE),
              ("KEEP1", "keep out", EDGE), ("WIRE1", "hazard", EDGE)]  # fmt: skip


def test_only_trails_are_taken_from_a_file_that_says_what_is_what(tmp_path: Path) -> None:
    lot = tidy_area(tmp_path / "lot", main_trail__line='"walk.gpx"', trails__fixed='"walk.gpx"')
    tracks(lot / "walk.gpx", EVERYTHING)
    area = read_area(lot)
    assert [(t.trail_id, t.kind, t.joins_id) for t in area.fixed] == [("S1", "spur", "M")]
    assert area.main_trail is not None
    assert area.main_trail.hausdorff_distance(MAIN) < APART_M
    assert Point(area.main_trail.coords[0]).distance(LANDING) < 2.0


def test_a_walked_track_beside_them_is_a_trail_and_other_types_are_the_walkers(
    tmp_path: Path,
) -> None:
    lot = tidy_area(tmp_path / "lot", trails__fixed='"walk.gpx"')
    tracks(lot / "walk.gpx", [("New arm", "hiking", SPUR), *EVERYTHING[2:]])
    assert [t.trail_id for t in read_area(lot).fixed] == ["New arm"]
    tracks(lot / "walk.gpx", [("Main", "hiking", MAIN), *EVERYTHING[1:]])
    lot = tidy_area(lot, main_trail__line='"walk.gpx"')
    main = read_area(lot).main_trail
    assert main is not None and main.hausdorff_distance(MAIN) < APART_M


def test_a_file_without_trails_is_refused(tmp_path: Path) -> None:
    lot = tidy_area(tmp_path / "lot", trails__fixed='"walk.gpx"', main_trail__line='"walk.gpx"')
    tracks(lot / "walk.gpx", EVERYTHING[2:])
    with pytest.raises(InputError) as caught:
        read_area(lot)
    assert "[main_trail] line: walk.gpx holds no main trail, only spurs and edges" in str(
        caught.value
    )
    assert "[trails] fixed: walk.gpx holds no trail, only edges to keep off" in str(caught.value)


def test_the_type_of_a_table_is_the_users_own_word(tmp_path: Path) -> None:
    lot = tidy_area(tmp_path / "lot", trails__fixed='"flagged.gpkg"')
    gpd.GeoDataFrame(
        {"name": ["A"], "type": ["hazard"]}, geometry=[SPUR], crs="EPSG:26918"
    ).to_file(lot / "flagged.gpkg", engine="pyogrio")
    assert [t.trail_id for t in read_area(lot).fixed] == ["A"]


def test_a_long_trail_name_comes_home_whole(tmp_path: Path) -> None:
    plan = plan_fixture.plan()
    names = {"M1": "M", "S1": "Upper landing spur 3", "S2": "Upper  landing run 3", "S3": "s3 é",
             "S4": "S4"}  # fmt: skip
    trails = tuple(
        replace(t, trail_id=names[t.trail_id], joins_id=names.get(t.joins_id, ""))
        for t in plan.trails
    )
    path = written(replace(plan, trails=trails), tmp_path)
    table = pyogrio.read_dataframe(path, layer="tracks")
    kept = table[table["type"].isin(["main trail", "spur"])]
    assert kept["name"].tolist() == ["M", "UPPER-L3", "UPPER3-A", "S3-E", "S4"]
    lot = tidy_area(tmp_path / "lot", trails__fixed='"walk.gpx"')
    text = path.read_text(encoding="utf-8")
    (lot / "walk.gpx").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:  # it lies in another place, and each is named
        read_area(lot)
    for name in ("Upper landing spur 3", "Upper  landing run 3", "s3 é", "S4"):
        assert f"[trails] fixed: {name}: it lies at" in str(caught.value)


# --- other programs


def files(folder: Path) -> list[Path]:
    """Write plans of every kind."""
    plan = plan_fixture.plan(name="Maple & <Sons>")
    bare = with_trees(plan, ())
    kinds = {
        "whole": plan,
        "metric": plan_fixture.plan("metric", rules=("a-rule",), confirmed=True),
        "odd": with_trees(plan, tuple(dict.fromkeys(AWKWARD))),
        "bare": replace(bare, trails=(), steps=(), stations={}, bars=(), strips=(),
                        turning_places=(), area=replace(bare.area, hazards=(), keep_out=())),
    }  # fmt: skip
    return [written(one, folder, f"{name}.gpx") for name, one in kinds.items()]


@pytest.mark.slow
def test_valid_by_the_published_schema(planned: Plan, tmp_path: Path) -> None:
    for path in (*files(tmp_path), written(planned, tmp_path)):
        assert schemas.faults(path, "gpx.xsd") == ""
    text = (tmp_path / "whole.gpx").read_text(encoding="utf-8")
    name, note = text.index("<name>00M1-0"), text.index("<desc>M1 0:")
    turned = text[:name] + text[note:].split("</desc>")[0] + "</desc>" + text[name:]
    (tmp_path / "turned.gpx").write_text(turned, encoding="utf-8")
    assert "name" in schemas.faults(tmp_path / "turned.gpx", "gpx.xsd")  # it can say no


@pytest.mark.slow
def test_gpsbabel_reads_the_same_places(planned: Plan, tmp_path: Path) -> None:
    needs("gpsbabel")
    path = written(planned, tmp_path)
    subprocess.run(
        ["gpsbabel", "-i", "gpx", "-f", path, "-o", "gpx", "-F", tmp_path / "by.gpx"],
        check=True, capture_output=True, timeout=120, env=clean_environment(),
    )  # fmt: skip
    for layer in ("waypoints", "tracks"):
        ours, theirs = (pyogrio.read_dataframe(p, layer=layer) for p in (path, tmp_path / "by.gpx"))
        assert ours["name"].tolist() == theirs["name"].tolist()
        assert ours["desc"].tolist() == theirs["desc"].tolist()
        a, b = (shapely.get_coordinates(table.geometry) for table in (ours, theirs))
        assert a.shape == b.shape and np.abs(a - b).max() < 0.6e-7


@pytest.mark.slow
def test_another_gdal_brings_it_back_onto_the_grid(planned: Plan, tmp_path: Path) -> None:
    needs("ogr2ogr")
    path, out = written(planned, tmp_path), tmp_path / "by.gpkg"
    crs = planned.area.crs.to_string()
    for layer in ("waypoints", "tracks"):
        subprocess.run(
            ["ogr2ogr", "-update", "-t_srs", crs, out, path, layer]
            if out.exists()
            else ["ogr2ogr", "-f", "GPKG", "-t_srs", crs, out, path, layer],
            check=True, capture_output=True, timeout=120, env=clean_environment(),
        )  # fmt: skip
    lines = pyogrio.read_dataframe(out, layer="tracks").set_index("name").geometry
    for trail in planned.trails:
        a, b = (shapely.get_coordinates(s) for s in (lines[trail.trail_id], trail.line))
        assert a.shape == b.shape and np.hypot(*(a - b).T).max() < 0.01
    read = pyogrio.read_dataframe(out, layer="waypoints")
    # a name is the number on paper, letters of the stop, and the place's own
    own = read["name"].str.replace(rf"^\d+[{LETTERS}]*(?=[A-Z])", "", regex=True)
    points = read.set_index(own).geometry
    for position in planned.positions:
        spot = points[position.position_id]
        assert spot.distance(Point(position.x, position.y)) < 0.01
