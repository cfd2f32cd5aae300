"""Names of the trails that leave another, over its profile: all of them, led to their triangles.

Where one row has no room for all they stand in turns on several, the lines of the upper ones
between the names of the lower.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from layout.outputs.report import svg
from layout.outputs.side_by_side import side_by_side

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.outputs.report.tags import Markup

ROW_PX = 20.0  # from one row of names to the next
GAP_PX = 5.0  # between names, and on either side of a line that runs between two
LEAD_PX = 12.0  # under the lowest row, where lines go aside
DROP_PX = 4.0  # of a name under its base, and of what a line keeps under the next row
MOST_ROWS = 9


@dataclass(frozen=True, slots=True)
class Names:
    """Where names stand.

    Parameters
    ----------
    names : tuple of str
        The names, from left to right as their triangles stand.
    rows : int
        How many rows they take.
    ways : tuple of tuple of float
        For each, where its line crosses each row from the lowest up; the last is where the
        name stands.
    """

    names: tuple[str, ...]
    rows: int
    ways: tuple[tuple[float, ...], ...]

    @property
    def height_px(self) -> float:
        """Height over the ground's picture."""
        return ROW_PX * self.rows + LEAD_PX if self.names else 0.0

    def drawn(self, tops: Sequence[tuple[float, float]], foot: float) -> list[Markup]:
        """Write the names over `foot`, with lines down to where their triangles end at the top."""
        made = []
        for name, way, (x, top) in zip(self.names, self.ways, tops, strict=True):
            line = [(x, top), (x, foot)]
            for row, at in enumerate(way):
                low = foot - LEAD_PX - ROW_PX * row
                line.append((at, low))
                if row < len(way) - 1:
                    line.append((at, low - ROW_PX + DROP_PX))
            base = foot - LEAD_PX - ROW_PX * (len(way) - 1) - DROP_PX
            made += [svg.path(line, "lead"), svg.words(way[-1], base, name, "", "middle")]
        return made


def laid(names: Sequence[str], places: Sequence[float], room: tuple[float, float]) -> Names:
    """Set names in as few rows as hold them all.

    Parameters
    ----------
    names : sequence of str
        The names.
    places : sequence of float
        Where their triangles stand, ascending.
    room : tuple of float
        Where rows begin and end.

    Returns
    -------
    Names
    """
    for rows in count(1):
        wide = [
            [
                svg.wide(name) + GAP_PX if number % rows == row else GAP_PX
                for number, name in enumerate(names)
                if number % rows >= row
            ]
            for row in range(rows)
        ]
        if rows >= MOST_ROWS or all(sum(one) <= room[1] - room[0] for one in wide):
            break
    stand: list[list[float]] = [[] for _ in names]
    for row in reversed(range(rows)):  # the upper ones first: the lower make way for their lines
        here = [number for number in range(len(names)) if number % rows >= row]
        wanted = [stand[number][0] if stand[number] else places[number] for number in here]
        found, _ = side_by_side(wanted, wide[row], room)
        for number, x in zip(here, found, strict=True):
            stand[number].insert(0, x)
    return Names(tuple(names), rows, tuple(tuple(way) for way in stand))
