"""The order of work on trail trees put down by hand, and on any that chance makes.

Open near to far, harvest far to near, each spur's rub trees and closing before the next,
junctions and main trail after, the landing last: common practice, no source. No work
within two tree lengths of a danger tree: sources.TWO_TREE_LENGTHS.
"""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_jobs import LENGTH_M, Job, check, row, said, two_spurs

from layout.harvest_order import near_to_far, ways
from layout.site import EarlierTurn, ProgressRow
from layout.trail_states import trail_states
from layout.work_records import Turn, WorkStep


def ordered(job: Job) -> list[str]:
    turns, steps = job.order()
    check(job, turns, steps)
    return said(steps)


def rest(steps: list[str]) -> list[str]:
    """Drop flagging and opening."""
    return [step for step in steps if step.split()[0] not in ("flag", "open")]


# --- the order itself


def test_near_to_far_to_open_and_far_to_near_to_harvest() -> None:
    assert ordered(two_spurs()) == [
        "flag",
        "open M", "open S1", "open S2",
        "fell W4 e", "winch W4 e", "haul W4 D1", "close S2",
        "fell W1 a", "winch W1 a", "haul W1 D2",
        "fell W3 d", "winch W3 d", "haul W3 D3",
        "fell W2 b,c", "winch W2 b,c", "haul W2 D4", "close S1",
        "close M", "landing",
    ]  # fmt: skip


def test_near_first_takes_branches_from_the_landing_but_each_spur_from_its_end() -> None:
    steps = rest(ordered(two_spurs(harvest="near-first")))
    assert [s for s in steps if s.split()[0] in ("fell", "close")] == [
        "fell W3 d", "fell W2 b,c", "close S1",
        "fell W1 a",
        "fell W4 e", "close S2",
        "close M",
    ]  # fmt: skip


def test_a_branch_of_a_branch_is_closed_before_its_host() -> None:
    job = two_spurs()
    job.trail("S3", "S1", 60.0)
    job.at("W5", "S3", 10.0, "f")
    job.load("f")
    steps = ordered(job)
    assert [s for s in steps if s.startswith("open")] == ["open M", "open S1", "open S3", "open S2"]
    assert [s for s in steps if s.startswith("close")] == [
        "close S2", "close S3", "close S1", "close M",
    ]  # fmt: skip
    # between the places beyond and before its mouth
    felled = [s for s in steps if s.startswith("fell")]
    assert felled.index("fell W3 d") < felled.index("fell W5 f") < felled.index("fell W2 b,c")


def test_stems_come_out_as_their_trail_is_opened_the_near_ones_first() -> None:
    job = two_spurs()
    for tree in ("s", "t", "u"):
        job.trees.append({"tree_id": tree, "x": 50, "y": 50})
    job.load("t", stage="open", trail="M", at_m=90.0)
    job.load("s", stage="open", trail="M", at_m=10.0)
    job.load("u", stage="open", trail="S2", at_m=5.0)
    steps = ordered(job)
    assert steps[1:4] == ["open M s,t D1+D2", "open S1", "open S2 u D3"]
    assert "haul W4 D4" in steps


def test_the_landing_is_cleared_first_and_its_own_pulls_come_last() -> None:
    job = two_spurs()
    job.trees.append({"tree_id": "y", "x": 50, "y": 50})
    job.load("y", stage="open")
    job.at("W9", "", 0.0, "z")
    job.load("z")
    steps = ordered(job)
    assert steps[1] == "open y D1"
    assert steps[-5:] == ["close M", "fell W9 z", "winch W9 z", "haul W9 D6", "landing"]
    job.work["harvest"] = "near-first"
    assert rest(ordered(job))[:3] == ["fell W9 z", "winch W9 z", "haul W9 D2"]


