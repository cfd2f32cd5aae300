"""Rub trees, on junctions and pulls small enough to judge by eye.

The wide corner on the landing's side, the stem that is cut last, never a keep tree:
sources.RUB_TREES, and common practice without a source. The main trail runs straight
north from the landing; the spur leaves it at (200, 120), 45 degrees to the right.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_ground import SOUTH, WEST, area_of, main_trail, settings_of, spur, terrain_of, trees_of
from made_loads import position, pull
from shapely import affinity

from layout.records import Pull, RubTree, Trail, TreeOutcome, WinchPosition
from layout.rub_places import bends, loaded_to_m, passing
from layout.rub_trees import load_length_m, low_value, rub_trees, with_roles
from layout.site import Area

FLAT = terrain_of(lambda x, y: 100 + 0 * x)
MAIN = main_trail((200, 20), (200, 220))
SPUR = spur("S1", MAIN, 100, (260, 180))
TRAILS = (MAIN, SPUR)
LOADS = (position("W1", SPUR, 70.0, "far"),)
FAR = {"tree_id": "far", "x": 262, "y": 200, "marked": True}
LOG_M = 16.5 * 0.3048


def around(azimuth: float, out_m: float) -> dict[str, float]:
    """Give a place round the mouth by its bearing and distance."""
    a = math.radians(azimuth)
    return {"x": 200 + out_m * math.sin(a), "y": 120 + out_m * math.cos(a)}


WIDE = around(112.5, 2.35)  # half-way between spur and landing, just off both trails
BEHIND = {"tree_id": "behind", **around(112.5, 4.0), "dbh_cm": 40.0}
CROTCH = {"tree_id": "crotch", **around(22.5, 6.0), "marked": True}


def made(rows: list[dict[str, Any]], *, error: str = "1 m", **fields: Any) -> Area:
    full = fields.pop("full_list", True)
    given = settings_of(stand={"position_error": error}, **fields)
    return area_of(FLAT, given, trees=trees_of([FAR, *rows], full_list=full))


def gone(area: Area, trails: tuple[Trail, ...] = TRAILS) -> np.ndarray:
    stems = shapely.points(area.trees.x, area.trees.y)
    return np.any([shapely.dwithin(t.line, stems, t.width_m / 2 + 0.3) for t in trails], axis=0)


def chosen(
    area: Area,
    trails: tuple[Trail, ...] = TRAILS,
    loads: tuple[WinchPosition, ...] = LOADS,
    pulls: tuple[Pull, ...] = (),
) -> tuple[RubTree, ...]:
    return rub_trees(area, trails, loads, pulls, gone(area, trails))


# --- where loads cut in


def test_the_corner_of_a_junction_is_the_wide_one_on_the_landings_side() -> None:
    (bend,) = bends(TRAILS, LOADS, (), LOG_M)
    assert (bend.kind, bend.trail_id, bend.from_id, bend.side) == ("junction", "M1", "S1", "right")
    assert bend.at_m == pytest.approx(100, abs=1.5)
    # half a trail's width from the mouth, along the bisector of spur (45) and landing (180)
    away = math.degrees(math.atan2(bend.x - WEST - 200, bend.y - SOUTH - 120))
    assert away == pytest.approx(112.5, abs=25)
    assert math.hypot(bend.x - WEST - 200, bend.y - SOUTH - 120) < 2.6


def test_beside_tells_inside_from_outside_and_how_deep_loads_come() -> None:
    (bend,) = bends(TRAILS, LOADS, (), LOG_M)
    x = np.array([WEST + WIDE["x"], WEST + CROTCH["x"]])
    y = np.array([SOUTH + WIDE["y"], SOUTH + CROTCH["y"]])
    _, off, deep = bend.beside(x, y)
    assert off[0] == pytest.approx(2.35 * math.sin(math.radians(67.5)), abs=1e-6)
    assert off[1] < 0
    assert 0.5 <= deep[0] <= 1.4


def test_far_up_a_spur_a_place_is_named_by_the_spur_itself() -> None:
    (bend,) = bends(TRAILS, LOADS, (), LOG_M)
    at_mouth = bend.place(bend.mouth_m - 3.0)
    assert (at_mouth.kind, at_mouth.trail_id, at_mouth.from_id) == ("junction", "M1", "S1")
    assert at_mouth.at_m == pytest.approx(100.0, abs=1e-6)
    assert bend.place(bend.mouth_m + 2.0).at_m == pytest.approx(98.0, abs=1e-6)
    up = bend.place(bend.mouth_m - 20.0)
    assert (up.kind, up.trail_id, up.from_id) == ("bend", "S1", "")
    assert (up.at_m, up.side) == (pytest.approx(20.0), "right")


def test_trails_that_no_load_comes_along_are_not_looked_at() -> None:
    assert bends(TRAILS, (), (), LOG_M) == ()
    onto_main = (position("W1", MAIN, 60.0, "far"),)
    assert bends(TRAILS, onto_main, (), LOG_M) == ()
    assert loaded_to_m(MAIN, TRAILS, LOADS) == 100.0
    assert loaded_to_m(SPUR, TRAILS, onto_main) == 0.0


def test_a_bend_of_one_trail_is_named_by_its_own_station() -> None:
    bent = main_trail((200, 20), (200, 100), (260, 160))
    (bend,) = bends((bent,), (position("W1", bent, 140.0, "far"),), (), LOG_M)
    assert (bend.kind, bend.side, bend.from_id) == ("bend", "right", "")
    assert bend.at_m == pytest.approx(80, abs=2)


def test_loads_pass_what_lies_between_them_and_the_landing() -> None:
    loads = (
        position("W1", SPUR, 30.0, "a"),
        position("W2", MAIN, 60.0, "b"),
        position("W3", MAIN, 150.0, "c"),
        position("W4", None, 0.0, "d"),
    )
    by_id = {t.trail_id: t for t in TRAILS}
    assert passing(by_id, loads, "M1", 100.0) == ("W1", "W3")
    assert passing(by_id, loads, "M1", 10.0) == ("W1", "W2", "W3")
    assert passing(by_id, loads, "S1", 10.0) == ("W1",)


# --- what is chosen


def test_the_wide_corner_is_taken_and_not_the_crotch() -> None:
    area = made([{"tree_id": "wide", **WIDE, "marked": True}, CROTCH, BEHIND])
    (rub,) = chosen(area)
    assert (rub.rub_id, rub.kind, rub.tree_id) == ("R1", "marked", "wide")
    assert rub.protects == ("behind",)
    assert rub.cut_after == ("W1",)
    assert rub.places[0].kind == "junction"
    assert rub.out_m == pytest.approx(100, abs=1.5)


def test_on_the_other_hand_it_is_the_same() -> None:
    mirrored = spur("S1", MAIN, 100, (140, 180))
    rows = [
        {"tree_id": "wide", **around(-112.5, 2.35), "marked": True},
        {**CROTCH, **around(-22.5, 6.0)},
        {**BEHIND, **around(-112.5, 4.0)},
    ]
    trails = (MAIN, mirrored)
    (rub,) = chosen(made(rows), trails, (position("W1", mirrored, 70.0, "far"),))
    assert (rub.tree_id, rub.places[0].side, rub.protects) == ("wide", "left", ("behind",))


def test_the_better_placed_of_two_marked_stems_is_kept() -> None:
    second = {"tree_id": "second", **around(135.0, 3.6), "marked": True}
    (rub,) = chosen(made([second, {"tree_id": "wide", **WIDE, "marked": True}, BEHIND]))
    assert rub.tree_id == "wide"


def test_with_nothing_behind_it_a_marked_stem_still_spares_the_corner() -> None:
    (rub,) = chosen(made([{"tree_id": "wide", **WIDE, "marked": True}]))
    assert (rub.kind, rub.protects) == ("marked", ())


def test_an_unmarked_stem_is_only_proposed_and_only_for_a_better_one() -> None:
    low = {"tree_id": "wide", **WIDE, "dbh_cm": 20.0}
    met = {"tree_id": "behind", **around(100.0, 2.5), "dbh_cm": 45.0}
    (rub,) = chosen(made([low, met]))
    assert (rub.kind, rub.tree_id, rub.protects) == ("proposed", "wide", ("behind",))
    outcomes = (TreeOutcome("wide", "leave", "leave"),)
    assert with_roles(outcomes, (rub,)) == outcomes  # the tool marks nothing
    (other,) = chosen(made([low, met | {"dbh_cm": 18.0}])) or (None,)
    assert other is None  # one poor stem is not given for another


def test_without_a_stem_that_will_do_a_log_is_named_and_what_it_spares() -> None:
    (rub,) = chosen(made([{"tree_id": "fine", **WIDE, "dbh_cm": 45.0}]))
    assert (rub.kind, rub.tree_id, rub.protects) == ("bumper", "", ("fine",))
    assert math.hypot(rub.x - WEST - 200, rub.y - SOUTH - 120) < 2.6


@pytest.mark.parametrize(
    "spoiled",
    [
        {"keep": "crop"},
        {"hazard": "rot"},
        {"dbh_cm": 12.0},  # bends over
        {"dbh_cm": float("nan")},
        {"position_error_m": 4.0},
        around(180.0, 5.0),  # in the main trail
    ],
)
def test_what_is_never_taken(spoiled: dict[str, Any]) -> None:
    area = made([{"tree_id": "wide", **WIDE, "marked": True, **spoiled}, BEHIND])
    assert "wide" not in {rub.tree_id for rub in chosen(area)}


def test_a_tree_that_may_be_the_neighbours_is_not_rubbed() -> None:
    area = made([{"tree_id": "wide", **WIDE, "marked": True}], property={"error": "5 ft"})
    near = shapely.LineString([(WEST + 203, SOUTH), (WEST + 203, SOUTH + 400)])
    assert [rub.tree_id for rub in chosen(area)] == ["wide"]
    assert chosen(replace(area, property_line=near)) == ()


@pytest.mark.parametrize(("out_m", "own"), [(0.4, False), (0.6, True)])
def test_nor_is_one_that_may_stand_past_the_line(out_m: float, own: bool) -> None:
    # the line is known to 5 ft (1.524 m), the tree to 1 m
    tree = {"tree_id": "wide", **WIDE, "marked": True, "position_error_m": 1.0}
    area = made([tree], property={"error": "5 ft"})
    x = float(area.trees.x[-1]) + 1.524 + 0.5 + out_m
    line = shapely.LineString([(x, SOUTH), (x, SOUTH + 400)])
    assert [rub.tree_id for rub in chosen(replace(area, property_line=line))] == ["wide"] * own


def test_what_is_out_already_is_no_rub_tree() -> None:
    area = made([{"tree_id": "wide", **WIDE, "marked": True}])
    out = replace(area, trees=replace(area.trees, done=frozenset({"wide"})))
    assert chosen(out) == ()


# --- pulls

EAST = position("W1", MAIN, 60.0, "far")  # at (200, 80); the stump lies due east of it
ROPE = pull("far", EAST, 225, 80)
BRUSHED = {"tree_id": "brushed", "x": 212, "y": 80.8, "dbh_cm": 40.0}


@pytest.mark.parametrize(
    ("x", "y", "taken"),
    [
        (216, 80.6, True),  # met first, same side
        (208, 80.6, False),  # nearer the winch: the load is past the other by then
        (216, 79.4, False),  # on the other side of the rope
        (216, 80.3, False),  # its bark is in the rope's own line
        (224, 80.6, False),  # too long before
    ],
)
def test_along_a_pull_it_stands_before_what_it_spares(x: float, y: float, taken: bool) -> None:
    before = {"tree_id": "before", "x": x, "y": y, "marked": True, "dbh_cm": 20.0}
    found = chosen(made([before, BRUSHED]), (MAIN,), (EAST,), (ROPE,))
    assert [rub.tree_id for rub in found if rub.kind == "marked"] == (["before"] if taken else [])
    if taken:
        assert found[0].protects == ("brushed",)
        assert found[0].cut_after == ("W1",)
        assert (found[0].places[0].kind, found[0].places[0].from_id) == ("pull", "W1")


def test_two_trees_never_wait_for_each_other() -> None:
    # each stands beside the pull of the other, and each pull brushes a tree that stays
    rows = [
        {"tree_id": "a", "x": 216, "y": 80.6, "marked": True, "dbh_cm": 20.0},
        {"tree_id": "b", "x": 217, "y": 80.2, "marked": True, "dbh_cm": 20.0},
        BRUSHED,
    ]
    place = position("W1", MAIN, 60.0, "far", "a", "b")
    pulls = (ROPE, pull("a", place, 216, 80.6), pull("b", place, 217, 80.2))
    found = chosen(made(rows), (MAIN,), (place,), pulls)
    assert all(rub.tree_id not in ("a", "b") for rub in found if rub.places[0].kind == "pull")


# --- where single stems cannot be spoken of


@pytest.mark.parametrize("fields", [{"error": "5 m"}, {"full_list": False}])
def test_without_a_sure_map_each_mouth_is_a_place_to_look(fields: dict[str, Any]) -> None:
    (rub,) = chosen(made([{"tree_id": "wide", **WIDE, "marked": True}, BEHIND], **fields))
    assert (rub.kind, rub.tree_id, rub.protects) == ("look", "", ())
    assert (rub.places[0].from_id, rub.places[0].side) == ("S1", "right")


# --- sizes


def test_the_load_is_the_longest_log_or_the_tallest_marked_tree() -> None:
    assert load_length_m(made([])) == pytest.approx(LOG_M)
    tree = made([BEHIND | {"height_m": 40.0}], work={"extract": "tree"})
    assert load_length_m(tree) == pytest.approx(20.0)  # only the marked one travels


def test_what_holds_no_sawlog_is_of_low_value() -> None:
    rows = [
        {"x": 1, "y": 1, "dbh_cm": 27.0},  # sugar maple: sawlogs from 11 in, 27.9 cm
        {"x": 1, "y": 1, "dbh_cm": 29.0},
        {"x": 1, "y": 1, "dbh_cm": 25.0, "species": "eastern white pine"},  # from 9 in
        {"x": 1, "y": 1, "dbh_cm": 45.0, "defect_pct": 50.0},
        {"x": 1, "y": 1, "dbh_cm": float("nan")},
    ]
    assert low_value(made(rows))[1:].tolist() == [True, False, False, True, False]


# --- whatever stands there


def scattered(seed: int, count: int) -> list[dict[str, Any]]:
    """Scatter stems along the inside of the wide corner, where something comes of them."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(count):
        out, off = float(rng.uniform(0.5, 7)), float(rng.uniform(1.9, 3.6))
        if rng.random() < 0.5:  # beside the main trail, below the mouth
            x, y = 200 + off, 120 - out
        else:  # beside the spur
            x, y = 200 + (out + off) * math.sqrt(0.5), 120 + (out - off) * math.sqrt(0.5)
        rows.append(
            {
                "x": x,
                "y": y,
                "dbh_cm": float(rng.choice([10, 18, 30, 48])),
                "marked": bool(rng.random() < 0.25),
                "keep": str(rng.choice(["", "", "", "", "crop", "seed", "den", "witness"])),
                "hazard": str(rng.choice(["", "", "", "", "rot", "hung"])),
                "defect_pct": float(rng.choice([0, 0, 60])),
            }
        )
    return rows


