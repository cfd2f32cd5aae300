"""Every file of a plan or none: on a disk that is really full, and killed in the middle of each.

The disk is a small one in memory, mounted where only the test sees it; where that is not
allowed, no file may grow past a bound instead.
"""

import os
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from layout.outputs import ready, swap

TESTS = Path(__file__).parent
pytestmark = pytest.mark.slow
ROOM = "12m"

HEAD = """
import os, shutil, signal, sys
from pathlib import Path
import made_work, plan_fixture
from layout.errors import OutputError
from layout.outputs import (
    Extras, crew, geojson, geopackage, gpx, kml, overview, plan_json, rasters, report, write_plan
)

# pictures are large and slow, and are written by one call each
overview.write = lambda plan, path: path.write_bytes(b"picture" * 999)
crew.bound = lambda plan: b"sheets" * 999
report.write = lambda plan, path: path.write_bytes(b"page" * 999)
folder, how = Path(sys.argv[1]), sys.argv[2]
out = folder / "out"
plan = made_work.worked(plan_fixture.plan())
EXTRAS = Extras(by_day=True, geojson=True, rasters=True)


def all_of(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}
"""
FULL = """
write_plan(plan, out, EXTRAS)
before = all_of(out)
if how.startswith("disk"):
    free_b = int(how.split()[1])
    with open(folder / "filler", "wb", buffering=0) as file:
        os.posix_fallocate(file.fileno(), 0, shutil.disk_usage(folder).free - free_b)
else:
    import resource
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(how.split()[1]),) * 2)
told = ""
try:
    write_plan(plan, out, EXTRAS)
except OutputError as fault:
    told = str(fault)
assert told.startswith("cannot write") and "nothing was replaced" in told, told
assert "full" in told and len(told.splitlines()) == 1, told
assert all_of(out) == before
assert {path.name for path in folder.iterdir()} <= {"out", "filler"}
if how.startswith("disk"):
    (folder / "filler").unlink()
    write_plan(plan, out, EXTRAS)
    assert set(all_of(out)) == set(before)
print("held:", told)
"""
KILLED = """
room = {"gpkg": geopackage, "gpx": gpx, "kml": kml, "geojson": geojson, "json": plan_json,
        "rasters": rasters}[how]
write_plan(plan, out, EXTRAS)
print("first", flush=True)
real = room.write


def half(*args, **more):
    real(*args, **more)
    path = next(arg for arg in args if isinstance(arg, Path))
    path = path / "reach.tif" if path.is_dir() else path
    os.truncate(path, path.stat().st_size // 2)
    os.kill(os.getpid(), signal.SIGKILL)


room.write = half
write_plan(plan, out, EXTRAS)
"""


def child(code: str, *words: str, before: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*before, sys.executable, "-c", HEAD + code, *words],
        capture_output=True, text=True, check=False, timeout=300,
        env={**os.environ, "PYTHONPATH": f"{TESTS}{os.pathsep}{TESTS.parent}"},
    )  # fmt: skip


def on_a_disk_of_its_own(folder: Path) -> tuple[str, ...]:
    """Give what runs a command with a small disk mounted at a folder, for itself alone."""
    mount = f"mount -t tmpfs -o size={ROOM} tmpfs '{folder}' && exec \"$@\""
    return ("unshare", "-rm", "sh", "-c", mount, "sh")


@cache
def may_mount() -> bool:
    try:
        ran = subprocess.run(
            [*on_a_disk_of_its_own(Path("/mnt")), "true"], capture_output=True, check=False
        )
    except FileNotFoundError:
        return False
    return ran.returncode == 0


# less or more of what the files need; they take well over the most of these
@pytest.mark.parametrize("free_b", [8_192, 150_000, 420_000, 600_000])
def test_a_full_disk_leaves_the_earlier_plan(tmp_path: Path, free_b: int) -> None:
    folder = tmp_path / "disk"
    folder.mkdir()
    if may_mount():
        ran = child(FULL, str(folder), f"disk {free_b}", before=on_a_disk_of_its_own(folder))
    else:
        ran = child(FULL, str(folder), f"file {min(free_b, 200_000)}")
    assert ran.returncode == 0 and ran.stdout.startswith("held: cannot write"), ran


@pytest.mark.parametrize("file", ["gpkg", "gpx", "kml", "geojson", "rasters", "json"])
def test_killed_with_a_file_half_written_the_earlier_plan_stands(tmp_path: Path, file: str) -> None:
    ran = child(KILLED, str(tmp_path), file)
    assert (ran.returncode, ran.stdout) == (-9, "first\n"), ran
    out = tmp_path / "out"
    assert swap.is_ours(out)
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    assert len([path for path in tmp_path.iterdir() if path.name.startswith("out.new-")]) == 1
    assert "left by a run that was cut short" in ready(out)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert {path.name for path in tmp_path.iterdir()} == {"out"}
