"""The map as a notebook widget: its kernel side, and the page it gives out."""

import json
import re
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import layout
from layout.area import read_area
from layout.drawing import cell_page, keeping, widget
from layout.drawing.draft import DraftTrail
from layout.drawing.draft_area import draft_of, drafted
from layout.drawing.server import pages
from layout.drawing.widget import DrawingMap
from layout.errors import InputError, InputFaults, LayoutError
from layout.site import Area

AREA = Path(__file__).parent / "data" / "metric_area"
PACKAGE = Path(layout.__file__).parent
PNG = b"\x89PNG\r\n"


class Kernel:
    """A widget whose messages are caught."""

    def __init__(self, area: Area) -> None:
        self.sent: list[tuple[Any, list[bytes]]] = []
        self.widget = DrawingMap(area)
        self.widget.send = self._caught

    def _caught(self, content: Any, buffers: list[bytes] | None = None) -> None:
        self.sent.append((content, buffers or []))

    def told(self, content: Any) -> list[tuple[Any, list[bytes]]]:
        """Give what it says to a message."""
        self.sent = []
        self.widget._handle_custom_msg(content, [])
        return self.sent

    def called(self, name: str, /, **body: Any) -> tuple[dict[str, Any], bytes]:
        """Give the one answer to a call."""
        ((head, (data,)),) = self.told(
            {"kind": "call", "view": "v", "id": "7", "name": name, "body": body}
        )
        assert (head["kind"], head["view"], head["id"]) == ("answer", "v", "7")
        return head, data


@pytest.fixture(scope="module")
def area(tmp_path_factory: pytest.TempPathFactory) -> Area:
    folder = tmp_path_factory.mktemp("widget") / "area"
    shutil.copytree(AREA, folder)
    return read_area(folder)


@pytest.fixture(scope="module")
def _ground(area: Area) -> Any:
    return widget.ground_read(area)


@pytest.fixture
def kernel(area: Area, _ground: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Kernel]:
    monkeypatch.setattr(widget, "ground_read", lambda given: _ground)
    monkeypatch.setattr(widget.Desk, "warm", lambda desk: None)
    made = Kernel(area)
    yield made
    made.widget.close()


def held(draft: dict[str, Any], **kept: Any) -> dict[str, Any]:
    return {"draft": draft, "kept": {"name": "", "version": None, "text": "", **kept}}


def shorter(area: Area) -> dict[str, Any]:
    """Give the area's drawing without the last corner of its main trail."""
    value = draft_of(area).as_json()
    value["trails"][0]["line"].pop()
    return value


# ---- the page ------------------------------------------------------------------------------


