"""``skidway plan``: read an area, lay it out, write the plan."""

import argparse
from pathlib import Path
from typing import Any

from layout.commands.terminal import Progress, check_settings, log_to_stderr, notice_if_cold


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "plan",
        help="lay out trails, winch positions and water bars; write maps and tables",
        description="Read AREA, lay it out, and write the plan.",
    )
    words.add_argument("area", metavar="AREA", type=Path, help="the folder, or its area.toml")
    words.add_argument("--out", type=Path, help="folder of the plan (AREA/out)")
    words.add_argument(
        "--drawing",
        metavar="NAME",
        help="plan a drawing kept by `skidway draw`, in place of the files' landing and trails",
    )
    words.add_argument(
        "--by-day", action="store_true", help="a plan_day_NN.gpx for each day of the work as well"
    )
    words.add_argument("--geojson", action="store_true", help="all layers as plan.geojson as well")
    words.add_argument(
        "--rasters",
        action="store_true",
        help="slope classes, water strips and reach as cloud-optimised GeoTIFFs as well",
    )
    words.add_argument("--offline", action="store_true", help="open no web address")
    words.add_argument("-v", "--verbose", action="store_true", help="say more")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Plan one area; 1 where a finding says stop."""
    log_to_stderr(verbose=words.verbose)
    check_settings(words.area)
    notice_if_cold()

    from layout.area import read_area
    from layout.errors import InputError, OutputError
    from layout.outputs import Extras, closing, ready, sheets_beside, write_plan
    from layout.outputs.device import degrees
    from layout.outputs.device.work_stops import why_no_days
    from layout.plan import lay_out, with_options
    from layout.pool import cores

    progress = Progress()
    area = read_area(words.area, out=words.out, offline=words.offline)
    if words.drawing is not None:
        from layout.drawing.kept_area import with_drawing

        area = with_drawing(area, words.drawing)
    progress("the area is read")
    for option, asked in (("--by-day", words.by_day), ("--geojson", words.geojson)):
        if asked and (why := degrees.why_not(area, option)):
            raise InputError(why)
    folder = words.out if words.out is not None else area.folder / "out"
    if not folder.resolve().parent.is_dir():
        raise OutputError(f"--out {folder}: the folder above it does not exist; make it first")
    mended = ready(folder)
    if mended:
        print(mended)
    laid = lay_out(area, workers=cores(), progress=progress)
    extras = Extras(by_day=words.by_day, geojson=words.geojson, rasters=words.rasters)
    # the layout is final: its sheets are drawn while the trials of other tools go on
    with sheets_beside(laid.plan, workers=cores()) as sheets:
        plan = with_options(laid, progress=progress)
        progress("the plan is made; writing it")
        written = write_plan(plan, folder, extras, sheets=sheets)
    print(closing(plan, written))
    if words.by_day and (why := why_no_days(plan)):
        print(why)
    return 1 if any(finding.level == "stop" for finding in plan.findings) else 0
