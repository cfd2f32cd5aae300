"""Several drawings in one table: what is drawn, and what was planned on it."""

from collections.abc import Mapping, Sequence
from typing import Any

from layout.drawing.judge import Judged
from layout.speech import speak_length
from layout.units import Units


def table(
    names: Sequence[str],
    judged: Sequence[Judged],
    planned: Sequence[Sequence[Sequence[str]] | None],
    units: Units,
) -> dict[str, Any]:
    """Lay drawings side by side.

    Parameters
    ----------
    names : sequence of str
    judged : sequence of Judged
        What the checks say of each.
    planned : sequence of list of pairs, or None
        Lines of a plan made on each while the map was open; None where none was.
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
    for lines in planned:
        labels += [label for label, _ in lines or () if label not in labels]
    for label in labels:
        rows.append([f"Planned: {label}", *(_line(lines, label) for lines in planned)])
    if not any(planned):
        rows.append(["Planned", *("open it and plan" for _ in names)])
    return {"columns": ["", *names], "rows": rows}


def _share(value: float | None) -> str:
    return "no landing" if value is None else f"{value:.1f} %"


def _count(judged: Judged, level: str) -> str:
    return str(sum(finding.level == level for finding in judged.findings))


def _of(numbers: Mapping[str, Any]) -> str:
    return f"{numbers['trees_in_reach']} of {numbers['marked']}"


def _line(lines: Sequence[Sequence[str]] | None, label: str) -> str:
    if lines is None:
        return "not planned since the map was opened"
    return next((text for name, text in lines if name == label), "not said")