class Tags(HTMLParser):
    """What a page loads and runs."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.nonces: list[str | None] = []
        self.policy = ""
        self.modules: dict[str, str] = {}
        self._map = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if tag != "a":
            self.addresses += [str(has[name]) for name in ("src", "href") if name in has]
        if tag in ("script", "style"):
            self.nonces.append(has.get("nonce"))
        if has.get("http-equiv") == "Content-Security-Policy":
            self.policy = str(has["content"])
        self._map = has.get("type") == "importmap"

    def handle_data(self, data: str) -> None:
        if self._map and data.strip():
            self.modules = json.loads(data)["imports"]


@pytest.fixture(scope="module")
def tags() -> Tags:
    return Tags(cell_page.cell_page("n0nce"))


def test_the_page_carries_all_it_needs_and_may_load_nothing(tags: Tags) -> None:
    assert {address.partition(":")[0] for address in tags.addresses} <= {"data"}
    assert set(tags.nonces) == {"n0nce"}
    assert tags.policy.startswith("default-src 'none'; script-src 'nonce-n0nce';")
    assert "connect-src" not in tags.policy and "http" not in tags.policy
    assert "unsafe" not in tags.policy


def test_every_module_of_the_page_is_named_and_asks_only_for_named_ones(tags: Tags) -> None:
    own = {at for at in pages() if at.endswith(".js") and at.count("/") == 1}
    assert set(tags.modules) == {f"skidway{at}" for at in own}
    for at in own:
        text = pages()[at][1].decode("utf-8")
        named = cell_page.IMPORT.findall(text)
        assert {f"skidway/{name}" for _, name in named} <= set(tags.modules), at
        # as many as there are: none is written in a way that would be passed over
        assert len(named) == text.count('from "/') + text.count('import("/'), at


@pytest.mark.parametrize(
    ("at", "held", "words"),
    [
        ("/vendor/ol.js", None, "vendor/ol.js: this file of the map is missing"),
        ("/", b'<meta charset="utf-8">\n<link rel="stylesheet" href="//x.invalid/a.css" media="x">'
         b'<script type="module" src="/main.js"></script>', "does not know how to carry"),
        ("/", b"<p>no script", "its first script"),
    ],
)  # fmt: skip
def test_a_page_that_cannot_be_carried_whole_is_told(
    at: str, held: bytes | None, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = pages()
    if held is None:
        del files[at]
    else:
        files[at] = ("text/html", held)
    monkeypatch.setattr(cell_page, "pages", lambda: files)
    with pytest.raises(LayoutError, match=words):
        cell_page.cell_page("n")


def test_a_text_cannot_end_the_element_it_stands_in(monkeypatch: pytest.MonkeyPatch) -> None:
    files = pages()
    files["/vendor/ol.js"] = ("text/javascript", b"a = '</script><b>'; b = '</SCRIPT >';")
    monkeypatch.setattr(cell_page, "pages", lambda: files)
    page = cell_page.cell_page("n")
    assert r"a = '<\/script><b>'; b = '<\/SCRIPT >';" in page


# ---- what the kernel says ------------------------------------------------------------------


def test_the_page_comes_to_the_cell_that_asked_and_is_not_kept_in_the_notebook(
    kernel: Kernel,
) -> None:
    ((head, (data,)),) = kernel.told({"kind": "page", "view": "v", "id": "1"})
    assert head["kind"] == "page" and head["view"] == "v" and head["id"] == "1"
    assert data.startswith(b"<!doctype html>")
    ((_, (again,)),) = kernel.told({"kind": "page", "view": "v", "id": "2"})
    assert again != data  # another nonce
    state = kernel.widget.get_state()
    assert len(json.dumps(state, default=str)) < 20_000


def test_calls_are_answered_as_the_server_answers_them(kernel: Kernel, area: Area) -> None:
    head, data = kernel.called("area")
    assert (head["status"], head["type"]) == (200, "application/json")
    assert json.loads(data)["name"] == area.settings.area.name
    head, data = kernel.called("picture", name="hillshade")
    assert (head["status"], head["type"]) == (200, "image/png")
    assert data.startswith(PNG)
    assert [float(v) for v in head["bounds"].split()] == pytest.approx(list(area.dem.bounds))
    head, data = kernel.called("judge", draft=draft_of(area).as_json(), seq=4)
    assert json.loads(data)["seq"] == 4
    head, data = kernel.called("judge", draft={"format": 2})
    assert json.loads(data)["status"] == 400 and "format 2" in json.loads(data)["error"]
    assert kernel.called("__class__")[0]["status"] == 404


@pytest.mark.parametrize(
    "message",
    [None, 3, [], "page", {}, {"kind": "unknown"}, {"kind": "held"}, {"kind": "held", "held": 1},
     {"kind": "held", "held": {"draft": {}, "kept": None}}],
)  # fmt: skip
def test_messages_that_are_none_of_ours_change_nothing(
    kernel: Kernel, area: Area, message: Any
) -> None:
    assert kernel.told(message) == []
    assert kernel.widget.draft == draft_of(area)


def test_a_call_that_is_no_call_is_told(kernel: Kernel) -> None:
    ((head, _),) = kernel.told({"kind": "call", "id": "1", "name": "area", "body": None})
    assert head["status"] == 404


# ---- the drawing ---------------------------------------------------------------------------


def test_what_is_drawn_is_at_first_what_the_files_hold_then_what_the_page_says(
    kernel: Kernel, area: Area
) -> None:
    assert kernel.widget.draft == draft_of(area)
    value = shorter(area)
    ((told, _),) = kernel.told({"kind": "held", "view": "v", "held": held(value)})
    assert kernel.widget.draft.as_json() == value
    assert (told["kind"], told["view"], told["held"]["draft"]) == ("draft", "v", value)
    ((begin, _),) = kernel.told({"kind": "begin", "view": "w", "id": "1"})
    assert begin["held"]["draft"] == value  # a page opened anew goes on where it was


def test_a_drawing_set_in_the_notebook_is_told_to_the_page(kernel: Kernel, area: Area) -> None:
    draft = replace(draft_of(area), keep_out=())
    draft = replace(draft, trails=(replace(draft.trails[0], line=draft.trails[0].line[:5]),))
    kernel.widget.draft = draft
    ((told, _),) = kernel.sent
    assert told["kind"] == "draft" and "view" not in told
    assert told["held"]["draft"] == draft.as_json()
    assert kernel.widget.draft == draft


def test_a_drawing_off_the_ground_is_refused_and_the_one_before_stays(
    kernel: Kernel, area: Area
) -> None:
    away = replace(draft_of(area), trails=(DraftTrail("M", "main", ((0.0, 0.0), (9.0, 9.0))),))
    with pytest.raises(InputFaults, match="trail M: it leaves the ground"):
        kernel.widget.draft = away
    assert kernel.widget.draft == draft_of(area) and kernel.sent == []


def test_a_faulty_drawing_of_the_page_is_told_when_it_is_asked_for(kernel: Kernel) -> None:
    kernel.told({"kind": "held", "view": "v", "held": held({"format": 1, "trails": 5})})
    with pytest.raises(InputFaults, match="trails"):
        _ = kernel.widget.draft


def test_the_plan_is_of_what_is_drawn(
    kernel: Kernel, area: Area, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Any] = []
    monkeypatch.setattr(
        widget, "make_plan", lambda given, progress: seen.append((given, progress)) or "plan"
    )
    kernel.told({"kind": "held", "view": "v", "held": held(shorter(area))})
    lines: list[str] = []
    assert kernel.widget.plan(lines.append) == "plan"
    ((given, progress),) = seen
    assert progress == lines.append
    assert given.main_trail.length < area.main_trail.length  # type: ignore[union-attr]
    assert given.main_trail.equals(drafted(area, kernel.widget.draft).main_trail)


@pytest.mark.slow
def test_a_drawing_becomes_a_plan(kernel: Kernel, area: Area) -> None:
    value = draft_of(area).as_json()
    line = value["trails"][0]["line"] = value["trails"][0]["line"][:90]
    kernel.told({"kind": "held", "view": "v", "held": held(value)})
    lines: list[str] = []
    plan = kernel.widget.plan(lines.append)
    assert lines
    assert plan.trails[0].line.coords[-1] == pytest.approx(line[-1], abs=0.5)
    assert {tree.status for tree in plan.trees if tree.role == "cut"} >= {"served"}


def test_saving_counts_on_from_the_version_that_was_opened(kernel: Kernel, area: Area) -> None:
    kernel.told({"kind": "held", "view": "v", "held": held(shorter(area))})
    path = kernel.widget.save("North")
    assert path == area.folder / "drawings" / "North.gpkg" and path.is_file()
    told, _ = kernel.sent[-1]
    assert told["kind"] == "saved" and told["held"]["kept"]["version"] == 1
    assert keeping.load(area.folder, area.crs, "North").draft.trails == kernel.widget.draft.trails
    kernel.widget.save("North")
    assert keeping.load(area.folder, area.crs, "North").version == 2
    older = held(shorter(area), name="North", version=1)  # opened before somebody saved
    kernel.told({"kind": "held", "view": "v", "held": older})
    with pytest.raises(keeping.NewerDrawingError):
        kernel.widget.save("North")
    with pytest.raises(InputFaults, match="cannot be used"):
        kernel.widget.save("../x")


def test_what_the_page_saved_is_known_before_it_says_so(kernel: Kernel, area: Area) -> None:
    draft = shorter(area)
    kernel.called("save", draft=draft, name="South", based_on=None)
    assert kernel.widget.draft.as_json() == draft
    kernel.widget.save("South")  # at once: no word of what the page holds came between
    assert keeping.load(area.folder, area.crs, "South").version == 2
    refused = json.loads(kernel.called("save", draft=draft, name="South", based_on=1)[1])
    assert refused["status"] == 409
    kernel.widget.save("South")  # a refused one changes nothing here
    assert keeping.load(area.folder, area.crs, "South").version == 3


def test_no_two_widgets_and_no_two_areas_share_a_draft(
    area: Area, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(widget.Desk, "warm", lambda desk: None)
    other = tmp_path / "area"
    shutil.copytree(AREA, other)
    heads = []
    for given in (area, area, read_area(other)):
        one = Kernel(given)
        heads.append(one.told({"kind": "page", "view": "v", "id": "1"})[0][0])
        one.widget.close()
    assert len({head["tab"] for head in heads}) == 3
    assert heads[0]["scope"] == heads[1]["scope"] != heads[2]["scope"]
    assert heads[0]["area"] == heads[1]["area"] != heads[2]["area"]


def test_closing_ends_the_processes_that_plan(kernel: Kernel, area: Area) -> None:
    kernel.widget.close()
    _, data = kernel.called("replan", draft=draft_of(area).as_json(), seq=1)
    assert json.loads(data)["status"] == 400 and "closed" in json.loads(data)["error"]


@pytest.mark.parametrize("height", [0, 319, 4001])
def test_a_height_no_screen_has_is_refused(area: Area, height: int) -> None:
    with pytest.raises(InputError, match="320 to 4000 pixels"):
        layout.draw_map(area, height=height)


# ---- without the notebook's library --------------------------------------------------------


def test_nothing_else_needs_the_notebooks_library() -> None:
    wanted = re.compile(r"^\s*(?:import|from)\s+(?:anywidget|ipywidgets|traitlets)\b", re.M)
    needing = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if wanted.search(path.read_text(encoding="utf-8"))
    }
    assert needing == {"drawing/widget.py"}


def test_where_it_is_missing_that_is_said(area: Area, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "layout.drawing.widget")
    monkeypatch.setitem(sys.modules, "anywidget", None)
    with pytest.raises(LayoutError, match="python -m pip install anywidget"):
        layout.draw_map(area)


def test_another_missing_library_is_not_taken_for_it(
    area: Area, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(sys.modules, "layout.drawing.widget")
    monkeypatch.setitem(sys.modules, "layout.drawing.cell_page", None)
    with pytest.raises(ModuleNotFoundError, match="cell_page"):
        layout.draw_map(area)
