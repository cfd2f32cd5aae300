"""Turning places: pads, the Y, and how far an outfit backs, against plane geometry.

The Y at 25 ft radius through 135 degrees has tangents of radius * tan(67.5 deg)
= 60 ft and an arc of radius * 3 pi / 4; the backing rule is worked by hand on a
small network.
"""

import math

import numpy as np
import pytest
from small_turning import flat_area, judge_on, tilted

from layout import fairline, terrain, turning
from layout.geometry import along
from layout.grid import Dem
from layout.turning import Way, backing_m

RADIUS = 7.62


def test_backing_by_hand() -> None:
    # Main 0, spur 5 at 200 m, spur 7 at 120 m of spur 5.
    spot = Way(((0, 200.0), (5, 40.0)))
    assert backing_m(spot, Way(((0, 0.0),))) == 240.0  # from the landing
    assert backing_m(spot, Way(((0, 150.0),))) == 90.0  # a pad short of the mouth
    assert backing_m(spot, Way(((0, 250.0),))) == 40.0  # beyond the mouth: only up the spur
    assert backing_m(spot, Way(((0, 200.0), (5, 60.0)))) == 0.0  # beyond the position
    assert backing_m(spot, Way(((0, 200.0), (5, 30.0)))) == 10.0
    assert backing_m(spot, Way(((0, 260.0), (9, 30.0)))) == 40.0  # on another spur
    assert backing_m(spot, Way(((0, 200.0), (5, 120.0), (7, 9.0)))) == 0.0
    deep = Way(((0, 200.0), (5, 120.0), (7, 30.0)))
    assert backing_m(deep, Way(((0, 300.0),))) == 150.0
    assert backing_m(deep, Way(((0, 200.0), (5, 100.0)))) == 50.0
    assert backing_m(Way(((0, 90.0),)), Way(((0, 400.0),))) == 0.0


@pytest.mark.parametrize(("slope", "kept"), [(0.0, 3), (9.0, 3), (11.0, 0)])
def test_a_pad_needs_level_ground(slope: float, kept: int) -> None:
    ground = terrain.build(tilted(slope))
    at = np.array([0.0, 10.0, 20.0])
    room = turning.pad_room(flat_area(), 6.0)
    found = turning.pads(ground, room, at, 100 + at, np.full(3, 100.0), 6.0)
    assert found.at_m.size == kept
    assert found.slope_pct == pytest.approx(np.full(kept, slope), abs=1e-3)


def test_a_step_in_the_ground_is_no_pad() -> None:
    dem = tilted(0.0)
    z = dem.z.copy()
    z[:, 100:] += 1.0
    ground = terrain.build(dem.with_z(z))
    at = np.zeros(1)
    room = turning.pad_room(flat_area(), 6.0)
    assert turning.pads(ground, room, at, at + 100, at + 100, 6.0).at_m.size == 0


def judge(dem: Dem) -> fairline.Judge:
    return judge_on(dem, RADIUS)


def test_the_y_of_a_straight_spur_has_its_tangents_and_radius() -> None:
    main = np.array([[20.0, 100.0], [180.0, 100.0]])
    spur = np.array([[80.0, 100.0], [80 + 60 / math.sqrt(2), 100 + 60 / math.sqrt(2)]])
    y = turning.y_place(judge(tilted(0.0)), main, 0, 60.0, spur, 1, 5.0)
    assert y is not None
    assert y.line is not None
    assert y.kind == "y"
    tangent = RADIUS * math.tan(math.radians(67.5))
    assert tangent == pytest.approx(18.4, abs=0.05)  # 60 ft
    rest = (18.5 - tangent) * 2  # straight bits before and after the arc
    assert along(y.line)[-1] == pytest.approx(RADIUS * 3 * math.pi / 4 + rest, abs=0.02)
    assert y.at_m == pytest.approx(60 + 18.5)
    assert y.needs_branch == 1
    assert y.needs_m == pytest.approx(18.5 + 5.0)
    # the arc's strip beside the two trails; some 700 ft2 was reckoned, all of it counted
    assert 15.0 < y.extra_m2 < 70.0


@pytest.mark.parametrize(("slope", "legal"), [(6.0, True), (14.0, False)])
def test_the_y_keeps_the_uphill_limit_both_ways(slope: float, legal: bool) -> None:
    main = np.array([[20.0, 100.0], [180.0, 100.0]])
    spur = np.array([[80.0, 100.0], [80 + 60 / math.sqrt(2), 100 + 60 / math.sqrt(2)]])
    y = turning.y_place(judge(tilted(slope)), main, 0, 60.0, spur, 1, 5.0)
    assert (y is not None) == legal


def test_a_spur_too_short_for_its_y_has_none() -> None:
    main = np.array([[20.0, 100.0], [180.0, 100.0]])
    spur = np.array([[80.0, 100.0], [95.0, 115.0]])
    assert turning.y_place(judge(tilted(0.0)), main, 0, 60.0, spur, 1, 5.0) is None


def test_a_loop_closes_on_the_end_and_holds_its_radius() -> None:
    # centres on an equilateral triangle: 60 + 300 + 60 degrees of one radius
    line = np.array([[60.0, 100.0], [110.0, 100.0]])
    found = turning.loop_place(judge(tilted(0.0)), line, 3)
    assert found is not None
    assert found.line is not None
    assert found.kind == "loop"
    radius = RADIUS * turning.LOOP_SPARE
    assert along(found.line)[-1] == pytest.approx(radius * math.radians(420), rel=1e-3)
    assert found.line[0] == pytest.approx(line[-1])
    assert found.line[-1] == pytest.approx(line[-1], abs=1e-9)
    first, last = found.line[1] - found.line[0], found.line[-1] - found.line[-2]
    assert math.atan2(first[1], first[0]) == pytest.approx(0.0, abs=0.04)
    assert abs(math.atan2(last[1], last[0])) == pytest.approx(math.pi, abs=0.04)
    assert found.line[:, 0].max() - 110.0 == pytest.approx(radius * (1 + math.sqrt(3)), rel=1e-3)
    assert (found.needs_branch, found.at_m) == (3, pytest.approx(50.0))


@pytest.mark.parametrize(("slope", "legal"), [(9.0, True), (11.0, False)])
def test_a_loop_keeps_the_uphill_limit_all_the_way_round(slope: float, legal: bool) -> None:
    line = np.array([[60.0, 100.0], [110.0, 100.0]])
    assert (turning.loop_place(judge(tilted(slope)), line, 0) is not None) == legal


def test_a_loop_needs_its_room() -> None:
    line = np.array([[120.0, 100.0], [180.0, 100.0]])  # 15 m from the edge of open ground
    assert turning.loop_place(judge(tilted(0.0)), line, 0) is None
