"""Elevations as they should be: in metres, gaps kept open, doubts told."""

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from layout.elevation_doubts import (
    HIGHEST_M,
    LOWEST_M,
    UNIT_M,
    Said,
    as_units,
    cropped,
    doubts,
)
from layout.errors import InputError
from layout.findings import Finding, Level
from layout.grid import Dem
from layout.speech import speak_area

UNIT_REMEDY = 'set [ground] elevation_unit = "m" or "ft"'
# A gap is bridged up to this: of a few cells, and small against a tractor and the 10 m
# over which grades are measured. All ours.
PIT_CELLS, PIT_M2, LARGEST_PIT_M2 = 4, 4.0, 25.0
# Values that often stand for "none" without a file saying so; 0 only inland.
USUAL_MARKERS = (-9999.0, -32768.0, -32767.0, -99999.0, 3.4028234663852886e38, 0.0)
ALONE_M = 50.0  # a marker lies this far from every real elevation
ALONE_ZERO_M = 20.0
MOST_SINGLE = 5  # gaps told of one by one, the largest first

Floats32 = NDArray[np.float32]


def settled(dem: Dem, said: Said, stand: BaseGeometry) -> tuple[Dem, tuple[Finding, ...]]:
    """Bring a window of cells to metres, bridge pits, tell of gaps and doubts.

    Parameters
    ----------
    dem : Dem
        Metres, NaN where the files have none.
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
        If the numbers are no elevations in the unit taken, or next to nothing of the
        stand has any.
    """
    found: list[Finding] = []
    z = _without_markers(dem.z, said, found)
    z = _without_impossible(z, said, found)
    z = _bridged(z, dem.cell_m, said, found)
    dem = dem.with_z(z)
    return dem, (*found, *_gaps_in_stand(dem, said, stand), *doubts(dem, said, stand))


def unit_findings(said: Said) -> list[Finding]:
    """Say which unit is taken where file and settings do not settle it together.

    Raises
    ------
    InputError
        If the file says two units or one not known, and the settings none.
    """
    if said.unit_fault and not said.unit_set:
        raise InputError(
            f"{said.where} {said.name} {said.unit_fault}; {UNIT_REMEDY}, whichever is true"
        )
    level: Level = "caution"
    if said.unit_fault:
        message = f"{said.name} {said.unit_fault}; {said.unit_set} is used, as [ground] says."
    elif said.unit_set and said.unit and said.unit_set != said.unit:
        message = (
            f"[ground] elevation_unit says {said.unit_set}, {said.name} says {said.unit}; "
            f"{said.unit_set} is used. Take the key out if the file is right."
        )
    elif not (said.unit or said.unit_set):
        level = "unknown"
        message = (
            f"{said.name} does not say the unit of its elevations; metres are taken. "
            'Set [ground] elevation_unit = "m" or "ft" to settle it.'
        )
    else:
        return []
    return [Finding("elevation_unit", level, message, "ground", "elevation_unit")]


def _without_markers(z: Floats32, said: Said, found: list[Finding]) -> Floats32:
    """Turn values that stand for "none" without the file saying so into gaps."""
    for marker in said.markers:
        value = np.float32(marker * UNIT_M[said.taken])
        hit = z == value
        count = int(hit.sum())
        if not count or not _alone(z, hit, float(value), ALONE_M if value else ALONE_ZERO_M):
            continue
        z = np.where(hit, np.float32(np.nan), z)
        found.append(
            Finding(
                "dem_undeclared_gaps",
                "caution",
                f"{said.name} holds {marker:g} in {count:,} cells, far from all other elevations, "
                "and does not say that it stands for none; they are taken as gaps.",
                "ground",
                "dem",
                value=float(count),
            )
        )
    return z


def _alone(z: Floats32, hit: NDArray[np.bool_], value: float, reach_m: float) -> bool:
    """Say whether no other elevation lies near a value, and there are others."""
    others = z[~hit & np.isfinite(z)]
    return bool(others.size) and float(np.abs(others - np.float32(value)).min()) > reach_m


def _without_impossible(z: Floats32, said: Said, found: list[Finding]) -> Floats32:
    """Turn elevations no ground has into gaps, and say so."""
    wrong = (z < LOWEST_M) | (z > HIGHEST_M)
    count = int(wrong.sum())
    if not count:
        return z
    known = np.isfinite(z)
    if 2 * count > int(known.sum()):
        low, high = (float(v) for v in np.percentile(z[known], (1, 99)))
        ways = "; ".join(as_units(low, high, 0.0, said.taken))
        way = (
            f"{ways.capitalize()} it could: set [ground] elevation_unit if that is true of the "
            "place, otherwise get another raster"
        )
        raise InputError(
            f"{said.where} {said.name} read in {said.taken} puts the ground at {low:,.0f} to "
            f"{high:,.0f} m, where none lies. {way if ways else 'Name a raster of elevations'}"
        )
    found.append(
        Finding(
            "dem_impossible",
            "caution",
            f"{said.name} has {count:,} cells with elevations no ground has "
            f"(like {float(z[wrong][0]):g} m); they are taken as gaps.",
            "ground",
            "dem",
            value=float(count),
        )
    )
    return np.where(wrong, np.float32(np.nan), z)


