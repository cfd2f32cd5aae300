"""Compiled kernels are kept where they can be written, and never answer with old code."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import layout
from layout import kernels

ROOT = Path(__file__).parents[1]


@pytest.fixture
def no_folder_asked(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    return monkeypatch


def test_a_folder_the_user_names_is_used(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    assert kernels.cache_folder() == tmp_path


@pytest.mark.skipif(sys.platform == "win32", reason="XDG is for other platforms")
def test_else_the_users_cache_by_version_and_source(
    no_folder_asked: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    no_folder_asked.setenv("XDG_CACHE_HOME", str(tmp_path))
    folder = kernels.cache_folder()
    digest = kernels.source_hash(ROOT / "layout")
    assert folder == tmp_path / "skidway" / f"{layout.__version__}-{digest}"
    assert folder.is_dir()


def test_a_relative_cache_home_is_not_believed(
    no_folder_asked: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    no_folder_asked.setenv("XDG_CACHE_HOME", "cache")
    no_folder_asked.setenv("HOME", str(tmp_path))
    no_folder_asked.setattr(sys, "platform", "linux")
    assert kernels.user_cache() == tmp_path / ".cache"
    no_folder_asked.setattr(sys, "platform", "darwin")
    assert kernels.user_cache() == tmp_path / "Library" / "Caches"


def test_where_nothing_can_be_written_a_fresh_folder_serves(
    no_folder_asked: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    no_folder_asked.setenv("XDG_CACHE_HOME", str(blocked))
    folder = kernels.cache_folder()
    assert folder.is_dir()
    assert folder.name.startswith("skidway-kernels-")
    assert kernels.cache_folder() != folder


def test_the_hash_follows_kernels_and_nothing_else(tmp_path: Path) -> None:
    kernel, plain = tmp_path / "a.py", tmp_path / "b.py"
    kernel.write_text("@njit\ndef f(x):\n    return x\n", encoding="utf-8")
    plain.write_text("x = 1\n", encoding="utf-8")
    before = kernels.source_hash(tmp_path)
    plain.write_text("x = 2\n", encoding="utf-8")
    assert kernels.source_hash(tmp_path) == before
    kernel.write_text("@njit\ndef f(x):\n    return 2 * x\n", encoding="utf-8")
    assert kernels.source_hash(tmp_path) != before


def test_parallel_is_refused() -> None:
    with pytest.raises(ValueError, match="serial"):
        kernels.njit(parallel=True)


@kernels.njit
def add_up(values: np.ndarray) -> float:
    total = 0.0
    for value in values:
        total += value
    return total


@kernels.njit(inline="never")
def count(values: np.ndarray) -> int:
    return values.size


def test_kernels_compile_into_the_folder() -> None:
    assert add_up(np.arange(4.0)) == 6.0
    assert count(np.arange(4.0)) == 4
    assert add_up.targetoptions["nogil"]
    assert Path(add_up.stats.cache_path).is_relative_to(kernels.CACHE_FOLDER)


def test_a_process_without_home_or_variable_compiles(tmp_path: Path) -> None:
    script = tmp_path / "job.py"
    script.write_text(
        "from layout import kernels\n"
        "@kernels.njit\n"
        "def half(x):\n"
        "    return x / 2\n"
        "print(half(3.0), kernels.CACHE_FOLDER)\n",
        encoding="utf-8",
    )
    bare = {k: v for k, v in os.environ.items() if k in {"PATH", "SYSTEMROOT", "TMPDIR"}}
    bare |= {"PYTHONPATH": str(ROOT), "HOME": "/nonexistent", "LOCALAPPDATA": str(tmp_path)}
    if sys.platform != "win32" and os.access("/", os.W_OK):
        bare["HOME"] = "/dev/null"  # even root makes no folder in a file
    done = subprocess.run(
        [sys.executable, str(script)], env=bare, capture_output=True, text=True, check=True
    )
    answer, folder = done.stdout.split()
    assert answer == "1.5"
    if sys.platform != "win32":
        assert "skidway-kernels-" in folder
        assert not Path(folder).exists()  # gone with its process
