"""The page's calls, on a small area: what is drawn is judged as a plan would judge it."""

import json
import re
import shutil
import threading
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from layout import landing, reach, wishes
from layout.area import read_area
from layout.checks import check_layout
from layout.commands import main as main_command
from layout.drawing import judge, keeping
from layout.drawing.desk import Desk
from layout.drawing.draft import (
    Draft,
    DraftClosed,
    DraftLanding,
    DraftNote,
    DraftTrail,
    read_draft,
)
from layout.drawing.draft_area import draft_of, drafted
from layout.drawing.ground_read import GroundRead, ground_read
from layout.drawing.kept_area import with_drawing
from layout.drawing.server import Picture
from layout.drawing.spoken import said_in
from layout.errors import InputError
from layout.findings import ordered
from layout.first_round import first_round
from layout.geometry import coordinates
from layout.line_memory import BARRED_M
from layout.money import _values
from layout.plan import make_plan
from layout.records import Trail, WinchPosition
from layout.site import Area, FixedTrail, FurtherLanding
from layout.standing import main_of
from layout.work_records import Sort

AREA = Path(__file__).parent / "data" / "metric_area"


@pytest.fixture(scope="module")
def ground() -> GroundRead:
    return ground_read(read_area(AREA))


@pytest.fixture(scope="module")
def area(ground: GroundRead) -> Area:
    return ground.area


def whole(area: Area) -> dict[str, Any]:
    return draft_of(area).as_json()


def test_the_area_as_a_draft_and_back_is_the_area(area: Area) -> None:
    back = drafted(area, draft_of(area))
    assert area.landing is not None and back.landing is not None
    assert back.landing.symmetric_difference(area.landing).area < 0.5
    assert area.main_trail is not None and back.main_trail is not None
    assert back.main_trail.hausdorff_distance(area.main_trail) < 0.01
    assert not back.fixed


def test_an_arm_and_a_spur_are_kept_as_drawn_and_join_what_they_leave(area: Area) -> None:
    value = whole(area)
    main = value["trails"][0]["line"]
    k = len(main) // 2
    mouth = [main[k][0] + 0.4, main[k][1]]  # a little off the trail
    value["trails"] += [
        {"id": "M2", "kind": "main", "line": [mouth, [mouth[0] + 40, mouth[1] + 40]], "joins": "M"},
        {"id": "S1", "kind": "spur", "line": [[mouth[0] + 20, mouth[1] + 20],
                                               [mouth[0] + 20, mouth[1] + 60]], "joins": "M2"},
    ]  # fmt: skip
    made = drafted(area, read_draft(value))
    assert [(t.trail_id, t.kind, t.joins_id, t.drawn) for t in made.fixed] == [
        ("M2", "main", "M", True),
        ("S1", "spur", "M2", True),
    ]
    assert made.main_trail is not None
    start = np.array(made.fixed[0].line.coords[0])
    assert made.main_trail.distance(made.fixed[0].line) < 1e-6
    assert np.hypot(*(start - mouth)) < 0.5


