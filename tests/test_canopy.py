"""Crowns, cover and gaps, held against printed widths, plane geometry and exact unions.

Printed sources: Bechtold 2003 (Southern Journal of Applied Forestry 27:269-278), crown
widths; Krajicek and others 1961, open-grown crowns. Typed here on purpose.
"""

import csv
import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from layout import canopy, crowns
from layout.canopy import MARKED_ONLY, NO_CROWNS
from layout.errors import InputError, InputFaults
from layout.species import species_table

INCH_CM, FOOT_M = 2.54, 0.3048
ACRE_M2 = 4046.8564224


def width_ft(name: str, dbh_in: float) -> float:
    return float(crowns.crown_width_m([name], [dbh_in * INCH_CM])[0]) / FOOT_M


@pytest.mark.parametrize(
    ("name", "dbh_in", "feet"),
    [
        ("northern red oak", 18, 31.41),
        ("sugar maple", 18, 9.96 + 1.05 * 18),
        ("red maple", 12, 7.34 + 1.43 * 12 - 0.01 * 144),
        ("eastern white pine", 20, 4.79 + 1.06 * 20),
        ("eastern hemlock", 16, 5.66 + 1.50 * 16 - 0.02 * 256),
        ("white spruce", 14, 6.18 + 0.85 * 14),  # no volume of its own, but a crown
        ("94", 14, 6.18 + 0.85 * 14),
        ("bigtooth aspen", 14, 4.66 + 1.09 * 14),
    ],
)
def test_printed_widths(name: str, dbh_in: float, feet: float) -> None:
    assert width_ft(name, dbh_in) == pytest.approx(feet, abs=6e-3)


def test_an_open_grown_oak_of_18_in() -> None:
    assert float(crowns.open_grown_m(18 * INCH_CM)) / FOOT_M == pytest.approx(36.04, abs=5e-3)


def test_a_curve_that_bends_down_is_held_at_its_top() -> None:
    # 3.27 + 2.38 D - 0.05 D^2 peaks at 23.8 in with 31.6 ft.
    assert width_ft("yellow birch", 23.8) == pytest.approx(31.6, abs=0.02)
    assert width_ft("yellow birch", 40) == pytest.approx(width_ft("yellow birch", 23.8))
    assert width_ft("red pine", 40) == pytest.approx(width_ft("red pine", 24.75), abs=1e-3)


def test_below_the_first_inches_crowns_go_to_nothing() -> None:
    assert width_ft("red oak", 2.5) == pytest.approx((6.21 + 1.40 * 5) / 2)
    assert width_ft("beech", 0.5) < 2.0  # 11.5 + 1.13 D would be 12 ft
    # 11.53 + 1.13 D is wider than any tree in the open at 6 in, so the open one counts.
    assert width_ft("beech", 6) == pytest.approx(3.12 + 1.829 * 6)


def test_a_species_without_widths_takes_its_groups_mean() -> None:
    aspens = np.mean([4.63 + 1.27 * 14, 4.66 + 1.09 * 14])
    assert width_ft("cottonwood", 14) == pytest.approx(aspens)
    every = [s for s in species_table() if s.kind == "softwood"]
    assert 10 < width_ft("Douglas-fir", 14) < 30 and every


@pytest.mark.parametrize(
    "name",
    ["redcedar", "red cedar", "Eastern red-cedar", "redcedar, eastern", "RC", "68", "068", "68.0"],
)
def test_redcedar_has_its_own_row_however_it_is_written(name: str) -> None:
    assert width_ft(name, 10) == pytest.approx(4.59 + 1.34 * 10)  # Bechtold 2003


@pytest.mark.parametrize("name", ["white cedar", "northern white-cedar", "white-cedars", "WC"])
def test_so_has_white_cedar(name: str) -> None:
    assert width_ft(name, 10) == pytest.approx(4.05 + 0.83 * 10)


