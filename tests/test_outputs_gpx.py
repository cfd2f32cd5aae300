"""plan.gpx: valid, every place where it lies, and home again as the trails it holds."""

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import plan_fixture
import pyogrio
import pyproj
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import GeometryCollection, LineString, MultiPoint, Point, Polygon

from layout import track_types
from layout.outputs import closing, geopackage, gpx, kml, overview, write_plan
from layout.outputs.amounts import grade
from layout.outputs.crew import flagging, walking
from layout.outputs.device import degrees
from layout.outputs.device.marks import outward
from layout.plan import Plan
from layout.records import Trail, TreeOutcome
from layout.settings import LonLat
from layout.site import Hazard

SPACE = "{http://www.topografix.com/GPX/1/1}"
NAME = re.compile(r"[A-Z0-9-]{1,8}")
# Order of the elements inside others, typed from the published schema of GPX 1.1.
ORDER = {
    "gpx": "metadata wpt rte trk extensions",
    "metadata": "name desc author copyright link time keywords bounds extensions",
    "wpt": "ele time magvar geoidheight name cmt desc src link sym type fix sat hdop vdop pdop "
    "ageofdgpsdata dgpsid extensions",
    "trk": "name cmt desc src link number type extensions trkseg",
    "trkseg": "trkpt extensions",
    "trkpt": "ele time magvar geoidheight name cmt desc src link sym type fix sat hdop vdop pdop "
    "ageofdgpsdata dgpsid extensions",
}
AWKWARD = ("37", "t37", "Érable nº 5", "松林", "松林", "PLOT-2024-00012", "PLOT-2025-00012",
           "a <b>&\"'", "bell\x07 \x00tab\t", "--", "oak 12 by the long wall", "W1",
           "M")  # fmt: skip


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def written(plan: Plan, folder: Path) -> Path:
    way = degrees.way(plan.area)
    assert way is not None
    gpx.write(plan, folder / "plan.gpx", way)
    return folder / "plan.gpx"


def root_of(path: Path) -> Element:
    return ElementTree.parse(path).getroot()


def texts(root: Element, tag: str) -> dict[str, dict[str, str]]:
    """Give the texts of each waypoint or track by its name; names stand once."""
    out: dict[str, dict[str, str]] = {}
    for element in root.iter(f"{SPACE}{tag}"):
        said = {child.tag.removeprefix(SPACE): child.text or "" for child in element}
        assert said["name"] not in out
        out[said["name"]] = said
    return out


def bare(root: Element, tag: str) -> dict[str, dict[str, str]]:
    """Give the texts by name without the stop it begins with."""
    return {re.sub(r"^\d+", "", name): said for name, said in texts(root, tag).items()}


def in_order(element: Element) -> Iterator[str]:
    """List what stands in another order, or under another name, than the format has it."""
    tag = element.tag.removeprefix(SPACE)
    if tag not in ORDER:
        return
    allowed = ORDER[tag].split()
    inside = [child.tag.removeprefix(SPACE) for child in element]
    yield from (f"{name} in {tag}" for name in inside if name not in allowed)
    places = [allowed.index(name) for name in inside if name in allowed]
    if places != sorted(places):
        yield f"{tag}: {inside}"
    for child in element:
        yield from in_order(child)


def checked(path: Path) -> Element:
    """Read a file, and see to what every one must hold."""
    root = root_of(path)
    assert root.tag == f"{SPACE}gpx" and root.get("version") == "1.1" and root.get("creator")
    assert list(in_order(root)) == []
    names = [
        element.text or ""
        for tag in ("wpt", "trk")
        for element in root.iterfind(f"{SPACE}{tag}/{SPACE}name")
    ]
    assert all(NAME.fullmatch(name) for name in names), names
    assert len(set(names)) == len(names)
    for point in (*root.iter(f"{SPACE}wpt"), *root.iter(f"{SPACE}trkpt")):
        assert -90 <= float(point.attrib["lat"]) <= 90
        assert -180 <= float(point.attrib["lon"]) < 180  # as the schema has it
        assert re.fullmatch(r"-?\d+\.\d{7}", point.attrib["lat"])
        assert re.fullmatch(r"-?\d+\.\d{7}", point.attrib["lon"])
    return root


