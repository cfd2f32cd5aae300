"""Plain ways to choose spurs, to hold the planner's choice against.

All of them stand on the same ground tables, main trails, limits, winch rules
and prices as the plan they are compared with:

* ``greedy_grown``: greedy cover, then everything dropped that does not pay,
  with regrowth rounds of its own: the loop of `layout.grow` with only the exact
  choice replaced.
* ``herringbone``: straight spurs at 45 degrees to both sides of the main
  trails, a fixed distance apart, cut off where a limit or closed ground stops
  them; all of them built. ``used_only`` builds only what its best choice of
  pulls drives on.

Where a rule had to be settled, it was settled in the baseline's favour: spurs
of the herringbone may start anywhere, the best of several phases and main trails
counts, its positions and turning places are chosen exactly rather than by the nearest pull,
and no baseline is held to the checks a finished plan goes through.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any
from unittest import mock

import numpy as np
import shapely
from numpy.typing import NDArray
from pruning import GreedyNear, greedy_pruned
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import fairline, landing, plan, water
from layout.checks.lines import junction_deg
from layout.choice import choose
from layout.clashes import extents
from layout.forest import LANDING, Candidates, candidates
from layout.geometry import at_stations, bearings
from layout.grow import Grown, grow
from layout.joined import joined
from layout.mains import candidate_mains
from layout.network import Branch
from layout.settings import limits_in_force
from layout.site import Area
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.turning import Place

Floats = NDArray[np.float64]

SPACING_M = 40.0
SPUR_DEG = 45.0
PHASES = 4
CLEAR_FROM_M = 8.0  # a spur keeps off other trails from here on
SHORTEST_M = 12.0
TAIL_M = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What spurs of one plan grew on: the last growing's arguments."""

    grower: Grower
    standing: list[Branch]
    opened: BaseGeometry
    landing_xy: list[tuple[float, float]]
    rules: dict[str, Any]
    landing: BaseGeometry
    main_is_routed: bool
    earlier: tuple[Grower, ...] = ()  # where benches may be dug: the one without, grown on first


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """A network built, and what it costs, all counted alike.

    ``objective_m2`` includes the main trails at their own width.
    """

    branches: tuple[Branch, ...]
    places: tuple[Place, ...]
    objective_m2: float
    served: int
    seconds: float
    chosen_by: str
    history: tuple[float, ...] = ()
    pull_m: Floats = field(default_factory=lambda: np.zeros(0))


# -- the plan itself, and what it grew on


def planned(
    area: Area, tell: Callable[[str], None] | None = None
) -> tuple[plan.Plan, Scene, Layout]:
    """Make a plan and keep what its last growing was given and gave."""
    calls: list[tuple[tuple[Any, ...], dict[str, Any], Grown]] = []
    level: list[Grower] = []  # without benches, grown on first

    def kept(*given: Any, **rules: Any) -> Grown:
        out = grow(*given, **rules)
        calls.append((given, rules, out))
        return out

    def joined_too(*given: Any, **rules: Any) -> Grown:
        out = joined(*given, **rules)
        calls.append((*calls[-1][:2], out))
        return out

    def grown_level(*given: Any, **rules: Any) -> Grown:
        level.append(given[0])
        return grow(*given, **rules)

    began = time.perf_counter()
    with (
        mock.patch("layout.checked_growth.grow", kept),
        mock.patch("layout.checked_growth.joined", joined_too),
        mock.patch("layout.plan.grow", grown_level),
    ):
        made = plan.make_plan(area, progress=tell, options=False)
    seconds = time.perf_counter() - began
    spots = [(one.x, one.y) for one in made.landings]
    mine = [  # other landings may have been grown from too
        call
        for call in calls
        if call[0][3] == spots and call[2].choice.objective == made.choice.objective_m2
    ]
    if not mine:
        raise RuntimeError("the growing of this plan was not seen")
    (grower, start, opened, landing_xy), rules, grown = mine[-1]
    scene = Scene(
        grower=grower,
        standing=[b for b in start if b.standing],
        opened=opened,
        landing_xy=landing_xy,
        rules={key: rules[key] for key in ("main_swing_deg", "pad_radius_m")},
        landing=made.landing.shape,
        main_is_routed=all(t.source == "routed" for t in made.trails if t.kind == "main"),
        earlier=tuple(level[-1:]) if grower.judge.bench is not None else (),
    )
    return made, scene, _of_grown(scene, grown, seconds, "exact")


