"""Standing trees cut into logs, held against cuts made by hand and against totals.

The log rules and the taper have tests of their own; here it is where the cuts fall,
what each piece holds, and that nothing is lost or made between stump and tip.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import species, taper
from layout.bucking import SHORTEST_PULP_M, Bucked, buck
from layout.errors import InputFaults
from layout.log_rules import board_feet
from layout.settings.work_tables import SawlogDbh, TimberTable

INCH_CM, FOOT_M = 2.54, 0.3048
INTERNATIONAL = TimberTable(rule="international-quarter")
NO_LOGS = TimberTable(rule="", log_lengths_m=())
NAMES = [s.common_name for s in species.species_table()]


def oak(timber: TimberTable = INTERNATIONAL, **more: float) -> Bucked:
    return buck(["northern red oak"], [18 * INCH_CM], [85 * FOOT_M], timber, **more)


def cuts_ft(cut: Bucked) -> list[tuple[float, float]]:
    p = cut.pieces
    return [
        (round(a / FOOT_M, 3), round(b / FOOT_M, 3)) for a, b in zip(p.from_m, p.to_m, strict=True)
    ]


def test_a_red_oak_by_hand() -> None:
    # Stump 1 ft; 16 ft and 6 in of trim, a kerf of 1/4 in; the 10-in top lies at 43.2 ft,
    # so that after two 16-ft logs only 8 ft fit; small wood up to 4 in.
    cut = oak()
    kerf = 0.25 / 12
    at = [1.0, 17.5, 17.5 + kerf, 34 + kerf, 34 + 2 * kerf, 42.5 + 2 * kerf, 42.5 + 3 * kerf]
    np.testing.assert_allclose(cuts_ft(cut)[:3], [at[0:2], at[2:4], at[4:6]], atol=1e-3)
    p = cut.pieces
    assert (p.length_m[:3] / FOOT_M).round(6).tolist() == [16, 16, 8]
    assert p.is_log.tolist() == [True, True, True, False]
    assert p.number.tolist() == [1, 2, 3, 4]
    assert float(p.small_end_cm[3]) == pytest.approx(4 * INCH_CM, abs=1e-6)
    tree = taper.stems(["northern red oak"], [18 * INCH_CM], [85 * FOOT_M])
    for n, feet in enumerate((16, 16, 8)):
        small = tree.dib_cm(p.to_m[n])
        assert p.gross_bf[n] == pytest.approx(
            float(board_feet("international-quarter", small, feet * FOOT_M)[0]), rel=1e-9
        )
    assert p.gross_bf[3] == 0
    # NRS-38: 64.0 lb a cubic foot of wood and bark on it makes 80.2
    pounds = p.mass_kg / 0.45359237
    np.testing.assert_allclose(pounds, p.wood_m3 / FOOT_M**3 * 80.2, rtol=2e-3)
    assert cut.logs.tolist() == [3]
    assert float(cut.pieces_kg[0]) == pytest.approx(float(p.mass_kg.sum()))


def test_lengths_are_tried_in_the_order_given() -> None:
    def lengths(*feet: float) -> list[float]:
        p = oak(INTERNATIONAL.model_copy(update={"log_lengths_m": tuple(f * FOOT_M for f in feet)}))
        kept = p.pieces.length_m[p.pieces.is_log] / FOOT_M
        return [float(f) for f in kept.round(6)]

    assert lengths(16, 14, 12, 10, 8) == [16, 16, 8]
    assert lengths(8, 16) == [8, 8, 8, 8]
    assert lengths(12, 16) == [12, 12, 12]
    assert lengths(40) == [40]
    assert lengths(50) == []


def test_a_log_that_fits_exactly_is_cut() -> None:
    tree = taper.stems(["red oak"], [50.0], [25.0])
    top = float(tree.dib_cm(FOOT_M + 5.0 + 0.1)[0])
    exact = INTERNATIONAL.model_copy(
        update={"log_lengths_m": (5.0,), "trim_m": 0.1, "top_diameter_m": top / 100}
    )
    assert buck(["red oak"], [50.0], [25.0], exact).logs.tolist() == [1]
    hair = exact.model_copy(update={"top_diameter_m": top / 100 + 1e-4})
    assert buck(["red oak"], [50.0], [25.0], hair).logs.tolist() == [0]


def test_the_smallest_sawlog_tree_goes_by_its_kind() -> None:
    names = ["red maple", "red maple", "white pine", "white pine"]
    dbh = np.array([10.9, 11.0, 8.9, 9.0]) * INCH_CM
    timber = INTERNATIONAL.model_copy(update={"top_diameter_m": 6 * INCH_CM / 100})
    cut = buck(names, dbh, 70 * FOOT_M, timber)
    assert (cut.logs > 0).tolist() == [False, True, False, True]
    assert (cut.pulp_m3 > 0).all()
    least = SawlogDbh(hardwood_m=0.5, softwood_m=0.5)
    none = buck(names, dbh, 70 * FOOT_M, timber.model_copy(update={"min_sawlog_dbh": least}))
    assert none.logs.tolist() == [0, 0, 0, 0]


def test_no_small_wood_where_the_pulp_top_is_nought() -> None:
    cut = oak(INTERNATIONAL.model_copy(update={"pulp_top_m": 0.0}))
    assert cut.pieces.is_log.all()
    assert cut.pulp_m3.tolist() == [0]


def test_a_stub_of_small_wood_stays_in_the_woods() -> None:
    # A pulp top just under the sawlog top leaves less than a stick of 4 ft.
    cut = oak(INTERNATIONAL.model_copy(update={"pulp_top_m": 9.9 * INCH_CM / 100}))
    assert cut.pulp_m3.tolist() == [0]
    long = buck(["red oak"], [60.0], [30.0], INTERNATIONAL).pieces
    assert (long.length_m[~long.is_log] >= SHORTEST_PULP_M).all()


def test_counted_logs_end_the_sawlog_part() -> None:
    assert oak(logs=1).logs.tolist() == [1]
    assert oak(logs=0).logs.tolist() == [0]
    assert oak(logs=5).logs.tolist() == [3]  # more than the taper gives adds nothing
    short = INTERNATIONAL.model_copy(update={"log_lengths_m": (8 * FOOT_M,)})
    assert oak(short, logs=1).logs.tolist() == [2]
    assert float(oak(logs=1).pulp_m3[0]) > float(oak().pulp_m3[0])


def test_defect_comes_off_sawlogs_only() -> None:
    sound, rotten = oak(), oak(defect_pct=25)
    assert float(rotten.net_bf[0]) == pytest.approx(0.75 * float(sound.gross_bf[0]))
    assert float(rotten.saw_net_m3[0]) == pytest.approx(0.75 * float(sound.saw_m3[0]))
    assert rotten.gross_bf.tolist() == sound.gross_bf.tolist()
    assert rotten.pieces_kg.tolist() == sound.pieces_kg.tolist()
    assert rotten.pulp_m3.tolist() == sound.pulp_m3.tolist()
    by_default = oak(INTERNATIONAL.model_copy(update={"defect_pct": 10.0}))
    assert float(by_default.net_bf[0]) == pytest.approx(0.9 * float(sound.gross_bf[0]))
    assert by_default.pieces.net_bf.sum() == pytest.approx(float(by_default.net_bf[0]))


@pytest.mark.parametrize("rule", ["", "cubic"])
def test_no_board_feet_without_a_rule(rule: str) -> None:
    cut = oak(INTERNATIONAL.model_copy(update={"rule": rule}))
    assert cut.log_rule == rule
    assert np.isnan(cut.gross_bf).all() and np.isnan(cut.net_bf).all()
    assert np.isnan(cut.pieces.gross_bf[cut.pieces.is_log]).all()
    assert float(cut.saw_m3[0]) == pytest.approx(float(oak().saw_m3[0]))


def test_weights_without_bark() -> None:
    bare = oak(INTERNATIONAL.model_copy(update={"bark": False}))
    assert float(bare.pieces_kg[0] / oak().pieces_kg[0]) == pytest.approx(64.0 / 80.2, rel=2e-3)


def test_pieces_are_numbered_from_each_trees_butt() -> None:
    p = buck(["red oak"] * 2, [45.0, 50.0], [25.0, 28.0], INTERNATIONAL).pieces
    for tree in (0, 1):
        own = p.tree == tree
        assert p.number[own].tolist() == list(range(1, int(own.sum()) + 1))
        assert p.from_m[own].tolist() == sorted(p.from_m[own])


def test_what_is_not_known_gives_no_pieces_and_no_figure() -> None:
    cut = buck(["red oak"] * 3, [np.nan, 45.0, 45.0], [20.0, np.nan, 25.0], INTERNATIONAL)
    assert set(cut.pieces.tree.tolist()) == {2}
    for figure in (cut.logs, cut.gross_bf, cut.saw_m3, cut.pulp_m3, cut.pieces_kg, cut.left_m3):
        assert np.isnan(figure).tolist() == [True, True, False]


def test_an_empty_list_gives_an_empty_answer() -> None:
    cut = buck([], [], [], INTERNATIONAL)
    assert len(cut.pieces) == 0
    assert cut.gross_bf.size == 0


def test_faults_name_their_rows() -> None:
    with pytest.raises(InputFaults) as caught:
        buck(
            ["red oak"] * 4,
            [30.0, -1.0, 30.0, 30.0],
            [20.0, 20.0, 1.0, 15.0],
            INTERNATIONAL,
            logs=[1, 1, 0, 4],
            rows=["line 2", "line 3", "line 4", "line 5"],
        )
    first, second, third = caught.value.faults
    assert first.startswith("line 3: a DBH of -1 cm")
    assert second.startswith("line 4: a height of 1 m")
    assert third.startswith("line 5: 4 logs of 16 ft over a stump need 65 ft")
    with pytest.raises(InputFaults, match="line 2: a defect of 101 %"):
        buck(["red oak"], [30.0], [20.0], INTERNATIONAL, defect_pct=101, rows=["line 2"])


def many(n: int) -> tuple[list[str], np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    names = [NAMES[i] for i in rng.integers(0, len(NAMES), n)]
    return names, rng.uniform(10, 85, n), rng.uniform(10, 36, n)


def test_a_large_list_is_cut_whole() -> None:
    names, dbh, height = many(4500)
    cut = buck(names, dbh, height, INTERNATIONAL)
    assert len(cut.pieces) > 9000


def test_the_order_of_the_list_makes_no_difference() -> None:
    names, dbh, height = many(200)
    turn = np.random.default_rng(1).permutation(200)
    one = buck(names, dbh, height, INTERNATIONAL)
    two = buck([names[i] for i in turn], dbh[turn], height[turn], INTERNATIONAL)
    np.testing.assert_array_equal(one.gross_bf[turn], two.gross_bf)
    np.testing.assert_array_equal(one.pulp_m3[turn], two.pulp_m3)
    np.testing.assert_array_equal(one.pieces_kg[turn], two.pieces_kg)


timbers = st.builds(
    lambda rule, lengths, trim, stump, top, pulp: TimberTable(
        rule=rule,
        log_lengths_m=tuple(lengths),
        trim_m=trim,
        stump_height_m=stump,
        top_diameter_m=top,
        pulp_top_m=pulp,
    ),
    st.sampled_from(["international-quarter", "doyle", "scribner"]),
    st.lists(st.floats(2.4, 6.2), min_size=1, max_size=4),
    st.floats(0, 0.3),
    st.floats(0.05, 0.6),
    st.floats(0.12, 0.4),
    st.floats(0, 0.15),
)


@given(st.sampled_from(NAMES), st.floats(8, 100), st.floats(5, 40), timbers)
def test_nothing_is_lost_between_stump_and_tip(
    name: str, dbh_cm: float, height_m: float, timber: TimberTable
) -> None:
    cut = buck([name], [dbh_cm], [height_m], timber)
    p, whole = cut.pieces, float(taper.stems([name], [dbh_cm], [height_m]).wood_m3[0])
    parts = cut.saw_m3 + cut.pulp_m3 + cut.left_m3
    assert float(parts[0]) == pytest.approx(whole)
    assert float(cut.left_m3[0]) > 0
    assert (p.wood_m3 > 0).all() and (p.gross_bf >= 0).all()
    # Pieces follow one another from the stump, with a kerf between, within the tree.
    if len(p):
        assert p.from_m[0] == pytest.approx(timber.stump_height_m)
        np.testing.assert_allclose(p.from_m[1:], p.to_m[:-1] + timber.kerf_m)
        assert p.to_m[-1] <= height_m
    logs = p.is_log
    np.testing.assert_allclose(p.to_m[logs] - p.from_m[logs], p.length_m[logs] + timber.trim_m)
    assert set(p.length_m[logs]) <= set(timber.log_lengths_m)
    assert (p.small_end_cm[logs] >= 100 * timber.top_diameter_m - 1e-4).all()
    assert (p.small_end_cm <= p.large_end_cm + 1e-9).all()
    # What is left of the sawlog part is shorter than the shortest log.
    standing = taper.stems([name], [dbh_cm], [height_m])
    top = float(standing.height_at_dib_m(100 * timber.top_diameter_m)[0])
    end = float(p.to_m[logs].max()) + timber.kerf_m if logs.any() else timber.stump_height_m
    kind = species.lookup(name).kind
    if dbh_cm >= 100 * getattr(timber.min_sawlog_dbh, f"{kind}_m"):
        assert top - end < min(timber.log_lengths_m) + timber.trim_m + 1e-5
    else:
        assert not logs.any()


@given(st.sampled_from(NAMES), st.floats(20, 80), st.floats(10, 34), st.floats(1.02, 1.2))
def test_a_thicker_or_taller_tree_holds_more_wood(
    name: str, dbh_cm: float, height_m: float, more: float
) -> None:
    def out(d: float, h: float) -> float:
        cut = buck([name], [d], [h], NO_LOGS)
        return float(cut.pulp_m3[0])

    one = out(dbh_cm, height_m)
    assert out(dbh_cm * more, height_m) > one
    assert out(dbh_cm, height_m * more) > one


@given(
    st.sampled_from(NAMES), st.floats(12, 90), st.floats(8, 36), timbers, st.floats(5, 2000),
    st.floats(5, 2000),
)  # fmt: skip
def test_pieces_are_light_enough_where_four_feet_are(
    name: str, dbh_cm: float, height_m: float, timber: TimberTable, one_kg: float, two_kg: float
) -> None:
    less, more = sorted((one_kg, two_kg))
    usual = buck([name], [dbh_cm], [height_m], timber).pieces
    cut = buck([name] * 3, [dbh_cm] * 3, [height_m] * 3, timber, most_kg=[less, np.inf, more])
    p = cut.pieces
    mine = [p.tree == n for n in range(3)]
    # a tree that nothing holds down is cut as ever, whatever stands beside it
    np.testing.assert_array_equal(p.to_m[mine[1]], usual.to_m)
    np.testing.assert_array_equal(p.mass_kg[mine[1]], usual.mass_kg)
    for which, most in ((mine[0], less), (mine[2], more)):
        if (usual.mass_kg <= most).all():
            np.testing.assert_array_equal(p.to_m[which], usual.to_m)
        # one piece follows the other, a kerf between, none shorter than the least
        np.testing.assert_allclose(p.from_m[which][1:], p.to_m[which][:-1] + timber.kerf_m)
        logs = which & p.is_log
        halves = {min(timber.log_lengths_m) / 2**k for k in range(6)} | {SHORTEST_PULP_M}
        assert set(p.length_m[logs]) <= set(timber.log_lengths_m) | halves
        assert (p.mass_kg[logs] <= most * (1 + 1e-9)).all()
        assert (p.length_m[logs] + timber.trim_m >= SHORTEST_PULP_M - 1e-6).all()
        small = which & ~p.is_log
        assert (p.length_m[small] >= SHORTEST_PULP_M - 1e-6).all()
        if (p.mass_kg[small] > most * (1 + 1e-9)).any():
            # the lowest is as short as may be, or the whole is too short to be cut again
            whole = p.to_m[small].max() - p.from_m[small].min()
            assert p.length_m[small][0] < SHORTEST_PULP_M + 1e-6 or whole < (1 + small.sum()) * (
                SHORTEST_PULP_M + timber.kerf_m
            )
    np.testing.assert_allclose(
        cut.saw_m3 + cut.pulp_m3 + cut.left_m3, cut.left_m3[1] + sum(usual.wood_m3)
    )


def test_even_a_list_of_short_logs_keeps_to_the_weight() -> None:
    sticks = TimberTable(rule="", log_lengths_m=(4 * FOOT_M,))
    usual = buck(["red oak"], [50.0], [25.0], sticks).pieces
    heaviest = float(usual.mass_kg.max())
    cut = buck(["red oak"], [50.0], [25.0], sticks, most_kg=0.9 * heaviest).pieces
    assert (cut.mass_kg[cut.is_log] <= 0.9 * heaviest).all()
