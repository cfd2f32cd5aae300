"""What is taken and what is left, on stands laid out so that the answer is known.

The stocking chart's example is the published one: 200 trees and 90 square feet an acre
read 80 % stocking, with the B-line at about 65 (a silviculture lecture's reading of the
printed chart of Gingrich, Forest Science 13:38-53, 1967).
"""

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_ground import at
from made_stands import FLAT, grid, plots_of, stand, told
from shapely.geometry import LineString, box

from layout import form_class, harvest, treatment
from layout.checks import check_treatment, strip_trees
from layout.site import Area, WaterFeature
from layout.tree_sizes import distance_heights_m, sizes_of

IN_CM = 2.54
FT = 0.3048
ACRE_M2 = 43560 * FT**2
FT2_ACRE = FT**2 / ACRE_M2 * 1e4  # a square foot an acre, in square metres a hectare


# --- what trees give ------------------------------------------------------------------------

MIXED = [
    {**row, "species": name, "dbh_cm": cm, "marked": k % 3 == 0, "height_m": tall}
    for k, (row, name, cm, tall) in enumerate(
        zip(
            grid(6),
            ["red oak", "RO", "white pine", "sugar maple", "hemlock", "gumbo limbo"] * 6,
            [18.0 + 1.3 * k for k in range(36)],
            [20.0, math.nan, 24.0, math.nan] * 9,
            strict=True,
        )
    )
]


@pytest.mark.parametrize("rule", ["international-quarter", "scribner", "doyle", "cubic"])
def test_sums_are_the_sums_of_their_trees(rule: str) -> None:
    area = stand(MIXED, timber={"rule": rule, "defect": "7 %"})
    h = harvest.harvest_of(area)
    marked = area.trees.marked
    whole = harvest.total(h, marked)
    for part in (harvest.by_species(h, marked), harvest.by_grade(h, marked)):
        for name in ("trees", "sawlogs", "pieces", "stem_m3", "saw_m3", "saw_net_m3", "pulp_m3",
                     "pulp_cords", "saw_kg", "pulp_kg", "mass_kg"):  # fmt: skip
            added = sum(getattr(t, name) for t in part)
            assert added == pytest.approx(getattr(whole, name), rel=1e-12), name
    assert whole.stem_m3 == pytest.approx(float(h.stem_m3[marked].sum()), rel=1e-12)
    assert whole.mass_kg == pytest.approx(float(h.mass_kg[marked].sum()), rel=1e-12)
    if rule == "cubic":
        assert whole.gross_bf is None and whole.net_bf is None
    else:
        assert whole.gross_bf == pytest.approx(float(h.gross_bf[marked].sum()), rel=1e-12)
        assert whole.net_bf == pytest.approx(0.93 * whole.gross_bf, rel=1e-12)
    assert whole.saw_m3 + whole.pulp_m3 < whole.stem_m3  # stump, kerfs and top stay behind
    # both spellings of red oak are one kind
    names = [t.name for t in harvest.by_species(h, marked)]
    assert len(names) == len(set(names)) and "northern red oak" in names


def test_a_tree_of_unknown_diameter_is_counted_and_in_no_sum() -> None:
    rows = [{"x": 60, "y": 60, "marked": True}, {"x": 70, "y": 70, "dbh_cm": math.nan}]
    area = stand([rows[0], {**rows[1], "marked": True}], timber={"rule": "doyle"})
    h = harvest.harvest_of(area)
    both, one = harvest.total(h, [True, True]), harvest.total(h, [True, False])
    assert (both.trees, both.not_known) == (2, 1)
    assert both.gross_bf == one.gross_bf and both.stem_m3 == one.stem_m3
    assert math.isnan(h.net_bf[1]) and math.isnan(h.pieces[1])


