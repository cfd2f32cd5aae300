"""What the crew's lists say: bearings, stations, ribbons, and the way to each tree."""

import math
import re
import subprocess
from dataclasses import replace
from itertools import pairwise

import numpy as np
import plan_fixture
import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracles import needs
from shapely.affinity import rotate, scale
from shapely.geometry import LineString, Point, box

from layout.geometry import coordinates
from layout.grid import Dem
from layout.outputs import fingerprint
from layout.outputs.coordinates import decimal_minutes, grid_turn_deg, spoken
from layout.outputs.crew import columns, emergency, flagging, foot, tree_list, tree_words
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import PACE_M, bearing_deg, natural, said_bearing, side_of
from layout.outputs.crew.finding import marked, walking_order
from layout.outputs.crew.map_frames import round_scale, whole
from layout.outputs.crew.map_trails import between, stretches, ticks
from layout.outputs.crew.ribbons import Ribbon, leaves_to, ribbons
from layout.outputs.crew.sheet import shortened, width_of, wrap
from layout.outputs.crew.walking import BEND_M, ROUND_M, STEP_M, legs, stations
from layout.plan import Plan
from layout.records import Trail
from layout.settings import LonLat
from layout.terrain import build, station_table
from layout.units import FOOT_M, Units

CRS = pyproj.CRS.from_epsg(26918)
angles = st.floats(0, 360, exclude_max=True)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@st.composite
def lines(draw: st.DrawFn) -> LineString:
    """Draw trails of gentle and sharp bends, 5 m to 400 m long."""
    turns = draw(st.lists(st.floats(-0.25, 0.25), min_size=1, max_size=80))
    heading, x, y, points = draw(st.floats(0, 6.28)), 0.0, 0.0, [(0.0, 0.0)]
    for turn in turns:
        heading += turn
        x, y = x + 5 * math.cos(heading), y + 5 * math.sin(heading)
        points.append((x, y))
    return LineString(points)


# directions


@pytest.mark.parametrize(
    ("dx", "dy", "degrees"), [(0, 1, 0), (1, 1, 45), (1, 0, 90), (0, -2, 180), (-3, 0, 270)]
)
def test_bearings_run_clockwise_from_grid_north(dx: float, dy: float, degrees: float) -> None:
    assert bearing_deg(dx, dy) == pytest.approx(degrees)


@given(angles, angles, st.floats(1, 100))
def test_sides_turn_with_the_trail_and_swap_in_a_mirror(
    look: float, off: float, far: float
) -> None:
    """A thing off by an angle clockwise is on the right up to half a turn."""
    a, b = math.radians(look), math.radians(look + off)
    found = side_of((math.sin(a), math.cos(a)), far * math.sin(b), far * math.cos(b))
    if min(abs(off - edge) for edge in (45, 135, 225, 315)) < 1e-6:
        return
    wanted = "right" if 45 < off < 135 else "left" if 225 < off < 315 else None
    wanted = wanted or ("back" if 135 < off < 225 else "ahead")
    assert found == wanted
    mirrored = side_of((-math.sin(a), math.cos(a)), -far * math.sin(b), far * math.cos(b))
    assert mirrored == {"left": "right", "right": "left"}.get(found, found)


def test_names_sort_by_their_numbers() -> None:
    names = ["S10", "M", "S9", "North 2", "12", "S1", "2"]
    assert sorted(names, key=natural) == ["M", "North 2", "S1", "S9", "S10", "2", "12"]


# coordinates


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_decimal_minutes_read_back_to_two_metres(lat: float, lon: float) -> None:
    said = decimal_minutes(lat, lon)
    found = re.fullmatch(r"(\d+)° (\d\d\.\d{3}). ([NS]), (\d+)° (\d\d\.\d{3}). ([EW])", said)
    assert found is not None, said
    for value, (deg, minutes, letter) in ((lat, found.groups()[:3]), (lon, found.groups()[3:])):
        assert float(minutes) < 60
        read = (int(deg) + float(minutes) / 60) * (-1 if letter in "SW" else 1)
        assert read == pytest.approx(value, abs=0.00051 / 60)


