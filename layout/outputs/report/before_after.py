"""Before, taken and after of kinds and classes, where what is left may not be known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.outputs.report.figures import NONE
from layout.outputs.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.stocking import Condition
    from layout.units import Units

NOISE = 1e-9
Three = tuple["Condition | None", "Condition | None", "Condition | None"]


def area_word(units: Units) -> str:
    """Say what figures of the stand are by."""
    return say("report_by_acre") if units == "us" else say("report_by_hectare")


def uncaught(three: Three, sums: Sequence[dict[Any, float]], name: Any) -> bool:
    """Tell what is taken and no plot caught, or too little of it: what is left is not known."""
    return three[0] is not None and sums[1].get(name, 0.0) > sums[0].get(name, 0.0) + NOISE


def three_cells(
    three: Three,
    sums: Sequence[dict[Any, float]],
    name: Any,
    say_it: Callable[[float], str],
    odd: bool,
) -> list[str]:
    """Write before, taken and after of one kind or class; what is not known stays open."""
    cells = [
        NONE if one is None else say_it(found.get(name, 0.0))
        for one, found in zip(three, sums, strict=True)
    ]
    return [NONE, cells[1], NONE] if odd else cells
