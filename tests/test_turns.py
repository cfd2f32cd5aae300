"""Loads against their limits, the traffic they make, and names that outlive the plan."""

import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_pieces import Ways, made, piece, trails
from shapely.geometry import LineString
from small_areas import settings_of

from layout.pieces import pieces_of, too_heavy
from layout.records import Trail
from layout.site import Earlier, EarlierTurn
from layout.turns import carried, named, traffic, turns_of
from layout.work_records import Piece, Turn

SETTINGS = settings_of()  # three chokers


def test_a_load_takes_up_the_farthest_first_and_says_all_there_is_to_say() -> None:
    pieces = (
        piece("B", 1, 300.0, at_m=20.0, position_id="W1", limit_kg=900.0),
        piece("A", 2, 200.0, at_m=60.0, position_id="W3", limit_kg=800.0),
        piece("A", 1, 250.0, at_m=60.0, position_id="W3", limit_kg=800.0),
    )
    (load,) = turns_of(SETTINGS, pieces)
    assert load == Turn(
        turn_id="", order=0, stage="harvest", trail_id="M", position_id="W3", at_m=60.0,
        travel_m=60.0, pieces=(("A", 1), ("A", 2), ("B", 1)), tree_ids=("A", "B"),
        position_ids=("W3", "W1"), mass_kg=750.0, wood_m3=pytest.approx(0.75), limit_kg=800.0,
        limited_by="traction",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("change", "loads"),
    [
        ({}, 1),
        ({"trail_id": "S1"}, 2),  # another spur
        ({"stage": "open", "position_id": ""}, 2),
        ({"stage": "rub"}, 2),
        ({"mass_known": False}, 2),
        ({"mass_kg": 600.0}, 2),
        ({"mass_kg": 500.0}, 1),
    ],
)
def test_what_goes_together(change: dict[str, Any], loads: int) -> None:
    other = replace(piece("B", 1, 400.0), **change)
    assert len(turns_of(SETTINGS, (piece("A", 1, 500.0), other))) == loads


def test_rub_trees_that_wait_for_other_trails_come_by_themselves() -> None:
    rubs = [replace(piece(t, 1, 100.0), stage="rub") for t in "AB"]
    assert len(turns_of(SETTINGS, rubs)) == 1
    assert len(turns_of(SETTINGS, [rubs[0], replace(rubs[1], late=True)])) == 2


def test_chokers_and_volume_hold() -> None:
    pieces = [piece(f"T{k}", 1, 10.0) for k in range(7)]
    assert [len(t.pieces) for t in turns_of(SETTINGS, pieces)] == [3, 3, 1]
    one = settings_of(winch={"chokers": 1})
    assert len(turns_of(one, pieces)) == 7
    assert len(turns_of(SETTINGS, pieces, most_m3=0.021)) == 4  # 0.01 m3 each


def test_a_stem_on_the_landing_is_one_load_whatever_it_weighs() -> None:
    there = {"travel_m": 0.0, "limit_kg": math.inf, "position_id": "W9"}
    pieces = [piece(t, n, 2000.0, "", 0.0, **there) for t in "AB" for n in (1, 2, 3, 4)]
    loads = turns_of(SETTINGS, pieces)
    assert [load.tree_ids for load in loads] == [("A",), ("B",)]
    assert {(load.travel_m, load.limit_kg) for load in loads} == {(0.0, math.inf)}


def test_pieces_that_no_way_takes_or_that_come_twice_are_refused() -> None:
    for known in (True, False):
        with pytest.raises(ValueError, match="fits no bin"):
            turns_of(SETTINGS, [piece("A", 1, 1001.0, mass_known=known)])
    with pytest.raises(ValueError, match="comes twice"):
        turns_of(SETTINGS, [piece("A", 1, 10.0), piece("A", 1, 10.0)])


PLACES = [
    ("M", 40.0, 40.0),
    ("M", 90.0, 90.0),
    ("S1", 20.0, 60.0),
    ("S1", 50.0, 90.0),
    ("S2", 5.0, 70.0),
]
loose = st.lists(
    st.tuples(
        st.floats(1.0, 1000.0), st.sampled_from(PLACES),
        st.sampled_from(["open", "harvest", "rub"]), st.booleans(),
    ),
    max_size=24,
).map(
    lambda rows: [
        piece(
            f"T{k // 2}", 1 + k % 2, mass, trail, at_m, travel_m=travel,
            limit_kg=2000.0 - 8.0 * travel, stage=stage, mass_known=sure or k % 5 > 0,
            position_id="" if stage == "open" else f"{trail}{at_m:.0f}",
        )
        for k, (mass, (trail, at_m, travel), stage, sure) in enumerate(rows)
    ]
)  # fmt: skip


