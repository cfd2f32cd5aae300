"""Plans for many tests: the small metric area's, made once, and layouts without what-ifs."""

from functools import cache
from pathlib import Path
from typing import Any

from layout.area import read_area
from layout.plan import Plan, make_plan
from layout.site import Area

METRIC = Path(__file__).parent / "data" / "metric_area"


@cache
def metric_plan() -> Plan:
    """Plan the small metric area, as the command does."""
    return make_plan(read_area(METRIC))


def layout_only(area: Area, **more: Any) -> Plan:
    """Plan an area without asking what another rope, tool or place would change."""
    return make_plan(area, options=False, **more)
