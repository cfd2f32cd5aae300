"""Jobs put down by hand for the order of work, and a walk through the steps that trusts nothing.

Only names and stations count: lines are straight and lie anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import made_ground
from made_loads import position, pull
from shapely.geometry import LineString

from layout.records import Pull, RubPlace, RubTree, Trail, WinchPosition
from layout.rub_places import passing
from layout.site import Area, Earlier, EarlierTurn, FixedTrail, ProgressRow
from layout.work_order import StepMinutes, work_order
from layout.work_records import Stage, Turn, WorkStep

GROUND = made_ground.terrain_of(lambda x, y: 100 + 0 * x, 4.0)
LENGTH_M = 200.0


@dataclass
class Job:
    """A layout with its loads, put together piece by piece."""

    trails: list[Trail] = field(default_factory=list)
    positions: list[WinchPosition] = field(default_factory=list)
    pulls: list[Pull] = field(default_factory=list)
    rubs: list[RubTree] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    trees: list[dict[str, Any]] = field(default_factory=list)
    progress: tuple[ProgressRow, ...] = ()
    done_pieces: frozenset[tuple[str, int]] = frozenset()
    earlier_turns: tuple[EarlierTurn, ...] = ()
    work: dict[str, Any] = field(default_factory=dict)
    whole_stems: bool = True  # are winched, else logs
    units: str = "us"

    def trail(self, name: str, joins: str = "", at_m: float | None = None) -> None:
        """Put a trail down; without a host it starts at the landing."""
        row = 10.0 + len(self.trails)
        shape = LineString([made_ground.at(20, row), made_ground.at(20 + LENGTH_M, row)])
        kind = "spur" if joins else "main"
        self.trails.append(
            Trail(name, kind, "L1", shape, 3.0, "routed", joins, at_m if joins else None)  # type: ignore[arg-type]
        )

    def at(self, name: str, trail: str, at_m: float, *trees: str, hazards: str = "") -> None:
        """Put a winch position down and trees that are pulled to it."""
        host = next((t for t in self.trails if t.trail_id == trail), None)
        spot = position(name, host, at_m, *trees)
        self.positions.append(spot)
        for tree in trees:
            self.trees.append(
                {"tree_id": tree, "x": 100, "y": 100, "marked": True,
                 "hazard": "dead_top" if tree in hazards.split() else ""}
            )  # fmt: skip
            self.pulls.append(pull(tree, spot, 100.0, 100.0))

    def load(
        self, *trees: str, stage: Stage = "harvest", trail: str = "", at_m: float = 0.0
    ) -> None:
        """Put trees on a load, the farthest place first; a stem of a trail names it."""
        spots = {p.position_id: p for p in self.positions}
        where = {p.tree_id: spots[p.position_id] for p in self.pulls}
        stops = [where[tree] for tree in trees if tree in where and stage != "open"]
        first = stops[0] if stops else None
        host = first.trail_id if first else trail
        at_m = first.at_m if first else at_m
        self.turns.append(
            Turn("", 0, stage, host, first.position_id if first else "", at_m,
                 at_m + self.mouth_m(host), tuple((tree, 1) for tree in trees),
                 tuple(dict.fromkeys(trees)),
                 tuple(dict.fromkeys(stop.position_id for stop in stops)), 500.0, 0.5, 900.0,
                 "traction")
        )  # fmt: skip

    def rub(self, tree: str, trail: str, at_m: float) -> None:
        """Keep a marked tree standing beside a station until all loads are past it."""
        kept = {r.tree_id for r in self.rubs} | {tree}
        ordinary = [p for p in self.positions if not kept.issuperset(p.tree_ids)]
        by_id = {t.trail_id: t for t in self.trails}
        place = RubPlace("bend", trail, at_m, "", "left")
        after = passing(by_id, ordinary, trail, at_m)
        self.rubs.append(
            RubTree(f"R{len(self.rubs) + 1}", "marked", tree, 0.0, 0.0,
                    at_m + self.mouth_m(trail), (place,), (), after)
        )  # fmt: skip

    def mouth_m(self, trail: str) -> float:
        """Give how far a trail's mouth is from the landing."""
        by_id = {t.trail_id: t for t in self.trails}
        out, here = 0.0, by_id.get(trail)
        while here is not None and here.joins_id:
            out += here.joins_at_m or 0.0
            here = by_id.get(here.joins_id)
        return out

    def area(self) -> Area:
        """Give the area, with the progress told and the earlier plan it speaks of."""
        work = {"work_style": "fell-then-winch", **self.work}
        settings = made_ground.settings_of(
            area={"units": self.units},
            work=work,
            winch={"winch_form": "stem" if self.whole_stems else "log"},
        )
        earlier, fixed = None, ()
        if self.progress:
            earlier = Earlier(tuple(self.trails), tuple(self.positions), (), self.earlier_turns)
            fixed = tuple(
                FixedTrail(t.trail_id, t.kind, t.line, t.width_m, t.joins_id, t.joins_at_m)
                for t in self.trails
                if any(row.name == t.trail_id for row in self.progress)
            )
        trees = replace(made_ground.trees_of(self.trees), done_pieces=self.done_pieces)
        return made_ground.area_of(
            GROUND, settings, trees=trees, progress=self.progress, earlier=earlier, fixed=fixed
        )

    def order(self, **minutes: Any) -> tuple[tuple[Turn, ...], tuple[WorkStep, ...]]:
        """Put the work in order; loads are named by what is on them."""
        each = StepMinutes(
            flag=lambda t: 1.0, open=lambda t: 10.0, close=lambda t: 100.0,
            fell=lambda t: 2.0, pull=lambda p: 3.0, turn=lambda t: 7.0, landing=60.0,
        )  # fmt: skip
        return work_order(
            self.area(), self.trails, self.positions, self.pulls, self.rubs, self.turns,
            replace(each, **minutes), lambda turns: [f"D{t.order}" for t in turns],
        )  # fmt: skip


