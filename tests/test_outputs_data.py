"""plan.json and trees.csv: whole, finite, and as their published forms say."""

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pandas as pd
import plan_fixture
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, shape

import layout
from layout.outputs import about, plan_json, tree_table
from layout.outputs.numbers import rounded
from layout.outputs.swap import is_ours
from layout.plan import Plan

TABLES = Path(layout.__file__).parent / "tables"
FILES = ("plan.json", "trees.csv")

# Typed from the description of the file, not from our code.
TREES_HEADER = (
    "tree_id,role,status,status_words,position_id,trail_id,sure,margin_m,shortfall,"
    "shortfall_unit,remedies,marginal_m2,marginal_trail_m,volume_m3,mass_kg,grid_x_m,grid_y_m,"
    "log_rule,volume_bf,gross_bf,saw_m3,pulp_m3,saw_logs,cut_pieces,stem_height_m,height_from,"
    "lay_azimuth_deg,turn_ids,saw_net_m3,p_out_of_reach,p_no_position,reach_said"
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((TABLES / "plan.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(loaded)
    return loaded


def written(plan: Plan, path: Path) -> dict[str, Any]:
    plan_json.write(plan_json.as_data(plan, about.facts(plan), FILES), path)
    loaded: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse)
    return loaded


def refuse(constant: str) -> None:
    pytest.fail(f"{constant} is no JSON number")


def faults(data: object, schema: dict[str, Any]) -> list[str]:
    found = jsonschema.Draft202012Validator(schema).iter_errors(data)
    return [f"{list(fault.path)}: {fault.message[:200]}" for fault in found]


def test_the_file_is_what_its_schema_says(
    plan: Plan, schema: dict[str, Any], tmp_path: Path
) -> None:
    data = written(plan, tmp_path / "plan.json")
    assert faults(data, schema) == []
    assert data["format"] == 1
    assert is_ours(tmp_path)


def test_no_blank_of_the_file_is_there_for_nothing(plan: Plan, tmp_path: Path) -> None:
    data = written(plan, tmp_path / "plan.json")
    text = (tmp_path / "plan.json").read_text(encoding="utf-8")
    bare = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    # beyond that, an end of line after each entry and member and one blank after a key
    assert len(text) - len(bare) <= 2 * text.count("\n")
    assert len(text.splitlines()) > len(data["trees"]) + len(data["pulls"])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.pop("soil"),
        lambda d: d.update(format=2),
        lambda d: d["trails"][0].update(kind="road"),
        lambda d: d["trees"][0].update(status="fine"),
        lambda d: d["trees"][0].pop("remedies"),
        lambda d: d["pulls"][0].update(reach_m="34"),
        lambda d: d["findings"][0].update(level="warning"),
        lambda d: d["bars"][0]["shape"].update(coordinates=[1.0, 2.0, 3.0]),
        lambda d: d["about"].pop("azimuths"),
        lambda d: d.update(extra=1),
    ],
)
def test_the_schema_notices(plan: Plan, schema: dict[str, Any], tmp_path: Path, spoil: Any) -> None:
    data = written(plan, tmp_path / "plan.json")
    spoil(data)
    assert faults(data, schema)


def test_the_whole_plan_is_in_it(plan: Plan, tmp_path: Path) -> None:
    data = written(plan, tmp_path / "plan.json")
    for key, records in (
        ("trails", plan.trails),
        ("steps", plan.steps),
        ("positions", plan.positions),
        ("pulls", plan.pulls),
        ("trees", plan.trees),
        ("turning_places", plan.turning_places),
        ("strips", plan.strips),
        ("bars", plan.bars),
        ("findings", plan.findings),
    ):
        assert len(data[key]) == len(records), key
    assert [t["tree_id"] for t in data["trees"]] == list(plan.area.trees.tree_id)
    assert data["positions"][0]["tree_ids"] == list(plan.positions[0].tree_ids)
    line = shape(data["trails"][0]["shape"])
    assert isinstance(line, LineString)
    assert line.hausdorff_distance(plan.trails[0].line) < 0.001
    stations = data["stations"]["M1"]
    np.testing.assert_allclose(stations["grade_pct"], plan.stations["M1"].grade_pct, atol=0.051)
    assert data["area"]["crs"] == "EPSG:26918"
    assert data["settings"]["soil"]["limit_pct"] == 15
    assert data["soil"]["share_pct"] == pytest.approx(plan.soil.share_pct, abs=0.051)


def test_what_is_not_finite_is_null(plan: Plan, schema: dict[str, Any], tmp_path: Path) -> None:
    nan = math.nan
    spoilt = replace(
        plan,
        landing=replace(plan.landing, slope_pct=nan, water_m=math.inf),
        steps=(replace(plan.steps[0], grade_pct=nan, cross_pct=nan), *plan.steps[1:]),
        soil=replace(plan.soil, share_pct=nan, class_m2={1: nan}),
        choice=replace(plan.choice, gap_pct=math.inf),
    )
    data = written(spoilt, tmp_path / "plan.json")
    assert faults(data, schema) == []
    assert data["landing"]["slope_pct"] is None and data["landing"]["water_m"] is None
    assert data["steps"][0]["loaded_dir"] is None
    assert data["soil"]["class_m2"] == {"1": None}
    assert data["choice"]["gap_pct"] is None
    # "serve every tree that can be" is a price without end.
    settings = plan.area.settings.model_copy(
        update={
            "objective": plan.area.settings.objective.model_copy(
                update={"serve_worth_m2": math.inf}
            )
        }
    )
    free = replace(plan, area=replace(plan.area, settings=settings))
    assert written(free, tmp_path / "p.json")["settings"]["objective"]["serve_worth_m2"] is None


