"""Beginning an area: what is asked, what is refused, and the file that is written."""

import builtins
import io
import itertools
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import area_files as files
import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from rasterio.transform import Affine
from shapely import affinity

from layout import units
from layout.commands import main
from layout.commands.asking import at_terminal, read_choice
from layout.commands.file_names import named_from
from layout.commands.questions import (
    ELEVATION_UNIT,
    MUST,
    NONE_YET,
    NOT_KNOWN,
    PRESET,
    TREE_LIST,
    rules_offered,
)
from layout.errors import InputError, InputFaults
from layout.new_area import OPEN, WIDTH, Begun, area_text
from layout.rule_files import rule_names
from layout.settings import load_settings
from layout.settings.faults import keys_of, tables_of
from layout.settings.fields import literal_words
from layout.settings.key_table import key_rows
from layout.settings.loading import settings_from
from layout.settings.model import AreaSettings
from layout.settings.own_units import ROUNDING, in_own_units, size_in_own_units
from layout.settings.toml_text import toml_of

METRIC = Path(__file__).parent / "data" / "metric_area"
Out = pytest.CaptureFixture[str]
ANSWERS = {
    "--units": "us",
    "--rules": "slope-50-4",
    "--log-rule": "doyle",
    "--property-source": "tax_map",
    "--frame": "yes",
    "--belt": "?",
    "--screen": "no",
}


def run(capsys: Out, *words: object) -> tuple[int, str, str]:
    status = main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


