"""Which trees may not be reached from where they are to be winched, told trail by trail."""

from collections.abc import Sequence

from layout.findings import Finding
from layout.reach_chance import TOLD_CHANCE
from layout.records import Pull, Trail, WinchPosition
from layout.sources import RICE
from layout.speech import speak_chance

MOST_NAMED = 12  # of one trail; the sheets and the map tell every one


def findings(
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
) -> tuple[Finding, ...]:
    """Tell the trees whose chance of being out of reach is over 10 %.

    Parameters
    ----------
    trails, positions : sequence of Trail and of WinchPosition
        Where the outfit parks.
    pulls : sequence of Pull
        With their chances; those without are passed over.

    Returns
    -------
    tuple of Finding
        One caution for each trail with such trees, and one for each landing.
    """
    parked = {position.position_id: position for position in positions}
    found = []
    names = {trail.trail_id: trail for trail in trails}
    landings = sorted({p.landing_id for p in positions if not p.trail_id})
    for place in (*names, *landings):
        mine = [
            (pull, pull.p_out_of_reach)
            for pull in pulls
            if pull.p_out_of_reach is not None
            and pull.p_out_of_reach > TOLD_CHANCE
            and place == (parked[pull.position_id].trail_id or parked[pull.position_id].landing_id)
        ]
        if not mine:
            continue
        mine.sort(key=lambda pair: (-pair[1], pair[0].tree_id))
        worst, chance = mine[0]
        found.append(
            Finding(
                code="reach_chance",
                level="caution",
                message=_message(names.get(place), place, mine),
                subject_layer="trails" if place in names else "landing",
                subject_id=place,
                value=100.0 * chance,
                limit=100.0 * TOLD_CHANCE,
                unit="%",
                source=str(RICE),
                confirmed=RICE.confirmed,
                at=_end(worst),
            )
        )
    return tuple(found)


def _end(pull: Pull) -> tuple[float, float]:
    """Give the stump of a pull."""
    x, y = pull.line.coords[-1][:2]
    return (float(x), float(y))


def _message(trail: Trail | None, place: str, mine: list[tuple[Pull, float]]) -> str:
    """Name the trees, the worst first, and say what to do."""
    if trail is None:
        where = f"Landing {place}"
    else:
        where = f"{'Main trail' if trail.kind == 'main' else 'Spur'} {trail.trail_id}"
    named = ", ".join(
        f"{pull.tree_id} ({speak_chance(chance)})" for pull, chance in mine[:MOST_NAMED]
    )
    more = f" and {len(mine) - MOST_NAMED} more, no likelier" if len(mine) > MOST_NAMED else ""
    trees = "1 tree" if len(mine) == 1 else f"{len(mine)} trees"
    lost = [
        pull.tree_id
        for pull, _ in mine
        if pull.p_no_position is not None and pull.p_no_position > TOLD_CHANCE
    ]
    said = (
        f"{where}: {trees} may be beyond the rope, or too far to the side, from where the plan "
        f"winches: {named}{more}; these chances are the least they can be. "
    )
    if not lost:
        said += "Another heading or position most likely takes what this one does not"
    elif len(lost) == len(mine):
        said += f"No other position surely takes {'it' if len(mine) == 1 else 'them'}"
    else:
        shown = ", ".join(lost[:MOST_NAMED]) + (" …" if len(lost) > MOST_NAMED else "")
        said += f"No other position surely takes {shown}"
    return (
        f"{said}. Measure from the parked tractor to the stump with a tape before felling, and "
        "leave standing what cannot be pulled"
    )
