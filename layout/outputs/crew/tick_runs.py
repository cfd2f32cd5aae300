"""Words one after the other on lines of a width, some with a box to tick before them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from layout.outputs.crew.columns import Cell
from layout.outputs.crew.sheet import width_of, wrap

TICK_BOX = "☐"
BOX_SIZE_PT = 11.0
BOX_PT = 10.2  # from the box's left edge to its words
BOX_OUT_PT = 1.5  # the glyph starts this far inside its own width
GAP_PT = 6.0  # before a box


@dataclass(frozen=True, slots=True)
class Run:
    """Some words.

    Parameters
    ----------
    words : str
        What they say.
    boxed : bool
        A box stands before them, and they stay on one line where one is wide enough.
    bold : bool
        Whether they are bold.
    size_pt : float, optional
        Size of their letters, where it differs from the row's.
    """

    words: str
    boxed: bool = False
    bold: bool = False
    size_pt: float | None = None


def cells(runs: Sequence[Run], x_pt: float, width_pt: float, size_pt: float) -> tuple[Cell, ...]:
    """Set runs of words one after the other.

    Parameters
    ----------
    runs : sequence of Run
        In their order.
    x_pt, width_pt : float
        Left edge from the column's, and room.
    size_pt : float
        Size of the row's letters.

    Returns
    -------
    tuple of Cell
        Boxes and words of a row, line by line.
    """
    setting = _Setting(x_pt, width_pt, size_pt)
    for run in runs:
        if run.boxed:
            setting.box(run)
        else:
            for word in run.words.split(" "):
                setting.word(replace(run, words=word))
    return tuple(setting.made)


@dataclass
class _Setting:
    """A row being set."""

    x_pt: float
    width_pt: float
    size_pt: float
    made: list[Cell] = field(default_factory=list)
    line: int = 0
    used_pt: float = 0.0
    last: Run | None = None  # the words before, where more may be written on behind them

    def box(self, run: Run) -> None:
        """Set a box and its words."""
        size = run.size_pt or self.size_pt
        wide = BOX_PT + width_of(run.words, size, bold=run.bold)
        before = GAP_PT if self.used_pt else 0.0
        if self.used_pt and self.used_pt + before + wide > self.width_pt:
            self.line, self.used_pt, before = self.line + 1, 0.0, 0.0
        x = self.used_pt + before
        self._put(x - BOX_OUT_PT, (TICK_BOX,), Run("", size_pt=BOX_SIZE_PT))
        lines = wrap(run.words, self.width_pt - x - BOX_PT, size, bold=run.bold)
        self._put(x + BOX_PT, tuple(lines), run)
        self.line += len(lines) - 1
        self.used_pt = x + BOX_PT + width_of(lines[-1], size, bold=run.bold)
        self.last = None

    def word(self, run: Run) -> None:
        """Set one word, behind what stands before it where there is room."""
        if not run.words:
            return
        size = run.size_pt or self.size_pt
        wide, blank = (width_of(w, size, bold=run.bold) for w in (run.words, " "))
        if self.used_pt and self.used_pt + blank + wide <= self.width_pt:
            if self.last == replace(run, words=""):
                cell = self.made[-1]
                lines = (*cell.lines[:-1], f"{cell.lines[-1]} {run.words}")
                self.made[-1] = replace(cell, lines=lines)
            else:
                self._put(self.used_pt + blank, (run.words,), run)
            self.used_pt += blank + wide
        else:
            if self.used_pt:
                self.line += 1
            lines = tuple(wrap(run.words, self.width_pt, size, bold=run.bold))
            self._put(0.0, lines, run)
            self.line += len(lines) - 1
            self.used_pt = width_of(lines[-1], size, bold=run.bold)
        self.last = replace(run, words="")

    def _put(self, x: float, lines: tuple[str, ...], run: Run) -> None:
        self.made.append(
            Cell(self.x_pt + x, ("",) * self.line + lines, bold=run.bold, size_pt=run.size_pt)
        )
