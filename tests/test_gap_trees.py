"""Trees that would close an opening, held against laying the crowns again without them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from layout.canopy import Gap, canopy
from layout.gap_trees import Crowns, keeping

STAND = box(0, 0, 100, 100)
# a lattice of crowns of 8 m at 5 m: no ground between them is open
X, Y = (axis.ravel() for axis in np.meshgrid(np.arange(2.5, 100, 5.0), np.arange(2.5, 100, 5.0)))
WIDTH = np.full(X.size, 8.0)


def gaps_of(cut: np.ndarray, cleared: tuple = (), width: np.ndarray = WIDTH) -> tuple[Gap, ...]:
    got = canopy(STAND, X, Y, width, cut, full_list=True, cleared=cleared)
    assert got.gaps is not None
    return got.gaps


def left_of(gap: Gap, cut: np.ndarray, rows: tuple[int, ...], cleared: tuple = ()) -> float:
    """Lay all crowns again with some trees standing, and measure what is left of a gap."""
    now = cut.copy()
    now[list(rows)] = False
    inside = [
        other.diameter_m
        for other in gaps_of(now, cleared)
        if other.outline.intersection(gap.outline).area > 0.5 * other.area_m2
    ]
    return max(inside, default=0.0)


def test_the_tree_in_the_middle_closes_a_round_gap_most() -> None:
    cut = np.hypot(X - 52.5, Y - 52.5) < 11
    (gap,) = gaps_of(cut)
    crowns = Crowns(X, Y, WIDTH, cut, cut)
    found = keeping(gap, crowns, STAND, (), limit_m=gap.diameter_m - 0.5)
    (row,) = found.rows
    assert (X[row], Y[row]) == (52.5, 52.5)
    every = [left_of(gap, cut, (r,)) for r in np.flatnonzero(cut)]
    assert found.diameter_m == pytest.approx(min(every))
    assert keeping(gap, crowns, STAND, (), limit_m=gap.diameter_m).rows == ()


@pytest.mark.parametrize("limit_m", [15.0, 8.0, 1.0])
def test_trees_are_named_till_it_is_narrow_enough_and_three_at_most(limit_m: float) -> None:
    cut = np.hypot(X - 52.5, Y - 52.5) < 16
    trail = (LineString([(40, 0), (40, 100)]).buffer(1.6),)
    gap = gaps_of(cut, trail)[0]
    may = cut & (np.abs(X - 40) > 1.9)
    found = keeping(gap, Crowns(X, Y, WIDTH, cut, may), STAND, trail, limit_m)
    assert 1 <= len(found.rows) <= 3 and all(may[list(found.rows)])
    assert found.diameter_m == pytest.approx(left_of(gap, cut, found.rows, trail), rel=0.01)
    assert found.diameter_m < gap.diameter_m
    if len(found.rows) < 3:
        assert found.diameter_m <= limit_m
    assert found.diameter_m <= min(left_of(gap, cut, (r,), trail) for r in found.rows) + 1e-9


def test_an_opening_without_a_tree_that_may_stay_names_none() -> None:
    cut = np.zeros(X.size, dtype=bool)
    site = (box(30, 30, 60, 60),)
    cut = (X > 29) & (X < 61) & (Y > 29) & (Y < 61)
    gap = gaps_of(cut, site)[0]
    none = np.zeros(X.size, dtype=bool)
    found = keeping(gap, Crowns(X, Y, WIDTH, cut, none), STAND, site, 1.0)
    assert (found.rows, found.diameter_m) == ((), gap.diameter_m)


@given(st.sets(st.integers(0, X.size - 1), min_size=25, max_size=120), st.randoms())
def test_the_order_of_the_list_makes_no_difference(cut_rows: set[int], shuffle: object) -> None:
    cut = np.zeros(X.size, dtype=bool)
    cut[sorted(cut_rows)] = True
    gaps = gaps_of(cut)
    if not gaps:
        return
    order = np.arange(X.size)
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    one = keeping(gaps[0], Crowns(X, Y, WIDTH, cut, cut), STAND, (), 3.0)
    two = keeping(
        gaps[0], Crowns(X[order], Y[order], WIDTH, cut[order], cut[order]), STAND, (), 3.0
    )
    assert tuple(order[list(two.rows)]) == one.rows
    assert two.diameter_m == one.diameter_m <= gaps[0].diameter_m
    assert math.isfinite(one.diameter_m)
