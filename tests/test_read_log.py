"""The user's own timed loads: read in full, and what they make of the model.

Logs are simulated with a factor that is known, so that what comes back can be held
against it; the interval is that of a ratio of sums with Student's t.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import settings_of
from scipy.stats import t

from layout.calibration import Calibration, Usual, calibrate
from layout.cycle_model import pace_of
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.read_log import read_log
from layout.work_records import LoggedLoad

PACE = pace_of(settings_of())
USUAL = Usual(rope_m=25.0, pulls=1.5, pieces=2.5)


def read(folder: Path, *lines: str) -> tuple[tuple[LoggedLoad, ...], tuple[Finding, ...]]:
    path = folder / "log.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_log(path, "area.toml [work] log:")


def faults(folder: Path, *lines: str) -> tuple[str, ...]:
    with pytest.raises(InputFaults) as told:
        read(folder, *lines)
    return told.value.faults


def test_a_log_in_feet_and_one_in_metres_say_the_same(tmp_path: Path) -> None:
    us, found = read(
        tmp_path,
        "date,minutes,distance_ft,rope_ft,pulls,pieces,volume_ft3,note",
        "2026-10-02,25,500,80,2,3,40,wet",
        "2026-10-02,18.5,300,,,,,",
    )
    assert found == ()
    first, second = us
    assert (first.line, first.minutes, first.pulls, first.pieces) == (2, 25, 2, 3)
    assert first.distance_m == pytest.approx(152.4)
    assert first.rope_m == pytest.approx(24.384)
    assert first.volume_m3 == pytest.approx(1.132674)
    assert second == LoggedLoad(3, 18.5, pytest.approx(91.44))  # type: ignore[arg-type]
    metric, _ = read(tmp_path, "minutes;distance_m;rope_m", "25;152,4;24,384")
    assert metric[0].distance_m == pytest.approx(first.distance_m)
    assert metric[0].rope_m == pytest.approx(first.rope_m)


def test_headings_alone_are_a_log_without_a_load_yet(tmp_path: Path) -> None:
    assert read(tmp_path, "minutes,distance_ft") == ((), ())


def test_all_faults_of_a_log_at_once_with_their_lines(tmp_path: Path) -> None:
    told = faults(
        tmp_path,
        "minutes,distance_ft,distance_m,pulls,pieces,volume",
        "ten,500,,2,3,1",
        "25,,,2,3,1",
        ",500,,2,3,1",
        "25,500,100,2,3,1",
        "2500,500,,2,0,1",
        "25,-4,,x,3,1",
    )
    joined = "\n".join(told)
    for words in (
        "log.csv has a column volume without its unit; name it volume_ft3 or volume_m3",
        "log.csv line 2: minutes 'ten' is no number",
        "log.csv line 3: distance_m or distance_ft is blank",
        "log.csv line 4: minutes is blank",
        "log.csv line 5: distance_m and distance_ft disagree; keep one of them",
        "log.csv line 6: minutes 2500 is outside 0.5 to 600",
        "log.csv line 6: pieces 0 is outside 1 to 50",
        "log.csv line 7: distance_ft -4 is outside 0 to 16000",
        "log.csv line 7: pulls 'x' is no number",
    ):
        assert words in joined, (words, joined)
    assert len(told) == 9


def test_missing_columns_are_told_together(tmp_path: Path) -> None:
    told = faults(tmp_path, "time,way", "25,500")
    assert told == (
        "log.csv has no column minutes; each load needs its time",
        "log.csv has neither distance_ft nor distance_m; each load needs its way",
    )
    bare = faults(tmp_path, "minutes,distance", "25,500")
    assert bare == (
        "log.csv has a column distance without its unit; name it distance_ft or distance_m",
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["", ""], "log.csv is empty; write a first line of column names, then a load a line"),
        (["12,500", "25,300"], "the first line holds numbers, not column names"),
        (["minutes", "25"], "has one column only"),
        ([",", ","], "log.csv holds column names and no load"),
    ],
)
def test_what_is_no_log_is_refused(tmp_path: Path, lines: list[str], words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(tmp_path, *lines)


def log_of(
    count: int,
    rng: np.random.Generator,
    *,
    travel: float = 1.0,
    rest: float = 1.0,
    noise: float = 0.0,
    far_m: float = 400.0,
) -> tuple[LoggedLoad, ...]:
    """Time loads of a crew whose factors are known, each off by its own noise."""
    out = []
    for n in range(count):
        metres, rope = rng.uniform(20, far_m), rng.uniform(5, 40)
        pulls, pieces = int(rng.integers(1, 4)), int(rng.integers(1, 5))
        minutes = travel * PACE.drive(metres) + rest * PACE.standing(rope, pulls, pieces)
        minutes *= rng.lognormal(-0.5 * noise**2, noise)
        out.append(LoggedLoad(n + 2, minutes, metres, rope, pulls, pieces))
    return tuple(out)


@given(st.floats(0.3, 4.0), st.integers(3, 11), st.integers(0, 1000))
def test_a_log_without_noise_gives_its_factor_back(factor: float, count: int, seed: int) -> None:
    loads = log_of(count, np.random.default_rng(seed), travel=factor, rest=factor)
    got = calibrate(loads, PACE, USUAL)
    assert got.loads == count
    assert got.factor == pytest.approx(factor)
    assert got.travel == got.rest == got.factor
    assert got.range_share == pytest.approx(0.10)  # never narrower
    assert got.on(PACE).drive(100) == pytest.approx(factor * PACE.drive(100))


def test_nine_ranges_in_ten_hold_the_known_factor() -> None:
    rng = np.random.default_rng(11)
    for count in (3, 8, 20):
        got = [calibrate(log_of(count, rng, travel=1.4, rest=1.4, noise=0.3), PACE, USUAL)
               for _ in range(400)]  # fmt: skip
        factors = np.array([g.factor for g in got])
        assert np.mean(factors) == pytest.approx(1.4, rel=0.03), count
        inside = [abs(1.4 / g.factor - 1) <= (g.range_share or 0) for g in got]
        assert np.mean(inside) >= 0.87, count


def test_the_range_by_hand() -> None:
    # three like loads that took 20, 25 and 30 minutes
    loads = tuple(
        LoggedLoad(n, minutes, 100, 20, 1, 1) for n, minutes in ((2, 20), (3, 25), (4, 30))
    )
    got = calibrate(loads, PACE, USUAL)
    model = PACE.whole(100, 20, 1, 1)
    assert got.factor == pytest.approx(25 / model)
    assert got.range_share == pytest.approx(t.ppf(0.95, 2) * 5 / np.sqrt(3) / 25)


def test_a_wider_spread_gives_a_wider_range() -> None:
    shares = []
    for apart in (1, 3, 6, 9):
        minutes = (25 - apart, 25, 25 + apart)
        got = calibrate([LoggedLoad(2, m, 100, 20, 1, 1) for m in minutes], PACE, USUAL)
        shares.append(got.range_share)
    assert shares[0] == pytest.approx(0.10)
    assert shares[0] < shares[1] < shares[2] < shares[3] <= 0.80


def test_a_load_that_hung_up_counts_and_a_slip_of_the_pen_does_not() -> None:
    plain = [LoggedLoad(n + 2, 20.0, 100, 20, 1, 1) for n in range(5)]
    hung = calibrate([*plain, LoggedLoad(7, 50.0, 100, 20, 1, 1)], PACE, USUAL)
    assert hung.left_out == () and hung.loads == 6
    assert hung.factor == pytest.approx(150 / 6 / PACE.whole(100, 20, 1, 1))
    slip = calibrate([*plain, LoggedLoad(7, 200.0, 100, 20, 1, 1)], PACE, USUAL)
    assert slip.left_out == (7,) and slip.loads == 5
    assert slip.factor == pytest.approx(20 / PACE.whole(100, 20, 1, 1))


def test_too_few_loads_change_nothing() -> None:
    for count in range(3):
        got = calibrate(log_of(count, np.random.default_rng(1), rest=2.0), PACE, USUAL)
        assert (got.loads, got.factor, got.range_share) == (0, 1.0, None)
        assert got.on(PACE) == PACE
    assert calibrate((), PACE, USUAL) == Calibration(0)


def test_blanks_are_taken_from_the_plan_and_said() -> None:
    minutes = 1.3 * PACE.whole(200, USUAL.rope_m, USUAL.pulls, USUAL.pieces)
    got = calibrate([LoggedLoad(n, minutes, 200) for n in (2, 3, 4)], PACE, USUAL)
    assert got.factor == pytest.approx(1.3)
    assert got.filled == ("rope", "pulls", "pieces")
    whole = [LoggedLoad(n, minutes, 200, 25, 1, 2) for n in (2, 3, 4)]
    assert calibrate(whole, PACE, USUAL).filled == ()


def test_two_factors_where_loads_left_out_are_foretold_better_so() -> None:
    rng = np.random.default_rng(3)
    loads = log_of(30, rng, travel=0.5, rest=1.6, noise=0.08, far_m=900)
    got = calibrate(loads, PACE, USUAL)
    assert got.two_factors
    assert got.travel == pytest.approx(0.5, rel=0.12)
    assert got.rest == pytest.approx(1.6, rel=0.12)
    # what all of them took together is kept
    pace = got.on(PACE)
    foretold = sum(pace.whole(x.distance_m, x.rope_m or 0, x.pulls or 0, x.pieces or 0)
                   for x in loads)  # fmt: skip
    assert foretold == pytest.approx(sum(x.minutes for x in loads))
    # and loads it has not seen are foretold better than by one factor
    fresh = log_of(40, rng, travel=0.5, rest=1.6, noise=0.08, far_m=900)
    one = Calibration(30, got.factor, got.factor, got.factor).on(PACE)
    misses = {
        name: np.sqrt(np.mean([
            (p.whole(x.distance_m, x.rope_m or 0, x.pulls or 0, x.pieces or 0) / x.minutes - 1) ** 2
            for x in fresh
        ]))
        for name, p in (("two", pace), ("one", one))
    }  # fmt: skip
    assert misses["two"] < 0.7 * misses["one"]


def test_one_factor_where_one_is_the_truth() -> None:
    rng = np.random.default_rng(4)
    got = [calibrate(log_of(20, rng, travel=1.2, rest=1.2, noise=0.25), PACE, USUAL)
           for _ in range(200)]  # fmt: skip
    assert sum(g.two_factors for g in got) <= 10
    eleven = log_of(11, np.random.default_rng(5), travel=0.4, rest=2.0, far_m=900)
    assert not calibrate(eleven, PACE, USUAL).two_factors


def test_loads_from_one_distance_cannot_tell_driving_from_the_rest() -> None:
    loads = [LoggedLoad(n, 20.0 + n % 3, 100, 20, 1, 1) for n in range(2, 20)]
    got = calibrate(loads, PACE, USUAL)
    assert not got.two_factors and got.loads == 18
