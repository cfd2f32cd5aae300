"""How water runs: cones, planes and valleys whose answer is arithmetic; kettles, gaps, edges."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely.geometry import LineString

from layout import flow
from layout.grid import Dem

ROOT = Path(__file__).parents[1]
SIZE = 61


def dem_of(z: np.ndarray, cell_m: float = 2.0) -> Dem:
    return Dem(np.ascontiguousarray(z, dtype=np.float32), 400_000.0, 5_100_000.0, cell_m)


def coordinates(cell_m: float = 2.0, size: int = SIZE) -> tuple[np.ndarray, np.ndarray]:
    """Give x to the east and y to the south of the middle cell, metres."""
    south, east = np.mgrid[:size, :size].astype(float)
    half = size // 2
    return (east - half) * cell_m, (south - half) * cell_m


def ends(water: flow.Flow) -> np.ndarray:
    """Give the flat indices at which water ends or leaves."""
    return np.flatnonzero(water.downstream == np.arange(water.downstream.size))


def test_a_cone_sheds_all_its_water_outward_within_half_an_eighth_of_a_turn() -> None:
    x, y = coordinates()
    water = flow.flow(dem_of(500 - 0.3 * np.hypot(x, y)))
    assert water.basins == ()
    there = water.downstream
    inner = (np.hypot(x, y).ravel() > 16) & (there != np.arange(there.size))
    way = np.arctan2(y.ravel()[there] - y.ravel(), x.ravel()[there] - x.ravel())[inner]
    radial = np.arctan2(y.ravel(), x.ravel())[inner]
    off = np.degrees(np.abs(np.angle(np.exp(1j * (way - radial)))))
    # steepest of eight: half of 45 degrees, and a little for the curve of the cone's rings
    assert off.max() < 22.5 + 4
    assert water.area_m2.ravel()[ends(water)].sum() == pytest.approx(SIZE**2 * 4)
    assert ends(water).size > SIZE  # shed all round, not at one place


def test_a_funnel_gathers_every_cell_in_the_middle_and_is_kept_as_a_basin() -> None:
    x, y = coordinates()
    water = flow.flow(dem_of(100 + 0.3 * np.hypot(x, y)))
    assert len(water.basins) == 1
    basin = water.basins[0]
    # the rim is lowest where it is nearest: the middles of the four sides, 60 m off
    assert basin.depth_m == pytest.approx(0.3 * 60, rel=1e-5)
    assert basin.area_m2 == pytest.approx(np.pi * 60**2, rel=0.02)
    middle = (SIZE // 2) * SIZE + SIZE // 2
    assert water.area_m2.ravel()[middle] == SIZE**2 * 4
    assert ends(water).tolist() == [middle]


def test_a_valley_of_two_planes_drains_its_width_times_its_length() -> None:
    x, y = coordinates()
    # sides fall 30 % to the middle line, which falls 3 % to the south: water leaves a
    # side along its rows, since 3/30 is less than the tangent of 22.5 degrees
    water = flow.flow(dem_of(200 + 0.30 * np.abs(x) - 0.03 * y))
    along = water.area_m2[:, SIZE // 2]
    np.testing.assert_allclose(along, np.arange(1, SIZE + 1) * SIZE * 4.0)
    # 8,000 m2 are 122 m of width times 65.6 m of length: the channel begins in row 33
    lines = flow.streams(water, 8000.0)
    assert len(lines) == 1
    head = int(np.ceil(8000 / (SIZE * 4))) - 1
    dem = water.dem
    xs, ys = dem.centres()
    np.testing.assert_allclose(lines[0].xy[:, 0], xs[SIZE // 2])
    np.testing.assert_allclose(lines[0].xy[:, 1], ys[head:])
    assert lines[0].area_m2[0] == (head + 1) * SIZE * 4
    assert lines[0].area_m2[-1] == SIZE * SIZE * 4
    assert flow.streams(water, SIZE * SIZE * 4 + 1.0) == ()


def test_lines_that_meet_end_where_they_meet_with_their_own_area() -> None:
    x, y = coordinates()
    # two gullies that run together in the middle, and one below
    across = np.abs(np.abs(x) - 0.5 * np.maximum(-y, 0.0))
    water = flow.flow(dem_of(200 + 0.3 * across - 0.08 * y))
    lines = flow.streams(water, 1500.0)
    area = water.area_m2.ravel()
    for line in lines:
        assert (np.diff(line.area_m2) >= 0).all()
    meeting = {tuple(line.xy[-1]) for line in lines} & {tuple(line.xy[0]) for line in lines}
    for spot in meeting:
        arriving = [line.area_m2[-1] for line in lines if tuple(line.xy[-1]) == spot]
        leaving = [line.area_m2[0] for line in lines if tuple(line.xy[0]) == spot]
        assert len(arriving) >= 2
        assert len(leaving) == 1
        assert sum(arriving) <= leaving[0]
    assert meeting
    assert area.max() <= SIZE**2 * 4


def kettle(depth_m: float, radius_m: float, cell_m: float = 2.0, at_x: float = 0.0) -> np.ndarray:
    """Sink a bowl with a sharp rim into a slope of 10 %, so deep below its lowest rim."""
    x, y = coordinates(cell_m)
    slope = 0.10 * -y
    out = np.hypot(x - at_x, y)
    rim = -0.10 * radius_m  # where the slope leaves the bowl
    bowl = rim - depth_m * (1 - (out / radius_m) ** 2)
    return 300 + np.where(out < radius_m, np.minimum(slope, bowl), slope)


@pytest.mark.parametrize(
    ("depth_m", "radius_m", "error_m", "kept"),
    [
        (2.0, 16.0, 0.15, True),
        (0.51, 16.0, 0.15, True),
        (0.49, 16.0, 0.15, False),  # under half a metre: noise
        (0.89, 16.0, 0.30, False),  # under three errors of the elevations
        (2.0, 4.0, 0.15, False),  # a stump hole
    ],
)
def test_a_kettle_is_kept_and_noise_is_filled(
    depth_m: float, radius_m: float, error_m: float, kept: bool
) -> None:
    water = flow.flow(dem_of(kettle(depth_m, radius_m)), error_m=error_m)
    assert len(water.basins) == int(kept)
    inner = np.setdiff1d(ends(water), np.flatnonzero(_border()))
    assert inner.size == int(kept)
    if kept:
        basin = water.basins[0]
        assert basin.depth_m == pytest.approx(depth_m, abs=1e-3)
        assert (basin.x, basin.y) == pytest.approx((400_000 + 61, 5_100_000 - 61), abs=0.1)
        assert basin.floor.sum() * 4 < basin.area_m2


def _border() -> np.ndarray:
    out = np.ones((SIZE, SIZE), dtype=bool)
    out[1:-1, 1:-1] = False
    return out


def test_a_kettle_stops_the_water_of_the_slope_above_it() -> None:
    plain, holed = (
        flow.flow(dem_of(z)) for z in (300 - 0.10 * coordinates()[1], kettle(2.0, 16.0))
    )
    below = (SIZE - 1, SIZE // 2)
    assert plain.area_m2[below] == SIZE * 4
    assert holed.area_m2[below] < plain.area_m2[below] - 60


def test_basins_within_a_basin_are_each_kept() -> None:
    x, y = coordinates()
    two = np.minimum(np.hypot(x - 24, y), np.hypot(x + 24, y))
    water = flow.flow(dem_of(100 + 0.2 * two + 0.05 * np.hypot(x, y)))
    places = sorted((round(b.x - 400_061), round(b.y - 5_099_939)) for b in water.basins)
    assert places == [(-24, 0), (24, 0)]


def test_a_mapped_stream_that_leaves_a_basin_drains_it() -> None:
    dem = dem_of(kettle(2.0, 16.0))
    through = LineString([(400_061, 5_100_000), (400_061, 5_099_880)])
    ends_in_it = LineString([(400_061, 5_100_000), (400_061, 5_099_939)])
    assert flow.flow(dem, passing=[through]).basins == ()
    assert len(flow.flow(dem, passing=[ends_in_it]).basins) == 1


def test_water_leaves_over_the_edge_of_a_large_gap_and_passes_a_small_one() -> None:
    x, y = coordinates()
    valley = 200 + 0.30 * np.abs(x) - 0.03 * y
    lost, gap = valley.copy(), valley.copy()
    lost[30, 30] = np.nan
    gap[26:34, 26:34] = np.nan
    whole, bridged, holed = (flow.flow(dem_of(z)) for z in (valley, lost, gap))
    assert bridged.area_m2[-1, 30] == pytest.approx(whole.area_m2[-1, 30], rel=0.01)
    assert np.isnan(holed.area_m2[30, 30])
    assert holed.area_m2[-1, 30] <= 27 * SIZE * 4  # nothing from above the gap
    assert holed.from_edge[-1, 30]
    assert np.isfinite(holed.area_m2).sum() == SIZE**2 - 64


@given(st.floats(0, 360), st.sampled_from([0.02, 0.2, 0.9]))
def test_water_of_a_plane_does_not_gather_along_the_edge(degrees: float, slope: float) -> None:
    x, y = coordinates(size=41)
    turn = np.radians(degrees)
    z = 300 - slope * (np.cos(turn) * x + np.sin(turn) * y)
    water = flow.flow(dem_of(z))
    assert water.basins == ()
    # parallel lines, none longer than the grid; where the plane falls exactly between two
    # of the eight ways, rounding lets a few of them meet
    assert np.nanmax(water.area_m2) <= 4 * 41 * 4


heights = arrays(
    np.float32,
    (12, 15),
    elements=st.sampled_from([0.0, 0.25, 0.5, 1.0, 3.0, float("nan"), -2.0, 411.3]),
)


@given(heights)
def test_all_water_reaches_an_end_whatever_the_ground(z: np.ndarray) -> None:
    water = flow.flow(dem_of(z, 10.0))
    known = np.isfinite(water.area_m2)
    np.testing.assert_array_equal(known & np.isfinite(z), np.isfinite(z))
    if known.any():
        there = water.downstream
        assert (there[known.ravel()] >= 0).all()
        assert (there[~known.ravel()] == -1).all()
        total = water.area_m2.ravel()[ends(water)].sum()
        assert total == pytest.approx(known.sum() * 100.0)


def test_nothing_known_gives_nothing() -> None:
    water = flow.flow(dem_of(np.full((5, 6), np.nan)))
    assert np.isnan(water.area_m2).all()
    assert water.basins == ()
    assert flow.streams(water, 1.0) == ()


def test_elevations_near_zero_and_below_drain_as_the_same_ground_high_up() -> None:
    x, y = coordinates()
    ground = 0.07 * np.hypot(x + 11, y) + np.sin(x / 9) - 0.11 * y
    low, high = (flow.flow(dem_of(ground + lift)) for lift in (-3.0, 509.0))
    assert (low.downstream == high.downstream).mean() > 0.995  # but for rounding


def test_wetness_of_a_plane_is_its_length_over_its_slope() -> None:
    # Beven & Kirkby: ln(a / tan b), a the length of slope above where contours are straight
    _, y = coordinates(1.0, 120)
    coarse, index = flow.wetness(dem_of(300 - 0.1 * y, 1.0))
    assert coarse.cell_m == 5.0
    rows = np.arange(24)
    expected = np.log((rows + 1) * 5.0 / 0.1)
    np.testing.assert_allclose(index[1:-1, 12], expected[1:-1], rtol=1e-4)


def test_level_ground_has_an_end_to_its_wetness() -> None:
    _, index = flow.wetness(dem_of(np.full((60, 60), 12.0), 1.0))
    assert np.nanmax(index) <= np.log(60 * 60 / 5.0 / flow.LEAST_TAN)


@pytest.mark.skipif(sys.platform == "win32", reason="no folder is read-only to its owner there")
def test_it_loads_where_nothing_can_be_written(tmp_path: Path) -> None:
    bare = {k: v for k, v in os.environ.items() if k in {"PATH", "TMPDIR"}}
    bare |= {"PYTHONPATH": str(ROOT), "HOME": "/dev/null"}  # even root makes no folder in a file
    script = (
        "import layout.flow, pyflwdir.core_d8 as d8, layout.kernels as k\n"
        "print(d8.drdc.stats.cache_path.startswith(str(k.CACHE_FOLDER)), k.CACHE_FOLDER)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], env=bare, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("True")
    assert "skidway-kernels-" in done.stdout