def test_every_name_of_the_table_finds_its_own_row() -> None:
    with crowns.TABLE_FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        own = width_ft(row["fia_code"], 8)
        names = [row["common_name"], *filter(None, row["also"].split("; "))]
        for name in (*names, row["common_name"].replace("-", " ").upper()):
            assert width_ft(name, 8) == pytest.approx(own), name


def test_every_row_names_its_source_and_a_known_group() -> None:
    groups = {s.group for s in species_table()}
    with crowns.TABLE_FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert all(row["source"].startswith("Bechtold 2003") for row in rows)
    assert {row["group"] for row in rows} <= groups
    assert len({row["fia_code"] for row in rows}) == len(rows)


def test_bad_diameters_are_refused_and_blanks_stay() -> None:
    with pytest.raises(InputFaults, match="stem 2: a DBH of 0 cm"):
        crowns.crown_width_m(["red oak"] * 2, [30, 0])
    assert np.isnan(crowns.crown_width_m(["red oak"], [np.nan]))[0]
    assert crowns.crown_width_m([], []).size == 0


@given(
    st.sampled_from([s.common_name for s in species_table()]), st.floats(1, 150), st.floats(0.1, 30)
)
def test_a_thicker_tree_has_no_narrower_crown(name: str, dbh_cm: float, more: float) -> None:
    thin, thick = crowns.crown_width_m([name] * 2, [dbh_cm, dbh_cm + more])
    assert 0 < thin <= thick + 1e-9
    assert thick <= crowns.open_grown_m(dbh_cm + more) + 1e-9


HECTARE = box(0, 0, 100, 100)


def test_two_crowns_by_hand() -> None:
    got = canopy.canopy(HECTARE, [30, 70], [50, 50], [10, 6], [False, True], full_list=True)
    assert got.cover_before == pytest.approx(math.pi * (25 + 9) / 10_000, rel=0.01)
    assert got.cover_after == pytest.approx(math.pi * 25 / 10_000, rel=0.01)
    assert got.open_sky_after == pytest.approx(1 - math.pi * 25 / 10_000, rel=1e-3)
    assert got.open_sky_before is not None and got.open_sky_after is not None
    assert got.open_sky_before < got.open_sky_after
    assert got.gaps is not None and len(got.gaps) == 1
    (gap,) = got.gaps
    assert gap.diameter_m == pytest.approx(6, rel=0.02)
    assert gap.outline.contains(Point(70, 50))
    assert gap.edge_height_m is None and gap.height_ratio is None


def test_a_kept_crown_over_a_marked_one_leaves_no_gap() -> None:
    got = canopy.canopy(HECTARE, [50, 51], [50, 50], [12, 8], [False, True], full_list=True)
    assert got.gaps == ()
    assert got.largest_gap is None
    assert got.cover_before == got.cover_after


def test_a_clearing_of_four_tenths_of_an_acre_is_149_ft_across() -> None:
    radius = math.sqrt(0.4 * ACRE_M2 / math.pi)
    landing = Point(50, 50).buffer(radius, quad_segs=64)
    got = canopy.canopy(
        HECTARE, [5, 50], [5, 50], [8, 8], [False, False], full_list=True, cleared=[landing]
    )
    assert got.largest_gap is not None
    assert got.largest_gap.diameter_m / FOOT_M == pytest.approx(148.9, rel=2e-3)
    assert got.largest_gap.area_m2 == pytest.approx(got.largest_gap.outline.area, rel=0.01)
    # The tree on the landing is gone, though nobody marked it. One disc of 8 m on cells
    # of half a metre is only good to a few percent; over a stand that evens out.
    assert got.cover_after == pytest.approx(math.pi * 16 / 10_000, rel=0.05)


