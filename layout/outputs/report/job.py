"""The job in a paragraph, and what the sheet itself is."""

from __future__ import annotations

from layout.outputs import work_summary
from layout.outputs.amounts import limit, share
from layout.outputs.report.figures import ground, length
from layout.outputs.report.tags import Markup, bullets, join, link, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.summary import SURENESS
from layout.outputs.tree_orders import idle_positions
from layout.outputs.words import counted, say


def part(tally: Tally) -> Markup:
    """Write the job: trees reached, trail, ground disturbed, findings.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    work = work_summary.said(tally.plan)
    sentences = [_trees(tally), _trail(tally), _ground(tally), *work, _findings(tally)]
    if tally.plan.choice.stopped_by == "time":
        sentences.append(say("out_of_time"))
    sentences.append(say("best_found"))
    return section(
        "job", say("report_job"), tag("p", " ".join(filter(None, sentences)), class_="lead")
    )


def contents(parts: list[tuple[str, str]]) -> Markup:
    """List the parts of the page as links; paper leaves them out.

    Parameters
    ----------
    parts : list of tuple of str
        Each part's name and title.
    """
    title = say("report_contents")
    return tag(
        "nav", bullets(link(name, words) for name, words in parts), aria_label=title, id="contents"
    )


def _trees(tally: Tally) -> str:
    """Say how many marked trees are reached, and how surely."""
    if not tally.marked and not tally.done:
        return say("report_none_marked")
    said = []
    if tally.marked:
        sure = ", ".join(f"{tally.sure[word]} {say(f'sure_{word}')}" for word in SURENESS)
        idle = len(idle_positions(tally.plan))
        places = counted("position", len(tally.plan.positions) - idle)
        said.append(
            say("report_trees", served=tally.served, marked=len(tally.marked))
            + (say("report_trees_from", places=places, sureness=sure) if tally.served else "")
            + "."
        )
    if tally.done:
        said.append(say("done_one") if tally.done == 1 else say("done", count=tally.done))
    return " ".join(said)


def _trail(tally: Tally) -> str:
    """Say how much trail it takes."""
    plan, units = tally.plan, tally.units
    if not plan.trails:
        return say("report_no_trail")
    spurs = sum(trail.kind == "spur" for trail in plan.trails)
    said = say("report_trail_main", length=length(tally.trail_m("main"), units))
    if spurs:
        spur_m = length(tally.trail_m("spur"), units)
        said += say("report_trail_spurs", length=spur_m, spurs=counted("spur", spurs))
    if plan.turning_places:
        said += say("report_trail_turning", places=counted("turning", len(plan.turning_places)))
    return said + "."


def _ground(tally: Tally) -> str:
    """Say how much ground is disturbed, against aim and limit."""
    soil, rule = tally.plan.soil, tally.plan.area.settings.soil
    bare_m2 = soil.main_m2 + soil.spur_m2 + soil.turning_m2 + soil.bench_m2
    return say(
        "report_ground",
        share=share(soil.share_pct),
        stand=ground(soil.stand_m2, tally.units),
        bare=ground(bare_m2, tally.units),
        aim=limit(rule.aim_pct),
        limit=limit(rule.limit_pct),
        whole=share(soil.share_with_landing_pct),
    )


def _findings(tally: Tally) -> str:
    """Say what the checks found."""
    levels = tally.by_level
    return say(
        "report_findings",
        stops=counted("report_stop", len(levels["stop"])),
        cautions=counted("report_caution", len(levels["caution"])),
        unknowns=counted("report_unknown", len(levels["unknown"])),
    )


def head(tally: Tally, name: str, banners: tuple[str, ...]) -> Markup:
    """Write the page's head: the area, what this is, and what must be read before use.

    Parameters
    ----------
    tally : Tally
        The plan, counted.
    name : str
        The area's name.
    banners : tuple of str
        What stands over everything else.
    """
    made = tally.plan.about.get("made", "")[:10]
    about = say("report_made", date=made) if made else say("report_made_undated")
    return tag(
        "header",
        tag("h1", name),
        tag("p", say("report_what"), " ", tag("span", about, class_="date"), class_="sub"),
        join(*(tag("p", words, class_="banner") for words in banners)),
    )
