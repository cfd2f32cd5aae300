"""The command line, in process: what it prints, where, and the status it leaves with."""

import csv
import io
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import area_files as files
import pytest
from shapely.geometry import LineString, Point

import layout
from layout import commands
from layout.commands import main
from layout.commands.surroundings import drop_foreign_data
from layout.commands.terminal import Progress, lines_of
from layout.findings import Finding
from layout.settings.key_table import key_rows

ROOT = Path(__file__).parents[1]
Out = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def tidy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return files.tidy_area(tmp_path_factory.mktemp("areas") / "tidy")


@pytest.fixture
def lot(tidy: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(tidy, tmp_path / "lot"))


def run(capsys: Out, *words: object) -> tuple[int, str, str]:
    status = main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


def refused(capsys: Out, *words: object) -> str:
    """Run, and see that it left with 2, with lines of ours only and nothing on stdout."""
    status, out, err = run(capsys, *words)
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    assert all(line.startswith("skidway: ") for line in err.splitlines())
    return err.removesuffix("\n").replace("skidway: ", "")


def test_the_version(capsys: Out) -> None:
    assert run(capsys, "--version") == (0, f"skidway {layout.__version__}\n", "")


def test_help_names_every_command(capsys: Out) -> None:
    status, out, _ = run(capsys, "--help")
    assert status == 0
    for name in ("plan", "check", "keys", "warm"):
        assert name in out
        assert run(capsys, name, "--help")[0] == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "the following arguments are required: COMMAND"),
        (["plan"], "the following arguments are required: AREA"),
        (["plant", "x"], "invalid choice: 'plant'"),
        (["check", "x", "--fast"], "unrecognized arguments: --fast"),
    ],
)
def test_words_it_does_not_know(capsys: Out, words: list[str], said: str) -> None:
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert said in err


