"""The colours of maps and default styles.

Chosen so that people who confuse red and green can tell them apart, and so
that each pair that meets also differs in lightness; marks and line forms carry
the same meaning again, for black and white print.
"""

INK = "#15191c"  # main trail, names
SPUR = "#15191c"
CASING = "#ffffff"
CONTOUR = "#8a5a2b"
STAND = "#3f4a3c"
MAY_USE = "#7b8f3a"
PROPERTY = "#2c2f7a"
WATER = "#1667a8"
KEEP_OUT = "#5c5f66"
HAZARD = "#8a1c62"
OLD_TRAIL = "#6b6f75"
ROAD = "#4a4d52"
PULL = "#5b3a8c"
POSITION = "#f2a516"
SERVED = "#0b6b58"
UNSERVED = "#c0281b"
STEM = "#9aa09a"
LANDING = "#f4d35e"
TURNING = "#d9cfe8"
BAR = "#0a3d6b"
BENCH = "#8f3f00"
GAP = "#7a5c00"
RUB = "#6e3b1f"
STOP = "#c0281b"
CAUTION = "#e0900b"
PAPER = "#ffffff"


def rgb(colour: str) -> tuple[int, int, int]:
    """Give red, green and blue of a ``#rrggbb`` colour, each 0 to 255.

    Examples
    --------
    >>> rgb("#15191c")
    (21, 25, 28)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
