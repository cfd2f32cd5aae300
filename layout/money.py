"""Cost, fuel and value, where the user gives rates and prices: blank means no money at all.

What is not given is named and left out, never guessed. Value is what the wood brings at
the landing; hauling by truck stands beside it.

The break-even distance is how far along the trails an average load may come from and
still bring what it costs. Its cost is its share of all hours (trails opened and closed,
felling, winching) at the middle of their range, and its own drive, which grows with the
distance; and fuel and trucks where they are priced.
"""

from collections.abc import Sequence
from dataclasses import replace

from layout.cubic import cords
from layout.cycle_model import MIN_S, Pace
from layout.cycle_times import Job
from layout.findings import Finding
from layout.log_rules import BOARD_RULES
from layout.settings import AreaSettings
from layout.speech import speak_wood
from layout.stocking import called
from layout.units import BOARD_FEET_PER_MBF
from layout.work_records import Hours, Money, Sort, Times, Trucking

MACHINE = ("winch", "haul")  # kinds of work the engine runs in; closing is mostly by hand
RATES = ("cost_per_hour.labour", "cost_per_hour.machine", "fuel", "truck_load")


def fuel_litres(settings: AreaSettings, times: Times) -> tuple[float, float]:
    """Give the fuel the tractor burns; that of saws is not in it.

    Parameters
    ----------
    settings : AreaSettings
        ``[work] fuel``, a low and a high rate.
    times : Times

    Returns
    -------
    low, high : float
        Litres: the low rate over the short hours without pauses, the high one over the
        long hours with the engine left running in them.
    """
    low, high = settings.work.fuel_l_per_h
    some = _machine(times)
    short = sum(h.low_h for h in some) * settings.work.utilisation
    return low * short, high * sum(h.high_h for h in some)


def money_of(
    settings: AreaSettings, times: Times, trucking: Trucking, job: Job, pace: Pace
) -> Money | None:
    """Add up cost and value.

    Parameters
    ----------
    settings : AreaSettings
        ``[work] cost_per_hour``, ``[prices]``.
    times, trucking : Times, Trucking
        Of that job.
    job : Job
    pace : Pace
        Corrected by the user's own loads, where there are any.

    Returns
    -------
    Money or None
        None where neither a rate nor a price is given. Labour is paid for every hour
        and everyone of the crew, the machine for hours of winching and hauling. A cost
        with only one of the two rates is the cost of that one; ``unrated`` names the
        other. Fuel stands apart: leave it blank where the machine's rate holds it.
    """
    prices, work = settings.prices, settings.work
    labour, machine = work.cost_per_hour.labour, work.cost_per_hour.machine
    values, unpriced = _values(settings, trucking.sorts)
    given = (labour, machine, prices.fuel, prices.truck_load)
    if all(rate is None for rate in given) and not values and not _any_price(settings):
        return None
    low_l, high_l = fuel_litres(settings, times)
    cost = [_cost(settings, times, end) for end in ("low_h", "high_h")]
    known = labour is not None or machine is not None
    money = Money(
        cost_low=cost[0] if known else None,
        cost_high=cost[1] if known else None,
        fuel_low=None if prices.fuel is None else prices.fuel * low_l,
        fuel_high=None if prices.fuel is None else prices.fuel * high_l,
        trucking=None if prices.truck_load is None else prices.truck_load * trucking.loads,
        value=sum(v for _, v in values) if values else None,
        value_by_sort=values,
        unpriced=unpriced,
        break_even_m=None,
        unrated=tuple(k for k, rate in zip(RATES, given, strict=True) if rate is None),
    )
    if labour is None or machine is None or unpriced or money.value is None:
        return money
    near, middle, far = (
        _break_even_m(settings, times, money, job, pace, end)
        for end in ("high_h", "middle_h", "low_h")
    )
    return replace(money, break_even_near_m=near, break_even_m=middle, break_even_far_m=far)


def money_findings(settings: AreaSettings, trucking: Trucking) -> tuple[Finding, ...]:
    """Name prices that fit no sort of this job, and say what wood is in no sum.

    Parameters
    ----------
    settings : AreaSettings
    trucking : Trucking

    Returns
    -------
    tuple of Finding
        One of a kind at most.
    """
    return (*_ahead_only(settings, trucking), *_lost_prices(settings, trucking))


