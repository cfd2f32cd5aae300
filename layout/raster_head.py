"""What one elevation raster says of itself, on disk or on the web, before any cell is read."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pyproj
import rasterio
from rasterio.errors import NotGeoreferencedWarning, OpenerRegistrationError, RasterioError
from rasterio.transform import Affine
from shapely.geometry import Polygon

from layout.errors import InputError
from layout.projection import CRS_REMEDY, heights_from, horizontal, own_units, reader, vertical_unit
from layout.raster_kind import HEAD_BYTES, check_mosaic, driver_of, driver_of_head
from layout.unit_names import unit_of_name
from layout.web_address import web_address
from layout.web_file import WebFile, WebReader

# Beside a file on the web nothing is looked for: no listing, no side file.
ALONE = {"GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR"}


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A raster that can be opened.

    Parameters
    ----------
    name : str
        The file's own name.
    where : str
        Start of every message: file, table and key.
    driver : str
        The one driver that opens it.
    path : Path or None
        Where it lies on disk.
    web : WebFile or None
        Where it lies on the web.
    """

    name: str
    where: str
    driver: str
    path: Path | None = None
    web: WebFile | None = None

    @contextmanager
    def opened(self) -> Iterator[rasterio.DatasetReader]:
        """Open it for a while; what goes wrong inside is told in one line.

        Raises
        ------
        InputError
            If it cannot be opened or read.
        """
        reads: list[WebReader] = []

        def opener(name: str, mode: str = "rb") -> WebReader:
            if self.web is None or name != self.name_inside or "w" in mode:
                raise FileNotFoundError(name)  # a side file
            reads.append(WebReader(self.web))
            return reads[-1]

        try:
            with reader(), own_units(), warnings.catch_warnings():
                # A raster without a place on the map is told of in our words.
                warnings.simplefilter("ignore", NotGeoreferencedWarning)
                if self.web is None:
                    data = rasterio.open(self.path, driver=self.driver)
                else:
                    with rasterio.Env(**ALONE):
                        data = rasterio.open(self.name_inside, driver=self.driver, opener=opener)
            with reader(), rasterio.Env(**ALONE if self.web is not None else {}), data:
                yield data
            self._raise_faults(reads)
        except (RasterioError, OpenerRegistrationError) as error:
            self._raise_faults(reads)
            said = " ".join(str(error).split())[:200]
            raise InputError(
                f"{self.where} {self.name} is damaged and cannot be read ({said}); fetch or "
                "export it again"
            ) from None
        finally:
            if self.web is not None:
                self.web.close()

    @property
    def name_inside(self) -> str:
        """The name the map library knows a file on the web by."""
        return f"dem-{id(self.web):x}/dem.tif"

    def _raise_faults(self, reads: list[WebReader]) -> None:
        """Raise what went wrong where the library's callbacks could not say it."""
        for read in reads:
            if read.fault is not None:
                raise read.fault from None


@dataclass(frozen=True, slots=True, eq=False)
class Head:
    """What a raster says of itself.

    Parameters
    ----------
    source : Source
    crs : CRS
        Its map CRS.
    transform : Affine
        From column and row to that CRS.
    width, height : int
        Columns and rows.
    unit : str
        Unit of the elevations as area.toml names it, empty where not settled.
    unit_fault : str
        Why it is not settled though the file says something, empty otherwise.
    heights_from : str
        What the heights count from, empty where it does not say.
    whole : bool
        It holds whole numbers.
    scale, offset : float
        To be applied to them.
    """

    source: Source
    crs: pyproj.CRS
    transform: Affine
    width: int
    height: int
    unit: str
    unit_fault: str
    heights_from: str
    whole: bool
    scale: float
    offset: float

    @property
    def name(self) -> str:
        """The file's own name."""
        return self.source.name

    def corner(self, col: float, row: float) -> tuple[float, float]:
        """Give the map place of a cell's upper left corner (affine's own sign has changed)."""
        t = self.transform
        return t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f

    def outline(self) -> Polygon:
        """Outline the raster in its own CRS."""
        w, h = self.width, self.height
        return Polygon([self.corner(*c) for c in ((0, 0), (w, 0), (w, h), (0, h))])


