"""Layers as people bring them: what is taken, what is told of, what is refused, and in which words.

Every place is made in metres from a round corner, so that the right outcome is known
before the file is written. Noise has a seed.
"""

import json
import math
import sqlite3
import struct
from dataclasses import dataclass
from pathlib import Path

import area_files as files
import geopandas as gpd
import numpy as np
import phone_files as phone
import pytest
from made_layers import (
    EDGE,
    GROUND,
    SQUARE,
    WAY_IN,
    Draw,
    beside,
    faults_of,
    here,
    layer,
    map_of,
    named,
    noisy,
    read,
    steps,
    text,
    walk,
)
from shapely.affinity import translate
from shapely.geometry import (
    GeometryCollection,
    LineString,
    MultiPolygon,
    Point,
    Polygon,
)

from layout.errors import InputError
from layout.read_land import closed_polygons, joined_polygons
from layout.shape_kinds import Wanted


@dataclass(frozen=True, slots=True)
class Case:
    """A file, what it must hold, and what comes of it."""

    draw: Draw
    areas: tuple[float, ...] = ()
    told: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    wanted: Wanted = "polygon"


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
        refused=("w.geojson has latitude where longitude belongs (44.2532, -75.0000): they "
                 "are swapped; write longitude first",),
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
        refused=("w.gpx is damaged or cut short (XML parsing of GPX file failed : unclosed token "
                 "at line 1, column 286); export it again, or take a copy that opens",),
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
        refused=("w.gpx crosses itself at 500050, 4900050 and makes pieces of 2,499 m² and "
                 "2,496 m²; which is meant cannot be told, walk them one by one",),
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
        ("w.gpx: 1 of 2 rows have no shape and stay out: row 1 (name empty).", closed("5.0 m")),
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
