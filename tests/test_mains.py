"""Main trails laid out where none is drawn."""

import math
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
from made_plan import layout_only
from shapely.geometry import LineString, MultiPolygon, box

from layout import fall_lines, ground, landing, terrain, water
from layout.area import read_area
from layout.checks import check_layout
from layout.errors import InputError, NoWayError
from layout.far_ends import groups, marked_xy
from layout.geometry import along, at_stations
from layout.mains import MOST, Candidate, candidate_mains, overlap
from layout.records import Landing, Trail
from layout.settings import limits_in_force
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips
from tests.made_ground import (
    SIZE_M,
    area_of,
    at,
    landing_of,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)

SAMPLE = Path(__file__).parents[1] / "sample_area"


def tried(area: Area, shape: Terrain, strips: Strips, site: Landing) -> tuple[Candidate, ...]:
    opened = ground.open_area(area, strips)
    return candidate_mains(area, shape, opened, limits_in_force(area.settings), site, strips)


@pytest.fixture(scope="module")
def sample() -> tuple[Area, Terrain, Strips, Landing, tuple[Candidate, ...]]:
    area = replace(read_area(SAMPLE), main_trail=None)
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    assert area.landing is not None
    site = landing.measure(area, shape, strips, area.landing)
    return area, shape, strips, site, tried(area, shape, strips, site)


def stops(area: Area, shape: Terrain, strips: Strips, site: Landing, line: LineString) -> list[str]:
    width = area.settings.trails.width_main_m
    main = Trail("M", "main", site.landing_id, line, width, "routed")
    found = check_layout(area, shape, strips, site, (main,))
    return [f.code for f in found if f.level == "stop" and f.subject_id == "M"]


def test_sample_mains_keep_every_limit(sample: tuple) -> None:  # type: ignore[type-arg]
    *job, mains = sample
    assert mains
    for main in mains:
        assert stops(*job, LineString(main.line)) == []
    # and the checker would have spoken: the same line pushed into the hill is stopped
    assert stops(*job, shapely.affinity.rotate(LineString(mains[0].line), 90, origin=(
        float(mains[0].line[0, 0]), float(mains[0].line[0, 1]))))  # fmt: skip


def test_sample_mains_start_straight_on_the_landing(sample: tuple) -> None:  # type: ignore[type-arg]
    area, _, _, site, mains = sample
    need = landing.run_in_m(area.settings)
    assert need == pytest.approx(16 * 0.3048 + area.settings.tractor.length_m, abs=0.01)
    for main in mains:
        assert site.shape.boundary.distance(shapely.Point(main.line[0])) < 1e-6
        ends = at_stations(main.line, np.array([0.0, need]))
        assert math.dist(*ends) == pytest.approx(need, abs=1e-6)
        assert not shapely.intersects(
            LineString(at_stations(main.line, np.array([0.1, need]))), site.shape
        )


