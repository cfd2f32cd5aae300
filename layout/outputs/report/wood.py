"""Timber: what the marked trees weigh and give, and unmarked stems in the way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from layout.harvest import Harvest, Total, by_grade, by_species, total
from layout.outputs.amounts import limit, rule_name
from layout.outputs.listed_species import listed_names
from layout.outputs.report.figures import NONE, length, mass
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.wood_amounts import boards, small_wood, thickness, tons, wood
from layout.outputs.words import say
from layout.records import REACHED, TreeOutcome
from layout.sources import (
    DOYLE_RULE,
    FORM_CLASS_REGRESSION,
    FORM_CLASS_TABLES,
    GREEN_WEIGHT,
    HEIGHT_CURVES,
    INTERNATIONAL_QUARTER,
    SCRIBNER_FORMULA,
    STEM_VOLUME,
    TREE_BIOMASS,
    Source,
)

if TYPE_CHECKING:
    from layout.treatment import Treatment

RULE_SOURCES: dict[str, Source] = {
    "international-quarter": INTERNATIONAL_QUARTER,
    "scribner": SCRIBNER_FORMULA,
    "doyle": DOYLE_RULE,
}


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
    """Write mass and volume of the marked trees, reached and not, and what they give."""
    groups = (
        (say("report_timber_served"), [o for o in tally.marked if o.status in REACHED]),
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
    treatment = tally.plan.treatment
    return join(
        table(say("report_timber_cap"), columns, listed),
        None if treatment is None else _tables(tally, treatment),
        bullets(
            [
                *_weight_notes(tally),
                *_board_notes(tally),
                *([] if treatment is None else _cut_notes(tally, treatment)),
                say("report_sources_are", sources="; ".join(map(str, sources(tally)))),
            ],
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


def _tables(tally: Tally, treatment: Treatment) -> Markup:
    """Write logs and small wood: reached or not, by kind, by grade."""
    harvest, plan = treatment.harvest, tally.plan
    marked = np.array([o.status not in ("leave", "done") for o in plan.trees], dtype=bool)
    served = np.array([o.status in REACHED for o in plan.trees], dtype=bool)
    rows = [
        (say("report_timber_served"), total(harvest, served)),
        (say("report_timber_missed"), total(harvest, marked & ~served)),
        (say("report_timber_all"), total(harvest, marked)),
        (say("report_timber_in_way"), total(harvest, treatment.in_way)),
    ]
    listed = listed_names(plan, harvest)
    kinds = [
        (listed[t.name] if t.name else say("report_no_species"), t)
        for t in by_species(harvest, marked)
    ]
    graded = any(harvest.grade)
    grades = [(t.name or say("report_not_graded"), t) for t in by_grade(harvest, marked)]
    return join(
        _table(tally, harvest, "products", say("report_col_trees_which"), rows),
        _table(tally, harvest, "species", say("report_col_species"), kinds),
        _table(tally, harvest, "grade", say("report_col_log_grade"), grades) if graded else None,
    )


def _table(
    tally: Tally, harvest: Harvest, what: str, head: str, rows: Sequence[tuple[str, Total]]
) -> Markup | None:
    """Write sums, a line each; board feet only where there is a rule, with its name."""
    units = tally.units
    listed = [(name, sums) for name, sums in rows if sums.trees]
    if not listed:
        return None
    ruled = harvest.in_board_feet
    rule = rule_name(harvest.log_rule) if ruled else ""
    caption = say(f"report_{what}_cap", rule=rule) if ruled else say(f"report_{what}_cap_cubic")
    columns = [
        Column(head),
        Column(say("report_col_count"), number=True),
        Column(say("report_col_sawlogs"), number=True),
    ]
    if ruled:
        columns += [
            Column(say("report_col_gross", rule=rule), number=True),
            Column(say("report_col_net", rule=rule), number=True),
        ]
    titles = (
        say("report_col_saw_wood"),
        *([] if ruled else [say("report_col_saw_net")]),
        say("report_col_saw_mass"),
        say("report_col_small"),
        say("report_col_small_mass"),
        say(f"report_col_whole_{tally.plan.area.settings.work.extract}"),
    )
    columns += [Column(title, number=True) for title in titles]
    made: list[list[Piece]] = []
    for name, sums in listed:
        cells = [
            str(sums.sawlogs),
            *([] if sums.gross_bf is None else [boards(sums.gross_bf)]),
            *([] if sums.net_bf is None else [boards(sums.net_bf)]),
            wood(sums.saw_m3, units) if sums.sawlogs else NONE,
            *([] if ruled else [wood(sums.saw_net_m3, units) if sums.sawlogs else NONE]),
            tons(sums.saw_kg, units) if sums.sawlogs else NONE,
            small_wood(sums.pulp_m3, sums.pulp_cords, units) if sums.pulp_m3 else NONE,
            tons(sums.pulp_kg, units) if sums.pulp_m3 else NONE,
            tons(sums.mass_kg, units),
        ]
        known = sums.trees - sums.not_known
        count = (
            str(sums.trees)
            if known == sums.trees
            else say("report_known_of", count=sums.trees, known=known)
        )
        made.append([name, count, *(cells if known else [say("report_not_known")] * len(cells))])
    return table(caption, columns, made)


def _weight_notes(tally: Tally) -> list[str]:
    """Say what the masses are, and how sure."""
    settings = tally.plan.area.settings
    bark = say("report_with_bark" if settings.timber.bark else "report_without_bark")
    whole = settings.work.extract == "tree"
    return [
        (say("report_mass_tree") if whole else say("report_mass_stem", bark=bark))
        + " "
        + say("report_mass_error", error=limit(settings.timber.weight_error_pct)),
        say("report_wood_note"),
        say("report_parts_weigh"),
    ]


def _board_notes(tally: Tally) -> list[str]:
    """Say why there are no board feet where there are none."""
    rule = tally.plan.area.settings.timber.rule
    if not rule:
        return [say("report_boards")]
    return [say("report_boards_none")] if rule == "cubic" else []


def _cut_notes(tally: Tally, treatment: Treatment) -> list[str]:
    """Say how trees were cut up on paper, and what was assumed."""
    timber, units = tally.plan.area.settings.timber, tally.units
    harvest, heights = treatment.harvest, treatment.sizes.heights
    marked = tally.plan.area.trees.marked
    said = [
        say(
            "report_cut_how",
            lengths=", ".join(length(m, units) for m in timber.log_lengths_m),
            trim=thickness(timber.trim_m, units),
            stump=length(timber.stump_height_m, units),
            top=thickness(timber.top_diameter_m, units),
        )
        + " "
        + (
            say("report_pulp_how", pulp=thickness(timber.pulp_top_m, units))
            if timber.pulp_top_m > 0
            else say("report_pulp_none")
        )
    ]
    lost = harvest.saw_m3[marked] > harvest.saw_net_m3[marked] + 1e-9
    said.append(
        say("report_net_defect", defect=limit(timber.defect_pct))
        if lost.any()
        else say("report_net_same")
    )
    quick = int((harvest.by_form_class & marked).sum())
    if quick:
        said.append(say("report_form_class", count=quick, form_class=f"{timber.form_class:g}"))
    beyond = int(np.nansum(harvest.beyond_table[marked]))
    if beyond:
        logs = int(np.nansum(harvest.sawlogs[marked]))
        said.append(say("report_scribner_table", count=beyond, logs=logs))
    if units == "us":
        said.append(say("report_cord", solid=wood(harvest.cord_solid_m3, units)))
    measured = int((~heights.estimated).sum())
    if measured < len(harvest):
        key = "report_heights_set" if heights.calibrations else "report_heights_default"
        said.append(say(key, measured=measured, count=len(harvest)))
    blind = int((marked & np.isnan(harvest.stem_m3)).sum())
    if blind:
        said.append(say("report_no_dbh", count=blind))
    return said


def sources(tally: Tally) -> tuple[Source, ...]:
    """Name what the figures stand on."""
    found = [STEM_VOLUME, GREEN_WEIGHT, HEIGHT_CURVES]
    treatment = tally.plan.treatment
    if tally.plan.area.settings.work.extract == "tree":
        found.append(TREE_BIOMASS)
    if treatment is not None:
        if treatment.harvest.in_board_feet:
            found.append(RULE_SOURCES[treatment.harvest.log_rule])
        if (treatment.harvest.by_form_class & tally.plan.area.trees.marked).any():
            found += [FORM_CLASS_TABLES, FORM_CLASS_REGRESSION]
    return tuple(found)


def _in_trail(tally: Tally) -> Markup | None:
    """Name the unmarked stems in the way."""
    names = tally.in_trail
    if not names:
        return None
    return join(
        tag("h3", say("report_in_trail", count=len(names))),
        tag("p", say("report_in_trail_lead")),
        tag("p", say("report_which", trees=", ".join(names))),
    )
