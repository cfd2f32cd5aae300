"""Trails that are there before anything is chosen, as the choice and the checks know them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import LineString, Point

from layout import winch
from layout.errors import InputError
from layout.fairline import measure
from layout.findings import Finding
from layout.geometry import coordinates
from layout.naming import SAME_LINE_M, apart_m
from layout.network import Branch
from layout.records import Trail, TrailStep, WinchPosition
from layout.site import Area
from layout.sprouts import Grower

FIRST = "L1"


def main_of(area: Area, landing_id: str) -> Trail:
    """Give the main trail of an area, as drawn or as it is on the ground.

    Parameters
    ----------
    area : Area
    landing_id : str

    Returns
    -------
    Trail

    Raises
    ------
    InputError
        If there is none.
    """
    if area.main_trail is None:
        msg = '[main_trail]: no main trail is drawn; give `line = "main_trail.gpkg"`'
        raise InputError(msg)
    kept = area.main_fixed
    return Trail(
        trail_id="M",
        kind="main",
        landing_id=landing_id,
        line=area.main_trail,
        width_m=(kept and kept.width_m) or area.settings.trails.width_main_m,
        source="drawn" if kept is None else "fixed",
    )


def drawn_mains(area: Area) -> tuple[Trail, ...]:
    """Give the main trails of an area that are drawn or on the ground, M first.

    Parameters
    ----------
    area : Area

    Returns
    -------
    tuple of Trail
        One a landing at most.
    """
    first = (main_of(area, FIRST),) if area.main_trail is not None else ()
    width_m = area.settings.trails.width_main_m
    return first + tuple(
        Trail(more.main_id, "main", more.landing_id, more.main, width_m, "drawn")
        for more in area.more_landings
        if more.main is not None
    )


def landing_by_trail(area: Area) -> dict[str, str]:
    """Name the landing every trail known beforehand leads to.

    Parameters
    ----------
    area : Area

    Returns
    -------
    dict
        Landing by trail, drawn main trails and fixed ones.
    """
    out = {"M": FIRST} | {more.main_id: more.landing_id for more in area.more_landings}
    yards = dict(zip((FIRST, *(m.landing_id for m in area.more_landings)), area.landings,
                     strict=False))  # fmt: skip
    for fixed in area.fixed:  # each after the one it joins
        if fixed.joins_id:
            out[fixed.trail_id] = out.get(fixed.joins_id, FIRST)
        elif yards:
            start = Point(fixed.line.coords[0])
            out[fixed.trail_id] = min(yards, key=lambda name: yards[name].distance(start))
    return out


def fixed_trails(area: Area, landing_id: str) -> tuple[Trail, ...]:
    """Give the trails of an area that are flagged or opened, the main trail left out.

    Parameters
    ----------
    area : Area
    landing_id : str
        Where they lead to, unless there are several landings.

    Returns
    -------
    tuple of Trail
        Each after the one it joins.
    """
    trails = area.settings.trails
    usual = {"main": trails.width_main_m, "spur": trails.width_spur_m}
    leads_to = landing_by_trail(area) if area.more_landings else {}
    return tuple(
        Trail(
            trail_id=fixed.trail_id,
            kind=fixed.kind,
            landing_id=leads_to.get(fixed.trail_id, landing_id),
            line=fixed.line,
            width_m=fixed.width_m or usual[fixed.kind],
            source="drawn" if fixed.drawn else "fixed",
            joins_id=fixed.joins_id,
            joins_at_m=fixed.joins_at_m,
        )
        for fixed in area.fixed
    )


def with_standing(grower: Grower, main: Branch, trails: tuple[Trail, ...]) -> tuple[Branch, ...]:
    """Give the branches to start from: the main trail and the fixed ones.

    What is on the ground has been paid for, so a fixed branch has no price.

    Parameters
    ----------
    grower : Grower
    main : Branch
        The main trail.
    trails : tuple of Trail
        The main trail, then the fixed ones, each after the one it joins.

    Returns
    -------
    tuple of Branch
        In the order of ``trails``.
    """
    area = grower.judge.area
    number = {trail.trail_id: n for n, trail in enumerate(trails)}
    stops, opened = _positions(area, trails[0])
    out = [replace(main, stops=stops, opened=opened)]
    tractor = area.settings.tractor
    for trail in trails[1:]:
        line = coordinates(trail.line)
        stops, opened = _positions(area, trail)
        measured = measure(grower.judge, line)
        out.append(
            Branch(
                line=line,
                parent=number[trail.joins_id] if trail.joins_id else -1,
                mouth_m=trail.joins_at_m or 0.0,
                measured=replace(measured, price_m2=np.zeros_like(measured.price_m2)),
                stops=stops,
                built=True,
                fixed=bool(trail.joins_id),
                opened=opened,
                swing_deg=winch.swing_limit_deg(tractor.length_m, tractor.width_m, trail.width_m),
            )
        )
    return tuple(out)


def progress_findings(
    area: Area, steps: Sequence[TrailStep], positions: Sequence[WinchPosition]
) -> list[Finding]:
    """Tell where a new plan and the work done so far do not agree.

    Parameters
    ----------
    area : Area
    steps, positions : sequence of TrailStep, of WinchPosition
        Of the new plan.

    Returns
    -------
    list of Finding
        Positions known on the ground that no pull needs any more, and trails
        said to be done that loads still come over.
    """
    here = {p.position_id for p in positions}
    found = [
        Finding(
            "position_idle",
            "caution",
            f"Position {name} is flagged, opened or done by progress.csv, and no tree of this "
            "plan is pulled to it; take its ribbon down, or leave it for later.",
            "winch_positions",
            name,
        )
        for name in sorted(area.opened_positions - here)
    ]
    kept = {"M", *(trail.trail_id for trail in area.fixed)}
    done = {r.name for r in area.progress if r.state == "done" and r.kind in ("", "trail")} & kept
    for name in sorted(done):
        loads = max((step.loads for step in steps if step.trail_id == name), default=0)
        if loads:
            found.append(
                Finding(
                    "done_trail_used",
                    "caution",
                    f"Trail {name} is done by progress.csv, and {loads} "
                    f"{'load' if loads == 1 else 'loads'} of this plan still come over it; note "
                    "the trees that are out already, or close it again afterwards.",
                    "trails",
                    name,
                    value=float(loads),
                )
            )
    return found


def _positions(area: Area, trail: Trail) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Give the stations known on the ground, and those among them with no set-up to pay."""
    before = {old.trail_id: old.line for old in area.earlier.trails} if area.earlier else {}
    if area.earlier is None or not _same(before.get(trail.trail_id), trail.line):
        return (), ()
    here = [p for p in area.earlier.positions if p.trail_id == trail.trail_id]
    opened = {p.at_m for p in here if p.position_id in area.opened_positions}
    opened |= {
        old.at_m
        for old in area.earlier.retired
        if old.trail_id == trail.trail_id
        and old.name in area.opened_positions
        and old.at_m is not None
    }
    return tuple(sorted({p.at_m for p in here} | opened)), tuple(sorted(opened))


def _same(old: LineString | None, new: LineString) -> bool:
    return old is not None and apart_m(old, new) <= SAME_LINE_M
