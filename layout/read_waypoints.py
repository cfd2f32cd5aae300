"""Waypoints of a phone or a receiver: GPX, KML and zipped KML, every word of them.

The map libraries give the usual fields of these files only. Phones put what
people typed into others: extensions of a GPX waypoint, forms (ExtendedData) and
web-page descriptions in KML, placemarks in folders within folders. So the files
are read here as the XML they are, entities refused before anything is parsed.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree as ET

from layout.errors import InputError, InputFaults

SUFFIXES = (".gpx", ".kml", ".kmz")
LARGEST_BYTES = 50_000_000
DEEPEST = 100
MOST_POINTS = 200_000
MOST_FAULTS = 20
# Fields that hold what a person typed, most telling first; the rest are extras.
TEXTS = ("name", "cmt", "desc", "description", "snippet")
_DRAWN = ("linestring", "linearring", "polygon", "track", "multitrack", "model")


@dataclass(frozen=True, slots=True)
class Waypoint:
    """One point as the phone holds it.

    Parameters
    ----------
    row : int
        Place in the file, the first is 1.
    lon, lat : float
        Degrees, WGS 84.
    texts : tuple of str
        What was typed: name, comment, description; blank ones left out, each once.
    extras : dict of str to str
        Every other field, by its own name: time, hdop, extensions, forms.
    folder : tuple of str
        Names of the folders it lies in, outermost first.
    """

    row: int
    lon: float
    lat: float
    texts: tuple[str, ...] = ()
    extras: dict[str, str] = field(default_factory=dict)
    folder: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Waypoints:
    """The points of a file, and what of it is no point.

    Parameters
    ----------
    name : str
        The file.
    points : tuple of Waypoint
    left_out : int
        How many tracks, lines and shapes it has.
    shapes : tuple of str
        What those are called, where they are.
    lost : tuple of str
        What is called something and has no place of its own: placemarks of several
        points or of none, points of a route.
    """

    name: str
    points: tuple[Waypoint, ...]
    left_out: int
    shapes: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()


@dataclass(slots=True)
class _Others:
    """What is no waypoint, counted and named; the folder goes with each name."""

    count: int = 0
    shapes: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)
    lost: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    def add(self, called: str, folder: tuple[str, ...], *, placeless: bool) -> None:
        """Keep what something is called."""
        if called:
            (self.lost if placeless else self.shapes).append((called, folder))


def read_waypoints(path: Path, where: str = "", layer: str = "") -> Waypoints:
    """Read every waypoint of a file.

    Parameters
    ----------
    path : Path
        The file, which exists; GPX, KML or KMZ by its ending.
    where : str
        Start of every message.
    layer : str
        ``waypoints`` of a GPX file, or a folder of a KML file; all if empty.

    Returns
    -------
    Waypoints

    Raises
    ------
    InputError, InputFaults
        If the file cannot be used; all points without a place at once.
    """
    start = f"{where} {path.name}".strip()
    data = _bytes_of(path, start)
    if re.search(rb"<!\s*(DOCTYPE|ENTITY)", data, re.IGNORECASE) or (
        b"\x00" in data[:64] and not data.startswith((b"\xff\xfe", b"\xfe\xff"))
    ):
        raise InputError(
            f"{start} declares entities (<!DOCTYPE), which may pull in other files; "
            "export it again without them"
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError(f"{start} is stored as UTF-16; export it again as UTF-8")
    root = _parsed(data, start)
    kind = "gpx" if path.suffix.lower() == ".gpx" else "kml"
    if _local(root) != kind:
        raise InputError(f"{start} is no {kind.upper()} file inside; export it again")
    points, others = _gpx(root, start) if kind == "gpx" else _kml(root, start)
    if layer:
        points = _of_layer(points, layer, kind, start)
    if not points:
        told = f"; it holds {others.count} tracks, lines or shapes" if others.count else ""
        raise InputError(f"{start} holds no waypoints{told}; record or export them")
    if len(points) > MOST_POINTS:
        raise InputError(f"{start} holds {len(points):,} waypoints; {MOST_POINTS:,} at most")
    within = layer if kind == "kml" else ""
    shapes, lost = (
        tuple(called for called, folder in some if not within or within in folder)
        for some in (others.shapes, others.lost)
    )
    return Waypoints(path.name, tuple(points), others.count, shapes, lost)


def _bytes_of(path: Path, start: str) -> bytes:
    """Load the file, or the page inside a zipped KML."""
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(f"{start} has over 50 MB; cut it to the stand")
    data = path.read_bytes()
    if path.suffix.lower() != ".kmz":
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            inside = [name for name in packed.namelist() if name.lower().endswith(".kml")]
            if not inside:
                raise InputError(f"{start} holds no KML file; export it again")
            name = "doc.kml" if "doc.kml" in inside else inside[0]
            if len(inside) > 1:
                raise InputError(
                    f"{start} holds several KML files ({', '.join(inside[:5])}); unzip it and "
                    "name one of them"
                )
            if packed.getinfo(name).file_size > LARGEST_BYTES:
                raise InputError(f"{start} holds over 50 MB; cut it to the stand")
            with packed.open(name) as file:
                return file.read(LARGEST_BYTES)
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError):
        raise InputError(
            f"{start} cannot be unzipped; export it again, as plain KML if you can"
        ) from None


def _parsed(data: bytes, start: str) -> ET.Element:
    """Parse XML, at most a hundred levels deep."""
    depth = 0
    root: ET.Element | None = None
    try:
        for event, element in ET.iterparse(io.BytesIO(data), events=("start", "end")):
            root = element if root is None else root
            depth += 1 if event == "start" else -1
            if depth > DEEPEST:
                raise InputError(f"{start} is nested over {DEEPEST} levels deep; export it again")
    except (ET.ParseError, LookupError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{start} is damaged or cut short ({error}); export it again") from None
    if root is None:
        raise InputError(f"{start} is empty; export it again")
    return root


def _local(element: ET.Element) -> str:
    """Give an element's name without its namespace, in lower case."""
    return str(element.tag).rpartition("}")[2].lower()


