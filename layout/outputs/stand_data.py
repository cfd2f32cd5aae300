"""The sections ``timber`` and ``stand`` of plan.json."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np

from layout.harvest import Total, by_grade, by_species, total
from layout.outputs.numbers import rounded
from layout.records import REACHED
from layout.treatment import less

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.plots import Estimate
    from layout.stocking import Condition
    from layout.treatment import Treatment


def timber_data(plan: Plan, treatment: Treatment) -> dict[str, Any]:
    """Give what the marked trees give, summed.

    Parameters
    ----------
    plan : Plan
        The plan.
    treatment : Treatment
        Its treatment.

    Returns
    -------
    dict
        Board feet are null without a board-foot rule; the rule stands beside them.
    """
    settings, harvest, heights = plan.area.settings, treatment.harvest, treatment.sizes.heights
    timber = settings.timber
    marked = np.array([o.status not in ("leave", "done") for o in plan.trees], dtype=bool)
    served = np.array([o.status in REACHED for o in plan.trees], dtype=bool)
    how = list(heights.how)
    return {
        "log_rule": harvest.log_rule,
        "cord_solid_m3": rounded("cord_solid_m3", harvest.cord_solid_m3),
        "weight_error_pct": rounded("weight_error_pct", timber.weight_error_pct),
        "with_bark": timber.bark,
        "extract": settings.work.extract,
        "heights": {word: how.count(word) for word in dict.fromkeys(sorted(how))},
        "calibrations": [
            {key: rounded(key, value) if isinstance(value, float) else value
             for key, value in dataclasses.asdict(found).items()}
            for found in heights.calibrations
        ],
        "by_form_class": int((harvest.by_form_class & marked).sum()),
        "beyond_scribner_table": int(np.nansum(harvest.beyond_table[marked])),
        "marked": _total(total(harvest, marked)),
        "reached": _total(total(harvest, served)),
        "in_way": _total(total(harvest, treatment.in_way)),
        "by_species": [_total(sums) for sums in by_species(harvest, marked)],
        "by_grade": [_total(sums) for sums in by_grade(harvest, marked)],
    }  # fmt: skip


def stand_data(treatment: Treatment) -> dict[str, Any]:
    """Give the stand before and after, by the hectare.

    Parameters
    ----------
    treatment : Treatment
        Of a plan.

    Returns
    -------
    dict
        What is not known is null, and ``reason`` and ``canopy_reason`` say why.
    """
    thinned, canopy, plots = treatment.thinning, treatment.canopy, treatment.plots
    source = "plots" if thinned.from_plots else "list" if thinned.before is not None else None
    inside = treatment.in_way & treatment.inside
    full = canopy.gaps is not None
    return {
        "from": source,
        "reason": thinned.reason,
        "area_ha": rounded("area_ha", treatment.area_m2 / 1e4),
        "smallest_dbh_cm": rounded("dbh_cm", treatment.smallest_cm),
        "layout_counted": treatment.layout_counted,
        "in_way": int(inside.sum()) if full else None,
        "singled_out": treatment.singled_out,
        "before": _condition(thinned.before),
        "removed": _condition(thinned.removed),
        "after": _condition(thinned.after),
        "trees_share_pct": _pct(thinned.stems_share),
        "basal_area_share_pct": _pct(thinned.basal_area_share),
        "wood_share_pct": _pct(treatment.wood_share),
        "saw_share_pct": _pct(treatment.saw_share),
        "plots": None
        if plots is None
        else {
            "stems_per_ha": _estimate(plots.stems),
            "basal_area_m2_per_ha": _estimate(plots.basal_area),
            "wood_m3_per_ha": _estimate(plots.wood),
            "basal_area_after_m2_per_ha": None
            if not thinned.from_plots or thinned.removed is None
            else _estimate(less(plots.basal_area, thinned.removed.basal_area_m2_per_ha)),
        },
        "canopy_reason": canopy.reason,
        "cover_before_pct": _pct(canopy.cover_before),
        "cover_after_pct": _pct(canopy.cover_after),
        "open_sky_after_pct": _pct(canopy.open_sky_after),
        "without_crown": canopy.without_crown,
        "largest_gap_m": rounded(
            "gap_m", canopy.largest_gap.diameter_m if canopy.largest_gap else None
        ),
    }


def _pct(of_one: float | None) -> float | None:
    return None if of_one is None else rounded("share_pct", 100.0 * of_one)


def _total(sums: Total) -> dict[str, Any]:
    return {
        key: rounded(key, value) if isinstance(value, float) else value
        for key, value in dataclasses.asdict(sums).items()
    }


def _condition(one: Condition | None) -> dict[str, Any] | None:
    if one is None:
        return None
    return {
        "stems_per_ha": rounded("stems", one.stems_per_ha),
        "basal_area_m2_per_ha": rounded("basal", one.basal_area_m2_per_ha),
        "qmd_cm": rounded("qmd_cm", one.qmd_cm),
        "stocking_pct": rounded("stocking_pct", one.stocking_pct),
        "relative_density": rounded("density_ratio", one.relative_density),
        "a_line_m2_per_ha": rounded("line", one.a_line_m2_per_ha),
        "b_line_m2_per_ha": rounded("line", one.b_line_m2_per_ha),
        "hardwood_pct": _pct(one.hardwood_share),
        "species": [
            {
                "name": s.name,
                "stems_per_ha": rounded("stems", s.stems_per_ha),
                "basal_area_m2_per_ha": rounded("basal", s.basal_area_m2_per_ha),
            }
            for s in one.species
        ],
        "classes": [
            {
                "middle_cm": rounded("middle_cm", c.middle_cm),
                "stems_per_ha": rounded("stems", c.stems_per_ha),
            }
            for c in one.classes
        ],
        "q": rounded("q_ratio", one.q),
        "q_reason": one.q_reason,
        "without_dbh": one.without_dbh,
    }


def _estimate(one: Estimate) -> dict[str, Any]:
    return {
        "mean": rounded("mean", one.mean),
        "low": rounded("low", one.low),
        "high": rounded("high", one.high),
        "error_pct": rounded("error_pct", one.error_pct),
        "confidence_pct": _pct(one.confidence),
        "plots": one.plots,
        "reason": one.reason,
    }
