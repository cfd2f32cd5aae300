"""The map is warm before it is asked: the first verdict does not wait for the ground."""

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from layout import reach
from layout.area import read_area
from layout.commands import main
from layout.drawing import ground_read as room
from layout.drawing import serving
from layout.drawing.desk import Desk
from layout.drawing.draft_area import draft_of
from layout.drawing.ground_read import GroundRead, ground_read
from layout.drawing.replans import Replans
from layout.site import Area

AREA = Path(__file__).parent / "data" / "metric_area"


@pytest.fixture(scope="module")
def area() -> Area:
    return read_area(AREA)


@pytest.mark.parametrize("drawn", [True, False], ids=["with what is drawn", "with nothing drawn"])
def test_the_ground_is_made_once_and_not_by_the_first_call(
    area: Area, drawn: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def counted(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **more: Any) -> Any:
            made.append(name)
            return work(*args, **more)

        return call

    monkeypatch.setattr(reach, "scene", counted("scene", reach.scene))
    monkeypatch.setattr(room, "prepare", counted("pulls", room.prepare))
    given = area if drawn else replace(area, landing=None, main_trail=None)
    desk = Desk(ground_read(given))
    desk.warm()
    assert made == ["pulls", "scene"]
    got = desk.judge({"draft": draft_of(area).as_json()})
    assert got["numbers"]["trail_m"] > 100
    assert made == ["pulls", "scene"]


def test_an_area_that_cannot_be_judged_is_no_reason_to_stop(
    area: Area, caplog: pytest.LogCaptureFixture
) -> None:
    assert area.landing is not None
    away = replace(area, landing=None, main_trail=area.main_trail.reverse())  # type: ignore[union-attr]
    shifted = replace(away, dem=replace(area.dem, z=area.dem.z[:4, :4]))
    ground = GroundRead(shifted, *[getattr(ground_read(area), n) for n in
                                   ("terrain", "strips", "limits", "sizes")])  # fmt: skip
    with caplog.at_level("INFO"):
        Desk(ground).warm()
    assert "leaves the ground" in caplog.text


def test_the_command_warms_while_it_serves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    warmed, ended = threading.Event(), threading.Event()
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    done: list[str] = []
    monkeypatch.setattr(Desk, "warm", lambda desk: done.append("ground"))
    monkeypatch.setattr(Replans, "warm", lambda crew: (done.append("planning"), warmed.set()))
    monkeypatch.setattr(Replans, "close", lambda crew: ended.set())

    def served(app: Any, door: serving.Door, *, browser: str, started: Callable[[], None]) -> None:
        assert not warmed.is_set()
        started()
        assert warmed.wait(10) and done == ["ground", "planning"] and not ended.is_set()
        door.socket.close()

    monkeypatch.setattr(serving, "serve", served)
    assert main(["draw", str(AREA), "--no-browser"]) == 0
    assert ended.is_set()
    assert "http://127.0.0.1:" in capsys.readouterr().out
