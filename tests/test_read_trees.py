"""Tree lists: as offices, phones and spreadsheets write them; every fault with its line."""

from pathlib import Path

import area_files as files
import numpy as np
import pyproj
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Point

from layout.errors import InputError
from layout.findings import Finding
from layout.read_trees import TreeFile, read_trees
from layout.site import Trees

UTM = pyproj.CRS.from_epsg(26918)
WHERE = "area.toml [stand] trees:"
ROW = "1,500180,4900220,red oak,18,cut"


def read(
    folder: Path, text: str = "trees.csv", *, full: bool = True, target: pyproj.CRS = UTM
) -> tuple[Trees, dict[str, Finding]]:
    trees, found = read_trees(TreeFile(folder, text, WHERE, full, 5.0), target, None)
    return trees, {finding.code: finding for finding in found}


def table(folder: Path, *lines: str, encoding: str = "utf-8") -> Path:
    path = folder / "trees.csv"
    path.write_text("\n".join(lines) + "\n", encoding=encoding)
    return path


def faults(folder: Path, *lines: str, full: bool = True) -> list[str]:
    table(folder, *lines)
    with pytest.raises(InputError) as caught:
        read(folder, full=full)
    return str(caught.value).splitlines()


HEAD = "tree_id,x,y,species,dbh_in,mark"


def test_a_plain_list(tmp_path: Path) -> None:
    files.write_trees(tmp_path / "trees.csv")
    trees, found = read(tmp_path)
    assert found == {}
    assert trees.tree_id == ("1", "2", "3")
    assert trees.species == ("sugar maple", "red oak", "white pine")
    np.testing.assert_allclose(trees.dbh_cm, [36.83, 45.72, 40.64])
    np.testing.assert_allclose(trees.x, [500180, 500220, 500200])
    assert trees.marked.tolist() == [True, True, False]
    assert trees.position_error_m.tolist() == [5.0, 5.0, 5.0]
    assert np.isnan(trees.height_m).all()
    assert trees.full_list
    assert list(trees.table.columns) == HEAD.split(",")


def test_every_column_is_read_in_its_unit(tmp_path: Path) -> None:
    table(
        tmp_path,
        HEAD + ",height_ft,logs,defect_pct,keep,hazard,lean_deg,lean_azimuth_deg,"
        "position_error_m,Crown class,note",
        ROW + ",60,2.5,10,,dead top,5,270,1.2,dominant,by the wall",
        "2,500181,4900221,rm,10,leave,,,,Crop,no,,,,,",
    )
    trees, found = read(tmp_path)
    assert set(found) == {"species_letters"}
    assert trees.height_m[0] == pytest.approx(18.288)
    assert (trees.logs[0], trees.defect_pct[0]) == (2.5, 10)
    assert (trees.lean_deg[0], trees.lean_azimuth_deg[0]) == (5, 270)
    assert trees.position_error_m.tolist() == [1.2, 5.0]
    assert trees.keep == ("", "crop")
    assert trees.hazard == ("dead_top", "")
    assert trees.table["crown_class"].tolist() == ["dominant", ""]
    assert trees.table["note"][0] == "by the wall"


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_decimal_commas_in_any_other_delimiter(tmp_path: Path, delimiter: str) -> None:
    head = delimiter.join(["tree_id", "x", "y", "species", "dbh_cm", "mark"])
    row = delimiter.join(["1", "500180,5", "4900220,25", "Buche", "45,5", "cut"])
    table(tmp_path, head, row)
    trees, _ = read(tmp_path)
    assert (trees.x[0], trees.y[0], trees.dbh_cm[0]) == (500180.5, 4900220.25, 45.5)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_encodings_of_spreadsheets(tmp_path: Path, encoding: str) -> None:
    table(tmp_path, HEAD, "1,500180,4900220,érable,18,cut", encoding=encoding)
    trees, found = read(tmp_path)
    assert trees.species == ("érable",)
    assert set(found) - {"trees_encoding"} == {"species_unknown"}
    assert ("trees_encoding" in found) == (encoding == "cp1252")


def test_quotes_blank_lines_and_spaces(tmp_path: Path) -> None:
    table(tmp_path, "", "Tree ID, X ,Y,Species,DBH in,Mark,note", "",
          '7, 500180 ,4900220,"oak, red",18,CUT,"said ""so"""', " , , , , , ,")  # fmt: skip
    trees, _ = read(tmp_path)
    assert trees.tree_id == ("7",)
    assert trees.species == ("oak, red",)
    assert trees.table["note"][0] == 'said "so"'


