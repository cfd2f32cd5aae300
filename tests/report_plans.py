"""Made-up plans for tests of the report: one of everything, and plans that lack something."""

from dataclasses import fields, replace
from typing import Any, get_args

import made_work
import numpy as np
import plan_fixture

from layout import benching
from layout.findings import Finding
from layout.option_records import LimitRow, OptionRow
from layout.plan import Plan
from layout.records import BarReason, Change, TreeOutcome
from layout.settings import AreaSettings
from layout.site import Area, Trees
from layout.treatment import treat

EDGES = (
    "plain", "metric", "no water", "water without strips", "nothing marked", "no trees at all",
    "all served", "none served", "no trail", "all sure", "some done", "one done", "out of time",
    "out of rounds",
    "over the limit", "own line, own landing", "dug", "nameless", "hazard trees",
    "worked", "worked in metres",
)  # fmt: skip


def listed(plan: Plan, outcomes: tuple[TreeOutcome, ...], **rest: Any) -> Plan:
    """Give a plan with other trees, and a tree list as long."""
    n, trees = len(outcomes), plan.area.trees
    columns = {
        field.name: getattr(trees, field.name)[:n]
        for field in fields(Trees)
        if field.name not in ("tree_id", "full_list", "table", "done", "done_pieces", "set_aside")
    }
    fewer = replace(
        trees, tree_id=tuple(o.tree_id for o in outcomes), table=trees.table.head(n), **columns
    )
    return retreated(replace(plan, trees=outcomes, area=replace(plan.area, trees=fewer), **rest))


def retreated(plan: Plan) -> Plan:
    """Give a plan with what its own area's marking does to the stand."""
    cleared = [trail.line.buffer(trail.width_m / 2, cap_style="flat") for trail in plan.trails]
    return replace(plan, treatment=treat(plan.area, cleared))


def resettled(plan: Plan, **tables: dict[str, object]) -> Plan:
    """Give a plan with other settings."""
    raw = {
        "format": 1,
        "area": {"name": "Maple Hill", "units": "us"},
        "ground": {"dem": "dem.tif"},
        "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"},
    }
    for name, values in tables.items():
        raw[name] = {**raw.get(name, {}), **values}  # type: ignore[dict-item]
    return retreated(
        replace(plan, area=replace(plan.area, settings=AreaSettings.model_validate(raw)))
    )


def bare_area(area: Area) -> Area:
    """Give an area with nothing on it but its edge."""
    return replace(area, water=(), keep_out=(), hazards=(), existing=(), access_road=())


def hazardous(plan: Plan) -> Plan:
    """Give a plan with a hazard tree that is reached, one that is not, one left, one done."""
    status = [outcome.status for outcome in plan.trees]
    reached = [row for row, word in enumerate(status) if word == "served"][:2]
    lost = next(row for row, word in enumerate(status) if word == "beyond_reach")
    kinds = {reached[0]: "hung", reached[1]: "split", lost: "dead", status.index("leave"): "rot"}
    trees = plan.area.trees
    wrong = tuple(kinds.get(row, "") for row in range(len(trees)))
    done = frozenset({trees.tree_id[reached[1]]})
    height = trees.height_m.copy()
    height[list(kinds)] = 20.0
    listed = replace(trees, hazard=wrong, done=done, height_m=height)
    return replace(plan, area=replace(plan.area, trees=listed))


