"""Trails over water in the GeoPackage, plan.json, on the map and in the report."""

import json
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import geopandas as gpd
import jsonschema
import plan_fixture
import pytest

from layout.outputs import geopackage, map_looks, map_marks, map_window, plan_json
from layout.outputs.about import facts
from layout.outputs.report import page
from layout.outputs.words import say
from layout.plan import Plan
from layout.records import Crossing

TABLES = Path(plan_json.__file__).parents[1] / "tables"
KNOWN = Crossing(
    "X1", "S1", "brook", "perennial", 42.0, 41.0, 43.0, *plan_fixture.at(100, 120),
    angle_deg=82.4, approach_pct=7.6, bank_m=0.55, area_ha=12.3,
)  # fmt: skip
BLANK = replace(
    KNOWN, crossing_id="X2", at_m=60.0, angle_deg=None, approach_pct=None, bank_m=None, area_ha=None
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return replace(plan_fixture.plan(), crossings=(KNOWN, BLANK))


def text_of(plan: Plan) -> str:
    found = page.page(plan)
    part = found[found.index('id="crossings"') : found.index('id="bars"')]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", part)).split())


def test_the_layer(plan: Plan, tmp_path: Path) -> None:
    geopackage.write(plan, tmp_path / "plan.gpkg", {"format": "1"})
    read = gpd.read_file(tmp_path / "plan.gpkg", layer="crossings")
    first, second = read.to_dict("records")
    assert (first["crossing_id"], first["trail_id"], first["water_class"]) == (
        "X1",
        "S1",
        "perennial",
    )
    assert [first[n] for n in ("at_m", "angle_deg", "approach_pct", "bank_m", "area_ha")] == [
        42.0, 82.4, 7.6, 0.55, 12.3,
    ]  # fmt: skip
    assert (first["geometry"].x, first["geometry"].y) == plan_fixture.at(100, 120)
    assert read[["angle_deg", "approach_pct", "bank_m", "area_ha"]].iloc[1].isna().all()
    assert second["crossing_id"] == "X2"


def test_plan_json_as_its_schema_says(plan: Plan) -> None:
    schema = json.loads((TABLES / "plan.schema.json").read_text(encoding="utf-8"))
    data = json.loads(json.dumps(plan_json.as_data(plan, facts(plan), ("plan.json",))))
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(data)) == []
    first, second = data["crossings"]
    assert first["angle_deg"] == 82.4 and first["shape"]["type"] == "Point"
    assert second["bank_m"] is None and second["area_ha"] is None
    first.pop("bank_m")
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(data)) != []


@pytest.mark.parametrize(
    ("units", "row"),
    [
        ("us", "X1 S1 140 ft brook perennial 82° 8 % 2 ft 7 ft 30.4 acres"),
        ("metric", "X1 S1 42 m brook perennial 82° 8 % 0.6 m 2.0 m 12.3 ha"),
    ],
)
def test_the_report_in_the_users_units(units: str, row: str) -> None:
    plan = replace(plan_fixture.plan(units), crossings=(KNOWN, BLANK))
    told = text_of(plan)
    assert row in told
    assert "X2 S1" in told and told.count("not known") == 4
    assert "permit" in told and "licensed" in told and "unverified" in told
    assert say("report_crossings_barred") in told  # the plan's settings allow none


def test_no_crossing_no_table() -> None:
    assert 'id="crossings"' not in page.page(plan_fixture.plan())


def test_the_map_and_its_legend(plan: Plan) -> None:
    window = map_window.around(plan, 8.0, 6.7)
    assert say("mark_crossing") in map_marks.legend_entries(plan, window)[1]
    none = replace(plan, crossings=())
    assert say("mark_crossing") not in map_marks.legend_entries(none, window)[1]
    markers = [look["marker"] for look in map_looks.POINTS.values()]
    assert markers.count(map_looks.POINTS["crossing"]["marker"]) == 1