def test_a_trail_is_no_gap_and_ties_none_together() -> None:
    trail = LineString([(0, 50), (100, 50)]).buffer(6 * FOOT_M, cap_style="flat")
    crowded = canopy.canopy(
        HECTARE, [20, 80], [50, 50], [9, 9], [True, True], full_list=True, cleared=[trail]
    )
    assert crowded.gaps is not None and len(crowded.gaps) == 2
    for gap in crowded.gaps:
        assert gap.diameter_m < 11
    bare = canopy.canopy(HECTARE, [5], [5], [6], [False], full_list=True, cleared=[trail])
    assert bare.gaps == ()


def test_gap_against_the_height_of_its_edge() -> None:
    x = np.array([50, 40, 60, 50, 95, 57.5])
    y = np.array([50, 50, 50, 61, 95, 57.5])
    got = canopy.canopy(
        HECTARE,
        x,
        y,
        np.array([12.0, 8, 8, 10, 8, 3]),
        x == 50.0,
        full_list=True,
        height_m=np.array([25, 20, 22, 30, 12, 40]),
    )
    assert got.largest_gap is not None
    # 40 and 60 touch it; the last, near but narrow, does not; the two at 50 are gone.
    assert got.largest_gap.edge_height_m == pytest.approx(21)
    assert got.largest_gap.height_ratio == pytest.approx(got.largest_gap.diameter_m / 21)
    alone = canopy.canopy(
        HECTARE, [50, 95], [50, 95], [12, 8], [True, False], full_list=True, height_m=[25, 12]
    )
    assert alone.largest_gap is not None and alone.largest_gap.edge_height_m == 12


def test_sky_from_the_middle_of_a_gap() -> None:
    # A disc of radius r at height H fills r^2 / (r^2 + H^2) of what a level floor sees.
    assert float(canopy.sky_seen(40, 20)) == pytest.approx(0.5)
    angle = np.linspace(0, math.atan(10 / 20), 200_001)
    seen = np.trapezoid(2 * np.sin(angle) * np.cos(angle), angle)
    assert float(canopy.sky_seen(20, 20)) == pytest.approx(float(seen), rel=1e-6)


def test_marked_trees_alone_and_no_diameters_tell_why_nothing_is_told() -> None:
    marked = canopy.canopy(HECTARE, [50], [50], [8], [True], full_list=False)
    assert (marked.cover_before, marked.cover_after, marked.gaps) == (None, None, None)
    assert marked.reason == MARKED_ONLY and marked.largest_gap is None
    assert marked.open_sky_after is None
    blind = canopy.canopy(HECTARE, [50], [50], [np.nan], [True], full_list=True)
    assert blind.cover_before is None and blind.reason == NO_CROWNS
    assert blind.without_crown == 1


def test_a_tree_that_goes_and_has_no_diameter_opens_as_much_as_the_widest() -> None:
    x, y, cut = [30, 50, 80], [50, 50, 50], [False, True, False]
    blind = canopy.canopy(
        HECTARE, x, y, [10, np.nan, 10], cut, full_list=True, height_m=20.0, widest_m=16.0
    )
    known = canopy.canopy(HECTARE, x, y, [10, 16, 10], cut, full_list=True, height_m=20.0)
    assert blind.gaps is not None and known.gaps is not None
    assert [g.area_m2 for g in blind.gaps] == [g.area_m2 for g in known.gaps]
    assert blind.cover_after == known.cover_after
    # its crown is 2 % of the stand: what was covered before is not known, and not what is after
    assert blind.cover_before is None and blind.reason.startswith("1 trees that go have no DBH")
    assert (blind.guessed, blind.without_crown) == (1, 1)
    # one that stays and has none: cover is too low, gaps are too wide, which is the careful side
    stays = canopy.canopy(
        HECTARE, x, y, [np.nan, 16, 10], cut, full_list=True, height_m=20.0, widest_m=16.0
    )
    assert stays.cover_before is not None and (stays.guessed, stays.without_crown) == (0, 1)
    small = canopy.canopy(HECTARE, x, y, [10, np.nan, 10], cut, full_list=True, widest_m=5.0)
    assert small.cover_before is not None and small.reason == ""  # two thousandths of the stand


