"""Second ways into spurs: led in smoothly, never dearer, with all that hangs beyond."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest
import small_areas as wood_of
from shapely.geometry import LineString
from small_areas import wood

from layout import ground, sprouts, terrain, water, winch
from layout.choice_model import BIG_PRICE
from layout.forest import Candidates, candidates
from layout.geometry import along, at_stations, bearings, fair_curve, wrap
from layout.ground import CLOSED
from layout.growing_ground import prepare
from layout.joins import second_ways, with_second_ways
from layout.network import Branch
from layout.records import Trail
from layout.settings import limits_in_force
from layout.solver import Solver
from layout.turning import pad_radius_m
from layout.uncrossed import uncrossed


@dataclass
class Scene:
    """A main trail, and one spur that leaves it early and runs along beside it."""

    grower: sprouts.Grower
    known: sprouts.Known
    branches: list[Branch]
    opened: object
    swing_deg: float
    solver: Solver

    def forest(self, branches: list[Branch]) -> Candidates:
        return candidates(
            self.grower,
            branches,
            self.opened,
            (wood_of.LANDING.centroid.x, wood_of.LANDING.centroid.y),
            self.swing_deg,
            pad_radius_m(self.grower.judge.area.settings.tractor.length_m),
            self.known,
        )


def detour(grower: sprouts.Grower, known: sprouts.Known, trunk: Branch, mouth: float) -> Branch:
    """Lay a spur 26 m beside the trunk, from a mouth early on to far along it, and off again."""
    place, ahead = (
        at_stations(trunk.line, np.array([mouth]))[0],
        bearings(trunk.line, np.array([mouth]))[0],
    )
    along_it = np.array([math.cos(ahead), math.sin(ahead)])
    best: Branch | None = None
    for side in (1.0, -1.0):
        off = side * np.array([-along_it[1], along_it[0]])
        corners = np.array(
            [
                place,
                place + 8 * along_it,
                place + 30 * along_it + 24 * off,
                place + 60 * along_it + 26 * off,
                place + 78 * along_it + 44 * off,
            ]
        )
        line = fair_curve(corners, grower.launch.radius_m)
        measured = known.measured(line)
        if not measured.broken.any():
            length = float(along(line)[-1])
            branch = Branch(line, 0, mouth, measured, (length - 20.0, length))
            if best is None or measured.price_m2[-1] < best.measured.price_m2[-1]:
                best = branch
    assert best is not None
    return best


@pytest.fixture(scope="module")
def scene() -> Iterator[Scene]:
    area = wood(rows=wood_of.scattered(marked=24))
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    opened = ground.open_area(area, strips)
    assert area.main_trail is not None
    settings = area.settings
    main = Trail("M", "main", "L1", area.main_trail, settings.trails.width_main_m, "drawn")
    grower, trunk = prepare(area, shape, strips, opened, limits_in_force(settings), main)
    known = sprouts.Known(grower)
    swing = winch.swing_limit_deg(settings.tractor.length_m, settings.tractor.width_m, main.width_m)
    for mouth in np.arange(6.0, trunk.length_m - 70.0, 4.0):
        try:
            spur = detour(grower, known, trunk, float(mouth))
        except AssertionError:
            continue
        break
    with Solver() as solver:
        yield Scene(grower, known, [trunk, spur], opened, swing, solver)


def test_each_join_leaves_and_arrives_along_the_trails_and_costs_less(scene: Scene) -> None:
    found = scene.forest(scene.branches)
    closed = scene.grower.ground.closed
    joins = second_ways(scene.grower, scene.branches, closed, found, scene.known)
    assert joins
    rules = scene.grower.launch
    for join in joins:
        host = scene.branches[join.host]
        owner = scene.branches[int(found.segment_branch[join.node])]
        at_m = float(found.segment_to_m[join.node])
        length = float(along(join.line)[-1])
        leaves, arrives = bearings(join.line, np.array([0.0, length]), half_m=0.05)
        (was,) = bearings(host.line, np.array([join.mouth_m]))
        (goes,) = bearings(owner.line, np.array([at_m]))
        assert abs(float(wrap(np.array([leaves - was]))[0])) < math.radians(2.0)
        assert abs(float(wrap(np.array([arrives - goes]))[0])) < math.radians(4.0)
        assert np.hypot(*(join.line[-1] - at_stations(owner.line, np.array([at_m]))[0])) < 1e-6
        assert not scene.known.measured(join.line).broken.any()
        # dearer than the way there is, none is worth a look
        way, node = 0.0, join.node
        while node >= 0:
            way += float(found.forest.segment_cost[node])
            node = int(found.forest.parent[node])
        assert join.price_m2 < way
        # and it leaves at an angle a turn-out may have
        middle = bearings(join.line, np.linspace(0.0, length, 200), half_m=0.05)
        turn = np.degrees(np.abs(wrap(middle - was)))
        lowest = rules.angle_deg - rules.tolerance_deg
        assert turn.max() >= lowest


def test_ground_closed_by_repairs_is_kept_off(scene: Scene) -> None:
    found = scene.forest(scene.branches)
    all_shut = np.full_like(scene.grower.ground.closed, CLOSED)
    joins = second_ways(scene.grower, scene.branches, all_shut, found, scene.known)
    assert joins == []


def test_a_needless_detour_is_joined_from_near_by_and_the_choice_gains(scene: Scene) -> None:
    found = scene.forest(scene.branches)
    offered = with_second_ways(
        scene.grower, scene.branches, scene.grower.ground.closed, found, scene.known, scene.solver
    )
    assert offered[: len(scene.branches)] == scene.branches
    assert len(offered) > len(scene.branches)
    old = scene.branches[1]
    for branch in offered[len(scene.branches) :]:
        assert not branch.measured.broken.any()
        ends = branch.line[-1] - old.line[-1]
        assert np.hypot(*ends) < 1e-6  # what lies beyond the join stays as it is
        assert LineString(branch.line).distance(LineString(old.line)) < 1e-6
        stood = at_stations(old.line, np.array(old.stops))
        for place in at_stations(branch.line, np.array(branch.stops)):
            assert np.hypot(*(stood - place).T).min() < 0.05  # positions too
    before = uncrossed(found, scene.branches, scene.solver, 60.0, 0.0, 0, 1e9)
    after = uncrossed(scene.forest(offered), offered, scene.solver, 60.0, 0.0, 0, 1e9)
    assert after.objective < before.objective - 1.0
    assert before.objective < BIG_PRICE


def test_nothing_to_join(scene: Scene) -> None:
    alone = scene.branches[:1]
    found = scene.forest(alone)
    closed = scene.grower.ground.closed
    assert with_second_ways(scene.grower, alone, closed, found, scene.known, scene.solver) == alone
