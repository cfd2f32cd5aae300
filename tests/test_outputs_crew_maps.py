"""Crew maps: dangers named and ringed, places of the emergency sheet, stations, arrows downhill."""

import itertools
import math
import re
from dataclasses import replace
from typing import get_args

import numpy as np
import plan_fixture
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.axes import Axes
from matplotlib.patches import Circle
from matplotlib.text import Text
from test_outputs_crew_pdf import on, texts

from layout.grid import bilinear
from layout.outputs.crew import map_frames, map_sheet, map_side
from layout.outputs.crew.map_looks import HELP_PLACE
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.map_trails import TICK_M, stretches
from layout.outputs.crew.sheet import Sheet
from layout.outputs.crew.species_codes import marked_species, species_codes
from layout.outputs.danger_marks import FIRST_RING, HAZARD_RING
from layout.outputs.help_places import help_places
from layout.outputs.map_looks import NO_ENTRY
from layout.outputs.map_window import Window
from layout.outputs.tree_orders import barred, standing_hazards
from layout.outputs.words import ENGLISH, say
from layout.plan import Plan
from layout.records import TreeStatus
from layout.species import find

WHY = "crew_map_why_"


pytestmark = pytest.mark.usefixtures("book_looks")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Give a plan with nine hazard trees, every third one marked."""
    made = plan_fixture.plan()
    trees = made.area.trees
    cut = [i for i, o in enumerate(made.trees) if o.status == "served"][:3]
    stay = [i for i, o in enumerate(made.trees) if o.status == "leave"][:60:10]
    kinds = tuple("dead_top" if i in (*cut, *stay) else "" for i in range(len(trees)))
    return replace(made, area=replace(made.area, trees=replace(trees, hazard=kinds)))


def drawn(
    plan: Plan, *, numbered: bool, coded: bool = False, window: Window | None = None
) -> Sheet:
    frame, whole = map_frames.whole(plan)
    window = window or whole
    page = MapPage("map", frame, window, numbered=numbered, coded=coded)
    lines, interval = map_sheet.contours(plan, whole)
    sheet = Sheet(plan.area.settings.outputs.paper, frame.landscape)
    map_sheet.draw(sheet, plan, page, lines, interval)
    sheet.canvas.draw()
    return sheet


@pytest.fixture(scope="module")
def both(plan: Plan) -> dict[bool, Sheet]:
    """Give the map of the whole, without numbers and with them, species in the list."""
    return {numbered: drawn(plan, numbered=numbered) for numbered in (False, True)}


def ground(sheet: Sheet) -> Axes:
    """Give the axes of the map itself."""
    return max(sheet.figure.axes, key=lambda axes: len(axes.get_children()))


def test_every_danger_is_named_on_the_map_of_the_whole(plan: Plan, both: dict[bool, Sheet]) -> None:
    told = [text.get_text() for text in texts(both[False])]
    trees = standing_hazards(plan)
    assert len(trees) == 9
    for tree in trees:
        assert any(words.startswith(f"{tree.tree_id} dead top: ") for words in told), tree.tree_id


def test_a_tree_to_hold_says_so_on_the_map(plan: Plan, both: dict[bool, Sheet]) -> None:
    words = (text.get_text() for text in ground(both[True]).findobj(Text))
    told = {said.split(":")[0] for said in words}  # without why no rope reaches it
    marked = {o.tree_id for o in plan.trees if o.status not in ("leave", "done")}
    held = barred(plan)
    assert held and marked - held
    assert not held & told and not {f"{name} HOLD" for name in marked - held} & told
    said = sum(f"{name} HOLD" in told for name in held)
    assert said >= 0.9 * len(held)  # one crowded map, not the sheets that have room for all


def test_a_tree_to_hold_has_its_sign_on_every_map(plan: Plan, both: dict[bool, Sheet]) -> None:
    trees = plan.area.trees
    status = {one.tree_id: one.status for one in plan.trees}
    held = {
        (x, y): status[name]
        for name, x, y in zip(trees.tree_id, trees.x, trees.y, strict=True)
        if name in barred(plan) and status[name] not in ("leave", "done")
    }
    want = set(held)
    missed = {at for at, state in held.items() if state not in ("served", "with_trail")}
    assert missed and want - missed
    for sheet in both.values():
        signs = [line for line in ground(sheet).lines if line.get_marker() is NO_ENTRY]
        at = {place for line in signs for place in zip(*line.get_data(), strict=True)}
        assert at == want
        # of one that is not reached, the arms of its cross show round the sign
        wide = max(line.get_markersize() for line in signs)
        crosses = [
            line for line in ground(sheet).lines
            if line.get_marker() == "x" and line.get_markersize() > wide
        ]  # fmt: skip
        assert {p for line in crosses for p in zip(*line.get_data(), strict=True)} == missed
        assert any(say("mark_hold") in text.get_text().replace("\n", " ") for text in texts(sheet))


def test_ground_to_keep_out_of_bears_its_name_on_every_map(
    plan: Plan, both: dict[bool, Sheet]
) -> None:
    names = [name for name, _ in plan.area.named_keep_outs]
    assert names == ["KEEP1"]
    for sheet in both.values():
        told = [text.get_text() for text in ground(sheet).findobj(Text)]
        assert told.count("KEEP1") == 1


def test_rings_are_as_wide_as_the_distance_to_keep(plan: Plan, both: dict[bool, Sheet]) -> None:
    """On the whole round those that stay; on a sheet round all, dotted where cut first."""
    trees = standing_hazards(plan)
    off = sorted(tree.reach_m for tree in trees if not tree.marked)
    first = sorted(tree.reach_m for tree in trees if tree.marked)
    for numbered in (False, True):
        axes = ground(both[numbered])
        found = [p for p in axes.patches if isinstance(p, Circle)]
        assert len(found) == len(off) + (len(first) if numbered else 0)
        wide = sorted(patch.radius for patch in found)
        assert wide == pytest.approx(sorted([*off, *first]) if numbered else off)
    assert FIRST_RING["linestyle"] != HAZARD_RING["linestyle"]


def test_a_hazard_tree_just_off_a_sheet_is_named_over_it(plan: Plan) -> None:
    tree = standing_hazards(plan)[0]
    for gap_m, told in ((tree.reach_m - 1.0, True), (tree.reach_m + 1.0, False)):
        west = tree.x + gap_m
        window = Window(west, tree.y - 40.0, west + 100.0, tree.y + 40.0, 3.0, 3.0)
        assert (tree.tree_id in map_side.beyond(plan, window).split(": ")[-1].split(", ")) is told
    inside = Window(tree.x - 50.0, tree.y - 40.0, tree.x + 50.0, tree.y + 40.0, 3.0, 3.0)
    assert tree.tree_id not in map_side.beyond(plan, inside)


def test_gate_and_helicopter_spot_stand_where_they_were_given(plan: Plan) -> None:
    x, y = plan.landing.x, plan.landing.y
    bare = on(on(plan, "access", gate=None), "access", helispot=None)
    assert help_places(bare) == []
    made = on(on(plan, "access", gate=(x + 30.0, y)), "access", helispot=(x, y + 60.0))
    assert [(p.kind, p.x, p.y) for p in help_places(made)] == [
        ("gate", x + 30.0, y), ("helispot", x, y + 60.0),
    ]  # fmt: skip
    sheet = drawn(made, numbered=False)
    told = [text.get_text() for text in texts(sheet)]
    for place in help_places(made):
        assert told.count(place.name) == 2  # on the map and in its legend
        marks = [
            line
            for line in ground(sheet).lines
            if line.get_marker() == HELP_PLACE[place.kind]["marker"]
            and np.allclose(line.get_xydata(), [[place.x, place.y]])
        ]
        assert len(marks) == 1


def test_every_station_of_a_detail_map_has_its_number_or_the_map_says_so(
    plan: Plan, both: dict[bool, Sheet]
) -> None:
    sheet = both[True]
    step = TICK_M[plan.area.settings.area.units]
    wanted = sum(math.ceil(trail.line.length / step) - 1 for trail in plan.trails)
    names = [text.get_text() for text in ground(sheet).findobj(Text)]
    written = sum(re.fullmatch(r"\d+ ft", words) is not None for words in names)
    assert 0.9 * wanted <= written <= wanted
    told = "A stroke without a number" in " ".join(t.get_text() for t in texts(sheet))
    assert told is (written < wanted)


def test_arrows_point_downhill(plan: Plan, both: dict[bool, Sheet]) -> None:
    """Against the elevations: from a stretch's middle its arrow leads to lower ground."""
    dem = plan.terrain.dem
    pointing = {(round(x, 3), round(y, 3)): math.radians(d) for x, y, d in map_sheet.arrows(plan)}
    held = 0
    for trail in plan.trails:
        for stretch in stretches(plan, trail.trail_id):
            middle = (stretch.from_m + stretch.to_m) / 2
            place = trail.line.interpolate(middle)
            key = (round(place.x, 3), round(place.y, 3))
            half = (stretch.to_m - stretch.from_m) / 2
            ends = [trail.line.interpolate(middle + off) for off in (-half, half)]
            z = bilinear(dem, [p.x for p in ends], [p.y for p in ends])
            if abs(z[1] - z[0]) < 0.02 * half:
                continue  # as good as level
            angle = pointing[key]
            near = [trail.line.interpolate(middle + off) for off in (-0.5, 0.5)]
            outward = (near[1].x - near[0].x) * math.cos(angle) + (
                near[1].y - near[0].y
            ) * math.sin(angle) > 0
            assert outward is bool(z[1] < z[0])
            held += 1
    assert held >= 3
    marks = ground(both[True]).lines
    shown = {
        tuple(np.round(line.get_xydata()[0], 3)) for line in marks if len(line.get_xdata()) == 1
    }
    assert set(pointing) <= shown


