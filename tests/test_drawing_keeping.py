"""Drawings: what is saved comes back; no version is lost; a failed save changes nothing."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pyogrio
import pyproj
import pytest

from layout.drawing import keeping
from layout.drawing.draft import (
    Draft,
    DraftClosed,
    DraftLanding,
    DraftNote,
    DraftPosition,
    DraftTrail,
)
from layout.errors import InputError, OutputError

CRS = pyproj.CRS.from_epsg(26918)
X, Y = 480_000.0, 4_700_000.0


def at(x: float, y: float) -> tuple[float, float]:
    return (round(X + x, 2), round(Y + y, 2))


WHOLE = Draft(
    name="north way",
    landing=DraftLanding(outline=(at(0, 0), at(20, 0), at(20, 20.01), at(0, 20))),
    trails=(
        DraftTrail("M", "main", (at(20, 10), at(90.37, 10.04), at(150, 60))),
        DraftTrail("S1", "spur", (at(50, 10), at(70, 30)), "M"),
    ),
    keep_out=(DraftClosed("K1", (at(60, 60), at(70, 60), at(65, 70))),),
    notes=(DraftNote("N1", at(5, 5), "soft — 'here'\nand there"),),
    marks={"T7": "leave", "été": "cut"},
    positions=(DraftPosition("P1", at(40, 20), "forbidden"),),
)


def test_what_is_saved_comes_back_to_the_centimetre(tmp_path: Path) -> None:
    first = keeping.save(tmp_path, CRS, WHOLE, "north way", None)
    assert first.version == 1
    assert keeping.load(tmp_path, CRS, "north way") == first
    assert first.draft == WHOLE
    point = Draft(landing=DraftLanding(point=at(3.33, 4.44)))
    keeping.save(tmp_path, CRS, point, "a point", None)
    assert keeping.load(tmp_path, CRS, "a point").draft.landing == point.landing
    keeping.save(tmp_path, CRS, Draft(), "nothing", None)
    assert keeping.load(tmp_path, CRS, "nothing").draft == Draft(name="nothing")
    assert keeping.names(tmp_path) == ("a point", "north way", "nothing")


def test_a_name_with_accents_is_one_file_however_it_was_typed(tmp_path: Path) -> None:
    keeping.save(tmp_path, CRS, WHOLE, "U\u0308ber den Bach", None)  # U and two dots apart
    assert keeping.names(tmp_path) == ("\u00dcber den Bach",)
    assert keeping.save(tmp_path, CRS, WHOLE, "\u00dcber den Bach", 1).version == 2
    assert keeping.versions(tmp_path, "\u00dcber den Bach") == (1,)
    assert keeping.load(tmp_path, CRS, "U\u0308ber den Bach").draft.trails == WHOLE.trails
    found = sorted(p.name for p in (tmp_path / "drawings").glob("*.gpkg"))
    assert found == ["\u00dcber den Bach.gpkg"]


def test_another_program_reads_it(tmp_path: Path) -> None:
    keeping.save(tmp_path, CRS, WHOLE, "n", None)
    path = tmp_path / "drawings" / "n.gpkg"
    layers = {name for name, _ in pyogrio.list_layers(path)}
    assert layers == {name for name, _, _ in keeping.LAYERS} | {"marks", "about"}
    trails = pyogrio.read_dataframe(path, layer="trails")
    assert list(trails.trail_id) == ["M", "S1"]
    assert trails.crs == CRS
    with closing(sqlite3.connect(path)) as file:
        assert file.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_each_version_is_kept(tmp_path: Path) -> None:
    for number in range(3):
        drawn = Draft(landing=DraftLanding(point=at(number, 0)))
        kept = keeping.save(tmp_path, CRS, drawn, "n", number or None)
        assert kept.version == number + 1
    old = sorted(p.name for p in (tmp_path / "drawings" / "earlier").iterdir())
    assert old == ["n.1.gpkg", "n.2.gpkg"]
    assert not [p for p in (tmp_path / "drawings").iterdir() if p.name.startswith(".")]


def test_an_earlier_version_can_be_read(tmp_path: Path) -> None:
    points = [DraftLanding(point=at(number, 0)) for number in range(3)]
    for number, point in enumerate(points):
        keeping.save(tmp_path, CRS, Draft(landing=point), "n", number or None)
    keeping.save(tmp_path, CRS, Draft(), "n-b", None)
    assert keeping.versions(tmp_path, "n") == (1, 2)
    assert keeping.versions(tmp_path, "n-b") == ()
    for number, point in enumerate(points, start=1):
        kept = keeping.load(tmp_path, CRS, "n", number)
        assert (kept.version, kept.draft.landing) == (number, point)
    with pytest.raises(InputError, match="no version 4 of it; there are: 1, 2, 3"):
        keeping.load(tmp_path, CRS, "n", 4)
    (tmp_path / "drawings" / "n.gpkg").write_bytes(b"no")  # what is broken hides no other
    assert keeping.load(tmp_path, CRS, "n", 2).draft.landing == points[1]


def test_a_drawing_deleted_and_saved_anew_overwrites_no_earlier_one(tmp_path: Path) -> None:
    for number in range(3):
        drawn = Draft(landing=DraftLanding(point=at(number, 0)))
        keeping.save(tmp_path, CRS, drawn, "n", number or None)
    earlier = tmp_path / "drawings" / "earlier"
    before = {p.name: p.read_bytes() for p in earlier.iterdir()}
    assert sorted(before) == ["n.1.gpkg", "n.2.gpkg"]
    newest = tmp_path / "drawings" / "n.gpkg"
    newest.unlink()
    assert keeping.save(tmp_path, CRS, WHOLE, "n", None).version == 3
    assert keeping.save(tmp_path, CRS, WHOLE, "n", 3).version == 4
    assert {p.name: p.read_bytes() for p in earlier.iterdir() if p.name in before} == before
    newest.write_bytes(before["n.1.gpkg"])  # an older file is put back by hand
    assert keeping.save(tmp_path, CRS, Draft(), "n", 1).version == 4
    assert {p.name: p.read_bytes() for p in earlier.iterdir() if p.name in before} == before


def test_what_another_tab_saved_is_not_lost(tmp_path: Path) -> None:
    keeping.save(tmp_path, CRS, WHOLE, "n", None)
    keeping.save(tmp_path, CRS, WHOLE, "n", 1)
    with pytest.raises(keeping.NewerDrawingError, match="version 2"):
        keeping.save(tmp_path, CRS, Draft(), "n", 1)
    with pytest.raises(keeping.NewerDrawingError, match="there is a drawing of that name"):
        keeping.save(tmp_path, CRS, Draft(), "n", None)
    assert keeping.load(tmp_path, CRS, "n").draft.trails == WHOLE.trails
    (tmp_path / "drawings" / "n.gpkg").unlink()
    with pytest.raises(keeping.NewerDrawingError, match="gone"):
        keeping.save(tmp_path, CRS, Draft(), "n", 2)


def test_a_save_that_fails_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keeping.save(tmp_path, CRS, WHOLE, "n", None)
    before = (tmp_path / "drawings" / "n.gpkg").read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeping.pyogrio, "write_dataframe", full)
    with pytest.raises(OutputError, match="No space left"):
        keeping.save(tmp_path, CRS, Draft(), "n", 1)
    assert (tmp_path / "drawings" / "n.gpkg").read_bytes() == before
    assert not [p for p in (tmp_path / "drawings").iterdir() if p.name.startswith(".")]


def test_a_lock_left_behind_does_not_hold_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping, "STALE_S", 0.1)
    (tmp_path / "drawings").mkdir()
    (tmp_path / "drawings" / ".lock").touch()
    assert keeping.save(tmp_path, CRS, Draft(), "n", None).version == 1


def test_what_is_no_drawing_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such drawing; there are: none yet"):
        keeping.load(tmp_path, CRS, "n")
    with pytest.raises(InputError, match="cannot be used"):
        keeping.load(tmp_path, CRS, "../n")
    keeping.save(tmp_path, CRS, WHOLE, "n", None)
    with pytest.raises(InputError, match="drawing of another area"):
        keeping.load(tmp_path, pyproj.CRS.from_epsg(32633), "n")
    (tmp_path / "drawings" / "n.gpkg").write_bytes(b"no")
    with pytest.raises(InputError, match="cannot be read as a drawing"):
        keeping.load(tmp_path, CRS, "n")


def test_a_column_another_program_took_off_is_told_and_hides_no_other(tmp_path: Path) -> None:
    keeping.save(tmp_path, CRS, WHOLE, "n", None)
    path = tmp_path / "drawings" / "n.gpkg"
    trails = pyogrio.read_dataframe(path, layer="trails").drop(columns="trail_id")
    pyogrio.write_dataframe(trails, path, layer="trails", driver="GPKG")
    with pytest.raises(InputError, match="cannot be read as a drawing"):
        keeping.load(tmp_path, CRS, "n")