def test_marks_and_closed_ground_and_positions(area: Area) -> None:
    value = whole(area)
    names = area.trees.tree_id
    cut = next(n for n, m in zip(names, area.trees.marked, strict=True) if m)
    x, y = area.stand.centroid.coords[0]
    value["marks"] = {cut: "leave"}
    value["keep_out"] = [{"id": "K1", "outline": [[x, y], [x + 9, y], [x + 9, y + 9]]}]
    value["positions"] = [
        {"id": "P1", "at": [x, y], "state": "forbidden"},
        {"id": "P2", "at": [x + 1, y], "state": "wanted"},
    ]
    made = drafted(area, read_draft(value))
    assert made.trees.marked.sum() == area.trees.marked.sum() - 1
    assert len(made.keep_out) == len(area.keep_out) + 1
    assert made.closed_positions == ((round(x, 2), round(y, 2)),)
    assert made.wanted_positions == ((round(x + 1, 2), round(y, 2)),)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ({"marks": {"no such tree": "cut"}}, "no tree no such tree"),
        ({"landing": {"point": [0, 0]}}, "landing: it leaves the ground"),
        ({"trails": [{"id": "M", "kind": "main", "line": [[0, 0], [1, 1]]}]}, "trail M: it leaves"),
    ],
)
def test_what_cannot_be_judged_is_told(area: Area, part: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        drafted(area, read_draft({**whole(area), **part}))


def test_an_outline_that_crosses_itself_is_told(area: Area) -> None:
    x, y = area.stand.centroid.coords[0]
    bow = ((x, y), (x + 20, y + 20), (x + 20, y), (x, y + 20))
    with pytest.raises(InputError, match="crosses itself"):
        drafted(area, Draft(landing=DraftLanding(outline=bow)))


def test_a_draft_is_judged_as_the_checks_judge_it(ground: GroundRead, area: Area) -> None:
    got = Desk(ground).judge({"draft": whole(area), "seq": 7})
    back = drafted(area, draft_of(area))
    assert back.landing is not None
    site = landing.measure(back, ground.terrain, ground.strips, back.landing)
    wanted = ordered(
        [
            *landing.check(back, ground.terrain, ground.strips, site),
            *check_layout(back, ground.terrain, ground.strips, site, (main_of(back, "L1"),)),
        ]
    )
    assert [f["message"] for f in got["findings"]] == [f.message for f in wanted]
    assert got["seq"] == 7
    pieces = got["pieces"]
    assert pieces[0]["from_m"] == 0
    assert pieces[-1]["to_m"] == pytest.approx(got["numbers"]["trail_m"], abs=0.1)
    assert all(a["to_m"] == b["from_m"] for a, b in pairwise(pieces))


def test_a_line_up_a_steep_hill_is_stopped_where_it_is_steep(
    ground: GroundRead, area: Area
) -> None:
    z = ground.terrain.smooth.z
    x, y = ground.terrain.smooth.centres()
    row, col = np.unravel_index(int(np.nanargmax(z)), z.shape)
    low = np.unravel_index(int(np.nanargmin(z)), z.shape)
    line = ((float(x[low[1]]), float(y[low[0]])), (float(x[col]), float(y[row])))
    draft = Draft(trails=(DraftTrail("M", "main", line),))
    got = Desk(ground).judge({"draft": draft.as_json()})
    assert got["numbers"]["soil_pct"] is None  # no landing, no share
    steep = [p for p in got["pieces"] if p["level"] == "stop"]
    assert steep
    stops = [f for f in got["findings"] if f["level"] == "stop" and f["from_m"] is not None]
    for piece in got["pieces"]:
        over = any(f["from_m"] <= piece["to_m"] and f["to_m"] >= piece["from_m"] for f in stops)
        assert (piece["level"] == "stop") == over


def test_a_flagged_trail_keeps_the_name_its_file_gave_it(area: Area) -> None:
    start = area.main_trail.interpolate(0.5, normalized=True)  # type: ignore[union-attr]
    name = "Ridge trail, 2nd (blue ribbon)"
    line = LineString([(start.x, start.y), (start.x + 10, start.y + 10)])
    flagged = replace(area, fixed=(FixedTrail(name, "spur", line, joins_id="M"),))
    draft = read_draft(draft_of(flagged).as_json())
    assert [t.trail_id for t in draft.trails] == ["M", name]
    assert [t.trail_id for t in drafted(area, draft).fixed] == [name]


def on_the_ground(area: Area) -> Area:
    """Give the area with its main trail flagged on a walk, and a walked spur off it."""
    assert area.main_trail is not None
    start = area.main_trail.interpolate(0.5, normalized=True)
    line = LineString([(start.x, start.y), (start.x + 20.004, start.y + 20), (start.x, start.y)])
    flagged = FixedTrail("M", "main", area.main_trail, width_m=3.3, walked_m=4.0)
    spur = FixedTrail(
        "S1", "spur", line, width_m=2.9, walked_m=6.0, joins_id="M",
        joins_at_m=area.main_trail.length / 2,
    )  # fmt: skip
    return replace(area, main_fixed=flagged, main_walked_m=4.0, fixed=(spur,))


def test_what_is_on_the_ground_stays_what_it_is_while_its_line_does(area: Area) -> None:
    flagged = on_the_ground(area)
    draft = read_draft(draft_of(flagged).as_json())
    back = drafted(flagged, draft)
    assert back.main_fixed is flagged.main_fixed
    assert back.main_walked_m == 4.0
    assert back.fixed == flagged.fixed
    assert main_of(back, "L1").width_m == 3.3
    assert [back.walked_m(n) for n in ("M", "S1")] == [4.0, 6.0]
    main, spur = draft.trails
    moved = replace(main, line=main.line[:-1])
    back = drafted(flagged, replace(draft, trails=(moved, spur)))
    assert (back.main_fixed, back.main_walked_m) == (None, None)
    (kept,) = back.fixed  # still flagged; where it leaves the main trail is measured anew
    assert (kept.width_m, kept.walked_m, kept.drawn) == (2.9, 6.0, False)
    assert kept.joins_at_m == pytest.approx(area.main_trail.length / 2, abs=0.1)  # type: ignore[union-attr]
    other = replace(spur, line=(*spur.line[:-1], (spur.line[-1][0] + 0.01, spur.line[-1][1])))
    (drawn,) = drafted(flagged, replace(draft, trails=(main, other))).fixed
    assert (drawn.width_m, drawn.walked_m, drawn.drawn) == (None, None, True)


def test_further_landings_stay_and_it_is_said(ground: GroundRead, area: Area) -> None:
    x, y = area.stand.centroid.coords[0]
    main = LineString([(x, y), (x + 30, y)])
    more = FurtherLanding("L2", box(x - 9, y - 9, x, y + 9), "M2", main, 5.0)
    far = FixedTrail("S7", "spur", LineString([(x + 9, y), (x + 20, y + 20)]), joins_id="M2",
                     joins_at_m=9.0)  # fmt: skip
    two = replace(area, more_landings=(more,), fixed=(far,))
    draft = read_draft(draft_of(two).as_json())
    assert [t.trail_id for t in draft.trails] == ["M"]
    back = drafted(two, draft)
    assert back.more_landings == (more,)
    assert back.fixed == (far,)
    own = replace(draft.trails[0], trail_id="M2", line=((x, y + 40), (x + 9, y + 60)), joins="M")
    names = [t.trail_id for t in drafted(two, replace(draft, trails=(*draft.trails, own))).fixed]
    assert names == ["M3", "S7"]  # M2 is the trail of L2
    desk = Desk(replace(ground, area=two))
    assert "L2" in desk.area({})["note"][0]
    assert {p["trail"] for p in desk.judge({"draft": draft.as_json()})["pieces"]} >= {"M", "M2"}
    assert Desk(ground).area({})["note"] == []
    assert drafted(two, replace(draft, landing=None)).landings == ()


def test_a_way_being_sought_holds_no_verdict_up(ground: GroundRead) -> None:
    """Each key has a lock of its own: one that is slow to make is waited for by its askers only."""
    free, begun, made = threading.Event(), threading.Event(), []

    def slow() -> str:
        begun.set()
        assert free.wait(10)
        made.append("slow")
        return "slow"

    given = replace(ground)
    askers = [threading.Thread(target=given._once, args=("slow", slow)) for _ in range(2)]
    for asker in askers:
        asker.start()
    assert begun.wait(10)
    assert given._once("quick", lambda: "quick") == "quick"  # while the other is being made
    free.set()
    for asker in askers:
        asker.join(10)
    assert made == ["slow"]


def test_closed_ground_is_judged_without_a_new_lattice(
    ground: GroundRead, area: Area, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = draft_of(area)
    before = Desk(ground).judge({"draft": draft.as_json()})
    row = before["in_reach"][0]
    x, y = float(area.trees.x[row]), float(area.trees.y[row])
    shut = DraftClosed("K1", ((x - 3, y - 3), (x + 3, y - 3), (x + 3, y + 3), (x - 3, y + 3)))
    closed = replace(draft, keep_out=(shut,))
    scene = ground.scene(closed)
    monkeypatch.setattr(reach, "scene", None)
    after = Desk(ground).judge({"draft": closed.as_json()})
    trails = [coordinates(t.line) for t in judge.trails_of(scene.area)]
    site = landing.measure(scene.area, ground.terrain, ground.strips, scene.area.landing)  # type: ignore[arg-type]
    wanted = reach.from_spots(scene, trails, (site.x, site.y))  # as the search of reach counts
    assert after["in_reach"] == [int(k) for k in scene.pulls.marked[wanted]]
    assert row not in after["in_reach"]


def test_a_mark_changes_the_ground_for_ways(ground: GroundRead, area: Area) -> None:
    draft = read_draft(whole(area))
    tree = area.trees.tree_id[int(np.flatnonzero(area.trees.marked)[0])]
    other = replace(draft, marks={tree: "leave"})
    before = ground.ways(draft, drafted(area, draft), main=False)
    assert ground.ways(draft, drafted(area, draft), main=False) is before
    after = ground.ways(other, drafted(area, other), main=False)
    assert not after.area.trees.marked[area.trees.tree_id.index(tree)]


def test_a_place_no_map_reaches_is_told(ground: GroundRead, area: Area) -> None:
    with pytest.raises(InputError, match="to is a place"):
        Desk(ground).way({"draft": whole(area), "kind": "spur", "to": [10**400, 0]})


def test_a_mark_changes_the_trees_in_reach(ground: GroundRead, area: Area) -> None:
    desk = Desk(ground)
    before = desk.judge({"draft": whole(area)})
    value = whole(area)
    names = [area.trees.tree_id[row] for row in before["in_reach"]]
    assert names
    value["marks"] = {names[0]: "leave"}
    after = desk.judge({"draft": value})
    assert after["numbers"]["marked"] == before["numbers"]["marked"] - 1
    assert after["numbers"]["trees_in_reach"] == before["numbers"]["trees_in_reach"] - 1


def test_pictures_lie_where_they_say(ground: GroundRead, area: Area) -> None:
    desk = Desk(ground)
    for name in ("hillshade", "slope", "reach"):
        got = desk.picture({"name": name, "draft": whole(area)})
        assert isinstance(got, Picture)
        assert got.png.startswith(b"\x89PNG")
        west, south, east, north = got.bounds
        assert west < area.stand.centroid.x < east
        assert south < area.stand.centroid.y < north
    with pytest.raises(InputError, match="none of"):
        desk.picture({"name": "../etc/passwd"})
    with pytest.raises(InputError, match="draw a landing"):
        desk.picture({"name": "reach", "draft": Draft().as_json()})


def test_the_area_is_told_in_plain_values(ground: GroundRead, area: Area) -> None:
    got = Desk(ground).area({})
    assert len(got["trees"]["id"]) == len(area.trees)
    assert got["draft"] == whole(area)
    assert str(AREA.parent) not in str({k: v for k, v in got.items() if k != "trees"})


def test_a_profile_is_the_checks_own(ground: GroundRead, area: Area) -> None:
    got = Desk(ground).profile({"draft": whole(area), "trail": "M"})
    assert len(got["at_m"]) == len(got["z_m"]) == len(got["grade_pct"])
    with pytest.raises(InputError, match="no trail"):
        Desk(ground).profile({"draft": whole(area), "trail": "S9"})


def test_drawings_are_saved_listed_and_read(ground: GroundRead, tmp_path: Path) -> None:
    desk = Desk(replace(ground, area=replace(ground.area, folder=tmp_path)))
    value = whole(ground.area)
    assert desk.save({"draft": value, "name": "a", "based_on": None})["version"] == 1
    (row,) = desk.drawings({})["drawings"]
    assert (row["name"], row["version"], row["trails"]) == ("a", 1, 1)
    empty = Draft().as_json()
    assert desk.save({"draft": empty, "name": "a", "based_on": 1})["version"] == 2
    assert desk.drawings({})["drawings"][0]["versions"] == [1, 2]
    assert desk.load({"name": "a"})["draft"]["trails"] == []
    assert desk.load({"name": "a", "version": 1})["draft"] == {**value, "name": "a"}
    with pytest.raises(InputError, match="version is the number"):
        desk.load({"name": "a", "version": "../1"})
    assert desk.save({"draft": value, "name": "a", "based_on": 2})["version"] == 3
    assert desk.load({"name": "a"})["draft"] == {**value, "name": "a"}
    (tmp_path / "drawings" / "b.gpkg").write_bytes(b"no drawing")
    assert [bool(r.get("error")) for r in desk.drawings({})["drawings"]] == [False, True]
    with pytest.raises(InputError):
        desk.save({"draft": value, "name": "a", "based_on": "1"})


def test_a_kept_drawing_is_planned_by_its_name(area: Area, tmp_path: Path) -> None:
    here = replace(area, folder=tmp_path)
    x, y = area.stand.centroid.coords[0]
    drawn = replace(draft_of(area), notes=(DraftNote("N1", (round(x, 2), round(y, 2)), "soft"),))
    keeping.save(tmp_path, area.crs, drawn, "north way", None)
    made = with_drawing(here, "north way")
    assert made.main_trail is not None and area.main_trail is not None
    assert made.main_trail.hausdorff_distance(area.main_trail) < 0.01
    told = {f.code: f for f in made.findings}
    assert told["drawing_used"].level == "unknown"
    assert "north way, version 1" in told["drawing_used"].message
    assert told["drawing_note"].at == (round(x, 2), round(y, 2))
    with pytest.raises(InputError, match="no such drawing; there are: north way"):
        with_drawing(here, "south way")


@pytest.mark.slow
def test_the_command_plans_a_kept_drawing(tmp_path: Path, area: Area) -> None:
    folder = Path(shutil.copytree(AREA, tmp_path / "area"))
    moved = draft_of(area)
    main = moved.trails[0]
    shorter = replace(moved, trails=(replace(main, line=main.line[:-1]), *moved.trails[1:]))
    keeping.save(folder, area.crs, shorter, "short", None)
    assert main_command(["plan", str(folder), "--drawing", "short"]) in (0, 1)
    plan = json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))
    (line,) = [t for t in plan["trails"] if t["trail_id"] == "M"]
    assert line["length_m"] == pytest.approx(LineString(main.line[:-1]).length, abs=0.1)
    assert main_command(["plan", str(folder), "--drawing", "none"]) == 2


