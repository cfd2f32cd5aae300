"""Water strips on ground where their width is known in closed form."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiLineString, Point, Polygon, box
from water_ground import NORTH_M, WEST_M, area_with, contour_line, plane, strips_of

from layout import water
from layout.errors import InputError
from layout.grid import Dem
from layout.outlines import outline
from layout.site import WaterFeature

FOOT_M = 0.3048  # exact by definition
MILLIMETRE = 1e-3
STEPS = """format = 1
name = "ours"
title = "t"
jurisdiction = "j"
local_name = "l"
status = "s"
"""


def brook(line: list[tuple[float, float]], name: str = "brook", bank: float = 2.0) -> WaterFeature:
    return WaterFeature(name, "perennial", LineString(line), bank)


def codes(strips: water.Strips) -> list[str]:
    return sorted(f.code for f in strips.findings)


def assert_strip(
    strips: water.Strips,
    far_m: np.ndarray,
    width_m: float,
    cell_m: float,
    where: np.ndarray,
    slack_m: float = 2 * MILLIMETRE,
) -> None:
    """Hold the closed cells against a strip of known width, half a cell on the wide side."""
    narrow = where & (far_m <= width_m - slack_m)
    wide = where & (far_m <= width_m + 0.5 * cell_m + slack_m)
    assert narrow.any()
    assert strips.inside[narrow].all()
    assert not strips.inside[where & ~wide].any()
    edge = where & (np.abs(far_m - width_m) < 1.5 * cell_m) & (far_m > cell_m)
    np.testing.assert_allclose(strips.required_m[edge], width_m, atol=max(0.02, slack_m))


# ---------------------------------------------------------------- closed forms


@pytest.mark.parametrize("cell_m", [1.0, 2.0, 5.0])
@pytest.mark.parametrize("uphill_deg", [0.0, 37.0, -120.0])
@pytest.mark.parametrize("slope_pct", [5.0, 27.0, 45.0])
def test_a_stream_along_the_contour_of_a_plane(
    cell_m: float, uphill_deg: float, slope_pct: float
) -> None:
    # The strip asked by 50 + 2 (S - 10) ft along the ground, for instance 84 ft and
    # 81.1 ft on the map at 27 %; below the stream the ground falls away, so S counts 0.
    dem, uphill = plane(slope_pct, uphill_deg, cell_m)
    body = brook(contour_line(dem, uphill_deg), bank=3.0)
    strips = strips_of(area_with(dem, body, rules=("slope-50-2-over-10",)))
    level = 1 / np.hypot(1, slope_pct / 100)
    far = np.abs(uphill) - 1.5
    # Only cells whose nearest bank lies on the grid: beyond, its height is not known.
    turn, (west, south, east, north) = np.radians(uphill_deg), dem.bounds
    x, y = np.meshgrid(*dem.centres())
    bank_x, bank_y = x - uphill * np.cos(turn), y - uphill * np.sin(turn)
    seen = (bank_x > west + 9) & (bank_x < east - 9) & (bank_y > south + 9) & (bank_y < north - 9)
    above = (50 + 2 * max(0.0, slope_pct - 10)) * FOOT_M * level
    assert_strip(strips, far, above, cell_m, seen & (uphill > 0))
    assert_strip(strips, far, 50 * FOOT_M * level, cell_m, seen & (uphill < 0) & (far > 10))


def test_the_back_face_takes_its_own_floor() -> None:
    # Buxton: 25 ft where the ground slopes away, 75 + 2 (S rounded up - 10) ft above.
    dem, uphill = plane(18.0)
    body = brook(contour_line(dem, 90.0))
    strips = strips_of(area_with(dem, body, rules=("slope-75-2-over-10",)))
    far = np.abs(uphill) - 1.0
    assert_strip(strips, far, 95 * FOOT_M, 1.0, uphill > 0)
    # Nearer than 3 elevation errors of drop (0.45 m in 2.5 m) nothing counts as falling away.
    assert_strip(strips, far, 25 * FOOT_M, 1.0, (uphill < 0) & (far > 3))


def test_noise_on_a_flat_does_not_make_a_back_face() -> None:
    rng = np.random.default_rng(5)
    z = 100 + rng.normal(0, 0.15, (160, 160))
    dem = Dem(z.astype(np.float32), WEST_M, NORTH_M, 1.0)
    body = brook(contour_line(dem, 90.0))
    strips = strips_of(area_with(dem, body, rules=("slope-75-2-over-10",)))
    far = np.abs(np.arange(160) + 0.5 - 80) - 1.0
    assert strips.inside[far <= 75 * FOOT_M].mean() > 0.995  # 25 ft rows would be 3 in 10


def test_a_cone_above_a_round_pond() -> None:
    cells, slope = 201, 30.0
    step = np.arange(cells) + 0.5 - cells / 2
    east, north = np.meshgrid(step, -step)
    radius = np.hypot(east, north)
    dem = Dem((100 + 0.01 * slope * radius).astype(np.float32), WEST_M, NORTH_M, 1.0)
    middle = Point(WEST_M + cells / 2, NORTH_M - cells / 2)
    pond = WaterFeature("pond", "pond", middle.buffer(25, quad_segs=200))
    strips = strips_of(area_with(dem, pond, rules=("slope-50-4",)))
    width = 170 * FOOT_M / np.hypot(1, 0.3)
    assert_strip(strips, radius - 25, width, 1.0, radius > 27)
    assert strips.inside[radius < 25].all() and strips.water[radius < 25].all()
    assert not strips.water[radius > 26].any()
    assert (strips.distance_m[radius < 24.9] == 0).all()


def test_distance_is_that_of_the_bank_not_of_cells() -> None:
    dem, _ = plane(20.0, cells=120)
    bend = LineString([(WEST_M + 10, NORTH_M - 20), (WEST_M + 60, NORTH_M - 75.3)]).union(
        LineString([(WEST_M + 60, NORTH_M - 75.3), (WEST_M + 111, NORTH_M - 40)])
    )
    body = WaterFeature("brook", "perennial", bend, 2.5)
    strips = strips_of(area_with(dem, body, rules=("slope-50-2-over-10",)))
    x, y = np.meshgrid(*dem.centres())
    exact = shapely.distance(water.bank_shape(body), shapely.points(x, y))
    near = np.isfinite(strips.required_m)
    np.testing.assert_allclose(strips.distance_m[near], exact[near], atol=0.13)
    away = near & (exact > 5)  # samples a quarter cell apart: (1/8)^2 / 2 / 5 m
    np.testing.assert_allclose(strips.distance_m[away], exact[away], atol=2 * MILLIMETRE)
    # Beyond the reach of every strip it is only that of cells.
    assert (~near).any()
    np.testing.assert_allclose(strips.distance_m[~near], exact[~near], atol=1.0)
    assert (strips.nearest_m <= strips.distance_m).all()
    np.testing.assert_array_equal(water.cells_near_water(strips, 30), strips.nearest_m <= 30)


def test_steps_of_bank_slope() -> None:
    # Kentucky: the bank itself, read over 50 ft, is 20 %, so 55 ft along the ground;
    # on the other side it is 10 %: 25 ft.
    north = np.abs(np.arange(160) + 0.5 - 80)
    z = np.repeat((100 + north * 0.1)[:, None], 160, axis=1)
    z[:80] = np.repeat((100 + np.minimum(north, 20.0) * 0.2)[:80, None], 160, axis=1)
    dem = Dem(z.astype(np.float32), WEST_M, NORTH_M, 1.0)
    body = brook(contour_line(dem, 90.0), bank=0.02)
    strips = strips_of(area_with(dem, body, rules=("kentucky-warm-water",)))
    far = np.repeat(north[:, None] - 0.01, 160, axis=1)
    rows = np.arange(160)[:, None] + np.zeros(160)
    assert_strip(strips, far, 55 * FOOT_M / np.hypot(1, 0.2), 1.0, (rows < 80), 0.05)
    assert_strip(strips, far, 25 * FOOT_M / np.hypot(1, 0.1), 1.0, (rows >= 80), 0.05)


def test_the_slope_of_a_bank_is_not_that_of_the_ground_beyond() -> None:
    # 15.5 % for 50 ft and level beyond: the bank asks 55 ft, though from 16 m off the
    # ground as a whole falls less than 15 % to the water, which would ask 25 ft.
    north = np.abs(np.arange(160) - 79.0)
    z = np.repeat((100 + 0.155 * np.minimum(north, 50 * FOOT_M))[:, None], 160, axis=1)
    dem = Dem(z.astype(np.float32), WEST_M, NORTH_M, 1.0)
    body = brook([(WEST_M - 50, NORTH_M - 79.5), (WEST_M + 250, NORTH_M - 79.5)], bank=0.02)
    strips = strips_of(area_with(dem, body, rules=("kentucky-warm-water",)))
    assert strips.inside[79 - 16, 80]
    assert not strips.inside[79 - 18, 80]


# ---------------------------------------------------------------- several at once


def test_the_stricter_of_two_rules_wins_cell_by_cell() -> None:
    # 50 + 4 S passes 75 + 2 (S - 10) at gentle slopes and not on the level.
    for slope, name in ((0.0, "slope-75-2-over-10"), (30.0, "slope-50-4")):
        dem, _ = plane(slope)
        body = brook(contour_line(dem, 90.0))
        both = strips_of(area_with(dem, body, rules=("slope-75-2-over-10", "slope-50-4")))
        alone = [
            strips_of(area_with(dem, body, rules=(rule,)))
            for rule in ("slope-75-2-over-10", "slope-50-4")
        ]
        np.testing.assert_array_equal(both.inside, alone[0].inside | alone[1].inside)
        assert name in both.polygons[0].rule


def test_the_stricter_of_two_streams_wins_though_it_is_farther() -> None:
    # A level bench beside one stream, and a steep fall from it to another.
    cells = 160
    far = np.arange(cells) + 0.5  # metres south of the northern edge
    z = np.where(far < 60, 130.0, 130 - 0.6 * (far - 60))
    dem = Dem(np.repeat(z[:, None], cells, 1).astype(np.float32), WEST_M, NORTH_M, 1.0)
    ends = (WEST_M - 50, WEST_M + 250)
    upper = brook([(e, NORTH_M - 20) for e in ends], "upper")
    lower = brook([(e, NORTH_M - 100) for e in ends], "lower")
    both = strips_of(area_with(dem, upper, lower, rules=("slope-50-4",)))
    alone = [strips_of(area_with(dem, b, rules=("slope-50-4",))) for b in (upper, lower)]
    np.testing.assert_array_equal(both.inside, alone[0].inside | alone[1].inside)
    # At 58 m it is 37 m to the upper and 41 m to the lower stream; 57 % asks 278 ft.
    row = 57
    assert both.inside[row, 80] and not alone[0].inside[row, 80]
    assert both.governing[row, 80] == 1
    assert both.distance_m[row, 80] == pytest.approx(99 - 57.5, abs=MILLIMETRE)
    assert both.nearest_m[row, 80] == pytest.approx(57.5 - 21, abs=MILLIMETRE)
    assert [p.feature_id for p in both.polygons] == ["upper", "lower"]


# ---------------------------------------------------------------- ropes


def test_no_rope_enters_a_strip_whose_rule_does_not_say() -> None:
    dem, _ = plane(20.0)
    body = brook(contour_line(dem, 90.0))
    strips = strips_of(area_with(dem, body, rules=("slope-50-4",)))
    np.testing.assert_array_equal(strips.no_cable, strips.inside)
    assert "strip_winching_unknown" in codes(strips)


def test_a_rope_may_enter_as_far_as_a_rule_says(tmp_path: Path) -> None:
    row = """[[row]]
