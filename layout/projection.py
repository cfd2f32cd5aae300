"""One projected metric CRS for everything, and how far a change into it can be off."""

import os
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import pyproj.network
import rasterio
from numpy.typing import NDArray
from pyproj.aoi import AreaOfInterest, AreaOfUse
from pyproj.database import query_utm_crs_info
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from layout.errors import InputError
from layout.unit_names import unit_of_name

Floats = NDArray[np.float64]

WGS84 = pyproj.CRS.from_epsg(4326)
KNOWN_SHIFT_M = 2.0  # among satellite-age datums, without a grid; ours, from plate motion
MODERN = ("WGS 84", "NAD83", "ITRF", "IGS", "ETRS89", "ETRF", "RGF93", "GDA", "NZGD2000", "SIRGAS")
SCALE_NOISE = 0.004  # zones of UTM and state grids stay within 0.001
# What to do about a file without a CRS; a command that writes area.toml says it its own way.
CRS_REMEDY = 'add crs = "EPSG:..." under [area]'
QUIET: dict[str, str | int] = {
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GDAL_HTTP_CONNECTTIMEOUT": "1",
    "GDAL_HTTP_TIMEOUT": "1",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",  # no file may lead the reader onto the network
    "GDAL_CACHEMAX": 64_000_000,  # bytes; rows are read once, in order
    "OGR_GEOJSON_MAX_OBJ_SIZE": "100",
}


