"""Minutes and hours against hand sums, and against published times.

Zecic, Porsinsky & Susnjar 2004, Sumarski list 128:381-389, summary: standard time of
skidding 25.06, 28.91 and 32.75 min/m3 at 150, 400 and 650 m; felling and processing 3.69
min a tree, 12.30 min/m3, effective, and 17.86 min/m3 standard; trees of 0.30 m3.
Ghaffariyan 2022, Silva Balcanica 23(1):21-36: 1.2 to 15.8 m3 a productive hour.
Wang et al. 2004: felling 362 ft3 and 2.23 MBF, skidding 289 ft3 and 1.78 MBF an hour.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import area_of, main_trail, settings_of, terrain_of
from made_job import MAIN, SPUR, job, order, piece, pull, turn

from layout.cycle_model import (
    CLEAR_MIN_PER_100M,
    FELL_LEAST_MIN,
    LANDING_MIN,
    Pace,
    drive_minutes,
    pace_of,
    rope_minutes,
)
from layout.cycle_times import (
    BAND_M3_PER_H,
    KINDS,
    Job,
    fell_minutes,
    mean_distance_m,
    published_min_per_m3,
    pull_minutes,
    time_findings,
    times_of,
    turn_minutes,
)
from layout.site import Area
from layout.work_records import LoggedLoad, Times, WorkStep

LEVEL = terrain_of(lambda x, y: 300 + 0 * x)
TREE = settings_of(work={"extract": "tree"})
LOG = settings_of()  # stems are winched, logs are hauled
SHORT = settings_of(winch={"winch_form": "log"})


def timed(area: Area, some: Job) -> Times:
    """Give the times of a job in a plain order."""
    return times_of(area, some, order(area, some))


def kind(times: Times, name: str) -> float:
    """Give the productive minutes of a kind."""
    return next(60 * k.productive_h for k in times.kinds if k.kind == name)


def test_the_published_line_meets_all_three_printed_times() -> None:
    for metres, printed in ((150, 25.06), (400, 28.91), (650, 32.75)):
        assert published_min_per_m3(metres) == pytest.approx(printed, abs=0.011)
    assert published_min_per_m3(149.9) is None
    assert published_min_per_m3(650.1) is None


def test_wang_saw_and_skidder_agree_on_a_thousand_board_feet() -> None:
    felled, skidded = 362 / 2.23, 289 / 1.78
    assert felled == pytest.approx(162.3, abs=0.05)
    assert skidded == pytest.approx(162.4, abs=0.05)
    # what both say lies inside the band the hours are held against
    low, high = BAND_M3_PER_H
    assert low < 289 * 0.0283168 < high


def test_driving_by_hand() -> None:
    # 100 m at 4.5 km/h is 80 s, at 3 km/h 120 s
    assert drive_minutes(LOG.work, 100) == pytest.approx(200 / 60)


def test_one_winching_by_hand() -> None:
    # 30 m out at 40 m/min, in at 30 m/min, half a minute of reset
    assert rope_minutes(LOG.work, 30) == pytest.approx(0.75 + 1.0 + 0.5)
    assert rope_minutes(LOG.work, 30, 0.2) == pytest.approx(0.75 * 1.4 + 1.0 + 0.5)
    assert rope_minutes(LOG.work, 30, -0.2) == rope_minutes(LOG.work, 30)


def test_a_whole_load_of_the_reference_model_by_hand() -> None:
    # fixed 2, 250 m out and back, two winchings of 20 m, three pieces hooked once
    pace = pace_of(TREE)
    by_hand = 2 + 0.06 * 250 * (1 / 4.5 + 1 / 3) + 2 * (20 / 40 + 20 / 30 + 0.5) + 3 * 1.5
    assert pace.whole(250, 20, 2, 3) == pytest.approx(by_hand)
    # stems winched whole and bucked beside the trail are hooked for the pull as well
    assert pace_of(LOG).whole(250, 20, 2, 3) == pytest.approx(by_hand + 2 * 1.5)
    assert pace_of(SHORT).whole(250, 20, 2, 3) == pytest.approx(by_hand)


def test_winching_and_hauling_add_up_to_the_whole_load() -> None:
    some = (piece("1", kind="tree"), piece("2", kind="tree"))
    pace, load = pace_of(TREE), turn("L1", *some)
    parts = turn_minutes(pace, load) + sum(pull_minutes(pace, pull(t)) for t in ("1", "2"))
    assert parts == pytest.approx(pace.whole(100, 30, 2, 2))


def test_stems_bucked_beside_the_trail_are_hooked_twice() -> None:
    load = turn("L1", piece("1"), piece("1", 2))
    once, twice = pace_of(TREE), pace_of(LOG)
    more = turn_minutes(twice, load) - turn_minutes(once, load)
    assert more == pytest.approx(2 * 1.0)  # two logs hooked anew
    assert pull_minutes(twice, pull("1")) - pull_minutes(once, pull("1")) == pytest.approx(0.5)
    # logs bucked at the stump stay hooked till the landing
    stump = pace_of(SHORT)
    assert turn_minutes(stump, load) == pytest.approx(turn_minutes(once, load))


def test_logs_winched_share_the_chokers() -> None:
    pace = pace_of(SHORT)  # three chokers
    one, four = pull_minutes(pace, pull("1"), 1), pull_minutes(pace, pull("1"), 4)
    assert one == pytest.approx(2.25 + 1)
    assert four == pytest.approx(2 * 2.25 + 4)


def test_a_stem_cut_for_the_winch_is_pulled_piece_by_piece() -> None:
    pace = pace_of(TREE)
    assert pull_minutes(pace, pull("1", pieces=2)) == pytest.approx(
        2 * pull_minutes(pace, pull("1"))
    )


def test_rope_is_slower_uphill_only() -> None:
    pace = pace_of(TREE)
    up, down = pull("1", rise_m=6.0), pull("1", rise_m=-6.0)
    assert pull_minutes(pace, up) - pull_minutes(pace, pull("1")) == pytest.approx(0.75 * 0.4)
    assert pull_minutes(pace, down) == pull_minutes(pace, pull("1"))


def test_a_load_from_two_positions_stops_twice() -> None:
    pace = pace_of(TREE)
    here = piece("1", position_id="M1-1")
    two = turn("L1", here, piece("2", position_id="M1-2"))
    one = turn("L1", here, piece("2", position_id="M1-1"))
    assert turn_minutes(pace, two) - turn_minutes(pace, one) == pytest.approx(0.5)


def test_a_stem_out_of_the_trail_is_hooked_where_it_lies() -> None:
    pace = pace_of(TREE)
    out = turn("L1", piece("1", stage="open", position_id=""))
    winched = turn("L1", piece("1"))
    assert turn_minutes(pace, out) - turn_minutes(pace, winched) == pytest.approx(1.0)


def test_what_is_winched_onto_the_landing_is_not_driven() -> None:
    there = turn("L1", piece("1", trail_id="", at_m=0.0, travel_m=0.0))
    assert turn_minutes(pace_of(TREE), there) == pytest.approx(0.5)
    assert turn_minutes(pace_of(LOG), there) == 0


def test_felling_with_its_pauses_is_the_published_standard_time() -> None:
    pace = pace_of(LOG)
    whole = pace.fell(0.30) / LOG.work.utilisation  # pauses put back on
    assert whole / 0.30 == pytest.approx(17.86, abs=0.05)
    # and without them close to what the same trees took without
    assert pace.fell(0.30) / 0.30 == pytest.approx(12.30, rel=0.03)


def test_no_tree_takes_less_than_the_least() -> None:
    pace = pace_of(LOG)
    assert pace.fell(0.01) == pace.fell(0) == pace.fell(float("nan")) == FELL_LEAST_MIN
    assert fell_minutes(pace, ()) == FELL_LEAST_MIN
    assert fell_minutes(pace, (piece("1"), piece("1", 2))) == pytest.approx(17.9 * 0.7)


def test_hours_of_a_whole_job_by_hand() -> None:
    area = area_of(LEVEL, LOG)
    loads = {
        "LD1": (piece("9", stage="open", position_id="", at_m=50.0),),
        "LD2": (piece("1"), piece("1", 2, kind="pulp", wood_m3=0.1)),
        "LD3": (piece("2", trail_id="S1", at_m=40.0, travel_m=240.0, position_id="S1-1"),),
    }
    pulls = (pull("1"), pull("2", 20.0, position_id="S1-1"))
    given = job(loads, pulls, (MAIN, SPUR))
    times = timed(area, given)
    assert tuple(k.kind for k in times.kinds) == KINDS
    metres = 300 + SPUR.line.length
    walked = 2 * metres / (2 / 3.6) / 60 + CLEAR_MIN_PER_100M * metres / 100
    fell = 17.9 * 0.7
    assert kind(times, "open") == pytest.approx(fell * 0.5 + walked)
    assert kind(times, "fell") == pytest.approx(fell * (0.6 + 0.5))
    rope = (0.75 + 1 + 0.5) + (0.5 + 20 / 30 + 0.5)
    assert kind(times, "winch") == pytest.approx(rope + 2 * 1.5)
    assert kind(times, "haul") == pytest.approx((50 + 100 + 240) / 30 + 3 * 2 + 4 * 1.5)
    assert kind(times, "close") == pytest.approx(15 * metres / 100 + LANDING_MIN)
    total = sum(kind(times, k) for k in KINDS)
    assert 60 * times.total.productive_h == pytest.approx(total)
    assert times.total.low_h == pytest.approx(total / 60 / 0.7 * 0.65)
    assert times.total.high_h == pytest.approx(total / 60 / 0.7 * 1.35)
    assert times.days_low == pytest.approx(times.total.low_h / 6)
    assert times.m3_per_hour == pytest.approx(
        1.6 / (kind(times, "winch") + kind(times, "haul")) * 60
    )
    assert times.ours_min_per_m3 == pytest.approx(60 / times.m3_per_hour / 0.7)
    mean = (0.5 * 50 + 0.6 * 100 + 0.5 * 240) / 1.6
    assert mean_distance_m(given) == pytest.approx(mean)
    assert mean < 150 and times.published_min_per_m3 is None


def test_the_published_line_stands_beside_ours_inside_its_range() -> None:
    area = area_of(LEVEL, TREE)
    far = job({"LD1": (piece("1", at_m=290.0),)}, (pull("1"),))
    times = timed(area, far)
    assert times.published_min_per_m3 == pytest.approx(22.75 + 0.01538 * 290)
    # the same loads of 1.1 m3 from 400 m cost within a third of what was published
    pieces = tuple(piece(str(n), kind="tree", at_m=400.0, wood_m3=1.12 / 4) for n in range(4))
    ours = timed(area, job({"LD1": pieces}, tuple(pull(str(n)) for n in range(4))))
    assert ours.ours_min_per_m3 is not None and ours.published_min_per_m3 is not None
    assert ours.ours_min_per_m3 == pytest.approx(ours.published_min_per_m3, rel=0.35)


def test_what_is_done_takes_no_time() -> None:
    area = area_of(LEVEL, LOG)
    pieces = (piece("1"), piece("2"))
    pulls = (pull("1"), pull("2"))
    done = turn("LD1", pieces[0], state="done")
    given = Job((MAIN,), pulls, pieces, (done, turn("LD2", pieces[1])))
    alone = Job((MAIN,), pulls[1:], pieces[1:], (turn("LD2", pieces[1]),))
    assert timed(area, given) == timed(area, alone)
    # a step that is done counts none, whatever stands in it
    steps = order(area, alone)
    ticked = tuple(replace(step, done=step.kind in ("flag", "open")) for step in steps)
    times = times_of(area, alone, ticked)
    assert kind(times, "open") == 0
    assert times.total.productive_h < times_of(area, alone, steps).total.productive_h


def test_a_trail_that_is_there_is_walked_and_not_cleared() -> None:
    area, old = area_of(LEVEL, LOG), main_trail((200, 20), (200, 320), source="fixed")
    new, there = (
        kind(timed(area, job({"LD1": (piece("1"),)}, (pull("1"),), (t,))), "open")
        for t in (MAIN, old)
    )
    assert new - there == pytest.approx(CLEAR_MIN_PER_100M * 3)


def test_the_hours_are_the_sum_of_the_steps_whatever_is_in_them() -> None:
    area = area_of(LEVEL, LOG)
    given = job(
        {
            "LD1": (piece("1", stage="open", position_id=""),),
            "LD2": (piece("2"),),
            "LD3": (piece("3", stage="rub"), piece("4", stage="rub")),
        },
        (pull("2"), pull("3", 20.0), pull("4", 25.0)),
    )
    more = (
        WorkStep(1, "small_open", "M1", minutes=7.0),
        WorkStep(1, "carry", "M1", minutes=31.0),
        WorkStep(1, "small_close", "M1", minutes=11.0),
        WorkStep(1, "fell", tree_ids=("5",), minutes=13.0),  # a hazard tree no load takes
    )
    steps = order(area, given)
    plain, times = times_of(area, given, steps), times_of(area, given, (*steps, *more))
    for name, gain in zip(KINDS, (7, 13, 0, 31, 11), strict=True):
        assert kind(times, name) - kind(plain, name) == pytest.approx(gain), name
    assert 60 * times.total.productive_h == pytest.approx(
        sum(step.minutes for step in (*steps, *more))
    )
    # a rub tree is felled, winched and hauled in one step, each counted as what it is
    pace = pace_of(LOG)
    assert kind(plain, "haul") == pytest.approx(sum(turn_minutes(pace, t) for t in given.turns))
    assert kind(plain, "winch") == pytest.approx(sum(pull_minutes(pace, p) for p in given.pulls))
    assert kind(plain, "fell") == pytest.approx(3 * fell_minutes(pace, given.pieces[:1]))


def test_without_a_step_there_are_no_hours() -> None:
    times = times_of(area_of(LEVEL, LOG), job({}), ())
    assert times.total.high_h == 0 and all(k.high_h == 0 for k in times.kinds)


def test_nothing_to_haul_gives_no_rate() -> None:
    times = timed(area_of(LEVEL, LOG), job({}))
    assert times.m3_per_hour is None and times.in_band is None and times.ours_min_per_m3 is None
    assert kind(times, "haul") == kind(times, "winch") == 0


def test_rates_outside_the_studies_are_a_caution() -> None:
    area = area_of(LEVEL, TREE)
    rates = {}
    for wood in (0.05, 0.5, 15.0):
        given = job({"LD1": (piece("1", at_m=300.0, wood_m3=wood),)}, (pull("1"),))
        times = timed(area, given)
        rates[wood] = times.m3_per_hour
        found = time_findings(area, given, times)
        inside = wood == 0.5
        assert times.in_band is inside
        assert [(f.code, f.level) for f in found] == ([] if inside else [("work_rate", "caution")])
    assert rates[0.05] < 1.2 < rates[0.5] < 15.8 < rates[15.0]


def test_the_band_ends_belong_to_it() -> None:
    area = area_of(LEVEL, TREE)
    base = job({"LD1": (piece("1", wood_m3=1.0),)}, (pull("1"),))
    per_m3 = timed(area, base).m3_per_hour
    assert per_m3 is not None
    for edge, inside, outside in ((1.2, 1.0, 0.999), (15.8, 1.0, 1.001)):
        for share, want in ((inside, True), (outside, False)):
            wood = edge / per_m3 * share
            got = timed(area, job({"LD1": (piece("1", wood_m3=wood),)}, (pull("1"),)))
            assert got.in_band is want, (edge, share)


def logged(count: int, factor: float, pace: Pace) -> tuple[LoggedLoad, ...]:
    """Time loads that took a factor of the model's minutes."""
    return tuple(
        LoggedLoad(n + 2, factor * pace.whole(50.0 * (n + 1), 25, 1, 2), 50.0 * (n + 1), 25, 1, 2)
        for n in range(count)
    )


