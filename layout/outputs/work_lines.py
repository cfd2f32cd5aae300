"""One line of words for each step of the order of work, short enough for a cell of a table."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from layout.outputs.trailer_place import ends_there, small_landing, stems_on, turns_on_it
from layout.outputs.tree_orders import barred
from layout.outputs.words import counted, say
from layout.speech import speak_length, speak_station
from layout.trail_states import trail_states

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import FellingGroup
    from layout.work_records import WorkStep

SPACE = "\N{NO-BREAK SPACE}"


class StepLines:
    """Says the steps of one plan.

    Parameters
    ----------
    plan : Plan
        A plan whose work was worked out.
    """

    def __init__(self, plan: Plan) -> None:
        assert plan.work is not None
        self._units = plan.area.settings.area.units
        self._by_tree = plan.area.settings.work.work_style == "tree-by-tree"
        self._trails = {trail.trail_id: trail for trail in plan.trails}
        self._positions = {position.position_id: position for position in plan.positions}
        self._groups = groups_by_tree(plan)
        self._hazards = {
            name
            for name, kind in zip(plan.area.trees.tree_id, plan.area.trees.hazard, strict=True)
            if kind
        }
        self._bars = Counter(bar.trail_id for bar in plan.bars if bar.kind == "bar")
        self._proposed = [rub for rub in plan.rub_trees if rub.kind == "proposed"]
        self._landing = ""  # of the step being said, where there are several
        self._turns = {turn.turn_id: turn for turn in plan.work.turns}
        self._small, self._small_stems = small_landing(plan), stems_on(plan)
        self._barred = barred(plan)
        self._states = trail_states(plan.area, plan.trails)
        # what is driven at all is closed in the end
        self._used = [s.trail_id for s in plan.work.steps if s.kind == "close" and not s.done]

    def line(self, step: WorkStep) -> str:
        """Say one step.

        Parameters
        ----------
        step : WorkStep
            Of this plan.

        Returns
        -------
        str
            Without a full stop. Distances are in the area's units.
        """
        self._landing = step.landing_id
        said = {
            "flag": self._flag, "open": self._open, "fell": self._fell, "winch": self._winch,
            "haul": self._haul, "rub": self._rub, "close": self._close,
            "small_open": self._small_open, "carry": self._carry,
            "small_close": self._small_close,
        }.get(step.kind)  # fmt: skip
        if step.done and step.kind in ("flag", "open", "close"):
            return say(f"step_done_{step.kind}", trail=step.trail_id)
        if said is None:
            named = say("step_landing_of", landing=self._landing)
            return named if self._landing else say("step_landing")
        words = self._to_small(said(step), step)
        held = [name for name in step.tree_ids if name in self._barred]
        return say("step_hold", what=words, trees=_listed(held)) if held else words

    def _to_small(self, words: str, step: WorkStep) -> str:
        """Say which loads of a step end at the small landing; mostly nothing."""
        names = [n for n in step.turn_ids if ends_there(self._turns[n])]
        if not names:
            return words
        if len(names) == len(step.turn_ids):
            return say("step_to_small", what=words)
        return say("step_some_to_small", what=words, names=_listed(names))

    def _small_open(self, step: WorkStep) -> str:
        """Say where the small landing is made, what stands on it, and where the trailer turns."""
        two = self._small
        if two is None:
            return say("step_small_open", place=self._place(step.trail_id, None))
        words = say("step_small_open", place=self._place(two.trail_id, two.at_m))
        if self._small_stems:
            words = say("step_small_stems", what=words, trees=_listed(self._small_stems))
        here = say("step_small_turn_here") if turns_on_it(two) else self._place(
            two.trail_id, two.turn_at_m
        )  # fmt: skip
        return say("step_small_turn", what=words, place=here)

    def _small_close(self, step: WorkStep) -> str:
        return say("step_small_close")

    def _carry(self, step: WorkStep) -> str:
        trips = step.trips
        if len(trips) == 1:
            return say("step_carry_one", trip=trips[0])
        return say("step_carry_many", first=trips[0], last=trips[-1])

    def _flag(self, step: WorkStep) -> str:
        wanted = [name for name in self._used if name not in self._states.flagged]
        if step.landing_id:
            here = [t.trail_id for t in self._trails.values() if t.landing_id == step.landing_id]
            mine = [name for name in here if name in wanted]
            return say("step_flag_of", trails=_listed(mine), landing=step.landing_id)
        if len(wanted) == len(self._used):
            return say("step_flag_all")
        return say("step_flag_some", trails=_listed(wanted))

    def _open(self, step: WorkStep) -> str:
        trail = self._trails.get(step.trail_id)
        if trail is None:
            words = say("step_open_landing")
            if self._landing:
                words = say("step_open_landing_of", landing=self._landing)
        else:
            name, length = trail.trail_id, speak_length(trail.line.length, self._units)
            if name in self._states.opened:
                words = say("step_open_rest", trail=name)
            elif name in self._states.done:
                words = say("step_open_again", trail=name, length=length)
            elif trail.joins_id:
                place = self._place(trail.joins_id, trail.joins_at_m or 0.0)
                words = say("step_open_spur", trail=name, place=place, length=length)
            else:
                words = say("step_open_main", trail=name, length=length)
        if not step.turn_ids:
            return words
        trees = dict.fromkeys(t for name in step.turn_ids for t in self._turns[name].tree_ids)
        return say(
            "step_open_stems", what=words, trees=_listed(list(trees)), loads=self._loads(step)
        )

    def _fell(self, step: WorkStep) -> str:
        trees = _listed(step.tree_ids)
        position = self._positions.get(step.position_id)
        group = self._groups.get(step.tree_ids[0]) if step.tree_ids else None
        if self._hazards.issuperset(step.tree_ids):
            words = say("step_hazards_waiting" if group else "step_hazards", trees=trees)
        elif position is None:
            words = say("step_fell_here", place=self._place(step.trail_id, None), trees=trees)
        else:
            words = say(
                "step_fell_one_by_one" if self._by_tree else "step_fell",
                position=step.position_id,
                place=self._place(position.trail_id, position.at_m),
                trees=trees,
            )
        return words if group is None else self._waiting(words, group)

    def _waiting(self, words: str, group: FellingGroup) -> str:
        """Say where everything else is while a group is felled."""
        reach = speak_length(group.reach_m, self._units)
        if group.trail_id is None or group.at_m is None:
            return say("step_wait_nowhere", what=words, reach=reach)
        place = self._place(group.trail_id, group.at_m)
        return say("step_wait", what=words, place=place, reach=reach)

    def _winch(self, step: WorkStep) -> str:
        return say(
            "step_winch_one_by_one" if self._by_tree else "step_winch",
            position=step.position_id,
            trees=_listed(step.tree_ids),
        )

    def _haul(self, step: WorkStep) -> str:
        if not step.trail_id:
            return say("step_haul_landing", loads=self._loads(step))
        place = step.position_id or step.trail_id
        return say("step_haul", loads=self._loads(step), place=place.replace(" ", SPACE))

    def _rub(self, step: WorkStep) -> str:
        trees = _listed(step.tree_ids)
        if not step.turn_ids:
            return say("step_rub_later", trees=trees)
        return say("step_rub", trees=trees, loads=self._loads(step))

    def _close(self, step: WorkStep) -> str:
        count = self._bars[step.trail_id]
        bars = counted("step_close_bars", count) if count else ""
        words = say("step_close", trail=step.trail_id, bars=bars)
        for rub in self._proposed:
            # at the last of its places to be closed: loads rub against it until then
            shut = [self._used.index(p.trail_id) for p in rub.places if p.trail_id in self._used]
            if shut and self._used[max(shut)] == step.trail_id:
                words = say("step_close_proposed", what=words, tree=rub.tree_id)
        return say("step_close_shut", what=words)

    def _loads(self, step: WorkStep) -> str:
        """Name the loads of a step."""
        single = len(step.turn_ids) == 1
        return say("step_loads_one" if single else "step_loads_many", names=_listed(step.turn_ids))

    def _place(self, trail_id: str, at_m: float | None) -> str:
        """Say a place: a trail and a station, or the landing."""
        if not trail_id and self._landing:
            return say("step_on_landing_of", landing=self._landing)
        if not trail_id:
            return say("step_on_landing")
        if at_m is None:
            return trail_id
        end_m = self._trails[trail_id].line.length if trail_id in self._trails else math.inf
        at = speak_station(at_m, self._units, end_m).replace(" ", SPACE)
        return say("step_place", trail=trail_id, at=at)


def groups_by_tree(plan: Plan) -> dict[str, FellingGroup]:
    """Give for each tree the group it is felled in; a tree is felled once."""
    return {tree: group for group in plan.felling_groups for tree in group.tree_ids}


def step_line(plan: Plan, step: WorkStep) -> str:
    """Say one step of the order of work; for many of one plan take `StepLines`.

    Parameters
    ----------
    plan : Plan
        A plan whose work was worked out.
    step : WorkStep
        Of this plan.

    Returns
    -------
    str
        One line, without a full stop.
    """
    return StepLines(plan).line(step)


def _listed(names: Sequence[str]) -> str:
    """Name things one after the other; a name is not torn apart at the end of a line."""
    return ", ".join(name.replace(" ", SPACE) for name in names)
