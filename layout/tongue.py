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
        numbers and names.
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
    decimal: str = "."
    group: str = ","
    group_from: int = 4


ENGLISH = Tongue()
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
        None where the language does not have it.

    Examples
    --------
    >>> with speaking(Tongue("es", phrases={"bring it {far} nearer": "acercar {far}"})):
    ...     phrase("bring it 12 ft nearer"), phrase("stop")
    ('acercar 12 ft', None)
    """
    tongue = spoken()
    if tongue.language == "en":
        return words
    if words in tongue.phrases:
        return tongue.phrases[words]
    for english, other in tongue.phrases.items():
        if "{" in english:
            parts = re.split(r"\{(\w+)\}", english)
            pattern = "".join(
                f"(?P<{part}>.+?)" if place % 2 else re.escape(part)
                for place, part in enumerate(parts)
            )
            found = re.fullmatch(pattern, words)
            if found:
                return other.format(**found.groupdict())
    return None
