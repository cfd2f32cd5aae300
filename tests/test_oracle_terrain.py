"""Slope, aspect and shade against gdaldem, GRASS and a published slope raster."""

from pathlib import Path

import numpy as np
import oracles
import pytest

from layout import terrain
from layout.grid import Dem


def generated() -> Dem:
    """Give rolling ground with noise and a gap, on 2 m cells."""
    rng = np.random.default_rng(7)
    row, col = np.mgrid[0:90, 0:120].astype(float)
    z = (
        200
        + 12 * np.sin(row / 17)
        + 9 * np.cos(col / 23)
        + 0.15 * col
        + rng.normal(0, 0.1, row.shape)
    )
    z[40:44, 60:63] = np.nan
    return Dem(z.astype(np.float32), west_m=400_000.0, north_m=5_100_000.0, cell_m=2.0)


GROUNDS = {"volcano": oracles.volcano, "generated": generated}


def turn_apart(ours: np.ndarray, theirs: np.ndarray) -> np.ndarray:
    return np.abs((ours - theirs + 180) % 360 - 180)


@pytest.mark.parametrize("ground", GROUNDS)
def test_slope_equals_gdaldem(ground: str, tmp_path: Path) -> None:
    dem = GROUNDS[ground]()
    theirs, ours = oracles.gdaldem("slope", dem, tmp_path, "-p"), terrain.slope_pct(dem)
    np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
    assert np.nanmax(np.abs(ours - theirs)) < 0.01  # gdaldem itself is off by up to 0.005
    assert np.nanmax(ours) > 30


@pytest.mark.parametrize("ground", GROUNDS)
def test_aspect_equals_gdaldem(ground: str, tmp_path: Path) -> None:
    dem = GROUNDS[ground]()
    theirs, ours = oracles.gdaldem("aspect", dem, tmp_path), terrain.aspect_deg(dem)
    np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
    assert np.nanmax(turn_apart(ours, theirs)) < 0.1


@pytest.mark.parametrize("ground", GROUNDS)
def test_shade_equals_gdaldem(ground: str, tmp_path: Path) -> None:
    dem = GROUNDS[ground]()
    theirs = oracles.gdaldem("hillshade", dem, tmp_path, "-az", "315", "-alt", "45")
    known = ~np.isnan(terrain.hillshade(dem)) & (theirs > 0)
    # gdaldem writes whole numbers, 1 for dark to 255 for bright.
    assert np.abs(1 + 254 * terrain.hillshade(dem) - theirs)[known].max() < 1.0


@pytest.mark.slow
@pytest.mark.parametrize("ground", GROUNDS)
def test_slope_and_aspect_equal_grass(ground: str, tmp_path: Path) -> None:
    dem = GROUNDS[ground]()
    slope, aspect = oracles.grass_slope_aspect(dem, tmp_path)
    ours = terrain.slope_pct(dem)
    np.testing.assert_array_equal(np.isnan(ours), np.isnan(slope))
    assert np.nanmax(np.abs(ours - slope)) < 1e-4
    # GRASS: counter-clockwise from east; ours: clockwise from north.
    facing = terrain.aspect_deg(dem)
    np.testing.assert_array_equal(np.isnan(facing), np.isnan(aspect))
    assert np.nanmax(turn_apart(facing, 90 - aspect)) < 0.1


@pytest.mark.slow
def test_slope_equals_the_published_raster_of_gorillas() -> None:
    # Published: spatstat.data, object gorillas.extra, slopeangle in degrees.
    data = oracles.gorillas()
    ours = np.degrees(np.arctan(terrain.slope_pct(data["dem"]) / 100))
    both = np.isfinite(ours) & np.isfinite(data["slope_deg"])
    apart = np.abs(ours - data["slope_deg"])[both]
    assert both.sum() > 20_000
    assert apart.max() < 1e-4