def test_rub_trees_of_a_spur_before_it_is_closed_of_junctions_when_all_is_in() -> None:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.at("W7", "M", 30.0, "rm", "rn")
    for tree in ("rs", "rm", "rn"):
        job.load(tree, stage="rub")
    job.rub("rs", "S1", 15.0)  # on the spur itself
    job.rub("rm", "M", 45.0)  # at its mouth
    job.rub("rn", "M", 110.0)  # farther out: no load passes after S2
    steps = ordered(job)
    assert steps[-6:] == [
        "haul W2 D4", "rub S1 rs D5", "close S1", "rub M rn,rm D6+D7", "close M", "landing",
    ]  # fmt: skip
    assert not any("W7" in s or "W6" in s for s in steps)


def test_a_load_of_two_places_goes_in_after_the_nearer_one() -> None:
    job = two_spurs()
    job.turns.clear()
    job.load("d", "b")
    for tree in "ace":
        job.load(tree)
    steps = rest(ordered(job))
    assert steps[7:12] == [
        "fell W3 d", "winch W3 d", "fell W2 b,c", "winch W2 b,c", "haul W2 D3+D4",
    ]  # fmt: skip


def test_a_load_that_fills_up_past_its_spur_calls_that_place_ahead() -> None:
    job = two_spurs()
    job.at("W8", "M", 20.0, "g")
    job.turns.clear()
    job.load("e", "g")  # from S2, topped up at 20 on the main trail
    for trees in (("a",), ("b", "c"), ("d",)):
        job.load(*trees)
    steps = rest(ordered(job))
    assert steps[:6] == [
        "fell W4 e", "winch W4 e", "fell W8 g", "winch W8 g", "haul W8 D1", "close S2",
    ]  # fmt: skip


def test_a_spur_waits_open_for_a_rub_tree_that_other_loads_still_meet() -> None:
    job = two_spurs()
    job.at("W6", "S2", 20.0, "r")
    job.load("r", stage="rub")
    job.rub("r", "M", 70.0)  # winched onto S2, and W1 at 80 passes it
    steps = rest(ordered(job))
    assert steps[:8] == [
        "fell W4 e", "winch W4 e", "haul W4 D1",
        "fell W1 a", "winch W1 a", "haul W1 D2",
        "rub S2 r D3", "close S2",
    ]  # fmt: skip


def test_a_load_of_two_rub_trees_goes_in_with_the_later_one() -> None:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.at("W7", "M", 30.0, "rm")
    job.load("rs", "rm", stage="rub")
    job.rub("rs", "S1", 15.0)
    job.rub("rm", "M", 25.0)
    steps = ordered(job)
    assert steps[-5:] == ["rub S1 rs", "rub M rm D5", "close S1", "close M", "landing"]


def test_hazard_trees_come_down_before_any_other_work_near_them() -> None:
    job = two_spurs()
    job.at("W5", "S1", 60.0, "h", "k", hazards="h")
    job.load("k", "h")
    job.trees.append({"tree_id": "lost", "x": 9, "y": 9, "marked": True, "hazard": "rot"})
    job.trees.append({"tree_id": "stays", "x": 9, "y": 9, "hazard": "rot"})
    turns, steps = job.order()
    job.trees.pop()
    check(job, turns, steps)
    words = said(steps)
    assert words[:4] == ["flag", "fell lost", "fell W5 h", "open M"]
    assert "fell W5 k" in words
    assert "winch W5 k,h" in words


def test_both_styles_and_any_crew_follow_one_another_and_never_overlap() -> None:
    made = [
        ordered(two_spurs(work_style=style, crew=crew))  # type: ignore[arg-type]
        for style in ("tree-by-tree", "fell-then-winch")
        for crew in (1, 2)
    ]
    assert all(steps == made[0] for steps in made)
    kinds = [s.split()[0] for s in made[0]]
    after = {kinds[k + 1] for k, kind in enumerate(kinds) if kind == "fell"}
    assert after == {"winch"}


