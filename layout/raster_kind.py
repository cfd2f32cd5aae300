"""What kind of raster a file is, before any library opens it."""

import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

from layout.errors import InputError

# How a raster starts, and the one driver that then opens it.
STARTS = (
    (b"II*\x00", "GTiff"),
    (b"MM\x00*", "GTiff"),
    (b"II+\x00", "GTiff"),
    (b"MM\x00+", "GTiff"),
    (b"EHFA_HEADER_TAG", "HFA"),
    (b"<VRTDataset", "VRT"),
    (b"ncols", "AAIGrid"),
)
# Starts people meet in files that only look like a raster, and what they are.
OTHERS = (
    (b"PK\x03\x04", "a zip archive; unpack it and name the raster in it"),
    (b"\x1f\x8b", "a packed file; unpack it and name the raster in it"),
    (b"\x89HDF", "an HDF or NetCDF file; export the elevations as a GeoTIFF"),
    (b"CDF", "a NetCDF file; export the elevations as a GeoTIFF"),
    (b"LASF", "a point cloud; make a raster of its ground points"),
    (b"SQLite format 3", "a GeoPackage or database; export the elevations as a GeoTIFF"),
    (b"%PDF", "a PDF; ask for the raster itself"),
    (b"\x89PNG", "a picture; name a raster of elevations"),
    (b"\xff\xd8\xff", "a picture; name a raster of elevations"),
    (b"<!DOCTYPE html", "a web page; the download went wrong, fetch the file again"),
    (b"<html", "a web page; the download went wrong, fetch the file again"),
    (b"version https://git-lfs", "a stand-in for a large file; fetch the file itself"),
)
HEAD_BYTES = 64
LARGEST_VRT_BYTES = 5_000_000
# All that a plain mosaic is made of. The map library takes an attribute for an
# element and small letters for capitals, so everything else is refused, not sought.
# fmt: off
PLAIN_PARTS = frozenset((
    "vrtdataset", "srs", "geotransform", "metadata", "mdi", "metadataitem", "vrtrasterband",
    "description", "unittype", "offset", "scale", "nodatavalue", "hidenodatavalue", "colorinterp",
    "blockxsize", "blockysize", "simplesource", "complexsource", "sourcefilename", "sourceband",
    "sourceproperties", "srcrect", "dstrect", "nodata", "scaleoffset", "scaleratio", "usemaskband",
    "overviewlist", "histograms", "histitem", "histmin", "histmax", "bucketcount",
    "includeoutofrange", "approximate", "histcounts",
))
PLAIN_ATTRIBUTES = frozenset((
    "rasterxsize", "rasterysize", "dataaxistosrsaxismapping", "coordinateepoch", "datatype", "band",
    "subclass", "blockxsize", "blockysize", "relativetovrt", "shared", "resampling", "xoff", "yoff",
    "xsize", "ysize", "key", "domain", "format",
))
# fmt: on


def driver_of_head(head: bytes, name: str, where: str) -> str:
    """Tell the kind of raster by its first bytes.

    Parameters
    ----------
    head : bytes
        The first ``HEAD_BYTES`` of it.
    name, where : str
        The file's name, and the start of a message.

    Returns
    -------
    str
        The one driver that may open it.

    Raises
    ------
    InputError
        If it is of no kind read here.
    """
    plain = head.lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    for start, driver in STARTS:
        if plain.startswith(start.lower()):
            return driver
    for start, what in OTHERS:
        if plain.startswith(start.lower()):
            raise InputError(f"{where} {name} is {what}")
    raise InputError(
        f"{where} {name} is no elevation raster read here (GeoTIFF, VRT, ASCII grid, IMG)"
    )


def driver_of(path: Path, where: str) -> str:
    """Tell the kind of raster a file on disk is, see `driver_of_head`."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        raise InputError(f"{where} {path.name} cannot be read ({error.strerror})") from None
    if not head:
        raise InputError(f"{where} {path.name} is empty; fetch or export it again")
    return driver_of_head(head, path.name, where)


def check_mosaic(path: Path, where: str, folder: Path) -> None:
    """Refuse a VRT that is no plain mosaic of rasters in the area's folder.

    Parameters
    ----------
    path : Path
        The VRT.
    where : str
        Start of a message.
    folder : Path
        The area's folder.

    Raises
    ------
    InputError
        If it holds anything beyond a plain mosaic (code, entities, a warp, a
        mask), or draws on anything but a raster of the folder.
    """
    if path.stat().st_size > LARGEST_VRT_BYTES:
        raise InputError(f"{where} {path.name} is too large for a VRT; name the raster itself")
    plain = "make a plain mosaic, or list the rasters in dem"
    try:
        text = path.read_text(encoding="utf-8-sig")
        # Entities pull in other files, and a name with a comment in it is read two ways.
        if "<!" in text or "<?" in text.removeprefix("<?xml"):
            raise InputError(f"{where} {path.name} holds entities or comments; {plain}")
        top = ElementTree.fromstring(text)
    except (UnicodeDecodeError, ElementTree.ParseError):
        raise InputError(f"{where} {path.name} is damaged inside; make it again") from None
    odd = next(_beyond_plain(top), None)
    if odd is not None:
        raise InputError(f"{where} {path.name} holds {odd[:60]}, more than a mosaic; {plain}")
    for part in top.iter():
        if part.tag.lower() == "sourcefilename":
            _check_source(part, path, where, folder)


def _beyond_plain(top: ElementTree.Element) -> Iterator[str]:
    """Name what a plain mosaic does not hold."""
    for part in top.iter():
        if part.tag.lower() not in PLAIN_PARTS:
            yield f"<{part.tag}>"
        for name, value in part.attrib.items():
            low = name.lower()
            if low not in PLAIN_ATTRIBUTES:
                yield f"{name}="
            if low == "subclass" and value != "VRTSourcedRasterBand":
                yield value


def _check_source(part: ElementTree.Element, path: Path, where: str, folder: Path) -> None:
    """See that a source of a mosaic is a raster of the folder, and no mosaic itself."""
    source = (part.text or "").strip()
    beside = {name.lower(): value for name, value in part.attrib.items()}.get("relativetovrt")
    # A name that is not beside the VRT would be looked for where the command runs.
    full = (path.parent / source).resolve() if beside == "1" else Path(source)
    inside = full.is_absolute() and full.resolve().is_relative_to(folder.resolve())
    odd = len(part) or ":" in re.sub(r"^[A-Za-z]:(?=[/\\])", "", source) or "/vsi" in source
    if odd or not (source and inside and full.is_file()):
        raise InputError(
            f"{where} {path.name} draws on {source!r}, which is no file of the area's folder; "
            "copy it there and make the mosaic again"
        )
    if driver_of(full, where) == "VRT":
        raise InputError(
            f"{where} {path.name} draws on another mosaic, {full.name}; join the rasters themselves"
        )
