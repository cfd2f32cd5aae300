"""Trails on ground whose grades, cross slopes and bends are known."""

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
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
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from layout.checks import check_layout
from layout.checks.bends import radius_at
from layout.checks.lines import junction_deg
from layout.findings import Finding
from layout.land import near_hazard_trees
from layout.lays import lays
from layout.records import Landing, Trail, TreeOutcome, TurningPlace, WinchPosition
from layout.site import Area, ExistingTrail, Hazard, WaterFeature
from layout.terrain import Terrain
from layout.water import Strips

FT = 0.3048
GENTLE = terrain_of(lambda x, y: 100 + 0.04 * y + 0.05 * x)


def judged(
    terrain: Terrain,
    *trails: Trail,
    area: Area | None = None,
    strips: Strips | None = None,
    landing: Landing | None = None,
    **parts: Any,
) -> tuple[Finding, ...]:
    return check_layout(
        area or area_of(terrain),
        terrain,
        strips or strips_of(terrain),
        landing,
        trails,
        **parts,
    )


def of(found: Sequence[Finding], code: str, level: str | None = None) -> list[Finding]:
    return [f for f in found if f.code == code and (level is None or f.level == level)]


def only(found: Sequence[Finding], code: str, level: str) -> Finding:
    hits = of(found, code)
    assert [f.level for f in hits] == [level], [f.message for f in hits]
    return hits[0]


def stops(found: Sequence[Finding]) -> list[str]:
    return [f.code for f in found if f.level == "stop"]


# --- grades ---------------------------------------------------------------------------------


def test_ground_rising_along_the_stored_line_is_downhill_loaded() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.17 * y)
    up = judged(ramp, main_trail((200, 50), (200, 250)))
    found = only(up, "grade_favourable", "caution")
    assert found.value == pytest.approx(17)
    assert (found.from_m, found.to_m) == (0, 200)
    assert "17 % downhill loaded" in found.message
    assert not of(up, "grade_adverse")
    assert found.unit == "%"
    down = judged(ramp, main_trail((200, 250), (200, 50)))
    assert of(down, "grade_adverse", "stop")[0].value == pytest.approx(17)
    assert "17 % uphill loaded" in of(down, "grade_adverse", "stop")[0].message


def test_no_sign_is_ever_said() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.23 * y - 0.2 * x)
    found = judged(ramp, main_trail((200, 50), (200, 250)), main_trail((250, 250), (250, 50)))
    assert found
    for finding in found:
        assert not re.search(r"[-+\u2212]\s?\d", finding.message), finding.message
        assert "safe" not in finding.message.lower()


def pitch(length_m: float, steep: float, easy: float = 0.10, start: float = 100.0) -> Terrain:
    """Rise northward: easy, then a steep pitch of a length, then easy again."""

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        over = np.clip(y - start, 0, length_m)
        return 100 + easy * y + (steep - easy) * over

    return terrain_of(height)


def test_a_short_pitch_within_its_limits_is_a_caution() -> None:
    # the baseline blunts the pitch: 28 m at 24 % reads as over 20 % for a little less
    ground = pitch(28, 0.24)
    found = judged(ground, main_trail((200, 20), (200, 300)))
    assert not stops(found)
    care = only(found, "grade_favourable", "caution")
    assert care.value == pytest.approx(24)
    assert "short pitch" in care.message


def test_a_pitch_too_long_is_a_stop_with_its_length() -> None:
    found = judged(pitch(60, 0.24), main_trail((200, 20), (200, 300)))
    fault = only(found, "grade_favourable", "stop")
    # over 20 % where more than 10/14 of the baseline lies on the pitch
    assert fault.value == pytest.approx(60 - 2 * (10 / 1.4 - 5), abs=1.01)
    assert fault.limit == pytest.approx(100 * FT)
    assert "a short pitch is 100 ft at most" in fault.message


def test_two_pitches_too_close_are_a_stop() -> None:
    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        extra = np.clip(y - 100, 0, 20) + np.clip(y - 140, 0, 20)
        return 100 + 0.10 * y + 0.14 * extra

    found = judged(terrain_of(height), main_trail((200, 20), (200, 300)))
    fault = of(found, "grade_favourable", "stop")[0]
    assert fault.value == pytest.approx(20 + 2 * (10 / 1.4 - 5), abs=1.01)
    far = terrain_of(
        lambda x, y: 100 + 0.1 * y + 0.14 * (np.clip(y - 100, 0, 20) + np.clip(y - 155, 0, 20))
    )
    assert not stops(judged(far, main_trail((200, 20), (200, 300))))


