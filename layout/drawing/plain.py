"""Values of ours as JSON values."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np


def plain(value: Any, places: int = 3) -> Any:
    """Give a value as JSON knows it.

    Parameters
    ----------
    value : object
        Numbers, text, arrays and what holds them.
    places : int, optional
        Decimals kept of a number.

    Returns
    -------
    object
        Numbers that are none (NaN, infinite) as None: JSON has no word for them.
    """
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, (np.bool_,)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return round(float(value), places) if math.isfinite(value) else None
    if isinstance(value, np.ndarray):
        return plain(value.tolist(), places)
    if isinstance(value, Mapping):
        return {str(key): plain(item, places) for key, item in value.items()}
    return [plain(item, places) for item in value]
