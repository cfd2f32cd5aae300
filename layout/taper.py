"""How thick a standing stem is at any height, under its bark and over it.

The national volume equations say how much of a stem's volume lies below a
height, ``R(h) = (1 - (1 - h/H)^alpha)^beta``. Its slope is the stem's area there,

    pi/4 d(h)^2 = V alpha beta / H (1 - h/H)^(alpha - 1) (1 - (1 - h/H)^alpha)^(beta - 1)

so diameters and volumes are one thing: pieces cut anywhere add up to the stem.
The publication gives the outside-bark form; the inside-bark one is the same with
the volume and the ratio of the wood, and is ours.

The form does not pass through DBH: at breast height it is about an inch thick.
Above breast height no diameter is let past DBH, nor past DBH less its bark;
below, the flare is scaled down to meet it. Volumes are not touched by that.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.sources import STEM_VOLUME
from layout.species import Species, resolve, species_table
from layout.stem_sizes import BREAST_HEIGHT_M, check_stems
from layout.timber import stem_volume_m3
from layout.units import CUBIC_FOOT_M3, FOOT_M

Floats = NDArray[np.float64]

SOURCES = (STEM_VOLUME,)

INCH_CM = 2.54
HALVINGS = 36  # of a stem of 122 m: two millionths of a millimetre
NEAREST_GROUND = 1e-6  # share of the height: the form has no end at the ground itself


@dataclass(frozen=True, slots=True, eq=False)
class Stems:
    """Standing stems that can be asked for diameters and volumes; arrays have shape (n,).

    Parameters
    ----------
    row : ndarray of int
        Index into `layout.species.species_table`.
    dbh_cm, height_m : ndarray of float
        Diameter at breast height, centimetres, and total height, metres.
    wood_m3, whole_m3 : ndarray of float
        Ground to tip, without and with bark, cubic metres.
    wood_shape, whole_shape : ndarray of float, shape (2, n)
        ``alpha`` and ``beta`` of both.
    wood_breast_cm, whole_breast_cm : ndarray of float
        What the form itself gives at breast height, centimetres; more than DBH.
    """

    row: NDArray[np.int64]
    dbh_cm: Floats
    height_m: Floats
    wood_m3: Floats
    whole_m3: Floats
    wood_shape: Floats
    whole_shape: Floats
    wood_breast_cm: Floats
    whole_breast_cm: Floats

    def __len__(self) -> int:
        """Count the stems."""
        return int(self.row.size)

    def only(self, which: NDArray[np.int64]) -> "Stems":
        """Give some of the stems, in the order asked; one may come up more than once."""
        return Stems(
            row=self.row[which],
            dbh_cm=self.dbh_cm[which],
            height_m=self.height_m[which],
            wood_m3=self.wood_m3[which],
            whole_m3=self.whole_m3[which],
            wood_shape=self.wood_shape[:, which],
            whole_shape=self.whole_shape[:, which],
            wood_breast_cm=self.wood_breast_cm[which],
            whole_breast_cm=self.whole_breast_cm[which],
        )

    def wood_below_m3(self, at_m: ArrayLike) -> Floats:
        """Give wood inside bark between the ground and a height.

        Parameters
        ----------
        at_m : array_like of float, shape (n,) or scalar
            Height above ground, metres; below 0 counts as 0, above the tip as the tip.

        Returns
        -------
        ndarray of float, shape (n,)
            Cubic metres.
        """
        alpha, beta = self.wood_shape
        over = np.clip(1.0 - np.asarray(at_m, dtype=float) / self.height_m, 0.0, 1.0)
        return np.asarray(self.wood_m3 * (1.0 - over**alpha) ** beta)

    def height_at_wood_m3(self, wood_m3: ArrayLike) -> Floats:
        """Give the height below which the stem holds so much wood inside bark.

        Parameters
        ----------
        wood_m3 : array_like of float, shape (n,) or scalar
            Cubic metres; below 0 counts as 0, more than the stem holds as all of it.

        Returns
        -------
        ndarray of float, shape (n,)
            Metres above ground; NaN where the stem is not known.
        """
        alpha, beta = self.wood_shape
        share = np.clip(np.asarray(wood_m3, dtype=float) / self.wood_m3, 0.0, 1.0)
        return np.asarray(self.height_m * (1.0 - (1.0 - share ** (1.0 / beta)) ** (1.0 / alpha)))

    def dob_cm(self, at_m: ArrayLike) -> Floats:
        """Give diameters over the bark at a height.

        Parameters
        ----------
        at_m : array_like of float, shape (n,) or scalar
            Height above ground, metres; 0 counts as a millionth of the tree's height.

        Returns
        -------
        ndarray of float, shape (n,)
            Centimetres; falling from the ground up, 0 at the tip and above.
        """
        return self._held(at_m, self._whole_cm(at_m), self.whole_breast_cm, self.dbh_cm)

    def dib_cm(self, at_m: ArrayLike) -> Floats:
        """Give diameters inside the bark at a height.

        Parameters
        ----------
        at_m : array_like of float, shape (n,) or scalar
            As in `dob_cm`.

        Returns
        -------
        ndarray of float, shape (n,)
            Centimetres; falling from the ground up, never over `dob_cm`.
        """
        under = np.minimum(1.0, self.wood_breast_cm / self.whole_breast_cm)
        most = self.dbh_cm * under
        wood = self._held(at_m, self._wood_cm(at_m), self.wood_breast_cm, most)
        return np.asarray(np.minimum(wood, self.dob_cm(at_m)))

    def height_at_dib_m(self, dib_cm: ArrayLike) -> Floats:
        """Give the height at which the stem is down to a diameter inside bark.

        Parameters
        ----------
        dib_cm : array_like of float, shape (n,) or scalar
            Centimetres, above 0.

        Returns
        -------
        ndarray of float, shape (n,)
            Metres above ground; NaN where the stem is not known.
        """
        return self._height_at(dib_cm, inside=True)

    def height_at_dob_m(self, dob_cm: ArrayLike) -> Floats:
        """Give the height at which the stem is down to a diameter over bark.

        Parameters
        ----------
        dob_cm : array_like of float, shape (n,) or scalar
            Centimetres, above 0.

        Returns
        -------
        ndarray of float, shape (n,)
            Metres above ground; NaN where the stem is not known.
        """
        return self._height_at(dob_cm, inside=False)

    def wood_to_top_m3(
        self, top_cm: ArrayLike, *, stump_m: float = FOOT_M, over_bark: bool = True
    ) -> Floats:
        """Give wood inside bark from the stump to a top diameter.

        Parameters
        ----------
        top_cm : array_like of float, shape (n,) or scalar
            Diameter at the top, centimetres.
        stump_m : float, optional
            Height of the stump, metres.
        over_bark : bool, optional
            Whether the top is measured over bark, as the national inventory does.

        Returns
        -------
        ndarray of float, shape (n,)
            Cubic metres; 0 where the stump is no thicker than the top.

        Examples
        --------
        >>> oak = stems(["northern red oak"], [18 * 2.54], [85 * 0.3048])
        >>> (oak.wood_to_top_m3(4 * 2.54) / 0.3048**3).round(2).tolist()
        [55.05]
        """
        top = self._height_at(top_cm, inside=not over_bark)
        wood = self.wood_below_m3(top) - self.wood_below_m3(stump_m)
        return np.asarray(np.maximum(wood, 0.0))

    def _height_at(self, diameter_cm: ArrayLike, *, inside: bool) -> Floats:
        low, high = np.zeros(len(self)), self.height_m.copy()
        wanted = np.asarray(diameter_cm, dtype=float)
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            thicker = (self.dib_cm if inside else self.dob_cm)(middle) > wanted
            low, high = np.where(thicker, middle, low), np.where(thicker, high, middle)
        return np.asarray((low + high) / 2.0)

    def _held(self, at_m: ArrayLike, form: Floats, breast_cm: Floats, most_cm: Floats) -> Floats:
        """Hold the form to what was measured at breast height."""
        below = np.asarray(at_m, dtype=float) < BREAST_HEIGHT_M
        flare = form * np.minimum(1.0, most_cm / breast_cm)
        return np.asarray(np.where(below, flare, np.minimum(form, most_cm)))

    def _whole_cm(self, at_m: ArrayLike) -> Floats:
        return _form_cm(at_m, self.height_m, self.whole_m3, self.whole_shape)

    def _wood_cm(self, at_m: ArrayLike) -> Floats:
        return _form_cm(at_m, self.height_m, self.wood_m3, self.wood_shape)


def _form_cm(at_m: ArrayLike, height_m: Floats, volume_m3: Floats, shape: Floats) -> Floats:
    """Give the diameter whose area is the slope of the volume."""
    alpha, beta = shape
    over = 1.0 - np.clip(np.asarray(at_m, dtype=float) / height_m, NEAREST_GROUND, 1.0)
    slope = alpha * beta * over ** (alpha - 1.0) * (1.0 - over**alpha) ** (beta - 1.0)
    return np.asarray(100.0 * np.sqrt(4.0 / np.pi * volume_m3 / height_m * slope))


def stems(
    species: Sequence[str],
    dbh_cm: ArrayLike,
    height_m: ArrayLike,
    *,
    rows: Sequence[str] = (),
) -> Stems:
    """Make standing stems of a list.

    National-scale equations, USDA Forest Service GTR-WO-104 (Westfall et al. 2024),
    tables S1a, S3a, S4a and S5a. Quote volumes +-10 %.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm, height_m : array_like of float, shape (n,)
        Diameter at breast height, centimetres, and total height, metres; what is NaN
        gives NaN throughout.
    rows : sequence of str, length n
        How messages call each stem.

    Returns
    -------
    Stems

    Raises
    ------
    InputFaults
        As in `check_stems`.
    """
    dbh, height, _ = check_stems(dbh_cm, height_m, rows=rows)
    row = resolve(species).row
    table = species_table()
    wood = np.where(np.isnan(height), np.nan, stem_volume_m3(species, dbh, height))
    stand_in = [_with_taper(s, table) for s in table]
    share = np.array([1.0 if s is t else np.nan for s, t in zip(table, stand_in, strict=True)])[row]
    a, b, c = np.array([s.vob for s in stand_in])[row].T
    inches, feet = dbh / INCH_CM, height / FOOT_M
    whole = a * inches**b * feet**c * CUBIC_FOOT_M3
    if np.isnan(share).any():  # another row's bark, on this species' own wood
        names = [stand_in[r].common_name for r in row]
        other = stem_volume_m3(names, dbh, height)
        whole = np.where(np.isnan(share), whole / other * wood, whole)
    whole = np.maximum(whole, wood)
    height = np.where(np.isnan(dbh), np.nan, height)
    wood_shape = np.array([s.rib for s in stand_in])[row].T
    whole_shape = np.array([s.rob for s in stand_in])[row].T
    return Stems(
        row=row,
        dbh_cm=dbh,
        height_m=height,
        wood_m3=wood,
        whole_m3=whole,
        wood_shape=wood_shape,
        whole_shape=whole_shape,
        wood_breast_cm=_form_cm(BREAST_HEIGHT_M, height, wood, wood_shape),
        whole_breast_cm=_form_cm(BREAST_HEIGHT_M, height, whole, whole_shape),
    )


def _with_taper(species: Species, table: tuple[Species, ...]) -> Species:
    """Give the row whose taper answers for a species: its own, else its group's."""
    if np.isfinite([*species.vob, *species.rob, *species.rib]).all():
        return species
    return next(s for s in table if s.stands_for_group and s.group == species.group)
