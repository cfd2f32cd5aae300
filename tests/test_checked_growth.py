"""Growing and checking in turn: which of the plans made on the way is given."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from layout import checked_growth
from layout.checked_growth import MOST_REPAIRS, Growth


class Made:
    """Stands in for growing, joining, checking and mending: each network is its number."""

    def __init__(self, stopped: set[int], gain: float = 1.0) -> None:
        self.stopped, self.gain, self.count = stopped, gain, 0
        self.log: list[str] = []

    def network(self, how: str) -> Any:
        self.count += 1
        self.log.append(how)
        choice = SimpleNamespace(objective=100.0 - (self.gain if how == "join" else 0.0))
        return SimpleNamespace(branches=(0, 1, 2), number=self.count, choice=choice)

    def grow(self, *_: Any, **__: Any) -> Any:
        return self.network("grow")

    def joined(self, _: Any, grown: Any, *__: Any, **___: Any) -> Any:
        return self.network("join") if self.gain else grown

    def mended(self, *given: Any) -> list[int]:
        grown = given[4]
        return [0, 1] if grown.number in self.stopped else list(grown.branches)

    def assembled(self, grown: Any) -> Any:
        return SimpleNamespace(
            grown=grown, trails=(), stations={}, checked=tuple, plan=lambda _: self.whole(grown)
        )

    def whole(self, grown: Any) -> Any:
        self.log.append("whole")
        return grown

    def plan(self, monkeypatch: pytest.MonkeyPatch) -> int:
        for name in ("grow", "joined", "mended"):
            monkeypatch.setattr(checked_growth, name, getattr(self, name))
        monkeypatch.setattr(checked_growth, "pad_radius_m", lambda _: 1.0)
        ground = SimpleNamespace(closed=np.zeros(1, dtype=np.uint8))
        grower = SimpleNamespace(ground=ground, body_m=5.0)
        given = cast(Any, grower), cast(Any, None), [], 0.0, cast(Any, None), cast(Any, None)
        return cast(Any, Growth(*given, print).plan([], self.assembled)).number


def test_second_ways_are_taken_where_the_checks_let_them(monkeypatch: pytest.MonkeyPatch) -> None:
    made = Made(stopped=set())
    assert made.plan(monkeypatch) == 2
    assert made.log == ["grow", "join", "whole"]


def test_where_there_are_none_nothing_is_assembled_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    made = Made(stopped=set(), gain=0.0)
    assert made.plan(monkeypatch) == 1
    assert made.log == ["grow", "whole"]


def test_a_plan_without_stops_is_never_given_up_for_one_with(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = Made(stopped={2, 4, 6})  # every network with second ways
    assert made.plan(monkeypatch) in (1, 3, 5)
    assert made.log == [*["grow", "join"] * MOST_REPAIRS, "whole"]


def test_what_is_stopped_is_grown_round(monkeypatch: pytest.MonkeyPatch) -> None:
    made = Made(stopped={1})
    assert made.plan(monkeypatch) == 3
    assert made.log == ["grow", "grow", "join", "whole"]


def test_where_nothing_passes_the_last_is_given_with_its_stops(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = Made(stopped=set(range(9)))
    assert made.plan(monkeypatch) == MOST_REPAIRS
    assert made.log == [*["grow"] * MOST_REPAIRS, "whole"]
