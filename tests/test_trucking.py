"""Decks, room and trucks, against hand sums and a rule of the trade.

Frontage by geometry: solid wood over solid share, log length and height. With 162.3 cubic
feet to a thousand board feet (Wang et al. 2004), 60 % solid, 16-ft logs and a 4-ft pile
that is 4.2 ft of deck for a thousand board feet of each sort. Trucks: a trade article has
18 tons and 7 cords on a tri-axle, 13 cords on a semi; the rest is from memory.
"""

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import area_of, landing_of, settings_of, terrain_of, trees_of
from made_job import piece, turn

from layout.harvest import cut_up, harvest_of
from layout.products import Product, products_of
from layout.tree_sizes import sizes_of
from layout.trucking import (
    BUNK_M3,
    LOADING_WIDTH_M,
    NOT_CUT_UP,
    PAYLOAD_KG,
    SMALL_WOOD,
    TRUCK_M,
    all_loads,
    frontage_m,
    sorts_of,
    trucking_findings,
    trucking_of,
)
from layout.units import CUBIC_FOOT_M3, FOOT_M

LEVEL = terrain_of(lambda x, y: 300 + 0 * x)
PLAIN = settings_of(tractor={"length": "5 m"})
LANDING = landing_of(200, 200)  # 25 m square


def log(wood_m3: float = 0.5, **more: Any) -> Product:
    plain: dict[str, Any] = {
        "tree_id": "1", "kind": "sawlog", "species": "sugar maple", "length_m": 16 * FOOT_M,
        "wood_m3": wood_m3, "mass_kg": 1000.0 * wood_m3, "net_m3": wood_m3, "net_bf": None,
    }  # fmt: skip
    return Product(**(plain | more))


def test_deck_of_a_thousand_board_feet() -> None:
    deck = PLAIN.truck.deck  # 60 % solid, 4 ft high
    feet = frontage_m(162.3 * CUBIC_FOOT_M3, 16 * FOOT_M, deck) / FOOT_M
    assert feet == pytest.approx(4.2, abs=0.05)
    assert feet == pytest.approx(162.3 / (0.6 * 16 * 4))
    assert frontage_m(1.0, 0.0, deck) == 0


def test_sorts_are_species_small_wood_and_what_stays_whole() -> None:
    some = (
        log(0.5), log(0.3, length_m=12 * FOOT_M), log(2.0, species="northern red oak"),
        log(0.2, kind="pulp", species="northern red oak", length_m=3.0),
        log(0.1, kind="pulp"), log(0.0, kind="stem", length_m=0.0, mass_kg=800, net_m3=None),
    )  # fmt: skip
    sorts = sorts_of(some, PLAIN.truck.deck)
    assert [(s.name, s.kind, s.pieces) for s in sorts] == [
        ("northern red oak", "sawlog", 1),
        ("sugar maple", "sawlog", 2),
        (SMALL_WOOD, "pulp", 2),
        (NOT_CUT_UP, "stem", 1),
    ]
    assert sorts[1].wood_m3 == pytest.approx(0.8)
    assert sorts[1].longest_m == 16 * FOOT_M
    by_hand = (0.5 / 16 + 0.3 / 12) / (0.6 * 4 * FOOT_M) / FOOT_M
    assert sorts[1].frontage_m == pytest.approx(by_hand)
    assert sorts[3].frontage_m == 0 and sorts[3].net_m3 is None


def test_the_room_it_needs_is_the_sum_of_four_parts() -> None:
    got = trucking_of(PLAIN, LANDING, [log(6.0), log(4.0, kind="pulp")], longest_m=12.0)
    side = 16 * FOOT_M
    front = 10.0 / (0.6 * side * 4 * FOOT_M)
    gap = 3 * FOOT_M
    assert got.frontage_m == pytest.approx(front + gap)
    assert got.deck_m2 == pytest.approx((front + gap) * side)
    assert got.bucking_m2 == pytest.approx((12 + 4) * (3 + 4))
    assert got.turning_m2 == pytest.approx(math.pi * 6**2)  # the outfit's 5 m and a metre
    assert got.standing_m2 == pytest.approx(36 * 15 * FOOT_M**2)
    assert TRUCK_M["tri-axle"] * LOADING_WIDTH_M == pytest.approx(got.standing_m2)
    parts = got.deck_m2 + got.bucking_m2 + got.turning_m2 + got.standing_m2
    assert got.needed_m2 == pytest.approx(parts)
    assert got.has_m2 == pytest.approx(625)


