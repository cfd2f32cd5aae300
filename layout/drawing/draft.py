"""What a person has drawn: landing, trails, closed ground, marks, positions, notes.

A draft comes from the page, from a file and from an area; whatever comes in is
read here, once, and every fault in it is told together. Coordinates are those of
the area's own system, in metres, kept to the centimetre.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from layout.errors import InputFaults
from layout.read_fixed import LONGEST_NAME

FORMAT = 1
Xy = tuple[float, float]
DraftKind = Literal["main", "spur"]
DraftMark = Literal["cut", "leave"]
PositionState = Literal["wanted", "forbidden"]

PLACES = 2  # a centimetre
MOST_TRAILS, MOST_CORNERS, MOST_SHAPES, MOST_MARKS = 200, 2_000, 500, 50_000
MOST_TEXT, MOST_NAME = 500, 40
FARTHEST_M = 1e8  # no projected system in metres counts farther
NAME = re.compile(r"[^\W_][\w -]*")  # letters and digits of any script; no dot, no path
ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,15}")
RESERVED = {"CON", "PRN", "AUX", "NUL"} | {f"{p}{n}" for p in ("COM", "LPT") for n in range(1, 10)}


@dataclass(frozen=True, slots=True)
class DraftLanding:
    """A landing: a point, or an outline; the other is empty."""

    point: Xy | None = None
    outline: tuple[Xy, ...] = ()


@dataclass(frozen=True, slots=True)
class DraftTrail:
    """A trail, landing end first; ``joins`` is the trail it leaves, empty for the landing."""

    trail_id: str
    kind: DraftKind
    line: tuple[Xy, ...]
    joins: str = ""


@dataclass(frozen=True, slots=True)
class DraftClosed:
    """Ground the user closes."""

    closed_id: str
    outline: tuple[Xy, ...]


@dataclass(frozen=True, slots=True)
class DraftNote:
    """A note at a place."""

    note_id: str
    at: Xy
    text: str


@dataclass(frozen=True, slots=True)
class DraftPosition:
    """A winch position the user wants, or a place where none may be."""

    position_id: str
    at: Xy
    state: PositionState


@dataclass(frozen=True, slots=True)
class Draft:
    """Everything drawn; empty as it begins.

    Parameters
    ----------
    name : str
        What the user calls it; empty until it is saved.
    landing : DraftLanding or None
    trails : tuple of DraftTrail
        Each after the one it joins.
    keep_out : tuple of DraftClosed
    notes : tuple of DraftNote
    marks : mapping of tree id to ``cut`` or ``leave``
        Only what was changed.
    positions : tuple of DraftPosition
    """

    name: str = ""
    landing: DraftLanding | None = None
    trails: tuple[DraftTrail, ...] = ()
    keep_out: tuple[DraftClosed, ...] = ()
    notes: tuple[DraftNote, ...] = ()
    marks: Mapping[str, DraftMark] = field(default_factory=dict)
    positions: tuple[DraftPosition, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give it as plain JSON values."""
        landing: dict[str, Any] | None = None
        if self.landing is not None:
            if self.landing.point is not None:
                landing = {"point": list(self.landing.point)}
            else:
                landing = {"outline": [list(p) for p in self.landing.outline]}
        return {
            "format": FORMAT,
            "name": self.name,
            "landing": landing,
            "trails": [
                {
                    "id": t.trail_id,
                    "kind": t.kind,
                    "line": [list(p) for p in t.line],
                    "joins": t.joins,
                }
                for t in self.trails
            ],
            "keep_out": [
                {"id": k.closed_id, "outline": [list(p) for p in k.outline]} for k in self.keep_out
            ],
            "notes": [{"id": n.note_id, "at": list(n.at), "text": n.text} for n in self.notes],
            "marks": dict(sorted(self.marks.items())),
            "positions": [
                {"id": p.position_id, "at": list(p.at), "state": p.state} for p in self.positions
            ],
        }


def read_draft(value: object) -> Draft:
    """Read a draft from JSON values.

    Parameters
    ----------
    value : object
        What ``Draft.as_json`` gives.

    Returns
    -------
    Draft
        Trails in an order in which each comes after the one it joins.

    Raises
    ------
    InputFaults
        With every fault of it.
    """
    return _Reader().draft(value)