def test_a_pitch_through_a_mouth_is_said_of_the_joined_way() -> None:
    # over 20 % on the main's last 18 m below the mouth and the spur's first 18 m
    ground = pitch(36, 0.24, start=132)
    main = main_trail((200, 20), (200, 300))
    side = spur("S1", main, 130, (200.5, 180), (200.5, 280))
    found = judged(ground, main, side)
    assert [f.subject_id for f in of(found, "grade_favourable_through_mouth", "caution")] == ["S1"]
    # a pitch that is the main's own is not said again of every spur above it
    own = pitch(60, 0.24, start=50)
    above = spur("S1", main, 130, (200.5, 180), (200.5, 280))
    found = judged(own, main, above)
    assert of(found, "grade_favourable", "stop")
    assert not of(found, "grade_favourable_through_mouth")


@pytest.mark.parametrize(("grade", "level"), [(0.2, None), (0.2001, "stop")])
def test_the_limit_itself_is_within(grade: float, level: str | None) -> None:
    ramp = terrain_of(lambda x, y: 100 + grade * y + 0 * x)
    found = judged(ramp, main_trail((200, 50), (200, 250)))
    assert bool(of(found, "grade_favourable", "stop")) == (level == "stop")


def test_wet_ground_lowers_the_limit_and_says_so() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.21 * y)
    settings = settings_of(ground={"condition": "wet"}, trails={"favourable": "22 %"})
    found = judged(ramp, main_trail((200, 50), (200, 250)), area=area_of(ramp, settings))
    steep = [f for f in of(found, "grade_favourable", "stop") if f.unit == "%"]
    assert [f.limit for f in steep] == [20]
    said = only(found, "limits_lowered", "caution").message
    assert "Ground is wet" in said and "loaded downhill 20 %" in said


def test_flat_trail_ponds() -> None:
    flat = terrain_of(lambda x, y: 100 + 0.01 * y + 0.05 * x)
    found = judged(flat, main_trail((200, 50), (200, 150)))
    assert only(found, "grade_flat", "caution").value == pytest.approx(100)
    assert not of(judged(flat, main_trail((200, 50), (200, 80))), "grade_flat")


def test_fall_line_is_a_caution_and_a_stop_toward_water() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.12 * y)
    trail = main_trail((200, 60), (200, 200))
    care = only(judged(ramp, trail), "fall_line", "caution")
    assert care.value == pytest.approx(140)
    below = strips_of(ramp, box(*at(150, 20), *at(250, 40)))
    assert only(judged(ramp, trail, strips=below), "fall_line", "stop")
    beside = strips_of(ramp, box(*at(20, 20), *at(60, 40)))
    assert only(judged(ramp, trail, strips=beside), "fall_line", "caution")


@pytest.mark.parametrize(("length", "expected"), [(30.4, 0), (30.6, 1)])
def test_the_fall_line_may_be_followed_for_a_hundred_feet(length: float, expected: int) -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.12 * y)
    found = judged(ramp, main_trail((200, 60), (200, 60 + length)))
    assert len(of(found, "fall_line")) == expected


def test_half_the_hill_is_not_the_fall_line() -> None:
    # on a 16 % hill led so that the trail climbs at 7.9 % and 8.1 %
    hill = terrain_of(lambda x, y: 100 + 0.16 * y)
    for share, expected in ((0.49, 0), (0.52, 1)):
        angle = math.asin(share)
        end = (60 + 200 * math.cos(angle), 100 + 200 * math.sin(angle))
        found = judged(hill, main_trail((60, 100), end))
        assert len(of(found, "fall_line")) == expected


def test_a_bench_does_not_hide_the_hill_beside_it() -> None:
    # level across the trail itself, but the hill falls 18 % to the side: 20 % in all
    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100 + 0.09 * y + 0.18 * (x - 200) * (np.abs(x - 200) > 3)

    found = judged(terrain_of(height), main_trail((200, 60), (200, 200)))
    assert not of(found, "fall_line")
    steeper = terrain_of(lambda x, y: height(x, y) + 0.03 * y)
    assert of(judged(steeper, main_trail((200, 60), (200, 200))), "fall_line")