def wrong_trees(lot: Path, *rows: str, head: str = "tree_id,x,y,species,dbh_in,mark") -> None:
    (lot / "trees.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


def wrong_toml(lot: Path, text: str) -> None:
    (lot / "area.toml").write_text(text, encoding="utf-8")


def wrong_ring(lot: Path) -> None:
    x, y = files.WEST + 200, files.NORTH - 200
    line = LineString([(x, y), (x + 50, y), (x + 50, y + 50), (x, y + 50)])
    files.write_layer(lot / "stand.gpkg", [line])


# What is wrong, how it is made so, and the whole of what is said.
CASES: dict[str, tuple[Callable[[Path], object], str]] = {
    "no file": (
        lambda lot: (lot / "area.toml").unlink(),
        "{lot}: no area.toml in this folder; is it the right one?",
    ),
    "toml": (
        lambda lot: wrong_toml(lot, "format = 1\n[area\n"),
        "area.toml: not readable as TOML: Expected ']' at the end of a table declaration "
        "(at line 2, column 6)",
    ),
    "not text": (
        lambda lot: (lot / "area.toml").write_bytes(b"\xff\xfe\x00"),
        "area.toml: not UTF-8 text; save it as UTF-8",
    ),
    "empty": (
        lambda lot: wrong_toml(lot, ""),
        'area.toml: table [area] is missing; add it with name = "North lot" and units = "us"\n'
        'area.toml: table [ground] is missing; add it with dem = "dem.tif"\n'
        'area.toml: table [stand] is missing; add it with boundary = "stand.gpkg" and '
        'trees = "trees.csv"',
    ),
    "bare number": (
        lambda lot: files.write_toml(lot, winch__cable="50"),
        'area.toml [winch] cable: 50 has no unit; write it like "165 ft", as text in quotes with '
        "a unit",
    ),
    "comma": (
        lambda lot: files.write_toml(lot, tractor__mass='"3,2 t"'),
        'area.toml [tractor] mass: "3,2 t" has a comma; write the decimals with a point and no '
        'thousands mark, like "3.2 t"',
    ),
    "ton": (
        lambda lot: files.write_toml(lot, tractor__mass='"3.5 tons"'),
        'area.toml [tractor] mass: "3.5 tons": a ton may be 907, 1,000 or 1,016 kg; write "t" '
        '(1,000 kg), "short ton" (2,000 lb), "kg" or "lb"',
    ),
    "ceiling": (
        lambda lot: files.write_toml(lot, trails__cross_slope='"25 %"'),
        'area.toml [trails] cross_slope: "25 %" is above the ceiling of 20 %',
    ),
    "unknown key": (
        lambda lot: files.write_toml(lot, winch__cabel='"50 m"'),
        'area.toml [winch] cabel: unknown key; did you mean "cable"?',
    ),
    "three at once": (
        lambda lot: files.write_toml(
            lot, winch__cable="50", trails__adverse='"20 %"', tractor__belt='"maybe"'
        ),
        'area.toml [trails] adverse: "20 %" is above the ceiling of 15 %\n'
        'area.toml [winch] cable: 50 has no unit; write it like "165 ft", as text in quotes with '
        "a unit\n"
        'area.toml [tractor] belt: "maybe" must be one of "yes", "no", "?"',
    ),
    "virtual file": (
        lambda lot: files.write_toml(lot, ground__dem='"/vsizip/dem.zip/dem.tif"'),
        "area.toml [ground] dem: '/vsizip/dem.zip/dem.tif' is a virtual file path; name an "
        "ordinary file",
    ),
    "web address": (
        lambda lot: files.write_toml(lot, ground__dem='"http://10.0.0.2/dem.tif"'),
        'area.toml [ground] dem: "http://10.0.0.2/dem.tif" is not https, so anyone on the way '
        "could change it; download the file and name it here",
    ),
    "two files missing": (
        lambda lot: files.write_toml(lot, ground__dem='"d.tif"', stand__boundary='"s.gpkg"'),
        'area.toml [ground] dem: "d.tif": no such file in {lot}\n'
        'area.toml [stand] boundary: "s.gpkg": no such file in {lot}',
    ),
    "picture": (
        lambda lot: files.write_dem(lot / "dem.tif", files.slope().astype("uint8")),
        "area.toml [ground] dem: dem.tif holds uint8 values, a picture rather than elevations; "
        "name the raster of elevations itself",
    ),
    "no crs": (
        lambda lot: files.write_dem(lot / "dem.tif", crs=None),
        'area.toml [ground] dem: dem.tif does not say its CRS; add crs = "EPSG:..." under [area], '
        "or store it in the file",
    ),
    "no raster": (
        lambda lot: (lot / "dem.tif").write_bytes(b"GIF89a"),
        "area.toml [ground] dem: dem.tif is no elevation raster read here (GeoTIFF, VRT, ASCII "
        "grid, IMG)",
    ),
    "half a raster": (
        lambda lot: files.write_dem(lot / "dem.tif", files.slope(200, 400)),
        "area.toml [ground] dem: dem.tif leaves 0.50 ha of the stand's 1.00 ha (50 %) uncovered; "
        'get the neighbouring tile and list both, dem = ["...", "..."]',
    ),
    "stand of points": (
        lambda lot: files.write_layer(lot / "stand.gpkg", [Point(1, 1)]),
        "area.toml [stand] boundary: stand.gpkg:stand row 1 is a Point; polygons are needed here",
    ),
    "open ring": (
        wrong_ring,
        "area.toml [stand] boundary: stand.gpkg:stand is a line whose ends lie 50 m apart; draw "
        "it round to the start (within 20 m), or draw a polygon",
    ),
    "old datum": (
        lambda lot: files.write_layer(lot / "landing.gpkg", [files.LANDING], crs="EPSG:26718"),
        "area.toml [landing] shape: landing.gpkg:landing: the shift from NAD27 to NAD83 needs the "
        "grid us_noaa_nadcon5_nad27_nad83_1986_conus.tif, which is not installed, and may be tens "
        "of metres; convert the file to EPSG:26918 with a program that has the grid, or fetch "
        'it: "python -m pyproj sync --file us_noaa_nadcon5_nad27_nad83_1986_conus.tif"',
    ),
    "not a gpkg": (
        lambda lot: (lot / "stand.gpkg").write_bytes(b"PK\x03\x04"),
        "area.toml [stand] boundary: stand.gpkg is no GPKG file inside (or is cut short); export "
        "it again",
    ),
    "no mark": (
        lambda lot: wrong_trees(lot, "1,500180,4900220,oak,18", head="tree_id,x,y,species,dbh_in"),
        "trees.csv does not say which trees are cut: add a column mark (cut or leave) to "
        'trees.csv, or list = "marked" under [stand] of area.toml where the list holds the marked '
        "trees only",
    ),
    "doubled id": (
        lambda lot: wrong_trees(lot, *["7,500180,4900220,oak,18,cut"] * 2),
        "trees.csv: tree_id 7 stands on lines 2 and 3; give each tree its own",
    ),
    "no number": (
        lambda lot: wrong_trees(lot, "7,500180,4900220,oak,big,cut"),
        "trees.csv line 2: dbh_in 'big' is no number",
    ),
    "trees elsewhere": (
        lambda lot: wrong_trees(lot, "7,400000,4900220,oak,18,cut"),
        "trees.csv: 1 of 1 trees lie outside the stand (x 500150 to 500250, y 4900150 to 4900250 "
        "in NAD83 / UTM zone 18N); are the coordinates in that CRS?",
    ),
    "layer and list": (
        lambda lot: (
            wrong_trees(lot, "7,500180,4900220,oak,big,cut"),
            (lot / "main.gpkg").unlink(),
        ),
        "trees.csv line 2: dbh_in 'big' is no number\n"
        'area.toml [main_trail] line: "main.gpkg": no such file in {lot}',
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_input_is_told_in_lines(capsys: Out, lot: Path, name: str) -> None:
    spoil, want = CASES[name]
    spoil(lot)
    assert refused(capsys, "check", lot) == want.format(lot=lot.resolve())


def test_plan_refuses_as_check_does_and_writes_nothing(capsys: Out, lot: Path) -> None:
    files.write_toml(lot, winch__cable="50")
    assert "has no unit" in refused(capsys, "plan", lot)
    assert not (lot / "out").exists()


def test_no_such_folder(capsys: Out, tmp_path: Path) -> None:
    assert refused(capsys, "plan", tmp_path / "x") == (
        f"{tmp_path / 'x'}: no such folder or file; name the folder that holds area.toml"
    )


def test_out_in_a_folder_that_is_not_there(capsys: Out, lot: Path, tmp_path: Path) -> None:
    out = tmp_path / "none" / "out"
    status, _, err = run(capsys, "plan", lot, "--out", out)
    assert status == 2
    assert err.splitlines()[-1] == (
        f"skidway: --out {out}: the folder above it does not exist; make it first"
    )


def test_check_lists_findings_and_counts_them(capsys: Out, lot: Path) -> None:
    status, out, err = run(capsys, "check", lot)
    lines = out.splitlines()
    assert lines[0] == (
        "Test lot: stand of 1.00 ha, 3 trees (2 marked), 337 x 322 cells of 1 m, "
        "NAD83 / UTM zone 18N"
    )
    assert any(line.startswith("stop    Landing L1: slopes 10.0 %") for line in lines)
    assert lines[-1].startswith(f"{sum(line.startswith('stop ') for line in lines)} stop, ")
    assert (status, err) == (1, "")


def test_check_without_anything_drawn(capsys: Out, lot: Path) -> None:
    files.write_toml(lot, landing="", main_trail="")
    status, out, _ = run(capsys, "check", lot)
    assert status == 0
    assert "Landing L1" not in out


@pytest.mark.slow
def test_plan_writes_the_folder_beside_the_area_and_closes_with_words(
    capsys: Out, lot: Path
) -> None:
    status, out, _ = run(capsys, "plan", lot)
    assert status == 1  # the made-up landing is too steep, and says so
    assert "STOP: Landing L1: slopes 10.0 %" in out
    assert (lot / "out" / "plan.gpkg").is_file()
    files.write_toml(lot, landing="")
    assert "[landing]" in refused(capsys, "plan", lot)
    assert (lot / "out" / "plan.gpkg").is_file()


def test_keys_lists_every_setting(capsys: Out) -> None:
    status, out, _ = run(capsys, "keys")
    assert status == 0
    assert "[winch]\n  preset: Fills pull_rating, rope_breaking and mass" in out
    assert '\n  cable (m): Rope on the drum.\n      default "165 ft"' in out
    for row in key_rows():
        assert row.line() in out


def test_keys_of_one_table_and_as_a_table(capsys: Out) -> None:
    _, out, _ = run(capsys, "keys", "[trails]")
    assert "favourable (%)" in out
    assert "cable" not in out
    status, out, _ = run(capsys, "keys", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 0
    assert len(rows) == len(key_rows())
    assert all(row["source"] for row in rows)


def test_keys_of_a_table_that_is_none(capsys: Out) -> None:
    said = refused(capsys, "keys", "nosuch")
    assert said.startswith("keys: no table [nosuch] in area.toml; there are area, ")
    assert ", ," not in said
    assert refused(capsys, "keys", "wnch") == (
        'keys: no table [wnch] in area.toml; did you mean "winch"?'
    )


def test_an_interrupt_is_one_line(capsys: Out, lot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def pressed(_: object, **_more: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("layout.area.read_area", pressed)
    assert run(capsys, "check", lot) == (130, "", "skidway: interrupted; nothing was replaced\n")


def test_too_little_memory_is_one_line(
    capsys: Out, lot: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: object, **_more: object) -> None:
        raise MemoryError

    monkeypatch.setattr("layout.area.read_area", full)
    assert "not enough memory" in refused(capsys, "check", lot)


def test_a_fault_of_ours_is_not_hidden(
    capsys: Out, lot: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object, **_more: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("layout.area.read_area", broken)
    with pytest.raises(ZeroDivisionError):
        run(capsys, "check", lot)


def test_data_of_other_programs_is_dropped_and_named(
    capsys: Out, lot: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PROJ_DATA", "/usr/share/proj")
    monkeypatch.setenv("GDAL_DRIVER_PATH", "/opt/other")
    _, _, err = run(capsys, "check", lot, "-v")
    assert "PROJ_DATA=/usr/share/proj of another program is not used" in err
    assert "GDAL_DRIVER_PATH=/opt/other of another program is not used" in err
    assert "PROJ_DATA" not in os.environ
    assert drop_foreign_data() == []


def test_the_first_run_is_announced(
    capsys: Out, lot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cold"))
    (lot / "main.gpkg").unlink()
    _, _, err = run(capsys, "plan", lot)
    assert err.splitlines()[0] == "preparing, first run only: compiling takes some seconds"
    (tmp_path / "cold").mkdir()
    (tmp_path / "cold" / "kernel.nbi").touch()
    _, _, err = run(capsys, "plan", lot)
    assert "preparing" not in err


def test_progress_only_on_a_terminal_and_only_after_a_second(
    capsys: Out, monkeypatch: pytest.MonkeyPatch
) -> None:
    quiet = Progress()
    quiet.start -= 5
    quiet("half")
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    shown = Progress()
    shown("at once")
    shown.start -= 5
    shown("half")
    assert capsys.readouterr().err == "   5 s  half\n"


def test_findings_as_lines() -> None:
    told = lines_of(
        (Finding("a", "stop", "Too steep.", source="a page"), Finding("b", "unknown", "Unseen."))
    )
    assert told == ["stop    Too steep. [a page]", "unknown Unseen."]


def test_a_reader_that_goes_away_is_no_fault(tmp_path: Path) -> None:
    command = f'{sys.executable} -m layout keys | head -n 1; echo "${{PIPESTATUS[0]}}"'
    done = subprocess.run(
        ["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    assert done.stdout.splitlines()[-1] == "0"


def test_console_leaves_with_the_status(monkeypatch: pytest.MonkeyPatch, capsys: Out) -> None:
    monkeypatch.setattr(sys, "argv", ["skidway", "keys", "nosuch"])
    with pytest.raises(SystemExit) as left:
        commands.console()
    assert left.value.code == 2
    assert "no table [nosuch]" in capsys.readouterr().err
