"""plan.gpx in the order of work: names that sort so, and a file for each day."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import made_order
import made_work
import plan_fixture
import pytest
import schemas
from shapely.geometry import Point
from test_outputs_gpx import SPACE, checked, texts

from layout.outputs import gpx, kml
from layout.outputs.crew import work_sheet
from layout.outputs.crew.work_rows import Rows
from layout.outputs.device import degrees
from layout.outputs.device.marks import Mark
from layout.outputs.device.short_names import shorten
from layout.outputs.device.work_stops import days, label, why_no_days
from layout.outputs.rows import of_layer
from layout.outputs.stop_order import LETTERS, TREE
from layout.outputs.work_blocks import numbered
from layout.plan import Plan
from layout.work_records import Work, WorkStep


@pytest.fixture(scope="module")
def planned() -> Plan:
    """Give the made-up plan worked from its far end home: the listing runs the other way."""
    plan = made_work.worked(plan_fixture.plan())
    steps = [WorkStep(0, "flag", minutes=90.0)]
    steps += [WorkStep(0, "open", trail.trail_id, minutes=30.0) for trail in plan.trails]
    for trail in reversed(plan.trails):
        there = [p for p in plan.positions if p.trail_id == trail.trail_id and p.tree_ids]
        for spot in reversed(there):
            at = (trail.trail_id, spot.position_id)
            steps += [
                WorkStep(0, "fell", *at, spot.tree_ids, minutes=17.0 * len(spot.tree_ids)),
                WorkStep(0, "winch", *at, spot.tree_ids, minutes=9.0),
                WorkStep(0, "haul", *at, minutes=11.0),
            ]
        steps.append(WorkStep(0, "close", trail.trail_id, minutes=20.0))
    numbered = tuple(replace(step, number=n) for n, step in enumerate(steps, 1))
    hours = sum(step.minutes for step in steps) / 60
    times = replace(work_of(plan).times, total=made_work.hours("total", hours))
    return replace(plan, work=replace(work_of(plan), steps=numbered, times=times))


def work_of(plan: Plan) -> Work:
    assert plan.work is not None
    return plan.work


def written(plan: Plan, path: Path, day: int | None = None) -> dict[str, dict[str, str]]:
    """Give the waypoints of the file, or of that of a day, in its order.

    With what each name begins with, and what the plan calls it, which must be told.
    """
    way = degrees.way(plan.area)
    assert way is not None
    gpx.write(plan, path, way, None if day is None else days(plan)[day - 1])
    points = texts(checked(path), "wpt")
    for mark, name, front in gpx.named(plan):
        if name in points and mark.points():
            assert name.startswith(front)
            told = points[name]["desc"].startswith(f"{mark.plan_id}: ")
            assert told or name.removeprefix(front) == mark.plan_id
            points[name] |= {"front": front, "id": mark.plan_id}
    return points


def places(steps: Iterator[WorkStep], plan: Plan) -> list[str]:
    """List what each step goes to, worked out here again from the steps alone."""
    return [
        place
        for step in steps
        for place in (
            *step.tree_ids,
            *([step.position_id] if step.position_id else []),
            *(
                bar.bar_id
                for bar in plan.bars
                if step.kind == "close" and bar.trail_id == step.trail_id
            ),
        )
    ]


def test_names_sort_in_the_order_of_work(planned: Plan, tmp_path: Path) -> None:
    points = written(planned, tmp_path / "plan.gpx")
    assert list(points) == sorted(points)  # the file's own order is that of the names
    ranks = {said["id"]: said["front"] for said in points.values() if said["front"]}
    order = list(dict.fromkeys(places(iter(work_of(planned).steps), planned)))
    assert set(order) <= set(ranks) and len(order) > 45
    assert [ranks[place] for place in order] == sorted(ranks[place] for place in order)
    for position in planned.positions:  # a stop is one front, and no other stop has it
        if position.position_id not in order:  # its trees come out as its trail is opened
            assert position.position_id not in ranks
            continue
        here = {ranks[tree] for tree in position.tree_ids if tree in ranks}
        assert here == {ranks[position.position_id]}
        others = {p.position_id for p in planned.positions} - {position.position_id}
        assert not here & {ranks[other] for other in others}
    assert {len(re.match(r"\d*", name)[0]) for name in points} == {0, 2}  # type: ignore[index]


def test_names_begin_with_the_number_the_paper_has(planned: Plan, tmp_path: Path) -> None:
    """The boxes of the crew's book are read again, and each place looked up under its number."""
    rows = work_sheet.rows(planned, Rows(planned, 265.0), numbered(work_sheet.todo(planned)))
    number, part, seen = 0, "", dict[str, tuple[int, str]]()
    for row in rows:
        words = " ".join(word for cell in row.cells for word in cell.lines if word)
        if row.head and (found := re.match(r"(\d+)\N{NO-BREAK SPACE}", words)):
            number = int(found[1])
        elif row.head:
            part = words
        else:
            for name in re.findall(r"[\w-]+", words):
                seen.setdefault(name, (number, part))
    points = written(planned, tmp_path / "plan.gpx")
    looked = set[str]()
    for said in points.values():
        if said["type"] == "winch position" and said["front"]:
            number, part = seen[said["id"]]
            assert int(said["front"].rstrip(LETTERS)) == number
            looked.add(said["id"])
            assert "Harvest" in part and number > 0
    assert looked == {step.position_id for step in work_of(planned).steps if step.position_id}


