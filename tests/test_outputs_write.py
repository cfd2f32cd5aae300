"""write_plan: every file, one folder, all or none."""

import errno
import io
import json
import os
import re
import resource
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import bench_outputs
import pikepdf
import plan_fixture
import pytest
from oracles import needs
from pyogrio.errors import DataSourceError

from layout.errors import OutputError
from layout.findings import Finding, ordered
from layout.option_records import LimitRow, OptionRow
from layout.outputs import crew, geopackage, overview, sheets_beside, write_plan
from layout.outputs.crew import book
from layout.plan import Plan

TESTS = Path(__file__).parent
FILES = {
    "plan.gpkg",
    "plan.json",
    "overview.png",
    "crew_map.pdf",
    "trees.csv",
    "turns.csv",
    "water_bars.csv",
    "plan.gpx",
    "plan.kml",
    "report.html",
}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the pictures out, where they are not what is tested."""
    monkeypatch.setattr(overview, "image", lambda plan, dpi: b"picture")
    monkeypatch.setattr(crew, "bound", lambda plan: b"sheets")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_all_files_and_nothing_else(plan: Plan, tmp_path: Path) -> None:
    folder = write_plan(plan, tmp_path / "out")
    assert folder == (tmp_path / "out").resolve()
    assert names(folder) == FILES
    assert names(tmp_path) == {"out"}
    assert all(p.stat().st_size > 1000 for p in folder.iterdir() if p.name != "turns.csv")
    said = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert set(said["files"]) == FILES


@pytest.mark.usefixtures("quick")
def test_a_second_plan_replaces_the_first_and_keeps_it(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "out")
    fewer = replace(plan, bars=plan.bars[:1])
    write_plan(fewer, tmp_path / "out")
    bars = [
        len(json.loads((tmp_path / name / "plan.json").read_text(encoding="utf-8"))["bars"])
        for name in ("out", "out.previous")
    ]
    assert bars == [1, 5]


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize(
    "fault",
    [
        sqlite3.OperationalError("database or disk is full"),
        DataSourceError("sqlite3_exec failed: disk I/O error"),
        OSError(errno.ENOSPC, "No space left on device"),
    ],
)
def test_the_file_that_failed_is_named_and_the_old_plan_stands(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    out = write_plan(plan, tmp_path / "out")
    before = (out / "plan.json").read_bytes()

    def fail(*_: object) -> None:
        raise fault

    monkeypatch.setattr(geopackage, "write", fail)
    with pytest.raises(OutputError, match=r"out.plan\.gpkg.*full.*nothing was replaced") as told:
        write_plan(plan, tmp_path / "out")
    assert len(str(told.value).splitlines()) == 1
    assert (out / "plan.json").read_bytes() == before
    assert names(tmp_path) == {"out"}


@pytest.mark.usefixtures("quick")
def test_a_fault_of_ours_is_not_dressed_up_as_a_full_disk(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise KeyError("no such column")

    monkeypatch.setattr(geopackage, "write", fail)
    with pytest.raises(KeyError, match="no such column"):
        write_plan(plan, tmp_path / "out")
    assert names(tmp_path) == set()


@pytest.mark.slow
def test_sheets_drawn_in_a_process_of_their_own_are_the_same(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layout.outputs.write.MANY_PULLS", 1)
    one = write_plan(plan, tmp_path / "out1")
    with sheets_beside(plan, workers=2) as sheets:
        two = write_plan(tried(plan), tmp_path / "out2", sheets=sheets)
    three = write_plan(tried(plan), tmp_path / "out3", workers=2)
    assert names(two) == FILES
    assert (one / "crew_map.pdf").read_bytes() == (two / "crew_map.pdf").read_bytes()
    # what is tried once the layout is final stands on no sheet
    assert (one / "crew_map.pdf").read_bytes() == (three / "crew_map.pdf").read_bytes()


@pytest.mark.slow
def test_a_book_drawn_in_two_parts_has_the_same_pages(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs("pdftotext", "pdftoppm")
    whole = crew.bound(plan)
    monkeypatch.setattr("layout.outputs.write.MANY_PULLS", 1)
    monkeypatch.setattr(book, "parts", lambda plan: 2)
    monkeypatch.setattr(crew, "parts", book.parts)
    here = crew.bound(plan)
    there = write_plan(plan, tmp_path / "out", workers=2) / "crew_map.pdf"
    assert there.read_bytes() == here  # however many processes draw them
    assert pages_of(here) == pages_of(whole)
    with pikepdf.open(io.BytesIO(here)) as file:
        assert str(file.docinfo["/Title"]) and str(file.Root.Lang) == "en"


def pages_of(pdf: bytes) -> list[tuple[str, int, bytes]]:
    """Give the words of each page, its viewports, and what it looks like."""
    with pikepdf.open(io.BytesIO(pdf)) as file:
        views = [len(page.obj.get("/VP", [])) for page in file.pages]
    out = []
    for number, count in enumerate(views, start=1):
        only = ["-f", str(number), "-l", str(number)]
        words = said_by(["pdftotext", "-layout", *only, "-", "-"], pdf)
        out.append((words.decode(), count, said_by(["pdftoppm", "-r", "50", *only, "-"], pdf)))
    return out


def said_by(command: list[str], given: bytes) -> bytes:
    """Give what a program prints that is handed some bytes."""
    return subprocess.run(command, input=given, capture_output=True, check=True).stdout


def tried(plan: Plan) -> Plan:
    """Give a plan with all that trying other tools adds to it."""
    option = OptionRow("snatch_block", "a snatch block", "reach", "a block", 60, 55, 3)
    limit = LimitRow("as_is", "as it is", 80.0, 55, 60)
    neck = Finding("neck", "caution", "A neck between two trails.", "trails", "S1", at=(1.0, 1.0))
    return replace(
        plan, options=(option,), limits=(limit,), findings=ordered((*plan.findings, neck))
    )


@pytest.mark.usefixtures("quick")
def test_sheets_that_are_drawn_already_are_not_drawn_again(plan: Plan, tmp_path: Path) -> None:
    folder = write_plan(plan, tmp_path / "out", sheets=lambda: b"drawn before")
    assert (folder / "crew_map.pdf").read_bytes() == b"drawn before"


@pytest.mark.usefixtures("quick")
def test_with_one_worker_the_sheets_are_drawn_when_they_are_asked_for(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Plan] = []
    monkeypatch.setattr(crew, "bound", lambda given: asked.append(given) or b"sheets")
    with sheets_beside(plan, workers=1) as sheets:
        assert not asked
        assert sheets() == b"sheets"
    assert asked == [plan]


@pytest.mark.usefixtures("quick")
def test_the_users_own_folder_is_refused(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "area.toml").write_text("format = 1", encoding="utf-8")
    with pytest.raises(OutputError, match="not a plan of ours"):
        write_plan(plan, tmp_path)
    assert names(tmp_path) == {"area.toml"}


@pytest.mark.slow
@pytest.mark.parametrize("most_bytes", [20_000, 120_000, 500_000])
def test_a_disk_that_fills_up_while_writing(plan: Plan, tmp_path: Path, most_bytes: int) -> None:
    out = write_plan(plan, tmp_path / "out")
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    code = (
        "import sys, plan_fixture\n"
        "from pathlib import Path\n"
        "from layout.errors import OutputError\n"
        "from layout.outputs import write_plan\n"
        "plan = plan_fixture.plan()\n"
        "import resource\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))\n"
        "try:\n    write_plan(plan, Path(sys.argv[1]))\n"
        "except OutputError as fault:\n    print('told:', fault)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "out"), str(most_bytes)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": f"{TESTS}{os.pathsep}{TESTS.parent}"},
    )
    assert ran.returncode == 0, ran
    assert ran.stdout.startswith("told: cannot write"), ran
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert names(tmp_path) == {"out"}
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY


@pytest.mark.slow
def test_the_files_of_a_large_plan_are_not_too_large(tmp_path: Path) -> None:
    """How long they take is for the bench: a busy machine says nothing of it."""
    plan = bench_outputs.large()
    assert int(plan.area.trees.marked.sum()) == 2000 and len(plan.trails) == 61
    rows = bench_outputs.measured(plan, tmp_path)
    assert {name for name, *_ in rows} >= FILES
    assert all(size_b < bench_outputs.MOST_B for _, _, size_b in rows)
    assert bench_outputs.opened_b(rows) < bench_outputs.MOST_B
    assert bench_outputs.record_b(rows) < bench_outputs.MOST_RECORD_B
    text = (tmp_path / "plan.gpx").read_text(encoding="utf-8")
    _area, *names = re.findall(r"<name>([^<]+)</name>", text)
    assert max(map(len, names)) == 8 and len(set(names)) == len(names)
