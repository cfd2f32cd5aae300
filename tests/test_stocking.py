"""Stocking, density and quotient, held against the printed chart and hand sums.

Printed sources: Gingrich 1967, stocking chart of upland hardwoods (a silviculture
lecture reads it at 200 trees and 90 square feet an acre: 80 %, B-line about 65);
Ducey & Knapp 2010, relative density of mixed stands. Typed here on purpose.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import stocking
from layout.errors import InputError, InputFaults
from layout.stocking import Condition, DiameterClass
from layout.thinning import MARKED_ONLY, MORE_THAN_STANDS, NO_DBH, Standing, thinning

INCH_CM = 2.54
ACRE_HA = 0.40468564224
FT2_ACRE = 0.229568411  # m2 a hectare
N, BA = 200 / ACRE_HA, 90 * FT2_ACRE

# QMD in inches: trees and square feet an acre on the A-line, and on the B-line.
LINES = {
    6: (490.7, 96.4, 287.5, 56.4),
    8: (307.1, 107.2, 179.9, 62.8),
    10: (211.5, 115.4, 123.2, 67.2),
    12: (155.0, 121.7, 89.6, 70.4),
    14: (118.6, 126.8, 68.1, 72.8),
    16: (93.8, 130.9, 53.6, 74.8),
    18: (76.0, 134.4, 43.2, 76.3),
}


def test_quadratic_mean_diameter_of_200_trees_and_90_square_feet() -> None:
    got = stocking.qmd_cm(N, BA)
    assert got is not None
    assert got / INCH_CM == pytest.approx(9.083, abs=5e-4)


def test_the_chart_read_at_200_trees_and_90_square_feet() -> None:
    assert stocking.chart_stocking_pct(N, BA) == pytest.approx(80.4, abs=0.05)
    quadratic = stocking.qmd_cm(N, BA)
    assert quadratic is not None
    b_line = stocking.line_m2_per_ha("B", quadratic) / FT2_ACRE
    assert b_line == pytest.approx(65.4, abs=0.05)
    # 0.00307 as the third coefficient, which some copies have, would read 78.8.
    assert stocking.chart_stocking_pct(N, BA) > 79.5


def test_the_chart_at_200_trees_and_100_square_feet() -> None:
    assert stocking.chart_stocking_pct(N, 100 * FT2_ACRE) == pytest.approx(87.86, abs=0.01)


@pytest.mark.parametrize("inches", LINES)
def test_both_lines_of_the_chart(inches: int) -> None:
    a_trees, a_area, b_trees, b_area = LINES[inches]
    for line, trees, area in (("A", a_trees, a_area), ("B", b_trees, b_area)):
        got = stocking.line_m2_per_ha(line, inches * INCH_CM)
        assert got / FT2_ACRE == pytest.approx(area, abs=0.06)
        stem = float(stocking.basal_area_m2(inches * INCH_CM))
        assert got / stem * ACRE_HA == pytest.approx(trees, abs=0.06)


def test_the_b_line_is_open_grown_crowns_touching() -> None:
    # Crown 3.12 + 1.829 D feet (Krajicek 1961) as a disc, in percent of an acre; the
    # printed coefficients are that, rounded.
    inches = np.arange(4.0, 24.0)
    share = 100 * np.pi / 4 * (3.12 + 1.829 * inches) ** 2 / 43560
    a, b, c = stocking.B_LINE
    np.testing.assert_allclose(a + b * inches + c * inches**2, share, rtol=0.006)


def test_relative_density_of_300_stems_of_30_cm() -> None:
    got = stocking.relative_density(["red oak"], [30.0], [300.0])  # specific gravity 0.56
    assert got == pytest.approx(0.5506, abs=1e-4)


def even(name: str, dbh_in: float, per_acre: float) -> Condition:
    return stocking.condition([name], [dbh_in * INCH_CM], per_acre / ACRE_HA)


def test_a_stand_of_one_size_sits_on_the_chart() -> None:
    # One size: mean and QMD are one, so the chart's conversion line (0.3 in off) matters.
    got = even("red oak", 10, 211.5)
    assert got.qmd_cm == pytest.approx(25.4)
    assert got.stocking_pct == pytest.approx(102, abs=0.5)
    assert got.a_line_m2_per_ha == pytest.approx(115.4 * FT2_ACRE, rel=1e-3)
    assert got.b_line_m2_per_ha == pytest.approx(67.2 * FT2_ACRE, rel=1e-3)
    assert got.basal_area_m2_per_ha == pytest.approx(115.4 * FT2_ACRE, rel=1e-3)
    assert got.hardwood_share == 1


def test_sums_by_hand() -> None:
    names = ["red oak", "RO", "white pine", "hemlock"]
    got = stocking.condition(names, np.array([12, 8, 16, np.nan]) * INCH_CM, 10 / ACRE_HA)
    # per acre: 30 stems of 12, 8 and 16 in
    assert got.stems_per_ha * ACRE_HA == pytest.approx(30)
    square_inches = 10 * (144 + 64 + 256)
    assert got.basal_area_m2_per_ha / FT2_ACRE == pytest.approx(0.005454154 * square_inches)
    assert got.stocking_pct == pytest.approx(
        -0.00507 * 30 + 0.01698 * 360 + 0.00317 * square_inches
    )
    assert got.hardwood_share == pytest.approx((144 + 64) / 464)
    assert got.without_dbh == 1
    assert [s.name for s in got.species][:2] == ["eastern white pine", "northern red oak"]
    assert got.species[1].stems_per_ha * ACRE_HA == pytest.approx(20)
    assert sum(s.basal_area_m2_per_ha for s in got.species) == pytest.approx(
        got.basal_area_m2_per_ha
    )


def test_classes_are_centred_on_even_inches() -> None:
    dbh = np.array([9.0, 10.99, 11.0, 13.0, 17.5]) * INCH_CM
    got = stocking.diameter_classes(dbh, 1.0)
    assert [round(c.middle_cm / INCH_CM) for c in got] == [10, 12, 14, 16, 18]
    assert [c.stems_per_ha for c in got] == [2, 1, 1, 0, 1]


def test_a_quotient_put_in_comes_out() -> None:
    # County marking guide, northern hardwoods: q 1.6
    classes = [DiameterClass(2 * i * INCH_CM, 200 * 1.6**-i) for i in range(3, 11)]
    q, reason = stocking.quotient(classes)
    assert q == pytest.approx(1.6) and reason == ""
    holed = [c for c in classes if c.middle_cm != classes[3].middle_cm]
    assert stocking.quotient(holed)[0] == pytest.approx(1.6)


def test_no_quotient_where_it_says_nothing() -> None:
    two = [DiameterClass(20, 10), DiameterClass(25, 5)]
    assert stocking.quotient(two) == (None, "only 2 diameter classes hold stems; 3 are needed")
    flat = [DiameterClass(d, 10) for d in (20, 25, 30)]
    q, reason = stocking.quotient(flat)
    assert q is None and "large stems are as many" in reason


def test_nothing_stands() -> None:
    for got in (stocking.condition([], [], 1.0), stocking.condition(["red oak"], [np.nan], 5.0)):
        assert got.qmd_cm is None and got.a_line_m2_per_ha is None and got.q is None
        assert got.stems_per_ha == got.basal_area_m2_per_ha == got.stocking_pct == 0
    assert stocking.chart_stocking_pct(0, 0) == 0


def test_off_the_chart_and_bad_sizes_are_refused() -> None:
    with pytest.raises(InputError, match="not 'C'"):
        stocking.line_m2_per_ha("C", 25)
    with pytest.raises(InputError, match="120 cm is off the stocking chart"):
        stocking.line_m2_per_ha("A", 120)
    assert even("red oak", 0.5, 900).a_line_m2_per_ha is None
    with pytest.raises(InputFaults, match="line 9: a DBH of -3 cm"):
        stocking.condition(["red oak"], [-3], 1.0, rows=["line 9"])


ACRE_M2 = ACRE_HA * 10_000


def test_before_and_after_of_a_full_list() -> None:
    names, dbh = ["red oak"] * 4, np.array([10, 12, 14, 16]) * INCH_CM
    got = thinning(names, dbh, [True, False, True, False], 2 * ACRE_M2, full_list=True)
    assert got.before and got.after and got.removed
    assert got.before.stems_per_ha * ACRE_HA == pytest.approx(2)
    assert got.after.stems_per_ha * ACRE_HA == pytest.approx(1)
    assert got.stems_share == pytest.approx(0.5)
    assert got.basal_area_share == pytest.approx((100 + 196) / (100 + 144 + 196 + 256))
    assert got.reason == "" and not got.from_plots


def test_marked_trees_alone_do_not_tell_what_stands() -> None:
    got = thinning(["red oak"] * 2, [30, 40], [True, True], ACRE_M2, full_list=False)
    assert got.before is None and got.after is None
    assert got.stems_share is None and got.basal_area_share is None
    assert got.reason == MARKED_ONLY
    assert got.removed is not None
    assert got.removed.stems_per_ha * ACRE_HA == pytest.approx(2)


def test_marked_trees_and_plots_tell_it() -> None:
    # The plots say 100 oaks of 12 in an acre; 20 of them are marked on 2 acres: 10 an acre.
    plots = Standing(("red oak",), np.array([12 * INCH_CM]), np.array([100 / ACRE_HA]))
    got = thinning(
        ["red oak"] * 20,
        [12 * INCH_CM] * 20,
        [True] * 20,
        2 * ACRE_M2,
        full_list=False,
        plots=plots,
    )
    assert got.after is not None and got.from_plots
    assert got.after.stems_per_ha * ACRE_HA == pytest.approx(90)
    assert got.after.qmd_cm == pytest.approx(12 * INCH_CM)
    assert got.basal_area_share == pytest.approx(0.1)


def test_more_marked_than_the_plots_hold() -> None:
    plots = Standing(("red oak",), np.array([30.0]), np.array([5.0]))
    got = thinning(["red oak"] * 50, [30] * 50, [True] * 50, ACRE_M2, full_list=False, plots=plots)
    assert got.before is not None and got.after is None
    assert got.reason == MORE_THAN_STANDS


def test_no_diameters_no_figures() -> None:
    got = thinning(["red oak"] * 2, [np.nan] * 2, [True, False], ACRE_M2, full_list=True)
    assert (got.removed, got.before, got.after, got.reason) == (None, None, None, NO_DBH)


def test_nothing_marked_takes_nothing() -> None:
    got = thinning(["red oak"], [30], [False], ACRE_M2, full_list=True)
    assert got.removed is None and got.stems_share == 0 and got.basal_area_share == 0
    with pytest.raises(InputError, match="0 square metres"):
        thinning(["red oak"], [30], [False], 0, full_list=True)


stands = st.lists(
    st.tuples(
        st.sampled_from(["red oak", "hemlock", "white ash", "spruce"]),
        st.floats(6, 90),
        st.booleans(),
    ),
    min_size=1,
    max_size=40,
)


@given(stands, st.randoms(use_true_random=False))
def test_parts_add_up_whatever_the_order(
    rows: list[tuple[str, float, bool]], shuffle: object
) -> None:
    order = list(range(len(rows)))
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    names, dbh, cut = (list(column) for column in zip(*rows, strict=True))
    one = thinning(names, dbh, cut, 5_000, full_list=True)
    two = thinning(
        [names[i] for i in order],
        [dbh[i] for i in order],
        [cut[i] for i in order],
        5_000,
        full_list=True,
    )
    assert one.before and one.after and two.after
    taken = one.removed.basal_area_m2_per_ha if one.removed else 0.0
    assert one.after.basal_area_m2_per_ha + taken == pytest.approx(one.before.basal_area_m2_per_ha)
    for name in ("stems_per_ha", "basal_area_m2_per_ha", "stocking_pct", "relative_density"):
        assert getattr(two.after, name) == pytest.approx(getattr(one.after, name))
        assert getattr(one.after, name) <= getattr(one.before, name) + 1e-9
    assert one.basal_area_share is not None and 0 <= one.basal_area_share <= 1 + 1e-12