def test_counted_logs_without_a_height_go_by_the_form_class_table() -> None:
    # Mesavage & Girard 1946, form class 78, Doyle: 16 in and 2 logs hold 116 board feet
    rows = [
        {"x": 60, "y": 60, "dbh_cm": 16 * IN_CM, "height_m": math.nan, "logs": 2.0},
        {"x": 70, "y": 60, "dbh_cm": 16 * IN_CM, "height_m": 24.0, "logs": 2.0},
    ]
    area = stand(rows, timber={"rule": "doyle"})
    h = harvest.harvest_of(area)
    assert h.by_form_class.tolist() == [True, False]
    assert h.gross_bf[0] == pytest.approx(116.0)
    better = stand(rows, timber={"rule": "doyle", "form_class": 80.0})
    assert harvest.harvest_of(better).gross_bf[0] == pytest.approx(116 * 1.06)
    quick, _ = form_class.tree_bf("doyle", [16 * IN_CM], [2.0], 80.0)
    assert harvest.harvest_of(better).gross_bf[0] == pytest.approx(quick[0])


def test_no_sawlog_is_cut_from_pulp_and_defect_comes_off_the_saw_timber() -> None:
    rows = [{"x": 60 + 9 * k, "y": 60, "dbh_cm": 50.0, "height_m": 25.0} for k in range(3)]
    area = stand(rows, timber={"rule": "scribner"})
    trees = replace(
        area.trees, log_grade=("pulp", "", "2"), defect_pct=np.array([math.nan, 40.0, math.nan])
    )
    h = harvest.harvest_of(replace(area, trees=trees))
    assert h.sawlogs[0] == 0 and h.gross_bf[0] == 0 and h.pulp_m3[0] > h.pulp_m3[1]
    assert h.net_bf[1] == pytest.approx(0.6 * h.gross_bf[1]) and h.gross_bf[1] == h.gross_bf[2]
    assert h.net_bf[2] == h.gross_bf[2]
    assert [t.name for t in harvest.by_grade(h, [True] * 3)] == ["", "2", "pulp"]


def test_what_is_dragged_is_what_is_weighed() -> None:
    rows = [{"x": 60, "y": 60, "dbh_cm": 40.0, "height_m": math.nan}]
    stem, bare, whole = (
        sizes_of(stand(rows, **tables)).mass_kg[0]
        for tables in ({}, {"timber": {"bark": False}}, {"work": {"extract": "tree"}})
    )
    assert bare < stem < whole


def test_heights_are_set_to_the_measured_trees_once_for_all() -> None:
    low = [{"x": 60 + k, "y": 60, "dbh_cm": 30.0, "height_m": 15.0} for k in range(3)]
    high = [{**row, "height_m": 25.0} for row in low]
    blank = {"x": 90, "y": 90, "dbh_cm": 30.0, "height_m": math.nan}
    for rows, metres in ((low, 15.0), (high, 25.0)):
        area = stand([*rows, blank])
        sizes = sizes_of(area)
        assert sizes.heights.height_m[3] == pytest.approx(metres)
        assert sizes.stem_m3[3] == pytest.approx(sizes.stem_m3[0])
        assert distance_heights_m(area)[3] == pytest.approx(1.1 * metres)
        fixed = stand([*rows, blank], timber={"height_model": "default"})
        assert sizes_of(fixed).heights.how[3] == "default"
        assert distance_heights_m(fixed)[3] >= 85 * FT  # the curve alone is not verified


# --- before and after -----------------------------------------------------------------------


def chart_stand(marked: int, **tables: dict[str, Any]) -> Area:
    """Give 200 trees an acre of 90 square feet, on a hectare, some of them marked."""
    rows = grid(22)  # 484 trees
    cm = math.sqrt(90 / 200 / 0.005454154) * IN_CM
    side = math.sqrt(484 / 200 * ACRE_M2)
    scale = side / 100.0
    made = [
        {"x": 50 + (r["x"] - 50) * scale, "y": 50 + (r["y"] - 50) * scale, "dbh_cm": cm,
         "species": "red oak", "marked": k < marked}
        for k, r in enumerate(rows)
    ]  # fmt: skip
    return stand(made, side, **tables)


