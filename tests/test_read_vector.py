"""Vector layers: the kind of file is checked first, shapes come in one CRS and sound."""

import sqlite3
from pathlib import Path

import area_files as files
import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon

from layout.banks import bank_findings
from layout.errors import InputError
from layout.polygon_mending import sound_polygons
from layout.read_features import (
    existing_trails,
    hazard_features,
    water_features,
)
from layout.read_land import joined_polygons
from layout.read_lines import lines_of
from layout.read_vector import Layer, read_layer, split_name
from layout.shape_kinds import Wanted

WHERE = "area.toml [stand] boundary:"
UTM = pyproj.CRS.from_epsg(26918)


def read(
    folder: Path, text: str, wanted: Wanted = "polygon", target: pyproj.CRS = UTM, **more: object
) -> Layer:
    return read_layer(folder, text, WHERE, wanted, target, **more)  # type: ignore[arg-type]


def message(folder: Path, text: str, wanted: Wanted = "polygon", **more: object) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text, wanted, **more)  # type: ignore[arg-type]
    return str(caught.value).removeprefix(f"{WHERE} ")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("a.gpkg", ("a.gpkg", "")),
        ("a.gpkg:stand 7", ("a.gpkg", "stand 7")),
        ("sub/a.gpkg:b", ("sub/a.gpkg", "b")),
        ("C:/woods/a.gpkg", ("C:/woods/a.gpkg", "")),
        ("C:\\woods\\a.gpkg:b", ("C:\\woods\\a.gpkg", "b")),
        ("a.gpkg:", ("a.gpkg:", "")),
    ],
)
def test_a_name_is_split_at_the_layer_not_at_the_drive(text: str, parts: tuple[str, str]) -> None:
    assert split_name(text) == parts


@pytest.mark.parametrize("name", ["a.gpkg", "a.geojson", "a.shp", "a.fgb"])
def test_every_kind_of_file_gives_the_same_shape(tmp_path: Path, name: str) -> None:
    files.write_layer(tmp_path / name, [files.STAND], name=["north"])
    layer = read(tmp_path, name)
    assert layer.findings == ()
    assert layer.accuracy_m == 0.0
    assert shapely.equals_exact(layer.shapes[0].normalize(), files.STAND.normalize(), 0.01)
    assert layer.table["name"].tolist() == ["north"]


def test_degrees_are_brought_to_the_grid_within_two_metres(tmp_path: Path) -> None:
    degrees = gpd.GeoSeries([files.STAND], crs=UTM).to_crs(4326)
    files.write_layer(tmp_path / "a.geojson", list(degrees), crs="EPSG:4326")
    layer = read(tmp_path, "a.geojson")
    assert layer.accuracy_m == 2.0
    (found,) = layer.findings
    assert (found.code, found.level) == ("crs_shift", "ok")
    assert found.message == (
        "a.geojson is on WGS 84 and the area on NAD83; between them a place may be off by 2.0 m."
    )
    assert layer.shapes[0].hausdorff_distance(files.STAND) < 0.01


def test_an_old_datum_without_its_grid_is_refused(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "a.gpkg", [files.STAND], crs="EPSG:26718")
    text = message(tmp_path, "a.gpkg")
    assert text.startswith("a.gpkg:a: the shift from NAD27 to NAD83 needs the grid us_noaa_")
    assert text.endswith(
        ".tif, which is not installed, and may be tens of metres; convert the file to EPSG:26918 "
        'with a program that has the grid, or fetch it: "python -m pyproj sync --file '
        'us_noaa_nadcon5_nad27_nad83_1986_conus.tif"'
    )


def test_a_shift_worse_than_two_metres_is_a_caution(tmp_path: Path) -> None:
    target = pyproj.CRS.from_epsg(25832)
    box = shapely.box(3_500_000, 5_800_000, 3_500_100, 5_800_100)
    files.write_layer(tmp_path / "a.gpkg", [box], crs="EPSG:31467")
    layer = read(tmp_path, "a.gpkg", target=target)
    (found,) = layer.findings
    assert found.code == "crs_accuracy"
    assert "is not installed" in found.message
    assert found.value == layer.accuracy_m


