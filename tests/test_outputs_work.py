"""The work read back from every file of data that tells of it; sums agree between them."""

import csv
import json
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import made_work
import pandas as pd
import plan_fixture
import pyogrio
import pytest

import layout
from layout.outputs import about, geopackage, load_facts, payloads, plan_json, turn_table
from layout.outputs.load_facts import limit_words
from layout.payload import largest_load
from layout.plan import Plan
from layout.read_progress import earlier_plan
from layout.work_records import Work

TABLES = Path(layout.__file__).parent / "tables"
SCHEMA = json.loads((TABLES / "plan.schema.json").read_text(encoding="utf-8"))
POUND_KG = 0.45359237  # exact by definition
FOOT_M = 0.3048  # exact by definition

# Typed from the description of the file, not from our code.
HEADER = (
    "turn_id,order,stage,trail_id,position_ids,tree_ids,pieces,mass_kg,mass_words,wood_m3,"
    "travel_m,travel_words,limit_kg,limit_words,limited_by,limited_by_words,state,ends_at"
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_work.worked(plan_fixture.plan())


@pytest.fixture(scope="module")
def work(plan: Plan) -> Work:
    assert plan.work is not None
    return plan.work


@pytest.fixture(scope="module")
def gpkg(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("gpkg") / "plan.gpkg"
    geopackage.write(plan, path, {"format": "1"})
    return path


@pytest.fixture(scope="module")
def data(plan: Plan) -> dict[str, Any]:
    return as_read(plan)


def as_read(plan: Plan) -> dict[str, Any]:
    data = plan_json.as_data(plan, about.facts(plan), ("plan.json",))
    loaded: dict[str, Any] = json.loads(json.dumps(data, allow_nan=False))
    return loaded


def table(plan: Plan, folder: Path) -> list[dict[str, str]]:
    path = folder / "turns.csv"
    turn_table.write(plan, path)
    raw = path.read_bytes()
    assert raw.split(b"\n")[0].decode() == HEADER and b"\r" not in raw
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- sums agree -----------------------------------------------------------------------------


def test_loads_weigh_the_same_in_every_file(
    plan: Plan, work: Work, gpkg: Path, data: dict[str, Any], tmp_path: Path
) -> None:
    rows = table(plan, tmp_path)
    layer = pyogrio.read_dataframe(gpkg, layer="turns")
    parts = pyogrio.read_dataframe(gpkg, layer="turn_pieces")
    for turn in work.turns:
        told = {
            "csv": next(float(r["mass_kg"]) for r in rows if r["turn_id"] == turn.turn_id),
            "gpkg": float(layer.set_index("turn_id").loc[turn.turn_id, "mass_kg"]),
            "json": next(r["mass_kg"] for r in data["turns"] if r["turn_id"] == turn.turn_id),
        }
        assert set(told.values()) == {round(turn.mass_kg)}, (turn.turn_id, told)
        mine = parts[parts["turn_id"] == turn.turn_id]
        if turn.state == "planned":
            # each piece is rounded to a kilogram
            assert mine["mass_kg"].sum() == pytest.approx(turn.mass_kg, abs=0.5 * len(mine))
            assert mine["wood_m3"].sum() == pytest.approx(turn.wood_m3, abs=5e-4 * len(mine))
    # What goes out is what was cut: every piece once, no mass lost.
    planned = {t.turn_id for t in work.turns if t.state == "planned"}
    out = parts[parts["turn_id"].isin(planned)]
    assert Counter(zip(out["tree_id"], out["piece"], strict=True)) == Counter(
        (p.tree_id, p.number) for p in work.pieces
    )
    assert out["mass_kg"].sum() == pytest.approx(
        sum(p["mass_kg"] for p in data["work"]["pieces"]), abs=1e-6
    )
    masses = [r["mass_kg"] for r in data["turns"] if r["state"] == "planned"]
    assert sum(masses) == pytest.approx(sum(p.mass_kg for p in work.pieces), abs=len(masses) / 2)


def test_pieces_are_counted_alike(
    plan: Plan, gpkg: Path, data: dict[str, Any], tmp_path: Path
) -> None:
    layer = pyogrio.read_dataframe(gpkg, layer="turns")
    parts = pyogrio.read_dataframe(gpkg, layer="turn_pieces")
    counted = Counter(parts["turn_id"])
    assert dict(zip(layer["turn_id"], layer["pieces"], strict=True)) == counted
    assert {r["turn_id"]: int(r["pieces"]) for r in table(plan, tmp_path)} == counted
    assert {r["turn_id"]: len(r["pieces"]) for r in data["turns"]} == counted


def test_trees_name_the_loads_they_come_out_in(plan: Plan, work: Work, gpkg: Path) -> None:
    trees = pyogrio.read_dataframe(gpkg, layer="trees").set_index("tree_id")["turn_ids"]
    out: dict[str, list[str]] = defaultdict(list)
    for turn in work.turns:
        for tree in turn.tree_ids if turn.state != "retired" else ():
            out[tree].append(turn.turn_id)
    assert {t: names.split() for t, names in trees.items() if names} == out
    assert "LD91" not in " ".join(trees)


# --- plan.gpkg ------------------------------------------------------------------------------


def test_plain_tables_keep_their_types_without_rows(gpkg: Path, tmp_path: Path) -> None:
    bare = tmp_path / "bare.gpkg"
    geopackage.write(plan_fixture.plan(), bare, {})
    for name in ("turns", "turn_pieces"):
        empty, full = (pyogrio.read_info(path, layer=name) for path in (bare, gpkg))
        assert empty["features"] == 0 and full["features"] > 20
        assert list(empty["ogr_types"]) == list(full["ogr_types"]), name
    frame = pyogrio.read_dataframe(gpkg, layer="turns")
    assert isinstance(frame, pd.DataFrame) and "geometry" not in frame
    assert (frame["order"].dtype.kind, frame["mass_kg"].dtype.kind) == ("i", "f")


def test_of_an_earlier_load_only_the_names_of_its_pieces_are_known(gpkg: Path) -> None:
    parts = pyogrio.read_dataframe(gpkg, layer="turn_pieces").set_index("turn_id")
    assert parts.loc["LD90", "tree_id"] == "T400" and pd.isna(parts.loc["LD90", "mass_kg"])
    assert parts.loc["LD90", "kind"] == ""


def test_steps_pulls_and_trails_bring_their_limits(plan: Plan, gpkg: Path) -> None:
    steps = pyogrio.read_dataframe(gpkg, layer="trail_steps")
    for row, step in zip(steps.itertuples(), plan.steps, strict=True):
        if step.payload_kg is None:
            assert pd.isna(row.payload_kg) and row.payload_by == ""
        else:
            assert (row.payload_kg, row.payload_by) == (step.payload_kg, step.payload_by)
        known = step.tip_margin_deg is not None
        assert pd.isna(row.tip_margin_deg) is not known
        assert pd.isna(row.front_share_pct) is not known
    pulls = pyogrio.read_dataframe(gpkg, layer="pulls")
    assert Counter(pulls["limited_by"]) == Counter(p.limited_by for p in plan.pulls)
    assert pulls["limit_kn"].isna().sum() == 1
    trails = pyogrio.read_dataframe(gpkg, layer="trails").set_index("trail_id")
    level, by = largest_load(plan.area.settings, 0.0)
    for trail in plan.trails:
        told, least = trails.loc[trail.trail_id], payloads.to_landing(plan)[trail.trail_id]
        assert told["payload_kg"] == least.kg <= float(level) * (1 + 1e-9)
        if least.trail_id != trail.trail_id:
            assert pd.isna(told["payload_at_m"])
        if not least.trail_id:
            assert (least.kg, told["payload_by"]) == (float(level), str(by))
            continue
        assert any(
            s.trail_id == least.trail_id
            and s.from_m == least.from_m
            and (s.payload_kg, s.payload_by) == (least.kg, told["payload_by"])
            for s in plan.steps
        )


def test_no_load_may_be_heavier_than_its_trail_says(plan: Plan) -> None:
    least = payloads.to_landing(plan)
    assert plan.work is not None
    for turn in plan.work.turns:
        if turn.state == "planned" and turn.trail_id:
            assert turn.limit_kg >= least[turn.trail_id].kg - 1e-6


def test_the_way_to_the_landing_counts_the_trails_it_joins(plan: Plan) -> None:
    def with_main(kg: float, from_m: float) -> Plan:
        steps = tuple(
            replace(s, payload_kg=kg) if s.trail_id == "M1" and s.from_m == from_m else s
            for s in plan.steps
        )
        return replace(plan, steps=steps)

    # S1 leaves M1 at 60 m: what lies beyond on M1 does not hold its loads down
    near, beyond = with_main(200.0, 40.0), with_main(200.0, 80.0)
    assert payloads.to_landing(near)["S1"].trail_id == "M1"
    assert payloads.to_landing(beyond)["S1"].trail_id == "S1"
    assert payloads.to_landing(beyond)["S4"].kg == 200.0
    blank = replace(plan, steps=tuple(replace(s, payload_kg=None) for s in plan.steps))
    assert payloads.to_landing(blank) == {}


# --- turns.csv ------------------------------------------------------------------------------


def test_the_table_of_columns_describes_the_header() -> None:
    with (TABLES / "out_turns.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["column"] for row in rows] == HEADER.split(",")
    assert all(row["meaning"] and row["source"] for row in rows)
    for row in rows:
        unit = row["column"].rpartition("_")[2]
        assert row["unit"] == (unit if unit in {"m", "m3", "kg"} else "")


def test_loads_stand_in_their_order_and_what_is_over_comes_last(plan: Plan, tmp_path: Path) -> None:
    shuffled = plan.work and replace(plan.work, turns=plan.work.turns[::-1])
    rows = table(replace(plan, work=shuffled), tmp_path)
    orders = [int(r["order"]) for r in rows if r["order"]]
    assert orders == list(range(1, len(rows) - 1))
    assert [(r["turn_id"], r["state"]) for r in rows[-2:]] == [
        ("LD90", "done"), ("LD91", "retired"),
    ]  # fmt: skip
    assert rows[0]["stage"] == "open" and rows[0]["position_ids"] == ""


@pytest.mark.parametrize("units", ["us", "metric"])
def test_loads_are_said_in_peoples_units_beside(units: str, tmp_path: Path) -> None:
    plan = made_work.worked(plan_fixture.plan(units))
    for row in table(plan, tmp_path):
        kg, said = float(row["mass_kg"]), float(row["mass_words"].split()[0].replace(",", ""))
        step, mark = (50, " lb") if units == "us" else (20, " kg")
        own = kg / POUND_KG if units == "us" else kg
        assert row["mass_words"].endswith(mark) and said % step == 0
        assert -step - 2 <= said - own <= step / 2 + 2  # the kilogram is rounded before
        most = float(row["limit_words"].split()[0].replace(",", ""))
        whole = float(row["limit_kg"]) / (POUND_KG if units == "us" else 1.0)
        assert said <= most and 0 <= whole + 1 - most <= (50 if units == "us" else 20) + 1
        far = float(row["travel_words"].split()[0].replace(",", ""))
        travel = float(row["travel_m"]) / (FOOT_M if units == "us" else 1.0)
        assert far == pytest.approx(travel, abs=0.51)
        assert row["limited_by_words"] == limit_words(row["limited_by"]) != ""


@pytest.mark.parametrize(
    ("mass_kg", "said"), [(999.5, "980 kg"), (1003.0, "1,000 kg"), (966.0, "960 kg")]
)
def test_a_full_load_is_not_said_to_be_over_its_limit(mass_kg: float, said: str) -> None:
    plan = made_work.worked(plan_fixture.plan())
    assert plan.work is not None
    full = replace(plan.work.turns[0], mass_kg=mass_kg, limit_kg=999.9)
    assert load_facts.load_words(full, "metric") == said  # only what is over is said to be


def test_a_name_that_would_run_as_a_formula_stays_text(plan: Plan, tmp_path: Path) -> None:
    assert plan.work is not None
    first = replace(plan.work.turns[0], tree_ids=("=1+1",), limit_kg=float("inf"))
    odd = replace(plan, work=replace(plan.work, turns=(first,)))
    (row,) = table(odd, tmp_path)
    assert row["tree_ids"] == "'=1+1"
    assert row["limit_kg"] == row["limit_words"] == ""


def test_without_work_the_files_are_there_and_say_nothing(tmp_path: Path) -> None:
    bare = plan_fixture.plan()
    assert table(bare, tmp_path) == []
    data = as_read(bare)
    assert "turns" not in data and "work" not in data
    assert list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(data)) == []


# --- plan.json ------------------------------------------------------------------------------


def few(data: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is alike, and slow to hold against the schema."""
    return {**data, "trees": data["trees"][:5], "stations": {}, "steps": data["steps"][:9]}


def test_the_work_is_what_the_schema_says(plan: Plan, work: Work, data: dict[str, Any]) -> None:
    bare = replace(work, money=None, two_stage=None)
    none = replace(made_work.two_stage(plan), why_none="Too steep.", drag_all=None,
                             two_stage=None, at_m=None, x=None, y=None, turn_at_m=None)  # fmt: skip
    for one in (bare, replace(work, two_stage=none)):
        read = as_read(replace(plan, work=one))
        assert [f.message[:200] for f in
                jsonschema.Draft202012Validator(SCHEMA).iter_errors(few(read))] == []  # fmt: skip
    assert list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(few(data))) == []
    assert set(data["work"]) == {
        "order", "pieces", "shorter", "times", "fuel", "trucking", "money", "two_stage",
    }  # fmt: skip


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d["turns"][0].update(state="lost"),
        lambda d: d["turns"][0].update(limited_by="fear"),
        lambda d: d["turns"][0].pop("tree_ids"),
        lambda d: d["turns"][0].update(pieces=[["T1"]]),
        lambda d: d["work"]["order"][0].update(kind="rest"),
        lambda d: d["work"]["times"].update(in_band="yes"),
        lambda d: d["work"]["times"]["total"].pop("low_h"),
        lambda d: d["work"]["shorter"][0].update(lengths_m=[None]),
        lambda d: d["work"].pop("fuel"),
        lambda d: d["work"]["trucking"]["sorts"][0].update(kind="firewood"),
        lambda d: d["work"]["money"].update(currency="gold"),
        lambda d: d["work"]["two_stage"].update(trips=None),
        lambda d: d["steps"][0].update(payload_by="fear"),
        lambda d: d["pulls"][0].update(limited_by="fear"),
        lambda d: d["trees"][0].pop("turn_ids"),
        lambda d: d["trails"][0].pop("payload_at_m"),
    ],
)
def test_the_schema_notices(data: dict[str, Any], spoil: Any) -> None:
    bad = json.loads(json.dumps(few(data)))
    spoil(bad)
    assert list(jsonschema.Draft202012Validator(SCHEMA).iter_errors(bad))


def test_the_order_the_times_and_the_sorts_are_all_told(work: Work, data: dict[str, Any]) -> None:
    told = data["work"]
    assert [s["number"] for s in told["order"]] == list(range(1, len(work.steps) + 1))
    assert [s["kind"] for s in told["order"]] == [s.kind for s in work.steps]
    hauled = [name for s in told["order"] if s["kind"] == "haul" for name in s["turn_ids"]]
    assert hauled == [t.turn_id for t in work.turns if t.state == "planned"]
    hours = told["times"]["kinds"]
    assert sum(h["productive_h"] for h in hours) == pytest.approx(
        told["times"]["total"]["productive_h"], abs=0.05 * len(hours)
    )
    assert sum(s["pieces"] for s in told["trucking"]["sorts"]) == len(work.pieces)
    assert told["money"]["unpriced"] == ["small wood"]
    assert told["two_stage"]["clean_share_pct"] == 45.0
    assert told["shorter"][1]["lengths_m"] == []


def test_the_earlier_plan_is_read_back_from_it(plan: Plan, work: Work, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    plan_json.write(
        plan_json.as_data(plan, about.facts(plan), ("plan.json",)), folder / "plan.json"
    )
    earlier = earlier_plan(folder, plan.area.crs, needed=True)
    assert earlier is not None
    assert [(t.turn_id, t.trail_id, t.position_id, t.tree_ids) for t in earlier.turns] == [
        (t.turn_id, t.trail_id, t.position_id, t.tree_ids) for t in work.turns
    ]