def test_the_charts_own_example() -> None:
    done = treatment.treat(chart_stand(100))
    before, after = done.thinning.before, done.thinning.after
    assert before is not None and after is not None
    assert before.basal_area_m2_per_ha / FT2_ACRE == pytest.approx(90, rel=1e-6)
    assert before.stocking_pct == pytest.approx(80, abs=3)  # like trees, not the chart's mix
    assert after.b_line_m2_per_ha is not None
    assert after.b_line_m2_per_ha / FT2_ACRE == pytest.approx(65, abs=1)


@pytest.mark.parametrize(
    ("marked", "level"), [(130, "ok"), (136, "caution")]
)  # 90 less 25.2 stays above the B-line of 65.4 - 0.6, ...
def test_the_b_line_is_where_the_chart_has_it(marked: int, level: str) -> None:
    area = chart_stand(marked, treatment={"removal_max": ""})
    found = told(area)["stocking_b_line"]
    assert found.limit is not None and found.value is not None
    assert found.limit / FT2_ACRE == pytest.approx(65, abs=1)
    assert found.value / FT2_ACRE == pytest.approx(90 * (484 - marked) / 484, rel=1e-6)
    assert found.level == ("ok" if found.value >= found.limit else "caution") == level
    assert "removal_share" not in told(area)  # a blank aim is not judged


@pytest.mark.parametrize(("marked", "level"), [(33, "ok"), (34, "caution")])
def test_a_third_of_the_basal_area(marked: int, level: str) -> None:
    area = stand([{**row, "marked": k < marked} for k, row in enumerate(grid(10))])
    found = told(area)["removal_share"]
    assert (found.level, found.limit, found.confirmed) == (level, 33.0, False)
    assert found.value == pytest.approx(marked)
    said = f"The marked trees hold {marked} % of the basal area"
    assert found.message.startswith(said)


@pytest.mark.parametrize(("least", "level"), [("20 ft^2/acre", "ok"), ("40 ft^2/acre", "caution")])
def test_the_least_basal_area_the_owner_set(least: str, level: str) -> None:
    area = stand(
        [{**row, "marked": k < 10} for k, row in enumerate(grid(10, dbh_cm=30.0))],
        treatment={"residual_min": least},
    )
    found = told(area)["residual_low"]
    # 90 trees of 30 cm on a hectare: 6.36 square metres, 27.7 square feet an acre
    assert found.value == pytest.approx(90 * math.pi / 4 * 0.09)
    assert found.level == level and "28 ft²/acre" in found.message


def test_softwood_is_not_held_against_the_hardwood_chart() -> None:
    rows = grid(10, species="red spruce")
    found = told(stand([{**row, "marked": k < 9} for k, row in enumerate(rows)]))
    assert found["stocking_b_line"].level == "unknown"
    assert "100 % of what stays is softwood" in found["stocking_b_line"].message
    assert "relative density goes from" in found["stocking_b_line"].message


def test_nothing_marked_is_not_judged() -> None:
    assert told(stand(grid(5))) == {}
    assert told(stand([])) == {}


# --- the layout takes trees too -------------------------------------------------------------


def test_unmarked_trees_in_the_way_are_taken_and_counted() -> None:
    rows = grid(10, dbh_cm=30.0, marked=False)
    trail = LineString([at(95, 50), at(95, 150)]).buffer(1.8, cap_style="flat")
    area = stand([{**row, "marked": k == 0} for k, row in enumerate(rows)])
    done = treatment.treat(area, [trail])
    assert int(done.in_way.sum()) == 10  # the column of trees at x = 95 m
    assert done.thinning.removed is not None and done.thinning.before is not None
    assert done.thinning.removed.stems_per_ha == pytest.approx(11)
    assert done.thinning.before.stems_per_ha == pytest.approx(100)
    found = told(area, done)["removal_share"]
    assert found.value == pytest.approx(11)
    assert (
        "with 10 unmarked trees in the way of trails, turning places or landing," in found.message
    )
    vague = stand(
        [{**row, "marked": k == 0} for k, row in enumerate(rows)],
        stand={"position_error": "5 m"},
    )
    again = treatment.treat(vague, [trail])
    assert again.in_way.tolist() == done.in_way.tolist()
    assert "with about 10 unmarked trees" in told(vague, again)["removal_share"].message
    named = treatment.treat(area, [], [k == 5 for k in range(100)])
    assert np.flatnonzero(named.in_way).tolist() == [5]