def two_spurs(**work: str) -> Job:
    """Give a main trail with two spurs, and a place or two on each."""
    job = Job(work=dict(work))
    job.trail("M")
    job.trail("S1", "M", 50.0)
    job.trail("S2", "M", 120.0)
    job.at("W1", "M", 80.0, "a")
    job.at("W2", "S1", 40.0, "b", "c")
    job.at("W3", "S1", 90.0, "d")
    job.at("W4", "S2", 30.0, "e")
    for trees in (("a",), ("b", "c"), ("d",), ("e",)):
        job.load(*trees)
    return job


def row(name: str, state: str, kind: str = "") -> ProgressRow:
    """Give one row of progress."""
    return ProgressRow(2, name, state, kind)  # type: ignore[arg-type]


def said(steps: Sequence[WorkStep]) -> list[str]:
    """Give steps as short words: kind, where, trees or loads."""
    return [
        " ".join(
            part
            for part in (
                f"({step.kind})" if step.done else step.kind,
                step.position_id or step.trail_id,
                ",".join(step.tree_ids),
                "+".join(step.turn_ids),
            )
            if part
        )
        for step in steps
    ]


def check(
    job: Job,
    turns: Sequence[Turn],
    steps: Sequence[WorkStep],
    *,
    opened: frozenset[str] = frozenset(),
    closed: frozenset[str] = frozenset(),
) -> None:
    """Walk the steps, and raise ``AssertionError`` at the first thing that cannot be done.

    Parameters
    ----------
    job : Job
        What was to be put in order.
    turns, steps : sequences of Turn, WorkStep
        The order.
    opened, closed : frozenset of str, optional
        Trails that are open, and closed for good, to begin with.
    """
    host = {t.trail_id: t.joins_id for t in job.trails}
    spot_of = {p.position_id: p for p in job.positions}
    pulled_to = {p.tree_id: spot_of[p.position_id] for p in job.pulls}
    begun = {tree for tree, _ in job.done_pieces}
    hazard = {row["tree_id"] for row in job.trees if row.get("hazard")} - begun
    load = {t.turn_id: t for t in turns}
    assert len(load) == len(turns), "a name is given twice"
    is_open, shut, was_open = set(opened), set(closed), set(opened)
    fallen = set(begun)
    # winched in one, so what is left of it lies at its position
    winched = {tree for tree in begun if job.whole_stems and tree in pulled_to}
    hauled: list[str] = []
    passed: dict[str, int] = {}

    def way(trail: str) -> list[str]:
        out = []
        while trail:
            out.append(trail)
            trail = host[trail]
        return out

    def drive(trail: str, why: str) -> None:
        for name in way(trail):
            assert name in is_open, f"{why} goes over {name}, which is not open"
            assert name not in shut, f"{why} goes over {name}, which is closed"

    def bring_in(name: str) -> None:
        turn = load[name]
        assert name not in hauled, f"{name} is hauled twice"
        drive(turn.trail_id, f"load {name}")
        for tree in turn.tree_ids:
            assert tree in fallen, f"{name} takes {tree}, which stands"
            if turn.stage != "open" and tree in pulled_to:
                assert tree in winched, f"{name} takes {tree}, which lies at its stump"
                drive(pulled_to[tree].trail_id, f"load {name}")
        hauled.append(name)

    def left(where: str) -> list[str]:
        """Name the ordinary loads of a position that are not in."""
        return [
            name
            for name, turn in load.items()
            if turn.stage == "harvest"
            and name not in hauled
            and any(pulled_to[t].position_id == where for t in turn.tree_ids if t in pulled_to)
        ]

    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    walked = [step for step in steps if not step.done]
    assert walked == list(steps[len(steps) - len(walked) :]), "done steps come first"
    for step in walked:
        what = f"step {step.number} ({step.kind})"
        assert not passed.get("landing"), f"{what} comes after the landing"
        passed[step.kind] = passed.get(step.kind, 0) + 1
        if step.kind == "flag":
            assert len(passed) == 1, "flagged too late"
        elif step.kind == "open":
            for name in way(step.trail_id)[1:]:
                assert name in is_open, f"{step.trail_id} is opened before {name}"
                assert name not in shut, f"{step.trail_id} is opened over {name}, closed"
            assert not passed.get("winch"), f"{what} after the harvest began"
            assert not fallen & set(step.tree_ids)
            fallen |= set(step.tree_ids)
            if step.trail_id:
                is_open.add(step.trail_id)
                was_open.add(step.trail_id)
                shut.discard(step.trail_id)
            for name in step.turn_ids:
                bring_in(name)
        elif step.kind == "fell":
            assert step.tree_ids, f"{what} fells nothing"
            assert not fallen & set(step.tree_ids), f"{what} fells what lies"
            if not hazard.issuperset(step.tree_ids):
                drive(step.trail_id, what)
            fallen |= set(step.tree_ids)
        elif step.kind == "winch":
            assert fallen >= set(step.tree_ids), f"{what} winches what stands"
            assert not winched & set(step.tree_ids), f"{what} winches twice"
            drive(spot_of[step.position_id].trail_id, what)
            assert {pulled_to[t].position_id for t in step.tree_ids} == {step.position_id}
            winched |= set(step.tree_ids)
        elif step.kind == "haul":
            assert step.turn_ids, f"{what} hauls nothing"
            for name in step.turn_ids:
                bring_in(name)
        elif step.kind == "rub":
            assert not (fallen | winched) & set(step.tree_ids), f"{what} cuts what lies"
            for tree in step.tree_ids:
                drive(pulled_to[tree].trail_id, what)
                for rub in job.rubs:
                    if rub.tree_id == tree:
                        late = [name for where in rub.cut_after for name in left(where)]
                        assert not late, f"{tree} is cut before {late}"
            fallen |= set(step.tree_ids)
            winched |= set(step.tree_ids)
            for name in step.turn_ids:
                bring_in(name)
        elif step.kind == "close":
            assert step.trail_id not in shut, f"{step.trail_id} is closed twice"
            drive(step.trail_id, what)
            for name in is_open - shut:
                assert step.trail_id not in way(name)[1:], f"{step.trail_id} shut before {name}"
            shut.add(step.trail_id)
    planned = [turn for turn in turns if turn.state == "planned"]
    assert sorted(hauled) == sorted(t.turn_id for t in planned), "a load is lost"
    assert hauled == [t.turn_id for t in planned], "the order of loads is not that of steps"
    assert [t.order for t in planned] == list(range(1, len(planned) + 1))
    wanted = {t for turn in planned for t in turn.tree_ids}
    assert fallen == wanted | hazard | begun, "a tree is lost, or felled for nothing"
    dragged = {t for turn in planned if turn.stage != "open" for t in turn.tree_ids}
    assert winched | begun == dragged | begun
    used = {n for turn in planned for n in way(turn.trail_id)}
    used |= {n for tree in dragged for n in way(pulled_to[tree].trail_id)}
    used |= {n for name in opened for n in way(name)}
    assert shut == used | closed, "a trail stays open"
    assert was_open - opened == used - opened, "a trail is opened for nothing"
    if walked:
        assert passed.get("landing") == 1, "the landing is left"
    plain = [replace(t, turn_id="", order=0) for t in planned]
    asked = [t for t in job.turns if t.state == "planned"]
    assert sorted(plain, key=repr) == sorted(asked, key=repr), "a load was changed"