def _text(element: ET.Element) -> str:
    """Give an element's text, tags inside it kept as spaces."""
    return " ".join("".join(element.itertext()).split()) if len(element) else _whole(element.text)


def _whole(text: str | None) -> str:
    return (text or "").strip()


def _degrees(text: str, most: float) -> float | None:
    """Read degrees, None where they are none."""
    if not re.fullmatch(r"[+-]?[0-9]{1,3}(\.[0-9]*)?([eE]-?[0-9]{1,2})?", text.strip()):
        return None
    value = float(text)
    return value if abs(value) <= most else None


def _gpx(root: ET.Element, start: str) -> tuple[list[Waypoint], _Others]:
    """Take the waypoints of a GPX file; tracks and routes are counted."""
    points: list[Waypoint] = []
    faults: list[str] = []
    others = _Others()
    for element in root:
        if _local(element) in ("trk", "rte"):
            others.count += 1
            others.add(_called(_fields(element)), (), placeless=False)
            for point in _all(element, "rtept"):
                others.add(_called(_fields(point)), (), placeless=True)
        if _local(element) != "wpt":
            continue
        row = len(points) + len(faults) + 1
        fields = list(_fields(element))
        place = (element.get("lon", ""), element.get("lat", ""))
        _add(points, faults, row, place, fields, (), start)
    _raise(faults, start)
    return points, others


def _called(fields: Iterable[tuple[str, str]]) -> str:
    """Give what was typed of a shape that is no waypoint."""
    typed = dict.fromkeys(text for name, text in fields if name in TEXTS and text)
    return " | ".join(" ".join(text.split()) for text in typed)


def _fields(element: ET.Element) -> Iterator[tuple[str, str]]:
    """Give name and text of every field, those of extensions one by one."""
    for child in element:
        name = _local(child)
        if name == "extensions":
            yield from (
                (_local(part), _whole(part.text))
                for part in child.iter()
                if part is not child and not len(part)
            )
            for part in child.iter():
                yield from ((key.rpartition("}")[2].lower(), v) for key, v in part.attrib.items())
        elif name == "link":
            yield "link", child.get("href", "")
        else:
            yield name, _text(child)


