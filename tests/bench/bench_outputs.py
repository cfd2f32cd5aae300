"""How long a large plan takes to write, and how large its files are.

2,000 marked trees, one main trail and 60 spurs on 60 ha, put together by hand: what is
measured is the writing, file by file and then as the command does it, the crew's sheets
in a process beside the rest. Then how many names on its maps touch a trail.
Run: ``PYTHONPATH=tests python tests/bench/bench_outputs.py``.
"""

import math
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import made_work
import matplotlib as mpl
import numpy as np
import pandas as pd
import plan_fixture
import shapely
from made_stumps import stumps
from shapely.geometry import LineString, MultiPolygon, box
from shapely.ops import substring

from layout import terrain
from layout.grid import Dem
from layout.outputs import (
    about,
    bar_table,
    crew,
    geojson,
    geopackage,
    gpx,
    kml,
    overview,
    plan_json,
    rasters,
    report,
    tree_table,
    turn_table,
)
from layout.outputs.crew import book, maps
from layout.outputs.crew.sheet import Sheet
from layout.outputs.device import degrees
from layout.outputs.device.work_stops import days
from layout.outputs.extras import Extras
from layout.outputs.write import write_plan
from layout.plan import Plan
from layout.pool import cores
from layout.records import Trail, TrailStep, WaterBar
from layout.site import Area, Trees
from layout.treatment import treat

TREES, SPURS = 2000, 60
WIDE_M, DEEP_M, EACH_M, SPUR_M = 460, 1300, 20.0, 170.0
MOST_S = 60.0  # what writing may take in all, the crew sheets and the files on request too
# All that people open: every file a plan always has but plan.json, together.
MOST_B = 15e6
# plan.json, the record for other programs, comes on top: one object a tree, load, piece and
# step with its names said each time, as its schema has it. It and the rest pass 20 MB together.
MOST_RECORD_B = 8e6
ON_REQUEST = (geojson.FILE_NAME, rasters.SLOPE_NAME, rasters.STRIPS_NAME, rasters.REACH_NAME)
DAY_FILE = "plan_day_01.gpx"


def large() -> Plan:
    """Give the plan."""
    small = plan_fixture.plan()
    rows = DEEP_M + 80
    x, y = np.meshgrid(np.arange(WIDE_M) + 0.5, rows - np.arange(rows) - 0.5)
    z = 300 + 0.1 * y + 5 * np.sin(x / 45) + 4 * np.cos(y / 60)
    dem = Dem(z.astype(np.float32), plan_fixture.WEST, plan_fixture.SOUTH + rows, 1.0)
    ground = terrain.build(dem)
    lines = _trails()
    trees = _trees(small.area)
    stand = MultiPolygon([box(*plan_fixture.at(20, 60), *plan_fixture.at(WIDE_M - 20, DEEP_M))])
    area = replace(small.area, dem=dem, stand=stand, trees=trees, property_line=None)
    positions, pulls, outcomes = plan_fixture.winching(area, lines)
    stations = {t.trail_id: terrain.station_table(ground, t.line, t.width_m) for t in lines}
    steps = tuple(
        TrailStep(
            t.trail_id, at, end, float(stations[t.trail_id].grade_pct[int(at)]),
            float(stations[t.trail_id].cross_pct[int(at)]), loads=4, soil_class=1,
            line=substring(t.line, at, end),
        )
        for t in lines
        for at in np.arange(0.0, t.line.length - 0.5, 10.0).tolist()
        for end in (min(at + 10.0, t.line.length),)
    )  # fmt: skip
    bars = tuple(
        WaterBar(f"{t.trail_id}-B{n + 1}", t.trail_id, at, *t.line.interpolate(at).coords[0],
                 -10.0, 24.4, "left")
        for t in lines
        for n, at in enumerate(np.arange(15.0, t.line.length, 25.0).tolist())
    )  # fmt: skip
    plan = replace(
        small, area=area, terrain=ground, trails=lines, steps=steps, positions=positions,
        pulls=pulls, trees=outcomes, bars=bars, stations=stations, turning_places=(),
        treatment=treat(area, [t.line.buffer(t.width_m / 2) for t in lines],
                        [o.role == "in_trail" for o in outcomes]),
        **stumps(area, lines, positions, pulls, outcomes),
    )  # fmt: skip
    return made_work.worked(plan)


def _trails() -> tuple[Trail, ...]:
    main = LineString([plan_fixture.at(230, 55), plan_fixture.at(230, DEEP_M - 10)])
    made = [Trail("M1", "main", "L1", main, 3.66, "drawn")]
    for n in range(SPURS):
        at = (n + 1) * EACH_M
        side = 1 if n % 2 else -1
        mouth = main.interpolate(at)
        far = (mouth.x + side * SPUR_M, mouth.y + 20)
        line = LineString([(mouth.x, mouth.y), (mouth.x + side * 15, mouth.y + 15), far])
        made.append(Trail(f"S{n + 1}", "spur", "L1", line, 3.05, "routed", "M1", at))
    return tuple(made)


def _trees(area: Area) -> Trees:
    rng = np.random.default_rng(11)
    n = TREES * 2
    x = plan_fixture.WEST + rng.uniform(45, WIDE_M - 45, n)
    y = plan_fixture.SOUTH + rng.uniform(80, DEEP_M - 20, n)
    ids = tuple(f"T{i + 1}" for i in range(n))
    marked = np.arange(n) % 2 == 0
    species = tuple("sugar maple" if i % 3 else "red oak" for i in range(n))
    dbh_cm = rng.uniform(15, 60, n)
    nan = np.full(n, math.nan)
    table = pd.DataFrame({"tree_id": list(ids), "x": x, "y": y, "species": list(species),
                          "dbh_cm": dbh_cm})  # fmt: skip
    return replace(
        area.trees, tree_id=ids, x=x, y=y, species=species, dbh_cm=dbh_cm, height_m=nan,
        marked=marked, keep=("",) * n, hazard=("",) * n, position_error_m=np.full(n, 5.0),
        lean_deg=nan, lean_azimuth_deg=nan, logs=nan, defect_pct=nan, table=table,
    )  # fmt: skip


