"""overview.png: the whole plan on one letter sheet, landscape.

Drawn on a canvas of its own: nothing of the program that calls us, its plots or
its plot settings, is read or changed for longer than the drawing takes.
"""

from __future__ import annotations

import warnings
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from layout.outputs import (
    danger_marks,
    map_marks,
    map_names,
    map_panel,
    map_window,
    option_marks,
    overview_marks,
)
from layout.outputs import palette as ink
from layout.outputs.amounts import limit, share
from layout.outputs.map_labels import Labels
from layout.outputs.tree_orders import positions_said, without_idle
from layout.outputs.words import counted, say
from layout.speech import speak_length

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "overview.png"
PAGE_IN = (11.0, 8.5)
DPI = 200
MAP_IN = (0.3, 1.72, 8.0, 5.98)  # left, bottom, width, height
PANEL_IN = (8.45, 0.98, 2.3, 6.72)
STRIP_IN = (0.3, 0.2, 10.4, 0.6)
STOP_IN = (0.3, 0.88, 8.0, 0.65)
UNDER_MAP_IN = 1.625  # middle of the line between the map and the box under it
SCALE_BLOCK_IN = 1.3
TITLE_MOST = 62  # characters that fit the width
LOOK: Any = {
    "font.family": ["DejaVu Sans"],
    "hatch.linewidth": 0.55,
    "text.color": ink.INK,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
}


def write(plan: Plan, path: Path) -> None:
    """Draw the overview and write it as an image of 2200 by 1700 pixels.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file, PNG.
    """
    path.write_bytes(image(plan, DPI))


def image(plan: Plan, dpi: int) -> bytes:
    """Draw the overview.

    Parameters
    ----------
    plan : Plan
        The plan.
    dpi : int
        Dots an inch of letter paper.

    Returns
    -------
    bytes
        PNG.
    """
    made = BytesIO()
    with mpl.rc_context(), warnings.catch_warnings():
        # A name in letters the font lacks is drawn as boxes; that is no fault of the plan.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from font")
        mpl.rcdefaults()
        mpl.rcParams.update(LOOK)
        figure = Figure(figsize=PAGE_IN, dpi=dpi, facecolor=ink.PAPER)
        canvas = FigureCanvasAgg(figure)
        _compose(figure, canvas, plan)
        title = say("map_title", area=_name(plan))
        canvas.print_png(made, metadata={"Title": title})  # type: ignore[no-untyped-call]
    return made.getvalue()


def _compose(figure: Figure, canvas: FigureCanvasAgg, plan: Plan) -> None:
    """Put map, legend, title and cautions on the page."""
    units = plan.area.settings.area.units
    left, bottom, width, height = MAP_IN
    window = map_window.around(plan, width, height)
    page_w, page_h = PAGE_IN
    axes = figure.add_axes((left / page_w, bottom / page_h, width / page_w, height / page_h))
    axes.set_xlim(window.west, window.east)
    axes.set_ylim(window.south, window.north)
    axes.set_xticks([])
    axes.set_yticks([])

    dem = map_window.cropped(plan.terrain.dem, window)
    interval_m, interval_said = map_window.interval(dem, window, units)
    contours = map_window.contours(dem, interval_m, units)
    map_window.draw_relief(axes, dem)
    map_window.draw_contours(axes, contours)
    shown = without_idle(plan)
    size = map_marks.crowding(shown, window)
    map_marks.draw(axes, shown, window, size)
    overview_marks.draw(axes, plan, size)
    option_marks.draw(axes, plan, window)
    danger_marks.draw(axes, plan, window)
    axes.set_xlim(window.west, window.east)
    axes.set_ylim(window.south, window.north)
    labels = Labels(axes, canvas)
    overview_marks.name(labels, plan, window)
    unnamed = map_names.write(labels, shown, window, contours, size)
    option_marks.name(labels, plan, window)

    panel = map_panel.inches(
        figure,
        PANEL_IN[0],
        PANEL_IN[1] + SCALE_BLOCK_IN,
        PANEL_IN[2],
        PANEL_IN[3] - SCALE_BLOCK_IN,
    )
    map_panel.legend(panel, plan, window)
    foot = map_panel.inches(figure, PANEL_IN[0], PANEL_IN[1], PANEL_IN[2], SCALE_BLOCK_IN)
    under = (
        say("map_scale", scale=round(window.scale, -1)),
        say("map_contours", interval=interval_said),
        plan.area.crs.name,
        *overview_marks.off_the_map(plan, window),
    )
    map_panel.north_and_scale(foot, plan, window, under)
    map_panel.cautions(map_panel.inches(figure, *STRIP_IN), plan)
    map_panel.stop_box(map_panel.inches(figure, *STOP_IN), plan)
    title = say("map_title", area=_name(plan))
    # the names a reader misses stand elsewhere, and that is said right under the map
    missed = counted("map_unnamed", unnamed) if unnamed else ""
    for y, text, look in (
        (UNDER_MAP_IN, missed, {"fontsize": map_names.LEAST_PT}),
        (8.16, title, {"fontsize": 15, "fontweight": "bold"}),
        (7.87, key_numbers(plan), {"fontsize": 9.6}),
    ):
        if not text:
            continue
        made = figure.text(left / page_w, y / page_h, text, va="center", **look)
        map_panel.fitted(made, STRIP_IN[2])


def _name(plan: Plan) -> str:
    """Give the area's name, cut where the page ends."""
    name = " ".join(plan.area.settings.area.name.split())
    return name if len(name) <= TITLE_MOST else name[: TITLE_MOST - 1] + "…"


def key_numbers(plan: Plan) -> str:
    """Give the plan's few numbers in one line, rounded and in the user's units.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        Trees reached, trail, positions, ground, findings.
    """
    units = plan.area.settings.area.units
    served, unserved = map_marks.marked_places(plan)
    length = {
        kind: sum(trail.line.length for trail in plan.trails if trail.kind == kind)
        for kind in ("main", "spur")
    }
    levels = [finding.level for finding in plan.findings]
    parts = (
        say("map_served", served=len(served), marked=len(served) + len(unserved)),
        say("map_main", length=speak_length(length["main"], units)),
        say(
            "map_spurs",
            spurs=counted("spur", sum(trail.kind == "spur" for trail in plan.trails)),
            length=speak_length(length["spur"], units),
        ),
        positions_said(plan),
        say(
            "map_ground",
            share=share(plan.soil.share_pct),
            limit=limit(plan.area.settings.soil.limit_pct),
        ),
        say("map_findings", stops=levels.count("stop"), cautions=levels.count("caution")),
    )
    return "  ·  ".join(parts)
