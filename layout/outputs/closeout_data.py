"""The section ``closeout`` of plan.json: what closing takes, to be held against what was done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.outputs.numbers import rounded

if TYPE_CHECKING:
    from layout.closeout_records import Closeout, CloseoutItem


def closeout_data(closeout: Closeout) -> dict[str, Any]:
    """Give the list of closing.

    Parameters
    ----------
    closeout : Closeout
        Of a plan.

    Returns
    -------
    dict
        Its items in the order they are closed, and their sums.
    """
    return {
        "items": [_item(item) for item in closeout.items],
        "bars": closeout.bars,
        "bars_length_m": rounded("length_m", closeout.bars_m),
        "cover_m2": rounded("cover_m2", closeout.cover_m2),
        "seed_m2": rounded("seed_m2", closeout.seed_m2),
        "litter_m2": rounded("litter_m2", closeout.litter_m2),
        "minutes": rounded("minutes", closeout.minutes),
    }


def _item(item: CloseoutItem) -> dict[str, Any]:
    return {
        "trail_id": item.trail_id,
        "length_m": rounded("length_m", item.length_m),
        "tasks": list(item.tasks),
        "bars": [{"bar_id": name, "at_m": rounded("at_m", at_m)} for name, at_m in item.bars],
        "bars_length_m": rounded("length_m", item.bars_m),
        "outlets": [{"bar_id": name, "at_m": rounded("at_m", at_m)} for name, at_m in item.outlets],
        "cover": [
            {
                "from_m": rounded("from_m", stretch.from_m),
                "to_m": rounded("to_m", stretch.to_m),
                "why": stretch.why,
            }
            for stretch in item.cover
        ],
        "cover_m2": rounded("cover_m2", item.cover_m2),
        "seed_m2": rounded("seed_m2", item.seed_m2),
        "litter_m2": rounded("litter_m2", item.litter_m2),
        "crossings": [
            {"crossing_id": name, "at_m": rounded("at_m", at_m)} for name, at_m in item.crossings
        ],
        "turning_ids": list(item.turning_ids),
        "minutes": rounded("minutes", item.minutes),
        "done": item.done,
        **({"landing_id": item.landing_id} if item.landing_id else {}),
    }
