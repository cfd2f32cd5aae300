"""What is doubtful about sample plots: off the stand, or at odds with the tree list."""

import numpy as np
import shapely

from layout.findings import Finding
from layout.plots import Estimate
from layout.site import Area
from layout.sources import PLOT_SAMPLING
from layout.speech import speak_basal_area, speak_length
from layout.table_cells import listed
from layout.treatment import Treatment
from layout.tree_sizes import plot_heights_of

HEIGHT_DOUBT = "three spreads and a factor of 1.35 from the others; ours"


def check(area: Area, treatment: Treatment) -> list[Finding]:
    """Hold the plots against the stand and the list.

    Parameters
    ----------
    area : Area
        The job.
    treatment : Treatment
        Of that area.

    Returns
    -------
    list of Finding
        Empty without plots.
    """
    if area.plots is None or treatment.plots is None:
        return []
    return _outside(area) + _heights(area) + _beside(area, treatment, treatment.plots.basal_area)


def _outside(area: Area) -> list[Finding]:
    """Tell of plots whose place lies outside the stand."""
    plots = area.plots
    assert plots is not None
    placed = np.isfinite(plots.x) & np.isfinite(plots.y)
    out = placed & ~np.asarray(shapely.contains_xy(area.stand, plots.x, plots.y), dtype=bool)
    if not out.any():
        return []
    names = listed([plots.plot_id[p] for p in np.flatnonzero(out).tolist()])
    first = int(np.flatnonzero(out)[0])
    return [
        Finding(
            "plots_outside",
            "caution",
            f"{int(out.sum())} of {len(plots)} plots lie outside the stand ({names}); they count "
            "all the same. Take them out of the file, or check their coordinates.",
            "plots",
            plots.plot_id[first],
            value=float(out.sum()),
            at=(float(plots.x[first]), float(plots.y[first])),
        )
    ]


def _heights(area: Area) -> list[Finding]:
    """Ask about heights measured on plots that lie far from those of like trees."""
    plots = area.plots
    assert plots is not None
    rows = np.flatnonzero(plot_heights_of(area).doubtful)
    if not rows.size:
        return []
    units = area.settings.area.units
    names = [plots.plot_id[p] for p in plots.plot[rows].tolist()]
    said = listed(
        f"{speak_length(metres, units)} on plot {name}"
        for metres, name in zip(plots.height_m[rows].tolist(), names, strict=True)
    )
    return [
        Finding(
            "height_far_off",
            "caution",
            f"{rows.size} height{'s' if rows.size > 1 else ''} measured on plots "
            f"{'lie' if rows.size > 1 else 'lies'} far from those of like trees ({said}); used as "
            "written, for the heights of listed trees and for distances too. Measure again.",
            "plots",
            names[0],
            value=float(rows.size),
            source=HEIGHT_DOUBT,
            confirmed=False,
        )
    ]


def _beside(area: Area, treatment: Treatment, told: Estimate) -> list[Finding]:
    """Hold a full list against what the plots say of the same stand."""
    before = treatment.thinning.before
    if not area.trees.full_list or before is None or told.mean is None:
        return []
    units = area.settings.area.units
    counted = before.basal_area_m2_per_ha
    mean = speak_basal_area(told.mean, units)
    head = (
        f"Every tree is listed, so the list tells what stands "
        f"({speak_basal_area(counted, units)}); the {told.plots} plots say {mean}"
    )
    if told.low is None or told.high is None:
        return [Finding("plots_beside_list", "unknown", f"{head}; {told.reason}.", "plots")]
    low, high = (speak_basal_area(value, units) for value in (told.low, told.high))
    inside = told.low <= counted <= told.high
    tail = (
        "they agree."
        if inside
        else "they do not agree. Are trees missing from the list, or is its least DBH another?"
    )
    return [
        Finding(
            "plots_beside_list",
            "ok" if inside else "caution",
            f"{head}, {low} to {high} with {100 * told.confidence:.0f} % confidence: {tail}",
            "plots",
            value=counted,
            limit=told.mean,
            unit="m2/ha",
            source=str(PLOT_SAMPLING),
            confirmed=PLOT_SAMPLING.confirmed,
        )
    ]
