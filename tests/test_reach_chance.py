"""Chances of reach: held against simulation, a published distribution, and a table.

The table is section 5 of the routing notes, made by simulation with other code.
"""

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plan import metric_plan
from scipy import integrate, special, stats

from layout import read_area, terrain, water, winch
from layout import winch_kernel as kernel
from layout.grid import Dem
from layout.plan import Plan
from layout.pull_chances import reach_edge_m
from layout.reach_chance import (
    DOUBTFUL_CHANCE,
    SURE_CHANCE,
    beyond_circle,
    beyond_line,
    margin_for,
    outside_sector,
    sigma_m,
    spread,
    sureness,
)
from layout.winch_ground import PullGround, prepare
from layout.winch_rules import WinchRules, rules_from

METRIC = Path(__file__).parent / "data" / "metric_area"
DRAWS = 100_000
POINT = 0.01

# DRMS, then the chance of standing beyond 35 m with the dot 25, 28, 30, 32 and 34 m off, and
# the margin for 5 % with one end wrong and with both.
TABLE = (
    (1, (0, 0, 0, 0, 0.080), 1.2, 1.7),
    (3, (0, 0.001, 0.010, 0.083, 0.330), 3.6, 5.1),
    (5, (0.003, 0.027, 0.087, 0.213, 0.408), 6.1, 8.7),
    (8, (0.047, 0.126, 0.213, 0.328, 0.462), 9.9, 14.4),
    (12, (0.151, 0.246, 0.324, 0.411, 0.503), 15.4, 23.4),
)


@pytest.mark.parametrize(("drms", "chances", "margin", "both"), TABLE)
def test_the_table(drms: float, chances: tuple[float, ...], margin: float, both: float) -> None:
    got = beyond_circle([25, 28, 30, 32, 34], 35.0, drms)
    assert np.round(got, 3) == pytest.approx(chances, abs=1e-9)
    up = [math.ceil(10 * margin_for(0.05, 35.0, e)) / 10 for e in (drms, drms * 2**0.5)]
    assert up == [margin, both]  # the table goes up to the next tenth: fewer than 5 % beyond


@pytest.mark.parametrize("away", [0.0, 3.0, 20.0, 34.9, 60.0])
def test_the_circle_is_rices_distribution(away: float) -> None:
    # Rice (1945): density of the distance r of a point whose mean lies `away` off
    sigma = float(sigma_m(5.0))

    def density(r: float) -> float:
        bessel = special.ive(0, r * away / sigma**2)
        return float(r / sigma**2 * math.exp(-((r - away) ** 2) / (2 * sigma**2)) * bessel)

    beyond, _ = integrate.quad(density, 35.0, away + 80.0, epsabs=1e-12, limit=200)
    assert float(beyond_circle(away, 35.0, 5.0)) == pytest.approx(beyond, abs=1e-9)
    full = outside_sector(away, 35.0, math.pi, math.pi, 5.0)
    assert float(full[0]) == pytest.approx(beyond, abs=1e-6)


@pytest.mark.parametrize(("left", "right"), [(0.2, 0.5), (-0.1, 0.7), (0.05, 0.05)])
def test_a_wedge_is_two_half_planes(left: float, right: float) -> None:
    # outside = beyond either edge: by the bivariate normal distribution of the distances to both
    away, drms = 18.0, 4.0
    sigma = float(sigma_m(drms))
    share = -math.cos(left + right)  # correlation of the two distances
    both = stats.multivariate_normal([0, 0], [[1, share], [share, 1]])
    room = [away * math.sin(left) / sigma, away * math.sin(right) / sigma]
    assert float(outside_sector(away, math.inf, left, right, drms)[0]) == pytest.approx(
        1 - float(both.cdf(room)), abs=2e-5
    )


# away, radius, room to the left and to the right (radians), DRMS
SHAPES = {
    "disc": (30.0, 35.0, math.pi, math.pi, 5.0),
    "disc, dot beyond": (36.0, 35.0, math.pi, math.pi, 5.0),
    "wedge": (20.0, math.inf, 0.15, 0.37, 3.0),
    "wedge, dot outside": (20.0, math.inf, -0.05, 0.57, 3.0),
    "both": (32.0, 35.0, 0.1, 0.42, 5.0),
    "both, close by": (3.0, 35.0, 0.3, 0.3, 5.0),
    "both, wide": (10.0, 14.0, 1.5, 2.0, 8.0),
    "both, poor dot": (25.0, 35.0, 0.26, 0.26, 12.0),
}


@pytest.mark.parametrize("name", SHAPES)
def test_stated_and_simulated_agree(name: str) -> None:
    away, radius, left, right, drms = SHAPES[name]
    rng = np.random.default_rng(5)
    x, y = rng.normal(size=(2, DRAWS)) * sigma_m(drms)
    x += away
    turned = np.arctan2(y, x)
    inside = (np.hypot(x, y) <= radius) & (turned <= left) & (turned >= -right)
    stated = float(outside_sector(away, radius, left, right, drms)[0])
    assert stated == pytest.approx(1 - inside.mean(), abs=POINT)
    assert stated == pytest.approx(
        kernel.out_chance(away, radius, left, right, float(sigma_m(drms))), abs=0.002
    )


