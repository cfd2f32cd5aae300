"""Log rules, held against statutes, printed tables and closed forms.

Printed sources: Michigan Compiled Laws 290.401 (Act 208 of 1941), the formula of
International 1/4-inch board feet; Clark 1906, closed forms of the 1/8-inch rule
(Larsen, University of Missouri, Forestry Functions); a printed Doyle table; Bruce &
Schumacher 1950, the Scribner formula. The figures are typed here on purpose.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import cubic, log_rules
from layout.errors import InputError, InputFaults

INCH_CM, FOOT_M = 2.54, 0.3048
FT3_M3 = 0.3048**3
LENGTHS_FT = [8, 10, 12, 14, 16]

# The statute's formula on whole inches, to the nearest 5 board feet.
INTERNATIONAL = {
    8: [15, 20, 25, 35, 40],
    10: [30, 35, 45, 55, 65],
    12: [45, 55, 70, 85, 95],
    14: [65, 80, 100, 115, 135],
    16: [85, 110, 130, 155, 180],
    18: [110, 140, 170, 200, 230],
    20: [135, 175, 210, 250, 290],
    22: [170, 215, 260, 305, 355],
    24: [205, 255, 310, 370, 425],
    26: [240, 305, 370, 435, 500],
    28: [280, 355, 430, 505, 585],
    30: [325, 410, 495, 585, 675],
}
DOYLE = {
    8: [8, 10, 12, 14, 16],
    10: [18, 23, 27, 32, 36],
    12: [32, 40, 48, 56, 64],
    14: [50, 63, 75, 88, 100],
    16: [72, 90, 108, 126, 144],
    18: [98, 123, 147, 172, 196],
    20: [128, 160, 192, 224, 256],
    22: [162, 203, 243, 284, 324],
    24: [200, 250, 300, 350, 400],
    26: [242, 303, 363, 424, 484],
    28: [288, 360, 432, 504, 576],
    30: [338, 423, 507, 592, 676],
}


def scaled(rule: log_rules.BoardRule, inches: float, feet: float) -> float:
    return float(log_rules.scaled_bf(rule, inches * INCH_CM, feet * FOOT_M))


@pytest.mark.parametrize("inches", INTERNATIONAL)
def test_international_quarter_table(inches: int) -> None:
    # How the odd 2 ft of 10- and 14-ft logs count differs between printings by one step.
    slack = {8: 0, 10: 5, 12: 0, 14: 5, 16: 0}
    for feet, printed in zip(LENGTHS_FT, INTERNATIONAL[inches], strict=True):
        got = scaled("international-quarter", inches, feet)
        assert abs(got - printed) <= slack[feet], (inches, feet, got)


def test_our_reading_of_odd_lengths_gives_the_table_but_for_boundary_cells() -> None:
    off = [
        (inches, feet)
        for inches, row in INTERNATIONAL.items()
        for feet, printed in zip(LENGTHS_FT, row, strict=True)
        if scaled("international-quarter", inches, feet) != printed
    ]
    assert len(off) <= 3, off


@pytest.mark.parametrize("inches", DOYLE)
def test_every_cell_of_the_doyle_table(inches: int) -> None:
    assert [scaled("doyle", inches, feet) for feet in LENGTHS_FT] == DOYLE[inches]


CLOSED = {
    4: (0.22, -0.71, 0.0),
    8: (0.44, -1.20, -0.30),
    12: (0.66, -1.47, -0.79),
    16: (0.88, -1.52, -1.36),
    20: (1.10, -1.35, -1.90),
}


@pytest.mark.parametrize("feet", CLOSED)
def test_sections_add_up_to_the_closed_forms_of_1906(feet: int) -> None:
    a, b, c = CLOSED[feet]
    d = np.arange(4.0, 41.0)
    # The printed constants are rounded to two decimals.
    np.testing.assert_allclose(
        log_rules.international_eighth_bf(d, feet), a * d**2 + b * d + c, atol=0.008
    )


@pytest.mark.parametrize(
    ("rule", "inches", "feet", "board_feet"),
    [
        ("international-quarter", 10, 16, 64.64),
        ("international-quarter", 12, 8, 44.05),
        ("international-quarter", 16, 16, 180.6),
        ("international-quarter", 20, 12, 211.5),
        ("international-quarter", 30, 16, 674.1),
        ("international-quarter", 0.78 * 16, 16, 105.6),
        ("doyle", 10, 16, 36),
        ("doyle", 20, 16, 256),
        ("doyle", 30, 10, 422.5),
        ("scribner", 28, 16, 559.4),
        ("scribner", 10, 16, 55),
    ],
)
def test_unrounded_board_feet(
    rule: log_rules.BoardRule, inches: float, feet: float, board_feet: float
) -> None:
    got = log_rules.board_feet(rule, inches * INCH_CM, feet * FOOT_M)
    assert float(got) == pytest.approx(board_feet, abs=0.06)


def test_international_eighth_10_in_16_ft() -> None:
    assert float(log_rules.international_eighth_bf(10, 16)) == pytest.approx(71.44, abs=5e-3)


def test_the_scribner_formula_is_not_the_decimal_c_table() -> None:
    # Farm and Garden Rule Book: Decimal C gives 660 for 30 in x 16 ft and 5 for 6 in x 8 ft.
    assert float(log_rules.scribner_bf(30, 16)) == pytest.approx(647, abs=0.5)
    assert float(log_rules.scribner_bf(6, 8)) == pytest.approx(6.2, abs=0.05)


def test_where_the_scribner_formula_goes_on_without_its_table() -> None:
    beyond = log_rules.beyond_scribner_table(
        np.array([12, 11.9, 44, 44.1, 20, 20, 20]) * INCH_CM,
        np.array([16, 16, 16, 16, 10, 9.9, 24.1]) * FOOT_M,
    )
    assert beyond.tolist() == [False, True, False, True, False, True, True]


def test_small_ends_give_nothing_rather_than_a_square_of_a_shortfall() -> None:
    assert log_rules.doyle_bf([0, 1, 3.9, 4], 16).tolist() == [0, 0, 0, 0]
    assert log_rules.scribner_bf([0, 2, 3.8], 16).tolist() == [0, 0, 0]
    assert log_rules.international_quarter_bf([0, 1, 3], 4).tolist() == [0, 0, 0]


def test_cubic_of_a_10_and_12_in_log() -> None:
    small, middle, large, long = 10 * INCH_CM, 11 * INCH_CM, 12 * INCH_CM, 16 * FOOT_M
    smalian = float(cubic.smalian_m3(small, large, long)) / FT3_M3
    huber = float(cubic.huber_m3(middle, long)) / FT3_M3
    newton = float(cubic.newton_m3(small, middle, large, long)) / FT3_M3
    # Larsen prints 10.647 for Smalian and 10.588 for a cone; Newton is exact for a cone.
    assert smalian == pytest.approx(10.647, abs=5e-4)
    assert huber == pytest.approx(10.559, abs=5e-4)
    assert newton == pytest.approx(10.588, abs=5e-4)


def test_the_three_cubic_formulas_agree_on_a_paraboloid() -> None:
    # Area falls evenly along a paraboloid, for which Smalian and Huber are exact.
    small, large = 20.0, 34.0
    middle = np.sqrt((small**2 + large**2) / 2)
    exact = np.pi / 4 * middle**2 / 10_000 * 5
    assert float(cubic.smalian_m3(small, large, 5)) == pytest.approx(exact)
    assert float(cubic.huber_m3(middle, 5)) == pytest.approx(exact)
    assert float(cubic.newton_m3(small, middle, large, 5)) == pytest.approx(exact)


def test_cords_and_tons() -> None:
    assert float(cubic.cords(400 * FT3_M3, 80 * FT3_M3)) == pytest.approx(5)
    assert float(cubic.cords(128 * FT3_M3, 128 * FT3_M3)) == pytest.approx(1)
    assert float(cubic.short_tons(907.18474)) == pytest.approx(1, rel=1e-12)
    for solid_ft3 in (0, -3, 129):
        with pytest.raises(InputError, match=f"cannot hold {solid_ft3} cubic feet"):
            cubic.cords(1.0, solid_ft3 * FT3_M3)


def test_every_impossible_log_is_told_with_its_place() -> None:
    with pytest.raises(InputFaults) as caught:
        log_rules.board_feet("doyle", np.array([30, -5, 900, 30]), np.array([4.9, 4.9, 4.9, 0.0]))
    assert [fault.split(":")[0] for fault in caught.value.faults] == ["log 2", "log 3", "log 4"]
    with pytest.raises(InputFaults, match=r"log 1: a length of 61 ft"):
        log_rules.scribner_bf(20, 61)
    with pytest.raises(InputError, match="'vermont' must be one of international-quarter"):
        log_rules.board_feet("vermont", 30, 4)  # type: ignore[arg-type]


def test_every_impossible_end_is_told_at_once() -> None:
    with pytest.raises(InputFaults) as caught:
        cubic.newton_m3([20, -1, 20], 25, [30, 30, 900], [5, 5, 0])
    assert [fault.split(":")[0] for fault in caught.value.faults] == ["log 2", "log 3"]
    assert "20, 25, 900 cm across and 0 m long" in caught.value.faults[1]


def test_many_faults_are_cut_short() -> None:
    with pytest.raises(InputFaults) as caught:
        log_rules.doyle_bf(np.full(50, -1.0), 16)
    assert len(caught.value.faults) == 21
    assert caught.value.faults[-1] == "and 30 more faults"


@pytest.mark.parametrize("rule", log_rules.BOARD_RULES)
def test_unknown_stays_unknown(rule: log_rules.BoardRule) -> None:
    got = log_rules.board_feet(rule, [np.nan, 30, 30], [5, np.nan, 5])
    assert np.isnan(got).tolist() == [True, True, False]


inches = st.floats(8, 24)
feet = st.floats(8, 16)


@given(inches, feet)
def test_small_logs_doyle_below_scribner_below_international(d: float, length: float) -> None:
    doyle, scribner, international = (
        float(rule(d, length))
        for rule in (
            log_rules.doyle_bf,
            log_rules.scribner_bf,
            log_rules.international_quarter_bf,
        )
    )
    assert doyle < scribner < international


@given(
    st.sampled_from(log_rules.BOARD_RULES),
    st.floats(12, 100),
    st.floats(2.5, 18),
    st.floats(1.01, 1.5),
)
def test_a_thicker_or_longer_log_scales_more(
    rule: log_rules.BoardRule, dib_cm: float, length_m: float, more: float
) -> None:
    one = float(log_rules.board_feet(rule, dib_cm, length_m))
    assert float(log_rules.board_feet(rule, dib_cm * more, length_m)) > one
    if one > 0 and length_m * more <= 18.288:
        assert float(log_rules.board_feet(rule, dib_cm, length_m * more)) > one


@given(st.integers(6, 60), st.sampled_from(LENGTHS_FT))
def test_metric_and_inches_give_the_same_log(whole_in: int, length: int) -> None:
    metric = log_rules.board_feet("international-quarter", whole_in * INCH_CM, length * FOOT_M)
    printed = log_rules.international_quarter_bf(whole_in, length)
    assert float(metric) == pytest.approx(float(printed), rel=1e-12)
    near = scaled("international-quarter", whole_in + 0.4, length)
    assert near == scaled("international-quarter", whole_in, length)
