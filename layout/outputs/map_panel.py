"""The strip beside and below a map: legend, north, scale, and the cautions on every sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from matplotlib.text import Text

from layout.outputs import about, danger_marks, map_marks, option_marks, overview_marks
from layout.outputs import palette as ink
from layout.outputs.amounts import round_length
from layout.outputs.map_window import Window
from layout.outputs.stop_limits import stop_limits
from layout.outputs.words import say
from layout.units import Units

if TYPE_CHECKING:
    from layout.plan import Plan

TEXT_PT = 8.8
PT_AN_INCH = 72.0
LINE_EM = 1.2  # height of a line of words, in letter sizes
SPACING_EM, LEAST_SPACING_EM = 0.62, 0.25  # between marks of the legend, in letter sizes
# Of the box that says when work stops: the first is 7 pt still where the report shows the
# picture narrowest on a screen, the others are for more words than there are today; ours.
STOP_SIZES_PT = (10.6, 9.8, 9.0, 8.2, 7.4)
STOP_MARGIN_IN = 0.08
CHIP_PT = 9.0
CHIP_GAP_IN = 0.22
BAR_PARTS = 4


def inches(figure: Figure, x: float, y: float, width: float, height: float) -> Axes:
    """Add an empty piece of the page whose coordinates are inches."""
    page_w, page_h = figure.get_size_inches()
    axes = figure.add_axes((x / page_w, y / page_h, width / page_w, height / page_h))
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
    axes.set_axis_off()
    return axes


def legend(axes: Axes, plan: Plan, window: Window) -> None:
    """Write what the marks mean, only those the map shows."""
    samples, texts = map_marks.legend_entries(plan, window)
    tried, said = option_marks.legend_entries(plan, window)
    bad, named = danger_marks.legend_entries(plan, window)
    own, told = overview_marks.legend_entries(plan, window)
    samples, texts = [*samples, *own, *tried, *bad], [*texts, *told, *said, *named]
    # a map that shows everything has its marks closer, so that none reaches the scale below
    lines = sum(text.count("\n") + 1 for text in texts) + 2.0  # the title, and air under it
    room = axes.get_ylim()[1] * PT_AN_INCH / TEXT_PT - LINE_EM * lines
    spacing = min(SPACING_EM, max(room / max(len(texts), 1), LEAST_SPACING_EM))
    made = axes.legend(
        samples,
        texts,
        title=say("map_legend"),
        loc="upper left",
        bbox_to_anchor=(0.0, 1.0),
        borderaxespad=0.0,
        frameon=False,
        fontsize=TEXT_PT,
        title_fontsize=TEXT_PT + 1,
        handlelength=2.6,
        handleheight=1.1,
        labelspacing=spacing,
        alignment="left",
    )
    made.get_title().set_fontweight("bold")


def north_and_scale(axes: Axes, plan: Plan, window: Window, lines: Sequence[str]) -> None:
    """Draw grid north, a scale bar in the user's units, and lines of words under it."""
    _north(axes, 0.22, 0.62)
    width = axes.get_xlim()[1]
    left = 0.62
    length_m, said = round_length((width - left - 0.45) * window.metres_per_inch, _units(plan))
    step = length_m / window.metres_per_inch / BAR_PARTS
    for part in range(BAR_PARTS):
        axes.add_patch(
            Rectangle(
                (left + part * step, 0.78),
                step,
                0.085,
                facecolor=ink.INK if part % 2 == 0 else ink.PAPER,
                edgecolor=ink.INK,
                linewidth=0.8,
            )
        )
    for x, text in ((left, "0"), (left + BAR_PARTS * step, said)):
        axes.text(x, 0.91, text, fontsize=TEXT_PT, ha="center", va="bottom")
    for row, text in enumerate(lines):
        axes.text(left - 0.02, 0.66 - 0.16 * row, text, fontsize=7.4, va="top")


