"""Two checkers that share no measuring code judge the same layouts alike."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
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
    strips_of,
    terrain_of,
    trees_of,
)
from plan_checker import Fault, View, bends, crosses, faults, grades, opening
from shapely.geometry import LineString, Point, box

from layout.checks import check_layout
from layout.checks.bends import radius_at
from layout.checks.lines import junction_deg
from layout.geometry import fair_curve
from layout.landing import check as check_landing
from layout.records import Landing, Pull, Trail, TreeOutcome, TurningPlace, WinchPosition
from layout.site import Area, WaterFeature
from layout.terrain import Terrain, station_table
from layout.water import Strips


def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Slope to the south with knolls and hollows, up to about 35 %."""
    return (
        200 + 0.05 * y + 5 * np.sin(x / 29 + 0.4) * np.cos(y / 37) + 1.2 * np.sin((x + 2 * y) / 17)
    )


ROLLING = terrain_of(rolling)
# One name of ours for each name of the second checker's; what is not named is not compared.
SAME = {
    "pitch_too_steep_down": "grade_favourable",
    "pitch_too_long_down": "grade_favourable",
    "pitch_too_soon_down": "grade_favourable",
    "pitch_too_steep_up": "grade_adverse",
    "pitch_too_long_up": "grade_adverse",
    "pitch_too_soon_up": "grade_adverse",
    "cross_slope": "cross_slope",
    "bend": "turn_radius",
    "strip": "strip_entered",
    "keep_out": "keep_out",
    "setback": "setback",
    "outside": "outside_land",
    "water": "water_crossed",
}


def wander(seed: int) -> LineString:
    """Draw a trail that turns at random, every third one with bends too tight."""
    rng = np.random.default_rng(seed)
    heading, place = rng.uniform(0, 2 * math.pi), rng.uniform(120, 280, 2)
    points = [place]
    for _ in range(rng.integers(2, 7)):
        heading += rng.normal(0, 0.7)
        place = place + rng.uniform(15, 45) * np.array([math.cos(heading), math.sin(heading)])
        points.append(place)
    return line(*fair_curve(np.array(points), 5.0 if seed % 3 == 0 else 12.0, widen=1.3).tolist())


@pytest.mark.parametrize("seed", range(12))
def test_stations_are_read_alike(seed: int) -> None:
    shape = wander(seed)
    area = area_of(ROLLING)
    view = View(area, [], [])
    ours = station_table(ROLLING, shape, 3.6)
    s, rise = grades(view, shape)
    assert s == pytest.approx(ours.at_m)
    assert -rise == pytest.approx(ours.grade_pct, abs=1e-3)
    _, cross = crosses(view, shape, 3.6)
    # bounds of what the two ways of smoothing, to 4 sigma each, may differ by
    assert np.nanmax(np.abs(cross - ours.cross_pct)) < 0.1
    where, radius = bends(shape)
    same = radius_at(shape, where)
    tight = np.minimum(radius, same) < 60
    assert radius[tight] == pytest.approx(same[tight], rel=0.03)


def test_wandering_trails_are_judged_alike() -> None:
    """Whatever is clearly over a limit is found by both, and nothing by one alone."""
    strip = box(*at(300, 0), *at(330, 400))
    area = area_of(
        ROLLING,
        keep_out=(Point(at(150, 250)).buffer(20),),
        water=(WaterFeature("b", "perennial", line((315, 0), (315, 400))),),
    )
    strips = strips_of(ROLLING, strip)
    seen: set[str] = set()
    for seed in range(60):
        trail = Trail("M1", "main", "L1", wander(seed), 3.6576, "routed")
        first = [f for f in check_layout(area, ROLLING, strips, None, [trail])]
        second = faults(area, None, [trail], strips=[strip])
        ours = {f.code for f in first if f.level == "stop"}
        theirs = {SAME[f.kind] for f in second if f.kind in SAME}
        # the second gives every limit some slack: all it finds must be found
        assert theirs <= ours, (seed, theirs - ours, second)
        for finding in first:
            if finding.level == "stop" and finding.code in SAME.values() and clearly(finding):
                assert finding.code in theirs, (seed, finding)
        seen |= theirs
    assert seen == set(SAME.values()), "a check that never fails was not compared"


