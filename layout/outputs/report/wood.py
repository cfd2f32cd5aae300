"""Timber: what the marked trees weigh and hold, as far as it is figured; and stems in trails."""

from __future__ import annotations

from collections.abc import Sequence

from layout.outputs.report.figures import mass, wood
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.records import TreeOutcome
from layout.sources import GREEN_WEIGHT, HEIGHT_CURVES, STEM_VOLUME


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        Never board feet without the name of their log rule.
    """
    return section("timber", say("report_timber"), _figures(tally), _in_trail(tally))


def _figures(tally: Tally) -> Markup:
    """Write mass and volume of the marked trees, reached and not."""
    groups = (
        (say("report_timber_served"), [o for o in tally.marked if o.status == "served"]),
        (say("report_timber_missed"), list(tally.missed)),
    )
    listed = [_row(name, trees, tally) for name, trees in groups if _known(trees)]
    if not listed:
        return tag("p", say("report_timber_none"))
    columns = (
        Column(say("report_col_which")),
        Column(say("report_col_count"), number=True),
        Column(say("report_col_all_mass"), number=True),
        Column(say("report_col_heaviest"), number=True),
        Column(say("report_col_volume"), number=True),
    )
    sources = "; ".join(str(source) for source in (STEM_VOLUME, GREEN_WEIGHT, HEIGHT_CURVES))
    rule = tally.plan.area.settings.timber.rule
    boards = say("report_boards_rule", rule=rule) if rule else say("report_boards")
    return join(
        table(say("report_timber_cap"), columns, listed),
        bullets(
            [say("report_timber_note"), boards, say("report_sources_are", sources=sources)],
            class_="notes",
        ),
    )


def _known(trees: Sequence[TreeOutcome]) -> list[TreeOutcome]:
    """Give the trees with a mass or a volume."""
    return [o for o in trees if o.mass_kg is not None or o.volume_m3 is not None]


def _row(name: str, trees: Sequence[TreeOutcome], tally: Tally) -> list[Piece]:
    """Write sums of some trees; a sum of some only says of how many."""
    units = tally.units
    masses = [o.mass_kg for o in trees if o.mass_kg is not None]
    volumes = [o.volume_m3 for o in trees if o.volume_m3 is not None]
    heaviest = max((o for o in trees if o.mass_kg is not None), key=_mass, default=None)
    return [
        name,
        str(len(trees)),
        _of(mass(sum(masses), units), len(masses), len(trees)),
        ""
        if heaviest is None
        else say("report_heaviest", mass=mass(_mass(heaviest), units), tree=heaviest.tree_id),
        _of(wood(sum(volumes), units), len(volumes), len(trees)),
    ]


def _mass(tree: TreeOutcome) -> float:
    return tree.mass_kg or 0.0


def _of(said: str, known: int, count: int) -> str:
    """Say a sum, and of how many it is where some are not known."""
    if not known:
        return say("report_not_known")
    return said if known == count else say("report_sum_of", sum=said, known=known, count=count)


def _in_trail(tally: Tally) -> Markup | None:
    """Name the unmarked stems that stand in a trail."""
    names = tally.in_trail
    if not names:
        return None
    return join(
        tag("h3", say("report_in_trail", count=len(names))),
        tag("p", say("report_in_trail_lead")),
        tag("p", say("report_which", trees=", ".join(names))),
    )
