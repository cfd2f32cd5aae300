"""How far a dragged load cuts in, against the tractrix and a step-by-step drag.

Published forms: the tractrix of a point drawn along a straight line,
``s = L ln((L + sqrt(L^2 - y^2)) / y)`` for the hitch (plane geometry, any table of
curves); the off-tracking of a trailer in a steady bend, ``R - sqrt(R^2 - L^2)``
(Pythagoras); ``L^2 / 8R`` for a chord, the least any load cuts in.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from layout.dragging import cut_in, trailed

Floats = NDArray[np.float64]
LOG_M = 16.5 * 0.3048


def circle(radius_m: float, turns: float = 2.0) -> Floats:
    a = np.linspace(0.0, turns * 2 * np.pi, 4001)
    return radius_m * np.column_stack([np.cos(a), np.sin(a)])


def dragged(way: Floats, length_m: float, step_m: float = 0.002) -> Floats:
    """Drag a tail along in small steps: each time it is drawn straight toward the front."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
    fine = np.unique(np.concatenate([along, np.arange(0.0, along[-1], step_m)]))
    front = np.column_stack([np.interp(fine, along, way[:, k]) for k in (0, 1)])
    course = way[1] - way[0]
    tail = way[0] - length_m * course / np.hypot(*course)
    out = []
    for spot in front:
        away = tail - spot
        tail = spot + length_m * away / np.hypot(*away)
        out.append(tail)
    return np.array(out)[np.isin(fine, along)]


@pytest.mark.parametrize(("radius_m", "length_m"), [(7.62, LOG_M), (15.0, 4.0), (12.0, 11.0)])
def test_a_steady_bend_settles_at_the_published_radius(radius_m: float, length_m: float) -> None:
    tail = trailed(circle(radius_m, 6.0), length_m)
    settled = math.sqrt(radius_m**2 - length_m**2)
    assert np.hypot(*tail[-1]) == pytest.approx(settled, abs=2e-3)


@pytest.mark.parametrize("driven", [0.5, 3.0, 12.0])
def test_a_load_swung_straight_follows_the_tractrix(driven: float) -> None:
    # it lies square to the new course, as after a right-angled corner
    way = np.array([[0.0, -20.0], [0.0, 0.0], [driven, 0.0]])
    x, y = trailed(way, 4.0)[-1]
    y = abs(y)
    hitch = 4.0 * math.log((4.0 + math.sqrt(16.0 - y * y)) / y)
    assert hitch == pytest.approx(driven, abs=1e-9)
    assert x == pytest.approx(driven - math.sqrt(16.0 - y * y), abs=1e-9)


def test_stepping_along_gives_the_same() -> None:
    rng = np.random.default_rng(3)
    way = np.cumsum(rng.uniform(0.5, 3.0, (12, 2)) * [1.0, 0.6], axis=0)
    assert np.abs(trailed(way, 4.0) - dragged(way, 4.0)).max() < 0.01


def test_a_straight_way_is_not_left() -> None:
    _, left, right = cut_in(np.array([[0.0, 0.0], [30.0, 40.0]]), LOG_M)
    assert left.max() < 1e-9
    assert right.max() < 1e-9


@pytest.mark.parametrize("radius_m", [8.0, 12.0, 30.0])
def test_a_bend_is_cut_by_more_than_a_chord_and_no_more_than_a_trailer(radius_m: float) -> None:
    at, left, right = cut_in(circle(radius_m), LOG_M)
    settled = (at > 20.0) & (at < at[-1] - LOG_M)  # the last length is not driven through
    most = radius_m - math.sqrt(radius_m**2 - LOG_M**2)
    assert right.max() < 1e-6
    # half-metre points lie a little inside the circle: 0.25^2 / 2R of it
    assert left[settled].max() == pytest.approx(most, abs=0.03)
    assert left[settled].min() > LOG_M**2 / (8 * radius_m)


def test_a_corner_is_cut_on_its_inside_and_where_it_is() -> None:
    way = np.array([[40.0, 140.0], [0.0, 100.0], [0.0, 40.0]])  # from north-east, then south
    at, left, right = cut_in(way, LOG_M)
    assert right.max() < 1e-9
    corner = math.hypot(40, 40)
    assert at[np.argmax(left)] == pytest.approx(corner, abs=1.5)
    # the deepest a chord can lie in a corner of 135 degrees: both ends 2.5 m from it
    assert left.max() > LOG_M / 2 * math.cos(math.radians(67.5)) - 0.1
    assert left.max() < LOG_M * math.sin(math.radians(45))


@given(
    st.lists(st.floats(-0.6, 0.6), min_size=2, max_size=12),
    st.floats(0.0, 6.28),
    st.floats(2.0, 25.0),
)
def test_turned_it_is_the_same_and_mirrored_left_is_right(
    turns: list[float], angle: float, length_m: float
) -> None:
    heading = np.cumsum(turns)
    legs = 6.0 * np.column_stack([np.cos(heading), np.sin(heading)])
    way = np.concatenate([np.zeros((1, 2)), np.cumsum(legs, axis=0)])
    _, left, right = cut_in(way, length_m)
    cos, sin = math.cos(angle), math.sin(angle)
    _, left_t, right_t = cut_in(way @ np.array([[cos, sin], [-sin, cos]]), length_m)
    _, left_m, right_m = cut_in(way * [1.0, -1.0], length_m)
    # a point of the load half-way between two stations may fall to either
    for a, b in ((left, left_t), (right, right_t), (left, right_m), (right, left_m)):
        assert abs(a.max() - b.max()) < 0.05
        assert abs(a.sum() - b.sum()) < 0.05 * max(1.0, a.sum())
