"""Where layers land: every kind of file to a centimetre, and how far off a walk is."""

import math
from pathlib import Path

import area_files as files
import numpy as np
import phone_files as phone
import pyproj
import pytest
import shapely
from made_layers import (
    EDGE,
    W,
    read,
    settings_of,
    walk,
)
from shapely.geometry import (
    Point,
    Polygon,
)

from layout.owner_lines import widened
from layout.read_vector import read_layer

# ---------------------------------------------------------------- coordinates


def transverse_mercator(lon: float, lat: float) -> tuple[float, float]:
    """Give easting and northing in UTM zone 18 on WGS 84, by Krüger's series to the fourth order.

    Karney 2011, Transverse Mercator with an accuracy of a few nanometers, eqs 7 to 14 and 35.
    """
    a, f = 6_378_137.0, 1 / 298.257223563
    n = f / (2 - f)
    radius = a / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    alpha = (
        n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16 + 41 * n**4 / 180,
        13 * n**2 / 48 - 3 * n**3 / 5 + 557 * n**4 / 1440,
        61 * n**3 / 240 - 103 * n**4 / 140,
        49561 * n**4 / 161280,
    )
    e = math.sqrt(f * (2 - f))
    sine, turn = math.sin(math.radians(lat)), math.radians(lon + 75)
    t = math.sinh(math.atanh(sine) - e * math.atanh(e * sine))
    xi = math.atan2(t, math.cos(turn))
    eta = math.asinh(math.sin(turn) / math.hypot(t, math.cos(turn)))
    east = eta + sum(
        k * math.cos(2 * j * xi) * math.sinh(2 * j * eta) for j, k in enumerate(alpha, start=1)
    )
    north = xi + sum(
        k * math.sin(2 * j * xi) * math.cosh(2 * j * eta) for j, k in enumerate(alpha, start=1)
    )
    return 500_000 + 0.9996 * radius * east, 0.9996 * radius * north


CORNERS = [(-75.0104, 44.2493), (-75.0021, 44.2488), (-75.0018, 44.2551), (-75.0099, 44.2547)]
MEANT = [transverse_mercator(*corner) for corner in CORNERS]


def kml_ring(path: Path) -> None:
    ring = " ".join(f"{a},{b},0" for a, b in [*CORNERS, CORNERS[0]])
    polygon = (
        "<Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )
    path.write_text(phone.KML.format(polygon), encoding="utf-8")


def gpx_ring(path: Path) -> None:
    points = "".join(f'<rtept lat="{b}" lon="{a}"/>' for a, b in [*CORNERS, CORNERS[0]])
    path.write_text(phone.GPX.format(f"<rte>{points}</rte>"), encoding="utf-8")


def write_degrees(path: Path) -> None:
    if path.suffix == ".kml":
        kml_ring(path)
    elif path.suffix == ".gpx":
        gpx_ring(path)
    else:
        files.write_layer(path, [Polygon(CORNERS)], crs="EPSG:4326")


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "shp", "fgb", "gpx", "kml"])
def test_degrees_of_every_kind_of_file_land_within_a_centimetre(
    ending: str, tmp_path: Path
) -> None:
    write_degrees(tmp_path / f"w.{ending}")
    taken = read_layer(tmp_path, f"w.{ending}", W, "polygon", phone.GRID)
    ring = np.array(taken.shapes[0].exterior.coords)
    for corner in MEANT:
        assert np.hypot(*(ring - corner).T).min() < 0.01
    assert len(np.unique(ring.round(3), axis=0)) == 4
    assert taken.accuracy_m == 0.0  # the same datum


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "shp", "fgb", "gpx", "kml"])
def test_degrees_of_a_phone_on_another_datum_carry_two_metres_of_doubt(
    ending: str, tmp_path: Path
) -> None:
    write_degrees(tmp_path / f"w.{ending}")
    taken = read_layer(tmp_path, f"w.{ending}", W, "polygon", pyproj.CRS.from_epsg(26918))
    assert taken.accuracy_m == 2.0
    (said,) = [f for f in taken.findings if f.code == "crs_shift"]
    assert said.message == (
        f"w.{ending} is on WGS 84 and the area on NAD83; between them a place may be off by 2.0 m."
    ).replace("w.gpkg", "w.gpkg:w")
    ring = np.array(taken.shapes[0].exterior.coords)
    for corner in MEANT:  # the datums are taken for one
        assert np.hypot(*(ring - corner).T).min() < 0.01


