"""Every row of the trade tables that was read in its source, held against the rule files.

The figures are typed here from the publications named beside them, in the feet or
metres they print; where a table prints both, both are checked. A row that no file
carries stands in `NOT_CARRIED` with the reason. What came from memory is at the end,
where only its label is held: it must never pass for read.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from shapely.geometry import Point

from layout.rule_files import load_rule, rule_names
from layout.rule_format import parse_rule
from layout.site import WaterFeature
from layout.strip_widths import Asked, asked_of, rule_findings, widths
from layout.water_rules import Keep, Rule, map_width_ft, rows_at, width_ft

FOOT_M = 0.3048  # exact by definition

MAINE_TABLE = "Code of Maine Rules 01-672 chapter 10, Table 10.27 A-1"
MASSACHUSETTS = "Catanzaro, Fish & Kittredge 2013, Massachusetts Forestry BMP Manual"
BUXTON = "Town of Buxton zoning, 11.8 Timber Harvesting, B"
NEW_HAMPSHIRE = "New Hampshire RSA 227-J:9"
KENTUCKY = "University of Kentucky FOR-69, BMP 3, Table 3-1"
FILTER_GUIDE = "Filter Strip Width Guide"
INDIANA = "Ernst 2004, Indiana DNR Forestry BMP brochure"
MONTANA = "MCA 77-5-3; ARM 36.11.302 and 36.11.304"
SHOSHONE = "Shoshone County, Idaho, grading code"
NOVA_SCOTIA = "Wildlife Habitat and Watercourses Protection Regulations, news releases 2001-2002"
FOREST_RESEARCH = "Forest Research (UK), Managing riparian buffer areas"
CHAPTER_21 = "Code of Maine Rules 01-669 chapter 21, section 7"
SHEET_25 = "Maine Forest Service Information Sheet 25 (2014)"
ZONE_TABLES = "Riparian zone tables beside the Filter Strip Width Guide"
CATAWBA = "North Carolina Forestry BMP Manual, appendix 3"
GULF = "a southern state's BMP training site, harvesting"
STATE_LAND = "ARM 36.11.425(3)-(4), marked obsolete"

# source, file, class of water, slope to the water or of the bank (%), printed feet, printed
# metres or NaN. Slopes at a step and a hair to each side of it are among them.
PRINTED: list[tuple[str, str, str, float, float, float]] = [
    *(
        (MAINE_TABLE, "slope-50-4", "perennial", slope, feet, metres)
        for slope, feet, metres in (
            (0, 50, 15.2), (10, 90, 27.4), (20, 130, 39.6), (30, 170, 51.8),
            (40, 210, 64.0), (50, 250, 76.2), (60, 290, 88.4), (70, 330, 100.6),
        )
    ),
    (MAINE_TABLE + ", back face", "slope-50-4", "perennial", -15, 50, 15.2),
    # The fragment read runs "20 -> 130 ... 100 -> 450": the same line, carried on.
    (MASSACHUSETTS, "slope-50-4", "perennial", 20, 130, math.nan),
    (MASSACHUSETTS, "slope-50-4", "perennial", 100, 450, math.nan),
    (MASSACHUSETTS, "massachusetts", "perennial", 20, 130, math.nan),
    (MASSACHUSETTS, "massachusetts", "perennial", 100, 450, math.nan),
    (CHAPTER_21, "maine-chapter-21", "large_river", 0, 250, 76.2),
    (CHAPTER_21, "maine-chapter-21", "pond", 30, 250, 76.2),
    (CHAPTER_21, "maine-chapter-21", "wetland", 30, 250, 76.2),
    (SHEET_25, "maine-chapter-21", "stream", 30, 75, 22.9),
    # Stands of several ages; those of one age are held below.
    (ZONE_TABLES, "minnesota-riparian-zone", "trout_water", 0, 200, 61.0),
    (ZONE_TABLES, "minnesota-riparian-zone", "stream_over_10ft", 30, 200, 61.0),
    (ZONE_TABLES, "minnesota-riparian-zone", "stream_3_to_10ft", 30, 100, 30.5),
    (ZONE_TABLES, "minnesota-riparian-zone", "stream_under_3ft", 30, 50, 15.2),
    (CATAWBA, "north-carolina-catawba", "catawba_main_stem", 20, 50, 15.2),
    (GULF, "gulf-50", "perennial", 20, 50, 15.2),
    (GULF, "gulf-50", "intermittent", 0, 50, 15.2),
    (STATE_LAND, "montana-state-land", "perennial", 25, 100, 30.5),
    (STATE_LAND, "montana-state-land", "perennial", 34.9, 100, 30.5),
    (STATE_LAND, "montana-state-land", "perennial", 40, 150, 45.7),
    (STATE_LAND, "montana-state-land", "perennial", 70, 200, 61.0),
    (BUXTON, "slope-75-2-over-10", "perennial", 0, 75, 22.9),
    (BUXTON, "slope-75-2-over-10", "perennial", 10, 75, 22.9),
    (BUXTON, "slope-75-2-over-10", "perennial", 20, 95, math.nan),
    (BUXTON, "slope-75-2-over-10", "perennial", 30, 115, math.nan),
    (BUXTON, "slope-75-2-over-10", "perennial", 40, 135, math.nan),
    (BUXTON, "slope-75-2-over-10", "perennial", 50, 155, math.nan),
    (BUXTON + ", back face", "slope-75-2-over-10", "perennial", -3, 25, math.nan),
    (NEW_HAMPSHIRE, "new-hampshire", "large_stream", 25, 150, 45.7),
    (NEW_HAMPSHIRE, "new-hampshire", "pond", 0, 150, 45.7),
    (NEW_HAMPSHIRE, "new-hampshire", "perennial", 25, 50, 15.2),
    (NEW_HAMPSHIRE, "new-hampshire", "small_pond", 0, 50, 15.2),
    (KENTUCKY, "kentucky-warm-water", "perennial", 0, 25, 7.6),
    (KENTUCKY, "kentucky-warm-water", "perennial", 14, 25, 7.6),
    (KENTUCKY, "kentucky-warm-water", "perennial", 16, 55, 16.8),
    (FILTER_GUIDE, "slope-50-2-over-10", "perennial", 0, 50, 15.2),
    (FILTER_GUIDE, "slope-50-2-over-10", "perennial", 10, 50, 15.2),
    (FILTER_GUIDE, "slope-50-2-over-10", "perennial", 27, 84, 25.6),  # its worked example
    (INDIANA, "indiana", "perennial", 30, 50, 15.2),
    (INDIANA, "indiana", "intermittent", 30, 25, 7.6),
    (MONTANA, "montana", "class_1", 0, 50, 15.2),
    (MONTANA, "montana", "class_2", 34.9, 50, 15.2),
    (MONTANA, "montana", "class_1", 60, 100, 30.5),  # width read, its start at 35 % not
    (MONTANA, "montana", "class_2", 60, 100, 30.5),
    (SHOSHONE, "idaho-shoshone-county", "class_1", 40, 75, 22.9),
    (SHOSHONE, "idaho-shoshone-county", "class_2", 40, 30, 9.1),
    (SHOSHONE, "idaho-shoshone-county", "drainage_swale", 0, 5, 1.5),
    (NOVA_SCOTIA, "nova-scotia", "perennial", 0, 65.62, 20.0),
    (NOVA_SCOTIA, "nova-scotia", "perennial", 20, 65.62, 20.0),
    (FOREST_RESEARCH, "uk-channel-width", "channel_under_1m", 0, 16.41, 5.0),
    (FOREST_RESEARCH, "uk-channel-width", "channel_1_to_2m", 0, 32.81, 10.0),
    (FOREST_RESEARCH, "uk-channel-width", "channel_over_2m", 0, 65.62, 20.0),
]  # fmt: skip

# Rows read that no file carries, and why.
NOT_CARRIED = {
    "Maine chapter 21, road setback of 50 and 100 ft": "for roads",
    "New Hampshire RSA 227-J:10, slash 25 and 50 ft": "slash, not a strip for machines",
    "North Carolina .0201": "prints no number",
    "survey of the Southeast, 25 to 200 ft": "a survey, no rule",
    "Virginia, widths by slope": "two remembered versions differ",
    "Kentucky, Table 3-2": "could not be read",
}


@pytest.mark.parametrize(("source", "name", "water", "slope_pct", "feet", "metres"), PRINTED)
def test_a_row_read_in_its_source_is_in_the_file(
    source: str, name: str, water: str, slope_pct: float, feet: float, metres: float
) -> None:
    width = float(width_ft(load_rule(name), water, slope_pct))
    assert width == pytest.approx(feet, abs=1e-6), source
    if not math.isnan(metres):
        assert width * FOOT_M == pytest.approx(metres, abs=0.05), source


def test_a_row_is_confirmed_only_as_far_as_it_was_read() -> None:
    for _, name, water, slope, _, _ in PRINTED:
        rows = load_rule(name).rows_for(water)
        row = rows[int(rows_at(rows, slope))]
        # Kentucky's table for trails was not read, nor at which slope the widths of Montana
        # and Nova Scotia step, nor the whole of the table of Massachusetts, nor the version
        # in force on state land: then no row of these is known to hold.
        partly = name in (
            "kentucky-warm-water", "montana", "nova-scotia", "massachusetts", "montana-state-land",
        )  # fmt: skip
        assert row.confirmed == (not partly), (name, water)
    assert all(reason for reason in NOT_CARRIED.values())


@pytest.mark.parametrize(
    ("name", "water", "wanted"),
    [
        ("kentucky-warm-water", "perennial", "keep 50 % of the overstory"),
        ("new-hampshire", "large_stream", "cut at most 50 % of the basal area in any 12 months"),
        ("new-hampshire", "perennial", "cut at most 50 % of the basal area in any 12 months"),
        ("montana", "class_1", "the larger of 50 % and 10 trees for each 100 ft"),
        ("montana", "class_2", "the larger of 50 % and 5 trees for each 100 ft"),
        ("uk-channel-width", "channel_over_2m", "half of the channel open to sunlight"),
        ("idaho-shoshone-county", "class_1", "no mechanical ground disturbance"),
        ("slope-75-2-over-10", "perennial", "no exposed mineral soil"),
        ("california", "class_1", "at least 75 % of the surface cover"),  # 14 CCR 916.4(b)(6)
        ("california", "class_2", "at least 75 % of the surface cover"),
        ("maine-chapter-21", "pond", "cut at most 40 % of the volume in any 10 years"),
        ("maine-chapter-21", "pond", "no cleared opening within 75 ft"),
        ("minnesota-riparian-zone", "stream_3_to_10ft", "80 sq ft an acre of basal area"),
        ("north-carolina-catawba", "catawba_main_stem", "trees over 12 in at the stump"),
        ("montana-state-land", "perennial", "no wheeled or tracked machine"),
        ("virginia-50", "perennial", "keep at least 50 %"),
    ],
)
def test_what_must_stay_is_said_as_read(name: str, water: str, wanted: str) -> None:
    for row in load_rule(name).rows_for(water):
        assert wanted in row.retention


@pytest.mark.parametrize(
    ("name", "measured", "status"),
    [
        # "surface distance", "slope distance" and "along ground surface" are one thing.
        ("kentucky-warm-water", "ground", "rule"),
        ("slope-50-2-over-10", "ground", "guideline"),
        ("slope-50-4", "ground", "rule"),
        ("california", "ground", "rule"),
        ("idaho-shoshone-county", "ground", "law"),
        # Not said in the passage read: along the map, the wider way.
        ("new-hampshire", "map", "law"),
        ("montana", "map", "law"),
        ("indiana", "map", "guideline"),
        ("slope-75-2-over-10", "map", "law"),
        ("nova-scotia", "map", "law"),
        ("uk-channel-width", "map", "guideline"),
        ("maine-chapter-21", "map", "law"),  # printed: horizontal distance
        ("minnesota-riparian-zone", "map", "guideline"),
        ("massachusetts", "map", "guideline"),
        ("montana-state-land", "map", "rule"),
        ("north-carolina-catawba", "map", "law"),
        ("gulf-50", "map", "guideline"),
        ("virginia-50", "map", "guideline"),
        ("west-virginia", "map", "rule"),
        ("vermont", "ground", "rule"),
        ("pennsylvania", "ground", "guideline"),
        ("wisconsin", "map", "guideline"),
        ("texas", "map", "guideline"),
        ("ireland", "map", "guideline"),
    ],
)
def test_how_a_width_is_laid_and_what_kind_of_rule_it_is(
    name: str, measured: str, status: str
) -> None:
    rows = load_rule(name).rows
    assert {row.measured for row in rows} == {measured}
    assert {row.status for row in rows} == {status}


# ---------------------------------------------------------------- at the step

HAIR = 1e-3
STEPS = [
    # name, class, step %, width below, at and above, ft; why it falls on that side
    ("kentucky-warm-water", "perennial", 15, 25, 55, 55),  # printed under and over: the wider
    ("montana", "class_1", 35, 50, 100, 100),  # "35 % or steeper"
    ("montana", "class_2", 35, 50, 100, 100),
    ("slope-75-2-over-10", "perennial", 10, 75, 75, 95),  # "up to 10 %", then rounded up
    ("slope-75-2-over-10", "perennial", 20, 95, 95, 115),
    ("california", "class_1", 30, 75, 100, 100),  # "30 to 50 %", both ends
    ("california", "class_1", 50, 100, 100, 150),
    ("california", "class_2", 30, 50, 75, 75),
    ("california", "class_2", 50, 75, 75, 100),
    ("california", "class_3", 30, 25, 50, 50),
    # Not said which side a step falls on: the wider.
    ("montana-state-land", "perennial", 35, 100, 150, 150),
    ("montana-state-land", "perennial", 50, 150, 200, 200),
    ("vermont", "perennial", 10, 50, 70, 70),
    ("vermont", "perennial", 20, 70, 90, 90),
    ("vermont", "perennial", 30, 90, 110, 110),
    ("ireland", "aquatic_zone", 15, 32.81, 49.22, 49.22),
    ("ireland", "perennial", 30, 65.62, 82.03, 82.03),
]


@pytest.mark.parametrize(("name", "water", "step", "below", "at", "above"), STEPS)
def test_the_boundary_of_a_step_falls_on_its_stated_side(
    name: str, water: str, step: float, below: float, at: float, above: float
) -> None:
    slopes = [step - HAIR, step, step + HAIR]
    assert_allclose(width_ft(load_rule(name), water, slopes), [below, at, above])


@pytest.mark.parametrize(("name", "water", "step", "below", "at", "above"), STEPS)
def test_a_slope_computed_a_hair_off_the_step_is_the_step(
    name: str, water: str, step: float, below: float, at: float, above: float
) -> None:
    # 15 % as rise over run: 100 * 4.05 / 27 is 15.000000000000002, 100 * (0.1 + 0.05) less.
    for noise in (-1e-9, -1e-13, 1e-13, 1e-9):
        assert width_ft(load_rule(name), water, step + noise) == at, (below, above)


def test_widths_round_up_never_down() -> None:
    # Buxton: 11 % counts as 20, 30.0001 as 40.
    steps = load_rule("slope-75-2-over-10")
    assert_allclose(width_ft(steps, "perennial", [10.5, 11, 19.99, 30.0001]), [95, 95, 95, 135])
    for name in ("uk-channel-width", "nova-scotia", "ireland"):  # printed in metres, kept in feet
        for row in load_rule(name).rows:
            printed_m = row.a_ft * FOOT_M
            assert 0 <= printed_m - round(printed_m) < 0.01


def test_nova_scotia_widens_by_a_metre_for_two_percent_up_to_60() -> None:
    # From memory; in metres, as printed.
    here = load_rule("nova-scotia")
    slopes = [20, 22, 40, 100, 150]
    assert_allclose(width_ft(here, "perennial", slopes) * FOOT_M, [20, 21, 30, 60, 60], atol=0.012)
    assert [row.confirmed for row in here.rows_for("perennial")] == [False, False]


# ---------------------------------------------------------------- what came from memory


@pytest.mark.parametrize(
    ("name", "water"),
    [
        *(("california", water) for water in ("class_1", "class_2", "class_3", "class_4")),
        ("slope-25-2", "perennial"),  # Trimble & Sartz 1957
        ("kentucky-warm-water", "cold_water"),
        ("montana", "class_1"),  # the slope at which it steps
        ("montana", "class_2"),
        ("nova-scotia", "perennial"),
        ("uk-channel-width", "well"),
        ("uk-channel-width", "pond"),
        *(("virginia-50", w) for w in ("perennial", "intermittent")),
        *(("west-virginia", w) for w in ("perennial", "intermittent", "ephemeral")),
        *((name, "perennial") for name in ("vermont", "pennsylvania", "texas", "wisconsin")),
        ("wisconsin", "stream_1_to_3ft"),
        *(("ireland", w) for w in ("perennial", "aquatic_zone")),
        ("no-rule-chosen", "perennial"),
        ("no-rule-chosen", "well"),
    ],
)
def test_what_came_from_memory_says_so(name: str, water: str) -> None:
    for row in load_rule(name).rows_for(water):
        assert not row.confirmed
        assert "memory" in row.source


def test_california_in_all_its_classes_and_never_under_50_ft() -> None:
    # Widths from memory, 14 CCR 916.5; the floor of 50 ft along I and II read, 916.4(b)(5).
    here = load_rule("california")
    slopes = [0, 29, 35, 45, 60]
    assert_allclose(width_ft(here, "class_1", slopes), [75, 75, 100, 100, 150])
    assert_allclose(width_ft(here, "class_2", slopes), [50, 50, 75, 75, 100])
    assert_allclose(width_ft(here, "class_3", slopes), [25, 25, 50, 50, 50])
    assert_allclose(width_ft(here, "class_4", slopes), width_ft(here, "class_2", slopes))
    for water in ("perennial", "intermittent", "ephemeral", "pond", "brook of no class"):
        assert_allclose(width_ft(here, water, slopes), width_ft(here, "class_1", slopes))
    for row in (*here.rows_for("class_1"), *here.rows_for("class_2")):
        assert row.min_ft == 50


# name, class, slope %, feet as remembered; metres where those are printed
REMEMBERED: list[tuple[str, str, float, float, float]] = [
    ("kentucky-warm-water", "cold_water", 20, 60, 18.3),
    ("virginia-50", "perennial", 20, 50, 15.2),
    ("west-virginia", "perennial", 20, 100, 30.5),
    ("west-virginia", "intermittent", 20, 100, 30.5),
    ("west-virginia", "ephemeral", 20, 25, 7.6),
    ("vermont", "perennial", 5, 50, 15.2),
    ("vermont", "perennial", 15, 70, 21.3),
    ("vermont", "perennial", 25, 90, 27.4),
    ("vermont", "perennial", 35, 110, 33.5),
    ("vermont", "perennial", 40, 130, math.nan),  # "continues above 40 %"
    ("vermont", "perennial", 50, 150, math.nan),
    *(("pennsylvania", "perennial", s, w, math.nan) for s, w in (
        (0, 25), (10, 45), (20, 65), (30, 85), (40, 105), (50, 125), (60, 145), (70, 165))),
    ("wisconsin", "perennial", 20, 100, 30.5),
    ("wisconsin", "pond", 0, 100, 30.5),
    ("wisconsin", "stream_1_to_3ft", 20, 35, 10.7),
    ("texas", "perennial", 20, 50, 15.2),
    ("texas", "intermittent", 20, 50, 15.2),
    ("uk-channel-width", "well", 0, 164.05, 50.0),
    ("ireland", "aquatic_zone", 0, 32.81, 10.0),
    ("ireland", "aquatic_zone", 20, 49.22, 15.0),
    ("ireland", "aquatic_zone", 45, 65.62, 20.0),
    ("ireland", "perennial", 0, 49.22, 15.0),  # 5 m more where the soil erodes easily
    ("ireland", "perennial", 20, 65.62, 20.0),
    ("ireland", "perennial", 45, 82.03, 25.0),
]  # fmt: skip


@pytest.mark.parametrize(("name", "water", "slope_pct", "feet", "metres"), REMEMBERED)
def test_a_row_from_memory_holds_what_is_remembered_and_is_unverified(
    name: str, water: str, slope_pct: float, feet: float, metres: float
) -> None:
    rule = load_rule(name)
    width = float(width_ft(rule, water, slope_pct))
    assert width == pytest.approx(feet, abs=1e-6)
    if not math.isnan(metres):
        assert width * FOOT_M == pytest.approx(metres, abs=0.05)
    assert not rule.rows_for(water)[int(rows_at(rule.rows_for(water), slope_pct))].confirmed


def test_vermont_over_40_percent_is_never_under_its_steps() -> None:
    # 50 ft and 20 ft for each 10 % begun, from memory.
    slopes = np.arange(40.0, 120.0, 0.5)
    steps = 50 + 20 * np.floor(slopes / 10)
    wide = width_ft(load_rule("vermont"), "perennial", slopes)
    assert (wide >= steps).all() and (wide <= steps + 20).all()


# The zones for stands of one age: 150 (trout), 100, 50 and 50 ft, read in the same tables.
ONE_AGE = {"trout_water": 150, "stream_over_10ft": 100, "stream_3_to_10ft": 50}
ONE_AGE |= {"stream_under_3ft": 50}


@pytest.mark.parametrize(("water", "feet"), ONE_AGE.items())
def test_the_wider_of_two_printed_sets_is_carried(water: str, feet: float) -> None:
    here = load_rule("minnesota-riparian-zone")
    assert float(width_ft(here, water, 10)) >= feet
    assert "stands of one age" in here.note


WIDEST_IS_TAKEN = {
    "maine-chapter-21": 250,
    "minnesota-riparian-zone": 200,
    "wisconsin": 100,
    "uk-channel-width": 65.62,
    "ireland": 49.22,
}


@pytest.mark.parametrize(("name", "feet"), WIDEST_IS_TAKEN.items())
def test_a_stream_of_unknown_width_or_size_takes_the_widest_strip(name: str, feet: float) -> None:
    rule = load_rule(name)
    assert float(width_ft(rule, "perennial", 0.0)) == feet
    assert float(width_ft(rule, "brook of no class", 0.0)) == feet
    # A well's distance is another thing.
    assert feet == max(float(width_ft(rule, w, 0.0)) for w in rule.classes if w not in POINTS)


POINTS = ("spring", "well")

KEPT: list[tuple[str, str, Keep]] = [
    ("new-hampshire", "perennial", Keep(ba_pct=50)),  # RSA 227-J:9: at most 50 % is cut
    ("new-hampshire", "large_stream", Keep(ba_pct=50)),
    # ARM 36.11.305: the larger of 50 % and 10 (class 2: 5) trees of 8 in for each 100 ft
    ("montana", "class_1", Keep(trees_pct=50, trees_per_100ft=10, min_dbh_in=8)),
    ("montana", "perennial", Keep(trees_pct=50, trees_per_100ft=10, min_dbh_in=8)),
    ("montana", "class_2", Keep(trees_pct=50, trees_per_100ft=5, min_dbh_in=8)),
    # FOR-69: 50 % of the overstory, counted in two ways; cold water 75 %, from memory
    ("kentucky-warm-water", "perennial", Keep(ba_pct=50, cover_pct=50)),
    ("kentucky-warm-water", "cold_water", Keep(ba_pct=75, cover_pct=75)),
    # chapter 21 section 7: at most 40 % of the volume, trees of 4.5 in and over
    ("maine-chapter-21", "pond", Keep(volume_pct=60, min_dbh_in=4.5)),
    ("maine-chapter-21", "stream", Keep()),
    ("minnesota-riparian-zone", "trout_water", Keep(ba_ft2_acre=80)),
    ("minnesota-riparian-zone", "stream_3_to_10ft", Keep(ba_ft2_acre=80)),
    ("virginia-50", "perennial", Keep(ba_pct=50, cover_pct=50)),  # VDOF field note 2018
    ("wisconsin", "perennial", Keep(ba_ft2_acre=60)),  # from memory
    ("texas", "perennial", Keep(ba_ft2_acre=50)),  # from memory
    ("nova-scotia", "perennial", Keep(ba_ft2_acre=87.2)),  # 20 m2/ha, from memory
    ("indiana", "perennial", Keep()),
]


@pytest.mark.parametrize(("name", "water", "keep"), KEPT)
def test_what_is_counted_as_left_standing(name: str, water: str, keep: Keep) -> None:
    for row in load_rule(name).rows_for(water):
        assert row.keep == keep
        assert row.retention or not row.keep  # the rule's own sense stands beside the number


def test_no_rule_that_was_read_ends_at_a_divide() -> None:
    assert not any(row.stops_at_divide for name in rule_names() for row in load_rule(name).rows)


# ---------------------------------------------------------------- several rules at once

HEAD = 'format=1\nname="{0}"\ntitle="t"\njurisdiction="j"\nlocal_name="l"\nstatus="s"\n'
ROW = (
    '[[row]]\nwater_class="perennial"\nmeasured="map"\nstatus="rule"\nsource="s"\nconfirmed=true\n'
)
WINCHING = "no_cut_ft = 15\ncable_may_enter = true\nbank_trees_leave = true\n"


def made(name: str, row: str) -> Rule:
    return parse_rule((HEAD.format(name) + ROW + row).encode(), f"{name}.toml")


def asked(*rules: Rule) -> list[Asked]:
    return [Asked(rule, rule.rows_for("perennial")) for rule in rules]


def both(*rules: Rule, slope: float = 0.0) -> tuple[float, float, int]:
    """Give feet kept free of machines and of ropes, and which rule the first comes from."""
    out = widths(asked(*rules), np.array([slope]), np.array([slope]))
    return (
        float(out.machine_m[0]) / FOOT_M,
        float(out.rope_m[0]) / FOOT_M,
        int(out.rule[0]),
    )


def test_the_stricter_rule_wins_cell_by_cell() -> None:
    flat, steep = made("flat", "a_ft = 60"), made("steep", "a_ft = 20\nb_ft_per_pct = 2")
    slopes = np.array([0.0, 19.0, 21.0, 40.0])
    for pair, order in (((flat, steep), (0, 0, 1, 1)), ((steep, flat), (1, 1, 0, 0))):
        out = widths(asked(*pair), slopes, slopes)
        assert_allclose(out.machine_m / FOOT_M, [60, 60, 62, 100])
        assert out.rule.tolist() == list(order)


@pytest.mark.parametrize("swapped", [False, True])
def test_rules_that_ask_the_same_are_both_told_of_in_whatever_order(swapped: bool) -> None:
    read, heard = made("read", "a_ft = 50"), made("heard", "a_ft = 50")
    heard = replace(heard, rows=tuple(replace(row, confirmed=False) for row in heard.rows))
    pair = (heard, read) if swapped else (read, heard)
    out = widths(asked(*pair), np.zeros(2), np.zeros(2))
    used = out.used(np.array([True, False]))
    assert used == {(0, 0), (1, 0)}
    told = [f for f in rule_findings(asked(*pair), used) if f.code == "rule_unverified"]
    assert [f.message.split(":")[0] for f in told] == ["rule heard"]


def test_a_rule_that_settles_only_what_ropes_do_is_told_of() -> None:
    # The wide one says how ropes may work in it; the narrow one does not, and shuts them out.
    wide, narrow = made("wide", "a_ft = 90\n" + WINCHING), made("narrow", "a_ft = 30")
    narrow = replace(narrow, rows=tuple(replace(row, confirmed=False) for row in narrow.rows))
    used = widths(asked(wide, narrow), np.zeros(1), np.zeros(1)).used(np.array([True]))
    told = {
        (f.code, f.message.split()[1].rstrip(":")) for f in rule_findings(asked(wide, narrow), used)
    }
    assert told == {("rule_unverified", "narrow"), ("strip_winching_unknown", "narrow")}


def test_each_restriction_takes_the_stricter_rule_by_itself() -> None:
    # One rule is wide and lets a rope in beyond 15 ft; the other is narrow and silent.
    wide, narrow = made("wide", "a_ft = 90\n" + WINCHING), made("narrow", "a_ft = 30")
    assert both(wide) == (pytest.approx(90), pytest.approx(15), 0)
    assert both(narrow) == (pytest.approx(30), pytest.approx(30), 0)
    for pair, first in (((wide, narrow), 0), ((narrow, wide), 1)):
        machine, rope, rule = both(*pair)
        assert (machine, rope, rule) == (pytest.approx(90), pytest.approx(30), first)


def test_machines_and_bare_soil_keep_to_the_wider_of_their_two_distances() -> None:
    assert both(made("a", "a_ft = 90\nno_machine_ft = 50\nno_bare_soil_ft = 40"))[0] == (
        pytest.approx(50)
    )
    # Silent on bare soil: the whole width holds for it.
    assert both(made("b", "a_ft = 90\nno_machine_ft = 50"))[0] == pytest.approx(90)
    assert both(made("c", "a_ft = 90\nno_bare_soil_ft = 120"))[0] == pytest.approx(120)


@pytest.mark.parametrize("left_out", WINCHING.splitlines())
def test_no_rope_in_the_strip_while_one_of_three_things_is_unknown(left_out: str) -> None:
    part = made("part", "a_ft = 50\n" + WINCHING.replace(left_out, ""))
    assert both(part)[1] == pytest.approx(50)
    (said,) = rule_findings(asked(part), {(0, 0)})
    assert (said.code, said.level) == ("strip_winching_unknown", "unknown")
    assert "no rope enters it" in said.message


def test_a_rope_kept_out_by_the_rule_is_no_open_question() -> None:
    shut = made("shut", "a_ft = 50\n" + WINCHING.replace("enter = true", "enter = false"))
    assert both(shut)[1] == pytest.approx(50)
    assert rule_findings(asked(shut), {(0, 0)}) == []


@given(
    st.sampled_from(rule_names()),
    st.sampled_from(rule_names()),
    st.floats(-30, 120),
    st.sampled_from(["perennial", "intermittent", "class_1", "class_2", "pond"]),
)
def test_two_rules_are_never_looser_than_either(
    one: str, two: str, slope: float, water: str
) -> None:
    body = WaterFeature("w", water, Point(0, 0))
    at = np.array([slope])
    rules = load_rule(one), load_rule(two)
    together = widths(asked_of(body, list(rules))[0], at, np.maximum(at, 0))
    for rule in rules:
        alone = widths(asked_of(body, [rule])[0], at, np.maximum(at, 0))
        assert together.machine_m[0] >= alone.machine_m[0] - 1e-12
        assert together.rope_m[0] >= alone.rope_m[0] - 1e-12
    assert together.rope_m[0] >= 0
    feet = max(float(map_width_ft(rule, water, slope)) for rule in rules)
    assert together.machine_m[0] >= FOOT_M * feet - 1e-9


# ---------------------------------------------------------------- classes of the rules


def test_a_stream_mapped_as_perennial_where_the_rule_knows_a_wider_class_is_asked_about() -> None:
    body = WaterFeature("Mill Brook", "perennial", Point(0, 0))
    found = asked_of(body, [load_rule("new-hampshire"), load_rule("indiana")])[1]
    assert [(f.code, f.level, f.subject_id) for f in found] == [
        ("water_class_may_be_wider", "caution", "Mill Brook")
    ]
    assert found[0].message == (
        "Mill Brook is mapped as perennial and gets 50 ft; rule new-hampshire asks 150 ft of "
        "large_stream. See which it is, and write that in water_class"
    )
    large = WaterFeature("River", "large_stream", Point(0, 0))
    assert asked_of(large, [load_rule("new-hampshire")])[1] == []


# Kentucky's cold water (from memory) is wider than its warm.
WITHOUT_WIDER = [n for n in rule_names() if n not in ("new-hampshire", "kentucky-warm-water")]


@pytest.mark.parametrize("name", WITHOUT_WIDER)
def test_no_other_rule_has_a_class_wider_than_perennial(name: str) -> None:
    body = WaterFeature("w", "perennial", Point(0, 0))
    assert asked_of(body, [load_rule(name)])[1] == []
