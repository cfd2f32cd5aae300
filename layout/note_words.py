"""The text of a note made plain and cut into figures and words."""

import html
import re
from dataclasses import dataclass

from layout.spoken_numbers import number_at as spoken_at
from layout.units import FOOT_M

LONGEST = 2_000  # signs; what is longer is no note on a tree
_SIGNS = str.maketrans(
    {
        "\u2018": "'", "\u2019": "'", "\u2032": "'", "\u00b4": "'",
        "\u201c": '"', "\u201d": '"', "\u2033": '"', "\u201e": '"',
        "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
        "\u00bd": " 1/2", "\u00bc": " 1/4", "\u00be": " 3/4", "\u00a0": " ", "\u202f": " ",
    }
)  # fmt: skip
_BREAK = re.compile(r"<br\s*/?>|</(?:p|div|tr|li|td|th|h[0-9])\s*>", re.IGNORECASE)
_TAG = re.compile(r"<[/!a-z][^<>]{0,1000}>", re.IGNORECASE)
_TOKEN = re.compile(
    r"(?P<frac>[0-9]+/[0-9]+)|(?P<num>[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
    r"|(?P<word>[^\W\d_]+(?:['.][^\W\d_]+)*)|(?P<mark>[\"'#])"
)
_NUM = r"([0-9]+(?:\.[0-9]+)?)"
_ERROR = re.compile(
    rf"(?:(?:±|\+\s?/\s?-|\+-)\s*{_NUM}\s*(m|ft|feet|foot|'|met(?:er|re)s?)?"
    rf"|\b(?:accuracy|acc|error|err|epe)\b\.?\s*[:=]?\s*(?:±|\+\s?/\s?-|\+-)?\s*"
    rf"{_NUM}\s*(m|ft|feet|foot|'|met(?:er|re)s?))(?!\w)",
    re.IGNORECASE,
)
_FEET = ("ft", "feet", "foot", "'")
_WITH_UNIT = r"\s*(?:cm|mm|in\b|inch|\")"


@dataclass(frozen=True, slots=True)
class Token:
    """A figure, a fraction, a word or a sign, and where it stands."""

    kind: str  # num, frac, word, mark
    text: str
    start: int
    end: int

    @property
    def low(self) -> str:
        """The text in lower case."""
        return self.text.lower()


def clean(text: str, *, decimal_commas: bool) -> tuple[str | None, float | None]:
    """Make a note plain, and take out how well the place is known.

    Parameters
    ----------
    text : str
        As the phone holds it; tags and entities of web pages are taken off.
    decimal_commas : bool
        Whether a comma between figures may be a decimal comma where the text has
        no other comma; before a unit it always is.

    Returns
    -------
    text : str or None
        None where it holds figures no note has (a sign before them, two points).
    position_error_m : float or None
        What "±4 m" or "accuracy 13 ft" says; without a unit, metres.

    Examples
    --------
    >>> clean("37 RO 18\u201d &amp; wet ±4m", decimal_commas=False)
    ('37 RO 18" & wet  ', 4.0)
    """
    if len(text) > LONGEST:
        return None, None
    plain = html.unescape(text)
    plain = _TAG.sub(" ", _BREAK.sub("\n", plain)).translate(_SIGNS).replace("''", '"')
    plain = re.sub(rf"(?<=[0-9]),(?=[0-9]{{1,2}}{_WITH_UNIT})", ".", plain)
    commas = re.findall(r"[0-9]?,[0-9]?", plain)
    if decimal_commas and commas and all(len(found) == 3 for found in commas):
        plain = plain.replace(",", ".")
    error_m = None
    match = _ERROR.search(plain)
    if match:
        figure, unit = match[1] or match[3], (match[2] or match[4] or "").lower()
        error_m = float(figure) * (FOOT_M if unit in _FEET else 1.0)
        plain = plain[: match.start()] + " " + plain[match.end() :]
    if re.search(r"(?:^|[\s,;:(])[-+][0-9]|[0-9]\.[0-9]+\.[0-9]", plain):
        return None, error_m
    return plain, error_m


def tokens_of(said: str) -> list[Token]:
    """Cut plain text into figures, words and signs; everything else only separates."""
    return [
        Token(match.lastgroup or "", match.group(), match.start(), match.end())
        for match in _TOKEN.finditer(said)
    ]


def number_at(tokens: list[Token], at: int) -> tuple[float, int] | None:
    """Read a number in figures or words, a fraction after it included.

    Returns
    -------
    tuple of float and int, or None
        The number and the place after it.

    Examples
    --------
    >>> number_at(tokens_of("18 1/2 in"), 0), number_at(tokens_of("two logs"), 0)
    ((18.5, 2), (2.0, 1))
    """
    if at >= len(tokens):
        return None
    token = tokens[at]
    if token.kind == "frac":
        part = _part(token)
        return None if part is None else (part, at + 1)
    if token.kind == "num":
        value = float(token.text)
        part = _part(tokens[at + 1]) if at + 1 < len(tokens) else None
        if part is not None and value == int(value):
            return value + part, at + 2
        return value, at + 1
    return spoken_at([t.low for t in tokens], at) if token.kind == "word" else None


def _part(token: Token) -> float | None:
    """Give a fraction below one, None where it is none."""
    if token.kind != "frac" or len(token.text) > 7:
        return None
    over, _, under = token.text.partition("/")
    return int(over) / int(under) if 0 < int(over) < int(under) else None
