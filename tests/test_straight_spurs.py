"""Straight spurs: one arc, one straight line, angles within the tolerance."""

import math

import numpy as np
import pytest
import small_areas as wood_of
from small_areas import wood

from layout import ground, sprouts, terrain, water
from layout.geometry import along, bearings, wrap
from layout.growing_ground import prepare
from layout.network import Branch
from layout.records import Trail
from layout.settings import limits_in_force
from layout.straight_spurs import straight_spurs


@pytest.fixture(scope="module")
def laid() -> tuple[sprouts.Grower, Branch, list[Branch]]:
    area = wood(rows=wood_of.scattered(marked=18))
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    opened = ground.open_area(area, strips)
    assert area.main_trail is not None
    width_m = area.settings.trails.width_main_m
    main = Trail("M", "main", "L1", area.main_trail, width_m, "drawn")
    grower, trunk = prepare(area, shape, strips, opened, limits_in_force(area.settings), main)
    spurs = straight_spurs(
        grower,
        [trunk],
        grower.ground.closed.copy(),
        offset_m=2.0,
        best_now=np.full(grower.pull_ground.marked.size, np.inf),
        known=sprouts.Known(grower),
    )
    return grower, trunk, spurs


def test_each_is_straight_past_its_arc_and_leaves_within_the_tolerance(
    laid: tuple[sprouts.Grower, Branch, list[Branch]],
) -> None:
    grower, trunk, spurs = laid
    assert len(spurs) > 4
    rules = grower.launch
    turns = set()
    for spur in spurs:
        length = float(along(spur.line)[-1])
        leaves, ends = bearings(spur.line, np.array([0.0, length]), half_m=0.05)
        (was,) = bearings(trunk.line, np.array([spur.mouth_m]))
        # tangent to the trail at its mouth
        assert abs(float(wrap(np.array([leaves - was]))[0])) < math.radians(2.0)
        turn = abs(math.degrees(float(wrap(np.array([ends - was]))[0])))
        assert abs(turn - rules.angle_deg) <= rules.tolerance_deg
        turns.add(round(turn))
        # past the arc there is no bend: an arc of the widest angle is this long
        arc = 1.3 * rules.radius_m * math.radians(rules.angle_deg + rules.tolerance_deg)
        late = bearings(spur.line, np.linspace(min(arc, length), length, 20), half_m=0.05)
        assert np.abs(wrap(late - ends)).max() < 1e-7
    assert len(turns) > 2  # angles are free within the tolerance


def test_none_breaks_a_limit_and_every_stop_is_on_its_spur(
    laid: tuple[sprouts.Grower, Branch, list[Branch]],
) -> None:
    grower, _, spurs = laid
    for spur in spurs:
        assert not spur.measured.broken.any()
        assert spur.stops
        assert max(spur.stops) <= spur.length_m + 1e-9
        assert min(spur.stops) >= grower.body_m


def test_other_stations_give_other_spurs(
    laid: tuple[sprouts.Grower, Branch, list[Branch]],
) -> None:
    grower, trunk, spurs = laid
    others = straight_spurs(
        grower,
        [trunk],
        grower.ground.closed.copy(),
        offset_m=4.0,
        best_now=np.full(grower.pull_ground.marked.size, np.inf),
        known=sprouts.Known(grower),
    )
    assert not {s.mouth_m for s in spurs} & {s.mouth_m for s in others}
