"""report.html: what it says is what the plan says, in the user's units, in the right order."""

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import get_args

import made_order
import made_work
import numpy as np
import plan_fixture
import pytest
from report_page import Page, words
from report_plans import (
    cautions_of_many_kinds,
    edge_plans,
    hazardous,
    limit_rows,
    listed,
    long_plan,
    many_findings,
    option_rows,
    resettled,
    wordy_plans,
)
from soil_plans import soil_plans
from stand_plans import stand_plans
from test_outputs_orders import with_an_idle_position

import layout
from layout.findings import Finding
from layout.outputs import overview, plan_json, rows, schema, steepness
from layout.outputs.gravity import by_kind
from layout.outputs.report import page, settings_used, weights
from layout.outputs.summary import closing
from layout.outputs.words import ENGLISH
from layout.outputs.words.kind_words import KINDS
from layout.outputs.words.report_words import REPORT
from layout.plan import Plan
from layout.records import BarReason, TreeOutcome
from layout.speech import speak_length, speak_station
from layout.units import Units

PACKAGE = Path(layout.__file__).parent
FOOT_M = 0.3048  # exact by definition
POUND_KG = 0.45359237  # exact by definition
BLOCK = {"snatch_block": True, "block_rating": "90 kN", "anchor_dbh": "20 in"}
OWN = {"fuel": ["4 L/h", "5 L/h"]}
SOLVER_WORDS = re.compile(
    r"\b(optimal\w*|solver|candidates?|objective|bound|gap|nonzeros?|lattice|heuristic|seed)\b",
    re.I,
)


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the picture out."""
    monkeypatch.setattr(overview, "image", lambda plan, dpi: b"picture")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture(scope="module")
def edges() -> dict[str, Plan]:
    return edge_plans(plan_fixture.plan())


@pytest.fixture(scope="module")
def pages(edges: dict[str, Plan]) -> dict[str, Page]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(overview, "image", lambda plan, dpi: b"picture")
        return {name: made(plan) for name, plan in edges.items()}


def made(plan: Plan) -> Page:
    return Page(page.page(plan))


# --- findings -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def found() -> Plan:
    return replace(plan_fixture.plan(), findings=many_findings())


def test_every_finding_stands_on_the_page_exactly_once(found: Plan) -> None:
    read = made(found)
    items = {e.get("id"): e for e in read.root.iter("li") if (e.get("id") or "").startswith("find")}
    assert len(items) == len(found.findings)
    for number, finding in enumerate(found.findings, start=1):
        said = words(items[f"finding-{number}"])
        assert finding.message.rstrip(".") in said
    sentences = Counter(words(p) for item in items.values() for p in item.findall("div/p"))
    assert sentences["Overhead wires: not checked, none were given."] == 3
    assert read.text("read-first").count("Spur S1, place 3") == 1


def test_counts_by_level_agree_with_the_plan(found: Plan) -> None:
    read = made(found)
    levels = Counter(f.level for f in found.findings)
    assert read.text("stops") == f"Stops ({levels['stop']})"
    assert read.text("cautions") == f"Cautions ({levels['caution']})"
    assert read.text("not-checked") == f"Not checked, and why ({levels['unknown']})"
    assert read.text("within-limits").endswith(f"({levels['ok']})")
    job = read.text("job")
    assert "found 2 stops, 17 cautions and 3 things they could not check" in job


def test_stops_come_first_then_what_can_hurt_people_and_the_gravest_of_a_kind(found: Plan) -> None:
    said = made(found).text("read-first")
    order = ["Stops (2)", "S2 from 40 ft to 95 ft: 22 % downhill loaded", "Cautions (17)",
             "People, machine and rope", "Grade uphill loaded (7)", "place 7", "place 6", "place 5",
             "4 more, less grave: Grade uphill loaded", "place 4", "place 1", "Water and soil",
             "Trail too flat to drain (1)", "Not checked, and why", "Checked, within"]  # fmt: skip
    at = [said.index(phrase) for phrase in order]
    assert at == sorted(at)


def test_a_finding_tells_place_number_limit_source_and_what_is_unverified(found: Plan) -> None:
    read = made(found)
    by_message = {words(li.findall("div/p")[0]): li for li in read.root.iter("li") if li.get("id")}
    stop = next(words(li) for text, li in by_message.items() if "22 % downhill" in text)
    assert "S2 from 40 ft to 95 ft; 22 %, limit 20 %" in stop
    assert "Source: practice. limit unverified" in stop
    frame = words(next(li for text, li in by_message.items() if "rollover" in text))
    assert "unverified" not in frame and "Whole plan" in frame
    flat = words(by_message["Flat."])
    assert "S1 from 5 ft to 195 ft 194 ft, limit 100 ft" in flat
    section = read.text("read-first")
    head = section[section.index("Grade uphill loaded (7)") :]
    assert head.startswith(
        "Grade uphill loaded (7) Source: a page. limit unverified "
        "S1 from 230 ft to 245 ft 12 %, limit 5 %"
    )
    assert "[unverified]" not in section


def test_positions_and_trees_are_found_by_trail_and_station(plan: Plan) -> None:
    pull, position = plan.pulls[0], plan.positions[0]
    at = speak_station(position.at_m, "us")
    nearest = min(plan.trails, key=lambda t: t.line.distance(plan.pulls[0].line.boundary.geoms[1]))
    tree = next(o for o in plan.trees if o.status == "beyond_reach")
    i = plan.area.trees.tree_id.index(pull.tree_id)
    spot = (float(plan.area.trees.x[i]), float(plan.area.trees.y[i]))
    told = (
        Finding("a", "caution", "A.", "winch_positions", position.position_id),
        Finding("b", "caution", "B.", "pulls", pull.tree_id),
        Finding("c", "caution", "C.", "trees", pull.tree_id, at=spot),
        Finding("d", "caution", "D.", "trees", tree.tree_id, at=(0.0, 0.0)),
        Finding("e", "caution", "E.", "landing", "L1", at=(0.0, 0.0)),
        Finding("f", "caution", "F.", "settings", "winch.cable"),
        Finding("g", "caution", "G.", at=spot),
        Finding("h", "caution", "H.", "trails", "S1"),
        Finding("i", "caution", "I.", "winch_positions", "gone"),
        Finding("j", "caution", "J.", "water", "brook"),
    )
    read = made(replace(plan, findings=told))
    said = [words(read.part(f"finding-{n}")).rsplit(" ", 1)[0] for n in range(1, len(told) + 1)]
    where = f"{position.position_id} on {position.trail_id} at {at}"
    assert said[0] == where
    mine = next(p for p in plan.positions if p.position_id == pull.position_id)
    assert said[1] == (
        f"Tree {pull.tree_id}, from {mine.position_id} on {mine.trail_id} at "
        f"{speak_station(mine.at_m, 'us')}"
    )
    assert said[2].startswith(f"Tree {pull.tree_id}, near {nearest.trail_id} at ")
    assert said[3] == f"Tree {tree.tree_id}"
    assert said[4:6] == ["Landing L1", "area.toml, winch.cable"]
    assert said[6].startswith(f"near {nearest.trail_id} at ")
    assert said[7:] == ["S1", "Winch position gone", "brook"]


def test_only_what_is_within_the_limits_stays_off_paper(found: Plan) -> None:
    read = made(found)
    folds = [(e.get("class"), words(e[0])) for e in read.part("read-first").iter("details")]
    assert (folds[-1]) == ("screen", "What was checked and is within the limits")
    assert {kind for kind, _ in folds[:-1]} == {"printed"}
    for finding in read.part("read-first").iter("details"):
        for li in finding.iter("li"):
            number = int((li.get("id") or "")[8:]) - 1
            assert found.findings[number].level in ("caution", "ok")
    assert "Left off paper: what was checked" in read.text("read-first")


def test_the_map_comes_second_and_a_long_run_of_cautions_is_folded(plan: Plan) -> None:
    some = cautions_of_many_kinds()
    read = made(replace(plan, findings=some))
    main = read.body.find("main")
    assert main is not None
    assert [e.get("id") for e in main][:4] == ["job", "contents", "map", "read-first"]
    (fold,) = [e for e in read.part("read-first").iter("details") if e.get("class") == "whole"]
    assert words(fold[0]) == "Show 36 more cautions, of kinds that come after these"
    inside = {e.get("id") for e in fold.iter("li")}
    every = {e.get("id") for e in read.part("read-first").iter("li") if e.get("id")}
    assert (len(every), len(inside)) == (48, 36)
    order = [e.get("id") for e in read.part("read-first").iter("li") if e.get("id")]
    assert set(order[:12]) == every - inside  # the gravest stand open
    few = made(replace(plan, findings=some[:12]))
    assert not [e for e in few.root.iter("details") if e.get("class") == "whole"]


def test_groups_are_filed_by_what_can_go_wrong() -> None:
    def group(code: str, layer: str = "") -> str:
        return weights.group_of(Finding(code, "caution", "", layer))

    assert group("pull_load_above") == group("tractor_rollover_frame") == "people"
    assert group("load_may_run", "trails") == group("cut_shorter", "trees") == "people"
    assert group("pull_anchoring") == group("trailer_not_possible", "settings") == "people"
    assert group("work_rate", "turns") == group("landing_decks", "landing") == "rest"
    assert group("pull_brushes") == group("stems_in_trail") == "trees"
    assert group("strip_entered") == group("no_local_rule") == "water"
    assert group("felling_near_line") == group("keep_out") == "line"
    assert group("felling_near_hazard") == "people" and group("search_cut_short") == "whole"
    assert group("brand_new", "winch_positions") == "people" and group("brand_new") == "rest"


def test_gravity_puts_the_clock_first_then_the_farthest_past_its_limit() -> None:
    def one(code: str, value: float | None, limit: float | None) -> Finding:
        return Finding(code, "caution", "", value=value, limit=limit)

    kinds = by_kind(
        [one("b", None, None), one("a", 11, 10), one("c", 5, 10), one("a", 18, 10),
         one("hazard_trees_standing", 2, None), one("search_cut_short", None, None)]
    )  # fmt: skip
    assert list(kinds) == ["search_cut_short", "hazard_trees_standing", "a", "c", "b"]
    assert [f.value for f in kinds["a"]] == [18, 11]


def test_kinds_in_words_are_kinds_there_are() -> None:
    source = "\n".join(p.read_text(encoding="utf-8") for p in PACKAGE.rglob("*.py")
                       if "outputs" not in p.parts)  # fmt: skip
    for key in KINDS:
        code = key.removeprefix("kind_")
        known = f'"{code}"' in source or any(
            f'"{head}_' in source and tail in source for head, tail in [code.split("_", 1)]
        )
        assert known, code
    assert weights.title_of("brand_new_thing") == "Brand new thing"


# --- the plan's own figures -----------------------------------------------------------------


def test_the_job_in_feet_and_acres(plan: Plan) -> None:
    job = made(plan).text("job")
    assert "28 of 63 marked trees are reached from 18 winch positions (" in job
    assert (
        "It takes 806 ft of main trail and " in job and " in 4 spurs, with 1 turning place." in job
    )
    acres = plan.soil.stand_m2 / (43560 * FOOT_M**2)
    assert f"disturb 2.4 % of the stand's {acres:.1f} acres (" in job
    assert "aim 10 %, limit 15 %), 3.4 % with the landing." in job
    assert "best found among the lines tried" in job


def test_the_job_in_metres() -> None:
    read = made(plan_fixture.plan("metric"))
    assert "It takes 246 m of main trail" in read.text("job")
    assert re.search(r"of the stand's \d+\.\d ha \([\d,]+ m²;", read.text("job"))
    own = re.sub(r"Source.*?\.|40 ft to 95 ft|\(33 ft\)|board feet", "", read.text())
    assert not re.search(
        r"\d (ft|acres?|lb|sq ft)\b", own[: own.index("What holds for every plan")]
    )


def test_trails_agree_with_the_layer_of_the_plan(plan: Plan) -> None:
    read = made(plan)
    table = read.table("Trails by name")
    for row in rows.of_layer(plan, "trails"):
        v = row.values
        told = table.row(str(v["trail_id"]))
        assert told["Length"] == speak_length(float(v["length_m"]), "us")
        assert told["Width"] == speak_length(float(v["width_m"]), "us")
        line = next(trail for trail in plan.trails if trail.trail_id == v["trail_id"])
        most = steepness.of(plan, line).downhill_pct  # at least what the layer has over 10 m
        assert most >= v["favourable_max_pct"] - 0.05
        assert told["Steepest downhill loaded"] == f"{most:.0f} %"
        assert told["Loads"] == str(v["loads"]) and told["Soil class"] == str(v["soil_class"])
        joins = "the landing"
        if v["joins_id"]:
            joins = f"M1 at {speak_station(float(v['joins_at_m']), 'us')}"
        assert told["Joins"] == joins
    whole = sum(trail.line.length for trail in plan.trails)
    assert table.rows[-1][3] == f"{whole / FOOT_M:,.0f} ft"
    assert [row[0] for row in table.rows[:-1]] == ["M1", "S1", "S2", "S3", "S4"]


def test_positions_and_their_trees_agree_with_the_plan(plan: Plan) -> None:
    table = made(plan).table("Winch positions and their trees")
    assert len(table.rows) == len(plan.positions)
    for position in plan.positions:
        told = table.row(position.position_id)
        assert told["Trees"] == ", ".join(position.tree_ids)
        assert told["Backs up"] == speak_length(position.back_m, "us")


def test_ground_by_kind_adds_up_and_corridors_stand_beside(plan: Plan) -> None:
    read = made(plan)
    table = read.table("Ground by what it is used for")
    share = {row[0]: float(row[2].removesuffix(" %")) for row in table.rows}
    assert share["Main trail"] + share["Spurs"] + share["Turning places"] == pytest.approx(
        share["Counts against aim and limit"], abs=0.11
    )
    assert share["Counts against aim and limit"] == pytest.approx(plan.soil.share_pct, abs=0.051)
    assert share["With the landing"] == pytest.approx(plan.soil.share_with_landing_pct, abs=0.051)
    assert table.rows[-1][0].startswith("Beside it")
    assert "Bank and fill of new benches" not in share
    assert "aim is 10 %, the limit you set 15 %" in read.text("ground")


def test_benches_are_told_where_any_are_dug(edges: dict[str, Plan], pages: dict[str, Page]) -> None:
    read = pages["dug"]
    bench = edges["dug"].benches["S1"]
    told = read.table("New bench by trail").row("S1")
    assert told["Length"] == speak_length(bench.length_m, "us")
    cut_m3, _ = bench.volume_m3(0.0, 1e9)
    yards = cut_m3 / (3 * FOOT_M) ** 3
    assert told["Cut"] == f"{float(f'{yards:.2g}'):,.0f} cu yd"
    assert "Benches to dig" not in pages["plain"].text()


def test_strips_name_their_rule_and_whether_it_was_read(pages: dict[str, Page]) -> None:
    open_, read_ = pages["plain"], pages["metric"]
    assert open_.table("Strips by the rule that asks for them").rows[0][:4] == (
        "brook", "perennial", "no-rule-chosen", "unverified, check local rule",
    )  # fmt: skip
    assert read_.table("Strips by the rule that asks for them").rows[0][3] == "read"
    banners = [words(p) for p in open_.root.iter("p") if p.get("class") == "banner"]
    assert banners.count("NO LOCAL RULE CHOSEN for water strips") == 2  # on top and at the water
    assert "NO LOCAL RULE CHOSEN" not in read_.text()
    for name in ("no water", "no trail"):
        assert "No water is mapped, so no strip is kept." in pages[name].text("water")
    assert "asks for no strip" in pages["water without strips"].text("water")


def test_water_bars_agree_with_the_plan(plan: Plan) -> None:
    table = made(plan).table("Water bars, on each trail from its landing end outward")
    for bar in plan.bars:
        told = table.row(bar.bar_id)
        assert told["At"] == speak_station(bar.at_m, "us")
        assert told["Grade there"] == "12 %" and told["Next within"] == "80 ft"
        assert told["Opens to"] == bar.outlet
    assert "5 drains: 5 by the spacing table." in made(plan).text("water")


def test_every_reason_for_a_water_bar_has_words() -> None:
    reasons = get_args(BarReason)
    assert len(reasons) >= 7
    assert {f"report_why_{why}" for why in reasons} <= set(ENGLISH)
    assert {f"device_bar_{why}" for why in reasons} <= set(ENGLISH)


def test_trees_not_reached_by_reason_with_shortfall_and_remedies(plan: Plan) -> None:
    read = made(plan)
    said = read.text("trees")
    assert "Not reached (35) The first remedy for each: leave it standing." in said
    assert "Takes more ground than the price set for a tree (19)" in said
    assert "Farther than the rope reaches (16)" in said
    first = [words(ol[0]) for ol in read.part("trees").iter("ol")]
    assert first == ["Leave it standing"] * 2
    misses = [t for t in read.tables() if t.caption == "Trees this keeps from being reached"]
    told = dict(row[:2] for table in misses for row in table.rows)
    feet = [int(row[1].removesuffix(" ft").replace(",", "")) for row in misses[0].rows]
    assert feet == sorted(feet)  # the nearest miss first
    for outcome in plan.trees:
        if outcome.shortfall is not None:
            assert told[outcome.tree_id] == speak_length(outcome.shortfall, "us")


def test_hazard_trees_are_listed_with_what_to_do_those_not_marked_first(plan: Plan) -> None:
    risky = hazardous(plan)
    trees = risky.area.trees
    kinds = {kind: trees.tree_id[row] for row, kind in enumerate(trees.hazard) if kind}
    assert set(kinds) == {"hung", "split", "dead", "rot"}  # the split one is cut and out
    read = made(risky)
    table = read.table("Hazard trees that stand, those not marked first")
    two = "131 ft"  # two lengths of 20 m: 40 m / 0.3048
    said = [row[:4] for row in table.rows]
    keep = (kinds["rot"], "rot", "not marked: keep off, or mark it and cut it first", two)
    cut = {
        (kinds["dead"], "dead", "marked, not reached: cut first all the same", two),
        (kinds["hung"], "hung", "marked: cut first", two),
    }
    assert said[0] == keep and set(said[1:]) == cut and len(said) == 3
    assert any(row[4].startswith("near ") for row in table.rows)
    text = read.text("trees")
    assert text.index("Hazard trees (3)") < text.index("Not reached")
    assert "1910.266" in text and "a height that was not measured errs tall" in text
    assert "Hazard trees" not in made(plan).text("trees")


def test_remedies_that_differ_stand_with_their_tree(plan: Plan) -> None:
    trees = (
        TreeOutcome("A", "beyond_reach", "cut", shortfall=3.0, shortfall_unit="m",
                    remedies=("leave it standing", "bring a trail 10 ft nearer", "a longer rope")),
        TreeOutcome("B", "beyond_reach", "cut", shortfall=None,
                    remedies=("leave it standing", "bring a trail 20 ft nearer", "a longer rope")),
        TreeOutcome("C", "not_worth_it", "cut", shortfall=55.0, shortfall_unit="m2",
                    remedies=("leave it standing", "raise serve_worth"), marginal_trail_m=61.0),
    )  # fmt: skip
    read = made(listed(plan, trees, pulls=()))
    far, dear = (t for t in read.tables() if t.caption == "Trees this keeps from being reached")
    assert far.heads == ("Tree", "Misses it by", "Or")
    assert far.row("A")["Or"] == "bring a trail 10 ft nearer"
    assert far.row("B") == {"Tree": "B", "Misses it by": "–", "Or": "bring a trail 20 ft nearer"}  # noqa: RUF001
    assert dear.row("C")["Trail it would take"] == "200 ft"
    lists = [[words(li) for li in ol] for ol in read.part("trees").iter("ol")]
    assert lists == [
        ["Leave it standing", "A longer rope"],
        ["Leave it standing", "Raise serve_worth"],
    ]


def test_costly_trees_say_what_leaving_them_saves(plan: Plan) -> None:
    own = {
        "T1": (30.48, 90.0, 1000 * POUND_KG),
        "T9": (60.96, 200.0, None),
        "T17": (3.0, 9.0, None),
    }
    trees = tuple(
        TreeOutcome(name, "served", "cut", mass_kg=kg, marginal_trail_m=m, marginal_m2=m2)
        for name, (m, m2, kg) in own.items()
    )
    read = made(listed(plan, trees))
    # 200 ft and 100 ft by hand; a stub of 10 ft is not worth a word
    assert "Leave these 2 trees standing: saves at least 300 ft of trail." in read.text("trees")
    table = read.table("Trail that is there for one tree alone, the longest first")
    assert [row[0] for row in table.rows] == ["T9", "T1"]
    assert table.row("T1")["Trail of its own"] == "100 ft"
    assert "The price of leaving a tree is" in read.text("trees")
    assert table.row("T1")["Stem weighs about"] == "1,000 lb"
    assert [row[-1] for row in table.rows] == ["200 ft", "300 ft"]
    assert "2 trees take 300 ft of trail for themselves alone" in read.text("read-first")


def test_the_ten_dearest_trees_are_listed(plan: Plan) -> None:
    trees = tuple(
        TreeOutcome(f"D{n}", "served", "cut", marginal_trail_m=20.0 + n, marginal_m2=60.0)
        for n in range(12)
    )
    read = made(listed(plan, trees))
    table = read.table("Trail that is there for one tree alone, the longest first")
    assert [row[0] for row in table.rows] == [f"D{n}" for n in range(11, 1, -1)]
    assert "Leave these 12 trees standing" in read.text("trees")
    assert "The 10 dearest are listed" in read.text("trees")


def test_what_would_change_holds_the_rough_rows_of_the_plan(plan: Plan) -> None:
    read = made(replace(plan, limits=limit_rows()))
    table = read.table("One thing changed at a time, against the plan")
    assert [row[0] for row in table.rows] == [
        "Rope 33 ft longer", "Spurs 100 ft longer", "The landing elsewhere",
    ]  # fmt: skip
    assert table.row("Rope 33 ft longer") == {
        "Change": "Rope 33 ft longer",
        "Marked trees": "+5",
        "Spurs": "–",  # noqa: RUF001
        "Trail": "+300 ft",
        "Ground": "+0.07 acre",
        "What it needs or costs": "dragging",
        "How it is known": "rough",
    }
    assert table.row("The landing elsewhere")["Marked trees"] == "\N{MINUS SIGN}3"
    assert table.row("Spurs 100 ft longer")["Marked trees"] == "0"
    said = read.text("limits")
    assert "never loosened" in said and "None of these changes" not in said
    assert "A trail could come to 69 % of the stand." in said
    idle = made(replace(plan, limits=(limit_rows()[0], limit_rows()[3])))
    assert "None of these changes reaches another marked tree." in idle.text("limits")


def test_what_was_chosen_again_stands_with_its_honesty(plan: Plan) -> None:
    read = made(replace(plan, options=option_rows(), limits=limit_rows()))
    table = read.table("One thing changed at a time, against the plan")
    assert table.row("Rope and reach 98 ft longer") == {
        "Change": "Rope and reach 98 ft longer",
        "Marked trees": "+2",
        "Spurs": "\N{MINUS SIGN}31",
        "Trail": "\N{MINUS SIGN}900 ft",  # 274.32 m
        "Ground": "\N{MINUS SIGN}0.20 acre",  # 809.4 m2
        "Hours": "–",  # noqa: RUF001
        "What it needs or costs": "a longer rope",
        "How it is known": "chosen again",
    }
    assert table.row("Landing B")["Hours"] == "\N{MINUS SIGN}1.5"
    assert table.row("Landing B")["How it is known"] == "planned completely"
    assert table.row("A snatch block")["How it is known"] == "rough"
    said = read.text("limits")
    worth = (
        "Worth a thought: rope and reach 98 ft longer. It brings 2 trees more, 31 spurs fewer, "
        "900 ft less trail. It needs a longer rope."
    )
    assert worth in said
    assert worth in closing(replace(plan, options=option_rows()))
    assert "landing B. It brings" not in said  # it gains nothing
    assert "Not worked out: benching: time." in said
    alone = made(replace(plan, options=option_rows()[2:]))
    assert (
        "None of the changes tried that stay where no caution begins reaches two marked trees"
        in alone.text("limits")
    )


def test_the_arithmetic_of_steep_ground_is_said(plan: Plan) -> None:
    # by hand: the root of 20 squared and 20 squared is 28.3
    assert "no ground over 28 % can be driven in any direction" in made(plan).text("limits")


def test_necks_stand_with_what_limits_you_and_nowhere_else(found: Plan) -> None:
    read = made(found)
    assert "A neck: 40 ft closed." in read.text("limits")
    assert "27 %, limit 20 %" in read.text("limits") and "Not a way to drive" in read.text("limits")
    assert "A neck: 40 ft" not in read.text("read-first")
    assert "1 neck closes ground to marked trees" in read.text("read-first")


def test_timber_says_of_how_many_trees_a_sum_is(plan: Plan) -> None:
    trees = (
        TreeOutcome("A", "served", "cut", mass_kg=2000 * POUND_KG, volume_m3=1.0),
        TreeOutcome("B", "served", "cut", mass_kg=3000 * POUND_KG),
        TreeOutcome("C", "served", "cut"),
        TreeOutcome("D", "no_trail", "cut", mass_kg=400 * POUND_KG, volume_m3=0.3),
        TreeOutcome("E", "leave", "in_trail", mass_kg=9999.0),
    )
    read = made(listed(plan, trees, pulls=()))
    table = read.table("What the marked trees weigh and hold, about")
    assert table.row("Reached") == {
        "Marked trees": "Reached",
        "How many": "3",
        "All stems": "5,000 lb (2 of 3 known)",
        "Heaviest stem": "3,000 lb (tree B)",
        "Stem wood": "35 cu ft (1 of 3 known)",
    }
    assert table.row("Not reached")["All stems"] == "400 lb"
    assert "No log rule is chosen" in read.text("timber")
    assert "Unmarked stems in the way (1)" in read.text("timber") and "Trees: E." in read.text(
        "timber"
    )


def test_what_is_proposed_and_what_was_given(
    edges: dict[str, Plan], pages: dict[str, Page]
) -> None:
    own = pages["own line, own landing"]
    assert "Landing: as you drew it." in own.text("proposed")
    assert "only marked trees are in it" in own.text("proposed")
    assert "Property line" not in own.text("proposed")
    plain = pages["plain"]
    assert "Landing: none was drawn. This plan proposes one" in plain.text("proposed")
    assert "The landing is proposed here" in plain.text("read-first")
    main = edges["plain"].trails[0]
    routed = replace(edges["plain"], trails=(replace(main, source="routed"),))
    assert "Main trail: none was drawn. This plan proposes one" in made(routed).text("proposed")


def test_changes_are_listed_where_there_was_an_earlier_plan(pages: dict[str, Page]) -> None:
    read = pages["dug"]
    table = read.table("Names kept, new and gone")
    assert table.rows == (
        ("Trails kept", "1", "S1"),
        ("Trails with the same name on a new line", "1", "S2"),
        ("Trails new", "1", "S3"),
        ("Winch positions gone, name not used again", "1", "W9"),
    )
    assert "Made 2026-11-26." in read.text()
    assert "Changes since" not in pages["plain"].text()


def test_settings_that_differ_and_defaults_nobody_verified(plan: Plan) -> None:
    mine = resettled(
        plan,
        winch={"cable": "180 ft", "working_reach": "130 ft", "snatch_block": True,
               "block_rating": "90 kN",
            "anchor_dbh": "20 in"},
        tractor={"mass": "7000 lb", "chains": True},
        objective={"serve_worth": "all"},
        timber={"log_lengths": ["16 ft", "8 ft"]},
        landing={"at": [500225.0, 4700041.0]},
    )  # fmt: skip
    read = made(mine)
    table = read.table("Settings that differ from their default")
    told = {row[0]: row[1:] for row in table.rows}
    assert told["[winch] cable"] == ("180 ft", "165 ft")
    assert told["[tractor] mass"] == ("7,000 lb", "7,050 lb (3.2 t)")  # as the preset has it
    assert told["[tractor] chains"] == ("yes", "no")
    assert told["[timber] log_lengths"] == ("16 ft, 8 ft", "16 ft, 14 ft, 12 ft, 10 ft, 8 ft")
    assert told["[objective] serve_worth"][0] == "no limit"
    assert "[landing] at" in told
    assert "[winch] working_reach" not in told  # written out, but as it comes
    assert "[ground] dem" not in told  # it must be given: there is no default
    open_ = read.text("settings").partition("Defaults in use that are unverified")[2]
    assert re.search(r"\[tractor\].* braking 0\.4\b", open_)
    assert "kerf" not in open_ and "mass 7" not in open_


def test_a_default_the_user_wrote_is_no_open_default(plan: Plan) -> None:
    def opened(**tables: dict[str, object]) -> str:
        text = made(resettled(plan, **tables)).text("settings")
        return text.partition("Defaults in use that are unverified")[2]

    before, after = opened(), opened(work={"speed_loaded": "3 km/h", "rope_out": "40 m/min"})
    for said in ("speed_loaded", "rope_out"):
        assert said in before and said not in after
    assert "speed_empty 2.8 mph (4.5 km/h)" in after
    count = [int(re.search(r"\((\d+)\)", text)[1]) for text in (before, after)]  # type: ignore[index]
    assert count[0] - count[1] == 2


@pytest.mark.parametrize(
    ("units", "key", "said"),
    [
        # 80 ft^3 = 2.2653 m^3; 4 t weigh 4 x 9.80665 = 39.2266 kN, 8818.5 lbf; 10 ft = 3.048 m
        ("us", "[timber] cord_solid", "80 cu ft"),
        ("metric", "[timber] cord_solid", "2.3 m³ (80 cu ft)"),
        ("us", "[winch] pull_rating", "8,820 lbf (4 t)"),
        ("metric", "[winch] pull_rating", "39 kN (4 t)"),
        ("us", "[ground] dem_error", "5.9 in (15 cm)"),
        ("metric", "[ground] dem_error", "15 cm"),
        ("metric", "[work] speed_loaded", "3 km/h"),
        ("metric", "[work] rope_out", "40 m/min"),
        ("us", "[work] rope_out", "131 ft/min (40 m/min)"),
        ("metric", "[trails] width_spur", "3 m (10 ft)"),
        ("us", "[objective] crossing", "2,150 sq ft (200 m²)"),
        ("metric", "[trails] turn_radius", "7.6 m (25 ft)"),
    ],
)
def test_settings_are_said_in_peoples_units_and_as_they_were_written(
    plan: Plan, units: Units, key: str, said: str
) -> None:
    used = {one.key: one for one in settings_used.keys(resettled(plan).area.settings, units)}
    assert used[key].value == used[key].default == said


def test_no_setting_is_said_with_more_figures_than_people_write(plan: Plan) -> None:
    settings = resettled(plan).area.settings
    for units in get_args(Units):
        for used in settings_used.keys(settings, units):
            for number in re.findall(r"[0-9.,]*[0-9]", used.default):
                digits = number.replace(",", "").replace(".", "").strip("0")
                assert len(digits) <= 3, (used.key, used.default)


@pytest.mark.parametrize(
    ("gap", "said"),
    [(2.3e-14, "to within 0.001 %"), (0.0, "to within 0.001 %"), (0.07, "to within 0.07 %"),
     (3.2, "at most 3.2 %"), (123.4, "at most 123 %")],
)  # fmt: skip
def test_a_gap_is_said_in_plain_figures(plan: Plan, gap: float, said: str) -> None:
    text = made(replace(plan, choice=replace(plan.choice, gap_pct=gap))).text("appendix")
    assert said in text and not re.search(r"\d[eE][-+]?\d", text)


def test_the_proof_is_in_the_appendix_and_its_words_nowhere_else(
    edges: dict[str, Plan], pages: dict[str, Page]
) -> None:
    for name, plan in edges.items():
        read = made(replace(plan, limits=limit_rows()))
        body = read.body
        whole = words(body)
        tail = words(read.part("settings")) + words(read.part("appendix"))
        rest = whole
        for part in ("settings", "appendix"):
            rest = rest.replace(words(read.part(part)), "")
        assert len(rest) + len(tail) <= len(whole) + 5
        named = SOLVER_WORDS.search(re.sub(r"\[objective\]", "", rest))
        assert not named, (name, named)
    table = pages["plain"].table("The round of the search the layout was chosen from")
    told = dict(table.rows)
    assert told["Objective"] == "4,321.0 m²" and told["Gap between the two"] == "0.070 %"
    assert told["Model"] == "1,500 rows × 1,200 columns, 5,400 nonzeros"  # noqa: RUF001
    assert told["Stopped by"] == "the gap asked for was reached" and told["Seed"] == "0"
    assert told["Candidate segments of trail"] == "420" and told["Time taken"] == "3.2 s"
    said = pages["plain"].text("appendix")
    assert "optimal among the candidates of the round it was chosen from, to within 0.07 %" in said
    dropped = pages["out of rounds"].text("appendix")
    assert "lines that may not stand together" in dropped
    late = pages["out of time"].text("appendix")
    assert "not proved optimal among the candidates" in late and "at most 3.2 %" in late
    assert "cut short by its time limit" in pages["out of time"].text("job")


def test_sources_are_listed_once_and_marked_where_nobody_read_them(found: Plan) -> None:
    items = [words(li) for li in made(found).part("sources").iter("li")]
    assert len(items) == len(set(items)) and items == sorted(items, key=str.lower)
    assert "a page unverified" in items and "practice unverified" in items
    assert not any("common practice" in item for item in items)


def test_what_holds_for_every_plan_is_said(pages: dict[str, Page]) -> None:
    for read in pages.values():
        said = read.text("closing")
        for phrase in (
            "Not walked and flagged = not ready.",
            "A plan, not permission: local law, your own eyes and licensed advice decide.",
            "“Within the limit you set” means just that",
            "the faller decides at the stump",
        ):
            assert phrase in said
        assert not re.search(r"\bsafe(ly|r|st)?\b", read.text().lower())


def test_grades_are_said_without_a_sign(pages: dict[str, Page]) -> None:
    for read in pages.values():
        assert not re.search(r"[-\N{MINUS SIGN}]\d+ %", read.text())


def steep(plan: Plan) -> Plan:
    """Give a plan whose first spur is over its limit all along."""
    stations = replace(plan.stations["S1"], grade_pct=np.full(len(plan.stations["S1"]), -30.0))
    return replace(plan, stations={**plan.stations, "S1": stations})


def by_hazards(plan: Plan) -> list[Plan]:
    """Give the plan with work planned near one hazard tree, and near two, and no lay there."""
    near = Finding("hazard_work_inside", "caution", "near", "trees")
    lays = tuple(replace(lay, why_none="bad_tree_near", azimuth_deg=None) for lay in plan.lays[:2])
    return [
        replace(plan, findings=(near,) * count, lays=(*lays, *plan.lays[2:])) for count in (1, 2)
    ]


@pytest.mark.slow
def test_every_word_of_the_report_is_said_somewhere(
    edges: dict[str, Plan], found: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: set[str] = set()

    class Noting(dict[str, str]):
        def __getitem__(self, key: str) -> str:
            asked.add(key)
            return super().__getitem__(key)

    monkeypatch.setattr("layout.outputs.words.ENGLISH", Noting(ENGLISH))
    for one in (*edges.values(), replace(found, limits=limit_rows()),
                replace(found, findings=cautions_of_many_kinds()), *wordy_plans(found),
                *stand_plans(plan_fixture.plan()).values(), *made_work.wordy(found),
                *soil_plans(found), steep(found), *by_hazards(found),
                with_an_idle_position(made_order.ordered(plan_fixture.plan()))[0],
                made_work.worked(resettled(found, winch=BLOCK, work=OWN))):  # fmt: skip
        page.page(one)
    assert set(REPORT) - set(KINDS) - asked == set()


def test_no_word_of_the_report_is_written_twice() -> None:
    room = PACKAGE / "outputs" / "words"
    text = "".join(
        (room / name).read_text(encoding="utf-8")
        for name in (
            "report_words.py",
            "report_part_words.py",
            "report_chart_words.py",
            "report_soil_words.py",
            "report_stand_words.py",
            "report_work_words.py",
            "stump_words.py",
        )
    )
    keys = re.findall(r'^    "([a-z0-9_]+)": ', text, re.M)
    assert len(keys) == len(set(keys)) == len(REPORT) - len(KINDS)


def test_long_tables_are_folded_and_those_the_crew_has_elsewhere_stay_off_paper(plan: Plan) -> None:
    read = made(long_plan(plan))
    folds = {words(e[0]): e.get("class") for e in read.root.iter("details")}
    assert folds["All 40 winch positions"] == folds["All 40 drains"] == "screen"
    assert folds["The 40 trees"] == folds["The 40 doubtful pulls"] == "printed"
    assert "Left off paper: all 40 winch positions." in read.text("layout")


def test_what_is_left_off_paper_lies_in_the_file_that_is_named(plan: Plan) -> None:
    """Of each lay plan.json holds why there is none; no layer of plan.gpkg does."""
    read = made(plan)
    said = read.text("trees")
    fold = re.search(
        r"Left off paper: the planner's table of lays .*? look in (\S+)\.(?: |$)", said
    )
    assert fold and fold[1] == "plan.json"
    told = plan_json.as_data(plan, {"format": "1"}, ("plan.json",))["lays"]
    assert any(lay["barred_by"] for lay in told)
    assert not any("barred_by" in dict(layer.columns) for layer in schema.LAYERS)
    for name, layer in (("layout", "winch_positions"), ("read-first", "findings")):
        text = made(long_plan(plan)).text(name)
        assert re.search(r"Left off paper: .*? look in plan\.gpkg\.", text)
        assert layer in schema.BY_NAME


def test_what_may_get_out_of_hand_is_read_before_what_is_farther_past_its_limit() -> None:
    far = Finding("grade_adverse", "caution", "Steep.", "trails", "S1", value=30.0, limit=5.0)
    near = Finding("load_may_run", "caution", "Runs.", "trails", "S2", value=20.5, limit=20.0)
    first = Finding("hazard_trees_first", "caution", "Down first.", "trees", "T1")
    assert list(by_kind([far, near, first])) == [
        "hazard_trees_first", "load_may_run", "grade_adverse",
    ]  # fmt: skip
