"""Cells of the tables we write: blanks for what is missing, no text that would be run."""

import math

from layout.formula_marks import guarded


def cell(value: object) -> object:
    """Leave a missing number blank, and text that begins like a formula text.

    Parameters
    ----------
    value : object
        Text, a number or None.

    Returns
    -------
    object
        What the table may hold.

    Examples
    --------
    >>> cell(float("nan")), cell("=1+1"), cell(3)
    ('', "'=1+1", 3)
    """
    if isinstance(value, str):
        return guarded(value)
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return value