def _ahead_only(settings: AreaSettings, trucking: Trucking) -> tuple[Finding, ...]:
    """Say that what is in already is neither in cost nor in value."""
    rates, prices = settings.work.cost_per_hour, settings.prices
    given = (rates.labour, rates.machine, prices.fuel, prices.truck_load)
    if trucking.in_m3 <= 0 or not (_any_price(settings) or any(r is not None for r in given)):
        return ()
    wood = speak_wood(trucking.in_m3, settings.area.units)
    return (
        Finding(
            "money_ahead",
            "ok",
            f"Cost and value are of what is still to come; {wood} of wood in loads that are in "
            "already, and the work on them, are in neither.",
            "turns",
            value=trucking.in_m3,
            unit="m3",
            source="ours",
        ),
    )


def _lost_prices(settings: AreaSettings, trucking: Trucking) -> tuple[Finding, ...]:
    """Name prices of species that are given and fit no sort."""
    sorts = {sort.name for sort in trucking.sorts if sort.kind == "sawlog"}
    lost = [name for name in settings.prices.species if called(name) not in sorts]
    if not lost:
        return ()
    have = ", ".join(sorted(sorts)) or "none"
    return (
        Finding(
            "price_not_used",
            "unknown",
            f"[prices] species {', '.join(sorted(lost))}: no sawlogs of that name come out "
            f"(those that do: {have}). Is it spelt as in the tree list?",
            "settings",
            "prices.species",
            value=float(len(lost)),
            source="ours",
        ),
    )


def _machine(times: Times) -> list[Hours]:
    return [h for h in times.kinds if h.kind in MACHINE]


def _cost(settings: AreaSettings, times: Times, end: str) -> float:
    """Give the cost at one end of the hours."""
    rates = settings.work.cost_per_hour
    people = (rates.labour or 0.0) * settings.work.crew * getattr(times.total, end)
    return float(people + (rates.machine or 0.0) * sum(getattr(h, end) for h in _machine(times)))


def _any_price(settings: AreaSettings) -> bool:
    prices = settings.prices
    return prices.sawlogs is not None or prices.pulp is not None or bool(prices.species)


def _values(
    settings: AreaSettings, sorts: Sequence[Sort]
) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    """Give the value of each sort that has a price, and the names of the others."""
    species = {called(name): price for name, price in settings.prices.species.items()}
    values, unpriced = [], []
    for sort in sorts:
        price = (
            species.get(sort.name, settings.prices.sawlogs)
            if sort.kind == "sawlog"
            else settings.prices.pulp
            if sort.kind == "pulp"
            else None
        )
        amount = _amount(settings, sort)
        if price is None or amount is None:
            unpriced.append(sort.name)
        else:
            values.append((sort.name, price * amount))
    return tuple(values), tuple(unpriced)


def _amount(settings: AreaSettings, sort: Sort) -> float | None:
    """Give how much of a sort is paid for, in the unit its price is given in."""
    if sort.kind == "pulp":
        if settings.area.units == "us":
            return float(cords(sort.wood_m3, settings.timber.cord_solid_m3))
        return sort.wood_m3
    if settings.timber.rule in BOARD_RULES:
        return None if sort.net_bf is None else sort.net_bf / BOARD_FEET_PER_MBF
    return sort.net_m3


def _break_even_m(
    settings: AreaSettings, times: Times, money: Money, job: Job, pace: Pace, end: str
) -> float | None:
    """Give the distance at which an average load just pays; 0 where none does.

    ``end`` says at which place in the range of the hours.
    """
    dragged = [turn for turn in job.ahead if turn.trail_id]
    if not dragged or money.value is None:
        return None
    rates, crew = settings.work.cost_per_hour, settings.work.crew
    an_hour = (rates.labour or 0.0) * crew + (rates.machine or 0.0)
    low_l, high_l = settings.work.fuel_l_per_h
    litres = {"low_h": low_l, "high_h": high_l}.get(end, (low_l + high_l) / 2)
    fuel_hour = (settings.prices.fuel or 0.0) * litres
    haul = next((h for h in times.kinds if h.kind == "haul"), None)
    if haul is None or haul.productive_h <= 0:
        return None
    # hours as they pass for one of driving
    minute = (an_hour + fuel_hour) / MIN_S * float(getattr(haul, end)) / haul.productive_h
    driven = sum(pace.drive(turn.travel_m) for turn in dragged) * minute
    fuel = fuel_hour * sum(float(getattr(h, end)) for h in _machine(times))
    rest = _cost(settings, times, end) + fuel + (money.trucking or 0.0) - driven
    left = (money.value - rest) / len(dragged)
    per_m = pace.drive(1.0) * minute
    if per_m <= 0:
        return None
    return max(left / per_m, 0.0)
