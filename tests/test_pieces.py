"""What is dragged as one, held against the bucked tree, the taper and the limit of its way."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_pieces import Made, Ways, made, trails
from shapely.geometry import Point
from small_areas import MIDDLE

from layout import species, taper
from layout.bucking import buck
from layout.pieces import LOAD_MOST_KG, begun_findings, pieces_of, too_heavy
from layout.records import RubTree
from layout.site import Earlier, EarlierPiece
from layout.tree_sizes import sizes_of
from layout.work_records import Piece

FOOT_M, INCH_CM, POUND_KG = 0.3048, 2.54, 0.45359237
NAMES = [s.common_name for s in species.species_table()]
OAK: dict[str, Any] = {
    "species": "northern red oak",
    "dbh_cm": 18 * INCH_CM,
    "height_m": 85 * FOOT_M,
}


def of_tree(pieces: tuple[Piece, ...], name: str) -> list[Piece]:
    return [p for p in pieces if p.tree_id == name]


def test_logs_are_those_of_the_bucked_tree_and_weigh_the_error_more() -> None:
    job = made([OAK, {"species": "white pine", "dbh_cm": 30.0, "height_m": 22.0, "at": "W3"}])
    job.ways = Ways(1200.0)
    pieces, shorter = pieces_of(*job.arguments())
    trees = job.area.trees
    cut = buck(trees.species, trees.dbh_cm, trees.height_m, job.area.settings.timber).pieces
    assert len(pieces) == len(cut) > 4
    assert shorter == ()
    assert [p.number for p in pieces] == cut.number.tolist()
    assert [p.kind == "sawlog" for p in pieces] == cut.is_log.tolist()
    np.testing.assert_allclose([p.mass_kg for p in pieces], cut.mass_kg * 1.15)
    np.testing.assert_allclose([p.wood_m3 for p in pieces], cut.wood_m3)
    np.testing.assert_allclose([p.length_m for p in pieces], cut.length_m)
    oak, pine = of_tree(pieces, "T1"), of_tree(pieces, "T2")
    assert {(p.stage, p.trail_id, p.at_m, p.position_id) for p in oak} == {
        ("harvest", "M", 40.0, "W1")
    }
    assert {(p.trail_id, p.at_m, p.position_id) for p in pine} == {("S1", 50.0, "W3")}
    assert all(p.way == job.ways.way("S1", 50.0) and p.mass_known for p in pine)


def test_a_heavy_butt_is_cut_to_the_longest_log_that_is_light_enough() -> None:
    """By hand from the taper, at 80.2 lb a cubic foot of wood with its bark (NRS-38)."""
    limit = 800.0
    job = made([OAK], Ways(limit))
    pieces, (cut,) = pieces_of(*job.arguments())
    tree = taper.stems([OAK["species"]], [OAK["dbh_cm"]], [OAK["height_m"]])
    timber = job.area.settings.timber

    def kg(at: float, length: float) -> float:
        wood = float(tree.wood_below_m3(at + length + timber.trim_m)[0] - tree.wood_below_m3(at)[0])
        return wood / FOOT_M**3 * 80.2 * POUND_KG * 1.15

    at, lengths = timber.stump_height_m, [feet * FOOT_M for feet in (16, 14, 12, 10, 8)]
    top = float(tree.height_at_dib_m(10 * INCH_CM)[0])
    assert kg(at, lengths[0]) > limit  # the usual butt log
    for log in [p for p in pieces if p.kind == "sawlog"]:
        best = next(x for x in lengths if kg(at, x) <= limit and at + x + timber.trim_m <= top)
        assert log.length_m == pytest.approx(best)
        assert log.mass_kg == pytest.approx(kg(at, best), rel=2e-3)
        at += best + timber.trim_m + timber.kerf_m
    assert pieces[0].length_m < lengths[0]
    assert pieces[1].length_m > pieces[0].length_m  # above it a longer one is light enough
    assert (cut.tree_id, cut.position_id, cut.limit_kg, cut.limited_by) == (
        "T1", "W1", limit, "traction",
    )  # fmt: skip
    assert cut.heaviest_kg == pytest.approx(kg(timber.stump_height_m, lengths[0]), rel=2e-3)
    assert cut.lengths_m == tuple(p.length_m for p in pieces)
    assert too_heavy((cut,)) == frozenset()


def test_logs_are_halved_to_four_feet_and_then_the_stem_is_too_heavy() -> None:
    eight_ft = made([OAK], Ways(400.0))  # 8 ft of the butt weigh more
    pieces, (cut,) = pieces_of(*eight_ft.arguments())
    assert pieces[0].length_m == pytest.approx(4 * FOOT_M)
    assert max(p.mass_kg for p in pieces) <= 400.0
    assert min(cut.lengths_m) >= 4 * FOOT_M - 1e-9
    nothing, (refused,) = pieces_of(*made([OAK], Ways(100.0)).arguments())
    assert nothing == ()
    assert refused.lengths_m == ()
    assert too_heavy((cut, refused)) == {"T1"}
    none_at_all, (refused,) = pieces_of(*made([OAK], Ways(0.0)).arguments())
    assert (none_at_all, refused.lengths_m, refused.limit_kg) == ((), (), 0.0)


def test_long_small_wood_stays_one_piece_while_it_is_light_enough() -> None:
    pole = {"species": "northern red oak", "dbh_cm": 25.0, "height_m": 22.0}  # under sawlog size
    (whole,), shorter = pieces_of(*made([pole], Ways(1000.0)).arguments())
    assert (whole.kind, shorter) == ("pulp", ())
    assert whole.length_m > 12
    parts, (cut,) = pieces_of(*made([pole], Ways(0.7 * whole.mass_kg)).arguments())
    assert len(parts) == 2 and len(cut.lengths_m) == 2
    assert parts[0].mass_kg == pytest.approx(parts[1].mass_kg, rel=1e-2)  # but for the kerf
    assert parts[0].length_m < parts[1].length_m
    kerf = made([pole]).area.settings.timber.kerf_m
    assert sum(cut.lengths_m) + kerf == pytest.approx(whole.length_m)
    assert sum(p.mass_kg for p in parts) == pytest.approx(whole.mass_kg, rel=1e-2)


def test_whole_trees_travel_in_one_or_in_parts_of_one_mass() -> None:
    work = {"extract": "tree"}
    light, _ = pieces_of(*made([OAK], Ways(9000.0), work=work).arguments())
    (tree,) = light
    area = made([OAK], work=work).area
    mass, wood = (float(v[0]) for v in (sizes_of(area).mass_kg, sizes_of(area).stem_m3))
    assert (tree.kind, tree.number) == ("tree", 1)
    assert tree.mass_kg == pytest.approx(1.15 * mass)
    assert tree.wood_m3 == pytest.approx(wood)
    assert tree.length_m == pytest.approx(84 * FOOT_M)

    winched, none = pieces_of(*made([OAK], Ways(9000.0), parts=3, work=work).arguments())
    assert [p.kind for p in winched] == ["stem"] * 3
    assert none == ()  # in three anyway
    np.testing.assert_allclose([p.mass_kg for p in winched], 1.15 * mass / 3)
    standing = taper.stems([OAK["species"]], [OAK["dbh_cm"]], [OAK["height_m"]])
    below = np.cumsum([p.length_m for p in winched])
    thirds = [float(standing.wood_below_m3(h)[0]) / wood for h in below]
    np.testing.assert_allclose(thirds, [1 / 3, 2 / 3, 1.0], atol=1e-3)

    held, (cut,) = pieces_of(*made([OAK], Ways(1.15 * mass / 3.5), work=work).arguments())
    assert len(held) == 4 and len(cut.lengths_m) == 4
    assert cut.heaviest_kg == pytest.approx(1.15 * mass)
    nothing, (refused,) = pieces_of(*made([OAK], Ways(90.0), work=work).arguments())
    assert (nothing, refused.lengths_m) == ((), ())


def test_parts_the_winch_asks_for_stay_however_short() -> None:
    rows = [{"species": "red maple", "dbh_cm": 8.0, "height_m": 6.0}]
    exact = {"weight_error": "0 %"}
    job = made(rows, Ways(12.0), parts=3, work={"extract": "tree"}, timber=exact)
    parts, shorter = pieces_of(*job.arguments())
    assert (len(parts), shorter) == (3, ())
    assert all(p.mass_kg <= 12.0 for p in parts)


def test_a_stem_of_unknown_weight_counts_as_two_thousand_pounds() -> None:
    rows = [{"dbh_cm": math.nan, "height_m": math.nan}]
    (one,), shorter = pieces_of(*made(rows, Ways(950.0)).arguments())
    assert one.mass_kg == pytest.approx(2000 * POUND_KG) == LOAD_MOST_KG
    assert (one.kind, one.mass_known, one.wood_m3, one.length_m) == ("stem", False, 0.0, 0.0)
    assert shorter == ()
    two, shorter = pieces_of(*made(rows, Ways(500.0)).arguments())
    assert [(p.number, p.mass_known) for p in two] == [(1, False), (2, False)]
    assert sum(p.mass_kg for p in two) == pytest.approx(LOAD_MOST_KG)
    assert shorter == ()  # nobody knows its lengths
    nothing, (refused,) = pieces_of(*made(rows, Ways(60.0)).arguments())
    assert (nothing, too_heavy((refused,))) == ((), {"T1"})


def test_a_stem_that_gives_neither_log_nor_small_wood_comes_whole() -> None:
    no_small_wood = {"pulp_top": "0 in"}
    rows = [{"species": "northern red oak", "dbh_cm": 20.0, "height_m": 18.0}]
    job = made(rows, timber=no_small_wood)
    (stem,), _ = pieces_of(*job.arguments())
    assert (stem.kind, stem.number) == ("stem", 1)
    assert stem.mass_kg == pytest.approx(1.15 * float(sizes_of(job.area).mass_kg[0]))


def test_stems_in_the_way_come_out_where_they_stand_marked_or_not() -> None:
    near = {"x": 25.0, "y": 31.0}  # 25 m out on the spur, more or less
    rows = [
        near | {"marked": False},
        near | {"x": 26.0},
        {"x": -30.0, "y": -70.0},
        {"marked": False},
    ]
    job = made(rows)
    job.in_trail = ("T1", "T2", "T3")
    pieces, _ = pieces_of(*job.arguments())
    assert {p.tree_id for p in pieces} == {"T1", "T2", "T3"}
    assert {(p.stage, p.position_id) for p in pieces} == {("open", "")}
    spur = trails()[1].line
    for name, x in (("T1", 25.0), ("T2", 26.0)):
        (trail_id, at_m), *_ = {(p.trail_id, p.at_m) for p in of_tree(pieces, name)}
        assert trail_id == "S1"
        assert at_m == pytest.approx(spur.project(Point(MIDDLE[0] + x, MIDDLE[1] + 31.0)))
    assert {(p.trail_id, p.way.travel_m) for p in of_tree(pieces, "T3")} == {("", 0.0)}  # landing


def test_what_is_winched_onto_the_landing_is_there_and_no_way_holds_it() -> None:
    pieces, shorter = pieces_of(*made([OAK | {"at": "W5"}], Ways(1.0)).arguments())
    assert shorter == ()
    assert pieces[0].mass_kg > 500
    assert {(p.trail_id, p.position_id, p.way.travel_m) for p in pieces} == {("", "W5", 0.0)}
    assert {p.way.limit_kg for p in pieces} == {math.inf}


def rub(tree_id: str, *after: str, kind: str = "marked") -> RubTree:
    return RubTree("R1", kind, tree_id, 0.0, 0.0, 10.0, (), (), after)  # type: ignore[arg-type]


def test_rub_trees_come_last_and_wait_for_other_trails_where_those_pass() -> None:
    job = made([OAK | {"at": spot} for spot in ("W2", "W2", "W3", "W4")])
    # T1 waits for its own spur and the fork beyond, T2 for the main trail too
    job.rub_trees = (rub("T1", "W3", "W4"), rub("T2", "W3", "W1"), rub("T3", kind="proposed"))
    pieces, _ = pieces_of(*job.arguments())
    told = {p.tree_id: (p.stage, p.late) for p in pieces}
    assert told == {
        "T1": ("rub", False), "T2": ("rub", True),
        "T3": ("harvest", False), "T4": ("harvest", False),
    }  # fmt: skip


def test_what_is_out_is_left_out() -> None:
    job = made([OAK, OAK])
    all_of, _ = pieces_of(*job.arguments())
    trees = replace(job.area.trees, done=frozenset({"T1"}), done_pieces=frozenset({("T2", 1)}))
    job.area = replace(job.area, trees=trees)
    left, _ = pieces_of(*job.arguments())
    assert left == tuple(p for p in all_of if p.tree_id == "T2" and p.number > 1)


rows = st.lists(
    st.fixed_dictionaries(
        {
            "species": st.sampled_from(NAMES),
            "dbh_cm": st.one_of(st.floats(8.0, 90.0), st.just(math.nan)),
            "height_m": st.floats(6.0, 38.0),
            "at": st.sampled_from(["W1", "W2", "W3", "W4", "W5"]),
        }
    ),
    min_size=1,
    max_size=8,
)
jobs = st.builds(
    lambda rows_, most, less, extract, error, parts: made(
        rows_,
        Ways(most, less),
        parts=parts,
        work={"extract": extract},
        timber={"weight_error": f"{error} %"},
    ),
    rows,
    st.floats(0.0, 3000.0),
    st.floats(0.0, 3.0),
    st.sampled_from(["log", "tree"]),
    st.sampled_from([0, 15, 40]),
    st.integers(1, 3),
)


@settings(max_examples=80)
@given(job=jobs)
def test_nothing_is_lost_and_no_piece_is_over_its_limit(job: Made) -> None:
    """Wood out and wood left make the stem; mass is wood by its density, error included."""
    pieces, shorter = pieces_of(*job.arguments())
    area, sizes = job.area, sizes_of(job.area)
    timber, trees = area.settings.timber, area.trees
    share = 1 + timber.weight_error_pct / 100
    heavy = too_heavy(shorter)
    assert {p.tree_id for p in pieces} | heavy == set(trees.tree_id)
    assert not {p.tree_id for p in pieces} & heavy
    for row, name in enumerate(trees.tree_id):
        own = of_tree(pieces, name)
        if not own:
            continue
        assert [p.number for p in own] == list(range(1, len(own) + 1))
        assert all(p.mass_kg <= p.way.limit_kg * (1 + 1e-8) for p in own)
        mass = math.fsum(p.mass_kg for p in own)
        wood = math.fsum(p.wood_m3 for p in own)
        if math.isnan(trees.dbh_cm[row]):
            assert mass == pytest.approx(LOAD_MOST_KG)
            assert wood == 0
            continue
        if own[0].kind in ("tree", "stem"):
            assert mass == pytest.approx(share * sizes.mass_kg[row])
            assert wood == pytest.approx(sizes.stem_m3[row])
            continue
        density = species.lookup(trees.species[row]).green_kg_per_m3(with_bark=timber.bark)
        assert mass == pytest.approx(share * density * wood)
        # what stays: stump, a kerf over each piece but the last, and the top
        tree = taper.stems([trees.species[row]], [trees.dbh_cm[row]], [sizes.heights.height_m[row]])

        def below(h: float, tree: taper.Stems = tree) -> float:
            return float(tree.wood_below_m3(h)[0])

        at, left = timber.stump_height_m, below(timber.stump_height_m)
        for p in own:
            end = at + p.length_m + (timber.trim_m if p.kind == "sawlog" else 0.0)
            assert p.wood_m3 == pytest.approx(below(end) - below(at), abs=1e-9)
            kerf = end + timber.kerf_m if p is not own[-1] else end
            left += below(kerf) - below(end)
            at = kerf
        left += sizes.stem_m3[row] - below(at)
        assert wood + left == pytest.approx(sizes.stem_m3[row])


@settings(max_examples=30)
@given(job=jobs, data=st.data())
def test_the_order_of_the_list_makes_no_difference(job: Made, data: st.DataObject) -> None:
    turn = data.draw(st.permutations(range(len(job.area.trees))))
    trees = job.area.trees
    columns = {
        name: getattr(trees, name)[np.array(turn)]
        for name in ("x", "y", "dbh_cm", "height_m", "marked", "position_error_m", "lean_deg",
                     "lean_azimuth_deg", "logs", "defect_pct")
    } | {
        name: tuple(getattr(trees, name)[k] for k in turn)
        for name in ("tree_id", "species", "keep", "hazard")
    }  # fmt: skip
    pieces, shorter = pieces_of(*job.arguments())
    job.area = replace(job.area, trees=replace(trees, **columns))
    again, cut_again = pieces_of(*job.arguments())

    def told(some: tuple[Piece, ...]) -> dict[tuple[str, int], tuple[Any, ...]]:
        return {(p.tree_id, p.number): (p.kind, p.way, round(p.mass_kg, 6)) for p in some}

    assert told(again) == told(pieces)
    assert {c.tree_id: c.lengths_m for c in cut_again} == {c.tree_id: c.lengths_m for c in shorter}


def begun(job: Made, pieces: tuple[Piece, ...], *done: int) -> Made:
    """Give a job some of whose first stem's pieces are in, as an earlier plan cut it."""
    before = tuple(
        EarlierPiece(p.tree_id, p.number, p.kind, round(p.length_m, 2), round(p.wood_m3, 3),
                     round(p.mass_kg))
        for p in pieces
    )  # fmt: skip
    trees = replace(job.area.trees, done_pieces=frozenset(("T1", n) for n in done))
    area = replace(job.area, trees=trees, earlier=Earlier((), (), pieces=before))
    return replace(job, area=area)


