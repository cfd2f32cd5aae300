"""plan.kml: valid, nothing from outside in it, every folder and place as in the plan."""

import re
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import plan_fixture
import pyogrio
import pyproj
import pytest
import schemas
import shapely
from area_files import MAIN, tidy_area
from oracles import clean_environment, needs
from shapely.geometry import LineString, Point
from test_outputs_gpx import AWKWARD, same_points, with_trees

from layout.area import read_area
from layout.outputs import kml
from layout.outputs import palette as ink
from layout.outputs.device import degrees
from layout.plan import Plan

SPACE = "{http://www.opengis.net/kml/2.2}"
# Typed from the published schema of KML 2.2: what may stand in what, in which order.
ORDER = {
    "kml": "Document",
    "Document": "name description Style Folder",
    "Folder": "name Placemark",
    "Placemark": "name description styleUrl Point LineString Polygon MultiGeometry",
    "Style": "IconStyle LabelStyle LineStyle PolyStyle",
    "IconStyle": "color",
    "LabelStyle": "scale",
    "LineStyle": "color width",
    "PolyStyle": "color",
    "Point": "coordinates",
    "LineString": "tessellate coordinates",
    "Polygon": "tessellate outerBoundaryIs innerBoundaryIs",
    "MultiGeometry": "Point LineString Polygon",
    "outerBoundaryIs": "LinearRing",
    "innerBoundaryIs": "LinearRing",
    "LinearRing": "coordinates",
}


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def written(plan: Plan, folder: Path, name: str = "plan.kml") -> Path:
    way = degrees.way(plan.area)
    assert way is not None
    kml.write(plan, folder / name, way)
    return folder / name


def in_order(element: Element) -> bool:
    tag = element.tag.removeprefix(SPACE)
    allowed = ORDER.get(tag, "").split()
    places = [allowed.index(child.tag.removeprefix(SPACE)) for child in element]
    mixed = tag == "MultiGeometry"
    return (mixed or places == sorted(places)) and all(in_order(child) for child in element)


def checked(path: Path) -> Element:
    """Read a file, and see to what every one must hold."""
    text = path.read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert root.tag == f"{SPACE}kml" and in_order(root)
    assert re.findall(r"https?://[^\"'<> ]*", text) == ["http://www.opengis.net/kml/2.2"]
    assert "href" not in text.lower() and "<icon>" not in text.lower()
    styles = [style.get("id") for style in root.iter(f"{SPACE}Style")]
    asked = {url.text for url in root.iter(f"{SPACE}styleUrl")}
    assert asked == {f"#{name}" for name in styles} and len(set(styles)) == len(styles)
    for name in (*root.iter(f"{SPACE}name"), *root.iter(f"{SPACE}description")):
        assert name.text and "<" not in name.text and ">" not in name.text
    return root


def folders(root: Element) -> dict[str, dict[str, str]]:
    """Give what is said of each thing, by folder and name."""
    out = {}
    for folder in root.iter(f"{SPACE}Folder"):
        things = folder.findall(f"{SPACE}Placemark")
        out[folder.findtext(f"{SPACE}name", "")] = {
            t.findtext(f"{SPACE}name", ""): t.findtext(f"{SPACE}description", "") for t in things
        }
    return out


def test_folders_names_and_notes(plan: Plan, tmp_path: Path) -> None:
    root = checked(written(plan, tmp_path))
    said = root.findtext(f"{SPACE}Document/{SPACE}description", "")
    assert said.startswith("Not walked and flagged = not ready. A plan, not permission:")
    assert "NO LOCAL RULE CHOSEN" in said and "unverified" in said
    held = folders(root)
    served = {o.tree_id for o in plan.trees if o.status == "served"}
    missed = {o.tree_id for o in plan.trees if o.status not in ("served", "leave")}
    assert served and missed
    assert set(held["Marked trees, reached"]) == {f"Tree {name}" for name in served}
    assert set(held["Marked trees, NOT reached"]) == {f"Tree {n}, NOT reached" for n in missed}
    assert "leave it standing" in held["Marked trees, NOT reached"]["Tree T9, NOT reached"]
    assert held["Marked trees, reached"]["Tree T89"].startswith(
        "sugar maple, 19 in; winch from M1-1"
    )
    assert set(held["Winch positions"]) == {p.position_id for p in plan.positions}
    assert set(held["Pulls"]) == {f"{p.position_id} to tree {p.tree_id}" for p in plan.pulls}
    assert list(held["Main trail"]) == ["M1"] and list(held["Spurs"]) == ["S1", "S2", "S3", "S4"]
    assert "12 % downhill loaded" in held["Main trail"]["M1"]
    assert set(held["Water bars"]) == {f"Water bar B{n}" for n in range(1, 6)}
    assert "unverified" in held["Water strips"]["Water strip brook"]
    assert set(held["Wires and other dangers"]) == {"wire-1", "well-1"}
    assert list(held["Keep out"]) == ["KEEP1"]
    assert list(held["Landing"]) == ["Landing L1"]
    assert list(held["STOP findings"]) == ["STOP S2"]
    assert "over the 20 % limit" in held["STOP findings"]["STOP S2"]
    assert held["STOP findings"]["STOP S2"].endswith("[limit unverified]")
    assert len(held["Cautions"]) == 7
    assert next(iter(held)) == "STOP findings"


