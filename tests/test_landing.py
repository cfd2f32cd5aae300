"""Landings on planes, bowls and saddles."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_ground import (
    SOUTH,
    WEST,
    area_of,
    at,
    landing_of,
    line,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from shapely.geometry import MultiPolygon, Point, Polygon, box

from layout import landing
from layout.errors import InputError
from layout.findings import Finding
from layout.records import Landing
from layout.site import Area, Hazard, WaterFeature
from layout.terrain import Terrain
from layout.water import Strips

FT = 0.3048
GOOD = terrain_of(lambda x, y: 100 + 0.03 * x)
SITE = landing_of(200, 200)


def judged(
    terrain: Terrain = GOOD,
    site: Landing = SITE,
    area: Area | None = None,
    strips: Strips | None = None,
) -> list[Finding]:
    return landing.check(area or area_of(terrain), terrain, strips or strips_of(terrain), site)


def levels(found: list[Finding], code: str) -> list[str]:
    return [f.level for f in found if f.code == code]


def only(found: list[Finding], code: str) -> Finding:
    hits = [f for f in found if f.code == code]
    assert len(hits) == 1, [f.message for f in found]
    return hits[0]


# --- measures -------------------------------------------------------------------------------


@pytest.mark.parametrize("cell_m", [1.0, 2.5, 5.0])
@pytest.mark.parametrize("shape", ["square", "turned", "small"])
def test_the_plane_of_a_plane_is_that_plane(cell_m: float, shape: str) -> None:
    ground = terrain_of(lambda x, y: 300 + 0.03 * x - 0.04 * y, cell_m)
    outline: Polygon = {
        "square": SITE.shape,
        "turned": Polygon([at(180, 200), at(200, 185), at(225, 200), at(200, 230)]),
        "small": Point(at(200, 200)).buffer(3),
    }[shape]
    plane = landing.plane_of(ground.dem, outline)
    assert plane is not None
    assert plane.slope_pct == pytest.approx(5, abs=1e-6)
    assert plane.downhill_rad == pytest.approx(math.atan2(0.04, -0.03), abs=1e-6)
    centre = outline.centroid
    height = 300 + 0.03 * (centre.x - WEST) - 0.04 * (centre.y - SOUTH)
    assert plane.z_m == pytest.approx(height, abs=1e-6)
    assert plane.rough_m == pytest.approx(0, abs=1e-6)


def test_roughness_is_the_rms_of_what_is_left() -> None:
    ground = terrain_of(lambda x, y: 100 + 0.2 * np.sin(x * math.pi / 3.125), 0.5)
    plane = landing.plane_of(ground.dem, SITE.shape)
    assert plane is not None and plane.slope_pct < 1.0
    assert plane.rough_m == pytest.approx(0.2 / math.sqrt(2), rel=0.1)


def test_measure() -> None:
    water = (
        WaterFeature("far", "pond", Point(at(200, 300)).buffer(5)),
        WaterFeature("near", "perennial", line((100, 250), (300, 250))),
    )
    made = landing.measure(area_of(GOOD, water=water), GOOD, strips_of(GOOD), SITE.shape)
    assert (made.landing_id, made.x, made.y) == ("L1", *at(200, 200))
    assert made.slope_pct == pytest.approx(3)
    assert made.water_m == pytest.approx(37.5)
    dry = landing.measure(area_of(GOOD), GOOD, strips_of(GOOD), SITE.shape, "L2")
    assert (dry.landing_id, dry.water_m) == ("L2", None)


def test_the_middle_of_a_bent_landing_lies_on_it() -> None:
    bent = box(*at(180, 180), *at(230, 230)).difference(box(*at(190, 190), *at(230, 230)))
    made = landing.measure(area_of(GOOD), GOOD, strips_of(GOOD), bent)
    assert bent.contains(Point(made.x, made.y))


def test_a_gap_is_unknown() -> None:
    holed = terrain_of(lambda x, y: np.where(np.hypot(x - 205, y - 205) < 3, np.nan, 100 + 0 * x))
    assert landing.plane_of(holed.dem, SITE.shape) is None
    made = landing.measure(area_of(holed), holed, strips_of(holed), SITE.shape)
    assert math.isnan(made.slope_pct)
    assert levels(judged(holed), "landing_slope") == ["unknown"]


def test_an_outline_that_crosses_itself_is_refused() -> None:
    bow = Polygon([at(0, 0), at(10, 10), at(10, 0), at(0, 10)])
    with pytest.raises(InputError, match="crosses itself"):
        landing.measure(area_of(GOOD), GOOD, strips_of(GOOD), bow)


# --- slope and hollows ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("slope", "level"),
    [
        (0.0, "caution"),
        (0.0199, "caution"),
        (0.02, "ok"),
        (0.05, "ok"),
        (0.0501, "caution"),
        (0.08, "caution"),
        (0.0801, "stop"),
        (0.3, "stop"),
    ],
)
def test_slope_tiers(slope: float, level: str) -> None:
    # east and north at once, in the shares 3 : 4
    ground = terrain_of(lambda x, y: 100 + slope * (0.6 * x + 0.8 * y))
    found = only(judged(ground), "landing_slope")
    assert found.level == level
    assert found.value == pytest.approx(100 * slope, abs=1e-6)


@pytest.mark.parametrize(
    ("height", "in_draw"),
    [
        (lambda x, y: 100 + 0.03 * y, False),
        (lambda x, y: 100 + 0.03 * y + 0.08 * np.abs(x - 200), True),  # a draw
        (lambda x, y: 100 + 0.03 * y + 0.08 * np.abs(x - y) / math.sqrt(2), True),  # slantwise
        (lambda x, y: 100 + 0.03 * y + 0.04 * np.abs(x - 200), False),  # too shallow
        (lambda x, y: 100 + 0.03 * y - 0.08 * np.abs(x - 200), False),  # a ridge
        (lambda x, y: 100 + 0.002 * ((x - 200) ** 2 + (y - 200) ** 2), True),  # a bowl
        (lambda x, y: 100 + 0.003 * ((x - 200) ** 2 - (y - 200) ** 2), False),  # a saddle
    ],
)
def test_draws(height: Any, in_draw: bool) -> None:
    found = judged(terrain_of(height))
    assert bool(levels(found, "landing_draw")) == in_draw


def test_a_draw_at_the_edge_of_the_grid_is_unknown() -> None:
    edge = landing_of(25, 25)
    assert levels(judged(site=edge), "landing_draw") == ["unknown"]


# --- what lies near -------------------------------------------------------------------------


@pytest.mark.parametrize(("gap", "levels_"), [(15.3, []), (15.2, ["stop"]), (-2.0, ["stop"])])
def test_fifty_feet_outside_the_strip(gap: float, levels_: list[str]) -> None:
    strip = box(*at(212.5 + gap, 100), *at(250, 300))
    found = judged(strips=strips_of(GOOD, strip))
    assert levels(found, "landing_strip") == levels_
    if levels_:
        hit = only(found, "landing_strip")
        assert hit.value == pytest.approx(max(gap, 0))
        assert ("reaches into" in hit.message) == (gap < 0)


def test_a_seep_above_is_a_caution_and_one_below_is_not() -> None:
    for x, expected in ((230, ["caution"]), (170, []), (250, [])):
        water = (WaterFeature("s", "spring", Point(at(x, 200))),)
        assert levels(judged(area=area_of(GOOD, water=water)), "landing_seep") == expected


def test_land_setback_and_keep_out() -> None:
    assert {f.code for f in judged() if f.level == "stop"} == set()
    out = landing_of(20, 200)
    codes = {f.code for f in judged(site=out) if f.level == "stop"}
    assert codes == {"landing_outside", "landing_setback"}
    field = MultiPolygon([box(*at(0, 100), *at(10, 300))])
    allowed = judged(site=out, area=area_of(GOOD, may_use=field))
    assert not [f for f in allowed if f.code in ("landing_outside", "landing_setback")]
    closed = area_of(GOOD, keep_out=(box(*at(210, 190), *at(220, 210)),))
    assert levels(judged(area=closed), "landing_keep_out") == ["stop"]


def test_setback_takes_the_line_error() -> None:
    property_line = box(*at(160, 5), *at(395, 395))
    for error, expected in (("80 ft", []), ("100 ft", ["stop"])):
        settings = settings_of(property={"line": "p.gpkg", "error": error})
        area = area_of(GOOD, settings, property_line=property_line)
        assert levels(judged(area=area), "landing_setback") == expected


@pytest.mark.parametrize(
    ("kind", "gap", "stops"),
    [
        ("wire", 0.0, True),
        ("wire", 14.0, True),
        ("wire", 16.0, False),
        ("well", 30.0, True),
        ("well", 31.0, False),
        ("pipe", 7.0, True),
        ("road", 1.0, False),
        ("unheard_of", 30.0, True),
    ],
)
def test_hazards(kind: str, gap: float, stops: bool) -> None:
    hazard = Hazard("h1", kind, line((212.5 + gap, 150), (212.5 + gap, 250)))
    found = judged(area=area_of(GOOD, hazards=(hazard,)))
    assert levels(found, "landing_hazard") == (["stop"] if stops else [])


def test_hazard_trees_that_stay() -> None:
    rows = [
        {"x": 250, "y": 200, "hazard": "dead_top", "height_m": 20.0},
        {"x": 253, "y": 200, "hazard": "dead_top", "height_m": 20.0},
        {"x": 220, "y": 200, "hazard": "dead_top", "height_m": 20.0, "marked": True},
        {"x": 256, "y": 200, "hazard": "split", "height_m": math.nan},
    ]
    found = judged(area=area_of(GOOD, trees=trees_of(rows)))
    near = [f.message for f in found if f.code == "landing_hazard_tree"]
    assert len(near) == 2 and "T1" in near[0] and "T4" in near[1]
    assert "72 ft" in near[1]  # three alike of 20 m were measured: a tenth more, 22 m


# --- room and roads -------------------------------------------------------------------------


def test_size_and_truck() -> None:
    small = landing_of(200, 200, 10)
    found = only(judged(site=small), "landing_small")
    assert found.value == pytest.approx(400) and "0.10 acre" in found.message
    assert not levels(judged(), "landing_small")
    assert only(judged(), "landing_truck").value == pytest.approx(12.5, abs=0.05)
    wide = landing_of(200, 200, 16.6)
    assert not levels(judged(site=wide), "landing_truck")


def test_road() -> None:
    assert only(judged(), "landing_road").level == "unknown"
    beside = area_of(GOOD, access_road=(line((220, 100), (220, 300)),))
    assert only(judged(area=beside), "landing_road").level == "ok"
    ramp = terrain_of(lambda x, y: 100 + 0.12 * y + 0.04 * (x - 200))
    for y, level in ((300, "ok"), (310, "caution")):  # 87.5 and 97.5 m away at 12 %
        area = area_of(ramp, access_road=(line((150, y), (250, y)),))
        found = only(judged(ramp, area=area), "landing_road")
        assert found.level == level
        assert found.value == pytest.approx(12, abs=0.5)
        assert ("has to wind" in found.message) == (level == "caution")
    off = area_of(GOOD, access_road=(line((200, 450), (300, 450)),))
    assert only(judged(area=off), "landing_road").level == "unknown"


@pytest.mark.parametrize(
    ("points", "extract", "expected"),
    [
        ([(200, 212.5), (200, 300)], "log", []),
        ([(200, 200), (200, 300)], "log", []),
        ([(200, 212.5), (200, 218), (240, 258)], "log", ["caution"]),
        ([(200, 212.5), (200, 224), (240, 264)], "log", []),
        ([(200, 212.5), (200, 224), (240, 264)], "tree", ["caution"]),
        ([(200, 200), (205, 206), (200, 212.5), (200, 300)], "log", []),  # bends on the landing
        ([(200, 212.5), (200, 216)], "log", ["unknown"]),
    ],
)
def test_run_in(points: list[tuple[float, float]], extract: str, expected: list[str]) -> None:
    area = area_of(GOOD, settings_of(work={"extract": extract}))
    found = landing.check_run_in(area, GOOD, strips_of(GOOD), SITE, line(*points))
    assert [f.level for f in found] == expected


def test_what_was_not_looked_at() -> None:
    said = only(judged(), "landing_not_looked_at")
    assert said.level == "unknown"
    for word in ("wires", "wells", "buried", "sight distance"):
        assert word in said.message
    mapped = area_of(GOOD, hazards=(Hazard("h", "road", line((0, 0), (0, 9))),))
    assert "wires" not in only(judged(area=mapped), "landing_not_looked_at").message
    assert "buried" in only(judged(area=mapped), "landing_not_looked_at").message


def test_only_the_outline_is_trusted() -> None:
    steep = terrain_of(lambda x, y: 100 + 0.12 * y)
    rosy = replace(SITE, slope_pct=3.0, water_m=500.0)
    assert levels(judged(steep, rosy), "landing_slope") == ["stop"]


def test_nothing_is_called_safe() -> None:
    steep = terrain_of(lambda x, y: 100 + 0.12 * y + 0.1 * np.abs(x - 20))
    for finding in judged(steep, landing_of(20, 30)):
        assert "safe" not in finding.message.lower()
        assert finding.source and finding.message.startswith("Landing L1: ")
