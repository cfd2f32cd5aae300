"""What people write or say about one tree into a phone: "37 RO 18 2".

Number, species, DBH and logs, in that order, with or without signs and units
between them; the grammar is exact and what does not fit it is no note, to be
listed and never guessed. A bare diameter is in the units of the area. Without
a number in front the species must be one we know, and a bare diameter too
small to matter is taken for a count ("oak 3" is the third oak).

    note     = [cut | leave] [number] [species] [DBH [logs]] [more]
    number   = 37 | #37 | T37 | tree 37 | no. 37 | 37A | B-12 | thirty seven
    species  = letters or names, "red oak", "RO"
    DBH      = 18 | 18.5 | 18 1/2 | 18" | 18 in | 45cm | eighteen | 18 in DBH
    logs     = 2 | 2.5 | 2L | 2 logs | two
    more     = words kept as they are; "cut", "leave", "dead top", "den tree",
               "60 ft tall", "±4 m" are understood
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from layout.note_phrases import LENGTHS_M, PHRASES, Note, with_phrases
from layout.note_warnings import against_cutting, danger
from layout.note_words import Token, clean, number_at, tokens_of
from layout.species import find, is_known
from layout.spoken_numbers import painted_at
from layout.units import INCH_M, Units

INCH_CM = 100 * INCH_M
LEAST_CM, MOST_CM = 0.5 * INCH_CM, 120 * INCH_CM  # as in a table
LEAST_UNNUMBERED_CM = 15.0  # a smaller bare figure without a tree number is a count; ours
MOST_LOGS = 12.0

_ID_WORDS = {"tree", "tag", "no", "nr", "num", "number", "#"}
_DBH_WORDS = {"dbh", "d.b.h", "diameter", "diam", "dia", "d"}
_LOG_WORDS = {"log", "logs", "l", "lg", "lgs"}
_SPECIES_WORDS = {"species", "spp"}
_UNITS_CM = (
    dict.fromkeys(("in", "ins", "inch", "inches", '"'), INCH_CM)
    | dict.fromkeys(("cm", "cms", "centimeter", "centimeters", "centimetre", "centimetres"), 1.0)
    | {"mm": 0.1}
)
_NOT_SPECIES = {
    "a", "an", "and", "at", "behind", "beside", "by", "for", "from", "in", "is", "near", "next",
    "of", "off", "on", "over", "past", "steps", "the", "to", "under", "up", "with", "cut", "leave",
    *_LOG_WORDS, *_ID_WORDS,
}  # fmt: skip
_DEVICE = re.compile(  # a name that a device gives by itself
    r"\s*(?:wpt?|waypoint|point|pt|pin|poi|mark|marker|place|position|location)[\s_#-]*[0-9]+"
    r"(?![\s,]*(?:[0-9.\"]|in\b|inch|cm|mm|dbh|l\b|logs?\b))",
    re.IGNORECASE,
)
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]{0,6}\.?"
_DATE = re.compile(  # and the time of day, as devices put them into a comment
    rf"\s*(?:[0-9]{{1,2}}[-/. ]{_MONTH}[-/., ]{{1,2}}[0-9]{{2,4}}"
    rf"|{_MONTH} [0-9]{{1,2}},? [0-9]{{4}}"
    r"|[0-9]{4}[-/.][0-9]{1,2}[-/.][0-9]{1,2}|[0-9]{1,2}[-/.][0-9]{1,2}[-/.](?:[0-9]{2}){1,2})"
    r"(?:[T ,]{1,2}[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?\s?(?:[ap]\.?m\.?)?"
    r"\s?(?:z|[-+][0-9]{2}:?[0-9]{2})?)?\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class _Diameter:
    """A diameter read, whether its unit and its label were there, and where it ends."""

    cm: float
    bare: bool
    labelled: bool
    end: int


def read_note(text: str, units: Units) -> Note | None:
    """Read one note.

    Parameters
    ----------
    text : str
        As the phone holds it.
    units : {"us", "metric"}
        A diameter without unit is in inches, or in centimetres.

    Returns
    -------
    Note or None
        None where the text does not fit the grammar. A note without a diameter
        holds a number and a known species, or a number alone.

    Examples
    --------
    >>> note = read_note("37 RO 18 2", "us")
    >>> note.tree_id, note.species, note.dbh_cm, note.logs
    ('37', 'RO', 45.72, 2.0)
    >>> read_note("thirty seven red oak eighteen two", "us").dbh_cm
    45.72
    >>> read_note("the big one by the stone wall", "us") is None
    True
    """
    said, error_m = clean(text, decimal_commas=units == "metric")
    if said is None or _DEVICE.match(said) or _DATE.fullmatch(said):
        return None
    tokens = tokens_of(said)
    mark, start = "", 0
    if tokens and tokens[0].low in ("cut", "leave"):
        mark, start = tokens[0].low, 1
    partial = None
    for tree_id, at in _numbers(tokens, start, said):
        note = _after_number(tokens, at, said, tree_id, units)
        if note is None:
            continue
        note = replace(note, mark=note.mark or mark, position_error_m=error_m)
        if note.dbh_cm is not None:
            return note
        partial = partial or note
    return partial


def named_by_device(text: str) -> bool:
    """Tell whether a text is a name or date that a device gave by itself: WP6, 26-NOV-26."""
    if _DATE.fullmatch(text):
        return True
    match = _DEVICE.match(text)
    return match is not None and not text[match.end() :].strip()


def read_diameter(text: str, units: Units) -> tuple[float, bool] | None:
    """Read a diameter by itself, ``18``, ``18 in`` or ``45cm``.

    Returns
    -------
    tuple of float and bool, or None
        Centimetres, and whether the unit was left out; None if it is none.
    """
    said, _ = clean(text, decimal_commas=True)
    tokens = tokens_of(said or "")
    read = _diameter_at(tokens, 0, units)
    return None if read is None or read.end != len(tokens) else (read.cm, read.bare)


def _numbers(tokens: list[Token], start: int, said: str) -> Iterator[tuple[str, int]]:
    """Give the ways the front of a note may be the tree's number; last, that there is none."""
    at = start
    while at < len(tokens) and (
        tokens[at].low in _ID_WORDS
        or (tokens[at].low == "t" and at + 1 < len(tokens) and tokens[at + 1].kind == "num")
    ):
        at += 1
    if at < len(tokens):
        token = tokens[at]
        if token.kind == "num" and re.fullmatch(r"[0-9]{1,6}", token.text):
            after = tokens[at + 1] if at + 1 < len(tokens) else None
            if (
                after is not None
                and after.start == token.end
                and re.fullmatch(r"[A-Za-z]", after.text)
                and not (at + 2 < len(tokens) and tokens[at + 2].start == after.end)
            ):
                yield token.text + after.text, at + 2
            yield token.text, at + 1
        elif token.kind == "word":
            painted = painted_at([t.low for t in tokens], at)
            if painted is not None:
                yield painted
    if start + 1 < len(tokens):  # a letter for the block before the number: B-12
        first, second = tokens[start], tokens[start + 1]
        between = said[first.end : second.start]
        if (
            first.kind == "word"
            and len(first.text) <= 3
            and second.kind == "num"
            and second.text.isdigit()
            and between in ("", "-")
        ):
            yield f"{first.text}{between}{second.text}", start + 2
    if at == start:
        yield "", start


