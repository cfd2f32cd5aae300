"""``skidway start``: begin an area, from an elevation raster and the stand's outline."""

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.commands.asking import ask, at_terminal
from layout.commands.questions import (
    ELEVATION_UNIT,
    MUST,
    NOT_KNOWN,
    PRESET,
    RULES,
    RULES_FORM,
    TREE_LIST,
    ask_rules,
    read_rules,
)
from layout.commands.terminal import lines_of, log_to_stderr, say
from layout.unit_names import UNIT_WORDS

if TYPE_CHECKING:
    from layout.first_look import FirstLook
    from layout.new_area import Begun

# Files by option: what they hold, and where area.toml names them.
FILES = {
    "--dem": ("elevation raster", "ground", "dem"),
    "--stand": (
        "outline of the stand: a layer of polygons, or a walked track",
        "stand",
        "boundary",
    ),
    "--trees": ("tree list: a table, a point layer or phone waypoints", "stand", "trees"),
    "--water": ("layer of streams, ponds, wetlands, springs and wells", "water", "features"),
    "--property-line": ("layer of the property line", "property", "line"),
    "--access-road": ("lines of the road trucks use", "ground", "access_road"),
    "--hazards": ("layer of wires, pipes, wells, roads, houses", "access", "hazards"),
}
MUST_FILES = ("--dem", "--stand")
TREES_TO_COME = "trees.csv"


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "start",
        help="begin an area: write its area.toml from an elevation raster and a stand",
        description="Write a commented area.toml into FOLDER. At a terminal it asks for what is "
        "missing; elsewhere --dem, --stand, --rules and the choices below must be given.",
    )
    words.add_argument("folder", metavar="FOLDER", type=Path, help="the area's folder, old or new")
    for option, (what, _, _) in FILES.items():
        words.add_argument(option, metavar="FILE", help=what)
    words.add_argument(
        RULES,
        metavar="RULE",
        action="append",
        help='rule for water strips: a name of "skidway rules", a .toml file of your own, or none '
        "where none is chosen yet; give it again for a second, the stricter wins",
    )
    for question in MUST:
        words.add_argument(question.option, metavar="WORD", help=", ".join(question.words))
    for question, what in (
        (TREE_LIST, "what the tree list holds, needed with --trees"),
        (ELEVATION_UNIT, "unit of the elevations, where the raster does not say"),
        (PRESET, "size of tractor that stands in for what is not known of yours"),
    ):
        known = ", ".join(question.words)
        words.add_argument(question.option, metavar="WORD", help=f"{what}: {known}")
    words.add_argument("--crs", metavar="EPSG:CODE", help="CRS of files that do not say their own")
    words.add_argument("--name", help="name of the job (the folder's name)")
    words.add_argument("-v", "--verbose", action="store_true", help="say more")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Begin an area: look at its files, ask, write area.toml."""
    log_to_stderr(verbose=words.verbose)
    from layout.commands.new_folder import check_free, write_new
    from layout.settings.loading import NAME_OF_FILE

    folder: Path = words.folder
    if folder.name == NAME_OF_FILE:
        folder = folder.parent
    check_free(folder, NAME_OF_FILE)
    answers = _given(words, folder)
    files, seen = _looked(folder, _named(words, folder), answers, words.crs or "")
    for line in _found(files, seen):
        print(line)
    if RULES not in answers:
        answers[RULES] = ask_rules(folder)
    for question in MUST:
        if question.option not in answers:
            answers[question.option] = question.ask()
    if seen.doubt is not None and ELEVATION_UNIT.option not in answers and at_terminal():
        answers[ELEVATION_UNIT.option] = ELEVATION_UNIT.ask()
    name = words.name or folder.resolve().name or "woodlot"
    from layout.new_area import area_text

    text = area_text(_begun(name, words.crs or "", files, answers, seen))
    file = write_new(folder, NAME_OF_FILE, text)
    print(f"\nWritten: {file}")
    for line in _next_steps(folder, file, files):
        print(line)
    return 0


def _option(words: argparse.Namespace, option: str) -> Any:
    """Give what stood behind an option."""
    return getattr(words, option.lstrip("-").replace("-", "_"))


def _given(words: argparse.Namespace, folder: Path) -> dict[str, Any]:
    """Read the choices of the command line; tell of all that are wrong or missing."""
    from layout.errors import InputError, InputFaults

    answers: dict[str, Any] = {}
    faults: list[str] = []
    for question in (*MUST, TREE_LIST, ELEVATION_UNIT, PRESET):
        said = _option(words, question.option)
        if said is not None:
            try:
                answers[question.option] = question.read(said)
            except InputError as error:
                faults.append(str(error))
    if words.rules is not None:
        try:
            answers[RULES] = read_rules(words.rules, folder)
        except InputFaults as error:
            faults += error.faults
        except InputError as error:
            faults.append(str(error))
    missing = _missing(words)
    if missing and not at_terminal():
        faults += ["there is no terminal to ask at, so these are needed too:", *missing]
    if faults:
        raise InputFaults(faults)
    return answers


def _missing(words: argparse.Namespace) -> list[str]:
    """List the options that must be given and are not."""
    lines = [
        f"  {option} FILE ({FILES[option][0]})"
        for option in MUST_FILES
        if _option(words, option) is None
    ]
    lines += [f"  {RULES_FORM}"] if words.rules is None else []
    asked = (*MUST, TREE_LIST) if words.trees is not None else MUST
    return lines + [f"  {q.form}" for q in asked if _option(words, q.option) is None]


def _named(words: argparse.Namespace, folder: Path) -> dict[str, str]:
    """Name the files of the command line as area.toml will."""
    from layout.commands.file_names import named_from
    from layout.errors import InputError, InputFaults

    files: dict[str, str] = {}
    faults: list[str] = []
    for option in FILES:
        text = _option(words, option)
        if text is not None:
            try:
                files[option] = named_from(folder, text, f"{option}:")
            except InputError as error:
                faults.append(str(error))
    if faults:
        raise InputFaults(faults)
    return files


def _looked(
    folder: Path, files: dict[str, str], answers: dict[str, Any], crs: str
) -> "tuple[dict[str, str], FirstLook]":
    """Read the files as `check` will; ask for those that must be there and are not named."""
    from layout.commands.file_names import named_from
    from layout.errors import InputError
    from layout.first_look import Ways, look
    from layout.settings.ground_tables import StandTable

    if "--trees" in files and TREE_LIST.option not in answers:
        answers[TREE_LIST.option] = TREE_LIST.ask()
    unit = answers.get(ELEVATION_UNIT.option, NOT_KNOWN)
    ways = Ways(
        crs=crs,
        elevation_unit="" if unit == NOT_KNOWN else unit,
        full_list=answers.get(TREE_LIST.option) == "all",
        position_error_m=StandTable.model_fields["position_error_m"].default,
    )
    asked = [option for option in MUST_FILES if option not in files]
    while True:
        named = dict(files)
        for option in asked:
            named[option] = ask(
                [f"Which file is the {FILES[option][0]}?"],
                lambda answer: named_from(folder, answer, "that name:"),
            )
        try:
            return named, look(folder, named, ways)
        except InputError as error:
            if not asked:
                raise
            for line in str(error).splitlines():
                say(line)


def _found(files: dict[str, str], seen: "FirstLook") -> list[str]:
    """Say what the files hold."""
    from layout.speech import speak_area

    unit = UNIT_WORDS.get(seen.unit, "not said")
    stand = " = ".join(speak_area(seen.stand_m2, units) for units in ("us", "metric"))
    lines = [
        f"Elevations: {files['--dem']}, cells of {seen.cell_m:g} m, {seen.crs.name}; "
        f"unit of the elevations: {unit}",
        f"Stand: {files['--stand']}, {stand}, elevations throughout it",
    ]
    if "--trees" in files:
        lines.append(f"Trees: {files['--trees']}, {seen.trees} listed, {seen.marked} marked to cut")
    doubts = (seen.doubt,) if seen.doubt is not None else ()
    return lines + lines_of((*seen.findings, *doubts))


def _begun(
    name: str,
    crs: str,
    files: dict[str, str],
    answers: dict[str, Any],
    seen: "FirstLook",
) -> "Begun":
    """Gather what goes into the file."""
    from layout.new_area import Begun

    given: dict[str, dict[str, Any]] = {"area": {"name": name}}
    notes: dict[str, str] = {}
    shown: dict[str, Any] = {}
    for option, text in files.items():
        _, table, key = FILES[option]
        given.setdefault(table, {})[key] = text
    if "trees" not in given["stand"]:
        given["stand"]["trees"] = TREES_TO_COME
        notes["stand.trees"] = "NOT THERE YET: put the list beside this file, or name yours."
    for question in (*MUST, TREE_LIST, PRESET):
        if question.option in answers:
            given.setdefault(question.table, {})[question.key] = answers[question.option]
    if crs:
        given["area"]["crs"] = crs
    given.setdefault("water", {})["rules"] = list(answers[RULES])
    if not answers[RULES]:
        notes["water.rules"] = "NO LOCAL RULE CHOSEN: `skidway rules` lists the rules there are."
    for question in MUST:
        if answers[question.option] == NOT_KNOWN:
            notes[f"{question.table}.{question.key}"] = "NOT KNOWN: find out before winching."
    unit = answers.get(ELEVATION_UNIT.option, NOT_KNOWN)
    if unit != NOT_KNOWN:
        given["ground"]["elevation_unit"] = unit
    elif seen.unit:
        shown["ground.elevation_unit"] = seen.unit
        notes["ground.elevation_unit"] = f"This one says {UNIT_WORDS[seen.unit]}."
    elif seen.doubt is not None:
        shown["ground.elevation_unit"] = "m"
        notes["ground.elevation_unit"] = f"IN DOUBT: {seen.doubt.message}"
    notes["tractor"] = (
        "A value behind # below is that of the preset, not your machine; the plan lists each that "
        "you leave. Weigh, measure or read it from the plate, and take away the #."
    )
    notes["winch"] = "A value behind # below is an ordinary winch's, not yours."
    return Begun(given=given, shown=shown, notes=notes)


def _next_steps(folder: Path, file: Path, files: dict[str, str]) -> list[str]:
    """Say what the settings leave open, and what to do next."""
    from layout.rule_files import NO_RULE_CHOSEN, load_rule
    from layout.settings import load_settings
    from layout.strip_widths import UNVERIFIED

    settings, findings = load_settings(file)
    lines = lines_of(tuple(finding for finding in findings if finding.level != "ok"))
    if not settings.water.rules:
        lines.append(f"caution {load_rule(NO_RULE_CHOSEN).title}; {UNVERIFIED}.")
    lines = ["What it leaves open:", *lines] if lines else []
    steps = []
    if "--trees" not in files:
        steps.append(
            f"Put the trees into {folder / TREES_TO_COME}, one a line: tree_id, x and y (or lon "
            "and lat), species, dbh_in or dbh_cm, mark (cut or leave). Or name a point layer or "
            "phone waypoints under [stand] trees."
        )
    steps.append(f"Open {file} and fill in [tractor] and [winch] from scale, tape and plates.")
    undrawn = [
        what
        for option, what in (
            ("--water", "water"),
            ("--hazards", "wires and other hazards"),
            ("--property-line", "the property line"),
        )
        if option not in files
    ]
    drawn = f"{', '.join(undrawn)}; also " if undrawn else ""
    steps.append(
        f"Draw what you know as layers and name them in the file: {drawn}a landing and a main "
        "trail, which are proposed where you draw none."
    )
    area = shlex.quote(str(folder))
    steps += [f"skidway check {area}", f"skidway plan {area}"]
    return [*lines, "", "Next:", *(f"{n}. {step}" for n, step in enumerate(steps, start=1))]
