"""What stands beside or below a map: legend, north and scale, when to stop, and notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from layout.outputs import danger_marks, hold_marks, map_marks, map_panel
from layout.outputs import palette as ink
from layout.outputs.crew import north
from layout.outputs.crew.directions import whole
from layout.outputs.crew.letters import printable
from layout.outputs.crew.map_lettering import Lettered
from layout.outputs.crew.map_looks import (
    ARROW_SAMPLE,
    DOWNHILL,
    HELP_PLACE,
    TILE_EDGE,
)
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.map_trails import TICK_M
from layout.outputs.crew.sheet import LEADING, LEAST_PT, PT_AN_INCH, Sheet, wrap
from layout.outputs.crew.walking import STEP_M
from layout.outputs.help_places import help_places
from layout.outputs.map_window import Window
from layout.outputs.stop_limits import stop_limits
from layout.outputs.tree_orders import standing_hazards
from layout.outputs.words import say
from layout.speech import speak_length
from layout.tongue import number as said_number

if TYPE_CHECKING:
    from layout.plan import Plan

LEGEND_PT = 7.2
NOTE_PT = LEAST_PT
STOP_PT = 7.8
GAP_PT = 7.0
INCHES_A_FOOT = 12
SCALE_PT = 99.0
LAST_LINE_IN = 0.1  # the last line of words hangs below its own base
SCALE_WIDTH_PT = 156.0
STOP_ROOM_PT = 86.0
BESIDE_PT = 192.0  # width of the box that stops work, where it stands below the map
LEGEND_AIR = (0.32, 0.2, 0.1, 0.0)  # between its lines, in letter sizes: the first that fits
HANDLE, HANDLE_GAP, COLUMN_GAP = 2.7, 0.6, 0.7  # of the legend, in letter sizes


def draw(
    sheet: Sheet,
    plan: Plan,
    page: MapPage,
    lettered: Lettered,
    interval: str,
    step_m: int,
    *,
    with_stems: bool,
) -> None:
    """Draw legend, scale and north, the box that stops work, and notes."""
    x, y, width, height = page.frame.panel_pt
    if page.frame.beside:
        legend = height - SCALE_PT - STOP_ROOM_PT
        _legend(sheet, plan, page, (x, y, width, legend), 1, lettered, with_stems=with_stems)
        _scale(sheet, plan, page, interval, step_m, (x, y + legend, width, SCALE_PT))
        _stop_box(sheet, plan, (x, y + legend + SCALE_PT + GAP_PT, width))
    else:
        tall = not page.frame.landscape
        room = width - BESIDE_PT - (0 if tall else SCALE_WIDTH_PT) - 2 * GAP_PT
        columns = 2 if tall else 3
        _legend(sheet, plan, page, (x, y, room, height), columns, lettered, with_stems=with_stems)
        x += room + GAP_PT
        _scale(sheet, plan, page, interval, step_m, (x, y, SCALE_WIDTH_PT, SCALE_PT))
        x, y = (x, y + SCALE_PT + GAP_PT) if tall else (x + SCALE_WIDTH_PT + GAP_PT, y)
        _stop_box(sheet, plan, (x, y, BESIDE_PT))
    _notes(sheet, plan, page, lettered)


def _legend(
    sheet: Sheet,
    plan: Plan,
    page: MapPage,
    place: tuple[float, float, float, float],
    columns: int,
    lettered: Lettered,
    *,
    with_stems: bool,
) -> None:
    """Write what the marks mean, only those the map shows."""
    samples, texts = map_marks.legend_entries(plan, page.window, with_stems=with_stems)
    units = plan.area.settings.area.units
    if plan.trails:
        samples.append(Line2D([], [], linestyle="none", marker="|", markersize=9, color=ink.INK))
        each, step = (speak_length(m, units) for m in (STEP_M[units], TICK_M[units]))
        key = "crew_map_station_between" if page.numbered else "crew_map_station"
        texts.append(say(key, step=step, each=each))
    texts = [say("crew_map_danger") if text == say("mark_hazard") else text for text in texts]
    held, waits = hold_marks.legend_entries(plan, page.window)
    samples, texts = [*samples, *held], [*texts, *waits]
    bad, said = danger_marks.legend_entries(plan, page.window, ring_first=page.numbered)
    samples, texts = [*samples, *bad], [*texts, *said]
    if lettered.grades:
        samples.append(Line2D([], [], linestyle="none", marker=ARROW_SAMPLE, **DOWNHILL))
        texts.append(say("crew_map_downhill"))
    for spot in help_places(plan):
        if page.window.shows(spot.x, spot.y):
            samples.append(Line2D([], [], linestyle="none", **HELP_PLACE[spot.kind]))
            texts.append(spot.name)
    if page.numbered:
        samples.append(Line2D([], [], linestyle="none"))
        texts.append(say("crew_map_number_species" if page.coded else "crew_map_number"))
    if page.tiles:
        samples.append(Rectangle((0, 0), 1, 1, facecolor="none", **TILE_EDGE))
        texts.append(say("crew_map_detail_edge"))
    x, y, width, height = place
    room = width / columns - LEGEND_PT * (HANDLE + HANDLE_GAP + COLUMN_GAP)
    axes = sheet.axes(x, y, width, height)
    axes.set_axis_off()
    for air in LEGEND_AIR:
        made = axes.legend(
            samples,
            ["\n".join(wrap(text, room, LEGEND_PT)) for text in texts],
            ncols=columns,
            loc="upper left",
            bbox_to_anchor=(0.0, 1.0),
            borderaxespad=0.0,
            borderpad=0.0,
            frameon=False,
            fontsize=LEGEND_PT,
            handlelength=HANDLE,
            handleheight=0.9,
            handletextpad=HANDLE_GAP,
            labelspacing=air,
            columnspacing=COLUMN_GAP,
            alignment="left",
        )
        deep_px = made.get_window_extent(sheet.canvas.get_renderer()).height  # type: ignore[no-untyped-call]
        if deep_px * PT_AN_INCH / sheet.figure.dpi <= height:
            break
    made.set_in_layout(False)


def _scale(
    sheet: Sheet,
    plan: Plan,
    page: MapPage,
    interval: str,
    step_m: int,
    place: tuple[float, float, float, float],
) -> None:
    """Draw grid north and a scale bar, and say the scale on this paper."""
    x, y, width, height = (value / PT_AN_INCH for value in place)
    bottom = sheet.height_pt / PT_AN_INCH - y - height
    axes = map_panel.inches(sheet.figure, x, bottom + LAST_LINE_IN, width, height - LAST_LINE_IN)
    paper = say(f"crew_paper_{sheet.paper}")
    scale = say("crew_map_scale", scale=said_number(page.window.scale, ","), paper=paper)
    feet, rest = divmod(page.window.scale, INCHES_A_FOOT)
    if plan.area.settings.area.units == "us" and page.numbered and not rest:
        scale = say("crew_map_scale_feet", scale=scale, feet=feet)  # as on a ruler
    lines = (
        scale,
        say("map_contours", interval=interval),
        say("crew_map_grid", step=step_m),
        printable(plan.area.crs.name),
        north.on_map(plan),
    )
    map_panel.north_and_scale(axes, plan, page.window, lines)


def _stop_box(sheet: Sheet, plan: Plan, place: tuple[float, float, float]) -> None:
    """Draw the box that says when work stops."""
    x, top, width = place
    y = top + 11
    sheet.text(x + 5, y, say("crew_stop_title"), STOP_PT + 0.6, fontweight="bold")
    words = say("crew_between").join(stop_limits(plan))
    y = sheet.wrapped(x + 5, y + 11, words, width - 10, STOP_PT)
    y -= STOP_PT * LEADING - 4
    sheet.box(x, top, width, y - top, linewidth=1.6)


def _notes(sheet: Sheet, plan: Plan, page: MapPage, lettered: Lettered) -> None:
    """Say what the lines and a phone dot are worth, and where names are that had no room."""
    x, y, width, _ = page.frame.notes_pt
    area = plan.area
    units = area.settings.area.units
    edge = "" if area.property_line is not None else say("crew_map_stand_counts")
    error = whole(area.settings.property.error_m, units)
    said = [] if area.hazards or not plan.trails else [say("crew_hazards_none")]
    if lettered.hazards:
        said.append(say("crew_map_no_room_hazard", names=", ".join(lettered.hazards)))
    if lettered.stations and page.numbered:
        said.append(say("crew_map_no_room_station"))
    if lettered.species:
        said.append(say("crew_map_species", letters=lettered.species))
    if lettered.bare or (page.numbered and not page.coded):
        said.append(say("crew_map_bare"))
    said += [say("crew_map_grades")] if lettered.grades else []
    if not page.tiles and lettered.ungraded:
        said.append(say("crew_map_ungraded"))
    if page.tiles and lettered.left_out:
        said.append(say("crew_map_unnamed"))
    if not page.tiles and lettered.positions:
        said.append(say("crew_map_no_room", names=", ".join(lettered.positions)))
    said.append(say("crew_map_lines", error=error, edge=edge))
    datum = "" if area.crs.geodetic_crs is None else area.crs.geodetic_crs.name
    same = datum in ("", "WGS 84")
    dot = say(f"crew_dot_{units}")
    shift = "" if same else say("crew_map_datum", datum=datum, off=say(f"crew_datum_{units}"))
    said.append(say("crew_map_dot", shift=shift, dot=dot))
    sheet.wrapped(x, y + NOTE_PT, " ".join(said), width, NOTE_PT)


def beyond(plan: Plan, window: Window) -> str:
    """Name the hazard trees off a sheet whose distance reaches into it; empty without any.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown.

    Returns
    -------
    str
    """
    names = [
        tree.tree_id
        for tree in standing_hazards(plan)
        if not window.shows(tree.x, tree.y) and danger_marks.reaches(tree, window)
    ]
    return say("crew_map_beyond", trees=", ".join(names)) if names else ""
