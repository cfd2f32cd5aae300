"""Loads: how many, how heavy, what holds them down, and stems to cut shorter."""

from __future__ import annotations

import math
from collections import Counter, defaultdict

from layout.outputs import payloads
from layout.outputs.amounts import limit, most_load
from layout.outputs.load_facts import limit_words, load_words, planned
from layout.outputs.payloads import Least
from layout.outputs.report.figures import NONE, length, mass, natural
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.wood_amounts import tons, wood
from layout.outputs.words import counted, say
from layout.sources import FRONT_AXLE, SLIDING_LOGS, WINCH_OUTFIT, Source
from layout.units import Units
from layout.work_records import CutShorter, Turn, Work


def sources(tally: Tally) -> tuple[Source, ...]:
    """Name what the limits of loads stand on, where there are any."""
    return () if tally.plan.work is None else (WINCH_OUTFIT, FRONT_AXLE, SLIDING_LOGS)


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
    loads = planned(tally.plan)
    return section(
        "loads",
        say("report_loads"),
        _sums(tally, work, loads),
        _by_trail(tally, loads),
        _notes(tally, work, loads),
        _shorter(tally, work),
    )


def _sums(tally: Tally, work: Work, loads: tuple[Turn, ...]) -> Markup:
    """Say how many loads there are, how heavy, and how many are in already."""
    units = tally.units
    done = sum(turn.state == "done" for turn in work.turns)
    said = []
    if loads:
        most = max(loads, key=lambda turn: (turn.mass_kg, turn.turn_id))
        whole_kg = sum(turn.mass_kg for turn in loads)
        said += [
            say(
                "report_loads_sum",
                loads=counted("load", len(loads)),
                pieces=counted("report_piece", sum(len(turn.pieces) for turn in loads)),
                wood=_wood(loads, units),
                mass=tons(whole_kg, units),
            ),
            say(
                "report_loads_mean",
                mean=mass(whole_kg / len(loads), units),
                most=load_words(most, units),
                load=most.turn_id,
            ),
        ]
        setters = Counter(turn.limited_by for turn in loads if turn.limited_by)
        if setters:
            named = ", ".join(
                say("report_loads_of", by=limit_words(by), count=count)
                for by, count in setters.most_common()
            )
            said.append(say("report_loads_set", what=named))
    else:
        said.append(say("report_loads_none"))
    if done:
        said.append(counted("report_load_in", done))
    return tag("p", " ".join(said))


def _wood(loads: tuple[Turn, ...], units: Units) -> str:
    """Say the wood of some loads; of a sum that lacks some, that it is more."""
    known = [turn.wood_m3 for turn in loads if math.isfinite(turn.wood_m3)]
    said = wood(sum(known), units)
    return said if len(known) == len(loads) else say("report_at_least", amount=said)


def _by_trail(tally: Tally, loads: tuple[Turn, ...]) -> Markup | None:
    """Write the loads of each trail, and the heaviest there may be from its far end."""
    of: dict[str, list[Turn]] = defaultdict(list)
    for turn in loads:
        of[turn.trail_id].append(turn)
    least = payloads.to_landing(tally.plan)
    trails = {trail.trail_id: trail.kind for trail in tally.plan.trails}
    names = sorted({*of, *(name for name in least if name in trails)},
                   key=lambda name: (trails.get(name) != "main", natural(name)))  # fmt: skip
    if not names:
        return None
    columns = (
        Column(say("report_col_trail")),
        Column(say("report_col_loads"), number=True),
        Column(say("report_col_load_wood"), number=True),
        Column(say("report_col_load_most"), number=True),
        Column(say("report_col_set_by"), whole=True),
        Column(say("report_col_set_at"), whole=True),
        Column(say("report_col_travel"), number=True),
    )
    listed = [_trail_row(name, of.get(name, []), least.get(name), tally) for name in names]
    last: list[Piece] = [say("report_all_trails"), str(len(loads)), _wood(loads, tally.units)]
    last += [""] * (len(columns) - len(last))
    show = say("report_loads_show", count=len(listed))
    return long_table(show, say("report_loads_cap"), columns, listed, last=last)


def _trail_row(name: str, loads: list[Turn], least: Least | None, tally: Tally) -> list[Piece]:
    """Write one trail."""
    units = tally.units
    most = by = at = NONE
    if least is not None:
        most = most_load(least.kg, units)
        by = limit_words(least.by) or NONE
        at = say("report_set_on_level")
        if least.from_m is not None and least.to_m is not None:
            at = f"{least.trail_id} {tally.stretch(least.trail_id, least.from_m, least.to_m)}"
    ways = sorted(turn.travel_m for turn in loads)
    travel = NONE
    if ways:
        near, far = length(ways[0], units), length(ways[-1], units)
        travel = near if near == far else say("amount_range", low=near, high=far)
    return [
        name or say("report_at_the_landing"),
        str(len(loads)) if loads else NONE,
        _wood(tuple(loads), units) if loads else NONE,
        most,
        by,
        at,
        travel,
    ]


def _notes(tally: Tally, work: Work, loads: tuple[Turn, ...]) -> Markup | None:
    """Say what the masses are, what the limit means, and how to plan again."""
    plan = tally.plan
    coming = {key for turn in loads for key in turn.pieces}
    blind = sum(not p.mass_known for p in work.pieces if (p.tree_id, p.number) in coming)
    said: list[Piece] = [
        say("report_loads_caution"),
        say(
            "report_loads_error",
            error=limit(plan.area.settings.timber.weight_error_pct),
            chokers=plan.area.settings.winch.chokers,
        ),
        say("report_loads_own"),
    ]
    if not {"traction", "braking", "skid_friction"} <= plan.area.settings.tractor.model_fields_set:
        said.append(say("report_loads_grip"))
    if blind:
        said.append(counted("report_blind", blind))
    dark_m = max((p.way.unknown_m for p in work.pieces if (p.tree_id, p.number) in coming),
                 default=0.0)  # fmt: skip
    if dark_m > 0:
        said.append(say("report_loads_dark", length=length(dark_m, tally.units)))
    if loads:
        said.append(say("report_loads_done", load=loads[0].turn_id))
    said.append(say("report_sources_are", sources="; ".join(map(str, sources(tally)))))
    return bullets(said, class_="notes")


def _shorter(tally: Tally, work: Work) -> Markup | None:
    """Write the stems whose usual pieces no load could hold."""
    if not work.shorter:
        return None
    units, places = tally.units, Places(tally.plan)
    columns = (
        Column(say("report_col_tree"), whole=True),
        Column(say("report_col_from"), whole=True),
        Column(say("report_col_piece_most"), number=True),
        Column(say("report_col_load_most"), number=True),
        Column(say("report_col_set_by")),
        Column(say("report_col_cut_into")),
    )
    rows = [_shorter_row(one, units, places) for one in work.shorter]
    return join(
        tag("h3", say("report_shorter", count=len(rows)), id="shorter"),
        tag("p", say("report_shorter_lead")),
        long_table(
            say("report_show_trees", count=len(rows)), say("report_shorter_cap"), columns, rows
        ),
    )


def _shorter_row(one: CutShorter, units: Units, places: Places) -> list[Piece]:
    """Write one stem."""
    cut = ", ".join(length(metres, units) for metres in one.lengths_m)
    known = one.position_id and places.knows(one.position_id)
    return [
        one.tree_id,
        places.position(one.position_id) if known else one.position_id or NONE,
        mass(one.heaviest_kg, units),
        most_load(one.limit_kg, units) or NONE,
        limit_words(one.limited_by) or NONE,
        cut or tag("strong", say("report_cut_none")),
    ]