def _north(axes: Axes, x: float, y: float) -> None:
    """Draw an arrow to grid north, and say which north it is."""
    tip, foot, half = y + 0.42, y - 0.12, 0.11
    axes.add_patch(
        Polygon(
            [(x, tip), (x - half, foot), (x, foot + 0.13)], facecolor=ink.INK, edgecolor=ink.INK
        )
    )
    axes.add_patch(
        Polygon(
            [(x, tip), (x + half, foot), (x, foot + 0.13)], facecolor=ink.PAPER, edgecolor=ink.INK
        )
    )
    axes.text(x, tip + 0.03, "N", fontsize=10, fontweight="bold", ha="center", va="bottom")
    axes.text(
        x,
        foot - 0.05,
        say("map_grid_north").replace(" ", "\n"),
        fontsize=7.4,
        ha="center",
        va="top",
        linespacing=1.0,
    )


def cautions(axes: Axes, plan: Plan) -> None:
    """Write the caution strip: what holds for every sheet, and what is open on this one."""
    width, height = axes.get_xlim()[1], axes.get_ylim()[1]
    axes.add_patch(
        Rectangle((0, 0), width, height, facecolor=ink.PAPER, edgecolor=ink.INK, linewidth=1.2)
    )
    chips = open_questions(plan)
    top = height - 0.17 if chips else height / 2
    axes.text(0.1, top, say("not_walked"), fontsize=11, fontweight="bold", va="center")
    axes.text(
        width - 0.1,
        top,
        say("not_permission"),
        fontsize=9.4,
        va="center",
        ha="right",
    )
    made = [
        axes.text(
            0,
            0.155,
            chip,
            fontsize=CHIP_PT,
            fontweight="bold",
            color=ink.PAPER,
            va="center",
            bbox={"facecolor": ink.INK, "edgecolor": ink.INK, "pad": 2.2},
        )
        for chip in chips
    ]
    room = width - 0.2 - CHIP_GAP_IN * len(chips)
    needed = sum(width_in(text) for text in made)
    x = 0.16
    for text in made:
        text.set_fontsize(CHIP_PT * min(1.0, room / needed))
        text.set_x(x)
        x += width_in(text) + CHIP_GAP_IN


def stop_box(axes: Axes, plan: Plan) -> None:
    """Write in a box when work stops, in the largest letters it has room for."""
    width, height = axes.get_xlim()[1], axes.get_ylim()[1]
    axes.add_patch(
        Rectangle((0, 0), width, height, facecolor=ink.PAPER, edgecolor=ink.INK, linewidth=1.6)
    )
    room = width - 2 * STOP_MARGIN_IN
    title = axes.text(STOP_MARGIN_IN, 0, say("crew_stop_title"), fontweight="bold", va="center")
    words = say("crew_between").join(stop_limits(plan))
    for size_pt in STOP_SIZES_PT:
        title.set_fontsize(size_pt)
        begin = width_in(title) + size_pt / PT_AN_INCH / 2
        lines = _broken(axes, words, size_pt, room, begin)
        step = size_pt * LINE_EM / PT_AN_INCH
        if len(lines) * step <= height:
            break
    top = (height + (len(lines) - 1) * step) / 2
    title.set_y(top)
    for row, line in enumerate(lines):
        x = STOP_MARGIN_IN + (0.0 if row else begin)
        axes.text(x, top - row * step, line, fontsize=size_pt, va="center")


def _broken(axes: Axes, words: str, size_pt: float, room_in: float, begin_in: float) -> list[str]:
    """Break words into lines that fit; the first begins farther in."""
    probe = axes.text(0, 0, "", fontsize=size_pt)
    lines, left = [""], room_in - begin_in
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".lstrip()
        probe.set_text(longer)
        if width_in(probe) <= left:
            lines[-1] = longer
        else:
            lines.append(word)
            left = room_in
    probe.remove()
    return lines


def width_in(text: Text) -> float:
    """Measure a text on its page, inches."""
    return float(text.get_window_extent().width) / text.figure.dpi


def fitted(text: Text, most_in: float) -> None:
    """Write a text smaller where it would be too wide."""
    text.set_fontsize(float(text.get_fontsize()) * min(1.0, most_in / width_in(text)))


def open_questions(plan: Plan) -> Sequence[str]:
    """Give what must be read before this sheet is used: stops, and an unconfirmed water rule."""
    stops = sum(finding.level == "stop" for finding in plan.findings)
    said = list(about.rule_words(plan))
    if stops:
        said.insert(0, say("map_stops_one") if stops == 1 else say("map_stops", count=stops))
    return said


def _units(plan: Plan) -> Units:
    return plan.area.settings.area.units