stems = st.builds(scattered, st.integers(0, 10**6), st.integers(8, 14))


@given(stems)
def test_keep_and_hazard_trees_are_spared_and_the_rest_is_as_marked(
    rows: list[dict[str, Any]],
) -> None:
    area = made(rows)
    trees, low = area.trees, low_value(area)
    row = {name: i for i, name in enumerate(trees.tree_id)}
    for rub in chosen(area):
        if rub.tree_id:
            i = row[rub.tree_id]
            assert not trees.keep[i]
            assert not trees.hazard[i]
            assert rub.kind == ("marked" if trees.marked[i] else "proposed")
            assert trees.marked[i] or low[i]
            assert not gone(area)[i]
        assert rub.tree_id not in rub.protects
        assert all(not trees.marked[row[name]] for name in rub.protects)
        if rub.kind in ("proposed", "bumper"):
            assert any(trees.keep[row[n]] or not low[row[n]] for n in rub.protects)


@settings(max_examples=60)
@given(stems, st.floats(0, 359), st.booleans())
def test_turned_or_mirrored_the_same_stems_are_chosen(
    rows: list[dict[str, Any]], degrees: float, flip: bool
) -> None:
    middle = (WEST + 200, SOUTH + 120)

    def moved(shape: Any) -> Any:
        if flip:
            shape = affinity.scale(shape, -1.0, 1.0, origin=middle)
        return affinity.rotate(shape, degrees, origin=middle)

    area = made(rows)
    trails = tuple(replace(t, line=moved(t.line)) for t in TRAILS)
    spots = [moved(shapely.Point(x, y)) for x, y in zip(area.trees.x, area.trees.y, strict=True)]
    there = replace(area.trees, x=np.array([p.x for p in spots]), y=np.array([p.y for p in spots]))
    loads = (position("W1", trails[1], 70.0, "far"),)
    before = chosen(area)
    after = chosen(replace(area, trees=there), trails, loads)
    # a stem on the very edge of a trail or of a load's reach may fall either way
    stated = [(rub.kind, rub.tree_id, rub.protects) for rub in before]
    again = [(rub.kind, rub.tree_id, rub.protects) for rub in after]
    if not _on_an_edge(area):
        assert again == stated


def _on_an_edge(area: Area) -> bool:
    """Tell whether some stem stands within a few centimetres of where it counts or not."""
    (bend,) = bends(TRAILS, LOADS, (), LOG_M)
    _, off, deep = bend.beside(area.trees.x, area.trees.y)
    bark = off - area.trees.dbh_cm / 200
    points = shapely.points(area.trees.x, area.trees.y)
    rim = np.min([np.abs(shapely.distance(t.line, points) - t.width_m / 2 - 0.3) for t in TRAILS],
                 axis=0)  # fmt: skip
    apart = np.abs(bark[:, None] - bark[None, :])
    near = np.abs(apart - 0.3) < 0.002
    return bool(
        (np.abs(bark - deep - 0.9144) < 0.02).any()
        or (np.abs(bark - 15 * 0.3048) < 0.005).any()
        or (rim < 0.005).any()
        or near.any()
        or (np.abs(off) < 0.005).any()
    )
