"""Which of the main trails tried does best, and where it may end."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import fairline, sprouts
from layout.geometry import coordinates, cut
from layout.grow import Grown, grow
from layout.network import Branch
from layout.records import Landing, Trail
from layout.solver import Solver
from layout.standing import with_standing
from layout.turning import pad_radius_m

TAIL_M = 0.5  # a routed main trail ends this far behind the last thing on it


def best_main(
    grower: sprouts.Grower,
    tries: tuple[tuple[Trail, float], ...],
    fixed: tuple[Trail, ...],
    opened: BaseGeometry,
    site: Landing,
    swing_deg: float,
    solver: Solver,
    known: sprouts.Known,
    tell: Callable[[str], None],
) -> tuple[Trail, list[Branch]]:
    """Choose spurs once on each main trail, and keep the main that does best.

    Fewest trees unserved, then least objective with the main's own cost in it.
    Gives the main trail and the branches to grow on from.
    """
    ranked: list[tuple[int, float, int]] = []
    grown_of: list[Grown] = []
    for number, (main, cost_m2) in enumerate(tries):
        line = coordinates(main.line)
        branch = Branch(line, -1, 0.0, fairline.measure(grower.judge, line), built=True)
        grown = grow(
            grower,
            list(with_standing(grower, branch, (main, *fixed))),
            opened,
            (site.x, site.y),
            main_swing_deg=swing_deg,
            pad_radius_m=pad_radius_m(grower.body_m),
            solver=solver,
            known=known,
            rounds=1,
        )
        left = int((grown.choice.tree_pair < 0).sum())
        ranked.append((left, grown.choice.objective + cost_m2, number))
        grown_of.append(grown)
        tell(
            f"main trail {number + 1} of {len(tries)}: {main.line.length:,.0f} m, "
            f"{left} trees left, {ranked[-1][1]:,.0f} m2"
        )
    best = min(ranked)[2]
    return tries[best][0], list(grown_of[best].branches)


def without_tail(grower: sprouts.Grower, main: Trail, grown: Grown) -> tuple[Trail, Grown]:
    """Cut a routed main trail off behind the last thing on it."""
    used = [b.mouth_m for b in grown.branches if b.parent == 0]
    used += [s.at_m for s in grown.spots if s.branch == 0]
    for place in grown.places:
        if place.branch == 0:
            used.append(place.at_m)
            if place.line is not None:
                points = shapely.points(np.asarray(place.line, dtype=float))
                used += np.atleast_1d(shapely.line_locate_point(main.line, points)).tolist()
    last = max(used, default=0.0) + TAIL_M
    if not used or last >= main.line.length:
        return main, grown
    line = cut(coordinates(main.line), 0.0, last)
    trunk = replace(grown.branches[0], line=line, measured=fairline.measure(grower.judge, line))
    return (
        replace(main, line=LineString(line)),
        replace(grown, branches=(trunk, *grown.branches[1:])),
    )