def test_places_agree_with_gdaltransform() -> None:
    """GDAL's own program, from the area's grid to WGS84 and to UTM on WGS84."""
    needs("gdaltransform")
    # A metric grid that is not UTM: Lambert-93.
    for epsg, x, y in ((26918, 482010.0, 4702216.0), (2154, 652381.0, 6862047.0)):
        said = spoken((x, y), pyproj.CRS.from_epsg(epsg))
        ran = subprocess.run(
            ["gdaltransform", "-s_srs", f"EPSG:{epsg}", "-t_srs", "EPSG:4326", "-output_xy"],
            input=f"{x} {y}\n",
            capture_output=True,
            text=True,
            check=True,
        )
        lon, lat = map(float, ran.stdout.split())
        ours = [float(part) for part in said.degrees.split(",")]
        assert ours == pytest.approx([lat, lon], abs=6e-6)
        assert f"{x:.0f} E {y:.0f} N" in said.grid
        assert bool(said.utm) == (epsg == 2154)


def test_utm_is_said_where_the_grid_is_another() -> None:
    said = spoken((652381.0, 6862047.0), pyproj.CRS.from_epsg(2154))
    lat, lon = map(float, said.degrees.split(","))
    east, north = pyproj.Proj(proj="utm", zone=31, ellps="WGS84")(lon, lat)
    assert said.utm == f"WGS 84 / UTM zone 31N: {east:.0f} E {north:.0f} N"


@pytest.mark.parametrize("x", [300_000.0, 500_000.0, 620_000.0])
def test_grid_north_turns_by_the_published_angle(x: float) -> None:
    """tan(turn) = tan(longitude off the middle meridian) times sin(latitude).

    Snyder, Map Projections: A Working Manual (USGS Professional Paper 1395, 1987),
    convergence of a transverse Mercator grid on the sphere; from memory.
    """
    lon, lat = pyproj.Proj(CRS)(x, 4_700_000.0, inverse=True)
    turn = math.atan(math.tan(math.radians(lon + 75)) * math.sin(math.radians(lat)))
    assert grid_turn_deg(CRS, x, 4_700_000.0) == pytest.approx(math.degrees(turn), abs=0.01)


def test_a_place_in_degrees_comes_out_as_it_went_in() -> None:
    said = spoken(LonLat(lon=-75.21873, lat=42.47212), CRS)
    assert said.degrees == "42.47212, -75.21873"
    x, y = map(float, re.findall(r"(\d+) [EN]", said.grid))
    assert pyproj.Proj(CRS)(x, y, inverse=True) == pytest.approx((-75.21873, 42.47212), abs=1e-5)


def test_no_degrees_where_the_datum_is_a_guess() -> None:
    said = spoken((500_225.0, 4_700_041.0), pyproj.CRS.from_epsg(2334))
    assert said.degrees == said.minutes == said.utm == ""


# stations and legs


@given(lines(), st.sampled_from(["us", "metric"]))
def test_stations_are_round_and_the_way_between_them_is_near_the_trail(
    line: LineString, units: str
) -> None:
    marks = stations(line, units)  # type: ignore[arg-type]
    step, fine = STEP_M[units], ROUND_M[units]  # type: ignore[index]
    assert marks[0] == 0 and marks[-1] == line.length
    assert all(b > a for a, b in pairwise(marks))
    assert all(abs(m / fine - round(m / fine)) < 1e-9 for m in marks[:-1])
    assert all(b - a <= step * 1.25 + 1e-9 for a, b in pairwise(marks))
    for a, b in pairwise(marks):
        if b - a > 4 * fine:  # room was left for one more
            ends = LineString([line.interpolate(a), line.interpolate(b)])
            off = max(ends.distance(line.interpolate(s)) for s in np.linspace(a, b, 30))
            assert off <= BEND_M + 1e-6


def test_stations_of_a_straight_trail() -> None:
    line = LineString([(0, 0), (0, 160 * FOOT_M)])
    assert stations(line, "us") == pytest.approx([s * FOOT_M for s in (0, 50, 100, 160)])
    assert stations(LineString([(0, 0), (7, 0)]), "metric") == [0, 7]


def ramp(rise_pct: float) -> Dem:
    """Give ground rising to the north."""
    y = 400 - np.arange(400) - 0.5
    z = np.repeat((100 + rise_pct / 100 * y)[:, None], 60, axis=1)
    return Dem(z.astype(np.float32), 0.0, 400.0, 1.0)


