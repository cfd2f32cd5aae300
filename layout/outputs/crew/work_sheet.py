"""The order of work: what is done after what, with a box for every step and every load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.crew import listing, trailer_rows
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import whole_up
from layout.outputs.crew.sheet import LEAST_PT
from layout.outputs.crew.work_rows import AT_PT, NAME_PT, WHAT_PT, Rows
from layout.outputs.crew.work_said import hours_said, unit
from layout.outputs.tree_orders import marked_hazards, two_lengths_m
from layout.outputs.words import say
from layout.outputs.work_blocks import Block, Numbered, blocks, done, numbered
from layout.tongue import number as said_number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.plan import Plan


def pages(plan: Plan) -> list[listing.ListPage]:
    """Lay the order of work out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of ListPage
        None where the work
        was not worked out.
    """
    if plan.work is None:
        return []
    width, shown = listing.column_pt(plan), numbered(todo(plan))
    intro, listed = [*how(plan), *told(plan)], rows(plan, Rows(plan, width), shown)
    return listing.pages(plan, say("crew_work"), intro, titles(plan), listed)


def todo(plan: Plan) -> list[Block]:
    """Give the blocks of all that is still to be done."""
    return [] if plan.work is None else blocks(plan.work, marked_hazards(plan))


def titles(plan: Plan) -> Row:
    """Give the titles of the parts of a row."""
    said = (
        (NAME_PT, say("crew_work_col_place"), False),
        (AT_PT, unit(plan), True),
        (WHAT_PT, say("crew_work_col_what"), False),
    )
    return Row(tuple(Cell(x, (words,), bold=True, right=r) for x, words, r in said), LEAST_PT)


def rows(plan: Plan, setting: Rows, shown: Sequence[Numbered]) -> list[Row]:
    """Give the rows of some blocks, each part under its heading, each of harvest numbered.

    Parameters
    ----------
    plan : Plan
        A plan whose work was worked out.
    setting : Rows
        Sets the rows.
    shown : sequence of Numbered
        The blocks, in their order.

    Returns
    -------
    list of Row
    """
    made: list[Row] = []
    part = 0
    for one in shown:
        block = one.block
        if one.part != part:
            part = one.part
            made.append(heading(plan, setting, one))
        if block.part == "harvest":
            made += setting.harvested(block, one.number)
        elif block.part == "open":
            made += setting.opened(block)
        elif block.part == "hazard":
            made += setting.hazards(block)
        elif block.part == "flag":
            made += setting.flagged(block)
        else:
            made += setting.landing()
    return made


def heading(plan: Plan, setting: Rows, first: Numbered) -> Row:
    """Give the heading of a part, of its first block."""
    return setting.part(_part_key(plan, first.block), first.part, first.block.landing_id)


def _part_key(plan: Plan, block: Block) -> str:
    if block.part != "harvest":
        return f"crew_work_part_{block.part}"
    far = plan.area.settings.work.harvest == "far-first"
    return f"crew_work_part_harvest_{'far' if far else 'near'}"


def how(plan: Plan) -> list[str]:
    """Say how the sheet is read, and how far all keep off who fell."""
    tree = plan.area.settings.work.work_style == "tree-by-tree"
    style = say(f"crew_work_style_{'tree' if tree else 'group'}")
    return [say("crew_work_how", style=style), *_apart(plan)]


def told(plan: Plan) -> list[str]:
    """Say how long all of it takes, and what is done or gone: one paragraph, or none."""
    work = plan.work
    assert work is not None
    settings = plan.area.settings.work
    hours = hours_said(plan, 60 * work.times.total.productive_h)
    said = [say("crew_work_hours", hours=hours, days=_days(plan),
                day=said_number(settings.hours_per_day, "g"))] if hours else []  # fmt: skip
    said += trailer_rows.told(plan, Rows(plan, 1.0).place)
    if words := _done(plan):
        said.append(say("crew_work_done", what=words))
    if gone := [turn.turn_id for turn in work.turns if turn.state == "retired"]:
        said.append(say("crew_work_retired", loads=", ".join(gone)))
    return [" ".join(said)] if said else []


def _apart(plan: Plan) -> list[str]:
    """Say how far all keep off trees that are felled without a place to wait being named."""
    assert plan.work is not None
    left = [step for step in plan.work.steps if step.tree_ids and not step.done]
    off_m = two_lengths_m(plan)
    if off_m is None or not any(step.kind in ("open", "rub") for step in left):
        return []
    return [say("crew_work_apart", off=whole_up(off_m, plan.area.settings.area.units))]


def _days(plan: Plan) -> str:
    """Say how many days it takes, whole days, the low end rounded down and the high end up."""
    assert plan.work is not None
    times = plan.work.times
    low, high = max(1, int(times.days_low)), -int(-times.days_high // 1)
    return say("crew_work_days", low=low, high=max(high, low))


def _done(plan: Plan) -> str:
    """List what is done already, none of it in the order any more."""
    assert plan.work is not None
    steps = done(plan.work)
    loads = [turn.turn_id for turn in plan.work.turns if turn.state == "done"]
    loads += [name for step in steps for name in step.turn_ids]
    trees = [name for step in steps if step.kind == "fell" for name in step.tree_ids]
    trails = [step.trail_id for step in steps if step.kind == "close"]
    kinds: Sequence[tuple[str, list[str]]] = (
        ("trails", trails), ("loads", loads), ("trees", trees),
    )  # fmt: skip
    return "; ".join(
        say(f"crew_work_done_{kind}", **{kind: ", ".join(dict.fromkeys(names))})
        for kind, names in kinds
        if names
    )
