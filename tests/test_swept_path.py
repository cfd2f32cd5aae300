"""Where a tractor and its load come, against closed forms.

Published: a trailer in a steady bend follows at ``R - sqrt(R^2 - L^2)`` (Pythagoras);
the area between the ways of a bar's two ends is that of a sector of its own length
(Apostol and Mnatsakanian, The method of sweeping tangents, The Mathematical Gazette,
2008); the tractrix ``x = a ln((a + sqrt(a^2 - y^2)) / y) - sqrt(a^2 - y^2)``
(plane geometry, any table of curves).
"""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from layout.geometry import at_stations, fair_curve
from layout.swept_path import Outfit, between_ways_m2, drawn, swept_pieces

Floats = NDArray[np.float64]


def outfit(load_m: float, hitch_m: float = 0.0, load_width_m: float = 1e-3) -> Outfit:
    return Outfit(hitch_m, 5.0, 1.9, load_m, load_width_m)


def circle(radius_m: float, turns: float) -> Floats:
    a = np.linspace(0.0, turns * 2 * math.pi, int(turns * 2000))
    return radius_m * np.column_stack([np.cos(a), np.sin(a)])


@pytest.mark.parametrize("radius_m", [8.0, 12.2, 25.0])
@pytest.mark.parametrize("load_m", [5.0, 7.5])
@pytest.mark.parametrize("hitch_m", [0.0, 0.9])
def test_a_steady_bend_ends_at_the_published_offset(
    radius_m: float, load_m: float, hitch_m: float
) -> None:
    hitch, tails, _ = drawn(circle(radius_m, 6.0), outfit(load_m, hitch_m), step_m=0.1)
    tail = float(np.hypot(*tails[-1]))
    offset = radius_m - math.sqrt(radius_m**2 + hitch_m**2 - load_m**2)
    assert radius_m - tail == pytest.approx(offset, abs=0.01)
    # the hitch swings outside by Pythagoras; the last few points have no way ahead of them
    assert np.hypot(*hitch[-40]) == pytest.approx(math.hypot(radius_m, hitch_m), abs=0.005)


@pytest.mark.parametrize("turn_deg", [26.6, 45.0, 90.0])
def test_the_ground_between_the_two_ways_is_a_sector(turn_deg: float) -> None:
    load_m, turn = 6.0, math.radians(turn_deg)
    out = np.array([math.cos(turn), math.sin(turn)])
    way = fair_curve(np.array([[-40.0, 0.0], [0.0, 0.0], 90.0 * out]), 9.0, spacing_m=0.05)
    hitch, tail, _ = drawn(way, outfit(load_m), step_m=0.05)
    between = Polygon(np.concatenate([hitch, tail[::-1]]))
    assert between.area == pytest.approx(between_ways_m2(load_m, turn), rel=0.01)


def test_a_load_square_to_a_straight_way_comes_in_by_the_tractrix() -> None:
    a = 5.0
    way = np.array([[0.0, -30.0], [0.0, 0.0], [12.0, 0.0]])
    hitch, tail, _ = drawn(way, outfit(a), step_m=0.01)
    on = hitch[:, 0] > 0.05
    # read at the corner itself the tangent is neither leg's: start from the first clean place
    x, y = tail[on].T
    gone = hitch[on, 0]
    curve = a * np.log((a + np.sqrt(a**2 - y**2)) / -y)
    assert np.abs(curve - curve[0] - (gone - gone[0])).max() < 1e-6
    assert np.abs(gone - x - np.sqrt(a**2 - y**2)).max() < 1e-9


ways = st.lists(
    st.tuples(st.floats(12.0, 30.0), st.floats(-60.0, 60.0)), min_size=2, max_size=6
).map(
    lambda legs: np.concatenate(
        [
            [[0.0, 0.0]],
            np.cumsum(
                [
                    [run * math.cos(math.radians(b)), run * math.sin(math.radians(b))]
                    for run, b in legs
                ],
                axis=0,
            ),
        ]
    )
)


def followed(way: Floats, load_m: float) -> tuple[Floats, Floats]:
    return drawn(fair_curve(way, 8.0), outfit(load_m, 0.9))[:2]


@given(ways, st.floats(3.0, 20.0))
def test_the_bar_keeps_its_length(way: Floats, load_m: float) -> None:
    hitch, tail = followed(way, load_m)
    assert np.hypot(*(hitch - tail).T) == pytest.approx(load_m, rel=1e-9)
    # and the tail is never dragged farther than the hitch goes
    assert (
        np.hypot(*np.diff(tail, axis=0).T).sum() <= np.hypot(*np.diff(hitch, axis=0).T).sum() + 1e-6
    )


@given(ways, st.floats(3.0, 12.0))
def test_on_the_straight_it_comes_back_in_line(way: Floats, load_m: float) -> None:
    last = way[-1] - way[-2]
    last = last / np.hypot(*last)
    longer = np.concatenate([way, [way[-1] + 8 * load_m * last]])
    hitch, tail = followed(longer, load_m)
    line = LineString(longer[-3:] if len(longer) > 2 else longer)
    off = np.atleast_1d(shapely.distance(line, shapely.points(tail)))
    straight = hitch @ last > way[-1] @ last + load_m
    late = off[straight]
    assert (np.diff(late) <= 1e-6).all()  # nearer with every metre
    assert late[-1] <= load_m * math.exp(-6.0)


@settings(max_examples=20)
@given(ways)
def test_the_ground_holds_both_ways_and_the_tractor(way: Floats) -> None:
    curve = fair_curve(way, 8.0)
    shorter = outfit(6.0, 0.9, load_width_m=1.8)
    ground = shapely.union_all(swept_pieces(curve, shorter))
    hitch, tail, _ = drawn(curve, shorter)
    room = ground.buffer(1e-6)
    for line in (hitch, tail, at_stations(curve, np.array([1.0, 2.0]))):
        assert room.covers(LineString(line))
    # a longer load never comes over less
    more = shapely.union_all(swept_pieces(curve, outfit(9.0, 0.9, load_width_m=1.8)))
    assert more.area >= ground.area - 1e-6


def test_straight_on_nothing_is_swept_beside_the_widths() -> None:
    way = np.array([[0.0, 0.0], [40.0, 0.0]])
    pieces = swept_pieces(way, outfit(6.0, 0.9, load_width_m=1.8))
    west, south, east, north = shapely.union_all(pieces).bounds
    assert (south, north) == pytest.approx((-0.95, 0.95))
    assert west == pytest.approx(-6.9)
    assert east == pytest.approx(40.0 - 0.9 + 5.0)
