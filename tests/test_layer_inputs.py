"""Layers as people bring them: what is taken, what is told of, what is refused, and in which words.

Every place is made in metres from a round corner, so that the right outcome is known
before the file is written. Noise has a seed.
"""

import json
import math
import sqlite3
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import area_files as files
import geopandas as gpd
import numpy as np
import phone_files as phone
import pyproj
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import (
    GeometryCollection,
    LineString,
    MultiPolygon,
    Point,
    Polygon,
    box,
)

from layout.area import read_area
from layout.errors import InputError, InputFaults
from layout.owner_lines import widened
from layout.read_features import existing_trails, hazard_features, water_features
from layout.read_land import closed_polygons, joined_polygons, property_shape
from layout.read_landing import landing_shape, main_trail_line
from layout.read_lines import whole_line
from layout.read_vector import Layer, read_layer
from layout.rule_files import load_rule
from layout.settings import AreaSettings
from layout.shape_kinds import Wanted
from layout.units import Units

W = "area.toml [stand] boundary:"
Points = list[tuple[float, float]]
Draw = Callable[[Path], str]


def steps(*corners: tuple[float, float], every: float = 5.0, closed: bool = True) -> Points:
    """Walk along corners, a fix every few metres."""
    line = LineString([*corners, corners[0]] if closed else corners)
    count = round(line.length / every)
    along = np.linspace(0, line.length, count + 1)[: -1 if closed else None]
    return [(p.x, p.y) for p in shapely.line_interpolate_point(line, along)]


def beside(points: Points, x: float, y: float) -> Points:
    """Shift a walk."""
    return [(a + x, b + y) for a, b in points]


def noisy(points: Points, sigma_m: float) -> Points:
    """Shake a walk as a receiver does."""
    shaken = np.array(points) + np.random.default_rng(3).normal(0, sigma_m, (len(points), 2))
    return [(float(x), float(y)) for x, y in shaken]


SQUARE: Points = [(0, 0), (100, 0), (100, 100), (0, 100)]  # one hectare
EDGE = steps(*SQUARE)
WAY_IN = steps((-60, -60), (0, 0), closed=False)  # 85 m from the road to a corner
GROUND = Polygon(phone.grid(*SQUARE))


@dataclass(frozen=True, slots=True)
class Case:
    """A file, what it must hold, and what comes of it."""

    draw: Draw
    areas: tuple[float, ...] = ()
    told: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    wanted: Wanted = "polygon"


def walk(*tracks: str) -> Draw:
    def draw(folder: Path) -> str:
        phone.gpx(folder / "w.gpx", *tracks)
        return "w.gpx"

    return draw


def map_of(*parts: str) -> Draw:
    def draw(folder: Path) -> str:
        phone.kml(folder / "w.kml", *parts)
        return "w.kml"

    return draw


def named(draw: Draw, name: str) -> Draw:
    return lambda folder: f"{draw(folder)}:{name}"


def layer(*shapes: shapely.Geometry | None, crs: str = "EPSG:32618") -> Draw:
    def draw(folder: Path) -> str:
        files.write_layer(folder / "w.gpkg", list(shapes), crs=crs)
        return "w.gpkg"

    return draw


def text(name: str, content: str, encoding: str = "utf-8") -> Draw:
    def draw(folder: Path) -> str:
        (folder / name).write_text(content, encoding=encoding)
        return name

    return draw


def here(*corners: tuple[float, float]) -> Polygon:
    return Polygon(phone.grid(*corners))


def closed(gap: str, what: str = "w.gpx") -> str:
    return (
        f"{what}: a walked line was closed into a polygon over a gap of {gap}; a walked boundary "
        "is evidence, not a line."
    )


def cut(where: str, size: str = "") -> str:
    changed = f"; {size} changed" if size else ""
    return (
        f"w.gpx: knots, leaps or ways walked to and fro were taken out {where}{changed}. "
        "Look at it."
    )


KNOT = np.random.default_rng(5).normal(0, 3.0, (60, 2)) + np.array(EDGE[10])
SPIKE = [*EDGE[:10], (50.0, -90.0), *EDGE[11:]]
SLIT = [*EDGE[:10], *steps((47, 0), (47, 60), closed=False),
        *steps((49, 60), (49, 0), closed=False), *EDGE[10:]]  # fmt: skip
VRT = (
    "<OGRVRTDataSource><OGRVRTLayer name='tracks'><SrcDataSource>/etc/passwd</SrcDataSource>"
    "</OGRVRTLayer></OGRVRTDataSource>"
)
GML = (
    '<?xml version="1.0"?><ogr:FeatureCollection xmlns:ogr="http://ogr.maptools.org/" '
    'xmlns:gml="http://www.opengis.net/gml"><gml:featureMember/></ogr:FeatureCollection>'
)
DEGREES = [list(p) for p in phone.degrees([*SQUARE, SQUARE[0]])]


def geojson(geometry: object) -> Draw:
    return text("w.geojson", json.dumps(geometry))