def test_heights_of_points_are_dropped(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "a.gpkg", [Polygon([(0, 0, 5), (9, 0, 5), (9, 9, 5)])])
    assert not read(tmp_path, "a.gpkg").shapes[0].has_z


def test_a_layer_is_named_where_there_are_several(tmp_path: Path) -> None:
    for name in ("north", "south"):
        table = gpd.GeoDataFrame({"n": [1]}, geometry=[files.STAND], crs=UTM)
        table.to_file(tmp_path / "a.gpkg", layer=name, engine="pyogrio")
    assert len(read(tmp_path, "a.gpkg:south").table) == 1
    assert message(tmp_path, "a.gpkg") == (
        'a.gpkg has several layers; name one, like "a.gpkg:north" (it has north, south)'
    )
    assert message(tmp_path, "a.gpkg:east") == ('a.gpkg has no layer "east"; it has north, south')


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("none.gpkg", '"none.gpkg": no such file in '),
        ("sub", '"sub": is a folder; name the file in it'),
        ("a.dwg", "a.dwg is of no kind read here (.gpkg, .geojson, .json, .shp, .fgb, .gpx, .kml)"),
        ("http://h/a.gpkg", '"http://h/a.gpkg" is a web address; download the file and name it '
         "here"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_used(tmp_path: Path, text: str, want: str) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "a.dwg").touch()
    assert message(tmp_path, text).startswith(want)


@pytest.mark.parametrize("name", ["a.gpkg", "a.geojson", "a.shp", "a.fgb"])
def test_a_file_of_another_kind_inside(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"<OGRVRTDataSource><OGRVRTLayer name='x'/></OGRVRTDataSource>")
    assert "file inside (or is cut short); export it again" in message(tmp_path, name)


def test_a_damaged_file_is_one_line(tmp_path: Path) -> None:
    whole = files.write_layer(tmp_path / "a.gpkg", [files.STAND]).read_bytes()
    (tmp_path / "b.gpkg").write_bytes(whole[:20_000])
    text = message(tmp_path, "b.gpkg")
    assert text.startswith("b.gpkg")
    assert "\n" not in text


def test_an_empty_layer_and_rows_without_shapes(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "a.gpkg", [None, files.STAND, None])
    layer = read(tmp_path, "a.gpkg")
    assert len(layer.table) == 1
    assert layer.findings[0].message == (
        "a.gpkg:a: 2 of 3 rows have no shape and stay out: rows 1, 3."
    )
    files.write_layer(tmp_path / "b.gpkg", [files.STAND])
    with sqlite3.connect(tmp_path / "b.gpkg") as base:
        base.execute("drop trigger if exists rtree_b_geom_delete")
        base.execute("delete from b")
    base.close()
    assert message(tmp_path, "b.gpkg") == (
        "b.gpkg:b is empty; draw what it should hold, or take the key out"
    )


def test_the_wrong_kind_of_shape(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "a.gpkg", [Point(1, 1)])
    assert message(tmp_path, "a.gpkg") == ("a.gpkg:a row 1 is a Point; polygons are needed here")
    files.write_layer(tmp_path / "b.gpkg", [files.MAIN, files.MAIN])
    assert message(tmp_path, "b.gpkg", "point") == (
        "b.gpkg:b rows 1, 2 are LineStrings; points are needed here"
    )


def test_no_crs_takes_the_named_one_or_is_refused(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "a.shp", [files.STAND])
    (tmp_path / "a.prj").unlink()
    assert message(tmp_path, "a.shp") == (
        'a.shp does not say its CRS; add crs = "EPSG:..." under [area], or store it in the file'
    )
    assert len(read(tmp_path, "a.shp", crs_hint=UTM).table) == 1


def test_geojson_in_metres_without_its_crs(tmp_path: Path) -> None:
    path = files.write_layer(tmp_path / "a.geojson", [files.STAND])
    text = path.read_text(encoding="utf-8")
    start, end = text.index('"crs"'), text.index('"features"')
    path.write_text(text[:start] + text[end:], encoding="utf-8")
    assert message(tmp_path, "a.geojson") == (
        "a.geojson holds numbers that are no degrees (500150, 4900150); GeoJSON is in degrees "
        "unless it says otherwise. Export it with its CRS, as a GeoPackage"
    )