def _after_number(
    tokens: list[Token], at: int, said: str, tree_id: str, units: Units
) -> Note | None:
    """Read species, diameter, logs and the rest."""
    at, end = _species_run(tokens, at)
    species, left = _species(tokens[at:end], numbered=tree_id != "")
    if species is None:
        return None
    read = _diameter_at(tokens, end, units)
    if read is None:
        bare_number = end == len(tokens) and tree_id != "" and not left
        known = species == "" or is_known(species)
        return Note(tree_id=tree_id, species=species) if bare_number and known else None
    if not LEAST_CM <= read.cm <= MOST_CM:
        return None
    if not _enough(tree_id, species, read) and not (tree_id and left):
        return None
    logs, end = _logs_at(tokens, read.end)
    if logs is not None and logs > MOST_LOGS:
        return None
    phrases = ([left] if left else []) + (
        re.split(PHRASES, said[tokens[end].start :]) if end < len(tokens) else []
    )
    note = Note(tree_id=tree_id, species=species, dbh_cm=read.cm, bare=read.bare, logs=logs)
    return with_phrases(note, phrases, units)


def _enough(tree_id: str, species: str, read: _Diameter) -> bool:
    """Tell whether a note says enough to be one on a tree."""
    said = read.labelled or not read.bare
    if tree_id == "":
        small = read.cm < LEAST_UNNUMBERED_CM and not said
        return species != "" and find(species).how != "unknown" and not small
    if species == "":
        return said
    return tree_id[0].isdigit() or is_known(species)


