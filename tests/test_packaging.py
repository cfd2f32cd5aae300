"""What is shipped, how quickly the command answers, and what the README promises."""

import os
import subprocess
import sys
import tarfile
import time
import tomllib
import zipfile
from itertools import chain
from pathlib import Path

import pytest

import layout
from layout.commands.sample import copy

ROOT = Path(__file__).parents[1]
SLOW_TO_LOAD = {"numba", "matplotlib", "highspy", "geopandas", "rasterio", "scipy", "pandas"}
README_LINES = [
    "python3 -m venv .venv && .venv/bin/python -m pip install . "
    "&& .venv/bin/skidway plan sample_area",
    "py -m venv .venv && .venv\\Scripts\\python -m pip install . "
    "&& .venv\\Scripts\\skidway plan sample_area",
    "python3 -m pip install --target .deps . "
    "&& PYTHONPATH=.deps python3 -m layout plan sample_area",
    "python3 -m venv .venv && .venv/bin/python -m pip install '.[test]' "
    "&& .venv/bin/python -m pytest -n auto",
]


def run(*words: str, path: Path = ROOT, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join([str(path), str(path / "layout/start")]),
            **more,
        },
        capture_output=True,
        text=True,
        encoding="utf-8",
    )


def shipped_of(package: Path) -> set[str]:
    return {
        path.relative_to(ROOT).as_posix()
        for path in package.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def files_of(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    done = run("-m", "hatchling", "build", "-d", str(folder))
    assert done.returncode == 0, done.stderr
    return folder


def test_the_wheel_holds_the_package_whole_and_nothing_else(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    assert wheel.name == f"skidway-{layout.__version__}-py3-none-any.whl"
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        about = f"skidway-{layout.__version__}.dist-info"
        points = archive.read(f"{about}/entry_points.txt").decode("utf-8")
    code = {name for name in names if not name.startswith(about)}
    first_step = "layout/start/skidway.py"  # goes beside the package, where it can look at it
    sample = {name for name in code if name.startswith("layout/sample_area/")}
    assert code - sample == shipped_of(ROOT / "layout") - {first_step} | {"skidway.py"}
    assert "skidway = skidway:console" in points
    assert f"{about}/licenses/LICENSE" in names
    assert "layout/py.typed" in code
    assert any(name.startswith("layout/rules/") for name in code)
    assert any(name.startswith("layout/tables/") for name in code)


def test_an_installed_wheel_copies_the_same_sample_as_the_source(
    built: Path, tmp_path: Path
) -> None:
    (wheel,) = built.glob("*.whl")
    site, source, copied = tmp_path / "site", tmp_path / "source", tmp_path / "copied"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    done = run("-P", "-m", "layout", "sample", str(copied), path=site)
    assert done.returncode == 0, done.stderr
    source.mkdir()
    copy(ROOT / "sample_area", source)
    shipped = site / "layout" / "sample_area"
    assert files_of(copied) == files_of(source) == files_of(shipped)
    assert {"area.toml", "README.md", "dem.tif"} <= set(files_of(copied))
    (shipped / "area.toml").unlink()  # it was this one that was copied, not the source's
    done = run("-P", "-m", "layout", "sample", str(tmp_path / "again"), path=site)
    assert done.returncode == 2
    assert "the sample area is missing" in done.stderr


def test_the_source_archive_can_be_tested_and_run(built: Path) -> None:
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as content:
        names = {name.partition("/")[2] for name in content.getnames()}
    assert shipped_of(ROOT / "layout") <= names
    assert {"LICENSE", "README.md", "sample_area/area.toml"} <= names
    assert "tests/test_packaging.py" in names
    assert not [name for name in names if name.startswith(("sample_area/out", ".ci", ".git/"))]


def test_the_version_answers_at_once_and_loads_no_library() -> None:
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        done = run("-X", "importtime", "-m", "skidway", "--version")
        seconds.append(time.perf_counter() - start)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip().endswith(layout.__version__)
    loaded = {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert "layout" in loaded
    assert loaded & SLOW_TO_LOAD == set()
    assert min(seconds) < 0.5


def test_a_slip_in_the_settings_answers_without_the_big_libraries(tmp_path: Path) -> None:
    (tmp_path / "area.toml").write_text("format = 1\n[area\n", encoding="utf-8")
    done = run("-X", "importtime", "-m", "layout", "check", str(tmp_path))
    assert done.returncode == 2
    loaded = {
        line.rpartition("|")[2].strip().split(".")[0]
        for line in done.stderr.splitlines()
        if line.startswith("import time:")
    }
    assert loaded & {"numba", "matplotlib", "highspy"} == set()
    said = [line for line in done.stderr.splitlines() if not line.startswith("import time:")]
    assert any("area.toml" in line for line in said)


def test_public_names_resolve() -> None:
    for name in layout.__all__:
        assert getattr(layout, name) is not None
        assert name in dir(layout)
    with pytest.raises(AttributeError, match="no attribute 'read_aera'"):
        _ = layout.read_aera


def test_another_package_of_the_same_name_is_named(tmp_path: Path) -> None:
    foreign = tmp_path / "layout"
    foreign.mkdir()
    (foreign / "__init__.py").write_text("x = 1\n", encoding="utf-8")
    (tmp_path / "skidway.py").write_bytes((ROOT / "layout/start/skidway.py").read_bytes())
    start = f"import sys; sys.path[:0] = [{str(tmp_path)!r}]; import skidway; skidway.console()"
    done = run("-P", "-c", start, path=tmp_path)
    assert done.returncode == 2
    assert str(foreign) in done.stderr
    assert "another package named 'layout'" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("line", README_LINES)
def test_the_readme_holds_each_command_on_a_line_of_its_own(line: str) -> None:
    assert line in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()


def test_the_changes_name_this_version() -> None:
    assert f"## {layout.__version__}" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_no_upper_bound_keeps_a_newer_python_or_library_out() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11"
    wanted = [project["dependencies"], *project["optional-dependencies"].values()]
    lines = list(chain.from_iterable(wanted))
    assert [line for line in lines if "<" in line or ">=" not in line] == []
