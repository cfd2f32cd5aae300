"""Waypoints of a phone taken as a tree list: notes, forms, and what was not understood.

Every waypoint becomes a row. What a note did not say stays blank and is told
of; nobody's tree is dropped because a thumb slipped.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from layout.note_phrases import Note
from layout.note_warnings import Against, against_cutting, danger
from layout.note_words import clean
from layout.read_waypoints import Waypoint
from layout.species import find, is_known
from layout.table_cells import shown
from layout.tree_headings import ALIASES
from layout.tree_notes import named_by_device, read_diameter, read_more, read_note
from layout.tree_words import BOUNDS, NO
from layout.units import FOOT_M, Units

DILUTION_M = 5.0  # place error for each unit of HDOP, and never less; from memory, unverified
MOST_ERROR_M = 200.0
MOST_ID = 20

# Fields of forms, as people name them, and the columns they are.
FORM = {
    "tree_id": "tree_id", "tree": "tree_id", "tree_no": "tree_id", "tree_number": "tree_id",
    "number": "tree_id", "tag": "tree_id",
    "species": "species", "spp": "species",
    "dbh_in": "dbh_in", "dbh_cm": "dbh_cm",
    "dbh": "dbh", "diameter": "dbh",
    "logs": "logs", "height_ft": "height_ft", "height_m": "height_m",
    "mark": "mark", "keep": "keep", "hazard": "hazard", "defect_pct": "defect_pct",
    "lean_deg": "lean_deg", "lean_azimuth_deg": "lean_azimuth_deg",
    "position_error_m": "position_error_m",
}  # fmt: skip
_MORE_TEXTS = ("note", "notes", "comment", "comments", "remarks")
_ERRORS = (
    "accuracy", "hacc", "haccuracy", "horizontal_accuracy", "horizontalaccuracy",
    "estimated_accuracy", "position_error", "epe", "accuracy_m",
)  # fmt: skip
_FIELD = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*([a-z%\"'\u00b0]*)\.?", re.IGNORECASE)
_FEET, _METRES = {"", "ft", "feet", "'"}, {"", "m", "meters", "metres"}
_DEGREES = {"", "deg", "degrees", "\u00b0"}
_FIELD_UNITS = {  # that a form's field may repeat after its figure
    "dbh_in": {"", "in", "inch", "inches", '"'}, "dbh_cm": {"", "cm"},
    "height_ft": _FEET, "height_m": _METRES, "position_error_m": _METRES,
    "logs": {"", "log", "logs"}, "defect_pct": {"", "%", "percent"},
    "lean_deg": _DEGREES, "lean_azimuth_deg": _DEGREES,
}  # fmt: skip
_ERROR = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(m|ft|feet|met(?:er|re)s?)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Said:
    """One waypoint, what was said of it and what was understood.

    Parameters
    ----------
    point : Waypoint
    raw : str
        Everything that was typed, as it was.
    note : Note
        What it says; empty where nothing was understood.
    form : dict of str to str
        Columns that came filled in, by their names.
    tree_id : str
        The id it goes by; empty until `numbered`.
    twofold : bool
        Whether its fields say different things of one tree.
    unread : tuple of str
        Fields of a form that hold what their column cannot, as they were.
    """

    point: Waypoint
    raw: str
    note: Note
    form: dict[str, str] = field(default_factory=dict)
    tree_id: str = ""
    twofold: bool = False
    unread: tuple[str, ...] = ()

    @property
    def understood(self) -> bool:
        """Whether a diameter was found."""
        return self.note.dbh_cm is not None or "dbh_in" in self.form or "dbh_cm" in self.form

    @property
    def number(self) -> str:
        """The painted number, empty where none was said."""
        return self.form.get("tree_id", "") or self.note.tree_id

    @property
    def species(self) -> str:
        """The species as it was said."""
        return self.form.get("species", "") or self.note.species

    @property
    def error_m(self) -> float | None:
        """How well the place is known, metres, where the phone or the note says it."""
        for name, text in self.point.extras.items():
            match = _ERROR.fullmatch(text.strip()) if column_of(name) in _ERRORS else None
            if match and float(match[1]) > 0:
                unit = (match[2] or "m").lower()
                return min(float(match[1]) * (FOOT_M if unit[0] == "f" else 1.0), MOST_ERROR_M)
        if self.note.position_error_m:
            return min(self.note.position_error_m, MOST_ERROR_M)
        match = _ERROR.fullmatch(self.point.extras.get("hdop", ""))
        if match and not match[2] and float(match[1]) > 0:
            return min(max(float(match[1]), 1.0) * DILUTION_M, MOST_ERROR_M)
        return None

    @property
    def doubt(self) -> str:
        """A word of danger in what was not understood, empty where there is none."""
        if self.note.hazard or self.form.get("hazard"):
            return ""
        kind = self.species if self.species and not is_known(self.species) else ""
        return danger(self.note.rest if self.understood else self.raw) or danger(kind)

    @property
    def against(self) -> Against:
        """What speaks against cutting, in all that was typed and in the folder's name."""
        text = self.raw
        if self.note.species and is_known(self.note.species):  # "no red oak": northern
            text = re.sub(re.escape(self.note.species), " ", text, count=1, flags=re.IGNORECASE)
        found = against_cutting(" | ".join([text, *self.point.folder]))
        keep = self.form.get("keep", "").lower()
        reason = self.note.keep or ("" if keep in NO else keep)
        return found if found.words or not reason else Against(reason)

    @property
    def said_mark(self) -> str:
        """The mark that was said, empty where none was."""
        return self.form.get("mark", "").lower() or self.note.mark

    @property
    def mark(self) -> str:
        """The mark it gets: never ``cut`` where the words say not to, or where none says cut."""
        against = self.against
        if against.plain or (against.words and not self.said_mark):
            return "leave"
        return self.said_mark