def _of_grown(scene: Scene, grown: Grown, seconds: float, chosen_by: str) -> Layout:
    ends = [
        *((s.branch, s.at_m) for s in grown.spots if s.branch != LANDING),
        *_place_ends(grown.branches, grown.places),
    ]
    branches = _without_tails(scene, grown.branches, ends)
    served = np.flatnonzero(grown.choice.tree_pair >= 0)
    rows = grown.candidates.kept[grown.choice.tree_pair[served]]
    return Layout(
        branches,
        grown.places,
        grown.choice.objective + mains_m2(scene, branches),
        served.size,
        seconds,
        chosen_by,
        grown.history,
        _pull_m(scene, grown.candidates, rows),
    )


def _pull_m(scene: Scene, found: Candidates, rows: NDArray[np.int64]) -> Floats:
    """Give plane distances from position to stump."""
    ground, spots = scene.grower.pull_ground, found.spots
    p, t = found.pairs.pos[rows], found.pairs.tree[rows]
    return np.hypot(spots.x[p] - ground.x[t], spots.y[p] - ground.y[t])


def _place_ends(branches: tuple[Branch, ...], places: tuple[Place, ...]) -> list[tuple[int, float]]:
    out = []
    for place in places:
        out.append((place.branch, place.at_m))
        if place.line is not None:
            points = shapely.points(np.asarray(place.line, dtype=float))
            far = shapely.line_locate_point(branches[place.branch].shape, points)
            out.append((place.branch, float(np.max(far))))
    return out


def _without_tails(
    scene: Scene, branches: tuple[Branch, ...], ends: list[tuple[int, float]]
) -> tuple[Branch, ...]:
    """Cut routed main trails off behind the last thing on them, for every layout alike."""
    if not scene.main_is_routed:
        return branches
    out = []
    for n, branch in enumerate(branches):
        if branch.parent >= 0:
            out.append(branch)
            continue
        used = [at for m, at in ends if m == n]
        used += [b.mouth_m for b in branches if b.parent == n]
        out.append(branch.until(min(max(used, default=TAIL_M) + TAIL_M, branch.length_m)))
    return tuple(out)


def mains_m2(scene: Scene, branches: tuple[Branch, ...]) -> float:
    """Give what the main trails cost at their own width, weighted square metres."""
    area = scene.grower.judge.area
    judge = fairline.judge_for(
        area,
        scene.grower.judge.terrain,
        limits_in_force(area.settings),
        scene.opened,
        width_m=area.settings.trails.width_main_m,
        weight=area.settings.objective.main,
        passages=scene.grower.judge.passages,
    )
    return sum(
        float(fairline.measure(judge, b.line).price_m2[-1]) for b in branches if b.parent < 0
    )


# -- greedy cover and pruning


def greedy_grown(scene: Scene) -> Layout:
    """Grow the spurs anew with greedy cover and pruning in place of the exact choice.

    Second ways are put before it too. A spur too long needs a junction on its way, which
    greedy cover cannot buy: it is not held to the longest spur at all.
    """
    began = time.perf_counter()
    start = scene.standing
    with (
        Solver() as solver,
        mock.patch("layout.uncrossed.choose", greedy_pruned),
        mock.patch("layout.uncrossed.Near", GreedyNear),
        mock.patch("layout.uncrossed.overlong", return_value=[]),
    ):
        for grower in (*scene.earlier, scene.grower):
            grown = grow(
                grower, start, scene.opened, scene.landing_xy, solver=solver, **scene.rules
            )
            start = list(grown.branches)
        grown = joined(
            grower,
            grown,
            scene.opened,
            scene.landing_xy,
            solver=solver,
            known=Known(grower),
            progress=lambda _: None,
            **scene.rules,
        )
    if grown.choice.bound > 0.0:
        raise RuntimeError("the growing did not use the choice it was given")
    return _of_grown(scene, grown, time.perf_counter() - began, "greedy + pruning")


