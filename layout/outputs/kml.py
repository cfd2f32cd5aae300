"""plan.kml: the plan as folders of named things, for a globe on a screen.

KML 2.2 with nothing from outside: no icon is named, so that a viewer shows its
own, and colour is said again by folder and name. Viewers read a description as
a page; what would be a tag in one is written with other brackets.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from layout import track_types
from layout.outputs import palette as ink
from layout.outputs import stop_order
from layout.outputs.device import marks
from layout.outputs.device.degrees import DECIMALS, Degrees
from layout.outputs.device.marks import single_shapes
from layout.outputs.device.notes import BETWEEN, whole_file
from layout.outputs.device.xml_text import put
from layout.outputs.device.xml_text import write as write_xml
from layout.outputs.words import say
from layout.speech import speak_length

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "plan.kml"
SPACE = "http://www.opengis.net/kml/2.2"
NO_TAGS = str.maketrans("<>", "\u2039\u203a")  # single angle quotation marks


@dataclass(frozen=True, slots=True)
class Look:
    """How one folder is drawn.

    Parameters
    ----------
    colour : str
        ``#rrggbb`` of lines, edges and marks.
    width : float
        Of lines and edges, pixels.
    fill : int
        How much of the colour fills an area, 0 none to 255.
    label : float
        Size of the names; 0 for none.
    """

    colour: str
    width: float = 2.0
    fill: int = 0
    label: float = 0.8


@dataclass(frozen=True, slots=True)
class Thing:
    """One thing in a folder: its name, what is said of it, and where it is."""

    name: str
    note: str
    shape: BaseGeometry


# In the order of the folders. A globe shows woods from above, which is dark: what is
# black or dark green on paper is light here.
LOOKS: dict[str, Look] = {
    "stops": Look(ink.STOP, label=1.0),
    "landing": Look(ink.LANDING, 3.0, 110, 1.0),
    "small_landing": Look(ink.LANDING, 2.0, 60, 1.0),
    "access": Look(ink.PAPER, label=1.0),
    "starts": Look(ink.LANDING, label=1.0),
    "main_trail": Look(ink.LANDING, 6.0, label=1.0),
    "spurs": Look(ink.LANDING, 3.0, label=1.0),
    "turning": Look(ink.TURNING, 2.0, 130),
    "positions": Look(ink.POSITION),
    "served": Look(ink.SERVED, label=0.6),
    "missed": Look(ink.UNSERVED, label=0.7),
    "done": Look(ink.STEM, label=0.5),
    "pulls": Look(ink.TURNING, 1.5, label=0.0),
    "bars": Look(ink.BAR, label=0.6),
    "strips": Look(ink.WATER, 2.0, 60),
    "keep_out": Look(ink.STEM, 3.0, 90),
    "hazards": Look(ink.HAZARD, 4.0, 60),
    "stand": Look(ink.PAPER, 3.0),
    "hazard_trees": Look(ink.HAZARD, 3.0, 40),
    "first_rings": Look(ink.HAZARD, 1.5, label=0.0),
    "cautions": Look(ink.CAUTION, label=0.6),
    "unknowns": Look(ink.STEM, label=0.6),
}

# Marked trees go by their state.
FOLDERS = {
    marks.LANDING: "landing",
    stop_order.SMALL_LANDING: "small_landing",
    marks.WAY_IN: "access",
    stop_order.TRAIL_START: "starts",
    stop_order.TURNING_PLACE: "turning",
    stop_order.WINCH_POSITION: "positions",
    stop_order.WATER_BAR: "bars",
    track_types.MAIN_TRAIL: "main_trail",
    track_types.SPUR: "spurs",
    track_types.OTHER_TRAIL: "spurs",
    track_types.STRIP_EDGE: "strips",
    track_types.KEEP_OUT: "keep_out",
    track_types.HAZARD: "hazards",
    track_types.HAZARD_TREE: "hazard_trees",
    track_types.FIRST_TREE: "first_rings",
}


def write(plan: Plan, path: Path, degrees: Degrees) -> None:
    """Write a plan as KML 2.2.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file.
    degrees : Degrees
        The way to WGS 84.

    Notes
    -----
    Source of the format: OGC 07-147r2, KML, version 2.2.0.
    """
    root = Element("kml", {"xmlns": SPACE})
    document = SubElement(root, "Document")
    _put(document, "name", say("device_title", area=plan.area.settings.area.name))
    _put(
        document,
        "description",
        " ".join((*whole_file(plan, degrees.told_shift_m), say("device_listed"))),
    )
    folders = _folders(plan)
    for name in LOOKS:
        if folders[name]:
            _style(document, name, LOOKS[name])
    for name in LOOKS:
        if folders[name]:
            folder = SubElement(document, "Folder")
            _put(folder, "name", say(f"kml_folder_{name}"))
            for thing in folders[name]:
                _placemark(folder, name, thing, degrees)
    write_xml(root, path)


def _folders(plan: Plan) -> dict[str, list[Thing]]:
    """Sort everything of the plan into folders."""
    out: dict[str, list[Thing]] = {name: [] for name in LOOKS}
    stops = stop_order.in_order(plan)
    for mark in marks.marks(plan):
        folder = mark.state or FOLDERS[mark.kind]
        name = say(f"kml_name_{'first' if mark.first else folder}", name=mark.plan_id)
        said = [mark.note]
        if (stop := stops.get((mark.kind, mark.plan_id))) is not None:
            said.append(say(f"kml_stop_{stop.part}", number=stop.number))
        out[folder].append(Thing(name, BETWEEN.join(said), mark.shape))
    out["stand"] = [Thing(plan.area.settings.area.name, "", plan.area.stand)]
    out["pulls"] = list(_pulls(plan))
    for level, folder in (("stop", "stops"), ("caution", "cautions"), ("unknown", "unknowns")):
        out[folder] = list(_findings(plan, level))
    return out


def _pulls(plan: Plan) -> Iterator[Thing]:
    """Give the pulls by their position and tree."""
    units = plan.area.settings.area.units
    for pull in plan.pulls:
        name = say("kml_pull", position=pull.position_id, tree=pull.tree_id)
        length = speak_length(pull.ground_m, units)
        yield Thing(name, f"{length}, {say(f'sure_{pull.sure}')}", pull.line)


def _findings(plan: Plan, level: str) -> Iterator[Thing]:
    """Give the findings of a level that have a place."""
    for finding in plan.findings:
        if finding.level == level and finding.at is not None:
            tail = "" if finding.confirmed else say("caution_unverified")
            name = f"{say(f'kml_level_{level}')} {finding.subject_id or finding.subject_layer}"
            yield Thing(name, finding.message + tail, Point(finding.at))


def _style(document: Element, name: str, look: Look) -> None:
    """Write how a folder is drawn."""
    style = SubElement(document, "Style", {"id": name})
    icon = SubElement(style, "IconStyle")
    put(icon, "color", _colour(look.colour))
    label = SubElement(style, "LabelStyle")
    put(label, "scale", f"{look.label:g}")
    line = SubElement(style, "LineStyle")
    put(line, "color", _colour(look.colour))
    put(line, "width", f"{look.width:g}")
    area = SubElement(style, "PolyStyle")
    put(area, "color", _colour(look.colour, look.fill))


def _colour(colour: str, solid: int = 255) -> str:
    """Write a colour as KML does: how solid, then blue, green and red."""
    red, green, blue = ink.rgb(colour)
    return f"{solid:02x}{blue:02x}{green:02x}{red:02x}"


def _placemark(folder: Element, style: str, thing: Thing, degrees: Degrees) -> None:
    """Write one thing."""
    shapes = single_shapes(thing.shape)
    if not shapes:
        return
    made = SubElement(folder, "Placemark")
    _put(made, "name", thing.name)
    if thing.note:
        _put(made, "description", thing.note)
    put(made, "styleUrl", f"#{style}")
    holder = made if len(shapes) == 1 else SubElement(made, "MultiGeometry")
    for shape in shapes:
        _shape(holder, shape, degrees)


def _shape(holder: Element, shape: BaseGeometry, degrees: Degrees) -> None:
    """Write one point, line or polygon, on the ground."""
    if isinstance(shape, Polygon):
        made = SubElement(holder, "Polygon")
        put(made, "tessellate", "1")
        whole = orient(shape)
        for tag, rings in (
            ("outerBoundaryIs", [whole.exterior]),
            ("innerBoundaryIs", list(whole.interiors)),
        ):
            for ring in rings:
                drawn = SubElement(SubElement(made, tag), "LinearRing")
                _coordinates(drawn, ring, degrees)
    elif isinstance(shape, LineString):
        made = SubElement(holder, "LineString")
        put(made, "tessellate", "1")
        _coordinates(made, shape, degrees)
    else:
        _coordinates(SubElement(holder, "Point"), shape, degrees)


def _coordinates(holder: Element, shape: BaseGeometry, degrees: Degrees) -> None:
    """Write points as longitude and latitude."""
    places = degrees.lon_lat(shapely.get_coordinates(shape))
    written = (f"{lon:.{DECIMALS}f},{lat:.{DECIMALS}f}" for lon, lat in places)
    put(holder, "coordinates", " ".join(written))


def _put(parent: Element, tag: str, text: str) -> None:
    """Put a text where a viewer would read it as a page."""
    put(parent, tag, text.translate(NO_TAGS))
