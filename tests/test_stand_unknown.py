"""Diameters that are missing and plots that are few: nothing unknown counts as nothing.

Stands of a hectare, so that figures by the hectare are sums of the trees by hand.
"""

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import at
from made_stands import FLAT, grid, plots_of, stand, told
from shapely.geometry import MultiPolygon, box

from layout import treatment
from layout.checks import check_treatment
from layout.outputs import stand_lines
from layout.thinning import MORE_THAN_STANDS, share_range, thinning

TREE = math.pi / 4 * 0.09  # basal area of 30 cm, square metres
BLANK = {"dbh_cm": math.nan}


def rows_of(marked: int, blank: int, *, stays_blank: int = 0, **plain: Any) -> list[dict[str, Any]]:
    """Give a hundred trees, the first ones marked, the first of those without a DBH."""
    rows = grid(10, dbh_cm=30.0, **plain)
    return [
        {**row, "marked": k < marked} | (BLANK if k < blank or k >= 100 - stays_blank else {})
        for k, row in enumerate(rows)
    ]


# --- trees that go ------------------------------------------------------------------------------


def test_blank_diameters_of_marked_trees_are_a_range_and_judged_by_its_far_end() -> None:
    # 40 of 100 like trees are 40 %; with 20 of them blank 20 of 80 is the least there is
    assert told(stand(rows_of(40, 0)))["removal_share"].value == pytest.approx(40.0)
    area = stand(rows_of(40, 20))
    done = treatment.treat(area)
    found = told(area, done)
    assert done.thinning.basal_area_range == pytest.approx((0.25, 0.4))
    assert (done.thinning.basal_area_share, done.wood_share, done.saw_share) == (None, None, None)
    assert done.thinning.stems_share == pytest.approx(0.4)  # a stem counts with or without DBH
    assert done.thinning.before is not None and done.thinning.before.without_dbh == 20
    assert "20 of the trees that go" in done.thinning.reason
    share = found["removal_share"]
    assert (share.level, share.value) == ("caution", pytest.approx(40.0))
    assert "hold 25 to 40 % of the basal area, for 20 trees have no DBH" in share.message
    assert found["stand_not_known"].level == "unknown"
    # what stays is known all the same
    assert found["stocking_b_line"].value == pytest.approx(60 * TREE)


def test_no_marked_tree_with_a_diameter_is_no_clean_sheet() -> None:
    area = stand(rows_of(40, 40), treatment={"gap_max": "10 ft", "residual_min": "5 ft^2/acre"})
    found = told(area)
    assert {
        "removal_share",
        "stocking_b_line",
        "residual_low",
        "gap_wide",
        "stand_not_known",
    } <= set(found)
    assert found["removal_share"].level == "caution"
    assert "hold 0 to 40 %" in found["removal_share"].message
    assert found["gap_wide"].level == "caution"
    few = told(stand(rows_of(5, 5)))["removal_share"]
    assert few.level == "unknown"  # 5 % at the thickest known; but no marked tree was measured
    one = told(stand(rows_of(6, 1)))["removal_share"]
    assert (one.level, one.value) == ("ok", pytest.approx(6.0))  # 5.05 to 6 %: it hardly matters


def test_no_diameter_at_all_is_told() -> None:
    found = told(stand([{**row, **BLANK} for row in rows_of(20, 0)]))
    assert found["stand_not_known"].level == "unknown"
    assert "no tree of the list has a DBH" in found["gap_wide"].message
    assert found["gap_wide"].level == "unknown"


def test_an_opening_is_as_wide_as_blank_trees_may_make_it() -> None:
    rows = grid(20, dbh_cm=55.0, height_m=25.0, species="red oak")
    middle = [math.hypot(r["x"] - 100, r["y"] - 100) < 14 for r in rows]
    known, blind = (
        stand(
            [
                {**r, "marked": m} | (BLANK if m and gone else {})
                for r, m in zip(rows, middle, strict=True)
            ],
            treatment={"gap_max": "10 ft"},
        )
        for gone in (False, True)
    )
    one, two = told(known)["gap_wide"], told(blind)["gap_wide"]
    assert one.value == two.value and two.level == "caution"
    assert "count with the widest crown known" in two.message
    assert "Leaving" in one.message and "Leaving" not in two.message
    done = treatment.treat(blind)
    assert done.canopy.cover_before is None and "no DBH" in done.canopy.reason
    assert done.canopy.cover_after == treatment.treat(known).canopy.cover_after


