"""Planning behind the page: a first look, then the plan the command makes; the newest wins."""

import io
import json
import os
import pickle
import shutil
import signal
import subprocess
import sys
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from layout.area import read_area
from layout.commands import main
from layout.drawing import keeping
from layout.drawing import replans as rooms
from layout.drawing.desk import JOBS_KNOWN, Desk
from layout.drawing.draft import Draft, DraftNote, read_draft
from layout.drawing.draft_area import draft_of, drafted
from layout.drawing.ground_read import ground_read
from layout.drawing.network import of_plan
from layout.drawing.planner import LOST, Crew
from layout.drawing.replans import FORKS, REST_S, RESTS, SPARES, Job, Replans
from layout.errors import InputError, LayoutError
from layout.plan import make_plan
from layout.site import Area

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


@pytest.fixture
def spared(replans: Replans, monkeypatch: pytest.MonkeyPatch) -> Replans:
    """Plan as where a process cannot be copied."""
    monkeypatch.setattr(rooms, "FORKS", False)
    return replans


@pytest.fixture(params=["copies", "spares"])
def either(
    replans: Replans, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> Replans:
    """Plan in each of the two ways."""
    if request.param == "copies" and not FORKS:
        pytest.skip("no process can be copied here")
    monkeypatch.setattr(rooms, "FORKS", request.param == "copies")
    return replans


def hand(crew: Crew) -> int:
    """Give the process that plans."""
    return crew.copy or crew.process.pid


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
def test_an_area_named_by_another_settings_file_is_planned_by_it(folder: Path) -> None:
    named = (folder / "area.toml").rename(folder / "autumn.toml")
    desk = Desk(ground_read(read_area(named)), named=named)
    try:
        shown = until_done(desk.replans, desk.replan({"draft": value(named)})["job"])
    finally:
        desk.replans.close()
    assert shown[-1]["final"]


@pytest.mark.slow
def test_the_newest_drawing_wins(either: Replans, folder: Path) -> None:
    draft = value(folder)
    first = either.start(draft)
    second = either.start({**draft, "name": "newer"})
    assert either.state(first, 0)["state"] == "replaced"
    assert until_done(either, second)
    third = either.start(draft)
    either.stop(third)
    assert either.state(third, 0)["state"] == "replaced"
    assert until_done(either, either.start(draft))  # and goes on after that


def told(folder: Path) -> list[str]:
    """Give what the plan in a folder says, without what differs from run to run."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return [plan[key] for key in ("trails", "positions", "pulls", "trees", "findings")]


@pytest.mark.slow
def test_the_crews_files_are_those_of_the_command_and_not_given_up(
    replans: Replans, folder: Path
) -> None:
    replans.warm()  # this one reads the area before it is edited
    area = read_area(folder)
    keeping.save(folder, area.crs, with_note(area), "north", None)
    begun = time.monotonic()
    while not replans._crew or not replans._crew.ready:
        assert time.monotonic() - begun < LONGEST_S
        time.sleep(0.05)
    unmarked(folder, area)
    job = replans.write("north", folder / "out")
    with pytest.raises(InputError, match="being written"):
        replans.start(value(folder))
    replans.stop(job)
    until_done(replans, job)
    name, files, stops = replans.state(job, 0)["written"]
    assert name == "out"
    with (folder / "out" / "plan.json").open(encoding="utf-8") as file:
        levels = [finding["level"] for finding in json.load(file)["findings"]]
    assert stops == levels.count("stop")
    assert {"plan.gpkg", "plan.json", "crew_map.pdf", "report.html"} <= set(files)
    assert set(files) == {path.name for path in (folder / "out").iterdir()}
    by_page = told(folder / "out")
    shutil.rmtree(folder / "out")  # no names to keep, as before
    assert main(["plan", str(folder), "--drawing", "north"]) in (0, 1)
    assert told(folder / "out") == by_page
    codes = {finding["code"] for finding in by_page[-1]}
    assert {"drawing_used", "drawing_note"} <= codes


def with_note(area: Area) -> Draft:
    place = area.stand.representative_point()
    note = DraftNote("N1", (round(place.x, 2), round(place.y, 2)), "soft ground")
    return replace(draft_of(area), notes=(note,))


def unmarked(folder: Path, area: Area) -> None:
    """Take a mark off in the tree list."""
    path = folder / area_trees(folder)
    table = pd.read_csv(path, dtype=str, keep_default_na=False)
    row = int(np.flatnonzero(area.trees.marked)[0])
    table.loc[table.tree_id == area.trees.tree_id[row], "mark"] = "leave"
    table.to_csv(path, index=False)
    assert read_area(folder).trees.marked.sum() == area.trees.marked.sum() - 1


def area_trees(folder: Path) -> str:
    settings = tomllib.loads((folder / "area.toml").read_text(encoding="utf-8"))
    return str(settings.get("trees", {}).get("file", "trees.csv"))


@pytest.mark.slow
def test_an_area_that_cannot_be_read_is_told_in_its_own_words(folder: Path) -> None:
    """The process that plans answers, without a traceback, and reads again when asked again."""
    (folder / area_trees(folder)).write_bytes(b"")
    with pytest.raises(LayoutError) as fault:
        read_area(folder, offline=True)
    task = {"draft": Draft().as_json(), "units": None, "out": None}
    begin = {"named": str(folder), "forks": False}
    tasks = [{**task, "job": job} for job in (1, 2)]
    given = b"".join(map(pickle.dumps, (begin, *tasks)))
    code = "from layout.drawing.replan_child import main; main()"
    run = subprocess.run(
        [sys.executable, "-c", code], input=given, capture_output=True, timeout=120, check=True
    )
    answers, source = [], io.BytesIO(run.stdout)
    while source.tell() < len(run.stdout):
        answers.append(pickle.load(source))
    assert answers == [(0, "ready", None), *((job, "failed", str(fault.value)) for job in (1, 2))]
    assert b"Traceback" not in run.stderr


def test_changed_files_are_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[tuple[Any, ...]] = []
    monkeypatch.setattr(Replans, "start", lambda crew, *given: begun.append(given) or len(begun))
    desk = Desk(ground_read(read_area(folder)))
    draft = value(folder)
    assert desk.replan({"draft": draft}) == {"job": 1}
    (folder / "drawings").mkdir()
    (folder / "drawings" / "a.gpkg").touch()
    assert desk.replan({"draft": draft}) == {"job": 2}
    (folder / "progress.csv").write_text("name,state\n", encoding="utf-8")
    path = folder / area_trees(folder)
    os.utime(path, (1, 1))
    got = desk.replan({"draft": draft})
    assert got["stale"] is True
    assert f"progress.csv, {path.name}" in got["words"]
    assert begun[-1] == (draft, got["words"], "metric")
    assert begun[0][1] == ""


def test_planned_numbers_are_compared_after_a_restart_until_the_drawing_changes(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[tuple[Any, ...]] = []
    monkeypatch.setattr(Replans, "start", lambda crew, *given: begun.append(given) or len(begun))
    lines = {"metric": [["Winched", "12 of 14"]], "us": [["Winched", "12 of 14"]]}
    trails = [
        {"kind": kind, "source": source, "line": [[1.0, 2.0], [3.0, 4.0]]}
        for kind, source in (("main", "drawn"), ("spur", "drawn"), ("spur", "routed"))
    ]
    network = {"final": True, "lines": lines, "trails": trails}
    done: dict[int, Any] = {}
    monkeypatch.setattr(Replans, "planned", lambda _, job: done.get(job))
    ground, state = ground_read(read_area(folder)), tmp_path / "state"
    desk = Desk(ground, state=state)
    draft = value(folder)
    for name in ("a", "b"):
        desk.save({"draft": draft, "name": name, "based_on": None})
    for _ in range(JOBS_KNOWN + 3):
        job = desk.replan({"draft": draft})["job"]
    assert len(desk._drawing_of_job) == JOBS_KNOWN
    done[1] = network  # long given up: nobody knows what it planned
    assert "open it and plan" in str(desk.compare({"names": ["a", "b"]}))
    done[job] = network  # no page was open to ask for it
    assert desk.load({"name": "a"})["spurs"] == [[[1.0, 2.0], [3.0, 4.0]]]
    again = Desk(ground, state=state)
    assert again.load({"name": "a"})["spurs"] is None  # lines are not kept, numbers are
    rows = {row[0]: row[1:] for row in again.compare({"names": ["a", "b"]})["rows"]}
    assert rows["Planned: Winched"] == ["12 of 14"] * 2  # the same drawing under two names
    place = draft["trails"][0]["line"][0]
    noted = draft | {"notes": [{"id": "N1", "at": place, "text": "x"}]}
    again.save({"draft": noted, "name": "b", "based_on": 1})
    rows = {row[0]: row[1:] for row in again.compare({"names": ["a", "b"]})["rows"]}
    assert rows["Planned: Winched"] == ["12 of 14"] * 2  # a plan hangs on no note
    changed = noted | {"positions": [{"id": "P1", "at": place, "state": "forbidden"}]}
    again.save({"draft": changed, "name": "b", "based_on": 2})
    rows = {row[0]: row[1:] for row in again.compare({"names": ["a", "b"]})["rows"]}
    assert rows["Planned: Winched"] == ["12 of 14", "not planned as it is"]
    # the crew's files are planned too, and their numbers are as good
    monkeypatch.setattr(Replans, "write", lambda crew, *given: 77)
    assert again.outputs({"name": "b"})["job"] == 77
    done[77] = network
    rows = {row[0]: row[1:] for row in again.compare({"names": ["a", "b"]})["rows"]}
    assert rows["Planned: Winched"] == ["12 of 14", "12 of 14"]


def test_the_note_is_said_with_each_step(replans: Replans) -> None:
    job = Job(1, note="Changed: trees.csv.", step="routing")
    replans._jobs[1] = job
    assert replans.state(1, 0)["step"] == "Changed: trees.csv. routing"


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


def stopped(pid: int) -> bool:
    """Tell whether a process is stopped, from the system's own table."""
    text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8")
    return text.rpartition(")")[2].split()[0] == "T"


def running(pid: int) -> bool:
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8")
    except OSError:
        return False
    return text.rpartition(")")[2].split()[0] != "Z"


def until(true: Callable[[], bool], longest_s: float = 10.0) -> None:
    begun = time.monotonic()
    while not true():
        assert time.monotonic() - begun < longest_s
        time.sleep(0.01)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc what a process does")
def test_planning_rests_while_somebody_draws_and_goes_on_by_itself(
    spared: Replans, folder: Path
) -> None:
    spared.rest()  # nothing is there to rest
    spared.warm()
    spared.rest()  # nothing is planned
    assert not spared._waking
    job = spared.start(value(folder))
    spared._spares.append(spared._started())
    crew, spare = spared._crews()
    spared.rest()
    until(lambda: stopped(crew.process.pid))
    begun = time.monotonic()
    while time.monotonic() - begun < 2 * REST_S:  # verdict after verdict
        spared.rest()
        assert stopped(crew.process.pid) and not stopped(spare.process.pid)
        time.sleep(0.02)
    until(lambda: not stopped(crew.process.pid))
    assert not spared._waking and not crew.resting
    spared.rest()
    assert spared.state(job, 0)["step"].startswith(RESTS)
    with spared._lock:  # whoever holds it: a verdict does not wait
        begun = time.monotonic()
        spared.rest()
        assert time.monotonic() - begun < 0.1
    until(lambda: stopped(crew.process.pid))
    spared.stop(job)  # one that rests can be ended
    assert crew.process.wait(5.0) is not None and crew not in spared._crews()
    # a drawing that no pipe holds: whoever gets it has to read it
    notes = [{"id": f"N{n}", "at": [0, 0], "text": "x" * 500} for n in range(1000)]
    spared.start({**value(folder), "notes": notes})
    spared.rest()
    until(lambda: stopped(spare.process.pid))
    spared.close()
    assert spare.process.wait(5.0) is not None


def begun_by(pid: int) -> list[int]:
    """Give the processes of its group that one has started and that have not ended."""
    out = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            text = place.read_text(encoding="utf-8")
            state, parent, group = text.rpartition(")")[2].split()[:3]
            if int(parent) == pid and int(group) == os.getpgid(pid) and state != "Z":
                out.append(int(place.parent.name))
    return out


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc what a process does")
def test_none_gets_ready_while_somebody_draws_if_one_stands_ready(spared: Replans) -> None:
    spared.warm()
    (crew,) = spared._crews()
    spared.rest()  # none stands ready: an edit would wait for this one
    assert not crew.resting

    def drawn_while(true: Callable[[], bool], longest_s: float = LONGEST_S) -> None:
        begun = time.monotonic()
        while true() and time.monotonic() - begun < longest_s:
            spared.rest()
            time.sleep(0.02)

    drawn_while(lambda: not crew.ready)
    assert crew.ready
    drawn_while(lambda: True, 2 * REST_S)
    assert not spared._spares and not stopped(crew.process.pid)
    until(lambda: len(spared._spares) == 1)
    (spare,) = spared._spares
    spared.rest()
    until(lambda: stopped(spare.process.pid))
    drawn_while(lambda: True, 2 * REST_S)
    assert stopped(spare.process.pid) and not stopped(crew.process.pid)
    until(lambda: not stopped(spare.process.pid))
    until(lambda: spare.ready, LONGEST_S)


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc what a process does")
def test_a_solver_rests_and_ends_with_its_planner(either: Replans, folder: Path) -> None:
    job = either.start(value(folder))
    crew = either._crew
    assert crew is not None
    until(lambda: crew.ready and (crew.copy is not None or not crew.forks), LONGEST_S)
    until(lambda: bool(begun_by(hand(crew))), LONGEST_S)
    either.rest()
    until(lambda: stopped(hand(crew)))
    assert stopped(crew.process.pid) is not crew.forks
    solvers = begun_by(hand(crew))
    assert solvers and all(stopped(pid) for pid in solvers)
    either.stop(job)
    until(lambda: not any(map(running, solvers)))


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="stops a process")
def test_a_long_drawing_is_sent_without_keeping_anybody_waiting(
    either: Replans, folder: Path
) -> None:
    either.warm()
    (crew,) = either._crews()
    os.kill(crew.process.pid, signal.SIGSTOP)  # reads nothing: a pipe holds 64 kB of what is sent
    notes = [{"id": f"N{n}", "at": [0, 0], "text": "x" * 500} for n in range(1000)]
    jobs: list[int] = []
    long = {**value(folder), "notes": notes}
    threading.Thread(target=lambda: jobs.append(either.start(long)), daemon=True).start()
    try:
        until(lambda: bool(jobs), 5.0)
        assert either.state(jobs[0], 0)["state"] == "waiting"
        either.rest()
        assert crew.resting  # the lock is free, or it would not have been told to
    finally:
        os.kill(crew.process.pid, signal.SIGCONT)
    until(lambda: either.state(jobs[0], 0)["state"] != "waiting", 60.0)
    either.stop(jobs[0])


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc what a process does")
def test_who_draws_on_and_on_does_not_hold_the_planning_back_for_good(
    either: Replans, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rooms, "MOST_REST_S", 0.4)
    monkeypatch.setattr(rooms, "WORK_S", 0.3)
    either.start(value(folder))
    (crew, *_) = either._crews()
    until(lambda: crew.copy is not None or not crew.forks, LONGEST_S)
    seen, begun = [], time.monotonic()
    while time.monotonic() - begun < 1.6:
        either.rest()
        time.sleep(0.02)
        seen.append(stopped(hand(crew)))
    assert 0.2 < seen.count(False) / len(seen) < 0.8
    crew.job = Job(9, state="running", written=["under way"])  # files are not held back at all
    until(lambda: not stopped(hand(crew)))
    either.rest()
    assert not crew.resting