def clearly(finding: Any) -> bool:
    """Leave out what lies within the second checker's slack of a limit."""
    over = abs(finding.value - finding.limit)
    if finding.unit == "%":
        return bool(over > 0.3)
    if finding.code in ("grade_favourable", "grade_adverse"):
        return bool(over > 4)  # a station near the limit may join two runs or part them
    if finding.code == "turn_radius":
        return bool(over > 0.05 * finding.limit)
    return bool(over > 1.5)


@pytest.mark.parametrize("angle", [0.0, 20.0, 45.0, 89.0, 120.0, 179.0])
def test_junctions_are_read_alike(angle: float) -> None:
    main = main_trail((200, 50), (205, 300))
    out = math.radians(80 - angle)
    end = (200 + 50 * math.cos(out), 150 + 50 * math.sin(out))
    side = spur("S1", main, 100, end)
    assert opening(side.line, main.line, 100) == pytest.approx(
        junction_deg(side.line, main.line, 100), abs=1e-6
    )


# --- one good plan, and one fault at a time -------------------------------------------------


@dataclass
class Made:
    """The parts of a plan, to be spoiled one at a time."""

    terrain: Terrain
    area: Area
    strips: Strips
    landing: Landing
    trails: list[Trail]
    positions: list[WinchPosition]
    pulls: list[Pull]
    places: list[TurningPlace]
    outcomes: list[TreeOutcome]

    def first(self) -> set[str]:
        """Give what the package's checker stops."""
        found = check_layout(
            self.area,
            self.terrain,
            self.strips,
            self.landing,
            self.trails,
            self.positions,
            self.pulls,
            self.places,
            self.outcomes,
        )
        found += tuple(check_landing(self.area, self.terrain, self.strips, self.landing))
        return {f.code for f in found if f.level == "stop"}

    def second(self) -> list[Fault]:
        """Give what the second checker finds."""
        return faults(
            self.area,
            self.landing,
            self.trails,
            self.positions,
            self.pulls,
            self.places,
            [s.shape for s in self.strips.polygons],
            self.outcomes,
        )


EAST, NORTH = 0.02, 0.03