GPX = """<?xml version="1.0"?>{doctype}
<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="44.25" lon="-75.0"><name>gate</name></wpt>
<trk><name>edge</name><trkseg>{points}</trkseg></trk></gpx>"""


def gpx(path: Path, ring: list[tuple[float, float]], doctype: str = "") -> Path:
    points = "".join(f'<trkpt lat="{lat}" lon="{lon}"></trkpt>' for lon, lat in ring)
    path.write_text(GPX.format(points=points, doctype=doctype), encoding="utf-8")
    return path


RING = [(-75.0, 44.25), (-74.999, 44.25), (-74.999, 44.251), (-75.0, 44.251), (-75.0, 44.25005)]


def test_a_walked_boundary_is_closed_and_said(tmp_path: Path) -> None:
    gpx(tmp_path / "walk.gpx", RING)
    layer = read(tmp_path, "walk.gpx", target=pyproj.CRS.from_epsg(32618))
    (found,) = layer.findings
    assert found.code == "line_closed"
    assert found.value == pytest.approx(5.56, abs=0.1)
    assert layer.shapes[0].area == pytest.approx(80 * 111, rel=0.02)


def test_a_walk_that_does_not_come_round_is_refused(tmp_path: Path) -> None:
    gpx(tmp_path / "walk.gpx", RING[:4])
    assert message(tmp_path, "walk.gpx") == (
        "walk.gpx is a line whose ends lie 111 m apart; walk it round to the start (within 20 m), "
        "or draw a polygon"
    )


def test_a_gpx_gives_points_or_lines_as_wanted(tmp_path: Path) -> None:
    gpx(tmp_path / "walk.gpx", RING)
    assert read(tmp_path, "walk.gpx", "point").table["name"].tolist() == ["gate"]
    assert read(tmp_path, "walk.gpx", "line").table["name"].tolist() == ["edge"]
    text = (tmp_path / "walk.gpx").read_text(encoding="utf-8")
    cut = text[: text.index("<trk>")] + "</gpx>"
    (tmp_path / "walk.gpx").write_text(cut, encoding="utf-8")
    assert message(tmp_path, "walk.gpx", "line") == (
        "walk.gpx holds no tracks or routes; record or export them"
    )


BOMB = (
    '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{("&" + a + ";") * 10}">'
        for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + "]>"
)


@pytest.mark.parametrize(
    "doctype", [BOMB, '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>', "<!doctype x>"]
)
def test_entities_are_refused_before_parsing(tmp_path: Path, doctype: str) -> None:
    gpx(tmp_path / "walk.gpx", RING, doctype)
    assert message(tmp_path, "walk.gpx", "line") == (
        "walk.gpx declares entities (<!DOCTYPE), which may pull in other files; export it again "
        "without them"
    )


def test_a_kml_is_read(tmp_path: Path) -> None:
    text = (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark>'
        "<name>s</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        + " ".join(f"{lon},{lat},0" for lon, lat in [*RING[:4], RING[0]])
        + "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>"
    )
    (tmp_path / "a.kml").write_text(text, encoding="utf-8")
    assert read(tmp_path, "a.kml").shapes[0].area == pytest.approx(80 * 111, rel=0.02)


def test_a_boundary_that_crosses_itself_is_mended_and_told() -> None:
    # A square hectare whose north-east corner was drawn as a loop of two triangles of 4 m2.
    w, s, e, n = files.STAND.bounds
    knot = Polygon([(w, s), (e, s), (e, n - 4), (e + 4, n), (e + 4, n - 4), (e, n), (w, n)])
    shapes, found = sound_polygons([files.STAND, knot], "stand.gpkg", "stand")
    assert shapes[0] is files.STAND
    assert shapes[1].is_valid
    assert shapes[1].area == pytest.approx(10_008.0)
    assert found[0].at == (e + 2, n - 2)
    assert found[0].message == (
        "stand.gpkg row 2 crosses or covers itself at 500252, 4900248; it was mended to 1.00 ha, "
        "8 m² of it in doubt. Look at it, and draw it again if wrong."
    )