@pytest.mark.parametrize("ending", ["gpkg", "geojson", "shp", "fgb"])
def test_metres_come_back_to_the_millimetre(ending: str, tmp_path: Path) -> None:
    files.write_layer(tmp_path / f"w.{ending}", [Polygon(MEANT)], crs="EPSG:32618")
    taken = read_layer(tmp_path, f"w.{ending}", W, "polygon", phone.GRID)
    assert shapely.equals_exact(taken.shapes[0].normalize(), Polygon(MEANT).normalize(), 0.001)
    assert (taken.accuracy_m, taken.findings) == (0.0, ())


def test_the_worked_example_of_the_us_geological_survey(tmp_path: Path) -> None:
    # Snyder 1987, Map Projections, Professional Paper 1395, Transverse Mercator, Clarke 1866:
    # 40 deg 30 min N, 73 deg 30 min W is x 127,106.5 m from the middle, y 4,484,124.4 m.
    files.write_layer(tmp_path / "w.gpkg", [Point(-73.5, 40.5)], crs="EPSG:4267")
    taken = read_layer(tmp_path, "w.gpkg", W, "point", pyproj.CRS.from_epsg(26718))
    (place,) = taken.shapes
    assert (place.x - 500_000, place.y) == (
        pytest.approx(127_106.5, abs=0.05),
        pytest.approx(4_484_124.4, abs=0.05),
    )


# ---------------------------------------------------------------- how far off a walk is


@pytest.mark.parametrize(
    ("more", "error_m"),
    [
        ("", None),
        # DRMS = HDOP x range error of 5 m (from memory); twice that holds 95 to 98 in 100
        # (National Research Council 1995, The Global Positioning System, appendix).
        ("<hdop>1.5</hdop>", 15.0),
        ("<hdop>99.99</hdop>", 999.9),
        ("<hdop>100</hdop>", None),  # no fix
        ("<extensions><accuracy>4.5</accuracy></extensions>", 9.0),
        ("<hdop>1</hdop><extensions><accuracy>4.5</accuracy></extensions>", 9.0),
    ],
)
def test_what_a_receiver_says_of_its_error(
    more: str, error_m: float | None, tmp_path: Path
) -> None:
    name = walk(phone.track("edge", EDGE, more=more))(tmp_path)
    taken = read(tmp_path, name)
    assert taken.walked
    assert taken.error_m == (None if error_m is None else pytest.approx(error_m))


@pytest.mark.parametrize(
    ("source", "walked_m", "error_m", "told"),
    [
        ("walked", {"stand.boundary": None}, 9.144, ""),
        ("tax_map", {"stand.boundary": None}, 9.144, ""),
        ("survey", {}, 0.6096, ""),
        ("survey", {"property.line": None}, 0.6096, ""),  # not the line that counts
        ("survey", {"stand.boundary": None}, 9.144,
         "[stand] boundary was walked with a phone or receiver, so it is taken as known to 9.1 m "
         "(ours, no source), not to 0.6 m."),
        ("walked", {"stand.boundary": 15.0}, 15.0,
         "[stand] boundary was walked with a phone or receiver, so it is taken as known to 15 m "
         "(its receiver's own figures), not to 9.1 m."),
    ],
)  # fmt: skip
def test_a_walked_line_is_known_no_better_than_a_walk(
    source: str, walked_m: dict[str, float | None], error_m: float, told: str
) -> None:
    wider, found = widened(settings_of(property={"source": source}), {}, walked_m)
    assert wider.property.error_m == pytest.approx(error_m)
    assert [f.message for f in found] == ([told] if told else [])


def test_the_doubt_of_a_datum_is_added_to_that_of_a_walk() -> None:
    wider, found = widened(
        settings_of(property={"source": "survey", "line": "p.gpx"}),
        {"property.line": 5.0},
        {"property.line": 12.0},
    )
    assert wider.property.error_m == pytest.approx(17.0)
    assert len(found) == 2