def test_species_stand_beside_numbers_and_the_map_says_what_their_letters_mean(
    plan: Plan, both: dict[bool, Sheet]
) -> None:
    trees = plan.area.trees
    species = dict(zip(trees.tree_id, trees.species, strict=True))
    status = {o.tree_id: o.status for o in plan.trees if o.status not in ("leave", "done")}
    codes = species_codes(marked_species(plan))
    assert len(set(codes.values())) == len(codes) > 1
    sheet = drawn(plan, numbered=True, coded=True)
    told = {text.get_text() for text in ground(sheet).findobj(Text)}
    held = barred(plan)
    assert any(f"{name} {codes[species[name]]} HOLD" in told for name in held)
    simple = [name for name in status if name not in held and status[name] == "served"]
    there = [name for name in simple if f"{name} {codes[species[name]]}" in told]
    assert len(there) >= 0.7 * len(simple)  # one crowded map, not the sheets with room for all
    key = " ".join(" ".join(text.get_text() for text in texts(sheet)).split())
    for name in {species[tree] for tree in there}:
        assert f"{codes[name]} {name}" in key
    assert not {f"{name} {codes[species[name]]}" for name in simple} & {
        text.get_text() for shown in both.values() for text in ground(shown).findobj(Text)
    }


@pytest.mark.parametrize("coded", [True, False])
def test_a_tree_that_is_not_reached_says_why_on_its_sheet(plan: Plan, coded: bool) -> None:
    """Each on a map of its own ground, large enough to have room; with species or without."""
    trees = plan.area.trees
    at = {t: (x, y) for t, x, y in zip(trees.tree_id, trees.x, trees.y, strict=True)}
    missed = [o for o in plan.trees if o.status not in ("served", "with_trail", "leave", "done")]
    assert missed
    frame, _ = map_frames.whole(plan)
    for outcome in missed[:3]:
        near = map_frames.window(frame, 400, *at[outcome.tree_id])
        sheet = drawn(plan, numbered=True, coded=coded, window=near)
        told = [text.get_text() for text in ground(sheet).findobj(Text)]
        own = (words.split(" ", 1) for words in told if words.endswith(
            f": {say(f'crew_map_why_{outcome.status}')}"))  # fmt: skip
        assert any(name.rstrip(":") == outcome.tree_id for name, *_ in own)