def test_a_boundary_that_can_be_read_in_two_ways_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        sound_polygons([files.STAND, files.bow_tie()], "stand.gpkg", "stand", where=WHERE)
    assert str(caught.value) == (
        f"{WHERE} stand.gpkg row 2 crosses or covers itself at 500200, 4900200, and what lies "
        "inside cannot be told: 0 m² or 0.50 ha, by how it is read; draw it again (are two "
        "corners in the wrong order?)"
    )


def layer_of(shapes: list[shapely.Geometry], **columns: list[object]) -> Layer:
    table = gpd.GeoDataFrame(columns or {"n": range(len(shapes))}, geometry=shapes, crs=UTM)
    return Layer(table, "x.gpkg", 0.0, ())


def test_parts_and_holes_of_the_stand_stay() -> None:
    ring = files.STAND.difference(files.STAND.buffer(-20))
    far = shapely.affinity.translate(files.STAND, 500, 0)
    joined, _ = joined_polygons(layer_of([MultiPolygon([ring]), far]), "stand")
    assert len(joined.geoms) == 2
    assert sum(len(part.interiors) for part in joined.geoms) == 1
    assert joined.area == pytest.approx(ring.area + far.area)


def test_water_is_taken_on_the_careful_side() -> None:
    line, pond = LineString([(0, 0), (50, 0)]), files.STAND
    features, found = water_features(
        layer_of(
            [line, line, line, line, pond, Point(1, 1)],
            feature_id=["a", "b", "c", None, "e", "f"],
            water_class=["Perennial", "brook", "gully", None, "lake", "seep"],
            bank_width_m=[2.0, None, None, 1.5, None, None],
        )
    )
    assert [f.feature_id for f in features] == ["a", "b", "c", "W4", "e", "f"]
    assert [f.water_class for f in features] == [
        "perennial", "perennial", "perennial", "perennial", "pond", "spring",
    ]  # fmt: skip
    assert [f.bank_width_m for f in features] == [2.0, None, None, 1.5, None, None]
    said = [(f.code, f.subject_id, f.level) for f in found]
    assert said == [("water_class", "c", "caution"), ("water_class", "W4", "caution")]
    # What is assumed of a missing width is told where the strips are laid.
    assert [len(bank_findings(f)) for f in features] == [0, 1, 1, 0, 0, 0]


def test_an_intermittent_line_needs_no_bank_width() -> None:
    line = LineString([(0, 0), (50, 0)])
    features, found = water_features(layer_of([line], water_class=["seasonal"]))
    assert (features[0].water_class, features[0].bank_width_m) == ("intermittent", None)
    assert found == ()


def test_hazards_keep_an_unknown_kind_and_say_so() -> None:
    features, found = hazard_features(
        layer_of([Point(0, 0), Point(1, 1), Point(2, 2)], kind=["Public Trail", "bees", None])
    )
    assert [f.kind for f in features] == ["public_trail", "bees", "unknown"]
    assert [f.subject_id for f in found] == ["H2", "H3"]
    assert "the strictest rule is taken" in found[0].message


def test_old_trails_in_pieces_become_several() -> None:
    whole = MultiLineString([[(0, 0), (10, 0)], [(10, 0), (20, 0)]])
    broken = MultiLineString([[(0, 5), (10, 5)], [(15, 5), (20, 5)]])
    trails, found = existing_trails(
        layer_of(
            [whole, broken],
            trail_id=["old", "two"],
            benched=["Yes", None],
            width_ft=[10.0, None],
        )
    )
    assert [(t.trail_id, t.benched) for t in trails] == [
        ("old", True), ("two-1", False), ("two-2", False),
    ]  # fmt: skip
    assert trails[0].width_m == pytest.approx(3.048)
    assert trails[0].line.length == pytest.approx(20)
    assert found == ()


def test_a_width_that_is_no_number_is_told() -> None:
    trails, found = existing_trails(layer_of([files.MAIN], width_m=["wide"]))
    assert trails[0].width_m is None
    assert found[0].code == "size_unreadable"


def test_lines_lose_doubled_points() -> None:
    line = LineString([(0, 0), (0, 0), (5, 0), (5, 0), (9, 0)])
    assert np.array_equal(shapely.get_coordinates(lines_of(line)), [[0, 0], [5, 0], [9, 0]])