# --- what stands in it


def test_a_plan_in_feet(plan: Plan, tmp_path: Path) -> None:
    root = checked(written(plan, tmp_path))
    head = root.find(f"{SPACE}metadata")
    assert head is not None
    said = head.findtext(f"{SPACE}desc", "")
    assert head.findtext(f"{SPACE}name", "").startswith("Maple Hill")
    assert said.startswith("Not walked and flagged = not ready. A plan, not permission:")
    assert "NO LOCAL RULE CHOSEN" in said and "unverified" in said
    assert "2 STOP findings" in said and "One pace is one step of 2.5 ft." in said

    points, tracks = bare(root, "wpt"), texts(root, "trk")
    kinds: dict[str, list[str]] = {}
    for name, what in (points | tracks).items():
        kinds.setdefault(what["type"], []).append(name)
    marked = [
        t for t, cut in zip(plan.area.trees.tree_id, plan.area.trees.marked, strict=True) if cut
    ]
    assert sorted(kinds["tree"]) == sorted(marked)  # these ids are fit for a receiver
    assert kinds["winch position"] == [f"W{p.position_id}" for p in plan.positions]
    assert kinds["water bar"] == ["B01", "B02", "B03", "B04", "B05"]
    assert (kinds["landing"], kinds["turning place"]) == (["LANDING"], ["TURNP1"])
    assert (kinds["main trail"], kinds["spur"]) == (["M1"], ["S1", "S2", "S3", "S4"])
    assert (kinds["strip edge"], kinds["keep out"]) == (["STRIP1"], ["KEEP1"])
    assert kinds["hazard"] == ["WELL1", "WIRE1", "WELL1-A"]

    assert points["LANDING"]["desc"] == "L1: landing, 0.24 acre, slope 4 %"
    pull = next(pull for pull in plan.pulls if pull.tree_id == "T89")
    paces = round(pull.ground_m / (2.5 * 0.3048))
    assert points["T89"]["desc"] == (
        f"sugar maple, 19 in; winch from M1-1, tight; {pull.ground_m / 0.3048:.0f} ft, "
        f"{paces} paces, left as seen from the seat, looking back; "
        "no lay for a hazard tree; lean not known: look up"
    )
    assert points["T9"]["desc"].startswith(
        "sugar maple, 23 in; NOT reached: takes more ground than the price set for a tree; "
        "first remedy: leave it standing; 58 paces left of M1 at 806 ft"
    )
    assert points["WM1-1"]["desc"].startswith(
        "M1-1: M1 at 65 ft; 2 trees: T89, T289; back in 66 ft"
    )
    assert "12 % downhill loaded" in points["B01"]["desc"]
    assert "water to the right, walking out" in points["B01"]["desc"]
    assert tracks["S2"]["desc"].startswith("1 STOP finding; spur off M1 at 360 ft;")
    assert tracks["M1"]["desc"].startswith(
        "main trail; 806 ft long, 12 ft wide; steepest 12 % down"
    )
    assert "unverified" in tracks["STRIP1"]["desc"]
    assert "no rope over or under it" in tracks["WIRE1"]["desc"]
    assert tracks["WIRE1"]["desc"].endswith("our limits, unverified")
    assert tracks["STRIP1"]["desc"].startswith(
        "brook: edge of the water strip (perennial): no mach"
    )
    assert (
        points["WELL1"]["desc"] == "well-1: well; no machine within 50 ft; our limits, unverified"
    )
    for what in (points | tracks).values():
        assert not re.search(r"(?<![\w])[-+−]\d", what["desc"]), what["desc"]  # noqa: RUF001
        assert "safe" not in what["desc"].lower() and " m " not in what["desc"]


