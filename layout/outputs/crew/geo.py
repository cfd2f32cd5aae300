"""Tell a reader of the PDF which ground each map frame shows.

ISO 32000 keeps that in a dictionary for each page: a viewport, its box in
points, and a measure that gives latitude and longitude of the box's corners in
the datum of the map's own coordinate system, and that system by number and in
words. Nothing of the drawing is touched.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import ExitStack
from decimal import Decimal
from io import BytesIO

import pikepdf
import pyproj
from pikepdf import Array, Dictionary, Name, Pdf, String

from layout.outputs.crew.sheet import MapFrame
from layout.projection import horizontal

PDF_VERSION = "1.7"
WKT_FORM = "WKT1_ESRI"  # the form of the words the format asks for
DECIMALS = 9  # of a degree: a tenth of a millimetre; plain numbers would get six, a decimetre
UNIT_SQUARE = (0, 0, 0, 1, 1, 1, 1, 0)  # lower left, upper left, upper right, lower right


def placed(
    pdfs: Sequence[bytes],
    frames: Sequence[Sequence[MapFrame]],
    crs: pyproj.CRS,
    language: str = "en",
) -> bytes:
    """Bind PDFs in one, and add where on earth its maps lie, and what language it speaks.

    Parameters
    ----------
    pdfs : sequence of bytes
        The drawn sheets, in order.
    frames : sequence of sequence of MapFrame
        The map frames of each page, in order of pages.
    crs : CRS
        The grid the maps are drawn in.
    language : str, optional
        As BCP 47 names it: what a program needs that reads the sheets aloud.

    Returns
    -------
    bytes
        The same sheets; the same bytes for the same input.
    """
    flat = horizontal(crs)
    out = BytesIO()
    with ExitStack() as open_ones:
        book, *others = [open_ones.enter_context(Pdf.open(BytesIO(pdf))) for pdf in pdfs]
        for other in others:
            book.pages.extend(other.pages)
        book.Root.Lang = String(language)
        for page, shown in zip(book.pages, frames, strict=True):
            views = [view for frame in shown if (view := _viewport(book, frame, flat)) is not None]
            if views:
                page.obj[Name.VP] = Array(views)
        book.save(
            out,
            min_version=PDF_VERSION,
            deterministic_id=True,
            fix_metadata_version=False,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
        )
    return out.getvalue()


def corners(frame: MapFrame, crs: pyproj.CRS) -> list[float]:
    """Give latitude and longitude of a frame's corners in the datum of its own grid.

    Parameters
    ----------
    frame : MapFrame
        The frame.
    crs : CRS
        Its grid, in two dimensions.

    Returns
    -------
    list of float
        Eight degrees: lower left, upper left, upper right, lower right; empty where
        the grid has no datum, or does not reach the ground shown.
    """
    if crs.geodetic_crs is None:
        return []
    ground = frame.window
    to_degrees = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    x = [ground.west, ground.west, ground.east, ground.east]
    y = [ground.south, ground.north, ground.north, ground.south]
    lon, lat = to_degrees.transform(x, y)
    if not all(math.isfinite(value) for value in (*lat, *lon)):
        return []
    return [float(value) for pair in zip(lat, lon, strict=True) for value in pair]


def _viewport(book: Pdf, frame: MapFrame, crs: pyproj.CRS) -> Dictionary | None:
    """Give the dictionary of one map frame; None where it has no place on earth."""
    degrees = corners(frame, crs)
    if not degrees:
        return None
    grid = Dictionary(Type=Name.PROJCS, WKT=String(crs.to_wkt(WKT_FORM)))
    code = crs.to_epsg()
    if code is not None:
        grid[Name.EPSG] = code
    measure = Dictionary(
        Type=Name.Measure,
        Subtype=Name.GEO,
        Bounds=Array(UNIT_SQUARE),
        LPTS=Array(UNIT_SQUARE),
        GPTS=Array(Decimal(f"{value:.{DECIMALS}f}") for value in degrees),
        GCS=book.make_indirect(grid),
        PDU=Array([Name.M, Name.SQM, Name.DEG]),
    )
    return Dictionary(
        Type=Name.Viewport,
        BBox=Array(Decimal(f"{value:.4f}") for value in frame.box_pt),
        Name=String(frame.name),
        Measure=book.make_indirect(measure),
    )