def test_crowns_beyond_the_stand_count_only_inside_it() -> None:
    got = canopy.canopy(HECTARE, [0, -500], [50, 50], [20, 20], [False, False], full_list=True)
    assert got.cover_before == pytest.approx(math.pi * 100 / 2 / 10_000, rel=0.02)


def test_a_stand_with_a_hole() -> None:
    ring = Polygon(HECTARE.exterior, [box(40, 40, 60, 60).exterior])
    got = canopy.canopy(ring, [50], [50], [40], [True], full_list=True)
    assert got.cover_before == pytest.approx((math.pi * 400 - 400) / 9_600, rel=0.01)
    assert got.gaps is not None and len(got.gaps[0].outline.interiors) == 1


def test_no_stand_no_cover() -> None:
    with pytest.raises(InputError, match="no area"):
        canopy.canopy(Polygon(), [1], [1], [3], [True], full_list=True)
    with pytest.raises(InputError, match="too small"):
        canopy.canopy(box(0, 0, 0.01, 0.01), [0], [0], [3], [True], full_list=True)


def forest(n: int, side: float) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, side, (2, n))
    return x, y, rng.uniform(3, 12, n), rng.random(n) < 0.25


def test_cover_is_the_exact_union() -> None:
    x, y, width, cut = forest(4500, 335.0)
    stand = box(0, 0, 335, 335)
    got = canopy.canopy(stand, x, y, width, cut, full_list=True, height_m=20.0)
    discs = shapely.buffer(shapely.points(x, y), width / 2, quad_segs=16)
    exact = shapely.union_all(discs[~cut]).intersection(stand).area / stand.area
    assert got.cover_after == pytest.approx(exact, abs=2e-3)
    assert got.cover_before is not None and got.cover_after is not None
    assert got.cover_after < got.cover_before < 1


def test_the_order_of_the_trees_makes_no_difference() -> None:
    x, y, width, cut = forest(300, 100.0)
    turn = np.random.default_rng(8).permutation(300)
    one = canopy.canopy(HECTARE, x, y, width, cut, full_list=True, height_m=x)
    two = canopy.canopy(
        HECTARE, x[turn], y[turn], width[turn], cut[turn], full_list=True, height_m=x[turn]
    )
    assert (one.cover_before, one.cover_after) == (two.cover_before, two.cover_after)
    assert one.gaps is not None and two.gaps is not None
    assert [g.area_m2 for g in one.gaps] == [g.area_m2 for g in two.gaps]
    assert [g.outline.wkt for g in one.gaps] == [g.outline.wkt for g in two.gaps]
    np.testing.assert_allclose(
        [g.edge_height_m or 0 for g in one.gaps], [g.edge_height_m or 0 for g in two.gaps]
    )


trees = st.lists(
    st.tuples(st.floats(-5, 65), st.floats(-5, 65), st.floats(0.5, 18), st.booleans()),
    min_size=1,
    max_size=30,
)


@given(trees)
def test_cover_lies_between_nought_and_the_sum_of_crowns(
    rows: list[tuple[float, float, float, bool]],
) -> None:
    x, y, width, cut = (np.array(column) for column in zip(*rows, strict=True))
    stand = box(0, 0, 60, 60)
    got = canopy.canopy(stand, x, y, width, cut, full_list=True)
    assert got.cover_before is not None and got.cover_after is not None and got.gaps is not None
    assert 0 <= got.cover_after <= got.cover_before <= 1
    # Half a cell all round is what the grid may add to a disc.
    discs = float((np.pi / 4 * (width + 0.5 * math.sqrt(2)) ** 2).sum())
    assert got.cover_before * stand.area <= discs
    opened = (got.cover_before - got.cover_after) * stand.area
    assert sum(g.area_m2 for g in got.gaps) <= opened + 1e-6
    areas = [g.area_m2 for g in got.gaps]
    assert areas == sorted(areas, reverse=True)
