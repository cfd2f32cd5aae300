"""The section ``erosion`` of plan.json: how trails would wash, how far loads press the ground."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.erosion_records import WASH_STEPS, wash_class
from layout.outputs.numbers import rounded

if TYPE_CHECKING:
    from layout.erosion_records import Concentrated, Erosion, TrailCompaction, TrailWash


def erosion_data(erosion: Erosion) -> dict[str, Any]:
    """Give washing and compaction of a plan.

    Parameters
    ----------
    erosion : Erosion
        Of a plan.

    Returns
    -------
    dict
        Indices are multiples of a bare 10 % trail of default soil with bars 80 ft apart,
        no amounts of soil; each stands beside its class.
    """
    return {
        "family": erosion.family,
        "k_factor": rounded("k_ratio", erosion.k_factor),
        "k_default": erosion.k_default,
        "cover_bare": rounded("factor", erosion.cover_bare),
        "cover_covered": rounded("factor", erosion.cover_covered),
        "classes": {name: most for most, name in WASH_STEPS},
        "other_family": erosion.other_family,
        "other_ratio": rounded("other_ratio", erosion.other_ratio),
        "whole": None if erosion.whole is None else _wash(erosion.whole),
        "trails": [_wash(row) for row in erosion.trails],
        "stretches": [
            {
                "trail_id": one.trail_id,
                "from_m": rounded("from_m", one.from_m),
                "to_m": rounded("to_m", one.to_m),
                "grade_pct": rounded("grade_pct", one.grade_pct),
                "ls": rounded("ls_ratio", one.ls),
                "bare": _index(one.bare),
                "covered": _index(one.covered),
            }
            for one in erosion.stretches
        ],
        "unjudged": list(erosion.unjudged),
        "compaction": [_pressed(row) for row in erosion.compaction],
        "compaction_whole": _pressed(erosion.compaction_whole),
        "concentrated": _concentrated(erosion.concentrated),
    }


def _index(value: float) -> dict[str, Any]:
    return {"index": rounded("index_ratio", value), "class": wash_class(value)}


def _wash(row: TrailWash) -> dict[str, Any]:
    return {
        "trail_id": row.trail_id,
        "length_m": rounded("length_m", row.length_m),
        "longest_run_m": rounded("longest_m", row.longest_run_m),
        "longest_barred_m": rounded("longest_m", row.longest_barred_m),
        "ls_run": rounded("ls_ratio", row.ls_run),
        "ls_barred": rounded("ls_ratio", row.ls_barred),
        "open": _index(row.open),
        "barred": _index(row.barred),
        "covered": _index(row.covered),
    }


def _pressed(row: TrailCompaction) -> dict[str, Any]:
    return {
        "trail_id": row.trail_id,
        "loads_mean": rounded("loads_ratio", row.loads_mean),
        "loads_most": row.loads_most,
        "share_pct": rounded("share_pct", 100 * row.share),
        "area_m2": rounded("area_m2", row.area_m2),
        "done_m2": rounded("done_m2", row.done_m2),
    }


def _concentrated(made: Concentrated) -> dict[str, Any]:
    return {
        "planned_m2": rounded("planned_m2", made.planned_m2),
        "spread_m2": rounded("spread_m2", made.spread_m2),
        "planned_whole_m2": rounded("planned_whole_m2", made.planned_whole_m2),
        "spread_whole_m2": rounded("spread_whole_m2", made.spread_whole_m2),
        "planned_pct": rounded("planned_pct", 100 * made.planned_m2 / made.stand_m2),
        "spread_pct": rounded("spread_pct", 100 * made.spread_m2 / made.stand_m2),
    }
