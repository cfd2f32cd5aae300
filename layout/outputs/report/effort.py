"""The work: hours and days as ranges, what they rest on, fuel, cost and value."""

from __future__ import annotations

from layout.cycle_times import BAND_M3_PER_H
from layout.outputs.load_facts import planned
from layout.outputs.report import bar_charts
from layout.outputs.report.figures import NONE, length
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, link, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.wood_amounts import wood
from layout.outputs.words import counted, say
from layout.outputs.work_amounts import days, fuel, hours, minutes_by_wood, money, money_range
from layout.sources import SKIDDING_BAND, SKIDDING_LINE, Source
from layout.work_records import Hours, Money, Times, Work


def sources(tally: Tally) -> tuple[Source, ...]:
    """Name what the hours are held against, where there are any."""
    work = tally.plan.work
    if work is None or work.times.m3_per_hour is None:
        return ()
    line = () if work.times.published_min_per_m3 is None else (SKIDDING_LINE,)
    return (SKIDDING_BAND, *line)


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where the work was not worked out. Every figure of time is a range.
    """
    work = tally.plan.work
    if work is None:
        return None
    return section(
        "work",
        say("report_work"),
        tag("p", _whole(tally, work.times)),
        _rests_on(tally, work.times),
        _kinds(work.times),
        _checks(tally, work.times),
        tag("p", _fuel(tally, work)),
        _notes(tally),
        None if work.money is None else _money(tally, work.money),
    )


def _whole(tally: Tally, times: Times) -> str:
    """Say how long all of it takes."""
    settings = tally.plan.area.settings.work
    return say(
        "report_work_whole",
        hours=hours(times.total.low_h, times.total.high_h),
        days=days(times.days_low, times.days_high),
        day=f"{settings.hours_per_day:g}",
    )


def _rests_on(tally: Tally, times: Times) -> Markup:
    """Say what the times rest on: own loads, or defaults that nobody verified."""
    if times.logged_loads and times.logged_factor is not None:
        said = say(
            "report_work_logged",
            loads=counted("load", times.logged_loads),
            factor=f"{times.logged_factor:.2f}",
        )
        return tag("p", said)
    mark = tag("strong", say("report_work_unverified"), class_="mark")
    return tag("p", say("report_work_default"), " ", mark)


def _kinds(times: Times) -> Markup:
    """Write the hours by kind of work."""
    columns = (
        Column(say("report_col_work_kind")),
        Column(say("report_col_hours"), number=True),
        Column(say("report_col_productive"), number=True),
    )
    rows: list[list[Piece]] = [
        [say(f"report_hours_{kind.kind}"), *_range(kind)] for kind in times.kinds
    ]
    last = [say("report_hours_all"), *_range(times.total)]
    return join(_chart(times), table(say("report_hours_cap"), columns, rows, last=last))


def _chart(times: Times) -> Markup | None:
    """Draw the hours by kind of work."""
    shown = [
        (say(f"report_hours_{k.kind}"), k.low_h, k.high_h, hours(k.low_h, k.high_h))
        for k in times.kinds
    ]
    if not shown or times.total.high_h <= 0:
        return None
    parts = (say("chart_hours_part", task=task, hours=said) for task, _, _, said in shown)
    return bar_charts.ranges(shown, say("chart_hours_told", parts=", ".join(parts)))


def _range(one: Hours) -> list[str]:
    """Say the range with the pauses of a day, and what of its middle is work."""
    bare = one.productive_h
    return [
        hours(one.low_h, one.high_h),
        say("report_hours_bare", hours=f"{bare:.1f}" if bare < 10 else f"{bare:,.0f}")
        if bare > 0
        else NONE,
    ]


def _checks(tally: Tally, times: Times) -> Markup | None:
    """Hold the hours against what studies found, and against a published line."""
    rate, units = times.m3_per_hour, tally.units
    if rate is None:
        return None
    low, high = (wood(value, units) for value in BAND_M3_PER_H)
    said = [
        say(
            "report_rate_in" if times.in_band else "report_rate_out",
            rate=wood(rate, units),
            low=low,
            high=high,
        )
    ]
    if times.published_min_per_m3 is not None and times.ours_min_per_m3 is not None:
        said.append(
            say(
                "report_line",
                line=minutes_by_wood(times.published_min_per_m3, units),
                ours=minutes_by_wood(times.ours_min_per_m3, units),
            )
        )
    else:
        said.append(say("report_line_none"))
    return tag("p", " ".join(said))


def _fuel(tally: Tally, work: Work) -> str:
    """Say the fuel; the rate is a default until the user gives one."""
    own = "fuel_l_per_h" in tally.plan.area.settings.work.model_fields_set
    said = fuel(work.fuel_low_l, work.fuel_high_l, tally.units)
    return say("report_fuel_own" if own else "report_fuel", fuel=said)


def _notes(tally: Tally) -> Markup | None:
    """Say what is in the hours, and what they are held against."""
    settings = tally.plan.area.settings.work
    said: list[Piece] = [
        say("report_hours_note", share=f"{100 * settings.utilisation:.0f} %"),
        join(say("report_hours_where"), " ", link("settings", say("report_hours_settings"))),
    ]
    if not tally.plan.area.settings.work.log:
        said.append(say("report_hours_log"))
    cited = sources(tally)
    if cited:
        said.append(say("report_sources_are", sources="; ".join(map(str, cited))))
    return bullets(said, class_="notes")


def _money(tally: Tally, given: Money) -> Markup:
    """Write cost and value, where rates and prices were given."""
    rows: list[list[Piece]] = []
    if given.cost_low is not None and given.cost_high is not None:
        rows.append([_cost_name(given), money_range(given.cost_low, given.cost_high)])
    if given.fuel_low is not None and given.fuel_high is not None:
        rows.append([say("report_money_fuel"), money_range(given.fuel_low, given.fuel_high)])
    if given.trucking is not None:
        rows.append([say("report_money_trucking"), money(given.trucking)])
    rows += [
        [say("report_money_sort", sort=_sort(name)), money(value)]
        for name, value in given.value_by_sort
    ]
    if given.value is not None:
        rows.append([tag("strong", say("report_money_value")), tag("strong", money(given.value))])
    notes: list[Piece] = [say("report_money_note")]
    if given.unpriced:
        notes.append(say("report_unpriced", sorts=", ".join(map(_sort, given.unpriced))))
    if given.unrated:
        names = [key.replace(".", "_") for key in given.unrated]
        named = ", ".join(say(f"report_rate_{name}") for name in names)
        notes.append(say("report_unrated", keys=named))
    columns = (Column(say("report_col_what")), Column(say("report_col_money"), number=True))
    pays = _pays(given, tally) if planned(tally.plan) else None
    return join(
        tag("h3", say("report_money"), id="money"),
        table(say("report_money_cap"), columns, rows) if rows else None,
        tag("p", pays) if pays else None,
        bullets(notes, class_="notes"),
    )


def _pays(given: Money, tally: Tally) -> str | None:
    """Say from how far a load pays, never without its range."""
    near, far = given.break_even_near_m, given.break_even_far_m
    if near is None or far is None:
        return None
    if far <= 0:
        return say("report_break_even_none")
    if near <= 0:
        return say("report_break_even_some", distance=length(far, tally.units))
    ends = {"low": length(near, tally.units), "high": length(far, tally.units)}
    return say("report_break_even", distance=say("amount_range", **ends))


def _cost_name(given: Money) -> str:
    """Say whose cost it is: of two rates, only one may have been given."""
    if "cost_per_hour.machine" in given.unrated:
        return say("report_money_labour")
    both = "cost_per_hour.labour" not in given.unrated
    return say("report_money_cost" if both else "report_money_machine")


def _sort(name: str) -> str:
    """Say a sort by its name."""
    return name or say("report_no_species")
