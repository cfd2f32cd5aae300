"""Felling distances, on a flat square where every distance is a subtraction.

Two tree lengths round wires and the like: OSHA 29 CFR 1910.266 asks for two tree
lengths round danger trees and between workers; for wires it is common practice.
"""

from typing import Any

import pytest
from made_ground import (
    area_of,
    landing_of,
    line,
    main_trail,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from shapely.geometry import Point

from layout.checks import check_layout
from layout.findings import Finding
from layout.site import Hazard

FLAT = terrain_of(lambda x, y: 100 + 0.03 * y)
WIRE = line((0, 300), (400, 300))
EXACT = {"position_error": "0 m"}


def told(
    trees: list[dict[str, Any]], tables: dict[str, dict[str, Any]] | None = None, **fields: Any
) -> list[Finding]:
    settings = settings_of(**({"stand": EXACT} | (tables or {})))
    area = area_of(FLAT, settings, trees=trees_of(trees), **fields)
    found = check_layout(
        area, FLAT, strips_of(FLAT), landing_of(200, 20), [main_trail((200, 30), (200, 230))]
    )
    return [f for f in found if f.code.startswith("felling")]


@pytest.mark.parametrize(
    ("kind", "away", "near"),
    [
        ("wire", 39.9, True),  # two lengths of a 20 m tree
        ("wire", 40.1, False),
        ("house", 39.9, True),
        ("road", 39.9, True),
        ("public_trail", 39.9, True),
        ("pipe", 5.0, False),  # asks nothing of felling
        ("something else", 39.9, True),  # an unknown kind takes the strictest row
    ],
)
def test_two_lengths_of_a_measured_tree(kind: str, away: float, near: bool) -> None:
    tree = {"x": 200, "y": 300 - away, "height_m": 20.0, "marked": True}
    found = told([tree], hazards=(Hazard("h1", kind, WIRE),))
    assert bool(found) == near
    if near:
        assert found[0].code == "felling_near_hazard"
        assert found[0].level == "caution"
        assert found[0].value == pytest.approx(away)
        assert found[0].limit == pytest.approx(40.0)
        assert "T1" in found[0].message
        assert "safe" not in found[0].message.lower()


def test_a_tree_that_stays_or_is_out_already_says_nothing() -> None:
    leave = {"x": 200, "y": 290, "height_m": 20.0, "marked": False}
    assert told([leave], hazards=(Hazard("h1", "wire", WIRE),)) == []


def test_an_unmeasured_height_counts_as_a_tall_tree_and_says_so() -> None:
    tree = {"x": 200, "y": 250.0, "height_m": float("nan"), "marked": True}
    (found,) = told([tree], hazards=(Hazard("h1", "wire", WIRE),))  # 50 m < 2 x 85 ft = 51.8 m
    assert found.limit == pytest.approx(2 * 85 * 0.3048)
    assert "85 ft" in found.message


def test_an_estimate_counts_a_tenth_taller_and_no_less_than_the_tallest_measured() -> None:
    # three sugar maples of 12 in were measured at 20 m, so a fourth is taken as 22 m; a far
    # taller pine among them is the tallest that is known to grow here
    three = [{"x": 20 + 20 * i, "y": 40, "height_m": 20.0} for i in range(3)]
    tree = {"x": 200, "y": 300 - 43.9, "height_m": float("nan"), "marked": True}
    (found,) = told([*three, tree], hazards=(Hazard("h1", "wire", WIRE),))
    assert found.limit == pytest.approx(2 * 22.0)
    pine = {"x": 90, "y": 40, "height_m": 30.0, "dbh_cm": 60.0, "species": "eastern white pine"}
    (found,) = told([*three, pine, tree], hazards=(Hazard("h1", "wire", WIRE),))
    assert found.limit == pytest.approx(2 * 30.0)


def test_one_finding_names_the_trees_of_one_hazard() -> None:
    trees = [{"x": 100 + 10 * i, "y": 290, "height_m": 20.0, "marked": True} for i in range(11)]
    (found,) = told(trees, hazards=(Hazard("h1", "wire", WIRE),))
    assert found.message.startswith("11 marked trees")
    assert "T8 …" in found.message
    assert "T9" not in found.message


@pytest.mark.parametrize(("away", "near"), [(19.9, True), (20.1, False)])
def test_a_tree_length_from_the_property_line(away: float, near: bool) -> None:
    # without a line given, the stand's edge counts: x = 10 on this square
    tree = {"x": 10 + away, "y": 200, "height_m": 20.0, "marked": True}
    found = told([tree])
    assert [f.code for f in found] == (["felling_near_line"] if near else [])
    if near:
        assert "do not fell across the line" in found[0].message
        assert Point(found[0].at).distance(Point(500_010 + away, 4_700_200)) < 1e-6


@pytest.mark.parametrize(("away", "near"), [(45.9, True), (46.1, False)])
def test_two_lengths_are_counted_from_where_the_tree_may_stand(away: float, near: bool) -> None:
    tree = {"x": 200, "y": 300 - away, "height_m": 20.0, "marked": True}
    hazards = (Hazard("h1", "wire", WIRE),)
    found = told([tree], {"stand": {"position_error": "6 m"}}, hazards=hazards)
    assert bool(found) == near
    # a tree's own error goes before the list's
    own = told([tree | {"position_error_m": 6.0}], hazards=hazards)
    assert bool(own) == near
    for one in found + own:
        assert one.limit == pytest.approx(46.0)
        assert "1 of them within the error of places" in one.message
    sure = told([tree | {"y": 300 - 39.0}], {"stand": {"position_error": "6 m"}}, hazards=hazards)
    assert "error of places" not in sure[0].message


@pytest.mark.parametrize(("away", "near"), [(28.9, True), (29.1, False)])
def test_a_length_from_the_line_counts_the_errors_of_both(away: float, near: bool) -> None:
    # 20 m of tree, 6 m of its place, 3 m of the line's
    tree = {"x": 10 + away, "y": 200, "height_m": 20.0, "marked": True, "position_error_m": 6.0}
    for fields in ({}, {"property_line": line((10, 0), (10, 400))}):
        found = told([tree], {"property": {"error": "3 m"}, "stand": EXACT}, **fields)
        assert [f.code for f in found] == (["felling_near_line"] if near else [])
        assert all(f.limit == pytest.approx(29.0) for f in found)
