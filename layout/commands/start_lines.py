"""What `start` says: what it found in the files, and what comes next."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from layout.commands.terminal import lines_of
from layout.unit_names import UNIT_WORDS

if TYPE_CHECKING:
    from layout.first_look import FirstLook

TREES_TO_COME = "trees.csv"


def found_lines(dem: tuple[str, ...], files: dict[str, str], seen: "FirstLook") -> list[str]:
    """Say what the files hold."""
    from layout.speech import speak_area

    unit = UNIT_WORDS.get(seen.unit, "not said")
    stand = " = ".join(speak_area(seen.stand_m2, units) for units in ("us", "metric"))
    lines = [
        f"Elevations: {', '.join(dem)}, cells of {seen.cell_m:g} m, {seen.crs.name}; "
        f"unit of the elevations: {unit}",
        f"Stand: {files['--stand']}, {stand}, elevations throughout it",
    ]
    if "--trees" in files:
        lines.append(f"Trees: {files['--trees']}, {seen.trees} listed, {seen.marked} marked to cut")
    doubts = (seen.doubt,) if seen.doubt is not None else ()
    return lines + lines_of((*seen.findings, *doubts))


def next_steps(folder: Path, file: Path, files: dict[str, str]) -> list[str]:
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
        listed = shlex.quote(str(folder / TREES_TO_COME))
        steps += [
            f"Put the trees into {listed}, one a line: tree_id, x and y (or lon and lat), species, "
            "dbh_in or dbh_cm, mark (cut or leave). From a phone's waypoints: "
            f"skidway trees WAYPOINTS --out {listed}"
        ]
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
