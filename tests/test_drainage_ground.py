"""Drains on made ground: where their water goes, told by plane geometry.

The ground is a plane or a valley of two planes, so the way of the water, its length and
what it meets first follow from a ruler. Nothing here comes from the package's own outlets.
"""

import math
from typing import Any

import numpy as np
import pytest
import shapely
from made_ground import (
    SOUTH,
    WEST,
    area_of,
    at,
    landing_of,
    line,
    main_trail,
    settings_of,
    spur,
    terrain_of,
)
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry

from layout import drainage
from layout.drainage.outlets import LOOK_M, descents
from layout.findings import Finding
from layout.records import Landing, Trail, WaterBar
from layout.site import WaterFeature
from layout.terrain import Terrain, station_table

FOOT_M = 0.3048
WIDTH_M = 3.6576
ASIDE_M = WIDTH_M / 2 + 0.3  # a bar's end, square to the middle line
ALONG_M = ASIDE_M * math.tan(math.radians(30))


def drained(
    terrain: Terrain,
    trails: list[Trail],
    strips: list[BaseGeometry] | None = None,
    site: Landing | None = None,
    soil: dict[str, Any] | None = None,
    **fields: Any,
) -> tuple[tuple[WaterBar, ...], tuple[Finding, ...]]:
    area = area_of(terrain, settings_of(soil=soil or {}), **fields)
    stations = {t.trail_id: station_table(terrain, t.line, t.width_m) for t in trails}
    landing = site or landing_of(385, 385, 5)
    return drainage.drain(area, terrain, strips or [], landing, trails, stations)


def side_hill(x: Any, y: Any) -> Any:
    """Fall 20 % to the south and 6 % to the west."""
    return 100 + 0.20 * y + 0.06 * x


@pytest.mark.parametrize("apart_m", [12.0, 30.0, 70.0])
def test_room_to_the_trail_below_is_measured_down_the_slope(apart_m: float) -> None:
    upper = main_trail((60, 200), (260, 200))
    lower = main_trail((20, 200 - apart_m), (300, 200 - apart_m), trail_id="M2")
    laid, found = drained(terrain_of(side_hill), [upper, lower])
    mine = [bar for bar in laid if bar.trail_id == "M1" and bar.why == "spacing"]
    assert len(mine) >= 4
    assert {bar.outlet for bar in mine} == {"right"}  # walking east, south is to the right
    # Straight down the plane: its way has 20 parts south and 6 west.
    south_m = apart_m - ASIDE_M - WIDTH_M / 2
    way_m = south_m * math.hypot(20, 6) / 20
    for bar in mine:
        if way_m > LOOK_M:
            assert (bar.room_m, bar.meets) == (None, "")
        else:
            assert bar.meets == "M2"
            assert bar.room_m == pytest.approx(way_m, abs=0.05)
    short = [f for f in found if f.code == "bar_room" and f.subject_id == "M1"]
    assert bool(short) == (way_m < 25 * FOOT_M)
    if short:
        assert short[0].value == pytest.approx(way_m, abs=0.05)
        assert "comes to trail M2 within" in short[0].message


def test_every_outlet_lies_below_its_bar_on_a_plane() -> None:
    trails = [main_trail((60, 200), (200, 215), (260, 300))]
    laid, _ = drained(terrain_of(side_hill), trails)
    assert laid
    for bar in laid:
        drawn = drainage.bar_line(trails[0], bar)
        assert drawn is not None
        (x0, y0), (x1, y1) = drawn.coords
        fall = side_hill(x0 - WEST, y0 - SOUTH) - side_hill(x1 - WEST, y1 - SOUTH)
        assert fall > 0
        assert drawn.length == pytest.approx(bar.length_m)