def test_degrees_are_brought_to_the_grid_and_widen_the_error(tmp_path: Path) -> None:
    table(tmp_path, "tree_id,lon,lat,species,dbh_in,mark", "1,-75.0,44.25,oak,18,cut")
    trees, _ = read(tmp_path)
    assert trees.x[0] == pytest.approx(500000, abs=0.01)
    assert trees.position_error_m[0] == pytest.approx(np.hypot(5.0, 2.0))
    trees, _ = read(tmp_path, target=pyproj.CRS.from_epsg(32618))
    assert trees.position_error_m[0] == 5.0


def test_a_list_of_marked_trees_needs_no_mark(tmp_path: Path) -> None:
    table(tmp_path, "tree_id,x,y,species,dbh_in", "1,500180,4900220,red oak,18")
    trees, found = read(tmp_path, full=False)
    assert trees.marked.tolist() == [True]
    assert not trees.full_list
    assert found == {}


def test_blank_marks_are_never_cut_in_a_full_list(tmp_path: Path) -> None:
    table(tmp_path, HEAD, "1,500180,4900220,oak,18,", "2,500190,4900220,oak,18,cut")
    trees, found = read(tmp_path)
    assert trees.marked.tolist() == [False, True]
    assert found["mark_blank"].message == (
        "1 trees of trees.csv have a blank mark; they are taken as leave trees."
    )
    trees, found = read(tmp_path, full=False)
    assert trees.marked.tolist() == [True, True]
    assert "taken as cut" in found["mark_blank"].message


def test_a_note_of_a_table_that_says_not_to_cut(tmp_path: Path) -> None:
    table(tmp_path, HEAD + ",note", "1,500180,4900220,oak,18,,do not cut",
          "2,500190,4900220,oak,18,cut,leave it", "3,500200,4900220,oak,18,,by the wall",
          "4,500210,4900220,oak,18,leave,keep")  # fmt: skip
    trees, found = read(tmp_path, full=False)
    assert trees.marked.tolist() == [False, True, True, False]
    assert found["notes_against_cutting"].level == "caution"
    assert found["mark_blank"].value == 1
    assert "2 ('leave it'); these are cut" in found["notes_against_cutting"].message
    table(tmp_path, "tree_id,x,y,species,dbh_in,note", "1,500180,4900220,oak,18,do not cut")
    trees, found = read(tmp_path, full=False)
    assert trees.marked.tolist() == [False]
    assert "1 ('do not cut'); these are taken as leave" in found["notes_against_cutting"].message


def test_what_is_missing_is_told(tmp_path: Path) -> None:
    table(tmp_path, HEAD, "1,500180,4900220,,18,cut", "2,500190,4900220,oak,,cut",
          "3,500190.1,4900220.1,oak,9,cut")  # fmt: skip
    trees, found = read(tmp_path)
    assert np.isnan(trees.dbh_cm[1])
    # By hand: 75.5 ft of the oak curve, 51.57 cubic feet (GTR-WO-104, group row), 80.2 lb each.
    assert found["dbh_missing"].message == (
        "1 of 3 trees have no DBH (2; 1 of them marked); their volume and weight are not known, so "
        "no pull of the marked ones is held against winch and rope: measure them first. One as "
        "thick as the thickest marked tree (18 in, 46 cm) may weigh 1.9 t (4,100 lb)."
    )
    assert found["dbh_missing"].level == "unknown"
    assert found["species_missing"].value == 1
    assert found["trees_on_one_spot"].message == (
        "1 pairs of trees of trees.csv stand on one spot (2 and 3); is one of them listed twice?"
    )


def test_numbers_are_given_where_none_are_painted(tmp_path: Path) -> None:
    table(tmp_path, "x,y,species,dbh_in,mark", "500180,4900220,oak,18,cut")
    trees, found = read(tmp_path)
    assert trees.tree_id == ("1",)
    assert found["tree_ids"].level == "caution"


def test_unknown_words_count_in_full(tmp_path: Path) -> None:
    table(tmp_path, HEAD + ",keep,hazard", ROW + ",owl nest,leaning badly")
    trees, found = read(tmp_path)
    assert trees.keep == ("owl_nest",)
    assert found["keep_unknown"].level == found["hazard_unknown"].level == "caution"


