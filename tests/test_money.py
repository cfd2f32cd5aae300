"""Cost, fuel and value against hand sums; blank rates and prices give nothing at all."""

from dataclasses import replace
from typing import Any

import pytest
from made_ground import area_of, landing_of, settings_of, terrain_of
from made_job import job, order, piece, pull

from layout.cycle_model import pace_of
from layout.cycle_times import Job, times_of
from layout.money import fuel_litres, money_findings, money_of
from layout.products import Product
from layout.records import Landing
from layout.settings import AreaSettings
from layout.trucking import SMALL_WOOD, trucking_of
from layout.work_records import Money, Times, Trucking

LEVEL = terrain_of(lambda x, y: 300 + 0 * x)
LANDING: Landing = landing_of(200, 200)
RATES = {"cost_per_hour": {"labour": 20.0, "machine": 30.0}}
JOB = job(
    {"LD1": (piece("1"), piece("1", 2)), "LD2": (piece("2", at_m=250.0),)},
    (pull("1"), pull("2", 20.0)),
)
WOOD = (
    Product("1", "sawlog", "sugar maple", 4.9, 1.0, 1000.0, 0.9, 200.0),
    Product("2", "sawlog", "northern red oak", 4.9, 2.0, 2200.0, 2.0, 500.0),
    Product("2", "pulp", "northern red oak", 3.0, 0.5, 500.0, 0.5, None),
)


def settings(units: str = "us", rule: str = "doyle", **tables: dict[str, Any]) -> AreaSettings:
    return settings_of(area={"units": units}, timber={"rule": rule}, **tables)


def worked(given: AreaSettings, some: Job = JOB) -> tuple[Times, Trucking, Money | None]:
    area = area_of(LEVEL, given)
    times = times_of(area, some, order(area, some))
    trucking = trucking_of(given, LANDING, WOOD)
    return times, trucking, money_of(given, times, trucking, some, pace_of(given))


def test_nothing_given_gives_no_money_anywhere() -> None:
    assert worked(settings())[2] is None


def test_cost_by_hand() -> None:
    given = settings(work=RATES | {"crew": 2})
    times, _, money = worked(given)
    assert money is not None
    engine = [h for h in times.kinds if h.kind in ("winch", "haul")]
    for name, cost in (("low_h", money.cost_low), ("high_h", money.cost_high)):
        hours, run = getattr(times.total, name), sum(getattr(h, name) for h in engine)
        assert cost == pytest.approx(2 * 20 * hours + 30 * run)
    assert money.value is None and money.break_even_m is None
    assert money.unrated == ("fuel", "truck_load")
    assert money.unpriced == ("northern red oak", "sugar maple", SMALL_WOOD)


def test_one_rate_alone_is_the_cost_of_that_one_and_the_other_is_named() -> None:
    times, _, money = worked(settings(work={"cost_per_hour": {"labour": 20.0}}))
    assert money is not None
    assert money.cost_low == pytest.approx(20 * times.total.low_h)
    assert money.unrated == ("cost_per_hour.machine", "fuel", "truck_load")


def test_fuel_by_hand() -> None:
    given = settings(prices={"fuel": 1.5}, work={"fuel": ["3 L/h", "6 L/h"]})
    times, _, money = worked(given)
    low, high = fuel_litres(given, times)
    engine = [h for h in times.kinds if h.kind in ("winch", "haul")]
    productive = sum(h.productive_h for h in engine)
    assert low == pytest.approx(3 * productive * 0.65)
    assert high == pytest.approx(6 * productive / 0.7 * 1.35)
    assert money is not None and money.cost_low is None
    assert (money.fuel_low, money.fuel_high) == (
        pytest.approx(1.5 * low),
        pytest.approx(1.5 * high),
    )


def test_value_by_board_feet_and_cord() -> None:
    given = settings(prices={"sawlogs": 400.0, "species": {"sugar maple": 600.0}, "pulp": 20.0})
    _, _, money = worked(given)
    assert money is not None
    cord = 0.5 / (80 * 0.0283168466)
    assert dict(money.value_by_sort) == pytest.approx(
        {"northern red oak": 0.5 * 400, "sugar maple": 0.2 * 600, SMALL_WOOD: cord * 20}
    )
    assert money.value == pytest.approx(200 + 120 + cord * 20)
    assert money.unpriced == ()


def test_value_by_cubic_metre_without_a_log_rule() -> None:
    given = settings("metric", "cubic", prices={"sawlogs": 100.0, "pulp": 30.0})
    _, _, money = worked(given)
    assert money is not None
    # net of defect, and small wood by the cubic metre
    assert dict(money.value_by_sort) == pytest.approx(
        {"northern red oak": 200.0, "sugar maple": 90.0, SMALL_WOOD: 15.0}
    )