def refused(capsys: Out, *words: object) -> list[str]:
    """Run, and see that it left with 2, with lines of ours only."""
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert all(line.startswith("skidway: ") for line in err.splitlines())
    return [line.removeprefix("skidway: ") for line in err.splitlines()]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder that holds a raster, a stand and trees."""
    files.write_dem(tmp_path / "dem.tif")
    files.write_layer(tmp_path / "stand.gpkg", [files.STAND])
    files.write_trees(tmp_path / "trees.csv")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def words_of(**other: str | None) -> list[str]:
    """Give the words of a whole command; a keyword replaces an option, None takes it out."""
    options: dict[str, str | None] = {"--dem": "dem.tif", "--stand": "stand.gpkg", **ANSWERS}
    options |= {f"--{name.replace('_', '-')}": value for name, value in other.items()}
    said = [word for option, value in options.items() if value for word in (option, value)]
    return ["start", "lot", *said]


class Terminal(io.StringIO):
    """A keyboard with somebody at it."""

    def isatty(self) -> bool:
        return True


def at_keyboard(monkeypatch: pytest.MonkeyPatch, *typed: str) -> None:
    monkeypatch.setattr(sys, "stdin", Terminal("".join(f"{line}\n" for line in typed)))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)


# ---- what must be said ------------------------------------------------------------------


@pytest.mark.parametrize("option", ["--dem", "--stand", *ANSWERS])
def test_without_a_terminal_each_missing_option_is_named(
    capsys: Out, here: Path, option: str
) -> None:
    words = words_of(**{option.lstrip("-").replace("-", "_"): None})
    first, *named = refused(capsys, *words)
    assert first == "there is no terminal to ask at, so these are needed too:"
    assert [line.split()[0] for line in named] == [option]
    assert not (here / "lot").exists()


def test_all_missing_options_are_named_at_once(capsys: Out, here: Path) -> None:
    lines = refused(capsys, "start", "lot")
    assert lines == [
        "there is no terminal to ask at, so these are needed too:",
        "  --dem FILE (elevation raster, or the https address of one)",
        "  --stand FILE (outline of the stand: a layer of polygons, or a walked track)",
        "  --rules NAME|FILE.toml|none (`skidway rules` lists the names)",
        "  --units us|metric",
        "  --log-rule international-quarter|scribner|doyle|cubic",
        "  --property-source survey|marked|tax_map|walked",
        "  --frame yes|no|unknown",
        "  --belt yes|no|unknown",
        "  --screen yes|no|unknown",
    ]


def test_a_tree_list_needs_to_be_said_what_it_holds(capsys: Out, here: Path) -> None:
    assert refused(capsys, *words_of(trees="trees.csv"))[1:] == ["  --list all|marked"]


def test_wrong_words_and_missing_ones_are_told_together(capsys: Out, here: Path) -> None:
    lines = refused(
        capsys,
        *words_of(units="feet", belt="maybe", rules="mont", screen=None, preset="huge", frame="y"),
    )
    assert lines[0] == '--units: "feet" is none of us, metric'
    assert lines[1] == '--frame: "y" is none of yes, no, ?'
    assert lines[2] == '--belt: "maybe" is none of yes, no, ?'
    assert lines[3] == '--preset: "huge" is none of compact, mid, large'
    assert lines[4].startswith('there is no rule "mont"; known are ')
    assert lines[5:] == [
        "there is no terminal to ask at, so these are needed too:",
        "  --screen yes|no|unknown",
    ]


@pytest.mark.parametrize("question", [*MUST, TREE_LIST, ELEVATION_UNIT, PRESET])
def test_the_answers_are_the_words_of_the_settings(question: object) -> None:
    table = tables_of(AreaSettings)[question.table]  # type: ignore[attr-defined]
    info = keys_of(table)[question.key]  # type: ignore[attr-defined]
    known = [word for word in literal_words(info.annotation) if word != ""]
    answers = list(question.words)  # type: ignore[attr-defined]
    if question is ELEVATION_UNIT:
        assert answers.pop() == NOT_KNOWN  # then the key stays out
    assert answers == known


def test_help_says_the_words(capsys: Out) -> None:
    status, out, _ = run(capsys, "start", "--help")
    assert status == 0
    for word in ("international-quarter", "tax_map", "us-ft", "compact", "marked", "metric"):
        assert word in out


# ---- what the files hold ----------------------------------------------------------------


def test_it_says_what_it_found(capsys: Out, here: Path) -> None:
    status, out, err = run(capsys, *words_of(trees="trees.csv", list="all"))
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == (
        f"Elevations: {here / 'dem.tif'}, cells of 1 m, NAD83 / UTM zone 18N; "
        "unit of the elevations: metres"
    )
    # 1 ha is 2.47105 acres.
    assert lines[1] == (
        f"Stand: {here / 'stand.gpkg'}, 2.47 acre = 1.00 ha, elevations throughout it"
    )
    assert lines[2] == f"Trees: {here / 'trees.csv'}, 3 listed, 2 marked to cut"


def test_a_raster_without_crs(capsys: Out, here: Path) -> None:
    files.write_dem(here / "dem.tif", crs=None)
    assert refused(capsys, *words_of()) == [
        "--dem: dem.tif does not say its CRS; add --crs EPSG:..., or store it in the file"
    ]
    assert not (here / "lot").exists()
    assert refused(capsys, *words_of(crs="EPSG:0")) == [
        '--crs: "EPSG:0" is no CRS known here; write it like "EPSG:26918"'
    ]
    assert run(capsys, *words_of(crs="EPSG:26918"))[0] == 0
    settings, _ = load_settings(here / "lot" / "area.toml")
    assert settings.area.crs == "EPSG:26918"


def test_a_stand_that_is_not_on_the_raster(capsys: Out, here: Path) -> None:
    far = affinity.translate(files.STAND, 5000, 0)
    files.write_layer(here / "stand.gpkg", [far])
    (line,) = refused(capsys, *words_of())
    assert line.startswith("--dem: dem.tif does not reach the stand at all; the stand lies at 505")
    half = affinity.translate(files.STAND, 200, 0)
    files.write_layer(here / "stand.gpkg", [half])
    (line,) = refused(capsys, *words_of())
    assert line == (
        "--dem: dem.tif leaves 1.24 acre of the stand's 2.47 acre (50 %) uncovered; get the "
        "neighbouring tile and give --dem for each"
    )
    assert not (here / "lot").exists()


def test_neighbouring_tiles_are_listed(capsys: Out, here: Path) -> None:
    z = files.slope()
    files.write_dem(here / "west.tif", z[:, :200])
    east = Affine(1.0, 0.0, files.WEST + 200, 0.0, -1.0, files.NORTH)
    files.write_dem(here / "east.tif", z[:, 200:], transform=east)
    (line,) = refused(capsys, *words_of(dem="west.tif"))
    assert line.startswith("--dem: west.tif leaves ") and line.endswith("give --dem for each")
    status, out, _ = run(capsys, *words_of(dem="west.tif"), "--dem", "east.tif")
    assert status == 0
    assert f"{here / 'west.tif'}, {here / 'east.tif'}, cells of 1 m" in out
    dem = load_settings(here / "lot" / "area.toml")[0].ground.dem
    assert dem == tuple((here / name).as_posix() for name in ("west.tif", "east.tif"))


def test_an_address_is_for_elevations_only_and_not_opened_offline(capsys: Out, here: Path) -> None:
    address = "https://example.org/dem.tif"
    (line,) = refused(capsys, *words_of(dem=address), "--offline")
    assert line.startswith(f'--dem: "{address}" is a web address, and --offline is given')
    (line,) = refused(capsys, *words_of(stand="https://example.org/stand.gpkg"))
    assert line.startswith('--stand: "https://example.org/stand.gpkg" is a web address')
    assert not (here / "lot").exists()


def test_a_raster_that_says_two_units_is_told_how_to_settle_it(capsys: Out, here: Path) -> None:
    files.write_dem(here / "dem.tif", crs="EPSG:26918+6360", unit="m")  # heights in US feet
    (line,) = refused(capsys, *words_of())
    assert line.startswith("--dem: dem.tif ") and "give --elevation-unit m or ft" in line
    assert run(capsys, *words_of(elevation_unit="m"))[0] == 0


def test_faults_of_all_files_are_told_together(capsys: Out, here: Path) -> None:
    files.write_layer(here / "stand.gpkg", [files.MAIN.centroid])
    files.write_trees(here / "trees.csv", [("1", "x", "0", "oak", "14", "cut")])
    (here / "water.gpkg").write_bytes(b"PK")
    lines = refused(
        capsys, *words_of(trees="trees.csv", list="all", water="water.gpkg", hazards="water.gpkg")
    )
    assert lines[0] == "--stand: stand.gpkg:stand row 1 is a Point; polygons are needed here"
    assert lines[1] == "trees.csv line 2: x 'x' is no number"
    assert lines[2].startswith("--water: water.gpkg is no GPKG file inside")
    assert lines[3].startswith("--hazards: water.gpkg is no GPKG file inside")
    assert len(lines) == 4


def test_missing_files_are_told_together(capsys: Out, here: Path) -> None:
    assert refused(capsys, *words_of(dem="d.tif", stand="s.gpkg:stand", water="w.gpkg")) == [
        f'--dem: "d.tif": no such file in {here}',
        f'--stand: "s.gpkg": no such file in {here}',
        f'--water: "w.gpkg": no such file in {here}',
    ]


def test_a_raster_that_is_none_and_a_stand_without_its_layer(capsys: Out, here: Path) -> None:
    (here / "dem.tif").write_bytes(b"GIF89a")
    (line,) = refused(capsys, *words_of())
    assert line.startswith("--dem: dem.tif is no elevation raster read here")
    files.write_dem(here / "dem.tif")
    (line,) = refused(capsys, *words_of(stand="stand.gpkg:woods"))
    assert line == '--stand: stand.gpkg has no layer "woods"; it has stand'


def test_a_list_without_marks_is_told_how_to_say_it(capsys: Out, here: Path) -> None:
    head = "tree_id,x,y,species,dbh_in"
    row = ("1", f"{files.WEST + 200}", f"{files.NORTH - 200}", "oak", "14")
    files.write_trees(here / "trees.csv", [row], head=head)
    (line,) = refused(capsys, *words_of(trees="trees.csv", list="all"))
    assert "or --list marked where the list holds the marked trees only" in line
    assert run(capsys, *words_of(trees="trees.csv", list="marked"))[0] == 0


# ---- the folder -------------------------------------------------------------------------


def test_an_area_that_is_there_is_never_written_over(capsys: Out, here: Path) -> None:
    (here / "lot").mkdir()
    file = here / "lot" / "area.toml"
    file.write_text("mine", encoding="utf-8")
    for words in (words_of(), ["start", "lot"], ["start", "lot/area.toml"]):
        (line,) = refused(capsys, *words)
        assert line == (
            "lot has a file area.toml already, and it is never written over; change that one, or "
            "name another folder"
        )
    assert file.read_text(encoding="utf-8") == "mine"
    file.unlink()
    file.symlink_to("nowhere")
    assert "has a file area.toml already" in refused(capsys, *words_of())[0]
    assert file.is_symlink() and not file.exists()


def test_a_file_in_place_of_the_folder_and_no_folder_above(capsys: Out, here: Path) -> None:
    (here / "lot").write_text("mine", encoding="utf-8")
    assert refused(capsys, *words_of()) == ["lot is a file; name a folder"]
    words = words_of()
    words[1] = "no/lot"
    assert refused(capsys, *words) == ["no/lot: the folder above it does not exist; make it first"]


def test_a_folder_one_may_not_write_in(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:  # root may write anywhere
        patched.setattr(os, "access", lambda *_: False)
        line = f"{here}: you may not write there; name a folder of your own"
        assert refused(capsys, *words_of()) == [line]
        (here / "lot").mkdir()
        line = "lot: you may not write there; name a folder of your own"
        assert refused(capsys, *words_of()) == [line]


@pytest.mark.slow
def test_a_folder_that_is_truly_read_only(here: Path) -> None:
    (here / "lot").mkdir()
    (here / "lot").chmod(0o555)
    for parent in (here, *here.parents):  # another user must get this far
        if parent.stat().st_uid == os.getuid() and parent.name.startswith(("pytest", "test_")):
            parent.chmod(0o755)
    code = f"""
