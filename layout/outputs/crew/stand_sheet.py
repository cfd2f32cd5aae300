"""The stand sheet: what stands, goes and stays, what it yields, and what is not known."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from layout.harvest import Total, by_species, total
from layout.outputs.amounts import rule_name
from layout.outputs.crew import listing
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import natural
from layout.outputs.crew.finding import marked
from layout.outputs.crew.sheet import LEAST_PT, width_of, wrap
from layout.outputs.listed_species import listed_names
from layout.outputs.wood_amounts import boards, by_area, small_wood, tons, wood
from layout.outputs.words import counted, retold, say, species_said
from layout.speech import speak_basal_area, speak_diameter, speak_length
from layout.tongue import number as said_number

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.plan import Plan
    from layout.stocking import Condition
    from layout.treatment import Treatment
    from layout.units import Units

SIZE_PT = 7.6
HEAD_PT = 9.0
NONE = "\N{EN DASH}"  # stands where there is nothing to say
NAME_PT = 84.0  # room for what a line is about
THREE_PT = (146.0, 204.0, 261.0)  # where before, taken and after end
# Where logs, their wood and mass end, small wood and its mass, and the mass of whole stems.
SIX_PT = (104.0, 142.0, 170.0, 203.0, 231.0, 261.0)
TREES_A_ROW = (3, 2, 1)  # as many as the longest painted number lets stand side by side
TREES_PT = (9.0, 8.4, 7.6)  # of a tree's number and figures; the smaller where a set has no room
TREE_FIGURES_PT, TREE_NET_PT, TREE_AIR_PT = 64.0, 46.0, 6.0  # logs and net wood of one tree


def pages(
    plan: Plan, *, by_number: bool = False, tree_pt: float = TREES_PT[0]
) -> list[listing.ListPage]:
    """Lay the stand sheet out.

    Parameters
    ----------
    plan : Plan
        The plan.
    by_number : bool
        Whether trees go by their numbers, for want of one list of marked trees whose order
        they could follow.
    tree_pt : float
        Size of the letters of the list tree by tree.

    Returns
    -------
    list of ListPage
        None where what is taken was not worked out.
    """
    shown = rows(plan, by_number=by_number, tree_pt=tree_pt)
    if not shown:
        return []
    return listing.pages(plan, say("crew_stand"), [say("crew_stand_how")], listing.NO_TITLES, shown)


def rows(plan: Plan, *, by_number: bool = False, tree_pt: float = TREES_PT[0]) -> list[Row]:
    """Give the rows: the stand, what is taken of it, what is not known, tree by tree."""
    treatment = plan.treatment
    if treatment is None:
        return []
    width, units = listing.column_pt(plan), plan.area.settings.area.units
    return [
        *_stand(treatment, units, width),
        *_products(plan, treatment, units, width),
        *_not_known(plan, treatment, units, width),
        *_trees(plan, treatment, units, width, by_number=by_number, tree_pt=tree_pt),
    ]


def _heading(words: str, width_pt: float) -> Row:
    return Row((Cell(0.0, tuple(wrap(words, width_pt, HEAD_PT, bold=True)), bold=True),),
               HEAD_PT, head=True)  # fmt: skip


def _note(words: str, width_pt: float) -> Row:
    return Row((Cell(0.0, tuple(wrap(words, width_pt, SIZE_PT))),), SIZE_PT, ruled=False)


def _line(name: str, values: Sequence[str], ends_pt: Sequence[float], *, head: bool = False) -> Row:
    """Set a name and figures that end at their places."""
    size = LEAST_PT if head else SIZE_PT
    cells = [Cell(0.0, tuple(wrap(name, NAME_PT, size, bold=head)), bold=head)]
    cells += [
        Cell(x, (words,), bold=head, right=True) for x, words in zip(ends_pt, values, strict=True)
    ]
    return Row(tuple(cells), size, head=head)


def _stand(treatment: Treatment, units: Units, width_pt: float) -> list[Row]:
    """Give before, taken and after; what only a whole list or plots tell stays open."""
    thinned, canopy = treatment.thinning, treatment.canopy
    three = (thinned.before, thinned.removed, thinned.after)

    def row(key: str, told: Callable[[Condition], str | None], *, taken: bool = True) -> Row:
        values = [None if c is None else told(c) for c in three]
        if not taken:
            values[1] = None
        return _line(say(key), [v or NONE for v in values], THREE_PT)

    area = say("report_by_acre") if units == "us" else say("report_by_hectare")
    titles = [say(f"report_col_{when}") for when in ("before", "taken", "after")]
    rows = [
        _heading(say("report_stand_cap", area=area), width_pt),
        _line("", titles, THREE_PT, head=True),
        row("report_row_trees", lambda c: by_area(c.stems_per_ha, units)),
        row("report_row_basal", lambda c: speak_basal_area(c.basal_area_m2_per_ha, units)),
        row(
            "report_row_qmd",
            lambda c: None if c.qmd_cm is None else speak_diameter(c.qmd_cm, units),
        ),
        row("report_row_stocking", lambda c: f"{c.stocking_pct:.0f} %", taken=False),
        row(
            "report_row_b_line",
            lambda c: (
                None if c.b_line_m2_per_ha is None else speak_basal_area(c.b_line_m2_per_ha, units)
            ),
            taken=False,
        ),
    ]
    cover = [
        NONE if share is None else f"{100 * share:.0f} %"
        for share in (canopy.cover_before, canopy.cover_after)
    ]
    rows.append(_line(say("report_row_cover"), [cover[0], NONE, cover[1]], THREE_PT))
    if canopy.gaps:
        widest = max(gap.diameter_m for gap in canopy.gaps)
        rows.append(_note(say("crew_widest", across=speak_length(widest, units)), width_pt))
    elif canopy.gaps is not None:
        rows.append(_note(say("report_gaps_none"), width_pt))
    return rows


def _diameter(cm: float | None, units: Units) -> str | None:
    return None if cm is None else speak_diameter(cm, units)


def _products(plan: Plan, treatment: Treatment, units: Units, width_pt: float) -> list[Row]:
    """Give sawlogs and small wood of the marked trees by species, and in all."""
    harvest = treatment.harvest
    goes = np.array([o.status not in ("leave", "done") for o in plan.trees], dtype=bool)
    listed = listed_names(plan, harvest)
    sums = [
        (species_said(listed[t.name]) if t.name else say("report_no_species"), t)
        for t in by_species(harvest, goes)
    ]
    if not sums:
        return []
    sums.append((say("report_timber_all"), total(harvest, goes)))
    if treatment.in_way.any():
        sums.append((say("report_timber_in_way"), total(harvest, treatment.in_way)))
    ruled = harvest.in_board_feet
    rule = rule_name(harvest.log_rule) if ruled else ""
    headline = say("crew_products", rule=rule) if ruled else say("crew_products_cubic")
    ton, whole = say(f"crew_col_ton_{units}"), plan.area.settings.work.extract
    parts = ["", "", say("crew_col_logs"), "", say("crew_col_small"), say(f"crew_whole_{whole}")]
    titles = [
        say("crew_col_logs_short"),
        say("crew_col_net") if ruled else say(f"crew_col_net_{units}"),
        ton,
        say(f"crew_col_small_{units}"),
        ton,
        ton,
    ]
    rows = [
        _heading(headline, width_pt),
        replace(_line("", parts, SIX_PT, head=True), ruled=False),
        _line("", titles, SIX_PT, head=True),
        *(_line(name, _yields(one, units), SIX_PT) for name, one in sums),
        _note(say(f"crew_weights_{whole}", ton=say(f"crew_ton_{units}")), width_pt),
    ]
    if units == "us":
        rows.append(_note(say("report_cord", solid=wood(harvest.cord_solid_m3, units)), width_pt))
    else:
        rows.append(_note(say("crew_solid"), width_pt))
    if not harvest.log_rule:
        rows.append(_note(say("report_boards"), width_pt))
    return rows


def _yields(one: Total, units: Units) -> list[str]:
    """Say wood and green mass of logs, small wood and the whole; no zero for what is not known."""
    if one.trees == one.not_known:
        return [NONE] * len(SIX_PT)
    net = wood(one.saw_net_m3, units) if one.net_bf is None else boards(one.net_bf)
    small = one.pulp_m3 > 0
    return [
        str(one.sawlogs),
        _figure(net) if one.sawlogs else NONE,
        _figure(tons(one.saw_kg, units)) if one.sawlogs else NONE,
        _figure(small_wood(one.pulp_m3, one.pulp_cords, units)) if small else NONE,
        _figure(tons(one.pulp_kg, units)) if small else NONE,
        _figure(tons(one.mass_kg, units)),
    ]


def _figure(said: str) -> str:
    """Take the number alone; its unit heads the column."""
    return said.partition(" ")[0]


def _not_known(plan: Plan, treatment: Treatment, units: Units, width_pt: float) -> list[Row]:
    """Say what cannot be known, and what is estimated."""
    reasons = [retold(r) for r in (treatment.thinning.reason, treatment.canopy.reason) if r]
    said = [f"{r[:1].upper()}{r[1:]}." for r in dict.fromkeys(reasons) if r]
    before = treatment.thinning.before
    if treatment.thinning.from_plots and treatment.plots is not None:
        plots = counted("report_plot", treatment.plots.basal_area.plots)
        said.append(say("report_stand_plots", plots=plots))
    elif before is not None and before.without_dbh:
        said.append(say("report_without_dbh", count=before.without_dbh))
    blind = sum(
        bool(np.isnan(m3)) and o.status not in ("leave", "done")
        for o, m3 in zip(plan.trees, treatment.harvest.stem_m3, strict=True)
    )
    if blind:
        said.append(say("report_no_dbh", count=blind))
    if treatment.smallest_cm is not None and plan.area.trees.full_list:
        said.append(say("crew_least", least=speak_diameter(treatment.smallest_cm, units)))
    heights = treatment.sizes.heights
    measured, count = int((~heights.estimated).sum()), len(treatment.harvest)
    said.append(say("crew_estimates", measured=measured, count=count))
    return [_heading(say("crew_not_known"), width_pt), *(_note(s, width_pt) for s in said)]


def _trees(
    plan: Plan,
    treatment: Treatment,
    units: Units,
    width_pt: float,
    *,
    by_number: bool,
    tree_pt: float,
) -> list[Row]:
    """Give logs and net wood tree by tree, some abreast, in the order of the list or by number."""
    harvest, estimated = treatment.harvest, treatment.sizes.heights.estimated
    index = {outcome.tree_id: i for i, outcome in enumerate(plan.trees)}
    names = [tree.tree_id for tree in marked(plan)]
    if by_number:
        names.sort(key=lambda name: (natural(name.casefold()), name))
    if not names:
        return []

    widest = max(width_of(name, tree_pt, bold=True) for name in names)
    abreast = next((n for n in TREES_A_ROW if widest + TREE_FIGURES_PT <= width_pt / n), 1)
    step = width_pt / abreast
    net_x = step - TREE_AIR_PT
    logs_x, room = net_x - TREE_NET_PT, step - TREE_FIGURES_PT

    def cells(at: int, name: str) -> list[Cell]:
        i, x = index[name], at * step
        logs, net = harvest.sawlogs[i], (harvest.net_bf if boarded else harvest.saw_net_m3)[i]
        if not np.isfinite(harvest.stem_m3[i]):
            told = ("?", "?")
        elif logs < 1:
            told = ("0", NONE)
        else:
            star = "*" if estimated[i] else ""
            said = said_number(net, ",.0f") if boarded else _figure(wood(net, units))
            told = (f"{logs:.0f}", said + star)
        number = tuple(wrap(name, room, tree_pt, bold=True))
        return [
            Cell(x, number, bold=True),
            Cell(x + logs_x, (told[0],), right=True),
            Cell(x + net_x, (told[1],), right=True),
        ]

    boarded = harvest.in_board_feet
    rule = rule_name(harvest.log_rule) if boarded else ""
    headline = say("crew_by_tree", rule=rule) if boarded else say("crew_by_tree_cubic")
    net = say("crew_col_net") if boarded else say(f"crew_col_net_{units}")
    head = [
        Cell(at * step + x, (words,), bold=True, right=right)
        for at in range(abreast)
        for x, words, right in (
            (0.0, say("crew_col_number"), False),
            (logs_x, say("crew_col_logs_short"), True),
            (net_x, net, True),
        )
    ]
    order = say("crew_by_tree_number" if by_number else "crew_by_tree_list")
    how = wrap(f"{order} {say('crew_by_tree_how')}", width_pt, SIZE_PT)
    rows = [
        _heading(headline, width_pt),
        Row((Cell(0.0, tuple(how)),), SIZE_PT, head=True, ruled=False),
        Row(tuple(head), LEAST_PT, head=True),
    ]
    over = tuple(wrap(headline, width_pt, tree_pt, bold=True))
    blank = ("",) * len(over)
    again = (
        Cell(0.0, over, bold=True),
        *(replace(cell, lines=(*blank, *cell.lines), size_pt=LEAST_PT) for cell in head),
    )
    for k in range(0, len(names), abreast):
        both = names[k : k + abreast]
        rows.append(
            Row(
                tuple(c for at, n in enumerate(both) for c in cells(at, n)),
                tree_pt,
                again=again,
            )
        )
    return rows
