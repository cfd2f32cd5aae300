"""Several drawings in one table: what is drawn, and what was planned on it."""

from collections.abc import Mapping, Sequence
from typing import Any

from layout.drawing.judge import Judged
from layout.drawing.planned_numbers import Planned
from layout.speech import speak_length
from layout.units import Units


def table(
    names: Sequence[str],
    judged: Sequence[Judged],
    planned: Sequence[Planned | None],
    units: Units,
) -> dict[str, Any]:
    """Lay drawings side by side.

    Parameters
    ----------
    names : sequence of str
    judged : sequence of Judged
        What the checks say of each.
    planned : sequence of Planned or None
        What a plan of each came to; None where it was not planned as it is.
    units : {"us", "metric"}

    Returns
    -------
    dict
        ``columns`` and ``rows`` of text.
    """
    rows: list[list[str]] = [
        ["Trails drawn", *(speak_length(j.answer["numbers"]["trail_m"], units) for j in judged)],
        ["Ground disturbed as drawn", *(_share(j.answer["numbers"]["soil_pct"]) for j in judged)],
        ["Stops", *(_count(j, "stop") for j in judged)],
        ["Cautions", *(_count(j, "caution") for j in judged)],
        [
            "Marked trees in reach as drawn",
            *(_of(j.answer["numbers"]) for j in judged),
        ],
    ]
    labels: list[str] = []
    for one in planned:
        labels += [label for label, _ in _lines(one, units) if label not in labels]
    for label in labels:
        rows.append([f"Planned: {label}", *(_line(one, label, units) for one in planned)])
    made = ["open it and plan" if one is None else one.made for one in planned]
    rows.append(["Planned", *made])
    return {"columns": ["", *names], "rows": rows}


def _share(value: float | None) -> str:
    return "no landing" if value is None else f"{value:.1f} %"


def _count(judged: Judged, level: str) -> str:
    return str(sum(finding.level == level for finding in judged.findings))


def _of(numbers: Mapping[str, Any]) -> str:
    return f"{numbers['trees_in_reach']} of {numbers['marked']}"


def _lines(planned: Planned | None, units: Units) -> Sequence[Sequence[str]]:
    return () if planned is None else planned.lines.get(units, ())


def _line(planned: Planned | None, label: str, units: Units) -> str:
    if planned is None:
        return "not planned as it is"
    return next((text for name, text in _lines(planned, units) if name == label), "not said")
