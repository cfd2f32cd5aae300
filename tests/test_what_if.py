"""What would change, on ground where the answer is known."""

import json
import re
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import area_of, at, line, settings_of, terrain_of, trees_of
from shapely.geometry import MultiPolygon, box

import layout
from layout import water
from layout.finished_network import network_of
from layout.landing_options import LandingOption
from layout.option_records import OptionRow
from layout.outputs.what_changes import worth_a_thought
from layout.plan import make_plan
from layout.plan_record import Plan
from layout.rechoice import chosen, offered
from layout.rule_changes import RuleChange, benching, longer_ropes
from layout.settings import AreaSettings, limits_in_force
from layout.site import FurtherLanding
from layout.solver import Solver
from layout.what_if import what_if, worked_out

STAND = MultiPolygon([box(*at(100, 60), *at(300, 300))])
NEAR = [(185.0, 120.0), (215.0, 130.0)]
JUST_PAST = [(196.0, 197.0), (200.0, 197.0), (204.0, 197.0)]
CEILING = {"cross_pct": 20.0, "favourable_pct": 25.0, "adverse_pct": 15.0, "pull_angle_deg": 30.0}


def edge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Give level ground that falls away 24 % north of y = 155: no trail goes there, a rope does."""
    return 100 + 0.03 * np.minimum(y, 155) - 0.24 * np.maximum(y - 155, 0) + 0 * x


def planned(height: Any, trees: list[tuple[float, float]], **tables: Any) -> Plan:
    ground = terrain_of(height)
    area = area_of(
        ground,
        settings_of(**tables),
        trees=trees_of([{"x": x, "y": y, "marked": True} for x, y in trees]),
        stand=STAND,
        landing=box(*at(190, 70), *at(210, 82)),
        main_trail=line((200, 80), (200, 150)),
    )
    return make_plan(area)


@pytest.fixture(scope="module")
def short() -> Plan:
    """Give a plan whose three far trees stand 42 m of rope and more off any trail; 39.6 m reach."""
    return planned(edge, [*NEAR, *JUST_PAST])


def by_key(plan: Plan) -> dict[str, OptionRow]:
    return {row.key: row for row in plan.options}


def test_ten_metres_of_rope_serve_the_row_just_past_it(short: Plan) -> None:
    served = {o.tree_id for o in short.trees if o.status == "served"}
    assert served == {"T1", "T2"}
    rows = by_key(short)
    for key in ("reach_plus_10m", "reach_plus_20m", "reach_plus_30m"):
        assert (rows[key].more_trees, rows[key].trees, rows[key].marked) == (3, 5, 5)
        assert rows[key].how == "replanned"
    # nothing but the three trees' price less their own pulls is gained at first
    worth = 3 * short.area.settings.objective.serve_worth_m2
    first = rows["reach_plus_10m"].gain_m2
    assert first is not None
    assert 0.8 * worth < first < worth
    assert rows["reach_plus_10m"].trail_m == pytest.approx(0.0, abs=8.0)
    pull = rows["reach_plus_10m"].pull_m
    assert pull is not None and pull > 5


def test_the_rope_row_says_what_it_needs(short: Plan) -> None:
    # 165 ft of cable and 33 ft; 130 ft by hand and 33 ft
    needs = by_key(short)["reach_plus_10m"].needs
    assert "198 ft of rope" in needs and "drum" in needs
    assert "163 ft dragged out by hand" in needs and "past 130 ft is a caution" in needs
    # however many trees it brings, nobody is advised to drag rope past where care begins
    assert by_key(short)["reach_plus_10m"].past_caution
    assert not any("rope" in words for words in worth_a_thought(short))


def test_rows_stand_by_what_they_gain(short: Plan) -> None:
    gains = [row.gain_m2 for row in short.options]
    known = [gain for gain in gains if gain is not None]
    assert known == sorted(known, reverse=True)
    assert gains[: len(known)] == known  # what was not worked out stands last


def test_more_rope_never_does_worse(short: Plan) -> None:
    rows = by_key(short)
    gains = [rows[f"reach_plus_{n}m"].gain_m2 or 0.0 for n in (10, 20, 30)]
    assert 0 <= gains[0] <= gains[1] <= gains[2]


def test_what_is_worked_out_is_not_searched_again_roughly(short: Plan) -> None:
    assert {row.key for row in short.limits} & worked_out(short.options) == set()
    assert short.limits[0].key == "as_is"


def test_no_stem_that_stays_is_listed_so_no_block_is_tried(short: Plan) -> None:
    row = by_key(short)["snatch_block"]
    assert row.how == "not_worked_out" and "no anchor tree is known" in row.why
    assert row.gain_m2 is None


def test_the_same_twice(short: Plan) -> None:
    strips = water.strips(short.area, short.terrain)
    assert what_if(short, strips) == short.options


def test_a_choice_too_large_says_so(short: Plan) -> None:
    strips = water.strips(short.area, short.terrain)
    large = replace(short, choice=replace(short.choice, nonzeros=10**7))
    rows = {row.key: row for row in what_if(large, strips)}
    assert rows["reach_plus_10m"].how == "not_worked_out"
    assert "too large" in rows["reach_plus_10m"].why
    assert worked_out(tuple(rows.values())) == frozenset()


def test_nothing_marked_nothing_tried(short: Plan) -> None:
    strips = water.strips(short.area, short.terrain)
    left = tuple(replace(o, status="leave") for o in short.trees)
    assert what_if(replace(short, trees=left), strips) == ()


@pytest.mark.slow
def test_benching_opens_a_hillside_and_shows_its_ground() -> None:
    """A band of 29 %, more than the root of 20 and 20 squared: only a bench climbs over it."""

    def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100 + 0.02 * y + 0.29 * np.clip(y - 160, 0, 20) + 0 * x

    plan = planned(hill, [*NEAR, (165.0, 235.0), (235.0, 235.0)],
                   objective={"serve_worth": "all"})  # fmt: skip
    assert sum(o.status == "served" for o in plan.trees) == 2
    row = by_key(plan)["bench_to_30"]
    assert row.how == "replanned"
    assert row.more_trees is not None and row.more_trees > 0
    assert row.trail_m is not None and row.trail_m > 10
    # bank and fill lie beside the trail: more ground than its own width takes
    assert row.ground_m2 is not None
    assert row.ground_m2 > row.trail_m * plan.area.settings.trails.width_spur_m
    assert "limit of 20 % stays" in row.needs
    assert not plan.benches


def test_other_landings_stand_with_what_their_plans_come_to(short: Plan) -> None:
    used = LandingOption(
        "A", short.landing.shape, *at(200, 76), 3.0, 5, "", 2, 2, 100.0, 900.0, 1.5, 0.0, 40.0,
        10.0, 14.0, 0, 1, 0, 1000.0, used=True,
    )  # fmt: skip
    other = replace(used, option_id="B", x=used.x + 30.48, tree_count=4, trail_m=160.0,
                    disturbed_m2=1100.0, low_h=9.0, high_h=12.0, objective_m2=1300.0,
                    used=False)  # fmt: skip
    refused = replace(used, option_id="C", tree_count=None, reason="no way", used=False)
    rows = what_if(
        replace(short, landing_options=(used, other, refused)),
        water.strips(short.area, short.terrain),
    )
    found = {row.key: row for row in rows if row.key.startswith("landing")}
    assert list(found) == ["landing_B"]
    row = found["landing_B"]
    assert (row.how, row.more_trees, row.trail_m, row.ground_m2) == ("planned", 2, 60.0, 200.0)
    assert (row.hours, row.gain_m2) == (-1.5, -300.0)
    assert "100 ft from the one used" in row.change
    assert rows[-1].gain_m2 is None or rows[-1].key == "landing_B"


def changes_of(settings: AreaSettings) -> Iterator[RuleChange]:
    area = replace(area_of(FLAT), settings=settings)
    yield from longer_ropes(area)
    bench = benching(area)
    if bench is not None:
        yield bench


FLAT = terrain_of(lambda x, y: 100 + 0 * x)


def read_again(settings: AreaSettings) -> AreaSettings:
    """Read settings as a file of their own; faults are raised."""
    raw: dict[str, Any] = {"format": 1}
    for name in ("area", "ground", "stand", "trails", "winch"):
        part = getattr(settings, name)
        raw[name] = {
            info.alias or field: _word(field, getattr(part, field))
            for field, info in type(part).model_fields.items()
            if _plain(getattr(part, field))
        }
    return AreaSettings.model_validate(raw)


def _plain(value: object) -> bool:
    return isinstance(value, str | bool | int | float) and value != float("inf")


def _word(field: str, value: Any) -> Any:
    for ending, unit in (("_m", "m"), ("_pct", "%"), ("_kn", "kN"), ("_kg", "kg"), ("_deg", "deg")):
        if field.endswith(ending) and not isinstance(value, bool | str):
            return f"{value:.9g} {unit}"
    return value


@given(
    condition=st.sampled_from(["dry", "wet", "frozen"]),
    cross=st.integers(8, 20),
    bench=st.sampled_from([0, 25, 30]),
    cable=st.integers(60, 500),
    reach=st.integers(100, 300),
    block=st.booleans(),
)
def test_no_change_passes_a_ceiling_or_could_not_be_read(
    condition: str, cross: int, bench: int, cable: int, reach: int, block: bool
) -> None:
    tables: dict[str, Any] = {
        "ground": {"dem": "d.tif", "condition": condition},
        "trails": {"cross_slope": f"{cross} %", "cross_slope_caution": "5 %"},
        "winch": {"cable": f"{cable} ft", "working_reach": f"{reach} ft", "uphill_reach": "80 ft"},
    }
    if bench:
        tables["trails"]["bench_up_to"] = f"{bench} %"
    if block:
        tables["winch"] |= {
            "snatch_block": True, "block_rating": "90 kN", "anchor_dbh": "24 in",
            "pull_angle": "80 deg",
        }  # fmt: skip
    settings = settings_of(**tables)
    before = limits_in_force(settings)
    less = 0.0 if condition == "dry" else 5.0
    for change in changes_of(settings):
        changed = change.area.settings
        assert read_again(changed).winch.cable_m == pytest.approx(changed.winch.cable_m)
        after = limits_in_force(changed)
        assert after == before  # rope and bench move no limit at all
        for name, ceiling in CEILING.items():
            if not (block and name == "pull_angle_deg"):
                assert getattr(after, name) <= ceiling - less + 1e-9


def test_rows_fit_the_schema(short: Plan) -> None:
    schema = json.loads(
        (Path(layout.__file__).parent / "tables" / "plan.schema.json").read_text(encoding="utf-8")
    )
    form = schema["$defs"]["option"]
    for row in short.options:
        data = asdict(row)
        assert set(data) == set(form["required"]) == set(form["properties"])
        assert re.fullmatch(form["properties"]["key"]["pattern"], row.key)
        assert row.how in form["properties"]["how"]["enum"]
    assert schema["properties"]["options"]["items"] == {"$ref": "#/$defs/option"}


@pytest.mark.slow
def test_trails_of_two_landings_are_chosen_again_together() -> None:
    """Two mains, each with trees of its own: nothing changed, the plan comes out as it is."""
    ground = terrain_of(lambda x, y: 100 + 0.03 * y + 0 * x)
    trees = [(140.0, 150.0), (165.0, 190.0), (280.0, 150.0), (255.0, 190.0)]
    area = area_of(
        ground,
        settings_of(),
        trees=trees_of([{"x": x, "y": y, "marked": True} for x, y in trees]),
        stand=STAND,
        landing=box(*at(140, 70), *at(160, 82)),
        more_landings=(
            FurtherLanding(
                "L2", box(*at(260, 70), *at(280, 82)), "M2", line((270, 80), (270, 170))
            ),
        ),
        main_trail=line((150, 80), (150, 170)),
    )
    plan = make_plan(area)
    assert len(plan.landings) == 2
    network = network_of(plan, water.strips(area, ground))
    lines = offered(network)
    with Solver() as solver:
        base, _ = chosen(network, lines, solver)
    assert base.trees == sum(o.status in ("served", "with_trail") for o in plan.trees) == 4
    assert base.trail_m <= sum(t.line.length for t in plan.trails) + 0.5
    assert base.share_pct <= plan.soil.share_with_landing_pct + 0.01