def test_what_no_load_holds_is_not_felled() -> None:
    job = two_spurs()
    job.at("W5", "S2", 90.0, "heavy")
    turns, steps = job.order()
    check(job, turns, steps)
    assert not any("heavy" in step.tree_ids for step in steps)
    assert not any(step.position_id == "W5" for step in steps)


def test_a_trail_no_load_comes_over_is_neither_opened_nor_closed() -> None:
    job = two_spurs()
    job.trail("S9", "M", 20.0)
    assert not any("S9" in step for step in ordered(job))


def test_nothing_to_do_is_no_step() -> None:
    job = Job()
    job.trail("M")
    assert job.order() == ((), ())


def test_no_trail_at_all_leaves_the_landing() -> None:
    job = Job()
    job.at("W1", "", 0.0, "a")
    job.load("a")
    assert ordered(job) == ["fell W1 a", "winch W1 a", "haul W1 D1", "landing"]


# --- minutes, names


def test_minutes_are_those_of_the_parts() -> None:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.load("rs", stage="rub")
    job.rub("rs", "S1", 15.0)
    job.trees.append({"tree_id": "t", "x": 50, "y": 50})
    job.load("t", stage="open", trail="M", at_m=9.0)
    _, steps = job.order()
    got = {word: step.minutes for word, step in zip(said(steps), steps, strict=True)}
    assert got["flag"] == 3 * 1.0
    assert got["open M t D1"] == 10.0 + 2.0 + 7.0
    assert got["fell W2 b,c"] == 2 * 2.0
    assert got["winch W2 b,c"] == 2 * 3.0
    assert got["haul W2 D5"] == 7.0
    assert got["rub S1 rs D6"] == 2.0 + 3.0 + 7.0
    assert got["close S1"] == 100.0
    assert got["landing"] == 60.0
    whole = 3 + 3 * 10 + 7 * 2 + 6 * 3 + 6 * 7 + 3 * 100 + 60
    assert sum(step.minutes for step in steps) == whole


def test_loads_that_are_in_or_gone_are_handed_on() -> None:
    job = two_spurs()
    old = replace(job.turns[0], turn_id="D77", state="done", tree_ids=("old",))
    job.turns.append(old)
    turns, steps = job.order()
    assert turns[-1] == old
    assert [t.order for t in turns[:-1]] == [1, 2, 3, 4]
    assert not any("D77" in step.turn_ids or "old" in step.tree_ids for step in steps)


def test_a_name_for_each_load_or_none() -> None:
    job = two_spurs()
    with pytest.raises(ValueError, match="zip"):
        work_order_named(job, ["only one"])


def work_order_named(job: Job, names: list[str]) -> None:
    from layout import work_order as room

    each = room.StepMinutes(*[lambda _: 1.0] * 6)
    room.work_order(
        job.area(), job.trails, job.positions, job.pulls, job.rubs, job.turns, each,
        lambda turns: names,
    )  # fmt: skip


# --- what is done already


def test_an_opened_trail_opens_its_host_and_a_flagged_one_only_its_ribbons() -> None:
    job = two_spurs()
    job.trail("S3", "S1", 60.0)
    job.progress = (row("S3", "opened"), row("S2", "flagged"))
    states = trail_states(job.area(), job.trails)
    assert states.flagged == {"M", "S1", "S2", "S3"}
    assert states.opened == {"M", "S1", "S3"}
    assert states.done == set()


@pytest.mark.parametrize(
    ("told", "opened"),
    [
        (row("W2", "opened", "position"), True),
        (row("W2", "done", "position"), True),
        (row("W2", "flagged", "position"), False),
        (row("D5", "", "turn"), True),  # a load that is in came over it
        (row("D6", "", "turn"), False),  # a stem out of the trail while it is opened
        (row("D5", "flagged", "turn"), False),
        (row("S1", "", "tree"), False),
    ],
)  # fmt: skip
def test_positions_and_loads_tell_of_their_trail(told: ProgressRow, opened: bool) -> None:
    job = two_spurs()
    job.progress = (told,)
    job.earlier_turns = (
        EarlierTurn("D5", "S1", "W2", ("x",)), EarlierTurn("D6", "S1", "", ("y",)),
    )  # fmt: skip
    area = replace(job.area(), fixed=())
    states = trail_states(area, job.trails)
    assert states.opened == ({"M", "S1"} if opened else set())


