"""``skidway trees``: a phone's waypoints become a tree list, and nothing is lost."""

import csv
import io
import os
import sys
from dataclasses import replace
from pathlib import Path

import area_files as files
import numpy as np
import plan_fixture
import pyproj
import pytest

from layout.area import read_area
from layout.commands import main
from layout.outputs import tree_table
from layout.read_trees import TreeFile, read_trees
from layout.site import Trees
from layout.species import find
from layout.units import Units

SAMPLE = Path(__file__).parents[1] / "sample_area" / "phone" / "marked_trees.gpx"
UTM = pyproj.CRS.from_epsg(32618)
Out = pytest.CaptureFixture[str]
HEAD = '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'


class Terminal(io.StringIO):
    """A keyboard with somebody at it."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder of one's own, with nobody at a keyboard."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    return tmp_path


def at_keyboard(monkeypatch: pytest.MonkeyPatch, *typed: str) -> None:
    monkeypatch.setattr(sys, "stdin", Terminal("".join(f"{line}\n" for line in typed)))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)


def phone(*notes: str, apart: float = 1e-3) -> Path:
    """Write waypoints 111 m apart, or as far as asked."""
    points = "".join(
        f'<wpt lat="{44.25 + n * apart:.7f}" lon="-75.1234567"><name>{note}</name></wpt>'
        for n, note in enumerate(notes)
    )
    path = Path("phone.gpx")
    path.write_text(f"{HEAD}{points}</gpx>", encoding="utf-8")
    return path


def run(capsys: Out, *words: object) -> tuple[int, str, str]:
    status = main(["trees", *map(str, words)])
    told = capsys.readouterr()
    return status, told.out, told.err


def rows(path: Path = Path("trees.csv")) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def trees_of(path: Path, *, full: bool = False, units: Units = "us") -> Trees:
    return read_trees(TreeFile(Path(), str(path), "trees:", full, 5.0, units), UTM, None)[0]


def test_the_sample_phone(capsys: Out) -> None:
    status, out, err = run(capsys, SAMPLE, "--list", "marked", "--units", "us")
    assert status == 0
    assert err == (
        "within 10 ft of each other, perhaps one tree recorded twice; all are kept:\n"
        '  "136 HE 13 1" and "136 HE 13 1" stand 5 ft apart\n'
    )
    assert out.splitlines()[:3] == [
        "Written: trees.csv",
        "36 rows read from marked_trees.gpx: 35 understood, 1 not, 0 left out as recorded twice",
        "  not understood, written with a blank DBH: P8, waypoint 8, "
        '"the big one by the stone wall"',
    ]
    assert "BE is American beech (3)" in out
    assert "1 pair within 10 ft (3 m) that may be one tree recorded twice" in out
    assert "id made up: 136 of waypoint 36 is 136-2" in out
    table = rows()
    assert list(table[0])[:8] == [
        "tree_id", "lon", "lat", "species", "dbh_in", "logs", "mark", "note",
    ]  # fmt: skip
    assert table[0] == {
        "tree_id": "37", "lon": "-75.2176932", "lat": "42.4724065", "species": "American beech",
        "dbh_in": "13", "logs": "1", "mark": "cut", "note": "37 BE 13 1", "ele": "329.2",
    }  # fmt: skip
    assert table[7]["dbh_in"] == "" and table[7]["note"] == "the big one by the stone wall"
    assert {row["mark"] for row in table} == {"cut"}


def test_the_list_reads_as_the_phone_does(capsys: Out) -> None:
    source = phone("37 RO 18 2 ±4m", "38 maple 45cm, dead top", "gate", "39 mesquite 9",
                   "leave 40 SM 12, den tree, 60 ft tall", "=1+1", "41 833 18")  # fmt: skip
    for units in ("us", "metric"):
        out = Path(f"{units}.csv")
        assert run(capsys, source, "--units", units, "--out", out)[0] == 0
        one, other = trees_of(source, units=units), trees_of(out, units=units)  # type: ignore[arg-type]
        assert other.tree_id == one.tree_id
        assert [find(s).row for s in other.species] == [find(s).row for s in one.species]
        np.testing.assert_allclose(np.hypot(other.x - one.x, other.y - one.y), 0, atol=0.01)
        for name in ("dbh_cm", "logs", "height_m", "position_error_m"):
            np.testing.assert_allclose(getattr(other, name), getattr(one, name), atol=0.02)
        assert (other.keep, other.hazard) == (one.keep, one.hazard)
        assert other.table["note"].tolist() == one.table["note"].tolist()
        assert other.marked.tolist() == one.marked.tolist()
    assert rows(out)[0]["dbh_cm"] == "18"  # a bare figure, taken as metric
    assert rows(out)[5]["note"] == "'=1+1"


def test_marks(capsys: Out) -> None:
    source = phone("37 RO 18, cut", "38 RO 18, leave", "39 RO 18")
    assert run(capsys, source, "--units", "us", "--list", "marked")[0] == 0
    assert [row["mark"] for row in rows()] == ["cut", "leave", "cut"]
    status, _, err = run(capsys, source, "--units", "us", "--list", "all", "--out", "all.csv")
    assert (status, err) == (0, "")
    assert [row["mark"] for row in rows(Path("all.csv"))] == ["cut", "leave", ""]
    status, _, err = run(capsys, source, "--units", "us", "--out", "open.csv")
    assert status == 0
    assert err == (
        "the column mark is blank where no note says cut or leave; say --list marked where every "
        'tree is to be cut, or add list = "marked" under [stand] of area.toml\n'
    )
    assert [row["mark"] for row in rows(Path("open.csv"))] == ["cut", "leave", ""]


def test_bare_diameters_are_inches_unless_said_otherwise(capsys: Out) -> None:
    _, _, err = run(capsys, phone("37 RO 18", "38 RO 45cm"), "--list", "marked")
    assert err == (
        "1 diameter has no unit and was taken as inches; say --units metric where that is "
        "centimetres\n"
    )
    assert [row["dbh_in"] for row in rows()] == ["18", "17.72"]
    assert run(capsys, phone("37 RO 18 in"), "--list", "marked", "--out", "b.csv")[2] == ""


def test_all_is_asked_at_a_terminal(capsys: Out, monkeypatch: pytest.MonkeyPatch) -> None:
    source = phone("37 RO 18", "37 RO 18", "38 SM 12", "39 RM 9", apart=2e-5)
    at_keyboard(monkeypatch, "inches", "us", "second", "both", "all", "marked")
    status, out, err = run(capsys, source)
    assert status == 0
    assert 'Which units are the diameters in, as in "37 RO 18", "37 RO 18", "38 SM 12"?' in err
    assert '"inches" is none of us, metric' in err
    assert '"37 RO 18" and "37 RO 18" stand 7 ft apart: two trees, or one recorded twice?' in err
    assert "Which trees does the phone hold?" in err
    assert [row["note"] for row in rows()] == ["37 RO 18", "38 SM 12", "39 RM 9"]
    assert [row["tree_id"] for row in rows()] == ["37", "38", "39"]
    assert rows()[0]["lat"] == "44.2500200"
    assert "4 rows read from phone.gpx: 3 understood, 0 not, 1 left out as recorded twice" in out


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (["first", "first"], [0]),
        (["both", "both", "both"], [0, 1, 2]),
        (["all"], [0, 1, 2]),
        (["1", "2"], [0, 1]),
        (["1", "3", "1"], [1, 2]),
    ],
)
def test_one_tree_or_two(
    capsys: Out, monkeypatch: pytest.MonkeyPatch, typed: list[str], kept: list[int]
) -> None:
    source = phone("a RO 18", "b RO 18", "RO 18 3", apart=1e-5)
    at_keyboard(monkeypatch, *typed)
    assert run(capsys, source, "--units", "us", "--list", "marked")[0] == 0
    assert [row["lat"] for row in rows()] == [f"{44.25 + n * 1e-5:.7f}" for n in kept]


def test_an_answer_that_never_comes_writes_nothing(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = phone("37 RO 18", "38 RO 18")
    at_keyboard(monkeypatch)
    status, out, err = run(capsys, source)
    assert (status, out) == (2, "")
    assert "the input ended before all was answered; nothing was written" in err
    assert sorted(path.name for path in here.iterdir()) == ["phone.gpx"]


def test_nothing_is_written_over(capsys: Out, here: Path) -> None:
    source = phone("37 RO 18")
    Path("trees.csv").write_text("mine", encoding="utf-8")
    assert run(capsys, source) == (
        2, "", "skidway: --out trees.csv is there already and is never written over; name another\n"
    )  # fmt: skip
    assert Path("trees.csv").read_text(encoding="utf-8") == "mine"
    assert run(capsys, source, "--out", source)[0] == 2
    Path("link.csv").symlink_to("nowhere.csv")
    assert run(capsys, source, "--out", "link.csv")[0] == 2
    assert not Path("nowhere.csv").exists()


def test_written_whole_or_not_at_all(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, out, err = run(capsys, phone("37 RO 18"), "--list", "marked", "--units", "us")
    assert (status, out) == (2, "")
    assert "no space left on device" in err
    assert sorted(path.name for path in here.iterdir()) == ["phone.gpx"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["none.gpx"], "none.gpx: no such file"),
        (["."], ".: a phone's waypoints are read from .gpx, .kml, .kmz; a table (CSV) needs no "
                "conversion, name it under [stand] trees"),
        (["list.csv"], "list.csv: a phone's waypoints are read from .gpx, .kml, .kmz; a table "
                       "(CSV) needs no conversion, name it under [stand] trees"),
        (["bad.gpx"], "bad.gpx is damaged or cut short (no element found: line 1, column 5); "
                      "export it again"),
        (["bad.gpx", "--out", "no/where.csv"], "--out no/where.csv: its folder does not exist; "
                                               "make it first"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_one_line(capsys: Out, words: list[str], said: str) -> None:
    Path("bad.gpx").write_text("<gpx>", encoding="utf-8")
    assert run(capsys, *words) == (2, "", f"skidway: {said}\n")


def test_words_it_does_not_know(capsys: Out) -> None:
    status, out, err = run(capsys, phone("37 RO 18"), "--units", "feet")
    assert (status, out) == (2, "")
    assert "invalid choice: 'feet'" in err


def test_an_area_takes_the_list(capsys: Out, here: Path) -> None:
    """Trees of the phone outside the stand, or near its line, are told of as any others."""
    lot = files.tidy_area(here / "lot", stand__list='"marked"', area__units='"us"')
    to_degrees = pyproj.Transformer.from_crs(26918, 4326, always_xy=True)
    west, south, east, north = files.STAND.bounds
    spots = [((west + east) / 2, (south + north) / 2), (west + 3.0, south + 40.0),
             (west - 10.0, south + 40.0)]  # fmt: skip
    points = ""
    for number, spot in enumerate(spots, start=1):
        lon, lat = to_degrees.transform(*spot)
        points += f'<wpt lat="{lat:.9f}" lon="{lon:.9f}"><name>{number} RO 18 2</name></wpt>'
    (lot / "phone.gpx").write_text(f"{HEAD}{points}</gpx>", encoding="utf-8")
    assert run(capsys, lot / "phone.gpx", "--out", lot / "new.csv", "--units", "us")[0] == 0
    told = {}
    for name, units, dbh_cm in (
        ("phone.gpx", "us", 45.72), ("new.csv", "us", 45.72),
        ("phone.gpx", "metric", 18.0), ("new.csv", "metric", 45.72),
    ):  # fmt: skip
        files.write_toml(lot, stand__list='"marked"', area__units=f'"{units}"', property="",
                         stand__trees=f'"{name}"')  # fmt: skip
        area = read_area(lot)
        np.testing.assert_allclose(area.trees.x, [x for x, _ in spots], atol=0.01)
        np.testing.assert_allclose(area.trees.y, [y for _, y in spots], atol=0.01)
        np.testing.assert_allclose(area.trees.dbh_cm, dbh_cm)
        told[name, units] = {f.code: f.message for f in area.findings if f.subject_layer == "trees"}
    for found in told.values():
        assert "1 of 3 trees lie outside the stand, 1 of them marked (3)" in found["trees_outside"]
        assert "may not be yours" in found["tree_near_line"]


def test_a_plan_s_list_holds_no_formula_and_comes_back(tmp_path: Path) -> None:
    """Ids and notes that a spreadsheet would run go out as text and come back the same."""
    plan = plan_fixture.plan()
    wild = ["=1+1", "+A1", "-2x", "@home", "'=x", "-12.5", "'tis", "7"]
    trees = plan.area.trees
    ids = (*wild, *trees.tree_id[len(wild) :])
    table = trees.table.copy()
    table["tree_id"] = list(ids)
    table["=cmd|x"] = ["=HYPERLINK(1)"] * len(table)
    table["depth"] = ["-3.5"] * len(table)
    outcomes = tuple(replace(o, tree_id=i) for o, i in zip(plan.trees, ids, strict=True))
    area = replace(plan.area, trees=replace(trees, tree_id=ids, table=table))
    name_of = dict(zip(trees.tree_id, ids, strict=True))
    pulls = tuple(replace(pull, tree_id=name_of[pull.tree_id]) for pull in plan.pulls)
    path = tmp_path / "out.csv"
    tree_table.write(replace(plan, area=area, trees=outcomes, pulls=pulls), path)
    with path.open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file))
    for line in lines:
        for cell in line:
            assert not cell.startswith(("=", "@"))
            if cell.startswith(("+", "-")):
                float(cell)
    assert [line[0] for line in lines[1:9]] == [
        "'=1+1", "'+A1", "'-2x", "'@home", "''=x", "-12.5", "'tis", "7",
    ]  # fmt: skip
    assert lines[1][lines[0].index("depth")] == "-3.5"
    assert trees_of(path, full=True).tree_id == ids
