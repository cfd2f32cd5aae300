"""Open a socket, serve the map on it, open the browser."""

import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass, replace

import uvicorn
from starlette.types import ASGIApp

from layout.drawing.doorkey import DoorKey
from layout.errors import InputError

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
OPEN_AFTER_S = 0.3
BACKLOG = 128


@dataclass(frozen=True, slots=True)
class Door:
    """A bound socket and what its address is.

    Parameters
    ----------
    socket : socket
        Listening: nobody else can take its port.
    key : DoorKey
        With the port it is bound to.
    house : tuple of str
        Names other machines of the house may use; empty where it is this computer only.
    house_token : str
        What calls under those names carry.
    moved : bool
        The port of the last time was taken.
    """

    socket: socket.socket
    key: DoorKey
    house: tuple[str, ...] = ()
    house_token: str = ""
    moved: bool = False

    @property
    def hosts(self) -> frozenset[str]:
        """Every ``name:port`` the page may be opened under on this computer."""
        return frozenset(f"{name}:{self.key.port}" for name in (LOOPBACK, "localhost"))

    @property
    def house_hosts(self) -> frozenset[str]:
        """Every ``name:port`` the page may be opened under from the house network."""
        return frozenset(f"{name}:{self.key.port}" for name in self.house)

    @property
    def address(self) -> str:
        """Address for this computer; the token is behind the #, which is never sent."""
        return f"http://{LOOPBACK}:{self.key.port}/#{self.key.token}"

    @property
    def house_addresses(self) -> tuple[str, ...]:
        """Addresses for other machines of the house."""
        return tuple(f"http://{name}:{self.key.port}/#{self.house_token}" for name in self.house)


def open_door(key: DoorKey, port: int | None, *, house: str = "") -> Door:
    """Take a port and listen on it.

    Parameters
    ----------
    key : DoorKey
        Token, and the port used last time, which is taken again where it is free.
    port : int or None
        Port the user asked for; None lets us choose.
    house : str, optional
        Key for the house network, which is listened for too; empty: it is not.

    Returns
    -------
    Door

    Raises
    ------
    InputError
        If the port asked for is taken.
    """
    name = EVERYWHERE if house else LOOPBACK
    tries = [port] if port is not None else ([key.port, 0] if key.port else [0])
    for number in tries:
        # without naming the protocol each answer would wait 40 ms for an acknowledgement
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        try:
            bound.setsockopt(socket.SOL_SOCKET, _alone(), 1)
            bound.bind((name, number))
            bound.listen(BACKLOG)  # at once: until then a second start could bind it too
        except (OSError, OverflowError) as error:
            bound.close()
            if number == port:
                msg = f"--port {port}: it cannot be used ({error}); give another, or leave it out"
                raise InputError(msg) from error
            continue
        taken = int(bound.getsockname()[1])
        return Door(
            bound,
            replace(key, port=taken),
            _own_names() if house else (),
            house,
            moved=port is None and key.port not in (0, taken),
        )
    msg = "no port of this computer is free for the map"
    raise InputError(msg)


def _alone() -> int:
    """Give the option by which a port is ours alone, and free again after a stop."""
    if sys.platform == "win32":  # there the other one lets a second program in
        return int(socket.SO_EXCLUSIVEADDRUSE)
    return int(socket.SO_REUSEADDR)


def serve(app: ASGIApp, door: Door, *, browser: str, started: Callable[[], None]) -> None:
    """Serve until the user stops it with Ctrl-C.

    Parameters
    ----------
    app : ASGI application
    door : Door
    browser : str
        Address the user's browser is opened on; empty: it is not.
    started : callable
        Told once before the first request is answered.
    """
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, lifespan="off", ws="none",
        timeout_graceful_shutdown=2, server_header=False, date_header=False,
    )  # fmt: skip
    started()
    if browser:
        timer = threading.Timer(OPEN_AFTER_S, webbrowser.open, (browser,))
        timer.daemon = True
        timer.start()
    uvicorn.Server(config).run(sockets=[door.socket])


def _own_names() -> tuple[str, ...]:
    """Give the addresses other machines of the house see this one under."""
    found: set[str] = set()
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        probe.connect(("192.0.2.1", 9))  # sends nothing; asks which address would be ours
        found.add(str(probe.getsockname()[0]))
    except OSError:
        pass
    finally:
        probe.close()
    return tuple(sorted(found - {LOOPBACK, EVERYWHERE}))