def dunes(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return 0.06 * y + 2 * np.cos((x - SIZE_M / 2) / 30) + 1.5 * np.cos(y / 25)


def made(flip: str = "") -> tuple[Area, Terrain, Strips, Landing]:
    """Make rolling ground with a landing at its foot and trees on three knolls."""
    spots = [(90.0, 300.0), (200.0, 340.0), (290.0, 220.0), (120.0, 160.0)]
    rng = np.random.default_rng(1)
    marked = [(x + dx, y + dy) for x, y in spots for dx, dy in rng.uniform(-25, 25, (8, 2))]
    middle = (200.0, 40.0)

    def place(x: float, y: float) -> tuple[float, float]:
        if flip == "mirror":
            return (SIZE_M - x, y)
        return (SIZE_M - y, x) if flip == "quarter" else (x, y)

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return dunes(y, SIZE_M - x) if flip == "quarter" else dunes(x, y)

    rows = [
        {"x": place(x, y)[0], "y": place(x, y)[1], "marked": True, "tree_id": f"T{i}"}
        for i, (x, y) in enumerate(marked)
    ]
    shape = terrain_of(height)
    site = landing_of(*place(*middle))
    area = area_of(shape, trees=trees_of(rows), landing=site.shape)
    return area, shape, strips_of(shape), site


@pytest.fixture(scope="module")
def plain() -> tuple[Candidate, ...]:
    return tried(*made())


def test_mains_differ_and_keep_the_limits(plain: tuple[Candidate, ...]) -> None:
    assert 4 <= len(plain) <= MOST
    for a, b in combinations(plain, 2):
        assert overlap(b.line, a.line) < 0.65
    for main in plain:
        assert not main.measured.broken.any()
        assert stops(*made(), LineString(main.line)) == []
        assert main.cost_m2 >= 3.6 * float(along(main.line)[-1])
    assert [m.score_m2 for m in plain] == sorted(m.score_m2 for m in plain)


def test_the_same_again(plain: tuple[Candidate, ...]) -> None:
    again = tried(*made())
    assert [m.line.tobytes() for m in again] == [m.line.tobytes() for m in plain]


@pytest.mark.parametrize("flip", ["mirror", "quarter"])
def test_turned_ground_gives_as_good_mains(flip: str, plain: tuple[Candidate, ...]) -> None:
    turned = tried(*made(flip))
    for main in turned:
        assert stops(*made(flip), LineString(main.line)) == []
    # equal ways are many and ends are not the same cells: as good, not point for point
    assert turned[0].score_m2 == pytest.approx(plain[0].score_m2, rel=0.05)


def test_ground_too_steep_says_the_arithmetic() -> None:
    shape = terrain_of(lambda x, y: 0.35 * y)
    area = area_of(shape, trees=trees_of([{"x": 200.0, "y": 300.0, "marked": True}]))
    with pytest.raises(NoWayError, match=r"steeper than 28 % in every direction.*22 %"):
        tried(area, shape, strips_of(shape), landing_of(200, 60))
    with pytest.raises(InputError, match=r"\[main_trail\]: none is drawn.*28 %"):
        layout_only(replace(area, landing=landing_of(200, 60).shape))


def test_a_landing_shut_in_has_no_main() -> None:
    shape = terrain_of(lambda x, y: 0.02 * y)
    area = area_of(
        shape,
        trees=trees_of([{"x": 200.0, "y": 300.0, "marked": True}]),
        stand=MultiPolygon([box(*at(160, 160), *at(240, 240))]),
    )
    # open for the landing itself, too small for a straight way off it
    with pytest.raises(NoWayError, match="run-in"):
        tried(area, shape, strips_of(shape), landing_of(200, 200, 30.0))


def test_where_every_way_leads_water_down_mains_are_tried_all_the_same(
    plain: tuple[Candidate, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The checks say so of the one taken; without any the user would see nothing."""
    monkeypatch.setattr(fall_lines, "water_of", lambda *_: box(*at(0, 0), *at(1, 1)))
    monkeypatch.setattr(
        fall_lines, "led_to_water", lambda water, _, st: np.full(len(st), water is not None)
    )
    found = tried(*made())
    assert [c.line.tobytes() for c in found] == [c.line.tobytes() for c in plain]


def test_groups_are_far_apart_and_hold_every_marked_tree() -> None:
    area = made()[0]
    parted = groups(marked_xy(area), at(200, 40), 4)
    assert sum(len(g) for g in parted) == int(area.trees.marked.sum())
    middles = np.array([g.mean(axis=0) for g in parted])
    apart = [math.dist(a, b) for a, b in combinations(middles, 2)]
    assert len(parted) == 4
    assert min(apart) > 50


def test_a_tree_length_needs_a_longer_run_in() -> None:
    plain = settings_of()
    tree = settings_of(work={"extract": "tree"})
    assert landing.run_in_m(tree) == pytest.approx(60 * 0.3048)
    assert landing.run_in_m(tree) > landing.run_in_m(plain)


@pytest.mark.slow
def test_the_plan_stands_without_a_drawn_main() -> None:
    area = read_area(SAMPLE)
    # a busy machine may not end the growing early: what is asked here is not speed
    patient = area.settings.objective.model_copy(update={"time_limit_s": 3600.0})
    settings = area.settings.model_copy(update={"objective": patient})
    area = replace(area, main_trail=None, settings=settings)
    told: list[str] = []
    plan = layout_only(area, progress=told.append)
    assert sum(line.startswith("main trail") for line in told) >= 2
    main = plan.trails[0]
    assert (main.trail_id, main.kind, main.source) == ("M", "main", "routed")
    assert [f.message for f in plan.findings if f.level == "stop"] == []
    served = sum(t.status == "served" for t in plan.trees)
    assert served >= 0.8 * area.trees.marked.sum()
    # nothing lies beyond the main's end, and it ends behind the last thing on it
    mouths = [t.joins_at_m for t in plan.trails if t.joins_id == "M" and t.joins_at_m is not None]
    parked = [p.at_m for p in plan.positions if p.trail_id == "M"]
    turned = [p.at_m for p in plan.turning_places if p.trail_id == "M"]
    assert max(mouths + parked + turned) <= main.line.length + 1e-6