# --- cross slope ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cross", "expected"),
    [(0.14, []), (0.16, ["caution"]), (0.1999, ["caution"]), (0.2002, ["stop"])],
)
def test_cross_slope_tiers(cross: float, expected: list[str]) -> None:
    side = terrain_of(lambda x, y: 100 + cross * x + 0.03 * y)
    found = judged(side, main_trail((200, 50), (200, 250)))
    assert [f.level for f in of(found, "cross_slope")] == expected
    for f in of(found, "cross_slope"):
        assert f.value == pytest.approx(100 * cross, abs=1e-2)


def test_cross_slope_is_one_finding_a_run() -> None:
    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        steep = ((y > 100) & (y < 140)) | ((y > 180) & (y < 200))
        return 100 + 0.03 * y + np.where(steep, 0.25, 0.05) * (x - 200)

    found = judged(terrain_of(height), main_trail((200, 50), (200, 250)))
    assert len(of(found, "cross_slope", "stop")) == 2
    first, second = of(found, "cross_slope", "stop")
    assert first.from_m == pytest.approx(50, abs=3) and first.to_m == pytest.approx(90, abs=3)
    assert second.from_m == pytest.approx(130, abs=3)


def test_a_recorded_bench_is_a_caution() -> None:
    side = terrain_of(lambda x, y: 100 + 0.25 * x + 0.03 * y)
    trail = main_trail((200, 50), (200, 250))
    bench = ExistingTrail("old", line((201, 40), (201, 150)), benched=True)
    found = judged(side, trail, area=area_of(side, existing=(bench,)))
    assert only(found, "cross_slope_on_bench", "caution").to_m == pytest.approx(101.5, abs=2)
    assert only(found, "cross_slope", "stop").from_m == pytest.approx(101.5, abs=2)
    across = ExistingTrail("old", line((150, 150), (250, 150)), benched=True)
    found = judged(side, trail, area=area_of(side, existing=(across,)))
    assert not of(found, "cross_slope_on_bench")
    found = judged(side, main_trail((200, 50), (200, 250), benched=True))
    assert not stops(found)


def test_benching_allowed_is_a_caution_up_to_its_limit() -> None:
    settings = settings_of(trails={"bench_up_to": "30 %"})
    for cross, code, level in (
        (0.25, "bench_needed", "caution"),
        (0.31, "cross_slope", "stop"),
    ):
        side = terrain_of(lambda x, y, c=cross: 100 + c * x + 0.03 * y)
        found = judged(side, main_trail((200, 50), (200, 250)), area=area_of(side, settings))
        assert only(found, code, level)


# --- ground that is closed ------------------------------------------------------------------


def test_strip_entered_by_the_full_width() -> None:
    trail = main_trail((200, 50), (200, 250))
    near = strips_of(GENTLE, box(*at(201.7, 100), *at(220, 130)))
    found = only(judged(GENTLE, trail, strips=near), "strip_entered", "stop")
    assert (found.from_m, found.to_m) == (pytest.approx(50), pytest.approx(80))
    assert found.value == pytest.approx(30)
    assert found.confirmed and found.source == "made rule"
    clear = strips_of(GENTLE, box(*at(201.9, 100), *at(220, 130)))
    assert not of(judged(GENTLE, trail, strips=clear), "strip_entered")


def test_outside_setback_and_permission() -> None:
    trail = main_trail((30, 50), (5, 200))
    found = judged(GENTLE, trail)
    assert {"outside_land", "setback"} <= set(stops(found))
    field = MultiPolygon([box(*at(0, 0), *at(10, 400))])
    found = judged(GENTLE, trail, area=area_of(GENTLE, may_use=field))
    assert not stops(found)


def test_setback_is_the_larger_of_distance_and_error() -> None:
    property_line = box(*at(5, 5), *at(395, 395))
    trail = main_trail((19, 50), (19, 200))  # 14 m from the line, edge 12.2 m
    settings = settings_of(property={"line": "p.gpkg", "error": "50 ft"})
    area = area_of(GENTLE, settings, property_line=property_line)
    found = only(judged(GENTLE, trail, area=area), "setback", "stop")
    assert found.limit == pytest.approx(50 * FT)
    assert found.value == pytest.approx(14 - 3.6576 / 2)
    settings = settings_of(property={"line": "p.gpkg", "error": "39 ft"})
    area = area_of(GENTLE, settings, property_line=property_line)
    assert not stops(judged(GENTLE, trail, area=area))


