"""Short cuts a verdict takes give what the long way gives: drawn at random, answer for answer."""

from typing import Any

import numpy as np
import pytest
import shapely
from numpy.testing import assert_array_equal

from layout.checks.case import _within
from layout.checks.sweep import _doubtful
from layout.drawing.draft import FARTHEST_M, _Reader, _sound
from layout.swept_path import Outfit, hulls, swept_corners, swept_pieces

OUTFIT = Outfit(hitch_m=1.2, length_m=4.0, width_m=1.8, load_m=9.0, load_width_m=1.1)


def wandering(rng: np.random.Generator, legs: int) -> Any:
    turns = np.cumsum(rng.normal(0, 0.5, legs))
    steps = rng.uniform(2, 12, legs)[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    return np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]) + rng.uniform(20, 80, 2)


@pytest.mark.parametrize("seed", range(12))
def test_trees_near_a_trail_are_those_of_one_query(seed: int) -> None:
    rng = np.random.default_rng(seed)
    index = shapely.STRtree(shapely.points(rng.uniform(-60, 160, (3000, 2))))
    line = shapely.LineString(wandering(rng, 25))
    shapes = [
        line.buffer(1.8, cap_style="flat"),
        shapely.box(10, 10, 40, 30),
        shapely.MultiPolygon([shapely.box(0, 0, 5, 5), shapely.Point(60, 60).buffer(20)]),
        shapely.GeometryCollection([shapely.box(0, 0, 5, 5), line]),
        line.buffer(6).difference(line.buffer(3)),  # with holes, where it closes
    ]
    for shape in shapes:
        for away in (0.3, 1.0, 4.0):
            whole = np.sort(index.query(shape, predicate="dwithin", distance=away))
            assert_array_equal(_within(index, shape, away), whole)
    assert not _within(index, shapely.Polygon(), 1.0).size


@pytest.mark.parametrize("seed", range(12))
def test_pieces_that_may_lie_wrong_are_all_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    way = wandering(rng, 12)
    land = shapely.LineString(way).buffer(rng.uniform(2.5, 6.0))
    shut = [shapely.Point(way[k]).buffer(rng.uniform(1, 5)) for k in (3, 7)]
    corners, pieces = swept_corners(way, OUTFIT), swept_pieces(way, OUTFIT)
    assert shapely.equals_exact(hulls(corners), pieces).all()
    left = _doubtful(corners, land, shut)
    assert len(left) < len(pieces)

    def told(of: Any) -> list[list[bytes]]:
        out = [shapely.to_wkb(of[~shapely.covers(land, of)]).tolist()]
        return out + [shapely.to_wkb(of[shapely.intersects(s, of)]).tolist() for s in shut]

    assert told(left) == told(pieces)


def test_places_read_quickly_are_those_read_with_care() -> None:
    rng = np.random.default_rng(3)
    value = rng.uniform(-1e6, 1e6, (400, 2)).tolist()
    reader = _Reader()
    assert _sound(value) == [reader._xy(item, "here") for item in value]
    for bad in ([1.0], [1.0, 2.0, 3.0], [True, 1.0], ["1", 1.0], None, [float("nan"), 0.0],
                [FARTHEST_M * 2, 0.0], [1, 2], {"a": 1.0, "b": 2.0}):  # fmt: skip
        assert not _sound([[1.0, 2.0], bad])
