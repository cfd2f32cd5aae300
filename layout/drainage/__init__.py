"""Water bars: how far apart they may stand, where they go, and where their water leaves."""

from layout.drainage.bars import SKEW_DEG, bars, clear_from, strip_edges
from layout.drainage.outlets import outlet_findings, outlet_side
from layout.drainage.spacing import PRINTED_SPACING_FT, spacing, spacings_used, turns_of_slope

__all__ = [
    "PRINTED_SPACING_FT",
    "SKEW_DEG",
    "bars",
    "clear_from",
    "outlet_findings",
    "outlet_side",
    "spacing",
    "spacings_used",
    "strip_edges",
    "turns_of_slope",
]
