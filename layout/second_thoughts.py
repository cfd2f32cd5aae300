"""Spurs thought over again: set apart while others grow where they stand, then offered with them.

Growing on from what is chosen finds no way that a chosen spur bars. So some of the
spurs, the dear ones first, are set apart for a round: trails grow as if they were
not there, and the choice is then given both. Since all that was chosen is
still on offer, nothing is lost by looking.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from layout.network import Branch


@dataclass(frozen=True, slots=True)
class Parted:
    """A network with some spurs set apart.

    Parameters
    ----------
    kept : tuple of Branch
        The others, numbered anew.
    number : dict of int to int
        From old number to number in ``kept``.
    apart : tuple of int
        Old numbers of those set apart, parents first.
    """

    kept: tuple[Branch, ...]
    number: dict[int, int]
    apart: tuple[int, ...]

    def put_back(self, branches: Sequence[Branch], old: Sequence[Branch]) -> list[Branch]:
        """Add those set apart to what grew on the others.

        Parameters
        ----------
        branches : sequence of Branch
            ``kept`` first, then what grew.
        old : sequence of Branch
            The network before.

        Returns
        -------
        list of Branch
        """
        out, number = list(branches), dict(self.number)
        for n in self.apart:
            number[n] = len(out)
            out.append(replace(old[n], parent=number[old[n].parent]))
        return out


def part(branches: Sequence[Branch], loose: frozenset[int]) -> Parted:
    """Set spurs apart, with all that hangs on them.

    Parameters
    ----------
    branches : sequence of Branch
        Parents first.
    loose : frozenset of int
        Numbers of the spurs to set apart; what stands on the ground stays.

    Returns
    -------
    Parted
    """
    kept: list[Branch] = []
    number: dict[int, int] = {}
    apart: list[int] = []
    for n, branch in enumerate(branches):
        hangs = branch.parent >= 0 and branch.parent not in number
        if not branch.standing and (n in loose or hangs):
            apart.append(n)
            continue
        number[n] = len(kept)
        kept.append(replace(branch, parent=number.get(branch.parent, -1)))
    return Parted(tuple(kept), number, tuple(apart))


def spurs_by_cost(branches: Sequence[Branch], trees: Mapping[int, int]) -> list[int]:
    """Order the spurs off standing trails by what a tree of theirs costs, the dearest first.

    Parameters
    ----------
    branches : sequence of Branch
        Parents first.
    trees : mapping of int to int
        Trees pulled from positions on each branch.

    Returns
    -------
    list of int
        Numbers of branches that leave a standing trail; each counts with all that hangs on it.
    """
    root = list(range(len(branches)))
    price = [0.0] * len(branches)
    pulled = [0] * len(branches)
    for n, branch in enumerate(branches):
        if branch.standing:
            continue
        if not branches[branch.parent].standing:
            root[n] = root[branch.parent]
        price[root[n]] += float(branch.measured.price_m2[-1])
        pulled[root[n]] += trees.get(n, 0)
    roots = [n for n, branch in enumerate(branches) if not branch.standing and root[n] == n]
    return sorted(roots, key=lambda n: (-price[n] / max(pulled[n], 1), n))