# -- the herringbone


def herringbone(scene: Scene, spacing_m: float = SPACING_M, *, used_only: bool = False) -> Layout:
    """Lay out straight spurs a fixed distance apart.

    Of a few phases, on the plan's own main trails and on every other main trail
    that was laid out, the one that serves most counts, then the cheapest.
    """
    began = time.perf_counter()
    step = spacing_m / np.sin(np.radians(SPUR_DEG))
    with Solver() as solver:
        tried = [
            _herringbone(on, k * step / PHASES + TAIL_M, step, solver, used_only)
            for on in _on_every_main(scene)
            for k in range(PHASES)
        ]
    best = min(tried, key=lambda layout: (-layout.served, layout.objective_m2))
    return replace(best, seconds=time.perf_counter() - began)


def _on_every_main(scene: Scene) -> list[Scene]:
    """Give the scene on its own main trails, and on others from the same landing."""
    if not scene.main_is_routed:
        return [scene]
    judge = scene.grower.judge
    area, shape = judge.area, judge.terrain
    strips = water.strips(area, shape)
    assert area.landing is not None
    found = candidate_mains(
        area, shape, scene.opened, limits_in_force(area.settings),
        landing.measure(area, shape, strips, area.landing), strips,
    )  # fmt: skip
    fixed = [b for b in scene.standing if b.parent >= 0]
    if fixed:  # they hang off the plan's own
        return [scene]
    return [
        scene,
        *(
            replace(scene, standing=[Branch(c.line, -1, 0.0, c.measured, built=True)])
            for c in found
        ),
    ]


def _herringbone(
    scene: Scene, first_m: float, step_m: float, solver: Solver, used_only: bool
) -> Layout:
    grower = scene.grower
    objective = grower.judge.area.settings.objective
    branches = [*scene.standing, *straight_spurs(scene, first_m, step_m)]
    found = candidates(grower, branches, scene.opened, scene.landing_xy, **scene.rules)
    forest = found.forest
    if not used_only:  # every spur is there whatever is pulled where
        forest = replace(forest, segment_cost=np.zeros_like(forest.segment_cost))
    choice = choose(
        forest,
        solver,
        time_limit_s=objective.time_limit_s,
        gap=objective.gap_pct / 100,
        seed=objective.seed,
    )
    total = choice.objective
    number = list(range(len(branches)))
    built = branches
    if used_only:
        extent = extents(found, branches, choice)
        number = [n for n in range(len(branches)) if branches[n].standing or extent[n] > 0]
        built = [
            branches[n] if branches[n].standing else branches[n].until(float(extent[n]))
            for n in number
        ]
    else:
        spurs = branches[len(scene.standing) :]
        total += sum(float(b.measured.price_m2[-1]) + objective.spur_start_m2 for b in spurs)
    places = tuple(found.places[q] for q in np.flatnonzero(choice.places))
    rows = found.kept[choice.tree_pair[choice.tree_pair >= 0]]
    stands = np.unique(found.pairs.pos[rows])
    ends = [
        (int(found.spots.branch[p]), float(found.spots.at_m[p]))
        for p in stands
        if found.spots.branch[p] != LANDING
    ]
    ends += _place_ends(tuple(branches), places)
    here = {n: k for k, n in enumerate(number)}
    mine = tuple(
        replace(b, parent=here[b.parent]) if b.parent >= 0 else b for b in built
    )  # standing branches come first, so their numbers stay
    kept = _without_tails(scene, mine, [(here[n], at) for n, at in ends if n in here])
    return Layout(
        kept,
        places,
        total + mains_m2(scene, kept),
        len(rows),
        0.0,
        "herringbone, used spurs only" if used_only else "herringbone",
        (),
        _pull_m(scene, found, rows),
    )


