"""Numbers spoken in English words, as a phone may write them down."""

from collections.abc import Sequence

_ONES = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13,
    "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18,
    "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60,
    "seventy": 70, "eighty": 80, "ninety": 90,
}  # fmt: skip
_ZERO = ("zero", "oh", "o")
_PARTS = {"half": 0.5, "quarter": 0.25, "third": 1 / 3}


def number_at(words: Sequence[str], start: int) -> tuple[float, int] | None:
    """Read one number in words.

    Tens and ones stand together where they can ("twenty two" is 22, never 20
    and 2). Decimals are one word after "point"; halves and quarters follow "and".

    Parameters
    ----------
    words : sequence of str
        Lower case.
    start : int
        Where it begins.

    Returns
    -------
    tuple of float and int, or None
        The number and the place after its last word; None where no number stands there.

    Examples
    --------
    >>> number_at("eighteen two".split(), 0), number_at("one hundred and four".split(), 0)
    ((18.0, 1), (104.0, 4))
    >>> number_at("fourteen and a half".split(), 0), number_at(["oak"], 0)
    ((14.5, 4), None)
    """
    whole = _whole_at(words, start)
    if whole is None:
        return None
    value, at = whole
    rest = list(words[at : at + 3])
    if rest[:1] == ["point"] and len(rest) > 1 and _ONES.get(rest[1], 10) < 10:
        return value + _ONES[rest[1]] / 10, at + 2
    if rest[:2] == ["and", "a"] and rest[2:] and rest[2] in _PARTS:
        return value + _PARTS[rest[2]], at + 3
    if rest[:3] == ["and", "three", "quarters"]:
        return value + 0.75, at + 3
    return float(value), at


def _whole_at(words: Sequence[str], start: int) -> tuple[int, int] | None:
    """Read a whole number up to 9999 in words."""
    small = _below_hundred_at(words, start)
    if small is None:
        return None
    value, at = small
    if at < len(words) and words[at] == "hundred":
        value, at = 100 * value, at + 1
        after = at + 1 if at < len(words) and words[at] == "and" else at
        more = _below_hundred_at(words, after)
        if more is not None:
            value, at = value + more[0], more[1]
    return value, at


def _below_hundred_at(words: Sequence[str], start: int) -> tuple[int, int] | None:
    """Read a whole number below a hundred in words."""
    if start >= len(words):
        return None
    word = words[start]
    if word in _TENS:
        ones = _ONES.get(words[start + 1], 0) if start + 1 < len(words) else 0
        return (_TENS[word] + ones, start + 2) if 0 < ones < 10 else (_TENS[word], start + 1)
    return (_ONES[word], start + 1) if word in _ONES else None


def painted_at(words: Sequence[str], start: int) -> tuple[str, int] | None:
    """Read a painted number, which people also speak figure by figure.

    Parameters
    ----------
    words : sequence of str
        Lower case.
    start : int
        Where it begins.

    Returns
    -------
    tuple of str and int, or None
        The figures and the place after the last word.

    Examples
    --------
    >>> painted_at("thirty seven red".split(), 0), painted_at("one oh four".split(), 0)
    (('37', 2), ('104', 3))
    >>> painted_at("one forty two".split(), 0)
    ('142', 3)
    """
    figures, at = "", start
    while at < len(words) and len(figures) < 6:
        if figures and words[at] in _ZERO:
            figures, at = figures + "0", at + 1
            continue
        piece = _whole_at(words, at)
        if piece is None:
            break
        figures, at = figures + str(piece[0]), piece[1]
    return (figures, at) if figures else None
