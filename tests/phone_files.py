"""Files as phones and map programs write them, from places in metres."""

from collections.abc import Sequence
from pathlib import Path

import pyproj

Points = Sequence[tuple[float, float]]

GRID = pyproj.CRS.from_epsg(32618)  # on the datum of phones
EAST, NORTH = 500_000.0, 4_900_000.0
_TO_DEGREES = pyproj.Transformer.from_crs(GRID, 4326, always_xy=True)

GPX = (
    '<?xml version="1.0"?><gpx version="1.1" creator="test" '
    'xmlns="http://www.topografix.com/GPX/1/1">{}</gpx>'
)
KML = (
    '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2" '
    'xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>{}</Document></kml>'
)


def grid(*points: tuple[float, float]) -> list[tuple[float, float]]:
    """Give grid coordinates of places in metres from a round corner."""
    return [(EAST + x, NORTH + y) for x, y in points]


def degrees(points: Points) -> list[tuple[float, float]]:
    """Give longitude and latitude of places in metres from the corner."""
    return [_TO_DEGREES.transform(x, y) for x, y in grid(*points)]


def track(name: str, *pieces: Points, more: str = "") -> str:
    """Write a track; `more` goes into every point."""
    inner = "".join(
        "<trkseg>"
        + "".join(f'<trkpt lat="{b:.9f}" lon="{a:.9f}">{more}</trkpt>' for a, b in degrees(piece))
        + "</trkseg>"
        for piece in pieces
    )
    return f"<trk><name>{name}</name>{inner}</trk>"


def route(name: str, points: Points) -> str:
    """Write a route."""
    inner = "".join(f'<rtept lat="{b:.9f}" lon="{a:.9f}"/>' for a, b in degrees(points))
    return f"<rte><name>{name}</name>{inner}</rte>"


def waypoint(name: str, x: float, y: float) -> str:
    """Write a waypoint."""
    ((lon, lat),) = degrees([(x, y)])
    return f'<wpt lat="{lat:.9f}" lon="{lon:.9f}"><name>{name}</name></wpt>'


def gpx(path: Path, *parts: str) -> Path:
    """Write a GPX file; waypoints before routes before tracks."""
    path.write_text(GPX.format("".join(parts)), encoding="utf-8")
    return path


def _coordinates(points: Points) -> str:
    return " ".join(f"{a:.9f},{b:.9f},312.5" for a, b in degrees(points))


def kml_polygon(name: str, ring: Points) -> str:
    """Write a polygon with heights."""
    return (
        f"<Placemark><name>{name}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{_coordinates([*ring, ring[0]])}"
        "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


def kml_line(name: str, points: Points) -> str:
    """Write a line with heights."""
    return (
        f"<Placemark><name>{name}</name><LineString><coordinates>{_coordinates(points)}"
        "</coordinates></LineString></Placemark>"
    )


def kml_point(name: str, x: float, y: float) -> str:
    """Write a point."""
    return (
        f"<Placemark><name>{name}</name><Point><coordinates>{_coordinates([(x, y)])}"
        "</coordinates></Point></Placemark>"
    )


def kml_track(name: str, points: Points) -> str:
    """Write a track with times, as a phone records it into KML."""
    when = "".join(f"<when>2026-05-01T10:{m:02d}:00Z</when>" for m in range(len(points)))
    where = "".join(f"<gx:coord>{a:.9f} {b:.9f} 312</gx:coord>" for a, b in degrees(points))
    return f"<Placemark><name>{name}</name><gx:Track>{when}{where}</gx:Track></Placemark>"


def folder(name: str, *parts: str) -> str:
    """Write a folder."""
    return f"<Folder><name>{name}</name>{''.join(parts)}</Folder>"


def kml(path: Path, *parts: str) -> Path:
    """Write a KML file."""
    path.write_text(KML.format("".join(parts)), encoding="utf-8")
    return path