def test_what_comes_before_the_harvest_sorts_before_it(tmp_path: Path) -> None:
    plan = made_order.ordered(plan_fixture.plan())
    points = written(plan, tmp_path / "plan.gpx")
    opened = [step for step in work_of(plan).steps if step.kind == "open"]
    before = [name for name in points if name.startswith("00")]
    assert opened and before
    assert {said["type"] for name, said in points.items() if name in before} >= {"trail start"}
    numbered_ = [name for name in points if name[0].isdigit()]
    assert numbered_[: len(before)] == before


def test_a_long_name_goes_without_its_letter_and_is_whole() -> None:
    planned = Mark(TREE, "3622", "T3622", "", Point(0, 0))
    longer = replace(planned, plan_id="13622", label="T13622")
    assert label(planned, "34C") == "T3622" and label(planned, "034C") == "3622"
    assert label(longer, "34C") == "13622"
    assert label(longer, "034") == "T13622"  # two numbers would read as one
    assert shorten([label(planned, "034C")], ["034C"]) == ("034C3622",)


def test_what_no_step_goes_to_has_no_number(planned: Plan, tmp_path: Path) -> None:
    bare = {
        name: said
        for name, said in written(planned, tmp_path / "plan.gpx").items()
        if not name[0].isdigit()
    }
    reached = set(places(iter(work_of(planned).steps), planned))
    assert {said["type"] for said in bare.values()} <= {
        "landing", "tree", "hazard", "hazard tree", "winch position",
    }  # fmt: skip
    assert bare["LANDING"]["type"] == "landing"
    missed = [name for name, said in bare.items() if said["type"] == "tree"]
    assert missed and not reached & set(missed)
    idle = [one[1]["id"] for one in bare.items() if one[1]["type"] == "winch position"]
    assert not reached & set(idle)


def test_a_name_still_ends_in_the_painted_number(planned: Plan, tmp_path: Path) -> None:
    ids = {*planned.area.trees.tree_id, *(p.position_id for p in planned.positions)}
    for name, said in written(planned, tmp_path / "plan.gpx").items():
        if said["type"] in ("tree", "winch position") and name[0].isdigit():
            assert int(name[:2]) >= 0 and said["id"] in ids


def test_work_that_is_done_is_numbered_no_more(tmp_path: Path) -> None:
    plan = made_work.worked(plan_fixture.plan())
    work = work_of(plan)
    points = written(plan, tmp_path / "plan.gpx")
    first = next(step for step in work.steps if step.kind == "winch")
    left = tuple(
        replace(step, done=True) if step.position_id == first.position_id else step
        for step in work.steps
    )
    after = written(replace(plan, work=replace(work, steps=left)), tmp_path / "after.gpx")
    name = f"W{first.position_id}"
    assert name in after and name not in points
    assert [n for n in points if n.endswith(name)]


