"""Arms: where one main trail cannot serve the stand, and only where they pay."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from plan_checker import of_plan
from shapely.geometry import LineString, Point
from work_checker import of_work

from layout import arms, fairline, ground, landing, terrain, water, winch
from layout.arm_lines import APART_M, Wide, offered_arms, wide
from layout.arm_names import arm_trails, had_arms
from layout.arm_option import arm_row
from layout.checks import check_layout
from layout.findings import Finding
from layout.finished_network import network_of
from layout.geometry import along, coordinates
from layout.grow import Grown, grow
from layout.growing_ground import prepare
from layout.joints import hung
from layout.main_choice import as_spurs, best_mains, ranked_mains, shortened
from layout.mains import candidate_mains
from layout.network import Branch
from layout.outputs import write_plan
from layout.plan import make_plan
from layout.records import Landing, Trail
from layout.settings import limits_in_force
from layout.site import Area, Earlier, NamedLine
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.standing import with_standing
from layout.terrain import Terrain
from layout.turning import pad_radius_m
from layout.water import Strips
from tests.made_wide_stands import wide_stand


@dataclass(frozen=True, eq=False)
class Job:
    """A stand with its landing in the middle of its long side, and two mains to try."""

    area: Area
    shape: Terrain
    strips: Strips
    site: Landing
    room: Wide
    grower: Grower
    tries: tuple[tuple[Trail, float], ...]
    swing_deg: float

    @property
    def start(self) -> list[Branch]:
        """The first main alone."""
        return self.standing(self.tries[0][0])

    def standing(self, *trails: Trail) -> list[Branch]:
        line = coordinates(trails[0].line)
        trunk = Branch(line, -1, 0.0, fairline.measure(self.grower.judge, line), built=True)
        return list(with_standing(self.grower, trunk, trails))

    def grown(self, start: list[Branch], solver: Solver, rounds: int = 1) -> Grown:
        return grow(
            self.grower, start, self.room.opened, (self.site.x, self.site.y),
            main_swing_deg=self.swing_deg, pad_radius_m=pad_radius_m(self.grower.body_m),
            solver=solver, rounds=rounds,
        )  # fmt: skip

    def armed(self, solver: Solver) -> arms.Armed:
        grown = self.grown(self.start, solver)
        before = (int((grown.choice.tree_pair < 0).sum()), grown.choice.objective)
        return arms.with_arms(
            self.room, self.grower, self.start, before, main_swing_deg=self.swing_deg,
            solver=solver, known=Known(self.grower), tell=lambda line: None,
        )  # fmt: skip


def job(main_price: float = 1.0) -> Job:
    area = wide_stand(
        (430.0, 120.0), (215.0, 20.0), marked_per_ha=7.0, tables={"objective": {"main": main_price}}
    )
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    opened = ground.open_area(area, strips)
    limits = limits_in_force(area.settings)
    assert area.landing is not None
    site = landing.measure(area, shape, strips, area.landing)
    width = area.settings.trails.width_main_m
    found = candidate_mains(area, shape, opened, limits, site, strips, most=2)
    tries = tuple(
        (Trail("M", "main", "L1", LineString(one.line), width, "routed"), one.cost_m2)
        for one in found
    )
    grower, _ = prepare(area, shape, strips, opened, limits, tries[0][0])
    tractor = area.settings.tractor
    swing = winch.swing_limit_deg(tractor.length_m, tractor.width_m, width)
    room = wide(area, shape, opened, limits, site, strips)
    return Job(area, shape, strips, site, room, grower, tries, swing)


@pytest.fixture(scope="module")
def solver() -> Iterator[Solver]:
    with Solver() as running:
        yield running


@pytest.fixture(scope="module")
def made() -> Job:
    return job()


@pytest.fixture(scope="module")
def armed(made: Job, solver: Solver) -> arms.Armed:
    return made.armed(solver)


def test_arms_pay_for_themselves(made: Job, solver: Solver, armed: arms.Armed) -> None:
    alone = made.grown(made.start, solver)
    assert armed.arms
    assert armed.objective_m2 < alone.choice.objective
    assert armed.left < int((alone.choice.tree_pair < 0).sum())
    # the figure is that of a layout: what stands is priced once, and spurs chosen anew
    trails = arm_trails(armed.arms, made.tries[:1][0][:1], 3.66, None)
    with_them = made.grown(made.standing(made.tries[0][0], *trails), solver)
    total = with_them.choice.objective + sum(arm.cost_m2 for arm in armed.arms)
    assert total < alone.choice.objective
    assert total <= armed.objective_m2 * 1.05


def test_a_landing_in_the_middle_serves_both_ways(made: Job, armed: arms.Armed) -> None:
    ends = [made.tries[0][0].line.coords[-1], *(arm.line[-1] for arm in armed.arms)]
    assert min(x for x, _ in ends) < made.site.x - 60 < made.site.x + 60 < max(x for x, _ in ends)


def test_dear_trail_bears_no_arms(solver: Solver) -> None:
    dear = job(main_price=40.0)
    assert offered_arms(dear.room, dear.start) == [] or not dear.armed(solver).arms


def test_arms_keep_every_limit_and_fork_legally(made: Job, armed: arms.Armed) -> None:
    main = made.tries[0][0]
    trails = (main, *arm_trails(armed.arms, (main,), main.width_m, None))
    found = check_layout(made.area, made.shape, made.strips, made.site, trails)
    assert [f.message for f in found if f.level == "stop"] == []
    by_id = {trail.trail_id: trail for trail in trails}
    for arm in trails[1:]:
        start = Point(arm.line.coords[0])
        if arm.joins_id:
            assert by_id[arm.joins_id].line.distance(start) < 1e-6
            assert by_id[arm.joins_id].line.project(start) == pytest.approx(arm.joins_at_m)
        else:
            assert made.site.shape.boundary.distance(start) < 1e-6
    # the checker would have spoken of one that leaves square
    bad = replace(trails[-1], line=shapely.affinity.rotate(trails[-1].line, 90, origin=(
        trails[-1].line.coords[0])))  # fmt: skip
    found = check_layout(made.area, made.shape, made.strips, made.site, (*trails[:-1], bad))
    assert any(f.level == "stop" and f.subject_id == bad.trail_id for f in found)


def test_lines_offered_keep_clear_of_each_other_and_are_the_same_again(made: Job) -> None:
    offered = offered_arms(made.room, made.start)
    lines = [LineString(arm.line) for arm in offered]
    assert offered
    for n, line in enumerate(lines):
        assert all(line.distance(other) > APART_M for other in lines[:n])
        assert not fairline.measure(made.room.judge, offered[n].line).broken.any()
    again = offered_arms(made.room, made.start)
    assert [arm.line.tobytes() for arm in again] == [arm.line.tobytes() for arm in offered]


def test_a_main_dropped_by_its_bound_would_not_have_been_cheaper(made: Job, solver: Solver) -> None:
    told: list[str] = []
    ranked = ranked_mains(
        made.grower, made.tries, (), made.room.opened, made.site, made.swing_deg, solver,
        Known(made.grower), told.append,
    )  # fmt: skip
    assert len(told) == len(made.tries) == 2
    exact = [
        made.grown(made.standing(main), solver).choice.objective + cost for main, cost in made.tries
    ]
    least = min(one.objective_m2 for one in ranked)
    # both were chosen to the gap of the settings
    assert least <= min(exact) * (1 + 2 * made.area.settings.objective.gap_pct / 100)
    assert [one.rank for one in ranked] == sorted(one.rank for one in ranked)


def test_an_arm_without_use_is_given_up_and_names_follow(
    made: Job, solver: Solver, armed: arms.Armed
) -> None:
    main = made.tries[0][0]
    mains = (main, *arm_trails(armed.arms, (main,), main.width_m, None))
    grown = made.grown(made.standing(*mains), solver)
    kept, cut = shortened(made.grower, mains, grown)
    assert [t.trail_id for t in kept] == [t.trail_id for t in mains]
    for n, trail in enumerate(kept):
        assert trail.line.length == pytest.approx(float(along(cut.branches[n].line)[-1]))
        assert trail.line.length <= mains[n].line.length + 1e-9
    bare = replace(grown, branches=grown.branches[: len(mains)], spots=(), places=())
    # what hangs on an arm goes before it; the main stays
    kept, cut = shortened(made.grower, mains, bare)
    assert kept == (main,)
    assert len(cut.branches) == 1
    few = replace(bare, spots=tuple(s for s in grown.spots if s.branch == len(mains) - 1))
    kept, cut = shortened(made.grower, mains, few)
    assert kept[-1].trail_id == mains[-1].trail_id
    assert {s.branch for s in cut.spots} == {len(kept) - 1}


def test_short_arms_become_spurs_and_the_rest_is_named(made: Job, solver: Solver) -> None:
    mains, start = best_mains(
        made.room, made.grower, made.tries, (), made.room.opened, made.site, made.swing_deg,
        solver, Known(made.grower), lambda line: None,
    )  # fmt: skip
    names = [trail.trail_id for trail in mains]
    assert names[0] == "M"
    assert len(set(names)) == len(names)
    assert all(trail.kind == "main" for trail in mains)
    assert [b.standing for b in start] == [n < len(mains) for n in range(len(start))]
    assert all(branch.parent < n for n, branch in enumerate(start))
    for trail in mains[1:]:
        assert not trail.joins_id or trail.line.length > made.grower.longest_m


def test_an_arm_as_long_as_a_spur_is_one(made: Job, armed: arms.Armed) -> None:
    main = made.tries[0][0]
    mains = (main, *arm_trails(armed.arms, (main,), main.width_m, None))
    branches = made.standing(*mains)
    for longest in (1.0, 1e4):
        grower = replace(made.grower, longest_m=longest)
        kept, out = as_spurs(grower, mains, branches)
        spurs = [b for b in out if not b.standing]
        assert len(kept) + len(spurs) == len(mains)
        if longest == 1.0:
            assert kept == mains
        else:
            assert all(not trail.joins_id for trail in kept)
            assert all(b.measured.price_m2[-1] > 0 for b in spurs)


def test_an_arm_keeps_its_name_and_stays_a_main_trail(made: Job, armed: arms.Armed) -> None:
    main = made.tries[0][0]
    first = arm_trails(armed.arms, (main,), main.width_m, None)
    before = replace(first[-1], trail_id="M7")
    again = arm_trails(armed.arms, (main,), main.width_m, Earlier((main, before), ()))
    assert again[-1].trail_id == "M7"
    assert all(name == f"M{8 + n}" for n, name in enumerate(t.trail_id for t in again[:-1]))
    assert had_arms(Earlier((main, before), ()))
    assert not had_arms(Earlier((main,), ()))
    found: list[Finding] = []
    line = NamedLine(before.trail_id, before.line, "", "main", before.width_m, "first")
    (kept,) = hung({"M": main.line}, made.area.landing, {line.trail_id: line}, found, "fixed")
    assert kept.kind == "main"
    assert kept.joins_id == before.joins_id


@pytest.mark.slow
def test_a_drawn_main_is_kept_and_its_arm_is_told_of(made: Job) -> None:
    drawn = LineString(made.tries[0][0].line.coords)
    short = {"trails": {"spur_length": "40 m"}}
    area = wide_stand((430.0, 120.0), (215.0, 20.0), marked_per_ha=7.0, tables=short)
    plan = make_plan(replace(area, main_trail=drawn))
    mains = [trail for trail in plan.trails if trail.kind == "main"]
    assert [(t.trail_id, t.source) for t in mains] == [("M", "drawn")]
    assert mains[0].line.equals(drawn)
    # its spurs, forked again and again, do an arm's work by now: none pays, and that is said
    row = next(row for row in plan.options if row.key == "main_arm")
    assert row.how == "replanned" or row.why
    # where there are none yet, one does
    strips = water.strips(area, plan.terrain)
    network = network_of(plan, strips)
    bare = replace(network, branches=network.branches[:1])
    row = arm_row(plan, strips, bare, int(area.trees.marked.sum()))
    assert row.how == "replanned", row.why
    assert row.gain_m2 is not None and row.trail_m is not None and row.more_trees is not None
    assert row.gain_m2 > 0
    assert row.more_trees > 0
    assert " of the main trail, " in row.change


@pytest.mark.slow
def test_a_whole_plan_with_arms_and_all_its_files(tmp_path: Path) -> None:
    patient = {"objective": {"time_limit": "3600 s"}}
    area = wide_stand((900.0, 300.0), (450.0, 22.0), marked_per_ha=8.0, tables=patient)
    plan = make_plan(area)
    mains = [trail for trail in plan.trails if trail.kind == "main"]
    assert len(mains) > 2
    assert sum(not trail.joins_id for trail in mains) == 2
    served = [o for o in plan.trees if o.status == "served"]
    assert len(served) >= 0.97 * int(area.trees.marked.sum())
    assert [f.message for f in plan.findings if f.level == "stop"] == []
    assert of_plan(plan) == []
    assert plan.work is not None
    assert of_work(plan) == []
    folder = write_plan(plan, tmp_path / "out")
    book = (folder / "plan.json").read_text(encoding="utf-8")
    for trail in mains:
        assert f'"{trail.trail_id}"' in book
    steps = np.array([step.loads for step in plan.steps if step.trail_id == mains[0].trail_id])
    assert (np.diff(steps) <= 0).all()  # traffic falls outward
    assert len(set(t.trail_id for t in plan.trails)) == len(plan.trails)
    assert all(a != b for a, b in pairwise(sorted(t.trail_id for t in mains)))
