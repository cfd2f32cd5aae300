"""Closing, to be ticked: a row for each trail with its bars, cover and seed, then the landing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.closeout import COVER_GRADE_PCT
from layout.cover_effects import Cover, less_lost_pct
from layout.outputs.crew import listing
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.flagging import station_number
from layout.outputs.crew.sheet import LEAST_PT, wrap
from layout.outputs.crew.tick_runs import Run, cells
from layout.outputs.wood_amounts import two_figures
from layout.outputs.words import counted, say
from layout.speech import speak_area, speak_length
from layout.tongue import unit as said_unit
from layout.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.closeout_records import CloseoutItem
    from layout.plan import Plan

SIZES_PT = (9.0, 8.2, 7.6, 7.2)  # of the letters, each beside the one of the order of work
NONE = "\N{EN DASH}"
# Where the parts of a row stand, points from the column's left edge.
BARS_PT, COVER_PT, SEED_END_PT, INITIALS_PT = 60.0, 133.0, 227.0, 232.0
AIR_PT = 4.0
SEED_ROOM_PT = 34.0  # for its figure, right of the cover


def pages(plan: Plan) -> list[listing.ListPage]:
    """Lay the list out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of ListPage
        None where closing was
        not worked out.
    """
    if plan.closeout is None or not plan.closeout.items:
        return []
    size = SIZES_PT[0]
    shown = [*rows(plan, plan.closeout.items, size), sums(plan, size)]
    return listing.pages(plan, say("crew_closing"), intro(), titles(plan), shown)


def intro() -> list[str]:
    """Say how the list is read, and what cover is worth."""
    return [
        say("crew_closing_how", grade=f"{COVER_GRADE_PCT:g}"),
        say("crew_closing_measured", **{c: _less(c) for c in ("slash", "mulch", "seed")}),
    ]


def _less(cover: Cover) -> str:
    low, high = less_lost_pct(cover)
    return say("amount_range", low=f"{low:.0f}", high=f"{high:.0f}\N{NO-BREAK SPACE}%")


def titles(plan: Plan) -> Row:
    """Give the titles of the parts of a row."""
    units = plan.area.settings.area.units
    unit = said_unit("ft") if units == "us" else "m"
    said = (
        (0.0, say("crew_closing_col_trail"), False),
        (BARS_PT, say("crew_closing_col_bars", unit=unit), False),
        (COVER_PT, say("crew_closing_col_cover", unit=unit), False),
        (SEED_END_PT, say(f"crew_closing_col_seed_{units}"), True),
        (INITIALS_PT, say("crew_closing_col_initials"), False),
    )
    return Row(tuple(Cell(x, (words,), bold=True, right=r) for x, words, r in said), LEAST_PT)


def rows(plan: Plan, items: Sequence[CloseoutItem], size_pt: float) -> list[Row]:
    """Give a row for each of some trails and landings."""
    return [_row(plan, item, size_pt) for item in items]


def sums(plan: Plan, size_pt: float) -> Row:
    """Give the row of sums of the whole job."""
    closeout = plan.closeout
    assert closeout is not None
    units = plan.area.settings.area.units
    length = speak_length(closeout.bars_m, units)
    bars = counted("crew_closing_bar", closeout.bars) if closeout.bars else NONE
    if closeout.bars_m > 0:
        bars = say("crew_closing_bar_length", bars=bars, length=length)
    return Row(
        (
            Cell(0.0, (say("crew_closing_all"),), bold=True),
            Cell(BARS_PT, tuple(wrap(bars, COVER_PT - BARS_PT - AIR_PT, size_pt))),
            Cell(
                COVER_PT, (speak_area(closeout.cover_m2, units) if closeout.cover_m2 > 0 else NONE,)
            ),
            Cell(SEED_END_PT, (_ground(plan, closeout.seed_m2),), right=True),
        ),
        size_pt,
    )


def _row(plan: Plan, item: CloseoutItem, size_pt: float) -> Row:
    """Set what closing a trail takes, or the landing."""
    name = item.trail_id or f"{say('crew_closing_landing')} {item.landing_id}".strip()
    run = Run(name, boxed=not item.done, bold=True)
    made = [
        *cells([run], 0.0, BARS_PT - 1.0, size_pt),
        Cell(BARS_PT, tuple(_built(plan, item, size_pt))),
        Cell(SEED_END_PT, (_seed(plan, item),), right=True),
    ]
    if item.trail_id:
        spans = [
            say("crew_closing_span", start=_at(plan, item, c.from_m), end=_at(plan, item, c.to_m))
            for c in item.cover
        ]
        words = ", ".join(spans) or NONE
        room = SEED_END_PT - COVER_PT - SEED_ROOM_PT
        made.append(Cell(COVER_PT, tuple(wrap(words, room, size_pt))))
    if item.done:
        made.append(Cell(INITIALS_PT, (say("crew_closing_done"),)))
    return Row(tuple(made), size_pt)


def _built(plan: Plan, item: CloseoutItem, size_pt: float) -> list[str]:
    """List a trail's bars by their stations, and what else is particular to it."""
    room = COVER_PT - BARS_PT - AIR_PT
    if not item.trail_id:
        return wrap(say("crew_closing_landing_does"), room, size_pt)
    stations = ", ".join(_at(plan, item, at_m) for _, at_m in item.bars)
    said = [say("crew_closing_bars", count=len(item.bars), stations=stations)] if stations else []
    said += [
        say("crew_closing_crossing", crossing=crossing, at=_at(plan, item, at_m))
        for crossing, at_m in item.crossings
    ]
    if item.outlets:
        opened = ", ".join(_at(plan, item, at_m) for _, at_m in item.outlets)
        said.append(say("crew_closing_outlets", stations=opened))
    said += [say("crew_closing_turning", place=place) for place in item.turning_ids]
    if "small_landing" in item.tasks:
        said.append(say("crew_closing_small_landing"))
    return [line for words in said or [NONE] for line in wrap(words, room, size_pt)]


def _seed(plan: Plan, item: CloseoutItem) -> str:
    """Say how much ground is seeded."""
    if item.seed_m2 > 0:
        return _ground(plan, item.seed_m2)
    return say("crew_closing_bare") if item.litter_m2 > 0 else NONE


def _at(plan: Plan, item: CloseoutItem, at_m: float) -> str:
    """Give a station as it is painted."""
    return station_number(at_m, plan.area.settings.area.units, item.length_m)


def _ground(plan: Plan, square_m: float) -> str:
    """Give a size in square feet or metres, two figures; the unit heads the column."""
    if square_m <= 0:
        return NONE
    return two_figures(square_m / (FOOT_M**2 if plan.area.settings.area.units == "us" else 1.0))