@settings(max_examples=80)
@given(pieces=loose, chokers=st.integers(1, 5))
def test_every_piece_in_one_load_and_every_load_within_its_limits(
    pieces: list[Piece], chokers: int
) -> None:
    turns = turns_of(settings_of(winch={"chokers": chokers}), pieces)
    by_key = {(p.tree_id, p.number): p for p in pieces}
    assert Counter(key for t in turns for key in t.pieces) == Counter(list(by_key))
    assert math.fsum(t.mass_kg for t in turns) == pytest.approx(
        math.fsum(p.mass_kg for p in pieces)
    )
    assert math.fsum(t.wood_m3 for t in turns) == pytest.approx(
        math.fsum(p.wood_m3 for p in pieces)
    )
    for turn in turns:
        inside = [by_key[key] for key in turn.pieces]
        assert len(inside) <= chokers
        assert turn.mass_kg == pytest.approx(sum(p.mass_kg for p in inside))
        assert turn.mass_kg <= min(p.way.limit_kg for p in inside) * (1 + 1e-8)
        assert turn.limit_kg == min(p.way.limit_kg for p in inside)
        assert turn.travel_m == max(p.way.travel_m for p in inside)
        assert {(p.stage, p.trail_id) for p in inside} == {(turn.stage, turn.trail_id)}
        assert len(inside) == 1 or all(p.mass_known for p in inside)


@settings(max_examples=40)
@given(pieces=loose, data=st.data())
def test_loads_do_not_depend_on_the_order_of_pieces(
    pieces: list[Piece], data: st.DataObject
) -> None:
    assert turns_of(SETTINGS, data.draw(st.permutations(pieces))) == turns_of(SETTINGS, pieces)


@settings(max_examples=40)
@given(pieces=loose, more=st.floats(1.0, 2.5))
def test_a_stronger_tractor_makes_no_more_loads_but_for_one(
    pieces: list[Piece], more: float
) -> None:
    easier = [replace(p, way=replace(p.way, limit_kg=p.way.limit_kg * more)) for p in pieces]
    assert len(turns_of(SETTINGS, easier)) <= len(turns_of(SETTINGS, pieces)) + 1


@settings(max_examples=25)
@given(
    rows=st.lists(
        st.fixed_dictionaries(
            {
                "species": st.sampled_from(["northern red oak", "white pine", "sugar maple"]),
                "dbh_cm": st.floats(14.0, 70.0),
                "height_m": st.floats(12.0, 32.0),
                "at": st.sampled_from(["W1", "W2", "W3", "W4", "W5"]),
            }
        ),
        min_size=1,
        max_size=10,
    ),
    most=st.floats(150.0, 2500.0),
    extract=st.sampled_from(["log", "tree"]),
)
def test_every_stem_that_can_come_is_in_loads_and_wood_in_is_wood_out(
    rows: list[dict[str, Any]], most: float, extract: str
) -> None:
    job = made(rows, Ways(most, 0.5), work={"extract": extract})
    pieces, shorter = pieces_of(*job.arguments())
    turns = turns_of(job.area.settings, pieces)
    heavy = too_heavy(shorter)
    assert {t for turn in turns for t in turn.tree_ids} == set(job.area.trees.tree_id) - heavy
    assert math.fsum(t.wood_m3 for t in turns) == pytest.approx(
        math.fsum(p.wood_m3 for p in pieces)
    )
    assert all(t.mass_kg <= t.limit_kg * (1 + 1e-8) for t in turns)


# --- what passes where


def turn(trail_id: str, at_m: float, **more: Any) -> Turn:
    plain = Turn(
        "D1", 1, "harvest", trail_id, "W1", at_m, at_m, (("A", 1),), ("A",), ("W1",), 100.0, 0.1,
        500.0, "traction",
    )  # fmt: skip
    return replace(plain, **more)


def three() -> tuple[Trail, ...]:
    """Give a main trail, a spur at 100 m of it, and a fork at 40 m of that."""

    def line(*points: tuple[float, float]) -> LineString:
        return LineString(points)

    return (
        Trail("M", "main", "L1", line((0, 0), (0, 200)), 3.6, "drawn"),
        Trail("S1", "spur", "L1", line((0, 100), (80, 100)), 3.2, "routed", "M", 100.0),
        Trail("S2", "spur", "L1", line((40, 100), (40, 160)), 3.2, "routed", "S1", 40.0),
    )


def test_traffic_on_a_tree_of_three_trails_by_hand() -> None:
    """Two loads from the fork, one and three from the spur, one from beyond its mouth."""
    turns = [
        turn("S2", 30.0), turn("S2", 60.0),
        turn("S1", 20.0), *[turn("S1", 70.0)] * 3,
        turn("M", 150.0), turn("M", 50.0), turn("M", 50.0), turn("", 0.0),
    ]  # fmt: skip
    assert traffic(three(), turns) == {
        # 60 -> 30 one load, 30 -> 0 two
        "S2": [(30.0, 2), (60.0, 1)],
        # 70 -> 40 three; the fork's two join at 40; the one from 20 after that
        "S1": [(20.0, 6), (40.0, 5), (70.0, 3)],
        # 150 -> 100 one, then the spur's six, then two more from 50
        "M": [(50.0, 9), (100.0, 7), (150.0, 1)],
    }


