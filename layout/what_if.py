"""What would change: a finished plan tried again with one rule, tool, trail or place changed.

Rope and benching are chosen again from the plan's own network (`rechoice`); another
landing is a plan of its own where such plans were made; a snatch block is a rough count of
trees. Differences of what is chosen again are taken against the same choice with nothing
changed, so that a second look is not credited to the rope. No change passes a ceiling.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from math import ceil

import numpy as np

from layout.arm_option import arm_row
from layout.block_pulls import BlockPull, by_block
from layout.choice_model import BIG_PRICE
from layout.errors import SolverError
from layout.finished_network import network_of, rewinched
from layout.landing_options import LandingOption
from layout.network import Branch
from layout.option_records import OptionRow
from layout.plan_record import Plan
from layout.pull_forces import anchor_dbh_m, block_table
from layout.rechoice import Outcome, against, chosen, joined, offered
from layout.records import REACHED
from layout.rule_changes import RuleChange, benching, longer_ropes
from layout.solver import Solver
from layout.speech import speak_length
from layout.units import INCH_M, Units
from layout.water import Strips

# Ours. What is chosen again takes about a sixth of a plan's own time; a very large choice
# does not pay for so many. The size is the same on every machine, the clock is not: it is
# there for a machine that is held up.
LARGE_NONZEROS = 120_000
LEAST_S = 300.0
OWN_SHARE = 0.25
TOO_LARGE = "the choice is too large to be made again for this"
NO_TIME = "the time for trying changes was used up"
NO_ANSWER = "the solver ended without an answer"
NO_BETTER = "as tried it brings no more than the shorter one"


def what_if(
    plan: Plan, strips: Strips, *, own_s: float = 0.0, tell: Callable[[str], None] | None = None
) -> tuple[OptionRow, ...]:
    """Try a finished plan again with one thing changed at a time.

    Parameters
    ----------
    plan : Plan
        The plan.
    strips : Strips
        Its water strips.
    own_s : float
        What the plan itself took, seconds; a quarter of it may be used, or five minutes.
    tell : callable, optional
        Told a line now and then.

    Returns
    -------
    tuple of OptionRow
        What gains most first, then trees only counted in reach, what was not worked out
        last. Empty without marked trees.
    """
    marked = [o for o in plan.trees if o.status not in ("leave", "done")]
    if not marked:
        return ()
    if tell is not None:
        tell("what would change with another rope, tool or place")
    made = _Tries(plan, strips, len(marked), time.monotonic() + max(LEAST_S, OWN_SHARE * own_s))
    rows = [*made.rules(), *made.block(), *_landings(plan, len(marked)), made.arm()]
    order = {row.key: n for n, row in enumerate(rows)}

    def place(row: OptionRow) -> tuple[bool, bool, float, int]:
        # trees counted in reach stand behind what was chosen again, costs and all
        return row.gain_m2 is None, row.how == "reach", -(row.gain_m2 or 0.0), order[row.key]

    return tuple(sorted(rows, key=place))


class _Tries:
    """The changes of one plan, in the order of use."""

    def __init__(self, plan: Plan, strips: Strips, marked: int, until_s: float) -> None:
        self.plan, self.strips, self.marked, self.until_s = plan, strips, marked, until_s
        self.network = network_of(plan, strips)
        self.reached = sum(o.status in REACHED for o in plan.trees)

    def rules(self) -> list[OptionRow]:
        """Try longer ropes, then benching."""
        ropes = list(longer_ropes(self.plan.area))
        bench = benching(self.plan.area)
        every = [*ropes, *([bench] if bench is not None else [])]
        if self.plan.choice.nonzeros > LARGE_NONZEROS:
            return [self._not_worked_out(change, TOO_LARGE) for change in every]
        network = self.network
        far = rewinched(network, ropes[-1].area) if ropes else network
        lines = offered(far)
        with Solver() as solver:
            try:
                base, _ = chosen(network, lines, solver)
            except SolverError:
                return [self._not_worked_out(change, NO_ANSWER) for change in every]
            rows = self._ropes(ropes, lines, base, solver)
            if bench is not None:
                rows.append(self._bench(bench, lines, base, solver))
        return rows

    def _ropes(
        self, ropes: list[RuleChange], lines: list[Branch], base: Outcome, solver: Solver
    ) -> list[OptionRow]:
        """Choose with each rope; what a shorter one can do, a longer one can."""
        best = base
        rows: list[OptionRow] = []
        for rope in ropes:
            if time.monotonic() > self.until_s:
                rows.append(self._not_worked_out(rope, NO_TIME))
                continue
            try:
                outcome, _ = chosen(rewinched(self.network, rope.area), lines, solver)
            except SolverError:
                rows.append(self._not_worked_out(rope, NO_ANSWER))
                continue
            # lines that may not be built together are shut out one by one, so that a longer
            # rope may seem to do worse; it never has to
            better = outcome.weighed_m2 < best.weighed_m2 - 1e-6
            if not better and best is not base:
                rope = replace(rope, needs=f"{rope.needs}; {NO_BETTER}")
            best = outcome if better else best
            rows.append(self._row(rope, base, best))
        return rows

    def _bench(
        self, bench: RuleChange, lines: list[Branch], base: Outcome, solver: Solver
    ) -> OptionRow:
        """Choose among lines with benches and those without."""
        if time.monotonic() > self.until_s:
            return self._not_worked_out(bench, NO_TIME)
        network = network_of(self.plan, self.strips, bench.area)
        if np.array_equal(network.grower.ground.closed, self.network.grower.ground.closed):
            return self._row(bench, base, base)
        both = joined(lines, offered(network), len(network.branches))
        try:
            outcome, _ = chosen(network, both, solver)
        except SolverError:
            return self._not_worked_out(bench, NO_ANSWER)
        # what needs no bench stays allowed
        return self._row(bench, base, min(base, outcome, key=lambda o: o.weighed_m2))

    def _row(self, change: RuleChange, base: Outcome, now: Outcome) -> OptionRow:
        row = OptionRow(
            change.key, change.change, "replanned", change.needs, self.marked,
            past_caution=change.past_caution,
        )  # fmt: skip
        return against(row, self.reached, base, now)

    def _not_worked_out(self, change: RuleChange, why: str) -> OptionRow:
        return OptionRow(
            change.key, change.change, "not_worked_out", change.needs, self.marked, why=why
        )

    def arm(self) -> OptionRow:
        """Try arms of the main trail beside the plan's trails."""
        arm = RuleChange("main_arm", self.plan.area, "one more arm of the main trail", "")
        if self.plan.choice.nonzeros > LARGE_NONZEROS:
            return self._not_worked_out(arm, TOO_LARGE)
        if time.monotonic() > self.until_s:
            return self._not_worked_out(arm, NO_TIME)
        try:
            return arm_row(self.plan, self.strips, self.network, self.marked)
        except SolverError:
            return self._not_worked_out(arm, NO_ANSWER)

    def block(self) -> list[OptionRow]:
        """Count the trees a snatch block would bring in."""
        settings = self.plan.area.settings
        row = OptionRow(
            "snatch_block", "a snatch block on an anchor tree", "reach",
            _block_needs(self.plan, ()), self.marked,
        )  # fmt: skip
        left = {o.tree_id for o in self.plan.trees if o.status not in (*REACHED, "leave", "done")}
        ground = self.network.grower.pull_ground
        unserved = np.flatnonzero([name in left for name in ground.tree_ids])
        why = ""
        if not unserved.size:
            why = "every marked tree is reached; what trail a block saves is not worked out"
        elif not ground.leave_known or not ground.stems.row.size:
            why = "no tree that stays is listed with its place, so no anchor tree is known"
        if why:
            return [replace(row, how="not_worked_out", why=why)]
        found = by_block(self.network, unserved)
        return [
            replace(
                row,
                needs=_block_needs(self.plan, found),
                trees=self.reached + len(found),
                more_trees=len(found),
                gain_m2=len(found) * min(settings.objective.serve_worth_m2, BIG_PRICE),
            )
        ]