def edge_plans(plan: Plan) -> dict[str, Plan]:
    """Give plans that lack something, or hold much of it."""
    served = tuple(
        replace(o, status="served", role="cut") if o.status != "leave" else o for o in plan.trees
    )
    missed = tuple(
        TreeOutcome(o.tree_id, "no_trail", "leave", remedies=("leave it standing",))
        if o.status != "leave"
        else o
        for o in plan.trees
    )
    nothing = {
        "positions": (), "pulls": (), "turning_places": (), "rub_trees": (), "lays": (),
        "felling_groups": (),
    }  # fmt: skip
    empty = replace(
        plan, trails=(), steps=(), bars=(), stations={}, findings=(), strips=(),
        area=bare_area(plan.area), trees=missed, **nothing,
    )  # fmt: skip
    station = plan.stations["S1"]
    dug = np.arange(len(station.at_m)) < 10
    bench = benching.Bench(
        station.at_m,
        dug,
        benching.section(np.where(dug, 25.0, 0.0), 3.05),
        plan.trails[1].line.buffer(2.5),
    )
    return {
        "plain": plan,
        "metric": plan_fixture.plan("metric", confirmed=True, rules=("slope-50-4",)),
        "no water": replace(plan, strips=(), bars=(), area=bare_area(plan.area)),
        "water without strips": replace(plan, strips=()),
        "nothing marked": replace(
            plan, trees=tuple(replace(o, status="leave") for o in plan.trees), **nothing
        ),
        "no trees at all": listed(plan, (), **nothing),
        "all served": replace(plan, trees=served),
        "none served": replace(plan, trees=missed, **nothing),
        "no trail": empty,
        "all sure": replace(plan, pulls=tuple(replace(p, sure="sure") for p in plan.pulls)),
        "some done": replace(
            plan, trees=tuple(replace(o, status="done") if n < 20 and o.status == "served" else o
                              for n, o in enumerate(plan.trees)),
        ),
        "one done": replace(
            plan, trees=(replace(plan.trees[0], status="done"), *plan.trees[1:])
        ),
        "out of time": replace(plan, choice=replace(plan.choice, stopped_by="time", gap_pct=3.2)),
        "out of rounds": replace(plan, choice=replace(plan.choice, stopped_by="work")),
        "over the limit": replace(plan, soil=replace(plan.soil, share_pct=17.2)),
        "own line, own landing": resettled(
            plan, property={"line": "p.gpkg"}, landing={"shape": "l.gpkg"},
            main_trail={"line": "m.gpkg"}, timber={"rule": "doyle"}, stand={"list": "marked"},
        ),
        "dug": replace(
            plan, benches={"S1": bench}, soil=replace(plan.soil, bench_m2=80.0),
            trails=(replace(plan.trails[0], source="fixed"), *plan.trails[1:]),
            about={**plan.about, "made": "2026-11-26T18:41:13Z"},
            changes=(Change("trails", "S1", "kept"), Change("trails", "S2", "moved"),
                     Change("trails", "S3", "added"), Change("winch_positions", "W9", "retired")),
        ),
        "nameless": plan_fixture.plan(name=" "),
        "hazard trees": hazardous(plan),
        "worked": made_work.worked(plan),
        "worked in metres": made_work.worked(plan_fixture.plan("metric")),
    }  # fmt: skip


def many_findings() -> tuple[Finding, ...]:
    """Give findings of many kinds, some equal."""
    out = list(plan_fixture.findings())
    out += [
        Finding("grade_adverse", "caution", f"Spur S1, place {k}: steep uphill", "trails", "S1",
                10.0 * k, 10.0 * k + 5, 5.0 + k, 5.0, "%", "a page [unverified]", False)
        for k in range(1, 8)
    ]  # fmt: skip
    out += [Finding("grade_flat", "caution", "Flat.", "trails", "S1", 1.0, 60.0, 59.0, 30.48, "m")]
    out += [
        Finding(
            "neck", "caution", "A neck: 40 ft closed.", "trails", "S2", 5.0, 5.0, 27.0, 20.0, "%"
        )
    ]
    out += [Finding("wires", "unknown", "Overhead wires: not checked, none were given.")] * 2
    out += [Finding("brand_new", "caution", "New.", "pulls"), Finding("odd", "ok", "Odd", "odd")]
    return tuple(out)


def cautions_of_many_kinds() -> tuple[Finding, ...]:
    """Give two cautions of each of 24 kinds."""
    return tuple(
        Finding(f"{beginning}_{k}", "caution", f"Thing {beginning} {k}, {n}.", "trails", "S1")
        for beginning in ("pull_hump", "grade", "odd")
        for k in range(8)
        for n in range(2)
    )


def limit_rows() -> tuple[LimitRow, ...]:
    """Give what limits a plan: a change that helps, one that hurts, one that does nothing."""
    return (
        LimitRow("as_is", "as things are", 68.7, 40, 63),
        LimitRow("reach_plus_10m", "rope 33 ft longer", 71.2, 45, 63, 5, 91.44, 278.7, "dragging"),
        LimitRow("landing_moved", "the landing elsewhere", 60.0, 37, 63, -3, None, 600.0, "a road"),
        LimitRow("spur_plus_100ft", "spurs 100 ft longer", 68.7, 40, 63, 0, None, None, "trail"),
    )


def option_rows() -> tuple[OptionRow, ...]:
    """Give what would change: much gained, a little, nothing, and what was not worked out."""
    return (
        OptionRow(
            "reach_plus_30m", "rope and reach 98 ft longer", "replanned", "a longer rope", 63,
            65, 2, -31, -274.32, -809.4, -0.6, -12.0, 9.0, None, 1200.0,
        ),
        OptionRow("snatch_block", "a snatch block", "reach", "a block", 63, 64, 1, gain_m2=200.0),
        OptionRow(
            "landing_B", "landing B", "planned", "a road", 63, 62, -1, None, 40.0, 120.0, 0.1,
            5.0, None, -1.5, -330.0,
        ),
        OptionRow("bench_to_30", "benching", "not_worked_out", "a digger", 63, why="time"),
    )  # fmt: skip