def made() -> Made:
    """Lay out a main trail, two spurs and four pulls on a gentle plane, all within limits."""
    terrain = terrain_of(lambda x, y: 100 + EAST * x + NORTH * y)
    settings = settings_of(
        stand={"position_error": "1 m"},
        tractor={"mass": "6 t", "track": "1.8 m", "cg_height": "0.6 m", "traction": 0.7},
        winch={"pull_rating": "10 kN"},
    )
    main = main_trail((200, 32), (200, 250), source="routed")
    bend = fair_curve(np.array([(200.0, 150.0), (200.0, 155.0), (240.0, 195.0)]), 12.0)
    side = replace(spur("S1", main, 118, (240, 195)), line=line(*bend.tolist()))
    rows = [
        ("A", 203.0, 240.0, "W1", main, 190.0),
        ("B", 196.0, 245.0, "W1", main, 190.0),
        ("C", 250.0, 203.0, "W2", side, 40.0),
        ("D", 232.0, 208.0, "W3", main, 150.0),
    ]
    park: dict[str, WinchPosition] = {}
    pulls: list[Pull] = []
    for name, x, y, where, trail, at_m in rows[:3]:
        spot = trail.line.interpolate(at_m)
        before = trail.line.interpolate(at_m - 0.5)
        rear = math.atan2(spot.y - before.y, spot.x - before.x)
        old = park.get(where)
        back = at_m if trail is main else 118 + at_m
        park[where] = WinchPosition(
            where,
            trail.trail_id,
            "L1",
            at_m,
            spot.x,
            spot.y,
            (90 - math.degrees(rear)) % 360,
            0.0,
            100 * abs(-EAST * math.sin(rear) + NORTH * math.cos(rear)),
            -100 * (EAST * math.cos(rear) + NORTH * math.sin(rear)),
            max(back - 118, 0.0),
            (*(old.tree_ids if old else ()), name),
        )
        dx, dy = WEST + x - spot.x, SOUTH + y - spot.y
        rise, map_m = EAST * dx + NORTH * dy, math.hypot(dx, dy)
        ground = math.hypot(map_m, rise)
        reach = 130 * 0.3048 - min(max(rise / ground / 0.2, 0), 1) * 30 * 0.3048
        turned = math.degrees(math.atan2(dy, dx) - rear)
        pulls.append(
            Pull(
                name,
                where,
                map_m,
                ground,
                reach,
                reach - ground,
                "sure",
                abs(turned),
                "left" if turned > 0 else "right",
                rise,
                0.0,
                4.0,
                LineString([(spot.x, spot.y), (WEST + x, SOUTH + y)]),
            )
        )
    trees = trees_of(
        [{"tree_id": n, "x": x, "y": y, "marked": True} for n, x, y, *_ in rows]
        + [{"tree_id": "E", "x": 150, "y": 150}]
    )
    outcomes = [TreeOutcome(n, "served", "cut", w) for n, _, _, w, *_ in rows[:3]]
    outcomes += [TreeOutcome("D", "not_worth_it", "cut"), TreeOutcome("E", "leave", "leave")]
    pad = TurningPlace("P1", "M1", 118.0, "pad", Point(at(200, 150)).buffer(6), 3.6)
    return Made(
        terrain,
        area_of(terrain, settings, trees=trees),
        strips_of(terrain),
        replace(landing_of(200, 26, 6), slope_pct=100 * math.hypot(EAST, NORTH)),
        [main, side],
        list(park.values()),
        pulls,
        [pad],
        outcomes,
    )


def test_a_good_plan_has_no_stop_and_no_fault() -> None:
    plan = made()
    assert plan.first() == set()
    assert plan.second() == []


def swap(items: list[Any], index: int, **fields: Any) -> None:
    items[index] = replace(items[index], **fields)


def steepened(grade: float) -> Callable[[Made], None]:
    def spoil(plan: Made) -> None:
        plan.terrain = terrain_of(lambda x, y: 100 + EAST * x + grade * y)
        plan.area = replace(plan.area, dem=plan.terrain.dem)

    return spoil


def tilted(plan: Made) -> None:
    plan.terrain = terrain_of(lambda x, y: 100 + 0.24 * x + NORTH * y)
    plan.area = replace(plan.area, dem=plan.terrain.dem)


def with_area(**fields: Any) -> Callable[[Made], None]:
    def spoil(plan: Made) -> None:
        plan.area = replace(plan.area, **fields)

    return spoil


def with_strip(*corners: tuple[float, float]) -> Callable[[Made], None]:
    def spoil(plan: Made) -> None:
        plan.strips = strips_of(plan.terrain, box(*at(*corners[0]), *at(*corners[1])))

    return spoil


def no_pad(plan: Made) -> None:
    plan.places = []
    for i in range(2):
        swap(plan.positions, i, back_m=plan.positions[i].back_m + 118)


