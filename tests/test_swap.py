"""A folder is replaced whole or not at all, whatever happens in between."""

import errno
import json
import os
import socket
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from layout.errors import LayoutError, OutputError
from layout.outputs import swap
from layout.outputs.processes import is_running

ROOT = Path(__file__).parents[1]


def fill(folder: Path, text: str, files: tuple[str, ...] = ("map.png",)) -> None:
    """Write what a plan's folder holds: some files, and the mark last."""
    for name in files:
        (folder / name).write_text(text, encoding="utf-8")
    said = {"format": 1, "made_by": "skidway", "files": ["plan.json", *files]}
    (folder / "plan.json").write_text(json.dumps(said), encoding="utf-8")


def made(folder: Path, text: str) -> Path:
    """Make a finished folder by hand."""
    folder.mkdir()
    fill(folder, text)
    return folder


def write(folder: Path, text: str) -> None:
    with swap.replaced(folder) as new:
        fill(new, text)


def half_written(folder: Path, fault: BaseException | None) -> None:
    """Stop before the folder is whole."""
    with swap.replaced(folder) as new:
        (new / "map.png").write_text("half", encoding="utf-8")
        if fault is not None:
            raise fault


def text_of(folder: Path) -> str:
    return (folder / "map.png").read_text(encoding="utf-8")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def a_dead_process() -> int:
    ended = subprocess.Popen([sys.executable, "-c", "pass"])
    ended.wait()
    return ended.pid


def test_first_second_and_third_time(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, "one")
    assert names(tmp_path) == {"out"}
    write(out, "two")
    assert (text_of(out), text_of(tmp_path / "out.previous")) == ("two", "one")
    write(out, "three")
    assert (text_of(out), text_of(tmp_path / "out.previous")) == ("three", "two")
    assert names(tmp_path) == {"out", "out.previous"}


def test_while_it_is_written_the_old_one_stands_and_the_lock_says_who(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, "one")
    with swap.replaced(out) as new:
        assert new == tmp_path / f"out.new-{os.getpid()}"
        assert text_of(out) == "one"
        lock = (tmp_path / "out.lock").read_text(encoding="utf-8").split()
        assert lock == [str(os.getpid()), socket.gethostname()]
        fill(new, "two")
    assert names(tmp_path) == {"out", "out.previous"}


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write(tmp_path / "out", "one")
    assert names(tmp_path) == {"out"}


def test_a_link_to_a_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    write(tmp_path / "disk" / "out", "one")
    link = tmp_path / "out"
    link.symlink_to(tmp_path / "disk" / "out")
    write(link, "two")
    assert link.is_symlink() and text_of(link) == "two"


@pytest.mark.parametrize("fault", [KeyError("no such tree"), KeyboardInterrupt(), SystemExit(3)])
def test_a_failure_leaves_everything_as_it_was(tmp_path: Path, fault: BaseException) -> None:
    out = tmp_path / "out"
    write(out, "one")
    with pytest.raises(type(fault)):
        half_written(out, fault)
    assert names(tmp_path) == {"out"} and text_of(out) == "one"


def test_a_folder_that_was_not_finished_is_not_swapped_in(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"plan\.json is missing.*nothing was replaced"):
        half_written(tmp_path / "out", None)
    assert names(tmp_path) == set()


@pytest.mark.parametrize(
    "content",
    [
        {"area.toml": "format = 1"},
        {"plan.json": "not json"},
        {"plan.json": "[1, 2]"},
        {"plan.json": '{"format": 1, "made_by": "somebody else"}'},
        {"plan.json/inside.txt": "a folder of that name"},
    ],
)
def test_a_folder_that_is_not_ours_is_refused_not_moved(
    tmp_path: Path, content: dict[str, str]
) -> None:
    out = tmp_path / "out"
    for name, text in content.items():
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        (out / name).write_text(text, encoding="utf-8")
    with pytest.raises(OutputError, match=r"out holds files that are not a plan of ours.*--out"):
        write(out, "one")
    assert names(tmp_path) == {"out"}
    for name, text in content.items():
        assert (out / name).read_text(encoding="utf-8") == text


def test_a_file_of_that_name_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="is a file, not a folder"):
        write(tmp_path / "out", "one")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_a_missing_parent_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="nowhere does not exist; make it"):
        write(tmp_path / "nowhere" / "out", "one")


