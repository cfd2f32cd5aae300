"""The definition of a run, against a slow one written straight from the words."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.runs import edges, over, pitch_faults, runs

Faults = set[tuple[str, int, int]]


def by_the_words(grades: list[float], sustained: float, short: float, pitch: float) -> Faults:
    """Walk the stations one by one, each standing for the metre around it."""
    n = len(grades)
    size = [0.5 if i in (0, n - 1) and n > 1 else 1.0 for i in range(n)]
    if n == 1:
        size = [0.0]
    found: Faults = set()
    i = 0
    last_end: int | None = None
    while i < n:
        if not grades[i] > sustained + 1e-6:
            i += 1
            continue
        j = i
        while j + 1 < n and grades[j + 1] > sustained + 1e-6:
            j += 1
        if max(grades[i : j + 1]) > short + 1e-6:
            found.add(("steep", i, j))
        if sum(size[i : j + 1]) > pitch + 1e-6:
            found.add(("long", i, j))
        if last_end is not None:
            rest = sum(size[k] for k in range(last_end + 1, i) if grades[k] <= sustained + 1e-6)
            if rest < pitch - 1e-6:
                found.add(("soon", i, j))
        last_end = j
        i = j + 1
    return found


grade = st.one_of(
    st.floats(-30, 30), st.sampled_from([0.0, 15.0, 20.0, 20.0 + 5e-7, 20.1, 25.0, 26.0, np.nan])
)


@given(st.lists(grade, min_size=1, max_size=60), st.sampled_from([3.0, 5.5, 10.0]))
def test_faults_are_those_of_the_words(grades: list[float], pitch: float) -> None:
    at = np.arange(len(grades), dtype=float)
    ours = {
        (f.kind, f.run.first, f.run.last)
        for f in pitch_faults(
            at, np.array(grades), sustained_pct=20, short_pct=25, short_pitch_m=pitch
        )
    }
    assert ours == by_the_words(grades, 20, 25, pitch)


def steep(*stretches: tuple[int, float], easy: float = 10.0) -> np.ndarray:
    """Join stretches of (stations, grade) between easy ends."""
    parts = [np.full(50, easy)]
    for count, value in stretches:
        parts.append(np.full(count, value))
    return np.concatenate([*parts, np.full(50, easy)])


def judged(size: np.ndarray, pitch: float = 30.0) -> list[tuple[str, float]]:
    at = np.arange(size.size, dtype=float)
    found = pitch_faults(at, size, sustained_pct=20, short_pct=25, short_pitch_m=pitch)
    return [(f.kind, f.value) for f in found]


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        (steep((30, 25.0)), []),  # exactly a short pitch, exactly the short limit
        (steep((31, 25.0)), [("long", 31.0)]),
        (steep((5, 25.001)), [("steep", 25.001)]),
        (steep((5, 25.0 + 1e-7)), []),  # the noise of a computed grade
        (steep((80, 20.0)), []),  # the sustained limit itself may go on
        (steep((30, 22.0), (30, 20.0), (30, 22.0)), []),  # exactly enough rest
        (steep((30, 22.0), (29, 20.0), (30, 22.0)), [("soon", 29.0)]),
    ],
)
def test_short_pitches_exactly_at_the_limits(
    size: np.ndarray, expected: list[tuple[str, float]]
) -> None:
    assert judged(size) == [(kind, pytest.approx(value)) for kind, value in expected]


def test_ground_not_known_is_no_rest() -> None:
    size = steep((5, 22.0), (40, np.nan), (5, 22.0))
    assert judged(size) == [("soon", 0.0)]


def test_a_pitch_at_the_end_of_the_trail_needs_no_rest_after_it() -> None:
    size = np.concatenate([np.full(40, 10.0), np.full(20, 24.0)])
    assert judged(size) == []


def test_stations_stand_for_the_ground_halfway_to_their_neighbours() -> None:
    at = np.array([0.0, 1.0, 2.0, 2.4])
    assert edges(at).tolist() == [0.0, 0.5, 1.5, 2.2, 2.4]
    only = runs(np.array([False, True, True, False]), at)
    assert [(r.first, r.last, r.from_m, r.to_m) for r in only] == [(1, 2, 0.5, 2.2)]


def test_no_stations_no_runs() -> None:
    assert runs(np.zeros(0, dtype=bool), np.zeros(0)) == ()
    assert over(np.array([np.nan, 21.0]), 20.0).tolist() == [False, True]
