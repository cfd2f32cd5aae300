"""Waypoints of a phone written as the columns of a tree list."""

import csv
import io
from collections.abc import Sequence

import pandas as pd

from layout.formula_marks import guarded
from layout.species import find
from layout.units import FOOT_M, INCH_M, Units
from layout.waypoint_trees import FORM, Said, column_of

PLACES = ("lon", "lat", "x", "y")


def table_of(said: Sequence[Said], units: Units) -> pd.DataFrame:
    """Write what was understood as the columns of a tree list, text all of it.

    Parameters
    ----------
    said : sequence of Said
        Numbered.
    units : {"us", "metric"}
        Of the columns of diameter and height.

    Returns
    -------
    DataFrame
        ``tree_id, species, dbh_in`` or ``dbh_cm, logs``, further columns where
        something is said in them, ``note`` with the words as they were, then what
        else the phone kept.
    """
    dbh, per_cm = ("dbh_in", 1 / (100 * INCH_M)) if units == "us" else ("dbh_cm", 1.0)
    height, per_m = ("height_ft", 1 / FOOT_M) if units == "us" else ("height_m", 1.0)
    rows: list[dict[str, str]] = []
    for one in said:
        note = one.note
        given = bool(one.form.get("dbh_in") or one.form.get("dbh_cm"))
        row = {
            "tree_id": one.tree_id,
            "species": one.species,
            dbh: "" if given else _figure(note.dbh_cm, per_cm),
            "logs": _figure(note.logs, 1.0),
            height: _figure(note.height_m, per_m),
            "mark": one.mark,
            "keep": note.keep,
            "hazard": note.hazard,
            "position_error_m": _figure(one.error_m, 1.0),
            "note": one.raw,
        }
        row |= {k: v for k, v in one.form.items() if v and k not in ("tree_id", "species", "mark")}
        extras = {_free(column_of(k)): v for k, v in one.point.extras.items() if column_of(k)}
        rows.append(extras | {"folder": " / ".join(filter(None, one.point.folder))} | row)
    table = pd.DataFrame(rows, dtype=str).fillna("")
    first = [c for c in ("tree_id", "species", dbh, "logs") if c in table]
    own = [height, "mark", "keep", "hazard", "position_error_m", "note"]
    form = [c for c in dict.fromkeys(FORM.values()) if c in table and c not in (*first, *own)]
    others = [c for c in table if c not in (*first, *own, *form)]
    kept = [c for c in (*own, *form, *others) if c == "note" or table[c].ne("").any()]
    return table[[*first, *kept]]


def _figure(value: float | None, factor: float) -> str:
    """Write a number with two decimals at most; blank where there is none."""
    return "" if value is None else f"{value * factor:.2f}".rstrip("0").rstrip(".")


def _free(column: str) -> str:
    """Keep a field of the phone's own from being taken for the place of a tree."""
    return f"in_{column}" if column in PLACES else column


def list_text(said: Sequence[Said], units: Units, *, all_cut: bool) -> str:
    """Write a whole tree list, ready to be read back.

    Text that a spreadsheet would run as a formula gets an apostrophe before it.

    Parameters
    ----------
    said : sequence of Said
        Numbered.
    units : {"us", "metric"}
        Of diameters and heights.
    all_cut : bool
        Whether a tree is cut where its note does not say, nor speaks against it.

    Returns
    -------
    str
        Comma separated, a line each, ``lon`` and ``lat`` with seven decimals (1 cm);
        letters of a tally are written out as the tree they were taken as.
    """
    table = table_of(said, units)
    table.insert(1, "lon", [f"{one.point.lon:.7f}" for one in said])
    table.insert(2, "lat", [f"{one.point.lat:.7f}" for one in said])
    table["species"] = [_written_out(one.species) for one in said]
    mark = list(table.pop("mark")) if "mark" in table else [""] * len(table)
    at = list(table.columns).index("logs") + 1
    table.insert(at, "mark", [word or ("cut" if all_cut else "") for word in mark])
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([guarded(str(name)) for name in table.columns])
    writer.writerows([guarded(str(cell)) for cell in row] for row in table.to_numpy())
    return out.getvalue()


def _written_out(species: str) -> str:
    """Give the tree that letters were taken as; a name stays as it was said."""
    found = find(species) if species else None
    return found.name if found is not None and found.code is not None else species
