"""Page one: what to read out when somebody is hurt. It must serve alone, without the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs.coordinates import Place, Spoken, spoken
from layout.outputs.crew.foot import height_pt
from layout.outputs.crew.sheet import LEADING, MARGIN_PT, Sheet, shortened, width_of, wrap
from layout.outputs.tree_orders import thing_said
from layout.outputs.words import counted, say
from layout.outputs.words import word as word_of
from layout.sources import LONE_WORK

if TYPE_CHECKING:
    from layout.plan import Plan

NAME_PT = 17.0
COORDINATES_PT = 12.5
LABEL_SIZE_PT = 11.0
SMALL_PT = 7.6
LABEL_PT = 92.0  # width kept for the names of places
ANSWER_LINES = 4
MOST_IN_FULL = 3  # landings; of more each has its degrees alone
# Size of the letters, and height of a line to write on: the first pair with room for all.
FITS = ((10.0, 24.0), (10.0, 20.0), (9.0, 18.0), (8.4, 16.0), (7.6, 14.5), (7.0, 12.4))
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
    floor = sheet.height_pt - MARGIN_PT - height_pt(plan, sheet.inner_pt)
    places = _places(plan)
    for body_pt, blank_pt in FITS:
        tried = _Page(Sheet(sheet.paper), plan, places, body_pt, blank_pt)
        if tried.draw() <= floor + body_pt:
            break
    _Page(sheet, plan, places, body_pt, blank_pt).draw()


def _places(plan: Plan) -> list[tuple[str, Spoken | None]]:
    """Give the places a dispatcher asks for; None where one was not given."""
    access = plan.area.settings.access
    wanted: list[tuple[str, Place | None]] = [("gate", access.gate)]
    if access.meet_at is not None:  # else the words say where, or the gate is the place
        wanted.append(("meet_at", access.meet_at))
    for landing in plan.landings:
        name = f"landing {landing.landing_id}" if plan.more_landings else "landing"
        wanted.append((name, (landing.x, landing.y)))
    wanted.append(("helispot", access.helispot))
    return [(name, None if at is None else spoken(at, plan.area.crs)) for name, at in wanted]


@dataclass
class _Page:
    """The sheet being drawn, from the top down."""

    sheet: Sheet
    plan: Plan
    places: list[tuple[str, Spoken | None]]
    body_pt: float
    blank_pt: float

    def draw(self) -> float:
        """Draw all of it; give the base line after the last."""
        sheet, area = self.sheet, self.plan.area
        left, right, width = MARGIN_PT, sheet.width_pt - MARGIN_PT, sheet.inner_pt
        sheet.text(left, 50, say("crew_emergency"), 22, fontweight="bold")
        sheet.text(right, 50, say("crew_emergency_keep"), SMALL_PT, ha="right")
        name = shortened(area.settings.area.name, width, NAME_PT, bold=True)
        sheet.text(left, 76, name, NAME_PT, fontweight="bold")
        self._blank(left, 100, width, say("crew_call"), label=True)
        sheet.text(left, 114, say("crew_call_note"), SMALL_PT)
        access = area.settings.access
        y = 131.0
        for label, words in (("road", access.road_name), ("meet", access.meet)):
            y = self._answer(y, say(f"crew_place_{label}"), words)
        for label, said in self.places:
            y = self._place(y, label, said)
        sheet.text(left, y + 1, say("crew_coordinates_note"), SMALL_PT)
        y = self._say_this(y + 9)
        y = self._write_in(y)
        return self._warnings(y)

    def _blank(
        self, x: float, y: float, width: float, words: str, *, label: bool = False, known: str = ""
    ) -> float:
        """Write words and what is known, or a line to write on; give the base line of the next."""
        size = LABEL_SIZE_PT if label else self.body_pt
        self.sheet.text(x, y, words, size, fontweight="bold" if label else "normal")
        start = x + width_of(words, size, bold=label) + 5
        if known.strip():
            said = shortened(known, x + width - start, size, bold=True)
            self.sheet.text(start, y, said, size, fontweight="bold")
        else:
            self.sheet.rules([(start, y + 2, x + width, y + 2)], linewidths=0.7)
        return y + self.blank_pt

    def _answer(self, y: float, label: str, words: str) -> float:
        """Write an answer after its label, or a line to write it on."""
        x, width = MARGIN_PT, self.sheet.inner_pt
        if not words.strip():
            return self._blank(x, y, width, label, label=True)
        self.sheet.text(x, y, label, LABEL_SIZE_PT, fontweight="bold")
        room = width - LABEL_PT
        lines = wrap(words, room, COORDINATES_PT, bold=True)
        size = COORDINATES_PT if len(lines) <= 2 else self.body_pt
        lines = wrap(words, room, size, bold=True)
        if len(lines) > ANSWER_LINES:
            rest = " ".join(lines[ANSWER_LINES - 1 :])
            lines[ANSWER_LINES - 1 :] = [shortened(rest, room, size, bold=True)]
        for line in lines:
            self.sheet.text(x + LABEL_PT, y, line, size, fontweight="bold")
            y += size * LEADING
        return y + 3

    def _place(self, y: float, label: str, said: Spoken | None) -> float:
        """Write a place in all its ways, or a line to write it on."""
        sheet, x, width = self.sheet, MARGIN_PT, self.sheet.inner_pt
        sheet.rules([(x, y - 11, x + width, y - 11)], linewidths=0.5)
        label, _, which = label.partition(" ")
        words = " ".join(part for part in (say(f"crew_place_{label}"), which) if part)
        if said is None:
            self._blank(x, y + 2, width, words, label=True)
            sheet.text(x + LABEL_PT, y + 14, say(f"crew_blank_place_{label}"), SMALL_PT)
            return y + 30
        sheet.text(x, y + 2, words, LABEL_SIZE_PT, fontweight="bold")
        lines: tuple[str, ...] = (said.degrees or say("crew_degrees_unknown"), said.minutes)
        national = say("crew_usng", grid=said.national) if said.national else ""
        grids: tuple[str, ...] = (national, said.grid, said.utm)
        if which and len(self.plan.landings) > MOST_IN_FULL:  # the sheet has no room for more
            lines, grids = lines[:1], ()
        for line in lines:
            if line:
                sheet.text(x + LABEL_PT, y + 2, line, COORDINATES_PT, fontweight="bold")
                y += 16
        for line in grids:
            if line:
                sheet.text(x + LABEL_PT, y, line, self.body_pt)
                y += self.body_pt * LEADING
        return y + 5

    def _say_this(self, y: float) -> float:
        """Write what to tell the dispatcher, in a box."""
        x, width, top = MARGIN_PT, self.sheet.inner_pt, y
        y += 15
        self.sheet.text(x + 8, y, say("crew_say_title"), LABEL_SIZE_PT, fontweight="bold")
        y += 14
        crew = self.plan.area.settings.work.crew
        for number in range(1, SAY_LINES + 1):
            line = f"{number}.  {say(f'crew_say_{number}', crew=crew)}"
            y = self.sheet.wrapped(x + 8, y, line, width - 16, self.body_pt, hang_pt=14) + 1
        self.sheet.box(x, top, width, y - top - 4, linewidth=1.4)
        return y + 12

    def _write_in(self, y: float) -> float:
        """Write the lines to fill in before work starts, two to a row."""
        x, width = MARGIN_PT, self.sheet.inner_pt
        half = (width - 14) / 2
        self.sheet.text(x, y, say("crew_fill_in"), self.body_pt, fontweight="bold")
        y += self.blank_pt - 3
        work = self.plan.area.settings.work
        known = {"watcher": work.watcher, "radio": work.radio_channel}
        for pair in BLANKS:
            for number, key in enumerate(pair):
                words, told = say(f"crew_blank_{key}"), known.get(key, "")
                self._blank(x + number * (half + 14), y, half, words, known=told)
            y += self.blank_pt
        return y

    def _warnings(self, y: float) -> float:
        """Write the kit, lone work, and what is dangerous on the ground itself."""
        x, width, size = MARGIN_PT, self.sheet.inner_pt, self.body_pt
        y = self.sheet.wrapped(x, y, say("crew_bleeding"), width, size, bold=True) + 2
        if self.plan.area.settings.work.crew == 1:
            words = say("crew_alone", source=LONE_WORK.author)
            y = self.sheet.wrapped(x, y, words, width, size, bold=True) + 2
        return self.sheet.wrapped(x, y, hazards_said(self.plan), width, size)


def hazards_said(plan: Plan) -> str:
    """List the hazards of the ground that were given, or say that none were."""
    kinds: dict[str, int] = {}
    for hazard in plan.area.hazards:
        word = word_of(f"hazard_{hazard.kind}", hazard.kind)
        kinds[word] = kinds.get(word, 0) + 1
    bad_trees = sum(bool(kind) for kind in plan.area.trees.hazard)
    said = [f"{word} ({count})" if count > 1 else word for word, count in sorted(kinds.items())]
    if bad_trees:
        said.append(counted("crew_hazard_tree", bad_trees))
    if not said:
        return say("crew_hazards_none")
    over = [
        thing_said(hazard.kind, hazard.hazard_id)
        for hazard in plan.area.hazards
        if any(hazard.geometry.intersects(road) for road in plan.area.access_road)
    ]
    words = say("crew_hazards", hazards=", ".join(said))
    return f"{words} {say('crew_hazards_way_in', hazards=', '.join(over))}" if over else words