water_class = "perennial"
a_ft = 100
no_cut_ft = 30
cable_may_enter = true
bank_trees_leave = true
measured = "map"
status = "rule"
source = "typed for a test"
confirmed = true
"""
    (tmp_path / "ours.toml").write_text(STEPS + row, encoding="utf-8")
    dem, uphill = plane(0.0)
    body = brook(contour_line(dem, 90.0))
    strips = strips_of(area_with(dem, body, rules=("ours.toml",), folder=tmp_path))
    far = np.abs(uphill) - 1.0
    assert_strip(strips, far, 100 * FOOT_M, 1.0, far > 0)
    np.testing.assert_array_equal(strips.no_cable, far <= 30 * FOOT_M + 0.5)
    assert codes(strips) == []
    # A second rule that does not say takes it back.
    both = strips_of(area_with(dem, body, rules=("ours.toml", "slope-50-4"), folder=tmp_path))
    np.testing.assert_array_equal(both.no_cable, far <= 50 * FOOT_M + 0.5)


def test_trails_come_nearer_only_where_machines_and_bare_soil_are_both_spoken_of(
    tmp_path: Path,
) -> None:
    row = """[[row]]
water_class = "perennial"
a_ft = 100
no_machine_ft = 15
measured = "map"
status = "rule"
source = "typed for a test"
confirmed = true
"""
    dem, uphill = plane(0.0)
    body = brook(contour_line(dem, 90.0))
    far = np.abs(uphill) - 1.0
    for more, feet in (("", 100), ("no_bare_soil_ft = 25\n", 25)):
        (tmp_path / "ours.toml").write_text(STEPS + row + more, encoding="utf-8")
        strips = strips_of(area_with(dem, body, rules=("ours.toml",), folder=tmp_path))
        assert_strip(strips, far, feet * FOOT_M, 1.0, far > 0)
        np.testing.assert_array_equal(strips.no_cable, far <= 100 * FOOT_M + 0.5)


# ---------------------------------------------------------------- kinds of water


def test_without_water_there_is_nothing_but_a_word() -> None:
    dem, _ = plane(20.0, cells=30)
    strips = strips_of(area_with(dem))
    for mask in (strips.water, strips.inside, strips.no_cable):
        assert mask.shape == dem.shape and not mask.any()
    assert np.isinf(strips.distance_m).all() and np.isnan(strips.required_m).all()
    assert strips.polygons == ()
    assert "no_water_mapped" in codes(strips)
    assert water.water_distance(area_with(dem), Point(WEST_M, NORTH_M)) is None
    assert water.strip_distance(strips, Point(WEST_M, NORTH_M)) is None
    assert not water.cells_near_water(strips, 1e6).any()


def test_without_a_rule_every_strip_is_unverified() -> None:
    dem, uphill = plane(20.0)
    strips = strips_of(area_with(dem, brook(contour_line(dem, 90.0))))
    assert_strip(strips, np.abs(uphill) - 1.0, 65 * FOOT_M, 1.0, uphill > 0)
    (finding,) = (f for f in strips.findings if f.code == "no_local_rule")
    assert "no local rule chosen" in finding.message and not finding.confirmed
    assert not strips.polygons[0].confirmed
    assert any("unverified" in f.message for f in strips.findings)


def test_only_rows_in_use_are_told_as_unverified(tmp_path: Path) -> None:
    row = """[[row]]