import os
import layout.commands.new_folder, layout.errors, layout.settings.loading
from layout.commands import main
if os.getuid() == 0:  # nothing is read-only to root
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
print(main({words_of()!r}))
"""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, encoding="utf-8", check=False
    )
    assert done.stdout == "2\n", done.stderr
    assert done.stderr == "skidway: lot: you may not write there; name a folder of your own\n"
    (here / "lot").chmod(0o755)
    assert not list((here / "lot").iterdir())


@pytest.mark.parametrize("there", [False, True])
def test_what_cannot_be_written_whole_is_not_written(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch, there: bool
) -> None:
    if there:
        (here / "lot").mkdir()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, _, err = run(capsys, *words_of())
    assert status == 2
    assert err == (
        "skidway: lot: cannot be written (no space left on device); nothing was left there\n"
    )
    assert (here / "lot").exists() == there
    assert not there or not list((here / "lot").iterdir())


def test_one_that_appears_meanwhile_stays(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def other(_: int) -> None:
        (here / "lot" / "area.toml").write_text("theirs", encoding="utf-8")

    monkeypatch.setattr(os, "fsync", other)
    status, _, err = run(capsys, *words_of())
    assert status == 2
    assert "has a file area.toml already" in err
    assert [path.name for path in (here / "lot").iterdir()] == ["area.toml"]
    assert (here / "lot" / "area.toml").read_text(encoding="utf-8") == "theirs"


# ---- the questions ----------------------------------------------------------------------


def test_a_whole_conversation(capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    at_keyboard(
        monkeypatch,
        "nowhere.tif", "dem.tif", "stand.gpkg",
        "", "99", "mont", "1, none", "none yet",
        "furlongs", "2",
        "CUBIC",
        "tax",
        "y", "unknown", "maybe", "n",
    )  # fmt: skip
    status, out, err = run(capsys, "start", "lot")
    assert status == 0
    assert 'that name: "nowhere.tif": no such file' in err
    assert "That one must be answered." in err
    assert f"there is no number 99; 1 to {len(rules_offered())}" in err
    assert 'there is no rule "mont"; known are ' in err
    assert "none stands alone" in err
    assert '"furlongs" is none of us, metric' in err
    assert '"maybe" is none of yes, no, ?' in err
    for rule in rules_offered():
        assert f"{rule.name}: {rule.jurisdiction}; {rule.status}; " in err
    settings, _ = load_settings(here / "lot" / "area.toml")
    assert settings.area.units == "metric"
    assert settings.water.rules == ()
    assert settings.timber.rule == "cubic"
    assert settings.property.source == "tax_map"
    gear = settings.tractor
    assert (gear.rollover_frame, gear.belt, gear.screen) == ("yes", "?", "no")
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    assert "NO LOCAL RULE CHOSEN" in line_with(text, "rules")
    assert line_with(text, "belt").endswith("NOT KNOWN: find out before winching.")
    assert "NOT KNOWN" not in line_with(text, "rollover_frame")
    assert "caution No local rule chosen: the larger of 50 ft" in out
    assert "stop    The tractor is not known to have a seat belt" in out


def test_what_is_said_on_the_command_line_is_not_asked(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_keyboard(monkeypatch, "4")
    status, _, err = run(capsys, *words_of(property_source=None))
    assert status == 0
    assert err.count("> ") == 1
    assert load_settings(here / "lot" / "area.toml")[0].property.source == "walked"


def test_several_rules_by_number_and_file(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (Path("bad.toml"), Path("own.toml"))
    good = """format = 1