def test_openings_are_measured_and_held_against_the_owners_limit() -> None:
    # crowns of 12 m at 5 m apart close the ground; the trees within 9 m of the middle go
    rows = grid(20, dbh_cm=55.0, height_m=25.0, species="red oak")
    marked = [math.hypot(r["x"] - 100, r["y"] - 100) < 14 for r in rows]
    area = stand(
        [{**r, "marked": m} for r, m in zip(rows, marked, strict=True)],
        treatment={"gap_max": "10 ft", "removal_max": ""},
    )
    done = treatment.treat(area)
    (gap,) = done.canopy.gaps or ()
    assert done.canopy.cover_before == pytest.approx(1.0, abs=0.02)
    found = told(area, done)["gap_wide"]
    assert found.level == "caution" and found.subject_id == "G1"
    assert found.value == pytest.approx(gap.diameter_m) and found.limit == pytest.approx(10 * FT)
    assert math.dist(found.at or (0, 0), at(100, 100)) < 3
    assert "trails still to be laid out are not counted" in found.message
    wide = stand(
        [{**r, "marked": m} for r, m in zip(rows, marked, strict=True)],
        treatment={"gap_max": "100 ft"},
    )
    assert told(wide)["gap_wide"].level == "ok"
    # a landing opens the canopy as well, without a tree marked near it
    site = box(*at(90, 90), *at(112, 112))
    few = stand(
        [{**r, "marked": k == 0} for k, r in enumerate(rows)], treatment={"gap_max": "40 ft"}
    )
    landed = treatment.treat(few, [site])
    found = told(few, landed, landing=site)["gap_wide"]
    assert "Opening G1 round the landing would be" in found.message
    assert "are not counted" not in found.message
    assert landed.canopy.cover_after is not None and landed.canopy.cover_after < 1


# --- what is not known ----------------------------------------------------------------------


def test_a_list_of_marked_trees_alone_says_plainly_what_it_does_not_tell() -> None:
    rows = [row for row in MIXED if row["marked"]]
    alone, full = stand(rows, full_list=False), stand(MIXED)
    one, whole = treatment.treat(alone), treatment.treat(full)
    assert one.thinning.before is None and one.thinning.after is None
    assert one.thinning.basal_area_share is None and one.wood_share is None
    assert one.canopy.cover_before is None and one.canopy.gaps is None
    assert one.thinning.removed is not None and whole.thinning.removed is not None
    assert one.thinning.removed.basal_area_m2_per_ha == pytest.approx(
        whole.thinning.removed.basal_area_m2_per_ha
    )
    found = told(alone, one)
    assert set(found) == {"stand_not_known", "canopy_not_known"}
    assert {f.level for f in found.values()} == {"unknown"}
    # a trail over unlisted trees takes an unknown number of them, not none
    trail = LineString([at(95, 50), at(95, 150)]).buffer(1.8)
    assert not treatment.treat(alone, [trail]).in_way.any()
    assert "unmarked trees that trails and landing take" in found["canopy_not_known"].message


