"""Every way a tree list arrives: tables of any hand, phones of any kind, with the outcome."""

import zipfile
from pathlib import Path

import area_files as files
import numpy as np
import pyproj
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from layout.errors import InputError
from layout.findings import Finding
from layout.formula_marks import bare, guarded
from layout.read_progress import progress_rows
from layout.read_trees import TreeFile, read_trees
from layout.read_waypoints import read_waypoints
from layout.site import Trees
from layout.species import field_codes, find, species_table
from layout.units import Units
from layout.waypoint_table import list_text
from layout.waypoint_trees import listen, numbered

UTM = pyproj.CRS.from_epsg(32618)
NAD83 = pyproj.CRS.from_epsg(26918)
WHERE = "area.toml [stand] trees:"
HEAD = "tree_id,x,y,species,dbh_in,mark"
ROW = "1,500180,4900220,red oak,18,cut"
IN = 2.54


def read(
    folder: Path,
    name: str = "trees.csv",
    *,
    full: bool = True,
    units: Units = "us",
    target: pyproj.CRS = UTM,
) -> tuple[Trees, dict[str, Finding]]:
    trees, found = read_trees(TreeFile(folder, name, WHERE, full, 5.0, units), target, None)
    return trees, {finding.code: finding for finding in found}


def refusal(folder: Path, name: str = "trees.csv", **how: object) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, name, **how)  # type: ignore[arg-type]
    return str(caught.value)


# ---- tables: bytes as they come, and what they must be read as ---------------------------

LONLAT = "tree_id,lon,lat,species,dbh_in,mark"
ONE = (("1",), (500180.0,), (4900220.0,), (45.72,), (True,))

TABLES: dict[str, bytes] = {
    "plain": f"{HEAD}\n{ROW}\n".encode(),
    "no last line end": f"{HEAD}\n{ROW}".encode(),
    "windows line ends": f"{HEAD}\r\n{ROW}\r\n".encode(),
    "old mac line ends": f"{HEAD}\r{ROW}\r".encode(),
    "line ends of both": f"{HEAD}\r\n{ROW}\n\n\r\n".encode(),
    "byte order mark": b"\xef\xbb\xbf" + f"{HEAD}\n{ROW}\n".encode(),
    "utf-16, little end": f"{HEAD}\n{ROW}\n".encode("utf-16"),
    "utf-16, big end": b"\xfe\xff" + f"{HEAD}\n{ROW}\n".encode("utf-16-be"),
    "semicolons": f"{HEAD}\n{ROW}\n".replace(",", ";").encode(),
    "tabs": f"{HEAD}\n{ROW}\n".replace(",", "\t").encode(),
    "bars": f"{HEAD}\n{ROW}\n".replace(",", "|").encode(),
    "the spreadsheet's own first line": b"sep=;\r\n" + f"{HEAD}\r\n{ROW}\r\n".replace(
        ",", ";").encode(),
    "decimal commas": b"tree_id;x;y;species;dbh_in;mark\n1;500180,0;4900220,00;red oak;18,0;cut\n",
    "quoted cells": b'"tree_id","x","y","species","dbh_in","mark"\n'
                    b'"1","500180","4900220","red oak","18","cut"\n',
    "commas in a quoted name": f'"tree_id",x,y,species,dbh_in,mark,"note, mine; or|yours"\n'
                               f'{ROW},"a, b"\n'.encode(),
    "a note of two lines": f'{HEAD},note\n{ROW},"wet, and\nsteep, too"\n'.encode(),
    "inch marks inside cells": f'{HEAD},note\n{ROW},18" at the butt\n'.encode(),
    "headings of any case": b"Tree ID, X ,Y,SPECIES, DBH_in ,Mark\n"
                            b"1, 500180,4900220,Red Oak,18,CUT\n",
    "units in brackets": f"tree_id,x,y,species,DBH (in),mark\n{ROW}\n".encode(),
    "other names": f"Tree_No,x,y,species,dbh_inches,mark\n{ROW}\n".encode(),
    "centimetres": b"tree_id,x,y,species,dbh_cm,mark\n1,500180,4900220,red oak,45.72,cut\n",
    "both units agreeing": f"{HEAD},dbh_cm\n{ROW},45.7\n".encode(),
    "inventory number": f"{HEAD}\n{ROW}\n".replace("red oak", "833").encode(),
    "number of a spreadsheet": f"{HEAD}\n{ROW}\n".replace("red oak", "833.0").encode(),
    "name turned round": f'{HEAD}\n1,500180,4900220,"oak, red",18,cut\n'.encode(),
    "empty columns at the end": f"{HEAD},,\n{ROW},,\n".encode(),
    "longer rows of blanks": f"{HEAD}\n{ROW},,,\n".encode(),
    "cells guarded from a spreadsheet": f"{HEAD},note\n{ROW},'=1+1\n".encode(),
    "degrees": b"tree_id,lon,lat,species,dbh_in,mark\n1,-74.9977452,44.2552182,red oak,18,cut\n",
    "degrees, named in full": b"tree_id,Longitude,Latitude,species,dbh_in,mark\n"
                              b"1,-74.9977452,44.2552182,red oak,18,cut\n",
    "numbers in full": b"tree_id,x,y,species,dbh_in,mark\n1,5.0018e5,+4900220.,red oak,1.8E1,cut\n",
}  # fmt: skip


@pytest.mark.parametrize("case", TABLES)
def test_one_tree_however_it_is_written(tmp_path: Path, case: str) -> None:
    (tmp_path / "trees.csv").write_bytes(TABLES[case])
    trees, found = read(tmp_path)
    ids, x, y, dbh, marked = ONE
    assert trees.tree_id == ids
    assert find(trees.species[0]).row == find("northern red oak").row
    np.testing.assert_allclose(trees.x, x, atol=0.1)
    np.testing.assert_allclose(trees.y, y, atol=0.1)
    np.testing.assert_allclose(trees.dbh_cm, dbh, atol=0.05)
    assert tuple(trees.marked) == marked
    assert set(found) <= {"species_letters"}