def test_gaps_go_by_the_sorts_the_user_piles_apart() -> None:
    one, four = (
        trucking_of(settings_of(truck={"deck": {"sorts": n}}), LANDING, [log(6.0)]).frontage_m
        for n in (1, 4)
    )
    assert four - one == pytest.approx(3 * 3 * FOOT_M)
    # what comes out in more sorts is piled apart all the same
    oak, ash = log(6.0, species="northern red oak"), log(6.0, species="white ash")
    six = [log(6.0), oak, ash, log(1.0, kind="pulp")]
    got = trucking_of(PLAIN, LANDING, six)
    assert len(got.sorts) == 4 > PLAIN.truck.deck.sorts
    decks = sum(sort.frontage_m for sort in got.sorts)
    assert got.frontage_m - decks == pytest.approx(3 * 3 * FOOT_M)


@pytest.mark.parametrize(
    ("kind", "tons", "cords"), [("tandem", 9, 4), ("tri-axle", 18, 7), ("semi", 25, 13)]
)
def test_trucks_by_weight_and_by_bulk(kind: str, tons: float, cords: float) -> None:
    settings = settings_of(truck={"kind": kind}, timber={"weight_error": "15 %"})
    assert PAYLOAD_KG[kind] == pytest.approx(tons * 907.18474)
    assert BUNK_M3[kind] == pytest.approx(cords * 128 * 0.0283168466)
    heavy = log(10.0, mass_kg=30_000.0)
    got = trucking_of(settings, LANDING, [heavy])
    assert got.loads_by_mass == pytest.approx(30_000 * 1.15 / (tons * 907.18474))
    assert got.loads_by_volume == pytest.approx(10 / 0.6 / (cords * 128 * 0.0283168466))
    assert got.loads == math.ceil(got.loads_by_mass) > got.loads_by_volume
    light = trucking_of(settings, LANDING, [log(40.0, mass_kg=1000.0)])
    assert light.loads == math.ceil(light.loads_by_volume) > light.loads_by_mass


def test_a_payload_the_user_states_counts() -> None:
    settings = settings_of(truck={"payload": "10 t"}, timber={"weight_error": "0 %"})
    got = trucking_of(settings, LANDING, [log(1.0, mass_kg=20_000.0)])
    assert (got.payload_kg, got.loads) == (10_000.0, 2)  # two to the kilogram are two
    more = trucking_of(settings, LANDING, [log(1.0, mass_kg=20_001.0)])
    assert more.loads == 3


def test_mixed_hardwood_fills_a_tri_axle_with_three_thousand_board_feet_and_a_bit() -> None:
    # the reference page has 3.0 to 3.4 thousand on 18 tons, at 162.3 cubic feet of 65 to 75 lb
    settings = settings_of(timber={"weight_error": "0 %"})
    wood = 162.3 * CUBIC_FOOT_M3
    for pounds, thousand in ((75, 2.96), (65, 3.41)):
        full = [log(thousand * wood, mass_kg=thousand * 162.3 * pounds * 0.45359237)]
        assert trucking_of(settings, LANDING, full).loads_by_mass == pytest.approx(1.0, rel=0.01)


def test_a_landing_too_small_for_its_decks_is_a_caution() -> None:
    ample = trucking_of(PLAIN, landing_of(200, 200, 25.0), [log(30.0)])
    found = trucking_findings(PLAIN, landing_of(200, 200, 25.0), ample)
    assert [(f.code, f.level) for f in found] == [("truck_loads", "ok")]
    tight = landing_of(200, 200, 8.0)
    got = trucking_of(PLAIN, tight, [log(30.0)])
    room, trucks = trucking_findings(PLAIN, tight, got)
    assert (room.code, room.level) == ("landing_decks", "caution")
    assert room.value == got.needed_m2 and room.limit == got.has_m2
    assert "ft of deck" in room.message and not room.confirmed
    assert trucks.value == got.loads
    assert trucking_findings(PLAIN, LANDING, trucking_of(PLAIN, LANDING, ())) == ()