@pytest.mark.slow
def test_where_nobody_is_to_park_nobody_parks_and_a_wish_costs_no_set_up(
    ground: GroundRead, area: Area
) -> None:
    from_all = first_round(area, ground.terrain, ground.strips)
    assert from_all is not None
    on_main = [spot for spot in from_all.spots if spot.branch == 0]
    assert on_main
    barred = (on_main[0].x, on_main[0].y)
    without = first_round(replace(area, closed_positions=(barred,)), ground.terrain, ground.strips)
    assert without is not None
    assert all(np.hypot(s.x - barred[0], s.y - barred[1]) > BARRED_M for s in without.spots)
    assert without.choice.objective >= from_all.choice.objective - 1e-6
    wished = first_round(replace(area, wanted_positions=(barred,)), ground.terrain, ground.strips)
    assert wished is not None
    saved = from_all.choice.objective - wished.choice.objective
    assert saved == pytest.approx(area.settings.objective.setup_m2, abs=0.05)


def test_a_position_moved_a_little_is_not_barred_by_its_old_place(
    ground: GroundRead, area: Area
) -> None:
    from_all = first_round(area, ground.terrain, ground.strips)
    assert from_all is not None
    (spot, *_) = [s for s in from_all.spots if s.branch == 0 and s.at_m > 150.0]
    line = LineString(from_all.branches[0].line)
    place = line.interpolate(spot.at_m + 4.0)
    moved = replace(
        area, closed_positions=((spot.x, spot.y),), wanted_positions=((place.x, place.y),)
    )
    after = first_round(moved, ground.terrain, ground.strips)
    assert after is not None
    away = [np.hypot(s.x - spot.x, s.y - spot.y) for s in after.spots]
    there = [np.hypot(s.x - place.x, s.y - place.y) < 0.05 for s in after.spots]
    assert any(there)
    assert all(m > BARRED_M or wished for m, wished in zip(away, there, strict=True))