def test_no_drain_opens_into_a_strip_beside_the_trail() -> None:
    trail = main_trail((60, 200), (260, 200))
    # 1.9 m from the middle line for its western half: within the bars' own ends
    strip = box(*at(0, 100), *at(160, 200 - WIDTH_M / 2 - 0.1))
    laid, found = drained(terrain_of(side_hill), [trail], [strip])
    beside = [bar for bar in laid if bar.x < WEST + 155]
    assert beside and {(bar.outlet, bar.meets) for bar in beside} == {("unknown", "strip")}
    assert {bar.outlet for bar in laid if bar.x > WEST + 165} == {"right"}
    (told,) = [f for f in found if f.code == "bar_outlet" and f.level == "caution"]
    assert f"{len(beside)} drains in a row would open into the water strip" in told.message


def test_a_bar_moves_uphill_past_what_it_may_not_open_into() -> None:
    trail = main_trail((60, 200), (260, 200))
    plain, _ = drained(terrain_of(side_hill), [trail])
    due = [bar.at_m for bar in plain if bar.why == "spacing"]
    last = max(due)  # the first from the crest: nothing before it moves it
    # a patch of strip, 4 m wide, where that bar's water would go
    end = 60 + last - ALONG_M
    patch = box(*at(end - 2, 190), *at(end + 2, 199.9))
    moved, _ = drained(terrain_of(side_hill), [trail], [patch])
    # the strip has no edge on the trail's middle line: nothing but the outlet asks for a move
    first = max(bar.at_m for bar in moved if bar.why == "spacing")
    assert last < first <= last + 8
    bar = next(bar for bar in moved if bar.at_m == first)
    drawn = drainage.bar_line(trail, bar)
    assert bar.outlet == "right" and drawn is not None
    assert not patch.intersects(shapely.Point(drawn.coords[1]))


def valley(x: Any, y: Any) -> Any:
    """Two planes that meet in a brook along x = 200, 8 % each, the whole tilted 10 % south."""
    return 100 + 0.08 * np.abs(x - 200) + 0.10 * y


@pytest.mark.parametrize("bank_width_m", [None, 4.0])
def test_bars_stand_25_to_50_ft_back_from_both_banks(bank_width_m: float | None) -> None:
    trail = main_trail((60, 200), (340, 200))
    bed = WaterFeature("brook", "ephemeral", line((200, 20), (200, 380)), bank_width_m)
    laid, _ = drained(terrain_of(valley), [trail], water=(bed,))
    half = (bank_width_m or 0.0) / 2
    backs = sorted(bar.x - WEST - 200 for bar in laid if bar.why == "crossing")
    assert len(backs) == 2
    for back in backs:
        assert 25 * FOOT_M - 0.01 <= abs(back) - half <= 50 * FOOT_M
    assert backs[0] < 0 < backs[1]
    for bar in laid:
        if bar.why == "crossing":
            assert bar.outlet == "right" and bar.bar_set == "shutdown"


def test_a_strips_own_bar_serves_the_crossing_too() -> None:
    trail = main_trail((60, 200), (340, 200))
    bed = WaterFeature("brook", "ephemeral", line((200, 20), (200, 380)))
    strip = bed.geometry.buffer(6.0)  # its bar stands 5 m outside: 11 m from the bank
    laid, _ = drained(terrain_of(valley), [trail], [strip], water=(bed,))
    assert [bar.why for bar in laid if bar.why in ("strip", "crossing")] == ["strip", "strip"]
    # where the strip is wider than 50 ft, a bar stands inside it, and says so
    laid, found = drained(terrain_of(valley), [trail], [bed.geometry.buffer(22.0)], water=(bed,))
    inside = [bar for bar in laid if bar.why == "crossing"]
    assert len(inside) == 2
    assert {(bar.outlet, bar.meets) for bar in inside} == {("unknown", "strip")}
    assert any("well back from the bank" in f.message for f in found)


def test_a_low_point_on_a_side_hill_is_used_in_place_of_a_bar() -> None:
    trail = main_trail((60, 200), (340, 200))
    laid, _ = drained(terrain_of(valley), [trail])
    (low,) = [bar for bar in laid if bar.why == "low_point"]
    assert low.kind == "grade_break" and low.outlet == "right" and low.length_m is None
    assert low.x - WEST == pytest.approx(200, abs=1.0)
    # it is a low point: by the formula the trail lies half a metre higher on both sides
    for aside in (-7.0, 7.0):
        z = [valley(low.x - WEST + d, 200.0) for d in (0.0, aside)]
        assert z[1] - z[0] > 0.5 - 0.08