def test_what_is_in_already_needs_room_and_trucks_unless_they_took_it() -> None:
    done = turn("LD1", piece("1", wood_m3=30.0, mass_kg=34_500.0), state="done")
    retired = turn("LD2", piece("2", wood_m3=50.0), state="retired")
    needed_m2 = trucking_of(PLAIN, LANDING, [log(10.0)]).needed_m2
    yard = landing_of(200, 200, math.sqrt(needed_m2) / 2 + 0.3)
    plain = trucking_of(PLAIN, yard, [log(10.0)])
    got = trucking_of(PLAIN, yard, [log(10.0)], 0.0, (done, retired))
    assert (got.in_m3, got.in_kg) == (30.0, 34_500.0)
    assert replace(got, in_m3=0.0, in_kg=0.0) == plain  # sums are of what is still to come
    assert plain.needed_m2 < plain.has_m2
    (alone,) = trucking_findings(PLAIN, yard, plain)
    assert "already" not in alone.message
    room, trucks = trucking_findings(PLAIN, yard, got)
    # 30 m3, 60 % solid, 4 ft high, however long the logs are
    assert room.value == pytest.approx(plain.needed_m2 + 30 / (0.6 * 4 * FOOT_M))
    assert "for what is in already, unless trucks took it" in room.message
    assert "of wood still to come fill 1 load" in trucks.message
    tons = (10_000 + 30_000) * 1.15 / (18 * 907.18474)
    bulk = 40 / 0.6 / (7 * 128 * 0.0283168466)
    assert all_loads(PLAIN, got) == math.ceil(max(tons, bulk))
    assert f"with them {math.ceil(max(tons, bulk))} loads, less what trucks took" in trucks.message


def test_nothing_to_bring_out_needs_no_deck_and_no_truck() -> None:
    got = trucking_of(PLAIN, LANDING, ())
    assert (got.sorts, got.frontage_m, got.deck_m2, got.bucking_m2, got.loads) == ((), 0, 0, 0, 0)


def test_pieces_arrive_with_the_weight_they_have() -> None:
    rows = [{"tree_id": "1", "dbh_cm": 45.0, "height_m": 24.0, "species": "sugar maple",
             "defect_pct": 10.0}]  # fmt: skip
    area = area_of(LEVEL, settings_of(timber={"rule": "doyle"}), trees=trees_of(rows))
    harvest, sizes = harvest_of(area), sizes_of(area)
    cut = cut_up(area, sizes).pieces
    pieces = tuple(
        piece(
            "1", k + 1, kind="sawlog" if cut.is_log[k] else "pulp", length_m=cut.length_m[k],
            wood_m3=cut.wood_m3[k], mass_kg=1.15 * cut.mass_kg[k],
        )
        for k in range(len(cut))
    )  # fmt: skip
    got = products_of(area, pieces)
    assert [p.mass_kg for p in got] == pytest.approx(cut.mass_kg.tolist())
    saw = [p for p in got if p.kind == "sawlog"]
    assert saw and len(saw) == harvest.sawlogs[0]
    assert sum(p.net_bf or 0 for p in saw) == pytest.approx(harvest.net_bf[0])
    assert sum(p.net_m3 or 0 for p in saw) == pytest.approx(harvest.saw_net_m3[0])
    # a whole stem is bucked on the landing into the very same
    (whole,) = [products_of(area, [piece("1", kind="tree", wood_m3=9.0, mass_kg=9999.0)])]
    assert [(p.kind, p.length_m) for p in whole] == [(p.kind, p.length_m) for p in got]
    assert [p.mass_kg for p in whole] == pytest.approx([p.mass_kg for p in got])
    assert [p.net_bf for p in whole] == pytest.approx([p.net_bf for p in got])
    # in two parts it is still cut up once
    parts = [piece("1", n, kind="stem") for n in (1, 2)]
    assert products_of(area, parts) == whole


def test_a_stem_without_a_size_stays_whole_and_is_counted() -> None:
    rows = [{"tree_id": "1", "dbh_cm": math.nan, "height_m": math.nan}]
    area = area_of(LEVEL, trees=trees_of(rows))
    (got,) = products_of(area, [piece("1", kind="stem", length_m=0.0, wood_m3=0.0, mass_kg=920.0)])
    assert (got.kind, got.wood_m3, got.net_bf) == ("stem", 0.0, None)
    assert got.mass_kg == pytest.approx(800.0)


@given(st.lists(st.tuples(st.floats(0.01, 3), st.floats(1, 6)), min_size=1, max_size=30))
def test_decks_and_loads_do_not_hang_on_the_order(sizes: list[tuple[float, float]]) -> None:
    some = [log(w, length_m=m, tree_id=str(n)) for n, (w, m) in enumerate(sizes)]
    first, last = trucking_of(PLAIN, LANDING, some), trucking_of(PLAIN, LANDING, some[::-1])
    assert first.frontage_m == pytest.approx(last.frontage_m)
    assert first.loads == last.loads
    assert sum(s.pieces for s in first.sorts) == len(some)
    assert sum(s.mass_kg for s in first.sorts) == pytest.approx(sum(p.mass_kg for p in some))
    assert first.loads >= max(first.loads_by_mass, first.loads_by_volume) - 1e-9
