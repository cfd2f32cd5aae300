"""The end of the page: the sources it stands on, and what holds for every plan."""

from __future__ import annotations

from layout import sources
from layout.outputs.about import rule_words
from layout.outputs.report import (
    closeout,
    decks,
    drains,
    effort,
    loads,
    machine,
    stand,
    stumps,
    washing,
    wood,
)
from layout.outputs.report.read_first import UNVERIFIED
from layout.outputs.report.tags import Markup, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.sources import Source

ALWAYS = (
    sources.SOIL_LIMIT,
    sources.SOIL_AIM,
    sources.SOIL_CLASSES,
    sources.STEM_VOLUME,
    sources.GREEN_WEIGHT,
    sources.HEIGHT_CURVES,
)


NO_SOURCE = (sources.COMMON_PRACTICE, "memory: unverified")


def source_list(tally: Tally) -> Markup:
    """List every source the page cites, once, and which of them were not read.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    read: dict[str, bool] = {}
    treatment = tally.plan.treatment
    known: list[Source] = [
        *ALWAYS,
        *([sources.BENCH_SHAPE] if tally.plan.benches else []),
        *drains.bar_sources(tally),
        *washing.cited(tally),
        *wood.sources(tally),
        *stumps.sources(tally),
        *loads.sources(tally),
        *effort.sources(tally),
        *machine.sources(tally),
        *decks.sources(tally),
        *closeout.sources(tally),
        *(() if treatment is None else stand.sources(treatment)),
    ]
    if any(finding.code == "leave_brushed" for finding in tally.findings):
        known.append(sources.WINCH_DAMAGE)
    for source in known:
        read[str(source).removesuffix(UNVERIFIED)] = source.confirmed
    for finding in tally.findings:
        name = finding.source.removesuffix(UNVERIFIED)
        # one finding that was not confirmed is enough to doubt a source
        if name and name not in NO_SOURCE:
            read[name] = read.get(name, True) and finding.confirmed
    items = (
        join(
            name,
            None if confirmed else " ",
            None if confirmed else tag("strong", say("report_source_unread"), class_="mark"),
        )
        for name, confirmed in sorted(read.items(), key=lambda item: item[0].lower())
    )
    return section(
        "sources",
        say("report_sources"),
        tag("p", say("report_sources_lead")),
        bullets(items, class_="sources"),
    )


def cautions(tally: Tally) -> Markup:
    """Write what holds for every plan, and what is open in this one.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    points = [
        tag("strong", say("not_walked")),
        say("not_permission"),
        *(tag("strong", f"{words}.") for words in rule_words(tally.plan)),
        say("closing_walk"),
        say("closing_within"),
        say("closing_phone"),
        say("closing_proposes"),
        say("closing_falling"),
    ]
    return section("closing", say("report_closing"), bullets(points))