def test_plots_tell_what_stands_where_only_marked_trees_are_listed() -> None:
    # 2, 3, 3 and 4 trees a plot: 300 a hectare; 90 marked ones of like size on the hectare
    rows = [{**row, "marked": True} for row in grid(10, dbh_cm=30.0)[:90]]
    plots = plots_of([2, 3, 3, 4])
    area = stand(rows, full_list=False, plots=plots)
    done = treatment.treat(area)
    assert done.plots is not None and done.thinning.from_plots
    tree = math.pi / 4 * 0.09
    assert done.plots.stems.mean == pytest.approx(300)
    # Student's t for 3 degrees of freedom, 90 % both tails: 2.353 (any printed table)
    half = 2.353 * math.sqrt(2 / 3) * 100 / 2
    assert done.plots.basal_area.high == pytest.approx((300 + half) * tree, rel=1e-3)
    assert done.thinning.after is not None
    assert done.thinning.after.basal_area_m2_per_ha == pytest.approx(210 * tree)
    assert done.thinning.basal_area_share == pytest.approx(0.3)
    assert done.wood_share == pytest.approx(0.3, rel=0.25)  # measured heights against estimates
    left = treatment.less(done.plots.basal_area, 90 * tree)
    assert left.low == pytest.approx((210 - half) * tree, rel=1e-3)
    assert left.high == pytest.approx((210 + half) * tree, rel=1e-3)
    assert treatment.less(done.plots.basal_area, 1e9).mean == 0
    found = told(area, done)
    # 30 % is under a third, but the plots may be too high by half
    assert found["removal_share"].level == "caution"
    assert "by its plots it may be" in found["removal_share"].message
    assert "from 4 plots" in found["stocking_b_line"].message
    assert "stand_not_known" not in found and found["canopy_not_known"].level == "unknown"
    sure = stand(rows, full_list=False, plots=plots_of([3, 3, 3, 3]))
    assert told(sure)["removal_share"].level == "ok"
    over = stand(rows, full_list=False, plots=plots_of([0, 1, 0, 0]))
    assert told(over)["stand_not_known"].level == "unknown"


@pytest.mark.parametrize("least", ["", "15 m^2/ha"])
def test_plots_that_leave_it_open_are_not_said_to_be_under_the_line(least: str) -> None:
    """Mean and range by hand: 300 less 60 trees a hectare of 0.0707 m2, give or take 96.

    The B-line for a mean tree of 11.8 in lies at about 66 square feet an acre.
    """
    tree, half = math.pi / 4 * 0.09, 2.353 * math.sqrt(2 / 3) * 100 / 2
    rows = [{**row, "marked": True} for row in grid(10, dbh_cm=30.0)[:60]]
    for counts, doubt in (([2, 3, 3, 4], True), ([3, 3, 3, 3], False)):
        area = stand(
            rows, full_list=False, plots=plots_of(counts), treatment={"residual_min": least}
        )
        found = told(area)
        for code in ("stocking_b_line", *(["residual_low"] if least else [])):
            one = found[code]
            assert one.value is not None and one.limit is not None
            assert one.value == pytest.approx(240 * tree) and one.value > one.limit
            assert one.limit > (240 - half) * tree
            assert one.level == ("caution" if doubt else "ok")
            assert ("but the plots do not rule out less" in one.message) == doubt
            assert "under" not in one.message and "go unused" not in one.message
        assert " above the B-line" in found["stocking_b_line"].message
    under = told(stand([*rows, *rows], full_list=False, plots=plots_of([2, 3, 3, 4])))
    assert "under the B-line" in under["stocking_b_line"].message
    assert "rule out" not in under["stocking_b_line"].message


def test_heights_measured_on_plots_count_like_those_of_the_list() -> None:
    # nothing measured on the list; the plots' maples of 30 cm are 35 m high, one of 50 cm 40 m
    rows = [{**row, "marked": True, "height_m": math.nan} for row in grid(5, dbh_cm=30.0)]
    plots = plots_of([2, 2, 2, 3])
    tall = replace(
        plots, height_m=np.array([35.0] * 8 + [40.0]), dbh_cm=np.array([30.0] * 8 + [50])
    )
    area, bare = stand(rows, full_list=False, plots=tall), stand(rows, full_list=False)
    sizes = sizes_of(area)
    assert set(sizes.heights.how) == {"species"} and len(sizes.heights.how) == 25
    assert sizes.heights.height_m == pytest.approx(35.0)
    assert sizes.mass_kg[0] > sizes_of(bare).mass_kg[0]
    # the tallest measured is the least an estimate counts for distances, and a tenth more here
    assert distance_heights_m(area) == pytest.approx(40.0)
    lower = stand(rows, full_list=False, plots=replace(tall, height_m=np.full(9, 35.0)))
    assert distance_heights_m(lower) == pytest.approx(1.1 * sizes_of(lower).heights.height_m[0])
    # wood taken and wood standing are measured with the same curves
    like = replace(tall, dbh_cm=np.full(9, 30.0), height_m=np.full(9, 35.0))
    done = treatment.treat(stand(rows, full_list=False, plots=like))
    assert done.wood_share == pytest.approx(done.thinning.basal_area_share)
    fixed = stand(rows, full_list=False, plots=tall, timber={"height_model": "default"})
    assert set(sizes_of(fixed).heights.how) == {"default"}
    assert distance_heights_m(fixed) == pytest.approx(40.0)


