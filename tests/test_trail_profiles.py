"""Trails seen from the side: the drawing measured back against the plan it was made from."""

from dataclasses import replace
from itertools import combinations, pairwise

import made_order
import numpy as np
import plan_fixture
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.collections import LineCollection
from matplotlib.patches import Rectangle

from layout.outputs import palette as ink
from layout.outputs.crew import foot, profile_strip, profiles
from layout.outputs.crew.profile_strip import PT_A_M, Strip, edge_pt, width_pt
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, Line, Sheet, width_of
from layout.outputs.side_by_side import side_by_side
from layout.outputs.words import say
from layout.outputs.words.translations import tongue
from layout.plan import Plan
from layout.settings.limits import limits_in_force
from layout.tongue import speaking


@pytest.fixture(scope="module", params=["us", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return made_order.ordered(plan_fixture.plan(request.param))


def drawn(plan: Plan, strip: Strip) -> Sheet:
    sheet = Sheet(plan.area.settings.outputs.paper)
    profile_strip.draw(sheet, plan, strip, 40.0, 100.0)
    return sheet


def boxes(sheet: Sheet) -> list[Rectangle]:
    return [p for p in sheet.figure.axes[0].patches if isinstance(p, Rectangle)]


def test_the_ground_is_drawn_as_the_elevations_have_it(plan: Plan) -> None:
    """Up and along are at one scale: 1 : 1500, by 72 points an inch of 25.4 mm."""
    trail = plan.trails[0]
    sheet = drawn(plan, Strip(trail, 0.0, trail.line.length))
    lines = [c for c in sheet.figure.axes[0].collections if isinstance(c, LineCollection)]
    ends = np.array([s for s in lines[0].get_segments()])
    stations = plan.stations[trail.trail_id]
    along = (ends[-1, 1, 0] - ends[0, 0, 0]) / 72 * 0.0254 * 1500
    assert along == pytest.approx(trail.line.length, abs=0.01)
    rise = (ends[0, 0, 1] - ends[-1, 1, 1]) / 72 * 0.0254 * 1500  # the page counts downward
    first, last = np.interp([0.0, trail.line.length], stations.at_m, stations.z)
    assert rise == pytest.approx(last - first, abs=0.01)


def test_each_step_has_its_grade_and_slope_and_what_is_over_is_black(plan: Plan) -> None:
    trail = plan.trails[0]
    steps = [s for s in plan.steps if s.trail_id == trail.trail_id and np.isfinite(s.grade_pct)]
    limits = limits_in_force(plan.area.settings)
    over = replace(steps[0], grade_pct=limits.adverse_pct + 1.0, cross_pct=limits.cross_pct - 1.0)
    rest = tuple(s for s in plan.steps if s is not steps[0])
    changed = replace(plan, steps=(over, *rest))
    made = boxes(drawn(changed, Strip(trail, 0.0, trail.line.length)))
    black = [b for b in made if b.get_facecolor()[:3] == (0.0, 0.0, 0.0) or b.get_facecolor() ==
             Rectangle((0, 0), 1, 1, facecolor=ink.INK).get_facecolor()]  # fmt: skip
    assert len(made) == 2 * len(steps)
    before = sum(not -limits.favourable_pct <= s.grade_pct <= limits.adverse_pct for s in steps[1:])
    before += sum(s.cross_pct > limits.cross_pct for s in steps[1:])
    assert len(black) == before + 1
    widths = sorted(b.get_width() for b in made[: len(steps)])
    assert widths == pytest.approx(sorted((s.to_m - s.from_m) * PT_A_M for s in steps))
    assert black[0].get_x() == pytest.approx(40.0 + edge_pt(plan))


def test_strips_cover_every_long_trail_once_and_that_the_rest_have_none_is_said(plan: Plan) -> None:
    width = Sheet(plan.area.settings.outputs.paper).inner_pt
    strips = profiles._strips(plan, width)
    shortest = profiles.SHORTEST_M[plan.area.settings.area.units]
    for trail in plan.trails:
        mine = [s for s in strips if s.trail.trail_id == trail.trail_id]
        whole = sum(s.to_m - s.from_m for s in mine)
        assert whole == pytest.approx(trail.line.length if trail.line.length >= shortest else 0.0)
        assert all(width_pt(plan, s) <= width + 1 for s in mine)
    short = replace(plan.trails[-1], line=plan.trails[-1].line.interpolate(0).buffer(1).exterior)
    told = profiles._how(replace(plan, trails=(*plan.trails[:-1], short)))
    assert told.endswith("are not drawn.")
    long = tuple(t for t in plan.trails if t.line.length >= shortest)
    assert "not drawn" not in profiles._how(replace(plan, trails=long))


@given(
    st.lists(
        st.tuples(st.floats(0, 400, width=32), st.floats(5, 40, width=32)), min_size=1, max_size=12
    )
)
def test_names_stand_side_by_side_as_near_as_there_is_room(
    given: list[tuple[float, float]],
) -> None:
    """Where sums of squares are least, no group would gain by moving, nor any tail of one.

    Each group stands at the mean of where its members would, and none of its beginnings would
    be drawn left of the rest, nor any end right of it (the optimality conditions of isotonic
    regression: Barlow, Bartholomew, Bremner and Brunk 1972, from memory).
    """
    places, wide = zip(*sorted(given), strict=True)
    stands, groups = side_by_side(places, wide)
    rooms = [(x - w / 2, x + w / 2) for x, w in zip(stands, wide, strict=True)]
    for (_, end), (start, _) in pairwise(rooms):
        assert start >= end - 1e-3
    moves = np.subtract(stands, places)
    for group in set(groups):
        own = moves[[k for k, g in enumerate(groups) if g == group]]
        assert own.sum() == pytest.approx(0.0, abs=1e-2)
        assert np.all(np.cumsum(own) <= 1e-2)  # the first are pushed left, the last right
    assert side_by_side([], []) == ([], [])


@given(
    st.lists(
        st.tuples(st.floats(0, 400, width=32), st.floats(5, 40, width=32)), min_size=1, max_size=9
    )
)
def test_a_row_stays_between_its_ends_moved_no_farther_than_it_must(
    given: list[tuple[float, float]],
) -> None:
    """No other row between the ends has less to move: tried by moving each end of it on."""
    places, wide = zip(*sorted(given), strict=True)
    stands, _ = side_by_side(places, wide, (0.0, 400.0))
    rooms = [(x - w / 2, x + w / 2) for x, w in zip(stands, wide, strict=True)]
    assert rooms[0][0] >= -1e-3 and rooms[-1][1] <= 400.0 + 1e-3
    assert all(b[0] >= a[1] - 1e-3 for a, b in pairwise(rooms))
    gaps = [rooms[0][0], *(b[0] - a[1] for a, b in pairwise(rooms)), 400.0 - rooms[-1][1]]
    moves = np.subtract(stands, places)
    for first in range(len(stands)):  # those from one to another that could go on together
        for past in range(first + 1, len(stands) + 1):
            pull = moves[first:past].sum()  # above 0: they were pushed right, would go left
            assert pull < 1e-2 or gaps[first] < 1e-2
            assert pull > -1e-2 or gaps[past] < 1e-2


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_a_band_is_does_not_run_into_its_limit(plan: Plan, language: str) -> None:
    with speaking(tongue(language, plan.area.settings.area.units)):
        trail = plan.trails[0]
        sheet = drawn(plan, Strip(trail, 0.0, trail.line.length))
        names = {say("crew_profile_grade"), say("crew_profile_cross")}
    sheet.figure.canvas.draw()
    lines = [t for t in sheet.figure.findobj(Line) if isinstance(t, Line)]
    parts = [t.get_window_extent() for t in lines if t.get_text() in names]
    limits = [t.get_window_extent() for t in lines if t.get_text().endswith(" %")]
    assert (len(parts), len(limits)) == (2, 3)
    assert max(part.x1 for part in parts) < min(limit.x0 for limit in limits)


def test_every_junction_of_a_strip_is_named_in_letters_to_be_read(plan: Plan) -> None:
    main = plan.trails[0]
    spurs = [t for t in plan.trails if t.joins_id == main.trail_id]
    assert spurs
    crowded = tuple(
        replace(t, joins_at_m=10.0 + n) if t in spurs else t for n, t in enumerate(plan.trails)
    )
    for shown in (plan, replace(plan, trails=crowded)):
        sheet = drawn(shown, Strip(main, 0.0, main.line.length))
        ids = {t.trail_id for t in spurs}
        lines = [t for t in sheet.figure.findobj(Line) if isinstance(t, Line)]
        words = [line for line in lines if line.get_text() in ids]
        assert len(words) == len(spurs)
        assert all(w.get_fontsize() >= 9.0 for w in words)
        sheet.figure.canvas.draw()
        rooms = [w.get_window_extent() for w in words]
        assert not any(a.overlaps(b) for a, b in combinations(rooms, 2))


def test_nothing_runs_off_the_page(plan: Plan) -> None:
    for draw in profiles.pages(plan):
        sheet = Sheet(plan.area.settings.outputs.paper)
        draw(sheet)
        floor = sheet.height_pt - MARGIN_PT + 8 - foot.height_pt(plan, sheet.inner_pt)
        lines = [t for t in sheet.figure.findobj(Line) if isinstance(t, Line)]
        assert lines
        for line in lines:
            size = float(line.get_fontsize())
            x, y = line.get_position()
            assert size >= LEAST_PT
            assert float(x) + width_of(line.get_text(), size) / 2 <= sheet.width_pt - MARGIN_PT + 20
            assert float(y) < floor