water_class = "perennial"
a_ft = {0}
{1} = 35
measured = "map"
status = "rule"
source = "typed for a test"
confirmed = {2}
"""
    gentle, steep = (
        row.format(50, "slope_max_pct", "true"),
        row.format(100, "slope_min_pct", "false"),
    )
    (tmp_path / "ours.toml").write_text(STEPS + gentle + steep, encoding="utf-8")
    for slope, confirmed in ((10.0, True), (50.0, False)):
        dem, _ = plane(slope)
        body = brook(contour_line(dem, 90.0))
        strips = strips_of(area_with(dem, body, rules=("ours.toml",), folder=tmp_path))
        assert strips.polygons[0].confirmed is confirmed
        assert ("rule_unverified" in codes(strips)) is not confirmed


def test_an_unknown_class_is_kept_as_perennial() -> None:
    dem, uphill = plane(0.0)
    body = WaterFeature("seep", "rill", LineString(contour_line(dem, 90.0)))
    strips = strips_of(area_with(dem, body, rules=("indiana",)))
    assert_strip(strips, np.abs(uphill) - 5 * FOOT_M, 50 * FOOT_M, 1.0, np.abs(uphill) > 3)
    (finding,) = (f for f in strips.findings if f.code == "water_class_not_in_rule")
    assert 'does not speak of water_class "rill"; it is kept as perennial' in finding.message
    assert "bank_width_assumed" in codes(strips)


def test_the_class_decides_the_width() -> None:
    dem, uphill = plane(0.0)
    body = WaterFeature("run", "intermittent", LineString(contour_line(dem, 90.0)), 1.0)
    strips = strips_of(area_with(dem, body, rules=("indiana",)))
    assert_strip(strips, np.abs(uphill) - 0.5, 25 * FOOT_M, 1.0, np.abs(uphill) > 1)


@pytest.mark.parametrize("width", [None, float("nan"), 0.0])
def test_a_perennial_line_without_a_width_is_given_one(width: float | None) -> None:
    dem, uphill = plane(0.0)
    body = WaterFeature("b", "perennial", LineString(contour_line(dem, 90.0)), width)
    strips = strips_of(area_with(dem, body, rules=("indiana",)))
    assert_strip(strips, np.abs(uphill) - 5 * FOOT_M, 50 * FOOT_M, 1.0, np.abs(uphill) > 3)
    (finding,) = (f for f in strips.findings if f.code == "bank_width_assumed")
    assert "10 ft (3 m) from bank to bank is assumed" in finding.message


@pytest.mark.parametrize(("water_class", "wet"), [("spring", True), ("well", False)])
def test_a_well_or_spring_no_rule_speaks_of_keeps_a_fixed_distance(
    water_class: str, wet: bool
) -> None:
    dem, _ = plane(30.0)
    place = Point(WEST_M + 80.2, NORTH_M - 80.4)
    body = WaterFeature("supply", water_class, place)
    strips = strips_of(area_with(dem, body, rules=("indiana",)))
    x, y = np.meshgrid(*dem.centres())
    far = np.hypot(x - place.x, y - place.y)
    assert_strip(strips, far, 164.05 * FOOT_M, 1.0, far > 1)
    assert strips.water.any() == wet
    assert (water.water_distance(area_with(dem, body), Point(WEST_M, NORTH_M)) is None) != wet
    (finding,) = (f for f in strips.findings if f.code == "water_class_not_in_rule")
    assert "unverified" in finding.message and not finding.confirmed


def test_collections_of_lines_and_polygons() -> None:
    dem, _ = plane(10.0, cells=100)
    line = LineString([(WEST_M + 10, NORTH_M - 10), (WEST_M + 40, NORTH_M - 10)])
    pool = box(WEST_M + 60, NORTH_M - 90, WEST_M + 70, NORTH_M - 80)
    mixed = WaterFeature("mixed", "perennial", GeometryCollection([line, pool]), 2.0)
    apart = (brook(list(line.coords)), WaterFeature("pool", "perennial", pool))
    together = strips_of(area_with(dem, mixed, rules=("indiana",)))
    split = strips_of(area_with(dem, *apart, rules=("indiana",)))
    np.testing.assert_array_equal(together.inside, split.inside)
    empty = WaterFeature("empty", "perennial", MultiLineString())
    none = strips_of(area_with(dem, empty, rules=("indiana",)))
    assert not none.inside.any() and none.polygons == ()


def test_an_island_is_measured_from_its_own_shore() -> None:
    dem, _ = plane(0.0, cells=120)
    x, y = np.meshgrid(*dem.centres())
    middle = Point(WEST_M + 60, NORTH_M - 60)
    lake = WaterFeature("lake", "pond", middle.buffer(58).difference(middle.buffer(30)))
    strips = strips_of(area_with(dem, lake, rules=("slope-50-2-over-10",)))
    from_middle = np.hypot(x - middle.x, y - middle.y)
    assert not strips.inside[from_middle < 30 - 50 * FOOT_M - 1].any()
    assert strips.inside[(from_middle > 30 - 50 * FOOT_M) & (from_middle < 58)].all()


def test_a_grid_that_is_all_water() -> None:
    dem, _ = plane(0.0, cells=20)
    lake = WaterFeature("lake", "pond", box(*dem.bounds).buffer(5000))
    strips = strips_of(area_with(dem, lake, rules=("slope-50-4",)))
    assert strips.inside.all() and strips.water.all()
    assert (strips.distance_m == 0).all()


def test_water_beside_the_grid_closes_ground_on_it() -> None:
    # The bank runs 5 m outside the grid; the strip is 50 ft, so 10.24 m are on it.
    dem, _ = plane(0.0, cells=60)
    outside = brook([(WEST_M - 100, NORTH_M + 6), (WEST_M + 200, NORTH_M + 6)])
    strips = strips_of(area_with(dem, outside, rules=("slope-50-2-over-10",)))
    far = 5 + np.arange(60) + 0.5
    np.testing.assert_array_equal(strips.inside[:, 30], far <= 50 * FOOT_M + 0.5)
    assert "bank_off_elevations" in codes(strips)
    gone = brook([(WEST_M - 100, NORTH_M + 600), (WEST_M + 200, NORTH_M + 600)])
    assert not strips_of(area_with(dem, gone, rules=("slope-50-4",))).inside.any()


def test_a_pond_without_elevations_still_has_a_slope_to_it() -> None:
    dem, uphill = plane(27.0)
    z = dem.z.copy()
    z[np.abs(uphill) < 3] = np.nan
    body = brook(contour_line(dem, 90.0), bank=6.0)
    strips = strips_of(area_with(dem.with_z(z), body, rules=("slope-50-2-over-10",)))
    # The nearest known ground is up to half a cell from the bank: 0.14 m of 25 m.
    width = 84 * FOOT_M / np.hypot(1, 0.27)
    far = np.abs(uphill) - 3.0
    assert strips.inside[(uphill > 0) & (far <= width - 0.5)].all()
    assert not strips.inside[(uphill > 0) & (far > width + 1)].any()


def test_a_rule_that_is_not_there_is_refused() -> None:
    dem, _ = plane(0.0, cells=20)
    with pytest.raises(InputError, match='no rule "nowhere"'):
        strips_of(area_with(dem, rules=("nowhere",)))


# ---------------------------------------------------------------- polygons and places


def test_polygons_cover_every_closed_cell() -> None:
    dem, _ = plane(25.0, 37.0)
    t = np.linspace(-20, 180, 90)
    wave = np.column_stack([WEST_M + t, NORTH_M - 80 - 30 * np.sin(t / 25)])
    bodies = (
        WaterFeature("wave", "perennial", LineString(wave), 2.0),
        WaterFeature("spring", "spring", Point(WEST_M + 120, NORTH_M - 20)),
    )
    strips = strips_of(area_with(dem, *bodies, rules=("slope-50-4",)))
    drawn = shapely.union_all([p.shape for p in strips.polygons])
    row, col = np.nonzero(strips.inside)
    west, north = WEST_M + col, NORTH_M - row
    cells = shapely.union_all(shapely.box(west, north - 1, west + 1, north))
    assert drawn.covers(cells)
    assert all(p.shape.is_valid for p in strips.polygons)
    assert cells.buffer(1.001, join_style="mitre").covers(drawn)
    assert shapely.get_num_coordinates(drawn) < 0.5 * shapely.get_num_coordinates(cells)


@given(st.integers(0, 10_000), st.floats(0.2, 0.8))
@hypothesis_settings(max_examples=40)
def test_an_outline_never_loses_a_cell(seed: int, share: float) -> None:
    rng = np.random.default_rng(seed)
    mask = rng.random((14, 17)) < share
    dem = Dem(np.zeros(mask.shape, np.float32), 100.0, 900.0, 2.0)
    drawn = outline(mask, dem)
    row, col = np.nonzero(mask)
    west, north = 100 + 2 * col, 900 - 2 * row
    cells = shapely.union_all(shapely.box(west, north - 2, west + 2, north))
    assert drawn.is_valid
    assert drawn.covers(cells)
    assert cells.buffer(2.001, join_style="mitre").covers(drawn)


def test_an_outline_straightens_a_staircase() -> None:
    mask = np.tri(20, dtype=bool)
    dem = Dem(np.zeros(mask.shape, np.float32), 0.0, 20.0, 1.0)
    (triangle,) = outline(mask, dem).geoms
    assert len(triangle.exterior.coords) <= 6
    assert triangle.area == pytest.approx(mask.sum() + 19 * 0.5)
    assert outline(np.zeros((3, 3), bool), dem).is_empty


def test_distances_of_a_landing() -> None:
    dem, _ = plane(0.0)
    body = brook(contour_line(dem, 90.0))
    area = area_with(dem, body, rules=("slope-50-2-over-10",))
    strips = strips_of(area)
    landing = box(WEST_M + 20, NORTH_M - 30, WEST_M + 50, NORTH_M - 10)  # 35 m from the line
    assert water.water_distance(area, landing) == pytest.approx(34.0)
    # The strip ends 50 ft from the bank; drawn on cells it may reach a cell farther.
    beside = water.strip_distance(strips, landing)
    assert beside is not None
    assert 34 - 50 * FOOT_M - 1 <= beside <= 34 - 50 * FOOT_M
    wet = Polygon([(WEST_M, NORTH_M), (WEST_M + 9, NORTH_M), (WEST_M + 9, NORTH_M - 90)])
    assert water.water_distance(area, wet) == 0
    assert water.strip_distance(strips, wet) == 0


# ---------------------------------------------------------------- turned ground


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
@pytest.mark.parametrize("mirror", [False, True])
def test_turned_and_mirrored_ground_has_the_same_strips(turns: int, mirror: bool) -> None:
    rng = np.random.default_rng(11)
    cells = 90
    row, col = np.mgrid[0:cells, 0:cells]
    z = 100 + 9 * np.sin(row / 11.3) + 7 * np.cos(col / 9.1) + rng.normal(0, 0.1, row.shape)
    line = np.array([(3.2, 11.1), (31.7, 40.3), (52.9, 38.8), (86.4, 77.7)])  # from the middle
    line -= 45
    spring = np.array([[21.3, -17.9]])

    def turned(a: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(np.rot90(a[:, ::-1] if mirror else a, turns))

    def moved(points: np.ndarray) -> np.ndarray:
        x, y = (-points[:, 0] if mirror else points[:, 0]), points[:, 1]
        for _ in range(turns):
            x, y = -y, x
        return np.column_stack([x, y])

    def lay(heights: np.ndarray, brook_at: np.ndarray, spring_at: np.ndarray) -> water.Strips:
        dem = Dem(heights.astype(np.float32), -45.0, 45.0, 1.0)
        bodies = (
            WaterFeature("brook", "perennial", LineString(brook_at), 1.7),
            WaterFeature("spring", "spring", Point(spring_at[0])),
        )
        return strips_of(area_with(dem, *bodies, rules=("slope-50-4", "slope-75-2-over-10")))

    here, there = lay(z, line, spring), lay(turned(z), moved(line), moved(spring))
    np.testing.assert_array_equal(there.inside, turned(here.inside))
    np.testing.assert_array_equal(there.no_cable, turned(here.no_cable))
    np.testing.assert_array_equal(there.governing, turned(here.governing))
    np.testing.assert_allclose(there.distance_m, turned(here.distance_m), atol=MILLIMETRE)
