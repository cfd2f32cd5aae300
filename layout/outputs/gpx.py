"""plan.gpx: what a phone or receiver needs in the woods, and what comes home again.

GPX 1.1: places to find as waypoints, trails and the edges to keep off as
tracks, each track with its type, so that a file that was in the woods can be
read back as trails without its strip edges. Names of places begin with their
number in the harvest, as on paper, so that a receiver lists them in the order
of work. No extension is needed to use it; only the whole name of a trail that
had to be shortened is kept in one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely.geometry import Point

from layout import track_types
from layout.geometry import Floats
from layout.outputs.device.degrees import DECIMALS, HEIGHT_DECIMALS, Degrees
from layout.outputs.device.marks import Mark, marks
from layout.outputs.device.notes import whole_file
from layout.outputs.device.short_names import shorten
from layout.outputs.device.work_stops import Day, fronts, label, on_day
from layout.outputs.device.xml_text import UNFIT, plain, put
from layout.outputs.device.xml_text import write as write_xml
from layout.outputs.swap import MADE_BY
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "plan.gpx"
DAY_NAME = "plan_day_{number:02d}.gpx"
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
SPACE = "http://www.topografix.com/GPX/1/1"


Named = tuple[Mark, str, str]  # what is written, its name, and what that begins with


def write(
    plan: Plan,
    path: Path,
    degrees: Degrees,
    day: Day | None = None,
    *,
    there: Sequence[Named] | None = None,
) -> None:
    """Write a plan's places and lines as GPX 1.1.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file.
    degrees : Degrees
        The way to WGS 84.
    day : Day, optional
        The day whose places alone are written, under the names they have in the whole
        file; trails, landing and what to keep off are there every day.
    there : sequence of Named, optional
        What `named` gives for the plan, where more than one file of it is written.

    Notes
    -----
    Source of the format: GPX 1.1 schema, http://www.topografix.com/GPX/1/1.
    """
    root = Element(
        "gpx",
        {
            "xmlns": SPACE,
            f"xmlns:{track_types.EXTENSION_PREFIX}": track_types.EXTENSION_SPACE,
            "version": "1.1",
            "creator": MADE_BY,
        },
    )
    head = SubElement(root, "metadata")
    put(head, "name", say("device_title", area=plan.area.settings.area.name))
    said = whole_file(plan, degrees.told_shift_m)
    order = say("device_order") if plan.work is not None else say("device_listed")
    if day is not None:
        said = (*said, say("device_day", day=day.number))
    put(head, "desc", " ".join((*said, order)))
    made = plan.about.get("made", "")
    if MOMENT.fullmatch(made):  # tells an old file on a phone from a new one
        put(head, "time", made)
    there = named(plan) if there is None else there
    written = [one for one in there if day is None or on_day(one[0], day)]
    for mark, name, front in sorted(written, key=lambda one: one[1]):
        for point in mark.points():
            _waypoint(root, mark, name, front, point, degrees)
    for mark, name, _ in written:
        if mark.lines():
            _track(root, mark, name, degrees)
    write_xml(root, path)


def named(plan: Plan) -> list[Named]:
    """Give all that a plan's file says, each with its name and what that begins with.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Named
        Places and lines; a day's file takes its own from them.
    """
    found = marks(plan)
    before = fronts(plan, found)
    labels = [
        label(mark, front) if front else mark.label
        for mark, front in zip(found, before, strict=True)
    ]
    return list(zip(found, shorten(labels, before), before, strict=True))


def _waypoint(
    root: Element, mark: Mark, name: str, front: str, point: Point, degrees: Degrees
) -> None:
    """Write one place."""
    (made,) = _points(root, "wpt", shapely.get_coordinates(point), degrees)
    _say(made, mark, name, front)


def _track(root: Element, mark: Mark, name: str, degrees: Degrees) -> None:
    """Write one line, or the edges of one thing, as a track."""
    track = SubElement(root, "trk")
    _say(track, mark, name)
    if mark.kind not in track_types.NO_TRAIL and name != mark.plan_id:
        more = SubElement(track, "extensions")
        whole = SubElement(more, f"{track_types.EXTENSION_PREFIX}:{track_types.WHOLE_NAME}")
        whole.text = UNFIT.sub("", mark.plan_id)  # to the letter, double spaces and all
    for line in mark.lines():
        _points(SubElement(track, "trkseg"), "trkpt", shapely.get_coordinates(line), degrees)


def _say(element: Element, mark: Mark, name: str, front: str = "") -> None:
    """Write name, note and type; the plan's own name leads the note where it differs."""
    whole = plain(mark.plan_id)
    put(element, "name", name)
    put(element, "desc", mark.note if front + whole == name else f"{whole}: {mark.note}")
    put(element, "type", track_types.FIRST_TREE if mark.first else mark.kind)


def _points(parent: Element, tag: str, xy: Floats, degrees: Degrees) -> list[Element]:
    """Write points, with the ground's height where it is known."""
    made = []
    for (lon, lat), height in zip(degrees.lon_lat(xy), degrees.heights(xy), strict=True):
        place = {"lat": f"{lat:.{DECIMALS}f}", "lon": f"{lon:.{DECIMALS}f}"}
        made.append(SubElement(parent, tag, place))
        if math.isfinite(height):
            put(made[-1], "ele", f"{height:.{HEIGHT_DECIMALS}f}")
    return made
