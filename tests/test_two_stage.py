"""A small landing in the woods and a trailer, against dragging: places, hours and passes by hand.

What the trailer may carry is held against hand statics in test_trailer_load.py. Sizes of
small landings and turns are ours; slopes are those of any landing.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_ground import (
    area_of,
    at,
    landing_of,
    line,
    main_trail,
    settings_of,
    spur,
    strips_of,
    terrain_of,
    trees_of,
)
from made_job import job, order, piece, pull
from shapely.geometry import LineString, box

from layout.calibration import Calibration
from layout.cycle_model import pace_of
from layout.cycle_times import Job, calibration_of, times_of, turn_minutes
from layout.harvest import cut_up
from layout.products import Product
from layout.records import Landing, Trail, TurningPlace
from layout.shorter_ways import entries, lane_traffic, shortened
from layout.site import Earlier, EarlierPlace, EarlierTurn
from layout.small_landing import (
    BEHIND_AXLE_M,
    SHORTEST_LANE_M,
    Ground,
    small_landing_at,
    small_landings,
    turns_on,
)
from layout.terrain import station_table
from layout.trailer_findings import two_stage_findings
from layout.tree_sizes import sizes_of
from layout.turns import traffic
from layout.two_stage import CHANGE_MIN, NEVER, in_use, two_stage_of
from layout.units import FOOT_M
from layout.work_records import TwoStage, WorkStep

MAIN = main_trail((200, 30), (200, 330))  # 300 m, north from the landing
SPUR = spur("S1", MAIN, 200.0, (240, 270))
NEAR = spur("S2", MAIN, 60.0, (240, 130))
LANDING = landing_of(200, 20, 15.0)
BRAKED = {"braked": True}


def gentle(x: Any, y: Any) -> Any:
    """Give ground that falls 3 % to the landing."""
    return 300 + 0.03 * y


def ground(
    height: Any = gentle, trails: tuple[Trail, ...] = (MAIN, SPUR, NEAR), *,
    trailer: dict[str, Any] | None = None, landing: Landing = LANDING,
    places: tuple[TurningPlace, ...] = (), strips: tuple[Any, ...] = (), flat: Any = None,
    **tables: Any,
) -> Ground:  # fmt: skip
    terrain = terrain_of(height)
    given = settings_of(trailer=BRAKED | (trailer or {}), tractor={"width": "1.9 m"}, **tables)
    stations = {t.trail_id: station_table(terrain, t.line, t.width_m) for t in trails}
    return Ground(
        area_of(terrain, given), terrain, strips_of(terrain, *strips), landing, trails, stations,
        places, flat,
    )  # fmt: skip


def wood() -> Job:
    """Give four loads: two from far up the main trail and its spur, two from near."""
    loads = {
        "far": (piece("1", at_m=290.0), piece("1", 2, at_m=290.0)),
        "spur": (piece("2", trail_id="S1", at_m=40.0, travel_m=240.0, position_id="S1-1"),),
        "near": (piece("3", at_m=90.0),),
        "other": (piece("4", trail_id="S2", at_m=50.0, travel_m=110.0, position_id="S2-1"),),
    }
    return job(loads, tuple(pull(t) for t in "1234"), (MAIN, SPUR, NEAR))


def logs(some: Job) -> tuple[Product, ...]:
    """Give the pieces as they lie on the landing, the weight error off."""
    return tuple(
        Product(p.tree_id, "sawlog", "sugar maple", p.length_m, p.wood_m3, p.mass_kg / 1.15,
                p.wood_m3, None)
        for p in some.pieces
    )  # fmt: skip


def weigh(where: Ground, some: Job | None = None) -> TwoStage:
    given = wood() if some is None else some
    return two_stage_of(
        where, given, logs(given), pace_of(where.area.settings), calibration_of(where.area, given)
    )


def test_loads_know_where_they_come_onto_the_main_trail() -> None:
    some = wood()
    got = dict(zip(("far", "spur", "near", "other"), entries(some.turns, some.pieces,
               some.trails), strict=True))  # fmt: skip
    assert got == {
        "far": ("M1", 290.0), "spur": ("M1", 200.0), "near": ("M1", 90.0), "other": ("M1", 60.0),
    }  # fmt: skip
    # a load that takes up something nearer on its way is dragged from there on
    both = job({"a": (piece("1", at_m=290.0), piece("2", at_m=50.0))})
    assert entries(both.turns, both.pieces, both.trails) == [("M1", 50.0)]
    yard = job({"a": (piece("1", trail_id="", at_m=0.0, travel_m=0.0),)})
    assert entries(yard.turns, yard.pieces, yard.trails) == [("", 0.0)]


def test_hours_and_passes_at_a_place_the_user_set_by_hand() -> None:
    where = ground(trailer={"at": list(at(200, 180))})  # station 150
    got = weigh(where)
    pace, some = pace_of(where.area.settings), wood()
    assert got.why_none == "" and not got.chosen
    assert (got.trail_id, got.at_m, got.lane_m) == ("M1", 150.0, 150.0)
    assert got.turns_through == 2  # far and spur come over the lane, near and other do not
    # three logs of 575 kg with the weight error, 5 t rating: one trip
    assert (got.trips, got.trailer_kg, got.limited_by) == (1, 5000.0, "rating")
    assert got.passes_saved == 1
    assert got.clean_share == pytest.approx(1.5 / 2.5)
    all_way = sum(turn_minutes(pace, turn) for turn in some.turns)
    assert got.drag_all is not None and got.two_stage is not None
    assert 60 * got.drag_all.productive_h == pytest.approx(all_way)
    spared = 2 * pace.drive(150)
    carried = 2 + 2 * 150 / (6000 / 60) + 3 * (1.5 + 0.5) + 2 * CHANGE_MIN
    assert 60 * got.two_stage.productive_h == pytest.approx(all_way - spared + carried)
    assert got.two_stage.low_h == pytest.approx(got.two_stage.productive_h / 0.7 * 0.65)
    assert got.two_stage.high_h == pytest.approx(got.two_stage.productive_h / 0.7 * 1.35)


def test_the_small_landing_is_where_it_says_and_takes_what_it_says() -> None:
    where = ground(trailer={"at": list(at(200, 180))})
    (place,), why = small_landing_at(where, *at(200, 180))
    assert why == "" and place.slope_pct == pytest.approx(3.0, abs=0.01)
    # the outfit turns on it: twice the bend long, the bend and what is behind the axle deep,
    # the wood's own area on top, and half the trail on the far side
    radius, width = 30 * FOOT_M, MAIN.width_m
    deep = radius + BEHIND_AXLE_M + where.area.settings.trailer.area_m2 / (2 * radius)
    assert place.shape.area == pytest.approx(2 * radius * (deep + width / 2))
    assert place.taken_m2 == pytest.approx(2 * radius * (deep - width / 2), rel=0.01)
    assert place.turn_at_m == 150.0
    got = weigh(where)
    assert got.shape is not None and got.shape.equals(place.shape)
    assert got.landing_m2 == place.taken_m2
    assert (got.x, got.y) == (place.shape.centroid.x, place.shape.centroid.y)


def test_the_best_station_is_the_one_with_the_fewest_hours() -> None:
    where = ground()
    some = job(
        {f"L{n}": (piece(str(n), at_m=250.0 + n),) for n in range(40)},
        tuple(pull(str(n)) for n in range(40)), (MAIN, SPUR, NEAR),
    )  # fmt: skip
    best = weigh(where, some)
    assert best.at_m is not None and best.two_stage is not None and best.drag_all is not None
    hours = {}
    for metres in range(50, 251, 25):
        set_there = ground(trailer={"at": list(at(200, 30 + metres))})
        one = weigh(set_there, some)
        if not one.why_none:
            assert one.two_stage is not None
            hours[metres] = one.two_stage.productive_h
    assert len(hours) >= 6
    assert best.two_stage.productive_h <= min(hours.values()) + 1e-9
    # forty drags from 250 m and more: out there it pays
    assert best.two_stage.productive_h < best.drag_all.productive_h
    assert best.passes_saved == best.turns_through - best.trips > 30


def test_a_heavier_lane_makes_more_trips() -> None:
    trips = {}
    for tonnes in ("1 t", "2 t", "5 t"):
        got = weigh(ground(trailer={"payload": tonnes, "at": list(at(200, 180))}))
        trips[tonnes] = got.trips
    assert trips == {"1 t": 3, "2 t": 1, "5 t": 1}


def test_a_turning_place_just_beyond_makes_the_small_landing_smaller() -> None:
    x, y = at(200, 30 + 170)
    wide = TurningPlace("T1", "M1", 170.0, "pad", shapely.Point(x, y).buffer(11.0), 3.0)
    narrow = replace(wide, shape=shapely.Point(x, y).buffer(6.0))
    set_there = {"at": list(at(200, 180))}
    itself = weigh(ground(trailer=set_there))
    assert weigh(ground(trailer=set_there, places=(narrow,))).turn_at_m == 150.0
    got = weigh(ground(trailer=set_there, places=(wide,)))
    assert got.turn_at_m == 170.0
    assert got.landing_m2 < itself.landing_m2
    assert got.shape is not None
    assert got.shape.area == pytest.approx(0.05 * 43560 * FOOT_M**2)
    assert got.two_stage is not None and itself.two_stage is not None
    farther = 60 * (got.two_stage.productive_h - itself.two_stage.productive_h)
    assert farther == pytest.approx(2 * 20 / 100)  # 20 m beyond, and back
    far_off = replace(wide, at_m=250.0)
    assert weigh(ground(trailer=set_there, places=(far_off,))).turn_at_m == 150.0


@pytest.mark.parametrize(("radius_m", "wide"), [(12.0, True), (8.0, False)])
def test_a_loop_serves_where_its_bends_are_wide_enough(radius_m: float, wide: bool) -> None:
    x, y = at(200 + radius_m, 30 + 170)
    ring = LineString(shapely.Point(x, y).buffer(radius_m, 32).exterior.coords)
    loop = TurningPlace("T1", "M1", 170.0, "loop", ring.buffer(1.5), 3.0, ring)
    got = weigh(ground(trailer={"at": list(at(200, 180))}, places=(loop,)))
    assert got.turn_at_m == (170.0 if wide else 150.0)


def why(where: Ground) -> str:
    got = weigh(where)
    assert got.at_m is None and got.drag_all is None and not got.chosen
    return got.why_none


def bent(radius_m: float) -> Trail:
    """Give a main trail with a quarter bend of a radius, 60 m out."""
    turn = np.linspace(0, math.pi / 2, 41)
    arc = [(200 + radius_m * (1 - math.cos(a)), 90 + radius_m * math.sin(a)) for a in turn]
    return main_trail((200, 30), *arc, (370, 90 + radius_m))


def step(x: Any, y: Any, rise: float) -> Any:
    """Give ground at 3 % with a pitch of 20 m from 60 m out."""
    return 300 + 0.03 * y + (rise - 0.03) * np.clip(y - 90, 0, 20)


@pytest.mark.parametrize(
    ("pct", "words"),
    [
        (0.098, ""),
        (0.102, "it falls more than 10 % loaded at"),
        (-0.078, ""),
        (-0.082, "it climbs more than 8 % loaded at"),
    ],
)
def test_the_lane_keeps_the_trailers_grades(pct: float, words: str) -> None:
    where = ground(lambda x, y: step(x, y, pct), trailer={"at": list(at(200, 230))})
    got = weigh(where)
    if words:
        assert words in got.why_none and "the lane, M1, does not suit a trailer" in got.why_none
    else:
        assert got.why_none == ""


@pytest.mark.parametrize(("radius_m", "good"), [(9.4, True), (8.5, False)])
def test_the_lane_keeps_the_trailers_bend(radius_m: float, good: bool) -> None:
    trail = bent(radius_m)
    far = trail.line.interpolate(150.0)
    where = ground(trails=(trail,), trailer={"at": [far.x, far.y]})
    places, told = small_landing_at(where, far.x, far.y)
    assert bool(places) is good, told
    if not good:
        assert "it bends tighter than 30 ft of radius at" in told


def test_the_slope_across_the_lane_must_be_no_caution() -> None:
    side = lambda x, y: 300 + 0.03 * y + 0.16 * (x - 200) * ((y > 80) & (y < 110))  # noqa: E731
    where = ground(side, trailer={"at": list(at(200, 230))})
    assert "the slope across it is over 15 %" in why(where)
    flat = {"M1": np.ones(len(where.stations["M1"]), dtype=bool)}  # on a bench it stands level
    benched = ground(side, trailer={"at": list(at(200, 230))}, flat=flat)
    assert weigh(benched).why_none == ""


def test_unknown_ground_ends_the_lane() -> None:
    gap = lambda x, y: np.where((y > 100) & (y < 130), np.nan, 300 + 0.03 * y)  # noqa: E731
    where = ground(gap, trailer={"at": list(at(200, 230))})
    assert "its grade is not known from" in why(where)


def test_brakes_end_the_lane_where_they_hold_nothing() -> None:
    where = ground(lambda x, y: 300 + 0.09 * y, trailer={"braked": False, "mass": "4 t"})
    assert "tractor and brakes hold no loaded trailer at" in why(where)


def test_a_log_too_heavy_for_the_lane_is_told_in_weights() -> None:
    where = ground(lambda x, y: 300 + 0.075 * y, trailer={"braked": False, "mass": "2 t"})
    told = why(where)
    assert "(the tractor's brakes)" in told and "the heaviest log weighs 1,250 lb" in told
    assert "brakes would carry more" in told


def test_places_near_water_are_not_taken() -> None:
    brook = box(*at(10, 190), *at(390, 194))
    over = ground(strips=(brook,), trailer={"at": list(at(200, 180))})
    assert "far enough from water" in why(over)
    # 50 ft outside the strip, for the whole of it
    places, _ = small_landings(ground(strips=(brook,)))
    assert places
    assert min(p.shape.distance(brook) for p in places) >= 50 * FOOT_M - 1e-6
    assert max(p.shape.distance(brook) for p in places) < 200


def test_places_are_level_and_on_open_ground() -> None:
    hollow = lambda x, y: 300 + 0.03 * y + 0.12 * np.maximum(x - 204, 0)  # noqa: E731
    places, _ = small_landings(ground(hollow))
    assert places and all(p.slope_pct <= 8.0 for p in places)
    assert all(p.shape.centroid.x < at(200, 0)[0] for p in places)  # the steep side is left
    steep = lambda x, y: 300 + 0.03 * y + 0.12 * np.abs(x - 200)  # noqa: E731
    # a gully with the trail along it: neither side is level
    none, told = small_landings(ground(steep))
    assert none == () and "nowhere along the first" in told
    edge = main_trail((30, 30), (30, 330))  # 20 m from the stand's edge, which is the line
    close, _ = small_landings(ground(trails=(edge,), landing=landing_of(30, 20, 15.0)))
    assert all(p.shape.bounds[0] >= at(13.04, 0)[0] for p in close)


def test_the_road_landing_must_let_the_outfit_turn() -> None:
    where = ground(landing=landing_of(200, 25, 5.0))
    assert why(where) == "tractor and trailer have no room to turn round on the landing"
    assert turns_on(landing_of(200, 20, 15.0).shape, where)
    # in three moves a rectangle will do that holds no circle of the bend
    bend = 30 * FOOT_M
    slim = shapely.box(0, 0, 2 * bend + 0.1, bend + BEHIND_AXLE_M + 1.9 / 2 + 0.1)
    assert turns_on(slim, where) and not turns_on(shapely.box(0, 0, 2 * bend + 0.1, 9.0), where)
    assert turns_on(shapely.affinity.rotate(slim, 45), where)


def test_places_set_by_the_user_that_will_not_do() -> None:
    off = ground(trailer={"at": list(at(260, 180))})
    assert "the place set lies 197 ft from the main trail; 98 ft at most" in why(off)
    near = ground(trailer={"at": list(at(200, 60))})
    assert f"for less than {SHORTEST_LANE_M / FOOT_M:.0f} ft a trailer saves nothing" in why(near)


def test_no_load_over_the_lane_is_no_use_for_a_trailer() -> None:
    some = job({"a": (piece("1", at_m=40.0),)}, (pull("1"),))
    got = weigh(ground(), some)
    assert got.why_none == NEVER


def test_no_main_trail_at_all() -> None:
    where = ground()
    assert why(replace(where, trails=(SPUR,))) == "no main trail starts at the landing"


def test_a_short_main_trail_is_told_so() -> None:
    trail = main_trail((200, 30), (200, 70))
    assert why(ground(trails=(trail,))) == "the main trail is too short for a trailer"


def test_loads_end_at_the_small_landing_and_the_lane_sees_the_trips() -> None:
    some = wood()
    two = weigh(ground(trailer={"at": list(at(200, 180)), "use": True}), some)
    assert two.chosen
    short = shortened(some.turns, two, some.pieces, some.trails)
    assert [t.travel_m for t in short] == [140.0, 90.0, 90.0, 110.0]
    assert [t.ends_at for t in short] == ["small landing"] * 2 + ["landing"] * 2
    assert [t.travel_m for t in some.turns] == [290.0, 240.0, 90.0, 110.0]
    plain = traffic(some.trails, some.turns)
    got = lane_traffic(plain, two)
    assert {name: got[name] for name in ("S1", "S2")} == {n: plain[n] for n in ("S1", "S2")}
    # beyond the small landing as before; on the lane one trip in place of two loads
    assert got["M1"] == [(60.0, 3), (90.0, 2), (150.0, 1), (200.0, 2), (290.0, 1)]
    assert plain["M1"] == [(60.0, 4), (90.0, 3), (200.0, 2), (290.0, 1)]
    # the hours of the plan are then those of the comparison
    where = ground().area
    hauled = replace(some, turns=short)
    steps = (*order(where, hauled), WorkStep(1, "carry", minutes=two.carrying_min))
    (haul,) = [k for k in times_of(where, hauled, steps).kinds if k.kind == "haul"]
    assert two.two_stage is not None
    assert (haul.productive_h, haul.low_h, haul.high_h) == pytest.approx(
        (two.two_stage.productive_h, two.two_stage.low_h, two.two_stage.high_h)
    )
    done = replace(some.turns[0], state="done")
    assert shortened((done,), two, some.pieces, some.trails) == (done,)
    none = TwoStage("why")
    assert shortened(some.turns, none, some.pieces, some.trails) == some.turns
    assert lane_traffic(plain, none) == plain


def test_a_station_where_something_starts_already_is_not_cut_twice() -> None:
    two = TwoStage("", "M1", 90.0, turns_through=3, trips=1, lane_m=90.0)
    got = lane_traffic({"M1": [(60.0, 5), (90.0, 4), (200.0, 3)]}, two)
    assert got == {"M1": [(60.0, 3), (90.0, 2), (200.0, 3)]}


def test_own_loads_narrow_what_is_dragged_and_not_the_trailer() -> None:
    where, some = ground(trailer={"at": list(at(200, 180))}), wood()
    known = Calibration(5, 1.0, 1.0, 1.0, 0.12)
    pace = pace_of(where.area.settings)
    got = two_stage_of(where, some, logs(some), pace, known)
    assert got.drag_all is not None and got.two_stage is not None
    assert got.drag_all.high_h / got.drag_all.middle_h == pytest.approx(1.12)
    assert 1.12 < got.two_stage.high_h / got.two_stage.middle_h < 1.35


def test_findings_say_what_came_of_it() -> None:
    where = ground(trailer={"at": list(at(200, 180))})
    (found,) = two_stage_findings(where.area.settings, weigh(where))
    assert (found.code, found.level) == ("trailer_compared", "ok")
    assert "could be used from a small landing on M1 at 490 ft" in found.message
    assert "2 dragged loads end there, 1 trip carries their wood on" in found.message
    assert "unverified" in found.message and not found.confirmed
    used = ground(trailer={"at": list(at(200, 180)), "use": True})
    assert "A trailer is used" in two_stage_findings(used.area.settings, weigh(used))[0].message
    for use, level in ((False, "ok"), (True, "caution")):
        steep = ground(lambda x, y: 300 + 0.15 * y, trailer={"use": use})
        (found,) = two_stage_findings(steep.area.settings, weigh(steep))
        assert (found.code, found.level) == ("trailer_not_possible", level)
        assert ("Loads are dragged all the way." in found.message) is use


PLACES = ground()


@settings(max_examples=10)
@given(st.lists(st.tuples(st.floats(5, 295), st.floats(50, 1200)), min_size=1, max_size=12))
def test_what_holds_of_any_wood(some: list[tuple[float, float]]) -> None:
    loads = {
        f"L{n}": (piece(str(n), at_m=metres, mass_kg=kg),) for n, (metres, kg) in enumerate(some)
    }
    given_job = job(loads, tuple(pull(str(n)) for n in range(len(some))))
    got = weigh(PLACES, given_job)
    if got.why_none:
        assert got.why_none == NEVER
        assert max(metres for metres, _ in some) < 55 + 1e-6
        return
    assert got.at_m is not None and got.at_m >= SHORTEST_LANE_M
    through = [kg for metres, kg in some if metres >= got.at_m - 1e-6]
    assert got.turns_through == len(through)
    assert sum(through) / got.trailer_kg <= got.trips <= len(through)
    assert 0 < got.clean_share <= 1
    assert got.passes_saved == got.turns_through - got.trips >= 0
    assert LANDING.shape.intersection(got.shape).area == 0
    assert line((200, 30), (200, 330)).intersects(got.shape)


def lies(two: TwoStage, *names: str, carried: tuple[str, ...] = ()) -> Earlier:
    """Give an earlier plan whose small landing is that one, and loads of one log each in."""
    assert two.at_m is not None and two.shape is not None
    turns = tuple(
        EarlierTurn(name, "S1", "S1-1", (f"9{name}",), ((f"9{name}", 1),), "done", at_m=40.0,
                    mass_kg=575.0, wood_m3=0.5, ends_at="small landing", carried=name in carried)
        for name in names
    )  # fmt: skip
    place = EarlierPlace(two.trail_id, two.at_m, two.shape)
    return Earlier((), (), turns=turns, small_landing=place)


def with_earlier(where: Ground, earlier: Earlier) -> Ground:
    return replace(where, area=replace(where.area, earlier=earlier))


def test_a_small_landing_in_use_stays_and_what_lies_there_is_carried() -> None:
    free = weigh(ground(trailer={"use": True}))
    fixed = weigh(ground(trailer={"at": list(at(200, 150)), "use": True}))
    assert free.at_m is not None and fixed.at_m is not None
    assert abs(free.at_m - fixed.at_m) > 15  # a plan made afresh would choose another place
    for names in ((), ("D1",), ("D1", "D2", "D3", "D4")):
        where = with_earlier(ground(trailer={"use": True}), lies(fixed, *names))
        got = weigh(where)
        if not names:  # nothing ended there yet: it may move
            assert in_use(where.area) is None and got.at_m == free.at_m
            continue
        assert in_use(where.area) is not None
        assert (got.at_m, got.shape, got.in_use) == (fixed.at_m, fixed.shape, True)
        assert got.loads_in == len(names) and got.chosen
        # each log that lies there is put on and off once more, and driven
        trailer = where.area.settings.trailer
        handled = len(names) * (trailer.load_min + trailer.unload_min)
        trips = (got.trips - fixed.trips) * (
            where.area.settings.work.turn_fixed_min
            + 2 * max(got.turn_at_m or 0.0, got.at_m or 0.0) / trailer.speed_mps / 60
        )
        assert got.carrying_min - fixed.carrying_min == pytest.approx(handled + trips)
        assert got.passes_saved == got.turns_through + len(names) - got.trips
        mass = 575.0 * (3 + len(names))  # three logs come from far
        assert got.trips >= mass / got.trailer_kg - 1e-9
        said = two_stage_findings(where.area.settings, got)
        assert [f.code for f in said] == ["trailer_compared", "trailer_in_use"]
        assert "Trips driven already are not known" in said[1].message


def test_what_lies_there_is_carried_though_no_load_comes_any_more() -> None:
    fixed = weigh(ground(trailer={"at": list(at(200, 150)), "use": True}))
    some = job({"near": (piece("3", at_m=90.0),)}, (pull("3"),), (MAIN, SPUR, NEAR))
    where = with_earlier(ground(trailer={"use": True}), lies(fixed, "D1", "D2"))
    got = weigh(where, some)
    assert (got.why_none, got.trips, got.turns_through, got.loads_in) == ("", 1, 0, 2)
    assert got.carrying_min > 2 * CHANGE_MIN
    # once the trailer has taken them there is nothing to carry, and the place is still known
    taken = with_earlier(
        ground(trailer={"use": True}), lies(fixed, "D1", "D2", carried=("D1", "D2"))
    )
    none = weigh(taken, some)
    assert (none.why_none, none.trips, none.chosen) == (NEVER, 0, False)
    assert (none.at_m, none.shape, none.in_use) == (fixed.at_m, fixed.shape, True)
    one = weigh(with_earlier(where, lies(fixed, "D1", "D2", carried=("D1",))), some)
    assert one.loads_in == 1 and one.carrying_min < got.carrying_min


def test_whole_trees_that_lie_there_are_bucked_before_they_are_carried() -> None:
    rows = [{"tree_id": "9D1", "dbh_cm": 45.0, "height_m": 24.0, "species": "sugar maple"}]
    fixed = weigh(ground(trailer={"at": list(at(200, 150)), "use": True}))
    some = job({"near": (piece("3", at_m=90.0),)}, (pull("3"),), (MAIN, SPUR, NEAR))
    trips = []
    for extract in ("log", "tree"):
        where = with_earlier(
            ground(trailer={"use": True}, work={"extract": extract}), lies(fixed, "D1")
        )
        area = replace(where.area, trees=trees_of(rows))
        trips.append(weigh(replace(where, area=area), some))
    trailer = where.area.settings.trailer
    bucked = len(cut_up(area, sizes_of(area)).pieces)
    assert bucked > 1
    more = trips[1].carrying_min - trips[0].carrying_min
    assert more >= (bucked - 1) * (trailer.load_min + trailer.unload_min) - 1e-9


def test_wood_that_nothing_carries_and_another_place_are_told() -> None:
    fixed = weigh(ground(trailer={"at": list(at(200, 150)), "use": True}))
    idle = with_earlier(ground(trailer={"use": False}), lies(fixed, "D1"))
    said = two_stage_findings(idle.area.settings, weigh(idle))
    assert [(f.code, f.level) for f in said] == [
        ("trailer_compared", "ok"), ("trailer_wood_left", "caution"),
    ]  # fmt: skip
    assert said[1].message.startswith("1 load that is in lies at the small landing on M1")
    # the lane does not suit it any more
    steep = with_earlier(ground(lambda x, y: 300 + 0.35 * y, trailer={"use": True}),
                         lies(fixed, "D1"))  # fmt: skip
    lost = weigh(steep)
    assert lost.why_none and (lost.loads_in, lost.shape) == (1, fixed.shape)
    codes = [(f.code, f.level) for f in two_stage_findings(steep.area.settings, lost)]
    assert codes == [("trailer_not_possible", "caution"), ("trailer_wood_left", "caution")]
    there = with_earlier(ground(trailer={"use": True, "at": list(at(200, 250))}), lies(fixed, "D1"))
    got = weigh(there)
    assert got.at_m == fixed.at_m and got.moved
    assert "trailer_place_kept" in {f.code for f in two_stage_findings(there.area.settings, got)}
    same = weigh(
        with_earlier(ground(trailer={"use": True, "at": list(at(200, 150))}), lies(fixed, "D1"))
    )
    assert not same.moved


def test_the_lane_sees_loads_that_lie_there_as_trips() -> None:
    some = wood()
    two = weigh(ground(trailer={"at": list(at(200, 180)), "use": True}), some)
    plain = traffic(some.trails, some.turns)
    assert lane_traffic(plain, two, two.turns_through) == lane_traffic(plain, two)
    fewer, most = (lane_traffic(plain, two, n)["M1"][0][1] for n in (2, 0))
    assert most - fewer == 2