def test_a_wish_that_is_not_met_is_told(area: Area) -> None:
    line = LineString([(0.0, 0.0), (100.0, 0.0)])
    trail = Trail("M", "main", "L1", line, 3.6, "drawn")
    position = WinchPosition("W1", "M", "L1", 50.0, 50.0, 0.0, 90.0, 0.0, 0.0, 0.0, 10.0)
    places = ((50.0, 5.0), (80.0, 5.0), (80.0, 40.0))
    wishing = replace(area, wanted_positions=places)
    assert wishes.stations(line, wishing) == (50.0, 80.0)
    at_80, none = np.array([[80.0, 0.05]]), wishes.Tried(np.zeros((0, 2)), np.zeros(0, dtype=bool))
    for tried, why in (
        (none, "cannot stand straight"),
        (wishes.Tried(at_80 + 1.0, np.array([True])), "cannot stand straight"),
        (wishes.Tried(at_80, np.array([False])), "no marked tree can be pulled to it"),
        (wishes.Tried(at_80, np.array([True])), "pulls cheaper from elsewhere"),
    ):
        found = wishes.findings(wishing, [trail], [position], tried)
        assert [f.at for f in found] == [places[1], places[2]]
        assert "a trail passes there" in found[0].message and why in found[0].message
        assert "no trail passes that near" in found[1].message
    assert len(wishes.findings(wishing, [], [], none)) == len(places)
    assert not wishes.findings(area, [trail], [position], none)


