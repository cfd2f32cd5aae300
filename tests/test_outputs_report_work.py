"""report.html on the work: ranges, loads, machine, landing, trailer, as the plan has them."""

import math
import re
from dataclasses import replace

import made_work
import plan_fixture
import pytest
from report_page import Page, words
from report_plans import resettled

from layout.outputs import closing, overview, payloads
from layout.outputs.report import page, settings_used
from layout.outputs.work_blocks import blocks, numbered
from layout.outputs.work_lines import step_line
from layout.plan import Plan
from layout.work_records import Work

FOOT_M = 0.3048  # exact by definition
POUND_KG = 0.45359237  # exact by definition
POUND_FORCE_KN = POUND_KG * 9.80665 / 1000  # exact by definition
CUBIC_FOOT_M3 = FOOT_M**3
GALLON_L = 3.785411784  # exact by definition


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the picture out."""
    monkeypatch.setattr(overview, "image", lambda plan, dpi: b"picture")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_work.worked(plan_fixture.plan())


@pytest.fixture(scope="module")
def work(plan: Plan) -> Work:
    assert plan.work is not None
    return plan.work


@pytest.fixture(scope="module")
def read(plan: Plan) -> Page:
    return made(plan)


def made(plan: Plan) -> Page:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(overview, "image", lambda plan, dpi: b"picture")
        return Page(page.page(plan))


def but(plan: Plan, **other: object) -> Plan:
    """Give the plan with some of its work changed."""
    assert plan.work is not None
    return replace(plan, work=replace(plan.work, **other))  # type: ignore[arg-type]


def number(said: str) -> float:
    """Read the first number of what is said."""
    found = re.search(r"[\d,]+(?:\.\d+)?", said)
    assert found, said
    return float(found[0].replace(",", ""))


# --- loads ----------------------------------------------------------------------------------


def test_loads_are_summed_as_the_plan_has_them(read: Page, work: Work) -> None:
    coming = [t for t in work.turns if t.state == "planned"]
    said = read.text("loads")
    wood = sum(t.wood_m3 for t in coming) / CUBIC_FOOT_M3
    tons = sum(t.mass_kg for t in coming) / (2000 * POUND_KG)
    assert (
        f"{len(coming)} loads are to come: {len(work.pieces)} pieces, "
        f"{float(f'{wood:.2g}'):,.0f} cu ft of wood, {float(f'{tons:.2g}'):,.0f} short tons."
    ) in said
    mean = sum(t.mass_kg for t in coming) / len(coming) / POUND_KG
    most = max(coming, key=lambda t: t.mass_kg)
    assert f"A load weighs {50 * round(mean / 50):,} lb on average" in said
    assert (
        f"heaviest is {most.turn_id} with {50 * round(most.mass_kg / POUND_KG / 50):,} lb" in said
    )
    assert "1 load is in already." in said
    assert f"(id turn:{coming[0].turn_id}, state done)" in said


def test_each_trail_has_its_heaviest_load_and_the_step_that_sets_it(
    read: Page, plan: Plan, work: Work
) -> None:
    table = read.table("Loads by trail; the heaviest there may be, from its far end to the landing")
    coming = [t for t in work.turns if t.state == "planned"]
    least = payloads.to_landing(plan)
    assert [row[0] for row in table.rows[:-1]] == ["M1", "S1", "S2", "S3", "S4"]
    for trail in plan.trails:
        told = table.row(trail.trail_id)
        mine = [t for t in coming if t.trail_id == trail.trail_id]
        assert told["Loads"] == str(len(mine))
        step = least[trail.trail_id]
        limit = number(told["Heaviest load there may be"])
        assert limit % 50 == 0
        assert 0 <= step.kg / POUND_KG - limit < 50  # rounded down
        where = f"{step.trail_id} from " if step.trail_id else "level ground"
        assert told["At this step"].startswith(where)
        ends = [number(end) for end in told["Dragged to the landing"].split(" to ")]
        assert ends[0] == pytest.approx(min(t.travel_m for t in mine) / FOOT_M, abs=0.51)
        assert ends[-1] == pytest.approx(max(t.travel_m for t in mine) / FOOT_M, abs=0.51)
    assert table.rows[-1][1] == str(len(coming))
    assert sum(int(row[1]) for row in table.rows[:-1]) == len(coming)


def test_what_is_done_or_gone_is_in_no_sum(plan: Plan, work: Work) -> None:
    done = tuple(replace(t, state="done") for t in work.turns)
    said = made(but(plan, turns=done)).text("loads")
    assert "No load is to come." in said and f"{len(work.turns)} loads are in already." in said
    assert "progress.csv" not in said


def test_wood_that_is_not_known_makes_a_sum_a_least_one(plan: Plan, work: Work) -> None:
    first = replace(work.turns[0], wood_m3=float("nan"), limit_kg=float("nan"), limited_by="")
    said = made(but(plan, turns=(first, *work.turns[1:]))).text("loads")
    assert "pieces, at least " in said and "nan" not in said


def test_stems_to_cut_shorter_say_into_what_or_that_nothing_helps(read: Page, work: Work) -> None:
    table = read.table("Stems to cut shorter than usual before they are dragged")
    one, none = (table.row(cut.tree_id) for cut in work.shorter)
    assert one["Cut into"] == "10 ft, 10 ft, 8 ft"
    assert one["Set by"] == "light front axle"
    assert none["Cut into"] == "nothing is light enough: leave it standing"


# --- hours ----------------------------------------------------------------------------------


def test_every_hour_is_a_range_and_says_what_it_rests_on(read: Page, work: Work) -> None:
    said, total = read.text("work"), work.times.total
    assert f"{math.floor(total.low_h)} to {math.ceil(total.high_h - 1e-6)} h" in said
    assert "4 to 9 days of 6 hours" in said  # 26.0 / 6 = 4.3, 54.0 / 6 = 9.0
    assert "for most of them nobody read a source: unverified" in said
    table = read.table("Hours by kind of work")
    assert len(table.rows) == len(work.times.kinds) + 1
    for row in table.rows:
        assert re.fullmatch(r"[\d.]+ to [\d.]+ h", row[1]), row
    lows, highs = zip(*((number(r[1]), number(r[1].split(" to ")[1])) for r in table.rows[:-1]),
                      strict=True)  # fmt: skip
    assert sum(lows) <= total.low_h and sum(highs) >= total.high_h  # rounded outward


def test_hours_are_held_against_studies_and_a_published_line(read: Page, plan: Plan) -> None:
    said = read.text("work")
    # 1.2 and 15.8 m3 are 42 and 558 cubic feet; 1.1 m3 is 39
    assert "come to 39 cu ft of wood an hour at work, outside the 42 cu ft to 560 cu ft" in said
    # 24.4 min/m3 is 24.4 x 2.8317 = 69 minutes for 100 cubic feet; 31.0 is 88
    assert "says 69 minutes per 100 cu ft, pauses in; these hours say 88 minutes" in said
    assert "Silva Balcanica" in said and "Zecic" in read.text("sources")
    assert plan.work is not None
    good = replace(
        plan.work.times, m3_per_hour=2.4, in_band=True, published_min_per_m3=None,
        logged_loads=14, logged_factor=1.18,
    )  # fmt: skip
    other = made(but(plan, times=good))
    assert "Studies of farm tractors found 42 cu ft to 560 cu ft." in other.text("work")
    assert "No published line is held beside it" in other.text("work")
    assert "rest on 14 loads of your own log, which took 1.18 times" in other.text("work")
    assert "Zecic" not in other.text("sources")


def test_fuel_is_a_range_and_a_default_is_labelled(read: Page, plan: Plan, work: Work) -> None:
    # 40 L are 10.57 gal, rounded down; 165 L are 43.6, rounded up
    assert (work.fuel_low_l / GALLON_L, work.fuel_high_l / GALLON_L) == pytest.approx(
        (10.567, 43.588), abs=0.001
    )
    assert "Fuel of the tractor: 10 to 44 gal, at a default rate an hour (unverified)." in (
        read.text("work")
    )
    own = resettled(plan, work={"fuel": ["4 L/h", "5 L/h"]})
    assert "gal, at the rate you gave." in made(own).text("work")


def test_money_stands_only_where_rates_or_prices_were_given(plan: Plan, read: Page) -> None:
    table = read.table("In your own money")
    assert table.rows == (
        ("Labour and machine", "900 to 1,870"),
        ("Fuel", "45 to 190"),
        ("Trucking", "300"),
        ("Wood: sugar maple", "1,280"),
        ("Wood in all", "1,280"),
    )
    assert "No price was given for small wood." in read.text("work")
    ends = f"{120 / FOOT_M:,.0f} ft to {700 / FOOT_M:,.0f} ft"
    assert f"An average load just pays at {ends} of drag" in read.text("work")
    none = made(but(plan, money=None)).text()
    assert "Cost and value" not in none and "Wood in all" not in none


# --- order of work --------------------------------------------------------------------------


def test_the_order_of_work_is_a_list_of_all_its_steps(read: Page, work: Work, plan: Plan) -> None:
    lines = [words(li) for li in read.part("order").iter("li")][: len(work.steps)]
    harvest = {
        n: f" (harvest {one.number})"
        for one in numbered(blocks(work)) if one.block.part == "harvest"
        for line in one.block.lines for n in line.numbers
    }  # fmt: skip
    assert len(harvest) > 20
    said = [
        step_line(plan, step).replace("\N{NO-BREAK SPACE}", " ") + harvest.get(step.number, "")
        for step in work.steps
    ]
    said[2] = f"Done: {said[2]}"
    assert said[0].startswith("Done: ") and not said[0].startswith("Done: Done")
    assert [" ".join(line.split()) for line in lines] == said
    text = read.text("order")
    assert "All 35 steps" in text and "Left off paper: all 35 steps." in text
    assert "Working alone: check in every 30 minutes with somebody who can come" in text
    two = plan.area.settings.work.model_copy(update={"crew": 2})
    settings = plan.area.settings.model_copy(update={"work": two})
    pair = made(replace(plan, area=replace(plan.area, settings=settings)))
    assert "Working alone" not in pair.text("order")
    assert "Order of work" not in made(but(plan, steps=())).text()


# --- machine --------------------------------------------------------------------------------


def test_tight_steps_are_listed_with_their_place_and_nothing_is_promised(
    read: Page, plan: Plan
) -> None:
    said = read.text("machine")
    assert "a caution, not a promise" in said and "the limit you set is 20 %" in said
    table = read.table("Where it is tight, by trail")
    for trail in plan.trails:
        mine = [s for s in plan.steps if s.trail_id == trail.trail_id]
        tip = min(s.tip_margin_deg for s in mine if s.tip_margin_deg is not None)
        front = min(
            s.front_share_pct
            for s in mine
            if s.front_share_pct is not None
            and (s.payload_by != "front_axle" or s.front_share_pct < 20)
        )
        rows = [row for row in table.rows if row[0] == trail.trail_id]
        assert bool(rows) == (tip < 3 or front < 22)
        for row in rows:
            if tip < 3:
                assert row[1] == f"{tip:.0f}°"
            if front < 22:
                assert row[3].startswith(f"{front:.0f} %")
                assert ("under 20 %" in row[3]) == (front < 20)


def test_a_margin_used_up_and_a_lifting_nose_are_said_in_words(plan: Plan) -> None:
    def all_of(tip: float, front: float) -> Plan:
        first = replace(plan.steps[0], tip_margin_deg=tip, front_share_pct=front)
        rest = [replace(s, tip_margin_deg=9.0, front_share_pct=31.0) for s in plan.steps[1:]]
        return replace(plan, steps=(first, *rest))

    row = made(all_of(-0.2, -3.0)).table("Where it is tight, by trail").row("M1")
    assert row["Tilt left"] == "over by 1°" and row["On the front axle"] == ("none: the nose lifts")
    assert "Trails that come nowhere that near: 4." in made(all_of(-0.2, 31.0)).text("machine")
    assert "No step of these trails comes that near." in made(all_of(9.0, 31.0)).text("machine")
    blank = tuple(replace(s, tip_margin_deg=None, front_share_pct=None) for s in plan.steps)
    assert "was not worked out" in made(replace(plan, steps=blank)).text("machine")


def test_a_load_set_by_the_front_axle_is_not_called_tight(plan: Plan) -> None:
    meant = [replace(s, tip_margin_deg=9.0, front_share_pct=20.0, payload_by="front_axle")
             for s in plan.steps]  # fmt: skip
    said = made(replace(plan, steps=tuple(meant))).text("machine")
    assert "No step of these trails comes that near." in said
    assert "On 5 of 5 trails the front axle sets the heaviest load: with that load 20 %" in said
    light = replace(meant[0], front_share_pct=17.4)
    table = made(replace(plan, steps=(light, *meant[1:]))).table("Where it is tight, by trail")
    assert [row[0] for row in table.rows] == ["M1"] and table.rows[0][3] == "17 %, under 20 %"


def test_pulls_say_what_holds_them_and_which_come_near(plan: Plan) -> None:
    hard = tuple(replace(p, pull_kn=27.0) if n == 2 else p for n, p in enumerate(plan.pulls))
    read = made(replace(plan, pulls=hard))
    said = read.text("machine")
    force = 100 * round(27.0 / POUND_FORCE_KN / 100)
    assert f"The heaviest pull is about {force:,} lbf (tree {plan.pulls[2].tree_id})" in said
    assert "ask for more than that" not in said
    over = tuple(replace(p, pull_kn=31.0) if n == 2 else p for n, p in enumerate(plan.pulls))
    said_over = made(replace(plan, pulls=over)).text("machine")
    held = sum(p.limit_kn is not None for p in plan.pulls)
    assert f"1 of {held} pulls ask for more than that." in said_over
    table = read.table("Pulls over what gives first, or near it, the hardest first: 1 of 1")
    assert table.rows[0][0] == plan.pulls[2].tree_id
    assert table.rows[0][4] == "the tyres' hold, plate not counted"
    unknown = tuple(replace(p, limit_kn=None) for p in plan.pulls)
    assert "The heaviest pull" not in made(replace(plan, pulls=unknown)).text("machine")


def test_a_snatch_block_is_held_to_twice_the_pull(plan: Plan, read: Page) -> None:
    assert "Snatch block" not in read.text("machine")
    block = resettled(plan, winch={"snatch_block": True, "pull_rating": "40 kN",
                                   "block_rating": "90 kN", "anchor_dbh": "20 in"})  # fmt: skip
    table = made(block).table("By the angle between the two legs of the rope")
    # statics: 2 F cos(phi / 2): 2 F, 1.41 F and F at 0, 90 and 120 degrees
    # about 50 cm at 80 kN: 19.7 in, rounded up
    assert table.row("0°")["Tree, DBH at least"] == "20 in"
    for angle, times in (("0°", 2.0), ("90°", 2**0.5), ("120°", 1.0)):
        said = number(table.row(angle)["On block and tree"])
        exact = 40.0 * times / POUND_FORCE_KN
        assert exact - 1e-6 <= said < 1.01 * exact  # three figures, rounded up


# --- landing, trucks, trailer ---------------------------------------------------------------


def test_decks_add_up_and_a_landing_too_small_is_said(read: Page, plan: Plan, work: Work) -> None:
    table = read.table("What lies on the landing, by sort")
    assert table.rows[-1][2] == str(len(work.pieces))
    assert sum(int(row[2]) for row in table.rows[:-1]) == len(work.pieces)
    said = read.text("decks")
    assert "0.06 acre less than that: truck away as you go" in said  # 1250 - 988 = 262 m2
    assert "2 truck loads of 18 short tons at most: 1.0 by weight, 1.2 by volume." in said
    assert "a default for a tri-axle truck (unverified)" in said
    assert "The landing is smaller than" in read.text("read-first")
    roomy = made(but(plan, trucking=replace(work.trucking, has_m2=2000.0)))
    assert "more than that" in roomy.text("decks")
    assert "The landing is smaller than" not in roomy.text("read-first")


def test_board_feet_of_decks_stand_beside_their_rule(plan: Plan, work: Work) -> None:
    ruled = made(replace(resettled(plan, timber={"rule": "international-quarter"}), work=work))
    table = ruled.table("What lies on the landing, by sort")
    assert table.row("sugar maple")["Net, bf International 1/4-inch"] == "2,140"
    assert not any("bf" in head for head in made(plan).table(table.caption).heads)


def test_the_trailer_is_held_against_dragging_all_the_way(plan: Plan, read: Page) -> None:
    table = read.table("Dragging all the way, and with a trailer")
    ending = table.row("Loads that would end at it, dragged along the lane")
    assert ending["Dragged all the way"] == "14"
    assert table.row("Loaded passes along the lane")["With the trailer"] == "10 fewer"
    assert table.row("Share of the wood never dragged along the lane")["With the trailer"] == "45 %"
    assert "A comparison only" in read.text("trailer")
    assert "The trailer may carry 7,050 lb on this lane, set by: brakes, downhill." in read.text(
        "trailer"
    )
    two = made_work.two_stage(plan)
    chosen = made(
        but(plan, two_stage=replace(two, chosen=True, passes_saved=-3, limited_by="rating"))
    )
    assert "set by: the trailer's own load." in chosen.text("trailer")
    assert "made with it, as you set it" in chosen.text("trailer")
    assert "3 more" in chosen.text("trailer")
    said = chosen.text("trailer")
    assert "defaults (unverified): payload, mass, rolling," in said
    own = {"payload": "3 t", "mass": "1 t", "rolling": 0.1, "uphill": "9 %", "downhill": "9 %",
           "turn_radius": "25 ft", "load": "1 min", "unload": "1 min",
           "speed": "5 km/h"}  # fmt: skip
    set_all = made(resettled(plan, trailer=own)).text("trailer")
    assert "unverified" not in set_all
    none = made(but(plan, two_stage=replace(two, why_none="the lane is too steep.")))
    assert "No trailer here: the lane is too steep." in none.text("trailer")
    assert "A trailer from" not in made(but(plan, two_stage=None)).text()


# --- the whole page -------------------------------------------------------------------------


def test_without_work_no_part_speaks_of_it() -> None:
    read = made(plan_fixture.plan())
    ids = {e.get("id") for e in read.root.iter()}
    assert not ids & {"loads", "work", "machine", "decks", "trailer", "order"}
    assert not re.search(r"^Work: ", closing(plan_fixture.plan()), re.M)


def test_metric_pages_say_no_foot_or_pound(plan: Plan) -> None:
    read = made(made_work.worked(plan_fixture.plan("metric")))
    for name in ("loads", "work", "machine", "decks", "trailer"):
        said = re.sub(r"Sources?: .*?\.(?= [A-Z]|$)", "", read.text(name))
        assert not re.search(r"\d (ft|lb|lbf|gal|in|acres?|cu ft|short tons)\b", said), name


def test_the_terminal_says_loads_hours_and_days_in_one_line(plan: Plan, work: Work) -> None:
    (line,) = [one for one in closing(plan).splitlines() if one.startswith("Work: ")]
    assert line == "Work: 28 loads, 26 to 54 h, 4 to 9 days of 6 hours (default times, unverified)."
    logged = replace(work.times, logged_loads=1, logged_factor=0.9)
    assert "(times of 1 load of your own)" in closing(but(plan, times=logged))
    idle = replace(work.times, total=made_work.hours("total", 0.0))
    assert "Work: " not in closing(but(plan, times=idle))


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("[prices] species", "sugar maple 600, red oak 700.5"),
        ("[prices] fuel", "1.2 a litre"),
        ("[prices] truck_load", "300"),
        ("[work.cost_per_hour] labour", "25 an hour"),
        ("[winch] pull_full_drum", "25 kN (2.6 t)"),
        ("[trailer] at", "500225, 4700041"),
        ("[trailer] use", "yes"),
        ("[trailer] payload", "5,000 kg"),
        ("[work] check_in", "30 min"),
        ("[work] watcher", "not given"),
    ],
)
def test_settings_of_the_work_are_said_as_people_say_them(plan: Plan, key: str, said: str) -> None:
    mine = resettled(
        plan,
        prices={"species": {"sugar maple": 600, "red oak": 700.5}, "fuel": 1.2, "truck_load": 300},
        work={"cost_per_hour": {"labour": 25}},
        trailer={"at": [500225, 4700041], "use": True},
        winch={"pull_full_drum": "2.6 t"},
    )
    used = {one.key: one for one in settings_used.keys(mine.area.settings, "metric")}
    assert used[key].value == said


def test_pulls_of_unknown_force_are_in_no_figure(plan: Plan) -> None:
    some = tuple(replace(p, pull_kn=float("nan") if n else 9.0) for n, p in enumerate(plan.pulls))
    for pulls in (some, tuple(replace(p, pull_kn=float("nan")) for p in plan.pulls)):
        assert "nan" not in made(replace(plan, pulls=pulls)).text("machine").lower().split()