def test_a_load_of_several_stops_counts_from_its_farthest_and_retired_ones_nowhere() -> None:
    pieces = [piece("A", 1, 100.0, at_m=120.0), piece("B", 1, 100.0, at_m=30.0, position_id="W2")]
    (load,) = turns_of(SETTINGS, pieces)
    gone = turn("M", 180.0, state="retired")
    elsewhere = turn("S9", 10.0, state="done")  # over a trail of an earlier plan
    done = turn("M", 60.0, state="done")
    assert traffic(three(), [load, gone, elsewhere, done])["M"] == [
        (60.0, 2),
        (100.0, 1),
        (120.0, 1),
    ]
    assert traffic(three(), [])["M"] == [(100.0, 0)]


@settings(max_examples=40)
@given(
    starts=st.lists(
        st.tuples(st.sampled_from(["M", "S1", "S2"]), st.floats(0.01, 50.0)), max_size=20
    )
)
def test_traffic_is_what_walking_every_load_in_counts(starts: list[tuple[str, float]]) -> None:
    """Walk each load in by itself, and count who comes by at stations in between."""
    network = trails()
    by_id = {trail.trail_id: trail for trail in network}
    found = traffic(network, [turn(name, at_m) for name, at_m in starts])
    for name, rows in found.items():
        edges = [0.0, *(at_m for at_m, _ in rows)]
        assert edges == sorted(edges)
        for (inner, outer), (_, loads) in zip(pairwise(edges), rows, strict=True):
            middle = (inner + outer) / 2
            passing = 0
            for start, at_m in starts:
                here, far = start, round(at_m, 3)
                while here:
                    passing += here == name and far > middle
                    far = round(by_id[here].joins_at_m or 0.0, 3)
                    here = by_id[here].joins_id
            assert loads == passing


# --- names that last


def earlier(*turns: EarlierTurn) -> Earlier:
    return Earlier((), (), turns=turns)


def before(name: str, *pieces: tuple[str, int], state: str = "planned") -> EarlierTurn:
    trees = tuple(dict.fromkeys(tree for tree, _ in pieces))
    return EarlierTurn(name, "M", "W1", trees, pieces, state)  # type: ignore[arg-type]


def with_pieces(*pieces: tuple[str, int]) -> Turn:
    return turn("M", 10.0, turn_id="", pieces=pieces)


def test_a_load_with_the_same_pieces_keeps_its_name() -> None:
    old = earlier(
        before("D2", ("A", 1), ("A", 2)), before("D7", ("B", 1)),
        before("D11", ("C", 1), state="done"), before("D5", ("E", 1), state="retired"),
    )  # fmt: skip
    new = [
        with_pieces(("A", 1)), with_pieces(("B", 1)), with_pieces(("A", 2), ("D", 1)),
        with_pieces(("E", 1)),
    ]  # fmt: skip
    assert named(new, old) == ("D12", "D7", "D13", "D5")
    assert named([with_pieces(("A", 2), ("A", 1))], old) == ("D2",)  # whatever the order
    assert named(new, None) == ("D1", "D2", "D3", "D4")
    twice = earlier(before("D1", ("A", 1), state="retired"), before("D4", ("A", 1)))
    assert named([with_pieces(("A", 1))], twice) == ("D4",)
    whole_trees = earlier(EarlierTurn("D3", "M", "W1", ("A",)))  # a plan that named no pieces
    assert named([with_pieces(("A", 1))], whole_trees) == ("D4",)


def test_loads_that_are_in_and_names_that_are_gone_are_carried_on() -> None:
    old = earlier(
        replace(before("D2", ("A", 1), state="done"), mass_kg=400.0, wood_m3=0.4, at_m=55.0),
        before("D7", ("B", 1)), before("D8", ("C", 1)), before("D9", ("D", 1), state="retired"),
    )  # fmt: skip
    kept = replace(with_pieces(("B", 1)), turn_id="D7")
    told = {t.turn_id: (t.state, t.order, t.pieces) for t in carried(old, [kept])}
    assert told == {
        "D2": ("done", 0, (("A", 1),)),
        "D8": ("retired", 0, (("C", 1),)),
        "D9": ("retired", 0, (("D", 1),)),
    }
    first = carried(old, [kept])[0]
    assert (first.mass_kg, first.wood_m3, first.at_m, first.trail_id) == (400.0, 0.4, 55.0, "M")
    assert carried(None, [kept]) == ()