def long_plan(plan: Plan) -> Plan:
    """Give a plan whose every table is long enough to be folded."""
    missed = next(o for o in plan.trees if o.status == "beyond_reach")
    names = range(40)
    pull = replace(plan.pulls[0], position_id="W1", sure="doubtful")
    return listed(
        plan,
        (*(replace(missed, tree_id=f"T{n}") for n in names),
         TreeOutcome("D0", "served", "cut")),
        positions=tuple(replace(plan.positions[0], position_id=f"W{n}") for n in names),
        rub_trees=tuple(replace(plan.rub_trees[2], rub_id=f"R{n}") for n in names),
        bars=tuple(replace(plan.bars[0], bar_id=f"B{n}") for n in names),
        turning_places=tuple(replace(plan.turning_places[0], place_id=f"T{n}") for n in names),
        strips=tuple(replace(plan.strips[0], feature_id=f"F{n}") for n in names),
        pulls=(*(replace(pull, tree_id=f"D{n}") for n in names),
               replace(pull, tree_id="T0", sure="tight")),
    )  # fmt: skip


SUBJECTS = (
    ("property_line_weak", "trees"), ("dem_gaps", ""), ("a", "landing"), ("b", "pulls"),
    ("c", "turning_places"), ("d", "winch_positions"), ("e", "settings"), ("f", ""),
    ("gap_wide", "gaps"), ("plots_outside", "plots"),
)  # fmt: skip


def wordy_plans(plan: Plan) -> tuple[Plan, ...]:
    """Give plans that between them and the others make the report say all it can say."""
    stop, trail, bar = plan.findings[0], plan.trails[0], plan.bars[0]
    odd = [Finding(code, "caution", "M.", layer, "x") for code, layer in SUBJECTS]
    odd += [
        Finding("neck", "caution", "N."), Finding("neck", "caution", "N."),
        Finding("limits_lowered", "caution", "L.", limit=3.0, unit="m"),
        Finding("bar_outlet", "caution", "B.", value=2.0),
        Finding("junction_angle", "caution", "J.", value=50.0, unit="deg"),
    ]  # fmt: skip
    kinds = ("landing", "pad", "y", "loop")
    one = replace(
        plan,
        findings=tuple(odd),
        bars=tuple(
            replace(bar, bar_id=why, why=why, outlet="left" if n % 2 else "unknown")
            for n, why in enumerate(get_args(BarReason))
        ),
        turning_places=tuple(replace(plan.turning_places[0], place_id=k, kind=k) for k in kinds),
        strips=plan.strips * 2,
        trails=tuple(replace(t, source="fixed") for t in plan.trails),
        soil=replace(plan.soil, class_m2={1: 1.0, 2: 1.0, 3: 1.0}),
        positions=(replace(plan.positions[0], trail_id=""),),
        pulls=(),
        rub_trees=plan.rub_trees[2:3],
    )
    trees = (
        TreeOutcome("L", "served", "cut", mass_kg=900.0, marginal_trail_m=30.0),
        TreeOutcome("K", "served", "cut", volume_m3=1.0, marginal_trail_m=30.0),
        TreeOutcome("M", "no_trail", "leave", remedies=("leave it standing",)),
        TreeOutcome("N", "leave", "in_trail"),
        TreeOutcome("O", "leave", "in_trail"),
        TreeOutcome("P", "done", "cut"),
        TreeOutcome("Q", "beyond_reach", "cut", remedies=("leave it standing", "one way")),
        TreeOutcome(
            "R", "beyond_reach", "cut", remedies=("leave it standing",), marginal_trail_m=9
        ),
    )
    doubtful = tuple(replace(pull, sure="doubtful") for pull in plan.pulls[:2])
    return (
        one,
        listed(
            plan, trees, pulls=doubtful, findings=(stop,),
            bars=(replace(bar, outlet="unknown"), replace(bar, outlet="right")),
        ),
        listed(plan, (*trees[1:4], trees[5], trees[5]), pulls=doubtful[:1], findings=()),
        replace(
            plan, trails=(replace(trail, source="routed"),), limits=limit_rows()[:1], bars=(bar,),
            options=option_rows(),
            findings=(replace(stop, level="caution"), replace(stop, level="unknown")),
        ),
        long_plan(plan),
        replace(
            plan, rub_trees=(), lays=tuple(x for x in plan.lays if x.lean == "against")[:1]
        ),
        replace(plan, rub_trees=plan.rub_trees[1:2] * 2),
        resettled(plan),
        resettled(plan, objective={"serve_worth": "all"}, soil={"erosion_hazard": "high"}),
    )  # fmt: skip