def test_keep_out_and_hazards() -> None:
    trail = main_trail((200, 50), (200, 250))
    area = area_of(
        GENTLE,
        keep_out=(box(*at(190, 100), *at(210, 110)),),
        hazards=(
            Hazard("w1", "well", Point(at(216, 180))),
            Hazard("w2", "well", Point(at(218, 180))),
            Hazard("wire", "wire", line((100, 220), (300, 220))),
            Hazard("odd", "volcano", Point(at(216.5, 60))),
        ),
    )
    found = judged(GENTLE, trail, area=area)
    assert only(found, "keep_out", "stop").value == pytest.approx(10)
    near = of(found, "hazard_near", "stop")
    assert ["w1" in f.message for f in near].count(True) == 1
    assert not any("w2" in f.message or "wire" in f.message for f in near)
    assert any("volcano odd" in f.message for f in near), "an unknown kind takes the strictest row"


def test_hazard_trees_close_two_tree_lengths_unless_marked() -> None:
    trail = main_trail((200, 50), (200, 250))
    rows = [
        {"x": 239, "y": 150, "hazard": "dead_top", "height_m": 20.0},
        {"x": 243, "y": 150, "hazard": "dead_top", "height_m": 20.0},
        {"x": 210, "y": 150, "hazard": "dead_top", "marked": True},
        {"x": 245, "y": 150, "hazard": "hung", "height_m": math.nan},
    ]
    found = judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(rows)))
    close = of(found, "hazard_tree", "stop")
    assert [f.message.split("tree ")[1][:2] for f in close] == ["T1", "T4"]
    assert "72 ft" in close[1].message  # three alike of 20 m were measured: a tenth more, 22 m
    assert close[1].limit == pytest.approx(44.0)


def test_hazard_trees_not_marked_are_told_once_with_the_distance_to_keep() -> None:
    trail = main_trail((200, 50), (200, 250))
    rows = [
        {"x": 350, "y": 350, "hazard": "dead_top", "height_m": 20.0},  # no trail is near
        {"x": 300, "y": 350, "hazard": "hung", "height_m": 25.0},
        {"x": 310, "y": 350, "hazard": "dead", "height_m": 20.0, "marked": True},
        {"x": 320, "y": 350, "hazard": "", "height_m": 20.0},
    ]
    found = judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(rows)))
    told = only(found, "hazard_trees_standing", "caution")
    # two tree lengths, 29 CFR 1910.266(h)(1)(vi): 50 m = 164 ft and 40 m = 131 ft
    assert "2 hazard trees stand" in told.message
    assert "T2 (hung, 164 ft), T1 (dead top, 131 ft)." in told.message
    assert "errs tall" not in told.message and "1910.266" in told.source
    assert told.subject_id == "T2" and told.value == 2
    others = judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(rows[2:])))
    assert not of(others, "hazard_trees_standing", "caution"), "marked ones and sound ones"
    bare = [{**rows[0], "height_m": math.nan}]
    told = only(
        judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(bare))),
        "hazard_trees_standing", "caution",
    )  # fmt: skip
    assert "1 hazard tree stands" in told.message and "errs tall" in told.message
    assert "170 ft" in told.message  # two lengths of 85 ft


