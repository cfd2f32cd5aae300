"""The map server lets in its own page and nothing else."""

import asyncio
import http.client
import json
import os
import signal
import socket
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from layout import area as areas
from layout.area import read_area
from layout.commands import draw, main
from layout.drawing import doorkey, own_state, serving
from layout.drawing import ground_read as room
from layout.drawing.doorkey import DoorKey, keep, key_of
from layout.drawing.doorstep import doorstep
from layout.drawing.guards import MOST_BYTES, Guard, Own, refusal
from layout.drawing.keeping import NewerDrawingError
from layout.drawing.plain import plain
from layout.drawing.server import Picture, app_of
from layout.drawing.serving import Door, open_door
from layout.errors import InputError, NoWayError

AREA = Path(__file__).parent / "data" / "metric_area"
TOKEN = "k" * 43
OWN = Own(frozenset({"127.0.0.1:4001", "localhost:4001"}), TOKEN)
GOOD = {
    "host": "127.0.0.1:4001",
    "origin": "http://127.0.0.1:4001",
    "x-skidway-token": TOKEN,
    "content-type": "application/json",
}


def asked(method: str = "POST", path: str = "/api/area", **changed: str | None) -> int | None:
    heads = {**GOOD, **{k.replace("_", "-"): v for k, v in changed.items()}}
    given = [(name, value) for name, value in heads.items() if value is not None]
    found = refusal(OWN, method, path, given)
    return None if found is None else found[0]


def test_the_page_is_let_in() -> None:
    assert asked() is None
    assert asked(host="localhost:4001", origin="http://localhost:4001") is None
    assert asked(content_type="application/json; charset=utf-8") is None
    assert asked("GET", "/", x_skidway_token=None, origin=None) is None


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"host": "evil.example:4001"}, 421),
        ({"host": "127.0.0.1"}, 421),
        ({"host": "127.0.0.1:4002"}, 421),
        ({"host": None}, 421),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "https://127.0.0.1:4001"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": None}, 403),
        ({"x_skidway_token": None}, 401),
        ({"x_skidway_token": TOKEN[:-1] + "x"}, 401),
        ({"x_skidway_token": "é"}, 401),
        ({"content_type": "text/plain"}, 415),
        ({"content_type": None}, 415),
        ({"content_length": str(MOST_BYTES + 1)}, 413),
        ({"content_length": "-1"}, 413),
    ],
)
def test_others_are_refused(changed: dict[str, str | None], status: int) -> None:
    assert asked(**changed) == status


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("GET", "/api/area", 405), ("PUT", "/api/area", 405), ("POST", "/", 405), ("PUT", "/", 405)],
)
def test_other_ways_of_asking_are_refused(method: str, path: str, status: int) -> None:
    assert asked(method, path) == status


def test_a_head_that_comes_twice_is_refused() -> None:
    twice = [*GOOD.items(), ("host", "127.0.0.1:4001")]
    assert refusal(OWN, "POST", "/api/area", twice) is not None


def test_a_body_larger_than_it_says_is_refused() -> None:
    reached: list[str] = []
    sent: list[Any] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        reached.append("in")

    async def receive() -> Any:
        return {"type": "http.request", "body": b"x" * (1 << 20), "more_body": True}

    async def send(message: Any) -> None:
        sent.append(message)

    heads = [(n.encode(), v.encode()) for n, v in GOOD.items()]
    scope = {"type": "http", "method": "POST", "path": "/api/area", "headers": heads}
    asyncio.run(Guard(app, OWN)(scope, receive, send))
    assert not reached
    assert sent[0]["status"] == 413


def broken(body: dict[str, Any]) -> dict[str, Any]:
    kinds = {
        "input": InputError,
        "way": NoWayError,
        "newer": NewerDrawingError,
        "bug": ZeroDivisionError,
    }
    raise kinds[body["kind"]]("words")


CALLS = {
    "echo": lambda body: {"got": body},
    "png": lambda body: Picture(b"\x89PNG", (0.0, 1.0, 2.0, 3.5)),
    "broken": broken,
}


@pytest.fixture(scope="module")
def door() -> Iterator[Door]:
    door = open_door(DoorKey(TOKEN), None)
    app = app_of(CALLS, Own(door.hosts, TOKEN))
    config = uvicorn.Config(app, log_level="critical", lifespan="off", ws="none")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door.socket]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield door
    server.should_exit = True
    thread.join(5)
    door.socket.close()