def test_what_the_user_put_in_the_folder_is_never_thrown_away(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, "one")
    (out / "my notes.txt").write_text("wet corner", encoding="utf-8")
    write(out, "two")
    write(out, "three")
    write(out, "four")
    kept = tmp_path / "out.kept-1"
    assert (kept / "my notes.txt").read_text(encoding="utf-8") == "wet corner"
    assert text_of(kept) == "one"
    (out / "more.txt").write_text("dry corner", encoding="utf-8")
    for text in ("five", "six", "seven"):
        write(out, text)
    assert (tmp_path / "out.kept-2" / "more.txt").is_file()
    assert names(tmp_path) == {"out", "out.previous", "out.kept-1", "out.kept-2"}


def test_a_previous_folder_of_the_users_own_is_kept(tmp_path: Path) -> None:
    write(tmp_path / "out", "one")
    (tmp_path / "out.previous").mkdir()
    (tmp_path / "out.previous" / "thesis.txt").write_text("ten years", encoding="utf-8")
    write(tmp_path / "out", "two")
    assert (tmp_path / "out.kept-1" / "thesis.txt").is_file()
    assert text_of(tmp_path / "out.previous") == "one"


# Locks


def test_a_running_process_holds_the_folder(tmp_path: Path) -> None:
    lock = tmp_path / "out.lock"
    lock.write_text(f"{os.getppid()}\n{socket.gethostname()}\n", encoding="utf-8")
    with pytest.raises(OutputError, match=rf"process {os.getppid()} on .*wait.*delete .*out\.lock"):
        write(tmp_path / "out", "one")
    assert names(tmp_path) == {"out.lock"}


def test_a_second_writer_in_this_process_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    with swap.replaced(out) as new:
        with pytest.raises(OutputError, match=f"process {os.getpid()} "):
            write(out, "second")
        fill(new, "first")
    assert text_of(out) == "first" and names(tmp_path) == {"out"}


@pytest.mark.parametrize("pid", [a_dead_process, os.getpid], ids=["dead", "our number, used again"])
def test_the_lock_of_a_dead_process_is_stale(tmp_path: Path, pid: Callable[[], int]) -> None:
    lock = tmp_path / "out.lock"
    lock.write_text(f"{pid()}\n{socket.gethostname()}\n", encoding="utf-8")
    write(tmp_path / "out", "one")
    assert names(tmp_path) == {"out"}


def test_a_lock_of_another_machine_is_never_taken_for_stale(tmp_path: Path) -> None:
    lock = tmp_path / "out.lock"
    lock.write_text(f"{a_dead_process()}\nsome-other-machine\n", encoding="utf-8")
    with pytest.raises(OutputError, match="on some-other-machine"):
        write(tmp_path / "out", "one")


def test_a_blank_lock_is_believed_only_while_it_is_new(tmp_path: Path) -> None:
    lock = tmp_path / "out.lock"
    lock.touch()
    with pytest.raises(OutputError, match="does not say which"):
        write(tmp_path / "out", "one")
    long_ago = time.time() - 3600
    os.utime(lock, (long_ago, long_ago))
    write(tmp_path / "out", "one")
    assert names(tmp_path) == {"out"}


def test_a_process_of_another_user_counts_as_running() -> None:
    assert is_running(1)
    assert is_running(os.getpid())
    assert not is_running(a_dead_process())


# Half-done swaps, as a kill leaves them


def test_killed_between_the_renames_it_is_finished(tmp_path: Path) -> None:
    made(tmp_path / "out.previous", "one")
    made(tmp_path / "out.new-77", "two")
    assert "finished" in swap.repair(tmp_path / "out")
    assert (text_of(tmp_path / "out"), text_of(tmp_path / "out.previous")) == ("two", "one")
    assert names(tmp_path) == {"out", "out.previous"}


def test_a_new_folder_that_is_not_whole_is_undone(tmp_path: Path) -> None:
    made(tmp_path / "out.previous", "one")
    (tmp_path / "out.new-77").mkdir()
    (tmp_path / "out.new-77" / "plan.json").write_text('{"format": 1, "made', encoding="utf-8")
    assert "undid" in swap.repair(tmp_path / "out")
    assert text_of(tmp_path / "out") == "one" and names(tmp_path) == {"out"}


