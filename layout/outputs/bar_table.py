"""water_bars.csv: the drains of the job, one a line, each trail from its landing end outward."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING

from layout.outputs import bar_facts
from layout.outputs.csv_cells import cell
from layout.outputs.numbers import rounded
from layout.outputs.report.figures import length, natural
from layout.outputs.words import say
from layout.speech import speak_station

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "water_bars.csv"
HEADER = (
    "bar_id",
    "trail_id",
    "at_m",
    "at_words",
    "kind",
    "kind_words",
    "bar_set",
    "set_words",
    "why",
    "why_words",
    "grade_pct",
    "grade_words",
    "spacing_m",
    "spacing_words",
    "length_m",
    "length_words",
    "skew_deg",
    "outlet",
    "outlet_words",
    "room_m",
    "room_words",
    "meets",
    "meets_words",
)


def write(plan: Plan, path: Path) -> None:
    """Write one line a drain.

    Parameters
    ----------
    plan : Plan
        The plan; without a drain there is only the header.
    path : Path
        The file; UTF-8, comma separated, one header line.
    """
    units = plan.area.settings.area.units
    ends = {trail.trail_id: trail.line.length for trail in plan.trails}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADER)
        for bar in sorted(plan.bars, key=lambda b: (natural(b.trail_id), b.at_m)):
            ours = (
                bar.bar_id,
                bar.trail_id,
                rounded("at_m", bar.at_m),
                speak_station(bar.at_m, units, ends.get(bar.trail_id, math.inf)),
                bar.kind,
                bar_facts.what(bar),
                bar.bar_set,
                bar_facts.when(bar),
                bar.why,
                say(f"report_why_{bar.why}"),
                rounded("grade_pct", bar.grade_pct),
                bar_facts.grade_words(bar),
                rounded("spacing_m", bar.spacing_m),
                length(bar.spacing_m, units),
                rounded("length_m", bar.length_m),
                "" if bar.length_m is None else length(bar.length_m, units),
                rounded("skew_deg", bar.skew_deg),
                bar.outlet,
                say(f"report_outlet_{bar.outlet}"),
                rounded("room_m", bar.room_m),
                "" if bar.room_m is None else length(bar.room_m, units),
                bar.meets,
                bar_facts.meets(bar),
            )
            writer.writerow(map(cell, ours))
