"""One-to-all searches over 0.1 to 36 million cells: time, memory, growth.

    python tests/bench/bench_search.py --quick           # small sizes only
    python tests/bench/bench_search.py --write           # everything

Every run is a process of its own, one after the other, held to ``--memory`` gigabytes
so that a run too large ends by itself. Runs that are done are kept in
``results/search.json`` and not repeated (``--again`` repeats them).
"""

import argparse
import json
import math
import os
import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import made_landforms
import numpy as np
import results_kept
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from layout.grid import Dem
from layout.ground import CLOSED, FREE, SHORT_ONLY, Ground
from layout.lattice import number, search

WORDS = """
`headings` is the package's search: 16 states a cell, a notch of turning at a step, turn
radius 7.62 m, one cell of 50 closed in each heading; `pitches` counts short pitches
besides, on a tenth of the ground. `mcp` is `skimage.graph.MCP_Geometric`, `scipy` is
`scipy.sparse.csgraph.dijkstra` with 8 neighbours (its graph is built first and told
apart): both isotropic, without headings, radius or limits. The package holds no plain
field without headings, so none is measured. Costs are the same blocks of noise for all.

The lattice of a 1 m elevation grid has cells of 2 m: 36 million elevations are 9 million
lattice cells, 144 million states. `window` takes a window of so many 1 m elevations with
a 50 ha stand in its middle through terrain, water, tables and search; `whole` lets the
stand fill the window. Compiling is told apart, with an empty cache folder.
"""
LATTICE_M = (0.1, 1.0, 9.0)  # million cells
PLAIN_M = (0.1, 0.3, 1.0, 9.0, 36.0)
WINDOW_M = (1.0, 9.0, 36.0)
WHOLE_M = (0.1, 1.0, 9.0, 36.0)
GOAL_GB = 4.0
RUNS = (
    [("headings", m) for m in LATTICE_M]
    + [("pitches", m) for m in (0.1, 0.3)]
    + [("mcp", m) for m in PLAIN_M]
    + [("scipy", m) for m in LATTICE_M]
    + [("window", m) for m in WINDOW_M]
    + [("whole", m) for m in WHOLE_M]
    + [("compile", 0.01)]
)


