"""Which trees may not be reached from where they are to be winched, in two sentences.

One of a tree would not be read: a stand has dozens. Those that another heading or
position takes are told apart from those that may have to stand.
"""

from collections.abc import Sequence

from layout.findings import Finding
from layout.reach_chance import TOLD_CHANCE
from layout.records import Pull
from layout.sources import RICE
from layout.speech import speak_chance

MOST_TOLD = 12  # with their chance; the sheets and the map tell every one
MOST_NAMED = 30  # in all
LEAST = "These chances are the least they can be."


def findings(pulls: Sequence[Pull]) -> tuple[Finding, ...]:
    """Tell the trees whose chance of being out of reach is over 10 %.

    Parameters
    ----------
    pulls : sequence of Pull
        With their chances; those without are passed over.

    Returns
    -------
    tuple of Finding
        Two cautions at most: of trees that may be out of every position's reach, and of
        those within rope and angle of another heading or position, most likely.
    """
    lost: list[tuple[float, Pull]] = []
    elsewhere: list[tuple[float, Pull]] = []
    for pull in pulls:
        chance, none = pull.p_out_of_reach, pull.p_no_position
        if chance is None or chance <= TOLD_CHANCE:
            continue
        # not asked of the other positions: nothing is known to take it
        none = chance if none is None else none
        if none > TOLD_CHANCE:
            lost.append((none, pull))
        else:
            elsewhere.append((chance, pull))
    found = []
    if lost:
        one = len(lost) == 1
        found.append(
            _finding(
                lost,
                f"{_counted(lost)} may stand out of reach of every position of the plan, beyond "
                f"the rope or too far to the side: {_named(lost)}. {LEAST} Before felling, "
                "measure from the parked tractor to the stump with a tape; leave "
                f"{'it standing if it' if one else 'standing what'} cannot be pulled",
            )
        )
    if elsewhere:
        one = len(elsewhere) == 1
        found.append(
            _finding(
                elsewhere,
                f"{_counted(elsewhere)} may stand out of reach of where the plan winches "
                f"{'it' if one else 'them'}, beyond the rope or too far to the side, though "
                "most likely within rope and angle of another heading or position: "
                f"{_named(elsewhere)}. {LEAST} Before felling, measure to the stump with a tape "
                "and choose where to park",
            )
        )
    return tuple(found)


def _counted(some: list[tuple[float, Pull]]) -> str:
    return "1 tree" if len(some) == 1 else f"{len(some)} trees"


def _named(some: list[tuple[float, Pull]]) -> str:
    """Name trees, the likeliest first; of many only the first with their chance."""
    some.sort(key=lambda pair: (-pair[0], pair[1].tree_id))
    told = [f"{pull.tree_id} ({speak_chance(chance)})" for chance, pull in some[:MOST_TOLD]]
    if len(some) <= MOST_TOLD:
        return ", ".join(told)
    rest = [pull.tree_id for _, pull in some[MOST_TOLD:MOST_NAMED]]
    more = len(some) - MOST_NAMED
    tail = f" and {more} more" if more > 0 else ""
    return f"{', '.join(told)}; no likelier: {', '.join(rest)}{tail}"


def _finding(some: list[tuple[float, Pull]], message: str) -> Finding:
    """Put one group into a finding; ``some`` stands in the order it was named."""
    chance, worst = some[0]
    x, y = worst.line.coords[-1][:2]
    return Finding(
        code="reach_chance",
        level="caution",
        message=message,
        subject_layer="trees",
        subject_id=worst.tree_id if len(some) == 1 else "",
        value=100.0 * chance,
        limit=100.0 * TOLD_CHANCE,
        unit="%",
        source=str(RICE),
        confirmed=RICE.confirmed,
        at=(float(x), float(y)) if len(some) == 1 else None,
    )