def test_intervals_cover_what_they_say() -> None:
    # the 95 % interval of the distance: 2.5 % nearer, 2.5 % farther, over 300 dots
    rng = np.random.default_rng(6)
    away, drms = rng.uniform(2, 40, 300), rng.choice([1.0, 3.0, 5.0, 8.0], 300)
    true = np.hypot(
        away[:, None] + rng.normal(size=(300, 400)) * sigma_m(drms)[:, None],
        rng.normal(size=(300, 400)) * sigma_m(drms)[:, None],
    )
    beyond = beyond_circle(away[:, None], true, drms[:, None])
    assert 0.93 <= ((beyond > 0.025) & (beyond < 0.975)).mean() <= 0.97


def test_what_the_thresholds_replace() -> None:
    # sure was a margin of 1.2 errors, doubtful under 0.6: the nearest round chances
    assert float(beyond_line(1.2, 1.0)) == pytest.approx(SURE_CHANCE, abs=0.006)
    assert float(beyond_line(0.6, 1.0)) == pytest.approx(DOUBTFUL_CHANCE, abs=0.003)
    assert [sureness(c) for c in (0.0, 0.05, 0.0501, 0.2, 0.2001, 1.0)] == (
        ["sure"] * 2 + ["tight"] * 2 + ["doubtful"] * 2
    )


def test_no_error_leaves_the_dot_to_decide() -> None:
    assert beyond_circle([34.9, 35.1], 35.0, 0.0).tolist() == [0, 1]
    assert beyond_line([0.1, -0.1], 0.0).tolist() == [0, 1]
    told = outside_sector([20, 20, 36], 35, [0.3, -0.1, 0.3], 0.3, 0)
    assert told == pytest.approx([0, 1, 1], abs=1e-9)
    assert margin_for(0.05, 35.0, 0.0) == 0.0
    assert kernel.out_chance(20.0, 35.0, 0.3, 0.3, 0.0) == 0.0
    assert kernel.out_chance(20.0, 35.0, -0.1, 0.3, 0.0) == 1.0


SIZES = st.floats(0.5, 60.0)
ANGLES = st.floats(-0.4, 1.5)


@given(away=SIZES, more=st.floats(0.0, 20.0), radius=SIZES, drms=st.floats(0.2, 15.0))
def test_farther_is_never_surer(away: float, more: float, radius: float, drms: float) -> None:
    near, far = beyond_circle([away, away + more], radius, drms)
    assert far >= near - 1e-12


@given(away=SIZES, inside=st.floats(0.05, 0.95), drms=st.floats(0.2, 8.0), more=st.floats(1.0, 2.0))
def test_a_worse_dot_is_never_surer(away: float, inside: float, drms: float, more: float) -> None:
    # of a dot inside the circle: spread grows outward on every side
    one, two = beyond_circle(away * inside, away, [drms, drms * more])
    assert two >= one - 1e-12


@given(away=SIZES, radius=SIZES, left=ANGLES, right=ANGLES, drms=st.floats(0.2, 12.0))
def test_the_kernel_says_the_same(
    away: float, radius: float, left: float, right: float, drms: float
) -> None:
    sigma = float(sigma_m(drms))
    exact = float(outside_sector(away, radius, left, right, drms)[0])
    assert 0.0 <= exact <= 1.0
    assert kernel.out_chance(away, radius, left, right, sigma) == pytest.approx(exact, abs=0.003)
    rank = kernel.sure_of(away, radius, left, right, sigma, SURE_CHANCE, DOUBTFUL_CHANCE)
    if min(abs(exact - SURE_CHANCE), abs(exact - DOUBTFUL_CHANCE)) > 0.003:
        assert ("sure", "tight", "doubtful")[rank] == sureness(exact)


def test_spread_stands_for_the_gaussian() -> None:
    nodes = spread(2048)
    assert nodes.mean(axis=0) == pytest.approx([0, 0], abs=0.01)
    assert np.cov(nodes.T) == pytest.approx(np.eye(2), abs=0.01)
    for edge in (-1.0, 0.0, 0.7, 1.7):
        assert (nodes[:, 0] > edge).mean() == pytest.approx(special.ndtr(-edge), abs=0.006)


# --- pulls on the ground ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plan() -> Plan:
    return metric_plan()


@pytest.fixture(scope="module")
def ground(plan: Plan) -> PullGround:
    return prepare(plan.area, plan.terrain, water.strips(plan.area, plan.terrain))


