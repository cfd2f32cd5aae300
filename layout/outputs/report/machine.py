"""The machine on these trails: how it stands, its front axle, its pulls, its snatch block."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable

from layout.checks import words
from layout.outputs.amounts import limit
from layout.outputs.report.figures import NONE, length, natural
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.outputs.work_amounts import force, force_up
from layout.pull_forces import block_table
from layout.records import Pull, TrailStep
from layout.sources import FRONT_AXLE, SNATCH_ANCHOR, STATIC_TIPPING, Source
from layout.units import INCH_M, Units

TIGHT_DEG = 3.0  # ours: about 5 % of side slope
TIGHT_PCT = 2.0  # ours: of the unladen weight, over the least kept to
TIGHT_SHARE = 0.8  # ours: of what a pull is held to
HAIR_PCT = 0.05
TOLD = 5  # pulls
STANDS = (STATIC_TIPPING, FRONT_AXLE)


def sources(tally: Tally) -> tuple[Source, ...]:
    """Name what the margins stand on, and what is said of a snatch block where one is used."""
    if tally.plan.work is None:
        return ()
    block = (SNATCH_ANCHOR,) if tally.plan.area.settings.winch.snatch_block else ()
    return (*STANDS, *block)


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where the work was not worked out.
    """
    if tally.plan.work is None:
        return None
    return section(
        "machine",
        say("report_machine"),
        tag("p", tag("strong", say("report_machine_caution"))),
        _stands(tally),
        _pulls(tally),
        _block(tally),
    )


def _stands(tally: Tally) -> Markup | None:
    """Write, trail by trail, the least margin against tipping and the lightest front axle."""
    steps = tally.plan.steps
    tips = _least(steps, lambda step: step.tip_margin_deg)
    tractor = tally.plan.area.settings.tractor
    fronts = _least(steps, lambda step: _front_pct(step, tractor.front_min_pct))
    set_by = {step.trail_id for step in steps if step.payload_by == "front_axle"}
    if not tips and not fronts:
        return tag("p", say("report_stands_unknown"))
    columns = (
        Column(say("report_col_trail")),
        Column(say("report_col_tip"), number=True),
        Column(say("report_col_where"), whole=True),
        Column(say("report_col_front"), number=True),
        Column(say("report_col_where"), whole=True),
    )
    rows: list[list[Piece]] = []
    names = sorted({*tips, *fronts, *set_by}, key=natural)
    for name in names:
        tip, front = tips.get(name), fronts.get(name)
        tight = tip is not None and (tip.tip_margin_deg or 0.0) < TIGHT_DEG
        light = (
            front is not None and (front.front_share_pct or 0.0) < tractor.front_min_pct + TIGHT_PCT
        )
        if not tight and not light:
            continue
        rows.append(
            [
                name,
                *(_tip(tip, tally) if tight else (NONE, NONE)),
                *(_front(front, tractor.front_min_pct, tally) if light else (NONE, NONE)),
            ]
        )
    lead = say(
        "report_stands_lead",
        tight=f"{TIGHT_DEG:g}",
        light=limit(tractor.front_min_pct + TIGHT_PCT),
        least=limit(tractor.front_min_pct),
    )
    rest = len(names) - len(rows)
    return join(
        tag("h3", say("report_stands"), id="stability"),
        tag("p", lead),
        long_table(
            say("report_stands_show", count=len(rows)), say("report_stands_cap"), columns, rows
        )
        if rows
        else tag("p", say("report_stands_none")),
        tag("p", say("report_stands_rest", count=rest)) if rest and rows else None,
        tag(
            "p",
            say(
                "report_stands_front_sets",
                count=len(set_by),
                all=len(names),
                least=limit(tractor.front_min_pct),
            ),
        )
        if set_by
        else None,
        bullets(
            [
                say(
                    "report_stands_how",
                    margin=f"{tractor.tip_margin_deg:g}",
                    share=f"{100 * tractor.tip_share:.0f} %",
                    bump=_small(tractor.wheel_bump_m, tally.units),
                ),
                say("report_stands_front_how", least=limit(tractor.front_min_pct)),
                say("report_sources_are", sources="; ".join(map(str, STANDS))),
            ],
            class_="notes",
        ),
    )


def _front_pct(step: TrailStep, least_pct: float) -> float | None:
    """Give the share on the front axle; not where it is what sets the load, as it is meant to."""
    share = step.front_share_pct
    if share is None or (step.payload_by == "front_axle" and share >= least_pct - HAIR_PCT):
        return None
    return share


def _least(
    steps: tuple[TrailStep, ...], of: Callable[[TrailStep], float | None]
) -> dict[str, TrailStep]:
    """Give the step of each trail where a figure is least, of those where it is known."""
    least: dict[str, TrailStep] = {}
    for step in steps:
        value, so_far = of(step), least.get(step.trail_id)
        if value is None:
            continue
        if so_far is None or value < (of(so_far) or 0.0):
            least[step.trail_id] = step
    return least


