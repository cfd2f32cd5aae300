"""plan.gpkg as other programs see it: layers and columns typed again from the design page."""

import re
import sqlite3
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import numpy as np
import pandas as pd
import plan_fixture
import pyogrio
import pytest
import shapely
from shapely.geometry import LineString, MultiPolygon

from layout import track_types
from layout.outputs import geopackage
from layout.outputs.device import marks
from layout.plan import Plan
from layout.site import Hazard

# Typed from the list of fixed layers, not from our code; "name/id" columns come first.
FIXED = {
    "stand": ("MultiPolygon", "name area_ha"),
    "landing": ("Polygon", "landing_id slope_pct area_m2 water_m"),
    "trails": (
        "LineString",
        "trail_id kind landing_id joins_id joins_at_m junction_deg length_m width_m area_m2 "
        "favourable_max_pct adverse_max_pct cross_max_pct radius_min_m loads soil_class source "
        "payload_kg payload_by payload_at_m p_over_limit",
    ),
    "trail_steps": (
        "LineString",
        "trail_id from_m to_m grade_pct loaded_dir cross_pct loads soil_class cut_m3 fill_m3 "
        "bench_width_m payload_kg payload_by tip_margin_deg front_share_pct "
        "p_over_limit",
    ),
    "winch_positions": (
        "Point",
        "position_id trail_id landing_id at_m rear_azimuth_deg swing_deg cross_pct along_pct "
        "back_m tree_count stop",
    ),
    "pulls": (
        "LineString",
        "tree_id position_id map_m ground_m reach_m margin_m sure angle_deg side rise_m "
        "leave_hits pull_kn p_out_of_reach limit_kn limited_by p_both_ends p_no_position",
    ),
    "trees": (
        "Point",
        "tree_id x y species dbh_in mark in_status note "
        "role status position_id margin_m log_rule volume_bf volume_m3 mass_kg lay_azimuth_deg "
        "gross_bf saw_m3 pulp_m3 saw_logs cut_pieces stem_height_m height_from turn_ids "
        "saw_net_m3",
    ),
    "water_strips": ("MultiPolygon", "feature_id water_class rule confirmed"),
    "turning_places": ("Polygon", "place_id trail_id at_m kind slope_pct"),
    "water_bars": (
        "Point",
        "bar_id trail_id at_m grade_pct spacing_m outlet why skew_deg length_m kind bar_set room_m "
        "meets",
    ),
    "findings": (
        "Point",
        "code level subject_layer subject_id from_m to_m value limit unit message source confirmed",
    ),
    # Later layers, after the fixed ones.
    "keep_out": ("MultiPolygon", "keep_out_id"),
    "hazards": ("Unknown", "hazard_id kind"),
    "hazard_trees": ("Point", "tree_id hazard marked keep_off_m said"),
    "hazard_rings": ("Polygon", "tree_id hazard keep_off_m marked"),
    "property_line": ("MultiLineString", "source error_m"),
    "crossings": (
        "Point",
        "crossing_id trail_id at_m angle_deg approach_pct water_class bank_m area_ha",
    ),
    "gaps": ("Polygon", "gap_id diameter_m height_ratio area_m2"),
    "rub_trees": (
        "Point",
        "rub_id kind tree_id place trail_id at_m side from_id protects cut_after out_m",
    ),
    "reach_chance": (
        "Point",
        "tree_id position_id sure p_out_of_reach said p_both_ends p_no_position position_error_m",
    ),
    "channels": ("LineString", "channel_id area_ha at_least"),
    "wet_hollows": ("Polygon", "hollow_id kind area_m2 depth_m"),
    "small_landing": ("Polygon", "trail_id at_m area_m2 turn_at_m"),
    "landing_options": (
        "Polygon",
        "option_id used slope_pct marked tree_count sure_count trail_m disturbed_m2 "
        "disturbed_pct adverse_pct skid_m low_h high_h stops cautions unknowns objective_m2 why",
    ),
}
PLAIN = {  # without geometry
    "turns": "turn_id order trail_id position_id mass_kg stage at_m travel_m wood_m3 limit_kg "
    "limited_by pieces state ends_at",
    "turn_pieces": "turn_id tree_id piece kind length_m wood_m3 mass_kg",
}
TABLES = {"about", "legend", "layer_styles"}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture(scope="module")
def written(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("gpkg") / "plan.gpkg"
    geopackage.write(plan, path, {"format": "1", "seed": "0"})
    return path


@pytest.fixture
def file(written: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(written)) as connection:
        yield connection


def layer(path: Path, name: str) -> gpd.GeoDataFrame:
    return pyogrio.read_dataframe(path, layer=name)


def test_every_layer_of_the_list_and_no_other(written: Path) -> None:
    assert {name for name, _ in pyogrio.list_layers(written)} == set(FIXED) | set(PLAIN) | TABLES


@pytest.mark.parametrize("name", FIXED)
def test_geometry_and_columns(written: Path, name: str) -> None:
    shape, columns = FIXED[name]
    info = pyogrio.read_info(written, layer=name)
    assert info["geometry_type"] == shape
    assert list(info["fields"]) == columns.split()
    assert info["crs"] == "EPSG:26918"


@pytest.mark.parametrize("name", PLAIN)
def test_loads_are_plain_tables_with_their_columns(written: Path, name: str) -> None:
    info = pyogrio.read_info(written, layer=name)
    assert info["geometry_type"] is None and info["crs"] is None
    assert list(info["fields"]) == PLAIN[name].split()


def test_column_types_hold_even_without_rows(plan: Plan, written: Path, tmp_path: Path) -> None:
    bare = replace(
        plan,
        trails=(),
        steps=(),
        positions=(),
        pulls=(),
        turning_places=(),
        strips=(),
        bars=(),
        findings=(),
    )
    path = tmp_path / "bare.gpkg"
    geopackage.write(bare, path, {})
    for name, (shape, columns) in FIXED.items():
        empty, full = (pyogrio.read_info(p, layer=name) for p in (path, written))
        assert empty["geometry_type"] == shape
        assert list(empty["fields"]) == columns.split()
        assert list(empty["ogr_types"]) == list(full["ogr_types"]), name
    assert pyogrio.read_info(path, layer="trails")["features"] == 0
    assert pyogrio.read_info(path, layer="trees")["features"] == 500


def test_version_1_2_is_written_in_the_header(written: Path, file: sqlite3.Connection) -> None:
    # GeoPackage 1.2, requirement 2: application_id "GPKG", user_version 10200.
    assert file.execute("PRAGMA application_id").fetchone() == (int.from_bytes(b"GPKG", "big"),)
    assert file.execute("PRAGMA user_version").fetchone() == (10200,)
    assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert file.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert [path.name for path in written.parent.iterdir()] == ["plan.gpkg"]


def test_coordinates_come_back_within_a_centimetre(plan: Plan, written: Path) -> None:
    pairs = (
        ("trails", [trail.line for trail in plan.trails]),
        ("pulls", [pull.line for pull in plan.pulls]),
        ("turning_places", [place.shape for place in plan.turning_places]),
        ("landing", [plan.landing.shape]),
        ("water_strips", [strip.shape for strip in plan.strips]),
        ("stand", [plan.area.stand]),
        ("winch_positions", [shapely.Point(p.x, p.y) for p in plan.positions]),
        ("trees", list(shapely.points(plan.area.trees.x, plan.area.trees.y))),
        ("water_bars", [shapely.Point(bar.x, bar.y) for bar in plan.bars]),
        ("hazards", [hazard.geometry for hazard in plan.area.hazards]),
        ("property_line", [plan.area.property_line]),
    )
    for name, meant in pairs:
        read = layer(written, name).geometry
        assert len(read) == len(meant)
        for a, b in zip(read, meant, strict=True):
            np.testing.assert_allclose(
                shapely.get_coordinates(a), shapely.get_coordinates(b), atol=0.01, err_msg=name
            )


def test_trails_run_landing_end_first_and_say_positive_sizes(plan: Plan, written: Path) -> None:
    trails = layer(written, "trails").set_index("trail_id")
    start = shapely.Point(trails.loc["M1"].geometry.coords[0])
    assert start.distance(plan.landing.shape) < 5
    # The ground rises 12 % to the north, so loads on the main trail travel downhill.
    assert trails.loc["M1", "favourable_max_pct"] == pytest.approx(12.2, abs=0.2)
    assert trails.loc["M1", "adverse_max_pct"] == 0
    assert (trails["cross_max_pct"] >= 0).all()
    assert trails.loc["M1", "length_m"] == pytest.approx(plan.trails[0].line.length, abs=0.01)
    assert pd.isna(trails.loc["M1", "junction_deg"])
    assert trails.loc["S1", "junction_deg"] == pytest.approx(45, abs=12)
    assert trails.loc["S1", "area_m2"] == pytest.approx(3.05 * plan.trails[1].line.length, rel=0.02)


def test_steps_are_cut_from_the_trail_and_say_the_loaded_direction(written: Path) -> None:
    steps = layer(written, "trail_steps")
    assert (steps.length <= 10.0 + 1e-6).all()
    np.testing.assert_allclose(steps.length, steps["to_m"] - steps["from_m"], atol=0.02)
    down = steps["grade_pct"] < -0.5
    assert (steps.loc[down, "loaded_dir"] == "down").all() and down.any()


def test_a_tree_keeps_its_input_and_a_clash_is_prefixed(plan: Plan, written: Path) -> None:
    trees = layer(written, "trees").set_index("tree_id")
    assert trees.loc["T1", "note"] == "érable, près du mur"
    assert trees.loc["T2", "in_status"] == "seen 1"
    assert trees.loc["T2", "status"] == "leave"
    by_id = {outcome.tree_id: outcome.status for outcome in plan.trees}
    assert trees["status"].to_dict() == by_id
    served = trees["status"] == "served"
    assert trees.loc[served, "position_id"].ne("").all()
    assert trees.loc[~served, "margin_m"].isna().all()
    assert trees["log_rule"].isna().all() and trees["volume_bf"].isna().all()


def test_names_that_would_break_a_table_are_prefixed(plan: Plan, tmp_path: Path) -> None:
    awkward = pd.DataFrame(
        {
            "FID": range(500),
            "Role": "seen",
            "role": "twice",
            "geom": 1.5,
            'quote " and space': "kept",
            "tree_id": [f"other {i}" for i in range(500)],
        }
    )
    trees = replace(plan.area.trees, table=awkward)
    path = tmp_path / "awkward.gpkg"
    geopackage.write(replace(plan, area=replace(plan.area, trees=trees)), path, {})
    fields = list(pyogrio.read_info(path, layer="trees")["fields"])
    assert fields[:7] == [
        "tree_id",
        "in_FID",
        "in_Role",
        "in_in_role",
        "in_geom",
        'quote " and space',
        "in_tree_id",
    ]
    assert len({name.lower() for name in fields}) == len(fields)


def test_heights_of_a_drawn_line_are_left_out(plan: Plan, tmp_path: Path) -> None:
    line = LineString([(x, y, 300.0) for x, y in plan.trails[0].line.coords])
    trails = (replace(plan.trails[0], line=line), *plan.trails[1:])
    path = tmp_path / "flat.gpkg"
    geopackage.write(replace(plan, trails=trails), path, {})
    assert not layer(path, "trails").geometry.has_z.any()


def test_findings_with_and_without_a_place(plan: Plan, written: Path) -> None:
    findings = layer(written, "findings")
    assert list(findings["message"]) == [finding.message for finding in plan.findings]
    assert [shape is None for shape in findings.geometry] == [f.at is None for f in plan.findings]
    stop = findings[findings["code"] == "grade_favourable"].iloc[0]
    assert (stop["level"], stop["limit"], bool(stop["confirmed"])) == ("stop", 20, False)


def test_hazards_keep_their_kind_whatever_their_form(plan: Plan, tmp_path: Path) -> None:
    ledge = Hazard("ledge-1", "ledge", shapely.box(500_100, 4_700_100, 500_110, 4_700_105))
    hazards = (*plan.area.hazards, ledge)
    path = tmp_path / "hazards.gpkg"
    geopackage.write(replace(plan, area=replace(plan.area, hazards=hazards)), path, {})
    read = layer(path, "hazards")
    assert dict(zip(read["hazard_id"], read["kind"], strict=True)) == {
        "wire-1": "wire", "well-1": "well", "ledge-1": "ledge",
    }  # fmt: skip
    assert list(read.geometry.geom_type) == ["LineString", "Point", "Polygon"]


def test_ground_kept_out_of_is_a_layer_under_the_names_on_the_phone(
    plan: Plan, written: Path, tmp_path: Path
) -> None:
    drawn = plan.area.keep_out
    read = layer(written, "keep_out")
    assert list(read["keep_out_id"]) == [f"KEEP{n}" for n in range(1, len(drawn) + 1)] != []
    assert all(
        a.symmetric_difference(b).area < 0.1 for a, b in zip(read.geometry, drawn, strict=True)
    )
    phone = [mark.label for mark in marks.marks(plan) if mark.kind == track_types.KEEP_OUT]
    assert list(read["keep_out_id"]) == phone
    none = tmp_path / "none.gpkg"
    geopackage.write(replace(plan, area=replace(plan.area, keep_out=())), none, {})
    assert layer(none, "keep_out").empty


def test_hazard_trees_stand_apart_with_the_ring_to_keep_out_of(plan: Plan, tmp_path: Path) -> None:
    listed = plan.area.trees
    cut = next(i for i, marked in enumerate(listed.marked) if marked)
    stays = next(i for i, marked in enumerate(listed.marked) if not marked)
    hazard = tuple({cut: "rot", stays: "dead_top"}.get(i, "") for i in range(len(listed)))
    trees = replace(listed, hazard=hazard, height_m=np.full(len(listed), 20.0))
    path = tmp_path / "trees.gpkg"
    geopackage.write(replace(plan, area=replace(plan.area, trees=trees)), path, {})
    read = layer(path, "hazard_trees").set_index("tree_id")
    assert dict(read["marked"]) == {listed.tree_id[cut]: True, listed.tree_id[stays]: False}
    assert list(read["keep_off_m"]) == [40.0, 40.0]
    first = read.loc[listed.tree_id[cut], "said"]
    assert first.startswith("HAZARD TREE (rot): cut it first")
    assert first.endswith("; keep 131 ft off until it lies: cut first")
    assert "keep two tree lengths off, 131 ft" in read.loc[listed.tree_id[stays], "said"]
    rings = {ring.tree_id: ring for ring in layer(path, "hazard_rings").itertuples()}
    assert len(rings) == 2
    for row, said, marked in ((cut, "rot", True), (stays, "dead top", False)):
        ring = rings[listed.tree_id[row]]
        assert (ring.hazard, ring.marked, ring.keep_off_m) == (said, marked, 40.0)
        stem = shapely.Point(listed.x[row], listed.y[row])
        assert ring.geometry.exterior.distance(stem) == pytest.approx(40.0, abs=0.01)
    edges = {}
    for name in ("hazard_trees", "hazard_rings"):
        with closing(sqlite3.connect(path)) as file:
            (style,) = file.execute(
                "SELECT styleQML FROM layer_styles WHERE f_table_name = ?", (name,)
            ).fetchone()
        drawn = ElementTree.fromstring(style[style.find("<qgis") :])
        assert [rule.get("filter") for rule in drawn.iter("rule")] == ['"marked"', "ELSE"]
        edges[name] = [
            option.get("value")
            for option in drawn.iter("Option")
            if option.get("name") == "outline_style"
        ]
    assert edges["hazard_rings"] == ["dot", "dash"]  # as on the maps


def test_the_property_line_says_how_well_it_is_known(plan: Plan, tmp_path: Path) -> None:
    block = MultiPolygon(
        [
            shapely.box(0, 0, 90, 90).difference(shapely.box(30, 30, 60, 60)),
            shapely.box(99, 0, 120, 9),
        ]
    )
    path = tmp_path / "block.gpkg"
    geopackage.write(replace(plan, area=replace(plan.area, property_line=block)), path, {})
    (row,) = layer(path, "property_line").itertuples()
    assert (row.source, row.error_m) == ("survey", 0.61)  # 2 ft, what a survey is taken to be
    assert row.geometry.length == pytest.approx(360 + 120 + 60)  # rings, the hole's too
    without = replace(plan, area=replace(plan.area, property_line=None))
    geopackage.write(without, tmp_path / "none.gpkg", {})
    assert len(layer(tmp_path / "none.gpkg", "property_line")) == 0


def test_about_and_legend_are_plain_tables(written: Path) -> None:
    about = pyogrio.read_dataframe(written, layer="about")
    assert dict(zip(about["key"], about["value"], strict=True)) == {"format": "1", "seed": "0"}
    legend = pyogrio.read_dataframe(written, layer="legend")
    assert set(legend["layer"]) == set(FIXED)
    # Within a layer no two marks look alike in words, so the key can be used.
    assert not legend.duplicated(["layer", "mark"]).any()


def test_each_layer_and_the_file_say_what_they_are(
    written: Path, file: sqlite3.Connection, plan: Plan, tmp_path: Path
) -> None:
    said = dict(file.execute("SELECT table_name, description FROM gpkg_contents"))
    told = [said[name] for name in (*FIXED, *PLAIN)]
    assert all(re.fullmatch(r"[A-Z][^.]*\.", text) for text in told), told  # one sentence
    assert len(set(told)) == len(told)
    # a unit at the end of a column's name is said in words in its layer's sentence
    units = {"m": "metre", "pct": "percent", "deg": "degree", "m2": "square metre",
             "ha": "hectare", "kg": "kilogram", "m3": "cubic metre", "kn": "kilonewton",
             "h": "hour", "bf": "board f"}  # fmt: skip
    for name, columns in {**{n: c for n, (_, c) in FIXED.items()}, **PLAIN}.items():
        for column in columns.split():
            unit = units.get(column.rpartition("_")[2]) if "_" in column else None
            if unit:
                assert unit in said[name], (name, column)
    # what the plan was made with, where other programs look for it
    about = {"format": "1", "area": "Érable \x0b& <Sons>", "caution": "Not walked = not ready."}
    geopackage.write(plan, tmp_path / "about.gpkg", about)
    with closing(sqlite3.connect(tmp_path / "about.gpkg")) as made:
        (row,) = made.execute(
            "SELECT reference_scope, table_name, md_scope, md_standard_uri, metadata "
            "FROM gpkg_metadata JOIN gpkg_metadata_reference ON md_file_id = gpkg_metadata.id"
        )
        entered = made.execute(
            "SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_metadata'"
        ).fetchall()
    core = "http://purl.org/dc/elements/1.1/"
    assert row[:4] == ("geopackage", None, "dataset", core)
    assert sorted(entered) == [("gpkg_metadata",), ("gpkg_metadata_reference",)]
    root = ElementTree.fromstring(row[4])
    assert [fact.text for fact in root.iter(f"{{{core}}}description")] == [
        "area: Érable & <Sons>", "caution: Not walked = not ready.", "format: 1",
    ]  # fmt: skip
    assert root.findtext(f"{{{core}}}title", "").startswith("Érable & <Sons>: skid trails")
    info = pyogrio.read_info(tmp_path / "about.gpkg", layer="stand")
    assert "Not walked" in " ".join(info["dataset_metadata"].values())
    assert info["layer_metadata"] == {"DESCRIPTION": said["stand"]}
    layer(tmp_path / "about.gpkg", "trails")
    assert not list(tmp_path.glob("*.aux.xml"))  # who reads it leaves nothing beside it


def test_each_layer_has_one_default_style_that_parses(file: sqlite3.Connection) -> None:
    rows = file.execute(
        "SELECT f_table_name, f_geometry_column, useAsDefault, styleQML, update_time "
        "FROM layer_styles"
    ).fetchall()
    assert [row[0] for row in rows] == list(FIXED)
    for name, column, default, qml, when in rows:
        assert (column, default) == ("geom", 1)
        assert when.startswith("20")
        root = ElementTree.fromstring(qml.partition("\n")[2])
        assert root.find("renderer-v2") is not None
        used = {rule.get("symbol") for rule in root.iter("rule")} or {"0"}
        symbols = root.find("renderer-v2/symbols")
        assert symbols is not None
        assert {symbol.get("name") for symbol in symbols} == used, name
    listed = file.execute(
        "SELECT table_name FROM gpkg_contents WHERE data_type = 'attributes'"
    ).fetchall()
    assert {name for (name,) in listed} == TABLES | set(PLAIN)


def test_trails_differ_by_width_and_pulls_by_dash_not_by_colour_alone(
    file: sqlite3.Connection,
) -> None:
    def looks(name: str) -> list[dict[str, str]]:
        (qml,) = file.execute(
            "SELECT styleQML FROM layer_styles WHERE f_table_name = ?", (name,)
        ).fetchone()
        root = ElementTree.fromstring(qml.partition("\n")[2])
        return [
            {str(o.get("name")): str(o.get("value")) for o in symbol.iter("Option")}
            for symbol in root.findall("renderer-v2/symbols/symbol")
        ]

    main, spur = looks("trails")
    assert float(main["line_width"]) > 1.5 * float(spur["line_width"])
    assert len({look.get("customdash", "solid") for look in looks("pulls")}) == 3
    # Symbols of points are told apart by form: name of the shape, or its size.
    forms = {(look["name"], look["size"]) for look in looks("trees")}
    assert len(forms) == len(looks("trees"))


def test_debian_ogrinfo_reads_it_without_a_warning(written: Path) -> None:
    ran = subprocess.run(
        ["ogrinfo", "-ro", "-al", "-so", str(written)], capture_output=True, text=True, check=True
    )
    assert "warning" not in (ran.stdout + ran.stderr).lower()
    for name in FIXED.keys() | PLAIN.keys() | TABLES:
        assert f"Layer name: {name}\n" in ran.stdout
    assert "Feature Count: 500" in ran.stdout


@pytest.mark.slow
def test_the_current_validator_finds_nothing(written: Path, tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", tmp_path, "gdal-utils"],
        check=True,
    )
    (wheel,) = tmp_path.glob("gdal_utils-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extract("osgeo_utils/samples/validate_gpkg.py", tmp_path)
    script = tmp_path / "osgeo_utils/samples/validate_gpkg.py"
    ran = subprocess.run(
        ["/usr/bin/python3", script, "-k", written], capture_output=True, text=True, check=False
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "", "")