def test_of_several_rows_the_farthest_on_counts() -> None:
    job = two_spurs()
    job.progress = (row("S2", "done"), row("S2", "opened"), row("S2", "flagged"))
    states = trail_states(job.area(), job.trails)
    assert states.done == {"S2"}
    assert "S2" not in states.opened


def test_a_name_of_this_plan_only_is_no_word_about_the_earlier_one() -> None:
    job = two_spurs()
    job.progress = (row("S2", "opened"),)
    area = replace(job.area(), fixed=(), earlier=None)
    assert trail_states(area, job.trails).opened == set()


def test_what_is_opened_gets_no_step_to_open_and_is_closed_in_its_turn() -> None:
    job = two_spurs()
    job.progress = (row("S1", "opened"),)
    turns, steps = job.order()
    check(job, turns, steps, opened=frozenset({"M", "S1"}))
    words = said(steps)
    assert words[:4] == ["(open) M", "(open) S1", "flag", "open S2"]
    assert sum("close S1" in word for word in words) == 1
    assert all(step.minutes == 0 for step in steps if step.done)


def test_a_stem_left_in_an_opened_trail_still_comes_out() -> None:
    job = two_spurs()
    job.progress = (row("S1", "opened"),)
    job.trees.append({"tree_id": "t", "x": 50, "y": 50})
    job.load("t", stage="open", trail="S1", at_m=9.0)
    turns, steps = job.order()
    check(job, turns, steps, opened=frozenset({"M", "S1"}))
    (step,) = (s for s in steps if s.kind == "open" and s.trail_id == "S1")
    assert (step.tree_ids, step.minutes, step.done) == (("t",), 2.0 + 7.0, False)


def test_a_closed_trail_without_loads_is_done_and_with_loads_is_opened_again() -> None:
    job = two_spurs()
    job.progress = (row("S2", "done"), row("S1", "done"))
    job.turns = [turn for turn in job.turns if turn.trail_id != "S2"]
    turns, steps = job.order()
    check(job, turns, steps, opened=frozenset({"M"}) & set(), closed=frozenset({"S1", "S2"}))
    words = said(steps)
    assert "(close) S2" in words
    assert "open S1" in words and "close S1" in words
    assert "open S2" not in words and "close S2" not in words


def test_what_is_open_and_idle_is_closed_all_the_same() -> None:
    job = two_spurs()
    job.progress = (row("S2", "opened"),)
    job.turns = [turn for turn in job.turns if turn.trail_id != "S2"]
    turns, steps = job.order()
    check(job, turns, steps, opened=frozenset({"M", "S2"}))
    assert "close S2" in said(steps)


def test_when_all_is_in_what_is_open_is_closed_and_the_landing_is_left() -> None:
    job = two_spurs()
    job.progress = (row("S1", "opened"), row("S2", "done"))
    job.turns = []
    _, steps = job.order()
    assert said(steps) == [
        "(flag)", "(open) M", "(open) S1", "(close) S2", "close S1", "close M", "landing",
    ]  # fmt: skip