def _block_needs(plan: Plan, found: tuple[BlockPull, ...]) -> str:
    """Say what block, strap and anchor tree must hold."""
    winch, units = plan.area.settings.winch, plan.area.settings.area.units
    hardest = block_table(plan.area.settings)[0]
    force = max((pull.force_kn for pull in found), default=hardest.force_kn)
    stout = anchor_dbh_m(force)
    rated = winch.block_rating_kn
    mine = (
        "block_rating and anchor_dbh under [winch]"
        if rated is None
        else f"yours is rated {rated:.0f} kN"
    )
    return (
        f"block and strap rated {force:.0f} kN or more ({mine}), sound anchor trees "
        f"{_up(stout, units)} or "
        "more through at breast height with a strap that spares the bark, a second hook-up for "
        "each stem, nobody inside the bend of the rope"
    )


def _up(stout_m: float, units: Units) -> str:
    """Say a stoutness rounded up."""
    return f"{ceil(100 * stout_m)} cm" if units == "metric" else f"{ceil(stout_m / INCH_M)} in"


def _landings(plan: Plan, marked: int) -> list[OptionRow]:
    """Say what the other landings that were planned completely come to."""
    used = next((o for o in plan.landing_options if o.used), None)
    if used is None:
        why = "the landing is given; leave it out of the settings, and the best places are planned"
        other = OptionRow("other_landing", "another landing", "not_worked_out", "", marked, why=why)
        return [other]
    return [
        _landing_row(plan, used, option, marked)
        for option in plan.landing_options
        if option.planned and not option.used
    ]


def _landing_row(plan: Plan, used: LandingOption, option: LandingOption, marked: int) -> OptionRow:
    def more(name: str) -> float | None:
        a, b = getattr(used, name), getattr(option, name)
        return None if a is None or b is None else float(b) - float(a)

    trees, objective = more("tree_count"), more("objective_m2")
    low, high = more("low_h"), more("high_h")
    units = plan.area.settings.area.units
    away = float(np.hypot(option.x - used.x, option.y - used.y))
    return OptionRow(
        f"landing_{option.option_id}",
        f"landing {option.option_id}, {speak_length(away, units)} from the one used, with a main "
        "trail of its own",
        "planned",
        "the way in for a truck, and leave to use the place",
        marked,
        trees=option.tree_count,
        more_trees=None if trees is None else int(trees),
        trail_m=more("trail_m"),
        ground_m2=more("disturbed_m2"),
        share_points=more("disturbed_pct"),
        skid_m=more("skid_m"),
        hours=None if low is None or high is None else (low + high) / 2,
        gain_m2=None if objective is None else -objective,
    )


def worked_out(rows: tuple[OptionRow, ...]) -> frozenset[str]:
    """Give the keys of the changes that need no rough search for reach any more.

    Parameters
    ----------
    rows : tuple of OptionRow

    Returns
    -------
    frozenset of str
    """
    return frozenset(row.key for row in rows if row.how != "not_worked_out")
