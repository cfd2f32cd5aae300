"""What is taken and what is left, in a few lines for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely

from layout.harvest import total
from layout.outputs.amounts import rule_name, share
from layout.outputs.wood_amounts import boards, small_wood, tons, wood
from layout.outputs.words import say
from layout.speech import speak_basal_area, speak_length
from layout.treatment import less

if TYPE_CHECKING:
    from layout.site import Area
    from layout.stocking import Condition
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
    if canopy.cover_after is not None:
        widest = canopy.largest_gap
        covers = (("before", canopy.cover_before), ("after", canopy.cover_after))
        lines.append(
            say(
                "stand_crowns",
                sides=" and ".join(
                    say(f"stand_{when}", what=f"{100 * part:.0f} %")
                    for when, part in covers
                    if part is not None
                ),
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
    """Say what the marked trees give that can be planned, and how many are in no sum."""
    harvest, trees = treatment.harvest, area.trees
    on_land = treatment.inside | shapely.contains_xy(area.may_use, trees.x, trees.y)
    sums = total(harvest, trees.marked & on_land)
    outside = int((trees.marked & ~on_land).sum())
    missing = [
        say(key, count=count)
        for key, count in (("stand_no_dbh", sums.not_known), ("stand_outside", outside))
        if count
    ]
    but = say("stand_but", what=", ".join(missing)) if missing else ""
    if sums.trees == sums.not_known:
        return say("stand_gives_not_known", but=but)
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
        but=but,
    )


def _goes(treatment: Treatment, units: Units) -> list[str]:
    """Say basal area and stocking before and after, as far as they are known."""
    thinned = treatment.thinning
    # before is more than is told where trees without a DBH go and could matter
    sure = thinned.basal_area_share is not None or thinned.from_plots
    before, after = thinned.before if sure else None, thinned.after
    lines = []
    part = _part(treatment)
    sides = [
        say(f"stand_{when}", what=speak_basal_area(one.basal_area_m2_per_ha, units)) + sure
        for when, one, sure in (
            ("before", before, ""),
            ("after", after, "" if after is None else _sure(treatment, units)),
        )
        if one is not None
    ]
    if sides and part:
        way = int((treatment.in_way & treatment.inside).sum())
        lines.append(
            say(
                "stand_goes",
                sides=", ".join(sides),
                share=part,
                way=say("stand_way", count=way) if way else "",
            )
        )
    if after is None:
        return lines
    on_chart = after.b_line_m2_per_ha is not None
    states = [
        say(f"stand_{when}", what=_stocked(one, on_chart=on_chart))
        for when, one in (("before", before), ("after", after))
        if one is not None
    ]
    if after.b_line_m2_per_ha is not None:
        line = speak_basal_area(after.b_line_m2_per_ha, units)
        lines.append(say("stand_stocking", sides=" and ".join(states), line=line))
    else:
        lines.append(say("stand_stocking_off", sides=" and ".join(states)))
    return lines


def _part(treatment: Treatment) -> str:
    """Say the share of basal area that is taken, or the range it lies in; empty if unknown."""
    thinned = treatment.thinning
    if thinned.basal_area_share is not None:
        return share(100 * thinned.basal_area_share)
    if thinned.basal_area_range is None or thinned.basal_area_range[0] > 1:
        return ""
    least, most = thinned.basal_area_range
    return say("stand_range", least=f"{100 * least:.0f}", most=f"{100 * most:.0f} %")


def _sure(treatment: Treatment, units: Units) -> str:
    """Say the range a basal area that stays lies in, where plots tell."""
    thinned = treatment.thinning
    most = thinned.removed_most_m2_per_ha
    if not thinned.from_plots or treatment.plots is None or most is None:
        return ""
    left = less(treatment.plots.basal_area, most)
    if left.low is None or left.high is None:
        return ""
    low, high = (speak_basal_area(value, units) for value in (left.low, left.high))
    return say("stand_sure", low=low, high=high, plots=left.plots)


def _stocked(one: Condition, *, on_chart: bool) -> str:
    """Say how full a stand is: by the chart, or as relative density."""
    return f"{one.stocking_pct:.0f} %" if on_chart else f"{one.relative_density:.2f}"
