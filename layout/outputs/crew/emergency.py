"""Page one: what to read out when somebody is hurt. It must serve alone, without the others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.crew.coordinates import Place, spoken
from layout.outputs.crew.foot import height_pt
from layout.outputs.crew.sheet import MARGIN_PT, Sheet, shortened, width_of
from layout.outputs.words import ENGLISH, counted, say
from layout.sources import LONE_WORK

if TYPE_CHECKING:
    from layout.plan import Plan

NAME_PT = 17.0
COORDINATES_PT = 12.5
BODY_PT = 10.0
SMALL_PT = 7.6
LABEL_PT = 92.0  # width kept for the names of places
BLANK_PT = 24.0  # height of a line to write on
SAY_LINES = 6
BLANKS = (
    ("hospital", "hospital_phone"),
    ("signal", "lock"),
    ("ambulance", "ambulance_phone"),
    ("watcher", "watcher_phone"),
    ("checks", "radio"),
    ("crew", "crew_phones"),
)


def draw(sheet: Sheet, plan: Plan) -> None:
    """Draw the emergency sheet.

    Parameters
    ----------
    sheet : Sheet
        An empty sheet, upright.
    plan : Plan
        The plan.
    """
    area, access = plan.area, plan.area.settings.access
    left, right, width = MARGIN_PT, sheet.width_pt - MARGIN_PT, sheet.inner_pt
    sheet.text(left, 50, say("crew_emergency"), 22, fontweight="bold")
    sheet.text(right, 50, say("crew_emergency_keep"), SMALL_PT, ha="right")
    name = shortened(area.settings.area.name, width, NAME_PT, bold=True)
    sheet.text(left, 76, name, NAME_PT, fontweight="bold")
    y = _blank(sheet, left, 100, width, say("crew_call"), size_pt=11.5, bold=True)
    sheet.text(left, y - 7, say("crew_call_note"), SMALL_PT)
    y += 10
    for label, words in (("road", access.road_name), ("meet", access.meet)):
        y = _answer(sheet, y, say(f"crew_place_{label}"), words)
    places: tuple[tuple[str, Place | None], ...] = (
        ("gate", access.gate),
        ("landing", (plan.landing.x, plan.landing.y)),
        ("helispot", access.helispot),
    )
    for label, place in places:
        y = _place(sheet, y, plan, label, place)
    sheet.text(left, y + 2, say("crew_coordinates_note"), SMALL_PT)
    y = _say_this(sheet, y + 10, plan)
    y = _write_in(sheet, y)
    y = _warnings(sheet, y, plan)
    assert y < sheet.height_pt - MARGIN_PT - height_pt(plan, width) + 14


def _blank(
    sheet: Sheet,
    x: float,
    y: float,
    width: float,
    label: str,
    *,
    size_pt: float = BODY_PT,
    bold: bool = False,
) -> float:
    """Write a label and a line to write on; give the base line of the next."""
    sheet.text(x, y, label, size_pt, fontweight="bold" if bold else "normal")
    start = x + width_of(label, size_pt, bold=bold) + 5
    sheet.rules([(start, y + 2, x + width, y + 2)], linewidths=0.7)
    return y + BLANK_PT


def _answer(sheet: Sheet, y: float, label: str, words: str) -> float:
    """Write an answer after its label, or a line to write it on."""
    x = MARGIN_PT
    if not words.strip():
        return _blank(sheet, x, y, sheet.inner_pt, label, size_pt=11.0, bold=True)
    sheet.text(x, y, label, 11.0, fontweight="bold")
    return (
        sheet.wrapped(x + LABEL_PT, y, words, sheet.inner_pt - LABEL_PT, COORDINATES_PT, bold=True)
        + 3
    )


def _place(sheet: Sheet, y: float, plan: Plan, label: str, place: Place | None) -> float:
    """Write a place in all its ways, or lines to write it on."""
    x, width = MARGIN_PT, sheet.inner_pt
    sheet.rules([(x, y - 11, x + width, y - 11)], linewidths=0.5)
    words = say(f"crew_place_{label}")
    if place is None:
        y = _blank(sheet, x, y + 2, width, words, size_pt=11.0, bold=True)
        sheet.text(x + LABEL_PT, y - 9, say(f"crew_blank_place_{label}"), SMALL_PT)
        return y + 8
    said = spoken(place, plan.area.crs)
    sheet.text(x, y + 2, words, 11.0, fontweight="bold")
    for line in (said.degrees or say("crew_degrees_unknown"), said.minutes):
        sheet.text(x + LABEL_PT, y + 2, line, COORDINATES_PT, fontweight="bold")
        y += 16
    for line in (said.grid, said.utm):
        if line:
            sheet.text(x + LABEL_PT, y, line, BODY_PT)
            y += 12.5
    return y + 6


def _say_this(sheet: Sheet, y: float, plan: Plan) -> float:
    """Write what to tell the dispatcher, in a box."""
    x, width = MARGIN_PT, sheet.inner_pt
    top = y
    y += 15
    sheet.text(x + 8, y, say("crew_say_title"), 11.5, fontweight="bold")
    y += 14
    crew = plan.area.settings.work.crew
    for number in range(1, SAY_LINES + 1):
        line = f"{number}.  {say(f'crew_say_{number}', crew=crew)}"
        y = sheet.wrapped(x + 8, y, line, width - 16, BODY_PT, hang_pt=14) + 1
    sheet.box(x, top, width, y - top - 4, linewidth=1.4)
    return y + 16


def _write_in(sheet: Sheet, y: float) -> float:
    """Write the lines to fill in before work starts, two to a row."""
    x, width = MARGIN_PT, sheet.inner_pt
    half = (width - 14) / 2
    sheet.text(x, y, say("crew_fill_in"), BODY_PT, fontweight="bold")
    y += 18
    for pair in BLANKS:
        for number, key in enumerate(pair):
            _blank(sheet, x + number * (half + 14), y, half, say(f"crew_blank_{key}"))
        y += BLANK_PT
    return y


def _warnings(sheet: Sheet, y: float, plan: Plan) -> float:
    """Write the kit, lone work, and what is dangerous on the ground itself."""
    x, width = MARGIN_PT, sheet.inner_pt
    y = sheet.wrapped(x, y, say("crew_bleeding"), width, BODY_PT, bold=True) + 2
    if plan.area.settings.work.crew == 1:
        words = say("crew_alone", source=LONE_WORK.author)
        y = sheet.wrapped(x, y, words, width, BODY_PT, bold=True) + 2
    return sheet.wrapped(x, y, hazards_said(plan), width, BODY_PT)


def hazards_said(plan: Plan) -> str:
    """List the hazards of the ground that were given, or say that none were."""
    kinds: dict[str, int] = {}
    for hazard in plan.area.hazards:
        word = ENGLISH.get(f"hazard_{hazard.kind}", hazard.kind)
        kinds[word] = kinds.get(word, 0) + 1
    bad_trees = sum(bool(kind) for kind in plan.area.trees.hazard)
    said = [f"{word} ({count})" if count > 1 else word for word, count in sorted(kinds.items())]
    if bad_trees:
        said.append(counted("crew_hazard_tree", bad_trees))
    return say("crew_hazards", hazards=", ".join(said)) if said else say("crew_hazards_none")