def _tip(step: TrailStep | None, tally: Tally) -> tuple[str, str]:
    """Say the margin of a step against tipping, and where it is."""
    if step is None or step.tip_margin_deg is None:
        return NONE, NONE
    left = math.floor(step.tip_margin_deg)  # never said to be more than there is
    over = step.tip_margin_deg < 0
    said = say("report_tip_over" if over else "report_tip_left", degrees=abs(left))
    return said, tally.stretch(step.trail_id, step.from_m, step.to_m)


def _front(step: TrailStep | None, least_pct: float, tally: Tally) -> tuple[str, str]:
    """Say the share on the front axle, and where it is."""
    if step is None or step.front_share_pct is None:
        return NONE, NONE
    share = step.front_share_pct
    said, least = words.pair(max(share, 0.0), least_pct, "%")
    if share >= least_pct:
        said = f"{math.floor(share)} %"
    elif share < 0:
        said = say("report_front_none")
    else:
        said = say("report_front_under", share=said, least=least)
    return said, tally.stretch(step.trail_id, step.from_m, step.to_m)


def _pulls(tally: Tally) -> Markup | None:
    """Say what bounds the pulls, and which come near it."""
    # of a stem without a DBH no force is known
    held = [
        pull
        for pull in tally.plan.pulls
        if pull.limit_kn is not None and math.isfinite(pull.pull_kn)
    ]
    if not held:
        return None
    units, places = tally.units, Places(tally.plan)
    by = Counter(pull.limited_by for pull in held if pull.limited_by)
    named = ", ".join(
        say("report_pulls_of", by=say(f"report_pull_{name}"), count=count)
        for name, count in by.most_common()
    )
    most = max(held, key=lambda pull: (pull.pull_kn, pull.tree_id))
    near = sorted((p for p in held if _share(p) >= TIGHT_SHARE), key=lambda p: -_share(p))
    over = sum(_share(p) > 1 for p in held)
    columns = (
        Column(say("report_col_tree"), whole=True),
        Column(say("report_col_from"), whole=True),
        Column(say("report_col_pull"), number=True),
        Column(say("report_col_pull_most"), number=True),
        Column(say("report_col_set_by")),
    )
    rows: list[list[Piece]] = [
        [
            pull.tree_id,
            places.position(pull.position_id)
            if places.knows(pull.position_id)
            else pull.position_id,
            force(pull.pull_kn, units),
            force(pull.limit_kn or 0.0, units),
            say(f"report_pull_{pull.limited_by}") if pull.limited_by else NONE,
        ]
        for pull in near[:TOLD]
    ]
    return join(
        tag("h3", say("report_pulls"), id="pulls"),
        tag(
            "p",
            say(
                "report_pulls_lead", most=force(most.pull_kn, units), tree=most.tree_id, what=named
            ),
            " " + say("report_pulls_over", count=over, all=len(held)) if over else None,
        ),
        table(say("report_pulls_cap", count=len(near), told=len(rows)), columns, rows)
        if rows
        else tag("p", say("report_pulls_none", share=f"{100 * TIGHT_SHARE:.0f} %")),
        bullets([say("report_pulls_note")], class_="notes"),
    )  # fmt: skip


def _share(pull: Pull) -> float:
    """Give a pull as a share of what it is held to."""
    return pull.pull_kn / pull.limit_kn if pull.limit_kn else float("inf")


def _block(tally: Tally) -> Markup | None:
    """Write what a snatch block must hold, where one is used."""
    settings, units = tally.plan.area.settings, tally.units
    if not settings.winch.snatch_block:
        return None
    columns = (
        Column(say("report_col_legs")),
        Column(say("report_col_block"), number=True),
        Column(say("report_col_anchor"), number=True),
        Column(say("report_col_load_leg"), number=True),
    )
    rows: list[list[Piece]] = [
        [
            f"{row.between_legs_deg:.0f}\N{DEGREE SIGN}",
            force_up(row.force_kn, units),
            _stout(row.anchor_dbh_m, units),
            force(row.load_kn, units),
        ]
        for row in block_table(settings)
    ]
    return join(
        tag("h3", say("report_block"), id="snatch-block"),
        tag("p", say("report_block_lead", pull=force_up(settings.winch.pull_rating_kn, units))),
        table(say("report_block_cap"), columns, rows),
        bullets([say("report_block_note"), say("report_source", source=str(SNATCH_ANCHOR))],
                class_="notes"),
    )  # fmt: skip


def _stout(metres: float, units: Units) -> str:
    """Say how stout a tree must be, rounded up."""
    size, name = (metres / INCH_M, "in") if units == "us" else (100 * metres, "cm")
    return f"{math.ceil(size - 1e-6)} {name}"


def _small(metres: float, units: Units) -> str:
    """Say a diameter or a bump in inches or centimetres."""
    if metres >= 1:
        return length(metres, units)
    return f"{metres / INCH_M:.0f} in" if units == "us" else f"{100 * metres:.0f} cm"
