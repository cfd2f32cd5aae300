"""How the tractor stands and pulls, on planes where every figure is worked by hand.

The 60 hp preset: half of 35.17 degrees is kept to and a wheel 0.2 m up takes 7.66, so 17.5 %
of cross slope is the edge; its rear axle holds 21.3 % downhill by itself, four wheels 40 %;
a log may run from 20 % on (low friction 0.3 over the factor of 1.5), and does from 30 %.
"""

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from made_ground import area_of, at, main_trail, settings_of, strips_of, terrain_of, trees_of
from shapely.geometry import LineString

from layout.checks import check_layout
from layout.findings import Finding
from layout.records import Pull, WinchPosition
from layout.site import ExistingTrail
from layout.terrain import Terrain

MAIN = main_trail((200, 50), (200, 250))
CODES = ("tractor_tilt", "tractor_front_light", "tractor_small_load", "tractor_brakes",
         "load_may_run", "pull_anchoring")  # fmt: skip


def hill(along: float, across: float = 0.0) -> Terrain:
    """Rise along MAIN, so downhill loaded, and across it."""
    return terrain_of(lambda x, y: 300 + along * y + across * x)


def found_on(
    ground: Terrain, *, condition: str = "dry", tractor: dict[str, Any] | None = None, **parts: Any
) -> list[Finding]:
    settings = settings_of(
        area={"name": "made", "units": parts.pop("units", "metric")},
        ground={"dem": "d.tif", "condition": condition},
        tractor=tractor or {},
        trails={"bench_up_to": "40 %"} if parts.pop("dig", False) else {},
    )
    area = area_of(ground, settings, **parts.pop("fields", {}))
    found = check_layout(area, ground, strips_of(ground), None, (MAIN,), **parts)
    return [f for f in found if f.code in CODES]


def codes(found: Sequence[Finding]) -> dict[str, str]:
    assert all("safe" not in f.message.lower() for f in found)
    return {f.code: f.level for f in found}


def test_gentle_ground_has_nothing_to_say() -> None:
    assert found_on(hill(0.10, 0.08)) == []
    assert found_on(hill(-0.10)) == []  # uphill loaded


def test_a_wheel_on_a_hump_on_a_side_slope() -> None:
    assert found_on(hill(0.0, 0.174)) == []
    (said,) = found_on(hill(0.0, 0.180))
    assert (said.code, said.level, said.unit) == ("tractor_tilt", "caution", "deg")
    assert said.value == pytest.approx(10.20 + 7.66, abs=0.01)
    assert said.limit == pytest.approx(17.58, abs=0.01)
    assert (said.from_m, said.to_m) == (0.0, 200.0)
    assert "a wheel 0.2 m up on a hump or stump tilt the tractor 18 degrees, past the 17" in (
        said.message
    )
    assert "standing still it tips from 35 on" in said.message
    (us,) = found_on(hill(0.0, 0.180), units="us")
    assert "a wheel 8 in up" in us.message
    # nose down it tips sooner: the same slope across on 15 % downhill
    assert codes(found_on(hill(0.15, 0.172))) == {"tractor_tilt": "caution"}


def test_on_a_bench_the_hill_across_does_not_tilt() -> None:
    old = ExistingTrail("old", LineString([at(200, 40), at(200, 260)]), benched=True)
    assert found_on(hill(0.0, 0.30), fields={"existing": (old,)}) == []
    assert found_on(hill(0.0, 0.30), dig=True) == []
    assert codes(found_on(hill(0.0, 0.30))) == {"tractor_tilt": "caution"}


def test_a_front_axle_too_light_on_the_empty_climb() -> None:
    # 25 % in front on the level: (0.25 x 2.1 c - 0.85 s) / 2.1 is 20 % at 11.9 % nose up
    light = {"front_share": "25 %"}
    assert "tractor_front_light" not in codes(found_on(hill(0.118), tractor=light))
    said = {f.code: f for f in found_on(hill(0.125), tractor=light)}["tractor_front_light"]
    assert (said.level, said.limit, said.unit) == ("stop", 20.0, "%")
    assert said.value == pytest.approx(19.8, abs=0.05)
    assert "climbed empty, nose first, on 12 % the front axle carries 19.8 %" in said.message
    # the other way round it is met coming in loaded, and bounds the load instead
    assert "tractor_front_light" not in codes(found_on(hill(-0.125), tractor=light))