def test_own_loads_correct_winching_and_hauling_only() -> None:
    area = area_of(LEVEL, settings_of(work={"log": "log.csv"}))
    given = job({"LD1": (piece("1"),), "LD2": (piece("2"),)}, (pull("1"), pull("2")))
    plain = timed(area, given)
    own = replace(area, log=logged(4, 1.5, pace_of(area.settings)))
    times = timed(own, given)
    assert times.logged_loads == 4 and times.logged_factor == pytest.approx(1.5)
    for name in ("winch", "haul"):
        assert kind(times, name) == pytest.approx(1.5 * kind(plain, name))
        one = next(k for k in times.kinds if k.kind == name)
        assert one.high_h / one.middle_h == pytest.approx(1.1)  # never narrower than 10 %
    for name in ("open", "fell", "close"):
        assert kind(times, name) == kind(plain, name)
        one = next(k for k in times.kinds if k.kind == name)
        assert one.high_h / one.middle_h == pytest.approx(1.35)
    assert [f.code for f in time_findings(own, given, times)] == ["work_log_used"]


def test_too_few_loads_leave_the_settings_as_they_are() -> None:
    area = area_of(LEVEL, settings_of(work={"log": "log.csv"}))
    given = job({"LD1": (piece("1"),)}, (pull("1"),))
    for count in (0, 2):
        own = replace(area, log=logged(count, 1.5, pace_of(area.settings)))
        times = timed(own, given)
        assert times == timed(area, given)
        (found,) = time_findings(own, given, times)
        assert (found.code, found.level, found.value) == ("work_log_few", "unknown", count)


@given(
    st.floats(0, 600), st.floats(0.1, 60), st.integers(1, 5), st.integers(1, 4), st.floats(0, 15)
)
def test_farther_longer_steeper_and_more_never_take_less(
    travel: float, rope: float, pieces: int, stops: int, rise: float
) -> None:
    pace = pace_of(LOG)
    assert pace.load(travel + 1, pieces, stops=stops) > pace.load(travel, pieces, stops=stops)
    assert pace.load(travel, pieces + 1) > pace.load(travel, pieces)
    assert pace.pull(rope + 1, run_m=rope) > pace.pull(rope, run_m=rope)
    assert pace.pull(rope, rise_m=rise, run_m=rope) >= pace.pull(rope, run_m=rope)
    assert pace.fell(rope) >= FELL_LEAST_MIN
