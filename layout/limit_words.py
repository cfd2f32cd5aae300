"""What limits the user, as lines of text."""

from layout.option_records import LimitRow
from layout.speech import speak_area, speak_length
from layout.units import Units


def said(rows: tuple[LimitRow, ...], units: Units) -> list[str]:
    """Say the rows as lines of text, for the terminal.

    Parameters
    ----------
    rows : tuple of LimitRow
        From `what_limits`.
    units : {"us", "metric"}
        How lengths are said.

    Returns
    -------
    list of str
        Empty without rows.
    """
    if not rows:
        return []
    first = rows[0]
    out = [
        f"What limits you: as things are, a trail can come to {first.reached_pct:.0f} % of the "
        f"stand, and {first.trees} of {first.marked} marked trees could be winched. "
        "One thing changed at a time:"
    ]
    for row in rows[1:]:
        more = f"{row.more_trees:+d}" if row.more_trees else "no more"
        tree = "tree" if abs(row.more_trees) == 1 else "trees"
        price = []
        if row.trail_m is not None:
            price.append(f"about {speak_length(row.trail_m, units)} of trail")
        if row.ground_m2 is not None:
            price.append(speak_area(row.ground_m2, units))
        told = f" ({', '.join(price)})" if price and row.more_trees > 0 else ""
        out.append(
            f"  {row.change}: {more} {tree}{told}, {row.reached_pct:.0f} % of the stand; {row.cost}"
        )
    out.append(
        "  Turning places, soil and what a tree is worth are not weighed in these figures; "
        "safety ceilings are never loosened."
    )
    return out
