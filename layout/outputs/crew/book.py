"""crew_map.pdf: the sheets a crew takes along, bound in one file.

Drawn on canvases of its own: nothing of the program that calls us, its plots or
its plot settings, is read or changed for longer than the drawing takes. The
same plan gives the same bytes.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from io import BytesIO
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages

from layout.outputs import overview
from layout.outputs.crew import (
    before,
    emergency,
    foot,
    geo,
    maps,
    notes_page,
    order_page,
    sheet_lists,
    stand_sheet,
    talk,
    whole_lists,
)
from layout.outputs.crew.sheet import MapFrame, Sheet
from layout.outputs.words import say
from layout.outputs.words.translations import tongue
from layout.tongue import speaking

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "crew_map.pdf"
RELIEF_DPI = 110  # grey shade without edges; lines and letters have no dots
TWO_PARTS_PULLS = 600  # from here on a book is long enough to be drawn in two parts; ours
MOST_PAGES = 8  # besides detail sheets and their lists: what a crew still carries; ours
COLLECT_EVERY = 8  # sheets; what they leave behind takes some 20 MB each
LOOK: Any = overview.LOOK | {"pdf.fonttype": 42, "pdf.compression": 9}

Drawing = tuple[bool, Callable[[Sheet], None]]  # whether it lies on its long side; what draws it


@dataclass(frozen=True, slots=True)
class Part:
    """Some pages of a book that follow each other, and the maps on each."""

    pdf: bytes
    frames: list[list[MapFrame]]


def bound(plan: Plan) -> bytes:
    """Draw the crew's sheets.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    bytes
        A PDF: emergency sheet, start-of-day talk, map of the whole, lists, blanks of what is
        settled before the start. The lists are flagging sheet, trail profiles, order of work,
        closing, list of marked trees and stand sheet. Where numbers would not fit on one map,
        the order of the whole job stands in place of most lists, and detail sheets come last,
        each with its own.
        Talk, order and closing are left out where no work was worked out.
    """
    return joined(plan, _drawn(plan, range(parts(plan)), parts(plan)))


def parts(plan: Plan) -> int:
    """Count the parts a book is drawn in; the plan alone decides it, so do the bytes."""
    return 2 if len(plan.pulls) >= TWO_PARTS_PULLS else 1


def part(plan: Plan, number: int, count: int) -> Part:
    """Draw one part of the crew's sheets.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Which part, from 0.
    count : int
        Of how many.

    Returns
    -------
    Part
        Its pages.
    """
    (drawn,) = _drawn(plan, range(number, number + 1), count)
    return drawn


def joined(plan: Plan, there: Sequence[Part]) -> bytes:
    """Bind all parts.

    Parameters
    ----------
    plan : Plan
        The plan.
    there : sequence of Part
        All of them, in their order.

    Returns
    -------
    bytes
        What `bound` gives.
    """
    frames = [frame for part in there for frame in part.frames]
    language = plan.area.settings.outputs.language
    return geo.placed([part.pdf for part in there], frames, plan.area.crs, language)


def _drawn(plan: Plan, numbers: range, count: int) -> list[Part]:
    """Draw some of all parts."""
    outputs, units = plan.area.settings.outputs, plan.area.settings.area.units
    with mpl.rc_context(), _collected_seldom(), speaking(tongue(outputs.language, units)):
        mpl.rcdefaults()
        mpl.rcParams.update(LOOK)
        made, stops = sheets(plan)
        share = -(-len(made) // count)
        return [
            _pages(plan, made, stops, range(n * share, min((n + 1) * share, len(made))))
            for n in numbers
        ]


@contextmanager
def _collected_seldom() -> Iterator[None]:
    """Keep the collector of unused objects from running in the midst of drawing.

    A sheet makes some hundred thousand objects that know each other; looking through all of
    them over and over takes a quarter of the time a book takes.
    """
    running = gc.isenabled()
    gc.disable()
    gc.freeze()  # the plan and the program are not looked through again and again
    try:
        yield
    finally:
        gc.unfreeze()
        if running:
            gc.enable()


def drawings(plan: Plan) -> list[Drawing]:
    """List the sheets in their order."""
    return sheets(plan)[0]


def stops_page(plan: Plan) -> int:
    """Give the page that says the stops in full."""
    return sheets(plan)[1]


def sheets(plan: Plan) -> tuple[list[Drawing], int]:
    """List the sheets in their order, and give the page that says the stops in full.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of list of Drawing and int
        Where one map serves, the lists follow it, and the first of them says the stops.
        Where there are detail sheets, the page of the order does; at the end each detail
        sheet is followed by the lists of its own ground, so that both go on one paper.
    """
    chosen = maps.chosen(plan)
    whole, *details = chosen.drawings(plan)
    before_lists: list[Drawing] = [
        (False, lambda sheet: emergency.draw(sheet, plan)),
        *([(False, partial(talk.draw, plan=plan))] if plan.work is not None else []),
        whole,
    ]
    if not details:
        room = MOST_PAGES - len(before_lists) - 1
        made = [*before_lists, *_upright([*whole_lists.pages(plan, room), before.draw])]
    else:
        lists = sheet_lists.SheetLists(plan, [page.window for page in chosen.pages[1:]])
        made = _backed(
            plan,
            [*before_lists, *_upright(_lists_of_all(plan, lists, MOST_PAGES - len(before_lists)))],
        )
        for number, detail in enumerate(details):
            made += _backed(plan, [detail, *_upright(lists.pages(number))])
    return made, len(before_lists) + 1


def _backed(plan: Plan, there: list[Drawing]) -> list[Drawing]:
    """Fill the back of the last paper, so that printed on both sides the next begins in front."""
    return [*there, *_upright([partial(notes_page.draw, plan=plan)])] if len(there) % 2 else there


def _upright(draws: Sequence[Callable[[Sheet], None]]) -> list[Drawing]:
    return [(False, draw) for draw in draws]


def _lists_of_all(
    plan: Plan, lists: sheet_lists.SheetLists, most: int
) -> list[Callable[[Sheet], None]]:
    """Give what goes over all detail sheets: order, profiles, the stand, blanks.

    Order of work and stand sheet are set in the largest letters where that takes no more pages
    than `most` or where none do; otherwise in the largest that do, the order's before the other's.
    """
    orders = [whole_lists.with_profiles(plan, order) for order in order_page.tries(plan, lists)]
    stands = (
        stand_sheet.pages(plan, by_number=True, tree_pt=size) for size in stand_sheet.TREES_PT
    )
    tried: list[list[Callable[[Sheet], None]]] = []
    for stand in stands:
        tried += [[*order, *stand, before.draw] for order in orders]
        if len(tried[-1]) <= most:
            break
    return next((made for made in tried if len(made) <= most), tried[0])


def _pages(plan: Plan, made: list[Drawing], stops_page: int, those: range) -> Part:
    """Draw some of the sheets, the stops in full on one of all of them."""
    out = BytesIO()
    frames = []
    with PdfPages(out, metadata=_metadata(plan)) as pdf:
        for n in those:
            landscape, draw = made[n]
            sheet = Sheet(plan.area.settings.outputs.paper, landscape)
            draw(sheet)
            foot.draw(sheet, plan, n + 1, len(made), stops_page)
            pdf.savefig(sheet.figure, dpi=RELIEF_DPI)
            frames.append(sheet.frames)
            if (n + 1) % COLLECT_EVERY == 0:
                gc.collect()
    return Part(out.getvalue(), frames)


def _metadata(plan: Plan) -> dict[str, Any]:
    """Give the file's title, and the day of the plan instead of the clock."""
    made = plan.about.get("made", "")
    try:
        day: datetime | None = datetime.strptime(made, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    except ValueError:
        day = None
    return {
        "Title": say("crew_map", area=" ".join(plan.area.settings.area.name.split())),
        "Creator": "skidway",
        "CreationDate": day,
    }
