"""Files that hold shapes: what kind a file is, seen from inside, and which layer of it is meant.

A name is a claim. Before the reader is let near a file its first bytes are
looked at, because the reader goes by content: a GPX that is a recipe inside
could make it open other files, or other hosts.
"""

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError

from layout.errors import InputError
from layout.shape_kinds import DIMENSION, Wanted

LARGEST_BYTES = 300_000_000
LARGEST_XML_BYTES = 50_000_000
ROOT_WITHIN = 65_536  # the first tag of an XML file stands this near its start
# Drivers by how a file is named, and what its first bytes must be.
DRIVERS = {
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".shp": "ESRI Shapefile",
    ".fgb": "FlatGeobuf",
    ".gpx": "GPX",
    ".kml": "KML",
}
STARTS = {
    "GPKG": b"SQLite format 3\x00",
    "GeoJSON": b"{",
    "ESRI Shapefile": b"\x00\x00\x27\x0a",
    "FlatGeobuf": b"fgb",
}
XML = ("GPX", "KML")
READ_BY = {"KML": ("KML", "LIBKML"), "GeoJSON": ("GeoJSON", "TopoJSON", "ESRIJSON")}
ZIPPED = {".kmz": "a zipped KML", ".zip": "zipped", ".gz": "zipped", ".7z": "zipped"}
GPX_LAYERS: dict[Wanted, tuple[str, ...]] = {
    "polygon": ("tracks", "routes"),
    "line": ("tracks", "routes"),
    "point": ("waypoints",),
    "any": ("tracks", "routes", "waypoints"),
}
MOST_NAMED = 12


@dataclass(frozen=True, slots=True)
class Choice:
    """What of a file is to be read.

    Parameters
    ----------
    layers : tuple of str
        One layer; of a GPX file several, put one after the other.
    named : str
        Only the track or route of this name; empty for all.
    passed_over : str
        What else lies in the file and is not read, in words; empty for nothing.
    """

    layers: tuple[str, ...]
    named: str = ""
    passed_over: str = ""


def split_name(text: str) -> tuple[str, str]:
    """Split ``file.gpkg:layer`` into file and layer; a drive letter is no file.

    Examples
    --------
    >>> split_name("stand.gpkg:parcel 7")
    ('stand.gpkg', 'parcel 7')
    >>> split_name("walk.gpx:2026-05-01 10:22")
    ('walk.gpx', '2026-05-01 10:22')
    >>> split_name("C:/woods/stand.gpkg")
    ('C:/woods/stand.gpkg', '')
    """
    match = re.fullmatch(r"(.+?\.[A-Za-z]{3,7}):([^/\\]+)", text)
    return (match[1], match[2]) if match else (text, "")


def driver_of(path: Path, where: str) -> str:
    """Tell the kind of file by its name, and see that its content agrees.

    Parameters
    ----------
    path : Path
        The file; it is there.
    where : str
        Start of a message: file, table and key.

    Returns
    -------
    str
        A value of `DRIVERS`.

    Raises
    ------
    InputError
        If the file is of no kind read here, too large, or another kind inside.
    """
    driver = DRIVERS.get(path.suffix.lower())
    if driver is None:
        known = ", ".join(DRIVERS)
        if how := ZIPPED.get(path.suffix.lower()):
            raise InputError(
                f"{where} {path.name} is {how}; unzip it and name the file inside ({known})"
            )
        raise InputError(f"{where} {path.name} is of no kind read here ({known})")
    size = path.stat().st_size
    most = LARGEST_XML_BYTES if driver in XML else LARGEST_BYTES
    if size > most:
        raise InputError(
            f"{where} {path.name} has {size / 1e6:.0f} MB, more than {most / 1e6:.0f} MB; "
            "cut it to the area"
        )
    if driver in XML:
        agrees = _root(_plain_xml(path, where)) == driver.lower()
    else:
        with path.open("rb") as file:
            head = file.read(1024)
        text = driver == "GeoJSON"
        head = head.removeprefix(b"\xef\xbb\xbf").lstrip() if text else head
        agrees = head.startswith(STARTS[driver])
    if not agrees:
        raise InputError(_other_inside(path, where, driver))
    if driver == "ESRI Shapefile" and not _beside(path, ".shx"):
        raise InputError(
            f"{where} {path.name} lacks its .shx; keep the .shp, .shx, .dbf and .prj together"
        )
    return driver


def _other_inside(path: Path, where: str, driver: str) -> str:
    return f"{where} {path.name} is no {driver} file inside (or is cut short); export it again"


def _beside(path: Path, ending: str) -> bool:
    """Tell whether a file of the same name and another ending lies beside."""
    want = (path.stem + ending).lower()
    return any(other.name.lower() == want for other in path.parent.iterdir())


def _plain_xml(path: Path, where: str) -> bytes:
    """Read an XML file, and refuse what no phone writes."""
    data = path.read_bytes()
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data[:64]:
        raise InputError(f"{where} {path.name} is written as UTF-16; save it as UTF-8")
    if re.search(rb"<!\s*(DOCTYPE|ENTITY)", data, re.IGNORECASE):
        raise InputError(
            f"{where} {path.name} declares entities (<!DOCTYPE), which may pull in other files; "
            "export it again without them"
        )
    return b"" if b"<OGRVRT" in data else data


