"""Whose mark a name on a map would be read for.

A name belongs, for whoever reads the map, to the nearest mark of its kind, unless a line
leads it to another. Distances are from a name's box, not its middle: a long name beside
its own mark may hang over the next one. All lengths here are pixels of the page.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DIRECTIONS = 24  # of places tried round a mark
SAME_PX = 1.0  # marks this near to each other are marks of one thing


class Marks:
    """The marks of one map, by kind, each with what it belongs to."""

    def __init__(self) -> None:
        self._xy: dict[str, list[Floats]] = {}
        self._owners: dict[str, list[NDArray[np.str_]]] = {}
        self._points: set[str] = set()
        self._bare: list[Floats] = []
        self._bare_half: list[Floats] = []
        self._joined: dict[str, tuple[Floats, NDArray[np.str_]]] = {}

    def add(self, kind: str, xy: Floats, owner: str = "", bare: float = 0.0) -> None:
        """Enter marks.

        Parameters
        ----------
        kind : str
            What sort of thing they mark.
        xy : ndarray of float, shape (n, 2)
            Where.
        owner : str
            What they all belong to, as points along one trail do; empty where each is a
            thing of its own.
        bare : float
            How far round each no name may reach; 0 where names may cover it.
        """
        self._xy.setdefault(kind, []).append(xy)
        self._owners.setdefault(kind, []).append(np.full(len(xy), owner))
        self._joined.clear()
        if not owner:
            self._points.add(kind)
        if bare > 0:
            self._bare.append(xy)
            self._bare_half.append(np.full(len(xy), bare))

    def _of(self, kind: str) -> tuple[Floats, NDArray[np.str_]]:
        """Give the marks of a kind, of every kind of point where it is empty."""
        if kind not in self._joined:
            kinds = [kind] if kind else sorted(self._points)
            xy = [part for one in kinds for part in self._xy.get(one, [])]
            owners = [part for one in kinds for part in self._owners.get(one, [])]
            self._joined[kind] = (
                np.concatenate([*xy, np.empty((0, 2))]),
                np.concatenate([*owners, np.empty(0, dtype=str)]),
            )
        return self._joined[kind]

    def misread(
        self, at: Floats, middles: Floats, half: Floats, margin: float, kind: str, owner: str
    ) -> Bools:
        """Tell where a name would stand nearer to another mark than to its own.

        Parameters
        ----------
        at : ndarray of float, shape (2,)
            Its own mark, or the place on its own trail it is written at.
        middles : ndarray of float, shape (n, 2)
            Where its middle could be.
        half : ndarray of float, shape (2,)
            Half its width and height.
        margin : float
            By how much its own mark must be nearer.
        kind : str
            Marks it could be taken for the name of; empty: every point.
        owner : str
            Its own thing, where that has many marks.

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        own_away = _away(at[None], middles, half)[:, 0]
        xy, owners = self._of(kind)
        near = _within(xy, middles, half, float(own_away.max()) + margin)
        xy, owners = xy[near], owners[near]
        mine = owners == owner if owner else np.hypot(*(xy - at).T) <= SAME_PX
        others = xy[~mine]
        if not len(others):
            return np.zeros(len(middles), dtype=bool)
        if owner and mine.any():
            own_away = np.minimum(own_away, _away(xy[mine], middles, half).min(axis=1))
        least: Floats = _away(others, middles, half).min(axis=1)
        return np.asarray(least <= own_away + margin)

    def covered(self, at: Floats, middles: Floats, half: Floats) -> Bools:
        """Tell where a name would lie on a mark that must stay bare, its own not counted.

        Parameters
        ----------
        at, middles, half
            As `misread` takes them.

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        none = np.zeros(len(middles), dtype=bool)
        if not self._bare:
            return none
        if len(self._bare) > 1:
            self._bare = [np.concatenate(self._bare)]
            self._bare_half = [np.concatenate(self._bare_half)]
        xy, reach = self._bare[0], self._bare_half[0]
        near = _within(xy, middles, half, float(reach.max(initial=0.0)))
        xy, reach = xy[near], reach[near]
        others = np.hypot(*(xy - at).T) > SAME_PX
        if not others.any():
            return none
        return np.asarray((_away(xy[others], middles, half) < reach[others]).any(axis=1))


def _within(xy: Floats, middles: Floats, half: Floats, reach: float) -> Bools:
    """Tell which marks lie near any of some boxes; what is far need not be measured."""
    low, high = middles.min(axis=0) - half - reach, middles.max(axis=0) + half + reach
    return np.asarray(((xy >= low) & (xy <= high)).all(axis=1))


def _away(xy: Floats, middles: Floats, half: Floats) -> Floats:
    """Give how far each mark is from the edge of each box, shape (boxes, marks)."""
    off = np.maximum(np.abs(xy[None] - middles[:, None]) - half, 0.0)
    away: Floats = np.hypot(off[..., 0], off[..., 1])
    return away


def crosses(a: Floats, b: Floats, boxes: Floats) -> bool:
    """Tell whether a straight line runs through any of some boxes.

    Parameters
    ----------
    a, b : ndarray of float, shape (2,)
        Its ends.
    boxes : ndarray of float, shape (n, 4)
        Left, bottom, right and top of each.
    """
    step = b - a
    step = np.where(np.abs(step) < 1e-9, 1e-9, step)  # along an axis: as good as along it
    first, second = (boxes[:, :2] - a) / step, (boxes[:, 2:] - a) / step
    enters = np.maximum(np.minimum(first, second).max(axis=1), 0.0)
    leaves = np.minimum(np.maximum(first, second).min(axis=1), 1.0)
    return bool((enters < leaves).any())


def around(width: float, height: float, clear: Floats) -> Floats:
    """Give the middles of boxes that touch circles round a point, right side first.

    Parameters
    ----------
    width, height : float
        Of a box.
    clear : ndarray
        Radii of the circles, shape (n,).

    Returns
    -------
    ndarray
        Offsets from the point, shape (n * DIRECTIONS, 2).
    """
    number = np.arange(DIRECTIONS)
    turn = 2 * np.pi * ((number + 1) // 2) / DIRECTIONS * np.where(number % 2, 1, -1)
    way = np.column_stack([np.cos(turn), np.sin(turn)])
    half = np.array([width / 2, height / 2])
    middles: Floats = (way * (clear[:, None, None] + half)).reshape(-1, 2)
    return middles