@pytest.mark.parametrize(("rise", "words"), [(12.0, "12 % down"), (-8.0, "8 % up"), (0.1, "level")])
def test_a_trail_climbing_away_from_the_landing_is_downhill_loaded(rise: float, words: str) -> None:
    line = LineString([(30, 50), (30, 250)])
    table = station_table(build(ramp(rise)), line, 3.0)
    way = legs(line, table, [], "us")
    assert {flagging.grade_said(leg.grade_pct) for leg in way} == {words}
    assert all(leg.steepest_pct is None for leg in way)
    assert all(leg.bearing_deg == pytest.approx(0) for leg in way)


def test_a_steep_pitch_in_a_leg_is_told(plan: Plan) -> None:
    z = ramp(5.0).z.copy()
    z[:300] += np.clip(0.15 * (300 - np.arange(300)[:, None]), 0, 1.8)  # 12 m at 20 %
    line = LineString([(30, 50), (30, 250)])
    way = legs(line, station_table(build(Dem(z, 0.0, 400.0, 1.0)), line, 3.0), [], "metric")
    steep = [leg for leg in way if leg.steepest_pct is not None]
    assert steep and all(leg.from_m <= 62 and leg.to_m >= 50 for leg in steep)
    assert min(leg.steepest_pct or 0 for leg in steep) == pytest.approx(-20, abs=1)


def test_walking_the_sheet_as_printed_ends_where_the_trail_does(plan: Plan) -> None:
    """Bearings to a degree and whole feet, summed up over each trail."""
    hung = ribbons(plan)
    for trail in plan.trails:
        x, y = trail.line.coords[0]
        way = legs(trail.line, plan.stations[trail.trail_id], hung[trail.trail_id], "us")
        for leg in way:
            row = flagging._row(leg, "us", 260.0, trail.line.length)
            bearing = math.radians(float(row.cells[1].lines[0].rstrip("°")))
            feet = float(row.cells[2].lines[0].removesuffix(" ft"))
            x, y = x + feet * FOOT_M * math.sin(bearing), y + feet * FOOT_M * math.cos(bearing)
        off = math.dist((x, y), trail.line.coords[-1])
        assert off < 0.3 * len(way), trail.trail_id


def test_every_ribbon_hangs_on_one_leg_with_its_station(plan: Plan) -> None:
    hung = ribbons(plan)
    for trail in plan.trails:
        way = legs(trail.line, plan.stations[trail.trail_id], hung[trail.trail_id], "us")
        told = [ribbon for leg in way for ribbon in leg.ribbons]
        assert sorted(told, key=lambda r: (r.at_m, r.text)) == hung[trail.trail_id]
        for leg in way:
            assert all(leg.from_m <= r.at_m <= leg.to_m + 1e-9 for r in leg.ribbons)


def test_a_ribbon_right_at_a_station_hangs_once(plan: Plan) -> None:
    trail = plan.trails[0]
    marks = stations(trail.line, "us")
    at_marks = [Ribbon(at_m, f"R{n}") for n, at_m in enumerate(marks)]
    way = legs(trail.line, plan.stations["M1"], at_marks, "us")
    assert [r.text for leg in way for r in leg.ribbons] == [r.text for r in at_marks]
    assert [r.text for r in way[0].ribbons] == ["R0", "R1"]  # the trail's very start with it


def test_ribbons_for_all_there_is_along_the_main_trail(plan: Plan) -> None:
    main = {ribbon.text.replace("\N{NO-BREAK SPACE}", " ") for ribbon in ribbons(plan)["M1"]}
    assert {"S1 left", "S2 right", "S3 left", "S4 right"} <= main
    assert {"P1 turning pad", "bar left", "bar right"} <= main
    names = {p.position_id for p in plan.positions if p.trail_id == "M1"}
    assert names and {text.split(" rear")[0] for text in main} >= names
    assert "stem T2" in {r.text.replace("\N{NO-BREAK SPACE}", " ") for r in ribbons(plan)["S2"]}


