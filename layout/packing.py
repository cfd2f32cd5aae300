"""Things into bins: few bins, what lies together kept together, the farthest first.

Each thing has a mass and says how much a bin that holds it may weigh; a bin weighs what
its most delicate thing allows at most. Bins also hold a limited number of things, and a
limited volume where one is given.

Few bins come first. After that, bins draw on few places, and on places near each other:
a bin is filled on a walk from its farthest thing to its nearest. Some quick ways of
filling are tried, the best is mended by moves and exchanges, and few things are looked
through way by way, under a limit of work and not of time. The answer does not depend on
the order the things come in. `lower_bound` says how many bins any packing needs (bound L2
of Martello & Toth 1990, Knapsack Problems, ch. 8, from memory, on masses as shares of
what each thing allows).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NOISE = 1e-9  # share of a limit by which rounding may overstep it
WORK = 16_000  # looks at a thing in a bin before the mending is content; ours
SETS_LOOKED_AT = 300  # to fill one bin as full as may be; ours
SEARCHED_MOST = 40  # things; ways of filling are looked through only for so few
FILLINGS_LOOKED_AT = 1500  # things put into bins to find a packing of one bin less; ours


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to pack.

    Parameters
    ----------
    key : tuple of str and int
        Its name, of which there is one; breaks ties.
    mass, volume : float
        In any unit, 0 or more.
    limit : float
        Largest mass of a bin that holds it; may be infinite.
    group : str
        The place it lies at.
    far : float
        How far out that is.
    """

    key: tuple[str, int]
    mass: float
    limit: float
    volume: float = 0.0
    group: str = ""
    far: float = 0.0


def lower_bound(items: Sequence[Item], count: int, volume: float = math.inf) -> int:
    """Give a number of bins that no packing can do without.

    Parameters
    ----------
    items : sequence of Item
    count : int
        Most things in a bin.
    volume : float, optional
        Largest volume of a bin.

    Returns
    -------
    int
        The largest of the bounds by number, by mass and by volume.
    """
    by_mass = _least_bins(np.array([item.mass / item.limit for item in items]))
    by_volume = _least_bins(np.array([item.volume / volume for item in items]))
    return max(math.ceil(len(items) / count), by_mass, by_volume)


def _least_bins(share: NDArray[np.float64]) -> int:
    """Give the bound L2 for things that fill shares of a bin.

    No two big ones share a bin. What is small goes first into the room left beside the
    big ones that still take something of its size.
    """
    big, small = share[share > 0.5 + NOISE], share[share <= 0.5 + NOISE]
    least = 0
    for size in [0.0, *np.unique(small).tolist()]:
        room = float((1.0 - big[big <= 1.0 - size + NOISE]).sum())
        over = float(small[small >= size].sum()) - room
        least = max(least, big.size + max(0, math.ceil(over - 1e-6)))
    return least


def pack(
    items: Sequence[Item], count: int, volume: float = math.inf, *, work: int = WORK
) -> tuple[tuple[int, ...], ...]:
    """Pack things into few bins.

    Parameters
    ----------
    items : sequence of Item
    count : int
        Most things in a bin, 1 or more.
    volume : float, optional
        Largest volume of a bin.
    work : int, optional
        How long the mending may look on; the answer is the same on every machine.

    Returns
    -------
    tuple of tuple of int
        Rows of ``items``, bin by bin. Bins, and the things in a bin, run from far to
        near.

    Raises
    ------
    ValueError
        If a thing fits no bin by itself, or two have one key.
    """
    order = sorted(range(len(items)), key=lambda k: (-items[k].far, items[k].group, items[k].key))
    packing = _Packing([items[k] for k in order], count, volume, work)
    return tuple(tuple(order[row] for row in rows) for rows in packing.best())


class _Bin:
    """A bin and what is in it, by rows of the sorted list."""

    __slots__ = ("limit", "mass", "rows", "volume")

    def __init__(self) -> None:
        self.rows: list[int] = []
        self.mass, self.volume, self.limit = 0.0, 0.0, math.inf