def said(
    door: Door, path: str, body: bytes | None = None, **changed: str
) -> tuple[int, bytes, Any]:
    line = http.client.HTTPConnection("127.0.0.1", door.key.port, timeout=10)
    own = f"127.0.0.1:{door.key.port}"
    heads = {
        "Host": own,
        "Origin": f"http://{own}",
        "X-Skidway-Token": TOKEN,
        "Content-Type": "application/json",
        **changed,
    }
    line.request("GET" if body is None else "POST", path, body, heads)
    answer = line.getresponse()
    data = answer.read()
    line.close()
    return answer.status, data, answer.headers


def test_calls_are_answered(door: Door) -> None:
    status, data, heads = said(door, "/api/echo", b'{"a": [1, 2]}')
    assert (status, json.loads(data)) == (200, {"got": {"a": [1, 2]}})
    assert heads["cache-control"] == "no-store"
    assert "default-src 'none'" in heads["content-security-policy"]
    assert "access-control-allow-origin" not in heads
    status, data, heads = said(door, "/api/png", b"{}")
    assert (status, heads["content-type"]) == (200, "image/png")
    assert heads["x-bounds"] == "0.000 1.000 2.000 3.500"


@pytest.mark.parametrize(
    ("kind", "status"), [("input", 400), ("way", 422), ("newer", 409), ("bug", 500)]
)
def test_what_goes_wrong_is_told_in_words(door: Door, kind: str, status: int) -> None:
    got, data, _ = said(door, "/api/broken", json.dumps({"kind": kind}).encode())
    told = json.loads(data)
    # our own page is told in an answer: a browser's console takes another status for a fault
    assert got == (200 if kind != "bug" else 500) and told.get("status", got) == status
    told = told["error"]
    assert told == "words" if kind != "bug" else "terminal" in told


@pytest.mark.parametrize("body", [b"{", b"[1]", b"\xff", b"[" * 100_000])
def test_what_is_no_json_object_is_refused(door: Door, body: bytes) -> None:
    assert said(door, "/api/echo", body)[0] == 400


@pytest.mark.parametrize(
    "path",
    [
        "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/vendor/../../draft.py", "/static",
        "//etc/passwd", "/vendor/", "/area.toml", "/index.html%00.png", "/\\..\\server.py",
    ],
)  # fmt: skip
def test_no_path_is_ever_opened(door: Door, path: str) -> None:
    status, data, _ = said(door, path)
    assert status == 404
    assert b"root:" not in data and b"import" not in data


def test_unknown_calls_and_strangers(door: Door) -> None:
    assert said(door, "/api/nothing", b"{}")[0] == 404
    assert said(door, "/api/echo", b"{}", Origin="http://evil.example")[0] == 403
    assert said(door, "/api/echo", b"{}", Host="evil.example")[0] == 421
    # a body far too large is not waited for
    assert said(door, "/api/echo", b"{}", **{"Content-Length": str(MOST_BYTES + 1)})[0] == 413


def test_it_listens_on_this_computer_only(door: Door) -> None:
    assert door.socket.getsockname()[0] == "127.0.0.1"
    assert door.house_addresses == ()


def test_a_port_that_is_taken_is_told_and_the_last_one_is_taken_again(door: Door) -> None:
    busy = open_door(DoorKey(TOKEN), None)  # it listens at once: no second start gets the port
    with pytest.raises(InputError, match=f"--port {busy.key.port}"):
        open_door(DoorKey(TOKEN), busy.key.port)
    other = open_door(DoorKey(TOKEN, busy.key.port), None)  # kept port in use: another
    assert other.key.port != busy.key.port
    assert other.moved and not busy.moved
    busy.socket.close()
    again = open_door(DoorKey(TOKEN, busy.key.port), None)
    assert again.key.port == busy.key.port
    assert not again.moved
    again.socket.close()
    other.socket.close()