CASES: dict[str, Case] = {
    # ------------------------------------------------ polygons as drawn
    "two parts": Case(layer(MultiPolygon([GROUND, translate(GROUND, 300)])), (20_000,)),
    "an island left out": Case(layer(GROUND.difference(GROUND.buffer(-20))), (6_400,)),
    "a part drawn twice": Case(
        layer(MultiPolygon([GROUND, translate(GROUND, 50)])),
        (15_000,),
        ("w.gpkg:w row 1 crosses or covers itself at 500050, 4900100; it was mended to 1.50 ha, "
         "0.50 ha drawn twice count once. Look at it, and draw it again if wrong.",),
    ),
    "a hole outside the edge": Case(
        layer(Polygon(GROUND.exterior, [here((200, 0), (210, 0), (210, 10), (200, 10)).exterior])),
        (10_000,),
        ("w.gpkg:w row 1 has a hole outside its edge at 500200, 4900000; it was mended to 1.00 ha, "
         "no area is in doubt. Look at it, and draw it again if wrong.",),
    ),
    "a hole across the edge": Case(
        layer(Polygon(GROUND.exterior, [here((90, 40), (110, 40), (110, 60), (90, 60)).exterior])),
        (9_800,),
        ("w.gpkg:w row 1 crosses or covers itself at 500100, 4900040; it was mended to 0.98 ha, "
         "no area is in doubt. Look at it, and draw it again if wrong.",),
    ),
    "an edge that touches itself": Case(
        layer(here((0, 0), (100, 0), (50, 50), (100, 100), (0, 100), (50, 50))),
        (5_000,),
        ("w.gpkg:w row 1 touches itself at 500050, 4900050; it was mended to 0.50 ha, no area is "
         "in doubt. Look at it, and draw it again if wrong.",),
    ),
    "corners in the wrong order, twice": Case(
        layer(here((0, 0), (100, 100), (100, 0), (0, 100)),
              here((300, 0), (400, 100), (400, 0), (300, 100))),
        refused=(
            "w.gpkg:w row 1 crosses or covers itself at 500050, 4900050, and what lies inside "
            "cannot be told: 0 m² or 0.50 ha, by how it is read; draw it again (are two corners in "
            "the wrong order?)",
            "w.gpkg:w row 2 crosses or covers itself at 500350, 4900050, and what lies inside "
            "cannot be told: 0 m² or 0.50 ha, by how it is read; draw it again (are two corners in "
            "the wrong order?)",
        ),
    ),
    "a corner of the ground gone round twice": Case(
        layer(here((0, 0), (100, 0), (100, 100), (60, 100), (60, 20), (80, 20), (80, 120),
                   (0, 120))),
        refused=(
            "w.gpkg:w row 1 crosses or covers itself at 500080, 4900100, and what lies inside "
            "cannot be told: 1.00 ha or 1.32 ha, by how it is read; draw it again (are two corners "
            "in the wrong order?)",
        ),
    ),
    "slivers beside the stand": Case(
        layer(MultiPolygon([GROUND, here((150, 0), (150.3, 0), (150.3, 80), (150, 80)),
                            here((160, 0), (162, 0), (162, 2), (160, 2))])),
        (10_000,),
        ("w.gpkg:w: 2 slivers narrower than 0.5 m or under 10 m², left out.",),
    ),
    "a slit between two parcels": Case(
        layer(here((0, 0), (50, 0), (50, 50), (49.8, 60), (50, 70), (50, 100), (0, 100)),
              here((50, 0), (100, 0), (100, 100), (50, 100))),
        (10_000,),
        ("w.gpkg:w: 1 slit between its parts, narrower than 0.5 m, closed.",),
    ),
    "two parcels a hand apart": Case(
        layer(GROUND, translate(GROUND, 100.2)),
        (20_000,),
        ("w.gpkg:w: two parts lie 20 cm apart at 500100, 4900100, and nothing passes between them; "
         "draw them together if they meet on the ground.",),
    ),
    "a closed line drawn by hand": Case(
        layer(LineString(phone.grid(*SQUARE, SQUARE[0]))),
        (10_000,),
        ("w.gpkg:w: a line was closed into a polygon over a gap of 0.0 m.",),
    ),
    "polygons among lines and points": Case(
        layer(GROUND, Point(5e5, 4.9e6), LineString([(5e5, 4.9e6), (5e5, 4.9001e6)]),
              Point(5e5, 4.9e6)),
        refused=(
            "w.gpkg:w row 3 has fewer than 3 different points and encloses nothing; draw or walk "
            "all round the ground",
            "w.gpkg:w rows 2, 4 are Points; polygons are needed here",
        ),
    ),
    "a mixture in one row": Case(
        layer(GeometryCollection([Point(5e5, 4.9e6), GROUND])),
        refused=("w.gpkg:w row 1 is a GeometryCollection; split it into polygons, lines or "
                 "points",),
        wanted="any",
    ),
    # ------------------------------------------------ places
    "feet of a state grid": Case(
        layer(gpd.GeoSeries([GROUND], crs=32618).to_crs(2260).iloc[0], crs="EPSG:2260"),
        (10_000,),
        ("w.gpkg:w is on NAD83 and the area on WGS 84; between them a place may be off by 2.0 m.",),
    ),
    "a web map": Case(
        layer(gpd.GeoSeries([GROUND], crs=32618).to_crs(3857).iloc[0], crs="EPSG:3857"), (10_000,)
    ),
    "coordinates beyond any map": Case(
        layer(here((0, 0), (1e300, 0), (0, 1e300))),
        refused=("w.gpkg:w row 1 has a place no map has (1e+300, 4.9e+06); draw it again",),
    ),
    "latitude before longitude": Case(
        geojson({"type": "Polygon", "coordinates": [[[b, a] for a, b in DEGREES]]}),
        refused=("w.geojson has latitude where longitude belongs (44.2532, -75.0000); write "
                 "longitude first",),
    ),
    "one place off the earth": Case(
        geojson({"type": "Polygon", "coordinates": [[[-75.0, 144.25], *DEGREES[1:4],
                                                     [-75.0, 144.25]]]}),
        refused=("w.geojson row 1 has a place that is no degrees (longitude -75, latitude 144.25); "
                 "mend or take it out",),
    ),
    # ------------------------------------------------ files
    "a bare geometry": Case(
        geojson({"type": "Polygon", "coordinates": [DEGREES]}), (10_000,)
    ),
    "JSON of something else": Case(
        geojson({"hello": 1}),
        refused=("w.geojson is no GeoJSON file inside (or is cut short); export it again",),
    ),
    "a ring of two points": Case(
        geojson({"type": "Polygon", "coordinates": [DEGREES[:2]]}),
        refused=("w.geojson row 1 holds no whole shape (a line of one point, a ring that does not "
                 "close, or nothing); draw it again or take it out",),
    ),
    "a recipe that calls itself a track": Case(
        text("w.gpx", VRT),
        refused=("w.gpx is no GPX file inside (or is cut short); export it again",),
    ),
    "a recipe behind a comment": Case(
        text("w.kml", f'<?xml version="1.0"?><!-- {VRT} -->{phone.KML[38:].format("")}'),
        refused=("w.kml is no KML file inside (or is cut short); export it again",),
    ),
    "another kind of XML": Case(
        text("w.kml", GML),
        refused=("w.kml is no KML file inside (or is cut short); export it again",),
    ),
    "UTF-16": Case(
        text("w.gpx", phone.GPX.format(phone.track("a", EDGE)), "utf-16"),
        refused=("w.gpx is written as UTF-16; save it as UTF-8",),
    ),
    "an unfinished track file": Case(
        text("w.gpx", phone.GPX.format(phone.track("a", SQUARE))[:-30]),
        refused=("w.gpx is damaged: XML parsing of GPX file failed : unclosed token at "
                 "line 1, column 286",),
    ),
    "a zipped map": Case(
        text("w.kmz", "PK"),
        refused=("w.kmz is a zipped KML; unzip it and name the file inside (.gpkg, .geojson, "
                 ".json, .shp, .fgb, .gpx, .kml)",),
    ),
    # ------------------------------------------------ walks
    "a clean walk": Case(walk(phone.track("edge", EDGE)), (10_000,), (closed("5.0 m"),)),
    "a walk that stops short": Case(
        walk(phone.track("edge", EDGE[:-5])),
        refused=("w.gpx is a line whose ends lie 30 m apart; walk it round to the start (within "
                 "20 m), or draw a polygon",),
    ),
    "in from the road, then round": Case(
        walk(phone.track("edge", [*WAY_IN, *EDGE, (0.5, 1.0)])),
        (10_000,),
        ("w.gpx: 85 m walked before or after the round were left out.", closed("1.1 m")),
    ),
    "round, and on to the road": Case(
        walk(phone.track("edge", [*EDGE, (0.5, 1.0), *reversed(WAY_IN)])),
        (10_000,),
        ("w.gpx: 85 m walked before or after the round were left out.", closed("0.0 m")),
    ),
    "in and out by one way": Case(
        walk(phone.track("edge", [*WAY_IN, *EDGE, (0, 0), *beside(WAY_IN[::-1], 1, -1)])),
        (10_000,),
        (closed("1.4 m"), cut("at 499970, 4899970", "120 m²")),
    ),
    "a leap of one fix": Case(
        walk(phone.track("edge", SPIKE)), (10_000,), (closed("5.0 m"), cut("at 500050, 4899910"))
    ),
    "a look into the stand": Case(
        walk(phone.track("edge", SLIT)),
        (10_000,),
        (closed("5.0 m"), cut("at 500048, 4900027", "114 m²")),
    ),
    "a phone left lying": Case(
        walk(phone.track("edge", [*EDGE[:10], *map(tuple, KNOT.tolist()), *EDGE[10:]])),
        (10_027,),
        (closed("5.0 m"),
         "w.gpx: the walk crosses itself at 500045, 4900000 (the phone lay still, or the walker "
         "came back); all it goes round counts. Look at it."),
    ),
    "a phone that lay still all day": Case(
        walk(phone.track("edge", [(5, 5)] * 6)),
        refused=("w.gpx has no length; draw or walk it again",),
    ),
    "out and back": Case(
        walk(phone.track("edge", [*steps((0, 0), (200, 50), closed=False),
                                  *steps((202, 48), (2, -2), closed=False)])),
        refused=("w.gpx goes out and comes back on itself: 415 m walked round 0 m²; walk round the "
                 "ground",),
    ),
    "a figure of eight": Case(
        walk(phone.track("edge", steps((0, 0), (100, 100), (100, 0), (0, 100)))),
        refused=("w.gpx crosses itself at 500050, 4900050 and makes pieces of 2499 m² and 2496 m²; "
                 "which is meant cannot be told, walk them one by one",),
    ),
    "thousands of kilometres in one step": Case(
        walk(phone.track("edge", [*EDGE[:5], (2e6, 0), *EDGE[5:]])),
        refused=("w.gpx leaps 2,000 km to 2500000, 4900000; take that point out, or walk it "
                 "again",),
    ),
    "pieces with a short break": Case(
        walk(phone.track("edge", EDGE[:20], EDGE[21:])),
        (10_000,),
        ("w.gpx: 2 pieces of the walk were joined; the widest break is 7.1 m.", closed("5.0 m")),
    ),
    "pieces with a long break": Case(
        walk(phone.track("edge", EDGE[:20], EDGE[35:])),
        refused=("w.gpx holds lines in pieces; at 500100, 4900075 they lie 75 m apart; a boundary "
                 "must be one closed line or polygons",),
    ),
    "a piece of one point": Case(
        walk(phone.track("edge", [(0, 0)], EDGE)), (10_000,), (closed("5.0 m"),)
    ),
    "a track without points beside one": Case(
        walk(phone.track("empty"), phone.track("edge", EDGE)),
        (10_000,),
        ("w.gpx: 1 of 2 rows have no shape and stay out.", closed("5.0 m")),
    ),
    "two blocks walked one by one": Case(
        walk(phone.track("north", EDGE), phone.track("south", beside(EDGE, 300, 0))),
        (20_000,),
        (closed("5.0 m", "w.gpx row 1 (north)"), closed("5.0 m", "w.gpx row 2 (south)")),
    ),
    "one block walked twice": Case(
        walk(phone.track("May", EDGE), phone.track("June", noisy(EDGE, 2))),
        refused=("w.gpx row 1 (May) and row 2 (June) go round the same ground; keep one of them in "
                 "the file (ground to leave out belongs under [ground] keep_out)",),
    ),
    "the edge and the way to it": Case(
        walk(phone.track("edge", EDGE), phone.track("way in", WAY_IN)),
        refused=("w.gpx row 2 (way in) is a line whose ends lie 85 m apart; walk it round to the "
                 'start (within 20 m), or draw a polygon; or name the one that is meant, like '
                 '"w.gpx:edge"',),
    ),
    "a track by its name": Case(
        named(walk(phone.track("2026-05-01 10:22", EDGE), phone.track("way in", WAY_IN)),
              "2026-05-01 10:22"),
        (10_000,),
        (closed("5.0 m"),),
    ),
    "a track that is not there": Case(
        named(walk(phone.track("edge", EDGE), phone.track("way in", WAY_IN)), "Edge 2"),
        refused=('w.gpx has no track or route "Edge 2"; it has edge, way in',),
    ),
    "a track beside a route": Case(
        walk(phone.route("plan", SQUARE), phone.track("edge", EDGE)),
        (10_000,),
        ("w.gpx also holds 1 route, which are not read; name one to have it taken.",
         closed("5.0 m")),
    ),
    "waypoints only": Case(
        walk(phone.waypoint("corner", 0, 0)),
        refused=("w.gpx holds no tracks or routes; record or export them",),
    ),
    # ------------------------------------------------ maps of a phone
    "a polygon in a folder, with heights": Case(
        map_of(phone.folder("Woods", phone.kml_polygon("stand", SQUARE))), (10_000,)
    ),
    "the one folder that holds polygons": Case(
        map_of(phone.folder("Woods", phone.kml_polygon("stand", SQUARE)),
               phone.folder("Trees", phone.kml_point("1", 5, 5))),
        (10_000,),
    ),
    "two folders that hold polygons": Case(
        map_of(phone.folder("North", phone.kml_polygon("a", SQUARE)),
               phone.folder("South", phone.kml_polygon("b", SQUARE)),
               phone.folder("Trees", phone.kml_point("1", 5, 5))),
        refused=('w.kml has several layers; name one, like "w.kml:North" (it has North, South)',),
    ),
    "a folder by its name": Case(
        named(map_of(phone.folder("North: old", phone.kml_polygon("a", SQUARE)),
                     phone.folder("South", phone.kml_polygon("b", SQUARE))), "North: old"),
        (10_000,),
    ),
    "a line drawn on a phone's map": Case(
        map_of(phone.kml_line("edge", EDGE)), (10_000,), (closed("5.0 m", "w.kml"),)
    ),
    "a track with times": Case(
        map_of(phone.kml_track("edge", EDGE[::2])), (10_000,), (closed("10.0 m", "w.kml"),)
    ),
    "a polygon and a point in one folder": Case(
        map_of(phone.kml_polygon("stand", SQUARE), phone.kml_point("gate", 0, 0)),
        refused=("w.kml row 2 (gate) is a Point; polygons are needed here",),
    ),
}  # fmt: skip


