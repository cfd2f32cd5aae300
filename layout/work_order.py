"""The order of work: every step from the first ribbon to the tidy landing.

First all trails are walked and flagged, and trees that may come down on somebody are
felled. Trails are opened near to far, since a tractor drives only where it is open, each
with the stems that stand in it. The harvest goes far to near, so that tops fall on
finished ground and nobody drives over it; each spur ends with its rub trees and its
closing before the next is begun. The landing comes last. Common practice, no source;
what the trees in the way and two tree lengths ask is in sources.FELLING_DISTANCE and
sources.TWO_TREE_LENGTHS. Steps follow one another, so nobody fells while somebody else
winches.

What ``progress.csv`` says is done comes first, as steps that are done; loads and trees
that are in are in no step, and what is left of a stem is not felled again.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from layout.harvest_order import Act, Rub, Stop, harvest, near_to_far, ways
from layout.records import Pull, RubTree, Trail, WinchPosition
from layout.site import Area
from layout.trail_states import TrailStates, trail_states
from layout.work_records import Turn, WorkStep

Named = Callable[[Sequence[Turn]], Sequence[str]]


@dataclass(frozen=True, slots=True)
class StepMinutes:
    """Productive minutes of the parts of a step.

    Parameters
    ----------
    flag, open, close : callable
        Of walking and flagging one trail, of clearing it, of closing it.
    fell : callable
        Of felling, limbing and bucking one tree, by its id.
    pull : callable
        Of winching one tree to its position.
    turn : callable
        Of one load from leaving the landing to lying on it, its winching left out.
    landing : float, optional
        Of tidying and closing the landing.
    """

    flag: Callable[[Trail], float]
    open: Callable[[Trail], float]
    close: Callable[[Trail], float]
    fell: Callable[[str], float]
    pull: Callable[[Pull], float]
    turn: Callable[[Turn], float]
    landing: float = 0.0


def work_order(
    area: Area,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    rub_trees: Sequence[RubTree],
    turns: Sequence[Turn],
    minutes: StepMinutes,
    named: Named,
) -> tuple[tuple[Turn, ...], tuple[WorkStep, ...]]:
    """Put the work of a plan in order.

    Parameters
    ----------
    area : Area
        Settings ``[work] harvest``; hazard trees; what is done already.
    trails : sequence of Trail
    positions : sequence of WinchPosition
    pulls : sequence of Pull
        Where each tree is winched to.
    rub_trees : sequence of RubTree
    turns : sequence of Turn
        Without names. Those of stage ``open`` hold stems of one trail each. What no
        turn holds is not felled, but for hazard trees. Turns that are done or retired
        are handed on as they are.
    minutes : StepMinutes
    named : callable
        Given the turns that are still to be hauled, in their order, gives their names.

    Returns
    -------
    turns : tuple of Turn
        Named and numbered in the order they are hauled, those not planned behind.
    steps : tuple of WorkStep
        Numbered from 1. A tree is in one step that fells it and, where it is winched,
        in one that winches it; a turn is in the one step that hauls it. Trees that
        ``work_style`` has felled and winched one at a time are in the same two steps.
        Those that are done take no minutes and stand before all others.
    """
    planned = [turn for turn in turns if turn.state == "planned"]
    made = _acts(area, trails, positions, pulls, rub_trees, planned, minutes)
    order = [n for one in made for n in one.act.turns]
    ranked = [replace(planned[n], order=k) for k, n in enumerate(order, start=1)]
    named_turns = [
        replace(turn, turn_id=name)
        for turn, name in zip(ranked, named(ranked), strict=True)
    ]  # fmt: skip
    by_number = dict(zip(order, named_turns, strict=True))
    steps = tuple(
        WorkStep(
            number=k,
            kind=one.act.kind,
            trail_id=one.act.trail_id,
            position_id=one.act.position_id,
            tree_ids=one.act.tree_ids,
            turn_ids=tuple(by_number[n].turn_id for n in one.act.turns),
            minutes=one.minutes,
            done=one.act.done,
            landing_id=one.landing_id,
        )
        for k, one in enumerate(made, start=1)
    )
    others = [turn for turn in turns if turn.state != "planned"]
    return (*named_turns, *others), steps


@dataclass(frozen=True, slots=True)
class _Done:
    """An act with its turns by their number among all, how long it takes, and from where."""

    act: Act
    minutes: float
    landing_id: str


def _acts(
    area: Area,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    rub_trees: Sequence[RubTree],
    planned: Sequence[Turn],
    minutes: StepMinutes,
) -> list[_Done]:
    """Give all acts: where there are several landings, one is finished before the next."""
    landings = [""]
    if any(turn.landing_id for turn in planned):
        named = {turn.landing_id for turn in planned} | {trail.landing_id for trail in trails}
        landings = sorted(named - {""}, key=_number)
    out = []
    pulled = {pull.tree_id for pull in pulls}
    for landing in landings:
        rows = [n for n, turn in enumerate(planned) if turn.landing_id == landing]
        own = [p for p in positions if landing in ("", p.landing_id)]
        names = {p.position_id for p in own}
        job = _Job(
            area,
            [t for t in trails if landing in ("", t.landing_id)],
            own,
            [pull for pull in pulls if pull.position_id in names],
            rub_trees,
            [planned[n] for n in rows],
        )
        if landing not in ("", landings[0]):  # what nobody winches comes down with the first
            job.first = [tree for tree in job.first if tree in job.pull_of]
        elif landing:
            job.first = [t for t in job.first if t in job.pull_of or t not in pulled]
        out += [
            _Done(
                replace(act, turns=tuple(rows[n] for n in act.turns)),
                0.0 if act.done else job.minutes(act, minutes),
                landing,
            )
            for act in job.acts()
        ]
    # what is done stands before all others
    return sorted(out, key=lambda one: not one.act.done)


def _number(landing_id: str) -> tuple[int, str]:
    digits = "".join(c for c in landing_id if c.isdigit())
    return int(digits or 0), landing_id


class _Job:
    """What has to be put in order."""

    def __init__(
        self,
        area: Area,
        trails: Sequence[Trail],
        positions: Sequence[WinchPosition],
        pulls: Sequence[Pull],
        rub_trees: Sequence[RubTree],
        turns: Sequence[Turn],
    ) -> None:
        self.area = area
        self.outward = near_to_far(trails)
        self.trails = {trail.trail_id: trail for trail in trails}
        self.positions = {position.position_id: position for position in positions}
        self.pull_of = {pull.tree_id: pull for pull in pulls}
        self.rub_trees = rub_trees
        self.turns = turns
        self.states: TrailStates = trail_states(area, trails)
        trees = area.trees
        self.lying = frozenset(tree for tree, _ in trees.done_pieces)
        self.first = [
            trees.tree_id[row]
            for row, kind in enumerate(trees.hazard)
            if kind and trees.to_serve[row] and trees.tree_id[row] not in self.lying
        ]
        routes = ways(trails)
        over = {turn.trail_id for turn in turns}
        winched = {t for turn in turns if turn.stage != "open" for t in turn.tree_ids}
        over |= {spot.trail_id for tree in winched if (spot := self._spot(tree)) is not None}
        over |= self.states.opened  # an idle one is still to be closed
        self.used = {name for start in over for name in routes.get(start, ())}

    def acts(self) -> list[Act]:
        """Give all steps in order."""
        out = [*self._flagging(), *self._hazards(), *self._opening(), *self._harvest()]
        begun = bool(self.area.trees.done or self.states.opened or self.states.done)
        if not (out or begun):
            return []
        done = self._done(flagged=not self.unflagged())
        return [*done, *out, Act("landing", "")]

    def _done(self, *, flagged: bool) -> list[Act]:
        """Give what is done already."""
        states = self.states
        out = [Act("flag", "", done=True)] if flagged and states.flagged else []
        stems = {turn.trail_id for turn in self.turns if turn.stage == "open"}
        for trail in self.outward:
            if trail.trail_id in states.opened - stems:
                out.append(Act("open", trail.trail_id, done=True))
        for trail in reversed(self.outward):
            if trail.trail_id in states.done - self.used:
                out.append(Act("close", trail.trail_id, done=True))
        return out

    def unflagged(self) -> list[Trail]:
        """Give the trails that are used and not flagged yet."""
        return [
            trail
            for trail in self.outward
            if trail.trail_id in self.used and trail.trail_id not in self.states.flagged
        ]

    def _flagging(self) -> list[Act]:
        return [Act("flag", "")] if self.unflagged() else []

    def _hazards(self) -> list[Act]:
        """Fell the marked trees that may come down on somebody, before any work near them."""
        groups: dict[str, list[str]] = {}
        for tree in self.first:
            pull = self.pull_of.get(tree)
            groups.setdefault(pull.position_id if pull else "", []).append(tree)
        rank = {trail.trail_id: k for k, trail in enumerate(self.outward)}

        def key(name: str) -> tuple[int, float, str]:
            spot = self.positions.get(name)
            return (-1, 0.0, "") if spot is None else (
                rank.get(spot.trail_id, -1), spot.at_m, name
            )  # fmt: skip

        return [
            Act("fell", self._trail_of(name), name, tuple(groups[name]))
            for name in sorted(groups, key=key)
        ]

    def _opening(self) -> list[Act]:
        """Open trails from the landing outward, stems out as they fall."""
        stems: dict[str, list[int]] = {}
        for n, turn in enumerate(self.turns):
            if turn.stage == "open":
                stems.setdefault(turn.trail_id, []).append(n)
        lying = self.lying.union(self.first)
        out = []
        for name in ("", *(trail.trail_id for trail in self.outward)):
            # near to far here as well
            loads = sorted(stems.get(name, ()), key=lambda n: (self.turns[n].at_m, n))
            if loads or (name in self.used and name not in self.states.opened):
                trees = chain.from_iterable(self.turns[n].tree_ids for n in loads)
                upright = tuple(t for t in dict.fromkeys(trees) if t not in lying)
                lying |= set(upright)
                out.append(Act("open", name, "", upright, tuple(loads)))
        return out

    def _harvest(self) -> list[Act]:
        kept = {tree for turn in self.turns if turn.stage == "rub" for tree in turn.tree_ids}
        return harvest(
            list(self.trails.values()),
            self._stops(),
            self.turns,
            [self._rub(tree) for tree in sorted(kept)],
            self.used,
            felled=self.lying.union(self.first),
            winched={tree for tree in self.lying if self._whole(tree)},
            near_first=self.area.settings.work.harvest == "near-first",
        )

    def _stops(self) -> list[Stop]:
        """Gather the trees of the loads by where they are winched to, as the loads fill."""
        trees: dict[tuple[str, str, float], dict[str, None]] = {}
        seen: set[str] = set()
        for turn in self.turns:
            for tree in turn.tree_ids if turn.stage == "harvest" else ():
                if tree in seen:
                    continue
                seen.add(tree)
                spot = self._spot(tree)
                key = (
                    ("", turn.trail_id, turn.at_m)
                    if spot is None
                    else (spot.position_id, spot.trail_id, spot.at_m)
                )
                trees.setdefault(key, {})[tree] = None
        return [Stop(*key, tuple(names)) for key, names in trees.items()]

    def _rub(self, tree: str) -> Rub:
        """Say what a marked rub tree waits for."""
        all_of = [rub for rub in self.rub_trees if rub.tree_id == tree]
        spot = self._spot(tree)
        return Rub(
            tree,
            "" if spot is None else spot.position_id,
            "" if spot is None else spot.trail_id,
            tuple(place.trail_id for rub in all_of for place in rub.places),
            tuple(name for rub in all_of for name in rub.cut_after),
            max((rub.out_m for rub in all_of), default=0.0),
        )

    def _whole(self, tree: str) -> bool:
        """Tell whether a tree is winched in one: what is left of it then lies at its position."""
        pull = self.pull_of.get(tree)
        return (
            pull is not None and pull.pieces == 1 and self.area.settings.winch.winch_form == "stem"
        )

    def _spot(self, tree: str) -> WinchPosition | None:
        pull = self.pull_of.get(tree)
        return None if pull is None else self.positions.get(pull.position_id)

    def _trail_of(self, position_id: str) -> str:
        spot = self.positions.get(position_id)
        return "" if spot is None else spot.trail_id

    def minutes(self, act: Act, each: StepMinutes) -> float:
        """Add up the productive minutes of a step."""
        trail = self.trails.get(act.trail_id)
        total = sum(each.turn(self.turns[n]) for n in act.turns)
        if act.kind in ("fell", "open", "rub"):
            total += sum(each.fell(tree) for tree in act.tree_ids)
        if act.kind in ("winch", "rub"):
            total += sum(each.pull(self.pull_of[t]) for t in act.tree_ids if t in self.pull_of)
        if act.kind == "flag":
            total += sum(each.flag(trail) for trail in self.unflagged())
        elif act.kind == "landing":
            total += each.landing
        elif act.kind == "close" and trail is not None:
            total += each.close(trail)
        elif act.kind == "open" and trail is not None:
            total += 0.0 if trail.trail_id in self.states.opened else each.open(trail)
        return total
