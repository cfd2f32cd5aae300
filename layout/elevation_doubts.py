"""Elevations that look wrong for the place, and what could have made them so."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio.features import rasterize
from rasterio.transform import Affine
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.grid import Dem
from layout.unit_names import UNIT_WORDS
from layout.units import FOOT_M, US_SURVEY_FOOT_M, Units

UNIT_M = {
    "m": 1.0,
    "dm": 0.1,
    "cm": 0.01,
    "mm": 0.001,
    "ft": FOOT_M,
    "us-ft": US_SURVEY_FOOT_M,
}
LOWEST_M, HIGHEST_M = -430.0, 8900.0  # no ground lies beyond
COARSE_M = 5.5  # ours: coarser cells hide short pitches
STEEP_STAND_PCT = 50.0  # a median slope above this looks like another unit read as metres
NO_GROUND_PCT = 100.0  # ours: no tractor works a stand so steep, whatever the file says
ROUGH = 2.5  # treetops: cell to cell so many times as steep as over 30 m
ROUGH_REACH_M = 15.0
STEP_M = 0.25  # ours: whole steps above this hide a grade of two points over 10 m
SPIKE_M = 10.0
BAND_ROWS = 512
MOST_SLOPES = 2_000_000

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Said:
    """What file and settings say of a grid of elevations.

    Parameters
    ----------
    name, where : str
        The file, and the key that names it.
    unit : str
        Unit of the elevations by the file, empty where it does not settle it.
    unit_fault : str
        Why it does not though it says something.
    unit_set : str or None
        Unit by the settings.
    map_in_feet : bool
        The file's map coordinates are in feet.
    cell_m : float
        Longer side of the file's cells, metres.
    step : float
        The file's values are whole multiples of this; 0 where they are not.
    markers : tuple of float
        Values that usually mean "none", in the file's unit.
    units : {"us", "metric"}
        What messages speak.
    """

    name: str
    where: str
    unit: str
    unit_fault: str
    unit_set: str | None
    map_in_feet: bool
    cell_m: float
    step: float
    markers: tuple[float, ...]
    units: Units

    @property
    def taken(self) -> str:
        """The unit that is taken: the settings', the file's, or metres."""
        return self.unit_set or self.unit or "m"


def in_stand(dem: Dem, stand: BaseGeometry) -> NDArray[np.bool_]:
    """Mark the cells of a grid whose centre lies in the stand."""
    transform = Affine(dem.cell_m, 0.0, dem.west_m, 0.0, -dem.cell_m, dem.north_m)
    return np.asarray(
        rasterize([(stand, 1)], dem.shape, transform=transform, dtype="uint8"), dtype=bool
    )


def as_units(
    low: float, high: float, steep_pct: float, taken: str, *, whole: bool = False
) -> list[str]:
    """Say what elevations would be in each unit that makes sense of them.

    Parts of a metre are named only where feet make no sense or the numbers are whole.

    Parameters
    ----------
    low, high : float
        Elevations as taken, metres.
    steep_pct : float
        Slope of the middle of the stand as taken, percent; 0 where not known.
    taken : str
        The unit taken; it makes sense of more slope than the others.
    whole : bool
        The numbers are whole.

    Returns
    -------
    list of str
        Like ``"in ft at 91 to 103 m, half of it steeper than 21 %"``.
    """
    said: dict[str, str] = {}
    for unit in ("m", "ft", "dm", "cm", "mm"):
        factor = UNIT_M[unit] / UNIT_M[taken]
        part = unit not in ("m", "ft")
        if unit != taken and (abs(factor - 1) < 1e-5 or (part and "ft" in said and not whole)):
            continue
        lowest, highest, steep = low * factor, high * factor, steep_pct * factor
        most = NO_GROUND_PCT if unit == taken else STEEP_STAND_PCT
        if lowest < LOWEST_M or highest > HIGHEST_M or steep > most or 0 < steep < 1:
            continue
        slope = f", half of it steeper than {steep:.0f} %" if steep_pct else ""
        said[unit] = f"in {unit} at {lowest:.0f} to {highest:.0f} m{slope}"
    return list(said.values())


def doubts(dem: Dem, said: Said, stand: BaseGeometry) -> list[Finding]:
    """Say where the elevations of the stand look wrong.

    Parameters
    ----------
    dem : Dem
        Metres, NaN for gaps.
    said : Said
    stand : geometry

    Returns
    -------
    list of Finding
    """
    crop, inside = cropped(dem, stand, ROUGH_REACH_M + 2 * dem.cell_m)
    known = inside & np.isfinite(crop.z)
    found = _coarse(said)
    if not known.any():
        return found
    low = float(np.min(crop.z, where=known, initial=np.inf))
    high = float(np.max(crop.z, where=known, initial=-np.inf))
    if low == high:
        found.append(
            _doubt(
                "dem_flat",
                f"{said.name} holds the one elevation {low:g} m all over the stand, and no ground "
                "is that flat. Is it a mask or a class map?",
                low,
                "m",
            )
        )
        return found
    found += _steps(said)
    steep = _median_slope(crop, inside, 1)
    if dem.cell_m < ROUGH_REACH_M / 3:
        over_30 = _median_slope(crop, inside, round(ROUGH_REACH_M / dem.cell_m))
        if steep > STEEP_STAND_PCT and steep > ROUGH * over_30:
            found.append(
                _doubt(
                    "dem_surface",
                    f"{said.name} is as rough as treetops: half the stand is steeper than "
                    f"{steep:.0f} % from cell to cell, and than {over_30:.0f} % over 30 m. Name "
                    "the raster of the bare ground, not of the surface.",
                    steep,
                    "%",
                )
            )
            return [*found, *_unit_doubts(said, low, high, over_30)]
    return [*found, *_spikes(crop, inside, said), *_unit_doubts(said, low, high, steep)]


def cropped(dem: Dem, shape: BaseGeometry, margin_m: float) -> tuple[Dem, NDArray[np.bool_]]:
    """Cut a grid to a shape and some ground around; mark the cells in the shape."""
    west, south, east, north = shape.bounds
    rows, cols = dem.shape

    def span(first_m: float, last_m: float, most: int) -> tuple[int, int]:
        low = int(np.floor((first_m - margin_m) / dem.cell_m))
        high = int(np.ceil((last_m + margin_m) / dem.cell_m)) + 1
        return max(low, 0), max(min(high, most), 0)

    r0, r1 = span(dem.north_m - north, dem.north_m - south, rows)
    c0, c1 = span(west - dem.west_m, east - dem.west_m, cols)
    crop = Dem(
        dem.z[r0:r1, c0:c1],
        dem.west_m + c0 * dem.cell_m,
        dem.north_m - r0 * dem.cell_m,
        dem.cell_m,
    )
    return crop, in_stand(crop, shape)


def _doubt(code: str, message: str, value: float, unit: str, limit: float | None = None) -> Finding:
    """Make a caution about the raster."""
    return Finding(code, "caution", message, "ground", "dem", value=value, limit=limit, unit=unit)


def _coarse(said: Said) -> list[Finding]:
    """Tell of cells that hide short pitches."""
    if said.cell_m <= COARSE_M:
        return []
    message = (
        f"{said.name} has cells of {said.cell_m:.1f} m, so steep pitches shorter than that are "
        "not seen; 1 m cells are best."
    )
    return [_doubt("dem_coarse", message, said.cell_m, "m", COARSE_M)]


def _steps(said: Said) -> list[Finding]:
    """Tell of elevations in steps too large to judge a grade from."""
    step_m = said.step * UNIT_M[said.taken]
    if step_m <= STEP_M:
        return []
    one = f"whole {UNIT_WORDS[said.taken]}"
    message = (
        f"{said.name} holds {one if said.step == 1 else f'steps of {said.step:g} {said.taken}'}; "
        f"a grade over 10 m cannot be judged from steps of {step_m:.2g} m. Use the raster with "
        "decimals."
    )
    return [_doubt("dem_whole_numbers", message, step_m, "m", STEP_M)]


def _spikes(crop: Dem, inside: NDArray[np.bool_], said: Said) -> list[Finding]:
    """Tell of single cells that stand far above or below all their neighbours."""
    most, spikes = max(SPIKE_M, 3 * crop.cell_m), []
    for top in range(1, crop.shape[0] - 1, BAND_ROWS):
        z = crop.z[top - 1 : top + BAND_ROWS + 1]
        middle = z[1:-1, 1:-1]
        near = (z[:-2, 1:-1], z[2:, 1:-1], z[1:-1, :-2], z[1:-1, 2:])
        far = (middle - np.maximum.reduce(near) > most) | (np.minimum.reduce(near) - middle > most)
        here = np.argwhere(far & inside[top : top + far.shape[0], 1:-1])
        spikes.append(here + np.array([top, 1]))
    cells = np.concatenate([*spikes, np.zeros((0, 2), dtype=int)])
    if not len(cells):
        return []
    x, y = crop.centres()
    place = (float(x[cells[0, 1]]), float(y[cells[0, 0]]))
    return [
        Finding(
            "dem_spikes",
            "caution",
            f"{len(cells):,} cells of {said.name} in the stand stand more than {most:.0f} m above "
            f"or below all their neighbours, the first at {place[0]:.0f}, {place[1]:.0f}; no "
            "ground does. They are kept as they are: look what is there.",
            "ground",
            "dem",
            value=float(len(cells)),
            at=place,
        )
    ]


def _median_slope(crop: Dem, inside: NDArray[np.bool_], reach: int) -> float:
    """Give the middle slope of the stand over twice so many cells, percent."""
    z, span = crop.z, 2 * reach * crop.cell_m
    rows, cols = z.shape
    parts = [np.zeros(0, dtype=np.float32)]
    step = max(z.size // MOST_SLOPES, 1)  # a middle needs no more than a sample
    for top in range(reach, rows - reach, BAND_ROWS):
        stop = min(top + BAND_ROWS, rows - reach)
        if cols <= 2 * reach:
            break
        south = z[top + reach : stop + reach, reach:-reach]
        north = z[top - reach : stop - reach, reach:-reach]
        band = z[top:stop]
        rise = np.hypot(band[:, 2 * reach :] - band[:, : -2 * reach], south - north)
        part = rise[inside[top:stop, reach:-reach]]
        parts.append(part[np.isfinite(part)][::step])
    rises = np.concatenate(parts)
    return 100.0 * float(np.median(rises)) / span if rises.size else 0.0


def _unit_doubts(said: Said, low: float, high: float, steep: float) -> list[Finding]:
    """Say where the unit taken makes no sense of the stand, and which would."""
    known = bool(said.unit_set or said.unit)
    if steep <= (NO_GROUND_PCT if known else STEEP_STAND_PCT):
        if known or not said.map_in_feet:
            return []
        message = (
            f"The elevations of {said.name} may be feet, as its map is: in ft the ground would "
            f"lie at {low * FOOT_M:.0f} to {high * FOOT_M:.0f} m, in m at {low:.0f} to "
            f'{high:.0f} m. Set [ground] elevation_unit = "ft" or "m".'
        )
        return [_unit_doubt("elevation_unit_suspect", message, steep)]
    ways = as_units(low, high, steep, said.taken, whole=said.step > 0)
    how = "is read in" if known else "does not say its unit, and if that is"
    way = f"Where would the ground lie? {'; '.join(ways).capitalize()}. " if ways else ""
    way += (
        "Set [ground] elevation_unit to what is true of the place; if none is, the"
        if ways
        else "No unit makes sense of it: the"
    )
    message = (
        f"{said.name} {how} {said.taken}, half the stand is steeper than {steep:.0f} %. {way} "
        "raster's vertical scale is wrong, or it is not of the bare ground."
    )
    return [_unit_doubt("dem_steep" if known else "elevation_unit_suspect", message, steep)]


def _unit_doubt(code: str, message: str, steep: float) -> Finding:
    """Make a caution about the unit."""
    return Finding(
        code, "caution", message, "ground", "elevation_unit", value=steep,
        limit=STEEP_STAND_PCT if code != "dem_steep" else NO_GROUND_PCT, unit="%",
    )  # fmt: skip