def with_rub_load(plan: Plan) -> Plan:
    """Give the plan with a position that only a rub tree is pulled to, on the last day."""
    work = work_of(plan)
    spot = next(p for p in plan.positions if p.tree_ids)
    rub, rest = spot.tree_ids[0], spot.tree_ids[1:]
    new = replace(spot, position_id="W700", tree_ids=(rub,))
    positions = (*(replace(p, tree_ids=rest) if p is spot else p for p in plan.positions), new)
    load = replace(
        work.turns[0], turn_id="D700", stage="rub", position_id="W700", tree_ids=(rub,),
        position_ids=("W700",), state="planned",
    )  # fmt: skip
    others = [
        replace(step, tree_ids=tuple(name for name in step.tree_ids if name != rub))
        for step in work.steps
    ]
    last = WorkStep(len(others) + 1, "rub", spot.trail_id, "", (rub,), ("D700",), 60.0)
    return replace(
        plan,
        positions=positions,
        work=replace(work, turns=(*work.turns, load), steps=(*others, last)),
    )


def test_a_position_for_a_rub_tree_alone_stands_in_the_order(planned: Plan, tmp_path: Path) -> None:
    made = with_rub_load(planned)
    (rub,) = next(p for p in made.positions if p.position_id == "W700").tree_ids
    points = written(made, tmp_path / "plan.gpx")
    (spot,) = (name for name in points if name.endswith("W700"))
    (tree,) = (name for name in points if points[name]["id"] == rub)
    assert "NOT USED" not in points[spot]["desc"] and "load D700" in points[spot]["desc"]
    front = spot.removesuffix("W700")
    assert front == points[spot]["front"] and tree.startswith(front)  # one stop, the last there is
    assert front == max(said["front"] for said in points.values())
    last = len(days(made))
    assert {spot, tree} <= set(written(made, tmp_path / "day.gpx", last))
    # the same in the other files
    way = degrees.way(made.area)
    assert way is not None
    kml.write(made, tmp_path / "plan.kml", way)
    (said,) = re.findall(
        "<name>W700</name>\\s*<description>([^<]*)</description>",
        (tmp_path / "plan.kml").read_text(),
    )
    number = int(front.rstrip(LETTERS))
    assert said.endswith(f"order of work on paper: harvest number {number}")
    stops = {row.values["position_id"]: row.values["stop"]
             for row in of_layer(made, "winch_positions")}  # fmt: skip
    assert stops == {
        spot.position_id: next(
            (note["front"] or None for note in points.values()
             if note["type"] == "winch position" and note["id"] == spot.position_id), None)
        for spot in made.positions
    }  # fmt: skip


def test_the_day_of_a_load_has_every_position_it_stops_at(planned: Plan) -> None:
    work = work_of(planned)
    far = next(p for p in reversed(planned.positions) if p.tree_ids)
    near = next(p for p in planned.positions if p.tree_ids)
    both = (far.position_id, near.position_id)
    load = replace(work.turns[0], turn_id="D700", position_ids=both, state="planned")
    last = WorkStep(len(work.steps) + 1, "haul", near.trail_id, near.position_id, (), ("D700",),
                    5.0)  # fmt: skip
    made = replace(
        planned, work=replace(work, turns=(*work.turns, load), steps=(*work.steps, last))
    )
    assert {("winch position", name) for name in both} <= days(made)[-1].places


@pytest.mark.parametrize(("count", "digits"), [(99, 2), (120, 3)])
def test_many_trails_take_more_digits_and_names_stay_short(
    tmp_path: Path, count: int, digits: int
) -> None:
    plan = made_work.worked(plan_fixture.plan())
    spot, line = plan.positions[0], plan.trails[0]
    many = tuple(
        replace(spot, position_id=f"W{n + 1}", trail_id=f"S{n + 1}", tree_ids=())
        for n in range(count)
    )
    trails = tuple(replace(line, trail_id=p.trail_id) for p in many)
    steps = tuple(WorkStep(n, "winch", p.trail_id, p.position_id) for n, p in enumerate(many, 1))
    full = replace(
        plan, positions=many, trails=trails, work=replace(work_of(plan), steps=steps), bars=()
    )
    assert positions_of(full) == [f"{n:0{digits}d}W{n}" for n in range(1, count + 1)]


