"""``skidway trees``: write a tree list from the waypoints of a phone."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.commands.asking import ask, at_terminal, choice_lines, read_choice
from layout.commands.terminal import lines_of, say

if TYPE_CHECKING:
    from layout.units import Units
    from layout.waypoint_trees import Said

LONGEST_SHOWN = 60  # signs of a note in a line
UNITS = {"us": "inches, feet", "metric": "centimetres, metres"}
LISTS = {
    "marked": "only trees to cut: mark is cut where the note does not say leave",
    "all": "other trees too: mark stays blank where the note does not say cut or leave",
}
KEEP = {
    "both": "they are two trees",
    "first": "one tree, keep the first dot",
    "second": "one tree, keep the second dot",
    "all": "keep both of this pair and of every further one",
}


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "trees",
        help="write a tree list (CSV) from a phone's waypoints (GPX, KML, KMZ)",
        description='Read the waypoints of a phone, with notes like "37 RO 18 2" (number, species, '
        "DBH, 16-ft logs), and write them as a tree list. At a terminal it asks what is not said; "
        "elsewhere a diameter without unit is taken as inches, a mark not said stays blank, and "
        "both are told.",
    )
    words.add_argument("waypoints", metavar="WAYPOINTS", type=Path, help="the phone's export")
    words.add_argument(
        "--out", metavar="FILE", type=Path, default=Path("trees.csv"),
        help="the list to write (trees.csv here); never over a file that is there",
    )  # fmt: skip
    words.add_argument("--units", choices=UNITS, help="of diameters without unit, and of the list")
    words.add_argument("--list", choices=LISTS, help="what the phone holds: only marked trees, all")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Read the waypoints, ask, write the list, say what was understood."""
    from layout.commands.new_folder import write_new
    from layout.errors import InputError
    from layout.read_waypoints import SUFFIXES, read_waypoints
    from layout.waypoint_findings import findings_of
    from layout.waypoint_table import list_text
    from layout.waypoint_trees import listen, numbered

    source, out = words.waypoints, words.out
    _check_out(out)
    if source.suffix.lower() not in SUFFIXES:
        raise InputError(
            f"{source}: a phone's waypoints are read from {', '.join(SUFFIXES)}; a table (CSV) "
            "needs no conversion, name it under [stand] trees"
        )
    if not source.is_file():
        raise InputError(f"{source}: {'is a folder' if source.is_dir() else 'no such file'}")
    read = read_waypoints(source)
    units = _units(words.units, listen(read.points, words.units or "us"))
    said = listen(read.points, units)
    said, dropped, pairs = _without_doubles(said, units)
    marked = _all_cut(words.list)
    named, made_up = numbered(said)
    text = list_text(named, units, all_cut=marked)
    write_new(out.parent, out.name, text)
    print(f"Written: {out}")
    for line in _summary(named, read.name, dropped, pairs):
        print(line)
    told = {"waypoint_notes", "waypoint_numbers"}
    found = findings_of(named, read, units, made_up)
    for line in lines_of(tuple(finding for finding in found if finding.code not in told)):
        print(line)
    for line in made_up:
        print(f"id made up: {line}")
    return 0


def _check_out(out: Path) -> None:
    """See that the list can be written before anything is asked."""
    import os

    from layout.errors import InputError, OutputError

    if os.path.lexists(out):
        raise InputError(f"--out {out} is there already and is never written over; name another")
    if not out.parent.is_dir():
        raise OutputError(f"--out {out}: its folder does not exist; make it first")
    if not os.access(out.parent, os.W_OK | os.X_OK):
        raise OutputError(f"--out {out}: you may not write there; name a folder of your own")


def _units(given: "Units | None", said: "list[Said]") -> "Units":
    """Settle the units of bare diameters; they matter only where one is bare."""
    if given is not None:
        return given
    bare = [one for one in said if one.note.bare]
    if bare and at_terminal():
        shown = ", ".join(_called(one) for one in bare[:3])
        answer = ask(
            choice_lines(f"Which units are the diameters in, as in {shown}?", UNITS),
            lambda text: read_choice(text, tuple(UNITS)),
        )
        return "us" if answer == "us" else "metric"
    if bare:
        one = len(bare) == 1
        what = "diameter has no unit and was" if one else "diameters have no unit and were"
        say(f"{len(bare)} {what} taken as inches; say --units metric where that is centimetres")
    return "us"


def _all_cut(given: str | None) -> bool:
    """Settle whether every tree is marked to cut."""
    if given is None and at_terminal():
        given = ask(
            choice_lines("Which trees does the phone hold?", LISTS),
            lambda text: read_choice(text, tuple(LISTS)),
        )
    if given is None:
        say(
            "the column mark is blank where no note says cut or leave; say --list marked where "
            'every tree is to be cut, or add list = "marked" under [stand] of area.toml'
        )
    return given == "marked"


def _without_doubles(said: "list[Said]", units: "Units") -> "tuple[list[Said], list[Said], int]":
    """Ask about dots so near that they may be one tree; elsewhere list and keep them."""
    from layout.speech import speak_length
    from layout.waypoint_findings import CLOSE_M, doubtful_pairs, local_metres

    places = local_metres([(one.point.lon, one.point.lat) for one in said])
    pairs = doubtful_pairs(said, places)
    gone: set[int] = set()
    lines = []
    asking = at_terminal()
    for first, second, gap_m in pairs:
        if first in gone or second in gone:
            continue
        what = f"{_called(said[first])} and {_called(said[second])}"
        line = f"{what} stand {speak_length(gap_m, units)} apart"
        answer = "both"
        if asking:
            answer = ask(
                choice_lines(f"{line}: two trees, or one recorded twice?", KEEP),
                lambda text: read_choice(text, tuple(KEEP)),
            )
            asking = answer != "all"
        if answer == "first":
            gone.add(second)
        elif answer == "second":
            gone.add(first)
        lines.append(line)
    if pairs and not at_terminal():
        say(
            f"within {speak_length(CLOSE_M, units)} of each other, perhaps one tree recorded "
            "twice; all are kept:"
        )
        for line in lines:
            say(f"  {line}")
    kept_rows = [one for row, one in enumerate(said) if row not in gone]
    return kept_rows, [said[row] for row in sorted(gone)], len(pairs)


def _called(one: "Said") -> str:
    """Call a waypoint by its words, or by its place."""
    raw = one.raw if len(one.raw) <= LONGEST_SHOWN else one.raw[:LONGEST_SHOWN] + "..."
    return f'"{raw}"' if raw else f"waypoint {one.point.row}"


def _summary(said: "list[Said]", name: str, dropped: "list[Said]", pairs: int) -> list[str]:
    """Say how many rows were read, understood, unread, and near each other."""
    from layout.species import letters_told

    unread = [one for one in said if not one.understood]
    rows = len(said) + len(dropped)
    lines = [
        f"{rows} rows read from {name}: {len(said) - len(unread)} understood, {len(unread)} not, "
        f"{len(dropped)} left out as recorded twice",
    ]
    lines += [
        f"  not understood, written with a blank DBH: {one.tree_id}, waypoint {one.point.row}"
        + (f", {_called(one)}" if one.raw else "")
        for one in unread
    ]
    letters, _ = letters_told([one.species for one in said])
    if letters:
        lines.append(f"letters were taken so: {'; '.join(letters)}")
    what = "pair" if pairs == 1 else "pairs"
    lines.append(f"{pairs} {what} within 10 ft (3 m) that may be one tree recorded twice")
    return lines