def test_what_is_left_of_a_stem_is_neither_felled_nor_winched_again() -> None:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.load("rs", stage="rub")
    job.rub("rs", "S1", 15.0)
    job.done_pieces = frozenset({("b", 2), ("rs", 3)})
    steps = ordered(job)
    assert steps[steps.index("haul W3 D3") :] == [
        "haul W3 D3", "fell W2 c", "winch W2 c", "haul W2 D4",
        "haul S1 D5", "close S1", "close M", "landing",
    ]  # fmt: skip
    # logs are winched one by one: the others may still lie at the stump
    job.whole_stems = False
    steps = ordered(job)
    assert steps[steps.index("haul W3 D3") :] == [
        "haul W3 D3", "fell W2 c", "winch W2 b,c", "haul W2 D4",
        "winch W6 rs", "haul S1 D5", "close S1", "close M", "landing",
    ]  # fmt: skip


def test_a_hazard_tree_that_lies_is_none() -> None:
    job = two_spurs()
    job.at("W5", "S1", 60.0, "h", hazards="h")
    job.load("h")
    job.done_pieces = frozenset({("h", 2)})
    assert "fell W5 h" not in ordered(job)


# --- any job


def ready(job: Job) -> tuple[list[Turn], list[WorkStep]]:
    turns, steps = job.order()
    return list(turns), list(steps)


@st.composite
def jobs(draw: st.DrawFn) -> tuple[Job, frozenset[str], frozenset[str]]:
    """Give a job on any trail tree, with what is opened and closed to begin with."""
    job = Job(work={"harvest": draw(st.sampled_from(["far-first", "near-first"]))})
    stations = st.integers(0, int(LENGTH_M / 10)).map(lambda k: 10.0 * k)
    names = ["M"] + [f"S{n}" for n in range(1, 1 + draw(st.integers(0, 5)))]
    job.trail("M")
    for n, name in enumerate(names[1:], start=1):
        root = draw(st.integers(0, 9)) == 0
        job.trail(name, "" if root else draw(st.sampled_from(names[:n])), draw(stations))
    by_id = {t.trail_id: t for t in job.trails}

    def way(name: str) -> list[str]:
        return [name, *way(by_id[name].joins_id)] if name else []

    count = 0
    for n in range(draw(st.integers(0, 6))):
        trees = [f"t{count + k}" for k in range(draw(st.integers(0, 3)))]
        count += len(trees)
        bad = " ".join(t for t in trees if draw(st.integers(0, 9)) == 0)
        job.at(f"W{n}", draw(st.sampled_from([*names, ""])), draw(stations), *trees, hazards=bad)
    spots = {p.position_id: p for p in job.positions}
    where = {p.tree_id: spots[p.position_id] for p in job.pulls}
    hazards = {t["tree_id"] for t in job.trees if t["hazard"]}
    kept = [t for t in where if t not in hazards and draw(st.integers(0, 4)) == 0]
    for tree in kept:
        beside = draw(st.sampled_from([*way(where[tree].trail_id), *names]))
        job.rub(tree, beside, draw(stations))
    for stage, pool in (("harvest", [t for t in where if t not in kept]), ("rub", kept)):
        pool = [t for t in pool if t in hazards or draw(st.integers(0, 9)) > 0]  # some too heavy
        pool = draw(st.permutations(pool))
        while pool:
            size = draw(st.integers(1, 3))
            together, pool = pool[:size], pool[size:]
            # the farthest first: what it starts with decides where it starts
            together.sort(key=lambda t: -where[t].at_m - job.mouth_m(where[t].trail_id))
            job.load(*together, stage=stage)  # type: ignore[arg-type]
            if draw(st.booleans()):  # a second piece of one of them goes on a load of its own
                job.load(together[-1], stage=stage)  # type: ignore[arg-type]
    for n in range(draw(st.integers(0, 3))):
        tree = {"tree_id": f"in{n}", "x": 1, "y": 1}
        job.trees.append(tree)
        job.load(f"in{n}", stage="open", trail=draw(st.sampled_from([*names, ""])),
                 at_m=draw(stations))  # fmt: skip
    begun = [t for t in where if draw(st.integers(0, 9)) == 0]
    job.done_pieces = frozenset((tree, 9) for tree in begun)
    job.whole_stems = draw(st.booleans())
    known: dict[str, str] = {}
    if draw(st.booleans()):
        states = st.sampled_from(["flagged", "opened", "done", "unknown"])
        known = {name: state for name in names if (state := draw(states)) != "unknown"}
    job.progress = tuple(row(name, state) for name, state in known.items())
    opened = {n for name, state in known.items() if state == "opened" for n in way(name)}
    closed = {name for name, state in known.items() if state == "done"}
    return job, frozenset(opened - closed), frozenset(closed)


