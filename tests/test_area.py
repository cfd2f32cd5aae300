"""A whole area: one CRS, every fault at once, doubts as findings."""

import shutil
from pathlib import Path

import area_files as files
import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from rasterio.transform import Affine
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from layout.area import read_area
from layout.errors import InputError, InputFaults
from layout.findings import Finding, ordered
from layout.site import Area


def by_code(area: Area) -> dict[str, Finding]:
    return {finding.code: finding for finding in area.findings}


def faults(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_area(path)
    if isinstance(caught.value, InputFaults):
        return list(caught.value.faults)
    return [str(caught.value)]


@pytest.fixture(scope="module")
def tidy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return files.tidy_area(tmp_path_factory.mktemp("areas") / "tidy")


@pytest.fixture
def folder(tidy: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(tidy, tmp_path / "lot"))


def test_a_tidy_area_is_read_without_a_finding(tidy: Path) -> None:
    area = read_area(tidy)
    assert area.findings == ()
    assert area.crs == pyproj.CRS.from_epsg(26918)
    assert area.folder == tidy.resolve()
    assert area.stand.area == pytest.approx(10_000)
    assert area.landing is not None
    assert area.landing.area == pytest.approx(500)
    assert area.trees.tree_id == ("1", "2", "3")
    assert area.settings.area.name == "Test lot"
    west, south, east, north = area.dem.bounds
    margin = area.settings.winch.rope_reach_m + 60
    assert west == pytest.approx(files.WEST + 150 - margin, abs=1)
    assert north == pytest.approx(files.NORTH - 150 + margin, abs=1)
    assert (east - west, north - south) == (pytest.approx(325, abs=5), pytest.approx(340, abs=5))


def test_the_folder_and_its_file_are_the_same_area(tidy: Path) -> None:
    area = read_area(tidy / "area.toml")
    assert area.folder == tidy.resolve()
    assert read_area(str(tidy)).dem.bounds == area.dem.bounds


def test_reading_twice_gives_the_same(tidy: Path) -> None:
    one, two = read_area(tidy), read_area(tidy)
    assert np.array_equal(one.dem.z, two.dem.z)
    assert one.findings == two.findings
    assert one.stand.equals_exact(two.stand, 0)


def test_the_main_trail_starts_at_the_landing_however_it_was_drawn(folder: Path) -> None:
    for line in (files.MAIN, files.MAIN.reverse()):
        files.write_layer(folder / "main.gpkg", [line])
        main = read_area(folder).main_trail
        assert main is not None
        assert main.coords[0] == (files.WEST + 200, files.NORTH - 244)
        assert main.coords[-1] == (files.WEST + 200, files.NORTH - 170)


def test_a_main_trail_in_touching_pieces_is_one_line(folder: Path) -> None:
    x = files.WEST + 200
    pieces = [
        LineString([(x, files.NORTH - 170), (x, files.NORTH - 200)]),
        LineString([(x, files.NORTH - 244), (x, files.NORTH - 200)]),
    ]
    for shapes in (pieces, [MultiLineString(pieces)]):
        files.write_layer(folder / "main.gpkg", shapes)
        main = read_area(folder).main_trail
        assert main is not None
        assert main.length == pytest.approx(74)
        assert main.coords[0][1] == files.NORTH - 244


def test_a_landing_from_a_point_is_a_square_of_its_area(folder: Path) -> None:
    x, y = files.WEST + 200, files.NORTH - 255
    to_degrees = pyproj.Transformer.from_crs("EPSG:26918", "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(x, y)
    files.write_layer(folder / "spot.gpkg", [Point(x, y)])
    for keys in (
        {"landing__at": f"[{x}, {y}]", "landing__shape": ""},
        {"landing__at": f"{{lon = {lon}, lat = {lat}}}", "landing__shape": ""},
        {"landing__shape": '"spot.gpkg"'},
    ):
        files.write_toml(folder, **keys, landing__area='"400 m^2"')
        landing = read_area(folder).landing
        assert landing is not None
        assert landing.area == pytest.approx(400)
        assert landing.centroid.distance(Point(x, y)) < 0.01


def test_without_landing_and_main_trail(folder: Path) -> None:
    files.write_toml(folder, landing="", main_trail="")
    area = read_area(folder)
    assert area.landing is None
    assert area.main_trail is None
    files.write_toml(folder, landing="")
    assert by_code(read_area(folder))["main_trail_direction"].level == "caution"


def test_degrees_everywhere_give_a_utm_area(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    to_degrees = pyproj.Transformer.from_crs("EPSG:26918", "EPSG:4269", always_xy=True)
    lon0, lat0 = to_degrees.transform(files.WEST - 20, files.NORTH - 420)
    lon1, lat1 = to_degrees.transform(files.WEST + 420, files.NORTH + 20)
    n = 420
    files.write_dem(
        folder / "dem.tif",
        files.slope(n, n),
        crs="EPSG:4269",
        transform=Affine((lon1 - lon0) / n, 0, lon0, 0, -(lat1 - lat0) / n, lat1),
    )
    area = read_area(folder)
    assert area.crs == pyproj.CRS.from_epsg(26918)
    assert area.stand.area == pytest.approx(10_000, rel=1e-6)
    assert set(by_code(area)) == {"dem_resampled"}


def test_layers_of_another_crs_land_in_the_same_place(folder: Path, tidy: Path) -> None:
    want = read_area(tidy)
    stand = shapely.transform(
        files.STAND,
        lambda xy: np.column_stack(
            pyproj.Transformer.from_crs(26918, 4269, always_xy=True).transform(xy[:, 0], xy[:, 1])
        ),
    )
    files.write_layer(folder / "stand.gpkg", [stand], crs="EPSG:4269")
    area = read_area(folder)
    assert area.stand.hausdorff_distance(want.stand) < 0.001
    assert area.findings == ()


def test_optional_layers_become_records(folder: Path) -> None:
    x, y = files.WEST + 200, files.NORTH - 200
    far = LineString([(x + 5000, y), (x + 5100, y)])
    files.write_layer(
        folder / "water.gpkg",
        [LineString([(x - 60, y), (x + 60, y)]), far],
        feature_id=["brook", "elsewhere"],
        water_class=["perennial", "perennial"],
        bank_width_m=[2.0, 2.0],
    )
    files.write_layer(folder / "haz.gpkg", [Point(x, y)], kind=["well"])
    files.write_layer(folder / "old.gpkg", [files.MAIN], benched=["yes"])
    files.write_layer(folder / "road.gpkg", [files.MAIN])
    files.write_layer(folder / "out.gpkg", [Point(x, y).buffer(5)])
    files.write_layer(folder / "field.gpkg", [box(x - 60, y - 100, x + 60, y - 50)])
    files.write_toml(
        folder,
        water__features='"water.gpkg"',
        access__hazards='"haz.gpkg"',
        ground__existing_trails='"old.gpkg"',
        ground__access_road='"road.gpkg"',
        ground__keep_out='"out.gpkg"',
        ground__may_use='"field.gpkg"',
    )
    area = read_area(folder)
    assert [w.feature_id for w in area.water] == ["brook"]
    assert area.hazards[0].kind == "well"
    assert area.existing[0].benched
    assert area.access_road[0].length == pytest.approx(74)
    assert area.keep_out[0].area == pytest.approx(78, abs=2)
    assert area.may_use.area == pytest.approx(6000)


def test_a_stand_that_crosses_itself_is_refused_where_its_ground_cannot_be_told(
    folder: Path,
) -> None:
    files.write_layer(folder / "stand.gpkg", [files.bow_tie()])
    assert faults(folder) == [
        "area.toml [stand] boundary: stand.gpkg:stand row 1 crosses or covers itself at 500200, "
        "4900200, and what lies inside cannot be told: 0 m² or 0.50 ha, by how it is read; draw it "
        "again (are two corners in the wrong order?)"
    ]


def test_ground_to_keep_off_that_crosses_itself_is_taken_whole(folder: Path) -> None:
    files.write_layer(folder / "out.gpkg", [files.bow_tie()])
    files.write_toml(folder, ground__keep_out='"out.gpkg"')
    area = read_area(folder)
    assert sum(part.area for part in area.keep_out) == pytest.approx(5000)
    assert by_code(area)["shape_mended"].level == "caution"


def test_trees_outside_the_stand_are_kept_and_told(folder: Path) -> None:
    rows = [
        (str(n), f"{files.WEST + 160 + 10 * n}", f"{files.NORTH - 200}", "oak", "14", "cut")
        for n in range(11)
    ]
    files.write_trees(folder / "trees.csv", rows)
    area = read_area(folder)
    assert len(area.trees) == 11
    said = by_code(area)["trees_outside"]
    assert said.level == "caution"
    assert said.message == (
        "2 of 11 trees lie outside the stand, 2 of them marked (9, 10); they are not planned. "
        "Check the boundary and the coordinates."
    )


def test_trees_somewhere_else_or_swapped_are_refused(folder: Path) -> None:
    files.write_trees(folder / "trees.csv", [("1", "600000", "4900200", "oak", "14", "cut")])
    assert faults(folder) == [
        "trees.csv: 1 of 1 trees lie outside the stand (x 500150 to 500250, y 4900150 to 4900250 "
        "in NAD83 / UTM zone 18N); are the coordinates in that CRS?"
    ]
    files.write_trees(folder / "trees.csv", [("1", "4900200", "500200", "oak", "14", "cut")])
    assert faults(folder) == ["trees.csv: x and y are swapped; exchange the two column names"]


def test_trees_in_the_feet_of_the_elevations_are_read_so_and_told(folder: Path) -> None:
    """The national grid in feet is the elevations'; places held to pyproj's own change."""
    move = pyproj.Transformer.from_crs(26918, 2261, always_xy=True)  # New York Central, US feet
    west, south, east, north = move.transform_bounds(
        files.WEST - 50, files.NORTH - 450, files.WEST + 450, files.NORTH + 50
    )
    files.write_dem(
        folder / "dem.tif",
        np.full((int((north - south) / 3), int((east - west) / 3)), 300, dtype=np.float32),
        crs="EPSG:2261",
        transform=Affine(3, 0, west, 0, -3, north),
    )
    there = [(files.WEST + x, files.NORTH - y) for x, y in ((180, 180), (220, 200))]
    rows = []
    for n, (x, y) in enumerate(there):
        east_ft, north_ft = move.transform(x, y)
        rows.append((str(n), f"{east_ft:.2f}", f"{north_ft:.2f}", "oak", "14", "cut"))
    files.write_trees(folder / "trees.csv", rows)
    area = read_area(folder)
    np.testing.assert_allclose(np.column_stack((area.trees.x, area.trees.y)), there, atol=0.01)
    said = by_code(area)["trees_own_grid"]
    assert said.level == "caution"
    assert "US survey foot" in said.message
    assert "trees_outside" not in by_code(area)
    files.write_trees(folder / "trees.csv", [("1", "600000", "4900200", "oak", "14", "cut")])
    assert "1 of 1 trees lie outside the stand" in faults(folder)[0]


def test_a_tree_nearer_the_line_than_the_line_is_known(folder: Path) -> None:
    files.write_layer(folder / "property.gpkg", [files.STAND])
    files.write_toml(folder, property__error='"26 m"', stand__position_error='"6 m"')
    area = read_area(folder)
    near = [f for f in area.findings if f.code == "tree_near_line"]
    assert [f.subject_id for f in near] == ["1", "2"]
    assert near[0].level == "caution"
    assert near[0].value == pytest.approx(30)
    assert near[0].limit == pytest.approx(32)
    assert "it may not be yours; confirm the line on the ground" in near[0].message
    assert "known to 26 m, as the tree is to 6.0 m" in near[0].message
    files.write_toml(folder, property__error='"29 m"', stand__position_error='"0.5 m"')
    assert "tree_near_line" not in by_code(read_area(folder))


def test_without_a_property_line_the_edge_counts_off_a_shared_field(folder: Path) -> None:
    files.write_toml(folder, property="", stand__position_error='"0 m"')
    rows = [
        ("1", f"{files.WEST + 155}", f"{files.NORTH - 200}", "oak", "14", "cut"),
        ("2", f"{files.WEST + 200}", f"{files.NORTH - 245}", "oak", "14", "cut"),
    ]
    files.write_trees(folder / "trees.csv", rows)
    said = by_code(read_area(folder))
    assert said["tree_near_line"].message.startswith(
        "2 marked trees stand within 9.1 m of the stand's edge (1, 2)"
    )
    x, y = files.WEST + 200, files.NORTH - 250
    files.write_layer(folder / "field.gpkg", [box(x - 70, y - 40, x + 70, y)])
    files.write_toml(
        folder, property="", ground__may_use='"field.gpkg"', stand__position_error='"0 m"'
    )
    assert by_code(read_area(folder))["tree_near_line"].message.startswith(
        "1 marked trees stand within 9.1 m of the stand's edge (1)"
    )


def test_loads_the_user_timed_are_read(folder: Path) -> None:
    (folder / "log.csv").write_text("minutes,distance_ft\n25,300\n", encoding="utf-8")
    files.write_toml(folder, work__log='"log.csv"')
    area = read_area(folder)
    assert [(load.minutes, load.distance_m) for load in area.log] == [(25, pytest.approx(91.44))]
    assert "key_not_used" not in by_code(area)
    (folder / "log.csv").write_text("minutes,distance_ft\nten,300\n", encoding="utf-8")
    files.write_toml(folder, work__log='"log.csv"', trailer__at="[10, 20]")
    with pytest.raises(InputFaults) as told:
        read_area(folder)
    assert told.value.faults == (
        "log.csv line 2: minutes 'ten' is no number",
        "area.toml [trailer] at: [10, 20] looks like degrees; write {lon = ..., lat = ...}",
    )
    files.write_toml(folder, work__log='"none.csv"')
    with pytest.raises(InputError, match=r'\[work\] log: "none.csv": no such file'):
        read_area(folder)


def test_findings_come_sorted(folder: Path) -> None:
    files.write_toml(folder, ground__elevation_unit='"ft"', tractor__belt='"?"', work__crew="1")
    area = read_area(folder)
    assert area.findings == ordered(area.findings)
    assert area.findings[0].level == "stop"


@pytest.mark.parametrize(
    ("keys", "want"),
    [
        ({"ground__dem": '"none.tif"'}, ['[ground] dem: "none.tif": no such file in {folder}']),
        ({"stand__boundary": '"none.gpkg"'},
         ['[stand] boundary: "none.gpkg": no such file in {folder}']),
        ({"stand__trees": '"none.csv"'},
         ['[stand] trees: "none.csv": no such file in {folder}']),
        ({"ground__dem": '"none.tif"', "stand__trees": '"none.csv"', "property__line": '"no.shp"'},
         ['[ground] dem: "none.tif": no such file in {folder}',
          '[stand] trees: "none.csv": no such file in {folder}',
          '[property] line: "no.shp": no such file in {folder}']),
        ({"stand__boundary": '"none.gpkg"', "stand__trees": '"none.csv"',
          "landing__shape": '"no.gpkg"'},
         ['[stand] boundary: "none.gpkg": no such file in {folder}',
          '[stand] trees: "none.csv": no such file in {folder}',
          '[landing] shape: "no.gpkg": no such file in {folder}']),
        ({"ground__dem": '"s3://woods/dem.tif"'},
         ['[ground] dem: "s3://woods/dem.tif" is no https address; download the file and '
          "name it here"]),
        ({"area__crs": '"EPSG:999999"'},
         ['[area] crs: "EPSG:999999" is no CRS known here; write it like "EPSG:26918"']),
        ({"stand__boundary": '"main.gpkg"'},
         ["[stand] boundary: main.gpkg:main has fewer than 3 different points and encloses "
          "nothing; draw or walk all round the ground"]),
        ({"landing__at": "[500200, 4900145]"},
         ["[landing] at: both at and shape are given; keep one of them"]),
        ({"landing__at": "[-75.0, 44.2]", "landing__shape": ""},
         ["[landing] at: [-75, 44.2] looks like degrees; write {lon = ..., lat = ...}"]),
        ({"landing__at": "[510000, 4900145]", "landing__shape": "", "main_trail": ""},
         ["[landing]: it lies at 510000, 4900145, off the elevations of dem.tif; is it in the "
          "right CRS?"]),
        ({"landing__shape": '"main.gpkg"'},
         ["[landing] shape: main.gpkg:main must hold polygons, one for each landing, "
          "or points"]),
        ({"main_trail__line": '"stand.gpkg"'},
         ["[main_trail] line: stand.gpkg:stand row 1 is a Polygon; lines are needed here"]),
    ],
)  # fmt: skip
def test_faults_say_what_and_where(folder: Path, keys: dict[str, str], want: list[str]) -> None:
    files.write_toml(folder, **keys)
    told = faults(folder)
    assert told == [f"area.toml {line}".replace("{folder}", str(folder.resolve())) for line in want]


def test_a_main_trail_in_two_places_or_far_too_short(folder: Path) -> None:
    x, y = files.WEST + 200, files.NORTH - 244
    apart = [LineString([(x, y), (x, y + 20)]), LineString([(x, y + 30), (x, y + 60)])]
    files.write_layer(folder / "main.gpkg", apart)
    assert faults(folder) == [
        "area.toml [main_trail] line: main.gpkg:main holds 2 lines that do not join end to end; "
        "draw the main trail as one line"
    ]
    files.write_layer(folder / "main.gpkg", [LineString([(x, y), (x, y + 4)])])
    assert faults(folder) == [
        "area.toml [main_trail] line: main.gpkg:main is 4.0 m long; grades are measured over "
        "10 m, draw it longer"
    ]


def test_a_stand_of_no_size(folder: Path) -> None:
    x, y = files.WEST + 200, files.NORTH - 200
    files.write_layer(folder / "stand.gpkg", [Polygon([(x, y), (x + 5, y), (x, y + 5)])])
    assert faults(folder)[0] == (
        "area.toml [stand] boundary: the stand of stand.gpkg:stand has 12 m2; is it in the right "
        "CRS?"
    )


def test_a_stand_with_latitude_first_is_told_though_the_raster_names_no_zone(folder: Path) -> None:
    # the CRS a raster stores seldom says which ground it is made for
    degrees = gpd.GeoSeries([files.STAND], crs="EPSG:26918").to_crs("EPSG:4326").iloc[0]
    swapped = shapely.transform(degrees, lambda xy: xy[:, ::-1])
    files.write_layer(folder / "stand.geojson", [swapped], crs="EPSG:4326")
    files.write_toml(folder, stand__boundary='"stand.geojson"')
    (said,) = [line for line in faults(folder) if "boundary" in line]
    assert "stand.geojson has latitude where longitude belongs (44.25" in said
    assert said.endswith("they are swapped; write longitude first")


@pytest.mark.parametrize("cut", ["half", "inside", "near the end"])
def test_a_damaged_geopackage_is_told_in_plain_words(folder: Path, cut: str) -> None:
    path = folder / "stand.gpkg"
    whole = path.read_bytes()
    waste = {"inside": (4096, 20_000), "near the end": (len(whole) - 30_000, len(whole) - 4096)}
    if cut == "half":
        path.write_bytes(whole[: len(whole) // 2])
    else:
        first, last = waste[cut]
        path.write_bytes(whole[:first] + b"U" * (last - first) + whole[last:])
    (said,) = [line for line in faults(folder) if "boundary" in line]
    assert said == (
        "area.toml [stand] boundary: stand.gpkg is damaged or cut short (its database cannot be "
        "read); export it again, or take a copy that opens"
    )


def test_a_map_of_parcels_is_one_stand_only_in_so_many_words(folder: Path) -> None:
    west, south, east, north = files.STAND.bounds
    middle = (west + east) / 2
    parcels = [box(west, south, middle, north), box(middle, south, east, north)]
    for columns, said in (
        ({"owner": ["mine", "neighbour"]}, "mine (0.50 ha), neighbour (0.50 ha)"),
        ({"height": [1.0, 2.0]}, "row 1 (0.50 ha), row 2 (0.50 ha)"),
    ):
        files.write_layer(folder / "stand.gpkg", parcels, **columns)
        area = read_area(folder)
        (told,) = (f for f in area.findings if f.code == "stand_rows")
        assert told.level == "caution" and told.value == 2
        assert f"2 polygons are taken as one stand of 1.00 ha: {said}." in told.message


def test_a_folder_without_the_file_and_no_folder(tmp_path: Path) -> None:
    assert faults(tmp_path) == [f"{tmp_path}: no area.toml in this folder; is it the right one?"]
    assert faults(tmp_path / "x") == [
        f"{tmp_path / 'x'}: no such folder or file; name the folder that holds area.toml"
    ]


def test_both_made_areas_of_the_repository_have_no_stop() -> None:
    root = Path(__file__).parents[1]
    for name in ("sample_area", "tests/data/metric_area"):
        area = read_area(root / name)
        assert [f for f in area.findings if f.level == "stop"] == []
        assert area.trees.marked.any()
