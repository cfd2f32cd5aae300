"""Landing and trucks: what lies there by sort, the room it takes, the loads that leave."""

from __future__ import annotations

from layout.outputs.amounts import rule_name
from layout.outputs.report.figures import NONE, ground, length, mass
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.wood_amounts import boards, tons, wood
from layout.outputs.words import counted, say
from layout.sources import TRUCK_SIZES, Source
from layout.work_records import Sort, Trucking


def sources(tally: Tally) -> tuple[Source, ...]:
    """Name what truck loads stand on, where there are any."""
    work = tally.plan.work
    return (TRUCK_SIZES,) if work is not None and work.trucking.sorts else ()


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
    work = tally.plan.work
    if work is None:
        return None
    title = say("report_decks")
    if not work.trucking.sorts:
        return section("decks", title, tag("p", say("report_decks_none")))
    if work.at_landings:
        each: list[Piece] = []
        for at in work.at_landings:
            each.append(tag("h3", f"{say('report_ground_landing')} {at.landing_id}"))
            if at.trucking.sorts:
                each += [_sorts(tally, at.trucking), tag("p", _room(tally, at.trucking))]
            else:
                each.append(tag("p", say("report_decks_none")))
        lying = join(*each)
    else:
        lying = join(_sorts(tally, work.trucking), tag("p", _room(tally, work.trucking)))
    return section("decks", title, lying, tag("p", _trucks(tally, work.trucking)), _notes(tally))


def _sorts(tally: Tally, trucking: Trucking) -> Markup:
    """Write what lies on each pile; board feet only beside their rule."""
    treatment = tally.plan.treatment
    rule = "" if treatment is None else treatment.harvest.log_rule
    ruled = bool(rule) and any(sort.net_bf is not None for sort in trucking.sorts)
    columns = [
        Column(say("report_col_sort")),
        Column(say("report_col_sort_kind")),
        Column(say("report_col_pieces"), number=True),
        Column(say("report_col_longest"), number=True),
        Column(say("report_col_load_wood"), number=True),
    ]
    if ruled:
        columns.append(Column(say("report_col_net", rule=rule_name(rule)), number=True))
    columns += [
        Column(say("report_col_sort_mass"), number=True),
        Column(say("report_col_frontage"), number=True),
    ]
    rows = [_sort_row(sort, tally, ruled=ruled) for sort in trucking.sorts]
    sorts, units = trucking.sorts, tally.units
    last: list[Piece] = [
        say("report_sorts_all"), "", str(sum(s.pieces for s in sorts)), "",
        wood(sum(s.wood_m3 for s in sorts), units),
        *([boards(sum(s.net_bf or 0.0 for s in sorts))] if ruled else []),
        tons(sum(s.mass_kg for s in sorts), units), length(trucking.frontage_m, units),
    ]  # fmt: skip
    return table(say("report_sorts_cap"), columns, rows, last=last)


def _sort_row(sort: Sort, tally: Tally, *, ruled: bool) -> list[Piece]:
    """Write one pile."""
    units = tally.units
    return [
        sort.name or say("report_no_species"),
        say(f"report_sort_{sort.kind}"),
        str(sort.pieces),
        length(sort.longest_m, units),
        wood(sort.wood_m3, units),
        *([NONE if sort.net_bf is None else boards(sort.net_bf)] if ruled else []),
        tons(sort.mass_kg, units),
        length(sort.frontage_m, units),
    ]


def _room(tally: Tally, trucking: Trucking) -> str:
    """Say the room it takes, against the landing's."""
    units = tally.units
    short_m2 = trucking.needed_m2 - trucking.has_m2
    short = short_m2 > 0
    parts = (
        ("deck", trucking.deck_m2),
        ("bucking", trucking.bucking_m2),
        ("turning", trucking.turning_m2),
        ("standing", trucking.standing_m2),
    )
    named = ", ".join(say(f"report_room_{name}", size=ground(size, units))
                      for name, size in parts if size > 0)  # fmt: skip
    return say(
        "report_room_short" if short else "report_room_enough",
        needed=ground(trucking.needed_m2, units),
        parts=named,
        has=ground(trucking.has_m2, units),
        short=ground(abs(short_m2), units),
    )


def _trucks(tally: Tally, trucking: Trucking) -> str:
    """Say how many truck loads leave."""
    return say(
        "report_trucks",
        loads=counted("report_truck", trucking.loads),
        payload=mass(trucking.payload_kg, tally.units),
        by_mass=f"{trucking.loads_by_mass:.1f}",
        by_volume=f"{trucking.loads_by_volume:.1f}",
    )


def _notes(tally: Tally) -> Markup | None:
    """Say how piles are taken to be, and that the payload is a default where it is one."""
    settings, units = tally.plan.area.settings, tally.units
    deck = settings.truck.deck
    said = [
        say(
            "report_decks_how",
            solid=f"{100 * deck.stack_solid:.0f} %",
            height=length(deck.pile_height_m, units),
            between=length(deck.gap_between_sorts_m, units),
        )
    ]
    if settings.truck.payload_kg is None:
        said.append(say("report_truck_default", kind=settings.truck.kind))
    said.append(say("report_decks_truck"))
    said.append(say("report_sources_are", sources="; ".join(map(str, sources(tally)))))
    return bullets(said, class_="notes")