def test_the_colours_are_the_palettes(plan: Plan, tmp_path: Path) -> None:
    root = checked(written(plan, tmp_path))
    palette = {value.lower() for name, value in vars(ink).items() if name.isupper()}
    for colour in root.iter(f"{SPACE}color"):
        assert colour.text is not None and re.fullmatch("[0-9a-f]{8}", colour.text)
        _, blue, green, red = re.findall("..", colour.text)
        assert f"#{red}{green}{blue}" in palette
    style = {s.get("id"): s for s in root.iter(f"{SPACE}Style")}
    # alpha, blue, green, red: the order of KML, worked by hand from #f2a516
    assert style["positions"].findtext(f"{SPACE}IconStyle/{SPACE}color") == "ff16a5f2"


def test_read_with_gdal_each_shape_lies_within_a_centimetre(plan: Plan, tmp_path: Path) -> None:
    path = written(plan, tmp_path)

    def layer(name: str) -> dict[str, shapely.Geometry]:
        table = pyogrio.read_dataframe(path, layer=name).to_crs(plan.area.crs)
        return dict(zip(table["Name"], table.geometry, strict=True))

    for name, kind in (("Main trail", "main"), ("Spurs", "spur")):
        lines = layer(name)
        trails = [t for t in plan.trails if t.kind == kind]
        assert set(lines) == {t.trail_id for t in trails}
        for trail in trails:
            assert same_points(lines[trail.trail_id], trail.line) < 0.01  # landing end first
    spots = layer("Winch positions")
    assert all(spots[p.position_id].distance(Point(p.x, p.y)) < 0.01 for p in plan.positions)
    trees = layer("Marked trees, reached") | layer("Marked trees, NOT reached")
    listed = plan.area.trees
    places = dict(zip(listed.tree_id, shapely.points(listed.x, listed.y), strict=True))
    for name, spot in trees.items():
        assert spot.distance(places[name.split()[1].rstrip(",")]) < 0.01
    pulls = layer("Pulls")
    for pull in plan.pulls:
        assert same_points(pulls[f"{pull.position_id} to tree {pull.tree_id}"], pull.line) < 0.01
    for name, folder, shape in (
        ("Landing L1", "Landing", plan.landing.shape),
        ("Turning place P1", "Turning places", plan.turning_places[0].shape),
        ("Water strip brook", "Water strips", plan.strips[0].shape),
        ("KEEP1", "Keep out", plan.area.keep_out[0]),
        ("Maple Hill", "Edge of the stand", plan.area.stand),
    ):
        read = layer(folder)[name]
        assert read.hausdorff_distance(shape) < 0.01
        assert read.symmetric_difference(shape).area < 0.01 * shape.length  # a centimetre all round


def test_a_hole_stays_a_hole(plan: Plan, tmp_path: Path) -> None:
    ring = Point(plan_fixture.at(200, 200)).buffer(40)
    strip = replace(plan.strips[0], shape=ring.difference(ring.centroid.buffer(15)))
    path = written(replace(plan, strips=(strip,)), tmp_path)
    root = checked(path)
    assert len(list(root.iter(f"{SPACE}innerBoundaryIs"))) == 1
    read = pyogrio.read_dataframe(path, layer="Water strips").to_crs(plan.area.crs).geometry[0]
    assert read.symmetric_difference(strip.shape).area < 2.0


def test_names_that_look_like_a_page_stay_words(plan: Plan, tmp_path: Path) -> None:
    odd = with_trees(plan, ("<img src=x>", *AWKWARD[5:8]))
    text = written(odd, tmp_path).read_text(encoding="utf-8")
    checked(tmp_path / "plan.kml")
    assert "&lt;" not in text and "\u2039img src=x\u203a" in text
    assert "Bad\x00" not in written(plan_fixture.plan(name="Bad\x00"), tmp_path).read_text("utf-8")