def test_metric_sheets_pay_board_feet_where_there_is_a_rule() -> None:
    _, _, money = worked(settings("metric", "doyle", prices={"sawlogs": 400.0}))
    assert money is not None
    assert dict(money.value_by_sort) == pytest.approx(
        {"northern red oak": 200.0, "sugar maple": 80.0}
    )
    assert money.unpriced == (SMALL_WOOD,)


def test_a_species_is_found_by_any_of_its_names_and_a_stray_one_is_told() -> None:
    given = settings(prices={"species": {"RO": 900.0, "sugr mapel": 1.0}})
    _, trucking, money = worked(given)
    assert money is not None
    assert dict(money.value_by_sort) == pytest.approx({"northern red oak": 450.0})
    assert money.unpriced == ("sugar maple", SMALL_WOOD)
    (found,) = money_findings(given, trucking)
    assert (found.code, found.level) == ("price_not_used", "unknown")
    assert "sugr mapel" in found.message and "RO" not in found.message
    assert money_findings(settings(), trucking) == ()


def test_wood_that_is_in_already_is_in_no_sum_and_that_is_said() -> None:
    given = settings(prices={"pulp": 20.0})
    trucking = worked(given)[1]
    assert money_findings(given, trucking) == ()
    (found,) = money_findings(given, replace(trucking, in_m3=4.0))
    assert (found.code, found.level, found.value) == ("money_ahead", "ok", 4.0)
    assert money_findings(settings(), replace(trucking, in_m3=4.0)) == ()


def test_a_price_of_nothing_is_a_price() -> None:
    given = settings(work=RATES, prices={"sawlogs": 400.0, "pulp": 0.0})
    _, _, money = worked(given)
    assert money is not None and money.unpriced == ()
    assert dict(money.value_by_sort)[SMALL_WOOD] == 0
    assert money.break_even_m is not None


def test_trucks_are_paid_by_the_load() -> None:
    _, trucking, money = worked(settings(prices={"truck_load": 150.0}))
    assert money is not None and money.trucking == 150 * trucking.loads
    assert money.value is None


PRICED = {"sawlogs": 900.0, "pulp": 10.0, "truck_load": 100.0, "fuel": 1.2}


def test_at_the_break_even_distance_the_job_just_pays() -> None:
    given = settings(work=RATES | {"crew": 2}, prices=PRICED)
    _, trucking, money = worked(given)
    assert money is not None and money.break_even_m is not None and money.break_even_m > 0
    far = money.break_even_m
    there = job(
        {"LD1": (piece("1", at_m=far), piece("1", 2, at_m=far)), "LD2": (piece("2", at_m=far),)},
        JOB.pulls,
    )
    times, _, at_it = worked(given, there)
    assert at_it is not None and at_it.cost_low is not None and at_it.cost_high is not None
    engine = sum(h.middle_h for h in times.kinds if h.kind in ("winch", "haul"))
    cost = (at_it.cost_low + at_it.cost_high) / 2 + 1.2 * 4.5 * engine + 100 * trucking.loads
    assert at_it.value == pytest.approx(cost)
    assert money.break_even_near_m is not None and money.break_even_far_m is not None
    assert money.break_even_near_m < far < money.break_even_far_m
    # a distance is the same wherever the loads are counted from
    assert at_it.break_even_m == pytest.approx(far)


def test_dearer_work_comes_from_less_far_and_at_last_from_nowhere() -> None:
    fars = []
    for labour in (5.0, 20.0, 30.0, 500.0):
        rates = {"cost_per_hour": {"labour": labour, "machine": 30.0}}
        _, _, money = worked(settings(work=rates, prices=PRICED))
        assert money is not None
        fars.append(money.break_even_m)
    assert fars[0] > fars[1] > fars[2] > 0 == fars[3]


@pytest.mark.parametrize(
    ("rates", "prices"),
    [
        ({"labour": 20.0}, PRICED),
        ({"machine": 20.0}, PRICED),
        ({"labour": 20.0, "machine": 30.0}, {"sawlogs": 900.0}),
        ({"labour": 20.0, "machine": 30.0}, {"pulp": 10.0}),
        ({"labour": 20.0, "machine": 30.0}, {}),
    ],
)
def test_no_break_even_where_anything_it_needs_is_blank(
    rates: dict[str, float], prices: dict[str, Any]
) -> None:
    _, _, money = worked(settings(work={"cost_per_hour": rates}, prices=prices))
    assert money is not None and money.break_even_m is None


def test_nothing_hauled_has_no_break_even() -> None:
    given = settings(work=RATES, prices=PRICED)
    _, _, money = worked(given, job({}))
    assert money is not None and money.break_even_m is None
