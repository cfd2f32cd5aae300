"""Where the map lies in the world, against the geodesy of PROJ."""

from pathlib import Path

import numpy as np
import pyproj
import pytest

from layout.area import read_area
from layout.drawing.desk import Desk
from layout.drawing.ground_read import ground_read
from layout.drawing.world_places import lonlat, tiles_fit

AREA = Path(__file__).parent / "data" / "metric_area"
TILES = "https://tiles.example/{z}/{x}/{y}.png"
SIDE_M = 283.0  # of a square of 8 ha


@pytest.mark.parametrize(
    ("epsg", "x", "y"),
    [(26918, 480_000.0, 4_700_000.0), (32633, 560_000.0, 5_400_000.0), (25835, 300_000.0, 7.7e6)],
)
def test_a_straight_fit_is_true_to_a_metre_on_8_ha(epsg: int, x: float, y: float) -> None:
    crs = pyproj.CRS.from_epsg(epsg)
    bounds = (x, y, x + SIDE_M, y + SIDE_M)
    fit = tiles_fit(crs, bounds)
    assert fit is not None
    within = np.random.default_rng(1).uniform(0, SIDE_M, (2, 500))
    gx, gy = x + within[0], y + within[1]
    wx, wy = pyproj.Transformer.from_crs(crs, 3857, always_xy=True).transform(gx, gy)
    for (a, b, c, d, e, f), px, py, qx, qy in (
        (fit["to"], gx, gy, wx, wy),
        (fit["from"], wx, wy, gx, gy),
    ):
        assert np.hypot(a * px + b * py + c - qx, d * px + e * py + f - qy).max() < 1.0


def test_corners_lie_where_the_ellipsoid_puts_them() -> None:
    """The side of a square of the grid is as long on the ellipsoid, but for the grid's scale."""
    crs = pyproj.CRS.from_epsg(32633)
    corners = lonlat(crs, (500_000.0, 5_400_000.0, 501_000.0, 5_401_000.0))
    assert corners is not None
    assert corners[0][0] == pytest.approx(15.0, abs=1e-6)  # the central meridian of zone 33
    geod = pyproj.Geod(ellps="WGS84")
    for k in range(4):
        *_, length = geod.inv(*corners[k], *corners[(k + 1) % 4])
        assert length == pytest.approx(1000.0 / 0.9996, abs=0.05)  # UTM: 0.9996 on the meridian
    assert corners[1][0] > corners[0][0] and corners[3][1] > corners[0][1]


def test_a_grid_of_no_place_in_the_world_has_none() -> None:
    local = pyproj.CRS.from_wkt(
        'LOCAL_CS["a grid of our own",LOCAL_DATUM["ours",0],UNIT["metre",1],'
        'AXIS["x",EAST],AXIS["y",NORTH]]'
    )
    assert lonlat(local, (0.0, 0.0, 9.0, 9.0)) is None
    assert tiles_fit(local, (0.0, 0.0, 9.0, 9.0)) is None


def test_the_page_is_told_and_of_tiles_only_where_there_are_some() -> None:
    ground = ground_read(read_area(AREA))
    without, given = Desk(ground).area({}), Desk(ground, TILES).area({})
    assert len(without["lonlat"]["corners"]) == 4
    assert "tiles_fit" not in without
    assert [len(given["tiles_fit"][way]) for way in ("to", "from")] == [6, 6]