def test_a_spurs_bar_lets_its_water_out_well_above_the_main() -> None:
    main = main_trail((60, 200), (260, 200))
    up = spur("S1", main, 80.0, (200, 260))
    laid, found = drained(terrain_of(side_hill), [main, up])
    mouth = next(bar for bar in laid if bar.why == "spur_mouth")
    assert mouth.meets == "M1" and mouth.room_m is not None and mouth.room_m >= 25 * FOOT_M
    assert not [f for f in found if f.code == "bar_room" and f.from_m == mouth.at_m]
    # by the ruler: down the plane from the bar's end to the main's edge
    drawn = drainage.bar_line(up, mouth)
    assert drawn is not None
    south = drawn.coords[1][1] - SOUTH - 200 - WIDTH_M / 2
    assert mouth.room_m == pytest.approx(south * math.hypot(20, 6) / 20, abs=0.05)


def test_the_landings_bar_keeps_its_water_off_the_landing() -> None:
    site = landing_of(60, 200)
    main = main_trail((72.5, 200), (260, 215))
    laid, _ = drained(terrain_of(side_hill), [main], site=site)
    bar = next(bar for bar in laid if bar.why == "landing")
    assert bar.at_m >= WIDTH_M / 2 and bar.outlet == "right"
    drawn = drainage.bar_line(main, bar)
    assert drawn is not None
    start = np.array(drawn.coords[1])
    way = LineString([start, start + 60 * np.array([-6, -20]) / math.hypot(6, 20)])
    met = way.intersection(site.shape)
    ruler = math.inf if met.is_empty else way.project(shapely.Point(met.coords[0]))
    assert (bar.room_m or math.inf) == pytest.approx(ruler, abs=0.1)


def test_a_hazard_draws_them_closer_and_dips_are_said_to_be_unverified() -> None:
    def gentle(x: Any, y: Any) -> Any:
        return 100 + 0.04 * x + 0.10 * y

    trail = main_trail((20, 200), (380, 200))
    count = {}
    for soil in ({}, {"erosion_hazard": "extreme"}, {"dips": "broad"}):
        laid, found = drained(terrain_of(gentle), [trail], soil=soil)
        key = "".join(soil.values())
        count[key] = sum(bar.why == "spacing" for bar in laid)
        told = [f for f in found if f.code == "bar_dips"]
        assert bool(told) == (key == "broad")
        assert all(not f.confirmed and "from memory" in f.message for f in told)
        assert {bar.kind for bar in laid if bar.why == "spacing"} == {
            "dip" if key == "broad" else "bar"
        }
    # from the landing's bar 9 m out or so, 360 m: bars at 4 % every 47.9 m, at the most
    # extreme hazard every 30.5 m, dips every 61 m
    assert count["broad"] < count[""] < count["extreme"]
    assert count["extreme"] == pytest.approx(350 / 30.48 - 1, abs=1)


def test_water_ends_where_the_ground_is_level_or_not_known() -> None:
    flat = terrain_of(lambda x, y: 100 + 0 * x)
    way = descents(flat, np.array([WEST + 50.0]), np.array([SOUTH + 50.0]))
    assert np.ptp(way, axis=0).max() == 0.0
    hill = terrain_of(lambda x, y: 100 + 0.1 * x)
    way = descents(hill, np.array([WEST + 5.0]), np.array([SOUTH + 50.0]))
    assert np.isfinite(way).all()
    cone = terrain_of(lambda x, y: 0.2 * np.hypot(x - 200, y - 200))
    way = descents(cone, np.array([WEST + 230.0]), np.array([SOUTH + 240.0]), look_m=40)
    off = shapely.distance(shapely.points(way[:, 0]), LineString([at(230, 240), at(200, 200)]))
    assert off.max() < 0.1