def test_plots_are_held_against_a_full_list_and_the_stand() -> None:
    rows = [{**row, "marked": k < 5} for k, row in enumerate(grid(10, dbh_cm=30.0))]
    agree = stand(rows, plots=plots_of([0, 1, 1, 2]))
    assert told(agree)["plots_beside_list"].level == "ok"
    twice = told(stand(rows, plots=plots_of([2, 2, 2, 3])))["plots_beside_list"]
    assert twice.level == "caution" and "do not agree" in twice.message
    assert twice.message.endswith("another?")
    assert told(stand(rows, plots=plots_of([1])))["plots_beside_list"].level == "unknown"
    away = replace(plots_of([1, 1]), x=np.array([at(100, 0)[0], at(300, 0)[0]]))
    found = told(stand(rows, plots=away))["plots_outside"]
    assert "1 of 2 plots lie outside the stand (P1)" in found.message


def test_a_height_far_from_the_others_is_asked_about() -> None:
    rows = grid(3, dbh_cm=30.0, height_m=20.0)
    rows[4]["height_m"] = 60.0 * FT * 3
    found = told(stand(rows))["height_far_off"]
    assert found.level == "caution" and found.subject_id == "T5" and not found.confirmed


def test_a_height_on_a_plot_far_from_the_others_is_asked_about() -> None:
    rows = grid(3, dbh_cm=30.0, height_m=20.0)
    high = replace(plots_of([1, 1]), height_m=np.array([20.0, 60.0]))
    found = told(stand(rows, plots=high, area={"units": "metric"}))["height_far_off"]
    assert (found.level, found.subject_layer, found.subject_id) == ("caution", "plots", "P1")
    assert "60 m on plot P1" in found.message


# --- water strips ---------------------------------------------------------------------------

RULE = """
format = 1
name = "made"
title = "a rule with all it can hold"
jurisdiction = "none"
local_name = "strip"
status = "guideline"

[[row]]
water_class = ["perennial"]
a_ft = 50
measured = "map"
{more}
status = "guideline"
source = "made up for this test"
confirmed = false
"""


def by_the_brook(folder: Path, more: str, feet: list[float], error: str = "1 m") -> Area:
    """Give marked trees at distances from a brook's bank, and one that stays at 30 ft."""
    (folder / "made.toml").write_text(RULE.format(more=more), encoding="utf-8")
    brook = WaterFeature("brook", "perennial", LineString([at(50, 60), at(150, 60)]), 2.0)
    rows = [{"x": 60 + 5 * k, "y": 61 + f * FT, "marked": True} for k, f in enumerate(feet)]
    rows.append({"x": 140, "y": 61 + 30 * FT, "marked": False})
    return stand(
        rows, folder=folder, brooks=(brook,), water={"rules": ["made.toml"]},
        stand={"position_error": error},
    )  # fmt: skip