def _root(data: bytes) -> str:
    """Name the outermost tag of an XML file, without its prefix, in small letters."""
    rest = data[:ROOT_WITHIN].removeprefix(b"\xef\xbb\xbf").lstrip()
    while rest.startswith((b"<?", b"<!--")):
        end = b"?>" if rest.startswith(b"<?") else b"-->"
        cut = rest.find(end)
        if cut < 0:
            return ""
        rest = rest[cut + len(end) :].lstrip()
    match = re.match(rb"<(?:[\w.-]+:)?([\w-]+)", rest)
    return match[1].decode("ascii", errors="replace").lower() if match else ""


def choice_of(path: Path, layer: str, where: str, driver: str, wanted: Wanted) -> Choice:
    """Settle which layer of a file is meant.

    Parameters
    ----------
    path : Path
        The file.
    layer : str
        The layer or track named; empty for none.
    where : str
        Start of a message.
    driver : str
        From `driver_of`.
    wanted : {"polygon", "line", "point", "any"}
        What it must hold.

    Returns
    -------
    Choice

    Raises
    ------
    InputError
        If there is none such, or several and none is named.
    """
    try:
        with _quiet():
            listed = [(str(name), kind) for name, kind in pyogrio.list_layers(path)]
            readers = {pyogrio.read_info(path, layer=name)["driver"] for name, _ in listed[:1]}
    except (DataSourceError, DataLayerError) as error:
        said = one_line(error)
        if "not recognized" in said:
            raise InputError(_other_inside(path, where, driver)) from None
        raise InputError(f"{where} {path.name} {damage(error)}") from None
    if not readers <= set(READ_BY.get(driver, (driver,))):
        raise InputError(_other_inside(path, where, driver))
    if driver == "GPX":
        return _of_gpx(path, layer, where, wanted)
    names = [name for name, kind in listed if kind is not None]
    if layer:
        if layer not in names:
            raise InputError(
                f'{where} {path.name} has no layer "{layer}"; it has {", ".join(names) or "none"}'
            )
        return Choice((layer,))
    if not names:
        raise InputError(f"{where} {path.name} has no layer with shapes in it")
    if len(names) == 1:
        return Choice((names[0],))
    if driver == "KML" and wanted != "any":
        # Folders of a KML are layers, and hold whatever was drawn into them.
        fitting = [name for name in names if _holds(path, name, wanted)]
        if len(fitting) == 1:
            return Choice((fitting[0],))
        names = fitting or names
    raise InputError(
        f"{where} {path.name} has several layers; name one, like "
        f'"{path.name}:{names[0]}" (it has {", ".join(names[:MOST_NAMED])})'
    )


def _holds(path: Path, layer: str, wanted: Wanted) -> bool:
    """Tell whether a folder holds a shape of the kind wanted, or a line for a polygon."""
    shapes = [s for s in shapes_of(path, layer) if s is not None]
    kinds = set(shapely.get_dimensions(shapes).tolist()) if shapes else set()
    return DIMENSION[wanted] in kinds or (wanted == "polygon" and 1 in kinds)


def shapes_of(path: Path, layer: str) -> list[shapely.Geometry | None]:
    """Read the shapes of a layer row by row; None where one cannot be made or there is none."""
    with _quiet():
        _, _, stored, _ = pyogrio.raw.read(path, layer=layer, columns=[])
    return list(shapely.from_wkb(stored, on_invalid="ignore"))


@contextmanager
def _quiet() -> Iterator[None]:
    """Look at a file without its reader's warnings; they are kept when it is read."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _of_gpx(path: Path, layer: str, where: str, wanted: Wanted) -> Choice:
    """Choose tracks, routes or waypoints; a track may be named as well."""
    own = ("tracks", "routes", "waypoints")
    count = {
        name: int(pyogrio.read_info(path, layer=name, force_feature_count=True)["features"])
        for name in own
    }
    if layer in own:
        if not count[layer]:
            raise InputError(f"{where} {path.name} holds no {layer}; record or export them")
        return Choice((layer,))
    if layer:
        names = {kind: track_names(path, kind) for kind in own[:2] if count[kind]}
        for kind, listed in names.items():
            if layer in listed:
                return Choice((kind,), named=layer)
        shown = ", ".join(n for listed in names.values() for n in listed[:MOST_NAMED] if n)
        raise InputError(
            f'{where} {path.name} has no track or route "{layer}"; it has {shown or "none"}'
        )
    filled = tuple(name for name in GPX_LAYERS[wanted] if count[name])
    if not filled:
        raise InputError(
            f"{where} {path.name} holds no {' or '.join(GPX_LAYERS[wanted])}; record or export them"
        )
    if wanted == "any":
        return Choice(filled)
    rest = [
        f"{count[name]} {name if count[name] > 1 else name.removesuffix('s')}"
        for name in filled[1:]
    ]
    return Choice(filled[:1], passed_over=" and ".join(rest))


def track_names(path: Path, kind: str) -> list[str]:
    """List the names of the tracks or routes of a GPX file; blank where one has none."""
    table = pyogrio.read_dataframe(path, layer=kind, columns=["name"], read_geometry=False)
    return [str(name).strip() if isinstance(name, str) else "" for name in table["name"]]


def damage(error: Exception) -> str:
    """Say that a file is damaged, and what to do; the reader's own words only where they help."""
    said = one_line(error)
    of_database = re.search(r"sqlite|malformed|disk image|database", said, re.IGNORECASE)
    what = "its database cannot be read" if of_database else said
    return f"is damaged or cut short ({what}); export it again, or take a copy that opens"


def one_line(error: Exception) -> str:
    """Give an error's message without line breaks."""
    return " ".join(str(error).split())[:200]
