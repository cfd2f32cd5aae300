"""Spurs set apart for a round come back as they were, and growing never loses by it."""

from collections import Counter
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import small_areas as wood_of
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal
from shapely.geometry import LineString
from small_areas import wood

from layout import ground, sprouts, terrain, water, winch
from layout.choice import choose
from layout.fairline import Measured
from layout.grow import ENOUGH_GAIN, Grown, grow
from layout.growing_ground import prepare
from layout.network import Branch
from layout.records import Trail
from layout.second_thoughts import part, spurs_by_cost
from layout.settings import limits_in_force
from layout.solver import Solver
from layout.turning import pad_radius_m


@st.composite
def networks(draw: st.DrawFn) -> list[Branch]:
    """Draw a network of branches, parents first; the first is a main trail."""
    count = draw(st.integers(1, 12))
    out: list[Branch] = []
    for n in range(count):
        line = np.array([[0.0, float(n)], [10.0, float(n)]])
        price = np.array([0.0, draw(st.floats(1.0, 50.0))])
        measured = cast("Measured", SimpleNamespace(price_m2=price))
        parent = -1 if n == 0 else draw(st.integers(0, n - 1))
        fixed = n > 0 and out[parent].standing and draw(st.booleans())
        out.append(Branch(line, parent, 5.0, measured, fixed=fixed))
    return out


@given(networks(), st.data())
def test_what_is_set_apart_comes_back_as_it_was(
    branches: list[Branch], data: st.DataObject
) -> None:
    loose = frozenset(data.draw(st.sets(st.integers(0, len(branches) - 1))))
    parted = part(branches, loose)
    assert len(parted.kept) + len(parted.apart) == len(branches)
    assert sum(b.standing for b in parted.kept) == sum(b.standing for b in branches)
    back = parted.put_back(parted.kept, branches)
    # each hangs on what it hung on, and stands after it
    whole = sorted(
        (b.line[0, 1], -1.0 if b.parent < 0 else back[b.parent].line[0, 1]) for b in back
    )
    was = [
        (b.line[0, 1], -1.0 if b.parent < 0 else branches[b.parent].line[0, 1]) for b in branches
    ]
    assert whole == sorted(was)
    assert all(b.parent < n for n, b in enumerate(back))


@given(networks())
def test_every_spur_counts_with_all_that_hangs_on_it(branches: list[Branch]) -> None:
    order = spurs_by_cost(branches, Counter({n: 1 for n in range(len(branches))}))
    assert all(not branches[n].standing and branches[branches[n].parent].standing for n in order)
    parted = part(branches, frozenset(order))
    assert all(b.standing for b in parted.kept)


def grown_on(area_seed: int) -> tuple[Grown, sprouts.Grower]:
    area = wood(rows=wood_of.scattered(marked=18, seed=area_seed))
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    opened = ground.open_area(area, strips)
    assert area.main_trail is not None
    settings = area.settings
    main = Trail("M", "main", "L1", area.main_trail, settings.trails.width_main_m, "drawn")
    grower, trunk = prepare(area, shape, strips, opened, limits_in_force(settings), main)
    with Solver() as solver:
        done = grow(
            grower,
            [trunk],
            opened,
            (wood_of.LANDING.centroid.x, wood_of.LANDING.centroid.y),
            main_swing_deg=winch.swing_limit_deg(
                settings.tractor.length_m, settings.tractor.width_m, main.width_m
            ),
            pad_radius_m=pad_radius_m(settings.tractor.length_m),
            solver=solver,
        )
    return done, grower


def test_growing_ends_where_two_rounds_gain_nothing_and_every_spur_is_worth_its_ground() -> None:
    grown, grower = grown_on(0)
    best = np.minimum.accumulate(grown.history)
    # chosen exactly in the end: no dearer than the rounds' choices near the best, and proved
    assert grown.choice.bound - 1e-6 <= grown.choice.objective <= best[-1]
    assert grown.choice.stopped_by == "gap"
    assert grown.choice.objective - grown.choice.bound <= 1e-3 * grown.choice.objective
    gains = -np.diff(best) / best[:-1]
    assert len(best) == 8 or (gains[-2:] < ENOUGH_GAIN).all()
    assert grown.candidates.forest.parent.size

    # without any one spur its trees are pulled from elsewhere, or left: never for less
    forest = grown.candidates.forest
    roots = [
        int(e)
        for e in np.flatnonzero(grown.choice.segments)
        if forest.parent[e] < 0 and grown.choice.segments[e]
    ]
    assert roots
    with Solver() as solver:
        for e in roots[:4]:
            other = choose(forest.excluding([(e, e)]), solver, time_limit_s=30, gap=0.0, seed=0)
            assert other.objective >= grown.choice.objective - 1e-6

    # and where a spur ends, the outfit on it is off the trail it left
    settings = grower.judge.area.settings
    for branch in grown.branches:
        host = None if branch.parent < 0 else grown.branches[branch.parent]
        if host is None or branch.mouth_m > host.length_m - 1e-6:
            continue
        width = settings.trails.width_main_m if host.parent < 0 else settings.trails.width_spur_m
        ends = LineString(host.line).distance(LineString(branch.line[-2:]).boundary.geoms[1])
        assert ends >= 0.5 * (width + settings.tractor.width_m) - 1e-3
        assert branch.length_m >= settings.tractor.length_m - 1e-6


def test_set_apart_branches_keep_their_stations() -> None:
    line = np.array([[0.0, 0.0], [30.0, 0.0]])
    measured = cast("Measured", SimpleNamespace(price_m2=np.array([0.0, 1.0])))
    main = Branch(line, -1, 0.0, measured)
    spur = replace(main, parent=0, mouth_m=12.0, stops=(5.0, 9.0))
    parted = part([main, spur], frozenset({1}))
    (_, back) = parted.put_back(parted.kept, [main, spur])
    assert back.stops == (5.0, 9.0)
    assert back.mouth_m == 12.0
    assert_array_equal(back.line, spur.line)