class _Packing:
    """The search for a packing of things sorted from far to near."""

    def __init__(self, items: Sequence[Item], count: int, volume: float, work: int) -> None:
        self.items, self.count, self.volume = items, count, volume
        self.work = self.half = work // 2  # to need fewer bins, and to keep things together
        if len({item.key for item in items}) < len(items):
            raise ValueError("two things to pack have one key")
        empty = _Bin()
        for row, item in enumerate(items):
            if not self.takes(empty, row):
                raise ValueError(f"{item.key} fits no bin by itself")
        self.least = lower_bound(items, count, volume)

    def best(self) -> list[list[int]]:
        """Give the rows of each bin, in order."""
        masses = [item.mass for item in self.items]
        shares = [item.mass / item.limit for item in self.items]
        tries = [self._walked(), *map(self._best_fit, self._orders())]
        tries += [self._filled(masses), self._filled(shares)]
        bins = min(tries, key=self._rank)  # the first of the best
        while len(bins) > self.least:
            fewer = self._with_one_less(bins) or self._searched(len(bins) - 1)
            if fewer is None:
                break
            bins = fewer
        self.work = self.half
        self._drawn_together(bins)
        return sorted(sorted(b.rows) for b in bins if b.rows)

    # what fits, and how good it is

    def takes(self, b: _Bin, row: int, leaving: int = -1) -> bool:
        """Tell whether a bin can take a thing, another one leaving it."""
        item = self.items[row]
        number, mass, volume, limit = len(b.rows) + 1, b.mass, b.volume, b.limit
        if leaving >= 0:
            number -= 1
            gone = self.items[leaving]
            mass, volume = mass - gone.mass, volume - gone.volume
            if gone.limit <= limit:
                limit = min((self.items[r].limit for r in b.rows if r != leaving), default=math.inf)
        return (
            number <= self.count
            and mass + item.mass <= min(limit, item.limit) * (1 + NOISE)
            and volume + item.volume <= self.volume * (1 + NOISE)
        )

    def _put(self, b: _Bin, row: int) -> None:
        item = self.items[row]
        b.rows.append(row)
        b.mass, b.volume = b.mass + item.mass, b.volume + item.volume
        b.limit = min(b.limit, item.limit)

    def _made(self, rows: Sequence[int]) -> _Bin:
        b = _Bin()
        for row in sorted(rows):
            self._put(b, row)
        return b

    def _cost_of(self, *bins: Sequence[int]) -> tuple[int, float]:
        """Count the places some bins draw on, and add up how far those of a bin lie apart."""
        items, places, apart = self.items, 0, 0.0
        for rows in bins:
            if rows:
                places += len({items[r].group for r in rows})
                apart += items[min(rows)].far - items[max(rows)].far
        return places, apart

    def _rank(self, bins: Sequence[_Bin]) -> tuple[int, tuple[int, float]]:
        return len(bins), self._cost_of(*(b.rows for b in bins))

    # ways to fill

    def _orders(self) -> Iterator[list[int]]:
        """Give orders to take the things in."""
        items, rows = self.items, range(len(self.items))
        yield sorted(rows, key=lambda r: -items[r].mass / items[r].limit)
        yield sorted(rows, key=lambda r: -items[r].mass)
        yield sorted(rows, key=lambda r: (items[r].limit, -items[r].mass))
        yield sorted(rows, key=lambda r: (-items[r].limit, -items[r].mass))

    def _best_fit(self, order: Sequence[int]) -> list[_Bin]:
        """Put each thing where it leaves the least room."""
        bins: list[_Bin] = []
        for row in order:
            self._put(self._fullest_that_takes(bins, row) or _new(bins), row)
        return bins

    def _fullest_that_takes(self, bins: Sequence[_Bin], row: int) -> _Bin | None:
        found, least = None, math.inf
        for b in bins:
            if self.takes(b, row):
                left = min(b.limit, self.items[row].limit) - b.mass
                if left < least or found is None:
                    found, least = b, left
        return found

    def _walked(self) -> list[_Bin]:
        """Fill bins one after another on the way in, each with whatever still fits it."""
        left = list(range(len(self.items)))
        bins: list[_Bin] = []
        while left:
            b = _new(bins)
            for row in left:
                if self.takes(b, row):
                    self._put(b, row)
            taken = set(b.rows)
            left = [row for row in left if row not in taken]
        return bins

    def _filled(self, worth: Sequence[float]) -> list[_Bin]:
        """Fill bins with what is worth most, one by one, each round the most delicate left."""
        items = self.items
        pool = sorted(range(len(items)), key=lambda r: -worth[r])
        bins: list[_Bin] = []
        while pool:
            first = min(pool, key=lambda r: (items[r].limit, -items[r].mass))
            pool.remove(first)
            b = _new(bins)
            self._put(b, first)
            masses, values = [items[r].mass for r in pool], [worth[r] for r in pool]
            room = b.limit * (1 + NOISE) - b.mass
            for k in _worth_most(masses, values, room, self.count - 1):
                if self.takes(b, pool[k]):  # the volume may say no
                    self._put(b, pool[k])
            taken = set(b.rows)
            pool = [row for row in pool if row not in taken]
        return bins

    # mending

    def _with_one_less(self, bins: list[_Bin]) -> list[_Bin] | None:
        """Empty one bin into the others, things there making room by moving on."""
        for victim in sorted(bins, key=lambda b: (b.mass, len(b.rows), min(b.rows))):
            others = [self._made(b.rows) for b in bins if b is not victim]
            heavy = sorted(victim.rows, key=lambda r: (-self.items[r].mass, r))
            if all(self._squeezed_in(others, row) for row in heavy):
                return others
            if self.work <= 0:
                break
        return None

    def _squeezed_in(self, bins: list[_Bin], row: int) -> bool:
        """Put a thing into some bin, another one moving on from there if need be."""
        found = self._fullest_that_takes(bins, row)
        self.work -= len(bins)
        if found is not None:
            self._put(found, row)
            return True
        for n, b in enumerate(bins):
            for other in b.rows:
                self.work -= 1
                if self.items[other].mass >= self.items[row].mass or not self.takes(b, row, other):
                    continue
                rest = [*bins[:n], *bins[n + 1 :]]
                self.work -= len(rest)
                onward = self._fullest_that_takes(rest, other)
                if onward is not None:
                    self._put(onward, other)
                    bins[n] = self._made([*(r for r in b.rows if r != other), row])
                    return True
                if self.work <= 0:
                    return False
        return False

    def _searched(self, number: int) -> list[_Bin] | None:
        """Look through the ways of filling so many bins: all of them, where things are few."""
        items = self.items
        if len(items) > SEARCHED_MOST:
            return None
        order = sorted(range(len(items)), key=lambda r: (-items[r].mass / items[r].limit, r))
        left = [math.fsum(items[r].mass for r in order[n:]) for n in range(len(order) + 1)]
        widest = max(item.limit for item in items)
        bins = [_Bin() for _ in range(number)]
        looks = FILLINGS_LOOKED_AT

        def place(n: int) -> bool:
            nonlocal looks
            if n == len(order):
                return True
            room = sum(min(b.limit, widest) - b.mass for b in bins if len(b.rows) < self.count)
            if left[n] > room * (1 + NOISE):
                return False
            tried: set[tuple[float, float, float, int]] = set()
            for k in sorted(range(number), key=lambda k: -bins[k].mass):
                b, like = bins[k], (bins[k].mass, bins[k].volume, bins[k].limit, len(bins[k].rows))
                if like in tried or not self.takes(b, order[n]):
                    continue
                looks -= 1
                if looks < 0:
                    return False
                tried.add(like)
                self._put(b, order[n])
                if place(n + 1):
                    return True
                b.rows.pop()
                b.mass, b.volume, b.limit, _ = like
            return False

        return bins if place(0) else None

    def _drawn_together(self, bins: list[_Bin]) -> None:
        """Move and exchange things while that brings together what lies together."""
        better = True
        while better and self.work > 0:
            better = False
            for a in range(len(bins)):
                for b in range(a + 1, len(bins)):
                    better |= self._exchanged(bins, a, b)
                    if self.work <= 0:
                        return

    def _exchanged(self, bins: list[_Bin], a: int, b: int) -> bool:
        """Try the best move or exchange between two bins."""
        one, two = bins[a], bins[b]
        before = self._cost_of(one.rows, two.rows)
        if before[0] <= 2 and before[1] <= 0:
            return False
        best, chosen = before, None
        for out in [*one.rows, -1]:
            for back in [*two.rows, -1]:
                self.work -= 1
                comes = back < 0 or self.takes(one, back, out)
                if out == back or not comes or not (out < 0 or self.takes(two, out, back)):
                    continue
                left = [r for r in one.rows if r != out] + ([back] if back >= 0 else [])
                right = [r for r in two.rows if r != back] + ([out] if out >= 0 else [])
                cost = self._cost_of(left, right)
                if (cost[0], cost[1] + NOISE) < best:
                    best, chosen = cost, (left, right)
        if chosen is None:
            return False
        bins[a], bins[b] = self._made(chosen[0]), self._made(chosen[1])
        return True


def _new(bins: list[_Bin]) -> _Bin:
    bins.append(_Bin())
    return bins[-1]


def _worth_most(
    masses: Sequence[float], worth: Sequence[float], room: float, most: int
) -> list[int]:
    """Choose among things of falling worth a few that fit a room and are worth most."""
    best: tuple[float, list[int]] = (0.0, [])
    looks = SETS_LOOKED_AT

    def grow(fits: list[int], left: float, number: int, chosen: list[int], sum_: float) -> None:
        nonlocal best, looks
        if fits and number == 1:
            chosen, sum_ = [*chosen, fits[0]], sum_ + worth[fits[0]]
        if sum_ > best[0]:
            best = sum_, chosen
        if number <= 1:
            return
        for n, k in enumerate(fits):
            looks -= 1
            if looks < 0 or sum_ + number * worth[k] <= best[0]:
                return
            rest = left - masses[k]
            onward = [j for j in fits[n + 1 :] if masses[j] <= rest]
            grow(onward, rest, number - 1, [*chosen, k], sum_ + worth[k])

    grow([k for k, mass in enumerate(masses) if mass <= room], room, most, [], 0.0)
    return best[1]
