"""A first choice in seconds, to look at while the plan itself is made.

One round of growing on what is drawn: no repairs, no checks, no work. It is shown as
what it is, and nothing is taken from it into the plan.
"""

from layout import ground, landing, winch
from layout.grow import Grown, grow
from layout.growing_ground import prepare
from layout.settings import limits_in_force
from layout.site import Area
from layout.solver import Solver
from layout.standing import drawn_mains, fixed_trails, with_standing
from layout.terrain import Terrain
from layout.turning import pad_radius_m
from layout.water import Strips


def first_round(area: Area, shape: Terrain, strips: Strips) -> Grown | None:
    """Choose once among the spurs of a first round.

    Parameters
    ----------
    area, shape, strips : Area, Terrain, Strips
        The job.

    Returns
    -------
    Grown or None
        None where landing or main trail are not drawn: there is nothing to grow on yet.

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    mains = drawn_mains(area)
    if area.landing is None or not mains or not area.trees.to_serve.any():
        return None
    limits, tractor = limits_in_force(area.settings), area.settings.tractor
    opened = ground.open_area(area, strips)
    sites = [landing.measure(area, shape, strips, one) for one in area.landings]
    standing = (*mains, *fixed_trails(area, sites[0].landing_id))
    with Solver() as solver:
        solver.get_ready()
        grower, trunk = prepare(area, shape, strips, opened, limits, mains[0])
        swing = winch.swing_limit_deg(tractor.length_m, tractor.width_m, mains[0].width_m)
        return grow(
            grower,
            list(with_standing(grower, trunk, standing)),
            opened,
            [(site.x, site.y) for site in sites],
            main_swing_deg=swing,
            pad_radius_m=pad_radius_m(tractor.length_m),
            solver=solver,
            rounds=1,
            exact=False,
        )
