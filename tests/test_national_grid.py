"""The US National Grid against places whose names are published."""

import math

import pyproj
import pytest

from layout.outputs.coordinates import spoken
from layout.outputs.national_grid import BANDS, ROWS, national_grid
from layout.settings import LonLat

PUBLISHED = [
    # FGDC-STD-011-2001's own example, the Washington Monument: 18S UJ 23480 06470 (from memory)
    (18, 38.8895, 323_480.0, 4_306_470.0, "18S UJ 2348 0647"),
    # Statue of Liberty, 18T WL 80735 04695: a much quoted example of the grid (from memory)
    (18, 40.6892, 580_735.0, 4_504_695.0, "18T WL 8073 0469"),
    # Honolulu, zone 4, an even one: 4Q FJ (from memory: MGRS of Honolulu is 4QFJ 12345 67890)
    (4, 21.3099, 612_345.0, 2_367_890.0, "4Q FJ 1234 6789"),
]


@pytest.mark.parametrize(("zone", "lat", "east", "north", "said"), PUBLISHED)
def test_published_places(zone: int, lat: float, east: float, north: float, said: str) -> None:
    assert national_grid(zone, lat, east, north) == said


@pytest.mark.parametrize("lon", [-123.4, -100.0, -93.01, -75.2, -66.0])
@pytest.mark.parametrize("lat", [19.0, 25.4, 32.01, 44.0, 48.9, 64.0])
def test_letters_and_figures_lead_back_to_the_place(lon: float, lat: float) -> None:
    """Read back by the other way round: letters to squares, latitude to the cycle of rows."""
    said = spoken(LonLat(lon=lon, lat=lat), pyproj.CRS.from_epsg(26918)).national
    gzd, square, east_said, north_said = said.split()
    zone = int(gzd[:-1])
    column = "ABCDEFGHJKLMNPQRSTUVWXYZ".index(square[0]) % 8 + 1
    row = (ROWS.index(square[1]) - (5 if zone % 2 == 0 else 0)) % 20
    back = pyproj.Transformer.from_crs(f"EPSG:{32600 + zone}", "EPSG:4326", always_xy=True)
    east = column * 100_000 + int(east_said) * 10 + 5
    norths = [cycle * 2_000_000 + row * 100_000 + int(north_said) * 10 + 5 for cycle in range(5)]
    places = [back.transform(east, north) for north in norths]
    near = min(places, key=lambda place: abs(place[1] - lat))
    assert near[0] == pytest.approx(lon, abs=2e-4)
    assert near[1] == pytest.approx(lat, abs=1e-4)
    assert BANDS.index(gzd[-1]) == math.floor((lat + 80) / 8)


def test_no_name_at_the_poles_or_across_the_ocean() -> None:
    assert national_grid(31, 85.0, 500_000.0, 9_400_000.0) == ""
    assert spoken(LonLat(lon=10.0, lat=50.0), pyproj.CRS.from_epsg(32632)).national == ""
