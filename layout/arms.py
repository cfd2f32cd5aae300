"""Arms: more main trails, where one line cannot serve the stand.

A few lines that keep clear of each other are put on offer at their full price, with spurs
grown off all of them; the choice takes an arm only where what hangs on it pays for it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout import fairline
from layout.arm_lines import SHORTEST_ARM_M, Arm, Wide, offered_arms
from layout.geometry import along, cut
from layout.grow import grow, offer
from layout.network import Branch
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.turning import pad_radius_m

Floats = NDArray[np.float64]

MOST_ARMS = 6
PASSES = 4
LEAST_GAIN_M2 = 1.0
TAIL_M = 0.5  # an arm ends this far behind the last thing on it


@dataclass(frozen=True, slots=True, eq=False)
class Armed:
    """Main trails with their arms, and what a layout on them is worth after one round.

    Parameters
    ----------
    arms : tuple of Arm
        ``parent`` counts the mains handed in first, then the arms.
    left : int
        Marked trees left, the arms standing.
    objective_m2 : float
        With the arms' own cost.
    """

    arms: tuple[Arm, ...]
    left: int
    objective_m2: float


def with_arms(
    ground: Wide,
    grower: Grower,
    mains: Sequence[Branch],
    before: tuple[int, float],
    *,
    hosts: Sequence[int] = (0,),
    main_swing_deg: float,
    solver: Solver,
    known: Known,
    tell: Callable[[str], None],
) -> Armed:
    """Lay out the arms that pay.

    Parameters
    ----------
    ground : Wide
        Ground for arms.
    grower : Grower
        Tables and rules of spurs.
    mains : sequence of Branch
        The main trail, and whatever else stands.
    before : tuple of int and float
        Trees left, and the objective, of one round on these alone.
    hosts : sequence of int, optional
        Which of them arms may leave: main trails.
    main_swing_deg : float
        How far the outfit may swing off a main trail's line.
    solver : Solver
        A running solver.
    known : Known
        Spurs measured before.
    tell : callable
        Told a line about each pass.

    Returns
    -------
    Armed
        Without arms where none pays. Optimal only among the lines put on offer.
    """
    standing, arms = list(mains), list[Arm]()
    first = len(standing)
    left, worth = before
    sunk = 0.0
    for _ in range(PASSES):
        ways = [*hosts, *range(first, len(standing))]
        left_now, total, taken = one_pass(
            ground, grower, standing, ways, most=MOST_ARMS - len(arms),
            main_swing_deg=main_swing_deg, solver=solver, known=known,
        )  # fmt: skip
        if not taken or sunk + total > worth - LEAST_GAIN_M2:
            break
        left, worth = left_now, sunk + total
        sunk += sum(arm.cost_m2 for arm in taken)
        arms += taken
        standing += [as_branch(ground, arm, main_swing_deg, paid=True) for arm in taken]
        tell(
            f"{len(arms)} {'arm' if len(arms) == 1 else 'arms'}: "
            f"{sum(float(along(a.line)[-1]) for a in arms):,.0f} m, {left} trees left, "
            f"{worth:,.0f} m2"
        )
        if len(arms) >= MOST_ARMS:
            break
    assert all(arm.parent < first + n for n, arm in enumerate(arms))
    return Armed(tuple(arms), left, worth)


def one_pass(
    ground: Wide,
    grower: Grower,
    standing: list[Branch],
    hosts: Sequence[int],
    *,
    most: int = MOST_ARMS,
    main_swing_deg: float,
    solver: Solver,
    known: Known,
) -> tuple[int, float, list[Arm]]:
    """Put a few arms on offer once, and choose among them and spurs.

    Parameters
    ----------
    ground, grower, standing, hosts, main_swing_deg, solver, known
        As `with_arms` takes them; spurs may follow what stands, to be chosen anew.
    most : int, optional
        How many at most.

    Returns
    -------
    left : int
        Trees left.
    objective_m2 : float
        With the price of the arms.
    taken : list of Arm
        May be empty; the other figures mean nothing then.
    """
    # an arm may cross what is chosen anew: then one of the two is built
    offered = offered_arms(ground, [b for b in standing if b.standing], hosts)[:most]
    while offered:
        left, total, taken = _judged(
            ground, grower, standing, offered, main_swing_deg, solver, known
        )
        long = [arm for arm in taken if float(along(arm.line)[-1]) >= SHORTEST_ARM_M]
        if len(long) == len(taken):
            return left, total, taken
        # what is taken for a few metres only is no arm: judged again without it
        offered = [arm for arm in offered if any(_along(o.line, arm.line) for o in long)]
    return 0, 0.0, []


def as_branch(ground: Wide, arm: Arm, swing_deg: float, *, paid: bool) -> Branch:
    """Give an arm as a branch; one that is only offered hangs on the main, to be chosen or not."""
    measured = fairline.measure(ground.judge, arm.line)
    if paid:
        measured = replace(measured, price_m2=np.zeros_like(measured.price_m2))
    parent = arm.parent if paid else max(arm.parent, 0)
    return Branch(
        arm.line, parent, arm.mouth_m, measured, built=True,
        fixed=paid and parent >= 0, swing_deg=swing_deg,
    )  # fmt: skip


def _along(line: Floats, arm: Floats) -> bool:
    """Tell whether a chosen line is an arm as far as it goes; a spur may share its turn-out."""
    n = min(len(line), len(arm)) - 1
    return n > 0 and bool(np.allclose(line[:n], arm[:n]))


def _judged(
    ground: Wide,
    grower: Grower,
    standing: list[Branch],
    offered: list[Arm],
    main_swing_deg: float,
    solver: Solver,
    known: Known,
) -> tuple[int, float, list[Arm]]:
    """Choose among spurs and arms; give trees left, objective, and the arms taken."""
    branches = [*standing, *(as_branch(ground, arm, main_swing_deg, paid=False) for arm in offered)]
    middle = (ground.landing.x, ground.landing.y)
    pad_m = pad_radius_m(grower.body_m)
    first = offer(
        grower, branches, grower.ground.closed.copy(), ground.opened, middle,
        main_swing_deg=main_swing_deg, pad_radius_m=pad_m, known=known,
    )  # fmt: skip
    grown = grow(
        replace(grower, longest_m=math.inf),  # arms may be longer than a spur; spurs are held above
        branches,
        ground.opened,
        middle,
        main_swing_deg=main_swing_deg,
        pad_radius_m=pad_m,
        solver=solver,
        known=known,
        rounds=1,
        first=first,
        exact=False,  # near enough to see whether an arm pays
    )
    taken: list[Arm] = []
    for arm in offered:
        built = [b for b in grown.branches if _along(b.line, arm.line)]
        if built:
            end = min(max(b.length_m for b in built) + TAIL_M, float(along(arm.line)[-1]))
            line = cut(arm.line, 0.0, end)
            price = float(fairline.measure(ground.judge, line).price_m2[-1])
            taken.append(Arm(line, arm.parent, arm.mouth_m, price))
    left = int((grown.choice.tree_pair < 0).sum())
    return left, float(grown.choice.objective), taken
