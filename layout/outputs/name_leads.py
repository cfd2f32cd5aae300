"""Where a line from a name to its mark would be read for something else.

Such a line is as black as a trail. Where it crosses another trail, the eye stops there; where
it runs along one, it is lost in it and comes out somewhere else. All lengths here are pixels
of the page.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ALONG_DEG = 20.0  # a line that leaves a trail at less is lost in it; ours, by looking
NEAR = 2.5  # half as thick as a main trail is drawn, and a little; in points, as those below
LOST = 6.0  # so much of a line along a trail is not seen as a line of its own
TOUCH = 0.2  # a mark as near as that to another trail lies on it
FINE_PX = 0.5  # by so much a trail may be made straighter here


class Leads:
    """The trails of one map that lines to names may neither cross nor run along.

    Parameters
    ----------
    px_per_pt : float
        Of the page.
    """

    def __init__(self, px_per_pt: float) -> None:
        self._px_per_pt = px_per_pt
        self._pieces: list[Floats] = []
        self._owners: list[NDArray[np.str_]] = []

    def add(self, owner: str, xy: Floats) -> None:
        """Enter a trail by its name and its corners, shape (n, 2)."""
        corners = np.asarray(LineString(xy).simplify(FINE_PX).coords)
        pieces = np.stack([corners[:-1], corners[1:]], axis=1)
        self._pieces.append(pieces)
        self._owners.append(np.full(len(pieces), owner))

    def misleading(self, at: Floats, ends: Floats, owner: str) -> Bools:
        """Tell which lines from a mark cross another trail, or run along any.

        Parameters
        ----------
        at : ndarray of float, shape (2,)
            The mark, on its own trail.
        ends : ndarray of float, shape (n, 2)
            Where a line may lead.
        owner : str
            The trail the mark lies on. A line may start on it, but not meet it again.

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        near = NEAR * self._px_per_pt
        pieces, owners = self._close_to(np.vstack([at, ends]), near)
        if not len(pieces):
            return np.zeros(len(ends), dtype=bool)
        way = ends - at
        long = np.maximum(np.hypot(*way.T), 1e-9)
        way = (way / long[:, None])[:, None]  # unit vectors, shape (n, 1, 2)
        first, last = pieces[None, :, 0] - at, pieces[None, :, 1] - at
        off_first, off_last = _cross(way, first), _cross(way, last)  # aside of the line
        along_first, along_last = (way * first).sum(axis=2), (way * last).sum(axis=2)
        turned = off_last - off_first
        with np.errstate(divide="ignore", invalid="ignore"):
            meets = along_first - off_first / turned * (along_last - along_first)
            sides = np.stack([(-near - off_first) / turned, (near - off_first) / turned])
        # a spur begins on the trail it leaves: a line from just there does not cross that
        start = np.where(owners == owner, near, TOUCH * self._px_per_pt)
        crossed = (off_first * off_last <= 0) & (meets > start) & (meets < long[:, None])
        size = np.hypot(*(pieces[:, 1] - pieces[:, 0]).T)
        aside = np.abs(turned) < math.sin(math.radians(ALONG_DEG)) * size
        # what of each piece is so near, as shares of it; one that is exactly parallel is all
        sides = np.where(turned == 0, [[[-np.inf]], [[np.inf]]], sides)
        low, high = np.clip(sides.min(axis=0), 0, 1), np.clip(sides.max(axis=0), 0, 1)
        beside = aside & ((turned != 0) | (np.abs(off_first) < near))
        ends_along = along_first + np.stack([low, high]) * (along_last - along_first)
        ends_along = np.clip(ends_along, 0.0, long[:, None])
        lost = np.where(beside, np.abs(np.diff(ends_along, axis=0)[0]), 0.0).sum(axis=1)
        return np.asarray(crossed.any(axis=1) | (lost > LOST * self._px_per_pt))

    def _close_to(self, points: Floats, reach: float) -> tuple[Floats, NDArray[np.str_]]:
        """Give the pieces of trail near any line between some points, and whose they are."""
        if not self._pieces:
            return np.empty((0, 2, 2)), np.empty(0, dtype=str)
        if len(self._pieces) > 1:
            self._pieces = [np.concatenate(self._pieces)]
            self._owners = [np.concatenate(self._owners)]
        pieces, owners = self._pieces[0], self._owners[0]
        low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
        near = ((pieces.max(axis=1) >= low) & (pieces.min(axis=1) <= high)).all(axis=1)
        return pieces[near], owners[near]


def _cross(a: Floats, b: Floats) -> Floats:
    """Give how far b lies aside of a, for many pairs of vectors; left of it is positive."""
    aside: Floats = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return aside
