"""log.csv: loads the user has timed, a line a load, told of in full.

Columns:

``minutes``
    From leaving the landing to being back there with the load off; breaks left out.
``distance_ft`` or ``distance_m``
    How far along the trails, one way.
``rope_ft`` or ``rope_m``, ``pulls``, ``pieces``, ``volume_ft3`` or ``volume_m3``
    Left out as you like: rope out for one winching, winchings and pieces of the load, and
    its wood. What is blank is taken from the plan's own loads.

Other columns, a date or a note, are not looked at.
"""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layout.findings import Finding
from layout.read_table import read_table
from layout.table_cells import Cells
from layout.units import CUBIC_FOOT_M3, FOOT_M
from layout.work_records import LoggedLoad

Floats = NDArray[np.float64]

EXAMPLE = "minutes,distance_ft,pulls,pieces"
LONGEST_MIN = 600.0
FARTHEST_M, FARTHEST_FT = 5000.0, 16000.0
ROPE_M, ROPE_FT = 150.0, 500.0
MOST = 50.0
WOOD_M3, WOOD_FT3 = 40.0, 1400.0
ASKED_UNITS = {
    "distance": "distance_ft or distance_m",
    "rope": "rope_ft or rope_m",
    "volume": "volume_ft3 or volume_m3",
}


def read_log(path: Path, where: str) -> tuple[tuple[LoggedLoad, ...], tuple[Finding, ...]]:
    """Read the loads a user has timed.

    Parameters
    ----------
    path : Path
        The file, which exists.
    where : str
        Start of messages about the file as a whole.

    Returns
    -------
    loads : tuple of LoggedLoad
        In the order of the file; none where it holds headings only.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        All faults of the file at once, each with its line.
    """
    cells, found = read_table(path, where, EXAMPLE, row="load", may_be_empty=True)
    for bare, named in ASKED_UNITS.items():
        if bare in cells.table:
            cells.faults.append(
                f"{cells.name} has a column {bare} without its unit; name it {named}"
            )
    if "minutes" not in cells.table:
        cells.faults.append(f"{cells.name} has no column minutes; each load needs its time")
    if not {"distance", "distance_ft", "distance_m"} & set(cells.table):
        cells.faults.append(
            f"{cells.name} has neither distance_ft nor distance_m; each load needs its way"
        )
    minutes = cells.numbers("minutes", required="minutes" in cells.table, least=0.5,
                            most=LONGEST_MIN)  # fmt: skip
    distance = _either(cells, "distance_m", "distance_ft", FARTHEST_M, FARTHEST_FT, FOOT_M)
    rope = _either(cells, "rope_m", "rope_ft", ROPE_M, ROPE_FT, FOOT_M)
    volume = _either(cells, "volume_m3", "volume_ft3", WOOD_M3, WOOD_FT3, CUBIC_FOOT_M3)
    pulls = cells.numbers("pulls", least=0, most=MOST)
    pieces = cells.numbers("pieces", least=1, most=MOST)
    _distance_blank(cells)
    cells.stop_if_faulty()
    lines = [int(place.rsplit(" ", 1)[1]) for place in cells.lines]
    loads = tuple(
        LoggedLoad(
            line,
            float(minutes[n]),
            float(distance[n]),
            *(_told(column[n]) for column in (rope, pulls, pieces, volume)),
        )
        for n, line in enumerate(lines)
    )
    return loads, found


def _told(value: float) -> float | None:
    """Give a number, None where the cell was blank."""
    return None if np.isnan(value) else float(value)


def _distance_blank(cells: Cells) -> None:
    """Refuse loads that do not say how far they came."""
    named = [c for c in ("distance_m", "distance_ft") if c in cells.table]
    if not named:
        return
    both = zip(cells.words("distance_m"), cells.words("distance_ft"), strict=True)
    cells.faults += [
        f"{cells.lines[n]}: {' or '.join(named)} is blank"
        for n, (metric, us) in enumerate(both)
        if not metric and not us
    ]


def _either(
    cells: Cells, metric: str, us: str, most: float, us_most: float, to_metric: float
) -> Floats:
    """Merge one measure in two units; refuse lines where both stand and disagree."""
    first = cells.numbers(metric, least=0, most=most)
    second = cells.numbers(us, least=0, most=us_most, factor=to_metric)
    apart = np.abs(first - second) > 0.02 * first + 0.1
    both = np.isfinite(first) & np.isfinite(second) & apart
    cells.faults += [
        f"{cells.lines[n]}: {metric} and {us} disagree; keep one of them"
        for n in np.flatnonzero(both).tolist()
    ]
    return np.where(np.isfinite(first), first, second)