def column_of(name: str) -> str:
    """Give a field of a phone as a column is named."""
    return re.sub(r"\W+", "_", name.lower()).strip("_")


def listen(points: Sequence[Waypoint], units: Units) -> list[Said]:
    """Read what was said at every waypoint.

    Parameters
    ----------
    points : sequence of Waypoint
    units : {"us", "metric"}
        Of diameters without a unit.

    Returns
    -------
    list of Said
        In the order of the points, none left out.
    """
    return [_heard(point, units) for point in points]


def _heard(point: Waypoint, units: Units) -> Said:
    """Read one waypoint: its form first, then its notes."""
    form: dict[str, str] = {}
    unread: list[str] = []
    texts = list(point.texts)
    note_of_form = Note()
    for name, text in point.extras.items():
        column = FORM.get(ALIASES.get(column_of(name), column_of(name)), "")
        if column_of(name) in _MORE_TEXTS:
            texts.append(text)
        elif column in ("dbh", "dbh_in", "dbh_cm") and not _cell(column, text):
            read = read_diameter(text, units)
            if read is not None and (column == "dbh" or not read[1]):  # "18 in" in dbh_in
                note_of_form = Note(dbh_cm=read[0], bare=read[1])
            elif text.strip():
                unread.append(f"{name}: {text.strip()}")
        elif column == "tree_id" and not re.search(r"[0-9]", text):
            texts.append(text)  # "tree: red oak"
        elif column and _cell(column, text):
            form.setdefault(column, _cell(column, text))
        elif column and text.strip():
            unread.append(f"{name}: {text.strip()}")
    texts = list(dict.fromkeys(texts))
    note, twofold = _best(texts, units)
    if note_of_form.dbh_cm is not None and (note is None or note.dbh_cm is None):
        note = replace(note or Note(), dbh_cm=note_of_form.dbh_cm, bare=note_of_form.bare)
    error_m = next((e for t in texts if (e := clean(t, decimal_commas=False)[1])), None)
    note = replace(note or Note(), position_error_m=error_m)
    raw = " | ".join(" ".join(t.split()) for t in [*texts, *unread])
    return Said(point, raw, note, form, "", twofold, tuple(unread))