def test_the_key_is_kept_for_the_user_alone(tmp_path: Path) -> None:
    area, state = tmp_path / "area", tmp_path / "state"
    first = key_of(area, state)
    assert len(first.token) >= 43
    assert keep(DoorKey(first.token, 4001), area, state)
    (kept,) = state.iterdir()
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    assert stat.S_IMODE(state.stat().st_mode) == 0o700
    assert key_of(area, state) == DoorKey(first.token, 4001)
    assert key_of(tmp_path / "other", state).token != first.token
    kept.write_text('{"token": 3}', encoding="utf-8")
    assert key_of(area, state).token != first.token
    assert not keep(first, area, None)
    assert not keep(first, area, kept)  # a file, where a folder is wanted


def test_a_port_is_ours_alone_on_windows_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", -5, raising=False)
    assert serving._alone() == socket.SO_REUSEADDR
    monkeypatch.setattr(serving.sys, "platform", "win32")
    assert serving._alone() == -5


def test_the_browser_is_led_to_the_map_by_a_file_of_the_user_alone(tmp_path: Path) -> None:
    address = f"http://127.0.0.1:4001/#{TOKEN}"
    with doorstep(address, tmp_path / "state") as step:
        (place,) = (tmp_path / "state").iterdir()
        assert step == place.as_uri()
        assert TOKEN not in step
        assert stat.S_IMODE(place.stat().st_mode) == 0o600
        assert f'location.replace("{address}")' in place.read_text(encoding="utf-8")
    assert not list((tmp_path / "state").iterdir())
    with doorstep(address, None) as step:
        assert step == ""
    (tmp_path / "file").touch()
    with doorstep(address, tmp_path / "file") as step:  # no folder can be made there
        assert step == ""


HOUSES: list[tuple[str, ...]] = []


