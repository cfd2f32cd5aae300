"""Kinds of dangers and waters as people read them."""

from __future__ import annotations

from layout.outputs.words import ENGLISH


def hazard_word(kind: str) -> str:
    """Give the word for a kind of mapped hazard; one not known stays the user's own."""
    return ENGLISH.get(f"hazard_{kind}", plain_kind(kind))


def plain_kind(kind: str) -> str:
    """Write a kind as people read it.

    Examples
    --------
    >>> plain_kind("dead_top")
    'dead top'
    """
    return kind.replace("_", " ")
