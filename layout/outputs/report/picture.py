"""The overview map, carried inside the page."""

from __future__ import annotations

import base64

from layout.outputs import overview
from layout.outputs.report.tags import Markup, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.stop_limits import stop_limits
from layout.outputs.tree_orders import positions_said
from layout.outputs.words import counted, say

DPI = 150  # names stay legible on letter paper; the page stays small enough to mail


def part(tally: Tally) -> Markup:
    """Draw the overview and write it with what it shows in words.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        The picture as data: nothing has to be loaded to show it.
    """
    plan = tally.plan
    data = base64.b64encode(overview.image(plan, DPI)).decode("ascii")
    said = say(
        "report_map_alt",
        area=plan.area.settings.area.name,
        numbers=overview.key_numbers(plan),
        positions=positions_said(plan),
        bars=counted("report_bar", sum(bar.kind == "bar" for bar in plan.bars)),
        strips=counted("report_strip", len(plan.strips)),
    )
    # in words too: on paper the picture is too small for those it bears
    stop = say("crew_between").join(stop_limits(plan))
    width, height = (round(inches * DPI) for inches in overview.PAGE_IN)
    picture = tag(
        "img",
        src=f"data:image/png;base64,{data}",
        alt=said,
        width=str(width),
        height=str(height),
    )
    return section(
        "map",
        say("report_map"),
        tag(
            "figure",
            tag(
                "div",
                picture,
                class_="wide map",
                role="region",
                aria_label=say("chart_map_box"),
                tabindex="0",
            ),
            tag("figcaption", say("report_map_caption")),
        ),
        # not in the figure: with it that would be too high for the first page of a print
        tag("p", tag("strong", say("crew_stop_title")), " ", f"{stop}."),
    )