@pytest.mark.parametrize("count", [1, 21, 22, 99])
def test_many_stops_of_one_trail_are_told_apart_by_letters(count: int) -> None:
    plan = made_work.worked(plan_fixture.plan())
    spot = plan.positions[0]
    many = tuple(replace(spot, position_id=f"W{n + 1}", tree_ids=()) for n in range(count))
    steps = tuple(WorkStep(n, "winch", spot.trail_id, p.position_id) for n, p in enumerate(many, 1))
    full = replace(plan, positions=many, work=replace(work_of(plan), steps=steps))
    names = positions_of(full)
    wide = 0 if count == 1 else 1 if count <= len(LETTERS) else 2
    assert [name[2 + wide :] for name in names] == [f"W{n}" for n in range(1, count + 1)]
    assert len({name[: 2 + wide] for name in names}) == count
    assert all(set(name[2 : 2 + wide]) <= set(LETTERS) for name in names)
    assert {name[:2] for name in names} == {"01"} and max(map(len, names)) <= 8


def positions_of(plan: Plan) -> list[str]:
    """Give the names of the winch positions, as a receiver sorts them."""
    there = gpx.named(plan)
    return sorted(name for mark, name, _ in there if mark.kind == "winch position")


def test_a_file_for_each_day_holds_the_places_of_its_steps(planned: Plan, tmp_path: Path) -> None:
    work, whole = work_of(planned), written(planned, tmp_path / "plan.gpx")
    made = days(planned)
    hours = planned.area.settings.work.hours_per_day
    total = work.times.total
    # the middle of the range of hours, shared out by productive minutes, worked out here again
    middle_days = total.middle_h / hours
    assert len(made) == -(-middle_days // 1)
    assert [day.number for day in made] == list(range(1, len(made) + 1))
    seen: dict[str, set[int]] = {}
    for day in made:
        points = written(planned, tmp_path / f"{day.number}.gpx", day.number)
        for name, said in points.items():
            assert whole[name] == said  # the same name and note as in the whole file
            seen.setdefault(said["id"], set()).add(day.number)
    spent, fractions = 0.0, dict[str, list[tuple[float, float]]]()
    for step in work.steps:
        start, spent = spent, spent + step.minutes / 60 / total.productive_h * middle_days
        for place in places(iter([step]), planned):
            fractions.setdefault(place, []).append((start, spent))
    for place, spans in fractions.items():
        wanted = {n for start, end in spans for n in range(int(start) + 1, -int(-end // 1) + 1)}
        wanted |= {int(start) + 1 for start, _ in spans}
        assert seen[place] == {min(n, len(made)) for n in wanted}, place
    assert seen[planned.landing.landing_id] == set(range(1, len(made) + 1))


def test_trails_and_what_to_keep_off_are_there_every_day(planned: Plan, tmp_path: Path) -> None:
    written(planned, tmp_path / "plan.gpx")
    whole = texts(checked(tmp_path / "plan.gpx"), "trk")
    assert {said["type"] for said in whole.values()} >= {"main trail", "spur"}
    for day in days(planned):
        written(planned, tmp_path / "day.gpx", day.number)
        assert texts(checked(tmp_path / "day.gpx"), "trk") == whole
        head = ElementTree.parse(tmp_path / "day.gpx").getroot()
        said = head.findtext(f"{SPACE}metadata/{SPACE}desc", "")
        assert f"Day {day.number} of the work alone" in said and "Not walked and flagged" in said


def test_no_hours_no_days() -> None:
    plan = plan_fixture.plan()
    assert days(plan) == ()
    assert why_no_days(plan).startswith("no file by day")
    assert why_no_days(made_work.worked(plan)) == ""


@pytest.mark.slow
def test_the_days_are_valid_by_the_published_schema(planned: Plan, tmp_path: Path) -> None:
    for day in days(planned):
        written(planned, tmp_path / "day.gpx", day.number)
        assert schemas.faults(tmp_path / "day.gpx", "gpx.xsd") == ""
