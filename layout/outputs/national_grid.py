"""The US National Grid: one short name for a square metre, as rescuers in the US ask for.

Source: FGDC-STD-011-2001, United States National Grid, and the MGRS lettering it takes over
(DMA TM 8358.1, appendix B; from memory): zones of six degrees, bands of eight, squares of
100 km lettered anew every third zone, then east and north cut off, not rounded.
"""

from __future__ import annotations

import math

BANDS = "CDEFGHJKLMNPQRSTUVWX"  # from 80 degrees south, eight degrees each, X twelve
COLUMNS = ("ABCDEFGH", "JKLMNPQR", "STUVWXYZ")  # by the zone, three in turn
ROWS = "ABCDEFGHJKLMNPQRSTUV"
ROWS_ON = 5  # in even zones rows begin this many letters later
SQUARE_M = 100_000


def national_grid(zone: int, lat: float, east: float, north: float) -> str:
    """Say a place in the US National Grid, to ten metres: what a phone is good for.

    Parameters
    ----------
    zone : int
        UTM zone.
    lat : float
        Latitude, WGS84 degrees.
    east, north : float
        UTM coordinates on WGS84, metres.

    Returns
    -------
    str
        Empty outside 80 degrees south to 84 north, where the polar grid takes over.

    Examples
    --------
    >>> national_grid(18, 38.8895, 323_482.4, 4_306_480.2)
    '18S UJ 2348 0648'
    """
    if not -80.0 <= lat <= 84.0:
        return ""
    band = BANDS[min(int((lat + 80.0) // 8), len(BANDS) - 1)]
    column = COLUMNS[(zone - 1) % 3][int(east // SQUARE_M) - 1]
    shift = ROWS_ON if zone % 2 == 0 else 0
    row = ROWS[(int(north // SQUARE_M) + shift) % len(ROWS)]
    last_m = (f"{math.floor(value % SQUARE_M / 10):04d}" for value in (east, north))
    return f"{zone}{band} {column}{row} {' '.join(last_m)}"
