"""The start-of-day talk: one page to read out, fill in, tick and sign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs.crew.directions import whole, whole_up
from layout.outputs.crew.foot import height_pt
from layout.outputs.crew.sheet import LEADING, MARGIN_PT, Sheet, shortened, width_of
from layout.outputs.crew.tick_runs import BOX_PT, BOX_SIZE_PT, TICK_BOX
from layout.outputs.stop_limits import stop_limits
from layout.outputs.tree_orders import marked_hazards, two_lengths_m
from layout.outputs.words import say
from layout.outputs.work_blocks import Block, blocks
from layout.sources import BESIDE_WINCH, CHOKER_WORK, WALK_BEHIND
from layout.tongue import number as said_number

if TYPE_CHECKING:
    from layout.plan import Plan

TITLE_PT = 22.0
HEAD_PT = 10.5
GUTTER_PT = 16.0
# Size of the letters, and height of a line to write on: the first pair with room for all.
FITS = (
    (10.2, 23.0),
    (9.8, 22.0),
    (9.4, 21.0),
    (9.0, 19.0),
    (8.6, 17.0),
    (8.2, 16.0),
    (7.8, 15.0),
    (7.4, 14.0),
)
TODAY = 5  # lines for today's trails
NEXT = 6  # boxes of the order named as what comes next
MOST_SIGN = 6
SIDE_M = 5.0  # where the operator of a mechanical winch stands, beside it: BESIDE_WINCH
ASKED = ("rollover_frame", "belt", "screen")  # no work without
WANTED = ("belly_guard", "front_ballast")


def draw(sheet: Sheet, plan: Plan) -> None:
    """Draw the talk.

    Parameters
    ----------
    sheet : Sheet
        An empty sheet, upright.
    plan : Plan
        The plan, its work worked out.
    """
    floor = sheet.height_pt - MARGIN_PT - height_pt(plan, sheet.inner_pt)
    for body_pt, blank_pt in FITS:
        if _Talk(Sheet(sheet.paper), plan, body_pt, blank_pt).draw() <= floor:
            break
    _Talk(sheet, plan, body_pt, blank_pt).draw()


def next_boxes(todo: Sequence[Block]) -> list[str]:
    """Name what the order of work says is next, as its parts and trails have it.

    Parameters
    ----------
    todo : sequence of Block
        Of the work that is still to be done, in order.

    Returns
    -------
    list of str
        A trail that comes more than once in the same part is named once there.
    """
    named: list[str] = []
    for block in todo:
        if block.part == "hazard":
            trees = list(dict.fromkeys(tree for line in block.lines for tree in line.tree_ids))
            some = "" if len(trees) > NEXT else f" {' '.join(trees)}"
            named.append(say("crew_talk_box_hazard", trees=some))
        elif block.part in ("open", "harvest"):
            named += _boxes(block)
        else:
            named.append(say(f"crew_talk_box_{block.part}"))
    return list(dict.fromkeys(named))


def _boxes(block: Block) -> list[str]:
    """Name what is done on trails: opened one by one, or harvested and closed."""
    if block.part == "open":
        return [
            say("crew_talk_box_small")
            if line.does[0] == "small_open"
            else say("crew_talk_box_open", trail=line.name or say("crew_work_landing"))
            for line in block.lines
        ]
    does = {line.does[0] for line in block.lines}
    if does <= {"carry", "small_close"}:
        return [say("crew_talk_box_carry")]
    key = "crew_talk_box_close" if does == {"close"} else "crew_talk_box_harvest"
    return [say(key, trail=block.trail_id or say("crew_work_landing"))]


@dataclass
class _Talk:
    """The page being drawn, column by column."""

    sheet: Sheet
    plan: Plan
    body_pt: float
    blank_pt: float
    x: float = MARGIN_PT
    y: float = 0.0
    width: float = 0.0

    def draw(self) -> float:
        """Draw all of it; give where it ends."""
        sheet, right = self.sheet, self.sheet.width_pt - MARGIN_PT
        self.width = sheet.inner_pt
        sheet.text(self.x, 50, say("crew_talk"), TITLE_PT, fontweight="bold")
        sheet.text(right, 50, say("not_walked"), HEAD_PT, fontweight="bold", ha="right")
        room = sheet.inner_pt - width_of(say("crew_talk"), TITLE_PT, bold=True) - 20
        name = shortened(self.plan.area.settings.area.name, room, self.body_pt)
        sheet.text(right, 37, name, self.body_pt, ha="right")
        self.y = 66.0
        self.say(say("crew_talk_how"))
        self.y += 6
        self.blanks(("crew_talk_date", 0.4), ("crew_talk_weather", 0.6))
        top = self.y
        self.width = (sheet.inner_pt - GUTTER_PT) / 2
        self.today()
        self.who()
        self.checks()
        self.signals()
        low, self.y = self.y, top
        self.x += self.width + GUTTER_PT
        self.stop()
        self.stand()
        self.choke()
        self.tractor()
        self.x, self.y, self.width = MARGIN_PT, max(low, self.y), sheet.inner_pt
        self.sign()
        return self.y

    # parts

    def today(self) -> None:
        """Give lines for today's trails, and what the order of work says is next."""
        self.head("crew_talk_today")
        assert self.plan.work is not None
        boxes = next_boxes(blocks(self.plan.work, marked_hazards(self.plan)))
        if boxes:
            said = ", ".join(boxes[:NEXT])
            if len(boxes) > NEXT:
                said = say("crew_talk_and_so_on", boxes=said)
            self.say(say("crew_talk_next", boxes=said))
        self.y += self.blank_pt - self.body_pt * LEADING
        for _ in range(TODAY):
            self.blanks(("crew_talk_trail", 0.36), ("crew_talk_positions", 0.64), boxed=True)

    def who(self) -> None:
        """Give lines for who does what, and how far apart."""
        self.head("crew_talk_who", blank=True)
        self.blanks(("crew_talk_fells", 0.5), ("crew_talk_winches", 0.5))
        self.blanks(("crew_talk_drives", 0.5), ("crew_talk_first_aid", 0.5))
        self.tick(say("crew_talk_kit"))
        off_m = two_lengths_m(self.plan)
        if off_m is not None:
            off = whole_up(off_m, self.plan.area.settings.area.units)
            self.say(say("crew_talk_apart", off=off))

    def checks(self) -> None:
        """Say how often somebody outside is told that all is well."""
        work = self.plan.area.settings.work
        self.head("crew_talk_checks", blank=True)
        every = say("crew_talk_every", minutes=said_number(work.check_in_min, "g"))
        self.blank(every, self.width, answer=work.watcher)
        self.y += self.blank_pt
        self.blanks(("crew_talk_phone", 0.55), ("crew_talk_first", 0.45))
        self.say(say("crew_talk_missed"))
        if work.crew == 1:
            self.say(say("crew_talk_alone"), bold=True)

    def signals(self) -> None:
        """Say how signals are given, and what they are."""
        self.head("crew_talk_signals")
        self.say(say("crew_talk_signal_1"), bold=True)
        self.say(say("crew_talk_signal_2"), bold=True)
        self.ticks([say(f"crew_talk_hand_{n}") for n in range(1, 6)], say("crew_talk_hand"))
        self.y += self.blank_pt - self.body_pt * LEADING
        channel = self.plan.area.settings.work.radio_channel
        self.blank(say("crew_talk_channel"), self.width, answer=channel)
        self.y += self.blank_pt

    def stop(self) -> None:
        """Say when work stops."""
        self.head("crew_talk_stop")
        words = [*stop_limits(self.plan), say("crew_talk_stop_more")]
        top = self.y
        self.x, self.width = self.x + 5, self.width - 10
        self.say(say("crew_between").join(words))
        self.x, self.width = self.x - 5, self.width + 10
        high = self.y - top
        self.sheet.box(self.x, top - self.body_pt - 1, self.width, high + 1, linewidth=1.6)

    def stand(self) -> None:
        """Say where people stand: BESIDE_WINCH, WALK_BEHIND, and ROPE_RADIUS, not confirmed."""
        self.head("crew_talk_stand")
        winch, units = self.plan.area.settings.winch, self.plan.area.settings.area.units
        for key in (winch.operation, "follow", "never", "block", "back"):
            self.point(say(f"crew_talk_stand_{key}", side=whole(SIDE_M, units)))

    def choke(self) -> None:
        """Say how chokers are set: CHOKER_WORK."""
        self.head("crew_talk_choke")
        for n in range(1, 4):
            self.point(say(f"crew_talk_choke_{n}"))

    def tractor(self) -> None:
        """Ask what the tractor must have, and what is looked at before it starts."""
        self.head("crew_talk_tractor")
        tractor = self.plan.area.settings.tractor
        for key in ASKED:
            part = say(f"crew_talk_part_{key}")
            if getattr(tractor, key) != "yes":
                self.tick(say("crew_talk_not_confirmed", part=part), bold=True)
        fitted = [say(f"crew_talk_part_{k}") for k in ASKED if getattr(tractor, k) == "yes"]
        slips = any(f.code == "pull_anchoring" for f in self.plan.findings)
        plate = "plate_always" if slips else "plate"
        checked = [say(f"crew_talk_check_{key}") for key in ("brakes", "rope", plate)]
        for key in WANTED:
            part = say(f"crew_talk_part_{key}")
            there = getattr(tractor, key) == "yes"
            checked.append(part if there else say("crew_talk_not_known", part=part))
        chains = [say("crew_talk_check_chains")] if tractor.chains else []
        self.ticks([*fitted, *checked, *chains])
        drive = say(f"crew_talk_downhill_{'four' if tractor.drive == '4wd' else 'two'}")
        self.point(say("crew_talk_downhill", drive=drive))

    def sign(self) -> None:
        """Give lines to sign on, one for each of the crew."""
        self.y += 2
        self.head("crew_talk_sign", blank=True)
        half = (self.width - GUTTER_PT) / 2
        people = min(self.plan.area.settings.work.crew, MOST_SIGN)
        for number in range(people + people % 2):
            self.x = MARGIN_PT + (half + GUTTER_PT) * (number % 2)
            self.width, y = half, self.y
            self.blanks(("crew_talk_name", 0.5), ("crew_talk_signed", 0.5))
            self.y = self.y if number % 2 else y
        self.x, self.width = MARGIN_PT, self.sheet.inner_pt
        self.y -= self.blank_pt - self.body_pt * LEADING
        titles = "; ".join(source.title for source in (CHOKER_WORK, BESIDE_WINCH, WALK_BEHIND))
        self.say(say("crew_talk_sources", titles=titles), size_pt=7.4)

    # how they are written

    def head(self, key: str, *, blank: bool = False) -> None:
        """Write a heading under a rule; lines to write on need air above them."""
        self.y += 1.0
        self.sheet.rules([(self.x, self.y - 6, self.x + self.width, self.y - 6)], linewidths=0.8)
        self.y += HEAD_PT - 4
        self.sheet.text(self.x, self.y, say(key), HEAD_PT, fontweight="bold")
        self.y += self.blank_pt if blank else self.body_pt * LEADING + 2

    def say(self, words: str, *, bold: bool = False, size_pt: float | None = None) -> None:
        """Write a paragraph."""
        size = size_pt or self.body_pt
        self.y = self.sheet.wrapped(self.x, self.y, words, self.width, size, bold=bold) + 1.0

    def point(self, words: str) -> None:
        """Write one point of several."""
        said = f"\N{BULLET} {words}"
        self.y = self.sheet.wrapped(
            self.x, self.y, said, self.width, self.body_pt, hang_pt=7.0
        ) + 1.0  # fmt: skip

    def tick(self, words: str, *, bold: bool = False) -> None:
        """Write words after a box to tick."""
        self.sheet.text(self.x - 1.5, self.y, TICK_BOX, BOX_SIZE_PT)
        room = self.width - BOX_PT - 1
        self.y = self.sheet.wrapped(
            self.x + BOX_PT + 1, self.y, words, room, self.body_pt, bold=bold
        ) + 1.0  # fmt: skip

    def ticks(self, said: Sequence[str], before: str = "") -> None:
        """Write several words after boxes, in lines."""
        x = self.x
        if before:
            self.sheet.text(x, self.y, before, self.body_pt)
            x += width_of(before, self.body_pt) + 8
        for words in said:
            wide = BOX_PT + 1 + width_of(words, self.body_pt)
            if x > self.x and x + wide > self.x + self.width:
                x, self.y = self.x, self.y + self.body_pt * LEADING + 2
            self.sheet.text(x - 1.5, self.y, TICK_BOX, BOX_SIZE_PT)
            self.sheet.text(x + BOX_PT + 1, self.y, words, self.body_pt)
            x += wide + 9
        self.y += self.body_pt * LEADING + 1.0

    def blanks(self, *parts: tuple[str, float], boxed: bool = False) -> None:
        """Write labels with lines to write on side by side, each its share of the width."""
        x, keep = self.x, self.width
        if boxed:
            self.sheet.text(x - 1.5, self.y, TICK_BOX, BOX_SIZE_PT)
            self.x, self.width = x + BOX_PT + 2, keep - BOX_PT - 2
        left, room = self.x, self.width
        for key, share in parts:
            self.x = left
            self.blank(say(key), room * share - 6)
            left += room * share
        self.x, self.width = x, keep
        self.y += self.blank_pt

    def blank(self, words: str, width: float, *, answer: str = "") -> None:
        """Write a label and its answer, or a line to write it on."""
        self.sheet.text(self.x, self.y, words, self.body_pt)
        start = self.x + width_of(words, self.body_pt) + 5
        if answer.strip():
            said = shortened(answer, self.x + width - start, self.body_pt, bold=True)
            self.sheet.text(start, self.y, said, self.body_pt, fontweight="bold")
        else:
            self.sheet.rules([(start, self.y + 2, self.x + width, self.y + 2)], linewidths=0.7)