def straight_spurs(scene: Scene, first_m: float, step_m: float) -> list[Branch]:
    """Lay out the spurs of both sides of every main trail, cut off where they must end."""
    grower = scene.grower
    width = grower.judge.width_m
    others = [b.shape for b in scene.standing]
    out: list[Branch] = []
    for number, main in enumerate(scene.standing):
        if main.parent >= 0:
            continue
        at = np.arange(first_m, main.length_m, step_m)
        if not at.size:
            continue
        mouths, along_rad = at_stations(main.line, at), bearings(main.line, at)
        for (x, y), rad, mouth in zip(mouths, along_rad, at, strict=True):
            for side in (1.0, -1.0):
                way = rad + side * np.radians(SPUR_DEG)
                far = grower.longest_m
                line = np.array([[x, y], [x + far * np.cos(way), y + far * np.sin(way)]])
                length = min(
                    fairline.measure(grower.judge, line).sound_m, _clear_m(line, others, width)
                )
                if length < SHORTEST_M:
                    continue
                line[1] = line[0] + length * np.array([np.cos(way), np.sin(way)])
                measured = fairline.measure(grower.judge, line)
                out.append(Branch(line, number, float(mouth), measured))
                others.append(LineString(line))
    return out


def _clear_m(line: Floats, others: list[LineString], width_m: float) -> float:
    """Give how far a line goes before it comes within a trail's width of another trail."""
    length = float(np.hypot(*(line[1] - line[0])))
    at = np.arange(CLEAR_FROM_M, length, 1.0)
    points = shapely.points(at_stations(line, at))
    near = shapely.dwithin(shapely.union_all(others), points, width_m)
    return float(at[np.argmax(near)]) if near.any() else length


# -- what is counted of every layout


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of one layout; ``broken`` counts 1 m stations over a limit."""

    objective_m2: float
    trail_m: float
    share_pct: float
    served: int
    marked: int
    stems_pct: float
    junctions: int
    in_35_45_pct: float
    broken: int
    seconds: float


def figures(scene: Scene, layout: Layout) -> Figures:
    """Count one layout."""
    area = scene.grower.judge.area
    trails = area.settings.trails
    shapes = [
        b.shape.buffer(
            (trails.width_main_m if b.parent < 0 else trails.width_spur_m) / 2, cap_style="flat"
        )
        for b in layout.branches
    ]
    taken = shapely.union_all([*shapes, *(place.shape for place in layout.places)])
    leave = ~area.trees.marked
    gone = shapely.contains_xy(taken, area.trees.x[leave], area.trees.y[leave])
    angles = np.array(
        [
            junction_deg(b.shape, layout.branches[b.parent].shape, b.mouth_m)
            for b in layout.branches
            if b.parent >= 0
        ]
    )
    broken = sum(int(_again(scene, b).broken.sum()) for b in layout.branches if b.parent >= 0)
    return Figures(
        objective_m2=layout.objective_m2,
        trail_m=sum(b.length_m for b in layout.branches),
        share_pct=100 * float(taken.difference(scene.landing).area) / float(area.stand.area),
        served=layout.served,
        marked=int(scene.grower.pull_ground.marked.size),
        stems_pct=100 * float(gone.mean()) if leave.any() else 0.0,
        junctions=int(angles.size),
        in_35_45_pct=100 * float(np.mean((angles >= 35) & (angles <= 45))) if angles.size else 0.0,
        broken=broken,
        seconds=layout.seconds,
    )


def _again(scene: Scene, branch: Branch) -> fairline.Measured:
    return fairline.measure(scene.grower.judge, branch.line)