def opened(monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[str, str]:
    """Run the command until it serves; give the map's address and the one that is opened."""
    got: list[str] = []

    def served(app: Any, door: Door, *, browser: str, started: Any) -> None:
        got.extend([door.address, browser])
        HOUSES.append(door.house_addresses)
        if browser:
            path = Path(browser.removeprefix("file://"))
            assert door.address in path.read_text(encoding="utf-8")
        door.socket.close()

    monkeypatch.setattr(serving, "serve", served)
    assert main(["draw", str(AREA), *words]) == 0
    return got[0], got[1]


def test_the_keys_are_kept_for_this_computer_and_for_the_house(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr(draw, "log_to_stderr", lambda verbose: None)
    ground = room.ground_read(read_area(AREA))  # once is enough for six starts
    monkeypatch.setattr(room, "ground_read", lambda area: ground)
    monkeypatch.setattr(areas, "read_area", lambda folder, offline: ground.area)
    first, step = opened(monkeypatch)
    assert step.startswith("file://") and first.partition("#")[2] not in step
    again, none = opened(monkeypatch, "--no-browser")
    assert (again, none) == (first, "")
    capsys.readouterr()
    monkeypatch.setattr(serving, "_own_names", lambda: ("192.0.2.7",))  # RFC 5737: nobody's
    houses: list[tuple[str, ...]] = []
    for words in (["--house-network"], ["--house-network"], [], ["--house-network"]):
        assert opened(monkeypatch, "--no-browser", *words)[0] == first  # a page here stays open
        houses.append(HOUSES[-1])
    told = capsys.readouterr().out
    assert "good for 12 hours over restarts" in told
    one, two, none, three = houses
    assert one == two and none == ()  # and so does one on a phone
    assert three != one  # until it was started without the option
    assert first.partition("#")[2] not in {one[0].partition("#")[2], three[0].partition("#")[2]}
    with socket.create_server(("127.0.0.1", int(first.partition("#")[0].split(":")[2][:-1]))):
        moved, _ = opened(monkeypatch, "--no-browser")
    assert moved.partition("#")[2] == first.partition("#")[2]
    assert "taken: pages left open will not find the map" in capsys.readouterr().out
    monkeypatch.setattr(own_state, "state_folder", lambda: None)
    assert opened(monkeypatch)[1] == ""
    assert "The browser is not opened" in capsys.readouterr().out


def test_the_key_of_the_house_is_for_a_day_and_for_the_user_alone(tmp_path: Path) -> None:
    area, state = tmp_path / "area", tmp_path / "state"
    token, kept, made = doorkey.house_key(area, state, 1000.0)
    assert kept and made == 1000.0
    assert doorkey.house_key(area, state, 1000.0 + 11.9 * 3600) == (token, True, 1000.0)
    (place,) = state.iterdir()
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert doorkey.house_key(area, state, 999.0)[0] != token  # of a clock set back
    late, _, _ = doorkey.house_key(area, state, 2000.0 + 12.1 * 3600)
    assert late != token
    assert doorkey.house_key(area, None)[1] is False


HOUSE = Own(
    frozenset({"127.0.0.1:4001"}), TOKEN,
    house_hosts=frozenset({"192.0.2.7:4001"}), house_token="h" * 43, house_made=1000.0,
)  # fmt: skip


def test_a_call_from_another_of_its_own_addresses_is_refused() -> None:
    heads = [
        ("host", "127.0.0.1:4001"), ("origin", "http://192.0.2.7:4001"),
        ("x-skidway-token", TOKEN), ("content-type", "application/json"),
    ]  # fmt: skip
    assert (refusal(HOUSE, "POST", "/api/area", heads) or (0,))[0] == 403


@pytest.mark.parametrize(
    ("host", "token", "status"),
    [
        ("127.0.0.1:4001", TOKEN, None),
        ("192.0.2.7:4001", "h" * 43, None),
        ("127.0.0.1:4001", "h" * 43, 401),
        ("192.0.2.7:4001", TOKEN, 401),
        ("192.0.2.7:4001", "", 401),
        ("192.0.2.8:4001", "h" * 43, 421),
    ],
)
def test_each_key_opens_its_own_address_alone(host: str, token: str, status: int | None) -> None:
    heads = [
        ("host", host), ("origin", f"http://{host}"), ("x-skidway-token", token),
        ("content-type", "application/json"),
    ]  # fmt: skip
    refused = refusal(HOUSE, "POST", "/api/echo", heads, now=1500.0)
    assert (None if refused is None else refused[0]) == status
    no_house = replace(HOUSE, house_token="")
    if host.startswith("192"):
        assert refusal(no_house, "POST", "/api/echo", heads, now=1500.0) is not None


@pytest.mark.parametrize(
    ("age_h", "open_"), [(0.0, True), (11.99, True), (12.01, False), (-0.01, False)]
)
def test_the_key_of_the_house_grows_old_while_the_map_is_open(age_h: float, open_: bool) -> None:
    heads = [
        ("host", "192.0.2.7:4001"), ("origin", "http://192.0.2.7:4001"),
        ("x-skidway-token", "h" * 43), ("content-type", "application/json"),
    ]  # fmt: skip
    refused = refusal(HOUSE, "POST", "/api/save", heads, now=1000.0 + age_h * 3600)
    if open_:
        assert refused is None
    else:
        assert refused is not None and refused[0] == 401
        assert "good for 12 hours" in refused[1] and "--house-network" in refused[1]
    here = [
        ("host", "127.0.0.1:4001"), ("origin", "http://127.0.0.1:4001"),
        ("x-skidway-token", TOKEN), ("content-type", "application/json"),
    ]  # fmt: skip
    assert refusal(HOUSE, "POST", "/api/save", here, now=1000.0 + age_h * 3600) is None


def test_numbers_json_has_no_word_for() -> None:
    assert plain({"a": [float("nan"), float("inf"), 1.23456]}) == {"a": [None, None, 1.235]}


def test_a_house_network_without_an_address_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serving, "_own_names", lambda: ())
    assert main(["draw", str(AREA), "--house-network", "--no-browser"]) == 2
    assert "no network gives this computer an address" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there a program is not told to end so")
def test_told_to_end_it_ends_and_so_does_what_plans_for_it(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "layout", "draw", str(AREA), "--no-browser"]
    state = {**os.environ, "XDG_STATE_HOME": str(tmp_path)}
    with subprocess.Popen(
        words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=state
    ) as run:
        assert run.stdout is not None and run.stderr is not None
        for line in run.stdout:
            if "stop it with Ctrl-C" in line:
                break
        time.sleep(3.0)  # by then a process stands ready
        run.send_signal(signal.SIGTERM)
        said, faults = run.stdout.read(), run.stderr.read()  # to their ends: nobody holds them
        assert run.wait(20.0) == 0
    assert said == "The map is closed.\n" and "Traceback" not in faults