def test_work_within_the_distance_of_a_hazard_tree_is_told_tree_by_tree() -> None:
    """Two lengths of a 20 m tree are 40 m: what stands at 39 m is inside, at 41 m is not."""
    trail = main_trail((200, 50), (200, 250))
    rows = [
        {"x": 300, "y": 300, "hazard": "dead_top", "height_m": 20.0},
        {"x": 339, "y": 300, "height_m": 20.0, "marked": True},
        {"x": 341, "y": 300, "height_m": 20.0, "marked": True},
        {"x": 300, "y": 310, "height_m": 20.0},
    ]
    position = WinchPosition("W1", "M", "L1", 50.0, 500300.0, 4700262.0, 0.0, 0.0, 0.0, 0.0, 10.0)
    off = replace(position, position_id="W2", y=4700259.0)
    area = area_of(GENTLE, trees=trees_of(rows))
    found = judged(GENTLE, trail, area=area, positions=(position, off))
    told = only(found, "hazard_work_inside", "caution")
    assert "within 131 ft of hazard tree T1" in told.message
    assert "marked tree T2 and winch position W1" in told.message
    assert told.value == 2 and told.subject_id == "T1" and "1910.266" in told.source
    assert {bad: near.tolist() for bad, near in near_hazard_trees(area).items()} == {0: [1]}
    (lay, far) = lays(area, GENTLE, strips_of(GENTLE), (), np.zeros(4, dtype=bool))
    assert (lay.tree_id, lay.why_none, far.why_none) == ("T2", "bad_tree_near", "not_reached")
    down = area_of(GENTLE, trees=replace(trees_of(rows), done=frozenset({"T1"})))
    assert near_hazard_trees(down) == {}
    assert not of(judged(GENTLE, trail, area=down), "hazard_work_inside", "caution")
    alone = area_of(GENTLE, trees=trees_of([rows[0], rows[2], rows[3]]))
    assert not of(judged(GENTLE, trail, area=alone), "hazard_work_inside", "caution")


def test_a_hazard_tree_among_unmeasured_trees_counts_as_a_tall_one() -> None:
    trail = main_trail((200, 50), (200, 250))
    rows = [{"x": 250, "y": 150, "hazard": "hung", "height_m": math.nan}]
    found = judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(rows)))
    assert "85 ft" in only(found, "hazard_tree", "stop").message


# --- water crossed --------------------------------------------------------------------------


def brook(x0: float, x1: float) -> WaterFeature:
    return WaterFeature("brook-1", "perennial", line((x0, 150), (x1, 150)), bank_width_m=2.0)


def test_water_is_not_crossed_unless_allowed() -> None:
    trail = main_trail((200, 50), (200, 250))
    area = area_of(GENTLE, water=(brook(100, 300),))
    assert only(judged(GENTLE, trail, area=area), "water_crossed", "stop").from_m == (
        pytest.approx(99)
    )
    settings = settings_of(trails={"crossings": True})
    area = area_of(GENTLE, settings, water=(brook(100, 300),))
    strip = strips_of(GENTLE, box(*at(100, 135), *at(300, 165)))
    found = judged(GENTLE, trail, area=area, strips=strip)
    assert not stops(found)
    assert only(found, "water_crossed", "caution")
    assert only(found, "strip_entered", "caution").value == pytest.approx(30)
    assert not of(found, "crossing_angle")
    slant = main_trail((150, 120), (250, 180))
    found = judged(GENTLE, slant, area=area, strips=strip)
    assert only(found, "crossing_angle", "stop").value == pytest.approx(
        math.degrees(math.atan2(60, 100))
    )
    along = main_trail((150, 140), (250, 140))
    assert stops(judged(GENTLE, along, area=area, strips=strip)) == ["strip_entered"]


def test_no_water_no_trees_no_findings_about_them() -> None:
    found = judged(GENTLE, main_trail((200, 50), (200, 250)))
    assert not stops(found)
    assert not [f for f in found if f.code in ("water_crossed", "strip_entered", "hazard_tree")]
    assert not of(found, "lean_not_checked")


# --- bends and junctions --------------------------------------------------------------------


def hairpin(radius: float, step: float = 0.25) -> LineString:
    """Draw 60 m out, a half turn of a radius, 60 m back."""
    turn = np.arange(-math.pi / 2, math.pi / 2 + 1e-9, step / radius)
    turn = np.append(turn, math.pi / 2)
    x = np.concatenate([[140], 200 + radius * np.cos(turn), [140]])
    y = np.concatenate([[150 - radius], 150 + radius * np.sin(turn), [150 + radius]])
    return line(*zip(x.tolist(), y.tolist(), strict=True))


@pytest.mark.parametrize(("radius", "tight"), [(7.62, False), (7.50, False), (7.40, True)])
def test_hairpin_of_known_radius(radius: float, tight: bool) -> None:
    shape = hairpin(radius)
    trail = Trail("M1", "main", "L1", shape, 3.6, "routed")
    found = judged(GENTLE, trail)
    assert bool(of(found, "turn_radius", "stop")) == tight
    drawn = Trail("M1", "main", "L1", shape, 3.6, "drawn")
    assert bool(of(judged(GENTLE, drawn), "turn_radius", "caution")) == tight
    assert not stops(judged(GENTLE, drawn))