name = "own"
title = "Ours"
jurisdiction = "here"
local_name = "strip"
status = "rule"
[[row]]
water_class = "perennial"
a_ft = 70
measured = "map"
status = "rule"
source = "town book"
confirmed = true
"""
    text[0].write_text(good.replace("a_ft = 70", "a_ft = -1"), encoding="utf-8")
    text[1].write_text(good, encoding="utf-8")
    number = [rule.name for rule in rules_offered()].index("montana") + 1
    at_keyboard(monkeypatch, "bad.toml", f"{number}, own.toml")
    status, _, err = run(capsys, *words_of(rules=None))
    assert status == 0
    assert "bad.toml, line 9 (row 1): a_ft = -1 must be 0 to 5000" in err
    settings, _ = load_settings(here / "lot" / "area.toml")
    assert settings.water.rules == ("montana", (here / "own.toml").as_posix())


def test_the_stand_in_is_no_rule_to_choose(capsys: Out, here: Path) -> None:
    assert {rule.name for rule in rules_offered()} == set(rule_names()) - {"no-rule-chosen"}
    (line,) = refused(capsys, *words_of(rules="no-rule-chosen"))
    assert line == f"--rules: no-rule-chosen is a stand-in and no rule of any place; say {NONE_YET}"
    (line,) = refused(capsys, *words_of(), "--rules", "none")
    assert line == "--rules: none stands alone, or leave it out"


def test_a_file_asked_for_that_cannot_be_used_is_asked_for_again(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_keyboard(monkeypatch, "trees.csv", "stand.gpkg")
    status, _, err = run(capsys, *words_of(stand=None))
    assert status == 0
    assert "--stand: trees.csv is of no kind read here" in err
    assert err.count("Which file is the outline of the stand") == 2


@pytest.mark.parametrize("answers", [0, 1, 4])
def test_the_end_of_the_input_writes_nothing(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch, answers: int
) -> None:
    at_keyboard(monkeypatch, *["none", "us", "doyle", "survey", "yes"][:answers])
    options = dict.fromkeys(["rules", "units", "log_rule", "property_source", "frame"])
    status, _, err = run(capsys, *words_of(**options))
    assert status == 2
    assert err.splitlines()[-1] == (
        "skidway: the input ended before all was answered; nothing was written"
    )
    assert not (here / "lot").exists()


def test_an_interrupt_writes_nothing(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_keyboard(monkeypatch)
    typed = iter(["none", "us"])

    def pressed() -> str:
        try:
            return next(typed)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr(builtins, "input", pressed)
    options = dict.fromkeys(["rules", "units", "log_rule"])
    status, _, err = run(capsys, *words_of(**options))
    assert status == 130
    assert err.splitlines()[-1] == "skidway: interrupted; nothing was replaced"
    assert not (here / "lot").exists()


def test_nobody_is_asked_where_one_side_is_no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    at_keyboard(monkeypatch)
    assert at_terminal()
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False)
    assert not at_terminal()
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    assert not at_terminal()
    monkeypatch.setattr(sys, "stdin", None)
    assert not at_terminal()


def test_the_tree_list_is_asked_about(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_keyboard(monkeypatch, "m")
    assert run(capsys, *words_of(trees="trees.csv"))[0] == 0
    assert load_settings(here / "lot" / "area.toml")[0].stand.list == "marked"


@pytest.mark.parametrize(
    ("answer", "word"),
    [("scribner", "scribner"), ("2", "scribner"), ("scr", "scribner"), ("D", "doyle")],
)
def test_an_answer_by_word_number_or_beginning(answer: str, word: str) -> None:
    assert read_choice(answer, ("international-quarter", "scribner", "doyle")) == word


@pytest.mark.parametrize("answer", ["0", "4", "s", "-1", "²", "survey x"])
def test_an_answer_that_could_be_two_or_none_is_refused(answer: str) -> None:
    with pytest.raises(InputError, match="is none of"):
        read_choice(answer, ("survey", "scribner", "doyle"))


# ---- the unit of the elevations ---------------------------------------------------------


def line_with(text: str, key: str) -> str:
    """Give the line of a key with the remark that goes on below it."""
    rows = text.splitlines()
    at = next(i for i, row in enumerate(rows) if re.match(rf"(# )?{key} = ", row))
    below = itertools.takewhile(lambda row: re.match(r"# {20,}#", row), rows[at + 1 :])
    return " ".join([rows[at], *(row.strip("# ") for row in below)])


def test_a_unit_the_raster_says_is_shown_and_not_set(capsys: Out, here: Path) -> None:
    files.write_dem(here / "dem.tif", files.slope() / 0.3048, unit="ft")
    status, out, _ = run(capsys, *words_of())
    assert status == 0
    assert "unit of the elevations: feet" in out
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    assert line_with(text, "elevation_unit").startswith('# elevation_unit = "ft"')
    assert line_with(text, "elevation_unit").endswith("This one says feet.")


def test_a_unit_in_doubt_is_told_of_and_left_out(capsys: Out, here: Path) -> None:
    steep = np.float32(files.slope(rise=0.1) / 0.3048 * 3)
    files.write_dem(here / "dem.tif", steep, unit="")
    status, out, _ = run(capsys, *words_of())
    assert status == 0
    assert "unit of the elevations: not said" in out
    assert "caution dem.tif does not say its unit, and if that is m, half the stand" in out
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    assert line_with(text, "elevation_unit").startswith("# elevation_unit")
    assert "IN DOUBT: dem.tif does not say its unit, and if" in line_with(text, "elevation_unit")


@pytest.mark.parametrize(("answer", "unit"), [("ft", "ft"), ("3", "us-ft"), ("?", None)])
def test_a_unit_in_doubt_is_asked_for(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch, answer: str, unit: str | None
) -> None:
    files.write_dem(here / "dem.tif", unit="")
    at_keyboard(monkeypatch, answer)
    assert run(capsys, *words_of())[0] == 0
    assert load_settings(here / "lot" / "area.toml")[0].ground.elevation_unit == unit


def test_a_unit_that_is_given_is_not_asked_for(
    capsys: Out, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files.write_dem(here / "dem.tif", unit="")
    at_keyboard(monkeypatch)
    assert run(capsys, *words_of(elevation_unit="m"))[0] == 0
    assert load_settings(here / "lot" / "area.toml")[0].ground.elevation_unit == "m"


# ---- how files are named ----------------------------------------------------------------


def test_files_in_the_folder_are_named_from_it_others_in_full(here: Path) -> None:
    lot = here / "lot"
    lot.mkdir()
    (lot / "maps").mkdir()
    (lot / "maps" / "a.gpkg").touch()
    (lot / "b.gpkg").touch()
    assert named_from(Path("lot"), "lot/maps/a.gpkg:stand", "x:") == "maps/a.gpkg:stand"
    assert named_from(lot, str(lot / "b.gpkg"), "x:") == "b.gpkg"
    assert named_from(lot, "b.gpkg", "x:") == "b.gpkg"  # as it is said in that folder
    assert named_from(lot, "dem.tif", "x:") == (here / "dem.tif").as_posix()
    (here / "b.gpkg").touch()
    assert named_from(lot, "b.gpkg", "x:") == (here / "b.gpkg").as_posix()  # here comes first
    with pytest.raises(InputError, match=r'^x: "c.gpkg": no such file in '):
        named_from(lot, "c.gpkg", "x:")
    with pytest.raises(InputError, match="is a web address"):
        named_from(lot, "https://example.org/dem.tif", "x:")
    with pytest.raises(InputError, match="holds signs that are no text"):
        named_from(lot, "a\udcff.tif", "x:")


# ---- the file ---------------------------------------------------------------------------


def begun(system: str = "us", **given: dict[str, object]) -> Begun:
    tables: dict[str, dict[str, object]] = {
        "area": {"name": "North lot", "units": system},
        "ground": {"dem": "dem.tif"},
        "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"},
    }
    for table, keys in given.items():
        tables[table] = {**tables.get(table, {}), **keys}
    return Begun(given=tables, shown={}, notes={})


def in_force(text: str) -> dict[str, object]:
    return tomllib.loads(text)


def uncommented(text: str) -> str:
    """Put every key in force that has a value to show."""
    return re.sub(rf"^# (?=[a-z_0-9]+ = (?!{re.escape(OPEN)}))", "", text, flags=re.MULTILINE)


def test_it_gives_back_what_was_said_and_nothing_else(capsys: Out, here: Path) -> None:
    assert run(capsys, *words_of(trees="trees.csv", list="all", name="Upper lot"))[0] == 0
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    said = {table: keys for table, keys in in_force(text).items() if keys}
    assert {t: k for t, k in said.items() if not isinstance(k, dict) or any(k.values())} == {
        "format": 1,
        "area": {"name": "Upper lot", "units": "us"},
        "ground": {"dem": (here / "dem.tif").as_posix()},
        "property": {"source": "tax_map"},
        "stand": {
            "boundary": (here / "stand.gpkg").as_posix(),
            "trees": (here / "trees.csv").as_posix(),
            "list": "all",
        },
        "water": {"rules": ["slope-50-4"]},
        "timber": {"rule": "doyle", "min_sawlog_dbh": {}},
        "tractor": {"rollover_frame": "yes", "belt": "?", "screen": "no"},
    }
    assert load_settings(here / "lot" / "area.toml")[0].tractor.belt == "?"


@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_key_stands_in_it_once_with_its_words(system: str) -> None:
    text = area_text(begun(system))
    tables = re.split(r"^\[(.+)\]$", text, flags=re.MULTILINE)
    found: dict[str, list[str]] = {"": re.findall(r"^(?:# )?(format) = ", tables[0], re.MULTILINE)}
    for table, body in zip(tables[1::2], tables[2::2], strict=True):
        found[table] = re.findall(r"^(?:# )?([a-z_0-9]+) = ", body, re.MULTILINE)
    rows = key_rows()
    wanted: dict[str, list[str]] = {}
    for row in rows:
        wanted.setdefault(row.table, []).append(row.key)
    assert {table: sorted(keys) for table, keys in found.items()} == {
        table: sorted(keys) for table, keys in wanted.items()
    }
    flat = re.sub(r"\n#? +#", "", text)
    for row in rows:
        if row.table:
            assert re.sub(r"\s+", " ", row.text) in re.sub(r"\s+", " ", flat), row
    assert max(len(line) for line in text.splitlines()) <= WIDTH


def test_what_comes_from_memory_is_marked_unverified() -> None:
    flat = re.sub(r"\n#? +#", "", area_text(begun())).splitlines()
    for row in key_rows():
        here = [line for line in flat if re.match(rf"(# )?{row.key} = ", line) and row.text in line]
        if row.table and here:
            assert any(("(unverified)" in line) == ("unverified" in row.source) for line in here)


def numbers(value: object) -> object:
    """Give a dumped model with its sizes apart from its words."""
    if isinstance(value, dict):
        return {key: numbers(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return type(value)(numbers(inner) for inner in value)
    if isinstance(value, float):
        return pytest.approx(value, rel=ROUNDING, abs=1e-9)
    return value


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("preset", ["compact", "mid", "large"])
def test_with_every_comment_in_force_it_is_the_same_area_but_for_rounding(
    system: str, preset: str
) -> None:
    text = area_text(begun(system, tractor={"preset": preset}, property={"source": "survey"}))
    plain, _ = settings_from(in_force(text))
    whole, _ = settings_from(in_force(uncommented(text)))
    assert uncommented(text).count("\n# ") < text.count("\n# ")
    assert whole.model_dump() == numbers(plain.model_dump())
    assert len(whole.winch.model_fields_set) > 10
    assert whole.tractor.filled == () and len(plain.tractor.filled) == 13


def test_defaults_written_in_the_users_own_units_are_letter_for_letter_those_of_the_settings() -> (
    None
):
    text = area_text(begun("us"))
    for line in ('# cable = "165 ft"', '# spur_length = "400 ft"', '# cross_slope = "20 %"'):
        assert line in text
    text = area_text(begun("metric"))
    # 165 ft = 50.29 m, 400 ft = 121.9 m, 0.15 acre = 607 m2, 10 in = 25.4 cm, 4 t = 39.2 kN
    for line in (
        '# cable = "50 m"', '# spur_length = "120 m"', '# area = "600 m^2"',
        '# top_diameter = "25 cm"', '# pull_rating = "40 kN"', '# cross_slope = "20 %"',
    ):  # fmt: skip
        assert line in text


def test_what_is_said_stands_first_in_its_table_and_the_asked_tables_first_in_the_file() -> None:
    text = area_text(
        begun(
            property={"source": "marked"}, water={"rules": []}, timber={"rule": "cubic"},
            tractor={"belt": "yes"},
        )
    )  # fmt: skip
    tables = re.findall(r"^\[(\w+)\]$", text, re.MULTILINE)
    assert tables[:8] == [
        "area", "ground", "property", "stand", "water", "timber", "tractor", "winch"
    ]  # fmt: skip
    for table in tables:
        body = re.split(rf"^\[{table}\]$", text, flags=re.MULTILINE)[1].split("\n\n")[0]
        lines = [line for line in body.splitlines() if re.match(r"(# )?\w+ = ", line)]
        kept = [line.startswith("#") for line in lines]
        assert kept == sorted(kept)


def test_a_preset_that_is_chosen_is_in_force_and_gives_its_own_sizes(
    capsys: Out, here: Path
) -> None:
    assert run(capsys, *words_of(preset="compact"))[0] == 0
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    assert '\npreset = "compact"' in text
    assert '\n# mass = "4600 lb"' in text  # 2.1 t = 4,630 lb
    assert '\n# mass = "2.1 t"' in area_text(begun("metric", tractor={"preset": "compact"}))
    settings, findings = load_settings(here / "lot" / "area.toml")
    assert settings.tractor.preset == "compact"
    assert any(f.code == "tractor_preset" and f.level == "unknown" for f in findings)


def test_an_error_line_follows_the_source_of_the_line() -> None:
    for source, feet in (("survey", 2), ("marked", 5), ("tax_map", 30), ("walked", 30)):
        text = area_text(begun(property={"source": source}))
        assert f'\n# error = "{feet} ft"' in text


@given(st.text(max_size=40), st.text(max_size=40))
@hypothesis_settings(max_examples=40)
def test_any_text_comes_back_as_it_was_or_is_refused(name: str, file: str) -> None:
    said = begun(area={"name": name}, ground={"keep_out": file})
    if any(ord(sign) < 32 and sign not in "\n\t" for sign in name + file) or (
        file.lstrip().lower().startswith("/vsi") or name.lstrip().lower().startswith("/vsi")
    ):
        with pytest.raises(InputFaults, match=r"area\.toml \[(area|ground)\]"):
            area_text(said)
        return
    text = area_text(said)
    assert in_force(text)["area"]["name"] == name  # type: ignore[index]
    assert in_force(text)["ground"]["keep_out"] == file  # type: ignore[index]
    settings_from(in_force(text))


@pytest.mark.parametrize("text", ["", "a\\b", 'say "x"', "\x7f", "\u2028", "é\t\n", "#1 = 2"])
def test_a_text_is_written_as_toml_reads_it(text: str) -> None:
    assert tomllib.loads(f"key = {toml_of([text, True, 2.5])}") == {"key": [text, True, 2.5]}


@given(
    st.sampled_from(sorted(units.KINDS)),
    st.floats(1e-3, 1e5),
    st.sampled_from(["us", "metric"]),
)
def test_a_size_in_own_units_reads_back_within_the_rounding(
    kind: str, value: float, system: units.Units
) -> None:
    text = size_in_own_units(value, kind, system)
    assert units.read(text, kind).value == pytest.approx(value, rel=ROUNDING)
    assert in_own_units(text, kind, system) == text


# ---- and then ---------------------------------------------------------------------------


def test_the_next_steps_are_said_and_check_takes_the_area(capsys: Out, here: Path) -> None:
    status, out, _ = run(capsys, *words_of(frame="yes", belt="yes", screen="yes"))
    assert status == 0
    steps = out[out.index("Next:") :].splitlines()
    assert steps[1].startswith(f"1. Put the trees into {Path('lot') / 'trees.csv'}, one a line: ")
    assert steps[-2:] == ["4. skidway check lot", "5. skidway plan lot"]
    text = (here / "lot" / "area.toml").read_text(encoding="utf-8")
    assert line_with(text, "trees").startswith('trees = "trees.csv"')
    assert "NOT THERE YET" in line_with(text, "trees")
    assert refused(capsys, "check", "lot") == [
        f'area.toml [stand] trees: "trees.csv": no such file in {here / "lot"}'
    ]
    (here / "trees.csv").rename(here / "lot" / "trees.csv")
    status, out, err = run(capsys, "check", "lot")
    assert (status, err) == (0, "")
    assert out.startswith("lot: stand of ") and "3 trees (2 marked)" in out.splitlines()[0]


def test_a_folder_of_ones_files_becomes_an_area_that_check_takes(
    capsys: Out, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lot = tmp_path / "Lower lot"
    lot.mkdir()
    for name in ("dem.tif", "area.gpkg", "trees.csv"):
        (lot / name).write_bytes((METRIC / name).read_bytes())
    monkeypatch.chdir(lot)
    answers = ANSWERS | {"--units": "metric", "--belt": "yes", "--screen": "yes"}
    status, out, _ = run(
        capsys, "start", ".", "--dem", "dem.tif", "--stand", "area.gpkg:stand",
        "--trees", "trees.csv", "--list", "all", "--elevation-unit", "m",
        *(word for pair in answers.items() for word in pair),
    )  # fmt: skip
    assert status == 0
    assert out.splitlines()[1].startswith("Stand: area.gpkg:stand, 16.67 acre = 6.74 ha")
    assert "1. Open area.toml and fill in [tractor] and [winch]" in out
    settings, _ = load_settings(lot / "area.toml")
    assert settings.area.name == "Lower lot"
    assert (settings.ground.dem, settings.stand.boundary) == ("dem.tif", "area.gpkg:stand")
    status, out, _ = run(capsys, "check", ".")
    assert status == 0
    assert "320 trees (20 marked)" in out