def largest_pit_m2(cell_m: float) -> float:
    """Give the largest gap that is bridged, square metres, for a cell size."""
    return min(max(PIT_CELLS * cell_m**2, PIT_M2), LARGEST_PIT_M2)


def _bridged(z: Floats32, cell_m: float, said: Said, found: list[Finding]) -> Floats32:
    """Bridge gaps of a few cells by the mean of their neighbours; larger ones stay."""
    gap = np.isnan(z)
    most_m2 = largest_pit_m2(cell_m)
    if not gap.any() or gap.all() or cell_m**2 > most_m2:
        return z
    labels, _ = ndimage.label(gap, structure=np.ones((3, 3), dtype=int))
    rows, cols = np.nonzero(gap)
    number = labels[rows, cols]
    small = np.bincount(number) * cell_m**2 <= most_m2 * (1 + 1e-9)
    small[0] = False
    edge = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    small[edge] = False
    del labels  # as large as the grid
    rows, cols = rows[small[number]], cols[small[number]]
    if not rows.size:
        return z
    out = z.copy()
    left = np.ones(rows.size, dtype=bool)
    while left.any():  # from the rim inward; every pit has a rim, so each round closes some
        r, c = rows[left], cols[left]
        near = np.stack(
            [out[r + dr, c + dc] for dr in (-1, 0, 1) for dc in (-1, 0, 1) if dr or dc]
        ).astype(np.float64)
        known = np.isfinite(near)
        count = known.sum(axis=0)
        total = np.where(known, near, 0.0).sum(axis=0)
        now = count > 0
        out[r[now], c[now]] = total[now] / count[now]
        left[np.nonzero(left)[0][now]] = False
    found.append(
        Finding(
            "dem_pits_bridged",
            "ok",
            f"{int(small.sum())} gaps of at most {speak_area(most_m2, said.units)} in {said.name} "
            "were bridged from their neighbours.",
            "ground",
            "dem",
            value=float(rows.size),
            limit=most_m2,
            unit="",
        )
    )
    return out


def _gaps_in_stand(dem: Dem, said: Said, stand: BaseGeometry) -> list[Finding]:
    """Tell of gaps inside the stand, the largest one by one; they are closed, never filled."""
    crop, inside = cropped(dem, stand, dem.cell_m)
    gap = inside & np.isnan(crop.z)
    cells = int(gap.sum())
    if not cells:
        return []
    share = 100.0 * cells / float(inside.sum())
    if share > 90:
        raise InputError(
            f"{said.where} {said.name} has no elevations in {share:.0f} % of the stand; "
            "get another raster"
        )
    labels, _ = ndimage.label(gap, structure=np.ones((3, 3), dtype=int))
    sizes = np.bincount(labels.ravel())[1:]
    order = np.argsort(-sizes, kind="stable")
    x, y = crop.centres()
    found = []
    for number in order[:MOST_SINGLE]:
        rows, cols = np.nonzero(labels == number + 1)
        middle = int(np.argmin((rows - rows.mean()) ** 2 + (cols - cols.mean()) ** 2))
        place = (float(x[cols[middle]]), float(y[rows[middle]]))
        where = f"around {place[0]:.0f}, {place[1]:.0f}"
        found.append(_gap(int(sizes[number]), float(inside.sum()), dem, said, where, place))
    rest = order[MOST_SINGLE:]
    if rest.size:
        where = f"in {rest.size} smaller gaps"
        found.append(_gap(int(sizes[rest].sum()), float(inside.sum()), dem, said, where, None))
    return found


def _gap(
    cells: int, all_cells: float, dem: Dem, said: Said, where: str, at: tuple[float, float] | None
) -> Finding:
    """Tell of one gap, or of what is left of them."""
    area_m2 = cells * dem.cell_m**2
    share = f"{100 * cells / all_cells:.1f}" if cells / all_cells >= 5e-4 else "under 0.1"
    return Finding(
        "dem_gaps",
        "caution",
        f"{said.name} has no elevations on {speak_area(area_m2, said.units)} of the stand "
        f"({share} %) {where}; that ground is closed to machines, not guessed.",
        "ground",
        "dem",
        value=area_m2,
        unit="m2",
        at=at,
    )