def test_every_way_a_tree_is_missed_has_a_short_reason() -> None:
    missed = {"served", "with_trail", "leave", "done"} ^ set(get_args(TreeStatus))
    assert missed == {key.removeprefix(WHY) for key in ENGLISH if key.startswith(WHY)}


@given(st.lists(st.text(min_size=1).map(str.strip).filter(bool), max_size=12))
def test_letters_are_never_those_of_another_species(names: list[str]) -> None:
    codes = species_codes(names)
    assert set(codes) == set(names)
    for a, b in itertools.combinations(sorted(codes), 2):
        if codes[a] == codes[b]:
            assert find(a).name.casefold() == find(b).name.casefold()
    assert all(codes.values())
    assert species_codes(names[::-1]) == codes


def test_letters_of_the_field_codes_are_used_and_a_lists_own_kept() -> None:
    """The letters are common practice, no source: `field_codes.csv`."""
    codes = species_codes(["American beech", "sugar maple", "hm", "AB", "gumbo limbo", "gum lump"])
    assert codes["hm"] == codes["sugar maple"] == "HM"  # one species, as this list writes it
    assert codes["AB"] == codes["American beech"] == "AB"
    assert {codes["gumbo limbo"], codes["gum lump"]} == {"GL", "GLI"}
    assert species_codes(["American beech"]) == {"American beech": "BE"}
    assert species_codes(["833", "12345678"]) == {"833": "RO", "12345678": "#12345678"}
