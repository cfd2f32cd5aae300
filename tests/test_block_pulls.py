"""Pulls through a snatch block, on ground where the legs can be drawn by hand."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_ground import area_of, at, line, settings_of, strips_of, terrain_of, trees_of
from shapely.geometry import MultiPolygon, Point, box

from layout.block_pulls import BlockPull, anchors_of, by_block
from layout.finished_network import Network, network_of
from layout.plan import make_plan
from layout.pull_forces import anchor_dbh_m
from layout.site import Area

FLAT = terrain_of(lambda x, y: 100 + 0.03 * y)
# A trail straight north; the marked tree stands square to its end, past any straight
# pull's angle. An anchor stands straight behind the end: 15 m north, then 22 m east.
TARGET = {"x": 222.0, "y": 163.0, "marked": True, "dbh_cm": 25.0, "height_m": 15.0,
          "position_error_m": 0.5}  # fmt: skip
ANCHOR = {"x": 200.0, "y": 165.0, "dbh_cm": 75.0, "position_error_m": 0.5}
FENCE = MultiPolygon([box(*at(100, 60), *at(300, 300))])


def job(*stems: dict[str, Any], **tables: Any) -> Area:
    return area_of(
        FLAT,
        settings_of(objective={"serve_worth": "1 m^2"}, **tables),
        trees=trees_of([TARGET, {"x": 190.0, "y": 110.0, "marked": True}, *stems]),
        stand=FENCE,
        landing=box(*at(190, 70), *at(210, 82)),
        main_trail=line((200, 80), (200, 150)),
    )


@pytest.fixture(scope="module")
def network() -> Network:
    """Give a finished network that reaches nothing, so that the block alone decides."""
    return network_of(make_plan(job(ANCHOR)), strips_of(FLAT))


def tried(network: Network, *stems: dict[str, Any], **tables: Any) -> tuple[BlockPull, ...]:
    """Try the same trails with other stems and settings."""
    made = replace(network.plan, area=job(*stems, **tables))
    again = network_of(made, strips_of(FLAT))
    return by_block(again, np.array([0]))


def test_a_block_brings_in_what_stands_square_to_the_trail(network: Network) -> None:
    (pull,) = by_block(network, np.array([0]))
    assert (pull.tree, pull.anchor) == (0, 2)
    fairlead, anchor, stump = Point(pull.x, pull.y), Point(*at(200, 165)), Point(*at(222, 163))
    legs = fairlead.distance(anchor) + anchor.distance(stump)
    assert pull.rope_m == pytest.approx(legs, rel=0.02)
    reach = network.area.settings.winch.working_reach_m
    assert pull.rope_m <= reach
    # angle at the block by the law of cosines, force by 2 F cos(phi / 2)
    a, b, c = fairlead.distance(anchor), anchor.distance(stump), fairlead.distance(stump)
    between = math.degrees(math.acos((a * a + b * b - c * c) / (2 * a * b)))
    assert pull.between_legs_deg == pytest.approx(between, abs=0.1)
    rated = network.area.settings.winch.pull_rating_kn
    assert pull.force_kn == pytest.approx(2 * rated * math.cos(math.radians(between / 2)))
    assert anchor_dbh_m(pull.force_kn) <= 0.75


def test_no_anchor_no_pull(network: Network) -> None:
    assert tried(network) == ()


@pytest.mark.parametrize(
    "change",
    [{"dbh_cm": 20.0}, {"hazard": "dead"}, {"marked": True}, {"y": 215.0}],
    ids=["thin", "dead", "to be cut", "past the rope"],
)
def test_an_anchor_must_hold_stay_and_be_near(network: Network, change: dict[str, Any]) -> None:
    assert tried(network, ANCHOR | change) == ()


def test_a_block_of_too_small_a_rating_is_not_used(network: Network) -> None:
    block = {"snatch_block": True, "anchor_dbh": "4 in"}
    assert len(tried(network, ANCHOR, winch=block | {"block_rating": "90 kN"})) == 1
    assert tried(network, ANCHOR, winch=block | {"block_rating": "20 kN"}) == ()


def test_the_owner_may_ask_for_stouter_anchors(network: Network) -> None:
    block = {"snatch_block": True, "block_rating": "90 kN"}
    assert tried(network, ANCHOR, winch=block | {"anchor_dbh": "40 in"}) == ()


def test_anchors_are_trees_that_stay(network: Network) -> None:
    assert anchors_of(network).tolist() == [2]
