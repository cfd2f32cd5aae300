"""Lengths and areas on the projected grid against the ellipsoid.

The oracle is `pyproj.Geod`, geodesics on GRS 80 after Karney (2013). A projected
grid stretches: in a UTM zone by -0.04 % on its middle to +0.1 % at its edge.
"""

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import LineString, Polygon

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
