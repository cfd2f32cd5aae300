"""The stand that is left: before and after, kinds and sizes, openings, what is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.amounts import share
from layout.outputs.report import diameters
from layout.outputs.report.before_after import Three, area_word, three_cells, uncaught
from layout.outputs.report.figures import NONE, ground, length
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.wood_amounts import basal_number, by_area, wood_by_area
from layout.outputs.words import counted, say
from layout.sources import (
    CROWN_WIDTHS,
    DE_LIOCOURT,
    GAP_RATIO,
    MIXED_DENSITY,
    OPEN_GROWN_CROWNS,
    PLOT_SAMPLING,
    UPLAND_STOCKING,
    Source,
)
from layout.speech import speak_basal_area, speak_diameter
from layout.treatment import less

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plots import Estimate
    from layout.stocking import Condition
    from layout.treatment import Treatment
    from layout.units import Units

MOST_GAPS = 10
AIMS = ("residual_min_m2_per_ha", "removal_max_pct", "gap_max_m", "leave_damage_max_pct")


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where it was not worked out. What is not known is said, and is no zero.
    """
    treatment = tally.plan.treatment
    if treatment is None:
        return None
    thinned = treatment.thinning
    three = (thinned.before, thinned.removed, thinned.after)
    return section(
        "stand",
        say("report_stand"),
        _lead(tally, treatment),
        _before_after(tally, treatment, three),
        _mix(tally.units, three),
        diameters.part(tally.units, three),
        _plots(tally.units, treatment),
        _canopy(tally, treatment),
        _not_known(tally, treatment),
        bullets(
            [say("report_sources_are", sources="; ".join(map(str, sources(treatment))))],
            class_="notes",
        ),
    )


def _lead(tally: Tally, treatment: Treatment) -> Markup:
    """Say where the figures come from, and who goes."""
    trees, units = tally.plan.area.trees, tally.units
    if treatment.thinning.from_plots and treatment.plots is not None:
        plots = counted("report_plot", treatment.plots.basal_area.plots)
        said = say("report_stand_plots", plots=plots)
    elif trees.full_list and treatment.smallest_cm is not None:
        said = say(
            "report_stand_list",
            trees=f"{int(treatment.inside.sum()):,}",
            area=ground(treatment.area_m2, units),
            least=speak_diameter(treatment.smallest_cm, units),
        )
    else:
        said = ""
    marked = int((trees.marked & treatment.inside).sum())
    way = int((treatment.in_way & treatment.inside).sum())
    taken = say("report_stand_taken", marked=marked)
    if way:
        key = "report_stand_way" if treatment.singled_out else "report_stand_way_about"
        taken += say(key, count=way)
    return tag("p", f"{said} {taken}.".strip())


