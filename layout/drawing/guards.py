"""Who may talk to the map server, and how much they may say.

Everything is refused that does not come from the page this server gave out: a
call has to name our own host (a name an attacker points at this computer is
refused), come from our own origin and carry the token. The page itself and its
files hold nothing of the user's, so they are given without one.
"""

import hmac
import time
from collections.abc import Iterable
from dataclasses import dataclass

from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from layout.drawing.doorkey import HOUSE_LASTS_S, still_good

MOST_BYTES = 4 * 1024 * 1024
API = "/api/"
TOKEN_HEADER = "x-skidway-token"
OLD_HOUSE_KEY = (
    f"The key for the house network was good for {HOUSE_LASTS_S / 3600:.0f} hours and is not any "
    "more. What you drew is kept in this browser. On the computer, start skidway draw with "
    "--house-network again and open the address it prints, here in the same browser."
)


@dataclass(frozen=True, slots=True)
class Own:
    """What this server is called and what its page knows.

    Parameters
    ----------
    hosts : frozenset of str
        ``name:port`` as a browser writes it.
    token : str
        Carried by every call.
    tiles : str
        Origin of background tiles the user asked for; empty where none.
    most_bytes : int
        Largest body of a call.
    house_hosts : frozenset of str
        As ``hosts``, for other machines of the house; empty where none may come in.
    house_token : str
        Carried by every call under those names, which the other token does not open.
    house_made : float
        When that token was made, seconds since 1970; it is refused when it has grown old,
        however long the server runs.
    """

    hosts: frozenset[str]
    token: str
    tiles: str = ""
    most_bytes: int = MOST_BYTES
    house_hosts: frozenset[str] = frozenset()
    house_token: str = ""
    house_made: float = 0.0

    @property
    def headers(self) -> tuple[tuple[str, str], ...]:
        """Headers of every answer: the page may load nothing but what is ours."""
        pictures = f"'self' blob: data: {self.tiles}".strip()
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
            f"font-src 'self'; img-src {pictures}; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'none'"
        )
        return (
            ("content-security-policy", policy),
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cache-control", "no-store"),
        )


def refusal(
    own: Own,
    method: str,
    path: str,
    headers: Iterable[tuple[str, str]],
    now: float | None = None,
) -> tuple[int, str] | None:
    """Say why a request is refused, from its head alone.

    Parameters
    ----------
    own : Own
    method, path : str
    headers : iterable of (str, str)
        Names in lower case, as often as they came.
    now : float, optional
        Seconds since 1970; the clock's by default.

    Returns
    -------
    tuple of int and str, or None
        HTTP status and words; None where it may come in.
    """
    named: dict[str, list[str]] = {}
    for name, value in headers:
        named.setdefault(name, []).append(value)
    hosts = own.hosts | own.house_hosts
    if named.get("host", []) not in [[host] for host in hosts]:
        return 421, "this is not the address of the map; open the address skidway printed"
    origins = named.get("origin", [])
    if any(origin != f"http://{named['host'][0]}" for origin in origins):
        return 403, "another page may not call the map"
    if not path.startswith(API):
        return None if method in ("GET", "HEAD") else (405, "only GET is answered here")
    if method != "POST":
        return 405, "only POST is answered here"
    if len(origins) != 1:
        return 403, "a call has to come from the map's own page"
    tokens = named.get(TOKEN_HEADER, [])
    from_house = named["host"][0] in own.house_hosts
    wanted = own.house_token if from_house else own.token
    # an empty token opens nothing
    if (
        len(tokens) != 1
        or not wanted
        or not hmac.compare_digest(tokens[0].encode(), wanted.encode())
    ):
        return 401, "the page does not know the key; open the address skidway printed"
    if from_house and not still_good(own.house_made, time.time() if now is None else now):
        return 401, OLD_HOUSE_KEY
    kinds = named.get("content-type", [])
    if len(kinds) != 1 or kinds[0].split(";")[0].strip().lower() != "application/json":
        return 415, "a call has to be JSON"
    length = named.get("content-length", ["0"])[-1]
    if not length.isdigit() or int(length) > own.most_bytes:
        return 413, f"a call may hold {own.most_bytes // 1024} kB"
    return None


class Guard:
    """Lets in only what `refusal` does not refuse, and gives every answer our headers."""

    def __init__(self, app: ASGIApp, own: Own) -> None:
        self.app, self.own = app, own

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets: the handshake is not answered
        own = self.own

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                have = {name for name, _ in own.headers}
                kept = [(n, v) for n, v in message["headers"] if n.decode() not in have]
                ours = [(n.encode(), v.encode()) for n, v in own.headers]
                message = {**message, "headers": [*kept, *ours]}
            await send(message)

        heads = [(n.decode("latin-1"), v.decode("latin-1")) for n, v in scope["headers"]]
        refused = refusal(own, scope["method"], scope["path"], heads)
        if refused is None:
            body = await self._body(receive)
            if body is not None:
                await self.app(scope, _again(body, receive), sent)
                return
            refused = 413, f"a call may hold {own.most_bytes // 1024} kB"
        status, words = refused
        await JSONResponse({"error": words}, status, {"connection": "close"})(scope, receive, sent)

    async def _body(self, receive: Receive) -> bytes | None:
        """Read the body; None where it is too large, whatever its length was said to be."""
        parts: list[bytes] = []
        size = 0
        while True:
            message = await receive()
            if message["type"] != "http.request":
                return b""
            parts.append(message.get("body", b""))
            size += len(parts[-1])
            if size > self.own.most_bytes:
                return None
            if not message.get("more_body", False):
                return b"".join(parts)


def _again(body: bytes, receive: Receive) -> Receive:
    """Give a body that was read already once more."""
    left = [body]

    async def given() -> Message:
        if left:
            return {"type": "http.request", "body": left.pop(), "more_body": False}
        return await receive()

    return given
