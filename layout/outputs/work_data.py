"""The section ``work`` of plan.json: order, times, trucks, money, a trailer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from layout.outputs.numbers import rounded

if TYPE_CHECKING:
    from layout.work_records import (
        CutShorter,
        Hours,
        Money,
        Piece,
        Sort,
        Times,
        Trucking,
        TwoStage,
        Work,
        WorkStep,
    )


def work_data(work: Work) -> dict[str, Any]:
    """Give the work, but for its loads, which are a section of their own.

    Parameters
    ----------
    work : Work
        Of a plan.

    Returns
    -------
    dict
        Money is null where neither rates nor prices were given, the trailer null where
        it was not asked for.
    """
    each = [
        {"landing_id": at.landing_id, "trucking": _trucking(at.trucking)} for at in work.at_landings
    ]
    return {
        "order": [_step(step) for step in work.steps],
        "pieces": [_piece(piece) for piece in work.pieces],
        "shorter": [_shorter(one) for one in work.shorter],
        "times": _times(work.times),
        "fuel": {
            "low_l": rounded("fuel_l", work.fuel_low_l),
            "high_l": rounded("fuel_l", work.fuel_high_l),
        },
        "trucking": _trucking(work.trucking),
        **({"at_landings": each} if each else {}),
        "money": None if work.money is None else _money(work.money),
        "two_stage": None if work.two_stage is None else _two_stage(work.two_stage),
    }


def _step(step: WorkStep) -> dict[str, Any]:
    named = {"landing_id": step.landing_id} if step.landing_id else {}
    return {
        "number": step.number,
        "kind": step.kind,
        "trail_id": step.trail_id,
        "position_id": step.position_id,
        "tree_ids": list(step.tree_ids),
        "turn_ids": list(step.turn_ids),
        "minutes": rounded("minutes", step.minutes),
        "done": step.done,
        "trips": list(step.trips),
        **named,
    }


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "tree_id": piece.tree_id,
        "piece": piece.number,
        "kind": piece.kind,
        "stage": piece.stage,
        "trail_id": piece.trail_id,
        "at_m": rounded("at_m", piece.at_m),
        "position_id": piece.position_id,
        "length_m": rounded("length_m", piece.length_m),
        "wood_m3": rounded("wood_m3", piece.wood_m3),
        "mass_kg": rounded("mass_kg", piece.mass_kg),
        "mass_known": piece.mass_known,
        "limit_kg": rounded("limit_kg", piece.way.limit_kg),
        "limited_by": piece.way.limited_by,
        "limit_trail_id": piece.way.limit_trail_id,
        "limit_at_m": rounded("limit_at_m", piece.way.limit_at_m),
        "unknown_m": rounded("unknown_m", piece.way.unknown_m),
        "late": piece.late,
    }


def _shorter(one: CutShorter) -> dict[str, Any]:
    return {
        "tree_id": one.tree_id,
        "position_id": one.position_id,
        "limit_kg": rounded("limit_kg", one.limit_kg),
        "limited_by": one.limited_by,
        "heaviest_kg": rounded("heaviest_kg", one.heaviest_kg),
        "lengths_m": [rounded("length_m", metres) for metres in one.lengths_m],
    }


def _hours(hours: Hours) -> dict[str, Any]:
    return {
        "kind": hours.kind,
        "productive_h": rounded("productive_h", hours.productive_h),
        "low_h": rounded("low_h", hours.low_h),
        "high_h": rounded("high_h", hours.high_h),
    }


def _times(times: Times) -> dict[str, Any]:
    return {
        "kinds": [_hours(one) for one in times.kinds],
        "total": _hours(times.total),
        "days_low": rounded("days_h", times.days_low),
        "days_high": rounded("days_h", times.days_high),
        "m3_per_hour": rounded("rate_ratio", times.m3_per_hour),
        "in_band": times.in_band,
        "published_min_per_m3": rounded("rate_ratio", times.published_min_per_m3),
        "ours_min_per_m3": rounded("rate_ratio", times.ours_min_per_m3),
        "logged_loads": times.logged_loads,
        "logged_factor": rounded("factor_ratio", times.logged_factor),
    }


def _trucking(trucking: Trucking) -> dict[str, Any]:
    return {
        "sorts": [_sort(sort) for sort in trucking.sorts],
        "frontage_m": rounded("frontage_m", trucking.frontage_m),
        "deck_m2": rounded("deck_m2", trucking.deck_m2),
        "bucking_m2": rounded("bucking_m2", trucking.bucking_m2),
        "turning_m2": rounded("turning_m2", trucking.turning_m2),
        "standing_m2": rounded("standing_m2", trucking.standing_m2),
        "needed_m2": rounded("needed_m2", trucking.needed_m2),
        "has_m2": rounded("has_m2", trucking.has_m2),
        "payload_kg": rounded("payload_kg", trucking.payload_kg),
        "loads_by_mass": rounded("loads_ratio", trucking.loads_by_mass),
        "loads_by_volume": rounded("loads_ratio", trucking.loads_by_volume),
        "loads": trucking.loads,
    }


def _sort(sort: Sort) -> dict[str, Any]:
    return {
        "name": sort.name,
        "kind": sort.kind,
        "pieces": sort.pieces,
        "wood_m3": rounded("wood_m3", sort.wood_m3),
        "mass_kg": rounded("mass_kg", sort.mass_kg),
        "net_bf": rounded("net_bf", sort.net_bf),
        "net_m3": rounded("net_m3", sort.net_m3),
        "longest_m": rounded("longest_m", sort.longest_m),
        "frontage_m": rounded("frontage_m", sort.frontage_m),
    }


def _money(money: Money) -> dict[str, Any]:
    return {
        "cost_low": rounded("money", money.cost_low),
        "cost_high": rounded("money", money.cost_high),
        "fuel_low": rounded("money", money.fuel_low),
        "fuel_high": rounded("money", money.fuel_high),
        "trucking": rounded("money", money.trucking),
        "value": rounded("money", money.value),
        "value_by_sort": [
            {"sort": name, "value": rounded("money", value)} for name, value in money.value_by_sort
        ],
        "unpriced": list(money.unpriced),
        "unrated": list(money.unrated),
        "break_even_m": rounded("break_even_m", money.break_even_m),
        "break_even_near_m": rounded("break_even_m", money.break_even_near_m),
        "break_even_far_m": rounded("break_even_m", money.break_even_far_m),
    }


def _two_stage(two: TwoStage) -> dict[str, Any]:
    return {
        "why_none": two.why_none,
        "chosen": two.chosen,
        "trail_id": two.trail_id,
        "at_m": rounded("at_m", two.at_m),
        "x_m": rounded("x_m", two.x),
        "y_m": rounded("y_m", two.y),
        "turns_through": two.turns_through,
        "trips": two.trips,
        "fillings": two.fillings,
        "trailer_kg": rounded("trailer_kg", two.trailer_kg),
        "limited_by": two.limited_by,
        "lane_m": rounded("lane_m", two.lane_m),
        "drag_all": None if two.drag_all is None else _hours(two.drag_all),
        "two_stage": None if two.two_stage is None else _hours(two.two_stage),
        "carrying_minutes": rounded("minutes", two.carrying_min),
        "passes_saved": two.passes_saved,
        "landing_m2": rounded("landing_m2", two.landing_m2),
        "turn_at_m": rounded("turn_at_m", two.turn_at_m),
        "clean_share_pct": rounded("clean_share_pct", 100 * two.clean_share),
    }