def _cell(column: str, text: str) -> str:
    """Give a form's field as the column of a list takes it, empty where it does not."""
    words = text.strip()
    if column == "mark":
        return words.lower() if words.lower() in ("cut", "leave") else ""
    if column not in BOUNDS:
        return words if column != "dbh" else ""
    match = _FIELD.fullmatch(words)
    if match is None or (match[2] or "").lower() not in _FIELD_UNITS[column]:
        return ""
    least, most = BOUNDS[column]
    return match[1] if least <= float(match[1]) <= most else ""


def _best(texts: list[str], units: Units) -> tuple[Note | None, bool]:
    """Choose the text that says most; add what the others say; tell if two disagree."""
    notes = [read_note(text, units) for text in texts]
    typed = [text for text in texts if not named_by_device(text)]
    if not any(map(_is_whole, notes)) and len(typed) > 1:
        joined = read_note(" ".join(typed), units)  # "37" as name, "red oak 18 2" as comment
        if _is_whole(joined):
            notes, texts = [joined], [" ".join(typed)]
    whole = [note for note in notes if note is not None and note.dbh_cm is not None]
    if any(_disagree(whole[0], other) for other in whole[1:]):
        return Note(tree_id=whole[0].tree_id), True
    parts = whole or [note for note in notes if note is not None]
    if not parts:
        merged: Note | None = None
        for text in texts:
            merged = read_more(merged or Note(), text, units) or merged
        return merged, False
    best = max(parts, key=_size)
    if not best.tree_id:
        named = next((n.tree_id for n in notes if n is not None and n.tree_id), "")
        best = replace(best, tree_id=named)
    for text, note in zip(texts, notes, strict=True):
        if note is None:
            best = read_more(best, text, units) or best
    return best, False


def _is_whole(note: Note | None) -> bool:
    """Tell whether a note has a diameter."""
    return note is not None and note.dbh_cm is not None


def _size(note: Note) -> int:
    """Count what a note says."""
    return sum(
        bool(part)
        for part in (note.tree_id, note.species, note.dbh_cm, note.logs is not None, note.mark)
    )


def _disagree(one: Note, other: Note) -> bool:
    """Tell whether two whole notes cannot be of one tree."""
    pairs = (
        (one.tree_id, other.tree_id),
        (one.species and find(one.species).row, other.species and find(other.species).row),
        (one.dbh_cm, other.dbh_cm),
        (one.logs, other.logs),
    )
    return any(a not in ("", None) and b not in ("", None) and a != b for a, b in pairs)


def numbered(said: Sequence[Said]) -> tuple[list[Said], list[str]]:
    """Give every waypoint an id of its own, and say which were made up or changed.

    Parameters
    ----------
    said : sequence of Said

    Returns
    -------
    said : list of Said
        With ``tree_id``: the painted number; with -2, -3 after it where an earlier
        one has it already; P and its place in the file where none was said.
    lines : list of str
        One for each id that is not as it was said.
    """
    lines: list[str] = []
    out: list[Said] = []
    taken = {_id_of(one) for one in said}
    seen: dict[str, int] = {}
    for one in said:
        number = _id_of(one)
        if not number:
            name, n = f"P{one.point.row}", 2
            while name in taken:
                name, n = f"P{one.point.row}-{n}", n + 1
            lines.append(f"{_called(one)} is {name}")
        elif number not in seen:
            name = number
        else:
            n = 2
            while f"{number}-{n}" in taken:
                n += 1
            name = f"{number}-{n}"
            lines.append(f"{number} of waypoint {one.point.row} is {name}")
        seen.setdefault(number, one.point.row)
        taken.add(name)
        out.append(replace(one, tree_id=name))
    return out, lines


def _id_of(one: Said) -> str:
    """Give a painted number that can be an id."""
    number = one.number.strip()
    return number if len(number) <= MOST_ID and number.isprintable() else ""


def _called(one: Said) -> str:
    """Call a waypoint by its place and its words."""
    return f"waypoint {one.point.row}" + (f" {shown(one.raw)}" if one.raw else "")
