"""What this plan proposes of its own, and what has changed since the earlier one."""

from __future__ import annotations

from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import counted, say

LAYERS = ("trails", "winch_positions")
KINDS = ("kept", "moved", "added", "retired")


def proposed(tally: Tally) -> Markup:
    """Write what was left out of area.toml, and what stands in its place.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    plan = tally.plan
    settings = plan.area.settings
    fixed = sum(trail.source == "fixed" for trail in plan.trails)
    points = [
        say("report_landing_proposed" if tally.landing_proposed else "report_landing_drawn"),
        say("report_main_routed" if tally.main_routed else "report_main_drawn")
        if plan.trails
        else None,
        counted("report_fixed", fixed) if fixed else None,
        None if settings.water.rules else say("report_rule_left_out"),
        None if settings.property.line else say("report_line_left_out"),
        say("report_list_marked") if settings.stand.list == "marked" else None,
    ]
    return section("proposed", say("report_proposed"), bullets(p for p in points if p))


def changed(tally: Tally) -> Markup | None:
    """Write what was kept, is new and is gone since the earlier plan; None without one.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
    """
    plan = tally.plan
    if not plan.changes:
        return None
    columns = (
        Column(say("report_col_what")),
        Column(say("report_col_count"), number=True),
        Column(say("report_col_names")),
    )
    listed: list[list[Piece]] = []
    for layer in LAYERS:
        for kind in KINDS:
            names = [c.name for c in plan.changes if c.layer == layer and c.change == kind]
            if names:
                title = say(f"report_since_{layer}", change=say(f"report_since_{kind}"))
                listed.append([title, str(len(names)), ", ".join(names)])
    return section(
        "since",
        say("report_since"),
        tag("p", say("report_since_lead")),
        table(say("report_since_cap"), columns, listed),
    )
