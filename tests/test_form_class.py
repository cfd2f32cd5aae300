"""The quick tree volumes, held against printed examples and against the log rules.

Printed sources: Wiant 1986 (Northern Journal of Applied Forestry 3:124), three worked
examples; Mesavage & Girard 1946, form class 78. The figures are typed here on purpose.
"""

import csv

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import form_class
from layout.errors import InputError, InputFaults
from layout.log_rules import BOARD_RULES, BoardRule, board_feet

INCH_CM, FOOT_M = 2.54, 0.3048


@pytest.mark.parametrize(
    ("rule", "class_78", "class_82"),
    [
        ("international-quarter", 519.665, 582.025),
        ("scribner", 484.581, 542.730),
        ("doyle", 428.942, 480.415),
    ],
)
def test_the_printed_examples_24_in_two_and_a_half_logs(
    rule: BoardRule, class_78: float, class_82: float
) -> None:
    got = float(form_class.regression_bf(rule, 24, 2.5))
    assert got == pytest.approx(class_78, abs=6e-4)
    assert got * (1 + 0.03 * 4) == pytest.approx(class_82, abs=6e-4)


def test_a_form_class_is_worth_three_percent() -> None:
    dbh, logs = [18 * INCH_CM, 36 * INCH_CM], [2, 2]
    at_78, _ = form_class.tree_bf("doyle", dbh, logs)
    at_82, how = form_class.tree_bf("doyle", dbh, logs, 82)
    np.testing.assert_allclose(at_82, at_78 * 1.12)
    assert how == ("table", "regression")


@pytest.mark.parametrize("rule", BOARD_RULES)
def test_the_column_of_one_log_is_the_log_rule_itself(rule: BoardRule) -> None:
    # A 16-ft log whose small end is 78 % of DBH; 16 in: 105.6, printed 106.
    dbh, cells = form_class._table(rule)
    log = board_feet(rule, 0.78 * dbh * INCH_CM, 16 * FOOT_M)
    np.testing.assert_allclose(cells[:, 0], log, atol=1.6)
    sixteen = float(board_feet("international-quarter", 12.48 * INCH_CM, 16 * FOOT_M))
    assert sixteen == pytest.approx(105.6, abs=0.05)


@pytest.mark.parametrize("rule", BOARD_RULES)
def test_cells_and_regression_agree_from_12_in_up(rule: BoardRule) -> None:
    dbh, cells = form_class._table(rule)
    logs, inches = np.meshgrid(form_class.LOG_COUNTS, dbh)
    both = np.isfinite(cells) & (inches >= 12)
    ratio = form_class.regression_bf(rule, inches, logs)[both] / cells[both]
    assert ratio.min() > 0.96 and ratio.max() < 1.045


def test_below_12_in_the_regression_is_not_used() -> None:
    ten = form_class.regression_bf("doyle", 10, 3)
    assert float(ten) > 1.2 * 22  # the table says 22
    volume, how = form_class.tree_bf("doyle", np.array([10, 10, 9, 11]) * INCH_CM, [3, 3.5, 2, 2])
    assert how == ("table", "outside", "outside", "table")
    assert volume[0] == 22 and np.isnan(volume[1:3]).all()
    assert volume[3] == pytest.approx((20 + 43) / 2)


def test_between_and_beyond_the_cells() -> None:
    volume, how = form_class.tree_bf(
        "international-quarter",
        np.array([16, 17, 16, 12, 34, 30, 45, 20, 20, np.nan]) * INCH_CM,
        [2, 2, 2.25, 3.5, 3, 5, 3, 0, 0.5, 2],
    )
    assert how == (
        *("table",) * 3,
        *("regression",) * 3,
        "outside",
        "no logs",
        "outside",
        "unknown",
    )
    np.testing.assert_allclose(volume[:3], [180, (180 + 233) / 2, (180 + 210) / 2])
    assert volume[7] == 0
    assert np.isnan(volume[[6, 8, 9]]).all()


def test_bad_rules_classes_and_counts_are_refused() -> None:
    with pytest.raises(InputError, match="'decimal-c' must be one of"):
        form_class.tree_bf("decimal-c", [40], [2])  # type: ignore[arg-type]
    with pytest.raises(InputError, match="form class of 40 is not 60 to 95"):
        form_class.tree_bf("doyle", [40], [2], 40)
    with pytest.raises(InputFaults, match="stem 2: -1 logs"):
        form_class.tree_bf("doyle", [40, 40], [2, -1])


def test_every_row_of_the_table_names_its_source() -> None:
    with form_class.TABLE_FILE.open(encoding="utf-8", newline="") as file:
        assert all("from memory" in row["source"] for row in csv.DictReader(file))


@given(st.sampled_from(BOARD_RULES), st.floats(12, 38), st.floats(1, 4), st.floats(0.2, 2))
def test_more_tree_more_board_feet(
    rule: BoardRule, dbh_in: float, logs: float, wider: float
) -> None:
    one, how = form_class.tree_bf(rule, [dbh_in * INCH_CM], [logs])
    thick, other = form_class.tree_bf(rule, [(dbh_in + wider) * INCH_CM], [logs])
    if how == other:  # from cells to regression volumes may step by a few percent
        assert thick[0] > one[0]
    else:
        assert thick[0] > 0.95 * one[0]
