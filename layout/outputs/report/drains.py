"""Water: the strips that are kept, by the rule that asks for them, and the water bars."""

from __future__ import annotations

from collections import Counter

from layout.drainage import TEMPORARY_OVER_PCT, amounts
from layout.outputs import bar_facts
from layout.outputs.about import rule_words
from layout.outputs.amounts import grade
from layout.outputs.report import crossings
from layout.outputs.report.figures import ground, length, natural
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import counted, say
from layout.records import WaterBar
from layout.sources import (
    BAR_PLACES,
    BAR_SKEW,
    CROSSING_BARS,
    DIPS,
    WATER_BARS,
    WATERBREAKS,
    Source,
)


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        A rule whose source was not read is marked in its row, and over the whole page.
    """
    open_ = join(*(tag("p", words, class_="banner") for words in rule_words(tally.plan)))
    return section(
        "water", say("report_water"), open_, _strips(tally), crossings.table_of(tally), _bars(tally)
    )


def _strips(tally: Tally) -> Markup:
    """Write the strips kept along water."""
    found = tally.plan.strips
    title = tag("h3", say("report_strips_title", count=len(found)))
    if not found:
        mapped = bool(tally.plan.area.water)
        return join(title, tag("p", say("report_no_strips" if mapped else "report_no_water")))
    columns = (
        Column(say("report_col_water")),
        Column(say("report_col_water_class")),
        Column(say("report_col_rule")),
        Column(say("report_col_rule_state")),
        Column(say("report_col_size"), number=True),
    )
    listed: list[list[Piece]] = [
        [
            strip.feature_id,
            strip.water_class,
            strip.rule,
            say("report_rule_read")
            if strip.confirmed
            else tag("strong", say("report_rule_unverified"), class_="mark"),
            ground(strip.shape.area, tally.units),
        ]
        for strip in sorted(found, key=lambda s: (s.rule, s.feature_id))
    ]
    return join(
        title,
        tag("p", say("report_strips_lead")),
        long_table(
            say("report_show_strips", count=len(listed)), say("report_strips_cap"), columns, listed
        ),
    )


def _bars(tally: Tally) -> Markup:
    """Write the drains, in the order they are met going out from the landing."""
    bars, units = tally.plan.bars, tally.units
    title = tag("h3", say("report_bars_title", count=len(bars)), id="bars")
    if not bars:
        return join(title, tag("p", say("report_no_bars")))
    why = Counter(bar.why for bar in bars)
    reasons = ", ".join(
        say("report_bars_of", count=count, why=say(f"report_why_{name}"))
        for name, count in sorted(why.items(), key=lambda item: (-item[1], item[0]))
    )
    open_ = sum(bar.outlet == "unknown" for bar in bars)
    lead = say("report_bars_lead", bars=counted("report_drain", len(bars)), reasons=reasons)
    columns = (
        Column(say("report_col_bar")),
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_at"), number=True),
        Column(say("report_col_drain")),
        Column(say("report_col_grade"), number=True),
        Column(say("report_col_spacing"), number=True),
        Column(say("report_col_bar_length"), number=True),
        Column(say("report_col_outlet")),
        Column(say("report_col_room")),
        Column(say("report_col_why")),
    )
    listed: list[list[Piece]] = [
        [
            bar.bar_id,
            bar.trail_id,
            tally.station(bar.trail_id, bar.at_m),
            bar_facts.what(bar),
            grade(bar.grade_pct),
            length(bar.spacing_m, units),
            "" if bar.length_m is None else length(bar.length_m, units),
            say(f"report_outlet_{bar.outlet}"),
            "" if bar.outlet == "unknown" else bar_facts.room(bar, units) or say("report_no_room"),
            say(f"report_why_{bar.why}"),
        ]
        for bar in sorted(bars, key=lambda b: (natural(b.trail_id), b.at_m))
    ]
    skew = ", ".join(f"{deg:.0f}\N{DEGREE SIGN}" for deg in sorted({b.skew_deg for b in bars}))
    note = say("report_bars_note", skew=skew, steep=grade(TEMPORARY_OVER_PCT))
    sources = "; ".join(str(source) for source in bar_sources(tally))
    return join(
        title,
        tag("p", lead, " ", counted("report_open_outlet", open_) if open_ else None),
        tag("p", _hazard(tally)),
        _amounts(tally),
        long_table(
            say("report_show_bars", count=len(listed)),
            say("report_bars_cap"),
            columns,
            listed,
            printed=False,
        ),
        bullets([note, say("report_sources_are", sources=sources)], class_="notes"),
    )


def bar_sources(tally: Tally) -> list[Source]:
    """Name what the drains stand on.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    list of Source
        The waterbreak table only where a hazard is given, dips and crossings only where
        there are any.
    """
    bars, given = tally.plan.bars, tally.plan.area.settings.soil.erosion_hazard
    return [
        WATER_BARS,
        BAR_PLACES,
        BAR_SKEW,
        *([WATERBREAKS] if given else []),
        *([DIPS] if any(bar.kind == "dip" for bar in bars) else []),
        *([CROSSING_BARS] if any(bar.why == "crossing" for bar in bars) else []),
    ]


def _hazard(tally: Tally) -> str:
    """Say by which tables drains are spaced."""
    hazard = tally.plan.area.settings.soil.erosion_hazard
    if not hazard:
        return say("report_bars_hazard_open")
    return say("report_bars_hazard", hazard=hazard)


def _amounts(tally: Tally) -> Markup:
    """Write how much there is to build on each trail, for each of the two sets."""
    bars, units = tally.plan.bars, tally.units
    columns = (
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_shutdown"), number=True),
        Column(say("report_col_closeout"), number=True),
        Column(say("report_col_dips"), number=True),
        Column(say("report_col_breaks"), number=True),
    )

    def row(name: str, laid: list[WaterBar]) -> list[Piece]:
        held = amounts(laid)
        return [
            name,
            *(
                say("report_amount", count=count, length=length(metres, units))
                for count, metres in (
                    (held.shutdown, held.shutdown_m),
                    (held.closeout, held.closeout_m),
                )
            ),
            str(held.dips),
            str(held.breaks),
        ]

    names = sorted({bar.trail_id for bar in bars}, key=natural)
    rows = [row(name, [b for b in bars if b.trail_id == name]) for name in names]
    last = row(say("report_amounts_all"), list(bars))
    return table(say("report_amounts_cap"), columns, rows, last=last)