def test_radius_of_a_circle_and_a_straight() -> None:
    shape = hairpin(10)
    middle = np.array([60 + 5 * math.pi])
    assert radius_at(shape, middle) == pytest.approx([10], rel=1e-3)
    assert np.isinf(radius_at(shape, np.array([30.0]))).all()
    assert np.isnan(radius_at(shape, np.array([1.0, shape.length - 1]))).all()


def test_a_kink_is_a_bend() -> None:
    trail = main_trail((200, 50), (200, 150), (230, 180))
    found = only(judged(GENTLE, trail), "turn_radius", "stop")
    # the circle through points 2 m either side of a corner of 45 degrees
    assert found.value == pytest.approx(1 / math.sin(math.radians(22.5)), rel=0.02)
    assert found.from_m < 100 < found.to_m


@pytest.mark.parametrize(
    ("angle", "level"),
    [
        (30, "ok"),
        (45, "ok"),
        (60, "ok"),
        (60.5, "caution"),
        (90, "caution"),
        (91, "stop"),
        (135, "stop"),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_junction_angles(angle: float, level: str, side: int) -> None:
    main = main_trail((200, 50), (200, 300))
    out = math.radians(90 - side * angle)
    end = (200 + 60 * math.cos(out), 150 + 60 * math.sin(out))
    found = only(judged(GENTLE, main, spur("S1", main, 100, end)), "junction_angle", level)
    assert found.value == pytest.approx(angle, abs=1e-6)


def test_a_turn_out_is_read_beyond_its_curve() -> None:
    main = main_trail((200, 50), (200, 300))
    # leaves along the main, bends to 40 degrees within 5 m
    turn = np.radians(90 - np.linspace(0, 40, 20))
    x = 200 + np.cumsum(np.cos(turn)) * 0.25
    y = 150 + np.cumsum(np.sin(turn)) * 0.25
    bend = list(zip(x.tolist(), y.tolist(), strict=True))
    end = (x[-1] + 40 * math.cos(turn[-1]), y[-1] + 40 * math.sin(turn[-1]))
    side = spur("S1", main, 100, *bend, end)
    assert junction_deg(side.line, main.line, 100) == pytest.approx(40, abs=0.5)


def test_spur_length_counts_between_junctions() -> None:
    main = main_trail((200, 30), (200, 150))
    long = spur("S1", main, 100, (200 + 100, 230), (200 + 100, 320))
    assert long.line.length > 400 * FT
    found = judged(GENTLE, main, long)
    assert only(found, "spur_length", "stop").value == pytest.approx(long.line.length)
    fork = spur("S2", long, 110, (260, 300))
    assert not of(judged(GENTLE, main, long, fork), "spur_length")
    drawn = spur("S1", main, 100, (300, 230), (300, 320), source="drawn")
    assert only(judged(GENTLE, main, drawn), "spur_length", "caution")


def test_mouth_must_lie_on_the_trail_and_where_it_says() -> None:
    main = main_trail((200, 50), (200, 300))
    good = spur("S1", main, 100, (240, 190))
    assert not stops(judged(GENTLE, main, good))
    off = Trail("S1", "spur", "L1", line((200.2, 150), (240, 190)), 3, "routed", "M1", 100.0)
    assert stops(judged(GENTLE, main, off)) == ["mouth_off_trail"]
    said = Trail("S1", "spur", "L1", good.line, 3, "routed", "M1", 102.0)
    assert stops(judged(GENTLE, main, said)) == ["record_mismatch"]
    lost = Trail("S1", "spur", "L1", good.line, 3, "routed", "M9", 102.0)
    # with no mouth of its own there, touching the main is a crossing too
    assert set(stops(judged(GENTLE, main, lost))) == {"joins_nothing", "trails_cross"}


def test_main_begins_at_the_landing() -> None:
    main = main_trail((200, 50), (200, 300))
    assert not stops(judged(GENTLE, main, landing=landing_of(200, 40)))
    assert stops(judged(GENTLE, main, landing=landing_of(230, 40))) == ["starts_off_landing"]


def test_trails_cross_only_at_mouths() -> None:
    main = main_trail((200, 50), (200, 300))
    spur_a = spur("S1", main, 100, (260, 210))
    spur_b = spur("S2", main, 60, (240, 150), (240, 260))
    found = judged(GENTLE, main, spur_a, spur_b)
    cross = only(found, "trails_cross", "stop")
    assert cross.subject_id == "S1" and cross.at == pytest.approx(at(240, 190))
    back = spur("S3", main, 60, (220, 130), (180, 190))
    assert of(judged(GENTLE, main, back), "trails_cross", "stop")
    loop = main_trail((100, 100), (200, 100), (200, 200), (150, 200), (150, 50))
    itself = only(judged(GENTLE, loop), "trail_crosses_itself", "stop")
    assert itself.at == pytest.approx(at(150, 100), abs=0.1)
    there_and_back = main_trail((100, 100), (200, 100), (150, 100))
    doubled = only(judged(GENTLE, there_and_back), "trail_crosses_itself", "stop")
    assert doubled.at == pytest.approx(at(150, 100), abs=0.1)
    both = [spur("S1", main, 100, (240, 190)), spur("S2", main, 100, (160, 190))]
    assert not of(judged(GENTLE, main, *both), "trails_cross")


# --- gaps, stems, turning -------------------------------------------------------------------


def test_a_gap_in_the_grid_is_unknown_and_no_exception() -> None:
    ground = terrain_of(lambda x, y: np.where((y > 150) & (y < 160), np.nan, 100 + 0.05 * y))
    found = judged(ground, main_trail((200, 50), (200, 250)))
    gap = only(found, "terrain_gap", "unknown")
    assert gap.from_m < 100 and gap.to_m > 110 and gap.to_m < 120
    off = judged(ground, main_trail((200, 350), (200, 450)))
    assert only(off, "terrain_gap", "unknown").to_m == 100


def exact(**tables: Any) -> Any:
    return settings_of(stand={"position_error": "1 m"}, **tables)


def test_stems_in_the_trail_are_counted() -> None:
    # the edge is 1.83 m off, and what stands within 0.3 m of it comes out as well
    rows = [{"x": 200 + dx, "y": 100 + 10 * i} for i, dx in enumerate((0, 2.1, 2.2, 5))]
    rows.append({"x": 200, "y": 180, "marked": True})
    area = area_of(GENTLE, exact(), trees=trees_of(rows))
    trail = main_trail((200, 50), (200, 250))
    found = judged(GENTLE, trail, area=area)
    assert only(found, "stems_in_trail", "caution").value == 2
    outcomes = [TreeOutcome("T1", "leave", "leave"), TreeOutcome("T2", "leave", "in_trail")]
    found = judged(GENTLE, trail, area=area, trees=outcomes)
    assert [f.subject_id for f in of(found, "record_mismatch")] == ["T1"]


@pytest.mark.parametrize(("stems", "more"), [(2, ""), (12, ""), (15, " and 3 more")])
def test_stems_in_the_trail_are_named(stems: int, more: str) -> None:
    rows = [{"x": 200, "y": 60 + 10 * i, "tree_id": f"U{i}"} for i in range(stems)]
    area = area_of(GENTLE, exact(), trees=trees_of(rows))
    found = judged(GENTLE, main_trail((200, 50), (200, 250)), area=area)
    said = only(found, "stems_in_trail", "caution")
    names = ", ".join(f"U{i}" for i in range(min(stems, 12)))
    assert f": {names}{more}" in said.message
    assert ("trees.csv of the plan names all" in said.message) == bool(more)
    assert said.subject_id == "U0" and said.at is not None


@pytest.mark.parametrize(
    ("full_list", "error", "word"), [(False, "1 m", "marked trees only"), (True, "5 m", "5.0 m")]
)
def test_stems_not_known_are_not_claimed(full_list: bool, error: str, word: str) -> None:
    settings = settings_of(stand={"position_error": error})
    trees = trees_of([{"x": 200, "y": 100}], full_list=full_list)
    found = judged(
        GENTLE, main_trail((200, 50), (200, 250)), area=area_of(GENTLE, settings, trees=trees)
    )
    assert word in only(found, "stems_in_trail", "unknown").message


def test_keep_trees_want_three_feet() -> None:
    edge = 3.6576 / 2
    rows = [
        {"x": 200 + edge + 0.9, "y": 100, "keep": "crop"},
        {"x": 200 + edge + 0.92, "y": 120, "keep": "crop"},
    ]
    trail = main_trail((200, 50), (200, 250))
    found = judged(GENTLE, trail, area=area_of(GENTLE, exact(), trees=trees_of(rows)))
    assert only(found, "keep_tree_near", "caution").subject_id == "T1"
    found = judged(GENTLE, trail, area=area_of(GENTLE, trees=trees_of(rows)))
    assert only(found, "keep_tree_near", "unknown").subject_id == "T1"


def test_one_tree() -> None:
    area = area_of(GENTLE, exact(), trees=trees_of([{"x": 300, "y": 300, "marked": True}]))
    found = judged(GENTLE, main_trail((200, 50), (200, 250)), area=area)
    assert not stops(found)
    assert only(found, "lean_not_checked", "unknown")


def pad(trail_id: str, at_m: float, shape: Polygon, kind: str = "pad") -> TurningPlace:
    return TurningPlace("P1", trail_id, at_m, kind, shape, 4.0)  # type: ignore[arg-type]


def test_turning_places_are_wanted_every_500_ft() -> None:
    main = main_trail((200, 30), (200, 330))
    found = only(judged(GENTLE, main), "turning_far", "caution")
    assert found.value == pytest.approx(300)
    assert found.from_m == pytest.approx(500 * FT, abs=5)
    place = pad("M1", 150, Point(at(200, 180)).buffer(6))
    assert not of(judged(GENTLE, main, turning_places=[place]), "turning_far")


def test_a_trail_of_1200_ft_wants_turning_places() -> None:
    # WAC 296-54-57350 (4): turnarounds every 500 ft.
    main = main_trail((200, 15), (200, 15 + 1200 * FT))
    assert main.line.length == pytest.approx(1200 * FT)

    def far(*feet: float) -> list[Finding]:
        places = [
            replace(pad("M1", f * FT, Point(at(200, 15 + f * FT)).buffer(6)), place_id=f"P{f:g}")
            for f in feet
        ]
        return of(judged(GENTLE, main, turning_places=places), "turning_far")

    (none,) = far()
    assert none.value == pytest.approx(1200 * FT)
    assert all(far(feet) for feet in (100, 300, 500, 600))
    assert not far(500, 1000)
    # What is driven nose first to a place at the far end is not backed at all.
    assert not far(1190)


def test_turning_place_must_be_level_and_on_open_ground() -> None:
    steep = terrain_of(lambda x, y: 100 + 0.11 * y)
    main = main_trail((200, 30), (200, 230))
    place = pad("M1", 150, Point(at(200, 180)).buffer(6))
    found = judged(steep, main, turning_places=[place])
    assert only(found, "turning_slope", "stop").value == pytest.approx(11, abs=1e-3)
    strips = strips_of(GENTLE, box(*at(204, 170), *at(220, 190)))
    found = judged(GENTLE, main, turning_places=[place], strips=strips)
    assert only(found, "turning_closed", "stop")
    edge = pad("M1", 10, Point(at(200, 12)).buffer(6))
    assert {"turning_outside", "turning_closed"} <= set(
        stops(judged(GENTLE, main, turning_places=[edge]))
    )
    lost = pad("M7", 150, Point(at(200, 180)).buffer(6))
    assert only(judged(GENTLE, main, turning_places=[lost]), "turning_place_lost", "stop")


def test_every_finding_says_where_it_comes_from() -> None:
    rough = terrain_of(lambda x, y: 100 + 0.27 * y + 0.22 * x)
    found = judged(rough, main_trail((200, 50), (200, 250)), main_trail((100, 250), (100, 50)))
    assert len(found) > 5
    for finding in found:
        assert finding.source, finding.code
        assert finding.message[0].isupper() and not finding.message.endswith(".")
        if finding.level in ("stop", "caution") and finding.subject_layer == "trails":
            assert finding.at is not None and finding.from_m is not None


def test_metric_user_reads_metres() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.17 * y)
    settings = settings_of(area={"units": "metric"})
    found = judged(ramp, main_trail((200, 50), (200, 250)), area=area_of(ramp, settings))
    assert "from 0 m to 200 m" in only(found, "grade_favourable", "caution").message
    assert shapely.Point(at(200, 150)).distance(
        shapely.Point(only(found, "grade_favourable", "caution").at)
    ) == pytest.approx(0)
