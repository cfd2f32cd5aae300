"""Skidway: plan the trails, winch positions and water bars of a small thinning.

``read_area`` reads and checks a folder, ``make_plan`` lays it out, ``write_plan``
writes maps and tables; ``draw_map`` shows a map to draw on in a notebook. The names
below are looked up when first used, so that asking for the version does not load the
map libraries.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from layout.area import read_area
    from layout.drawing.notebook import draw_map
    from layout.errors import InputError, LayoutError
    from layout.findings import Finding
    from layout.outputs import write_plan
    from layout.plan import Plan, make_plan
    from layout.site import Area

__version__ = "0.1.0"

__all__ = [
    "Area",
    "Finding",
    "InputError",
    "LayoutError",
    "Plan",
    "__version__",
    "draw_map",
    "make_plan",
    "read_area",
    "write_plan",
]

_ROOM_OF = {
    "Area": "layout.site",
    "Finding": "layout.findings",
    "InputError": "layout.errors",
    "LayoutError": "layout.errors",
    "Plan": "layout.plan",
    "draw_map": "layout.drawing.notebook",
    "make_plan": "layout.plan",
    "read_area": "layout.area",
    "write_plan": "layout.outputs",
}


def __getattr__(name: str) -> Any:
    """Fetch a public name from the room that holds it."""
    if name not in _ROOM_OF:
        msg = f"module 'layout' has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(_ROOM_OF[name]), name)


def __dir__() -> list[str]:
    """List the public names, looked up or not."""
    return sorted(__all__)
