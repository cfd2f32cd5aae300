"""Places for a landing on ground whose only good places are known."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_ground import (
    area_of,
    at,
    line,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from shapely.geometry import MultiPolygon, Point, box

from layout import landing, reach, sites
from layout.errors import InputError
from layout.settings import limits_in_force
from layout.site import Area, Hazard
from layout.terrain import Terrain

MARKED = trees_of(
    [{"x": 60 + 40 * i, "y": 60 + 40 * j, "marked": True} for i in range(8) for j in range(8)]
)
SMALL = MultiPolygon([box(*at(100, 100), *at(300, 300))])
GENTLE = terrain_of(lambda x, y: 100 + 0.035 * x + 0.01 * y)


def wall(gap: tuple[float, float] | None = None, at_y: float = 200.0) -> Any:
    """Give gentle ground parted by a bank 4 m high, with a gap where there is none."""

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        step = 4.0 / (1 + np.exp(-(y - at_y) / 1.5))
        if gap is not None:
            smooth = np.clip((y - at_y + 60) / 120, 0, 1) * 4.0
            step = np.where((x > gap[0]) & (x < gap[1]), smooth, step)
        return 100 + 0.035 * x + step

    return height


def asked(terrain: Terrain, strips: Any = None, count: int = 3, **fields: Any) -> Any:
    area = area_of(terrain, fields.pop("settings", None), **({"trees": MARKED} | fields))
    return sites.propose(
        area, terrain, strips or strips_of(terrain), limits_in_force(area.settings), count
    )


def test_a_gentle_plane_gives_good_places_apart_that_the_checks_do_not_stop() -> None:
    found = asked(GENTLE, stand=SMALL)
    assert len(found) == 3
    for a in found:
        assert a.slope_pct == pytest.approx(100 * math.hypot(0.035, 0.01), abs=0.05)
        assert a.good
        assert a.shape.area == pytest.approx(settings_of().landing.area_m2)
        for b in found:
            assert a is b or math.hypot(a.x - b.x, a.y - b.y) >= sites.APART_M
    area = area_of(GENTLE, trees=MARKED, stand=SMALL)
    for site in found:
        measured = landing.measure(area, GENTLE, strips_of(GENTLE), site.shape)
        checks = landing.check(area, GENTLE, strips_of(GENTLE), measured)
        assert not [f for f in checks if f.level == "stop"]


def test_the_square_lies_along_the_contour() -> None:
    (site,) = asked(GENTLE, count=1, stand=SMALL)
    x, y = site.shape.exterior.xy
    edge = math.atan2(y[1] - y[0], x[1] - x[0])
    assert math.sin(2 * (edge - math.atan2(0.01, 0.035))) == pytest.approx(0, abs=0.02)


def test_the_only_flat_place_on_a_hillside_is_found() -> None:
    """A terrace 60 m wide on a 14 % slope."""

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100 + 0.14 * y - 0.11 * np.clip(y - 220, 0, 60)

    found = asked(terrain_of(height))
    assert found
    for site in found:
        low, high = site.shape.bounds[1] - at(0, 0)[1], site.shape.bounds[3] - at(0, 0)[1]
        assert low > 212
        assert high < 288
        assert site.slope_pct <= sites.CARE_PCT


def test_no_place_on_steep_ground() -> None:
    steep = terrain_of(lambda x, y: 100 + 0.09 * x)
    assert asked(steep) == ()
    area = area_of(steep, trees=MARKED)
    with pytest.raises(InputError, match=r"no place anywhere can hold one of 0.15 acre"):
        sites.with_landing(area, steep, strips_of(steep), limits_in_force(area.settings))


def test_water_hazards_keep_outs_and_edges_are_kept_off() -> None:
    strip, closed = box(*at(0, 250), *at(400, 400)), box(*at(0, 0), *at(150, 400))
    wire = Hazard("w", "wire", line((395, 0), (395, 400)))
    found = asked(GENTLE, strips_of(GENTLE, strip), keep_out=(closed,), hazards=(wire,))
    assert found
    for site in found:
        assert site.shape.distance(strip) >= 50 * 0.3048
        assert not site.shape.intersects(closed)
        assert site.shape.distance(wire.geometry) >= 50 * 0.3048
        assert site.shape.within(box(*at(10, 10), *at(390, 390)))


def test_near_the_road_when_one_is_given() -> None:
    road = line((20, 0), (20, 400))
    found = asked(GENTLE, access_road=(road,))
    assert found
    assert all(site.road_m is not None and site.road_m <= sites.ROAD_NEAR_M for site in found)


def test_a_field_corner_comes_before_equal_ground() -> None:
    field = MultiPolygon([box(*at(200, 10), *at(300, 90))])
    stand = MultiPolygon([box(*at(10, 90), *at(390, 390))])
    (site,) = asked(GENTLE, may_use=field, stand=stand, count=1)
    assert site.in_field


def test_the_side_with_more_trees_within_reach_wins() -> None:
    """A bank no trail climbs parts the ground; most trees stand north of it."""
    ground = terrain_of(wall())
    trees = trees_of(
        [{"x": 60 + 30 * i, "y": 300 + 25 * j, "marked": True} for i in range(10) for j in range(3)]
        + [{"x": 60 + 60 * i, "y": 80, "marked": True} for i in range(5)]
    )
    (site,) = asked(ground, trees=trees, count=1)
    assert site.y > at(0, 200)[1]
    assert site.trees == 30


def test_trees_served_are_those_with_a_position_in_reach() -> None:
    """Trees of the far side of the bank, beyond any rope, are not counted."""
    ground = terrain_of(wall())
    area = area_of(ground, trees=MARKED)
    given = reach.scene(area, ground, strips_of(ground), limits_in_force(area.settings))
    found = reach.from_site(given, box(*at(190, 90), *at(215, 115)))
    y = MARKED.y - at(0, 0)[1]
    assert found.trees[y < 160].all()
    assert not found.trees[y > 260].any()
    assert 30 < found.share_pct < 60


def test_a_drawn_main_trail_keeps_the_landing_at_its_start() -> None:
    found = asked(GENTLE, main_trail=line((200, 60), (200, 300)))
    assert found
    assert all(site.shape.distance(Point(at(200, 60))) < 1.0 for site in found)


def test_the_same_answer_twice_and_it_says_it_was_proposed() -> None:
    a, b = asked(GENTLE, stand=SMALL), asked(GENTLE, stand=SMALL)
    assert [(s.x, s.y, s.trees) for s in a] == [(s.x, s.y, s.trees) for s in b]
    area: Area = area_of(GENTLE, trees=MARKED, stand=SMALL)
    given = sites.with_landing(area, GENTLE, strips_of(GENTLE), limits_in_force(area.settings))
    assert given.landing is not None
    assert given.landing.equals(a[0].shape)
    (told,) = given.findings
    assert told.code == "landing_proposed"
    assert told.level == "unknown"
    assert "proposed, not drawn" in told.message
    assert "Not looked at" in told.message
    assert f"{a[0].trees} of {len(MARKED)}" in told.message


def test_a_drawn_landing_stays() -> None:
    area = replace(area_of(GENTLE), landing=box(*at(100, 100), *at(120, 120)))
    assert (
        sites.with_landing(area, GENTLE, strips_of(GENTLE), limits_in_force(area.settings)) is area
    )
