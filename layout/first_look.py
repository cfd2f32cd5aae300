"""The files of a new area, looked at before its area.toml is written."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import ParamSpec, TypeVar

import pyproj

from layout import read_features as features
from layout import read_land as land
from layout.elevations import UNIT_REMEDY
from layout.errors import InputError, InputFaults
from layout.findings import Finding, ordered
from layout.projection import CRS_REMEDY, crs_named, place_of, set_readers
from layout.raster_window import TILES_REMEDY, for_stand
from layout.read_dem import open_dem, read_window
from layout.read_stand import stand_of
from layout.read_trees import TreeFile, read_trees
from layout.read_vector import Layer, read_layer, split_name
from layout.shape_kinds import Wanted
from layout.tree_columns import LIST_REMEDY
from layout.tree_places import Ground
from layout.units import Units

T = TypeVar("T")
P = ParamSpec("P")
Found = tuple[Finding, ...]

MARGIN_M = 60.0  # of elevations around the stand, enough to see what they are
UNIT_DOUBTS = ("elevation_unit_suspect", "elevation_unit")  # the more telling first
# What readers advise to write in area.toml, and the option that writes it.
OPTIONS = {
    CRS_REMEDY: "add --crs EPSG:...",
    LIST_REMEDY: "--list marked",
    TILES_REMEDY: "give --dem for each",
    UNIT_REMEDY: "give --elevation-unit m or ft",
}
# Optional layers by option: what they must hold, and who takes them.
TAKERS: dict[str, tuple[Wanted, Callable[[Layer], tuple[object, Found]]]] = {
    "--water": ("any", features.water_features),
    "--property-line": ("any", land.property_shape),
    "--access-road": ("line", features.road_lines),
    "--hazards": ("any", features.hazard_features),
}


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What the files of a new area hold.

    Parameters
    ----------
    crs : CRS
        The one CRS of the area.
    cell_m : float
        Side of an elevation cell, metres.
    unit : str
        Unit of the elevations as the raster says it, ``m``, ``ft`` or ``us-ft``;
        empty where it does not say.
    doubt : Finding or None
        Why the unit is in doubt; None where it is not.
    stand_m2 : float
        Area of the stand, square metres.
    trees, marked : int
        Trees listed, and those of them that are marked to cut.
    findings : tuple of Finding
        What was taken or doubted on the way, the unit apart.
    """

    crs: pyproj.CRS
    cell_m: float
    unit: str
    doubt: Finding | None
    stand_m2: float
    trees: int
    marked: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Ways:
    """How the files are to be taken, where they do not say.

    Parameters
    ----------
    crs : str
        CRS of files without one, empty for none.
    elevation_unit : str
        ``m``, ``ft``, ``us-ft``, or empty for what the raster says.
    full_list : bool
        Whether the tree list holds every stem, or the marked ones only.
    position_error_m : float
        Error of the tree coordinates, metres.
    units : {"us", "metric"}
        What messages speak.
    offline : bool
        Refuse web addresses.
    """

    crs: str
    elevation_unit: str
    full_list: bool
    position_error_m: float
    units: Units = "metric"
    offline: bool = False


def look(folder: Path, dem: tuple[str, ...], files: dict[str, str], ways: Ways) -> FirstLook:
    """Read the files of a new area as ``check`` will, and say what they hold.

    Parameters
    ----------
    folder : Path
        Where area.toml will stand.
    dem : tuple of str
        The elevation raster, its tiles, or web addresses of them.
    files : dict of str to str
        Other files by option (``--stand``, which must be there, ``--trees`` and
        those of ``TAKERS``), named from `folder` or in full.
    ways : Ways
        How to take them.

    Returns
    -------
    FirstLook

    Raises
    ------
    InputError, InputFaults
        One line a fault, each naming the option: what, where, what to do.
    """
    set_readers()
    seen = _Seen()
    hint = seen.tried(crs_named, ways.crs, "--crs:") if ways.crs else None
    if seen.faults:
        raise InputFaults(seen.faults)  # every file may hang on it
    raster = seen.tried(open_dem, dem, "--dem:", folder, hint, offline=ways.offline)
    if raster is None:  # without its CRS no layer can be judged; a missing file still can
        for option, text in files.items():
            seen.tried(place_of, folder, split_name(text)[0], f"{option}:")
        raise InputFaults(list(dict.fromkeys(seen.faults)))
    crs = raster.target

    def layer(option: str, wanted: Wanted) -> Layer:
        return read_layer(folder, files[option], f"{option}:", wanted, crs, hint)

    def taken(option: str, wanted: Wanted, take: Callable[[Layer], tuple[T, Found]]) -> T:
        value, notes = take(layer(option, wanted))
        seen.found += notes
        return value

    take_stand = partial(stand_of, where="--stand:")
    stand = seen.tried(taken, "--stand", "polygon", take_stand)
    nearer = seen.tried(for_stand, raster, stand) if stand is not None else None
    if nearer is not None and nearer is not raster:  # the stand chooses the zone
        raster, crs = nearer, nearer.target
        seen.found.clear()
        stand = seen.tried(taken, "--stand", "polygon", take_stand)
    read = trees = None
    if stand is not None:
        unit = ways.elevation_unit or None
        read = seen.tried(read_window, raster, stand, MARGIN_M, stand, unit, ways.units)
    if "--trees" in files:
        file = TreeFile(
            folder, files["--trees"], "--trees:", ways.full_list, ways.position_error_m,
            ground=Ground(raster.crs, stand) if stand is not None else None,
        )  # fmt: skip
        trees = seen.tried(read_trees, file, crs, hint)
    for option, (wanted, take) in TAKERS.items():
        if option in files:
            seen.tried(taken, option, wanted, take)
    if seen.faults:
        raise InputFaults(list(dict.fromkeys(seen.faults)))
    assert stand is not None  # a missing one is a fault
    assert read is not None
    cells, notes = read
    seen.found += [note for note in notes if note.code not in UNIT_DOUBTS]
    seen.found += trees[1] if trees else ()
    return FirstLook(
        crs=crs,
        cell_m=cells.cell_m,
        unit=raster.unit,
        doubt=_doubt(notes),
        stand_m2=float(stand.area),
        trees=len(trees[0]) if trees else 0,
        marked=int(trees[0].marked.sum()) if trees else 0,
        findings=ordered(seen.found),
    )


class _Seen:
    """What was found so far, good and bad."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.found: list[Finding] = []

    def tried(self, read: Callable[P, T], *args: P.args, **more: P.kwargs) -> T | None:
        """Read one file; keep its faults, so that the next can still be read."""
        try:
            return read(*args, **more)
        except InputFaults as error:
            self.faults += [_by_option(line) for line in error.faults]
        except InputError as error:
            self.faults.append(_by_option(str(error)))
        return None


def _by_option(line: str) -> str:
    """Say a remedy for area.toml as the option that writes it there."""
    for remedy, option in OPTIONS.items():
        line = line.replace(remedy, option)
    return line


def _doubt(notes: Found) -> Finding | None:
    """Find why the unit of the elevations is in doubt, most telling reason first."""
    for code in UNIT_DOUBTS:
        for note in notes:
            if note.code == code:
                return note
    return None
