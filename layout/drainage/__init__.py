"""Drains across trails: how far apart, where they go, and where their water leaves."""

from layout.drainage.amounts import Amounts, amounts
from layout.drainage.bars import TEMPORARY_OVER_PCT, bars
from layout.drainage.draining import drain
from layout.drainage.outlet_findings import outlet_findings
from layout.drainage.outlets import (
    SKEW_DEG,
    Ground,
    Outlets,
    bar_length_m,
    bar_line,
    closed_ground,
    outlet_side,
)
from layout.drainage.places import Places, clear_from, edges
from layout.drainage.spacing import (
    PRINTED_SPACING_FT,
    PRINTED_WATERBREAKS_FT,
    Tables,
    bar_spacing,
    beyond_table,
    dip_allowed,
    dip_form,
    dip_spacing,
    hazard_spacing,
    spacing,
)
from layout.drainage.stretch_findings import stretch_findings
from layout.drainage.walks import spacings_used, turns_of_slope

__all__ = [
    "PRINTED_SPACING_FT",
    "PRINTED_WATERBREAKS_FT",
    "SKEW_DEG",
    "TEMPORARY_OVER_PCT",
    "Amounts",
    "Ground",
    "Outlets",
    "Places",
    "Tables",
    "amounts",
    "bar_length_m",
    "bar_line",
    "bar_spacing",
    "bars",
    "beyond_table",
    "clear_from",
    "closed_ground",
    "dip_allowed",
    "dip_form",
    "dip_spacing",
    "drain",
    "edges",
    "hazard_spacing",
    "outlet_findings",
    "outlet_side",
    "spacing",
    "spacings_used",
    "stretch_findings",
    "turns_of_slope",
]