FAULTS: list[tuple[str, Callable[[Made], None], str, str]] = [
    ("too steep downhill", steepened(0.27), "grade_favourable", "pitch_too_steep_down"),
    ("too steep uphill", steepened(-0.17), "grade_adverse", "pitch_too_steep_up"),
    ("too long uphill", steepened(-0.13), "grade_adverse", "pitch_too_long_up"),
    ("cross slope", tilted, "cross_slope", "cross_slope"),
    ("strip", with_strip((190, 170), (195, 260)), "", ""),  # beside the trail: no fault
    ("strip entered", with_strip((190, 170), (199, 260)), "strip_entered", "strip"),
    ("landing near strip", with_strip((180, 45), (190, 60)), "landing_strip", "landing_strip"),
    (
        "keep out",
        with_area(keep_out=(box(*at(190, 100), *at(210, 110)),)),
        "keep_out",
        "keep_out",
    ),
    (
        "brook",
        with_area(water=(WaterFeature("b", "perennial", line((150, 90), (250, 90))),)),
        "water_crossed",
        "water",
    ),
    (
        "rope over brook",
        with_area(
            water=(WaterFeature("b", "perennial", line((150, 235), (198, 235), (210, 236))),)
        ),
        "pull_water",
        "rope_water",
    ),
    (
        "mouth off",
        lambda p: swap(p.trails, 1, line=line((200.4, 150), (240, 195))),
        "mouth_off_trail",
        "mouth",
    ),
    (
        "kink",
        lambda p: swap(p.trails, 0, line=line((200, 32), (200, 160), (215, 175), (200, 250))),
        "turn_radius",
        "bend",
    ),
    (
        "faces the landing",
        lambda p: swap(p.trails, 1, line=line((200, 150), (240, 120))),
        "junction_angle",
        "junction",
    ),
    ("joins nothing", lambda p: swap(p.trails, 1, joins_id="M9"), "joins_nothing", "joins_nothing"),
    ("no turning place", no_pad, "backing_far", "backing"),
    (
        "rosy backing",
        lambda p: swap(p.positions, 0, back_m=5.0),
        "record_mismatch",
        "backing_stated",
    ),
    (
        "position moved",
        lambda p: swap(p.positions, 0, x=WEST + 203),
        "record_mismatch",
        "position_off_trail",
    ),
    ("turned away", lambda p: swap(p.positions, 0, rear_azimuth_deg=35.0), "pull_angle", "angle"),
    (
        "wrong length",
        lambda p: swap(p.pulls, 0, ground_m=25.0),
        "record_mismatch",
        "stated_ground_m",
    ),
    ("wrong rise", lambda p: swap(p.pulls, 0, rise_m=4.0), "record_mismatch", "stated_rise_m"),
    ("pulled twice", lambda p: p.pulls.append(p.pulls[0]), "record_mismatch", "pulled_twice"),
    (
        "served unpulled",
        lambda p: swap(p.outcomes, 3, status="served", position_id="W1"),
        "record_mismatch",
        "served_and_pulled",
    ),
    (
        "landing off",
        lambda p: setattr(p, "landing", landing_of(230, 26, 6)),
        "starts_off_landing",
        "off_landing",
    ),
    (
        "landing at the edge",
        lambda p: setattr(p, "landing", landing_of(200, 18, 12)),
        "landing_outside",
        "landing_outside",
    ),
]


@pytest.mark.parametrize(
    ("spoil", "code", "kind"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS]
)
def test_one_fault_is_caught_by_both(spoil: Callable[[Made], None], code: str, kind: str) -> None:
    plan = made()
    spoil(plan)
    first, second = plan.first(), {f.kind for f in plan.second()}
    if not code:
        assert first == set() and second == set()
    else:
        assert code in first
        assert kind in second


def test_two_stems_in_the_way() -> None:
    plan = made()
    rows: Sequence[dict[str, Any]] = [
        {"tree_id": n, "x": x, "y": y, "marked": n != "E", **more}
        for n, x, y, more in (
            ("A", 203.0, 240.0, {}),
            ("B", 196.0, 245.0, {}),
            ("C", 250.0, 203.0, {}),
            ("D", 232.0, 208.0, {}),
            ("E", 246.3, 199.7, {"keep": "crop"}),
        )
    ]
    plan.area = replace(plan.area, trees=trees_of(rows))
    assert {"pull_rope_stem", "pull_keep_tree"} & plan.first()
    assert {"rope_stem", "keep_tree"} & {f.kind for f in plan.second()}
