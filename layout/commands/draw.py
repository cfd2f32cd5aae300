"""``skidway draw``: a map in the browser to draw on, judged while drawing."""

import argparse
import gc
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from layout.commands.terminal import check_settings, log_to_stderr, notice_if_cold


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "draw",
        help="draw a landing and a main trail on a map in the browser, judged while drawing",
        description=(
            "Open a map of AREA in the browser. It is served from this computer to this computer "
            "alone; stop it with Ctrl-C."
        ),
    )
    words.add_argument("area", metavar="AREA", type=Path, help="the folder, or its area.toml")
    words.add_argument("--port", type=int, metavar="N", help="port to serve it on")
    words.add_argument("--no-browser", action="store_true", help="only print the address")
    words.add_argument(
        "--tiles",
        metavar="URL",
        default="",
        help="background tiles, https://…/{z}/{x}/{y}…; the page then asks that host, no other",
    )
    words.add_argument(
        "--house-network",
        action="store_true",
        help="let phones on the house network in too, by the address with its key",
    )
    words.add_argument("-v", "--verbose", action="store_true", help="say more")
    words.set_defaults(run=run)


class _EndedError(Exception):
    """The map was told to end."""


@contextmanager
def _ended_by_signal() -> Iterator[None]:
    """End on SIGTERM as on Ctrl-C, so that what plans for the map ends with it."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only there signals can be heard
        return

    def end(number: int, frame: object) -> None:
        raise _EndedError

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def run(words: argparse.Namespace) -> int:
    """Serve the map until the user stops it."""
    log_to_stderr(verbose=words.verbose)
    check_settings(words.area)
    notice_if_cold()

    from layout.area import read_area
    from layout.drawing.desk import Desk
    from layout.drawing.doorkey import (
        HOUSE_LASTS_S,
        forget_house_key,
        house_key,
        keep,
        key_of,
    )
    from layout.drawing.doorstep import doorstep
    from layout.drawing.ground_read import ground_read
    from layout.drawing.guards import Own
    from layout.drawing.own_state import state_folder
    from layout.drawing.server import app_of
    from layout.drawing.serving import open_door, serve
    from layout.drawing.tiles import tile_host
    from layout.errors import InputError

    host = tile_host(words.tiles)
    area = read_area(words.area, offline=True)
    folder = state_folder()
    key = key_of(area.folder, folder)
    house, found_again, made = "", False, 0.0
    if words.house_network:
        house, found_again, made = house_key(area.folder, folder)
    else:
        forget_house_key(area.folder, folder)  # who was told it once is not let in for ever
    door = open_door(key, words.port, house=house)
    if words.house_network and not door.house:
        door.socket.close()
        raise InputError(
            "--house-network: no network gives this computer an address; connect it first, or "
            "leave the option out"
        )
    desk = Desk(ground_read(area), words.tiles, words.area, folder)
    own = Own(
        door.hosts,
        door.key.token,
        host,
        house_hosts=door.house_hosts,
        house_token=door.house_token,
        house_made=made,
    )
    app = app_of(desk.calls(), own)
    if not keep(door.key, area.folder, folder):
        print("The key could not be kept: a page left open will not survive a restart.")
    if found_again:
        print(
            f"The house network's key is good for {HOUSE_LASTS_S / 3600:.0f} hours over restarts; "
            "start once without --house-network to make it void."
        )
    elif words.house_network:
        print("The house network's key could not be kept: pages left open there will not find it.")
    if door.moved:
        print(f"Port {key.port} of the last time is taken: pages left open will not find the map.")

    def warm() -> None:
        desk.warm()
        gc.collect()
        gc.freeze()  # the ground stays: to look through it for litter again takes 0.1 s and more
        desk.replans.warm()  # after the first verdict, which somebody waits for

    def started() -> None:
        threading.Thread(target=warm, name="warming", daemon=True).start()
        print(f"The map of {area.settings.area.name} is at", flush=True)
        print(f"  {door.address}", flush=True)
        for address in door.house_addresses:
            print(f"  {address}   (from the house network)", flush=True)
        if door.house:
            print("Whoever has such an address can draw and save; stop it with Ctrl-C.", flush=True)
        else:
            print("Only this computer can open it; stop it with Ctrl-C.", flush=True)

    try:
        with doorstep(door.address, None if words.no_browser else folder) as step:
            if not words.no_browser and not step:
                print(
                    "The browser is not opened: there is no folder to keep the key in. Open it "
                    "with the address below."
                )
            try:
                with _ended_by_signal():
                    serve(app, door, browser=step, started=started)
            except (KeyboardInterrupt, _EndedError):  # the way it is told to be stopped
                print("The map is closed.")
    finally:
        desk.replans.close()  # a planning that is under way ends with the map
    return 0
