"""The map server: fixed files, and calls by name; no rule of the trade and no path in it."""

import json
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layout.drawing.guards import Guard, Own
from layout.drawing.keeping import NewerDrawingError
from layout.errors import InputError, LayoutError

log = logging.getLogger(__name__)

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".md": "text/plain; charset=utf-8",
}
FIRST = "index.html"


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG, as the answer to a call, and where it lies: west, south, east, north, metres."""

    png: bytes
    bounds: tuple[float, float, float, float]


Call = Callable[[dict[str, Any]], dict[str, Any] | Picture]


def app_of(calls: Mapping[str, Call], own: Own) -> Starlette:
    """Give the web application.

    Parameters
    ----------
    calls : mapping of str to callable
        What ``/api/NAME`` does; runs in a thread of its own.
    own : Own
        Host names, token and limits.

    Returns
    -------
    Starlette
    """
    held_files = pages()

    async def page(request: Request) -> Response:
        held = held_files.get(request.url.path)
        if held is None:
            return _json({"error": "there is nothing here"}, 404)
        kind, data = held
        return Response(data, media_type=kind)

    async def call(request: Request) -> Response:
        work = calls.get(request.path_params["name"])
        if work is None:
            return _json({"error": "no such call"}, 404)
        try:
            body = json.loads(await request.body() or b"{}")
        except (ValueError, RecursionError):
            return _json({"error": "the call is not sound JSON"}, 400)
        if not isinstance(body, dict):
            return _json({"error": "a JSON object is expected"}, 400)
        return await run_in_threadpool(answered, work, body)

    app = Starlette(
        routes=[
            Route("/api/{name}", call, methods=["POST"]),
            Route("/{path:path}", page, methods=["GET"]),
        ]
    )
    app.add_middleware(Guard, own=own)
    return app


def answered(work: Call, body: dict[str, Any]) -> Response:
    """Answer one call; what goes wrong in it becomes words for the page.

    Whoever gets here has passed `Guard`. What is refused in words is an ordinary answer
    to our own page: another HTTP status would stand on the browser's console as a fault.

    Parameters
    ----------
    work : callable
        One of the calls of `Desk`.
    body : dict
        What the page sent.

    Returns
    -------
    Response
        JSON, or a PNG with its bounds in the head ``x-bounds``. A refusal is
        ``{"error": words, "status": 400, 409 or 422}``.
    """
    try:
        answer = work(body)
    except NewerDrawingError as error:
        return _refused(error, 409)
    except InputError as error:
        return _refused(error, 400)
    except LayoutError as error:
        return _refused(error, 422)
    except Exception:  # the page is told, the terminal has the whole story
        log.exception("a call failed")
        return _json(
            {"error": "something broke in skidway; the terminal it runs in says what"}, 500
        )
    if isinstance(answer, Picture):
        bounds = " ".join(f"{edge:.3f}" for edge in answer.bounds)
        return Response(answer.png, media_type="image/png", headers={"x-bounds": bounds})
    return _json(answer)


def _refused(error: LayoutError, status: int) -> Response:
    return _json({"error": str(error), "status": status})


def _json(value: dict[str, Any], status: int = 200) -> Response:
    text = json.dumps(value, separators=(",", ":"), allow_nan=False, ensure_ascii=False)
    return Response(text.encode("utf-8"), status, media_type="application/json")


def pages() -> dict[str, tuple[str, bytes]]:
    """Read every file of the page once; nothing else is ever given out.

    Returns
    -------
    dict of str to (str, bytes)
        Kind and content of each, by its address.
    """
    out: dict[str, tuple[str, bytes]] = {}
    static = files("layout.drawing") / "static"
    for folder, at in ((static, "/"), (static / "vendor", "/vendor/")):
        if not folder.is_dir():
            continue
        for entry in folder.iterdir():
            kind = KINDS.get(entry.name[entry.name.rfind(".") :])
            if kind is not None and entry.is_file():
                out[at + entry.name] = (kind, entry.read_bytes())
    if f"/{FIRST}" in out:
        out["/"] = out[f"/{FIRST}"]
    return out