def sound_name(text: str) -> str:
    """Give the name of a drawing as it is kept.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Without spaces at its ends, and each accented letter as one (Unicode's form NFC), so
        that a name typed on one system is the file another system wrote.

    Raises
    ------
    InputFaults
        If it cannot be the name of a file everywhere.
    """
    name = unicodedata.normalize("NFC", text).strip()
    plain = unicodedata.normalize("NFKC", name).upper()  # COM with a raised 1 is reserved too
    if len(name) > MOST_NAME or not NAME.fullmatch(name) or plain in RESERVED:
        raise InputFaults(
            [
                f"name of a drawing: {text[:60]!r} cannot be used; take letters, digits, "
                f"spaces, - and _, at most {MOST_NAME}, the first a letter or digit"
            ]
        )
    return name


class _Reader:
    """Reads one draft and gathers what is wrong with it."""

    def __init__(self) -> None:
        self.faults: list[str] = []

    def draft(self, value: object) -> Draft:
        if not isinstance(value, dict):
            raise InputFaults(["draft: a JSON object is expected"])
        if value.get("format") != FORMAT:
            raise InputFaults(
                [f"draft: format {value.get('format')!r} is not known; this reads {FORMAT}"]
            )
        name = value.get("name", "")
        if not isinstance(name, str) or len(name) > MOST_NAME:
            self._fault("name", f"text of at most {MOST_NAME} letters is expected")
            name = ""
        out = Draft(
            name=name,
            landing=self._landing(value.get("landing")),
            trails=self._trails(value.get("trails", [])),
            keep_out=tuple(
                DraftClosed(self._id(item, where), self._ring(item.get("outline"), where))
                for item, where in self._items(value, "keep_out", MOST_SHAPES)
            ),
            notes=tuple(
                DraftNote(
                    self._id(item, where),
                    self._xy(item.get("at"), where),
                    self._text(item.get("text"), where),
                )
                for item, where in self._items(value, "notes", MOST_SHAPES)
            ),
            marks=self._marks(value.get("marks", {})),
            positions=tuple(
                DraftPosition(
                    self._id(item, where),
                    self._xy(item.get("at"), where),
                    self._one_of(item.get("state"), ("wanted", "forbidden"), where),
                )
                for item, where in self._items(value, "positions", MOST_SHAPES)
            ),
        )
        if self.faults:
            raise InputFaults(self.faults)
        return out

    def _fault(self, where: str, what: str) -> None:
        self.faults.append(f"draft {where}: {what}")

    def _items(
        self, value: dict[str, Any], key: str, most: int
    ) -> list[tuple[dict[str, Any], str]]:
        items = value.get(key, [])
        if not isinstance(items, list) or len(items) > most:
            self._fault(key, f"a list of at most {most} is expected")
            return []
        out: list[tuple[dict[str, Any], str]] = []
        seen: set[str] = set()
        for number, item in enumerate(items, start=1):
            where = f"{key} {number}"
            if not isinstance(item, dict):
                self._fault(where, "a JSON object is expected")
                continue
            if str(item.get("id")) in seen:
                self._fault(where, f"the id {item.get('id')} is there twice")
            seen.add(str(item.get("id")))
            out.append((item, where))
        return out

    def _id(self, item: dict[str, Any], where: str) -> str:
        text = item.get("id")
        if not isinstance(text, str) or not ID.fullmatch(text):
            self._fault(where, "an id of letters, digits, - and _ is expected, at most 16")
            return ""
        return text

    def _trail_id(self, item: dict[str, Any], where: str) -> str:
        """Read a trail's name: flagged trails bring the ones their files give them."""
        text = item.get("id")
        if not isinstance(text, str) or not text.strip() or not text.isprintable():
            self._fault(where, "an id is expected, in letters that can be printed")
            return ""
        if len(text) > LONGEST_NAME:
            self._fault(where, f"its id may have {LONGEST_NAME} letters at most")
            return ""
        return text

    def _text(self, text: object, where: str) -> str:
        if not isinstance(text, str) or len(text) > MOST_TEXT:
            self._fault(where, f"text of at most {MOST_TEXT} letters is expected")
            return ""
        return "".join(c for c in text if c.isprintable() or c == "\n").strip()

    def _one_of(self, text: object, words: tuple[str, ...], where: str) -> Any:
        if text not in words:
            self._fault(where, f"one of {', '.join(words)} is expected, not {str(text)[:20]!r}")
            return words[0]
        return text

    def _xy(self, value: object, where: str) -> Xy:
        if isinstance(value, list) and len(value) == 2:
            numbers = [v for v in value if isinstance(v, (int, float)) and not isinstance(v, bool)]
            if len(numbers) == 2 and all(abs(v) <= FARTHEST_M for v in numbers):  # NaN is not
                return (round(float(numbers[0]), PLACES), round(float(numbers[1]), PLACES))
        self._fault(where, "a place is two numbers, [x, y], in metres of the area's system")
        return (0.0, 0.0)

    def _path(self, value: object, least: int, where: str) -> tuple[Xy, ...]:
        if not isinstance(value, list) or not least <= len(value) <= MOST_CORNERS:
            self._fault(where, f"{least} to {MOST_CORNERS} places are expected")
            return ()
        places = _sound(value) or [self._xy(item, where) for item in value]
        kept = [p for k, p in enumerate(places) if k == 0 or p != places[k - 1]]
        if len(kept) < least:
            self._fault(where, f"{least} different places are expected")
            return ()
        return tuple(kept)

    def _ring(self, value: object, where: str) -> tuple[Xy, ...]:
        path = self._path(value, 3, where)
        if len(path) > 1 and path[0] == path[-1]:
            path = path[:-1]
        if path and len(path) < 3:
            self._fault(where, "an outline needs three corners")
        return path

    def _landing(self, value: object) -> DraftLanding | None:
        if value is None:
            return None
        if not isinstance(value, dict) or ("point" in value) == ("outline" in value):
            self._fault("landing", "either a point or an outline is expected")
            return None
        if "point" in value:
            return DraftLanding(point=self._xy(value["point"], "landing"))
        return DraftLanding(outline=self._ring(value["outline"], "landing"))

    def _trails(self, value: object) -> tuple[DraftTrail, ...]:
        found = [
            DraftTrail(
                self._trail_id(item, where),
                self._one_of(item.get("kind"), ("main", "spur"), where),
                self._path(item.get("line"), 2, where),
                str(item.get("joins", "") or ""),
            )
            for item, where in self._items({"trails": value}, "trails", MOST_TRAILS)
        ]
        known = {t.trail_id for t in found}
        for trail in found:
            if trail.joins and trail.joins not in known:
                self._fault(
                    f"trail {trail.trail_id}", f"it joins {trail.joins[:20]!r}, which is not there"
                )
        return self._after_what_they_join(found)

    def _after_what_they_join(self, trails: list[DraftTrail]) -> tuple[DraftTrail, ...]:
        out: list[DraftTrail] = []
        left = trails
        while left:
            there = {t.trail_id for t in out}
            ready = [t for t in left if not t.joins or t.joins in there]
            if not ready:
                if not self.faults:
                    names = ", ".join(t.trail_id for t in left)
                    self._fault("trails", f"{names} hang on each other; one must join the landing")
                return tuple(trails)
            out += ready
            left = [t for t in left if t not in ready]
        return tuple(out)

    def _marks(self, value: object) -> dict[str, DraftMark]:
        if not isinstance(value, dict) or len(value) > MOST_MARKS:
            self._fault("marks", f"an object of at most {MOST_MARKS} trees is expected")
            return {}
        out: dict[str, DraftMark] = {}
        for tree, mark in value.items():
            if mark not in ("cut", "leave"):
                self._fault(f"marks {str(tree)[:30]}", "cut or leave is expected")
                continue
            out[str(tree)] = mark
        return out


def _sound(value: list[Any]) -> list[Xy] | None:
    """Give places where all are as they should be, and quickly; None where one may not be."""
    try:
        if all(type(x) is float and type(y) is float for x, y in value):
            made = [(round(x, PLACES), round(y, PLACES)) for x, y in value]
            return made if all(abs(v) <= FARTHEST_M for p in value for v in p) else None
    except (TypeError, ValueError, OverflowError):  # told in words by whoever looks closer
        pass
    return None
