"""``skidway draw``: a map in the browser to draw on, judged while drawing."""

import argparse
import threading
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


def run(words: argparse.Namespace) -> int:
    """Serve the map until the user stops it."""
    log_to_stderr(verbose=words.verbose)
    check_settings(words.area)
    notice_if_cold()

    from layout.area import read_area
    from layout.drawing.desk import Desk
    from layout.drawing.doorkey import fresh, keep, key_of
    from layout.drawing.doorstep import doorstep
    from layout.drawing.ground_read import ground_read
    from layout.drawing.guards import Own
    from layout.drawing.own_state import state_folder
    from layout.drawing.server import app_of
    from layout.drawing.serving import open_door, serve
    from layout.drawing.tiles import tile_host

    host = tile_host(words.tiles)
    area = read_area(words.area, offline=True)
    folder = state_folder()
    key = key_of(area.folder, folder)
    if words.house_network:
        key = fresh(key)  # what other machines were told once is not to open it for ever
    door = open_door(key, words.port, house=words.house_network)
    desk = Desk(ground_read(area), words.tiles, words.area, folder)
    app = app_of(desk.calls(), Own(door.hosts, door.key.token, host))
    if words.house_network:
        print("A new key is made each time for the house network: open pages will not find it.")
    elif not keep(door.key, area.folder, folder):
        print("The key could not be kept: a page left open will not survive a restart.")
    if door.moved:
        print(f"Port {key.port} of the last time is taken: pages left open will not find the map.")

    def warm() -> None:
        desk.warm()
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
                serve(app, door, browser=step, started=started)
            except KeyboardInterrupt:  # the way it is told to be stopped
                print("The map is closed.")
    finally:
        desk.replans.close()  # a planning that is under way ends with the map
    return 0
