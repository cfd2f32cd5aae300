"""How far each trail is on the ground: flagged, opened, closed for good.

Told by ``progress.csv``, where a trail is named itself, or a position on it, or a load
that came in over it. What lies between such a trail and the landing is at least as far.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.records import Trail
from layout.site import LOAD_IN, Area

MAIN = "M"


@dataclass(frozen=True, slots=True)
class TrailStates:
    """Names of trails by what has been done on them.

    Parameters
    ----------
    flagged : frozenset of str
        Ribbons hang: kept as they are, opened or done ones among them.
    opened : frozenset of str
        May be driven; a trail that is done is not among them.
    done : frozenset of str
        Closed for good, bars in.
    """

    flagged: frozenset[str]
    opened: frozenset[str]
    done: frozenset[str]


def trail_states(area: Area, trails: Sequence[Trail]) -> TrailStates:
    """Say how far each trail of a plan is.

    Parameters
    ----------
    area : Area
        Its progress rows, its kept trails and the earlier plan they speak of.
    trails : sequence of Trail
        Of the plan.

    Returns
    -------
    TrailStates
        Only names of ``trails``. Of several rows for one trail the one that is
        farthest on counts. A load that is in, or a position that is opened or done,
        says that its trail is opened.
    """
    known = {trail.trail_id for trail in trails}
    kept = {fixed.trail_id for fixed in area.fixed}
    kept |= {MAIN} if area.main_fixed is not None else set()
    flagged, opened, done = set(kept), set[str](), set[str]()
    earlier = area.earlier
    names = kept | ({t.trail_id for t in earlier.trails} if earlier else set())
    spots = {p.position_id: p.trail_id for p in earlier.positions} if earlier else {}
    loads = {t.turn_id: t for t in earlier.turns} if earlier else {}
    if earlier is not None:
        spots = {
            **{old.name: old.trail_id for old in earlier.retired if old.layer == "winch_positions"},
            **spots,
        }
    for row in area.progress:
        if row.kind in ("", "trail") and row.name in names:
            flagged.add(row.name)
            if row.state in ("opened", "done"):
                (opened if row.state == "opened" else done).add(row.name)
        if row.kind in ("", "position") and row.name in spots:
            flagged.add(spots[row.name])
            if row.state in ("opened", "done"):
                opened.add(spots[row.name])
        if row.kind in ("", "turn") and row.name in loads and row.state in LOAD_IN:
            load = loads[row.name]
            flagged.add(load.trail_id)
            if load.position_id:  # a stem out of the trail itself comes out while it is opened
                opened.add(load.trail_id)
    opened = _with_hosts(opened, trails) - done
    flagged = _with_hosts(flagged | opened | done, trails)
    return TrailStates(
        frozenset(flagged & known), frozenset(opened & known), frozenset(done & known)
    )


def _with_hosts(names: Iterable[str], trails: Sequence[Trail]) -> set[str]:
    """Add the trails between these and the landing."""
    by_id = {trail.trail_id: trail for trail in trails}
    out: set[str] = set()
    for name in names:
        while name in by_id and name not in out:
            out.add(name)
            name = by_id[name].joins_id
    return out