def test_what_is_left_of_a_begun_stem_stays_as_it_was_cut() -> None:
    first, _ = pieces_of(*made([OAK], Ways(1200.0)).arguments())
    assert len(first) > 3
    # cut alike: the rest is what is not in
    same, _ = pieces_of(*begun(made([OAK], Ways(1200.0)), first, 1).arguments())
    assert [p.number for p in same] == [p.number for p in first[1:]]
    assert not any(p.as_before for p in same) and begun_findings(same) == ()
    wood = sum(p.wood_m3 for p in first[1:])
    changes: list[dict[str, Any]] = [
        {"timber": {"log_lengths": ["8 ft"]}}, {"work": {"extract": "tree"}},
        {"timber": {"log_lengths": ["10 ft", "12 ft"]}},
    ]  # fmt: skip
    for tables in changes:
        otherwise = begun(made([OAK], Ways(1200.0), **tables), first, 1)
        left, shorter = pieces_of(*otherwise.arguments())
        assert [(p.number, p.kind) for p in left] == [(p.number, p.kind) for p in first[1:]]
        np.testing.assert_allclose([p.length_m for p in left], [p.length_m for p in first[1:]],
                                   atol=0.006)  # fmt: skip
        assert sum(p.wood_m3 for p in left) == pytest.approx(wood, abs=0.0006 * len(left))
        assert shorter == ()
        (said,) = begun_findings(left)
        assert (said.code, said.level, said.subject_id) == ("begun_cut_otherwise", "caution", "T1")
    # nothing is known of how it was cut: as it would be now
    unknown = begun(made([OAK], Ways(1200.0)), (), 1)
    assert [p.number for p in pieces_of(*unknown.arguments())[0]] == [p.number for p in same]