def test_plots_and_marked_trees_without_diameters() -> None:
    rows = [{**row, "marked": True} for row in rows_of(90, 45)[:90]]
    area = stand(rows, full_list=False, plots=plots_of([3, 3, 3, 3]))
    done = treatment.treat(area)
    assert done.thinning.before is not None and done.thinning.after is None
    assert done.thinning.basal_area_range == pytest.approx((0.15, 0.3))
    found = told(area, done)
    assert "45 of the trees that go have no DBH" in found["stand_not_known"].message
    assert found["removal_share"].level == "ok" and "15 to 30 %" in found["removal_share"].message
    tight = stand(rows, full_list=False, plots=plots_of([3, 3, 3, 3]),
                  treatment={"removal_max": "20 %", "residual_min": "16 m^2/ha"})  # fmt: skip
    judged = told(tight)
    assert judged["removal_share"].level == "caution"
    left = judged["residual_low"]  # 210 of 30 cm a hectare are 14.8 m2
    assert (left.level, left.value) == ("caution", pytest.approx(210 * TREE))
    assert "45 trees that go without a DBH taken as thick" in left.message


@given(
    st.lists(st.tuples(st.floats(0.01, 1.0), st.booleans(), st.booleans()), min_size=1, max_size=30)
)
def test_the_range_holds_every_share_the_blanks_could_make(
    stems: list[tuple[float, bool, bool]],
) -> None:
    amount, taken, blank = (list(column) for column in zip(*stems, strict=True))
    seen = [math.nan if b else a for a, b in zip(amount, blank, strict=True)]
    found = share_range(seen, taken, largest=1.0)
    true = sum(a for a, t in zip(amount, taken, strict=True) if t) / sum(amount)
    assert found is not None
    assert found[0] - 1e-9 <= true <= found[1] + 1e-9
    if not any(blank):
        assert found[0] == pytest.approx(found[1]) == pytest.approx(true)


# --- trees that stay ----------------------------------------------------------------------------


def test_trees_that_stay_and_have_no_diameter_are_said_to_be_in_no_figure() -> None:
    found = told(stand(rows_of(20, 0, stays_blank=30), treatment={"residual_min": "5 ft^2/acre"}))
    for code in ("stocking_b_line", "residual_low"):
        assert found[code].value == pytest.approx(50 * TREE)
        assert "(30 trees that stay without a DBH not counted)" in found[code].message
    # 20 of 70 known, 20 of 100 at the least
    assert "20 to 29 % of the basal area" in found["removal_share"].message
    wide = stand(rows_of(20, 0, stays_blank=30), treatment={"gap_max": "10 ft"})
    gaps = [f for f in check_treatment(wide, FLAT, treatment.treat(wide)) if f.code == "gap_wide"]
    assert "stay and have no DBH (30) close nothing" in gaps[0].message
    assert "30" not in gaps[1].message  # said once
    all_blank = told(stand(rows_of(20, 0, stays_blank=80)))
    assert "stocking_b_line" not in all_blank  # no clearing, but nothing known either
    assert all_blank["stand_not_known"].level == "unknown"


# --- what the terminal says ---------------------------------------------------------------------


def said(rows: list[dict[str, Any]], **more: Any) -> list[str]:
    area = stand(rows, **more)
    return stand_lines.said(area, treatment.treat(area))


def test_the_terminal_says_what_is_in_no_sum() -> None:
    lines = said(rows_of(40, 20))
    assert lines[0].endswith("in all; not counted: 20 without a DBH.")
    assert "before" not in lines[1] and "25 to 40 % taken" in lines[1]
    assert "before" not in lines[3] and "after" in lines[3]
    blind = said(rows_of(40, 40))
    assert blind[0] == "What the marked trees give is not known; not counted: 40 without a DBH."
    assert not any("sawlogs" in line or "0.0" in line for line in blind)
    assert "not counted" not in said(rows_of(40, 0))[0]


def test_wood_outside_the_stand_is_in_no_sum() -> None:
    rows = rows_of(40, 0)
    beyond = {"x": 20.0, "y": 20.0, "dbh_cm": 60.0, "marked": True}
    assert said([*rows, beyond])[0] == said(rows)[0].replace(
        "in all", "in all; not counted: 1 outside the stand"
    )
    # a field the owner may use is land that is planned on
    field = MultiPolygon([box(*at(10, 10), *at(30, 30))])
    area = replace(stand([*rows, beyond]), may_use=field)
    assert "outside" not in stand_lines.said(area, treatment.treat(area))[0]


# --- few plots ----------------------------------------------------------------------------------

MARKED = [{**row, "marked": True} for row in grid(10, dbh_cm=30.0)[:10]]
AIMS = {"residual_min": "5 m^2/ha"}


def test_one_plot_tells_no_ok() -> None:
    found = told(stand(MARKED, full_list=False, plots=plots_of([4]), treatment=AIMS))
    for code in ("removal_share", "residual_low", "stocking_b_line"):
        assert found[code].level == "unknown", found[code].message
    assert "one plot says nothing" in found["removal_share"].message
    # but what is over the limit already is told as such
    low = told(stand(MARKED, full_list=False, plots=plots_of([1]),
                     treatment={"residual_min": "30 m^2/ha", "removal_max": "5 %"}))  # fmt: skip
    assert {low[c].level for c in ("removal_share", "residual_low")} == {"caution"}


