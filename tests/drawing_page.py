"""A map server and a browser for tests of the page `skidway draw` opens.

The server runs in this process, on a copy of an area; the browser is Debian's
chromium, driven by Playwright. Nothing but the server's own address may be asked,
and the page may say nothing on its console: `Sheet.close` looks.
"""

import importlib.util
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from layout.area import read_area
from layout.drawing.desk import Desk
from layout.drawing.doorkey import DoorKey
from layout.drawing.ground_read import GroundRead, ground_read
from layout.drawing.guards import Own
from layout.drawing.server import app_of
from layout.drawing.serving import Door, open_door

TOKEN = "test-" + "k" * 43
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP house.example 127.0.0.1",
]  # fmt: skip
DESKTOP = {"viewport": {"width": 1280, "height": 800}}
PHONE = {
    "viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
    "device_scale_factor": 2,
}  # fmt: skip
PATIENCE_S = 60.0
BETWEEN_CLICKS_MS = 320  # sooner, and two clicks are one double click
EMPTY = {
    "format": 1, "name": "", "landing": None, "trails": [], "keep_out": [], "notes": [],
    "marks": {}, "positions": [],
}  # fmt: skip
XY = tuple[float, float]


def missing() -> str:
    """Say what the browser tests lack; empty where nothing."""
    vendor = Path(__file__).parents[1] / "layout/drawing/static/vendor/ol.js"
    lacking = [
        *(["chromium"] if shutil.which("chromium") is None else []),
        *(["playwright"] if importlib.util.find_spec("playwright") is None else []),
        *([] if vendor.exists() else ["the map library (pip install . brings it)"]),
    ]
    return ", ".join(lacking)


