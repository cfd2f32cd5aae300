"""A few letters for each species, beside a tree's number on a map that has no room for names."""

from __future__ import annotations

import re
from itertools import chain, count
from typing import TYPE_CHECKING

from layout.outputs.words import species_said
from layout.species import field_codes, find

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from layout.plan import Plan


def marked_species(plan: Plan) -> list[str]:
    """Give the species of the marked trees that still stand, as listed, sorted."""
    species = dict(zip(plan.area.trees.tree_id, plan.area.trees.species, strict=True))
    stands = (o.tree_id for o in plan.trees if o.status not in ("leave", "done"))
    return sorted({name for tree_id in stands if (name := species[tree_id].strip())})


def species_codes(names: Collection[str]) -> dict[str, str]:
    """Give each species its letters, and no two species the same.

    Letters that a list itself has stay; a species of our tables has those of the field
    codes; any other has the first letters of its words.

    Parameters
    ----------
    names : collection of str
        Species as listed, none empty.

    Returns
    -------
    dict of str to str
        The letters of each name.

    Examples
    --------
    >>> species_codes(["red maple", "northern red oak", "RO", "gumbo limbo"])
    {'RO': 'RO', 'northern red oak': 'RO', 'red maple': 'RM', 'gumbo limbo': 'GL'}
    """
    table: dict[str, str] = {}
    for row in field_codes().values():
        table.setdefault(row.common_name.casefold(), row.code)
    made = {name: code.code for name in names if (code := find(name).code) is not None}
    own = {find(name).name.casefold(): letters for name, letters in sorted(made.items())}
    # letters of the tables are given out before ones made up
    rest = [name for name in sorted(names) if name not in made]
    for name in sorted(rest, key=lambda name: find(name).name.casefold() not in table):
        what = find(name).name.casefold()
        if what not in own:
            given = {*own.values(), *made.values()}
            likely = [table[what]] if what in table else []
            own[what] = next(c for c in chain(likely, _letters(what)) if c not in given)
        made[name] = own[what]
    return made


def key_said(codes: dict[str, str], shown: Collection[str]) -> str:
    """Say what letters mean, of the species shown; empty where no name says more than letters.

    Parameters
    ----------
    codes : dict of str to str
        The letters of each name.
    shown : collection of str
        Names whose letters a map has.

    Returns
    -------
    str
    """
    means: dict[str, str] = {}
    for name in sorted(shown, key=len, reverse=True):  # a word before the letters of a tally
        means.setdefault(codes[name], species_said(name))
    told = [f"{code} {name}" for code, name in sorted(means.items()) if code != name.upper()]
    return ", ".join(told)


def _letters(name: str) -> Iterator[str]:
    """Make up letters for a name, shorter ones first; a number keeps its digits, marked."""
    words = re.findall(r"[^\W\d_]+", name.upper())
    if not words:
        yield f"#{name.strip()}"
        words = ["SP"]
    initials = "".join(word[0] for word in words)
    if len(words) > 1:
        yield initials
    for length in range(2, 1 + max(len(word) for word in words)):
        yield words[-1][:length] if len(words) == 1 else initials[:-1] + words[-1][:length]
    yield from (f"{initials}{number}" for number in count(2))
