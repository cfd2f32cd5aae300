"""Disturbed ground, against figures worked by hand.

Area share of parallel trails = width / spacing is plane geometry. The 15 and
10 % are settings; the numbers of passes that part the classes are ours.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import pytest
from shapely.geometry import LineString, MultiPolygon, Point, box

from layout import soil
from layout.grid import Dem
from layout.records import Landing, Pull, SoilSummary, Trail, TrailStep, TurningPlace
from layout.settings import AreaSettings
from layout.site import Area, Trees

FOOT_M = 0.3048


def area(stand: MultiPolygon, **tables: dict[str, object]) -> Area:
    settings = AreaSettings.model_validate(
        {
            "format": 1,
            "area": {"name": "x", "units": "us"},
            "stand": {"boundary": "s.gpkg", "trees": "t.csv"},
            **tables,
            "ground": {"dem": "d.tif", **tables.get("ground", {})},
        }
    )
    none = np.zeros(0)
    trees = Trees(
        (), none, none, (), none, none, none.astype(bool), (), (), none, none, none, none, none,
        True, pd.DataFrame(),
    )  # fmt: skip
    dem = Dem(np.zeros((2, 2), np.float32), 0, 2, 1)
    return Area(Path(), settings, pyproj.CRS("EPSG:26918"), dem, stand, trees)


def square(side_m: float) -> MultiPolygon:
    return MultiPolygon([box(0, 0, side_m, side_m)])


def trail(name: str, *points: tuple[float, float], width_m: float = 3.0) -> Trail:
    kind = "main" if name.startswith("M") else "spur"
    return Trail(name, kind, "L1", LineString(points), width_m, "routed")


def pull(*points: tuple[float, float]) -> Pull:
    line = LineString(points)
    return Pull("T1", "P1", line.length, line.length, 40, 5, "sure", 0, "straight", 0, 0, 5, line)


@pytest.mark.parametrize(
    ("width_ft", "spacing_ft", "share_pct"),
    [
        (12, 100, 12.0),
        (12, 120, 10.0),
        (12, 150, 8.0),
        (4 / FOOT_M, 20 / FOOT_M, 20.0),  # 4 m at 20 m
    ],
)
def test_parallel_trails_take_width_over_spacing(
    width_ft: float, spacing_ft: float, share_pct: float
) -> None:
    side = 6 * spacing_ft * FOOT_M
    trails = [
        trail(f"S{i}", (0, y), (side, y), width_m=width_ft * FOOT_M)
        for i, y in enumerate((np.arange(6) + 0.5) * spacing_ft * FOOT_M)
    ]
    found = soil.summarise(area(square(side)), None, trails, [], [], [])
    assert found.share_pct == pytest.approx(share_pct, abs=1e-9)
    assert found.share_with_landing_pct == found.share_pct


def test_ground_used_twice_counts_once() -> None:
    # A 100 m main of 4 m, a 50 m spur of 3 m square from its middle: 2 m of the spur
    # lie in the main. A pad of 10 x 10 m astride the spur keeps 7 of its 10 m.
    main = trail("M1", (0, 50), (100, 50), width_m=4)
    spur = trail("S1", (50, 50), (50, 100), width_m=3)
    pad = TurningPlace("T1", "S1", 35, "pad", box(45, 80, 55, 90), 2)
    found = soil.summarise(area(square(100)), None, [main, spur], [pad], [], [])
    assert found.main_m2 == pytest.approx(400)
    assert found.spur_m2 == pytest.approx(3 * 48)
    assert found.turning_m2 == pytest.approx(7 * 10)
    assert found.share_pct == pytest.approx(100 * (400 + 144 + 70) / 10_000)


def test_landing_counts_in_full_and_only_in_the_second_share() -> None:
    # Half of the landing lies outside the stand; 20 m of the main lie on it.
    landing = Landing("L1", box(-20, 40, 20, 60), 0, 50, 3, None)
    main = trail("M1", (0, 50), (100, 50), width_m=4)
    found = soil.summarise(area(square(100)), landing, [main], [], [], [])
    assert found.landing_m2 == pytest.approx(800)
    assert found.main_m2 == pytest.approx(4 * 80)
    assert found.share_pct == pytest.approx(3.2)
    assert found.share_with_landing_pct == pytest.approx(11.2)


def test_corridors_stand_beside_the_share() -> None:
    main = trail("M1", (0, 50), (100, 50), width_m=4)
    pulls = [pull((50, 50), (50, 80)), pull((50, 50), (50, 80)), pull((20, 50), (20, 42))]
    found = soil.summarise(area(square(100)), None, [main], [], pulls, [])
    assert found.corridor_m2 == pytest.approx(6 * FOOT_M * (28 + 6))
    assert found.share_pct == pytest.approx(4.0)
    crowns = area(square(100), work={"extract": "tree"}, trails={"turn_radius": "40 ft"})
    found = soil.summarise(crowns, None, [main], [], pulls, [])
    assert found.corridor_m2 == pytest.approx(10 * FOOT_M * (28 + 6))


@pytest.mark.parametrize(
    ("loads", "dry", "wet"), [(0, 1, 1), (2, 1, 1), (3, 2, 2), (9, 2, 2), (10, 2, 3), (50, 2, 3)]
)
def test_classes_part_where_the_settings_say(loads: int, dry: int, wet: int) -> None:
    assert soil.soil_class(loads, False, (3, 10)) == dry
    assert soil.soil_class(loads, True, (3, 10)) == wet
    assert soil.soil_class(loads, True, (loads + 1, loads + 2)) == 1


def test_steps_are_wet_by_the_day_or_by_the_place() -> None:
    steps = [
        TrailStep("M1", 0, 10, 0, 0, loads=12, line=LineString([(0, 0), (10, 0)])),
        TrailStep("M1", 10, 20, 0, 0, loads=12, line=LineString([(10, 0), (20, 0)])),
    ]
    hollow = Point(25, 0).buffer(8)
    dry = soil.classed(area(square(100)), steps, hollow)
    assert [step.soil_class for step in dry] == [2, 3]
    assert [step.soil_class for step in soil.classed(area(square(100)), steps)] == [2, 2]
    wet_day = area(square(100), ground={"condition": "wet"})
    assert [step.soil_class for step in soil.classed(wet_day, steps)] == [3, 3]


def test_ground_by_class_where_two_meet_the_worse_counts() -> None:
    landing = Landing("L1", box(0, 40, 20, 60), 10, 50, 3, None)
    main = trail("M1", (10, 50), (100, 50), width_m=4)
    spur = trail("S1", (50, 50), (50, 100), width_m=3)
    pad = TurningPlace("T1", "S1", 45, "pad", box(45, 90, 55, 100), 2)
    steps = [
        TrailStep("M1", 0, 90, 0, 0, loads=12, soil_class=3),
        TrailStep("S1", 0, 30, 0, 0, loads=5, soil_class=2),
        TrailStep("S1", 30, 50, 0, 0, loads=1, soil_class=1),
    ]
    pulls = [pull((50, 70), (80, 70))]
    found = soil.summarise(area(square(100)), landing, [main, spur], [pad], pulls, steps)
    assert found.class_m2[3] == pytest.approx(400 + 4 * 80)
    # The spur from the main's edge to 30 m, and the whole pad on its class 1 end.
    assert found.class_m2[2] == pytest.approx(3 * 28 + 100)
    assert found.class_m2[1] == pytest.approx(3 * 10 + 6 * FOOT_M * 28.5)
    everything = (
        found.main_m2 + found.spur_m2 + found.turning_m2 + found.landing_m2 + found.corridor_m2
    )
    assert sum(found.class_m2.values()) == pytest.approx(everything)


def test_compaction_curve_reaches_95_percent_where_the_trials_ended() -> None:
    # 1 - exp(-3) = 0.9502: 12 cycles on the flat at 0.25, 6 on a slope at 0.50.
    expected = 1 - math.exp(-3)
    assert soil.compaction_share(12, 0.25) == pytest.approx(expected)
    assert soil.compaction_share(6, 0.50) == pytest.approx(expected)
    assert expected == pytest.approx(0.950, abs=5e-4)
    curve = soil.compaction_share(np.arange(40), 0.25)
    assert curve[0] == 0
    assert (np.diff(curve) > 0).all()
    assert (curve < 1).all()


@pytest.mark.parametrize(
    ("share", "whole", "level", "limit", "words"),
    [
        (10.0, 12.0, "ok", 10, "within the 10 % aimed at"),
        (10.1, 12.0, "caution", 10, "within the limit of 15 % you set"),
        (9.0, 15.1, "caution", 15, "with the landing over the limit"),
        (15.0, 15.0, "caution", 10, "over the 10 % aimed at"),
        (15.1, 17.0, "stop", 15, "shorten or leave out spurs"),
    ],
)
def test_share_is_held_against_aim_and_limit(
    share: float, whole: float, level: str, limit: float, words: str
) -> None:
    summary = SoilSummary(10_000, 0, 0, 0, 0, 0, share, whole)
    found = soil.share_finding(area(square(100)), summary)
    assert (found.code, found.level, found.limit, found.unit) == ("soil_share", level, limit, "%")
    assert words in found.message
    assert f"{share:.1f} % of the stand" in found.message
    assert f"{whole:.1f} %" in found.message
    assert found.confirmed is False
    assert "unverified" in found.source


def test_the_limit_in_the_finding_is_the_users() -> None:
    strict = area(square(100), soil={"limit": "8 %", "aim": "5 %"})
    summary = SoilSummary(10_000, 0, 0, 0, 0, 0, 9.0, 9.0)
    assert soil.share_finding(strict, summary).level == "stop"
    gentler = replace(summary, share_pct=5.0, share_with_landing_pct=5.0)
    assert soil.share_finding(strict, gentler).level == "ok"
