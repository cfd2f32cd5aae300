"""The map in a notebook cell: the page's calls come as messages, and no server runs."""

import hashlib
import json
import platform
import secrets
import threading
from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from layout.drawing import keeping
from layout.drawing.cell_page import cell_page, cell_script
from layout.drawing.desk import Desk
from layout.drawing.draft import Draft, read_draft, sound_name
from layout.drawing.draft_area import draft_of, drafted
from layout.drawing.ground_read import ground_read
from layout.drawing.keeping import Kept
from layout.drawing.notebook import HEIGHT_PX
from layout.drawing.server import answered
from layout.errors import InputError
from layout.plan import Plan, make_plan
from layout.site import Area

LEAST_PX, MOST_PX = 320, 4_000


class DrawingMap(anywidget.AnyWidget):
    """The map of an area in a notebook, to draw on.

    Show it as the last line of a cell, draw, and take the plan in a later cell. What
    is drawn arrives here while no cell computes.

    Parameters
    ----------
    area : Area
        As read; the page's own planning reads the area's folder anew, so changes made
        to it in Python alone are only in what `plan` gives.
    height : int, optional
        Of the cell, in pixels.

    Raises
    ------
    InputError
        If the height is none a screen has.

    Examples
    --------
    >>> import layout
    >>> widget = layout.draw_map(layout.read_area("sample_area"))  # doctest: +SKIP
    >>> widget  # draw, then, in another cell  # doctest: +SKIP
    >>> plan = widget.plan()  # doctest: +SKIP
    """

    _esm = cell_script()
    height = traitlets.Int(HEIGHT_PX).tag(sync=True)

    def __init__(self, area: Area, *, height: int = HEIGHT_PX) -> None:
        if not LEAST_PX <= height <= MOST_PX:
            msg = f"height: {LEAST_PX} to {MOST_PX} pixels are expected, not {height}"
            raise InputError(msg)
        super().__init__(height=height)
        self.area = area
        self._desk = Desk(ground_read(area))
        self._calls = self._desk.calls()
        self._tab = secrets.token_urlsafe(12)  # no two widgets share a draft
        self._held: dict[str, Any] | None = None  # as the page keeps it; None: as in the files
        self._warmed = False
        self.on_msg(self._heard)

    @property
    def draft(self) -> Draft:
        """What is drawn now; set it to draw from Python, where the page can undo it."""
        if self._held is None:
            return draft_of(self.area)
        return read_draft(self._held["draft"])

    @draft.setter
    def draft(self, draft: Draft) -> None:
        value = draft.as_json()
        drafted(self.area, read_draft(value))  # what cannot be judged is refused here
        kept = {"name": "", "version": None} if self._held is None else self._held["kept"]
        # no saved text is equal to an empty one: the page shows it as not saved
        self._held = {"draft": value, "kept": {**kept, "text": ""}, "when": 0, "unsaved": True}
        self.send({"kind": "draft", "held": self._held})

    def plan(self, progress: Callable[[str], None] | None = None) -> Plan:
        """Plan the area with what is drawn.

        Parameters
        ----------
        progress : callable, optional
            Told a line now and then; `print` will do.

        Returns
        -------
        Plan
            As `layout.make_plan` gives it.

        Raises
        ------
        InputFaults
            If something drawn cannot be judged, with every fault.
        InputError
            If there is nothing to plan with.
        """
        return make_plan(drafted(self.area, self.draft), progress=progress)

    def save(self, name: str) -> Path:
        """Save the drawing in the area's folder, where ``skidway draw`` opens it.

        Parameters
        ----------
        name : str
            Letters, digits, spaces, - and _, at most 40, the first a letter or digit.

        Returns
        -------
        Path
            The file, ``drawings/NAME.gpkg``. An earlier version is kept beside it.

        Raises
        ------
        InputError
            If the name cannot be one.
        NewerDrawingError
            If that name holds a version this drawing does not come from.
        OutputError
            If it cannot be written.
        """
        name = sound_name(name)
        opened = {} if self._held is None else self._held["kept"]
        based_on = opened.get("version") if opened.get("name") == name else None
        kept = keeping.save(self.area.folder, self.area.crs, self.draft, name, based_on)
        self._saved(kept)
        return self.area.folder / keeping.FOLDER / f"{kept.name}{keeping.ENDING}"

    def close(self) -> None:
        """Take the map away and end the processes that plan for it."""
        if hasattr(self, "_desk"):
            self._desk.replans.close()
        super().close()

    def _saved(self, kept: Kept) -> None:
        draft = self.draft.as_json() if self._held is None else self._held["draft"]
        named = {"name": kept.name, "version": kept.version, "text": ""}
        self._held = {"draft": draft, "kept": named, "when": 0, "unsaved": False}
        self.send({"kind": "saved", "held": self._held})

    def _heard(self, widget: object, message: Any, buffers: object) -> None:
        """Answer a message of a cell; what is none of ours is left alone."""
        del widget, buffers
        if not isinstance(message, dict):
            return
        back = {"view": message.get("view"), "id": message.get("id")}
        kind = message.get("kind")
        if kind == "page":
            self._warm()
            page = cell_page(secrets.token_urlsafe(16)).encode("utf-8")
            self.send(
                {**back, "kind": "page", "area": self._key, "scope": self._scope, "tab": self._tab},
                [page],
            )
        elif kind == "begin":
            self.send({**back, "kind": "begin", "held": self._held})
        elif kind == "call":
            self._call(message, back)
        elif kind == "held" and _is_held(message.get("held")):
            self._held = message["held"]
            self.send({"view": back["view"], "kind": "draft", "held": self._held})

    def _call(self, message: dict[str, Any], back: dict[str, Any]) -> None:
        work, body = self._calls.get(str(message.get("name"))), message.get("body")
        if work is None or not isinstance(body, dict):
            text = json.dumps({"error": "no such call"}).encode("utf-8")
            self.send({**back, "kind": "answer", "status": 404, "type": "application/json"}, [text])
            return
        answer = answered(work, body)
        if message.get("name") == "save":
            self._saved_by_page(body.get("draft"), json.loads(bytes(answer.body)))
        head = {"status": answer.status_code, "type": answer.media_type}
        bounds = answer.headers.get("x-bounds")
        self.send({**back, "kind": "answer", **head, "bounds": bounds}, [bytes(answer.body)])

    def _saved_by_page(self, draft: Any, answer: dict[str, Any]) -> None:
        """Know what the page has saved before the page itself says so.

        It tells what it holds only after it has shown the new version; a notebook that
        saves until then would take the file for somebody else's.
        """
        if "error" not in answer:
            kept = {"name": answer["name"], "version": answer["version"], "text": ""}
            self._held = {"draft": draft, "kept": kept, "when": 0, "unsaved": False}

    def _warm(self) -> None:
        """Let the first stroke of a pen not wait for the ground; once, when the map is shown."""
        if not self._warmed:
            self._warmed = True
            threading.Thread(target=self._desk.warm, name="warming", daemon=True).start()

    @cached_property
    def _key(self) -> str:
        """What the page calls this area."""
        return str(self._desk.area({})["key"])

    @property
    def _scope(self) -> str:
        """How the browser names drafts of this area, told apart from another machine's."""
        area = self.area
        parts = [self._key, platform.node(), str(Path.home()), area.crs.to_string()]
        text = "|".join([*parts, *(f"{edge:.2f}" for edge in area.dem.bounds)])
        return f"skidway-cell:{hashlib.sha256(text.encode('utf-8')).hexdigest()[:32]}:"


def _is_held(value: object) -> bool:
    return (
        isinstance(value, dict)
        and isinstance(value.get("draft"), dict)
        and isinstance(value.get("kept"), dict)
    )
