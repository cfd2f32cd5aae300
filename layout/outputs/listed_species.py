"""Sums by species bear the name the user's own list has, where it has one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.species import find

if TYPE_CHECKING:
    from layout.harvest import Harvest
    from layout.plan import Plan


def listed_names(plan: Plan, harvest: Harvest) -> dict[str, str]:
    """Give what the tree list calls each species of the harvest.

    Parameters
    ----------
    plan : Plan
    harvest : Harvest
        What its trees give.

    Returns
    -------
    dict of str to str
        By the name sums go by: the one way the list writes it; that name itself where the list
        writes it in several ways, or in letters of a tally.
    """
    ways: dict[str, dict[str, str]] = {}
    for name, written in zip(harvest.species, plan.area.trees.species, strict=True):
        own = written.strip()
        ways.setdefault(name, {}).setdefault(own.casefold(), own)
    out = {}
    for name, written_as in ways.items():
        (own, *others) = written_as.values()
        plain = own and not others and find(own).code is None
        out[name] = own if plain else name
    return out
