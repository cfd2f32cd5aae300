"""Elevations as they should be: in metres, gaps kept open, doubts told."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio.features import rasterize
from rasterio.transform import Affine
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.grid import Dem
from layout.units import FOOT_M, HECTARE_M2, US_SURVEY_FOOT_M

UNIT_M = {"m": 1.0, "ft": FOOT_M, "us-ft": US_SURVEY_FOOT_M}
COARSE_M = 5.5  # ours: coarser cells hide short pitches
LOWEST_M, HIGHEST_M = -430.0, 8900.0  # no ground lies beyond; such cells are gaps
PIT_CELLS = 4  # gaps of at most this many cells are bridged
STEEP_STAND_PCT = 50.0  # a median slope above this looks like feet read as metres

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Said:
    """What file and settings say of a grid of elevations.

    Parameters
    ----------
    name, where : str
        The file, and the key that names it.
    unit, unit_set : str
        Unit of the elevations by the file (empty where silent) and by the settings.
    map_in_feet : bool
        The file's map coordinates are in feet.
    cell_m : float
        Cell size of the file, metres.
    """

    name: str
    where: str
    unit: str
    unit_set: str | None
    map_in_feet: bool
    cell_m: float


def settled(dem: Dem, said: Said, stand: BaseGeometry) -> tuple[Dem, tuple[Finding, ...]]:
    """Bring a window of cells to metres, bridge pits, tell of gaps and doubts.

    Parameters
    ----------
    dem : Dem
        Values as the file holds them, NaN where it has none.
    said : Said
        What is known of them.
    stand : geometry
        Gaps inside it are told of.

    Returns
    -------
    dem : Dem
    findings : tuple of Finding

    Raises
    ------
    InputError
        If next to nothing of the stand has elevations.
    """
    z, found = _in_metres(dem.z, said)
    z = _without_impossible(z, said, found)
    z = _bridged(z, said, found)
    dem = dem.with_z(z)
    return dem, (*found, *_gaps_in_stand(dem, said, stand), *_suspicions(dem, said, stand))


def _in_metres(z: Floats32, said: Said) -> tuple[Floats32, list[Finding]]:
    """Bring elevations to metres, from what the raster or the settings say."""
    found = []
    unit = said.unit_set or said.unit
    if said.unit_set and said.unit and said.unit_set != said.unit:
        found.append(
            Finding(
                "elevation_unit",
                "caution",
                f"[ground] elevation_unit says {said.unit_set}, {said.name} says "
                f"{said.unit}; {said.unit_set} is used. Take the key out if the file is right.",
                "ground",
                "elevation_unit",
            )
        )
    if not unit:
        found.append(
            Finding(
                "elevation_unit",
                "unknown",
                f"{said.name} does not say the unit of its elevations; metres are taken. "
                'Set [ground] elevation_unit = "m" or "ft" to settle it.',
                "ground",
                "elevation_unit",
            )
        )
    factor = UNIT_M[unit or "m"]
    if factor == 1.0:
        return z, found
    return np.asarray(z.astype(np.float64) * factor, dtype=np.float32), found


def _without_impossible(z: Floats32, said: Said, found: list[Finding]) -> Floats32:
    """Turn elevations no ground has into gaps, and say so."""
    wrong = (z < LOWEST_M) | (z > HIGHEST_M)
    if not wrong.any():
        return z
    found.append(
        Finding(
            "dem_impossible",
            "caution",
            f"{said.name} has {int(wrong.sum()):,} cells with elevations no ground has "
            f"(like {float(z[wrong][0]):g} m); they are taken as gaps.",
            "ground",
            "dem",
            value=float(wrong.sum()),
        )
    )
    return np.where(wrong, np.float32(np.nan), z)


def _bridged(z: Floats32, said: Said, found: list[Finding]) -> Floats32:
    """Bridge gaps of a few cells by the mean of their neighbours; larger ones stay."""
    gap = np.isnan(z)
    if not gap.any() or gap.all():
        return z
    labels, _ = ndimage.label(gap, structure=np.ones((3, 3), dtype=int))
    sizes = np.bincount(labels.ravel())
    small = sizes <= PIT_CELLS
    small[0] = False
    edge = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    small[edge] = False
    bridge = small[labels]
    if not bridge.any():
        return z
    out = z.astype(np.float64)
    while np.isnan(out[bridge]).any():  # a pit of four cells closes in two rounds at most
        known = np.isfinite(out)
        near = np.ones((3, 3))
        total = ndimage.convolve(np.where(known, out, 0.0), near, mode="constant")
        count = ndimage.convolve(known.astype(float), near, mode="constant")
        now = bridge & ~known & (count > 0)
        out[now] = total[now] / count[now]
    found.append(
        Finding(
            "dem_pits_bridged",
            "ok",
            f"{int(small.sum())} gaps of at most {PIT_CELLS} cells in {said.name} were "
            "bridged from their neighbours.",
            "ground",
            "dem",
            value=float(bridge.sum()),
        )
    )
    return np.ascontiguousarray(out, dtype=np.float32)


def _inside(dem: Dem, shape: BaseGeometry) -> NDArray[np.bool_]:
    """Mark the cells whose centre lies in a shape."""
    transform = Affine(dem.cell_m, 0.0, dem.west_m, 0.0, -dem.cell_m, dem.north_m)
    return np.asarray(
        rasterize([(shape, 1)], dem.shape, transform=transform, dtype="uint8"), dtype=bool
    )


def _gaps_in_stand(dem: Dem, said: Said, stand: BaseGeometry) -> list[Finding]:
    """Tell of gaps inside the stand; they are closed ground, never filled."""
    inside = _inside(dem, stand)
    gap = inside & np.isnan(dem.z)
    if not gap.any():
        return []
    area_m2 = float(gap.sum()) * dem.cell_m**2
    share = 100.0 * float(gap.sum()) / float(inside.sum())
    if share > 90:
        raise InputError(
            f"{said.where} {said.name} has no elevations in {share:.0f} % of the stand; "
            "get another raster"
        )
    rows, cols = np.nonzero(gap)
    x, y = dem.centres()
    return [
        Finding(
            "dem_gaps",
            "caution",
            f"{said.name} has no elevations on {area_m2 / HECTARE_M2:.2f} ha of the stand "
            f"({share:.1f} %); that ground is closed to machines, not guessed.",
            "ground",
            "dem",
            value=area_m2,
            unit="m2",
            at=(float(x[cols].mean()), float(y[rows].mean())),
        )
    ]


def _suspicions(dem: Dem, said: Said, stand: BaseGeometry) -> list[Finding]:
    """Say where the numbers look wrong for the place."""
    found = []
    if said.cell_m > COARSE_M:
        found.append(
            Finding(
                "dem_coarse",
                "caution",
                f"{said.name} has cells of {said.cell_m:.1f} m, so steep pitches shorter than "
                "that are not seen; 1 m cells are best.",
                "ground",
                "dem",
                value=said.cell_m,
                limit=COARSE_M,
                unit="m",
            )
        )
    if said.unit_set or said.unit:
        return found
    gz = np.gradient(dem.z.astype(np.float64), dem.cell_m)
    slope = 100 * np.hypot(gz[0], gz[1])[_inside(dem, stand)]
    slope = slope[np.isfinite(slope)]
    steep = float(np.median(slope)) if slope.size else 0.0
    if steep > STEEP_STAND_PCT or said.map_in_feet:
        why = (
            f"half the stand would be steeper than {steep:.0f} %"
            if steep > STEEP_STAND_PCT
            else "the map itself is in feet"
        )
        found.append(
            Finding(
                "elevation_unit_suspect",
                "caution",
                f"The elevations of {said.name} may be feet: {why}. Set [ground] "
                'elevation_unit = "ft" if so, "m" if not.',
                "ground",
                "elevation_unit",
                value=steep,
                unit="%",
            )
        )
    return found