def read(folder: Path, name: str, wanted: Wanted = "polygon", units: Units = "metric") -> Layer:
    return read_layer(folder, name, W, wanted, phone.GRID, units=units)


def faults_of(error: InputError) -> list[str]:
    lines = error.faults if isinstance(error, InputFaults) else [str(error)]
    return [line.removeprefix(f"{W} ") for line in lines]


@pytest.mark.parametrize("name", [n for n, case in CASES.items() if not case.refused])
def test_a_layer_is_taken_and_what_was_done_is_told(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    taken, found = joined_polygons(read(tmp_path, case.draw(tmp_path), case.wanted), "stand")
    assert taken.is_valid
    assert taken.area == pytest.approx(sum(case.areas), rel=2e-3)
    told = [f.message for f in found if f.code != "crs_shift" or f.message in case.told]
    assert told == list(case.told)


@pytest.mark.parametrize("name", [n for n, case in CASES.items() if case.refused])
def test_a_layer_is_refused_in_plain_words(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    with pytest.raises(InputError) as caught:
        joined_polygons(read(tmp_path, case.draw(tmp_path), case.wanted), "stand")
    assert faults_of(caught.value) == list(case.refused)


def test_lengths_are_said_in_the_units_of_the_area(tmp_path: Path) -> None:
    name = walk(phone.track("edge", EDGE[:-5]))(tmp_path)
    with pytest.raises(InputError) as caught:
        read(tmp_path, name, units="us")
    assert faults_of(caught.value) == [
        "w.gpx is a line whose ends lie 98 ft apart; walk it round to the start (within 66 ft), or "
        "draw a polygon"
    ]
    bow_tie = layer(here((0, 0), (100, 100), (100, 0), (0, 100)))(tmp_path)
    with pytest.raises(InputError, match=r"cannot be told: 0 sq ft or 1\.24 acre, by how"):
        joined_polygons(read(tmp_path, bow_tie, units="us"), "stand")


@pytest.mark.parametrize("sigma_m", [0.5, 1.5, 3.0])
def test_a_shaken_walk_keeps_the_ground_within_its_own_noise(
    sigma_m: float, tmp_path: Path
) -> None:
    every = steps(*SQUARE, every=3.0)
    name = walk(phone.track("edge", noisy(every, sigma_m)))(tmp_path)
    (ground,) = read(tmp_path, name).shapes
    assert ground.is_valid
    assert ground.hausdorff_distance(GROUND) < 4.5 * sigma_m
    assert ground.area == pytest.approx(GROUND.area, abs=400 * sigma_m)


def test_a_narrow_end_of_a_stand_set_by_hand_stays(tmp_path: Path) -> None:
    # A wedge of 11 degrees by its corners: no fix there is many steps away from the others.
    name = walk(phone.route("corners", [(0, 0), (200, 0), (0, 40), (0, 1)]))(tmp_path)
    (ground,) = read(tmp_path, name).shapes
    assert ground.area == pytest.approx(4000, rel=0.04)


def test_ground_to_keep_off_that_crosses_itself_is_all_it_goes_round(tmp_path: Path) -> None:
    name = layer(here((0, 0), (100, 100), (100, 0), (0, 100)))(tmp_path)
    parts, found = closed_polygons(read(tmp_path, name), "keep_out")
    assert sum(part.area for part in parts) == pytest.approx(5000)
    assert [f.code for f in found] == ["shape_mended"]


def test_a_file_over_50_mb_is_not_opened(tmp_path: Path) -> None:
    with (tmp_path / "w.gpx").open("wb") as file:
        file.truncate(50_000_001)
    with pytest.raises(InputError, match=r"w\.gpx has 50 MB, more than 50 MB; cut it to the area"):
        read(tmp_path, "w.gpx")


def test_a_shapefile_without_its_index(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "w.shp", [GROUND], crs="EPSG:32618")
    (tmp_path / "w.shx").unlink()
    with pytest.raises(InputError) as caught:
        read(tmp_path, "w.shp")
    assert faults_of(caught.value) == [
        "w.shp lacks its .shx; keep the .shp, .shx, .dbf and .prj together"
    ]


@pytest.mark.parametrize(
    ("prj", "says"),
    [
        ('LOCAL_CS["site",UNIT["metre",1]]',
         'w.shp is drawn in a local grid ("site") whose place on earth is not known; give it the '
         "CRS it was surveyed in"),
        ("nonsense", None),
    ],
)  # fmt: skip
def test_a_crs_that_leads_nowhere(prj: str, says: str | None, tmp_path: Path) -> None:
    files.write_layer(tmp_path / "w.shp", [GROUND], crs="EPSG:32618")
    (tmp_path / "w.prj").write_text(prj, encoding="ascii")
    with pytest.raises(InputError) as caught:
        read(tmp_path, "w.shp")
    (line,) = faults_of(caught.value)
    if says:
        assert line == says
    else:
        assert line.startswith("w.shp") and "CRS" in line and "\n" not in line


def test_curves_are_read_as_lines(tmp_path: Path) -> None:
    # A circle of 5 m round a place, as two arcs in a GeoPackage.
    files.write_layer(tmp_path / "w.gpkg", [GROUND], crs="EPSG:32618")
    with sqlite3.connect(tmp_path / "w.gpkg") as base:
        (blob,) = base.execute("select geom from w").fetchone()
        places = phone.grid((0, 0), (5, 5), (10, 0), (5, -5), (0, 0))
        arcs = struct.pack("<BII", 1, 8, 5) + b"".join(struct.pack("<dd", *p) for p in places)
        for (trigger,) in base.execute("select name from sqlite_master where type='trigger'"):
            base.execute(f'drop trigger "{trigger}"')
        curve = struct.pack("<BII", 1, 10, 1) + arcs
        base.execute("update w set geom=?", (blob[:40] + curve,))
    base.close()
    (disc,) = read(tmp_path, "w.gpkg").shapes
    assert disc.area == pytest.approx(math.pi * 25, rel=0.005)


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


def settings(**tables: dict[str, str]) -> AreaSettings:
    raw: dict[str, dict[str, str]] = {
        "area": {"name": "w", "units": "metric"},
        "ground": {"dem": "d.tif"},
        "stand": {"boundary": "s.gpx", "trees": "t.csv"},
    }
    return AreaSettings.model_validate({"format": 1, **raw, **tables})


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
    wider, found = widened(settings(property={"source": source}), {}, walked_m)
    assert wider.property.error_m == pytest.approx(error_m)
    assert [f.message for f in found] == ([told] if told else [])


def test_the_doubt_of_a_datum_is_added_to_that_of_a_walk() -> None:
    wider, found = widened(
        settings(property={"source": "survey", "line": "p.gpx"}),
        {"property.line": 5.0},
        {"property.line": 12.0},
    )
    assert wider.property.error_m == pytest.approx(17.0)
    assert len(found) == 2


# ---------------------------------------------------------------- property, water, hazards


def test_corners_are_no_property_line(tmp_path: Path) -> None:
    name = layer(Point(5e5, 4.9e6))(tmp_path)
    with pytest.raises(InputError) as caught:
        property_shape(read(tmp_path, name, "any"))
    assert faults_of(caught.value) == [
        "w.gpkg:w holds points; draw the line, or the polygon of the land"
    ]


def test_land_and_lines_together_are_lines(tmp_path: Path) -> None:
    name = layer(GROUND, LineString(phone.grid((100, 0), (300, 0))))(tmp_path)
    shape, _ = property_shape(read(tmp_path, name, "any"))
    assert shapely.get_dimensions(shape) == 1
    assert shape.length == pytest.approx(400 + 200)
    inside = Point(phone.grid((50, 50))[0])
    assert shape.distance(inside) == pytest.approx(50)  # not nought, as from an area


def water(tmp_path: Path, *shapes: shapely.Geometry, **columns: object) -> Layer:
    files.write_layer(tmp_path / "w.gpkg", list(shapes), crs="EPSG:32618", **columns)
    return read(tmp_path, "w.gpkg", "any")


BROOK = LineString([(5e5, 4.9e6), (5e5, 4.9001e6)])


def test_columns_in_capitals_and_widths_in_either_unit(tmp_path: Path) -> None:
    bodies, found = water_features(
        water(tmp_path, BROOK, BROOK, BROOK, WATER_CLASS=["Perennial", "PERENNIAL", "stream"],
              BANK_WIDTH_FT=[6.0, None, 0.0], Bank_Width_M=[None, 2.5, None])
    )  # fmt: skip
    assert [b.water_class for b in bodies] == ["perennial"] * 3
    assert [b.bank_width_m for b in bodies] == [pytest.approx(1.8288), 2.5, None]
    assert found == ()


@pytest.mark.parametrize(
    ("column", "values", "said"),
    [
        ("bank_width", [3.0, 4.0],
         ["w.gpkg:w: the column bank_width does not say its unit and is left out; name it "
          "bank_width_m or bank_width_ft."]),
        ("bank_width_m", ["wide", "3 m"],
         ["w.gpkg:w row 1: bank_width_m 'wide' is no width; it is left out.",
          "w.gpkg:w row 2: bank_width_m '3 m' is no width; it is left out."]),
        ("bank_width_ft", [-2.0, 1e9],
         ["w.gpkg:w row 1: bank_width_ft '-2' is no width; it is left out.",
          "w.gpkg:w row 2: bank_width_ft '1000000000' is no width; it is left out."]),
    ],
)  # fmt: skip
def test_a_width_that_cannot_be_used(
    column: str, values: list[object], said: list[str], tmp_path: Path
) -> None:
    bodies, found = water_features(
        water(tmp_path, BROOK, BROOK, water_class=["perennial"] * 2, **{column: values})
    )
    assert [b.bank_width_m for b in bodies] == [None, None]
    assert [f.message for f in found] == said


def test_a_class_of_the_chosen_rule_is_known_and_another_counts_as_perennial(
    tmp_path: Path,
) -> None:
    made = water(tmp_path, BROOK, BROOK, water_class=["Large stream", "class 1"])
    classes = load_rule("new-hampshire").classes
    bodies, found = water_features(made, classes)
    assert [b.water_class for b in bodies] == ["large_stream", "perennial"]
    assert [f.message for f in found] == [
        "Water W2: water_class 'class_1' is not known; it counts as perennial. Known are "
        "ephemeral, intermittent, large_stream, perennial, pond, small_pond, spring, well, wetland."
    ]


def test_waypoints_say_by_their_names_what_they_are(tmp_path: Path) -> None:
    name = walk(
        phone.waypoint("Spring 2", 5, 5),
        phone.waypoint("camp", 9, 9),
        phone.track("brook", [(0, 0), (50, 5)]),
    )(tmp_path)
    bodies, found = water_features(read(tmp_path, name, "any"))
    assert [(b.feature_id, b.water_class) for b in bodies] == [
        ("brook", "perennial"), ("Spring 2", "spring"), ("camp", "perennial"),
    ]  # fmt: skip
    assert [f.subject_id for f in found if f.code == "water_class"] == ["camp"]
    phone.gpx(tmp_path / "w.gpx", phone.waypoint("well", 5, 5), phone.waypoint("House 1", 9, 9))
    hazards, found = hazard_features(read(tmp_path, "w.gpx", "any"))
    assert [h.kind for h in hazards] == ["well", "house"]
    assert [f.code for f in found] == []


def test_an_old_trail_of_a_phone_in_pieces_keeps_its_breaks(tmp_path: Path) -> None:
    name = walk(phone.track("old", [(0, 0), (50, 0)], [(80, 0), (120, 0)]))(tmp_path)
    trails, _ = existing_trails(read(tmp_path, name, "line"))
    assert [t.trail_id for t in trails] == ["old-1", "old-2"]
    assert [t.line.length for t in trails] == [
        pytest.approx(50, abs=1e-3),
        pytest.approx(40, abs=1e-3),
    ]


# ---------------------------------------------------------------- main trail and landing

LANDING = box(*phone.grid((-10, -20))[0], *phone.grid((15, 0))[0])
UP = steps((0, 3), (0, 90), (30, 150), every=4.0, closed=False)


def main_of(
    tmp_path: Path, name: str, landing: Polygon | None = LANDING
) -> tuple[LineString | None, dict[str, str]]:
    def reader(table: str, key: str, file: str, wanted: Wanted) -> Layer:
        return read_layer(tmp_path, file, f"area.toml [{table}] {key}:", wanted, phone.GRID)

    line, found = main_trail_line(settings(main_trail={"line": name}), reader, landing, "area.toml")
    return line, {f.code: f.message for f in found}


def refused_main(tmp_path: Path, name: str) -> str:
    with pytest.raises(InputError) as caught:
        main_of(tmp_path, name)
    return str(caught.value).removeprefix("area.toml [main_trail] line: ")


def test_a_phones_main_trail_is_kept_exactly_noise_and_all(tmp_path: Path) -> None:
    shaken = noisy(UP, 1.0)
    line, told = main_of(tmp_path, walk(phone.track("main", shaken))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords, phone.grid(*shaken), atol=1e-3)
    assert told.pop("main_trail_walked") == (
        "w.gpx was walked with a phone or receiver and is kept exactly as it came. It may be off "
        "by 10 m or more, and its bends and grades with it: flag it, and look at it on the ground."
    )
    assert told == {}


def test_a_main_trail_walked_toward_the_landing_is_turned_and_said(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, walk(phone.track("main", UP[::-1]))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords[0], phone.grid(UP[0])[0], atol=1e-3)
    assert told["main_trail_turned"] == (
        "w.gpx was drawn toward the landing; it is taken from the landing outward."
    )
    straight, told = main_of(tmp_path, walk(phone.track("main", UP))(tmp_path))
    assert straight is not None and line.equals_exact(straight, 1e-3)
    assert "main_trail_turned" not in told


def test_a_main_trail_with_both_ends_by_the_landing(tmp_path: Path) -> None:
    loop = steps((0, 2), (-60, 60), (0, 120), (60, 60), (12, 2), closed=False)
    line, told = main_of(tmp_path, walk(phone.track("main", loop))(tmp_path))
    assert line is not None and line.length > 300
    assert told["main_trail_ends"].startswith("Both ends of w.gpx lie by the landing, so it is")


def test_a_drawn_main_trail_is_no_walk(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, layer(LineString(phone.grid(*UP)))(tmp_path))
    assert line is not None and told == {}


@pytest.mark.parametrize(
    ("draw", "says"),
    [
        (walk(phone.track("main", [*UP, *beside(UP[::-1], 1.5, 1.0)])),
         "w.gpx goes out and comes back beside itself; keep one way of it, from the landing "
         "outward"),
        (layer(LineString(phone.grid((0, 0), (90, 0), (90, 2), (1, 2)))),
         "w.gpkg:w goes out and comes back beside itself; keep one way of it, from the landing "
         "outward"),
        (walk(phone.track("main", UP[:10], UP[20:])),
         "w.gpx breaks off and goes on 43 m away, at 500000, 4900082; draw it as one line"),
        (walk(phone.track("May", UP), phone.track("June", beside(UP, 30, 0))),
         "w.gpx holds 2 lines (May, June) that do not join end to end; draw the main trail as one "
         'line; to take one, name it, like "w.gpx:May"'),
        (layer(LineString(phone.grid((0, 0), (0, 50))), LineString(phone.grid((0, 50.4), (0, 90)))),
         "w.gpkg:w holds 2 lines that do not join end to end; draw the main trail as one line"),
        (walk(phone.track("main", [(0, 0), (0, 4)])),
         "w.gpx is 4.0 m long; grades are measured over 10 m, draw it longer"),
        (walk(phone.track("main", [(0, 0), (0, 0)])), "w.gpx has no length; draw it again or take "
         "it out"),
        (walk(phone.waypoint("gate", 0, 0)), "w.gpx holds no tracks or routes; record or export "
         "them"),
        (layer(GROUND), "w.gpkg:w row 1 is a Polygon; lines are needed here"),
    ],
)  # fmt: skip
def test_a_main_trail_that_cannot_be_used(draw: Draw, says: str, tmp_path: Path) -> None:
    assert refused_main(tmp_path, draw(tmp_path)) == says


def test_a_main_trail_of_pieces_that_nearly_meet_is_joined_and_said(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, walk(phone.track("main", UP[:10], UP[10:]))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords, phone.grid(*UP), atol=1e-3)
    assert told["main_trail_joined"] == (
        "w.gpx: 2 pieces of the walked line were joined; the widest break is 4.0 m."
    )


def test_a_main_trail_of_several_tracks_by_its_name(tmp_path: Path) -> None:
    draw = walk(phone.track("May", UP), phone.track("June", beside(UP, 30, 0)))
    line, _ = main_of(tmp_path, named(draw, "June")(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords[0], phone.grid((30, 3))[0], atol=1e-3)


def test_a_switchback_is_not_out_and_back() -> None:
    legs = [(0, 0), (80, 10), (84, 22), (0, 24), (-4, 36), (80, 48)]
    made = whole_line(LineString(legs), "w", "switchback", [], code="c")
    assert len(made.coords) == 6


def landing_of(tmp_path: Path, name: str) -> tuple[Polygon | None, list[str]]:
    def reader(table: str, key: str, file: str, wanted: Wanted) -> Layer:
        return read_layer(tmp_path, file, f"area.toml [{table}] {key}:", wanted, phone.GRID)

    shape, found = landing_shape(
        settings(landing={"shape": name, "area": "400 m^2"}), reader, phone.GRID, "area.toml"
    )
    return shape, [f.code for f in found]


def test_a_landing_walked_round_or_marked_by_a_waypoint(tmp_path: Path) -> None:
    ring = steps((0, 0), (25, 0), (25, 20), (0, 20), every=2.5)
    shape, told = landing_of(tmp_path, walk(phone.track("landing", ring))(tmp_path))
    assert shape is not None and shape.area == pytest.approx(500, rel=0.01)
    assert told == ["line_closed"]
    shape, told = landing_of(tmp_path, walk(phone.waypoint("landing", 10, 10))(tmp_path))
    assert shape is not None and shape.area == pytest.approx(400)
    assert told == []


# ---------------------------------------------------------------- all at once


def test_the_faults_of_every_layer_are_told_together(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    files.write_layer(folder / "stand.gpkg", [files.bow_tie()])
    files.write_layer(folder / "w.gpkg", [GeometryCollection([Point(5e5, 4.9e6), files.MAIN])])
    x, y = files.WEST + 200, files.NORTH - 244
    there_and_back = LineString([(x, y), (x, y + 70), (x + 2, y + 70), (x + 2, y + 1)])
    files.write_layer(folder / "main.gpkg", [there_and_back])
    files.write_layer(folder / "p.gpkg", [Point(5e5, 4.9e6)])
    (folder / "ours.toml").write_text('format = 1\nname = "ours"\n', encoding="utf-8")
    files.write_toml(
        folder,
        property__line='"p.gpkg"',
        water__features='"w.gpkg"',
        water__rules='["ours.toml", "slope-50"]',
    )
    with pytest.raises(InputFaults) as caught:
        read_area(folder)
    told = list(caught.value.faults)
    for start in (
        "area.toml [stand] boundary: stand.gpkg:stand row 1 crosses or covers itself at 500200, ",
        "area.toml [property] line: p.gpkg:p holds points; draw the line",
        "ours.toml: title is missing; add title to the header",
        "ours.toml: has no [[row]]; give at least one",
        'there is no rule "slope-50"; known are california, ',
        "area.toml [water] features: w.gpkg:w row 1 is a GeometryCollection; split it into",
        "area.toml [main_trail] line: main.gpkg:main goes out and comes back beside itself",
    ):
        assert [line.startswith(start) for line in told].count(True) == 1, start
    assert all("\n" not in line for line in told)


def test_a_walked_boundary_widens_the_line_of_a_whole_area(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    to_degrees = pyproj.Transformer.from_crs(26918, 4326, always_xy=True)
    ring = shapely.segmentize(files.STAND.exterior, 5.0)
    points = "".join(
        f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><hdop>1.2</hdop></trkpt>'
        for lon, lat in (to_degrees.transform(*p) for p in ring.coords)
    )
    track = f"<trk><name>edge</name><trkseg>{points}</trkseg></trk>"
    (folder / "walk.gpx").write_text(phone.GPX.format(track), encoding="utf-8")
    files.write_toml(folder, property="", stand__boundary='"walk.gpx"')
    area = read_area(folder)
    assert area.stand.area == pytest.approx(10_000, rel=1e-3)
    assert area.settings.property.error_m == pytest.approx(12.0)
    codes = [f.code for f in area.findings]
    assert {"line_closed", "crs_shift", "property_error_widened"} <= set(codes)