def test_killed_while_writing_the_half_folder_goes(tmp_path: Path) -> None:
    made(tmp_path / "out", "one")
    (tmp_path / "out.new-77").mkdir()
    (tmp_path / "out.new-77" / "map.png").write_text("ha", encoding="utf-8")
    assert "threw away out.new-77" in swap.repair(tmp_path / "out")
    assert text_of(tmp_path / "out") == "one" and names(tmp_path) == {"out"}


def test_killed_while_the_outdated_one_was_set_aside(tmp_path: Path) -> None:
    made(tmp_path / "out", "two")
    made(tmp_path / "out.older-77", "one")
    made(tmp_path / "out.new-77", "three")
    swap.repair(tmp_path / "out")
    assert (text_of(tmp_path / "out"), text_of(tmp_path / "out.previous")) == ("two", "one")
    assert names(tmp_path) == {"out", "out.previous"}


def test_killed_before_the_outdated_one_was_deleted(tmp_path: Path) -> None:
    made(tmp_path / "out", "three")
    made(tmp_path / "out.previous", "two")
    made(tmp_path / "out.older-77", "one")
    swap.repair(tmp_path / "out")
    assert names(tmp_path) == {"out", "out.previous"}
    assert text_of(tmp_path / "out") == "three"


def test_a_folder_the_user_deleted_is_not_brought_back(tmp_path: Path) -> None:
    made(tmp_path / "out.previous", "one")
    assert swap.repair(tmp_path / "out") == ""
    assert names(tmp_path) == {"out.previous"}


def test_like_named_things_are_not_leftovers(tmp_path: Path) -> None:
    made(tmp_path / "out.new-77-mine", "kept")
    made(tmp_path / "about.new-77", "kept")
    (tmp_path / "out.new-78").write_text("a file", encoding="utf-8")
    assert swap.repair(tmp_path / "out") == ""
    assert names(tmp_path) == {"out.new-77-mine", "about.new-77", "out.new-78"}


def test_the_next_run_repairs_before_it_writes(tmp_path: Path) -> None:
    made(tmp_path / "out.previous", "one")
    made(tmp_path / "out.new-77", "two")
    (tmp_path / "out.lock").write_text(
        f"{a_dead_process()}\n{socket.gethostname()}\n", encoding="utf-8"
    )
    write(tmp_path / "out", "three")
    assert (text_of(tmp_path / "out"), text_of(tmp_path / "out.previous")) == ("three", "two")
    assert names(tmp_path) == {"out", "out.previous"}


def test_ready_tells_before_a_long_run_and_leaves_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert swap.ready(out) == "" and names(tmp_path) == set()
    made(tmp_path / "out.previous", "one")
    made(tmp_path / "out.new-77", "two")
    assert "finished" in swap.ready(out)
    assert text_of(out) == "two" and names(tmp_path) == {"out", "out.previous"}
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "area.toml").touch()
    with pytest.raises(OutputError, match="not a plan of ours"):
        swap.ready(tmp_path / "mine")
    with pytest.raises(OutputError, match="does not exist; make it"):
        swap.ready(tmp_path / "nowhere" / "out")
    (tmp_path / "out.lock").write_text(f"1\n{socket.gethostname()}\n", encoding="utf-8")
    with pytest.raises(OutputError, match="another run is writing"):
        swap.ready(out)


# What the system refuses


def refusing(monkeypatch: pytest.MonkeyPatch, when: int, fault: OSError) -> None:
    """Let the n-th rename fail."""
    real, count = os.rename, 0

    def rename(a: Path, b: Path) -> None:
        nonlocal count
        count += 1
        if count == when:
            raise fault
        real(a, b)

    monkeypatch.setattr(os, "rename", rename)


@pytest.mark.parametrize("when", [1, 2, 3])
def test_a_refused_rename_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, when: int
) -> None:
    out = tmp_path / "out"
    write(out, "one")
    write(out, "two")
    refusing(monkeypatch, when, PermissionError(errno.EACCES, "Permission denied", str(out)))
    with pytest.raises(OutputError, match=r"cannot write .*out.*nothing was replaced"):
        write(out, "three")
    monkeypatch.undo()
    assert (text_of(out), text_of(tmp_path / "out.previous")) == ("two", "one")
    assert names(tmp_path) == {"out", "out.previous"}


