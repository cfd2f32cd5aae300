"""Languages the crew sheets are written in besides English, a file of words for each."""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from importlib import resources
from typing import Any

from layout.tongue import ENGLISH, Tongue
from layout.units import Units


def tongue(language: str, units: Units) -> Tongue:
    """Give a language.

    Parameters
    ----------
    language : str
        Its two letters: "en", or the name of a file of words.
    units : {"us", "metric"}
        What lengths are told in; some languages write numbers by the country.

    Returns
    -------
    Tongue
    """
    if language == ENGLISH.language:
        return ENGLISH
    held = catalogue(language)
    numbers = held["numbers"]
    return Tongue(
        language,
        held["words"],
        held["units"],
        _fullest_first(held["phrases"] | held["chances"]),
        held["species"],
        numbers[f"decimal_{units}"],
        numbers["group"],
        numbers["group_from_digits"],
    )


def _fullest_first(phrases: dict[str, str]) -> dict[str, str]:
    """Sort sentences by how much they say: else a name would swallow the end of a longer one."""
    return dict(sorted(phrases.items(), key=lambda both: -len(re.sub(r"\{\w+\}", "", both[0]))))


@lru_cache
def catalogue(language: str) -> dict[str, Any]:
    """Read a language's file of words."""
    path = resources.files("layout.outputs.words") / f"{language}.toml"
    read: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    return read
