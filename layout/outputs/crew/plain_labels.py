"""Names on a sheet of lines: real letters on white, measured by their own widths.

A halo round each letter would turn names into drawings, which no program can
search for; and measuring every try with the picture's own renderer takes most
of the time a sheet takes.
"""

import math

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from layout.outputs import palette as ink
from layout.outputs.crew.letters import printable
from layout.outputs.crew.sheet import width_of
from layout.outputs.map_labels import Labels, Look

LINE_HEIGHT = 1.17  # of the letters' size, ascent and descent of the sheets' font
AIR_PT = 1.0
BOX_AIR_PT = 4.5


class PlainLabels(Labels):
    """Places names as `Labels` does, and writes them as text that can be searched for.

    Parameters
    ----------
    axes : Axes
        The map; its limits must be set.
    canvas : FigureCanvasAgg
        Gives the scale of the page.
    dry : bool
        Only find out what has room; write nothing.
    """

    def __init__(self, axes: Axes, canvas: FigureCanvasAgg, *, dry: bool = False) -> None:
        super().__init__(axes, canvas)
        self._dry = dry

    def _measure(self, text: str, look: Look) -> tuple[float, float]:
        """Give a name's width and height on the page with a little air, pixels."""
        width = width_of(text, look.size_pt, bold=look.bold)
        height = LINE_HEIGHT * look.size_pt
        turn = math.radians(look.rotation_deg)
        c, s = abs(math.cos(turn)), abs(math.sin(turn))
        air = BOX_AIR_PT if look.boxed else AIR_PT
        px = self._px_per_pt
        return (width * c + height * s + air) * px, (width * s + height * c + air) * px

    def _write(
        self, text: str, x: float, y: float, width: float, height: float, look: Look
    ) -> None:
        """Write a name and keep its place for it alone."""
        if self._dry:
            self.keep(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
        else:
            super()._write(printable(text), x, y, width, height, look)

    def _lead(self, place: tuple[float, float], x: float, y: float, colour: str) -> None:
        """Draw a thin line from a mark to its name."""
        if not self._dry:
            super()._lead(place, x, y, colour)

    def _dress(self, made: Text, look: Look) -> None:
        """Put a box or plain white behind a name."""
        if look.boxed:
            super()._dress(made, look)
        else:
            made.set_bbox({"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.2, "alpha": 0.8})
