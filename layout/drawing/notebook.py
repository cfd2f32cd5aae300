"""The way from a notebook to the map, wherever the notebook's own library is missing too."""

from importlib import import_module
from typing import TYPE_CHECKING

from layout.errors import LayoutError
from layout.site import Area

if TYPE_CHECKING:
    from layout.drawing.widget import DrawingMap

HEIGHT_PX = 720
LIBRARIES = ("anywidget", "ipywidgets", "traitlets")


def draw_map(area: Area, *, height: int = HEIGHT_PX) -> "DrawingMap":
    """Give a map of an area for a notebook cell, to draw a landing and trails on.

    Parameters
    ----------
    area : Area
    height : int, optional
        Of the cell, in pixels.

    Returns
    -------
    DrawingMap
        Its ``draft`` is what is drawn, its ``plan()`` gives the plan.

    Raises
    ------
    LayoutError
        If the notebook's library is not installed.
    InputError
        If the height is none a screen has.
    """
    try:
        # looked up when it is used: nothing else here needs a notebook
        widget = import_module("layout.drawing.widget")
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in LIBRARIES:
            raise
        msg = (
            f"the map in a notebook needs {error.name}, which is not installed; "
            "python -m pip install anywidget brings it (or install skidway with its "
            "extra: notebook). skidway draw needs no such thing"
        )
        raise LayoutError(msg) from error
    made: DrawingMap = widget.DrawingMap(area, height=height)
    return made
