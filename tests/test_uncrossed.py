"""The choice made again for lines that cross: what is dropped at last is paid for."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from layout import uncrossed as room
from layout.choice_model import ROOT, Choice, Forest, objective_of
from layout.solver import Solver


def two_spurs() -> Forest:
    """Two spurs off a main; the second bears the turning place the first spur's position needs."""
    return Forest(
        parent=np.array([ROOT, ROOT]),
        segment_cost=np.array([10.0, 12.0]),
        position_segment=np.array([0, 1]),
        position_cost=np.array([1.0, 1.0]),
        position_class=np.array([0, -1]),
        pair_position=np.array([0, 1]),
        pair_tree=np.array([0, 1]),
        pair_cost=np.array([2.0, 3.0]),
        tree_price=np.array([200.0, 200.0]),
        place_segment=np.array([1]),
        place_cost=np.array([5.0]),
        class_places=((0,),),
    )


def test_what_is_dropped_at_last_is_paid_for(monkeypatch: pytest.MonkeyPatch) -> None:
    # the checks for crossings are stood in for: every answer is said to cross
    monkeypatch.setattr(room, "CROSS_ROUNDS", 1)
    monkeypatch.setattr(room, "crossings", lambda *_: [(0, 1)])
    monkeypatch.setattr(room, "overlong", lambda *_: [])
    forest = two_spurs()
    found = cast(Any, SimpleNamespace(forest=forest))
    with Solver() as solver:
        choice: Choice = room.uncrossed(found, [], solver, 10.0, 0.0, 0, 100.0)
    assert not choice.segments.any()  # a spur without use is not built
    assert not choice.places.any()
    # nothing lets the tractor into the first spur any more, so its tree is not served either
    assert choice.tree_pair.tolist() == [-1, -1]
    told = objective_of(forest, choice.segments, choice.places, choice.tree_pair)
    assert choice.objective == told == pytest.approx(400.0)
    assert choice.bound < choice.objective