def test_edges_of_water_strips_are_flagged_where_they_cross_and_where_they_are_near(
    plan: Plan,
) -> None:
    line = LineString([plan_fixture.at(100, 100), plan_fixture.at(100, 250)])
    trail = replace(plan.trails[0], trail_id="X", line=line)
    across = replace(
        plan.strips[0], shape=box(*plan_fixture.at(80, 140), *plan_fixture.at(130, 160))
    )
    beside = replace(
        plan.strips[0], shape=box(*plan_fixture.at(60, 220), *plan_fixture.at(94, 300))
    )
    crossing = replace(plan, trails=(trail,), strips=(across, beside), positions=(), bars=(),
                       turning_places=(), trees=())  # fmt: skip
    told = [(round(r.at_m), r.text) for r in ribbons(crossing)["X"]]
    assert told[:2] == [(40, "EDGE OF WATER STRIP crosses"), (60, "EDGE OF WATER STRIP crosses")]
    near = told[2:]
    assert near and {text for _, text in near} == {"edge of water strip 20 ft left"}
    assert all(105 <= at <= 150 for at, _ in near)


@given(angles, st.booleans())
def test_a_spur_leaves_to_the_side_it_runs_to_at_any_turn_of_the_map(
    turn: float, mirrored: bool
) -> None:
    parent = LineString([(0, 0), (0, 100)])
    child = LineString([(0, 40), (8, 52), (40, 60)])
    if mirrored:
        parent, child = (scale(s, xfact=-1, origin=(0, 0)) for s in (parent, child))
    parent, child = (rotate(s, turn, origin=(0, 0)) for s in (parent, child))
    assert leaves_to(parent, 40.0, child) == ("left" if mirrored else "right")


def test_headings_say_where_a_trail_starts(plan: Plan) -> None:
    said = [flagging.heading(plan, trail) for trail in walking_order(plan)]
    assert said[0] == "M1: from landing L1, 806 ft long, 12 ft wide"
    assert said[1] == "S1: leaves M1 at 195 ft left, 387 ft long, 10 ft wide"
    fixed = replace(plan.trails[0], source="fixed")
    assert flagging.heading(plan, fixed).endswith("on the ground already")


# finding trees


@pytest.mark.parametrize("units", ["us", "metric"])
def test_pacing_along_the_bearing_ends_at_the_tree(units: str) -> None:
    made = plan_fixture.plan(units)
    trees = made.area.trees
    at = {t: (float(trees.x[i]), float(trees.y[i])) for i, t in enumerate(trees.tree_id)}
    line_of = {trail.trail_id: trail.line for trail in made.trails}
    found = marked(made)
    assert len(found) == 63
    for tree in found:
        start = line_of[tree.trail_id].interpolate(tree.at_m)
        # No trail is nearer to the tree than the place one paces from.
        assert min(line.distance(Point(at[tree.tree_id])) for line in line_of.values()) == (
            pytest.approx(start.distance(Point(at[tree.tree_id])), abs=1e-6)
        )
        way = tree.paces * PACE_M[units]  # type: ignore[index]
        turn = math.radians(float(said_bearing(tree.bearing_deg).rstrip("°")))
        end = (start.x + way * math.sin(turn), start.y + way * math.cos(turn))
        most = PACE_M[units] / 2 + way * math.radians(0.5)  # type: ignore[index]
        assert math.dist(end, at[tree.tree_id]) <= most + 0.05


def test_left_and_right_look_outward_from_the_landing(plan: Plan) -> None:
    for tree in marked(plan):  # the main trail runs north: west of it is left
        if tree.trail_id == "M1" and tree.side in ("left", "right"):
            assert (tree.side == "left") == (180 < tree.bearing_deg < 360)


def test_what_is_done_or_stays_is_not_on_the_list(plan: Plan) -> None:
    outcomes = list(plan.trees)
    gone = next(i for i, o in enumerate(outcomes) if o.status == "served")
    outcomes[gone] = replace(outcomes[gone], status="done")
    names = {tree.tree_id for tree in marked(replace(plan, trees=tuple(outcomes)))}
    assert outcomes[gone].tree_id not in names
    assert not names & {o.tree_id for o in outcomes if o.status == "leave"}


def test_the_unreached_are_told_why_and_to_leave_it_standing_first(plan: Plan) -> None:
    missed = [tree for tree in marked(plan) if tree.outcome.status != "served"]
    rows = tree_list._missed(missed, tree_list._Lines("us", 260.0, 25.0, {}, {}, {}))
    said = [" ".join(line for cell in row.cells for line in cell.lines) for row in rows]
    why = [words for words in said if "First remedy" in words]
    assert len(why) == len(missed) == 35
    assert all("First remedy: leave it standing." in words for words in why)
    assert any(" farther than the rope reaches. " in words for words in why)


