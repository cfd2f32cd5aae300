"""Drains in the outputs: water_bars.csv, the report's amounts, ribbons, the phone."""

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import plan_fixture
import pytest
from report_page import Page
from shapely.geometry import LineString

import layout
from layout import geometry
from layout.outputs import bar_facts, bar_table, map_marks, map_window, overview, rows
from layout.outputs.crew import flagging
from layout.outputs.crew.ribbons import ribbons
from layout.outputs.device.notes import Notes
from layout.outputs.report import page
from layout.outputs.write import FILES
from layout.plan import Plan
from layout.records import WaterBar

TABLES = Path(layout.__file__).parent / "tables"
FOOT_M = 0.3048  # exact by definition


def drained(units: str = "us") -> Plan:
    """Give a plan with one drain of every kind and set."""
    plan = plan_fixture.plan(units)
    a, b, c, d, e = plan.bars
    return replace(
        plan,
        bars=(
            replace(a, why="landing", bar_set="shutdown", length_m=4.9, room_m=6.1, meets="S1"),
            replace(b, length_m=4.9, room_m=12.0, meets="strip"),
            replace(c, kind="dip", bar_set="before_use", grade_pct=-4.0, spacing_m=60.96),
            replace(d, kind="grade_break", bar_set="", why="low_point"),
            replace(e, outlet="unknown", length_m=4.9, bar_set="shutdown", why="crossing"),
        ),
    )


def table(plan: Plan, folder: Path) -> list[dict[str, str]]:
    path = folder / bar_table.FILE_NAME
    bar_table.write(plan, path)
    text = path.read_bytes().decode("utf-8")
    assert "\r" not in text and text.split("\n")[0] == ",".join(bar_table.HEADER)
    return list(csv.DictReader(io.StringIO(text)))


def test_it_is_one_of_the_files_and_its_columns_are_described() -> None:
    assert "water_bars.csv" in FILES
    with (TABLES / "out_water_bars.csv").open(encoding="utf-8", newline="") as file:
        told = list(csv.DictReader(file))
    assert [row["column"] for row in told] == list(bar_table.HEADER)
    assert all(row["meaning"] and row["source"] for row in told)
    for row in told:
        unit = row["column"].rpartition("_")[2]
        assert row["unit"] == (unit if unit in {"m", "pct", "deg"} else "")


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_drain_has_its_line_in_numbers_and_in_words(units: str, tmp_path: Path) -> None:
    plan = drained(units)
    lines = table(plan, tmp_path)
    assert [line["bar_id"] for line in lines] == [bar.bar_id for bar in plan.bars]
    one = FOOT_M if units == "us" else 1.0
    for line, bar in zip(lines, plan.bars, strict=True):
        assert float(line["at_m"]) == pytest.approx(bar.at_m, abs=0.005)
        assert float(line["spacing_words"].split()[0]) == pytest.approx(bar.spacing_m / one, abs=1)
        assert (line["kind"], line["bar_set"], line["why"]) == (bar.kind, bar.bar_set, bar.why)
        assert (line["length_m"] == "") == (bar.length_m is None)
        assert (line["room_m"] == "") == (bar.room_m is None) == (line["room_words"] == "")
    said = [(line["kind_words"], line["set_words"], line["meets_words"]) for line in lines]
    assert said == [
        ("water bar", "before every shutdown or rain, and at closeout", "trail S1"),
        ("water bar", "when its section is finished", "the water strip"),
        ("broad-based dip", "shaped before loads pass", ""),
        ("low point that drains by itself: keep its outlet open", "", ""),
        ("water bar", "before every shutdown or rain, and at closeout", ""),
    ]
    assert lines[0]["grade_words"] == "12 % downhill loaded"