@pytest.mark.slow
def test_a_wish_that_no_rope_reaches_says_so(area: Area) -> None:
    """One marked tree, and a wish on the main trail farther from it than the rope is long."""
    assert area.main_trail is not None
    row = int(np.flatnonzero(area.trees.marked)[0])
    one = np.arange(len(area.trees)) == row
    at = np.arange(30.0, area.main_trail.length - 10.0, 2.0)
    points = shapely.line_interpolate_point(area.main_trail, at)
    off = np.hypot(
        shapely.get_x(points) - area.trees.x[row], shapely.get_y(points) - area.trees.y[row]
    )
    bare = np.flatnonzero(off > area.settings.winch.cable_m + 10.0)
    assert bare.size
    said = set()
    for n in (bare[0], bare[-1]):
        place = (float(points[n].x), float(points[n].y))
        wishing = replace(area, trees=replace(area.trees, marked=one), wanted_positions=(place,))
        made = make_plan(wishing, options=False)
        said |= {f.message for f in made.findings if f.code == "wish_not_met"}
    assert any("no marked tree can be pulled to it" in words for words in said)
    assert not any("cheaper" in words for words in said)


@pytest.mark.parametrize("name", [None, 7, ["a"], {"name": "a"}, True])
def test_a_name_that_is_no_text_is_refused(
    ground: GroundRead, area: Area, tmp_path: Path, name: object
) -> None:
    desk = Desk(replace(ground, area=replace(ground.area, folder=tmp_path)))
    for call in (desk.save, desk.load, desk.outputs):
        with pytest.raises(InputError, match="as text"):
            call({"draft": whole(area), "name": name, "based_on": None})
    with pytest.raises(InputError, match="a name is text"):
        desk.compare({"names": ["a", name]})
    assert not (tmp_path / "drawings").exists()