def test_a_low_end_of_nothing_does_not_make_a_share_sure() -> None:
    found = told(stand(MARKED, full_list=False, plots=plots_of([0, 0, 16]), treatment=AIMS))
    share = found["removal_share"]
    assert share.level == "caution" and "by its plots it may be 100 %" in share.message
    assert found["residual_low"].level == "caution"


def test_more_stems_marked_than_the_plots_hold_is_no_clearing() -> None:
    # 20 thin trees are marked; the plots say 10 thick ones stand, with most of the basal area
    rows = [{**row, "marked": True, "dbh_cm": 20.0} for row in grid(10)[:20]]
    few = plots_of([0, 0, 0, 1] * 5, cm=90.0)  # 5 stems on 20 plots: 25 a hectare
    sparse = plots_of([0, 0, 0, 0, 0, 0, 0, 0, 0, 1], cm=90.0)  # 10 a hectare
    for plots, told_of in ((few, False), (sparse, True)):
        area = stand(rows, full_list=False, plots=plots)
        done = treatment.treat(area)
        found = told(area, done)
        assert (done.thinning.reason == MORE_THAN_STANDS) == told_of
        assert not any("clearing" in f.message for f in found.values())
        assert ("stocking_b_line" in found) != told_of
    exact = stand(rows[:10], full_list=False, plots=sparse)
    found = told(exact)["stocking_b_line"]
    assert found.level == "unknown" and "By number the marked trees are all" in found.message
    gone = told(stand([{**row, "marked": True} for row in grid(10, dbh_cm=30.0)]))
    assert "that is a clearing" in gone["stocking_b_line"].message


def test_more_basal_area_marked_than_the_plots_hold_is_over_any_limit() -> None:
    area = stand(MARKED, full_list=False, plots=plots_of([0] * 19 + [1]))  # 5 a hectare
    found = told(area)
    assert found["stand_not_known"].level == "unknown"
    share = found["removal_share"]
    assert share.level == "caution" and "hold more than all of the basal area" in share.message


# --- which trees would close an opening -----------------------------------------------------------


def test_the_trees_of_a_wide_opening_are_named_with_its_place() -> None:
    rows = grid(20, dbh_cm=30.0, height_m=25.0, species="red oak")
    marked = [math.hypot(r["x"] - 102.5, r["y"] - 102.5) < 11 for r in rows]
    trees = [
        {**r, "marked": m, "tree_id": f"N{k}"}
        for k, (r, m) in enumerate(zip(rows, marked, strict=True))
    ]
    area = stand(trees, treatment={"gap_max": "17 m"}, area={"units": "metric"})
    done = treatment.treat(area)
    (gap,) = done.canopy.gaps or ()
    found = told(area, done)["gap_wide"]
    # the tree in the middle closes it most
    (middle,) = (r["tree_id"] for r in trees if r["x"] == r["y"] == 102.5)
    assert f"round tree {middle};" in found.message
    assert f"Leaving {middle}" in found.message
    named = found.message.split("Leaving ")[1].split(" standing")[0].split(", ")
    left = stand([{**r, "marked": r["marked"] and r["tree_id"] not in named} for r in trees],
                 treatment={"gap_max": "17 m"}, area={"units": "metric"})  # fmt: skip
    again = told(left)["gap_wide"]
    assert again.value is not None and again.value < 0.9 * gap.diameter_m
    if "no farther" not in found.message:
        assert again.level == "ok"
    assert math.dist(found.at or (0, 0), at(102.5, 102.5)) < 3


def test_a_hazard_tree_or_one_on_cleared_ground_is_not_proposed_to_stay() -> None:
    rows = grid(20, dbh_cm=30.0, height_m=25.0, species="red oak")
    marked = [math.hypot(r["x"] - 102.5, r["y"] - 102.5) < 11 for r in rows]
    trees = [{**r, "marked": m, "hazard": "hung" if m else "", "tree_id": f"N{k}"}
             for k, (r, m) in enumerate(zip(rows, marked, strict=True))]  # fmt: skip
    area = stand(trees, treatment={"gap_max": "17 m"})
    assert "No marked tree in it would close it" in told(area)["gap_wide"].message
    site = box(*at(90, 90), *at(115, 115))
    free = stand([{**r, "hazard": ""} for r in trees], treatment={"gap_max": "17 m"})
    landed = told(free, treatment.treat(free, [site]), landing=site)["gap_wide"]
    assert "Leaving" not in landed.message and "A smaller landing" in landed.message


def test_a_stand_without_a_tree_listed() -> None:
    got = thinning([], [], [], 10_000, full_list=True)
    assert (got.removed, got.before, got.after, got.stems_share) == (None, None, None, None)
