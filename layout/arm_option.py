"""What more arms of the main trail would change in a finished plan."""

from dataclasses import replace

from layout.arm_lines import Arm, Wide, wide
from layout.arm_names import arm_trails
from layout.arms import as_branch, one_pass
from layout.finished_network import Network
from layout.geometry import along
from layout.network import Branch
from layout.option_records import OptionRow
from layout.plan_record import Plan
from layout.rechoice import Outcome, against, chosen, joined, offered
from layout.records import REACHED
from layout.settings import limits_in_force
from layout.solver import Solver
from layout.speech import speak_length
from layout.water import Strips

MOST = 3  # arms tried at once
SEVERAL = "not worked out where there are several landings"
NONE_FOUND = "no further line as wide as a main trail keeps the limits and promises to save ground"
NOT_WORTH = "none of the lines tried saves more ground than it takes"


def arm_row(plan: Plan, strips: Strips, network: Network, marked: int) -> OptionRow:
    """Try arms beside the trails of a finished plan, all spurs chosen again.

    Parameters
    ----------
    plan : Plan
        The plan.
    strips : Strips
        Its water strips.
    network : Network
        The plan's network.
    marked : int
        Marked trees still to come out.

    Returns
    -------
    OptionRow
        Exact among the lines tried.

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    row = OptionRow("main_arm", "one more arm of the main trail", "not_worked_out", "", marked)
    if plan.more_landings:
        return replace(row, why=SEVERAL)
    area = plan.area
    ground = wide(
        area, plan.terrain, network.opened, limits_in_force(area.settings), plan.landing, strips
    )
    hosts = [n for n, trail in enumerate(network.standing) if trail.kind == "main"]
    with Solver() as solver:
        _, _, taken = one_pass(
            ground, network.grower, list(network.branches), hosts, most=MOST,
            main_swing_deg=network.main_swing_deg, solver=solver, known=network.known,
        )  # fmt: skip
        if not taken:
            return replace(row, why=NONE_FOUND)
        lines = offered(network)
        base, _ = chosen(network, lines, solver)
        armed = _armed(network, ground, taken)
        shift = len(taken)
        first = _shifted(lines, len(network.standing), armed, shift)
        now, _ = chosen(armed, joined(first, offered(armed), len(armed.branches)), solver)
    now = replace(now, weighed_m2=now.weighed_m2 + sum(arm.cost_m2 for arm in taken))
    if now.weighed_m2 >= base.weighed_m2 and now.trees <= base.trees:
        return replace(row, why=NOT_WORTH)
    return _told(row, plan, network, taken, base, now)


def _told(
    row: OptionRow, plan: Plan, network: Network, taken: list[Arm], base: Outcome, now: Outcome
) -> OptionRow:
    units = plan.area.settings.area.units
    length = speak_length(sum(float(along(arm.line)[-1]) for arm in taken), units)
    many = "an arm" if len(taken) == 1 else f"{len(taken)} arms"
    off = sorted(
        {
            "the landing" if arm.parent < 0 else network.standing[arm.parent].trail_id
            for arm in taken
        }
    )
    told = replace(
        row,
        change=f"{many} of the main trail, {length} off {' and '.join(off)}",
        how="replanned",
        needs="a trail as wide as the main one to lay out and close",
    )
    return against(told, sum(o.status in REACHED for o in plan.trees), base, now)


def _armed(network: Network, ground: Wide, taken: list[Arm]) -> Network:
    """Give the network with arms standing, after the trails that stand."""
    first = len(network.standing)
    trails = arm_trails(taken, network.standing, ground.judge.width_m, network.area.earlier)
    arms = [as_branch(ground, arm, network.main_swing_deg, paid=True) for arm in taken]
    rest = [_moved(b, first, len(arms)) for b in network.branches[first:]]
    return replace(
        network,
        branches=(*network.branches[:first], *arms, *rest),
        standing=(*network.standing, *trails),
    )


def _shifted(lines: list[Branch], first: int, armed: Network, shift: int) -> list[Branch]:
    """Put the arms into lines grown without them."""
    arms = armed.branches[first : first + shift]
    return [*lines[:first], *arms, *(_moved(b, first, shift) for b in lines[first:])]


def _moved(branch: Branch, first: int, shift: int) -> Branch:
    return replace(branch, parent=branch.parent + shift) if branch.parent >= first else branch
