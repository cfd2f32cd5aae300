"""Water: the strips that are kept, by the rule that asks for them, and the water bars."""

from __future__ import annotations

from collections import Counter

from layout.outputs.about import rule_words
from layout.outputs.amounts import grade
from layout.outputs.report.figures import ground, length, natural
from layout.outputs.report.tables import Column, long_table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import counted, say
from layout.sources import BAR_PLACES, BAR_SKEW, WATER_BARS
from layout.speech import speak_station


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
    return section("water", say("report_water"), open_, _strips(tally), _bars(tally))


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
    """Write the water bars, in the order they are met going out from the landing."""
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
    lead = say("report_bars_lead", bars=counted("report_bar", len(bars)), reasons=reasons)
    columns = (
        Column(say("report_col_bar")),
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_at"), number=True),
        Column(say("report_col_grade"), number=True),
        Column(say("report_col_spacing"), number=True),
        Column(say("report_col_outlet")),
        Column(say("report_col_why")),
    )
    listed: list[list[Piece]] = [
        [
            bar.bar_id,
            bar.trail_id,
            speak_station(bar.at_m, units),
            grade(bar.grade_pct),
            length(bar.spacing_m, units),
            say(f"report_outlet_{bar.outlet}"),
            say(f"report_why_{bar.why}"),
        ]
        for bar in sorted(bars, key=lambda b: (natural(b.trail_id), b.at_m))
    ]
    skew = ", ".join(f"{deg:.0f}\N{DEGREE SIGN}" for deg in sorted({b.skew_deg for b in bars}))
    sources = "; ".join(str(source) for source in (WATER_BARS, BAR_PLACES, BAR_SKEW))
    return join(
        title,
        tag("p", lead, " ", counted("report_open_outlet", open_) if open_ else None),
        long_table(
            say("report_show_bars", count=len(listed)),
            say("report_bars_cap"),
            columns,
            listed,
            printed=False,
        ),
        bullets([say("report_bars_note", skew=skew), say("report_sources_are", sources=sources)],
                class_="notes"),
    )  # fmt: skip