@dataclass(frozen=True, slots=True)
class Change:
    """A way from one CRS to another.

    Parameters
    ----------
    transformer : Transformer or None
        None where both are the same.
    accuracy_m : float
        How far off the change may be, metres; 0 within one datum.
    missing_grid : str
        A grid that would have done better, empty where none is missing.
    """

    transformer: pyproj.Transformer | None
    accuracy_m: float
    missing_grid: str = ""

    def __call__(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Move coordinates, x before y on both sides."""
        if self.transformer is None:
            return x, y
        moved = self.transformer.transform(x, y, direction=TransformDirection.FORWARD)
        return np.asarray(moved[0], dtype=np.float64), np.asarray(moved[1], dtype=np.float64)


def set_readers() -> None:
    """Set the two GDALs of this process alike: no network, no code inside files."""
    pyogrio.set_gdal_config_options(QUIET)
    # PROJ_NETWORK would fetch grids unasked. (Documented there, though not listed as exported.)
    pyproj.network.set_network_enabled(active=False)  # type: ignore[attr-defined]


def reader() -> rasterio.Env:
    """Give the raster reader's surroundings, set like the vector reader's."""
    return rasterio.Env(**QUIET)


@contextmanager
def own_units() -> Iterator[None]:
    """Let the raster reader find its own table of units while it opens a file.

    For a grid in other units than metres it asks a library that does not know where
    the reader keeps its tables, and complains on the screen. The map libraries have a
    table each, so the name stands only that long.
    """
    own = Path(rasterio.__file__).parent / "proj_data"  # none where it uses the system's
    if not own.is_dir() or "PROJ_DATA" in os.environ:
        yield
        return
    os.environ["PROJ_DATA"] = str(own)
    try:
        yield
    finally:
        os.environ.pop("PROJ_DATA", None)


def used_in(crs: pyproj.CRS) -> AreaOfUse | None:
    """Give the ground a CRS is made for, degrees; a CRS read from a file often does not say.

    Parameters
    ----------
    crs : CRS

    Returns
    -------
    AreaOfUse or None
        None where that is not known.
    """
    area = crs.area_of_use
    if area is None and (code := crs.to_epsg()) is not None:
        area = pyproj.CRS.from_epsg(code).area_of_use
    return None if area is None else AreaOfUse(*area.bounds, area.name)


def crs_named(text: str, where: str) -> pyproj.CRS:
    """Read a CRS the user named.

    Raises
    ------
    InputError
        If no such CRS is known.
    """
    try:
        return pyproj.CRS.from_user_input(text)
    except CRSError:
        raise InputError(
            f'{where} "{text}" is no CRS known here; write it like "EPSG:26918"'
        ) from None


def horizontal(crs: pyproj.CRS) -> pyproj.CRS:
    """Give the map part of a compound or bound CRS."""
    if crs.is_bound and crs.source_crs is not None:
        return horizontal(crs.source_crs)
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    return crs.to_2d() if len(crs.axis_info) > 2 else crs


def vertical_unit(crs: pyproj.CRS) -> str:
    """Give the unit of heights as a CRS names it, empty where it has none."""
    names = [
        axis.unit_name
        for part in (crs.sub_crs_list if crs.is_compound else [crs])
        for axis in part.axis_info
        if axis.direction == "up"
    ]
    return names[0] if names else ""


def heights_from(crs: pyproj.CRS) -> str:
    """Name what the heights of a CRS count from, empty where it does not say."""
    parts = crs.sub_crs_list if crs.is_compound else []
    return next((part.name.split(" height")[0] for part in parts if part.is_vertical), "")


def is_metric_grid(crs: pyproj.CRS) -> bool:
    """Say whether a CRS is projected and in metres."""
    return crs.is_projected and all(
        unit_of_name(axis.unit_name) == "m" for axis in crs.axis_info[:2]
    )


def is_true_to_scale(crs: pyproj.CRS, lon: float, lat: float) -> bool:
    """Say whether a metre of the map is a metre of the ground at a place, near enough.

    Web maps (EPSG:3857) and continental grids are in metres too, and are off by
    a third at 45 degrees north, or by a hundredth.
    """
    factors = pyproj.Proj(crs).get_factors(lon, lat)
    return all(
        abs(scale - 1) <= SCALE_NOISE
        for scale in (factors.meridional_scale, factors.parallel_scale)
    )


def metric_grid_for(
    crs: pyproj.CRS, bounds: tuple[float, float, float, float], where: str
) -> pyproj.CRS:
    """Choose the one CRS of an area from that of its elevations.

    Parameters
    ----------
    crs : CRS
        Map CRS of the elevations.
    bounds : tuple of float
        West, south, east, north of them.
    where : str
        Start of a message.

    Returns
    -------
    CRS
        `crs` itself where its metres are metres on the ground, otherwise the UTM
        zone of the middle.
    """
    geodetic = crs.geodetic_crs
    if geodetic is None:
        raise InputError(f"{where} its CRS ({crs.name}) has no place on the Earth")
    west, south, east, north = bounds
    x, y = np.array([(west + east) / 2]), np.array([(south + north) / 2])
    lon, lat = (float(v[0]) for v in change(crs, geodetic, bounds, where)(x, y))
    if not (np.isfinite([lon, lat]).all() and abs(lat) <= 90):
        raise InputError(f"{where} it lies outside its CRS ({crs.name}); is it the right one?")
    if is_metric_grid(crs) and is_true_to_scale(crs, lon, lat):
        return crs
    return utm_for(crs, lon, lat)


def utm_for(crs: pyproj.CRS, lon: float, lat: float) -> pyproj.CRS:
    """Choose the UTM zone of a place, on the datum of `crs` where that has one.

    Parameters
    ----------
    crs : CRS
        Whose datum to stay on.
    lon, lat : float
        The place, degrees.

    Returns
    -------
    CRS
    """
    place = AreaOfInterest(lon, lat, lon, lat)
    geodetic = crs.geodetic_crs
    for datum in ([geodetic.name] if geodetic is not None else []) + ["WGS 84"]:
        found = query_utm_crs_info(datum_name=datum, area_of_interest=place)
        if found:
            return pyproj.CRS.from_epsg(int(found[0].code))
    raise InputError(
        f"no UTM zone holds longitude {lon:.3f}, latitude {lat:.3f}; are the coordinates right?"
    )


def change(
    source: pyproj.CRS, target: pyproj.CRS, bounds: tuple[float, float, float, float], where: str
) -> Change:
    """Find the way from one CRS to another, and how far off it may be.

    Parameters
    ----------
    source, target : CRS
        From and to.
    bounds : tuple of float
        West, south, east, north of the data, in the source CRS.
    where : str
        Start of a message: the key and file.

    Returns
    -------
    Change

    Raises
    ------
    InputError
        If the datum shift is a guess (no grid at hand) between datums that lie
        tens of metres apart.
    """
    flat, goal = horizontal(source), horizontal(target)
    if flat.equals(goal, ignore_axis_order=True):
        return Change(None, 0.0)
    with warnings.catch_warnings():
        # A missing grid is judged below, and told of in our words.
        warnings.filterwarnings("ignore", message="Best transformation is not available")
        group = TransformerGroup(
            flat,
            goal,
            always_xy=True,
            area_of_interest=_degrees(flat, bounds),  # type: ignore[arg-type]
        )
    if not group.transformers:
        raise InputError(f"{where}: no way is known from {flat.name} to {goal.name}")
    best = group.transformers[0]
    missing = ""
    if not group.best_available and group.unavailable_operations:
        grids = list(group.unavailable_operations[0].grids)
        missing = grids[0].short_name if grids else ""
    guess = best.accuracy < 0 or "ballpark" in best.description.lower()
    if _modern(flat) and _modern(goal):
        accuracy = 0.0 if best.accuracy == 0 else min(KNOWN_SHIFT_M, abs(best.accuracy) or 0.0)
        return Change(best, KNOWN_SHIFT_M if guess else accuracy)
    if guess:
        what = f"convert the file to {goal.to_string()}"
        if _modern(flat):  # the elevations are what is old
            what = f"convert the elevations of [ground] dem to {_datum(flat)}"
        fetch = f', or fetch it: "python -m pyproj sync --file {missing}"' if missing else ""
        raise InputError(
            f"{where}: the shift from {_datum(flat)} to {_datum(goal)} needs the grid "
            f"{missing or 'of that datum'}, which is not installed, and may be tens of metres; "
            f"{what} with a program that has the grid{fetch}"
        )
    return Change(best, float(best.accuracy), missing)


def _datum(crs: pyproj.CRS) -> str:
    """Name the datum a CRS stands on."""
    return crs.geodetic_crs.name if crs.geodetic_crs is not None else crs.name


def _modern(crs: pyproj.CRS) -> bool:
    """Say whether a CRS stands on a satellite-age datum."""
    return _datum(crs).startswith(MODERN)


def _degrees(crs: pyproj.CRS, bounds: tuple[float, float, float, float]) -> AreaOfInterest | None:
    """Give bounds in degrees on whatever datum, good enough to choose an operation."""
    if crs.geodetic_crs is None:
        return None
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Best transformation is not available")
        to_degrees = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)
    west, south, east, north = to_degrees.transform_bounds(*bounds)
    if not np.isfinite([west, south, east, north]).all():
        return None
    return AreaOfInterest(max(west, -180.0), max(south, -90.0), min(east, 180.0), min(north, 90.0))


def place_of(folder: Path, text: str, where: str) -> Path:
    """Find a file a key names, beside area.toml or at its full path.

    Raises
    ------
    InputError
        If the key holds a web address, or there is no such file.
    """
    if "://" in text:
        raise InputError(f'{where} "{text}" is a web address; download the file and name it here')
    path = Path(text)
    full = path if path.is_absolute() else folder / path
    if not full.is_file():
        kind = "is a folder; name the file in it" if full.is_dir() else "no such file"
        near = "" if path.is_absolute() else f" in {folder}"
        raise InputError(f'{where} "{text}": {kind}{near if kind == "no such file" else ""}')
    return full