def _kml(root: ET.Element, start: str) -> tuple[list[Waypoint], _Others]:
    """Take the placemarks that are points, from whatever folder."""
    points: list[Waypoint] = []
    faults: list[str] = []
    others = _Others()
    for placemark, folder in _placemarks(root, ()):
        spots = [_whole(c.text) for p in _all(placemark, "point") for c in _all(p, "coordinates")]
        if len(spots) != 1:
            others.count += 1
            drawn = any(_local(part) in _DRAWN for part in placemark.iter())
            others.add(_called(_kml_fields(placemark)), folder, placeless=bool(spots) or not drawn)
            continue
        row = len(points) + len(faults) + 1
        place = (*(part.strip() for part in spots[0].split(",")), "", "")[:2]
        _add(points, faults, row, place, list(_kml_fields(placemark)), folder, start)
    _raise(faults, start)
    return points, others


def _placemarks(
    element: ET.Element, folder: tuple[str, ...]
) -> Iterator[tuple[ET.Element, tuple[str, ...]]]:
    """Walk folders within folders."""
    for child in element:
        name = _local(child)
        if name == "placemark":
            yield child, folder
        elif name in ("folder", "document"):
            title = next((_text(part) for part in child if _local(part) == "name"), "")
            yield from _placemarks(child, (*folder, title) if name == "folder" else folder)


def _all(element: ET.Element, name: str) -> list[ET.Element]:
    """Find every element of a name below another."""
    return [part for part in element.iter() if _local(part) == name]


def _kml_fields(placemark: ET.Element) -> Iterator[tuple[str, str]]:
    """Give name and text of a placemark's fields, forms included."""
    for child in placemark:
        name = _local(child)
        if name == "extendeddata":
            for part in child.iter():
                if _local(part) == "data":
                    value = next((_text(v) for v in part if _local(v) == "value"), "")
                    yield part.get("name", "").strip().lower(), value
                elif _local(part) == "simpledata":
                    yield part.get("name", "").strip().lower(), _whole(part.text)
        elif name == "timestamp":
            yield "time", _text(child)
        elif name in (*TEXTS, "address", "phonenumber"):
            yield name, _text(child)


def _add(
    points: list[Waypoint],
    faults: list[str],
    row: int,
    place: tuple[str, ...],
    fields: list[tuple[str, str]],
    folder: tuple[str, ...],
    start: str,
) -> None:
    """Make a waypoint of its fields, or note why it has no place."""
    lon, lat = _degrees(place[0], 180.0), _degrees(place[1], 90.0)
    texts = [text for wanted in TEXTS for name, text in fields if name == wanted and text]
    if lon is None or lat is None:
        called = f" ({texts[0][:30]!r})" if texts else ""
        said = f"lon {place[0]!r}, lat {place[1]!r}"
        faults.append(f"{start} waypoint {row}{called}: {said[:60]} is no place in degrees")
        return
    extras: dict[str, str] = {}
    for name, text in fields:
        if name not in TEXTS and name and text:
            extras.setdefault(name, text)
    points.append(Waypoint(row, lon, lat, tuple(dict.fromkeys(texts)), extras, folder))


def _raise(faults: list[str], start: str) -> None:
    """Raise the places that cannot be read, at most twenty of them."""
    if faults:
        more = [f"{start}: and {len(faults) - MOST_FAULTS} more faults"]
        raise InputFaults(faults[:MOST_FAULTS] + (more if len(faults) > MOST_FAULTS else []))


def _of_layer(points: list[Waypoint], layer: str, kind: str, start: str) -> list[Waypoint]:
    """Keep the points of one folder."""
    if kind == "gpx":
        if layer != "waypoints":
            raise InputError(f'{start} has no points in "{layer}"; take the waypoints')
        return points
    kept = [point for point in points if layer in point.folder]
    if not kept:
        names = dict.fromkeys(name for point in points for name in point.folder if name)
        raise InputError(
            f'{start} has no folder "{layer}" with points in it; it has '
            f"{', '.join(list(names)[:12]) or 'no folder'}"
        )
    return kept
