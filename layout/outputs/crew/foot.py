"""The foot of every sheet: what holds for all of them, and which plan it belongs to."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs import about, fingerprint
from layout.outputs import palette as ink
from layout.outputs.crew import letters
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, Sheet, shortened, width_of
from layout.outputs.words import retold, say
from layout.tongue import number as said_number

if TYPE_CHECKING:
    from layout.plan import Plan

BOLD_PT = 8.6
SIZE_PT = 7.2
CHIP_PT = 7.8
CHIP_GAP_PT = 10.0
CHIP_ROW_PT = 14.0
LINES_PT = 34.0
HASH_SHOWN = fingerprint.SHOWN
NAME_PT = 84.0  # white paper to write a name on
WIDEST_PAGE = 99  # how many pages a foot's height is kept for, before they are counted
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


@dataclass(frozen=True, slots=True)
class _Chip:
    """Words in white on black, and how much white paper to write on follows them, points."""

    words: str
    blank_pt: float = 0.0

    @property
    def wide_pt(self) -> float:
        """Width with the air behind it."""
        return width_of(self.words, CHIP_PT, bold=True) + CHIP_GAP_PT + self.blank_pt


def height_pt(plan: Plan, width_pt: float) -> float:
    """Give the height of the foot on a sheet of an inner width, points."""
    return LINES_PT + CHIP_ROW_PT * len(_chip_rows(plan, width_pt))


def draw(sheet: Sheet, plan: Plan, page: int, pages: int, stops_page: int) -> None:
    """Draw the foot of one sheet.

    Parameters
    ----------
    sheet : Sheet
        The sheet.
    plan : Plan
        The plan.
    page, pages : int
        Which sheet of how many.
    stops_page : int
        The sheet that says the stops in full.
    """
    left, right = MARGIN_PT, sheet.width_pt - MARGIN_PT
    y = sheet.height_pt - MARGIN_PT + 8.0 - height_pt(plan, sheet.inner_pt)
    sheet.rules([(left, y, right, y)], linewidths=1.0)
    unchecked = say("crew_translation")  # at the head, so that it takes no room from the foot
    if unchecked:
        sheet.text(right, MARGIN_PT - 5.0, unchecked, LEAST_PT, ha="right")
    for row in _chip_rows(plan, sheet.inner_pt, stops_page):
        x = left + 2.5
        for chip in row:
            sheet.text(
                x,
                y + 11.0,
                chip.words,
                CHIP_PT,
                fontweight="bold",
                color=ink.PAPER,
                bbox={"facecolor": ink.INK, "edgecolor": ink.INK, "pad": 1.8},
            )
            x += chip.wide_pt
            if chip.blank_pt:
                sheet.rules([(x - chip.blank_pt - 5, y + 12, x - 8, y + 12)], linewidths=0.7)
        y += CHIP_ROW_PT
    sheet.text(left, y + 10.0, say("not_walked"), BOLD_PT, fontweight="bold")
    sheet.text(right, y + 10.0, say("not_permission"), SIZE_PT, ha="right")
    ground = say("crew_ground", ground=retold(plan.area.settings.ground.condition))
    sheet.text(left, y + 20.0, ground, SIZE_PT, fontweight="bold")
    x = left + width_of(ground, SIZE_PT, bold=True) + 6.0
    sheet.text(x, y + 20.0, say("crew_phone_dot"), SIZE_PT)
    room = right - x - width_of(say("crew_phone_dot"), SIZE_PT) - 8.0
    sheet.text(right, y + 20.0, shortened(rule_said(plan), room, SIZE_PT), SIZE_PT, ha="right")
    number = say("crew_page", page=page, pages=pages)
    room = sheet.inner_pt - width_of(number, SIZE_PT, bold=True) - 12.0
    stamp = stamped(plan)
    name = plan.area.settings.area.name
    named = shortened(name, room - width_of(stamp, SIZE_PT), SIZE_PT)
    sheet.text(left, y + 30.0, f"{named}{stamp}", SIZE_PT)
    sheet.text(right, y + 30.0, number, SIZE_PT, ha="right", fontweight="bold")


def rule_said(plan: Plan) -> str:
    """Name the water rule chosen; that it is open is said louder, as a chip."""
    names = about.rule_names(plan)
    return say("rule_named", rules=names) if names else ""


def stamped(plan: Plan) -> str:
    """Say which plan a sheet belongs to: its own fingerprint, its settings', and its moment."""
    settings = fingerprint.of_settings(plan)[:HASH_SHOWN]
    layout = fingerprint.of_plan(plan)[:HASH_SHOWN]
    made = plan.about.get("made", "")
    if not made:
        return say("crew_stamp_undated", plan=layout, settings=settings)
    moment = f"{made[:10]} {made[11:16]} UTC" if MOMENT.fullmatch(made) else made[:10]
    return say("crew_stamp", plan=layout, made=moment, settings=settings)


def _alone(plan: Plan, width_pt: float) -> _Chip:
    """Say how often whoever works alone checks in, and with whom, or leave room for the name."""
    work = plan.area.settings.work
    words = say(
        "crew_alone_chip", minutes=said_number(work.check_in_min, "g"), watcher=work.watcher.strip()
    )
    words = shortened(words, width_pt - CHIP_GAP_PT, CHIP_PT, bold=True)
    return _Chip(words, 0.0 if work.watcher.strip() else NAME_PT)


def _chip_rows(plan: Plan, width_pt: float, page: int = WIDEST_PAGE) -> list[list[_Chip]]:
    """Set what must be read first in rows that fit the width."""
    stops = sum(finding.level == "stop" for finding in plan.findings)
    one = stops == 1
    told = [say("crew_stops_one" if one else "crew_stops_many", count=stops, page=page)]
    chips = [_Chip(words) for words in (*(told if stops else ()), *about.rule_words(plan))]
    if plan.area.settings.work.crew == 1:
        chips.append(_alone(plan, width_pt))
    if lacking := letters.told(plan):
        chips.append(_Chip(lacking))
    rows: list[list[_Chip]] = []
    used = 0.0
    for chip in chips:
        if not rows or used + chip.wide_pt > width_pt:
            rows.append([])
            used = 0.0
        rows[-1].append(chip)
        used += chip.wide_pt
    return rows
