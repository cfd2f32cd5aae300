"""Heights set to the user's own trees, held against known curves and hand sums."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import heights
from layout.errors import InputFaults
from layout.stem_sizes import BREAST_HEIGHT_M, check_stems
from layout.timber import heights_m

NAN = float("nan")


def default(name: str, dbh_cm: float) -> float:
    return float(heights_m([name], [dbh_cm], [NAN])[0][0])


def raised(name: str, dbh_cm: float, ratio: float) -> float:
    """Give a height a known share above the default curve."""
    return BREAST_HEIGHT_M + ratio * (default(name, dbh_cm) - BREAST_HEIGHT_M)


def test_a_known_shift_is_found_again() -> None:
    dbh = [20.0, 35.0, 50.0, 28.0, 60.0]
    known = [raised("red oak", d, 1.17) for d in dbh[:3]]
    got = heights.fill_heights(["red oak"] * 5, dbh, [*known, NAN, NAN])
    assert got.height_m[3] == pytest.approx(raised("red oak", 28.0, 1.17))
    assert got.height_m[4] == pytest.approx(raised("red oak", 60.0, 1.17))
    assert got.how == (*("measured",) * 3, *("species",) * 2)
    assert got.estimated.tolist() == [False] * 3 + [True] * 2
    (species, kind) = got.calibrations
    assert (species.name, species.measured) == ("northern red oak", 3)
    assert species.ratio == pytest.approx(1.17) and species.spread == pytest.approx(1)
    assert (kind.name, kind.measured) == ("hardwood", 3)


def test_the_published_fit_of_b1_is_the_same_thing() -> None:
    # B1 = mean(ln(H - 4.5) - B2/(D+1)), in feet and inches, B2 fixed; ours takes the
    # median, so that three heights around one middle give the middle's B1.
    b1, b2 = 4.5202, -4.8896  # northern red oak
    inches, feet = np.array([10.0, 14.0, 18.0]), np.array([70.0, 80.0, 90.0])
    each = np.log(feet - 4.5) - b2 / (inches + 1)
    expected = 4.5 + np.exp(np.median(each) + b2 / (12 + 1))
    got = heights.fill_heights(["833"] * 4, np.append(inches, 12) * 2.54, [*(feet * 0.3048), NAN])
    assert got.height_m[3] / 0.3048 == pytest.approx(expected, rel=1e-9)
    assert b1 != pytest.approx(float(np.median(each)), abs=0.01)


def test_two_measured_trees_move_nothing() -> None:
    got = heights.fill_heights(["red oak"] * 3, [30, 40, 50], [30, 35, NAN])
    assert got.how[2] == "default"
    assert got.height_m[2] == pytest.approx(default("red oak", 50))
    assert got.calibrations == ()


def test_a_kind_stands_in_for_its_species_but_not_for_the_other_kind() -> None:
    names = ["red oak", "white ash", "beech", "sugar maple", "white pine"]
    dbh = [40.0, 40.0, 40.0, 40.0, 40.0]
    known = [raised(n, 40.0, 0.9) for n in names[:3]]
    got = heights.fill_heights(names, dbh, [*known, NAN, NAN])
    assert got.how == ("measured",) * 3 + ("kind", "default")
    assert got.height_m[3] == pytest.approx(raised("sugar maple", 40.0, 0.9))
    assert got.height_m[4] == pytest.approx(default("white pine", 40.0))


def test_a_species_of_its_own_overrules_its_kind() -> None:
    names = ["red oak"] * 4 + ["white ash"] * 4
    known = [raised("red oak", 40.0, 0.8)] * 3 + [NAN] + [raised("white ash", 40.0, 1.2)] * 3
    got = heights.fill_heights(names, [40.0] * 8, [*known, NAN])
    assert got.how[3] == got.how[7] == "species"
    assert got.height_m[3] == pytest.approx(raised("red oak", 40.0, 0.8))
    assert got.height_m[7] == pytest.approx(raised("white ash", 40.0, 1.2))


def test_one_misread_height_neither_carries_the_rest_nor_goes_unnoticed() -> None:
    dbh = np.array([25.0, 30, 35, 40, 45, 50, 38])
    known = [
        raised("red oak", d, r) for d, r in zip(dbh[:5], (0.97, 1, 1.02, 1.01, 0.99), strict=True)
    ]
    got = heights.fill_heights(["red oak"] * 7, dbh, [*known, 78.0, NAN])  # 78 ft in metres
    assert got.height_m[6] == pytest.approx(default("red oak", 38.0), rel=0.02)
    assert got.doubtful.tolist() == [False] * 5 + [True, False]
    assert got.height_m[5] == 78.0


def test_the_default_model_leaves_the_curves_alone() -> None:
    got = heights.fill_heights(
        ["red oak"] * 4, [30, 40, 50, 45], [30, 35, 40, NAN], model="default"
    )
    assert got.how[3] == "default"
    assert got.height_m[3] == pytest.approx(default("red oak", 45))


def test_no_estimate_is_less_than_the_counted_logs_need() -> None:
    # 4 logs over a stump are 65 ft; at 70 % of the height the tree is 92.9 ft.
    got = heights.fill_heights(
        ["red oak"] * 5,
        [30, 30, 60, NAN, 30],
        [NAN, NAN, NAN, NAN, 26.0],
        logs=[4, 0, 1, 2, 4],
    )
    assert got.height_m[0] / 0.3048 == pytest.approx(65 / 0.70)
    assert got.height_m[1] == pytest.approx(default("red oak", 30))
    assert got.height_m[2] == pytest.approx(default("red oak", 60))
    assert got.height_m[3] / 0.3048 == pytest.approx(33 / 0.70)
    assert got.how == ("logs", "default", "default", "logs", "measured")
    check_stems([30] * 5, got.height_m, [4, 0, 1, 2, 4])  # what is filled always fits
    with pytest.raises(InputFaults, match="stem 1: 5 logs"):
        heights.fill_heights(["red oak"], [30], [20], logs=[5])


def test_neither_diameter_nor_height_is_unknown() -> None:
    got = heights.fill_heights(["red oak", "red oak"], [NAN, NAN], [NAN, 22.0])
    assert got.how == ("unknown", "measured")
    assert np.isnan(got.height_m[0]) and got.height_m[1] == 22


def test_for_distances_an_estimate_errs_tall() -> None:
    got = heights.fill_heights(
        ["red oak"] * 4, [30, 60, 30, NAN], [NAN, NAN, 40.0, NAN], model="default"
    )
    short, tall = 1.1 * default("red oak", 30), 1.1 * default("red oak", 60)
    assert short < 40 and tall < 40
    # Both estimates are under the tallest measured tree, so they count as it does.
    assert got.for_distances_m().tolist() == [40, 40, 40, 40]
    bare = heights.fill_heights(["red oak"] * 2, [30, 60], [NAN, NAN])
    np.testing.assert_allclose(bare.for_distances_m(), [short, tall])
    assert bare.tallest_for_distances_m() == pytest.approx(tall)
    measured = heights.fill_heights(["red oak"] * 2, [30, 60], [18, 25])
    assert measured.for_distances_m().tolist() == [18, 25]
    nothing = heights.fill_heights(["red oak"], [NAN], [NAN])
    assert nothing.tallest_for_distances_m() is None


def test_an_empty_list() -> None:
    got = heights.fill_heights([], [], [])
    assert got.height_m.size == 0 and got.how == ()
    assert got.tallest_for_distances_m() is None


def test_bad_sizes_are_told_with_their_rows() -> None:
    with pytest.raises(InputFaults) as caught:
        heights.fill_heights(
            ["red oak"] * 3, [30, 0, 30], [1.3, 20, 130], rows=["line 2", "line 3", "line 4"]
        )
    assert [f.split(":")[0] for f in caught.value.faults] == ["line 2", "line 3", "line 4"]


def test_logs_must_fit_their_tree() -> None:
    dbh, height, logs = check_stems([40, 40], [20, 20], [3, 2])
    assert (dbh.tolist(), height.tolist(), logs.tolist()) == ([40, 40], [20, 20], [3, 2])
    with pytest.raises(
        InputFaults,
        match=r"stem 2: 5 logs of 16 ft over a stump need 81 ft, the tree is 65.62 ft high",
    ):
        check_stems([40, 40], [20, 20], [4, 5])
    check_stems([40], np.nan, [8])  # no height: nothing to hold it against
    with pytest.raises(InputFaults, match="13 logs is not 0 to 12"):
        check_stems([40], np.nan, [13])


def test_many_faults_are_cut_short() -> None:
    with pytest.raises(InputFaults) as caught:
        check_stems(np.full(100, -1.0))
    assert len(caught.value.faults) == 21
    assert caught.value.faults[-1] == "and 80 more faults"


lists = st.lists(
    st.tuples(
        st.sampled_from(["red oak", "white ash", "white pine", "hemlock", "no idea"]),
        st.floats(8, 90),
        st.one_of(st.just(NAN), st.floats(8, 40)),
    ),
    min_size=1,
    max_size=25,
)


@given(lists, st.randoms(use_true_random=False))
def test_order_makes_no_difference_and_measured_heights_stand(
    rows: list[tuple[str, float, float]], shuffle: object
) -> None:
    order = list(range(len(rows)))
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    names, dbh, height = (list(column) for column in zip(*rows, strict=True))
    one = heights.fill_heights(names, dbh, height)
    two = heights.fill_heights(*(([c[i] for i in order]) for c in (names, dbh, height)))
    np.testing.assert_allclose(one.height_m[order], two.height_m)
    assert [one.how[i] for i in order] == list(two.how)
    known = ~np.isnan(height)
    assert one.height_m[known].tolist() == np.array(height)[known].tolist()
    assert (one.estimated == ~known).all()
    assert (one.for_distances_m() >= one.height_m - 1e-9).all()
    if known.any():
        assert one.for_distances_m()[~known].min(initial=np.inf) >= np.array(height)[known].max()


@given(st.floats(8, 60), st.floats(1, 20))
def test_a_thicker_tree_is_estimated_taller(dbh_cm: float, more: float) -> None:
    got = heights.fill_heights(
        ["red oak"] * 5, [30, 35, 40, dbh_cm, dbh_cm + more], [20, 24, 23, NAN, NAN]
    )
    assert got.height_m[4] > got.height_m[3] > BREAST_HEIGHT_M
