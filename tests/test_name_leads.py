"""Lines to names that would be read for another trail's, held against slow geometry."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from shapely.geometry import LineString, Point
from shapely.ops import substring

from layout.outputs import palette
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.map_labels import CASING_PT, HIDES_LITTLE, LEAD_PT, MISLEADS_COST, Look
from layout.outputs.name_leads import ALONG_DEG, LOST, NEAR, TOUCH, Leads

spots = st.tuples(st.integers(0, 60), st.integers(0, 60))
ways = st.lists(spots, min_size=2, max_size=4, unique=True)


def crosses(lead: LineString, trail: LineString, start: float) -> bool | None:
    """Tell whether a line meets a trail beyond its start; None where that is a near thing."""
    rest = substring(lead, start, lead.length)
    if rest.distance(trail) > 0.01:
        return False
    clear = substring(lead, start + 0.01, lead.length - 0.01)
    return True if clear.crosses(trail) else None


def lost(lead: LineString, trails: list[LineString]) -> float:
    """Give how much of a line runs beside trails of about its own direction, by many samples."""
    a, b = (np.array(end) for end in lead.coords)
    way = (b - a) / lead.length
    total = 0.0
    for trail in trails:
        for piece in zip(trail.coords[:-1], trail.coords[1:], strict=True):
            p, q = (np.array(end, dtype=float) for end in piece)
            along = (q - p) / np.hypot(*(q - p))
            if abs(way[0] * along[1] - way[1] * along[0]) >= math.sin(math.radians(ALONG_DEG)):
                continue
            at = p + np.linspace(0, 1, 4001)[:, None] * (q - p) - a
            here = at @ way
            off = np.abs(at[:, 0] * way[1] - at[:, 1] * way[0])
            near = (off < NEAR) & (here >= 0) & (here <= lead.length)
            total += np.ptp(here[near]) if near.any() else 0.0
    return total


@given(ways, st.lists(ways, max_size=3), st.floats(0.0, 1.0), spots)
def test_lines_that_mislead_are_those_that_cross_another_trail_or_are_lost_in_one(
    own: list[tuple[int, int]],
    others: list[list[tuple[int, int]]],
    share: float,
    end: tuple[int, int],
) -> None:
    mine = LineString(own)
    at = mine.interpolate(share, normalized=True)
    lead = LineString([(at.x, at.y), end])
    assume(lead.length > 2 * NEAR)
    leads = Leads(1.0)
    leads.add("S1", np.array(own, dtype=float))
    for number, other in enumerate(others):
        leads.add(f"S{number + 2}", np.array(other, dtype=float))
    lines = [LineString(other) for other in others]
    met = [crosses(lead, line, TOUCH) for line in lines] + [crosses(lead, mine, NEAR)]
    length = lost(lead, [mine, *lines])
    assume(None not in met or True in met)
    assume(True in met or abs(length - LOST) > 0.1)
    wanted = True in met or length > LOST
    (found,) = leads.misleading(np.array(at.coords[0]), np.array([end], dtype=float), "S1")
    assert found == wanted


@pytest.mark.parametrize(("degrees", "wanted"), [(10.0, True), (19.0, True), (25.0, False)])
def test_a_line_along_its_own_trail_is_lost_in_it(degrees: float, wanted: bool) -> None:
    leads = Leads(2.0)
    leads.add("M", np.array([(0.0, 0.0), (400.0, 0.0)]))
    turn = math.radians(degrees)
    end = np.array([[100.0 + 90.0 * math.cos(turn), 90.0 * math.sin(turn)]])
    assert leads.misleading(np.array([100.0, 0.0]), end, "M").tolist() == [wanted]


def labels_beside_a_trail() -> PlainLabels:
    """Give an empty map with a spur, and names all round it but beyond the main trail."""
    figure = Figure(figsize=(4, 4), dpi=144)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 288), ylim=(0, 288))
    labels = PlainLabels(axes, FigureCanvasAgg(figure))
    labels.bar_leads("M", np.array([(0.0, 120.0), (288.0, 120.0)]))
    labels.bar_leads("S1", np.array([(144.0, 120.0), (144.0, 160.0)]))
    labels.keep(0.0, 2 * 125.0, 2 * 287.0, 2 * 287.0)  # room is only beyond the main trail
    return labels


def test_a_name_is_rather_left_out_than_led_across_another_trail() -> None:
    spur = {"anchors": [(144.0, 150.0)], "look": Look(7.0), "must": True}
    labels = labels_beside_a_trail()
    assert not labels.beside("9 % down", hide_most=MISLEADS_COST, trail="S1", **spur)  # type: ignore[arg-type]
    assert labels.beside("S1 9 % down", hide_most=4e5, trail="S1", **spur)  # type: ignore[arg-type]
    labels = labels_beside_a_trail()
    assert not labels.beside("9 % down", hide_most=4e5, trail="S1", lead=False, **spur)  # type: ignore[arg-type]


def test_a_line_to_a_name_is_white_on_both_sides() -> None:
    labels = labels_beside_a_trail()
    assert labels.beside("100 ft", [(144.0, 150.0)], Look(7.0), must=True, hide_most=4e5)
    casing, line = sorted(labels._axes.lines, key=lambda drawn: drawn.get_zorder())
    assert (casing.get_color(), line.get_color()) == (palette.PAPER, palette.INK)
    assert casing.get_linewidth() - line.get_linewidth() == pytest.approx(2 * CASING_PT)
    assert line.get_linewidth() == LEAD_PT
    assert casing.get_xydata().tolist() == line.get_xydata().tolist()  # type: ignore[union-attr]
    assert Point(line.get_xydata()[0]).equals(Point(144.0, 150.0))  # type: ignore[index]


def test_a_name_beside_its_mark_is_not_dear() -> None:
    labels = labels_beside_a_trail()
    assert labels.beside(
        "M 9 % down", [(200.0, 120.0)], Look(7.0), hide_most=HIDES_LITTLE, trail="M", lead=False
    )