def test_a_verdict_lets_planning_rest(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rested: list[int] = []
    monkeypatch.setattr(Replans, "rest", lambda crew: rested.append(1))
    desk = Desk(ground_read(read_area(folder)))
    desk.judge({"draft": value(folder)})
    assert rested == [1]
    desk.area({})
    assert rested == [1]


@pytest.mark.slow
def test_spares_are_started_once_there_is_something_to_look_at(
    spared: Replans, folder: Path
) -> None:
    draft = value(folder)
    spared.warm()
    assert not spared._spares
    jobs = [spared.start(draft)]
    begun = time.monotonic()
    while not spared.state(jobs[-1], 0)["version"]:
        assert not spared._spares  # the one that plans has the machine to itself
        assert time.monotonic() - begun < LONGEST_S
        time.sleep(0.01)
    assert len(spared._spares) == 1  # two at once would both be late
    until(lambda: len(spared._spares) == SPARES, LONGEST_S)
    ready = list(spared._spares)
    jobs.append(spared.start(draft))
    assert spared._crew is ready[0] and spared._spares == ready[1:]
    jobs.append(spared.start(draft))
    assert spared._crew is ready[1]
    assert len(spared._spares) == 1  # the last one is not left without another behind it
    until_done(spared, jobs[-1])
    until(lambda: len(spared._spares) == SPARES, LONGEST_S)
    assert {spared.state(job, 0)["state"] for job in jobs[:-1]} == {"replaced"}
    assert [crew.process.poll() is not None for crew in ready] == [True, False]


def planning(replans: Replans) -> Crew:
    """Wait until a copy plans; give its process."""
    crew = replans._crew
    assert crew is not None
    until(lambda: crew.copy is not None, LONGEST_S)
    return crew


@pytest.mark.skipif(not FORKS, reason="no process can be copied here")
def test_a_newer_drawing_ends_the_copy_and_keeps_the_process(
    replans: Replans, folder: Path
) -> None:
    draft = value(folder)
    first = replans.start(draft)
    crew = planning(replans)
    copies = [hand(crew)]
    replans.rest()
    until(lambda: stopped(copies[0]))
    second = replans.start(draft)  # one that rests is ended too, and what reads goes on
    assert planning(replans) is crew and not replans._spares
    copies.append(hand(crew))
    assert replans.state(first, 0)["state"] == "replaced"
    until(lambda: not running(copies[0]))
    replans.stop(second)
    until(lambda: not running(copies[1]))
    replans.rest()
    assert not crew.resting and running(crew.process.pid)
    third = replans.start(draft)
    planning(replans)
    os.kill(hand(crew), signal.SIGKILL)  # as a system does that is short of memory
    until(lambda: replans.state(third, 0)["state"] == "failed")
    assert replans.state(third, 0)["error"] == LOST
    last = replans.start(draft)
    planning(replans)
    copies.append(hand(crew))
    replans.rest()
    replans.close()
    until(lambda: not any(map(running, [*copies, crew.process.pid])))
    assert replans.state(last, 0)["state"] != "done"


@pytest.mark.skipif(not FORKS, reason="no process can be copied here")
def test_what_is_told_of_a_drawing_given_up_is_not_taken_for_the_next(
    replans: Replans, folder: Path
) -> None:
    job = replans.start(value(folder))
    crew = planning(replans)
    replans._heard_of(crew, job - 1, "network", {"final": True})
    replans._heard_of(crew, 0, "ready", None)
    assert replans.planned(job) is None
    replans._heard_of(crew, job, "network", {"final": True})
    assert replans.planned(job) == {"final": True}


MAP = """
import json, sys, time
from layout.drawing import replans
replans.FORKS = sys.argv[1] == "copies"
made = replans.Replans(sys.argv[2])
made.warm()
crew = made._crew
while sys.argv[3] == "ready" and not crew.ready:
    time.sleep(0.01)
made.start(json.loads(sys.argv[4]))
while sys.argv[3] == "ready" and crew.forks and crew.copy is None:
    time.sleep(0.01)
made.rest()
print(crew.process.pid, crew.copy or crew.process.pid, flush=True)
while True:
    made.rest()
    time.sleep(0.05)
"""


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc what a process does")
@pytest.mark.parametrize("when", ["begun", "ready"])
@pytest.mark.parametrize("way", ["spares", *(["copies"] if FORKS else [])])
def test_what_rests_ends_where_the_map_is_killed(folder: Path, way: str, when: str) -> None:
    """One that is stopped hears nothing of its pipe: another has to wake it."""
    words = [sys.executable, "-c", MAP, way, str(folder), when, json.dumps(value(folder))]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        pids = [int(word) for word in run.stdout.readline().split()]
        until(lambda: stopped(pids[1]))
        run.kill()
    try:
        # one that is woken in the midst of its work ends when it has something to say
        until(lambda: not any(map(stopped, filter(running, pids))))
        until(lambda: not any(map(running, pids)), LONGEST_S)
    finally:
        for pid in filter(running, pids):
            os.kill(pid, signal.SIGKILL)


def test_no_two_maps_name_their_jobs_alike(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page that slept through a restart asks for its job by a number nobody else has."""
    jobs = set()
    monkeypatch.setattr(Replans, "_started", lambda _: Crew(process=None))  # type: ignore[arg-type]
    for _ in range(2):
        made = Replans(folder)
        made.start(value(folder))
        jobs |= set(made._jobs)
    assert len(jobs) == 2
    assert all(0 < job < 2**53 for job in jobs)  # a browser counts no further in whole numbers


@pytest.mark.skipif(not FORKS, reason="no process can be copied here")
def test_copies_end_where_the_map_has_ended(replans: Replans, folder: Path) -> None:
    replans.start(value(folder))
    crew = planning(replans)
    copy = hand(crew)
    assert crew.process.stdin is not None
    crew.process.stdin.close()  # as where the map was killed
    until(lambda: not running(copy))
    assert crew.process.wait(10.0) == 0


@pytest.mark.parametrize("when", ["at a task", "when it is ready"])
@pytest.mark.parametrize("forks", [False, *([True] if FORKS else [])])
def test_a_process_nobody_listens_to_ends_without_a_word(
    folder: Path, when: str, forks: bool
) -> None:
    code = "from layout.drawing.replan_child import main; main()"
    with subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as run:  # fmt: skip
        assert run.stdin is not None
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdin.write(pickle.dumps({"named": str(folder), "forks": forks}))
        run.stdin.flush()
        if when == "at a task":
            assert pickle.load(run.stdout) == (0, "ready", None)
        run.stdout.close()
        task = {"job": 1, "draft": value(folder), "units": None, "out": None}
        with suppress(BrokenPipeError):
            run.stdin.write(pickle.dumps(task))
            run.stdin.flush()
        assert run.wait(60) == 1
        assert run.stderr.read() == b""