TOLD: dict[str, tuple[bytes, set[str]]] = {
    "letters": (f"{HEAD}\n{ROW}\n".replace("red oak", "YB").encode(), {"species_letters"}),
    "letters of two trees": (f"{HEAD}\n{ROW}\n".replace("red oak", "SM").encode(),
                             {"species_letters"}),
    "unknown species, marked": (f"{HEAD}\n{ROW}\n".replace("red oak", "gumbo").encode(),
                                {"species_unknown"}),
    "unknown species, not marked": (f"{HEAD}\n1,500180,4900220,gumbo,18,leave\n".encode(),
                                    {"species_unknown"}),
    "group": (f"{HEAD}\n{ROW}\n".replace("red oak", "pine").encode(), {"species_stand_in"}),
    "no species": (f"{HEAD}\n{ROW}\n".replace("red oak", "").encode(), {"species_missing"}),
    "no species column": (b"tree_id,x,y,dbh_in,mark\n1,500180,4900220,18,cut\n",
                          {"species_missing"}),
    "no diameter": (f"{HEAD}\n{ROW}\n".replace(",18,", ",,").encode(), {"dbh_missing"}),
    "western letters": (f"{HEAD},note\n{ROW},near the caf\xe9\n".encode("cp1252"),
                        {"trees_encoding"}),
    "diameters like centimetres": (f"{HEAD}\n{ROW}\n".replace(",18,", ",46,").encode(),
                                   {"dbh_doubtful"}),
    "diameters like inches": (b"tree_id,x,y,species,dbh_cm,mark\n"
                              b"1,500180,4900220,red oak,12,cut\n", {"dbh_doubtful"}),
    "metres in a column of feet": (f"{HEAD},height_ft\n{ROW},24\n".encode(), {"height_doubtful"}),
    "feet in a column of metres": (f"{HEAD},height_m\n{ROW},80\n".encode(), {"height_doubtful"}),
    "misspelt column": (f"{HEAD},hazrd\n{ROW},hung\n".encode(), {"column_not_read"}),
    "height without unit": (f"{HEAD},height\n{ROW},80\n".encode(), {"column_not_read"}),
    "no numbers": (b"x,y,species,dbh_in,mark\n500180,4900220,red oak,18,cut\n", {"tree_ids"}),
    "numbers under another name": (b"tag,x,y,species,dbh_in,mark\n"
                                   b"7,500180,4900220,red oak,18,cut\n", {"tree_ids"}),
    "two on one spot": (f"{HEAD}\n{ROW}\n2,500180.2,4900220,red oak,18,cut\n".encode(),
                        {"trees_on_one_spot"}),
    "grades": (f"{HEAD},log_grade\n{ROW},1.0\n2,500190,4900220,red oak,18,cut,Pulp\n".encode(),
               set()),
    "unknown grade": (f"{HEAD},log_grade\n{ROW},triple A\n".encode(), {"log_grade_unknown"}),
    "two a step apart": (f"{HEAD}\n{ROW}\n2,500180.4,4900220,red oak,18,cut\n".encode(), set()),
}  # fmt: skip


@pytest.mark.parametrize("case", TOLD)
def test_what_can_be_used_is_used_and_told(tmp_path: Path, case: str) -> None:
    text, codes = TOLD[case]
    (tmp_path / "trees.csv").write_bytes(text)
    trees, found = read(tmp_path)
    assert len(trees) >= 1
    assert set(found) == codes


def test_an_unknown_grade_is_kept_and_told_with_its_lines(tmp_path: Path) -> None:
    rows = [f"{n},{500180 + n},4900220,red oak,18,cut,{grade}" for n, grade in
            enumerate(("F1", "triple A", "", "Triple A", "3.0"), start=1)]  # fmt: skip
    table(tmp_path, f"{HEAD},log_grade", *rows)
    trees, found = read(tmp_path)
    assert trees.log_grade == ("f1", "triple a", "", "triple a", "3")
    assert '"triple a" (3, 5) is no grade known here' in found["log_grade_unknown"].message
    table(tmp_path, HEAD, ROW)
    assert read(tmp_path)[0].log_grade == ()


