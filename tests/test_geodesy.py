"""Lengths and areas on the projected grid against the ellipsoid.

The oracle is `pyproj.Geod`, geodesics on GRS 80 after Karney (2013). A projected
grid stretches: in a UTM zone by -0.04 % on its middle to +0.1 % at its edge.

Coordinates of elevations: a raster of any CRS holds, as its elevations, the east or
north coordinate its cells have in the area's CRS by PROJ. What is read must hold the
coordinates of its own cells.
"""

from pathlib import Path

import area_files as files
import numpy as np
import pyproj
import pytest
import shapely
from rasterio.transform import Affine
from shapely.geometry import LineString, Polygon, box

from layout.read_dem import open_dem, read_window

GEOD = pyproj.Geod(ellps="GRS80")
# Projected grid, and a place in it far from the zone's edge and near it.
PLACES = [
    ("EPSG:26918", 500_000.0, 4_700_000.0),
    ("EPSG:26918", 320_000.0, 4_500_000.0),
    ("EPSG:26915", 690_000.0, 5_100_000.0),
    ("EPSG:25832", 430_000.0, 5_300_000.0),
]


@pytest.mark.parametrize(("crs", "x", "y"), PLACES)
def test_length_and_area_are_within_a_thousandth(crs: str, x: float, y: float) -> None:
    back = pyproj.Transformer.from_crs(crs, pyproj.CRS(crs).geodetic_crs, always_xy=True)
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    far = 180 + 40 * np.sin(3 * angle)
    ring = np.column_stack([x + far * np.cos(angle), y + far * np.sin(angle)])
    stand, trail = Polygon(ring), LineString(ring[:60])

    on_earth = shapely.transform(stand, back.transform, interleaved=False)
    area, _ = GEOD.geometry_area_perimeter(on_earth)
    assert stand.area == pytest.approx(abs(area), rel=1e-3)

    on_earth = shapely.transform(trail, back.transform, interleaved=False)
    length = GEOD.geometry_length(on_earth)
    assert trail.length == pytest.approx(length, rel=1e-3)
    assert trail.length != pytest.approx(length, rel=1e-7)  # the two are not one reckoning


# CRS of a raster, a place in it (degrees), its cell in units of the CRS, its turn.
RASTERS = [
    ("EPSG:4269", -75.0, 44.2, 1e-5, 0.0),  # degrees
    ("EPSG:4269", -77.9, 44.2, 9e-5, 0.0),  # the zone's edge, cells of 10 m
    ("EPSG:4258", 11.9, 61.0, 2e-5, 0.0),
    ("EPSG:3857", -75.3, 44.2, 1.4, 0.0),  # a web map
    ("EPSG:2261", -76.5, 42.9, 3.0, 0.0),  # New York Central, US feet
    ("EPSG:26918", -74.2, 41.0, 1.0, 0.3),  # turned by 17 degrees
    ("EPSG:2193", 174.0, -41.3, 1.0, 0.0),  # the other half of the Earth, read as it lies
]


@pytest.mark.parametrize(("crs", "lon", "lat", "cell", "turn"), RASTERS)
def test_elevations_lie_within_a_centimetre(
    crs: str, lon: float, lat: float, cell: float, turn: float, tmp_path: Path
) -> None:
    own = pyproj.CRS(crs)
    to_own = pyproj.Transformer.from_crs(own.geodetic_crs, own, always_xy=True)
    x0, y0 = to_own.transform(lon, lat)
    n = 240
    a, d = cell * np.cos(turn), cell * np.sin(turn)
    transform = Affine(a, d, x0 - (a + d) * n / 2, d, -a, y0 - (d - a) * n / 2)
    col, row = np.meshgrid(np.arange(n) + 0.5, np.arange(n) + 0.5)
    t = transform
    x, y = t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f
    files.write_dem(tmp_path / "head.tif", np.zeros((n, n), "f4"), crs=crs, transform=transform)
    target = open_dem("head.tif", "dem:", tmp_path, None).target
    move = pyproj.Transformer.from_crs(own, target, always_xy=True)
    middle = np.array(move.transform(x0, y0))
    reach = 40 * max(1.0, float(np.abs(np.diff(move.transform(x, y)[1][:2, 0])[0])))
    stand = box(*(middle - reach), *(middle + reach))
    for axis, coordinate in enumerate(move.transform(x, y)):
        z = (500 + coordinate - middle[axis]).astype(np.float32)
        files.write_dem(tmp_path / "a.tif", z, crs=crs, transform=transform)
        raster = open_dem("a.tif", "dem:", tmp_path, None)
        dem, _ = read_window(raster, stand, 10.0, stand, None)
        assert np.isfinite(dem.z).all()
        lies = np.meshgrid(*dem.centres())[axis] - middle[axis] + 500
        np.testing.assert_allclose(dem.z, lies, atol=0.01)
