"""Whole layouts against plain ones: the sample, a volcano under a mapped wood, made ground.

    python tests/bench/bench_layouts.py --list
    python tests/bench/bench_layouts.py --only rolling          # print one case
    python tests/bench/bench_layouts.py --write                 # all that are not done yet
    python tests/bench/bench_layouts.py --write --again --only rolling

Every case is planned once; the baselines (`baselines.py`) then lay out spurs on
the same tables, limits and prices. Figures are kept case by case in
``results/layouts.json``; ``results/layouts.md`` is made from it.
"""

import argparse
import dataclasses
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import results_kept
from baselines import figures, greedy_grown, herringbone, planned
from made_landforms import CASES, wood

from layout.area import read_area
from layout.commands.made_slope import made_area
from layout.plan import make_plan
from layout.site import Area

WORDS = """
What is compared: the plan (`exact`), greedy cover with everything dropped that does not
pay, with regrowth rounds and second ways of its own and no longest spur (`greedy`), a
regular herringbone of straight 45-degree spurs every 40 m with all spurs built
(`herringbone`), and the same with only the spurs its best pulls drive on (`used`).
Objective in square metres: ground of trails,
stems, pulls, set-ups, and 200 for each tree left standing; the main trails are in it.
Length is of all trails, a routed main ending behind the last thing on it. Area is of
trails and turning places in percent of the stand, without the landing. A junction of
35 to 45 degrees is what Gumus & Turk 2016 (Forests 7(12) 306) lay out for farm tractors.
The baselines' time is that of the spurs alone, on main trails the plan has found; the
plan's is all of it. A made case is a formula, not a wood.
"""
LANSING = "volcano_lansing"
SAMPLE = "sample"


def area_of(name: str) -> Area:
    """Read or make the area of a case."""
    if name == SAMPLE:
        return read_area(Path(__file__).resolve().parents[2] / "sample_area")
    if name == LANSING:
        import lansing

        return read_area(lansing.write(Path(tempfile.mkdtemp()) / "area"))
    return wood(CASES[name])


def run(name: str) -> dict[str, Any]:
    """Plan one case and lay out its baselines."""
    area = area_of(name)
    began = time.perf_counter()
    print(f"{name}: planning", flush=True)
    made, scene, ours = planned(area, lambda line: print(f"  {line}", flush=True))
    layouts = {"exact": ours}
    for key, work in (
        ("greedy", lambda: greedy_grown(scene)),
        ("herringbone", lambda: herringbone(scene)),
        ("used", lambda: herringbone(scene, used_only=True)),
    ):
        layouts[key] = work()
        print(f"  {key}: {layouts[key].seconds:.0f} s", flush=True)
    row: dict[str, Any] = {
        key: dataclasses.asdict(figures(scene, layout)) for key, layout in layouts.items()
    }
    row["hectares"] = area.stand.area / 1e4
    row["gap_pct"] = made.choice.gap_pct
    row["stopped_by"] = made.choice.stopped_by
    row["stops"] = sum(f.level == "stop" for f in made.findings)
    row["peak_mb"] = results_kept.peak_mb()
    row["seconds"] = time.perf_counter() - began
    return row


def tables(rows: dict[str, dict[str, Any]]) -> list[str]:
    """Lay out the page."""
    head = [
        "case", "layout", "objective, m2", "trail, m", "m a tree", "area, %", "served",
        "leave stems in trails, %", "junctions", "35-45 deg, %", "s",
    ]  # fmt: skip
    full = []
    for name in names():
        for key in ("exact", "greedy", "herringbone", "used"):
            if name not in rows:
                continue
            f = rows[name][key]
            each = f["trail_m"] / f["served"] if f["served"] else float("nan")
            full.append([
                name, key, f"{f['objective_m2']:,.0f}", f"{f['trail_m']:,.0f}", f"{each:.1f}",
                f"{f['share_pct']:.2f}", f"{f['served']} of {f['marked']}",
                f"{f['stems_pct']:.2f}", f["junctions"], f"{f['in_35_45_pct']:.0f}",
                f"{f['seconds']:.0f}",
            ])  # fmt: skip
    ratios = []
    for name in names():
        if name in rows:
            ours = rows[name]["exact"]
            line: list[object] = [name, f"{rows[name]['gap_pct']:.3f}", rows[name]["stops"]]
            for key in ("greedy", "herringbone", "used"):
                other = rows[name][key]
                line += [
                    f"{ours['objective_m2'] / other['objective_m2']:.3f}",
                    f"{ours['trail_m'] / other['trail_m']:.2f}" if other["trail_m"] else "-",
                    f"{ours['served'] - other['served']:+d}",
                ]
            ratios.append([*line, f"{rows[name]['seconds']:.0f}", f"{rows[name]['peak_mb']:.0f}"])
    head_ratios = ["case", "gap, %", "stops"]
    for key in ("greedy", "herringbone", "used"):
        head_ratios += [f"objective / {key}", "trail", "trees more"]
    return [
        "## Ratios: the plan over each baseline (under 1 is less)",
        results_kept.table([*head_ratios, "s in all", "peak MB"], ratios),
        "## Figures",
        results_kept.table(head, full),
    ]


def names() -> list[str]:
    """Give the cases in order."""
    return [SAMPLE, LANSING, *CASES]


def main() -> None:
    """Run what is asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--list", action="store_true", help="name the cases and end")
    words.add_argument("--only", nargs="+", metavar="NAME", choices=names())
    words.add_argument("--again", action="store_true", help="run cases that are done already")
    words.add_argument("--write", action="store_true", help="keep the figures, write the page")
    given = words.parse_args()
    if given.list:
        print("\n".join(names()))
        return
    make_plan(made_area())  # kernels are compiled before anything is timed
    rows = results_kept.read("layouts")
    for name in given.only or names():
        if name in rows and not given.again and given.write:
            print(f"{name}: done already")
            continue
        row = run(name)
        print("\n".join(tables({name: row})), flush=True)
        if given.write:
            rows = results_kept.keep("layouts", name, row)
    if given.write:
        path = results_kept.write_table(
            "layouts", "Layouts against plain ones", WORDS, tables(rows)
        )
        print(f"written: {path.name}")


if __name__ == "__main__":
    main()
