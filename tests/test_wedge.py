"""The wedge's lever, held against worked examples.

Printed sources: Northern Woodlands, Felling Trees Against the Lean (60 ft tree on an
18 in stump); OSHA logging eTool (100 ft on 24 in: 50 segments; two inches of wedging).
"""

import numpy as np
import pytest

from layout import wedge
from layout.errors import InputFaults

FOOT_M, INCH_M = 0.3048, 0.0254


@pytest.mark.parametrize(("lean_ft", "lift_in"), [(3, 0.9), (4, 1.2)])
def test_sixty_feet_on_an_18_in_stump(lean_ft: float, lift_in: float) -> None:
    lift = wedge.lift_m(lean_ft * FOOT_M, 60 * FOOT_M, 18 * INCH_M)
    assert float(lift) / INCH_M == pytest.approx(lift_in)


def test_segments() -> None:
    got = wedge.segments(np.array([60, 100]) * FOOT_M, np.array([18, 24]) * INCH_M)
    np.testing.assert_allclose(got, [40, 50])


def test_a_tree_that_leans_its_way_needs_no_lift() -> None:
    assert wedge.lift_m([-1.0, 0.0], 20, 0.5).tolist() == [0, 0]


def test_two_inches_of_wedging_and_no_more() -> None:
    lean = np.array([79.9, 80, 80.1, np.nan]) * INCH_M  # 40 segments: 2 in take up 80 in
    beyond = wedge.beyond_wedges(lean, 60 * FOOT_M, 18 * INCH_M)
    assert beyond.tolist() == [False, False, True, False]


def test_what_is_no_tree_is_refused() -> None:
    with pytest.raises(InputFaults) as caught:
        wedge.segments([20, -3, 20, 2], [0.5, 0.5, 0, 2])
    assert [f.split(":")[0] for f in caught.value.faults] == ["stem 2", "stem 3", "stem 4"]
