"""Names of arms, and whether there were any: M2, M3 and on, each for ever."""

from collections.abc import Sequence

from shapely.geometry import LineString

from layout.arm_lines import Arm
from layout.naming import SAME_TRAIL_M, apart_m, new_names, used_names
from layout.records import Trail
from layout.site import Earlier


def arm_trails(
    arms: Sequence[Arm], mains: Sequence[Trail], width_m: float, earlier: Earlier | None
) -> tuple[Trail, ...]:
    """Give arms as trails: M2, M3 ..., or the name each had in the earlier plan.

    Parameters
    ----------
    arms : sequence of Arm
        ``parent`` counts the trails that stood before, then the arms.
    mains : sequence of Trail
        The trails that stood before, in the order of the branches.
    width_m : float
        Width of a main trail.
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    tuple of Trail
        Each after the one it joins.
    """
    names = [trail.trail_id for trail in mains]
    fresh = new_names("M", {*used_names(earlier), *names, "M1"})
    old = [t for t in (earlier.trails if earlier else ()) if t.kind == "main"]
    out: list[Trail] = []
    for arm in arms:
        line = LineString(arm.line)
        kept = [t.trail_id for t in old if t.trail_id not in names and _near(t.line, line)]
        names.append(kept[0] if kept else next(fresh))
        out.append(
            Trail(
                trail_id=names[-1],
                kind="main",
                landing_id=mains[0].landing_id,
                line=line,
                width_m=width_m,
                source="routed",
                joins_id="" if arm.parent < 0 else names[arm.parent],
                joins_at_m=None if arm.parent < 0 else arm.mouth_m,
            )
        )
    return tuple(out)


def had_arms(earlier: Earlier | None) -> bool:
    """Tell whether the earlier plan laid out arms: they are looked for again beside a kept main.

    Parameters
    ----------
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    bool
    """
    trails = () if earlier is None else earlier.trails
    return any(t.kind == "main" and t.source == "routed" and t.trail_id != "M" for t in trails)


def _near(old: LineString, new: LineString) -> bool:
    return bool(old.dwithin(new, SAME_TRAIL_M)) and apart_m(old, new) <= SAME_TRAIL_M
