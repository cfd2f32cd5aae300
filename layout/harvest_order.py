"""The harvest in order: along every trail its places, far to near, and the trail's closing.

Only the order: names, minutes and what comes before are put round it elsewhere. A trail
is worked with all that hangs on it; then come its rub trees, then it is closed. A load
that takes up pieces at several places goes in when the last of them is worked. Where one
starts on a trail that is to be closed, its other places are worked first, out of turn.
A trail that a rub tree keeps waiting, because other loads still rub against that tree, is
closed as soon as they are in.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from layout.records import Trail
from layout.work_records import Turn, WorkKind


@dataclass(frozen=True, slots=True)
class Stop:
    """A place that is worked: trees felled for it, winched to it, hauled from it."""

    position_id: str  # empty where pieces are taken up without a winch position
    trail_id: str  # empty on the landing
    at_m: float
    tree_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rub:
    """A marked tree kept standing until the loads that rub against it are in."""

    tree_id: str
    position_id: str  # where it is winched to
    trail_id: str  # of that; empty on the landing
    place_ids: tuple[str, ...]  # trails it stands by
    after: tuple[str, ...]  # winch positions whose loads come first
    out_m: float


@dataclass(frozen=True, slots=True)
class Act:
    """One step of the harvest; turns by their number in the sequence that was given."""

    kind: WorkKind
    trail_id: str
    position_id: str = ""
    tree_ids: tuple[str, ...] = ()
    turns: tuple[int, ...] = ()
    done: bool = False


def ways(trails: Sequence[Trail]) -> dict[str, tuple[str, ...]]:
    """Give for each trail the trails a load takes from it to the landing, itself first."""
    by_id = {trail.trail_id: trail for trail in trails}
    out: dict[str, tuple[str, ...]] = {"": ()}
    for trail in trails:
        way: list[str] = []
        name = trail.trail_id
        while name in by_id and name not in way:
            way.append(name)
            name = by_id[name].joins_id
        out[trail.trail_id] = tuple(way)
    return out


def near_to_far(trails: Sequence[Trail]) -> tuple[Trail, ...]:
    """Sort trails by the way from the landing to their mouths, each after what it joins.

    Parameters
    ----------
    trails : sequence of Trail

    Returns
    -------
    tuple of Trail
    """
    by_id = {trail.trail_id: trail for trail in trails}
    routes = ways(trails)

    def key(trail: Trail) -> tuple[float, int, str]:
        route = routes[trail.trail_id]
        out_m = sum(by_id[name].joins_at_m or 0.0 for name in route if by_id[name].joins_id)
        return round(out_m, 3), len(route), trail.trail_id

    return tuple(sorted(trails, key=key))


def harvest(
    trails: Sequence[Trail],
    stops: Sequence[Stop],
    turns: Sequence[Turn],
    rubs: Sequence[Rub],
    closing: Collection[str],
    *,
    felled: Collection[str] = (),
    winched: Collection[str] = (),
    near_first: bool = False,
) -> list[Act]:
    """Put felling, winching, hauling, rub trees and the closing of trails in order.

    Parameters
    ----------
    trails : sequence of Trail
        All of them are open to begin with.
    stops : sequence of Stop
        Where trees are winched to; every tree of a harvest turn is at one of them.
    turns : sequence of Turn
        Of any stage; those of stage ``open`` are passed over.
    rubs : sequence of Rub
        The trees of turns of stage ``rub``.
    closing : collection of str
        Trails that are closed at their end.
    felled : collection of str, optional
        Trees that lie already.
    winched : collection of str, optional
        Those that lie at their winch position.
    near_first : bool, optional
        Take a trail's branches, and its own places between them, from the landing
        outward; a trail without branches is worked from its far end all the same.

    Returns
    -------
    list of Act
        No act uses a trail after the one that closes it.
    """
    job = _Job(trails, stops, turns, rubs, closing, felled, winched, near_first)
    yard = [stop for stop in stops if stop.trail_id not in job.trails]
    if near_first:
        job.work_all(yard)
    for trail in trails:
        if trail.joins_id not in job.trails:
            job.visit(trail)
    job.work_all(yard)
    job.cut(job.standing, "")
    job.settle()
    return job.acts


class _Job:
    """The state of the work while it is put in order."""

    def __init__(
        self,
        trails: Sequence[Trail],
        stops: Sequence[Stop],
        turns: Sequence[Turn],
        rubs: Sequence[Rub],
        closing: Collection[str],
        felled: Collection[str],
        winched: Collection[str],
        near_first: bool,
    ) -> None:
        self.trails = {trail.trail_id: trail for trail in trails}
        self.turns = turns
        self.closing = frozenset(closing)
        self.felled = frozenset(felled)
        self.winched = frozenset(winched)
        self.near_first = near_first
        self.acts: list[Act] = []
        self.stops_on: dict[str, list[Stop]] = {name: [] for name in self.trails}
        for stop in stops:
            self.stops_on.setdefault(stop.trail_id, []).append(stop)
        self.branches: dict[str, list[Trail]] = {name: [] for name in self.trails}
        for trail in trails:
            if trail.joins_id in self.trails:
                self.branches[trail.joins_id].append(trail)
        stop_of = {tree: stop for stop in stops for tree in stop.tree_ids}
        harvested = [n for n, turn in enumerate(turns) if turn.stage == "harvest"]
        rubbed = [n for n, turn in enumerate(turns) if turn.stage == "rub"]
        # what each load still waits for: places to be worked, or rub trees to be cut
        self.wants: dict[int, set[Stop]] = {
            n: {stop_of[tree] for tree in turns[n].tree_ids} for n in harvested
        }
        self.wants_cut: dict[int, set[str]] = {n: set(turns[n].tree_ids) for n in rubbed}
        self.worked: set[Stop] = set()
        self.standing = sorted(rubs, key=lambda rub: (-round(rub.out_m, 3), rub.tree_id))
        self.waiting: list[str] = []
        self.shut: set[str] = set()
        self.routes = ways(trails)
        rub_trail = {rub.tree_id: rub.trail_id for rub in rubs}
        self.over: dict[int, frozenset[str]] = {
            n: self._over(n, (stop.trail_id for stop in self.wants[n])) for n in harvested
        }
        self.over |= {
            n: self._over(n, (rub_trail[tree] for tree in turns[n].tree_ids)) for n in rubbed
        }
        # loads of a position that are not in yet
        self.left: dict[str, set[int]] = {}
        for n in harvested:
            for stop in self.wants[n]:
                self.left.setdefault(stop.position_id, set()).add(n)

    def _over(self, turn: int, starts: Iterable[str]) -> frozenset[str]:
        """Name the trails a load comes over."""
        names = chain((self.turns[turn].trail_id,), starts)
        return frozenset(chain.from_iterable(self.routes.get(name, ()) for name in names))

    def visit(self, trail: Trail) -> None:
        """Work a trail and all that hangs on it, and close it."""
        branches = self.branches[trail.trail_id]
        events: list[tuple[float, int, str, Stop | Trail]] = [
            (stop.at_m, 0, stop.position_id, stop) for stop in self.stops_on[trail.trail_id]
        ]
        events += [(branch.joins_at_m or 0.0, 1, branch.trail_id, branch) for branch in branches]
        outward = self.near_first and bool(branches)
        # a branch counts as beyond a place at its mouth
        events.sort(key=lambda e: (round(e[0], 3), e[1], e[2]), reverse=not outward)
        for *_, event in events:
            if isinstance(event, Stop):
                self.work(event)
            else:
                self.visit(event)
        self.finish(trail.trail_id)

    def work_all(self, stops: Iterable[Stop]) -> None:
        """Work places one after the other."""
        for stop in stops:
            self.work(stop)

    def work(self, stop: Stop) -> None:
        """Fell, winch, and haul every load that is then complete."""
        if stop in self.worked:
            return
        self.worked.add(stop)
        upright = tuple(tree for tree in stop.tree_ids if tree not in self.felled)
        if upright:
            self.acts.append(Act("fell", stop.trail_id, stop.position_id, upright))
        away = tuple(tree for tree in stop.tree_ids if tree not in self.winched)
        if stop.position_id and away:
            self.acts.append(Act("winch", stop.trail_id, stop.position_id, away))
        ready = []
        for turn, wants in self.wants.items():
            if stop in wants:
                wants.discard(stop)
                if not wants:
                    ready.append(turn)
        self._haul(Act("haul", stop.trail_id, stop.position_id), ready)
        self.settle()

    def _haul(self, act: Act, turns: Sequence[int]) -> None:
        """Bring loads in, the farthest first."""
        if not turns:
            return
        ordered = sorted(turns, key=lambda n: (-round(self.turns[n].travel_m, 3), n))
        for turn in ordered:
            del self.wants[turn]
            for left in self.left.values():
                left.discard(turn)
        self.acts.append(Act(act.kind, act.trail_id, act.position_id, (), tuple(ordered)))

    def finish(self, name: str) -> None:
        """Bring in what still starts here, cut its rub trees, and close it or let it wait."""
        for turn in sorted(self.wants):
            if turn in self.wants and name in self.over[turn]:
                far_first = sorted(
                    self.wants[turn], key=lambda s: (-s.at_m, s.trail_id, s.position_id)
                )
                self.work_all(far_first)
        own = [rub for rub in self.standing if name in (rub.trail_id, *rub.place_ids)]
        self.cut(own, name)
        self.waiting.append(name)
        self.settle()

    def cut(self, rubs: Sequence[Rub], trail_id: str) -> None:
        """Cut those of some rub trees that no load will pass again, and bring them in."""
        ready = [rub for rub in rubs if not any(self.left.get(name) for name in rub.after)]
        if not ready:
            return
        gone = {rub.tree_id for rub in ready}
        self.standing = [rub for rub in self.standing if rub.tree_id not in gone]
        loads: list[int] = []
        # load by load, as the trees come down
        for rub in ready:
            for turn, wants in self.wants_cut.items():
                wants.discard(rub.tree_id)
                if not wants and turn not in loads:
                    loads.append(turn)
        for turn in loads:
            del self.wants_cut[turn]
        for rub in ready:
            if rub.tree_id in self.felled and rub.tree_id not in self.winched:
                self.acts.append(Act("winch", rub.trail_id, rub.position_id, (rub.tree_id,)))
        trees = tuple(rub.tree_id for rub in ready if rub.tree_id not in self.felled)
        if trees or loads:
            kind: WorkKind = "rub" if trees else "haul"
            self.acts.append(Act(kind, trail_id, "", trees, tuple(loads)))

    def settle(self) -> None:
        """Close every waiting trail that nothing will be driven over again."""
        changed = True
        while changed:
            changed = False
            for name in tuple(self.waiting):
                kept = [rub for rub in self.standing if name in self.routes[rub.trail_id]]
                self.cut(kept, name)
                if self._closable(name):
                    self.waiting.remove(name)
                    self.shut.add(name)
                    if name in self.closing:
                        self.acts.append(Act("close", name))
                    changed = True

    def _closable(self, name: str) -> bool:
        """Tell whether nothing will come over a trail again."""
        later: Mapping[int, object] = {**self.wants, **self.wants_cut}
        return (
            all(branch.trail_id in self.shut for branch in self.branches[name])
            and not any(name in self.over[turn] for turn in later)
            and not any(name in self.routes[rub.trail_id] for rub in self.standing)
        )
