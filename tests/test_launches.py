"""Turn-outs and candidate forests, against plane geometry and the backing rule."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point
from small_turning import flat_area, judge_on, tilted

from layout import fairline, forest, ground, terrain
from layout.geometry import HEADING_RAD, along, fair_curve, wrap
from layout.lattice import parts
from layout.launches import LaunchRules, turn_outs
from layout.network import Branch, way
from layout.settings import limits_in_force
from layout.turning import Place, backing_m

RADIUS = 7.62
RULES = LaunchRules(
    radius_m=RADIUS, angle_deg=45.0, tolerance_deg=15.0, start_cost_m2=10.0, turn_cost_m2=1.0
)


def lattice(slope: float = 0.0) -> tuple[fairline.Judge, ground.Ground]:
    judge = judge_on(tilted(slope), RADIUS)
    table = ground.build(
        judge.area,
        judge.terrain,
        flat_area(),
        limits_in_force(judge.area.settings),
        width_m=judge.width_m,
        weight=1.0,
    )
    return judge, table


@pytest.mark.parametrize("bearing_deg", [0.0, 7.0, 19.0, 33.0, 90.0, 140.0, 211.0, 305.0])
def test_every_turn_out_leaves_at_about_45_degrees_outward_on_a_curve_that_holds(
    bearing_deg: float,
) -> None:
    judge, table = lattice()
    bearing = math.radians(bearing_deg)
    step = np.array([math.cos(bearing), math.sin(bearing)])
    main = np.array([100.0, 100.0]) + np.outer([-40.0, 40.0], step)
    found = turn_outs(
        table, judge.terrain, judge.limits, judge.room, [main], RULES, onward_m=[None]
    )
    heading, _, _ = parts(table, found.state)
    left = 0
    for k in range(len(found)):
        mouth, corner, end = found.points[k]
        assert mouth @ step == pytest.approx(main[0] @ step + found.mouth_m[k])
        # along the main first: nothing leaves at a kink
        assert abs(wrap(np.array([math.atan2(*(corner - mouth)[::-1]) - bearing]))[0]) < 1e-9
        turn = float(wrap(np.array([HEADING_RAD[heading[k]] - bearing]))[0])
        assert 30.0 <= abs(math.degrees(turn)) <= 60.0
        left += turn > 0
        # and with the lattice going straight on, or a notch either way, the radius holds
        for notch in (-1, 0, 1):
            onward = HEADING_RAD[(heading[k] + notch) % 16]
            beyond = end + 8.0 * np.array([math.cos(onward), math.sin(onward)])
            curve = fair_curve(np.array([mouth, corner, end, beyond]), RADIUS)
            at = np.arange(0.0, along(curve)[-1], 0.5)
            assert fairline.bend_radius_m(curve, at).min() >= RADIUS * 0.985
    assert left == pytest.approx(len(found) / 2, abs=len(found) * 0.1)
    # a turn-out every 10 m at least, on both sides
    side = np.sign(
        step[0] * (found.points[:, 2, 1] - found.points[:, 0, 1])
        - step[1] * (found.points[:, 2, 0] - found.points[:, 0, 0])
    )
    for s in (-1, 1):
        stations = np.sort(found.mouth_m[side == s])
        assert np.diff(np.concatenate([[0.0], stations, [80.0]])).max() <= 10.0


def test_no_turn_out_where_the_ground_is_too_steep() -> None:
    # 30 % in one direction: driven square to it the cross slope is 30, down it the grade is.
    judge, table = lattice(30.0)
    main = np.array([[100.0, 60.0], [100.0, 140.0]])
    found = turn_outs(
        table, judge.terrain, judge.limits, judge.room, [main], RULES, onward_m=[None]
    )
    assert len(found) == 0


def test_going_straight_on_opens_no_junction() -> None:
    judge, table = lattice()
    line = np.array([[60.0, 100.0], [90.0, 100.0]])
    found = turn_outs(
        table, judge.terrain, judge.limits, judge.room, [line], RULES, onward_m=[30.0]
    )
    ahead = np.flatnonzero(found.mouth_m >= 30.0 - 1e-9)
    assert ahead.size >= 1
    for k in ahead:
        bend = found.points[k, 2] - found.points[k, 0]
        assert abs(math.degrees(math.atan2(bend[1], bend[0]))) <= 14.0
        assert found.length[k] > 30.0  # the spur's own length counts on


def test_price_of_a_straight_trail_by_hand() -> None:
    judge, _ = lattice()
    line = np.array([[50.0, 100.0], [90.0, 100.0]])
    found = fairline.measure(judge, line)
    assert found.price_m2[-1] == pytest.approx(40.0 * judge.width_m)
    assert not found.broken.any()
    assert found.sound_m == pytest.approx(40.0)
    # 17.5 % loaded downhill lies half way from the caution (15) to the stop (20)
    steep = fairline.measure(judge_on(tilted(17.5), RADIUS), line)
    dear = 1 + fairline.CAUTION_PRICE * 0.5
    assert steep.price_m2[-1] == pytest.approx(40.0 * judge.width_m * dear, rel=1e-4)
    # 21 % is over the sustained 20 but a short pitch: sound for the 100 ft a pitch may last
    over = fairline.measure(judge_on(tilted(21.0), RADIUS), line)
    assert 29.0 <= over.sound_m <= 30.48
    assert over.broken[-1]
    # 26 % is over the short limit of 25 anywhere
    assert fairline.measure(judge_on(tilted(26.0), RADIUS), line).sound_m == 0.0
    # and uphill loaded: 11 % is a pitch over the adverse 10, 16 % is over its short limit
    assert not fairline.measure(judge_on(tilted(11.0), RADIUS), line[::-1].copy()).broken[0]
    assert fairline.measure(judge_on(tilted(16.0), RADIUS), line[::-1].copy()).broken.all()


def test_a_bend_of_known_radius() -> None:
    angle = np.linspace(0, np.pi, 200)
    arc = 9.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    at = np.arange(3.0, 25.0)
    assert fairline.bend_radius_m(arc, at) == pytest.approx(np.full(at.size, 9.0), rel=2e-3)


@st.composite
def networks(draw: st.DrawFn) -> list[Branch]:
    """Draw a main trail with branches off branches; their lines do not matter here."""
    judge, _ = NETWORK_GROUND
    flat = fairline.measure(judge, np.array([[50.0, 100.0], [60.0, 100.0]]))
    out = [Branch(np.array([[0.0, 0.0], [300.0, 0.0]]), -1, 0.0, flat, built=True)]
    for _ in range(draw(st.integers(1, 7))):
        parent = draw(st.integers(0, len(out) - 1))
        mouth = draw(st.floats(1.0, out[parent].length_m))
        length = draw(st.floats(6.0, 90.0))
        out.append(Branch(np.array([[0.0, 0.0], [length, 0.0]]), parent, mouth, flat))
    return out


NETWORK_GROUND = lattice()


@settings(max_examples=60, deadline=None)
@given(networks(), st.data(), st.floats(20.0, 150.0))
def test_access_is_the_backing_rule(
    branches: list[Branch], data: st.DataObject, back_up: float
) -> None:
    # forest._access works on whole tables; turning.backing_m on one pair of ways.
    def spot() -> tuple[int, float]:
        n = data.draw(st.integers(0, len(branches) - 1))
        return n, data.draw(st.floats(0.5, branches[n].length_m))

    here = [spot() for _ in range(4)]
    there = [spot() for _ in range(4)]
    spots = forest.Spots(
        np.array([n for n, _ in here]),
        np.array([m for _, m in here]),
        np.zeros(4),
        np.zeros(4),
        np.zeros(4),
    )
    shape = flat_area()
    places = tuple(Place(n, m, "pad", shape, 0.0, 50.0, n, m) for n, m in there)
    table = forest._access(branches, spots, places, back_up)
    for i, (n, m) in enumerate(here):
        position = way(branches, n, m)
        from_landing = backing_m(position, way(branches, 0, 0.0))
        if abs(from_landing - back_up) > 1e-6:
            assert table[i, 0] == (from_landing <= back_up)
        for j, (k, at) in enumerate(there):
            back = backing_m(position, way(branches, k, at))
            if abs(back - back_up) > 1e-6:
                assert table[i, j + 1] == (back <= back_up), (position, way(branches, k, at))


def test_ground_tables_answer_as_the_checker_does() -> None:
    judge, table = lattice(12.0)
    open_cells = table.closed == ground.FREE
    # 12 % rising east: leading outward east is downhill loaded, legal; west climbs loaded 12 %
    assert open_cells[0].any()
    assert not open_cells[8].any()
    rows, cols = np.nonzero(open_cells[0])
    x, y = table.centre(rows, cols)
    grade = terrain.grade_at(judge.terrain, x, y, 0.0)
    assert np.all(grade == pytest.approx(-12.0, abs=1e-3))
    assert judge.room.contains(judge.room.representative_point())
    edge = flat_area().exterior
    distance = np.array([edge.distance(Point(a, b)) for a, b in zip(x, y, strict=True)])
    assert distance.min() >= judge.width_m / 2
