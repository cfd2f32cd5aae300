"""Numbers of plans made on the map are kept between runs, and are of the drawing as it is."""

import json
import os
import stat
from pathlib import Path

import pytest

import layout
from layout.drawing import compared, planned_numbers
from layout.drawing.judge import Judged
from layout.drawing.own_state import place_of
from layout.drawing.planned_numbers import MOST, Planned, PlannedNumbers

FILES = {"/area/dem.tif": (1, 2), "/area/area.toml": (3, 4)}
LINES = {"us": [["served", "12 of 14"], ["main", "806 ft"]],
         "metric": [["served", "12 of 14"], ["main", "246 m"]]}  # fmt: skip


def test_what_was_planned_is_there_after_a_restart(tmp_path: Path) -> None:
    state = tmp_path / "state"
    first = PlannedNumbers(tmp_path, FILES, state)
    assert first.get("a") is None
    first.keep("a", LINES)
    again = PlannedNumbers(tmp_path, dict(FILES), state).get("a")
    assert again is not None and again == first.get("a") and again.lines == LINES
    place = place_of(planned_numbers.KIND, tmp_path, state)
    assert list(state.iterdir()) == [place]
    if os.name == "posix":
        assert stat.S_IMODE(place.stat().st_mode) == 0o600
    # of another area, of changed files, of another release: nothing
    assert PlannedNumbers(tmp_path / "other", FILES, state).get("a") is None
    changed = FILES | {"/area/dem.tif": (9, 2)}
    assert PlannedNumbers(tmp_path, changed, state).get("a") is None
    assert PlannedNumbers(tmp_path, FILES).get("a") is None


def test_numbers_of_another_release_are_not_taken_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    PlannedNumbers(tmp_path, FILES, tmp_path).keep("a", LINES)
    assert PlannedNumbers(tmp_path, FILES, tmp_path).get("a") is not None
    monkeypatch.setattr(layout, "__version__", "999")
    assert PlannedNumbers(tmp_path, FILES, tmp_path).get("a") is None


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"of": 1}', '{"of": "OF", "plans": [1]}',
             '{"of": "OF", "plans": {"a": 7}}',
             '{"of": "OF", "plans": {"a": ["x", {"us": [[1]]}]}}',
             '{"of": "OF", "plans": {"a": ["x", ["us"]]}}'],
)  # fmt: skip
def test_a_file_that_is_none_of_ours_is_no_matter(tmp_path: Path, text: str) -> None:
    PlannedNumbers(tmp_path, FILES, tmp_path).keep("a", LINES)
    place = place_of(planned_numbers.KIND, tmp_path, tmp_path)
    of = json.loads(place.read_text(encoding="utf-8"))["of"]
    place.write_text(text.replace("OF", of), encoding="utf-8")
    held = PlannedNumbers(tmp_path, FILES, tmp_path)
    assert held.get("a") is None
    held.keep("b", LINES)
    assert PlannedNumbers(tmp_path, FILES, tmp_path).get("b") is not None


def test_the_oldest_are_forgotten_and_a_state_that_cannot_be_written_is_no_matter(
    tmp_path: Path,
) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    held = PlannedNumbers(tmp_path, FILES, tmp_path / "file")  # a file where a folder is wanted
    for n in range(MOST + 5):
        held.keep(str(n), LINES)
    assert [held.get(str(n)) is not None for n in (0, 4, 5, MOST + 4)] == [False, False, True, True]


def test_the_table_says_when_and_what_was_not_planned() -> None:
    numbers = {"trail_m": 100.0, "soil_pct": 2.0, "trees_in_reach": 3, "marked": 4}
    one = Judged((), (), {"numbers": numbers})
    told = compared.table(["a", "b"], [one, one], [Planned("27 Nov 2026 09:00", LINES), None], "us")
    rows = {row[0]: row[1:] for row in told["rows"]}
    assert rows["Planned: main"] == ["806 ft", "not planned as it is"]
    assert rows["Planned"] == ["27 Nov 2026 09:00", "open it and plan"]
    told = compared.table(["a"], [one], [Planned("then", LINES)], "metric")
    assert ["Planned: main", "246 m"] in told["rows"]
