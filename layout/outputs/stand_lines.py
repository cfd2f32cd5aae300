"""What is taken and what is left, in a few lines for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.harvest import total
from layout.outputs.amounts import rule_name, share
from layout.outputs.wood_amounts import boards, small_wood, tons, wood
from layout.outputs.words import say
from layout.speech import speak_basal_area, speak_length
from layout.treatment import less

if TYPE_CHECKING:
    from layout.site import Area
    from layout.treatment import Treatment
    from layout.units import Units


def said(area: Area, treatment: Treatment) -> list[str]:
    """Sum up what the marking, and the layout where there is one, does to the stand.

    Parameters
    ----------
    area : Area
        The job.
    treatment : Treatment
        Of that area.

    Returns
    -------
    list of str
        At most four lines; none where nothing is marked. What is not known is said so.
    """
    if not area.trees.marked.any():
        return []
    units = area.settings.area.units
    lines = [_gives(area, treatment, units), *_goes(treatment, units)]
    canopy = treatment.canopy
    if canopy.cover_before is not None and canopy.cover_after is not None:
        widest = canopy.largest_gap
        lines.append(
            say(
                "stand_crowns",
                before=f"{100 * canopy.cover_before:.0f} %",
                after=f"{100 * canopy.cover_after:.0f} %",
                widest=speak_length(widest.diameter_m, units)
                if widest
                else say("stand_no_opening"),
                open="" if treatment.layout_counted else say("stand_open"),
            )
        )
    elif not area.trees.full_list:
        left_known = treatment.thinning.after is not None
        what = say("stand_not_open") if left_known else say("stand_not_left")
        lines.append(say("stand_not_known", what=what))
    return lines


def _gives(area: Area, treatment: Treatment, units: Units) -> str:
    """Say what the marked trees give."""
    harvest = treatment.harvest
    sums = total(harvest, area.trees.marked)
    if sums.net_bf is not None:
        net = say("stand_boards", net=boards(sums.net_bf), rule=rule_name(harvest.log_rule))
    else:
        how = say("stand_cubic") if harvest.log_rule else say("stand_no_rule")
        net = say("stand_wood", net=wood(sums.saw_net_m3, units), how=how)
    return say(
        "stand_gives",
        sawlogs=sums.sawlogs,
        net=net if sums.sawlogs else "",
        small=small_wood(sums.pulp_m3, sums.pulp_cords, units),
        mass=tons(sums.mass_kg, units),
    )


def _goes(treatment: Treatment, units: Units) -> list[str]:
    """Say basal area and stocking before and after."""
    thinned = treatment.thinning
    before, removed, after = thinned.before, thinned.removed, thinned.after
    if before is None or removed is None or after is None:
        return []
    sure = ""
    if thinned.from_plots and treatment.plots is not None:
        left = less(treatment.plots.basal_area, removed.basal_area_m2_per_ha)
        if left.low is not None and left.high is not None:
            low, high = (speak_basal_area(value, units) for value in (left.low, left.high))
            sure = say("stand_sure", low=low, high=high, plots=left.plots)
    way = int((treatment.in_way & treatment.inside).sum())
    first = say(
        "stand_goes",
        before=speak_basal_area(before.basal_area_m2_per_ha, units),
        after=speak_basal_area(after.basal_area_m2_per_ha, units),
        sure=sure,
        share=share(100 * (thinned.basal_area_share or 0.0)),
        way=say("stand_way", count=way) if way else "",
    )
    if after.b_line_m2_per_ha is not None:
        second = say(
            "stand_stocking",
            before=f"{before.stocking_pct:.0f} %",
            after=f"{after.stocking_pct:.0f} %",
            line=speak_basal_area(after.b_line_m2_per_ha, units),
        )
    else:
        second = say(
            "stand_stocking_off",
            before=f"{before.relative_density:.2f}",
            after=f"{after.relative_density:.2f}",
        )
    return [first, second]