def test_where_almost_nothing_can_be_dragged() -> None:
    # 8 ft 6 in, 10.5 in at its middle: 5.14 ft3 of red oak at 80.2 lb, and 15 %: 215 kg
    light = {"preset": "compact", "front_share": "23 %"}
    (said,) = found_on(hill(0.0), tractor=light)
    assert (said.code, said.level, said.unit) == ("tractor_small_load", "caution", "kg")
    # 2100 (0.23 - 0.20) 1.75 / (0.8 x 0.5 x 0.45 + 0.5 x 0.85)
    assert said.value == pytest.approx(2100 * 0.03 * 1.75 / 0.605)
    assert said.limit == pytest.approx(215.1, abs=0.1)
    assert "a light front axle lets 180 kg be dragged at most" in said.message
    assert "almost nothing comes over it" in said.message
    more = {"preset": "compact", "front_share": "24 %"}
    assert found_on(hill(0.0), tractor=more) == []
    (slick,) = found_on(hill(-0.10), tractor={"traction": 0.125})  # 3200 x 0.025 over 0.4375
    assert "10 % uphill loaded, and the grip of the tyres lets" in slick.message


def test_four_wheel_drive_is_to_be_engaged_where_the_rear_axle_does_not_hold() -> None:
    engaged = {"four_wheel_braking": True}
    assert "tractor_brakes" not in codes(found_on(hill(0.20)))
    said = {f.code: f for f in found_on(hill(0.22))}["tractor_brakes"]
    assert (said.level, said.unit) == ("caution", "%")
    assert said.limit == pytest.approx(21.34, abs=0.01)
    assert "engage four-wheel drive" in said.message
    assert "tractor_brakes" not in codes(found_on(hill(0.22), tractor=engaged))


def test_brakes_that_cannot_be_helped_stop() -> None:
    for own in ({"drive": "2wd"}, {"braking": 0.21, "four_wheel_braking": True}):
        said = {f.code: f for f in found_on(hill(0.22), tractor=own)}
        assert said["tractor_brakes"].level == "stop"
        assert "22 % downhill loaded, and brakes hold the tractor on 21 %" in (
            said["tractor_brakes"].message
        )
        assert "tractor_small_load" not in said  # one place, one reason
    # four wheels at hand do not help where even they slide: said once as what it is
    weak = [f for f in found_on(hill(0.22), tractor={"braking": 0.21})]
    assert [f.level for f in weak if f.code == "tractor_brakes"] == ["stop"]
    assert "tractor_brakes" not in codes(found_on(hill(-0.22), tractor={"drive": "2wd"}))


@pytest.mark.parametrize(
    ("condition", "caution_pct", "stop_pct"), [("dry", 20.0, 30.0), ("wet", 13.33, 20.0)]
)
def test_a_log_that_may_run(condition: str, caution_pct: float, stop_pct: float) -> None:
    own = {"four_wheel_braking": True, "traction": 0.7, "braking": 0.7}

    def level(pct: float) -> str | None:
        found = codes(found_on(hill(pct / 100), condition=condition, tractor=own))
        assert set(found) <= {"load_may_run"}
        return found.get("load_may_run")

    assert level(caution_pct - 0.1) is None
    assert level(caution_pct + 0.1) == "caution"
    assert level(stop_pct - 0.1) == "caution"
    assert level(stop_pct + 0.1) == "stop"


def test_pulls_that_ask_for_the_butt_plate() -> None:
    ground = hill(0.0)
    trees = trees_of([{"x": 220, "y": 100, "marked": True, "tree_id": "1"}])
    park = WinchPosition("W1", "M1", "L1", 50.0, *at(200, 100), 90.0, 0.0, 0.0, 0.0, 0.0, ("1",))
    shape = LineString([at(200, 100), at(220, 100)])

    def judged(kn: float, **tractor: Any) -> list[Finding]:
        pull = Pull("1", "W1", 20.0, 20.0, 39.0, 19.0, "sure", 0.0, "straight", 0.0, 0.0, kn, shape)
        return found_on(
            ground, fields={"trees": trees}, positions=(park,), pulls=(pull, pull), tractor=tractor
        )

    assert judged(12.5) == []  # 0.40 of 3.2 t are 12.55 kN
    (said,) = judged(14.0)
    assert (said.code, said.level) == ("pull_anchoring", "caution")
    assert said.limit == pytest.approx(0.4 * 3.2 * 9.80665)
    assert "2 of 2 pulls ask for more than the tyres alone hold" in said.message
    assert "up to 14 kN, where as little as 12 kN is held" in said.message
    assert "front axle" not in said.message
    (said,) = judged(14.0, traction=0.6, front_share="26 %")
    assert said.limit == pytest.approx(3.2 * 9.80665 * 0.06 * 2.1 / 0.9)
    assert "on 2 of them the front axle gets too light before the tyres slip" in said.message
    # a rear that stands lower holds less
    park = dataclasses.replace(park, along_pct=8.0)
    assert judged(12.5) and judged(12.5)[0].limit == pytest.approx(
        3.2 * 9.80665 * (0.4 - 0.08) / np.hypot(1, 0.08)
    )
