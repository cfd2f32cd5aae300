"""The copy of the sample area: what is in it, and that nothing is ever written over."""

import shutil
from pathlib import Path

import pytest

from layout.commands import main, sample
from layout.settings import load_settings

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "sample_area"
Out = pytest.CaptureFixture[str]
NOT_DATA = {".py", ".png", ".pyc"}


def run(capsys: Out, *words: object) -> tuple[int, str, str]:
    status = main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


def files_of(folder: Path) -> dict[str, bytes]:
    """Give what lies in a folder, results of a plan apart."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for item in sorted(folder.iterdir())
        if not item.name.startswith("out")
        for path in [item, *item.rglob("*")]
        if path.is_file()
    }


def test_the_copy_holds_the_area_and_its_readme_and_none_of_the_scripts(
    capsys: Out, tmp_path: Path
) -> None:
    lot = tmp_path / "my lot"
    status, out, err = run(capsys, "sample", lot)
    assert (status, err) == (0, "")
    assert out.splitlines()[-1] == f"  skidway plan '{lot}'"
    copied = files_of(lot)
    there = files_of(SOURCE)
    wanted = {
        name: data
        for name, data in there.items()
        if Path(name).suffix not in NOT_DATA and not Path(name).name.startswith(".")
    }
    assert copied == wanted
    assert {"area.toml", "README.md", "dem.tif", "trees.csv", "stand.gpkg"} <= set(copied)
    assert {"make_sample.py", "overview.png", ".gitignore"}.isdisjoint(copied)


def test_every_file_the_settings_name_came_along(capsys: Out, tmp_path: Path) -> None:
    lot = tmp_path / "lot"
    assert run(capsys, "sample", lot)[0] == 0
    settings, _ = load_settings(lot / "area.toml")
    named = [
        settings.ground.dem, settings.ground.access_road, settings.ground.existing_trails,
        settings.ground.keep_out, settings.ground.may_use, settings.property.line,
        settings.stand.boundary, settings.stand.trees, settings.water.features,
        settings.access.hazards, settings.landing.shape, settings.main_trail.line,
    ]  # fmt: skip
    assert all(named)
    assert [name for name in named if not (lot / name).is_file()] == []


def test_an_empty_folder_will_do_and_a_plan_in_the_source_stays_there(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = Path(
        shutil.copytree(SOURCE, tmp_path / "source", ignore=shutil.ignore_patterns("out*", "*.p*"))
    )
    wanted = {name for name in files_of(source) if not name.startswith(".")}
    for name in ("out/plan.json", "out.previous/plan.json", "__pycache__/x.pyc", ".hidden"):
        (source / name).parent.mkdir(exist_ok=True)
        (source / name).write_text("x", encoding="utf-8")
    monkeypatch.setattr(sample, "sample_area", lambda: source)
    lot = tmp_path / "lot"
    lot.mkdir()
    assert run(capsys, "sample", lot)[0] == 0
    assert set(files_of(lot)) == wanted
    assert not list(lot.glob("out*"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["lot", "source"]


def refused(capsys: Out, *words: object) -> str:
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    return err.removeprefix("skidway: ").rstrip("\n")


def test_a_folder_with_something_in_it_is_left_alone(capsys: Out, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    assert refused(capsys, "sample", tmp_path) == f"{tmp_path} is not empty; name a new folder"
    assert files_of(tmp_path) == {"mine.txt": b"mine"}


def test_a_file_in_the_way_and_a_folder_that_is_not_there(capsys: Out, tmp_path: Path) -> None:
    (tmp_path / "lot").write_text("mine", encoding="utf-8")
    assert (
        refused(capsys, "sample", tmp_path / "lot")
        == f"{tmp_path / 'lot'} is a file; name a folder"
    )
    deep = tmp_path / "no" / "lot"
    assert refused(capsys, "sample", deep) == (
        f"{deep}: the folder above it does not exist; make it first"
    )
    assert files_of(tmp_path) == {"lot": b"mine"}


def test_a_disk_that_fills_up_leaves_nothing(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = shutil.copyfile

    def full(source: Path, target: Path) -> object:
        if target.name == "stand.gpkg":
            raise OSError(28, "No space left on device")
        return real(source, target)

    monkeypatch.setattr(shutil, "copyfile", full)
    lot = tmp_path / "lot"
    assert refused(capsys, "sample", lot) == (
        f"{lot}: cannot be written (no space left on device); nothing was left there"
    )
    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_leaves_nothing(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(shutil, "copyfile", pressed)
    assert run(capsys, "sample", tmp_path / "lot")[0] == 130
    assert list(tmp_path.iterdir()) == []


def test_a_folder_one_may_not_write_in(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.access", lambda *_: False)
    assert refused(capsys, "sample", tmp_path / "lot") == (
        f"{tmp_path}: you may not write there; name a folder of your own"
    )
    (tmp_path / "lot").mkdir()
    assert "you may not write there" in refused(capsys, "sample", tmp_path / "lot")


def test_an_install_without_the_sample_says_so(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layout.__file__", str(tmp_path / "layout" / "__init__.py"))
    assert refused(capsys, "sample", tmp_path / "lot") == (
        f"the sample area is missing from {tmp_path / 'layout'}; install skidway again to have "
        "it back"
    )
