"""Names a hand-held receiver takes: eight characters at most, and no two alike.

A name that is short enough stays as it is. A longer one keeps its first letters
and the number it ends in, because the number tells stems apart; a number that does
not fit whole is left out, because a part of it would be another stem's. Where two
come out alike the later one gets a letter, never a number, for the same reason.
"""

import itertools
import re
import string
import unicodedata
from collections.abc import Iterator, Sequence

LONGEST = 8
GOOD = re.compile(rf"[A-Z0-9][A-Z0-9-]{{0,{LONGEST - 1}}}")
UNWRITABLE = "X"  # for a name none of whose characters can be written


def with_prefix(prefix: str, name: str) -> str:
    """Give a name that starts with letters saying what it is.

    Examples
    --------
    >>> with_prefix("T", "37"), with_prefix("T", "t37"), with_prefix("W", "W12")
    ('T37', 't37', 'W12')
    """
    return name if name.strip().upper().startswith(prefix) else f"{prefix}{name.strip()}"


def shorten(names: Sequence[str], fronts: Sequence[str] = ()) -> tuple[str, ...]:
    """Shorten names so that all are told apart.

    Parameters
    ----------
    names : sequence of str
        As the plan calls things. One that needs no change is never given to
        another; of those that do, what stands first chooses first.
    fronts : sequence of str, optional
        What each name begins with, of A-Z, 0-9 and dash, at most four; it is never cut.

    Returns
    -------
    tuple of str
        One a name: 1 to 8 of A-Z, 0-9 and dash, no two alike.

    Examples
    --------
    >>> shorten(["M", "S12", "Upper landing spur 3", "Upper landing run 3", "s12"])
    ('M', 'S12', 'UPPER-L3', 'UPPER3-A', 'S12-A')
    >>> shorten(["T37", "T12345"], ["014", "014"])
    ('014T37', '014T')
    """
    out: dict[int, str] = {}
    taken: set[str] = set()
    letters: dict[str, Iterator[str]] = {}  # how far each doubled name has come
    before = tuple(fronts) or ("",) * len(names)
    for number, name in enumerate(names):
        whole = before[number] + name
        if GOOD.fullmatch(whole) and GOOD.fullmatch(name) and whole not in taken:
            out[number] = whole
            taken.add(whole)
    for number, name in enumerate(names):
        if number in out:
            continue
        plain, front = _plain(name) or UNWRITABLE, before[number]
        short = whole = front + _fitted(plain, LONGEST - len(front))
        while short in taken:
            tail = "-" + next(letters.setdefault(whole, _letters()))
            short = front + _fitted(plain, LONGEST - len(front) - len(tail)) + tail
        out[number] = short
        taken.add(short)
    return tuple(out[number] for number in range(len(names)))


def _plain(name: str) -> str:
    """Write a name in capitals, digits and dashes; accents go, other scripts cannot stay."""
    letters = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", name).upper())
    without_marks = "".join(c for c in letters if not unicodedata.combining(c))
    return re.sub(r"[^A-Z0-9]+", "-", without_marks).strip("-")


def _fitted(plain: str, most: int) -> str:
    """Cut a plain name to length: its first letters, and the number it ends in."""
    if len(plain) <= most:
        return plain
    words = plain.rstrip(string.digits)
    digits = plain[len(words) :]
    if len(digits) >= most:
        digits = digits.lstrip("0")
    if len(digits) >= most:  # a part of it would be another number
        return words[:most].strip("-") or UNWRITABLE
    head = plain[: most - len(digits)]
    if digits and head[-1:].isdigit():
        head = head[:-1] + "-"  # two numbers run together would read as a third
    return (head + digits).strip("-")


def _letters() -> Iterator[str]:
    """Give A to Z, then AA, AB and so on."""
    for count in itertools.count(1):
        for letters in itertools.product(string.ascii_uppercase, repeat=count):
            yield "".join(letters)
