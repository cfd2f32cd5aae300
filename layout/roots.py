"""The main trails of several landings and their arms, each as if its landing were the only one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from layout.arm_lines import wide
from layout.arm_names import had_arms
from layout.beginning import begun
from layout.errors import InputError
from layout.findings import Finding
from layout.growing_ground import prepare
from layout.landing_options import PROPOSED
from layout.main_choice import best_mains
from layout.naming import new_names, used_names
from layout.parts import Share
from layout.records import Trail
from layout.settings import Limits
from layout.solver import Solver
from layout.sprouts import Known
from layout.terrain import Terrain
from layout.water import Strips

CLEAR_M = 3.0  # a main trail from one landing keeps this far off those of the others; ours


@dataclass(frozen=True, slots=True, eq=False)
class Roots:
    """What the spurs of several landings grow on: a main trail a landing, and all their arms."""

    mains: tuple[Trail, ...]
    arms: tuple[Trail, ...]
    findings: tuple[Finding, ...]


def main_roots(
    shares: Sequence[Share],
    shape: Terrain,
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    swing_deg: float,
    solver: Solver,
    tell: Callable[[str], None],
) -> Roots:
    """Choose a main trail from each of several landings, with the arms that pay on it.

    Parameters
    ----------
    shares : sequence of Share
        The landings, and what each serves.
    shape, strips, limits : Terrain, Strips, Limits
        The ground.
    opened : shapely geometry
        Ground a machine may stand on.
    swing_deg : float
        How far the outfit may swing off a main trail's line.
    solver : Solver
        A running solver.
    tell : callable
        Told a line now and then.

    Returns
    -------
    Roots
        A main trail from every landing one gets away from, and what there is to say of
        the others.

    Raises
    ------
    InputError
        If none gets away from any of them, or from one that was proposed: another place
        may do better then.
    """
    mains: list[Trail] = []
    arms: list[Trail] = []
    found: list[Finding] = []
    refused: InputError | None = None
    for share in shares:
        yards = [other.site.shape for other in shares if other is not share]
        lines = [main.line.buffer(main.width_m + CLEAR_M) for main in (*mains, *arms)]
        off = opened.difference(shapely.union_all([*yards, *lines]))
        try:
            main, *own = _best(share, shape, strips, off, limits, swing_deg, solver, tell)
        except InputError as error:
            if any(f.code == PROPOSED and f.subject_id == share.site.landing_id
                   for f in share.area.findings):  # fmt: skip
                raise
            refused = refused or error
            found.append(_no_way(share, error))
            continue
        taken = {*(other.main_id for other in shares), *(arm.trail_id for arm in arms)}
        main, *own = _named((main, *own), share, taken)
        mains.append(main)
        arms += own
    if refused is not None and not mains:
        raise refused
    return Roots(tuple(mains), tuple(arms), tuple(found))


def _best(
    share: Share,
    shape: Terrain,
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    swing_deg: float,
    solver: Solver,
    tell: Callable[[str], None],
) -> tuple[Trail, ...]:
    """Choose the main trail of one landing, and its arms."""
    area = share.area
    site, tries = begun(area, shape, strips, opened, limits, tell)
    main = tries[0][0]
    if main.source == "routed" or had_arms(area.earlier):
        grower, _ = prepare(area, shape, strips, opened, limits, main)
        room = wide(area, shape, opened, limits, site, strips)
        mains, _ = best_mains(
            room, grower, tries, (), opened, site, swing_deg, solver, Known(grower), tell
        )  # fmt: skip
        return mains
    return (main,)


def _named(trails: Sequence[Trail], share: Share, taken: set[str]) -> list[Trail]:
    """Give a landing's main trail and arms names that no other landing's have."""
    fresh = new_names("M", {*used_names(share.area.earlier), *taken, "M1",
                            *(trail.trail_id for trail in trails)})  # fmt: skip
    name = {trails[0].trail_id: share.main_id}
    for arm in trails[1:]:
        name[arm.trail_id] = next(fresh) if arm.trail_id in taken else arm.trail_id
    return [
        replace(
            trail,
            trail_id=name[trail.trail_id],
            landing_id=share.site.landing_id,
            joins_id=name.get(trail.joins_id, trail.joins_id),
        )
        for trail in trails
    ]


def _no_way(share: Share, error: InputError) -> Finding:
    """Say that no main trail gets away from a landing."""
    site = share.site
    trees = int(share.area.trees.to_serve.sum())
    reason = str(error.__cause__ or error)
    left = "1 marked tree is" if trees == 1 else f"{trees} marked trees are"
    return Finding(
        "landing_no_way",
        "caution",
        f"Landing {site.landing_id}: {reason}. {left} laid out for from it and can only be "
        "served from other trails.",
        "landing",
        site.landing_id,
        value=float(trees),
        source="ours",
        at=(site.x, site.y),
    )