def test_a_plan_in_metres_says_no_feet(tmp_path: Path) -> None:
    plan = plan_fixture.plan("metric", rules=("a-rule",), confirmed=True)
    root = checked(written(plan, tmp_path))
    said = root.findtext(f"{SPACE}metadata/{SPACE}desc", "")
    assert "Water strips by rule a-rule." in said
    assert "unverified" not in said and "NO LOCAL RULE" not in said
    assert "One pace is one step of 0.75 m." in said
    tree = bare(root, "wpt")["T89"]["desc"]
    assert re.match(r"sugar maple, \d\d cm; winch from M1-1, tight; 30 m, 40 paces, left", tree)
    for what in (texts(root, "wpt") | texts(root, "trk")).values():
        assert not re.search(r"\b(ft|in|acre)\b(?! the| of)", what["desc"].replace("back in", ""))


def test_without_an_order_of_work_places_stand_trail_by_trail(plan: Plan, tmp_path: Path) -> None:
    names = list(texts(root_of(written(plan, tmp_path)), "wpt"))
    assert names == sorted(names) and names[0] == "00M1-0"
    stop = {re.sub(r"^\d+", "", name): int(re.match(r"\d*", name)[0] or 999) for name in names}  # type: ignore[index]
    spots = [stop[f"W{p.position_id}"] for p in plan.positions]
    assert spots == sorted(set(spots))
    for position in plan.positions:
        assert {stop[tree] for tree in position.tree_ids} == {stop[f"W{position.position_id}"]}
    last_on_main = max(stop[f"W{p.position_id}"] for p in plan.positions if p.trail_id == "M1")
    first_on_spur = min(stop[f"W{p.position_id}"] for p in plan.positions if p.trail_id == "S1")
    assert last_on_main < stop["B01"] < stop["B05"] < first_on_spur
    served = {tree for position in plan.positions for tree in position.tree_ids}
    assert {name for name, at in stop.items() if name[0] == "T" and at < 999} == served | {"TURNP1"}


def test_trails_run_outward_each_after_the_one_it_leaves() -> None:
    line = LineString([(0, 0), (1, 1)])

    def trail(name: str, joins: str = "", at: float | None = None) -> Trail:
        return Trail(name, "spur" if joins else "main", "L1", line, 3.0, "routed", joins, at)

    trails = [trail("M"), trail("S1", "M", 50.0), trail("S2", "M", 20.0), trail("S3", "S2", 5.0),
              trail("N"), trail("S4", "S2", 1.0)]  # fmt: skip
    assert [t.trail_id for t in outward(trails)] == ["M", "S2", "S4", "S3", "S1", "N"]


def test_lines_run_landing_end_first_and_heights_are_the_ground(plan: Plan, tmp_path: Path) -> None:
    root = root_of(written(plan, tmp_path))
    track = next(t for t in root.iter(f"{SPACE}trk") if t.findtext(f"{SPACE}name") == "M1")
    points = list(track.iter(f"{SPACE}trkpt"))
    lat = [float(p.attrib["lat"]) for p in points]
    assert lat == sorted(lat)  # the landing lies south
    for point, (x, y) in zip(points, plan.trails[0].line.coords, strict=True):
        # the hillside of the made-up plan, by its formula
        e, n = x - plan_fixture.WEST, y - plan_fixture.SOUTH
        z = 300 + 0.12 * n + 4 * math.sin(e / 45) - 9 * math.exp(-(((e - 60) / 28) ** 2))
        assert float(point.findtext(f"{SPACE}ele", "nan")) == pytest.approx(z, abs=0.1)
    strip = next(t for t in root.iter(f"{SPACE}trk") if t.findtext(f"{SPACE}name") == "STRIP1")
    heights = [p.find(f"{SPACE}ele") is not None for p in strip.iter(f"{SPACE}trkpt")]
    assert any(heights)
    gap = plan.area.dem.with_z(np.full_like(plan.area.dem.z, np.nan))
    bare = root_of(written(replace(plan, area=replace(plan.area, dem=gap)), tmp_path))
    assert list(bare.iter(f"{SPACE}ele")) == []


# --- where it lies


