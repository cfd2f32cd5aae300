"""Loads that swing off open ground, on a bend worked by hand.

A quarter turn of 9 m radius. A log of 16 ft and its trim with the hitch 0.9 m behind
the axle comes at most ``R - sqrt(R^2 + h^2 - L^2)`` inside in a steady bend
(Pythagoras), and takes 3 ft to each side of itself.
"""

import math

import numpy as np
import pytest
from made_ground import area_of, at, main_trail, settings_of, spur, strips_of, terrain_of
from shapely.geometry import Point

from layout.checks.case import Case, walk
from layout.checks.sweep import check
from layout.findings import Finding
from layout.records import Trail, WinchPosition
from layout.rub_trees import load_length_m
from layout.settings import limits_in_force

FT = 0.3048
RADIUS = 9.0
FLAT = terrain_of(lambda x, y: 100 + 0.02 * y)
CENTRE = (209.0, 91.0)


def bent() -> Trail:
    a = np.linspace(math.pi, math.pi / 2, 61)
    arc = [(CENTRE[0] + RADIUS * math.cos(t), CENTRE[1] + RADIUS * math.sin(t)) for t in a.tolist()]
    return main_trail((200.0, 30.0), *arc, (260.0, 100.0))


def judged(
    *trails: Trail,
    shut_m: float,
    spot: tuple[float, float] = CENTRE,
    positions: tuple[WinchPosition, ...] = (),
    whole: bool = False,
    more: tuple[tuple[float, float], ...] = (),
) -> list[Finding]:
    """Judge trails with discs of ground kept out of."""
    settings = settings_of(work={"extract": "tree"}) if whole else None
    discs = tuple(Point(*at(*middle)).buffer(shut_m, 64) for middle in (spot, *more))
    area = area_of(FLAT, settings, keep_out=discs)
    limits = limits_in_force(area.settings)
    case = Case(
        area=area,
        terrain=FLAT,
        limits=limits,
        strips=(),
        no_cable=strips_of(FLAT).no_cable,
        landing=None,
        trails=walk(area, FLAT, limits, trails),
        positions=positions,
        pulls=(),
        turning_places=(),
        outcomes=(),
    )
    return check(case)


def dragged_round(load_m: float, hitch_m: float, step_m: float = 0.005) -> float:
    """Drag a bar round the quarter turn in small steps: how far inside any of it comes."""
    before = np.arange(-20.0, 0.0, step_m)
    turned = np.arange(0.0, math.pi / 2, step_m / RADIUS)
    after = np.arange(0.0, 20.0, step_m)
    x = np.concatenate([0 * before, RADIUS - RADIUS * np.cos(turned), RADIUS + after])
    y = np.concatenate([before, RADIUS * np.sin(turned), RADIUS + 0 * after])
    heading = np.concatenate([0 * before + math.pi / 2, math.pi / 2 - turned, 0 * after])
    tail = np.array([x[0], y[0] - hitch_m - load_m])
    share = np.linspace(0.0, 1.0, 21)[:, None]
    most = 0.0
    for px, py, course in zip(x, y, heading, strict=True):
        front = np.array([px - hitch_m * math.cos(course), py - hitch_m * math.sin(course)])
        tail = front + load_m * (tail - front) / np.hypot(*(tail - front))
        bar = front + share * (tail - front)
        inside = RADIUS - np.hypot(bar[:, 0] - RADIUS, bar[:, 1])
        beside = (bar[:, 1] > 0) & (bar[:, 0] < RADIUS)
        most = max(most, float(inside[beside].max(initial=0.0)))
    return most


def test_what_is_told_is_what_the_bend_asks() -> None:
    trail = bent()
    inside = RADIUS - 0.5 * trail.width_m  # the trail's own inner edge
    (found,) = judged(trail, shut_m=inside - 0.01)
    area = area_of(FLAT)
    load, hitch = load_length_m(area), area.settings.tractor.load_behind_axle_m
    steady = RADIUS - math.sqrt(RADIUS**2 + hitch**2 - load**2)
    deepest = dragged_round(load, hitch)
    assert deepest < steady  # a quarter turn is too short to settle
    assert found.code == "load_swings_off"
    assert found.level == "caution"
    assert found.value is not None
    assert found.value == pytest.approx(deepest + 3 * FT - 0.5 * trail.width_m, abs=0.04)
    assert "kept out of" in found.message
    assert 61.0 < (found.from_m or 0.0) < 61.0 + RADIUS * math.pi / 2 + 2.0
    assert found.confirmed


def test_each_bend_is_told_not_the_worst_alone() -> None:
    first = bent()
    a = np.linspace(-math.pi / 2, 0.0, 61)[1:]
    second = (260.0, 109.0)  # middle of a second quarter turn, to the other side
    arc = [(second[0] + RADIUS * math.cos(t), second[1] + RADIUS * math.sin(t)) for t in a.tolist()]
    west, south = at(0.0, 0.0)
    came = [(x - west, y - south) for x, y in first.line.coords]
    trail = main_trail(*came, *arc, (269.0, 160.0))
    inside = RADIUS - 0.5 * trail.width_m - 0.01
    found = judged(trail, shut_m=inside, more=(second,))
    assert [f.code for f in found] == ["load_swings_off"] * 2
    bends = (70.0, 70.0 + RADIUS * math.pi / 2 + (260.0 - CENTRE[0]))
    for told, bend in zip(found, bends, strict=True):
        assert abs((told.from_m or 0.0) - bend) < RADIUS * math.pi / 2 + 2.0


def test_ground_farther_in_is_not_reached() -> None:
    assert judged(bent(), shut_m=RADIUS - 3.5) == []


def test_where_no_load_passes_nothing_swings() -> None:
    trail = bent()
    spot = trail.line.interpolate(40.0)
    here = WinchPosition("P1", "M1", "L1", 40.0, spot.x, spot.y, 0.0, 0.0, 0.0, 0.0, 0.0, ("1",))
    assert judged(trail, shut_m=RADIUS - 1.9, positions=(here,)) == []


@pytest.mark.parametrize(("out_m", "told"), [(2.5, ["S1"]), (-3.5, [])])
def test_a_tree_is_followed_from_its_spur_onto_the_trail(out_m: float, told: list[str]) -> None:
    # the spur turns off to the east on an arc; what it carries cuts in on the arc's inside
    trail = main_trail((150.0, 30.0), (150.0, 160.0))
    a = np.linspace(math.pi, 0.75 * math.pi, 31)[1:]
    arc = [(162.0 + 12.0 * math.cos(t), 100.0 + 12.0 * math.sin(t)) for t in a.tolist()]
    side = spur("S1", trail, 70.0, *arc, (arc[-1][0] + 40.0, arc[-1][1] + 40.0))
    spot = (150.0 + out_m, 100.0)  # beside the mouth: inside, and on the trail's other side
    assert [f.subject_id for f in judged(trail, side, shut_m=0.4, spot=spot, whole=True)] == told
