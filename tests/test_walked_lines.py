"""Walks and self-crossing polygons: what must hold for any of them."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from made_layers import EDGE, SQUARE, steps
from shapely.geometry import MultiPolygon, Polygon, box

from layout.polygon_mending import mended, sound_polygons
from layout.walked_lines import (
    SPIKE_M,
    come_round,
    doubles_back,
    farthest_leap,
    ground_within,
    in_order,
    mean_width,
    without_spikes,
    without_tails,
)

SPOT = st.tuples(st.integers(0, 60), st.integers(0, 60))
RING = st.lists(SPOT, min_size=4, max_size=12, unique=True)
XY = np.array(EDGE)


def star(radii: list[float]) -> np.ndarray:
    """Give a ring about the origin that cannot cross itself."""
    angle = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return np.column_stack([np.cos(angle), np.sin(angle)]) * np.array(radii)[:, None]


# ---------------------------------------------------------------- mending


@given(RING)
def test_a_mended_ring_is_valid_and_between_its_readings(corners: list[tuple[int, int]]) -> None:
    ring = Polygon(corners)
    plain, whole = mended(ring), mended(ring, more=True)
    assert plain.shape.is_valid and whole.shape.is_valid
    assert plain.least_m2 - 1e-9 <= plain.shape.area <= plain.most_m2 + 1e-9
    # All a ring goes round holds every other reading of it.
    assert shapely.difference(plain.shape, shapely.buffer(whole.shape, 1e-6)).area < 1e-6
    assert whole.shape.area >= plain.shape.area - 1e-6
    hull = shapely.convex_hull(ring)
    assert shapely.difference(whole.shape, shapely.buffer(hull, 1e-6)).area < 1e-6


@given(st.lists(st.floats(20, 60), min_size=5, max_size=14))
def test_a_sound_ring_is_left_as_it_is(radii: list[float]) -> None:
    ring = Polygon(star(radii))
    assume(ring.is_valid)
    shapes, found = sound_polygons([ring], "a", "stand")
    assert shapes[0] is ring and found == ()
    new = mended(ring)
    assert new.doubt_m2 == 0 and new.shape.equals(ring)


@given(RING, st.integers(-500, 500), st.integers(-500, 500))
def test_mending_does_not_hang_on_the_place(
    corners: list[tuple[int, int]], east: int, north: int
) -> None:
    here, there = Polygon(corners), Polygon([(x + east, y + north) for x, y in corners])
    assert mended(here).doubt_m2 == pytest.approx(mended(there).doubt_m2, abs=1e-6)
    assert mended(here).shape.area == pytest.approx(mended(there).shape.area, abs=1e-6)


def test_two_equal_loops_have_no_signed_area_and_are_not_lost() -> None:
    bow = Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])
    assert bow.area == 0
    new = mended(bow)
    assert (new.shape.area, new.least_m2, new.most_m2) == pytest.approx((40.5, 0.0, 40.5))


def test_parts_that_overlap_are_no_doubt() -> None:
    new = mended(MultiPolygon([box(0, 0, 10, 10), box(5, 0, 15, 10)]))
    assert (new.shape.area, new.overlap_m2, new.doubt_m2) == (150.0, 50.0, 0.0)


# ---------------------------------------------------------------- walks


def test_pieces_keep_their_order_and_their_breaks() -> None:
    xy, gaps = in_order(
        [shapely.LineString([(0, 0), (10, 0)]), shapely.LineString([(13, 4), (20, 4)])]
    )
    assert xy.tolist() == [[0, 0], [10, 0], [13, 4], [20, 4]]
    assert [(gap.length_m, gap.at) for gap in gaps] == [(5.0, (13.0, 4.0))]
    assert farthest_leap(xy).length_m == 10.0


@given(st.integers(1, len(EDGE) - 2), st.floats(SPIKE_M + 15, 400), st.floats(0, 360))
def test_one_leap_of_a_fix_is_taken_out_whichever_way_it_goes(
    row: int, far_m: float, way_deg: float
) -> None:
    away = far_m * np.array([np.cos(np.radians(way_deg)), np.sin(np.radians(way_deg))])
    walk = XY.copy()
    walk[row] += away
    assume(min(np.hypot(*(walk[row] - walk[row + s])) for s in (-1, 1)) > 30)
    kept, spikes = without_spikes(walk)
    assert spikes == (tuple(walk[row].tolist()),)
    assert len(kept) == len(walk) - 1


@given(st.lists(st.floats(30, 60), min_size=8, max_size=40))
def test_a_ring_of_even_steps_has_no_spike(radii: list[float]) -> None:
    ring = shapely.segmentize(Polygon(star(radii)).exterior, 3.0)
    xy = shapely.get_coordinates(ring)
    assert without_spikes(xy)[1] == ()


def test_a_corner_set_by_hand_is_no_spike() -> None:
    wedge = np.array([(0.0, 0), (200, 0), (0, 20), (-40, 10)])
    assert without_spikes(wedge)[1] == ()


@given(st.integers(0, len(EDGE) - 1), st.booleans())
def test_the_ground_does_not_hang_on_where_a_walk_began_or_which_way_it_went(
    first: int, back: bool
) -> None:
    walk = np.roll(XY, -first, axis=0)
    ground = ground_within(walk[::-1] if back else walk)
    assert ground.ground.area == pytest.approx(10_000)
    assert (ground.cut, ground.loose_m2, ground.crossing) == ((), 0.0, None)


@given(st.lists(st.floats(25, 60), min_size=6, max_size=24))
def test_ground_is_never_more_than_a_walk_goes_round(radii: list[float]) -> None:
    xy = star(radii)
    ring = Polygon(xy)
    assume(ring.is_valid)
    ground = ground_within(xy).ground
    assert ground.is_valid
    slits = ground.difference(ring).area  # narrow bays are filled, narrow capes cut
    assert slits <= 0.12 * ring.area
    assert ring.difference(ground).area <= 0.12 * ring.area
    assert ground.area <= ring.convex_hull.area + 1e-6


@pytest.mark.parametrize("width_m", [2.0, 4.0])
def test_a_tail_is_cut_and_a_slit_filled(width_m: float) -> None:
    square = Polygon(SQUARE)
    tail = square.union(box(100, 40, 180, 40 + width_m))
    kept, cut = without_tails(tail)
    # At its mouth, within half the narrowest width, a corner may stay rounded.
    assert kept.area == pytest.approx(square.area, abs=12.0)
    assert sum(part.area for part in cut) == pytest.approx(80 * width_m, abs=12.0)
    slit = square.difference(box(40, 0, 40 + width_m, 70))
    kept, filled = without_tails(slit)
    assert kept.area == pytest.approx(square.area, abs=12.0)
    assert sum(part.area for part in filled) == pytest.approx(70 * width_m, abs=12.0)


@pytest.mark.parametrize("shape", [box(100, 40, 180, 50), box(100, 40, 115, 42)])
def test_what_is_wide_or_short_stays(shape: Polygon) -> None:
    ground = Polygon(SQUARE).union(shape)
    kept, cut = without_tails(ground)
    assert cut == () and kept.area == pytest.approx(ground.area)


def test_a_walk_comes_round_where_it_meets_itself() -> None:
    way = np.array(steps((-60, -60), (0, 0), every=6.0, closed=False))
    walk = np.concatenate([way, XY, [[0.0, 1.0]]])
    first, last = come_round(walk, 10.0)
    assert np.hypot(*(walk[first] - walk[last])) < 1.5
    assert last == len(walk) - 1
    # A walk that never comes near itself is left whole.
    assert come_round(XY[: len(XY) // 2], 10.0) == (0, len(XY) // 2 - 1)


@given(st.floats(0.5, 3.5), st.floats(60, 400))
def test_out_and_back_is_seen_whatever_its_length(apart_m: float, far_m: float) -> None:
    back = np.array([(0, 0), (far_m, 0), (far_m, apart_m), (0, apart_m)], dtype=float)
    assert doubles_back(back)
    assert mean_width(Polygon(back), 2 * far_m) < 8


@given(st.floats(12, 80), st.floats(60, 400))
def test_a_loop_road_is_no_out_and_back(apart_m: float, far_m: float) -> None:
    loop = np.array([(0, 0), (far_m, 0), (far_m, apart_m), (0, apart_m), (0, 4)], dtype=float)
    assert not doubles_back(loop)