def test_trees_where_the_rule_lets_nothing_be_cut(tmp_path: Path) -> None:
    more = 'no_cut_ft = 15\nretention = "keep half of it"'
    area = by_the_brook(tmp_path, more, [10, 14.9, 25, 60], "0 m")
    found = told(area)
    core = found["strip_no_cut"]
    assert core.level == "caution" and not core.confirmed
    assert core.source == "made up for this test"
    assert core.message.startswith("2 marked trees stand within 15 ft of brook")
    assert "(T1, T2)" in core.message and core.value == pytest.approx(10 * FT)
    strip = found["strip_cutting"]
    assert strip.message.startswith("3 marked trees stand in the strip of brook (T1, T2, T3)")
    assert "75 % of the basal area listed in it" in strip.message
    assert 'its rule says: "keep half of it"' in strip.message
    # a place known to 5 m may as well be nearer; that is told
    vague = told(by_the_brook(tmp_path, more, [10, 20, 60], "5 m"))["strip_no_cut"]
    assert "2 marked trees" in vague.message and "1 of them within the error" in vague.message


@pytest.mark.parametrize("confirmed", [False, True])
@pytest.mark.parametrize("status", ["law", "rule", "guideline", "practice"])
def test_a_law_keeps_what_surely_stands_in_its_core(
    tmp_path: Path, status: str, confirmed: bool
) -> None:
    """15 ft are 4.57 m: with places known to 1 m, 10 ft (3.05 m) is inside for sure, 13 ft not."""
    area = by_the_brook(tmp_path, "no_cut_ft = 15", [10, 13, 17, 19], "1 m")
    text = (tmp_path / "made.toml").read_text(encoding="utf-8")
    text = text.replace('status = "guideline"\nsource', f'status = "{status}"\nsource')
    text = text.replace("confirmed = false", f"confirmed = {str(confirmed).lower()}")
    (tmp_path / "made.toml").write_text(text, encoding="utf-8")
    found = [f for f in strip_trees.check(area, FLAT) if f.code == "strip_no_cut"]
    named = {f.level: re.findall(r"T\d", f.message) for f in found}
    if status in ("law", "rule"):
        assert named == {"stop": ["T1"], "caution": ["T2", "T3"]}
    else:
        assert named == {"caution": ["T1", "T2", "T3"]}
    for finding in found:
        assert ("unverified" in finding.message) is not confirmed
        assert finding.confirmed is confirmed
        assert finding.limit == pytest.approx(15 * FT)


def test_a_wider_core_that_only_advises_stops_nothing(tmp_path: Path) -> None:
    area = by_the_brook(tmp_path, "no_cut_ft = 40", [10, 30], "0 m")
    wide = RULE.format(more="no_cut_ft = 40")
    law = RULE.format(more="no_cut_ft = 15").replace(
        'status = "guideline"\nsource = "made up', 'status = "law"\nsource = "a law made up'
    )
    (tmp_path / "made.toml").write_text(wide, encoding="utf-8")
    (tmp_path / "law.toml").write_text(law, encoding="utf-8")
    rules = area.settings.water.model_copy(update={"rules": ["made.toml", "law.toml"]})
    both = replace(area, settings=area.settings.model_copy(update={"water": rules}))
    found = [f for f in strip_trees.check(both, FLAT) if f.code == "strip_no_cut"]
    said = [(f.level, re.findall(r"T\d", f.message), f.source) for f in found]
    assert said == [
        ("stop", ["T1"], "a law made up for this test"),
        ("caution", ["T2"], "made up for this test"),
    ]
    assert [f.limit for f in found] == pytest.approx([15 * FT, 40 * FT])


@pytest.mark.parametrize(("gentle_ft", "level"), [(15, "stop"), (0, "caution")])
def test_where_the_row_is_not_known_the_smallest_core_is_sure(
    tmp_path: Path, gentle_ft: float, level: str
) -> None:
    """By the slope of the bank, which is not read at a tree, either row may hold."""
    rows = RULE.format(more=f'no_cut_ft = {gentle_ft}\nslope_of = "bank"\nslope_max_pct = 30')
    head, row = rows.split("[[row]]")
    steep = row.replace(f"no_cut_ft = {gentle_ft}", "no_cut_ft = 30")
    steep = steep.replace("slope_max_pct = 30", "slope_min_pct = 30")
    area = by_the_brook(tmp_path, "", [10], "0 m")
    both = f"{head}[[row]]{row}[[row]]{steep}".replace(
        'status = "guideline"\nsource', 'status = "law"\nsource'
    )
    (tmp_path / "made.toml").write_text(both, encoding="utf-8")
    found = [f for f in strip_trees.check(area, FLAT) if f.code == "strip_no_cut"]
    assert [f.level for f in found] == [level]


