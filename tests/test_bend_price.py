"""Bends cost the ground a load comes over: nothing for logs, more the longer the trees.

Published: the ground between the ways of a drawn bar's ends in a turn is a sector of
its own length (Apostol and Mnatsakanian, The method of sweeping tangents, The
Mathematical Gazette, 2008).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
import small_areas as wood_of
from small_areas import settings_of, wood

from layout import fairline, ground, terrain, water
from layout.bend_price import bend_m2_per_rad
from layout.geometry import fair_curve
from layout.settings import limits_in_force
from layout.site import Area
from layout.swept_path import between_ways_m2
from layout.tree_sizes import distance_heights_m


def whole_trees() -> Area:
    area = wood(rows=wood_of.scattered(marked=18))
    settings = settings_of(work={"extract": "tree"}, trails={"turn_radius": "12 m"})
    return replace(area, settings=settings)


def judge(area: Area) -> fairline.Judge:
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    return fairline.judge_for(
        area, shape, limits_in_force(area.settings), ground.open_area(area, strips),
        width_m=3.2, weight=1.0,
    )  # fmt: skip


def test_logs_pay_nothing_and_trees_the_sector_of_their_length() -> None:
    assert bend_m2_per_rad(wood()) == 0.0
    area = whole_trees()
    tall = float(np.median(distance_heights_m(area)[area.trees.to_serve]))
    corridor = area.settings.objective.corridor
    assert bend_m2_per_rad(area) == pytest.approx(corridor * between_ways_m2(tall, 1.0))


def test_of_two_lines_on_the_same_ground_the_bent_one_costs_its_bend_more() -> None:
    area = whole_trees()
    x, y = wood_of.MIDDLE
    corner = fair_curve(
        np.array([[x - 40.0, y], [x, y], [x + 30.0, y + 30.0]]), 12.0, spacing_m=0.2
    )
    with_price = judge(area)
    free = replace(with_price, bend_m2=0.0)
    dearer = fairline.measure(with_price, corner).price_m2 - fairline.measure(free, corner).price_m2
    assert dearer[-1] == pytest.approx(with_price.bend_m2 * math.pi / 4, rel=0.01)
    assert dearer[0] == 0.0
    assert (np.diff(dearer) >= -1e-9).all()
    straight = np.array([[x - 40.0, y], [x + 40.0, y]])
    assert fairline.measure(with_price, straight).price_m2[-1] == pytest.approx(
        fairline.measure(free, straight).price_m2[-1]
    )
