"""Ground whose slope is known in closed form: planes, a cone, ramps, turned grids."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from layout import terrain
from layout.errors import InputError
from layout.grid import Dem

WEST_M, NORTH_M = 500_000.0, 4_500_000.0


def grid(
    east_pct: float = 0.0, north_pct: float = 0.0, cell_m: float = 1.0, cells: int = 60
) -> Dem:
    """Give a plane rising so many percent toward east and north."""
    step = (np.arange(cells) + 0.5) * cell_m
    z = 300 + 0.01 * east_pct * step[None, :] - 0.01 * north_pct * step[:, None]
    return Dem(z.astype(np.float32), WEST_M, NORTH_M, cell_m)


def rough(cells: int = 40, seed: int = 3) -> Dem:
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:cells, 0:cells]
    z = 100 + 5 * np.sin(row / 6) + 4 * np.cos(col / 5) + rng.normal(0, 0.3, row.shape)
    z[10:13, 20:22] = np.nan
    return Dem(z.astype(np.float32), 0.0, float(cells), 1.0)


PLANES = st.tuples(st.floats(-60, 60), st.floats(-60, 60))


@given(PLANES)
def test_a_plane_has_the_slope_it_was_given(plane: tuple[float, float]) -> None:
    east, north = plane
    slope = terrain.slope_pct(grid(east, north))[1:-1, 1:-1]
    np.testing.assert_allclose(slope, np.hypot(east, north), atol=0.01)


@pytest.mark.parametrize(
    ("east", "north", "faces"),
    [(0, -10, 0), (-10, 0, 90), (0, 10, 180), (10, 0, 270), (-10, -10, 45), (10, 10, 225)],
)
def test_a_plane_faces_downhill(east: float, north: float, faces: float) -> None:
    facing = terrain.aspect_deg(grid(east, north))[1:-1, 1:-1]
    np.testing.assert_allclose((facing - faces + 180) % 360, 180, atol=0.05)


def test_flat_ground_faces_nowhere() -> None:
    dem = grid()
    assert (terrain.slope_pct(dem)[1:-1, 1:-1] == 0).all()
    assert np.isnan(terrain.aspect_deg(dem)).all()


def test_a_cone_is_as_steep_all_round_and_faces_outward() -> None:
    cells = 201
    centre = cells / 2
    step = np.arange(cells) + 0.5
    east, south = np.meshgrid(step - centre, step - centre)
    far = np.hypot(east, south)
    dem = Dem((200 - 0.25 * far).astype(np.float32), 0.0, float(cells), 1.0)
    ring = (far > 20) & (far < 95)
    np.testing.assert_allclose(terrain.slope_pct(dem)[ring], 25, atol=0.05)
    outward = np.degrees(np.arctan2(east, -south)) % 360
    apart = (terrain.aspect_deg(dem) - outward + 180) % 360 - 180
    assert np.abs(apart[ring]).max() < 0.3


def test_slope_needs_all_eight_neighbours_and_the_cell_itself() -> None:
    dem = rough()
    known = np.isfinite(terrain.slope_pct(dem))
    gap = ~np.isfinite(dem.z)
    expected = np.zeros(dem.shape, dtype=bool)
    for row in range(1, 39):
        for col in range(1, 39):
            expected[row, col] = not gap[row - 1 : row + 2, col - 1 : col + 2].any()
    np.testing.assert_array_equal(known, expected)
    assert not np.isfinite(terrain.hillshade(dem))[~expected].any()


@pytest.mark.parametrize("size", [(1, 1), (2, 5), (0, 0)])
def test_a_grid_too_small_for_slope_is_not_known(size: tuple[int, int]) -> None:
    dem = Dem(np.zeros(size, np.float32), 0.0, 0.0, 1.0)
    assert np.isnan(terrain.slope_pct(dem)).all()
    assert terrain.build(dem).smooth.shape == size


@pytest.mark.parametrize("turns", [1, 2, 3])
@pytest.mark.parametrize("mirror", [False, True])
def test_turned_and_mirrored_ground_has_the_same_slope(turns: int, mirror: bool) -> None:
    dem = rough()

    def turned(a: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(np.rot90(a[:, ::-1] if mirror else a, turns))

    other = Dem(turned(dem.z), 0.0, 40.0, 1.0)
    np.testing.assert_allclose(terrain.slope_pct(other), turned(terrain.slope_pct(dem)), rtol=1e-9)
    np.testing.assert_allclose(
        terrain.smoothed(other).z, turned(terrain.smoothed(dem).z), rtol=1e-6
    )


@given(PLANES)
def test_smoothing_leaves_a_plane_with_a_gap_as_it_is(plane: tuple[float, float]) -> None:
    dem = grid(*plane, cells=30)
    z = dem.z.copy()
    z[5:9, 12:15] = np.nan
    smooth = terrain.smoothed(dem.with_z(z)).z
    np.testing.assert_array_equal(np.isnan(smooth), np.isnan(z))
    np.testing.assert_allclose(smooth[~np.isnan(z)], z[~np.isnan(z)], atol=2e-4)


def test_smoothing_is_the_gaussian_of_one_metre() -> None:
    # One raised cell spreads as exp(-d^2 / 2) over 2 pi, cell 1 m, sigma 1 m.
    z = np.zeros((21, 21), np.float32)
    z[10, 10] = 100.0
    smooth = terrain.smoothed(Dem(z, 0.0, 21.0, 1.0)).z
    assert smooth[10, 10] == pytest.approx(100 / (2 * np.pi), rel=2e-3)
    assert smooth[10, 12] / smooth[10, 10] == pytest.approx(np.exp(-2), rel=1e-4)


def test_coarse_cells_are_not_smoothed() -> None:
    dem = grid(20, 0, cell_m=5.0)
    assert terrain.build(dem).smooth is dem


def test_a_lone_known_cell_keeps_its_height() -> None:
    z = np.full((9, 9), np.nan, np.float32)
    z[4, 4] = 123.0
    assert terrain.smoothed(Dem(z, 0.0, 9.0, 1.0)).z[4, 4] == 123.0


def test_one_line_ramp_rising_from_the_landing_is_favourable() -> None:
    # Stored landing end first; it climbs 12 % eastward, so loads come downhill.
    ground = terrain.build(grid(east_pct=12))
    line = LineString([(WEST_M + 10, NORTH_M - 30), (WEST_M + 50, NORTH_M - 30)])
    there = terrain.station_table(ground, line, width_m=3.0)
    np.testing.assert_allclose(there.grade_pct, -12, atol=1e-3)
    np.testing.assert_allclose(there.cross_pct, 0, atol=1e-3)
    back = terrain.station_table(ground, line.reverse(), width_m=3.0)
    np.testing.assert_allclose(back.grade_pct, 12, atol=1e-3)
    np.testing.assert_allclose(there.at_m, np.arange(41))
    np.testing.assert_allclose(there.heading_rad, 0, atol=1e-9)


def test_the_higher_side_has_a_name() -> None:
    ground = terrain.build(grid(north_pct=15))  # eastbound, north is on the left and higher
    line = LineString([(WEST_M + 10, NORTH_M - 30), (WEST_M + 50, NORTH_M - 30)])
    there = terrain.station_table(ground, line, width_m=3.0)
    np.testing.assert_allclose(there.tilt_left, 15, atol=1e-3)
    back = terrain.station_table(ground, line.reverse(), width_m=3.0)
    np.testing.assert_allclose(back.tilt_left, -15, atol=1e-3)
    np.testing.assert_allclose(back.cross_pct, 15, atol=1e-3)


@given(PLANES, st.floats(-3.1, 3.1))
def test_grade_and_cross_slope_are_the_two_parts_of_a_plane(
    plane: tuple[float, float], heading: float
) -> None:
    ground = terrain.build(grid(*plane))
    x, y = WEST_M + 30, NORTH_M - 30
    along = plane[0] * np.cos(heading) + plane[1] * np.sin(heading)
    across = -plane[0] * np.sin(heading) + plane[1] * np.cos(heading)
    assert terrain.grade_at(ground, x, y, heading) == pytest.approx(-along, abs=0.01)
    assert terrain.tilt_at(ground, x, y, heading, 3.0) == pytest.approx(across, abs=0.02)
    assert terrain.cross_at(ground, x, y, heading, 3.0) == pytest.approx(abs(across), abs=0.02)


def test_station_table_and_single_points_agree_on_a_straight_line() -> None:
    dem = Dem(rough(80).z, WEST_M, NORTH_M, 1.0)
    ground = terrain.build(dem)
    line = LineString([(WEST_M + 30, NORTH_M - 60), (WEST_M + 70, NORTH_M - 20)])
    table = terrain.station_table(ground, line, width_m=3.6)
    inner = (table.at_m >= 5) & (table.at_m <= line.length - 5)
    alone = terrain.grade_at(ground, table.x, table.y, table.heading_rad)
    np.testing.assert_allclose(table.grade_pct[inner], alone[inner], atol=1e-6)
    np.testing.assert_allclose(
        table.cross_pct,
        terrain.cross_at(ground, table.x, table.y, table.heading_rad, 3.6),
        atol=1e-6,
    )


def test_grade_follows_the_line_round_a_bend_not_the_chord() -> None:
    # East 20 m on the level, then north 20 m up 10 %: 4 m past the bend the 10 m
    # window has 1 m on the level and 9 m of slope. Between the cells at the foot of
    # the slope the ground is 0.025 m high, a quarter of a percent here.
    cells = 60
    north = np.maximum(30.0 - (np.arange(cells) + 0.5), 0.0)[:, None]
    dem = Dem(np.repeat(100 + 0.1 * north, cells, axis=1).astype(np.float32), 0.0, 60.0, 1.0)
    line = LineString([(10, 30), (30, 30), (30, 50)])
    table = terrain.station_table(terrain.build(dem), line, width_m=2.0)
    assert table.grade_pct[24] == pytest.approx(-8.75, abs=0.01)
    assert table.grade_pct[10] == pytest.approx(0.0, abs=1e-6)


def test_the_window_stays_on_the_line_and_shrinks_with_it() -> None:
    ground = terrain.build(grid(east_pct=8))
    short = LineString([(WEST_M + 10, NORTH_M - 30), (WEST_M + 14.5, NORTH_M - 30)])
    table = terrain.station_table(ground, short, width_m=3.0)
    np.testing.assert_allclose(table.at_m, [0, 1, 2, 3, 4, 4.5])
    np.testing.assert_allclose(table.grade_pct, -8, atol=2e-3)


def test_beyond_the_elevations_nothing_is_claimed() -> None:
    ground = terrain.build(grid(east_pct=8))
    line = LineString([(WEST_M + 45, NORTH_M - 30), (WEST_M + 80, NORTH_M - 30)])
    table = terrain.station_table(ground, line, width_m=3.0)  # the last centre is at 59.5 m
    assert np.isfinite(table.grade_pct[table.at_m <= 9]).all()
    assert np.isnan(table.grade_pct[table.at_m >= 10]).all()
    assert np.isfinite(table.cross_pct[table.at_m <= 14]).all()
    assert np.isnan(table.cross_pct[table.at_m >= 15]).all()


def test_a_line_without_length_is_refused() -> None:
    ground = terrain.build(grid())
    with pytest.raises(InputError, match="no length; give at least two different points"):
        terrain.station_table(ground, LineString([(5, 5), (5, 5)]), width_m=3.0)


@pytest.mark.parametrize("interval", [0.0, -1.0, float("nan")])
def test_a_contour_interval_must_be_a_height(interval: float) -> None:
    with pytest.raises(InputError, match="give a height above 0"):
        terrain.contours(grid(10), interval)


def test_too_many_contours_are_refused() -> None:
    with pytest.raises(InputError, match="give a wider one"):
        terrain.contours(grid(60), 0.001)


def test_contours_of_a_plane_lie_where_its_height_is_theirs() -> None:
    # z = 300 + 0.1 * (x - west): the 302 m line lies 20 m east of the edge.
    drawn = terrain.contours(grid(east_pct=10), 1.0)
    assert [level for level, _ in drawn] == [301, 302, 303, 304, 305]
    lines = dict(drawn)[302]
    west, south, east, north = lines.bounds
    assert (west, east) == pytest.approx((WEST_M + 20, WEST_M + 20), abs=2e-3)
    assert north - south == pytest.approx(59)  # from the first cell centre to the last


def test_contours_stop_at_a_gap() -> None:
    dem = grid(east_pct=10)
    z = dem.z.copy()
    z[30, 15:25] = np.nan
    lines = dict(terrain.contours(dem.with_z(z), 1.0))[302]
    assert len(lines.geoms) == 2
    assert not terrain.contours(dem.with_z(np.full_like(z, np.nan)), 1.0)


def test_slope_classes_put_an_edge_with_the_steeper() -> None:
    classes = terrain.slope_classes(grid(east_pct=35), edges_pct=(10.0, 20.0))
    assert (classes[1:-1, 1:-1] == 2).all()
    assert (classes[0] == -1).all()
    level = terrain.slope_classes(grid(), edges_pct=(0.0, 20.0))
    assert (level[1:-1, 1:-1] == 1).all()
