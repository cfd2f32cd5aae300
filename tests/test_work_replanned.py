"""Plans made anew when some of the work is done: what is left counts, once each."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_plan import layout_only

import layout
from layout.outputs import about, plan_json
from layout.plan import Plan

METRIC = Path(__file__).parent / "data" / "metric_area"
TRAILER = '[trailer]\nuse = true\nbraked = true\ndownhill = "20 %"\nuphill = "15 %"\n'


def begun(folder: Path, more: str = "") -> Plan:
    """Lay an area out in a folder of its own, and keep its plan there."""
    shutil.copytree(METRIC, folder, dirs_exist_ok=True)
    text = (folder / "area.toml").read_text(encoding="utf-8")
    (folder / "area.toml").write_text(f"{text}\n{more}", encoding="utf-8")
    return kept(folder)


def kept(folder: Path) -> Plan:
    """Make a plan of a folder and leave it where the next run looks for it."""
    plan = layout_only(layout.read_area(folder))
    (folder / "out").mkdir(exist_ok=True)
    data = plan_json.as_data(plan, about.facts(plan), ())
    plan_json.write(data, folder / "out" / "plan.json")
    return plan


def ticked(folder: Path, *rows: str) -> None:
    """Write what is done."""
    lines = ["id,date,note,state", *rows]
    (folder / "progress.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    """Give the area as it was laid out first, and where that lies."""
    folder = tmp_path_factory.mktemp("first")
    return folder, begun(folder)


@pytest.fixture
def lot(first: tuple[Path, Plan], tmp_path: Path) -> Path:
    shutil.copytree(first[0], tmp_path, dirs_exist_ok=True)
    return tmp_path


def several(plan: Plan) -> list[str]:
    """Name one load each of some trees whose pieces come in several."""
    assert plan.work is not None
    planned = [turn for turn in plan.work.turns if turn.state == "planned"]
    out: list[str] = []
    for turn in planned:
        shared = [t for t in planned if set(t.tree_ids) & set(turn.tree_ids)]
        if len(shared) > 1 and not any(t.turn_id in out for t in shared):
            out.append(turn.turn_id)
    return out


@pytest.mark.slow
def test_hours_of_what_is_left_are_those_of_its_steps(first: tuple[Path, Plan], lot: Path) -> None:
    ticked(lot, *(f"turn:{name},,," for name in several(first[1])[:6]))
    plan = kept(lot)
    assert plan.work is not None
    assert plan.area.trees.done_pieces  # stems lie that are not in yet
    steps = sum(step.minutes for step in plan.work.steps if not step.done) / 60
    assert plan.work.times.total.productive_h == pytest.approx(steps, rel=1e-9)


@pytest.mark.slow
def test_a_layout_nobody_works_in_takes_no_hours(first: tuple[Path, Plan]) -> None:
    area = first[1].area
    none = replace(area.trees, marked=np.zeros(len(area.trees), dtype=bool))
    plan = layout_only(replace(area, trees=none))
    assert plan.work is not None
    assert plan.work.turns == () and plan.work.steps == ()
    assert plan.work.times.total.high_h == 0
    assert (plan.work.fuel_low_l, plan.work.fuel_high_l) == (0, 0)


@pytest.mark.slow
def test_a_small_landing_in_use_stays_and_is_emptied(tmp_path: Path) -> None:
    plan = begun(tmp_path, TRAILER)
    assert plan.work is not None and plan.work.two_stage is not None
    place = plan.work.two_stage
    assert place.chosen and place.shape is not None
    ended = [turn for turn in plan.work.turns if turn.ends_at == "small landing"]
    # all but one of them are in: a place chosen afresh would lie elsewhere, or nowhere
    ticked(tmp_path, *(f"turn:{turn.turn_id},,," for turn in ended[:-1]))
    after = kept(tmp_path)
    assert after.work is not None and after.work.two_stage is not None
    two = after.work.two_stage
    assert (two.trail_id, two.chosen, two.loads_in) == (place.trail_id, True, len(ended) - 1)
    assert two.at_m == pytest.approx(place.at_m, abs=0.06)  # as plan.json rounds it
    assert two.shape is not None
    assert two.shape.symmetric_difference(place.shape).area < 1
    mass = sum(turn.mass_kg for turn in ended[:-1])
    assert two.trips >= mass / two.trailer_kg - 1e-3
    steps = after.work.steps
    assert sum(len(step.trips) for step in steps) == two.trips
    assert "small_open" not in {step.kind for step in steps}
    minutes = sum(step.minutes for step in steps if not step.done)
    assert 60 * after.work.times.total.productive_h == pytest.approx(minutes)
    assert "trailer_in_use" in {finding.code for finding in after.findings}
    # said to be carried, they are in and wait for no trailer
    ticked(tmp_path, *(f"turn:{turn.turn_id},,,carried" for turn in ended[:-1]))
    earlier = layout.read_area(tmp_path).earlier
    assert earlier is not None and earlier.small_landing is not None
    told = {turn.turn_id: (turn.state, turn.carried) for turn in earlier.turns}
    assert {told[turn.turn_id] for turn in ended[:-1]} == {("done", True)}


@pytest.mark.slow
def test_other_log_lengths_do_not_change_what_lies_there(
    first: tuple[Path, Plan], lot: Path
) -> None:
    work = first[1].work
    assert work is not None
    name = several(first[1])[0]
    load = next(turn for turn in work.turns if turn.turn_id == name)
    tree = next(t for t in load.tree_ids if sum(p.tree_id == t for p in work.pieces) > 1)
    left = [p for p in work.pieces if p.tree_id == tree and (tree, p.number) not in load.pieces]
    ticked(lot, f"turn:{name},,,")
    text = (lot / "area.toml").read_text(encoding="utf-8")
    text = text.replace("[timber]\n", '[timber]\nlog_lengths = ["2.4 m"]\n')
    (lot / "area.toml").write_text(text, encoding="utf-8")
    for _ in range(2):  # and so it stays, from plan to plan
        plan = kept(lot)
        assert plan.work is not None
        now = [p for p in plan.work.pieces if p.tree_id == tree]
        assert sum(p.wood_m3 for p in now) == pytest.approx(sum(p.wood_m3 for p in left), abs=0.003)
        assert [p.number for p in now] == [p.number for p in left]
        (said,) = [f for f in plan.findings if f.code == "begun_cut_otherwise"]
        assert tree in said.message
