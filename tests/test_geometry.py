"""Fair curves and headings, against plane geometry worked by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import geometry as g

RADIUS = 7.62  # 25 ft


def curvature_radius(points: np.ndarray) -> float:
    """Least radius of the circles through three neighbouring points of a curve."""
    a, b, c = points[:-2], points[1:-1], points[2:]
    ab, bc, ca = (np.hypot(*(p - q).T) for p, q in ((a, b), (b, c), (c, a)))
    cross = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    with np.errstate(divide="ignore"):
        return float(np.min(ab * bc * ca / (2 * np.maximum(cross, 1e-12))))


def test_headings_are_the_sixteen_moves_counter_clockwise_from_east() -> None:
    assert g.HEADING_RAD[0] == 0.0
    gaps = np.degrees(g.wrap(np.roll(g.HEADING_RAD, -1) - g.HEADING_RAD))
    assert set(np.round(gaps, 3)) == {26.565, 18.435}
    assert g.azimuth_deg(0.0) == 90.0
    assert g.azimuth_deg(math.pi / 2) == 0.0
    assert g.azimuth_deg(math.pi) == 270.0


def test_worst_elongation_of_sixteen_moves_is_the_published_one() -> None:
    # 1 / cos(half the widest gap), 26.565 degrees: 2.749 %.
    widest = np.max(g.wrap(np.roll(g.HEADING_RAD, -1) - g.HEADING_RAD))
    assert 100 * (1 / math.cos(widest / 2) - 1) == pytest.approx(2.749, abs=5e-4)


@pytest.mark.parametrize("cell", [2.0, 2.5])
@pytest.mark.parametrize("radius", [7.62, 12.19])
def test_every_weaving_of_the_lattice_holds_the_radius(cell: float, radius: float) -> None:
    # All turn patterns of six legs at their shortest: the rounded line never bends tighter.
    moves = g.repeats(cell, radius)
    rng = np.random.default_rng(4)
    for _ in range(300):
        heading, point = int(rng.integers(16)), np.zeros(2)
        points = [point]
        for _ in range(6):
            step = np.array(g.MOVES[heading], dtype=float) * cell * moves[heading]
            point = point + step
            points.append(point)
            heading = (heading + int(rng.choice([-1, 1]))) % 16
        curve = g.fair_curve(np.array(points), radius)
        assert curvature_radius(curve) >= radius * (1 - 1e-6)


def test_one_right_angle_by_hand() -> None:
    # Legs of 20 m, radius 5 m, no widening: tangent 5 m, so 15 + pi/2 * 5 + 15 m.
    curve = g.fair_curve(np.array([[0, 0], [20, 0], [20, 20.0]]), 5.0, widen=1.0, spacing_m=0.01)
    assert g.along(curve)[-1] == pytest.approx(30 + math.pi / 2 * 5, abs=1e-3)
    assert curve[0].tolist() == [0, 0]
    assert curve[-1].tolist() == [20, 20]


@given(
    st.lists(st.tuples(st.floats(3, 40), st.floats(-0.6, 0.6)), min_size=2, max_size=8),
    st.floats(0, 6.3),
    st.floats(-500, 500),
)
def test_turned_and_moved_lines_give_turned_and_moved_curves(
    legs: list[tuple[float, float]], angle: float, shift: float
) -> None:
    bearing, points = 0.0, [np.zeros(2)]
    for length, turn in legs:
        points.append(points[-1] + length * np.array([math.cos(bearing), math.sin(bearing)]))
        bearing += turn
    line = np.array(points)
    spin = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    plain = g.fair_curve(line, RADIUS)
    moved = g.fair_curve(line @ spin.T + shift, RADIUS)
    if len(plain) == len(moved):  # a straightness test at 1e-9 may drop one point more
        np.testing.assert_allclose(moved, plain @ spin.T + shift, atol=1e-6)
    length_kept = abs(g.along(plain)[-1] - g.along(moved)[-1])
    assert length_kept < 1e-4
    assert g.along(plain)[-1] <= g.along(line)[-1] + 1e-9


def test_cut_keeps_corners_and_ends() -> None:
    line = np.array([[0, 0], [10, 0], [10, 10.0]])
    piece = g.cut(line, 4.0, 15.0)
    np.testing.assert_allclose(piece, [[4, 0], [10, 0], [10, 5]])
