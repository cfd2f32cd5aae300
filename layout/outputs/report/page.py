"""report.html: the whole plan on one page that needs nothing beside it."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from layout.outputs.about import rule_words
from layout.outputs.report import (
    closeout,
    closing,
    decks,
    drains,
    effort,
    ground,
    job,
    landings,
    limiting,
    loads,
    looks,
    machine,
    order,
    picture,
    proof,
    read_first,
    settings_used,
    since,
    stand,
    trailer,
    trails,
    trees,
    wood,
)
from layout.outputs.report.tags import Markup, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "report.html"


def write(plan: Plan, path: Path) -> None:
    """Write the report of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file: one HTML page in UTF-8 with style and picture inside. It loads
        nothing, runs nothing, and is well-formed XML as well.
    """
    path.write_text(page(plan), encoding="utf-8", newline="\n")


def page(plan: Plan) -> str:
    """Give the page.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        From the doctype on.
    """
    tally = Tally(plan)
    name = " ".join(plan.area.settings.area.name.split()) or say("report_no_name")
    parts = [
        ("job", say("report_job"), job.part(tally)),
        ("map", say("report_map"), picture.part(tally)),
        ("read-first", say("report_read_first"), read_first.part(tally)),
        ("trees", say("report_trees_title"), trees.part(tally)),
        ("landings", say("report_landings"), landings.part(tally)),
        ("limits", say("report_options"), limiting.part(tally)),
        ("layout", say("report_layout"), trails.part(tally)),
        ("ground", say("report_soil"), ground.part(tally)),
        ("water", say("report_water"), drains.part(tally)),
        ("timber", say("report_timber"), wood.part(tally)),
        ("stand", say("report_stand"), stand.part(tally)),
        ("loads", say("report_loads"), loads.part(tally)),
        ("work", say("report_work"), effort.part(tally)),
        ("order", say("report_order"), order.part(tally)),
        ("closeout", say("report_closeout"), closeout.part(tally)),
        ("machine", say("report_machine"), machine.part(tally)),
        ("decks", say("report_decks"), decks.part(tally)),
        ("trailer", say("report_trailer"), trailer.part(tally)),
        ("proposed", say("report_proposed"), since.proposed(tally)),
        ("since", say("report_since"), since.changed(tally)),
        ("closing", say("report_closing"), closing.cautions(tally)),
        ("sources", say("report_sources"), closing.source_list(tally)),
        ("settings", say("report_settings"), settings_used.part(tally)),
        ("appendix", say("report_appendix"), proof.part(tally)),
    ]
    told = [(anchor, title) for anchor, title, made in parts if made is not None]
    first, *rest = (made for _, _, made in parts if made is not None)
    body = tag(
        "body",
        job.head(tally, name, _banners(tally)),
        tag("main", first, job.contents(told), *rest),
    )
    settings = plan.area.settings.outputs
    whole = tag("html", _head(name, settings.paper), body, lang="en")
    return f"<!DOCTYPE html>\n{whole}"


def _banners(tally: Tally) -> tuple[str, ...]:
    """Give what stands over everything else."""
    stops = len(tally.by_level["stop"])
    said = [say("not_walked"), *rule_words(tally.plan)]
    if stops:
        said.insert(0, say("map_stops_one") if stops == 1 else say("map_stops", count=stops))
    return tuple(said)


def _head(name: str, paper: str) -> Markup:
    """Write what a browser must know before the page: above all that it may load nothing."""
    style = looks.style(paper)
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    rules = (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    return tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=rules),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("title", say("report_title", area=name)),
        tag("style", Markup(style)),
    )
