"""Planning behind the page: a first look, then the plan the command makes; the newest wins."""

import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layout.area import read_area
from layout.drawing.draft import Draft, read_draft
from layout.drawing.draft_area import draft_of, drafted
from layout.drawing.network import of_plan
from layout.drawing.replans import Replans
from layout.errors import InputError
from layout.plan import make_plan

AREA = Path(__file__).parent / "data" / "metric_area"
LONGEST_S = 300.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(AREA, tmp_path / "area"))


@pytest.fixture
def replans(folder: Path) -> Iterator[Replans]:
    made = Replans(folder)
    yield made
    made.close()


def value(folder: Path) -> dict[str, Any]:
    return draft_of(read_area(folder)).as_json()


def until_done(replans: Replans, job: int) -> list[dict[str, Any]]:
    """Follow a job to its end; give every layout that was shown."""
    begun, seen, shown = time.monotonic(), 0, []
    while time.monotonic() - begun < LONGEST_S:
        state = replans.state(job, seen)
        if state["network"] is not None:
            seen = state["version"]
            shown.append(state["network"])
        if state["state"] not in ("waiting", "running"):
            assert state["state"] == "done", state["error"]
            return shown
        time.sleep(0.05)
    pytest.fail("the planning did not end")


@pytest.mark.slow
def test_the_plan_shown_in_the_end_is_the_one_the_command_makes(
    replans: Replans, folder: Path
) -> None:
    draft = value(folder)
    shown = until_done(replans, replans.start(draft))
    assert [one["final"] for one in shown] == [False, True]
    plan = make_plan(drafted(read_area(folder), read_draft(draft)))
    assert shown[-1] == of_plan(plan)
    assert shown[0]["trees"].keys() == shown[-1]["trees"].keys()
    assert len(shown[0]["pulls"]) > 0
    assert not (folder / "out").exists()


@pytest.mark.slow
def test_the_newest_drawing_wins(replans: Replans, folder: Path) -> None:
    draft = value(folder)
    first = replans.start(draft)
    second = replans.start({**draft, "name": "newer"})
    assert replans.state(first, 0)["state"] == "replaced"
    assert until_done(replans, second)
    third = replans.start(draft)
    replans.stop(third)
    assert replans.state(third, 0)["state"] == "replaced"
    assert until_done(replans, replans.start(draft))  # and goes on after that


@pytest.mark.slow
def test_the_crews_files_are_written_and_not_given_up(replans: Replans, folder: Path) -> None:
    draft = value(folder)
    job = replans.start(draft, folder / "out")
    with pytest.raises(InputError, match="being written"):
        replans.start(draft)
    replans.stop(job)
    until_done(replans, job)
    name, files = replans.state(job, 0)["written"]
    assert name == "out"
    assert {"plan.gpkg", "plan.json", "crew_map.pdf", "report.html"} <= set(files)
    assert set(files) == {path.name for path in (folder / "out").iterdir()}


@pytest.mark.slow
def test_what_cannot_be_planned_is_told(replans: Replans, folder: Path) -> None:
    west, south, *_ = read_area(folder).dem.bounds
    bad = Draft().as_json() | {"landing": {"point": [west - 500, south]}}
    job = replans.start(bad)
    begun = time.monotonic()
    while (state := replans.state(job, 0))["state"] in ("waiting", "running"):
        assert time.monotonic() - begun < LONGEST_S
        time.sleep(0.05)
    assert state["state"] == "failed"
    assert "landing: it leaves the ground" in state["error"]


def test_an_unknown_job_is_told(replans: Replans) -> None:
    with pytest.raises(InputError, match="plan again"):
        replans.state(5, 0)
    replans.stop(5)
    replans.close()
    with pytest.raises(InputError, match="being closed"):
        replans.start(Draft().as_json())