def test_each_coordinate_against_proj(plan: Plan, tmp_path: Path) -> None:
    """PROJ's own formula for UTM on the ellipsoid of NAD83 (GRS 80), no datum in between."""
    utm = pyproj.Proj("+proj=utm +zone=18 +ellps=GRS80")
    root = root_of(written(plan, tmp_path))
    spots = {p.position_id: (p.x, p.y) for p in plan.positions} | {
        t: (float(x), float(y))
        for t, x, y in zip(
            plan.area.trees.tree_id, plan.area.trees.x, plan.area.trees.y, strict=True
        )
    }
    seen = 0
    for point in root.iter(f"{SPACE}wpt"):
        name = re.sub(r"^\d+", "", point.findtext(f"{SPACE}name", ""))
        place = spots.get(name) or spots.get(name.removeprefix("W"))
        if place is not None:
            lon, lat = utm(*place, inverse=True)
            assert float(point.attrib["lon"]) == pytest.approx(lon, abs=0.6e-7)
            assert float(point.attrib["lat"]) == pytest.approx(lat, abs=0.6e-7)
            seen += 1
    assert seen == len(plan.positions) + int(plan.area.trees.marked.sum())


def test_read_with_gdal_every_line_lies_within_a_centimetre(plan: Plan, tmp_path: Path) -> None:
    path = written(plan, tmp_path)
    tracks = pyogrio.read_dataframe(path, layer="tracks").to_crs(plan.area.crs).set_index("name")
    for trail in plan.trails:
        (read,) = tracks.geometry[trail.trail_id].geoms
        assert same_points(read, trail.line) < 0.01
    (edge,) = tracks.geometry["STRIP1"].geoms
    assert same_points(edge, plan.strips[0].shape.exterior) < 0.01
    (edge,) = tracks.geometry["KEEP1"].geoms
    assert same_points(edge, plan.area.keep_out[0].exterior) < 0.01
    points = pyogrio.read_dataframe(path, layer="waypoints").to_crs(plan.area.crs)
    points.index = points["name"].str.replace(r"^\d+", "", regex=True)
    for bar in plan.bars:
        assert points.geometry[f"B0{bar.bar_id[1:]}"].distance(Point(bar.x, bar.y)) < 0.01
    assert plan.turning_places[0].shape.contains(points.geometry["TURNP1"])


def same_points(a: LineString, b: LineString) -> float:
    """Give the farthest any point lies from its twin, metres."""
    one, other = shapely.get_coordinates(a), shapely.get_coordinates(b)
    assert one.shape == other.shape
    return float(np.hypot(*(one - other).T).max())


@pytest.mark.parametrize("epsg", [32632, 25832, 2193, 2154, 3347, 26718, 31467])
def test_there_and_back_in_other_systems(plan: Plan, epsg: int) -> None:
    """With the way an input file takes; the last two stand on datums of the last century."""
    crs = pyproj.CRS.from_epsg(epsg)
    use = crs.area_of_use
    assert use is not None and crs.geodetic_crs is not None
    onto = pyproj.Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    x, y = onto.transform((use.west + use.east) / 2, (use.south + use.north) / 2)
    dem = replace(plan.area.dem, west_m=x - 200, north_m=y + 200)
    way = degrees.way(replace(plan.area, crs=crs, dem=dem))
    assert way is not None
    xy = np.column_stack([x + np.linspace(-150, 150, 7), y + np.linspace(-140, 160, 7)])
    lon_lat = way.lon_lat(xy)
    box = (*lon_lat.min(axis=0), *lon_lat.max(axis=0))
    back = degrees.change(degrees.WGS84, crs, box, "")
    again = np.column_stack(back(*lon_lat.T))
    assert np.hypot(*(again - xy).T).max() < 0.02


def test_far_from_its_zone_and_over_the_date_line(plan: Plan, tmp_path: Path) -> None:
    far = moved(plan, 900_000.0, 0.0)  # some 11 degrees off, three zones on
    checked(written(far, tmp_path))
    fiji = pyproj.CRS.from_epsg(32701)
    edge = pyproj.Transformer.from_crs(4326, fiji, always_xy=True).transform(180.0, -17.0)
    over = moved(plan, edge[0] - plan_fixture.WEST - 200, edge[1] - plan_fixture.SOUTH)
    root = checked(written(replace(over, area=replace(over.area, crs=fiji)), tmp_path))
    lons = [float(p.attrib["lon"]) for p in root.iter(f"{SPACE}wpt")]
    assert min(lons) < -179.9 and max(lons) > 179.9


