"""One sheet of paper: text and rules placed in points from its upper left corner."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.textpath import text_to_path

from layout.outputs import palette as ink
from layout.outputs.crew.letters import FONT, printable
from layout.outputs.map_window import Window

Paper = Literal["letter", "a4"]

PT_AN_INCH = 72.0
PAPER_IN: dict[Paper, tuple[float, float]] = {"letter": (8.5, 11.0), "a4": (210 / 25.4, 297 / 25.4)}
MARGIN_PT = 29.0  # printers leave a quarter of an inch, a clipboard takes more
LEAST_PT = 7.0  # nothing smaller: it is read tired, in the rain
DPI = 150  # of the picture in which names are placed; the sheet itself is drawn in lines
LEADING = 1.28


@dataclass(frozen=True, slots=True)
class MapFrame:
    """A map on a sheet: its frame in points from the lower left, and the ground it shows."""

    name: str
    box_pt: tuple[float, float, float, float]  # left, bottom, right, top
    window: Window


class Line(Text):
    """Words on one line of a sheet, drawn where they stand.

    A book has thousands; the layout of paragraphs, which matplotlib works out for each,
    takes as long as the drawing itself.
    """

    def draw(self, renderer: RendererBase) -> None:
        """Draw the words; what is turned, centred or in a box is left to matplotlib."""
        words = self.get_text()
        plain = self.get_bbox_patch() is None and not self.get_rotation() and "\n" not in words
        side, base = self.get_horizontalalignment(), self.get_verticalalignment()
        if not (plain and side in ("left", "right") and base == "baseline"):
            super().draw(renderer)
            return
        if not words or not self.get_visible():
            return
        x, y = self.get_transform().transform(self.get_position())
        font = self.get_fontproperties()
        if side == "right":
            x -= renderer.get_text_width_height_descent(words, font, ismath=False)[0]
        style = renderer.new_gc()
        style.set_foreground(to_rgba(self.get_color()), isRGBA=True)
        renderer.draw_text(style, x, y, words, font, 0.0, mtext=self)
        style.restore()


@dataclass
class Sheet:
    """A sheet being drawn.

    Parameters
    ----------
    paper : {"letter", "a4"}
        Kind of paper.
    landscape : bool
        Whether it lies on its long side.
    """

    paper: Paper
    landscape: bool = False
    frames: list[MapFrame] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Lay out an empty sheet."""
        size = PAPER_IN[self.paper]
        size = (size[1], size[0]) if self.landscape else size
        self.width_pt, self.height_pt = (inches * PT_AN_INCH for inches in size)
        self.figure = Figure(figsize=size, dpi=DPI, facecolor=ink.PAPER)
        self.canvas = FigureCanvasAgg(self.figure)
        self._page = self.figure.add_axes((0, 0, 1, 1))
        self._page.set_xlim(0, self.width_pt)
        self._page.set_ylim(self.height_pt, 0)
        self._page.set_axis_off()

    @property
    def inner_pt(self) -> float:
        """Width between the margins."""
        return self.width_pt - 2 * MARGIN_PT

    def text(self, x: float, y: float, words: str, size_pt: float = 8.0, **look: Any) -> Text:
        """Write words; y is their base line, points down from the top."""
        line = Line(x, y, printable(words), fontsize=size_pt, parse_math=False,
                    transform=self._page.transData, **look)  # fmt: skip
        self.figure.add_artist(line)
        return line

    def wrapped(
        self,
        x: float,
        y: float,
        words: str,
        width_pt: float,
        size_pt: float = 8.0,
        *,
        bold: bool = False,
        hang_pt: float = 0.0,
    ) -> float:
        """Write words in as many lines as they need.

        Parameters
        ----------
        x, y : float
            Left edge and first base line.
        words : str
            One paragraph.
        width_pt : float
            Width to fill.
        size_pt : float
            Size of the letters.
        bold : bool
            Whether they are bold.
        hang_pt : float
            How far lines after the first are set in.

        Returns
        -------
        float
            The base line after the last one.
        """
        lines = wrap(words, width_pt, size_pt, bold=bold, later_pt=width_pt - hang_pt)
        for number, line in enumerate(lines):
            left = x + (hang_pt if number else 0.0)
            self.text(left, y, line, size_pt, fontweight="bold" if bold else "normal")
            y += size_pt * LEADING
        return y

    def rules(self, lines: Iterable[tuple[float, float, float, float]], **look: Any) -> None:
        """Draw straight rules, each from x0, y0 to x1, y1."""
        ends = [((x0, y0), (x1, y1)) for x0, y0, x1, y1 in lines]
        style: dict[str, Any] = {"colors": ink.INK, "linewidths": 0.6} | look
        self._page.add_collection(LineCollection(ends, **style), autolim=False)

    def box(self, x: float, y: float, width: float, height: float, **look: Any) -> None:
        """Draw a box; y is its upper edge."""
        style: dict[str, Any] = {"facecolor": "none", "edgecolor": ink.INK, "linewidth": 1.0} | look
        self._page.add_patch(Rectangle((x, y), width, height, **style))

    def axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """Add axes of their own; y is their upper edge."""
        left, bottom = x / self.width_pt, 1 - (y + height) / self.height_pt
        return self.figure.add_axes((left, bottom, width / self.width_pt, height / self.height_pt))


