"""Names of a tree list's columns: ours, other spellings of them, and near misses."""

import difflib
from collections.abc import Iterable

from layout.findings import Finding

# Columns that are read; note is kept as it is.
READ = (
    "tree_id", "x", "y", "lon", "lat", "species", "dbh_in", "dbh_cm", "height_ft", "height_m",
    "logs", "defect_pct", "mark", "keep", "hazard", "lean_deg", "lean_azimuth_deg",
    "position_error_m", "log_grade",
)  # fmt: skip
KEPT = ("note",)
# Other names that can mean one thing only.
ALIASES = {
    "treeid": "tree_id", "tree_no": "tree_id", "tree_nr": "tree_id", "tree_number": "tree_id",
    "longitude": "lon", "long": "lon", "lng": "lon", "latitude": "lat",
    "dbh_inch": "dbh_in", "dbh_inches": "dbh_in", "diameter_in": "dbh_in",
    "dbh_centimetres": "dbh_cm", "dbh_centimeters": "dbh_cm", "diameter_cm": "dbh_cm",
    "height_feet": "height_ft", "ht_ft": "height_ft",
    "height_metres": "height_m", "height_meters": "height_m", "ht_m": "height_m",
}  # fmt: skip
# Names that want a unit, or may mean the column and may not; never read, only asked about.
_MISSES = {
    "dbh": ("dbh", "diameter", "diam", "dia", "d", "dbh_mm"),
    "height": ("height", "ht", "total_height", "tree_height"),
    "tree_id": ("id", "tree", "no", "nr", "number", "num", "tag", "name", "tree_num", "tree_tag"),
    "mark": ("marked", "cut", "status", "action", "cut_leave", "treatment"),
}
_WITHOUT_UNIT = {
    "height": "height_ft or height_m", "lean": "lean_deg", "defect": "defect_pct",
    "lean_azimuth": "lean_azimuth_deg", "position_error": "position_error_m",
    "accuracy": "position_error_m",
}  # fmt: skip
_LIKE = 0.8
SHAPEFILE_NAME = 10  # a shapefile cuts names to this many signs


def renamed(names: list[str], *, cut_short: bool = False) -> list[str]:
    """Give columns under our names where another spelling can mean nothing else.

    Parameters
    ----------
    names : list of str
        As `layout.table_cells.column_names` gives them.
    cut_short : bool, optional
        Whether names of ten signs may be longer ones cut, as in a shapefile.

    Returns
    -------
    list of str

    Examples
    --------
    >>> renamed(["Tree_No".lower(), "longitude", "dbh", "position_e"], cut_short=True)
    ['tree_id', 'lon', 'dbh', 'position_error_m']
    """
    out = list(names)
    for i, name in enumerate(names):
        ours = ALIASES.get(name)
        if ours is None and cut_short and len(name) == SHAPEFILE_NAME and name not in READ:
            whole = [known for known in READ if known.startswith(name)]
            ours = whole[0] if len(whole) == 1 else None
        if ours is not None and ours not in out:
            out[i] = ours
    return out


def near_miss(wanted: str, columns: Iterable[object]) -> str:
    """Give the column that may be meant for a missing one, empty where none is.

    Parameters
    ----------
    wanted : str
        ``dbh`` stands for both of its columns.
    columns : iterable of str

    Examples
    --------
    >>> near_miss("dbh", ["species", "diameter"]), near_miss("mark", ["markd"])
    ('diameter', 'markd')
    """
    names = [str(c) for c in columns if str(c) not in (*READ, *KEPT)]
    for name in _MISSES.get(wanted, ()):
        if name in names:
            return name
    return next(iter(difflib.get_close_matches(wanted, names, 1, _LIKE)), "")


def heading_hints(columns: Iterable[object], name: str) -> tuple[Finding, ...]:
    """Ask about columns that are not read and look as if they should be.

    Parameters
    ----------
    columns : iterable of str
    name : str
        The file.

    Returns
    -------
    tuple of Finding
    """
    names = [str(c) for c in columns]
    free = [c for c in READ if c not in names]
    found: list[Finding] = []
    for column in names:
        if column in READ or column in KEPT:
            continue
        if column in _MISSES["height"] and not {"height_ft", "height_m"} & set(names):
            meant = _WITHOUT_UNIT["height"]
        elif column in _WITHOUT_UNIT and not set(_WITHOUT_UNIT[column].split()) & set(names):
            meant = _WITHOUT_UNIT[column]
        else:
            meant = next(iter(difflib.get_close_matches(column, free, 1, _LIKE)), "")
        if meant:
            found.append(
                Finding(
                    "column_not_read",
                    "caution",
                    f'{name}: the column "{column}" is kept but not read; if it is meant, call it '
                    f"{meant}.",
                    "trees",
                    name,
                )
            )
    return tuple(found)