def _before_after(tally: Tally, treatment: Treatment, three: Three) -> Markup | None:
    """Write the table of before, taken and after."""
    if not any(three):
        return None
    units, thinned = tally.units, treatment.thinning
    before, removed, after = three

    def row(
        key: str, say_it: Callable[[Condition], str], *, also_taken: bool = True
    ) -> list[Piece]:
        cells = (before, removed if also_taken else None, after)
        return [say(key), *(NONE if c is None else say_it(c) for c in cells)]

    rows = [
        row("report_row_trees", lambda c: by_area(c.stems_per_ha, units)),
        row("report_row_basal", lambda c: speak_basal_area(c.basal_area_m2_per_ha, units)),
        row("report_row_qmd", lambda c: _diameter(c.qmd_cm, units)),
    ]
    if before is not None:
        rows += [
            row("report_row_stocking", lambda c: f"{c.stocking_pct:.0f} %", also_taken=False),
            row("report_row_a_line", lambda c: _basal(c.a_line_m2_per_ha, units), also_taken=False),
            row("report_row_b_line", lambda c: _basal(c.b_line_m2_per_ha, units), also_taken=False),
            row("report_row_density", lambda c: f"{c.relative_density:.2f}", also_taken=False),
            row("report_row_hardwood", lambda c: _part(c.hardwood_share)),
            row(f"report_row_q_{units}", lambda c: f"{c.q:.1f}" if c.q else NONE, also_taken=False),
        ]
    canopy = treatment.canopy
    if canopy.cover_after is not None:
        cover = [_part(canopy.cover_before), NONE, _part(canopy.cover_after)]
        rows.append([say("report_row_cover"), *cover])
    columns = (
        Column(say("report_col_measure")),
        Column(say("report_col_before"), number=True),
        Column(say("report_col_taken"), number=True),
        Column(say("report_col_after"), number=True),
    )
    shares = (
        ("trees", thinned.stems_share),
        ("basal", thinned.basal_area_share),
        ("wood", treatment.wood_share),
        ("saw", treatment.saw_share),
    )
    told = [say(f"report_share_{key}", share=share(100 * s)) for key, s in shares if s is not None]
    notes = [say("report_chart_note")] if before is not None else []
    if thinned.from_plots:
        notes.append(say("report_plots_note"))
    for when, one in (("before", before), ("after", after)):
        if one is not None and one.q_reason:
            said = say("report_q_note", when=say(f"report_q_{when}"), reason=one.q_reason)
            notes.append(said)
    blind = 0 if before is None else before.without_dbh
    if blind:
        notes.append(say("report_without_dbh", count=blind))
    return join(
        table(say("report_stand_cap", area=area_word(units)), columns, rows),
        tag("p", say("report_shares", shares=", ".join(told))) if told else None,
        bullets(notes, class_="notes"),
    )


def _diameter(cm: float | None, units: Units) -> str:
    return NONE if cm is None else speak_diameter(cm, units)


def _basal(m2_per_ha: float | None, units: Units) -> str:
    return NONE if m2_per_ha is None else speak_basal_area(m2_per_ha, units)


def _part(of_one: float | None) -> str:
    return NONE if of_one is None else f"{100 * of_one:.0f} %"


def _mix(units: Units, three: Three) -> Markup | None:
    """Write basal area by kind, before, taken and after."""
    sums = [
        {}
        if one is None
        else {s.name: s.basal_area_m2_per_ha for s in one.species if s.stems_per_ha > 0}
        for one in three
    ]
    names = list(dict.fromkeys(name for one in sums for name in one))
    if not names:
        return None
    odd = {name for name in names if uncaught(three, sums, name)}
    left = sum(sums[2].values())
    rows: list[list[Piece]] = []
    for name in names:
        cells = three_cells(three, sums, name, lambda v: basal_number(v, units), name in odd)
        after = _part(sums[2].get(name, 0.0) / left) if left > 0 and not odd else NONE
        rows.append([name or say("report_no_species"), *cells, after])
    columns = (
        Column(say("report_col_species")),
        Column(say("report_col_before"), number=True),
        Column(say("report_col_taken"), number=True),
        Column(say("report_col_after"), number=True),
        Column(say("report_col_share_after"), number=True),
    )
    unit = say("report_basal_us") if units == "us" else say("report_basal_metric")
    return table(say("report_mix_cap", unit=unit), columns, rows)