@pytest.mark.parametrize(
    ("lines", "want"),
    [
        (["tree_id,x,y,species,dbh_in", "1,500180,4900220,oak,18"],
         ["trees.csv does not say which trees are cut: add a column mark (cut or leave) to "
          'trees.csv, or list = "marked" under [stand] of area.toml where the list holds the '
          "marked trees only"]),
        ([HEAD, "1,500180,4900220,oak,18,maybe"],
         ["trees.csv line 2: mark 'maybe' must be \"cut\" or \"leave\""]),
        ([HEAD, ROW, ROW],
         ["trees.csv: tree_id 1 stands on lines 2 and 3; give each tree its own"]),
        ([HEAD, ",500180,4900220,oak,18,cut"], ["trees.csv line 2: tree_id is blank"]),
        ([HEAD, "1,500180,4900220,oak,about 18,cut"],
         ["trees.csv line 2: dbh_in 'about 18' is no number"]),
        ([HEAD, "1,500180,4900220,oak,0x12,cut"],
         ["trees.csv line 2: dbh_in '0x12' is no number"]),
        ([HEAD, "1,500180,4900220,oak,nan,cut"], ["trees.csv line 2: dbh_in 'nan' is no number"]),
        ([HEAD, "1,500180,4900220,oak,457,cut"],
         ["trees.csv line 2: dbh_in 457 is outside 0.5 to 120"]),
        ([HEAD, "1,500180,4900220,oak,-3,cut"],
         ["trees.csv line 2: dbh_in -3 is outside 0.5 to 120"]),
        ([HEAD, "1,,4900220,oak,18,cut"], ["trees.csv line 2: x is blank"]),
        ([HEAD, "1,inf,4900220,oak,18,cut"], ["trees.csv line 2: x 'inf' is no number"]),
        ([HEAD, "1,-75.1,44.2,oak,18,cut"],
         ["trees.csv: x and y look like degrees; name the columns lon and lat"]),
        (["tree_id,lon,lat,species,dbh_in,mark", "1,44.2,-175,oak,18,cut"],
         ["trees.csv: lon and lat are swapped; exchange the two column names"]),
        (["tree_id,lon,lat,species,dbh_in,mark", "1,-175.2,-95,oak,18,cut"],
         ["trees.csv line 2: lat -95 is outside -90 to 90"]),
        (["tree_id,east,north,species,dbh_in,mark", ROW],
         ["trees.csv: name the columns east and north x and y if they are in NAD83 / UTM zone 18N, "
          "metres; otherwise give lon and lat"]),
        (["tree_id,over,up,species,dbh_in,mark", ROW],
         ["trees.csv has neither x and y (area CRS) nor lon and lat; it has tree_id, over, up, "
          "species, dbh_in, mark"]),
        (["tree_id,x,y,species,diam,mark", ROW],
         ['trees.csv: the column "diam" does not say its unit; call it dbh_in (inches) or dbh_cm']),
        (["tree_id,x,y,species,girth,mark", ROW],
         ["trees.csv has neither dbh_in nor dbh_cm; it has tree_id, x, y, species, girth, mark. "
          "Name the diameter so"]),
        ([HEAD + ",dbh_cm", ROW + ",18"],
         ["trees.csv line 2: dbh_in and dbh_cm disagree; keep one of them"]),
        ([HEAD + ",height_m", ROW + ",250"],
         ["trees.csv line 2: height_m 250 is outside 1 to 122"]),
        ([HEAD + ",lean_azimuth_deg", ROW + ",400"],
         ["trees.csv line 2: lean_azimuth_deg 400 is outside 0 to 360"]),
        ([HEAD + ",mark", ROW + ",cut"], ["trees.csv has the column mark twice; rename one"]),
        ([HEAD, "1,500180,5,4900220,oak,18,cut"],
         ["trees.csv: the first line has 6 columns, line 2 has 7; is a decimal comma inside a "
          "comma table?"]),
        ([HEAD], ["trees.csv holds column names and no tree"]),
        ([""], ["trees.csv is empty; write a first line of column names, then a tree a line"]),
        (["a tree list"], ["trees.csv has one column only ('a tree list'); separate columns with "
                           "commas, like tree_id,x,y,species,dbh_in,mark"]),
        ([HEAD, "x" * 50 + ",500180,4900220,oak,18,cut"],
         [f"trees.csv line 2: tree_id '{'x' * 20}'... has over 40 signs"]),
        ([HEAD, "1,500180,4900220,oak,18,cut", "2,500180,4900221,oak,b,cot"],
         ["trees.csv line 3: mark 'cot' must be \"cut\" or \"leave\"",
          "trees.csv line 3: dbh_in 'b' is no number"]),
    ],
)  # fmt: skip
def test_faults_name_their_line(tmp_path: Path, lines: list[str], want: list[str]) -> None:
    assert faults(tmp_path, *lines) == want


