"""Names that last: which trail or position is still the one a crew knows.

A name is given once. A new plan gives it again only to the same thing in the
same place; a name that falls out of use stays unused for ever.
"""

import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString

from layout.records import Change, Retired, Trail, WinchPosition
from layout.site import Earlier

SAME_TRAIL_M = 3.0  # lines that stray no more than a trail is wide are one trail; ours
SAME_LINE_M = 0.05
SAME_PLACE_M = 2.0  # a position this near, and
SAME_HEADING_DEG = 10.0  # turned this little, is the one the ribbon hangs at; ours


def new_names(letter: str, used: Iterable[str]) -> Iterator[str]:
    """Give names that go on after the highest number ever used with a letter.

    Examples
    --------
    >>> names = new_names("S", ["M", "S2", "S11", "North arm"])
    >>> next(names), next(names)
    ('S12', 'S13')
    """
    numbers = [int(m[1]) for m in (re.fullmatch(rf"{letter}(\d+)", name) for name in used) if m]
    number = max(numbers, default=0)
    while True:
        number += 1
        yield f"{letter}{number}"


def used_names(earlier: Earlier | None) -> set[str]:
    """Give every name of trails and positions that was ever used."""
    if earlier is None:
        return set()
    return {
        *(trail.trail_id for trail in earlier.trails),
        *(position.position_id for position in earlier.positions),
        *(old.name for old in earlier.retired),
    }


def apart_m(a: LineString, b: LineString) -> float:
    """Give the farthest two lines stray from each other, metres."""
    return float(shapely.hausdorff_distance(a, b, densify=0.05))


def main_names(landings: int, earlier: Earlier | None) -> list[str]:
    """Name the main trails of several landings: M, M2, M3 ...

    Parameters
    ----------
    landings : int
        How many there are.
    earlier : Earlier or None
        The earlier plan: a landing's main trail keeps its name.

    Returns
    -------
    list of str
        One a landing.

    Examples
    --------
    >>> main_names(3, None)
    ['M', 'M2', 'M3']
    """
    before = {
        trail.landing_id: trail.trail_id
        # the first of a landing: an arm may start on the landing too
        for trail in reversed(earlier.trails if earlier is not None else ())
        if trail.kind == "main" and not trail.joins_id and trail.trail_id != "M"
    }
    fresh = new_names("M", used_names(earlier) | {"M1"})
    return ["M", *(before.get(f"L{n}") or next(fresh) for n in range(2, landings + 1))]


def names_for_lines(
    lines: Sequence[LineString], taken: Iterable[str], earlier: Earlier | None
) -> list[str]:
    """Name spurs: the same line its old name, others new ones in their order.

    Parameters
    ----------
    lines : sequence of LineString
        Centre lines, in the order new names are given.
    taken : iterable of str
        Names that other trails of the plan have.
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    list of str
        One a line.
    """
    taken = set(taken)
    fits: list[tuple[float, str, int]] = []
    for old in earlier.trails if earlier is not None else ():
        if old.kind != "spur" or old.trail_id in taken:
            continue
        fits += [
            (gap, old.trail_id, n)
            for n, line in enumerate(lines)
            if line.dwithin(old.line, SAME_TRAIL_M)
            and (gap := apart_m(line, old.line)) <= SAME_TRAIL_M
        ]
    kept = _paired(fits)
    fresh = new_names("S", used_names(earlier) | taken)
    return [kept[n] if n in kept else next(fresh) for n in range(len(lines))]


def names_for_positions(
    places: Sequence[tuple[float, float, float]],
    earlier: Earlier | None,
    opened: frozenset[str] = frozenset(),
) -> list[str]:
    """Name winch positions: one that is where it was keeps its name.

    Parameters
    ----------
    places : sequence of tuple of float
        Grid x, y and the rear's azimuth in degrees, in the order new names are given.
    earlier : Earlier or None
        The earlier plan.
    opened : frozenset of str
        Positions known on the ground; they find theirs first.

    Returns
    -------
    list of str
        One a place.
    """
    fits: list[tuple[float, str, int]] = []
    for name, old_x, old_y, old_azimuth in _known_places(earlier, opened):
        for n, (x, y, azimuth) in enumerate(places):
            gap = float(np.hypot(x - old_x, y - old_y))
            turned = abs((azimuth - old_azimuth + 180) % 360 - 180)
            if gap <= SAME_PLACE_M and turned <= SAME_HEADING_DEG:
                first = 0.0 if name in opened else 2 * SAME_PLACE_M
                fits.append((first + gap + 1e-3 * turned, name, n))
    kept = _paired(fits)
    fresh = new_names("W", used_names(earlier))
    return [kept[n] if n in kept else next(fresh) for n in range(len(places))]


def _known_places(
    earlier: Earlier | None, opened: frozenset[str]
) -> Iterator[tuple[str, float, float, float]]:
    """Give name, place and heading of what may be met again.

    A position that no plan needed for a while is met again only where its
    ribbon hangs: everywhere else its name is gone for good.
    """
    if earlier is None:
        return
    for p in earlier.positions:
        yield p.position_id, p.x, p.y, p.rear_azimuth_deg
    for old in earlier.retired:
        if (
            old.name in opened
            and old.x is not None
            and old.y is not None
            and old.rear_azimuth_deg is not None
        ):
            yield old.name, old.x, old.y, old.rear_azimuth_deg


def _paired(fits: list[tuple[float, str, int]]) -> dict[int, str]:
    """Give each new thing at most one old name and each name once, the best fit first."""
    out: dict[int, str] = {}
    given: set[str] = set()
    for _, name, n in sorted(fits):
        if n not in out and name not in given:
            out[n] = name
            given.add(name)
    return out


def changes(
    earlier: Earlier | None,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
) -> tuple[tuple[Change, ...], tuple[Retired, ...]]:
    """List what became of every name, and the names that are never used again.

    Parameters
    ----------
    earlier : Earlier or None
        The earlier plan; without one nothing has changed.
    trails, positions : sequence of Trail, of WinchPosition
        Of the new plan.

    Returns
    -------
    changes : tuple of Change
        Trails, then positions; in each the new plan's order, then what is gone.
    retired : tuple of Retired
        Earlier ones first.
    """
    if earlier is None:
        return (), ()
    out: list[Change] = []
    lines = {trail.trail_id: trail.line for trail in earlier.trails}
    for trail in trails:
        old = lines.get(trail.trail_id)
        if old is None:
            out.append(Change("trails", trail.trail_id, "added"))
        else:
            same = apart_m(old, trail.line) <= SAME_LINE_M
            out.append(Change("trails", trail.trail_id, "kept" if same else "moved"))
    now = {trail.trail_id for trail in trails}
    gone = [t.trail_id for t in earlier.trails if t.trail_id not in now]
    out += [Change("trails", name, "retired") for name in gone]
    retired = [Retired("trails", name) for name in gone]
    before = {p.position_id for p in earlier.positions}
    here = {p.position_id for p in positions}
    out += [
        Change("winch_positions", p.position_id, "kept" if p.position_id in before else "added")
        for p in positions
    ]
    for p in earlier.positions:
        if p.position_id not in here:
            out.append(Change("winch_positions", p.position_id, "retired"))
            retired.append(
                Retired(
                    "winch_positions", p.position_id, p.trail_id, p.tree_ids,
                    round(p.at_m, 2), round(p.x, 3), round(p.y, 3), round(p.rear_azimuth_deg, 1),
                )
            )  # fmt: skip
    kept = [old for old in earlier.retired if old.name not in now | here]
    return tuple(out), (*kept, *retired)