class Served:
    """A map server that can be stopped and started again with the same key and port."""

    def __init__(self, folder: Path) -> None:
        self.ground: GroundRead = ground_read(read_area(folder))
        self.key = DoorKey(TOKEN)
        self.asked: list[str] = []
        self.door: Door
        self.start()

    def start(self) -> None:
        """Serve; on the port of the last time where there was one."""
        self.desk = Desk(self.ground)
        self.door = open_door(self.key, self.key.port or None)
        self.key = self.door.key
        app = app_of(self._counted(), Own(self.door.hosts, TOKEN))
        config = uvicorn.Config(
            app, log_level="critical", lifespan="off", ws="none", timeout_graceful_shutdown=1
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self.door.socket]}, daemon=True
        )
        self._thread.start()
        until(lambda: self._server.started)

    def stop(self) -> None:
        """Stop serving, as Ctrl-C does."""
        self._server.should_exit = True
        self._thread.join(10)
        self.door.socket.close()
        self.desk.replans.close()

    def _counted(self) -> dict[str, Any]:
        def counted(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
            def call(body: dict[str, Any]) -> Any:
                self.asked.append(name)
                return work(body)

            return call

        return {name: counted(name, work) for name, work in self.desk.calls().items()}


@contextmanager
def served(area: Path, folder: Path) -> Iterator[Served]:
    """Serve a copy of an area, warm."""
    shutil.copytree(area, folder, ignore=shutil.ignore_patterns("out*", "drawings", "*.py"))
    server = Served(folder)
    server.desk.warm()
    try:
        yield server
    finally:
        server.stop()


@contextmanager
def chromium(*flags: str) -> Iterator[Any]:
    """Give a browser."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=shutil.which("chromium"), headless=True, args=[*FLAGS, *flags]
        )
        try:
            yield browser
        finally:
            browser.close()


def until(true: Callable[[], Any], seconds: float = PATIENCE_S) -> Any:
    """Wait until something holds; give it."""
    end = time.monotonic() + seconds
    while not (got := true()):
        if time.monotonic() > end:
            pytest.fail("it did not come to pass")
        time.sleep(0.02)
    return got


class Sheet:
    """One open page: what a person does on it, and what it says."""

    def __init__(self, context: Any, server: Served) -> None:
        self.context, self.server = context, server
        self.page = context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda m: self.said.append(f"{m.type}: {m.text}"))
        self.page.on("pageerror", lambda e: self.said.append(f"error: {e}"))
        self.page.on("request", lambda r: self.asked.append(r.url))
        self.page.goto(server.door.address)
        self.ready()

    def ready(self) -> None:
        """Wait until the first verdict stands on the page."""
        self.until("!!window.skidway && skidway.delays.length > 0 && skidway.idle()")

    def until(self, script: str, seconds: float = PATIENCE_S) -> Any:
        """Wait until a script gives something true; give it. The page itself forbids eval."""
        end = time.monotonic() + seconds
        while not (got := self.page.evaluate(script)):
            if time.monotonic() > end:
                pytest.fail(f"it did not come to pass: {script}")
            self.page.wait_for_timeout(30)
        return got

    def settle(self) -> None:
        """Wait until what was done last is judged."""
        self.until("skidway.idle()")

    def close(self, *, expected: tuple[str, ...] = ()) -> None:
        """Close the page; it asked nobody else, and its console said no more than expected."""
        own = f"http://127.0.0.1:{self.server.key.port}/"
        strangers = [u for u in self.asked if not u.startswith((own, "blob:" + own, "data:"))]
        odd = [s for s in self.said if not any(word in s for word in expected)]
        self.context.close()
        assert self.asked and not strangers, strangers
        assert not odd, odd

    # ---- what the page holds

    @property
    def draft(self) -> dict[str, Any]:
        """The drawing."""
        return dict(self.page.evaluate("skidway.store.draft()"))

    def begin(self, **parts: Any) -> None:
        """Begin with nothing but what is given; undo does not go behind it."""
        draft = EMPTY | parts
        self.page.evaluate("d => skidway.store.open(d, '', null)", draft)
        self.page.evaluate("skidway.pens.take('look')")
        self.settle()

    def trail(self, name: str) -> dict[str, Any]:
        """One drawn trail."""
        (found,) = [t for t in self.draft["trails"] if t["id"] == name]
        return dict(found)

    def text(self, selector: str) -> str:
        """Words of a part of the page."""
        return str(self.page.inner_text(selector))

    def reach(self) -> tuple[int, int]:
        """Read how many marked trees are in reach, and how many there are."""
        words = self.page.evaluate("document.querySelectorAll('#sums b')[2].textContent")
        got, of = str(words).split(" of ")
        return int(got), int(of)

    # ---- what a hand does

    def at(self, xy: XY) -> XY:
        """Where on the screen a place of the ground lies."""
        script = (
            "xy => { const p = skidway.map.getPixelFromCoordinate(xy);"
            " const r = skidway.map.getTargetElement().getBoundingClientRect();"
            " return [p[0] + r.left, p[1] + r.top]; }"
        )
        x, y = self.page.evaluate(script, list(xy))
        return float(x), float(y)

    def look_at(self, xy: XY, resolution: float) -> None:
        """Bring a place into the middle of the map."""
        self.page.evaluate(
            "([c, r]) => { const v = skidway.map.getView(); v.setCenter(c); v.setResolution(r);"
            " skidway.map.renderSync(); }",
            [list(xy), resolution],
        )

    def press(self, words: str) -> None:
        """Press the button of that name."""
        self.page.get_by_role("button", name=words, exact=True).click()

    def click(self, xy: XY, *, twice: bool = False) -> None:
        """Click on the ground."""
        x, y = self.at(xy)
        self.page.mouse.move(x - 3, y - 2)
        self.page.mouse.move(x, y)
        if twice:
            self.page.mouse.dblclick(x, y)
        else:
            self.page.mouse.click(x, y)
        self.page.wait_for_timeout(BETWEEN_CLICKS_MS)

    def draw(self, *places: XY) -> None:
        """Draw a line by mouse, ended by a double click."""
        for xy in places[:-1]:
            self.click(xy)
        self.click(places[-1], twice=True)
        self.settle()

    def drag(self, start: XY, end: XY, steps: int = 8) -> None:
        """Drag on the ground by mouse."""
        (ax, ay), (bx, by) = self.at(start), self.at(end)
        self.page.mouse.move(ax - 3, ay)
        self.page.mouse.move(ax, ay)
        self.page.mouse.down()
        self.page.mouse.move(bx, by, steps=steps)
        self.page.mouse.up()
        self.settle()

    def tap(self, xy: XY) -> None:
        """Tap on the ground with a finger."""
        self.page.touchscreen.tap(*self.at(xy))
        self.page.wait_for_timeout(BETWEEN_CLICKS_MS)

    def finger(self, start: XY, end: XY, steps: int = 8) -> None:
        """Drag a finger over the ground."""
        session = self.context.new_cdp_session(self.page)
        (ax, ay), (bx, by) = self.at(start), self.at(end)
        way = [(ax + (bx - ax) * k / steps, ay + (by - ay) * k / steps) for k in range(steps + 1)]
        kinds = ["touchStart", *["touchMove"] * steps]
        for kind, (x, y) in zip(kinds, way, strict=True):
            session.send("Input.dispatchTouchEvent",
                         {"type": kind, "touchPoints": [{"x": x, "y": y}]})  # fmt: skip
            self.page.wait_for_timeout(16)
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        session.detach()
        self.settle()


def note(sheet: Sheet, name: str) -> None:
    """Put a note in the middle of the map, without the mouse."""
    sheet.page.evaluate(
        "id => { const d = skidway.store.draft(); const at = skidway.map.getView().getCenter()"
        ".map(v => Math.round(v * 100) / 100);"
        " skidway.store.commit({...d, notes: [...d.notes, {id, at, text: id}]}); }",
        name,
    )
    sheet.settle()


def forbid(sheet: Sheet) -> None:
    """Let nobody park in the middle of the map, without the mouse: it changes what is planned."""
    sheet.page.evaluate(
        "() => { const d = skidway.store.draft(); const at = skidway.map.getView().getCenter()"
        ".map(v => Math.round(v * 100) / 100);"
        " skidway.store.commit({...d, positions: [{id: 'P1', at, state: 'forbidden'}]}); }"
    )
    sheet.settle()


def notes(sheet: Sheet) -> list[str]:
    """Names of the notes that are drawn."""
    return [n["id"] for n in sheet.draft["notes"]]
