"""What is doubtful in a tree list that can be used: gaps, strangers, odd sizes, doubles."""

from collections import Counter

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.findings import Finding, Level
from layout.site import Trees
from layout.species import Found, find, letters_told, species_table
from layout.table_cells import listed
from layout.timber import stem_mass_kg
from layout.units import FOOT_M, INCH_M, POUND_KG

ONE_SPOT_M = 0.3
# Middle diameter of marked trees that looks like the other unit; ours.
THIN_CM, THICK_CM = 15.0, 100.0
# Height over diameter of a sound tree: outside this feet and metres may be mixed up; ours.
LEAST_SLENDER, MOST_SLENDER = 20.0, 150.0


def doubts_of(trees: Trees, name: str) -> tuple[Finding, ...]:
    """Tell what is doubtful.

    Parameters
    ----------
    trees : Trees
    name : str
        The file.

    Returns
    -------
    tuple of Finding
    """
    return (
        *_gaps(trees, name),
        *_species(trees, name),
        *_sizes(trees, name),
        *_doubles(trees, name),
    )


def _told(
    code: str, level: Level, message: str, name: str, rows: NDArray[np.intp] | list[int]
) -> Finding:
    return Finding(code, level, message, "trees", name, value=float(len(rows)))


def _of(trees: Trees, rows: NDArray[np.intp] | list[int]) -> str:
    """Name trees, and say how many of them are marked."""
    cut = int(trees.marked[rows].sum())
    return f"{listed([trees.tree_id[r] for r in rows])}; {cut} of them marked"


def _gaps(trees: Trees, name: str) -> list[Finding]:
    """Tell of trees without diameter or species, and how heavy they may be."""
    found = []
    rows = np.flatnonzero(np.isnan(trees.dbh_cm))
    if rows.size:
        message = (
            f"{rows.size} of {len(trees)} trees have no DBH ({_of(trees, rows)}); their volume and "
            f"weight are not known{_as_thick(trees, rows)}."
        )
        found.append(_told("dbh_missing", "unknown", message, name, rows))
    rows = np.flatnonzero([not s for s in trees.species])
    if rows.size:
        message = (
            f"{rows.size} of {len(trees)} trees have no species ({_of(trees, rows)}); their weight "
            "is taken as of a heavy hardwood."
        )
        found.append(_told("species_missing", "unknown", message, name, rows))
    return found


def _as_thick(trees: Trees, rows: NDArray[np.intp]) -> str:
    """Say what marked stems without DBH would weigh, as thick as the thickest marked one."""
    cut = rows[trees.marked[rows]]
    if not cut.size:
        return ""
    words = ", so no pull of the marked ones is held against winch and rope: measure them first"
    thick = trees.dbh_cm[trees.marked & np.isfinite(trees.dbh_cm)]
    if not thick.size:
        return words
    most_cm = float(thick.max())
    kg = float(stem_mass_kg([trees.species[r] for r in cut], most_cm, trees.height_m[cut]).max())
    return (
        f"{words}. One as thick as the thickest marked tree ({most_cm / 100 / INCH_M:.0f} in, "
        f"{most_cm:.0f} cm) may weigh {kg / 1000:.1f} t ({round(kg / POUND_KG, -2):,.0f} lb)"
    )


def _species(trees: Trees, name: str) -> list[Finding]:
    """Tell of species not known, of letters and what they were taken as, of stand-ins."""
    taken: dict[str, Found] = {s: find(s) for s in dict.fromkeys(trees.species) if s}
    count = Counter(trees.species)
    table = species_table()
    found = []

    def rows_of(names: list[str]) -> NDArray[np.intp]:
        wanted = set(names)
        return np.flatnonzero([s in wanted for s in trees.species])

    def each(names: list[str]) -> str:
        return listed([f'"{s}" {count[s]}' for s in names], 12)

    strange = [s for s, f in taken.items() if f.how == "unknown"]
    if strange:
        rows = rows_of(strange)
        heavy = table[taken[strange[0]].row].common_name
        message = (
            f"{rows.size} of {len(trees)} trees are of a species not known here ({each(strange)}; "
            f"trees {_of(trees, rows)}); each weighs as the heaviest known ({heavy}). Write the "
            "common name in full."
        )
        found.append(_told("species_unknown", "caution", message, name, rows))
    words, doubtful = letters_told(trees.species)
    if words:
        rows = rows_of([s for s, f in taken.items() if f.code is not None])
        message = f"{name}: letters were taken so: {listed(words, 40)}."
        if doubtful:
            message += " Letters mean other trees in other places: write names in full where wrong."
        found.append(_told("species_letters", "caution" if doubtful else "ok", message, name, rows))
    stand_in = [s for s, f in taken.items() if f.how in ("group", "stand_in")]
    if stand_in:
        rows = rows_of(stand_in)
        message = (
            f"{rows.size} of {len(trees)} trees are named by a group, or have no weight of their "
            f"own here ({each(stand_in)}); each weighs as the heaviest listed of its group."
        )
        found.append(_told("species_stand_in", "ok", message, name, rows))
    return found


def _sizes(trees: Trees, name: str) -> list[Finding]:
    """Ask about diameters and heights that look like another unit."""
    found = []
    cut = trees.dbh_cm[trees.marked & np.isfinite(trees.dbh_cm)]
    middle = float(np.median(cut)) if cut.size else (THIN_CM + THICK_CM) / 2
    if middle < THIN_CM or middle > THICK_CM:
        other = (
            "inches in a column of centimetres"
            if middle < THIN_CM
            else ("centimetres in a column of inches")
        )
        found.append(
            Finding(
                "dbh_doubtful",
                "caution",
                f"{name}: half of the marked trees are {'under' if middle < THIN_CM else 'over'} "
                f"{middle:.0f} cm ({middle / 100 / INCH_M:.0f} in) DBH; are these {other}?",
                "trees",
                name,
                value=middle,
                limit=THIN_CM if middle < THIN_CM else THICK_CM,
                unit="cm",
            )
        )
    slender = trees.height_m / (trees.dbh_cm / 100)
    rows = np.flatnonzero(
        np.isfinite(slender) & ((slender < LEAST_SLENDER) | (slender > MOST_SLENDER))
    )
    if rows.size:
        first = rows[0]
        metres = float(trees.height_m[first])
        message = (
            f"{rows.size} of {len(trees)} trees have a height that does not go with their DBH "
            f"({_of(trees, rows)}; {trees.tree_id[first]} has {metres:.0f} m or "
            f"{metres / FOOT_M:.0f} ft at {trees.dbh_cm[first]:.0f} cm): feet and metres mixed up, "
            "or a broken top?"
        )
        found.append(_told("height_doubtful", "caution", message, name, rows))
    return found


def _doubles(trees: Trees, name: str) -> list[Finding]:
    """Ask about two trees on one spot."""
    points = np.asarray(shapely.points(trees.x, trees.y), dtype=object)
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=ONE_SPOT_M)
    pairs = sorted(zip(one[one < other].tolist(), other[one < other].tolist(), strict=True))
    if not pairs:
        return []
    what = listed([f"{trees.tree_id[a]} and {trees.tree_id[b]}" for a, b in pairs])
    return [
        Finding(
            "trees_on_one_spot",
            "caution",
            f"{len(pairs)} pairs of trees of {name} stand on one spot ({what}); is one of them "
            "listed twice?",
            "trees",
            name,
            value=float(len(pairs)),
        )
    ]