def _plots(units: Units, treatment: Treatment) -> Markup | None:
    """Write what the plots say, with the range it lies in."""
    told, removed = treatment.plots, treatment.thinning.removed
    if told is None or told.basal_area.mean is None:
        return None

    def row(key: str, e: Estimate, say_it: Callable[[float, Units], str]) -> list[Piece]:
        return [
            say(key),
            *(NONE if v is None else say_it(v, units) for v in (e.mean, e.low, e.high)),
        ]

    rows = [
        row("report_row_trees", told.stems, by_area),
        row("report_row_basal", told.basal_area, speak_basal_area),
        row("report_row_wood", told.wood, wood_by_area),
    ]
    if treatment.thinning.from_plots and removed is not None:
        left = less(told.basal_area, removed.basal_area_m2_per_ha)
        rows.append(row("report_row_basal_after", left, speak_basal_area))
    columns = (
        Column(say("report_col_measure")),
        Column(say("report_col_mean"), number=True),
        Column(say("report_col_low"), number=True),
        Column(say("report_col_high"), number=True),
    )
    caption = say(
        "report_plots_cap",
        plots=counted("report_plot", told.basal_area.plots),
        area=area_word(units),
        confidence=f"{100 * told.basal_area.confidence:.0f}",
    )
    reason = told.basal_area.reason
    return join(
        table(caption, columns, rows),
        bullets([say("report_unknown_list", reason=reason)], class_="notes") if reason else None,
    )


def _canopy(tally: Tally, treatment: Treatment) -> Markup | None:
    """Write cover, light and openings."""
    canopy, units = treatment.canopy, tally.units
    if canopy.gaps is None:
        return None
    places = Places(tally.plan)
    rows: list[list[Piece]] = []
    for number, gap in enumerate(canopy.gaps[:MOST_GAPS], start=1):
        middle = gap.outline.representative_point()
        rows.append(
            [
                f"G{number}",
                length(gap.diameter_m, units),
                ground(gap.area_m2, units),
                NONE if gap.height_ratio is None else f"{gap.height_ratio:.1f}",
                _part(gap.sky_share),
                places.near((float(middle.x), float(middle.y))) or NONE,
            ]
        )
    columns = (
        Column(say("report_col_gap")),
        Column(say("report_col_across"), number=True),
        Column(say("report_col_size"), number=True),
        Column(say("report_col_height_ratio"), number=True),
        Column(say("report_col_sky"), number=True),
        Column(say("report_col_near")),
    )
    more = len(canopy.gaps) - len(rows)
    state = "" if GAP_RATIO.confirmed else say("report_source_unread")
    notes = [
        say("report_gaps_note"),
        say("report_gap_thumb", what=GAP_RATIO.place, state=state),
        *([say("report_gaps_more", count=more)] if more else []),
    ]
    return join(
        tag("h3", say("report_canopy_title"), id="gaps"),
        tag(
            "p",
            say(
                "report_cover",
                before=_part(canopy.cover_before),
                after=_part(canopy.cover_after),
                sky=_part(canopy.open_sky_after),
            ),
        ),
        join(table(say("report_gaps_cap"), columns, rows), bullets(notes, class_="notes"))
        if rows
        else tag("p", say("report_gaps_none")),
    )


def _not_known(tally: Tally, treatment: Treatment) -> Markup | None:
    """Say plainly what cannot be known, and what was not judged."""
    reasons = dict.fromkeys(
        reason for reason in (treatment.thinning.reason, treatment.canopy.reason) if reason
    )
    said = [
        say("report_unknown_list", reason=reason[:1].upper() + reason[1:]) for reason in reasons
    ]
    aims = tally.plan.area.settings.treatment
    blank = [
        say(f"report_aim_{name.removesuffix('_m2_per_ha').removesuffix('_pct').removesuffix('_m')}")
        for name in AIMS
        if getattr(aims, name) is None
    ]
    if blank:
        said.append(say("report_aims_blank", aims="; ".join(blank)))
    return join(tag("h3", say("report_unknown_title")), bullets(said)) if said else None


def sources(treatment: Treatment) -> tuple[Source, ...]:
    """Name what the figures stand on."""
    found = [UPLAND_STOCKING, MIXED_DENSITY, DE_LIOCOURT]
    if treatment.canopy.gaps is not None:
        found += [CROWN_WIDTHS, OPEN_GROWN_CROWNS, GAP_RATIO]
    if treatment.plots is not None:
        found.append(PLOT_SAMPLING)
    return tuple(found)