def table(folder: Path, *lines: str) -> None:
    (folder / "trees.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_what_is_told_names_trees_numbers_and_what_to_do(tmp_path: Path) -> None:
    table(tmp_path, HEAD + ",hazrd",
          "1,500100,4900220,gumbo,18,cut,", "2,500110,4900220,gumbo,18,leave,",
          "3,500120,4900220,SM,18,cut,", "4,500130,4900220,pine,18,leave,",
          "5,500140,4900220,red oak,,cut,hung")  # fmt: skip
    _, found = read(tmp_path)
    assert found["species_unknown"].message == (
        '2 of 5 trees are of a species not known here ("gumbo" 2; trees 1, 2; 1 of them marked); '
        "each weighs as the heaviest known (hard maple, oak, hickory and beech, any). Write the "
        "common name in full."
    )
    assert found["species_unknown"].value == 2
    assert found["species_letters"].message == (
        "trees.csv: letters were taken so: SM is sugar maple, not silver maple or soft maple (1). "
        "Letters mean other trees in other places: write names in full where wrong."
    )
    assert found["species_stand_in"].message.startswith(
        '1 of 5 trees are named by a group, or have no weight of their own here ("pine" 1)'
    )
    assert found["column_not_read"].message == (
        'trees.csv: the column "hazrd" is kept but not read; if it is meant, call it hazard.'
    )
    assert "(5; 1 of them marked)" in found["dbh_missing"].message
    levels = {code: finding.level for code, finding in found.items()}
    assert levels == {
        "species_unknown": "caution", "species_letters": "caution", "species_stand_in": "ok",
        "column_not_read": "caution", "dbh_missing": "unknown",
    }  # fmt: skip


REFUSED: dict[str, tuple[str, bytes, str]] = {
    "spreadsheet": ("trees.xlsx", b"PK\x03\x04", f"{WHERE} trees.xlsx is a spreadsheet, not a text "
        "table; open it in the spreadsheet program and save the sheet as CSV (UTF-8), then name "
        "that"),
    "open spreadsheet": ("trees.ods", b"PK\x03\x04", f"{WHERE} trees.ods is a spreadsheet, not a "
        "text table; open it in the spreadsheet program and save the sheet as CSV (UTF-8), then "
        "name that"),
    "spreadsheet called csv": ("trees.csv", b"PK\x03\x04" + b"\x00" * 9, f"{WHERE} trees.csv is a "
        "spreadsheet (or a zip file) inside, not a text table; open it in the spreadsheet program "
        "and save the sheet as CSV (UTF-8), then name that"),
    "old spreadsheet called csv": ("trees.csv", b"\xd0\xcf\x11\xe0\xa1", f"{WHERE} trees.csv is a "
        "spreadsheet (or a zip file) inside, not a text table; open it in the spreadsheet program "
        "and save the sheet as CSV (UTF-8), then name that"),
    "nothing but zeros": ("trees.csv", b"a,b\n\x00", f"{WHERE} trees.csv is no text table; save it "
        "as CSV (UTF-8)"),
    "half a letter of utf-16": ("trees.csv", b"\xff\xfea\x00b", f"{WHERE} trees.csv is no text "
        "table; save it as CSV (UTF-8)"),
    "no headings": ("trees.csv", b"1,500180,4900220,833,18\n2,500181,4900220,833,18\n",
        "trees.csv: the first line holds numbers, not column names; put a line like "
        "tree_id,x,y,species,dbh_in,mark before it"),
    "diameter without unit": ("trees.csv", b"tree_id,x,y,species,DBH,mark\n" + ROW.encode(),
        'trees.csv: the column "dbh" does not say its unit; call it dbh_in (inches) or dbh_cm'),
    "misspelt diameter": ("trees.csv", b"tree_id,x,y,species,dbhh,mark\n" + ROW.encode(),
        'trees.csv: the column "dbhh" does not say its unit; call it dbh_in (inches) or dbh_cm'),
    "misspelt mark": ("trees.csv", b"tree_id,x,y,species,dbh_in,markd\n" + ROW.encode(),
        'trees.csv does not say which trees are cut (is it the column "markd"? call it mark): add '
        'a column mark (cut or leave) to trees.csv, or list = "marked" under [stand] of area.toml '
        "where the list holds the marked trees only"),
    "one thing twice": ("trees.csv", f"{HEAD},Dbh In\n{ROW},18\n".encode(),
        "trees.csv has the column dbh_in twice; rename one"),
    "heights that disagree": ("trees.csv", f"{HEAD},height_ft,height_m\n{ROW},80,20\n".encode(),
        "trees.csv line 2: height_ft and height_m disagree; keep one of them"),
    "height below the breast": ("trees.csv", f"{HEAD},height_ft\n{ROW},4\n".encode(),
        "trees.csv line 2: a height of 1.22 m (4 ft) is not above breast height (4.5 ft) and up to "
        "122 m; is it in the other unit?"),
    "logs over the tip": ("trees.csv", f"{HEAD},height_ft,logs\n{ROW},40,3\n".encode(),
        "trees.csv line 2: 3 logs of 16 ft over a stump need 49 ft, the tree is 40 ft high; "
        "correct the logs or the height"),
    "doubled ids": ("trees.csv", "\n".join([HEAD, ROW, ROW, ROW.replace("1,", "2,", 1), ROW,
        ROW.replace("1,", "2,", 1)]).encode(),
        "trees.csv: tree_id 1 stands on lines 2, 3 and 5; give each tree its own\n"
        "trees.csv: tree_id 2 stands on lines 4 and 6; give each tree its own"),
    "id of two lines": ("trees.csv", f'{HEAD}\n"1\n2",500180,4900220,oak,18,cut\n'.encode(),
        "trees.csv line 2: tree_id '1\\n2' holds signs that cannot be printed"),
    "feet of a grid": ("trees.csv", b"tree_id,x_ft,y_ft,species,dbh_in,mark\n" + ROW.encode(),
        "trees.csv: x_ft and y_ft do not say the grid they are in, nor which of two kinds of feet; "
        "give the trees as a point layer that stores its CRS (GeoPackage), or as lon and lat"),
    "eastings": ("trees.csv", b"tree_id,Easting,Northing,species,dbh_in,mark\n" + ROW.encode(),
        "trees.csv: name the columns easting and northing x and y if they are in WGS 84 / UTM zone "
        "18N, metres; otherwise give lon and lat"),
    "minutes": ("trees.csv", f"{LONLAT}\n1,75 00.0W,44\u00b015'36\"N,oak,18,cut\n"
        "2,75 00.1W,44 15.6,oak,18,cut\n".encode(),
        "trees.csv line 2: lat '44\u00b015\\'36\"N' must be decimal degrees, like 44.2600000; so "
        "must 1 more lines"),
    "letters for the side": ("trees.csv", f"{LONLAT}\n1,75.0 W,44.25,oak,18,cut\n".encode(),
        "trees.csv line 2: lon '75.0 W' must be decimal degrees, like -75.0000000"),
    "swapped degrees": ("trees.csv", f"{LONLAT}\n1,44.25,-75.0,oak,18,cut\n".encode(),
        "trees.csv: lon and lat are swapped; exchange the two column names"),
    "swapped degrees, far west": ("trees.csv", f"{LONLAT}\n1,44.25,-122.0,oak,18,cut\n".encode(),
        "trees.csv: lon and lat are swapped; exchange the two column names"),
    "no minus sign": ("trees.csv", f"{LONLAT}\n1,75.0,44.25,oak,18,cut\n".encode(),
        "trees.csv: lon has lost its minus sign; west of Greenwich is negative, like -75.00000"),
    "another country": ("trees.csv", f"{LONLAT}\n1,10.0,50.0,oak,18,cut\n".encode(),
        "trees.csv: lon and lat, like 10.00000, 50.00000, lie outside WGS 84 / UTM zone 18N; is it "
        "the list of this area?"),
    "quoted decimal comma": ("trees.csv", f'{HEAD}\n1,500180,4900220,oak,"18,5",cut\n'.encode(),
        "trees.csv line 2: dbh_in '18,5' is no number; write the decimals with a point, and no "
        "mark for thousands"),
    "two places of one tree": ("trees.csv",
        b"tree_id,x,y,lon,lat,species,dbh_in,mark\n"
        b"1,500180,4900220,-74.9977452,44.2552182,oak,18,cut\n"
        b"2,500180,4900220,-74.9977452,44.3552182,oak,18,cut\n"
        b"3,500180,4900220,44.2552182,-74.9977452,oak,18,cut\n",
        "trees.csv line 3: x, y and lon, lat stand 11,107 m apart; keep the pair that is right\n"
        "trees.csv line 4: x, y and lon, lat stand on other ends of the earth; keep the pair that "
        "is right"),
    "a quote that never closes": ("trees.csv", f'{HEAD},note\n{ROW},"hung in 5\n'
        "2,500190,4900220,oak,18,cut,\n3,500200,4900220,oak,18,cut,\n".encode(),
        "trees.csv line 2: a quote mark (\") opens a cell and nothing closes it; take it out, or "
        "close it before the next separator"),
    "a quote that the next one of another tree closes": ("trees.csv",
        f'{HEAD},note\n{ROW},"hung in 5\n2,500190,4900220,oak,18,cut,\n'
        '3,500200,4900220,oak,18,cut,"\n4,500210,4900220,oak,18,cut,"wet"\n'.encode(),
        "trees.csv line 2: a quote mark (\") opens a cell, and the next one stands lines later, "
        "with rows of the table between; take it out, or close it before the next separator\n"
        "trees.csv line 4: a quote mark (\") opens a cell and words follow the next one; take it "
        "out, or close it before the next separator"),
    "two trees with a quote each in one column": ("trees.csv",
        f'{HEAD}\n1,500180,4900220,"red oak,18,cut\n2,500190,4900220,red oak",18,cut\n'.encode(),
        "trees.csv line 2: a quote mark (\") opens a cell, and the next one stands lines later, "
        "with rows of the table between; take it out, or close it before the next separator"),
    "a stray quote in a middle column": ("trees.csv",
        f'{HEAD},note\n1,500180,4900220,"oak,18,cut,\n2,500190,4900220,oak,18,cut,a,b\n'.encode(),
        "trees.csv line 2: a quote mark (\") opens a cell and nothing closes it; take it out, or "
        "close it before the next separator\n"
        "trees.csv: the first line has 7 columns, line 3 has 8; is a decimal comma inside a comma "
        "table?"),
    "a quote in the headings": ("trees.csv", f'tree_id,x,y,"species,dbh_in,mark\n{ROW}\n'.encode(),
        "trees.csv line 1: a quote mark (\") opens a cell and nothing closes it; take it out, or "
        "close it before the next separator"),
    "all faults at once": ("trees.csv", "\n".join([HEAD + ",height_ft,logs",
        "1,500180,4900220,oak,wide,cut,80,2", "2,500180,4900220,oak,-18,cut,tall,2",
        "2,500180,4900220,oak,300,fell,2,40"]).encode(),
        "trees.csv: tree_id 2 stands on lines 3 and 4; give each tree its own\n"
        "trees.csv line 4: mark 'fell' must be \"cut\" or \"leave\"\n"
        "trees.csv line 2: dbh_in 'wide' is no number\n"
        "trees.csv line 3: dbh_in -18 is outside 0.5 to 120\n"
        "trees.csv line 4: dbh_in 300 is outside 0.5 to 120\n"
        "trees.csv line 3: height_ft 'tall' is no number\n"
        "trees.csv line 4: height_ft 2 is outside 3 to 400\n"
        "trees.csv line 4: logs 40 is outside 0 to 12"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_used_is_refused_with_what_to_do(tmp_path: Path, case: str) -> None:
    name, data, want = REFUSED[case]
    (tmp_path / name).write_bytes(data)
    assert refusal(tmp_path, name) == want


def test_two_places_of_a_tree_are_compared(tmp_path: Path) -> None:
    head = "tree_id,x,y,lon,lat,species,dbh_in,mark"
    near, far = "44.2552182", "44.2553182"  # 11.1 m of latitude between them
    table(tmp_path, head, f"1,500180,4900220,-74.9977452,{near},oak,18,cut",
          f"2,500180,4900230,-74.9977452,{near},oak,18,cut",
          "3,500180,4900240,,,oak,18,cut")  # fmt: skip
    trees, found = read(tmp_path)
    assert trees.y.tolist() == [4900220, 4900230, 4900240]
    assert found["trees_two_places"].level == "caution"
    assert "stand apart on lines 3 (10 m); x and y are used" in found["trees_two_places"].message
    table(tmp_path, head, f"1,500180,4900231.1,-74.9977452,{far},oak,18,cut")
    assert "trees_two_places" not in read(tmp_path)[1]


def test_no_quote_mark_makes_trees_fewer(tmp_path: Path) -> None:
    """Twelve trees, a stray mark at every place of a row and at the ends of any two."""
    rows = [f"{n},{500180 + n},4900220,red oak,18,cut,wet" for n in range(1, 13)]
    cells = len(rows[0].split(","))
    for one, other in ((4, 4), (4, 5), (4, 8), (1, 12)):
        for column in range(cells):
            for mark in ('"{}', '{}"', '"{}"x', '"{}"', '""{}'):
                spoilt = list(rows)
                for row in {one - 1, other - 1}:
                    words = rows[row].split(",")
                    words[column] = mark.format(words[column])
                    spoilt[row] = ",".join(words)
                table(tmp_path, f"{HEAD},note", *spoilt)
                told, count = "", 12
                try:
                    count = len(read(tmp_path)[0])
                except InputError as fault:
                    told = str(fault)
                assert count == 12
                assert not told or f"line {one + 1}" in told


def test_twenty_thousand_trees_are_read(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(500_000, 501_000, 20_000), rng.uniform(4_900_000, 4_901_000, 20_000)
    kinds = ["red oak", "SM", "833", "hemlock"]
    rows = [f"{n},{a:.1f},{b:.1f},{kinds[n % 4]},{8 + n % 20},,{'cut' if n % 9 else 'leave'}"
            for n, (a, b) in enumerate(zip(x, y, strict=True))]  # fmt: skip
    table(tmp_path, "tree_id,x,y,species,dbh_in,height_ft,mark", *rows)
    trees, _ = read(tmp_path)
    assert len(trees) == 20_000


def test_a_shapefile_cuts_the_names_of_columns(tmp_path: Path) -> None:
    files.write_layer(
        tmp_path / "t.shp", [Point(500180, 4900220)], crs="EPSG:32618",
        TREE_ID=["7"], species=["red oak"], DBH_CM=[45.7], position_e=[1.5], mark=["cut"],
    )  # fmt: skip
    trees, found = read(tmp_path, "t.shp")
    assert trees.tree_id == ("7",)
    assert trees.position_error_m.tolist() == [1.5]
    assert found == {}


def test_two_columns_of_a_layer_with_one_name_are_refused(tmp_path: Path) -> None:
    columns = {"Tree ID": ["1"], "tree_id": ["2"]}
    files.write_layer(tmp_path / "t.geojson", [Point(-75, 44.25)], crs="EPSG:4326", **columns)
    assert refusal(tmp_path, "t.geojson") == ("t.geojson has the column tree_id twice; rename one")


# ---- phones ------------------------------------------------------------------------------

GPX = (
    '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" {}>{}</gpx>'
)


def gpx(folder: Path, *points: str, name: str = "t.gpx") -> Path:
    """Write waypoints a few metres apart, each with the elements given."""
    body = "".join(
        f'<wpt lat="{44.25 + n * 1e-4:.4f}" lon="-75.0">{inside}</wpt>'
        for n, inside in enumerate(points)
    )
    path = folder / name
    path.write_text(GPX.format('xmlns:t="urn:made-up"', body), encoding="utf-8")
    return path


def kml(folder: Path, body: str, name: str = "t.kml") -> Path:
    path = folder / name
    path.write_text(
        '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2">'
        f"<Document>{body}</Document></kml>",
        encoding="utf-8",
    )
    return path


def mark_at(inside: str, lat: float = 44.25) -> str:
    spot = f"<Point><coordinates> -75.0,{lat},321 </coordinates></Point>"
    return f"<Placemark>{inside}{spot}</Placemark>"


# What a waypoint holds; then id, species, DBH (cm), logs and the error of its place (m).
WAYPOINTS: dict[str, tuple[str, tuple[str, str, float | None, float | None, float]]] = {
    "name": ("<name>37 RO 18 2</name>", ("37", "RO", 18 * IN, 2, 5)),
    "comment": ("<name>WP2</name><cmt>37 RO 18 2</cmt>", ("37", "RO", 18 * IN, 2, 5)),
    "description": ("<name>012</name><desc>37 RO 18 2</desc>", ("37", "RO", 18 * IN, 2, 5)),
    "number as the name": ("<name>37</name><desc>RO 18 2</desc>", ("37", "RO", 18 * IN, 2, 5)),
    "number as the name, bare words": ("<name>T37</name><cmt>red oak 4</cmt>",
                                       ("37", "red oak", 4 * IN, None, 5)),
    "the same in all": ("<name>37 RO 18</name><cmt>37 RO 18</cmt><desc>37 RO 18 2</desc>",
                        ("37", "RO", 18 * IN, 2, 5)),
    "more words beside": ("<name>37 RO 18</name><desc>by the wall</desc>",
                          ("37", "RO", 18 * IN, None, 5)),
    "another namespace": ('<name xmlns="urn:x">37 RO 18</name>', ("37", "RO", 18 * IN, None, 5)),
    "escaped signs": ("<name>37 RO 18&quot; 2</name>", ("37", "RO", 18 * IN, 2, 5)),
    "accuracy": ("<name>37 RO 18</name><extensions><t:accuracy>3.5</t:accuracy></extensions>",
                 ("37", "RO", 18 * IN, None, 3.5)),
    "accuracy in feet": ("<name>37 RO 18</name><extensions><t:a><t:hAcc>10 ft</t:hAcc></t:a>"
                         "</extensions>", ("37", "RO", 18 * IN, None, 3.048)),
    "accuracy of nought": ("<name>37 RO 18</name><extensions><t:accuracy>0.0</t:accuracy>"
                           "</extensions>", ("37", "RO", 18 * IN, None, 5)),
    "hdop": ("<name>37 RO 18</name><hdop>2.5</hdop>", ("37", "RO", 18 * IN, None, 12.5)),
    "hdop that flatters": ("<name>37 RO 18</name><hdop>0.7</hdop>", ("37", "RO", 18 * IN, None, 5)),
    "said in the note": ("<name>37 RO 18 \u00b14m</name>", ("37", "RO", 18 * IN, None, 4)),
    "a form": ("<name>12</name><extensions><t:tree_id>37</t:tree_id><t:species>RO</t:species>"
               "<t:dbh_cm>45.72</t:dbh_cm><t:logs>2</t:logs></extensions>",
               ("37", "RO", 18 * IN, 2, 5)),
    "a form without units": ("<name>37</name><extensions><t:Species>RO</t:Species><t:DBH>18</t:DBH>"
                             "</extensions>", ("37", "RO", 18 * IN, None, 5)),
    "a name by the device": ("<name>WP6</name><desc>the gate</desc>", ("P1", "", None, None, 5)),
    "nothing": ("", ("P1", "", None, None, 5)),
    "not a note": ("<name>the big one</name>", ("P1", "", None, None, 5)),
    "no number": ("<name>RO18</name>", ("P1", "RO", 18 * IN, None, 5)),
    "no diameter": ("<name>37 RO</name>", ("37", "RO", None, None, 5)),
    "a date beside": ("<name>37 RO 18 2</name><cmt>26-NOV-26 10:33:12AM</cmt>",
                      ("37", "RO", 18 * IN, 2, 5)),
    "a date alone": ("<name>26-NOV-26</name>", ("P1", "", None, None, 5)),
    "two things": ("<name>37 RO 18</name><desc>37 RO 20</desc>", ("37", "", None, None, 5)),
}  # fmt: skip


@pytest.mark.parametrize("case", WAYPOINTS)
def test_one_waypoint_of_a_phone(tmp_path: Path, case: str) -> None:
    inside, (tree_id, species, dbh_cm, logs, error_m) = WAYPOINTS[case]
    gpx(tmp_path, inside)
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.tree_id == (tree_id,)
    assert trees.species == (species,)
    assert trees.marked.tolist() == [True]
    np.testing.assert_allclose(trees.dbh_cm, [np.nan if dbh_cm is None else dbh_cm], atol=0.01)
    np.testing.assert_allclose(trees.logs, [np.nan if logs is None else logs])
    np.testing.assert_allclose(trees.position_error_m, [error_m], atol=0.01)
    assert ("waypoint_notes" in found) == ("dbh_missing" in found) == (dbh_cm is None)


# Notes that speak against cutting, and the words that are told; all come out as leave trees.
AGAINST = {
    "<name>37 RO 18 2 do not cut</name>": "do not cut",
    "<name>37 RO 18 2 don\u2019t cut</name>": "don't cut",
    "<name>37 RO 18 2 DONT CUT!</name>": "DONT CUT",
    "<name>37 RO 18 2, no</name>": "no",
    "<name>37 no cut RO 18</name>": "no cut",
    "<name>37 RO 18 2, keep</name>": "keep",
    "<name>37 RO 18 2 save for the owls</name>": "save for",
    "<name>37 RO 18 2 neighbors tree</name>": "neighbors tree",
    "<name>37 RO 18 2, den tree</name>": "den tree",
    "<name>37 RO 18 2</name><desc>not marked</desc>": "not marked",
    "<name>37 RO 18 2</name><desc>&lt;b&gt;do&lt;br/&gt;not&lt;/b&gt; cut</desc>": "do not cut",
    "<name>37 RO 18 2</name><desc>leave - owl nest</desc>": "leave",
    "<name>37 RO 18 2</name><desc>37 RO 20, do not cut</desc>": "do not cut",  # twofold
    "<name>37 RO 18 2, cut</name><desc>do not cut</desc>": "do not cut",
    "<name>cut 37 RO 18 2 - no! leave</name>": "no",
    "<name>37 keep 18</name>": "keep",
    "<name>37 not oak 18</name>": "not",
    "<name>the big one, leave it</name>": "leave it",
    "<name>37 RO 18</name><extensions><t:mark>cut</t:mark><t:note>hands off</t:note></extensions>":
        "hands off",
    "<name>37 RO 18</name><extensions><t:keep>owl</t:keep></extensions>": "owl",
    "<name>37 RO 18</name><extensions><t:species>RO</t:species></extensions><cmt>uncut</cmt>":
        "uncut",
}  # fmt: skip


@pytest.mark.parametrize("inside", AGAINST)
def test_what_a_note_speaks_against_is_never_cut(tmp_path: Path, inside: str) -> None:
    path = gpx(tmp_path, inside, "<name>38 RO 18 2</name>")
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.marked.tolist() == [False, True]
    assert found["waypoint_against"].level == "caution"
    told = found["waypoint_against"].message
    assert f"({AGAINST[inside]!r})" in told
    assert trees.tree_id[0] in told
    said, _ = numbered(listen(read_waypoints(path).points, "us"))
    (tmp_path / "list.csv").write_text(list_text(said, "us", all_cut=True), encoding="utf-8")
    assert read(tmp_path, "list.csv", full=False)[0].marked.tolist() == [False, True]


@pytest.mark.parametrize(
    "note",
    ["37 RO 18 2", "tree no. 37 RO 18 2", "no thirty seven red oak eighteen", "cut 37 RO 18",
     "37 no red oak 18", "37 RO 18 no logs", "37 RO 18 2, by the wall", "RO 18 2 no #37",
     "37 RO 18 by the boundary", "37 RO 18 2, notch side east"],
)  # fmt: skip
def test_a_note_that_says_nothing_against_stays_cut(tmp_path: Path, note: str) -> None:
    gpx(tmp_path, f"<name>{note}</name>")
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.marked.tolist() == [True]
    assert not {"waypoint_against", "waypoint_cut_doubted"} & set(found)


@pytest.mark.parametrize(
    ("fields", "want", "unread"),
    [
        ({"dbh_in": "18 in"}, (18 * IN, np.nan, True), []),
        ({"dbh_in": '18"'}, (18 * IN, np.nan, True), []),
        ({"dbh_in": "45.72 cm"}, (18 * IN, np.nan, True), []),
        ({"dbh_in": "18 1/2"}, (np.nan, np.nan, True), ["dbh_in: 18 1/2"]),
        ({"dbh_in": "about 18"}, (np.nan, np.nan, True), ["dbh_in: about 18"]),
        ({"dbh_cm": "18", "mark": "yes"}, (18, np.nan, True), ["mark: yes"]),
        ({"dbh_cm": "18", "mark": "no"}, (18, np.nan, False), ["mark: no"]),
        ({"dbh_cm": "18", "mark": " Leave "}, (18, np.nan, False), []),
        ({"dbh_cm": "18", "logs": "2+"}, (18, np.nan, True), ["logs: 2+"]),
        ({"dbh_cm": "18", "logs": "2 logs"}, (18, 2, True), []),
        ({"dbh_cm": "18", "logs": "40", "mark": "x"}, (18, np.nan, True), ["logs: 40", "mark: x"]),
        ({"dbh": "thick"}, (np.nan, np.nan, True), ["dbh: thick"]),
        ({"dbh_cm": "18", "lean_deg": "5\u00b0"}, (18, np.nan, True), []),
    ],
)
def test_a_form_gives_what_a_list_can_hold(
    tmp_path: Path, fields: dict[str, str], want: tuple[float, float, bool], unread: list[str]
) -> None:
    inside = "".join(f"<t:{name}>{text}</t:{name}>" for name, text in fields.items())
    path = gpx(tmp_path, f"<name>37</name><extensions>{inside}</extensions>")
    said, _ = numbered(listen(read_waypoints(path).points, "us"))
    (tmp_path / "list.csv").write_text(list_text(said, "us", all_cut=True), encoding="utf-8")
    for name in ("t.gpx", "list.csv"):
        trees, found = read(tmp_path, name, full=False)
        np.testing.assert_allclose(trees.dbh_cm, [want[0]], atol=0.02)
        np.testing.assert_allclose(trees.logs, [want[1]])
        assert trees.marked.tolist() == [want[2]]
        assert all(field in trees.table["note"][0] for field in unread)
        assert ("waypoint_forms" in found) == (name == "t.gpx" and bool(unread))
    assert said[0].understood == bool(np.isfinite(want[0]))
    assert said[0].unread == tuple(unread)


def test_a_reason_beside_cut_is_told(tmp_path: Path) -> None:
    gpx(tmp_path, "<name>37 RO 18 2, cut, owl nest</name>", "<name>38 RO 18, leave, den</name>")
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.marked.tolist() == [True, False]
    assert "37 ('owl nest'); these are taken as cut" in found["waypoint_cut_doubted"].message
    assert "waypoint_against" not in found


def test_a_folder_may_say_it_for_all(tmp_path: Path) -> None:
    kml(tmp_path, f"<Folder><name>Do not cut</name>{mark_at('<name>37 RO 18 2</name>')}</Folder>")
    trees, found = read(tmp_path, "t.kml", full=False)
    assert trees.marked.tolist() == [False]
    assert "37 ('Do not cut')" in found["waypoint_against"].message


@pytest.mark.parametrize(
    "inside",
    ["<name>37 RO 18 widowmaker</name>", "<name>37 RO 18</name><desc>big leaner</desc>",
     "<name>37 RO 18 2 uprooted</name>", "<name>37 widow maker 18</name>", "<name>snag 20</name>",
     "<name>37 RO 18 conks</name>", "<name>37 leaning oak 18</name>",
     "<name>37</name><extensions><t:species>snag</t:species><t:dbh_in>18</t:dbh_in></extensions>"],
)  # fmt: skip
def test_a_word_of_danger_is_a_caution(tmp_path: Path, inside: str) -> None:
    gpx(tmp_path, inside)
    _, found = read(tmp_path, "t.gpx", full=False)
    assert found["waypoint_hazards"].level == "caution"


def test_nothing_said_into_a_phone_is_lost(tmp_path: Path) -> None:
    gpx(tmp_path, "<name>37 RO 18 2</name><time>2026-11-26T10:00:00Z</time><sym>Flag</sym>"
        "<extensions><t:samples>60</t:samples></extensions>",
        "<name>37 RO 14</name>", "<name>the big one</name><desc>dead top</desc>",
        "<name>SM 12 1</name>", "<name>41 RO 18, rotten inside</name>",
        "<name>P3</name><cmt>9 lb of spikes</cmt>")  # fmt: skip
    trees, found = read(tmp_path, "t.gpx", full=False)
    assert trees.tree_id == ("37", "37-2", "P3-2", "P4", "41", "P3")
    assert trees.table["note"].tolist() == [
        "37 RO 18 2", "37 RO 14", "the big one | dead top", "SM 12 1", "41 RO 18, rotten inside",
        "P3 | 9 lb of spikes",
    ]  # fmt: skip
    assert trees.hazard == ("", "", "dead_top", "", "", "")
    assert trees.table["samples"].tolist() == ["60", "", "", "", "", ""]
    assert trees.table["time"][0] == "2026-11-26T10:00:00Z"
    assert found["waypoint_notes"].message == (
        't.gpx: 2 of 6 notes are not like "37 RO 18 2" (number, species, DBH, logs): P3-2 \'the '
        "big one | dead top', P3 'P3 | 9 lb of spikes'; the trees are kept without DBH."
    )
    assert found["waypoint_numbers"].message == (
        "t.gpx: numbers are missing or stand twice, so ids were made up: 37 of waypoint 2 is 37-2, "
        "waypoint 3 'the big one | dead top' is P3-2, waypoint 4 'SM 12 1' is P4; paint numbers "
        "and say them."
    )
    assert found["waypoint_hazards"].message == (
        "t.gpx: notes speak of danger that was not taken as a hazard: 41 (rotten), P3 (spikes); "
        'write it at the end after a comma, like "37 RO 18 2, dead top".'
    )
    assert found["waypoint_words"].message == "t.gpx: words kept and not used: 41 'rotten inside'."
    assert found["waypoint_units"].message == (
        't.gpx: 4 diameters without a unit were taken as inches (units = "us").'
    )
    assert set(found) == {
        "waypoint_notes", "waypoint_numbers", "waypoint_hazards", "waypoint_words",
        "waypoint_units", "species_letters", "dbh_missing", "species_missing",
    }  # fmt: skip


def test_units_of_the_area_settle_bare_diameters(tmp_path: Path) -> None:
    gpx(tmp_path, "<name>37 RO 45 2</name>", "<name>38 RO 18 in</name>")
    trees, found = read(tmp_path, "t.gpx", full=False, units="metric")
    np.testing.assert_allclose(trees.dbh_cm, [45, 45.72])
    assert "1 diameters without a unit were taken as centimetres" in found["waypoint_units"].message
    assert list(trees.table.columns[:4]) == ["tree_id", "species", "dbh_cm", "logs"]


def test_a_phone_that_holds_every_tree_must_say_which_are_cut(tmp_path: Path) -> None:
    gpx(tmp_path, "<name>37 RO 18 2</name>", "<name>38 SM 12</name>")
    assert refusal(tmp_path, "t.gpx") == (
        't.gpx does not say which trees are cut: add list = "marked" under [stand] of area.toml '
        "where the phone holds the marked trees only, or say cut or leave in every note, like "
        '"37 RO 18 2, cut"'
    )
    gpx(tmp_path, "<name>37 RO 18 2, cut</name>", "<name>leave 38 SM 12</name>")
    assert read(tmp_path, "t.gpx")[0].marked.tolist() == [True, False]


def test_dots_ten_feet_apart_are_asked_about(tmp_path: Path) -> None:
    # 1e-5 degrees of latitude are 1.11 m
    for apart, told in ((2.6e-5, True), (2.8e-5, False)):
        body = "".join(
            f'<wpt lat="{44.25 + k * apart:.7f}" lon="-75"><name>{37 + k} RO 18</name></wpt>'
            for k in (0, 1)
        )
        (tmp_path / "t.gpx").write_text(GPX.format("", body), encoding="utf-8")
        _, found = read(tmp_path, "t.gpx", full=False)
        assert ("trees_close" in found) == told
    body = body.replace("38 RO", "38 SM").replace(f"{44.25 + 2.8e-5:.7f}", f"{44.25 + 1e-5:.7f}")
    (tmp_path / "t.gpx").write_text(GPX.format("", body), encoding="utf-8")
    assert "trees_close" not in read(tmp_path, "t.gpx", full=False)[1]  # two numbers, two species


def test_a_phone_is_off_by_the_shift_between_datums(tmp_path: Path) -> None:
    gpx(tmp_path, "<name>37 RO 18 \u00b13m</name>", "<name>38 RO 18</name>")
    trees, _ = read(tmp_path, "t.gpx", full=False, target=NAD83)
    np.testing.assert_allclose(trees.position_error_m, [np.hypot(3, 2), np.hypot(5, 2)])


def test_placemarks_of_every_folder(tmp_path: Path) -> None:
    kml(
        tmp_path,
        mark_at("<name>37 RO 18 2</name>")
        + "<Folder><name>Day 1</name>"
        + mark_at("<name>38</name><description><![CDATA[<b>sugar maple</b><br>14.5 in<br>]]>"
                  "</description>", 44.2501)
        + "<Folder><name>Ridge</name>"
        + mark_at('<name>point</name><ExtendedData><Data name="Tree"><value>39</value></Data>'
                  '<Data name="DBH_cm"><value>40</value></Data><SchemaData><SimpleData '
                  'name="species">WP</SimpleData></SchemaData></ExtendedData>', 44.2502)
        + "</Folder></Folder>"
        + "<Placemark><name>my walk</name><LineString><coordinates>-75,44 -75,45</coordinates>"
        "</LineString></Placemark>",
    )  # fmt: skip
    trees, found = read(tmp_path, "t.kml", full=False)
    assert trees.tree_id == ("37", "38", "39")
    assert trees.species == ("RO", "sugar maple", "WP")
    np.testing.assert_allclose(trees.dbh_cm, [45.72, 36.83, 40])
    assert trees.table["folder"].tolist() == ["", "Day 1", "Day 1 / Ridge"]
    assert found["waypoint_shapes"].message == "t.kml: 1 tracks or shapes are no waypoints."
    assert read(tmp_path, "t.kml:Ridge", full=False)[0].tree_id == ("39",)
    assert refusal(tmp_path, "t.kml:Hill", full=False) == (
        f'{WHERE} t.kml has no folder "Hill" with points in it; it has Day 1, Ridge'
    )


SPOT = "<Point><coordinates>-75,44.25</coordinates></Point>"
LINE = "<LineString><coordinates>-75,44 -75,45</coordinates></LineString>"


@pytest.mark.parametrize(
    ("more", "names"),
    [
        (f"<name>2 RO 18 2</name><MultiGeometry>{SPOT}{SPOT}</MultiGeometry>", ["2 RO 18 2"]),
        ("<name>3 RO 18 2</name>", ["3 RO 18 2"]),
        ("<name>3</name><description>RO 18 2</description>", ["3 | RO 18 2"]),
        (f"<name>4 RO 18 2</name>{LINE}", ["4 RO 18 2"]),
        (f"<name>my walk</name>{LINE}", []),
        (LINE, []),
    ],
)
def test_a_named_placemark_without_one_point_is_named(
    tmp_path: Path, more: str, names: list[str]
) -> None:
    kml(tmp_path, mark_at("<name>1 RO 18 2</name>") + f"<Placemark>{more}</Placemark>")
    trees, found = read(tmp_path, "t.kml", full=False)
    assert trees.tree_id == ("1",)
    assert ("waypoint_lost" in found) == bool(names)
    if names:
        assert found["waypoint_lost"].level == "caution"
        assert found["waypoint_lost"].value == len(names)
        assert all(repr(name) in found["waypoint_lost"].message for name in names)
    assert read(tmp_path, "t.kml", full=False)[1]["waypoint_shapes"].level == "ok"


def test_points_of_a_route_are_named(tmp_path: Path) -> None:
    body = (
        '<wpt lat="44.25" lon="-75"><name>1 RO 18</name></wpt><rte><name>Way in</name>'
        '<rtept lat="44.25" lon="-75"><name>2 RO 18</name></rtept><rtept lat="44" lon="-75"/></rte>'
        "<trk><name>3 RO 18</name></trk>"
    )
    (tmp_path / "t.gpx").write_text(GPX.format("", body), encoding="utf-8")
    _, found = read(tmp_path, "t.gpx", full=False)
    assert found["waypoint_lost"].message == (
        "t.gpx: 2 with a name have no point of their own, so no tree is made of them: '2 RO 18', "
        "'3 RO 18'. Record those that are trees as one waypoint each."
    )


def test_a_tree_of_a_layer_without_a_shape_is_named(tmp_path: Path) -> None:
    files.write_layer(
        tmp_path / "t.gpkg", [Point(500180, 4900220), None, Point(500190, 4900220)],
        crs="EPSG:32618", tree_id=["7", "8", "9"], dbh_cm=[45.7] * 3, mark=["cut"] * 3,
    )  # fmt: skip
    trees, found = read(tmp_path, "t.gpkg")
    assert trees.tree_id == ("7", "9")
    assert found["empty_shapes"].level == "caution"
    assert found["empty_shapes"].message == (
        "t.gpkg:t: 1 of 3 rows have no shape and stay out: row 2 (tree_id 8)."
    )


def test_zipped_placemarks(tmp_path: Path) -> None:
    path = kml(tmp_path, mark_at("<name>37 RO 18 2</name>"))
    with zipfile.ZipFile(tmp_path / "t.kmz", "w") as packed:
        packed.write(path, "doc.kml")
        packed.writestr("files/picture.png", b"\x89PNG")
    trees, _ = read(tmp_path, "t.kmz", full=False)
    assert trees.tree_id == ("37",)
    with zipfile.ZipFile(tmp_path / "t.kmz", "w") as packed:
        packed.writestr("readme.txt", "nothing")
    assert refusal(tmp_path, "t.kmz") == f"{WHERE} t.kmz holds no KML file; export it again"
    (tmp_path / "t.kmz").write_bytes(b"PK\x03\x04 cut short")
    assert "t.kmz cannot be unzipped; export it again, as plain KML" in refusal(tmp_path, "t.kmz")


BAD_PHONES: dict[str, tuple[str, bytes, str]] = {
    "tracks only": ("t.gpx", b"<gpx><trk/><rte/></gpx>",
                    "t.gpx holds no waypoints; it holds 2 tracks, lines or shapes; record or "
                    "export them"),
    "empty": ("t.gpx", b"", "t.gpx is damaged or cut short (no element found: line 1, column 0); "
              "export it again"),
    "cut short": ("t.gpx", b"<gpx><wpt lat='44' lon='-75'><name>37</na",
                  "t.gpx is damaged or cut short (unclosed token: line 1, column 37); export it "
                  "again"),
    "another kind": ("t.gpx", b"<kml/>", "t.gpx is no GPX file inside; export it again"),
    "no place": ("t.gpx", b"<gpx><wpt lat='44'><name>37 RO 18</name></wpt><wpt lat='95' lon='1'/>"
                 b"</gpx>",
                 "t.gpx waypoint 1 ('37 RO 18'): lon '', lat '44' is no place in degrees\n"
                 f"{WHERE} t.gpx waypoint 2: lon '1', lat '95' is no place in degrees"),
    "entities": ("t.gpx", b"<!DOCTYPE gpx [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><gpx>&a;</gpx>",
                 "t.gpx declares entities (<!DOCTYPE), which may pull in other files; export it "
                 "again without them"),
    "many entities": ("t.kml", b'<?xml version="1.0"?>\n<!doctype k [<!ENTITY a "' + b"a" * 99 +
                      b'">]><kml>&a;</kml>', "t.kml declares entities (<!DOCTYPE), which may pull "
                      "in other files; export it again without them"),
    "very deep": ("t.kml", b"<kml>" + b"<Folder>" * 5000,
                  "t.kml is nested over 100 levels deep; export it again"),
    "utf-16": ("t.gpx", "<gpx/>".encode("utf-16"),
               "t.gpx is stored as UTF-16; export it again as UTF-8"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD_PHONES)
def test_a_phone_file_that_cannot_be_used(tmp_path: Path, case: str) -> None:
    name, data, want = BAD_PHONES[case]
    (tmp_path / name).write_bytes(data)
    assert refusal(tmp_path, name, full=False) == f"{WHERE} {want}"


NOTE = st.text(
    alphabet=st.characters(blacklist_categories=("Cs", "Cc"), max_codepoint=0x2FFF), max_size=30
)


@settings(max_examples=50, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(NOTE, NOTE), min_size=1, max_size=6))
def test_no_waypoint_is_dropped_whatever_is_typed(
    tmp_path: Path, typed: list[tuple[str, str]]
) -> None:
    def escaped(text: str) -> str:
        return text.replace("&", "&amp;").replace("<", "&lt;")

    gpx(tmp_path, *(f"<name>{escaped(a)}</name><desc>{escaped(b)}</desc>" for a, b in typed))
    points = read_waypoints(tmp_path / "t.gpx").points
    said, _ = numbered(listen(points, "us"))
    assert len(said) == len(typed)
    ids = [one.tree_id for one in said]
    assert len(set(ids)) == len(ids)
    assert all(name.isprintable() and 0 < len(name) <= 40 for name in ids)
    for one, (name, _) in zip(said, typed, strict=True):
        assert " ".join(name.split()) in one.raw or not name.strip()
    trees, _ = read(tmp_path, "t.gpx", full=False)
    assert trees.tree_id == tuple(ids)


# ---- species -----------------------------------------------------------------------------


def test_letters_mean_one_tree_and_weigh_no_less_than_it() -> None:
    known = {s.fia_code for s in species_table()}  # "" too: a group
    for code in field_codes().values():
        found = find(code.code)
        row = species_table()[found.row]
        assert found.code == code
        assert row.fia_code == (code.fia_code if code.fia_code in known else "")
        assert find(code.common_name).row == found.row, code.code
        if code.fia_code:
            assert find(code.fia_code).row == found.row or code.group, code.code


@pytest.mark.parametrize(
    ("name", "how", "kind"),
    [
        ("RO", "species", "hardwood"), ("ro", "species", "hardwood"), ("R.O.", "unknown", ""),
        ("Red oaks", "species", "hardwood"), ("oak, red", "species", "hardwood"),
        ("N. red oak", "species", "hardwood"), ("E white pine", "species", "softwood"),
        ("sycamore", "stand_in", "hardwood"), ("tamarack", "stand_in", "softwood"),
        ("overcup oak", "stand_in", "hardwood"), ("Quercus lyrata", "stand_in", "hardwood"),
        ("Pinus rigida", "stand_in", "softwood"), ("conifer", "group", "softwood"),
        ("hardwood", "group", "hardwood"), ("HW", "group", "hardwood"), ("OS", "group", "softwood"),
        ("126", "stand_in", "softwood"), ("9999", "unknown", "hardwood"),
        ("0", "unknown", "hardwood"),
        ("999999999999999999999", "unknown", "hardwood"), ("", "unknown", "hardwood"),
        ("gumbo limbo", "unknown", "hardwood"),
    ],
)  # fmt: skip
def test_how_a_species_is_found(name: str, how: str, kind: str) -> None:
    found = find(name)
    assert found.how == how
    assert not kind or species_table()[found.row].kind == kind


def test_what_nobody_knows_is_never_light() -> None:
    heaviest = max(s.green_kg_per_m3(with_bark=True) for s in species_table())
    for name in ("", "gumbo limbo", "9999", "RX"):
        row = species_table()[find(name).row]
        assert row.green_kg_per_m3(with_bark=True) == heaviest


# ---- cells a spreadsheet would run ---------------------------------------------------------


@given(
    st.text(max_size=8) | st.sampled_from(["'=1", "''=1", "'", "-", "+", "-5", "'-5", "+a", "="])
)
def test_guarded_text_comes_back(text: str) -> None:
    out = guarded(text)
    assert bare(out) == text
    assert not out.startswith(("=", "@"))
    if out.startswith(("+", "-")):
        float(out.replace(",", "."))


@pytest.mark.parametrize("number", ["-12.5", "+3", "-0", "-1e-5", "-1,5", "-.5", "5"])
def test_numbers_are_left_alone(number: str) -> None:
    assert guarded(number) == number


def test_an_id_copied_from_our_list_names_the_same_tree(tmp_path: Path) -> None:
    (tmp_path / "progress.csv").write_text(
        f"id,state\n{guarded('-7A')},done\n{guarded('=8')},\n", encoding="utf-8"
    )
    rows = progress_rows(tmp_path)
    assert rows is not None
    assert [row.name for row in rows] == ["-7A", "=8"]
