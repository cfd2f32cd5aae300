"""Closing the job: what every trail and the landing need before they are left for good."""

from __future__ import annotations

from layout import sources as known
from layout.closeout import APPROACH_M, COVER_GRADE_PCT
from layout.closeout_records import Closeout, CloseoutItem
from layout.cover_effects import STUDIES, Cover, less_lost_pct
from layout.outputs.report.figures import NONE, ground, length
from layout.outputs.report.tables import Column, long_table
from layout.outputs.report.tags import Markup, Piece, bullets, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import counted, say
from layout.sources import Source

CITED = (*STUDIES, known.BAR_WITH_BRUSH, known.CLOSING)


def sources(tally: Tally) -> tuple[Source, ...]:
    """Give the sources this part stands on.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    tuple of Source
        None where the part is left out.
    """
    return CITED if tally.plan.closeout is not None and tally.plan.closeout.items else ()


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where closing was not worked out.
    """
    closeout, units = tally.plan.closeout, tally.units
    if closeout is None or not closeout.items:
        return None
    lead = say(
        "report_closeout_lead",
        bars=counted("report_bar", closeout.bars),
        length=length(closeout.bars_m, units),
        cover=ground(closeout.cover_m2, units),
        seed=ground(closeout.seed_m2, units),
    )
    listed = [_row(tally, item) for item in closeout.items]
    return section(
        "closeout",
        say("report_closeout"),
        tag("p", lead),
        long_table(
            say("report_closeout_show", count=len(listed)),
            say("report_closeout_cap"),
            _columns(),
            listed,
            last=_sums(tally, closeout),
            printed=False,
        ),
        bullets(_notes(tally), class_="notes"),
    )


def _columns() -> tuple[Column, ...]:
    return (
        Column(say("report_col_trail"), whole=True),
        Column(say("report_closeout_col_bars"), number=True),
        Column(say("report_closeout_col_bar_length"), number=True),
        Column(say("report_closeout_col_cover")),
        Column(say("report_closeout_col_cover_size"), number=True),
        Column(say("report_closeout_col_seed"), number=True),
        Column(say("report_closeout_col_besides")),
        Column(say("report_closeout_col_minutes"), number=True),
    )


def _row(tally: Tally, item: CloseoutItem) -> list[Piece]:
    """Write one trail, or the landing."""
    units = tally.units
    stretches = "; ".join(
        say(
            "report_closeout_span",
            start=tally.station(item.trail_id, stretch.from_m),
            end=tally.station(item.trail_id, stretch.to_m),
            why=say(f"report_closeout_why_{stretch.why}"),
        )
        for stretch in item.cover
    )
    bare = say("report_closeout_if_bare") if item.litter_m2 > 0 else NONE
    return [
        item.trail_id or f"{say('report_closeout_landing')} {item.landing_id}".strip(),
        str(len(item.bars)) if item.bars else NONE,
        length(item.bars_m, units) if item.bars_m > 0 else NONE,
        stretches or NONE,
        ground(item.cover_m2, units) if item.cover_m2 > 0 else NONE,
        ground(item.seed_m2, units) if item.seed_m2 > 0 else bare,
        "; ".join(_besides(tally, item)) or NONE,
        say("report_closeout_done") if item.done else f"{item.minutes:.0f}",
    ]


def _besides(tally: Tally, item: CloseoutItem) -> list[str]:
    """List what else is done."""
    if not item.trail_id:
        return [say("report_closeout_home")]
    said = [say("report_closeout_crossing", crossing=name) for name, _ in item.crossings]
    if item.outlets:
        places = ", ".join(tally.station(item.trail_id, at_m) for _, at_m in item.outlets)
        said.append(say("report_closeout_outlets", places=places))
    said += [say("report_closeout_turning", place=name) for name in item.turning_ids]
    if "small_landing" in item.tasks:
        said.append(say("report_closeout_small_landing"))
    trail = next(t for t in tally.plan.trails if t.trail_id == item.trail_id)
    if "mouth" in item.tasks:
        at = tally.station(trail.joins_id, trail.joins_at_m or 0.0)
        said.append(say("report_closeout_mouth", place=f"{trail.joins_id} {at}"))
    return said


def _sums(tally: Tally, closeout: Closeout) -> list[Piece]:
    units = tally.units
    return [
        say("report_closeout_all"),
        str(closeout.bars) if closeout.bars else NONE,
        length(closeout.bars_m, units) if closeout.bars_m > 0 else NONE,
        "",
        ground(closeout.cover_m2, units) if closeout.cover_m2 > 0 else NONE,
        ground(closeout.seed_m2, units) if closeout.seed_m2 > 0 else NONE,
        "",
        f"{closeout.minutes:.0f}",
    ]


def _notes(tally: Tally) -> list[str]:
    """Say what the list rests on."""
    measured = "; ".join(str(source) for source in CITED[:-1])
    return [
        say(
            "report_closeout_note_where",
            grade=f"{COVER_GRADE_PCT:g}",
            approach=length(APPROACH_M, tally.units),
        ),
        say(
            "report_closeout_note_measured",
            sources=measured,
            slash=_less("slash"),
            mulch=_less("mulch"),
            seed=_less("seed"),
        ),
        say("report_closeout_note_seed"),
        say("report_closeout_note_minutes"),
        say("report_closeout_note_sources", sources=str(known.CLOSING)),
    ]


def _less(cover: Cover) -> str:
    low, high = less_lost_pct(cover)
    return say("report_closeout_range", low=f"{low:.0f}", high=f"{high:.0f}")