def test_the_same_plan_gives_the_same_bytes(plan: Plan, tmp_path: Path) -> None:
    written(plan, tmp_path / "a.json")
    written(plan_fixture.plan(), tmp_path / "b.json")
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()


def test_about_says_what_the_plan_was_made_with(plan: Plan) -> None:
    said = about.facts(plan)
    assert said["format"] == "1"
    assert said["seed"] == "0" and said["gap_pct"] and said["bound_m2"]
    assert "grid north" in said["azimuths"]
    assert said["water_rules"] == (
        "no-rule-chosen (Water strip rule unverified – check local rule); "  # noqa: RUF001
        "NO LOCAL RULE CHOSEN for water strips"
    )
    assert "Trimble & Sartz 1957" in said["rule_sources"]
    hashes = said["settings_sha256"], said["plan_sha256"]
    assert all(re.fullmatch("[0-9a-f]{64}", text) for text in hashes) and len(set(hashes)) == 2
    assert about.facts(replace(plan, about={"seed": "7"}))["seed"] == "7"
    assert "unverified" not in about.facts(plan_fixture.plan(confirmed=True))["water_rules"]


def test_about_names_every_rule_chosen_and_which_is_open() -> None:
    both = plan_fixture.plan(rules=("montana", "indiana"), confirmed=True)
    assert about.facts(both)["water_rules"] == "montana + indiana"
    assert about.rule_words(both) == ()
    (strip,) = both.strips
    one = replace(both, strips=(replace(strip, rule="montana", confirmed=False),))
    assert about.facts(one)["water_rules"] == (
        "montana (Water strip rule unverified – check local rule); "  # noqa: RUF001
        "indiana (chosen; another is stricter, or there is no water)"
    )
    assert about.rule_words(one) == (
        "Water strip rule montana unverified – check local rule",  # noqa: RUF001
    )
    own = plan_fixture.plan(rules=("rules/our brook.toml",))
    assert about.rule_names(own) == "our brook"


@given(
    st.sampled_from(["length_m", "grade_pct", "area_m2", "mass_kg", "p_out_of_reach", "odd"]),
    st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=True)),
)
def test_a_rounded_number_is_close_finite_and_stays(name: str, value: float | None) -> None:
    out = rounded(name, value)
    if value is None or not math.isfinite(value):
        assert out is None
    else:
        assert out is not None
        assert abs(out - value) <= max(0.5, 1e-5 * abs(value))
        assert rounded(name, out) == out
        assert math.copysign(1, out) == 1 or out != 0  # "-0.0 %" reads as a fault


# trees.csv


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_header_is_fixed_and_input_columns_follow(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    tree_table.write(plan, path)
    first = path.read_bytes().split(b"\n")[0].decode()
    assert first == TREES_HEADER + ",x,y,species,dbh_in,mark,in_status,note"
    assert b"\r" not in path.read_bytes()
    assert path.read_bytes().endswith(b"\n")


def test_the_table_of_columns_describes_the_header() -> None:
    rows = read(TABLES / "out_trees.csv")
    assert [row["column"] for row in rows] == TREES_HEADER.split(",")
    assert all(row["meaning"] and row["source"] for row in rows)
    for row in rows:
        unit = row["column"].rpartition("_")[2]
        assert row["unit"] == (unit if unit in {"m", "m2", "m3", "kg", "bf", "deg"} else "")


def test_every_listed_tree_has_its_line(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    tree_table.write(plan, path)
    rows = read(path)
    assert [row["tree_id"] for row in rows] == list(plan.area.trees.tree_id)
    assert rows[0]["note"] == "érable, près du mur" and rows[1]["in_status"] == "seen 1"
    for row, outcome in zip(rows, plan.trees, strict=True):
        assert (row["status"], row["role"]) == (outcome.status, outcome.role)
        assert "nan" not in row.values()
    missed = next(row for row in rows if row["status"] == "beyond_reach")
    assert missed["remedies"] == "leave it standing; a longer rope"
    assert missed["status_words"] == "farther than the rope reaches"
    assert float(missed["shortfall"]) > 0 and missed["shortfall_unit"] == "m"
    assert missed["marginal_m2"] == ""
    served = next(row for row in rows if row["status"] == "served")
    assert served["trail_id"] == served["position_id"].split("-")[0]
    assert served["sure"] in {"sure", "tight", "doubtful"}
    assert served["mass_kg"] == "812.0" and served["margin_m"] != ""


def test_a_list_without_columns_of_its_own_still_has_our_header(plan: Plan, tmp_path: Path) -> None:
    bare = pd.DataFrame(index=range(500))
    area = replace(plan.area, trees=replace(plan.area.trees, table=bare))
    tree_table.write(replace(plan, area=area), tmp_path / "trees.csv")
    lines = (tmp_path / "trees.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == TREES_HEADER and len(lines) == 501
