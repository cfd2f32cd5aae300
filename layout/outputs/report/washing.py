"""Soil: how fast trails would wash, beside what was measured, and how far loads press it."""

from __future__ import annotations

from layout import erosion as washed
from layout import sources
from layout.cover_effects import MEASURED, STUDIES
from layout.erosion_records import Concentrated, Erosion, wash_class
from layout.outputs.amounts import grade, share
from layout.outputs.report.figures import NONE, ground, length, natural
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.sources import Source
from layout.units import ACRE_M2, HECTARE_M2, SHORT_TON_KG, Units

_FACTORS = (sources.RUSLE, sources.USLE, sources.UNEVEN_SLOPES, sources.TRAIL_COVER)


def cited(tally: Tally) -> tuple[Source, ...]:
    """Name what this part stands on, where it is worked out."""
    if tally.plan.erosion is None:
        return ()
    return (*_FACTORS, *STUDIES, sources.PASSES)


def part(tally: Tally) -> Markup | None:
    """Write what stands under the ground disturbed.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where it was not worked out.
    """
    made = tally.plan.erosion
    if made is None or not (made.trails or made.unjudged):
        return None
    return join(
        tag("h3", say("report_wash_title")),
        _trails(made, tally.units),
        _worst(tally, made),
        _measured(tally.units),
        _notes(made),
        tag("h3", say("report_press_title")),
        _pressed(tally, made),
    )


def _class(index: float) -> str:
    name = wash_class(index).replace(" ", "_")
    return say(f"report_washes_{name}")


def _trails(made: Erosion, units: Units) -> Markup | None:
    """Write the classes of all trails, and of each."""
    if made.whole is None:
        return None
    whole = made.whole
    columns = (
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_wash_run"), number=True),
        Column(say("report_col_wash_barred"), number=True),
        Column(say("report_col_wash_open")),
        Column(say("report_col_wash_bare")),
        Column(say("report_col_wash_covered")),
    )
    listed: list[list[Piece]] = [
        [
            row.trail_id,
            length(row.longest_run_m, units),
            length(row.longest_barred_m, units),
            *(_class(index) for index in (row.open, row.barred, row.covered)),
        ]
        for row in sorted(made.trails, key=lambda r: natural(r.trail_id))
    ]
    lead = say(
        "report_wash_lead",
        open=_class(whole.open),
        barred=_class(whole.barred),
        covered=_class(whole.covered),
    )
    return join(
        tag("p", lead),
        tag("p", say("report_wash_mark", apart=length(washed.MARK_M, units))),
        long_table(
            say("report_wash_show", count=len(listed)), say("report_wash_cap"), columns, listed
        ),
    )


def _worst(tally: Tally, made: Erosion) -> Markup | None:
    """Write the stretches that are to be covered first."""
    worst = washed.worst_stretches(made)
    if not worst:
        return None
    columns = (
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_stretch")),
        Column(say("report_col_steep"), number=True),
        Column(say("report_col_wash_bare")),
        Column(say("report_col_wash_covered")),
    )
    listed: list[list[Piece]] = [
        [
            one.trail_id,
            tally.stretch(one.trail_id, one.from_m, one.to_m),
            grade(one.grade_pct),
            _class(one.bare),
            _class(one.covered),
        ]
        for one in worst
    ]
    return join(
        tag("h4", say("report_wash_worst_title", count=len(worst))),
        tag("p", say("report_wash_worst_lead")),
        long_table(
            say("report_wash_worst_show", count=len(worst)),
            say("report_wash_worst_cap"),
            columns,
            listed,
        ),
    )


def _measured(units: Units) -> Markup:
    """Write what two studies measured, in the user's units."""
    us = units == "us"
    unit = say("report_measured_tons" if us else "report_measured_tonnes")
    times = 1000.0 / SHORT_TON_KG * ACRE_M2 / HECTARE_M2 if us else 1.0

    def said(values: tuple[float, ...]) -> str:
        ends = [f"{value * times:.1f}" if value * times < 10 else f"{value * times:.0f}"
                for value in sorted(values)]  # fmt: skip
        return f" {NONE} ".join(dict.fromkeys(ends))

    columns = (
        Column(say("report_col_closed_with")),
        Column(say("report_col_piedmont"), number=True),
        Column(say("report_col_ridge"), number=True),
    )
    rows: list[list[Piece]] = [
        [say(f"report_closed_{name}"), said(first), said(second)]
        for name, first, second in MEASURED
    ]
    note = say("report_measured_note", sources="; ".join(map(str, STUDIES)))
    return join(
        table(say("report_measured_cap", unit=unit), columns, rows), bullets([note], class_="notes")
    )


def _notes(made: Erosion) -> Markup | None:
    """Say what the classes stand on."""
    k = say(
        "report_wash_k_default" if made.k_default else "report_wash_k_own",
        k=made.k_factor,
        bare=made.cover_bare,
        covered=made.cover_covered,
    )
    family = say(
        "report_wash_family",
        family=made.family,
        other=made.other_family,
        ratio=made.other_ratio,
    )
    said = [family, k, say("report_wash_sources", sources="; ".join(map(str, _FACTORS)))]
    if made.unjudged:
        said.append(say("report_wash_unjudged", names=", ".join(made.unjudged)))
    return bullets(said, class_="notes")


def _pressed(tally: Tally, made: Erosion) -> Markup:
    """Write how far loads press the ground, and what driving few trails saves."""
    whole, few, units = made.compaction_whole, made.concentrated, tally.units
    lead = say(
        "report_press_lead",
        share=share(100 * whole.share),
        done=ground(whole.done_m2, units),
        stand=share(100 * whole.done_m2 / few.stand_m2),
    )
    columns = (
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_loads_mean"), number=True),
        Column(say("report_col_loads_most"), number=True),
        Column(say("report_col_pressed"), number=True),
    )
    listed: list[list[Piece]] = [
        [row.trail_id, f"{row.loads_mean:.0f}", f"{row.loads_most}", share(100 * row.share)]
        for row in sorted(made.compaction, key=lambda r: natural(r.trail_id))
    ]
    rates = tally.plan.area.settings.soil.compaction
    note = say(
        "report_press_note",
        flat=rates.flat,
        other=rates.sloping_or_wet,
        source=str(sources.PASSES),
    )
    return join(
        tag("p", lead),
        tag("p", _saves(few, units)),
        long_table(
            say("report_wash_show", count=len(listed)), say("report_press_cap"), columns, listed
        ),
        bullets([note], class_="notes"),
    )


def _saves(few: Concentrated, units: Units) -> str:
    """Say what driving few trails saves."""
    more = few.spread_whole_m2 - few.planned_whole_m2
    saved = (
        say("report_press_saves", more=ground(more, units))
        if more >= 1.0
        else say("report_press_even")
    )
    twice = say(
        "report_press_twice",
        planned=share(100 * few.planned_m2 / few.stand_m2),
        spread=share(100 * few.spread_m2 / few.stand_m2),
    )
    if few.spread_m2 >= few.planned_m2:
        return f"{saved} {twice}"
    less = say("report_press_less")
    return f"{saved} {twice} {less}"
