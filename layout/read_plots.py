"""plots.csv: sample plots as they were tallied, a line a tree, told of in full.

Columns:

``plot_id``
    Which plot the line is of; every plot's name stands on each of its lines.
``radius_ft`` or ``radius_m``; ``area_acre`` or ``area_m2``; ``baf_ft2_acre`` or ``baf_m2_ha``
    How the plot was taken: a circle, any shape of known area, or an angle count with
    its basal area factor. One of them on at least one line of each plot, the same on all.
``species``, ``dbh_in`` or ``dbh_cm``
    The tree. A line with neither is a plot on which nothing stood, and says so by
    being the plot's only line.
``height_ft`` or ``height_m``, ``count``, ``mark``
    Left out as you like: the height; how many such trees (1 where blank); ``cut`` or
    ``leave``.
``x``, ``y``
    Where the plot is, in the area's grid; left out as you like.

Other columns are not looked at.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from layout.findings import Finding
from layout.plots import Plots
from layout.read_table import read_table
from layout.stocking import FT2_ACRE
from layout.table_cells import Cells, listed, shown
from layout.units import ACRE_M2, FOOT_M, INCH_M

Floats = NDArray[np.float64]

EXAMPLE = "plot_id,baf_ft2_acre,species,dbh_in"
APART = 0.005  # two widths of one plot may differ by this share: a rounding, not a fault
NO_DESIGN = (
    "how the plots were taken is not told: add radius_ft, radius_m, area_acre, area_m2, "
    "baf_ft2_acre or baf_m2_ha"
)


@dataclass(frozen=True, slots=True)
class _Design:
    """A column that says how a plot was taken; values in its own unit."""

    column: str
    least: float
    most: float
    factor: float
    is_count: bool = False
    is_radius: bool = False

    def stored(self, value: float) -> float:
        """Give square metres of a plot, or square metres a hectare of a count."""
        metric = value * self.factor
        return float(np.pi * metric**2) if self.is_radius else metric


DESIGNS = (
    _Design("radius_ft", 3, 300, FOOT_M, is_radius=True),
    _Design("radius_m", 1, 100, 1.0, is_radius=True),
    _Design("area_acre", 0.0005, 10, ACRE_M2),
    _Design("area_m2", 2, 40_000, 1.0),
    _Design("baf_ft2_acre", 1, 100, FT2_ACRE, is_count=True),
    _Design("baf_m2_ha", 0.2, 25, 1.0, is_count=True),
)


def read_plots(path: Path, where: str) -> tuple[Plots, tuple[Finding, ...]]:
    """Read sample plots.

    Parameters
    ----------
    path : Path
        The file, which exists.
    where : str
        Start of messages about the file as a whole.

    Returns
    -------
    plots : Plots
        In the order the plots first come up.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        All faults of the file at once, each with its line.
    """
    cells, found = read_table(path, where, EXAMPLE)
    ids = cells.words("plot_id")
    if "plot_id" not in cells.table:
        cells.faults.append(f"{cells.name} has no column plot_id; each line needs its plot's name")
    cells.faults += [
        f"{cells.lines[n]}: plot_id is blank" for n, name in enumerate(ids) if not name
    ]
    names = list(dict.fromkeys(name for name in ids if name))
    index = {name: i for i, name in enumerate(names)}
    plot = np.array([index.get(name, -1) for name in ids], dtype=np.int64)
    area, factor = _designs(cells, plot, names)
    dbh = _either(cells, "dbh_cm", "dbh_in", 1, 305, 0.5, 120, 100 * INCH_M)
    height = _either(cells, "height_m", "height_ft", 1.4, 122, 4.6, 400, FOOT_M)
    count = np.nan_to_num(cells.numbers("count", least=1, most=1000), nan=1.0)
    marked = _marks(cells)
    species = cells.words("species")
    empty = np.array([not s for s in species]) & np.isnan(dbh)
    _check_trees(cells, species, dbh, empty, plot)
    x, y = _place(cells, "x", plot, len(names)), _place(cells, "y", plot, len(names))
    cells.stop_if_faulty()
    tree = ~empty
    plots = Plots(
        plot_id=tuple(names),
        area_m2=area,
        factor_m2_per_ha=factor,
        x=x,
        y=y,
        plot=plot[tree],
        species=tuple(s for s, keep in zip(species, tree, strict=True) if keep),
        dbh_cm=dbh[tree],
        height_m=height[tree],
        count=count[tree],
        marked=None if marked is None else marked[tree],
    )
    return plots, (*found, *_told(plots, cells.name))


def _designs(cells: Cells, plot: NDArray[np.int64], names: list[str]) -> tuple[Floats, Floats]:
    """Find out how each plot was taken; one way each, the same on all its lines."""
    area, factor = np.full(len(names), np.nan), np.full(len(names), np.nan)
    columns = [design for design in DESIGNS if design.column in cells.table]
    if not columns:
        cells.faults.append(f"{cells.name}: {NO_DESIGN}")
        return area, factor
    read = {d.column: cells.numbers(d.column, least=d.least, most=d.most) for d in columns}
    unread = {d.column: [bool(word) for word in cells.words(d.column)] for d in columns}
    for p, name in enumerate(names):
        lines = np.flatnonzero(plot == p).tolist()
        first = cells.lines[lines[0]]
        used = [d for d in columns if any(unread[d.column][n] for n in lines)]
        if not used:
            cells.faults.append(
                f"{first}: plot {shown(name)} does not say how it was taken; fill "
                f"{' or '.join(d.column for d in columns)}"
            )
            continue
        if len(used) > 1:
            cells.faults.append(
                f"{first}: plot {shown(name)} was taken in {len(used)} ways "
                f"({', '.join(d.column for d in used)}); keep one"
            )
            continue
        values = read[used[0].column][lines]
        values = values[np.isfinite(values)]
        if not values.size:
            continue  # told already: no number, or out of range
        if values.max() > values.min() * (1 + APART):
            cells.faults.append(
                f"{first}: plot {shown(name)} has {used[0].column} {values.min():g} and "
                f"{values.max():g}; one plot has one"
            )
            continue
        (factor if used[0].is_count else area)[p] = used[0].stored(float(values[0]))
    return area, factor


def _either(
    cells: Cells,
    metric: str,
    us: str,
    least: float,
    most: float,
    us_least: float,
    us_most: float,
    to_metric: float,
) -> Floats:
    """Merge one measure in two units; refuse lines where both stand and disagree."""
    first = cells.numbers(metric, least=least, most=most)
    second = cells.numbers(us, least=us_least, most=us_most, factor=to_metric)
    both = np.isfinite(first) & np.isfinite(second) & (np.abs(first - second) > 0.02 * first + 0.1)
    cells.faults += [
        f"{cells.lines[n]}: {metric} and {us} disagree; keep one of them"
        for n in np.flatnonzero(both).tolist()
    ]
    return np.where(np.isfinite(first), first, second)


def _marks(cells: Cells) -> NDArray[np.bool_] | None:
    """Take who is cut; None where nobody says."""
    words = [word.lower() for word in cells.words("mark")]
    if not any(words):
        return None
    cells.faults += [
        f'{cells.lines[n]}: mark {shown(word)} must be "cut" or "leave"'
        for n, word in enumerate(words)
        if word not in ("", "cut", "leave")
    ]
    return np.array([word == "cut" for word in words])


def _check_trees(
    cells: Cells,
    species: list[str],
    dbh: Floats,
    empty: NDArray[np.bool_],
    plot: NDArray[np.int64],
) -> None:
    """Refuse trees without a DBH, and plots that are both empty and not."""
    if "dbh_cm" not in cells.table and "dbh_in" not in cells.table:
        cells.faults.append(f"{cells.name} has neither dbh_in nor dbh_cm; name the diameter so")
        return
    told = [bool(a or b) for a, b in zip(cells.words("dbh_cm"), cells.words("dbh_in"), strict=True)]
    lines_of = np.bincount(plot[plot >= 0]) if (plot >= 0).any() else np.zeros(0)
    for n, name in enumerate(species):
        if name and np.isnan(dbh[n]) and not told[n]:
            cells.faults.append(
                f"{cells.lines[n]}: {shown(name)} has no DBH; a plot's trees need one each"
            )
        elif empty[n] and not told[n] and plot[n] >= 0 and lines_of[plot[n]] > 1:
            cells.faults.append(
                f"{cells.lines[n]}: neither species nor DBH, though the plot has trees on other "
                "lines; take the line out or fill it"
            )


def _place(cells: Cells, column: str, plot: NDArray[np.int64], count: int) -> Floats:
    """Give each plot's coordinate: the first that is filled on its lines."""
    read = cells.numbers(column)
    out = np.full(count, np.nan)
    for n in np.flatnonzero(np.isfinite(read) & (plot >= 0)).tolist()[::-1]:
        out[plot[n]] = read[n]
    return out


def _told(plots: Plots, name: str) -> list[Finding]:
    """Tell what was read, and what is thin about it."""
    bare = [p for i, p in enumerate(plots.plot_id) if not (plots.plot == i).any()]
    found = []
    if bare:
        found.append(
            Finding(
                "plots_empty",
                "ok",
                f"{len(bare)} of {len(plots)} plots of {name} have no tree ({listed(bare)}); they "
                "count as plots on which nothing stands.",
                "plots",
                name,
                value=float(len(bare)),
            )
        )
    if len(plots) == 1:
        found.append(
            Finding(
                "plots_few",
                "unknown",
                f"{name} has one plot only; how far its figures may be off is not known. Measure "
                "more.",
                "plots",
                name,
                value=1.0,
            )
        )
    return found
