"""``skidway start``: begin an area, from an elevation raster and the stand's outline."""

import argparse
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
    UNITS,
    ask_rules,
    read_rules,
)
from layout.commands.start_lines import TREES_TO_COME, found_lines, next_steps
from layout.commands.terminal import log_to_stderr, say
from layout.unit_names import UNIT_WORDS

if TYPE_CHECKING:
    from layout.first_look import FirstLook
    from layout.new_area import Begun

# Files by option: what they hold, and where area.toml names them.
FILES = {
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
DEM = "--dem"
DEM_WHAT = "elevation raster, or the https address of one"


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "start",
        help="begin an area: write its area.toml from an elevation raster and a stand",
        description="Write a commented area.toml into FOLDER. At a terminal it asks for what is "
        "missing; elsewhere all that must be said is given here.",
    )
    words.add_argument("folder", metavar="FOLDER", type=Path, help="the area's folder, old or new")
    must = words.add_argument_group("what must be said, here or at the terminal")
    must.add_argument(
        DEM,
        metavar="FILE",
        action="append",
        help=f"{DEM_WHAT}; give it again for neighbouring tiles",
    )
    must.add_argument("--stand", metavar="FILE", help=FILES["--stand"][0])
    must.add_argument(
        RULES,
        metavar="RULE",
        action="append",
        help='rule for water strips: a name of "skidway rules", a .toml file of your own, or none '
        "where none is chosen yet; give it again for a second, the stricter wins",
    )
    for question in MUST:
        must.add_argument(question.option, metavar="WORD", help=question.help)
    more = words.add_argument_group("what may be said")
    for option, (what, _, _) in FILES.items():
        if option != "--stand":
            more.add_argument(option, metavar="FILE", help=what)
    for question in (TREE_LIST, ELEVATION_UNIT, PRESET):
        more.add_argument(question.option, metavar="WORD", help=question.help)
    more.add_argument("--crs", metavar="EPSG:CODE", help="CRS of files that do not say their own")
    more.add_argument("--name", help="name of the job (the folder's name)")
    words.add_argument("--offline", action="store_true", help="open no web address")
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
    dem, files, seen = _looked(words, folder, answers)
    for line in found_lines(dem, files, seen):
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

    text = area_text(_begun(name, words.crs or "", dem, files, answers, seen))
    file = write_new(folder, NAME_OF_FILE, text)
    print(f"\nWritten: {file}")
    for line in next_steps(folder, file, files):
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
    lines = [f"  {DEM} FILE ({DEM_WHAT})"] if words.dem is None else []
    lines += [f"  --stand FILE ({FILES['--stand'][0]})"] if words.stand is None else []
    lines += [f"  {RULES_FORM}"] if words.rules is None else []
    asked = (*MUST, TREE_LIST) if words.trees is not None else MUST
    return lines + [f"  {q.form}" for q in asked if _option(words, q.option) is None]


def _named(words: argparse.Namespace, folder: Path) -> tuple[tuple[str, ...], dict[str, str]]:
    """Name the elevations and the other files of the command line as area.toml will."""
    from layout.commands.file_names import named_from
    from layout.errors import InputError, InputFaults

    files: dict[str, str] = {}
    dem: list[str] = []
    faults: list[str] = []
    said = [(DEM, text) for text in words.dem or ()]
    said += [(option, _option(words, option)) for option in FILES]
    for option, text in said:
        if text is None:
            continue
        try:
            name = named_from(folder, text, f"{option}:", web=option == DEM)
        except InputError as error:
            faults.append(str(error))
            continue
        if option == DEM:
            dem.append(name)
        else:
            files[option] = name
    if faults:
        raise InputFaults(faults)
    return tuple(dem), files


def _looked(
    words: argparse.Namespace, folder: Path, answers: dict[str, Any]
) -> "tuple[tuple[str, ...], dict[str, str], FirstLook]":
    """Read the files as `check` will; ask for those that must be there and are not named."""
    from layout.commands.file_names import named_from
    from layout.errors import InputError
    from layout.first_look import Ways, look
    from layout.settings.ground_tables import StandTable

    given_dem, given = _named(words, folder)
    if "--trees" in given and TREE_LIST.option not in answers:
        answers[TREE_LIST.option] = TREE_LIST.ask()
    unit = answers.get(ELEVATION_UNIT.option, NOT_KNOWN)
    ways = Ways(
        crs=words.crs or "",
        elevation_unit="" if unit == NOT_KNOWN else unit,
        full_list=answers.get(TREE_LIST.option) == "all",
        position_error_m=StandTable.model_fields["position_error_m"].default,
        units=answers.get(UNITS.option, "metric"),
        offline=words.offline,
    )
    while True:
        dem, files = given_dem, dict(given)
        if not dem:
            which = [f"Which file is the {DEM_WHAT}?"]
            dem = (ask(which, lambda text: named_from(folder, text, "that name:", web=True)),)
        if "--stand" not in files:
            which = [f"Which file is the {FILES['--stand'][0]}?"]
            files["--stand"] = ask(which, lambda text: named_from(folder, text, "that name:"))
        try:
            return dem, files, look(folder, dem, files, ways)
        except InputError as error:
            if given_dem and "--stand" in given:
                raise
            for line in str(error).splitlines():
                say(line)


def _begun(
    name: str,
    crs: str,
    dem: tuple[str, ...],
    files: dict[str, str],
    answers: dict[str, Any],
    seen: "FirstLook",
) -> "Begun":
    """Gather what goes into the file."""
    from layout.new_area import Begun

    given: dict[str, dict[str, Any]] = {"area": {"name": name}, "ground": {}}
    given["ground"]["dem"] = dem[0] if len(dem) == 1 else list(dem)
    notes: dict[str, str] = {}
    shown: dict[str, Any] = {}
    for option, text in files.items():
        _, table, key = FILES[option]
        given.setdefault(table, {})[key] = text
    if "trees" not in given["stand"]:
        given["stand"]["trees"] = TREES_TO_COME
        notes["stand.trees"] = "NOT THERE YET: put the list there, or name yours."
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