def stumps(ground: PullGround, x: np.ndarray, y: np.ndarray) -> PullGround:
    """Put light stumps where they are wanted, on open ground."""
    n = x.size
    return replace(
        ground, x=x, y=y, marked=np.arange(n), tree_ids=tuple(map(str, range(n))),
        mass_kg=np.full(n, 100.0), position_error_m=np.full(n, 1.0),
        exact=np.zeros(n, dtype=np.bool_), stands_on=np.zeros(n, dtype=np.uint8),
    )  # fmt: skip


def test_stated_chances_of_a_plan_hold_under_the_rules_themselves(
    plan: Plan, ground: PullGround
) -> None:
    """Every chosen pull again, with stumps strewn about its dot, by the rules of a pull."""
    rules, draws = rules_from(plan.area.settings), 10_000
    parked = {p.position_id: p for p in plan.positions}
    row = {name: i for i, name in enumerate(ground.tree_ids)}
    rng = np.random.default_rng(11)
    off = []
    for pull in plan.pulls:
        at, i = parked[pull.position_id], row[pull.tree_id]
        dx, dy = rng.normal(size=(2, draws)) * sigma_m(ground.position_error_m[i])
        strewn = stumps(ground, ground.x[i] + dx, ground.y[i] + dy)
        rear = math.radians(90 - at.rear_azimuth_deg)
        found = winch.evaluate(strewn, rules, [at.x], [at.y], [rear], [0.0], [False])
        told = Counter(winch.REASONS[int(code)] for code in found.best_code)
        out = sum(told[why] for why in ("beyond_reach", "pull_angle", "no_trail")) / draws
        assert pull.p_out_of_reach is not None and pull.p_no_position is not None
        assert pull.p_out_of_reach >= out - POINT  # never to the unsafe side
        assert pull.p_no_position <= pull.p_out_of_reach
        assert pull.sure == sureness(pull.p_out_of_reach)
        off.append(pull.p_out_of_reach - out)
    assert max(np.abs(off)) < 1.5 * POINT  # measured: 0.9 points the farthest, all told safe


def test_no_position_means_none_with_its_swing(plan: Plan, ground: PullGround) -> None:
    rules, draws = rules_from(plan.area.settings), 4_000
    width = {t.trail_id: t.width_m for t in plan.trails}
    at = plan.positions
    line = [math.radians(90 - p.rear_azimuth_deg) - math.radians(p.swing_deg) for p in at]
    swing = [
        winch.swing_limit_deg(rules.length_m, rules.width_m, width.get(p.trail_id, 0.0)) for p in at
    ]
    row = {name: i for i, name in enumerate(ground.tree_ids)}
    rng = np.random.default_rng(12)
    for pull in plan.pulls[::3]:
        i = row[pull.tree_id]
        dx, dy = rng.normal(size=(2, draws)) * sigma_m(ground.position_error_m[i])
        strewn = stumps(ground, ground.x[i] + dx, ground.y[i] + dy)
        found = winch.evaluate(
            strewn, rules, [p.x for p in at], [p.y for p in at], line, swing,
            [p.trail_id == "" for p in at],
        )  # fmt: skip
        left = float(np.mean([winch.REASONS[int(code)] != "served" for code in found.best_code]))
        assert pull.p_no_position is not None
        # other rules refuse a few more, a stump in a corner of the stand for one
        assert pull.p_no_position == pytest.approx(left, abs=0.03)
        assert pull.p_no_position >= left - 0.02


def hill(rise: float) -> tuple[PullGround, WinchRules]:
    """Give a plane that rises to the east, and rules on it."""
    area = read_area(METRIC)
    x = np.arange(200) + 0.5
    z = np.broadcast_to((rise * x).astype(np.float32), (200, 200))
    dem = Dem(np.ascontiguousarray(z), 0.0, 200.0, 1.0)
    shape = terrain.build(dem)
    here = replace(area, dem=dem)
    made = prepare(area, terrain.build(area.dem), water.strips(area, terrain.build(area.dem)))
    return replace(made, dem=dem, smooth=shape.smooth), rules_from(here.settings)


@pytest.mark.parametrize("rise", [0.0, 0.1, 0.2])
def test_where_the_rope_ends_on_a_slope(rise: float) -> None:
    ground, rules = hill(rise)
    edge = reach_edge_m(
        ground, rules, np.array([100.0]), np.array([100.0]), np.array([[0.0, math.pi / 2, math.pi]])
    )[0]
    slant = math.hypot(1, rise)
    up = rules.reach_m(100 * rise / slant) / slant  # ground length, shorter uphill
    assert edge == pytest.approx([up, rules.longest_m, rules.longest_m / slant], abs=0.01)


def test_unknown_ground_ends_a_ray() -> None:
    ground, rules = hill(0.0)
    z = ground.dem.z.copy()
    z[:, 120:130] = np.nan
    edge = reach_edge_m(
        replace(ground, dem=ground.dem.with_z(z)),
        rules,
        np.array([100.0]),
        np.array([100.0]),
        np.array([[0.0, math.pi]]),
    )[0]
    assert 18 <= edge[0] <= 20 and edge[1] == pytest.approx(rules.longest_m)