def width_of(words: str, size_pt: float, *, bold: bool = False) -> float:
    """Measure words on paper, points; pairs of letters are not drawn together."""
    return _advances(words, bold=bold) * size_pt


@lru_cache(maxsize=20_000)  # breaking lines asks for the same words again and again
def _advances(words: str, *, bold: bool) -> float:
    """Give how long words are, in letter sizes."""
    return sum([_advance(letter, bold=bold) for letter in printable(words)])


@lru_cache(maxsize=4000)
def _advance(letter: str, *, bold: bool) -> float:
    """Give how far a letter moves the next one on, in letter sizes."""
    font = FontProperties(family=FONT, weight="bold" if bold else "normal", size=100.0)
    one, many = (
        text_to_path.get_text_width_height_descent(letter * n, font, ismath=False)[0]
        for n in (1, 11)
    )
    return float(many - one) / 10 / 100.0


def wrap(
    words: str,
    width_pt: float,
    size_pt: float,
    *,
    bold: bool = False,
    later_pt: float | None = None,
) -> list[str]:
    """Break words into lines; a word longer than a line is broken too.

    Parameters
    ----------
    words : str
        One paragraph; runs of blanks count as one, and letters the font has not
        come back as question marks.
    width_pt : float
        Width of the first line.
    size_pt : float
        Size of the letters.
    bold : bool
        Whether they are bold.
    later_pt : float, optional
        Width of the later lines, where it differs.

    Returns
    -------
    list of str
        At least one line.
    """
    words = printable(words)
    later = width_pt if later_pt is None else later_pt
    lines: list[str] = []
    line = ""
    for word in words.replace("\n", " ").split(" "):
        if not word:
            continue
        room = later if lines else width_pt
        tried = f"{line} {word}" if line else word
        if width_of(tried, size_pt, bold=bold) <= room:
            line = tried
            continue
        if line:
            lines.append(line)
        line = word
        while len(line) > 1 and width_of(line, size_pt, bold=bold) > later:
            fits = max(
                (n for n in range(1, len(line)) if width_of(line[:n], size_pt, bold=bold) <= later),
                default=1,
            )
            lines.append(line[:fits])
            line = line[fits:]
    lines.append(line)
    return lines


def shortened(words: str, width_pt: float, size_pt: float, *, bold: bool = False) -> str:
    """Cut words that are too long for one line, with an ellipsis."""
    words = " ".join(words.split())
    if width_of(words, size_pt, bold=bold) <= width_pt:
        return words
    while words and width_of(f"{words}…", size_pt, bold=bold) > width_pt:
        words = words[:-1]
    return f"{words.rstrip()}…"