def test_a_drain_at_a_trails_end_is_said_where_the_trail_ends_everywhere(tmp_path: Path) -> None:
    plan = drained("us")
    last = plan.bars[-1]
    end_m = 44.2 * FOOT_M  # painted to 5 ft it would be 45 ft, past the end
    trails = tuple(
        replace(t, line=LineString(geometry.cut(geometry.coordinates(t.line), 0.0, end_m)))
        if t.trail_id == last.trail_id
        else t
        for t in plan.trails
    )
    bars = (replace(last, at_m=end_m),)
    plan = replace(plan, trails=trails, bars=bars, turning_places=(), crossings=())
    assert [line["at_words"] for line in table(plan, tmp_path)] == ["44 ft"]
    row = re.search(
        rf"{last.bar_id} ?{last.trail_id} ?(\d+ ft)", Page(page.page(plan)).text("water")
    )
    assert row is not None and row[1] == "44 ft"
    assert flagging.station_number(end_m, "us", end_m) == "44"


def test_no_cell_runs_in_a_spreadsheet(tmp_path: Path) -> None:
    plan = drained()
    evil = replace(plan.bars[0], trail_id="=1+1", bar_id="@B1", meets="-2+3")
    (line,) = table(replace(plan, bars=(evil,)), tmp_path)
    assert (line["trail_id"], line["bar_id"], line["meets"]) == ("'=1+1", "'@B1", "'-2+3")


def test_without_drains_there_is_the_header(tmp_path: Path) -> None:
    assert table(replace(drained(), bars=()), tmp_path) == []


def test_the_layer_says_the_same() -> None:
    plan = drained()
    for row, bar in zip(rows.of_layer(plan, "water_bars"), plan.bars, strict=True):
        told = {k: row.values[k] for k in ("length_m", "kind", "bar_set", "room_m", "meets")}
        assert told == {k: getattr(bar, k) for k in told}


def test_the_report_counts_both_sets() -> None:
    read = Page(page.page(drained()))
    told = read.table("Drains to build, trail by trail")
    for name in ("M1", "All trails"):
        row = told.row(name)
        # two bars of 4.9 m before every shutdown, three in all: 9.8 m and 14.7 m
        assert row["Before every shutdown or rain"] == "2 (32 ft)"
        assert row["In all at closeout"] == "3 (48 ft)"
        assert (row["Dips, shaped before use"], row["Low points to keep open"]) == ("1", "1")
    said = read.text("water")
    assert "Erosion hazard not given: spacing by the grade table alone." in said
    assert "[unverified]" in said  # the dips' formula and the crossing's distance
    listed = read.table("Water bars, on each trail from its landing end outward")
    first, last = drained().bars[0], drained().bars[-1]
    assert listed.row(first.bar_id)["Below it"] == "20 ft of ground before trail S1"
    assert listed.row(last.bar_id)["Below it"] == ""


def test_ribbons_tell_bars_from_dips_and_low_points() -> None:
    hung = [r.text.replace("\N{NO-BREAK SPACE}", " ") for r in ribbons(drained())["M1"]]
    assert {"BAR right", "bar left", "dip right", "low left", "BAR ?"} <= set(hung)


def test_nothing_is_drawn_where_nothing_is_built() -> None:
    plan = drained()
    window = map_window.around(plan, *overview.MAP_IN[2:])
    assert len(map_marks.bar_lines(plan, window)) == len(plan.bars) - 1


def test_the_phone_says_what_stands_there_and_when() -> None:
    plan = drained()
    notes = Notes(plan)
    said = [notes.water_bar(bar) for bar in plan.bars]
    assert said[0].startswith("water bar above the landing; M1 at 100 ft; water to the right")
    assert "before every shutdown or rain, and at closeout" in said[0]
    assert "20 ft of ground before trail S1" in said[0]
    assert said[2].startswith("broad-based dip;") and "shaped before loads pass" in said[2]
    assert said[3].startswith("low point that drains by itself: keep its outlet open;")
    assert "off square" not in said[3]
    assert said[4].startswith("water bar before the crossing;")


def test_water_that_comes_back_to_its_own_trail_is_told_so() -> None:
    bar = WaterBar("S1-B1", "S1", 5, 0, 0, -9, 20, "left", room_m=4.0, meets="S1")
    assert bar_facts.room(bar, "metric") == "4.0 m of ground before the same trail again"
