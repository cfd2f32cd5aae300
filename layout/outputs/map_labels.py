"""Names on a map that never lie on each other.

Each mark that must stay visible is entered in a coarse picture of the page. A
name takes the place, of many round its mark, that hides least; where every
place already holds another name it is left out, or for names that must be read
put farther off with a thin line to its mark. A line leads also from a name that would
be read for another mark of its kind; no name lies on a line, and none on a mark that
must stay bare, while there is another place.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.outputs import palette as ink
from layout.outputs.name_costs import NAME_COST, Costs
from layout.outputs.name_leads import Leads
from layout.outputs.name_marks import DIRECTIONS, Marks, around, crosses

Floats = NDArray[np.float64]

FAR_COST = 5.0  # a name beside its mark beats one farther off that hides as little
RINGS = (1.0, 1.8, 3.0, 4.0, 5.0, 6.5, 8.0, 11.0, 15.0, 20.0)  # of clear distances round a mark
LED_COST = 8.0  # a line to read along: rather a little farther off; ours, by looking
LED_DANGER_COST = 400.0  # that of a danger: a line is easily missed, and who misses it is hurt
SPOILS = 1e4  # another's mark would be hidden: only where nothing else is
BEHIND_COST = 1500.0  # a line to a name would run behind another name; ours, by counting
MISLEADS_COST = 3000.0  # one would cross another trail or be lost in one: rather behind a name
ON_LINE_COST = 600.0  # of each cell: a name on such a line
CLEAN = SPOILS / 2  # what a name hides at most that spoils nothing
HIDES_LITTLE = 60.0  # what one hides at most that may as well be left out
NEARER_PT = 0.5  # by so much at least its own mark is the nearest
LINE_STEP_PT = 1.5  # a line counts as marks this far apart
LEAD_PT = 0.5
CASING_PT = 0.7  # white on both sides of such a line: black on a trail it is not seen
CASING_ZORDER = 16.7  # over trails, their stations and arrows, under dots and squares


@dataclass(frozen=True, slots=True)
class Look:
    """How a name is written."""

    size_pt: float = 7.0
    colour: str = ink.INK
    bold: bool = False
    boxed: bool = False
    halo_pt: float = 2.0
    rotation_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class _Found:
    """Where a name would stand, pixels, what that costs, and whether a line leads there."""

    cost: float
    x: float
    y: float
    led: bool
    place: tuple[float, float] = (0.0, 0.0)


class Labels:
    """Places names on one map.

    Parameters
    ----------
    axes : Axes
        The map; its limits must be set.
    canvas : FigureCanvasAgg
        What measures text.
    """

    def __init__(self, axes: Axes, canvas: FigureCanvasAgg) -> None:
        self._axes = axes
        self._renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        self._px_per_pt = axes.figure.dpi / 72
        box = axes.get_window_extent(self._renderer)
        self._marks = Marks()
        self._leads = Leads(self._px_per_pt)
        self._names: list[tuple[float, float, float, float]] = []
        self._costs = Costs(box.x0, box.y0, box.width, box.height)

    def avoid_points(
        self,
        xy: Iterable[tuple[float, float]],
        size_pt: float,
        cost: float,
        *,
        kinds: tuple[str, ...] = ("",),
        bare_pt: float = 0.0,
    ) -> None:
        """Enter round marks that names had better not hide.

        Parameters
        ----------
        xy : iterable of (float, float)
            Where, grid metres.
        size_pt : float
            How large, points.
        cost : float
            How dear it is to hide one, for each cell.
        kinds : tuple of str
            Names of these kinds could be read for theirs.
        bare_pt : float
            How far round each no name may reach, points; 0 where names may cover it.
        """
        points = np.array(list(xy), dtype=float).reshape(-1, 2)
        half = 0.5 * size_pt * self._px_per_pt
        at = self._axes.transData.transform(points)
        for number, kind in enumerate(kinds):
            self._marks.add(kind, at, bare=0.0 if number else bare_pt * self._px_per_pt)
        for x, y in at:
            self._costs.add(x - half, y - half, x + half, y + half, cost)

    def own_line(self, kind: str, owner: str, xy: Floats) -> None:
        """Enter a line that names of its kind could be read for the name of.

        Parameters
        ----------
        kind : str
            Names of this kind.
        owner : str
            Whose line it is.
        xy : ndarray of float, shape (n, 2) or (n, 3)
            Its corners, grid metres.
        """
        ends = self._axes.transData.transform(np.asarray(xy, dtype=float)[:, :2])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ends, axis=0).T))])
        count = max(int(along[-1] / (LINE_STEP_PT * self._px_per_pt)), 1) + 1
        at = np.linspace(0.0, along[-1], count)
        points = np.column_stack([np.interp(at, along, axis) for axis in ends.T])
        self._marks.add(kind, points, owner)

    def bar_leads(self, owner: str, xy: Floats) -> None:
        """Enter a trail, by its name, that lines to names had better not cross or run along."""
        self._leads.add(owner, self._axes.transData.transform(np.asarray(xy, dtype=float)[:, :2]))

    def avoid_line(self, xy: Floats, width_pt: float, cost: float) -> None:
        """Enter a line that names had better not hide."""
        ends = self._axes.transData.transform(np.asarray(xy, dtype=float)[:, :2])
        self._costs.add_line(ends, max(0.5 * width_pt * self._px_per_pt, 0.5), cost)

    def avoid_area(self, shape: Polygon, cost: float) -> None:
        """Enter an area that names had better not cover."""
        corners = self._axes.transData.transform(np.asarray(shape.exterior.coords)[:, :2])
        self._costs.add_area(corners, cost)

    def beside(
        self,
        text: str,
        anchors: Iterable[tuple[float, float]],
        look: Look,
        *,
        clear_pt: float = 5.0,
        must: bool = False,
        hide_most: float = NAME_COST / 2,
        kind: str = "",
        owner: str = "",
        trail: str = "",
        lead: bool = True,
    ) -> bool:
        """Write a name beside the best of some places.

        Parameters
        ----------
        text : str
            The name.
        anchors : iterable of (float, float)
            Places it may stand beside, the likeliest first, grid metres.
        look : Look
            How it is written.
        clear_pt : float
            Least distance from the place, points.
        must : bool
            Whether it may stand far off, with a thin line, rather than be left out.
        hide_most : float
            Left out where it would hide more than this.
        kind : str
            The marks it could be read for the name of; empty: every mark. With a kind, or
            where it must be read, a line leads from the name to a mark that is not the
            nearest.
        owner : str
            Whose name it is, where a line entered with `own_line` is its mark.
        trail : str
            The trail its places lie on, where it is entered with `bar_leads`: a line that
            would be read for another's is as dear as `MISLEADS_COST`.
        lead : bool
            Whether a line may lead to it; without, it stands where it needs none.

        Returns
        -------
        bool
            Whether the name was written.
        """
        width, height = self._measure(text, look)
        best: _Found | None = None
        rings = np.array(RINGS if must else (1.0, 1.8))
        far = np.repeat(FAR_COST * (rings - 1), DIRECTIONS)
        for rank, place in enumerate(anchors):
            if best is not None and best.cost <= 0.3 * rank:  # no later place can be as good
                break
            at = self._axes.transData.transform(place)
            middles = around(width, height, clear_pt * self._px_per_pt * rings) + at
            cost = self._costs.prices(middles, width, height) + far + 0.3 * rank
            found = self._best(
                cost,
                np.repeat(rings > 2, DIRECTIONS),
                at,
                middles,
                np.array([width / 2, height / 2]),
                (kind, owner) if kind or must else None,
                trail,
                lead=lead,
                most=hide_most if best is None else best.cost,
            )
            if best is None or found.cost < best.cost - 1e-9:
                best = replace(found, place=place)
        if best is None or best.cost >= hide_most:
            return False
        if best.led:
            self._lead(best.place, best.x, best.y, look.colour)
            px, py = self._axes.transData.inverted().transform((best.x, best.y))
            self.avoid_line(np.array([best.place, (px, py)]), 1.0, ON_LINE_COST)
        self._write(text, best.x, best.y, width, height, look)
        return True

    def _best(
        self,
        cost: Floats,
        off: NDArray[np.bool_],
        at: Floats,
        middles: Floats,
        half: Floats,
        named: tuple[str, str] | None,
        trail: str,
        *,
        lead: bool,
        most: float,
    ) -> _Found:
        """Find the best of the places round one mark, and whether a line must lead there.

        One that costs as much as `most`, or more, need not be looked for: its cost is given.
        """
        best = _Found(most, 0.0, 0.0, led=False)
        order = np.argsort(cost.round(6), kind="stable")
        for start in range(0, len(order), DIRECTIONS):  # what is dearer is seldom looked at
            some = order[start : start + DIRECTIONS]
            if cost[some[0]] >= best.cost:
                break
            price, led = cost[some], off[some]
            price = price + SPOILS * self._marks.covered(at, middles[some], half)
            if named is not None:
                margin = NEARER_PT * self._px_per_pt
                misread = self._marks.misread(at, middles[some], half, margin, *named)
                dear = LED_DANGER_COST if named[0] == "hazard" else LED_COST
                price, led = price + dear * misread, led | misread
            if not lead:
                price = price + NAME_COST * led
            elif trail and led.any():
                misleads = self._leads.misleading(at, middles[some], trail)
                price = price + MISLEADS_COST * (led & misleads)
            for number in np.argsort(price.round(6), kind="stable").tolist():
                if price[number] >= best.cost:
                    break
                x, y = middles[some[number]].tolist()
                hidden = led[number] and self._behind(at, np.array([x, y]))
                said = float(price[number]) + (BEHIND_COST if hidden else 0.0)
                if said < best.cost:
                    best = _Found(said, x, y, led=bool(led[number]))
        return best

    def _behind(self, at: Floats, middle: Floats) -> bool:
        """Tell whether a line from a mark to its name would run behind another name."""
        return bool(self._names) and crosses(at, middle, np.array(self._names))

    def on(self, text: str, place: tuple[float, float], look: Look) -> bool:
        """Write a name right on a place, if nothing is hidden there."""
        width, height = self._measure(text, look)
        x, y = self._axes.transData.transform(place)
        if self._costs.price(x, y, width, height) > 0:
            return False
        self._write(text, x, y, width, height, look)
        return True

    def size_in(self, text: str, look: Look) -> tuple[float, float]:
        """Give a name's width and height on the page with a little air, inches."""
        width, height = self._measure(text, look)
        return width / (72 * self._px_per_pt), height / (72 * self._px_per_pt)

    def at_best(self, text: str, places: list[tuple[float, float]], look: Look) -> bool:
        """Write a name right on the one of some places where it hides least.

        Parameters
        ----------
        text : str
            The name.
        places : list of (float, float)
            Where its middle may be, the best first, grid metres.
        look : Look
            How it is written.

        Returns
        -------
        bool
            Whether it was written; not where every place holds another name.
        """
        if not places:
            return False
        width, height = self._measure(text, look)
        middles = self._axes.transData.transform(np.array(places))
        cost = self._costs.prices(middles, width, height).round(6)
        best = int(cost.argmin())
        if cost[best] >= NAME_COST / 2:
            return False
        x, y = middles[best].tolist()
        self._write(text, x, y, width, height, look)
        return True

    def _measure(self, text: str, look: Look) -> tuple[float, float]:
        """Give a name's width and height on the page with a little air, pixels."""
        made = Text(
            0,
            0,
            text,
            fontsize=look.size_pt,
            fontweight="bold" if look.bold else "normal",
        )
        made.set_figure(self._axes.figure)
        made.set_rotation(look.rotation_deg)
        box = made.get_window_extent(self._renderer)
        air = (4.5 if look.boxed else 1.5) * self._px_per_pt
        return box.width + air, box.height + air

    def _write(
        self, text: str, x: float, y: float, width: float, height: float, look: Look
    ) -> None:
        """Write a name and keep its place for it alone."""
        px, py = self._axes.transData.inverted().transform((x, y))
        made = self._axes.text(
            px,
            py,
            text,
            fontsize=look.size_pt,
            color=look.colour,
            fontweight="bold" if look.bold else "normal",
            ha="center",
            va="center",
            rotation=look.rotation_deg,
            zorder=40,
            clip_on=True,
        )
        self._dress(made, look)
        self.keep(x - width / 2, y - height / 2, x + width / 2, y + height / 2)

    def keep(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Keep a box of the page, pixels, for one name alone."""
        self._names.append((x0, y0, x1, y1))
        self._costs.add(x0, y0, x1, y1, NAME_COST)

    def _dress(self, made: Text, look: Look) -> None:
        """Put a box or a halo round a name."""
        if look.boxed:
            made.set_bbox(
                {"facecolor": ink.PAPER, "edgecolor": look.colour, "pad": 1.4, "linewidth": 0.7}
            )
        else:
            made.set_path_effects([withStroke(linewidth=look.halo_pt, foreground=ink.PAPER)])

    def _lead(self, place: tuple[float, float], x: float, y: float, colour: str) -> None:
        """Draw a thin line from a mark to its name."""
        px, py = self._axes.transData.inverted().transform((x, y))
        for colour_of, width_pt, zorder in (
            (ink.PAPER, LEAD_PT + 2 * CASING_PT, CASING_ZORDER),
            (colour, LEAD_PT, 30),
        ):
            self._axes.plot(
                [place[0], px],
                [place[1], py],
                color=colour_of,
                linewidth=width_pt,
                zorder=zorder,
                solid_capstyle="butt",
            )