def _species_run(tokens: list[Token], at: int) -> tuple[int, int]:
    """Find where the words of the species begin and end."""
    lows = [t.low for t in tokens]
    at = end = _past(tokens, at, _SPECIES_WORDS)
    while (
        end < len(tokens)
        and tokens[end].kind == "word"
        and lows[end] not in _DBH_WORDS
        and number_at(tokens, end) is None
    ):
        end += 1
    return at, end


def _species(run: list[Token], *, numbered: bool) -> tuple[str | None, str]:
    """Settle which of the words are the species, and which are left over."""
    words = [t.text for t in run]
    if not words:
        return "", ""
    if len(words) > 6:
        return None, ""
    whole = " ".join(words)
    warned = danger(whole) != "" or against_cutting(whole).plain
    plain = not warned and not any(t.low in _NOT_SPECIES for t in run)
    if is_known(whole):
        return whole, ""
    group: tuple[str, str] | None = None
    for size in range(len(words) - 1, 0, -1):
        for first in range(len(words) - size, -1, -1):
            part = " ".join(words[first : first + size])
            sound = not danger(part) and not against_cutting(part).plain
            answered = warned and sound and find(part).how != "unknown"
            if (is_known(part) or answered) and (find(part).code is None or part.isupper()):
                left = " ".join(words[:first] + words[first + size :])
                if find(part).how == "species":
                    return part, left
                group = group or (part, left)
    if plain and len(words) < 4 and find(whole).how != "unknown":  # "overcup oak"
        return whole, ""
    if group is not None:
        return group
    if numbered and warned:  # "dead", "snag": what is the matter with it, and no species
        return "", whole
    if numbered and len(words) < 3 and plain and all(len(w) > 1 for w in words):
        return whole, ""
    return None, ""


def _diameter_at(tokens: list[Token], at: int, units: Units) -> _Diameter | None:
    """Read a diameter, its unit and its label on either side; not a count of logs."""
    begin = at
    at = _past(tokens, at, _DBH_WORDS)
    labelled = at > begin
    read = number_at(tokens, at)
    if read is None:
        return None
    value, at = read
    after = [t.low for t in tokens[at : at + 2]] + ["", ""]
    factor = _UNITS_CM.get(after[0])
    if after[0] == "in" and after[1] in ("the", "a", "an"):
        factor = None  # "in the hollow"
    bare = factor is None
    if after[0] in LENGTHS_M or (after[0] in _LOG_WORDS and not labelled):
        return None
    if factor is None:
        factor = INCH_CM if units == "us" else 1.0
    else:
        at += 1
    end = _past(tokens, at, _DBH_WORDS)
    return _Diameter(round(value * factor, 6), bare, labelled or end > at, end)


def _past(tokens: list[Token], at: int, words: set[str]) -> int:
    """Give the place after words that only say what a figure is."""
    while at < len(tokens) and tokens[at].low in words:
        at += 1
    return at


def _logs_at(tokens: list[Token], at: int) -> tuple[float | None, int]:
    """Read the logs, labelled on either side or bare."""
    first = at + 1 if at < len(tokens) and tokens[at].low in _LOG_WORDS else at
    read = number_at(tokens, first)
    if read is None:
        return None, at
    value, end = read
    after = tokens[end].low if end < len(tokens) else ""
    if first == at and after not in _LOG_WORDS and (after in LENGTHS_M or after in _UNITS_CM):
        return None, at  # "60 ft tall"
    return value, end + 1 if first == at and after in _LOG_WORDS else end


def read_more(note: Note, text: str, units: Units) -> Note | None:
    """Add what a further text says of the same tree: "dead top", "leave", "60 ft tall".

    Parameters
    ----------
    note : Note
        What is known so far.
    text : str
        A text that is no note by itself.
    units : {"us", "metric"}

    Returns
    -------
    Note or None
        None where the text holds figures that are not understood.
    """
    said, _ = clean(text, decimal_commas=False)
    if said is None or named_by_device(said):
        return None
    return with_phrases(note, re.split(PHRASES, said), units)