def noise(side: int) -> NDArray[np.float32]:
    """Give what a metre costs: blocks of ten cells."""
    rng = np.random.default_rng(side)
    blocks = rng.random((side // 10 + 1, side // 10 + 1), dtype=np.float32)
    return 3 + 3 * np.repeat(np.repeat(blocks, 10, axis=0), 10, axis=1)[:side, :side]


def lattice_of(side: int, *, pitches: bool) -> Ground:
    """Make tables with some states closed, heading by heading."""
    rng = np.random.default_rng(side + 1)
    cost = np.empty((16, side, side), np.float32)
    cost[:] = noise(side)
    closed = np.empty(cost.shape, np.uint8)
    flagged = np.zeros((side, side), bool)
    if pitches:
        blocks = rng.random((side // 10 + 1, side // 10 + 1)) > 0.9
        flagged = np.repeat(np.repeat(blocks, 10, axis=0), 10, axis=1)[:side, :side]
    for heading in range(16):
        closed[heading] = np.where(flagged, SHORT_ONLY, FREE)
        closed[heading][rng.random((side, side), dtype=np.float32) < 0.02] = CLOSED
    closed[:, side // 2, side // 2] = FREE
    return Ground(0.0, 2.0 * side, 2.0, closed, cost, 3.0)


def from_middle(ground: Ground, pitch_m: float = 0.0) -> Any:
    """Search from the middle cell outward."""
    rows, cols = ground.shape
    at = number(ground, np.arange(16), np.full(16, rows // 2), np.full(16, cols // 2))
    zero = np.zeros(at.size)
    return search(
        ground, at, zero, zero, zero,
        radius_m=7.62, longest_m=math.inf, turn_cost=1.0, short_pitch_m=pitch_m,
    )  # fmt: skip


def timed(work: Any, rounds: int) -> tuple[float, Any]:
    """Give the least time of some rounds, seconds, and what came out last."""
    least, out = math.inf, None
    for _ in range(rounds):
        out = None  # what came out before is gone before the next begins
        began = time.perf_counter()
        out = work()
        least = min(least, time.perf_counter() - began)
    return least, out


# -- one run


def one(kind: str, million: float, memory_gb: float) -> dict[str, Any]:
    """Run one search."""
    most = int(memory_gb * 1024**3)
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    side = round(math.sqrt(million * 1e6))
    row: dict[str, Any] = {"kind": kind, "cells": side * side, "start_mb": results_kept.peak_mb()}
    rounds = 3 if million <= 1 else 1
    row |= RUN[kind](side, rounds)
    return row | {"peak_mb": results_kept.peak_mb()}


def _headings(side: int, rounds: int, pitch_m: float = 0.0) -> dict[str, Any]:
    began = time.perf_counter()
    from_middle(lattice_of(20, pitches=pitch_m > 0), pitch_m)
    loaded = time.perf_counter() - began
    ground = lattice_of(side, pitches=pitch_m > 0)
    held = results_kept.peak_mb()
    seconds, field = timed(lambda: from_middle(ground, pitch_m), rounds)
    return {
        "seconds": seconds,
        "states": int(field.settled),
        "loaded_s": loaded,
        "tables_mb": held,
    }


def _mcp(side: int, rounds: int) -> dict[str, Any]:
    from skimage.graph import MCP_Geometric

    cost = noise(side).astype(float)
    held = results_kept.peak_mb()
    middle = (side // 2, side // 2)
    seconds, _ = timed(lambda: MCP_Geometric(cost).find_costs([middle]), rounds)
    return {"seconds": seconds, "tables_mb": held}


def _scipy(side: int, rounds: int) -> dict[str, Any]:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    began = time.perf_counter()
    cost = noise(side)
    cells = np.arange(side * side, dtype=np.int32).reshape(side, side)
    tails, heads, prices = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = np.s_[: side - dr, max(-dc, 0) : side - max(dc, 0)]
        b = np.s_[dr:, max(dc, 0) : side + min(dc, 0)]
        price = (cost[a] + cost[b]).ravel() * np.float32(math.hypot(dr, dc))
        tails += [cells[a].ravel(), cells[b].ravel()]
        heads += [cells[b].ravel(), cells[a].ravel()]
        prices += [price, price]
    n = side * side
    graph = coo_matrix(
        (np.concatenate(prices), (np.concatenate(tails), np.concatenate(heads))), (n, n)
    ).tocsr()
    del tails, heads, prices
    built = time.perf_counter() - began
    held = results_kept.peak_mb()
    seconds, _ = timed(lambda: dijkstra(graph, indices=n // 2 + side // 2), rounds)
    return {"seconds": seconds, "build_s": built, "tables_mb": held}


def swells(side: int) -> Dem:
    """Make a window of 1 m elevations strip by strip: 3 % and low swells."""
    z = np.empty((side, side), np.float32)
    x = np.arange(side, dtype=np.float32)[None, :]
    for first in range(0, side, 200):
        y = np.arange(first, min(first + 200, side), dtype=np.float32)[:, None]
        z[first : first + 200] = 300 - 0.03 * y + np.sin(x / 31) * np.cos(y / 27)
    half = side / 2
    return Dem(z, made_landforms.EAST_M - half, made_landforms.NORTH_M + half, 1.0)


def _chain(side: int, stand_m: float) -> dict[str, Any]:
    """Take one window from elevations to a search of its whole stand, stage by stage."""
    from layout import ground, terrain, water
    from layout.settings import limits_in_force

    case = made_landforms.Case("gentle", hectares=1.0, marked_per_ha=5.0, leave_per_ha=0.0)
    small = made_landforms.wood(case, draw_landing=False)
    dem = swells(side)
    area = replace(small, dem=dem, stand=MultiPolygon([made_landforms.square(stand_m)]))
    stages: dict[str, Any] = {"elevations_mb": results_kept.peak_mb()}
    began = time.perf_counter()

    def told(name: str) -> None:
        stages[f"{name}_mb"] = results_kept.peak_mb()
        stages[f"{name}_s"] = time.perf_counter() - began

    shape = terrain.build(dem)
    told("terrain")
    strips = water.strips(area, shape)
    told("water")
    opened = ground.open_area(area, strips)
    table = ground.build(
        area, shape, opened, limits_in_force(area.settings), width_m=3.2, weight=1.0
    )
    told("tables")
    search_s, field = timed(lambda: from_middle(table), 1)
    told("search")
    return stages | {
        "seconds": search_s,
        "states": int(field.settled),
        "lattice_cells": int(np.prod(table.shape)),
        "tables_mb": stages["tables_mb"],
    }


def _window(side: int, rounds: int) -> dict[str, Any]:
    return _chain(side, min(math.sqrt(50e4), side - 2 * made_landforms.MARGIN_M))


def _whole(side: int, rounds: int) -> dict[str, Any]:
    return _chain(side, side - 2 * made_landforms.MARGIN_M)


def _compile(side: int, rounds: int) -> dict[str, Any]:
    began = time.perf_counter()
    from_middle(lattice_of(side, pitches=False))
    plain = time.perf_counter() - began
    began = time.perf_counter()
    from_middle(lattice_of(side, pitches=True), 30.0)
    return {"seconds": plain, "pitches_s": time.perf_counter() - began, "tables_mb": 0.0}


RUN = {
    "headings": _headings,
    "pitches": lambda side, rounds: _headings(side, rounds, 30.0),
    "mcp": _mcp,
    "scipy": _scipy,
    "window": _window,
    "whole": _whole,
    "compile": _compile,
}


# -- the page


def tables(rows: dict[str, dict[str, Any]]) -> list[str]:
    """Lay out the page."""
    good = [r for r in rows.values() if "failed" not in r]
    by = {(r["kind"], round(r["cells"] / 1e6, 1)): r for r in good}
    body = []
    for kind in ("headings", "pitches", "mcp", "scipy"):
        for million in PLAIN_M:
            r = by.get((kind, million))
            if r is None:
                continue
            other = by.get(("mcp", million))
            ns = 1e9 * r["seconds"] / r["cells"]
            body.append([
                kind, f"{million:g}", f"{r['seconds']:.2f}", f"{ns:.0f}",
                f"{1e9 * r['seconds'] / r['states']:.0f}" if "states" in r else "-",
                f"{r['seconds'] / other['seconds']:.2f}" if other else "-",
                f"{r['tables_mb'] - r['start_mb']:,.0f}", f"{r['peak_mb'] - r['start_mb']:,.0f}",
                f"{1024**2 * (r['peak_mb'] - r['start_mb']) / r['cells']:.0f}",
                f"{r['build_s']:.1f}" if "build_s" in r else "-",
            ])  # fmt: skip
    head = [
        "search", "million cells", "s", "ns a cell", "ns a state", "time / mcp",
        "input, MB", "peak, MB", "bytes a cell", "graph built, s",
    ]  # fmt: skip
    out = ["## Searches of so many cells", results_kept.table(head, body)]
    chain = []
    for kind in ("window", "whole"):
        for million in WHOLE_M:
            r = by.get((kind, million))
            if r is not None:
                chain.append([
                    kind, f"{million:g}", f"{r['lattice_cells'] / 1e6:.2f}",
                    *(f"{r[f'{s}_mb']:,.0f}" for s in (
                        "elevations", "terrain", "water", "tables", "search")),
                    "yes" if r["peak_mb"] <= 1024 * GOAL_GB else "no",
                    f"{r['tables_s']:.1f}", f"{r['seconds']:.1f}",
                    f"{1e9 * r['seconds'] / max(r['states'], 1):.0f}",
                ])  # fmt: skip
    out += [
        "## Windows of 1 m elevations: most memory held so far after each stage, MB",
        results_kept.table(
            ["stand", "million elevations", "million lattice cells", "elevations", "terrain",
             "water", "tables", "search", f"within {GOAL_GB:g} GB", "to tables, s", "search, s",
             "ns a state"],
            chain,
        ),
    ]  # fmt: skip
    grown = []
    for kind in ("headings", "pitches", "mcp", "scipy", "window", "whole"):
        mine = sorted((r for r in good if r["kind"] == kind), key=lambda r: r["cells"])
        if len(mine) > 1:
            size = [r["cells"] for r in mine]
            grown.append([
                kind, f"{results_kept.growth(size, [r['seconds'] for r in mine]):.2f}",
                f"{results_kept.growth(size, [r['peak_mb'] - r['start_mb'] for r in mine]):.2f}",
            ])  # fmt: skip
    out += [
        "## Growth: exponent b in cells ** b",
        results_kept.table(["search", "time", "memory"], grown),
    ]
    first = next((r for r in good if r["kind"] == "compile"), None)
    if first:
        out.append(
            f"Compiling with an empty cache folder: {first['seconds']:.1f} s for the plain "
            f"search, {first['pitches_s']:.1f} s more for pitches; paid once, then kept."
        )
    lost = [[key, r["failed"]] for key, r in rows.items() if "failed" in r]
    if lost:
        out += ["## Runs that gave nothing", results_kept.table(["run", "why"], lost)]
    return out


def main() -> None:
    """Run what is asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--one", nargs=3, metavar=("KIND", "MILLIONS", "GB"))
    words.add_argument("--quick", action="store_true", help="up to one million cells")
    words.add_argument("--memory", type=float, default=14.0, metavar="GB")
    words.add_argument("--again", action="store_true")
    words.add_argument("--write", action="store_true")
    given = words.parse_args()
    if given.one:
        kind, million, memory = given.one
        print(json.dumps(one(kind, float(million), float(memory))))
        return
    rows = results_kept.read("search") if given.write else {}
    for kind, million in RUNS:
        key = f"{kind} {million:g}"
        if (key in rows and not given.again) or (given.quick and million > 1):
            continue
        folder = tempfile.TemporaryDirectory()
        env = {"NUMBA_CACHE_DIR": folder.name} if kind == "compile" else {}
        row = results_kept.in_child(
            str(Path(__file__)), kind, f"{million:g}", f"{given.memory:g}",
            timeout_s=1800, env=os.environ | env,
        )  # fmt: skip
        folder.cleanup()
        print(key, row.get("failed") or f"{row['seconds']:.2f} s", flush=True)
        rows = results_kept.keep("search", key, row) if given.write else rows | {key: row}
    print("\n\n".join(tables(rows)))
    if given.write:
        results_kept.write_table("search", "One-to-all searches", WORDS, tables(rows))


if __name__ == "__main__":
    # shapely's library is loaded before any limit on memory is set
    shapely.prepare(shapely.Point(0, 0))
    main()