def test_at_most_twenty_lines_of_faults(tmp_path: Path) -> None:
    rows = [f"{n},500180,49002{n:02d},oak,x,cut" for n in range(30)]
    told = faults(tmp_path, HEAD, *rows)
    assert len(told) == 21
    assert told[-1] == "trees.csv: and 10 more faults"


def test_files_that_are_no_table(tmp_path: Path) -> None:
    (tmp_path / "trees.csv").write_bytes(b"PK\x03\x04\x00\x00")
    with pytest.raises(InputError, match=r"trees\.csv is a spreadsheet \(or a zip file\) inside"):
        read(tmp_path)
    with pytest.raises(InputError) as caught:
        read(tmp_path, "trees.pdf")
    assert str(caught.value) == (
        f"{WHERE} trees.pdf is of no kind read here (.csv, .txt, .tsv, .gpkg, .geojson, .json, "
        ".shp, .fgb, .gpx, .kml, .kmz)"
    )
    with pytest.raises(InputError, match=r'"none\.csv": no such file in'):
        read(tmp_path, "none.csv")


def test_a_point_layer_reads_like_a_table(tmp_path: Path) -> None:
    files.write_layer(
        tmp_path / "t.gpkg",
        [Point(500180, 4900220), Point(500190, 4900230)],
        tree_id=[7, 8],
        species=["red oak", None],
        dbh_cm=[45.5, np.nan],
        mark=["cut", "leave"],
        keep=[None, "den"],
    )
    trees, found = read(tmp_path, "t.gpkg")
    assert trees.tree_id == ("7", "8")
    assert trees.dbh_cm[0] == 45.5
    assert trees.keep == ("", "den")
    assert set(found) == {"dbh_missing", "species_missing"}


def test_groups_of_points_are_no_trees(tmp_path: Path) -> None:
    files.write_layer(tmp_path / "t.gpkg", [MultiPoint([(0, 0), (1, 1)])])
    with pytest.raises(InputError, match="holds groups of points; one point a tree"):
        read(tmp_path, "t.gpkg")


def test_phone_notes_are_taken_apart(tmp_path: Path) -> None:
    points = "".join(
        f'<wpt lat="44.25{n}" lon="-75.0"><name>{name}</name><desc>{desc}</desc></wpt>'
        for n, (name, desc) in enumerate(
            [("37 RO 18 2", ""), ("WP2", "38 sugar maple 14.5"), ("the big one", "")], start=1
        )
    )
    text = (
        f'<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    )
    (tmp_path / "t.gpx").write_text(text, encoding="utf-8")
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.tree_id == ("37", "38", "P3")
    assert trees.species == ("RO", "sugar maple", "")
    np.testing.assert_allclose(trees.dbh_cm[:2], [45.72, 36.83])
    assert trees.logs[0] == 2
    assert "1 of 3 notes are not like" in found["waypoint_notes"].message
    assert "P3 'the big one'" in found["waypoint_notes"].message


CELL = st.sampled_from(
    ["", "1", "2", "500180", "4900220", "oak", "18", "cut", "leave", "-1", "1e9", "x", '"', "4,5"]
) | st.text(max_size=6)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.lists(CELL, min_size=5, max_size=7), max_size=4),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["utf-8", "utf-16", "cp1252"]),
)
def test_any_table_gives_trees_or_faults(
    tmp_path: Path, rows: list[list[str]], delimiter: str, encoding: str
) -> None:
    text = "\n".join([delimiter.join(HEAD.split(",")), *(delimiter.join(row) for row in rows)])
    (tmp_path / "trees.csv").write_bytes(text.encode(encoding, errors="replace"))
    try:
        trees, _ = read(tmp_path)
    except InputError as refused:
        told = str(refused)
        assert "trees.csv" in told
        return
    assert len(trees) == len(trees.table) == len(set(trees.tree_id))
    assert np.isfinite(trees.x).all()
    assert not (trees.dbh_cm <= 0).any()