def test_a_tree_in_the_trail_and_one_beyond_its_end() -> None:
    made = plan_fixture.plan()
    end = made.trails[0].line.coords[-1]
    trees = made.area.trees
    x, y = trees.x.copy(), trees.y.copy()
    rows = [i for i, o in enumerate(made.trees) if o.status == "served"][:2]
    x[rows[0]], y[rows[0]] = made.trails[0].line.interpolate(50.0).coords[0]
    x[rows[1]], y[rows[1]] = end[0], end[1] + 20
    area = replace(made.area, trees=replace(trees, x=x, y=y))
    said = {t.tree_id: tree_words.way_said(t) for t in marked(replace(made, area=area))}
    assert said[trees.tree_id[rows[0]]] == "in the trail"
    assert re.fullmatch(r"26 ahead \d{3}°", said[trees.tree_id[rows[1]]])


def test_without_a_trail_the_way_starts_at_the_landing(plan: Plan) -> None:
    tree = marked(replace(plan, trails=()))[0]
    assert (tree.trail_id, tree.start) == ("", "L1")
    assert re.fullmatch(r"\d+, \d{3}°", tree_words.way_said(tree))


# grades on the map


def test_stretches_cover_a_trail_and_keep_its_mean_grade(plan: Plan) -> None:
    for trail in plan.trails:
        steps = [s for s in plan.steps if s.trail_id == trail.trail_id]
        made = stretches(plan, trail.trail_id)
        assert made[0].from_m == 0 and made[-1].to_m == steps[-1].to_m
        assert all(a.to_m == b.from_m for a, b in pairwise(made))
        mean = sum(s.grade_pct * (s.to_m - s.from_m) for s in steps)
        assert sum(s.grade_pct * (s.to_m - s.from_m) for s in made) == pytest.approx(mean)
        assert len(made) < len(steps)


def test_a_rise_between_two_falls_is_a_stretch_of_its_own(plan: Plan) -> None:
    first = [s for s in plan.steps if s.trail_id == "M1"]
    steps = tuple(replace(s, grade_pct=6.0 if 60 <= s.from_m < 100 else -12.0) for s in first)
    made = stretches(replace(plan, steps=steps), "M1")
    assert [(round(s.from_m), round(s.grade_pct)) for s in made] == [(0, -12), (60, 6), (100, -12)]


def test_ticks_stand_across_the_trail_at_round_stations(plan: Plan) -> None:
    _, window = whole(plan)
    trail = plan.trails[0]
    made = ticks(trail, window, "us")
    assert [tick.said for tick in made] == [f"{n}00 ft" for n in range(1, 9)]
    for number, tick in enumerate(made, start=1):
        assert trail.line.project(Point(tick.at)) == pytest.approx(number * 100 * FOOT_M)
        (x0, y0), (x1, y1) = coordinates(tick.stroke)
        here = trail.line.interpolate(number * 100 * FOOT_M - 1.0)
        along = (tick.at[0] - here.x, tick.at[1] - here.y)
        assert abs((x1 - x0) * along[0] + (y1 - y0) * along[1]) < 0.1 * tick.stroke.length


@pytest.mark.parametrize("units", ["us", "metric"])
def test_with_the_short_strokes_every_ribbon_station_is_on_a_detail_map(
    plan: Plan, units: Units
) -> None:
    _, window = whole(plan)
    trail, step = plan.trails[0], STEP_M[units]
    at = [trail.line.project(Point(tick.at)) for tick in ticks(trail, window, units)]
    short = between(trail, window, units)
    at += [trail.line.project(stroke.interpolate(0.5, normalized=True)) for stroke in short]
    stations = [n * step for n in range(1, len(at) + 1)]
    assert sorted(at) == pytest.approx(stations)
    assert stations[-1] < trail.line.length <= stations[-1] + step
    assert short[0].length < ticks(trail, window, units)[0].stroke.length


@pytest.mark.parametrize("needed", [101.0, 999.0, 2811.0, 4999.9, 7777.0])
def test_scales_are_round_and_show_all(needed: float) -> None:
    assert needed <= round_scale(needed) <= needed * 1.1 + 25
    assert round_scale(needed) % 25 == 0


# setting rows in columns