METRES = re.compile(r"\d (?:m|ha|cm|kg|t|m³)\b")
US = re.compile(r"\d (?:ft|acres?|in|lb|tons?|cords?)\b")


def test_a_page_is_spoken_to_in_the_units_it_asks_for(ground: GroundRead, area: Area) -> None:
    """The same verdicts and figures, told in feet; the area itself stays metric."""
    desk = Desk(ground)
    line = np.asarray(whole(area)["trails"][0]["line"])
    draft = whole(area) | {"trails": [whole(area)["trails"][0] | {"line": (line[:2]).tolist()}]}
    draft["trails"][0]["line"].append([line[1][0] + 3.0, line[1][1] + 40.0])  # turns too tight
    own, told = (desk.judge({"draft": draft, "units": u}) for u in (None, "us"))
    assert desk.judge({"draft": draft, "units": "metric"}) == own
    alike = ("code", "level", "at", "value", "limit", "subject")
    for one, other in zip(own["findings"], told["findings"], strict=True):
        assert [one[key] for key in alike] == [other[key] for key in alike]
    words = [" ".join(f["message"] for f in got["findings"]) for got in (own, told)]
    assert METRES.search(words[0]) and not US.search(words[0])
    assert US.search(words[1]) and not METRES.search(words[1])
    assert told["pieces"] == own["pieces"] and told["numbers"] == own["numbers"]
    tree = {"draft": draft, "tree": area.trees.tree_id[0]}
    card = desk.tree(tree | {"units": "us"})["lines"]
    assert US.search(str(card)) and not METRES.search(str(card))
    stand = desk.stand({"draft": draft, "units": "us"})["sentences"]
    assert US.search(str(stand)) and not METRES.search(str(stand))
    with pytest.raises(InputError, match="units are us or metric"):
        desk.judge({"draft": draft, "units": "ells"})
    assert desk.ground.area.settings.area.units == "metric"


def test_wood_brings_the_same_in_either_units(area: Area) -> None:
    """Pulpwood alone is priced by the unit: per cord, or per cubic metre."""
    priced = replace(
        area,
        settings=area.settings.model_copy(
            update={"prices": area.settings.prices.model_copy(update={"pulp": 21.0})}
        ),
    )
    sort = Sort("pulp", "pulp", 3, 12.0, 9000.0, None, 2.0, 3.0)
    told = said_in(priced, "us")
    assert told.settings.prices.pulp == pytest.approx(21.0 * told.settings.timber.cord_solid_m3)
    values = [_values(a.settings, [sort])[0] for a in (priced, told, said_in(told, "metric"))]
    assert values[0][0][1] == pytest.approx(21.0 * 12.0)
    for other in values[1:]:
        assert other[0][1] == pytest.approx(values[0][0][1])
    assert said_in(priced, "metric") is priced