@given(jobs())
@settings(max_examples=300)
def test_any_job_can_be_done_in_its_order(
    given: tuple[Job, frozenset[str], frozenset[str]],
) -> None:
    job, opened, closed = given
    turns, steps = ready(job)
    lost = {t["tree_id"] for t in job.trees if t.get("hazard")}
    if turns or steps or lost:
        check(job, turns, steps, opened=opened, closed=closed)


@given(jobs())
@settings(max_examples=60)
def test_the_order_is_the_same_however_the_parts_are_listed(
    given: tuple[Job, frozenset[str], frozenset[str]],
) -> None:
    job, _, _ = given
    # loads keep their order: it decides between loads from one place
    _, steps = ready(job)
    job.positions.reverse()
    job.pulls.reverse()
    job.rubs.reverse()
    assert ready(job)[1] == steps


@given(jobs())
@settings(max_examples=60)
def test_trails_open_by_their_way_out(given: tuple[Job, frozenset[str], frozenset[str]]) -> None:
    job, _, _ = given
    sorted_trails = near_to_far(job.trails)
    out = [job.mouth_m(t.trail_id) for t in sorted_trails]
    assert out == sorted(out)
    routes, seen = ways(job.trails), set[str]()
    for trail in sorted_trails:
        assert seen.issuperset(routes[trail.trail_id][1:])
        seen.add(trail.trail_id)


# --- the walk notices


def swapped(steps: list[WorkStep], first: str, second: str) -> list[WorkStep]:
    words = said(steps)
    a, b = words.index(first), words.index(second)
    steps = list(steps)
    steps[a], steps[b] = steps[b], steps[a]
    return [replace(step, number=k) for k, step in enumerate(steps, start=1)]


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ("open M", "open S1", "opened before"),
        ("fell W4 e", "winch W4 e", "winches what stands"),
        ("winch W4 e", "haul W4 D1", "lies at its stump"),
        ("haul W4 D1", "close S2", "which is closed"),
        ("close S1", "close M", "shut before"),
        ("close M", "landing", "after the landing"),
        ("rub S1 rs D5", "haul W2 D4", "is cut before"),
        ("flag", "open M", "flagged too late"),
    ],
)  # fmt: skip
def test_the_walk_notices(first: str, second: str, words: str) -> None:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.load("rs", stage="rub")
    job.rub("rs", "S1", 15.0)
    turns, steps = ready(job)
    with pytest.raises(AssertionError, match=words):
        check(job, turns, swapped(steps, first, second))


def test_the_walk_notices_what_is_lost_or_done_twice() -> None:
    job = two_spurs()
    turns, steps = ready(job)
    number = {word: k for k, word in enumerate(said(steps))}

    def without(word: str) -> list[WorkStep]:
        kept = steps[: number[word]] + steps[number[word] + 1 :]
        return [replace(step, number=k) for k, step in enumerate(kept, start=1)]

    for word, why in (("haul W1 D2", "a load is lost"), ("close S2", "shut before"),
                      ("landing", "the landing is left"), ("open S2", "is not open")):  # fmt: skip
        with pytest.raises(AssertionError, match=why):
            check(job, turns, without(word))
    again = [*steps[:-1], replace(steps[number["haul W1 D2"]], number=len(steps))]
    with pytest.raises(AssertionError, match=r"twice|closed"):
        check(job, turns, again)
