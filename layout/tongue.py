"""The language the sheets are being written in: its words, and how it writes numbers.

English unless somebody says otherwise, and then only within a `with` block and its thread:
files and the report beside the sheets go on in English.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cache


@dataclass(frozen=True, slots=True)
class Tongue:
    """A language.

    Parameters
    ----------
    language : str
        Its two letters.
    words : mapping of str to str
        Sentences by key; what is not here is said in English.
    units : mapping of str to str
        Names of units by their English ones.
    phrases : mapping of str to str
        Sentences a plan itself holds, by the English ones; words in braces stand for
        numbers, names and further sentences, as `phrase` says. What says more stands first.
    species : mapping of str to str
        Names of trees by their English ones, in small letters and without dashes.
    decimal : str
        Mark before tenths.
    group : str
        What parts thousands.
    group_from : int
        Fewest figures before the decimal mark whose thousands are parted.
    """

    language: str = "en"
    words: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    phrases: Mapping[str, str] = field(default_factory=dict)
    species: Mapping[str, str] = field(default_factory=dict)
    decimal: str = "."
    group: str = ","
    group_from: int = 4


ENGLISH = Tongue()
# Units that are written alike everywhere.
_UNITS = frozenset({"%", "m", "m²", "m³", "cm", "ha", "m²/ha", "kg", "t", "kN", "kW", "lb"})
_spoken: ContextVar[Tongue] = ContextVar("tongue", default=ENGLISH)


def spoken() -> Tongue:
    """Give the language that is written now."""
    return _spoken.get()


@contextmanager
def speaking(tongue: Tongue) -> Iterator[None]:
    """Write in a language for as long as the block lasts."""
    before = _spoken.set(tongue)
    try:
        yield
    finally:
        _spoken.reset(before)


def number(value: float, how: str) -> str:
    r"""Write a number as the language does.

    Parameters
    ----------
    value : float
        The number.
    how : str
        As for `format`: ``",.1f"``.

    Examples
    --------
    >>> number(1450.0, ",.1f")
    '1,450.0'
    >>> with speaking(Tongue("es", decimal=",", group="\N{NO-BREAK SPACE}", group_from=5)):
    ...     number(1450.25, ",.1f"), number(-14500.0, ",.0f")
    ('1450,2', '-14\xa0500')
    """
    tongue, said = spoken(), format(value, how)
    if tongue.decimal == "." and tongue.group == "," and tongue.group_from <= 4:
        return said
    whole, _, part = said.partition(".")
    if "," in whole:
        bare = whole.replace(",", "")
        figures = sum(letter.isdigit() for letter in bare)
        whole = whole.replace(",", tongue.group) if figures >= tongue.group_from else bare
    return whole + (tongue.decimal + part if part else "")


def unit(name: str) -> str:
    """Give the name of a unit, or another small word, in the language.

    Examples
    --------
    >>> with speaking(Tongue("es", units={"ft": "pies"})):
    ...     unit("ft"), unit("m")
    ('pies', 'm')
    """
    return spoken().units.get(name, name)


def phrase(words: str) -> str | None:
    """Give a sentence that a plan holds in the language.

    Parameters
    ----------
    words : str
        The English sentence.

    Returns
    -------
    str or None
        None where the language does not have it, all of it: no sentence is half told.

    Notes
    -----
    Words in braces stand for parts. Those that begin with ``name`` are the user's own and
    stay as they are; those that begin with ``own`` are told where the language has them,
    and otherwise stay; those that begin with ``what`` are again sentences of the language.
    Every other is a number, with or without its unit, or again a sentence. Where a part is
    not such, the sentence is not the one meant, and the next is tried, in their order.

    Examples
    --------
    >>> with speaking(
    ...     Tongue("es", units={"ft": "pies"}, phrases={"bring it {far} nearer": "acercar {far}"})
    ... ):
    ...     phrase("bring it 12 ft nearer"), phrase("bring it much nearer"), phrase("stop")
    ('acercar 12 pies', None, None)
    """
    tongue = spoken()
    if tongue.language == "en":
        return words
    if words in tongue.phrases:
        return tongue.phrases[words]
    for english, other in tongue.phrases.items():
        found = _pattern(english).fullmatch(words) if "{" in english else None
        parts = {} if found is None else {n: _part(n, p) for n, p in found.groupdict().items()}
        told = {name: part for name, part in parts.items() if part is not None}
        if told and len(told) == len(parts):
            return other.format(**told)
    return None


@cache
def _pattern(english: str) -> re.Pattern[str]:
    """Give what finds a sentence with parts in braces."""
    parts = re.split(r"\{(\w+)\}", english)
    return re.compile(
        "".join(
            f"(?P<{part}>.+?)" if place % 2 else re.escape(part) for place, part in enumerate(parts)
        )
    )


def _part(name: str, words: str) -> str | None:
    """Tell one part of a sentence; None where it should be told and cannot be."""
    if name.startswith("name"):
        return words
    if name.startswith("own"):  # a tree's number is no measure
        return phrase(words) or words
    return phrase(words) if name.startswith("what") else measure(words) or phrase(words)


def measure(words: str) -> str | None:
    """Give an English number, with or without its unit, as the language writes it.

    What is written so already stays as it is.

    Examples
    --------
    >>> with speaking(Tongue("es", decimal=",", units={"ft": "pies"})):
    ...     measure("12.5 ft"), measure("12,5 pies"), measure("20 %"), measure("20 oaks")
    ('12,5 pies', '12,5 pies', '20 %', None)
    """
    tongue = spoken()
    found = re.fullmatch(r"(-?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.(\d+))?)(?: (\D.*))?", words)
    if found is not None:
        figures, part, name = found.groups()
        if name is None or name in _UNITS or name in tongue.units:
            said = number(float(figures.replace(",", "")), f",.{len(part or '')}f")
            return said if name is None else f"{said} {unit(name)}"
    own = re.fullmatch(rf"-?\d+(?:{re.escape(tongue.decimal)}\d+)? (\D.*)", words)
    if own is not None and (own[1] in _UNITS or own[1] in tongue.units.values()):
        return words
    return None