def moved(plan: Plan, dx: float, dy: float) -> Plan:
    """Give a plan with its trails, positions and trees elsewhere."""
    area = plan.area
    dem = replace(area.dem, west_m=area.dem.west_m + dx, north_m=area.dem.north_m + dy)
    trees = replace(area.trees, x=area.trees.x + dx, y=area.trees.y + dy)
    return replace(
        plan,
        area=replace(area, dem=dem, trees=trees, hazards=(), keep_out=()),
        trails=tuple(replace(t, line=translate(t.line, dx, dy)) for t in plan.trails),
        positions=tuple(replace(p, x=p.x + dx, y=p.y + dy) for p in plan.positions),
        bars=(), strips=(), turning_places=(),
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("epsg", [2334, 2999])  # no way known; one known to 999 m
def test_no_file_where_the_datum_is_a_guess(
    plan: Plan, tmp_path: Path, epsg: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(overview, "write", lambda plan, path: path.write_bytes(b"picture"))
    monkeypatch.setattr(geopackage, "write", lambda plan, path, said: path.write_bytes(b"map"))
    area = replace(plan.area, crs=pyproj.CRS.from_epsg(epsg))
    if epsg == 2999:
        area = replace(area, dem=replace(area.dem, west_m=300_000.0, north_m=8_700_000.0))
    lost = replace(plan, area=area)
    assert degrees.way(area) is None
    out = write_plan(lost, tmp_path / "out")
    names = {path.name for path in out.iterdir()}
    assert "plan.gpkg" in names and not names & {"plan.gpx", "plan.kml"}
    assert "plan.gpx and plan.kml are left out" in closing(lost, out)
    assert "left out" not in closing(plan, out)


def test_a_doubtful_datum_is_told(plan: Plan, tmp_path: Path) -> None:
    dhdn = pyproj.CRS.from_epsg(31467)  # PROJ knows the shift to 3 m without a grid
    home = replace(plan.area.dem, west_m=3_500_000.0, north_m=5_600_000.0)
    way = degrees.way(replace(plan.area, crs=dhdn, dem=home))
    assert way is not None and way.told_shift_m == 3.0
    gpx.write(plan, tmp_path / "plan.gpx", way)
    said = root_of(tmp_path / "plan.gpx").findtext(f"{SPACE}metadata/{SPACE}desc", "")
    assert "may be off by 10 ft more" in said


# --- awkward plans


def with_trees(plan: Plan, ids: tuple[str, ...]) -> Plan:
    """Give a plan whose first trees have other ids, all marked and none reached."""
    listed = plan.area.trees
    names = (*ids, *listed.tree_id[len(ids) :])
    marked = np.arange(len(listed)) < len(ids)
    outcomes = tuple(
        TreeOutcome(
            name, "beyond_reach" if cut else "leave", "leave", remedies=("leave it standing",)
        )
        for name, cut in zip(names, marked, strict=True)
    )
    area = replace(plan.area, trees=replace(listed, tree_id=names, marked=marked))
    return replace(plan, area=area, trees=outcomes, pulls=(), positions=())


def test_awkward_tree_ids_stand_in_full_in_the_note(plan: Plan, tmp_path: Path) -> None:
    odd = with_trees(
        plan, tuple(f"{n}{name}" if name == "松林" else name for n, name in enumerate(AWKWARD))
    )
    points = texts(checked(written(odd, tmp_path)), "wpt")
    trees = [what for what in points.values() if what["type"] == "tree"]
    assert len(trees) == len(AWKWARD)
    assert points["T37"]["desc"].startswith("37: ")
    assert points["T37-A"]["desc"].startswith("t37: ")
    said = [tree["desc"] for tree in trees]
    for name in ("Érable nº 5", "3松林", "PLOT-2025-00012", "a <b>&\"'", "oak 12 by the long wall"):
        assert [d for d in said if d.startswith(f"{name}: ")], name
    assert [d for d in said if d.startswith("bell tab: ")]


def test_control_characters_of_any_text_are_gone(tmp_path: Path) -> None:
    plan = plan_fixture.plan(name="Bad\x00\x0b name\n\ud800 & <\ufffeco>")
    root = checked(written(plan, tmp_path))
    assert root.findtext(f"{SPACE}metadata/{SPACE}name", "").startswith("Bad name & < co>: ")


def test_trees_without_size_or_kind_done_trees_and_hazard_trees(plan: Plan, tmp_path: Path) -> None:
    listed = plan.area.trees
    first = [i for i, cut in enumerate(listed.marked) if cut][:2]
    species, hazard, dbh = list(listed.species), list(listed.hazard), listed.dbh_cm.copy()
    species[first[0]], dbh[first[0]], hazard[first[1]], hazard[3] = "", math.nan, "dead_top", "hung"
    area = replace(
        plan.area, trees=replace(listed, species=tuple(species), dbh_cm=dbh, hazard=tuple(hazard))
    )
    outcomes = [
        replace(o, status="done") if o.tree_id == listed.tree_id[first[0]] else o
        for o in plan.trees
    ]
    points = bare(
        checked(written(replace(plan, area=area, trees=tuple(outcomes)), tmp_path)), "wpt"
    )
    assert points[listed.tree_id[first[0]]]["desc"] == (
        "species not given, DBH not given; cut and out already"
    )
    assert points[listed.tree_id[first[1]]]["desc"].startswith(
        "HAZARD TREE (dead top): cut it first, before any other work near it; "
        "keep 171 ft off until it lies: cut first; "
    )
    assert points[listed.tree_id[first[1]]]["type"] == "hazard tree, cut first"
    stays = points[f"H{listed.tree_id[3]}"]
    assert stays["type"] == "hazard tree"
    # 85 ft where it was not measured, and two lengths of it
    assert "HAZARD TREE (hung), not marked: keep two tree lengths off, 170 ft" in stays["desc"]


def test_the_way_in_and_where_help_lands(plan: Plan, tmp_path: Path) -> None:
    assert not {"GATE", "HELI"} & set(texts(checked(written(plan, tmp_path)), "wpt"))
    known = plan.area.settings
    gate = plan_fixture.at(30.0, 14.0)
    access = known.access.model_copy(
        update={"gate": gate, "road_name": "Mill lane", "meet": "at the white barn",
                "meet_at": plan_fixture.at(40.0, 20.0),
                "helispot": LonLat(lon=-74.9987654, lat=42.4504321)}
    )  # fmt: skip
    settings = known.model_copy(update={"access": access})
    given = replace(plan, area=replace(plan.area, settings=settings))
    path = written(given, tmp_path)
    root = checked(path)
    points = texts(root, "wpt")
    assert points["GATE"]["desc"] == (
        "gate or road entrance; road: Mill lane; help is met: at the white barn"
    )
    assert points["MEET"]["desc"] == (
        "place where help is met, as it was given; help is met: at the white barn"
    )
    assert points["HELI"]["desc"].startswith("open spot for a helicopter")
    assert "Help is met: at the white barn." in root.findtext(f"{SPACE}metadata/{SPACE}desc", "")
    read = pyogrio.read_dataframe(path, layer="waypoints").set_index("name").geometry
    there = pyproj.Transformer.from_crs(4326, plan.area.crs, always_xy=True)
    at = there.transform(read["GATE"].x, read["GATE"].y)
    assert np.hypot(at[0] - gate[0], at[1] - gate[1]) < 0.02
    assert read["HELI"].coords[0] == pytest.approx((-74.9987654, 42.4504321), abs=1.1e-7)
    way = degrees.way(plan.area)
    assert way is not None
    kml.write(given, tmp_path / "plan.kml", way)
    held = pyogrio.read_dataframe(tmp_path / "plan.kml", layer="Way in, and help")
    assert list(held["Name"]) == ["GATE", "MEET", "HELI"]


def test_the_ring_round_a_hazard_tree_that_stays(plan: Plan, tmp_path: Path) -> None:
    listed = plan.area.trees
    row = next(i for i, cut in enumerate(listed.marked) if not cut)
    hazard = ["hung" if i == row else "" for i in range(len(listed))]
    height = np.full(len(listed), 25.0)  # so that two lengths are 50 m
    trees = replace(listed, hazard=tuple(hazard), height_m=height)
    path = written(replace(plan, area=replace(plan.area, trees=trees)), tmp_path)
    name = f"H{listed.tree_id[row]}"
    (found,) = [w for w in texts(checked(path), "trk").values() if w["type"] == "hazard tree"]
    assert found["name"] == f"{name}-A"  # next to its stem in a list by name
    assert "not marked: keep two tree lengths off, 164 ft; nobody works inside" in found["desc"]
    read = pyogrio.read_dataframe(path, layer="tracks").to_crs(plan.area.crs).set_index("name")
    (edge,) = read.geometry[f"{name}-A"].geoms
    stem = Point(listed.x[row], listed.y[row])
    assert edge.is_closed and edge.distance(stem) == pytest.approx(50.0, abs=0.01)
    assert shapely.hausdorff_distance(edge, stem) < 50.1


def test_the_ring_round_a_hazard_tree_that_is_cut_first(plan: Plan, tmp_path: Path) -> None:
    listed = plan.area.trees
    cut = next(i for i, marked in enumerate(listed.marked) if marked)
    stays = next(i for i, marked in enumerate(listed.marked) if not marked)
    hazard = tuple({cut: "rot", stays: "hung"}.get(i, "") for i in range(len(listed)))
    height = np.full(len(listed), 25.0)  # so that two lengths are 50 m
    trees = replace(listed, hazard=hazard, height_m=height)
    bad = replace(plan, area=replace(plan.area, trees=trees))
    path = written(bad, tmp_path)
    tracks = texts(checked(path), "trk")
    kinds = {said["type"]: said for said in tracks.values() if "hazard tree" in said["type"]}
    found = kinds["hazard tree, cut first"]
    assert set(kinds) == {"hazard tree", "hazard tree, cut first"}
    assert found["name"].startswith("F") and kinds["hazard tree"]["name"].startswith("H")
    assert "keep 164 ft off until it lies: cut first" in found["desc"]
    read = pyogrio.read_dataframe(path, layer="tracks").to_crs(plan.area.crs).set_index("name")
    (edge,) = read.geometry[found["name"]].geoms
    stem = Point(listed.x[cut], listed.y[cut])
    assert edge.is_closed and edge.distance(stem) == pytest.approx(50.0, abs=0.01)
    # home again it is no trail
    assert found["type"] in track_types.NO_TRAIL
    way = degrees.way(plan.area)
    assert way is not None
    kml.write(bad, tmp_path / "plan.kml", way)
    (name,) = pyogrio.read_dataframe(
        tmp_path / "plan.kml", layer="Hazard trees cut first: keep off until they lie"
    )["Name"]
    assert name == f"Keep off HAZARD TREE {listed.tree_id[cut]} until it lies"


def steeper_piece(plan: Plan) -> tuple[Plan, str]:
    """Give the plan with the last piece of a spur steeper than any 10 m of it."""
    trail = next(t for t in plan.trails if t.joins_id)
    (*_, last) = walking.stations(trail.line, "us")[:-1]
    known = plan.stations[trail.trail_id]
    z = known.z[0] - 0.3 * np.clip(known.at_m - (last - 2.0), 0.0, None)
    stations = replace(known, z=z, grade_pct=np.full(len(known), 2.3))
    return replace(plan, stations={**plan.stations, trail.trail_id: stations}), trail.trail_id


def test_the_steepest_of_a_trail_is_that_of_its_stations_however_it_is_cut_into_legs(
    plan: Plan, tmp_path: Path
) -> None:
    steep, changed = steeper_piece(plan)
    for made in (plan, steep):
        tracks = texts(checked(written(made, tmp_path)), "trk")
        for trail in made.trails:
            told = re.findall(r"(\d+ %) (downhill|uphill) loaded", tracks[trail.trail_id]["desc"])
            known = made.stations[trail.trail_id].grade_pct
            tops = {"downhill": -known.min(), "uphill": known.max()}
            assert told == [(grade(top), way) for way, top in tops.items() if top >= 0.5]
    (way,) = [way for trail, way in flagging.ways(steep) if trail.trail_id == changed]
    assert way[-1].grade_pct == pytest.approx(30.0, abs=3.0)  # the leg keeps its own mean
    assert "steepest 2 % uphill loaded" in tracks[changed]["desc"]  # the last of `steep`
    top = max(float(steep.stations[trail.trail_id].grade_pct.max()) for trail in steep.trails)
    assert f"{grade(top)} uphill loaded (" in closing(steep)


@pytest.mark.parametrize("what", ["no water", "no spurs", "one tree", "nothing"])
def test_small_plans(plan: Plan, tmp_path: Path, what: str) -> None:
    area = plan.area
    if what == "no water":
        small = replace(plan, strips=(), area=replace(area, water=()))
    elif what == "no spurs":
        small = replace(plan, trails=plan.trails[:1])
    elif what == "one tree":
        small = with_trees(plan, ("only one",))
    else:
        none = with_trees(plan, ())
        small = replace(
            none, trails=(), steps=(), stations={}, bars=(), strips=(), turning_places=(),
            findings=(), area=replace(none.area, hazards=(), keep_out=(), water=()),
        )  # fmt: skip
    root = checked(written(small, tmp_path))
    kinds = [what["type"] for what in (texts(root, "wpt") | texts(root, "trk")).values()]
    assert kinds.count("strip edge") == (what != "no water") * (what != "nothing")
    assert kinds.count("spur") == {"no spurs": 0, "nothing": 0}.get(what, 4)
    assert kinds.count("tree") == {"one tree": 1, "nothing": 0}.get(
        what, int(area.trees.marked.sum())
    )
    if what == "nothing":
        assert kinds == ["landing"]


def test_fifteen_hundred_trees(plan: Plan, tmp_path: Path) -> None:
    listed = plan.area.trees
    times = 3
    many = replace(
        listed,
        tree_id=tuple(f"North wood stem {n:04d}" for n in range(times * len(listed))),
        x=np.tile(listed.x, times), y=np.tile(listed.y, times), species=listed.species * times,
        dbh_cm=np.tile(listed.dbh_cm, times), height_m=np.tile(listed.height_m, times),
        marked=np.ones(times * len(listed), dtype=bool), hazard=listed.hazard * times,
        logs=np.tile(listed.logs, times), lean_deg=np.tile(listed.lean_deg, times),
        lean_azimuth_deg=np.tile(listed.lean_azimuth_deg, times),
        position_error_m=np.tile(listed.position_error_m, times),
    )  # fmt: skip
    outcomes = tuple(TreeOutcome(name, "no_trail", "leave") for name in many.tree_id)
    big = replace(plan, area=replace(plan.area, trees=many), trees=outcomes, pulls=(), positions=())
    points = texts(checked(written(big, tmp_path)), "wpt")
    assert sum(what["type"] == "tree" for what in points.values()) == 1500
    assert points["TNOR1234"]["desc"].startswith("North wood stem 1234: ")


def test_hazards_of_every_shape(plan: Plan, tmp_path: Path) -> None:
    at = plan_fixture.at
    shapes = {
        "two wells": ("well", MultiPoint([at(100, 100), at(120, 100)])),
        "house": ("house", Polygon([at(10, 10), at(20, 10), at(20, 20)])),
        "mix": (
            "a new kind",
            GeometryCollection([Point(at(5, 5)), LineString([at(1, 1), at(9, 9)])]),
        ),
    }
    hazards = tuple(Hazard(name, kind, shape) for name, (kind, shape) in shapes.items())
    root = checked(written(replace(plan, area=replace(plan.area, hazards=hazards)), tmp_path))
    points = [w for w in texts(root, "wpt").values() if w["type"] == "hazard"]
    tracks = [w for w in texts(root, "trk").values() if w["type"] == "hazard"]
    assert [w["desc"].split(":")[0] for w in points] == ["mix", "two wells", "two wells"]
    assert [w["desc"].split(":")[0] for w in tracks] == [
        "two wells",
        "two wells",
        "house",
        "mix",
        "mix",
    ]