def test_a_file_held_open_by_another_program_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Where open files are locked, a folder holding one cannot be renamed, and
    # opening the file again is refused too.
    out = tmp_path / "out"
    write(out, "one")
    refusing(monkeypatch, 1, PermissionError(errno.EACCES, "Permission denied", str(out)))
    real = Path.open

    def locked(self: Path, mode: str = "r", **more: object) -> object:
        if self == out / "map.png" and "+" in mode:
            raise PermissionError(errno.EACCES, "Permission denied", str(self))
        return real(self, mode, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", locked)
    with pytest.raises(OutputError, match=r"map\.png is held open by another program; close it"):
        write(out, "two")
    monkeypatch.undo()
    assert text_of(out) == "one" and names(tmp_path) == {"out"}


def test_a_full_disk_is_said_in_words(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write(out, "one")
    with pytest.raises(OutputError, match=r"plan\.gpkg: the disk .* full.*nothing was replaced"):
        half_written(out, OSError(errno.ENOSPC, "No space left on device", "plan.gpkg"))
    assert text_of(out) == "one" and names(tmp_path) == {"out"}


def test_our_error_is_both_ours_and_the_systems() -> None:
    assert issubclass(OutputError, LayoutError) and issubclass(OutputError, OSError)
    assert str(OutputError("plan.gpkg is held open")) == "plan.gpkg is held open"


def child(body: str, *args: object) -> subprocess.CompletedProcess[str]:
    """Run a piece of code that writes a folder, as a process of its own."""
    code = "import json, os, signal, sys\nfrom pathlib import Path\n"
    code += "from layout.outputs import swap\nfrom layout.errors import OutputError\n"
    return subprocess.run(
        [sys.executable, "-c", code + textwrap.dedent(body), *map(str, args)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )


@pytest.mark.slow
def test_a_folder_one_may_not_write_in(tmp_path: Path) -> None:
    area = tmp_path / "area"
    area.mkdir()
    made(area / "out", "one")
    area.chmod(0o555)
    tmp_path.chmod(0o755)
    for parent in tmp_path.parents:  # the other user must get this far
        if parent.stat().st_uid == os.getuid() and parent.name.startswith(("pytest", "popen")):
            parent.chmod(0o755)
    ran = child(
        """
        if os.getuid() == 0:  # nothing is read-only to root
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
        try:
            with swap.replaced(Path(sys.argv[1])):
                print("entered")
        except OutputError as fault:
            print(fault)
        """,
        area / "out",
    )
    area.chmod(0o755)
    assert "you may not write there; choose a folder of your own with --out" in ran.stdout, ran
    assert names(area) == {"out"} and text_of(area / "out") == "one"


KILL = """
    out, when = Path(sys.argv[1]), sys.argv[2]
    def die(*_):
        os.kill(os.getpid(), signal.SIGKILL)
    if when.startswith("rename"):
        real, count = os.rename, 0
        def rename(a, b):
            global count
            count += 1
            if count == int(when[-1]):
                die()
            real(a, b)
        os.rename = rename
    if when == "deleting":
        swap._discard = die
    with swap.replaced(out) as new:
        (new / "map.png").write_text("new", encoding="utf-8")
        if when == "writing":
            die()
        said = {"made_by": "skidway", "files": ["map.png"]}
        (new / "plan.json").write_text(json.dumps(said), encoding="utf-8")
    """


@pytest.mark.slow
@pytest.mark.parametrize(
    ("when", "then"),
    [
        # Killed there, the folder next holds this, and the one before it that.
        ("writing", ("second", "first")),
        ("rename1", ("second", "first")),
        ("rename2", ("second", "first")),
        ("rename3", ("new", "second")),
        ("deleting", ("new", "second")),
    ],
)
def test_killed_at_any_moment_a_whole_plan_is_left(
    tmp_path: Path, when: str, then: tuple[str, str]
) -> None:
    out = tmp_path / "out"
    write(out, "first")
    write(out, "second")
    ran = child(KILL, out, when)
    assert ran.returncode == -9, ran
    assert "out.lock" in names(tmp_path)
    swap.repair(out)
    assert (text_of(out), text_of(tmp_path / "out.previous")) == then
    write(out, "after")
    assert (text_of(out), text_of(tmp_path / "out.previous")) == ("after", then[0])
    assert names(tmp_path) == {"out", "out.previous"}
