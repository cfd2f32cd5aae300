"""The columns of the user's tree file, kept beside ours without a clash."""

from collections.abc import Iterable, Sequence

import pandas as pd
from shapely.geometry.base import BaseGeometry

RESERVED = ("fid", "geom", "geometry", "ogc_fid")  # a GeoPackage names its own columns so
PREFIX = "in_"


def kept(table: pd.DataFrame, ours: Iterable[str], tree_ids: Sequence[str]) -> pd.DataFrame:
    """Give the input columns under names that clash with none of ours.

    Parameters
    ----------
    table : DataFrame
        The tree file as read.
    ours : iterable of str
        Column names the output has of its own, ``tree_id`` among them.
    tree_ids : sequence of str
        The ids the plan goes by; an input column that says the same is not
        written twice.

    Returns
    -------
    DataFrame
        Same rows and order, index 0 to n - 1. A name that equals one of ours, or
        a reserved one, whatever its case, is prefixed ``in_``. Columns are
        numbers, yes or no, or text; blanks are None or NaN. Geometry columns are
        left out.
    """
    taken = {name.lower() for name in (*ours, *RESERVED)}
    columns: dict[str, pd.Series] = {}
    for label in table.columns:
        values = table[label].reset_index(drop=True)
        if values.map(lambda value: isinstance(value, BaseGeometry)).any():
            continue
        name = str(label)
        if name == "tree_id" and [str(value) for value in values] == list(tree_ids):
            continue
        while name.lower() in taken:
            name = PREFIX + name
        taken.add(name.lower())
        columns[name] = _writable(values)
    return pd.DataFrame(columns, index=pd.RangeIndex(len(table)))


def _writable(values: pd.Series) -> pd.Series:
    """Keep numbers and yes or no as they are; write everything else as text."""
    if pd.api.types.is_bool_dtype(values.dtype) and not values.isna().any():
        return values.astype(bool)
    if pd.api.types.is_numeric_dtype(values.dtype) and not pd.api.types.is_bool_dtype(values.dtype):
        return values.astype(float) if values.isna().any() else values
    text = [None if pd.isna(value) else str(value) for value in values]
    return pd.Series(text, dtype=object)