def source_on_disk(path: Path, where: str, folder: Path) -> Source:
    """Take a raster on disk; sources of a VRT must lie in the area's folder.

    Raises
    ------
    InputError
        If it is of no kind read here, or a VRT that is more than a mosaic.
    """
    driver = driver_of(path, where)
    if driver == "VRT":
        check_mosaic(path, where, folder)
    return Source(path.name, where, driver, path=path)


def source_on_web(text: str, where: str) -> Source:
    """Take a GeoTIFF on the web, named by a plain https address.

    Raises
    ------
    InputError
        If the address cannot be used, or leads to no GeoTIFF.
    """
    file = WebFile(web_address(text, where), where)
    file.close()  # the head of the file is here
    driver = driver_of_head(file.read_at(0, HEAD_BYTES), file.name, where)
    if driver != "GTiff":
        raise InputError(
            f"{where} {file.name} is no GeoTIFF, and only that is read from the web; download the "
            "file and name it here"
        )
    return Source(file.name, where, driver, web=file)


def head_of(source: Source, crs_hint: pyproj.CRS | None) -> Head:
    """Look at a raster's head.

    Parameters
    ----------
    source : Source
    crs_hint : CRS or None
        Used only where the raster does not say.

    Returns
    -------
    Head

    Raises
    ------
    InputError
        If it is no elevation grid with a place on the map.
    """
    say = f"{source.where} {source.name}"
    with source.opened() as data:
        if data.count != 1:
            raise InputError(
                f"{say} has {data.count} bands, as a picture has; name a raster of elevations "
                "with one band"
            )
        kind = data.dtypes[0]
        own = pyproj.CRS.from_wkt(data.crs.to_wkt()) if data.crs is not None else None
        band_unit = (data.units[0] or "").strip()
        transform, width, height = data.transform, data.width, data.height
        scale, offset = float(data.scales[0]), float(data.offsets[0])
    if kind in ("uint8", "int8") or "complex" in kind:
        raise InputError(
            f"{say} holds {kind} values, a picture rather than elevations; name the raster of "
            "elevations itself"
        )
    given = own if own is not None else crs_hint
    if given is None:
        raise InputError(f"{say} does not say its CRS; {CRS_REMEDY}, or store it in the file")
    flat = horizontal(given)
    if not (flat.is_projected or flat.is_geographic):
        raise InputError(f"{say} has a CRS of its own ({flat.name}); give it a real one")
    if transform.is_identity or transform.determinant == 0:
        raise InputError(f"{say} has no place on the map; store its georeference")
    unit, fault = _unit(vertical_unit(given), band_unit)
    head = Head(
        source, flat, transform, width, height, unit, fault, heights_from(given),
        "int" in kind, scale, offset,
    )  # fmt: skip
    return _in_half_turn(head)


def _unit(by_crs: str, by_band: str) -> tuple[str, str]:
    """Settle the unit of elevations from both places a file may say it.

    Returns
    -------
    unit, fault : str
        One of them empty; both where the file says nothing.
    """
    said = {place: name for place, name in (("CRS", by_crs), ("band", by_band)) if name}
    units = {unit_of_name(name) for name in said.values()}
    if len(units) == 1 and "" not in units:
        return units.pop(), ""
    if units <= {"ft", "us-ft"} and units:  # a band that says ft need not mean the other foot
        return unit_of_name(by_crs), ""
    words = " and ".join(f'"{name}" in its {place}' for place, name in said.items())
    return "", f"says its unit of elevations is {words}" if words else ""


def _in_half_turn(head: Head) -> Head:
    """Count longitudes from -180 where a raster counts them from 0 to 360."""
    if not head.crs.is_geographic or head.outline().bounds[0] < 180:
        return head
    t = head.transform
    return replace(head, transform=Affine(t.a, t.b, t.c - 360.0, t.d, t.e, t.f))
