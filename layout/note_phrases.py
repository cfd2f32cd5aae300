"""What a note on a tree says, and the words after its figures that are understood."""

import re
from dataclasses import dataclass, replace

from layout.tree_words import SPOKEN_HAZARDS, SPOKEN_KEEPS
from layout.units import FOOT_M, Units

LENGTHS_M = dict.fromkeys(("ft", "feet", "foot", "'"), FOOT_M) | dict.fromkeys(
    ("m", "meter", "meters", "metre", "metres"), 1.0
)
PHRASES = r"[,;|()\n]+|\.\s"
_NUM = r"([0-9]+(?:\.[0-9]+)?)"
_LEN = r"(ft|feet|foot|'|m|met(?:er|re)s?)"
_HEIGHT = re.compile(
    rf"(?:height|ht)\b\.?\s*:?\s*{_NUM}\s*{_LEN}?(?![\w'])|{_NUM}\s*{_LEN}\s*(?:tall|high)\b",
    re.IGNORECASE,
)
_NUMBER_LATER = re.compile(
    r"(?:#|(?:no|nr|number|tree|tag)\b\.?\s*#?)\s*([0-9]{1,6}[a-z]?)(?!\w)", re.IGNORECASE
)
_MEASURED = re.compile(  # a figure in plain words that is neither a diameter nor a count of logs
    rf"{_NUM}\s*(?:ft|feet|foot|'|yd|yards?|m|met(?:er|re)s?|paces|steps|%|deg|degrees)(?!\w)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Note:
    """What a note says; an empty text or None where it does not say.

    Parameters
    ----------
    tree_id, species : str
        As written.
    dbh_cm : float or None
        Diameter, centimetres.
    bare : bool
        Whether the diameter had no unit, so that it was taken in the area's.
    logs, height_m, position_error_m : float or None
    mark, keep, hazard : str
        Words of the columns of these names.
    rest : str
        Words that were not used.
    """

    tree_id: str = ""
    species: str = ""
    dbh_cm: float | None = None
    bare: bool = False
    logs: float | None = None
    height_m: float | None = None
    position_error_m: float | None = None
    mark: str = ""
    keep: str = ""
    hazard: str = ""
    rest: str = ""


def with_phrases(note: Note, phrases: list[str], units: Units) -> Note | None:
    """Take what is known of the words after the figures.

    Parameters
    ----------
    note : Note
        What is known so far.
    phrases : list of str
        Words between commas; only a whole phrase is understood.
    units : {"us", "metric"}
        Of a height without a unit.

    Returns
    -------
    Note or None
        None where figures are left over that nothing explains.
    """
    unused: list[str] = [note.rest] if note.rest else []
    for raw in phrases:
        phrase = raw.strip(" -.:_\t")
        low = " ".join(phrase.lower().replace("-", " ").split())
        if not low:
            continue
        height, later = _HEIGHT.fullmatch(phrase), _NUMBER_LATER.fullmatch(phrase)
        if low in ("cut", "leave") and not note.mark:
            note = replace(note, mark=low)
        elif low in SPOKEN_KEEPS and not note.keep:
            note = replace(note, keep=SPOKEN_KEEPS[low])
        elif low in SPOKEN_HAZARDS and not note.hazard:
            note = replace(note, hazard=SPOKEN_HAZARDS[low])
        elif height and note.height_m is None:
            metres = _height_m(height, units)
            if metres is None:
                return None
            note = replace(note, height_m=metres)
        elif later and not note.tree_id:
            note = replace(note, tree_id=later[1])
        elif re.search(r"[0-9]", _MEASURED.sub("", phrase)):
            return None
        else:
            unused.append(" ".join(phrase.split()))
    return replace(note, rest=", ".join(unused))


def _height_m(match: re.Match[str], units: Units) -> float | None:
    """Give a height in metres, None outside what a tree can be."""
    figure, unit = match[1] or match[3], (match[2] or match[4] or "").lower()
    factor = LENGTHS_M.get(unit, FOOT_M if units == "us" else 1.0)
    metres = float(figure) * factor
    return metres if 1.0 <= metres <= 120.0 else None