def test_bank_trees_and_rules_that_are_silent(tmp_path: Path) -> None:
    found = told(by_the_brook(tmp_path, "bank_trees_leave = true", [5, 12], "0 m"))
    assert found["strip_bank_trees"].message.startswith("1 marked tree stands at the bank of brook")
    assert found["strip_cutting"].level == "unknown"
    assert "does not say what may be cut" in found["strip_cutting"].message
    assert not {"strip_bank_trees", "strip_no_cut", "strip_cutting"} & set(
        told(by_the_brook(tmp_path, "no_cut_ft = 15", [51], "0 m"))
    )


# --- the same whatever the order, whatever the units ----------------------------------------


def test_the_order_of_the_list_makes_no_difference() -> None:
    shuffled = [MIXED[k] for k in np.random.default_rng(3).permutation(len(MIXED))]
    named = [{**row, "tree_id": f"{row['x']:.0f}-{row['y']:.0f}"} for row in MIXED]
    again = [{**row, "tree_id": f"{row['x']:.0f}-{row['y']:.0f}"} for row in shuffled]
    one, other = (
        stand(rows, timber={"rule": "doyle"}, treatment={"gap_max": "1 ft"})
        for rows in (named, again)
    )
    a, b = treatment.treat(one), treatment.treat(other)
    at_b = [other.trees.tree_id.index(name) for name in one.trees.tree_id]
    for column in ("net_bf", "stem_m3", "saw_kg", "pulp_m3", "mass_kg", "pieces"):
        np.testing.assert_array_equal(
            getattr(a.harvest, column), getattr(b.harvest, column)[at_b], err_msg=column
        )
    assert a.thinning.after is not None and b.thinning.after is not None
    for name in ("stems_per_ha", "basal_area_m2_per_ha", "stocking_pct", "relative_density"):
        assert getattr(a.thinning.after, name) == pytest.approx(
            getattr(b.thinning.after, name), rel=1e-12
        )
    assert a.canopy.cover_after == b.canopy.cover_after
    assert [g.diameter_m for g in a.canopy.gaps or ()] == [
        g.diameter_m for g in b.canopy.gaps or ()
    ]
    assert [f.message for f in check_treatment(one, FLAT, a)] == [
        f.message for f in check_treatment(other, FLAT, b)
    ]


def test_units_change_the_words_and_nothing_else() -> None:
    us, metric = (
        stand(MIXED, area={"units": units}, treatment={"residual_min": "3 m^2/ha"})
        for units in ("us", "metric")
    )
    one, other = (check_treatment(area, FLAT, treatment.treat(area)) for area in (us, metric))
    assert [(f.code, f.level, f.value, f.limit) for f in one] == [
        (f.code, f.level, f.value, f.limit) for f in other
    ]
    assert any("ft²/acre" in f.message for f in one)
    assert not any("ft" in f.message for f in other)


def test_a_stand_of_thousands_of_trees_is_treated_whole() -> None:
    rng = np.random.default_rng(1)
    rows = [
        {"x": float(x), "y": float(y), "dbh_cm": float(d), "marked": bool(k % 20 == 0),
         "height_m": math.nan}
        for k, (x, y, d) in enumerate(
            zip(rng.uniform(50, 390, 4500), rng.uniform(50, 390, 4500), rng.uniform(12, 70, 4500),
                strict=True)
        )
    ]  # fmt: skip
    area = stand(rows, 340.0, timber={"rule": "international-quarter"})
    report = treatment.treat(area)
    assert check_treatment(area, FLAT, report)
    assert report.harvest is not None
