"""A notebook's side of a widget: a page that shows cells of it, as a notebook does.

The page stands on an address where nothing listens; whatever else is asked for is
refused and written down.
"""

import base64
from collections.abc import Callable
from typing import Any

from drawing_page import PATIENCE_S, until

from layout.drawing.widget import DrawingMap

ADDRESS = "http://localhost:9/"  # nothing listens there: the browser is answered by us
# What the front end of a notebook gives a widget's script: a model per widget, a place per cell.
HOST = """<!doctype html><meta charset="utf-8"><title>Notebook</title><body>
<script>
const bytes = (text) => new DataView(Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer);
const heard = {};
window.deliver = (widget, messages) => {
  for (const [content, buffers] of messages)
    for (const tell of [...heard[widget] ?? []]) tell(content, buffers.map(bytes));
};
window.show = async (widget, script, height) => {
  const url = URL.createObjectURL(new Blob([script], { type: 'text/javascript' }));
  const { default: { render } } = await import(url);
  heard[widget] ??= new Set();
  const el = document.createElement('div');
  document.body.append(el);
  const model = {
    get: () => height,
    on: (name, tell) => name === 'msg:custom' && heard[widget].add(tell),
    off: (name, tell) => heard[widget].delete(tell),
    send: async (content) => deliver(widget, await toKernel(widget, content)),
  };
  el.away = render({ model, el });
};
</script>"""


class Notebook:
    """A page in a browser and the widgets it shows."""

    def __init__(self, context: Any) -> None:
        self.widgets: dict[str, DrawingMap] = {}
        self.asked: list[str] = []  # addresses beside our own
        self.said: list[str] = []  # on the console
        self.deaf = False  # as a kernel that was stopped
        self._caught: list[Any] | None = None
        self.context = context
        self.page = context.new_page()
        self.page.on("console", lambda line: self.said.append(line.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        context.on("request", self._request)
        context.route("**/*", self._answer)
        self.page.expose_function("toKernel", self._to_kernel)
        self.page.goto(ADDRESS)

    def show(self, widget: DrawingMap) -> Any:
        """Show a widget in a new cell and wait until its page is there."""
        name = str(widget.model_id)
        if name not in self.widgets:
            self.widgets[name] = widget
            widget.send = lambda content, buffers=None: self._sent(name, content, buffers)
        before = self.page.locator("iframe").count()
        self.page.evaluate(
            "([name, script, height]) => show(name, script, height)",
            [name, str(widget._esm), widget.height],
        )
        return self.frame(before)

    def frame(self, which: int) -> Any:
        """Give the page of a cell, once it can be drawn on."""
        found = self.page.locator("iframe").nth(which).element_handle().content_frame()
        assert found is not None
        self.wait(lambda: found.evaluate("window.skidway !== undefined"))  # the page forbids eval
        return found

    def wait(self, done: Callable[[], Any], seconds: float = PATIENCE_S) -> None:
        """Let messages pass until something holds."""
        until(lambda: done() or self.page.wait_for_timeout(20), seconds)

    def quit(self) -> None:
        """Close it; nobody was asked anything, and nothing was said on the console."""
        self.context.close()
        assert self.asked == [] and self.said == [], (self.asked, self.said)

    def _to_kernel(self, name: str, content: Any) -> list[Any]:
        """Hand a message to the widget; what it sends meanwhile goes back with the answer."""
        if self.deaf:
            return []
        self._caught = []
        try:
            self.widgets[name]._handle_custom_msg(content, [])
            return self._caught
        finally:
            self._caught = None

    def _sent(self, name: str, content: Any, buffers: list[bytes] | None) -> None:
        message = [content, [base64.b64encode(data).decode("ascii") for data in buffers or []]]
        if self._caught is not None:
            self._caught.append(message)
        else:
            self.page.evaluate("([name, messages]) => deliver(name, messages)", [name, [message]])

    def _request(self, request: Any) -> None:
        if not request.url.startswith(("blob:", "data:", "about:")) and request.url != ADDRESS:
            self.asked.append(request.url)

    def _answer(self, route: Any) -> None:
        if route.request.url == ADDRESS:
            route.fulfill(body=HOST, content_type="text/html; charset=utf-8")
        else:
            route.abort()
