"""Necks on ground with a known bank and a known gap in it."""

import re
from typing import Any

import numpy as np
import pytest
from made_ground import area_of, at, main_trail, settings_of, strips_of, terrain_of, trees_of
from shapely.geometry import MultiPolygon, Point, box

from layout import necks
from layout.site import Area
from layout.terrain import Terrain

STAND = MultiPolygon([box(*at(100, 60), *at(300, 300))])
MAIN = main_trail((200, 80), (200, 150))
NEAR = [(180.0, 120.0), (220.0, 130.0)]
BEYOND = [(160.0, 272.0), (200.0, 275.0), (240.0, 272.0), (270.0, 270.0)]
LOOSER = re.compile(
    r"(raise|exceed|loosen|relax|go past|drive over|allow (more|a steeper)|higher limit|"
    r"steeper (grade|limit))",
    re.IGNORECASE,
)


def banked(slope_pct: float, height_m: float, gap: tuple[float, float] | None = None) -> Terrain:
    """Give level ground with a bank at y = 200; between the gap's ends it is gentler."""

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        run = 100 * height_m / slope_pct
        hard = height_m * np.clip((y - 200) / run, 0, 1)
        if gap is None:
            return 100 + 0.01 * y + hard
        soft = height_m * np.clip((y - 200) / (100 * height_m / 28.0), 0, 1)
        inside = (x > gap[0]) & (x < gap[1])
        return 100 + 0.01 * y + np.where(inside, soft, hard)

    return terrain_of(height)


def job(terrain: Terrain, trees: list[tuple[float, float]], **tables: Any) -> Area:
    return area_of(
        terrain,
        settings_of(**tables),
        trees=trees_of([{"x": x, "y": y, "marked": True} for x, y in trees]),
        stand=STAND,
        landing=box(*at(190, 70), *at(210, 82)),
        main_trail=MAIN.line,
    )


def found(area: Area, terrain: Terrain, *strips: Any) -> tuple[necks.Neck, ...]:
    return necks.necks(area, terrain, strips_of(terrain, *strips), (MAIN,))


BANK = banked(45.0, 5.0)


def test_no_neck_where_all_is_reached() -> None:
    plane = terrain_of(lambda x, y: 100 + 0.03 * y)
    assert found(job(plane, [*NEAR, *BEYOND]), plane) == ()
    assert found(job(BANK, NEAR), BANK) == ()


def test_the_bank_is_the_neck_and_all_trees_lie_behind_it() -> None:
    places = found(job(BANK, [*NEAR, *BEYOND]), BANK)
    assert places
    behind = {tree for neck in places for tree in neck.tree_ids}
    assert behind == {"T3", "T4", "T5", "T6"}
    for neck in places:
        assert 190 <= neck.y - at(0, 0)[1] <= 222
        assert neck.value_pct > neck.limit_pct
        assert 0 < neck.length_m < 40
        assert neck.trail_id == MAIN.trail_id
        assert neck.away_m == pytest.approx(Point(neck.x, neck.y).distance(MAIN.line))


def test_the_gap_is_where_the_neck_lies() -> None:
    """The bank is 50 % everywhere but in a gap of 28 %, still over the limits."""
    ground = banked(50.0, 6.0, gap=(215.0, 245.0))
    places = found(job(ground, [*NEAR, *BEYOND]), ground)
    assert places
    assert len(places[0].tree_ids) >= 3
    assert 205 <= places[0].x - at(0, 0)[0] <= 255


def test_ground_closed_for_other_reasons_is_no_neck() -> None:
    """A water strip right across: nothing is over a limit, and nothing is suggested."""
    plane = terrain_of(lambda x, y: 100 + 0.03 * y)
    strip = box(*at(0, 190), *at(400, 215))
    assert found(job(plane, [*NEAR, *BEYOND]), plane, strip) == ()


def test_served_trees_are_not_behind_a_neck() -> None:
    area = job(BANK, [*NEAR, *BEYOND])
    all_served = frozenset(area.trees.tree_id)
    assert necks.necks(area, BANK, strips_of(BANK), (MAIN,), all_served) == ()


@pytest.mark.parametrize("condition", ["dry", "wet"])
def test_a_finding_never_offers_to_pass_a_limit(condition: str) -> None:
    area = job(BANK, [*NEAR, *BEYOND], ground={"condition": condition})
    told = necks.findings(found(area, BANK), "us")
    assert told
    for finding in told:
        assert finding.code == "neck"
        assert finding.level == "caution"
        assert finding.at is not None
        assert "not to be driven" in finding.message
        assert "limit that stays" in finding.message
        assert "another landing" in finding.message
        assert "winching across it" in finding.message
        assert not LOOSER.search(finding.message)
        assert "safe" not in finding.message.lower()
    limits = {f.limit for f in told}
    assert limits <= ({20.0, 10.0} if condition == "dry" else {15.0, 20.0, 10.0})


def test_a_bench_is_spoken_of_for_cross_slope_only() -> None:
    cross = necks.Neck(1, 2, 10, "cross", 27, 20, ("a",), "M", 30.0, 40.0)
    adverse = necks.Neck(1, 2, 10, "adverse", 19, 10, ("a", "b"), "", None, None)
    a, b = necks.findings((cross, adverse), "metric")
    assert "bench" in a.message
    assert "1 unserved tree lies" in a.message
    assert "bench" not in b.message
    assert "2 unserved trees lie" in b.message
    assert "M" in a.subject_id
    assert b.subject_id == ""


def test_the_same_twice() -> None:
    area = job(BANK, [*NEAR, *BEYOND])
    assert found(area, BANK) == found(area, BANK)


def test_without_a_trail_the_search_starts_at_the_landing() -> None:
    area = job(BANK, [*NEAR, *BEYOND])
    places = necks.necks(area, BANK, strips_of(BANK))
    assert places
    assert all(neck.trail_id == "" and neck.at_m is None for neck in places)