def test_a_begun_stem_weighs_no_less_than_it_did_and_is_cut_for_a_lighter_load() -> None:
    first, _ = pieces_of(*made([OAK], Ways(1200.0)).arguments())
    heavy = {"timber": {"weight_error": "50 %", "log_lengths": ["8 ft"]}}
    more, _ = pieces_of(*begun(made([OAK], Ways(9000.0), **heavy), first, 1).arguments())
    for now, was in zip(more, first[1:], strict=True):
        assert now.mass_kg >= was.mass_kg * 1.5 / 1.15 * 0.97
    light = {"timber": {"weight_error": "0 %", "log_lengths": ["8 ft"]}}
    less, _ = pieces_of(*begun(made([OAK], Ways(9000.0), **light), first, 1).arguments())
    assert all(a.mass_kg >= b.mass_kg - 0.5 for a, b in zip(less, first[1:], strict=True))
    # a way that bears less: in parts, with numbers nothing has had
    limit = 0.6 * first[1].mass_kg
    weak = begun(made([OAK], Ways(limit), timber={"log_lengths": ["8 ft"]}), first, 1)
    parts, _ = pieces_of(*weak.arguments())
    assert max(p.mass_kg for p in parts) <= limit * (1 + 1e-9)
    numbers = [p.number for p in parts]
    assert len(set(numbers)) == len(numbers) > len(first) - 1 and 1 not in numbers
    assert sum(p.wood_m3 for p in parts) == pytest.approx(
        sum(p.wood_m3 for p in first[1:]), abs=0.0006 * len(first)
    )
    # shorter than four feet it is not cut: then no load can hold it
    none, cut = pieces_of(
        *begun(made([OAK], Ways(30.0), timber={"log_lengths": ["8 ft"]}), first, 1).arguments()
    )
    assert none == () and too_heavy(cut) == {"T1"}
