"""Numbers of plans made on the map, by the drawing they were made of, kept between runs."""

import hashlib
import json
import threading
import time
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import layout
from layout.drawing.draft import Draft
from layout.drawing.inputs_seen import Seen
from layout.drawing.own_state import place_of, written

MOST = 60  # plans; the oldest are forgotten
KIND = "planned"

Lines = list[list[str]]


@dataclass(frozen=True, slots=True)
class Planned:
    """What a plan came to.

    Parameters
    ----------
    made : str
        When it was made, by the clock of this computer.
    lines : mapping of units to list of pairs
        Name and words of each number, in either units.
    """

    made: str
    lines: Mapping[str, Lines]


def text_of(draft: Draft) -> str:
    """Give a drawing as one short text; a day's work makes thousands.

    Its name and its notes change nothing of a plan and are left out.
    """
    whole = json.dumps({**draft.as_json(), "name": "", "notes": []}, sort_keys=True)
    return hashlib.sha256(whole.encode("utf-8", "surrogatepass")).hexdigest()


class PlannedNumbers:
    """The numbers kept for one area.

    Those of other files of the area, or of another release, are not taken up.

    Parameters
    ----------
    area : Path
        The area's folder.
    files : dict
        Its files as the map has read them.
    folder : Path, optional
        Where they are kept between runs; None: nowhere.
    """

    def __init__(self, area: Path, files: Seen, folder: Path | None = None) -> None:
        self._place = None if folder is None else place_of(KIND, area, folder)
        self._of = _digest([layout.__version__, sorted(files.items())])
        self._plans: OrderedDict[str, Planned] = OrderedDict()
        self._lock = threading.Lock()  # calls of the page are answered in threads
        if self._place is not None:
            self._plans.update(_read(self._place, self._of))

    def get(self, drawing: str) -> Planned | None:
        """Give the numbers of a drawing, named by `text_of`; None where it was not planned."""
        return self._plans.get(drawing)

    def keep(self, drawing: str, lines: Mapping[str, Lines]) -> None:
        """Keep the numbers of a drawing that was planned now.

        Parameters
        ----------
        drawing : str
            As `text_of` gives it.
        lines : mapping of units to list of pairs
        """
        with self._lock:
            before = self._plans.get(drawing)
            if before is not None and before.lines == lines:
                return  # the page asks more than once how a planning ended
            self._plans[drawing] = Planned(time.strftime("%d %b %Y %H:%M"), lines)
            self._plans.move_to_end(drawing)
            while len(self._plans) > MOST:
                self._plans.popitem(last=False)
            if self._place is not None:
                held = {name: [p.made, p.lines] for name, p in self._plans.items()}
                written(self._place, json.dumps({"of": self._of, "plans": held}))


def _read(place: Path, of: str) -> dict[str, Planned]:
    """Read what was kept; nothing where it is of something else, or none of ours."""
    try:
        kept = json.loads(place.read_text(encoding="utf-8"))
        if kept["of"] != of:
            return {}
        return {
            str(name): Planned(str(made), {str(u): _lines(told) for u, told in lines.items()})
            for name, (made, lines) in list(kept["plans"].items())[-MOST:]
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _lines(told: Any) -> Lines:
    return [[str(name), str(words)] for name, words in told]


def _digest(value: Any) -> str:
    return hashlib.sha256(json.dumps(value).encode("utf-8", "surrogatepass")).hexdigest()