def test_done_trees_and_hazard_trees_have_folders_of_their_own(plan: Plan, tmp_path: Path) -> None:
    gone = next(o.tree_id for o in plan.trees if o.status == "served")
    trees = tuple(replace(o, status="done") if o.tree_id == gone else o for o in plan.trees)
    hazard = list(plan.area.trees.hazard)
    hazard[3] = "hung"
    first = next(o.tree_id for o in plan.trees if o.status == "served" and o.tree_id != gone)
    hazard[plan.area.trees.tree_id.index(first)] = "rot"
    area = replace(plan.area, trees=replace(plan.area.trees, hazard=tuple(hazard)))
    held = folders(checked(written(replace(plan, trees=trees, area=area), tmp_path)))
    assert list(held["Cut and out already"]) == [f"Tree {gone}, out already"]
    assert list(held["Hazard trees"]) == ["Hazard tree T4"]
    assert f"HAZARD TREE {first}, cut it first" in held["Marked trees, reached"]


def test_a_bare_plan_has_no_empty_folder(plan: Plan, tmp_path: Path) -> None:
    none = with_trees(plan, ())
    bare = replace(
        none, trails=(), steps=(), stations={}, bars=(), strips=(), turning_places=(), findings=(),
        area=replace(none.area, hazards=(), keep_out=(), water=()),
    )  # fmt: skip
    assert list(folders(checked(written(bare, tmp_path)))) == ["Landing", "Edge of the stand"]


def test_the_main_trail_folder_is_a_main_trail_again(plan: Plan, tmp_path: Path) -> None:
    lot = tidy_area(tmp_path / "lot", main_trail__line='"walk.kml:Main trail"')
    (x, y), *rest = MAIN.coords  # half a metre from the landing: at it, kept exactly
    lines = LineString([(x, y - 0.5), *rest])
    moved = replace(plan, trails=(replace(plan.trails[0], line=lines), *plan.trails[1:]))
    written(moved, lot, "walk.kml")
    main = read_area(lot).main_trail
    assert main is not None
    assert min(main.hausdorff_distance(lines), main.reverse().hausdorff_distance(lines)) < 0.02


def test_coordinates_against_proj(plan: Plan, tmp_path: Path) -> None:
    """PROJ's own formula for UTM on the ellipsoid of NAD83 (GRS 80), no datum in between."""
    utm = pyproj.Proj("+proj=utm +zone=18 +ellps=GRS80")
    root = checked(written(plan, tmp_path))
    line = next(
        p for p in root.iter(f"{SPACE}Placemark") if p.findtext(f"{SPACE}name") == "M1"
    ).findtext(f"{SPACE}LineString/{SPACE}coordinates", "")
    read = np.array([[float(v) for v in pair.split(",")] for pair in line.split()])
    want = np.column_stack(utm(*np.array(plan.trails[0].line.coords).T, inverse=True))
    assert read.shape == want.shape  # longitude and latitude, no height: it lies on the ground
    assert np.abs(read - want).max() < 0.6e-7


@pytest.mark.slow
def test_another_gdal_brings_it_back_onto_the_grid(plan: Plan, tmp_path: Path) -> None:
    needs("ogr2ogr")
    path, out = written(plan, tmp_path), tmp_path / "by.gpkg"
    subprocess.run(
        ["ogr2ogr", "-f", "GPKG", "-t_srs", plan.area.crs.to_string(), out, path],
        check=True, capture_output=True, timeout=120, env=clean_environment(),
    )  # fmt: skip
    assert set(pyogrio.list_layers(out)[:, 0]) == set(folders(checked(path)))
    for name, kind in (("Main trail", "main"), ("Spurs", "spur")):
        table = pyogrio.read_dataframe(out, layer=name)
        lines = dict(zip(table["Name"], table.geometry, strict=True))
        for trail in plan.trails:
            if trail.kind == kind:
                assert same_points(lines[trail.trail_id], trail.line) < 0.01


@pytest.mark.slow
def test_valid_by_the_published_schema(plan: Plan, tmp_path: Path) -> None:
    kinds = {
        "whole": plan_fixture.plan(name="Maple & <Sons>"),
        "metric": plan_fixture.plan("metric", rules=("a-rule",), confirmed=True),
        "odd": with_trees(plan, tuple(dict.fromkeys(AWKWARD))),
        "bare": replace(with_trees(plan, ()), trails=(), bars=(), strips=(), turning_places=()),
    }
    for name, one in kinds.items():
        assert schemas.faults(written(one, tmp_path, f"{name}.kml"), "ogckml22.xsd") == ""
    text = (tmp_path / "whole.kml").read_text(encoding="utf-8")
    wrong = text.replace("<tessellate>1</tessellate>", "<tessellate>maybe</tessellate>", 1)
    (tmp_path / "wrong.kml").write_text(wrong, encoding="utf-8")
    assert "tessellate" in schemas.faults(tmp_path / "wrong.kml", "ogckml22.xsd")  # it can say no