@given(
    st.lists(st.tuples(st.integers(1, 6), st.booleans()), max_size=60),
    st.floats(120, 400),
    st.floats(120, 400),
)
def test_rows_keep_their_order_and_no_column_is_too_full(
    kinds: list[tuple[int, bool]], first: float, rest: float
) -> None:
    rows = [
        Row((Cell(0.0, tuple(f"{n}.{k}" for k in range(lines))),), head=head)
        for n, (lines, head) in enumerate(kinds)
    ]
    made = columns.filled(rows, [first, first], rest)
    assert [row for column in made for row in column] == rows
    for number, column in enumerate(made):
        heads = [row.head for row in column]
        if all(heads):  # nothing but headings: they may not fit with what they head
            continue
        assert sum(row.height_pt for row in column) <= (first if number < 2 else rest) + 1e-9
        if number < len(made) - 1:
            assert not column[-1].head


def test_a_column_that_starts_inside_a_trail_says_whose_it_is() -> None:
    again = (Cell(0.0, ("S1, continued",)),)
    rows = [Row((Cell(0.0, ("S1",)),), head=True)]
    rows += [Row((Cell(0.0, (str(n),)),), again=again if n else ()) for n in range(40)]
    made = columns.filled(rows, [150.0], 150.0)
    assert len(made) > 2
    assert all(column[0].cells == again for column in made[1:])
    assert all(sum(row.height_pt for row in column) <= 150.0 for column in made)


def test_a_row_taller_than_a_column_goes_on_in_the_next() -> None:
    tall = Row((Cell(0.0, tuple(map(str, range(100)))), Cell(50.0, ("once",))))
    made = columns.filled([tall], [200.0], 200.0)
    lines = [line for column in made for row in column for line in row.cells[0].lines]
    assert lines == list(map(str, range(100)))
    assert sum(row.cells[1].lines == ("once",) for column in made for row in column) == 1
    assert all(sum(row.height_pt for row in column) <= 200.0 for column in made)


@given(st.text(alphabet="ab i\N{NO-BREAK SPACE}W", max_size=80), st.floats(20, 200))
def test_wrapped_lines_fit_and_lose_nothing(words: str, width: float) -> None:
    lines_ = wrap(words, width, 8.0)
    assert "".join(lines_).replace(" ", "") == words.replace(" ", "")
    assert all(width_of(line, 8.0) <= width or len(line) == 1 for line in lines_)
    assert width_of(shortened(words, width, 8.0), 8.0) <= width


# emergency sheet and foot


def test_dangers_of_the_ground_are_named_or_said_to_be_unchecked(plan: Plan) -> None:
    assert "well, wire" in emergency.hazards_said(plan)
    none = replace(plan, area=replace(plan.area, hazards=()))
    assert "not checked, not none" in emergency.hazards_said(none)
    bad = replace(none.area.trees, hazard=("dead_top", *none.area.trees.hazard[1:]))
    told = emergency.hazards_said(replace(none, area=replace(none.area, trees=bad)))
    assert "1 hazard tree" in told


def test_a_wire_over_the_way_in_is_told(plan: Plan) -> None:
    wire = next(h for h in plan.area.hazards if h.kind == "wire")
    x, y = wire.geometry.representative_point().coords[0]
    road = LineString([(x - 40.0, y - 30.0), (x, y), (x + 40.0, y + 30.0)])
    for roads, told in (((road,), True), ((), False)):
        there = replace(plan, area=replace(plan.area, access_road=roads))
        words = emergency.hazards_said(there)
        assert ("way in: wire" in words) is told
        assert ("lower what is raised" in words) is told


def test_the_foot_names_plan_and_settings(plan: Plan) -> None:
    assert fingerprint.of_settings(plan) == "0" * 64  # what the plan itself says
    plain = replace(plan, about={"made": "2026-11-26T18:40:52Z"})
    assert re.fullmatch(r"[0-9a-f]{64}", fingerprint.of_settings(plain))
    assert fingerprint.of_settings(plain) != fingerprint.of_settings(
        replace(plan_fixture.plan("metric"), about={})
    )
    assert "2026-11-26" in foot.stamped(plain)


def test_trails_come_main_first_then_by_number(plan: Plan) -> None:
    spare = [replace(plan.trails[1], trail_id=name) for name in ("S10", "S2")]
    order: list[Trail] = walking_order(replace(plan, trails=(*spare, plan.trails[0])))
    assert [trail.trail_id for trail in order] == ["M1", "S2", "S10"]