def measured(plan: Plan, folder: Path) -> list[tuple[str, float, int]]:
    """Write each file; give its name, seconds and bytes."""
    way, said = degrees.way(plan.area), about.facts(plan)
    assert way is not None
    first = days(plan)[0]

    def data() -> None:
        made = plan_json.as_data(plan, said, (plan_json.FILE_NAME,))
        plan_json.write(made, folder / plan_json.FILE_NAME)

    writers: list[tuple[str, Callable[[], object]]] = [
        (geopackage.FILE_NAME, lambda: geopackage.write(plan, folder / geopackage.FILE_NAME, said)),
        (tree_table.FILE_NAME, lambda: tree_table.write(plan, folder / tree_table.FILE_NAME)),
        (turn_table.FILE_NAME, lambda: turn_table.write(plan, folder / turn_table.FILE_NAME)),
        (bar_table.FILE_NAME, lambda: bar_table.write(plan, folder / bar_table.FILE_NAME)),
        (overview.FILE_NAME, lambda: overview.write(plan, folder / overview.FILE_NAME)),
        (crew.FILE_NAME, lambda: (folder / crew.FILE_NAME).write_bytes(crew.bound(plan))),
        (report.FILE_NAME, lambda: report.write(plan, folder / report.FILE_NAME)),
        (gpx.FILE_NAME, lambda: gpx.write(plan, folder / gpx.FILE_NAME, way)),
        (kml.FILE_NAME, lambda: kml.write(plan, folder / kml.FILE_NAME, way)),
        (plan_json.FILE_NAME, data),
        (DAY_FILE, lambda: gpx.write(plan, folder / DAY_FILE, way, first)),
        (geojson.FILE_NAME, lambda: geojson.write(plan, folder / geojson.FILE_NAME, way, said)),
        (rasters.SLOPE_NAME, lambda: rasters.slope(plan, folder / rasters.SLOPE_NAME)),
        (rasters.STRIPS_NAME, lambda: rasters.strips(plan, folder / rasters.STRIPS_NAME)),
        (rasters.REACH_NAME, lambda: rasters.reach(plan, folder / rasters.REACH_NAME)),
    ]
    out = []
    for name, write in writers:
        start = time.perf_counter()
        write()
        out.append((name, time.perf_counter() - start, (folder / name).stat().st_size))
    return out


def opened_b(rows: list[tuple[str, float, int]]) -> int:
    """Add up the bytes of what people open: neither plan.json nor what is written on request."""
    apart = (plan_json.FILE_NAME, DAY_FILE, *ON_REQUEST)
    return sum(size_b for name, _, size_b in rows if name not in apart)


def record_b(rows: list[tuple[str, float, int]]) -> int:
    """Give the bytes of plan.json."""
    return next(size_b for name, _, size_b in rows if name == plan_json.FILE_NAME)


def written_s(plan: Plan, folder: Path) -> float:
    """Write a plan as the command does, every extra too; give the seconds."""
    start = time.perf_counter()
    extras = Extras(by_day=True, geojson=True, rasters=True)
    write_plan(plan, folder, extras, workers=cores())
    return time.perf_counter() - start


def names_on_maps(plan: Plan) -> list[tuple[int, list[str]]]:
    """Give, for each map of the crew's, how many names it bears and those that touch a trail."""
    out = []
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(book.LOOK)
        for landscape, draw in maps.chosen(plan).drawings(plan):
            sheet = Sheet(plan.area.settings.outputs.paper, landscape)
            draw(sheet)
            sheet.canvas.draw()
            axes = max(sheet.figure.axes, key=lambda one: len(one.texts))
            names = [text for text in axes.texts if text.get_text().strip()]
            lines = shapely.union_all([
                LineString(axes.transData.transform(np.asarray(t.line.coords)[:, :2]))
                for t in plan.trails
            ])  # fmt: skip
            boxes = [box(*text.get_window_extent().extents) for text in names]
            hit = shapely.intersects(boxes, lines)
            out.append((len(names), [n.get_text() for n, on in zip(names, hit, strict=True) if on]))
    return out


if __name__ == "__main__":
    plan = large()
    print(f"{int(plan.area.trees.marked.sum())} marked trees, {len(plan.trails) - 1} spurs, "
          f"{len(plan.positions)} positions, {len(plan.bars)} bars")  # fmt: skip
    with tempfile.TemporaryDirectory() as room:
        rows = measured(plan, Path(room))
    for name, took_s, size_b in rows:
        print(f"{name:18} {took_s:7.2f} s {size_b / 1e6:8.2f} MB")
    added_s = sum(row[1] for row in rows)
    print(f"{'one by one':18} {added_s:7.2f} s {sum(row[2] for row in rows) / 1e6:8.2f} MB")
    with tempfile.TemporaryDirectory() as room:
        whole_s = written_s(plan, Path(room) / "out")
    print(f"{'as the command':18} {whole_s:7.2f} s, {cores()} processes at most")
    print(
        f"{whole_s / MOST_S:.2f} of the time there is, {opened_b(rows) / MOST_B:.2f} of the size "
        f"of what people open, {record_b(rows) / MOST_RECORD_B:.2f} of that of plan.json"
    )
    for number, (names, touching) in enumerate(names_on_maps(plan)):
        print(f"map {number}: {names} names, {len(touching)} touch a trail")
