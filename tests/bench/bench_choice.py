"""The exact choice against other formulations and quick rules, side by side.

    python tests/bench/bench_choice.py --quick           # 100 and 300 stems, 10 s each
    python tests/bench/bench_choice.py --write           # every size, every form, 20 seeds

Every run is a process of its own, one after the other, so that times and peak memory
are its own; the solver's process is counted with it. Runs that are done are kept in
``results/choice.json`` and not repeated (``--again`` repeats them).
"""

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
import results_kept
from made_forests import forest_of
from pruning import greedy_pruned

from layout.choice import choose
from layout.choice_model import Choice, Forest
from layout.greedy import greedy
from layout.solver import Program, Solver

WORDS = """
One made forest a size and seed (`tests/made_forests.py`: 30 stems a hectare, shortest
paths over uneven ground; no turning places). `subtree` is the package's own model.
`each` is the textbook form with x <= y for every pull, `sum` the same with one row a
position, `flow` sends one commodity from the landing to every stem. All four are given
to the same solver process with the same greedy start and time limit. `greedy` and
`greedy + prune` are measured against the bound `subtree` proves. Seconds are of the
model and its solution, without the start of Python; memory is of the process that
builds the model and of the solver's.
"""
SIZES = (100, 300, 600, 1500)
FORMS = ("subtree", "each", "sum", "flow", "greedy", "greedy + prune")
SEEDS = 20
SEED_TREES = 300
MOST_S = 5.0


# -- other formulations, columns: segments | positions | pulls | stems left | flows


def plain(f: Forest, form: str, first: Choice) -> Program:
    """Write the choice in one of the forms that are not ours."""
    e, p, k, t = f.parent.size, f.position_segment.size, f.pair_cost.size, f.tree_price.size
    position0, pair0, tree0, flow0 = e, e + p, e + p + k, e + p + k + t
    n = flow0 + (e if form == "flow" else 0)
    starts, columns, values, low, high = [0], [], [], [], []

    def row(cells: list[tuple[int, float]], lo: float, hi: float) -> None:
        columns.extend(c for c, _ in cells)
        values.extend(v for _, v in cells)
        starts.append(len(columns))
        low.append(lo)
        high.append(hi)

    of_tree: list[list[int]] = [[] for _ in range(t)]
    at: list[list[int]] = [[] for _ in range(p)]
    for i in range(k):
        of_tree[f.pair_tree[i]].append(i)
        at[f.pair_position[i]].append(i)
    for i, mine in enumerate(of_tree):
        row([*((pair0 + j, 1.0) for j in mine), (tree0 + i, 1.0)], 1.0, 1.0)
    for i, mine in enumerate(at):
        if form == "each":
            for j in mine:
                row([(pair0 + j, 1.0), (position0 + i, -1.0)], -np.inf, 0.0)
        elif mine:
            row(
                [*((pair0 + j, 1.0) for j in mine), (position0 + i, -float(len(mine)))],
                -np.inf,
                0.0,
            )
        if f.position_segment[i] >= 0:
            row([(position0 + i, 1.0), (int(f.position_segment[i]), -1.0)], -np.inf, 0.0)
    children: list[list[int]] = [[] for _ in range(e)]
    for s in range(e):
        if f.parent[s] >= 0:
            row([(s, 1.0), (int(f.parent[s]), -1.0)], -np.inf, 0.0)
            children[f.parent[s]].append(s)
    if form == "flow":
        here: list[list[int]] = [[] for _ in range(e)]
        for i in range(k):
            if f.position_segment[f.pair_position[i]] >= 0:
                here[f.position_segment[f.pair_position[i]]].append(i)
        for s in range(e):
            row(
                [
                    (flow0 + s, 1.0),
                    *((flow0 + c, -1.0) for c in children[s]),
                    *((pair0 + i, -1.0) for i in here[s]),
                ],
                0.0,
                0.0,
            )
            row([(flow0 + s, 1.0), (s, -float(t))], -np.inf, 0.0)
    upper = np.ones(n)
    upper[flow0:] = float(t)
    cost = np.concatenate([f.segment_cost, f.position_cost, f.pair_cost, f.tree_price])
    return Program(
        cost=np.concatenate([cost, np.zeros(n - cost.size)]),
        low=np.zeros(n),
        high=upper,
        integral=np.arange(n) < pair0 if form == "each" else np.arange(n) < flow0,
        row_low=np.array(low),
        row_high=np.array(high),
        starts=np.array(starts, dtype=np.int32),
        columns=np.array(columns, dtype=np.int32),
        values=np.array(values),
        start=_start(f, first, n, (position0, pair0, tree0, flow0)),
    )


def _start(f: Forest, first: Choice, n: int, at: tuple[int, int, int, int]) -> np.ndarray:
    position0, pair0, tree0, flow0 = at
    v = np.zeros(n)
    v[: f.parent.size] = first.segments
    served = first.tree_pair[first.tree_pair >= 0]
    v[position0 + f.pair_position[served]] = 1.0
    v[pair0 + served] = 1.0
    v[tree0 + np.flatnonzero(first.tree_pair < 0)] = 1.0
    if n > flow0:
        for k in served:
            s = int(f.position_segment[f.pair_position[k]])
            while s >= 0:
                v[flow0 + s] += 1.0
                s = int(f.parent[s])
    return v


# -- one run


def one(form: str, trees: int, seed: int, limit_s: float) -> dict[str, Any]:
    """Solve one forest in one form."""
    forest = forest_of(trees, seed)
    greedy(forest_of(20, 0))  # its kernel is compiled before anything is timed
    rows = nodes = 0
    bound = 0.0
    with Solver() as solver:
        choose(forest_of(20, 0), solver, time_limit_s=10, gap=0.0, seed=0)  # the process starts
        began = time.perf_counter()
        if form == "subtree":
            found = choose(forest, solver, time_limit_s=limit_s, gap=0.0, seed=0)
            objective, bound = found.objective, found.bound
            rows, nodes = found.size["rows"], found.size["nodes"]
        elif form == "greedy":
            objective = greedy(forest).objective
        elif form == "greedy + prune":
            objective = greedy_pruned(
                forest, solver, time_limit_s=limit_s, gap=0.0, seed=0
            ).objective
        else:
            program = plain(forest, form, greedy(forest))
            answer = solver.solve(program, time_limit_s=limit_s, gap=0.0, seed=0)
            objective, bound = answer.objective, answer.bound
            rows, nodes = program.row_low.size, answer.nodes
        seconds = time.perf_counter() - began
        solver_mb = results_kept.peak_mb(solver._child.pid if solver._child else None)
    return {
        "form": form,
        "trees": trees,
        "seed": seed,
        "segments": int(forest.parent.size),
        "pairs": int(forest.pair_cost.size),
        "rows": int(rows),
        "nodes": int(nodes),
        "objective": float(objective),
        "bound": float(bound),
        "seconds": seconds,
        "limit_s": limit_s,
        "own_mb": results_kept.peak_mb(),
        "solver_mb": solver_mb,
    }


# -- the page


def gap_pct(row: dict[str, Any], bound: float) -> float:
    """Give the gap to a bound, percent of the objective."""
    return 100.0 * max(row["objective"] - bound, 0.0) / max(row["objective"], 1e-9)


def tables(rows: dict[str, dict[str, Any]]) -> list[str]:
    """Lay out the page."""
    told = [r for r in rows.values() if "failed" not in r]
    main = [r for r in told if r["seed"] == 0]
    bounds = {r["trees"]: r["bound"] for r in main if r["form"] == "subtree"}
    body = []
    for trees in SIZES:
        base = next((r for r in main if r["trees"] == trees and r["form"] == "subtree"), None)
        for form in FORMS:
            r = next((r for r in main if r["trees"] == trees and r["form"] == form), None)
            if r is None:
                continue
            own = gap_pct(r, r["bound"]) if r["bound"] > 0 else None
            body.append([
                trees, f"{r['segments']:,}", f"{r['pairs']:,}", form,
                f"{r['rows']:,}" if r["rows"] else "-", r["nodes"] or "-",
                f"{r['objective']:,.1f}", "-" if own is None else f"{own:.3f}",
                f"{gap_pct(r, bounds[trees]):.3f}" if trees in bounds else "-",
                f"{r['seconds']:.2f}",
                f"{r['seconds'] / base['seconds']:.2f}" if base else "-",
                f"{r['own_mb']:.0f} + {r['solver_mb']:.0f}",
            ])  # fmt: skip
    head = [
        "stems", "segments", "pulls", "form", "rows", "nodes", "objective", "own gap, %",
        "over subtree's bound, %", "s", "time / subtree", "peak MB",
    ]  # fmt: skip
    out = ["## Side by side, seed 0", results_kept.table(head, body)]
    grown = []
    for form in FORMS:
        mine = sorted((r for r in main if r["form"] == form), key=lambda r: r["trees"])
        if len(mine) > 2:
            size = [r["trees"] for r in mine]
            grown.append([
                form,
                f"{results_kept.growth(size, [r['seconds'] for r in mine]):.2f}",
                f"{results_kept.growth(size, [r['own_mb'] + r['solver_mb'] for r in mine]):.2f}",
                "yes" if any(r["seconds"] >= r["limit_s"] for r in mine) else "no",
            ])  # fmt: skip
    out += [
        "## Growth: exponent b in stems ** b",
        results_kept.table(["form", "time", "peak memory", "a time limit was met"], grown),
    ]
    many = sorted(
        (r for r in told if r["form"] == "subtree" and r["trees"] == SEED_TREES),
        key=lambda r: r["seed"],
    )
    if many:
        good = [r for r in many if gap_pct(r, r["bound"]) < 1e-4 and r["seconds"] <= MOST_S]
        seconds = [r["seconds"] for r in many]
        out += [
            f"## {SEED_TREES} stems, {len(many)} seeds",
            f"Gap 0 within {MOST_S:g} s: {len(good)} of {len(many)}. Seconds: least "
            f"{min(seconds):.2f}, median {np.median(seconds):.2f}, most {max(seconds):.2f}; at "
            f"the root: {sum(r['nodes'] <= 1 for r in many)} of {len(many)}.",
        ]
    lost = [[key, r["failed"]] for key, r in rows.items() if "failed" in r]
    if lost:
        out += ["## Runs that gave nothing", results_kept.table(["run", "why"], lost)]
    return out


def main() -> None:
    """Run what is asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--one", nargs=4, metavar=("FORM", "TREES", "SEED", "SECONDS"))
    words.add_argument("--quick", action="store_true", help="small sizes, short limits")
    words.add_argument("--limit", type=float, default=60.0, metavar="SECONDS")
    words.add_argument("--again", action="store_true")
    words.add_argument("--write", action="store_true")
    given = words.parse_args()
    if given.one:
        form, trees, seed, limit_s = given.one
        print(json.dumps(one(form, int(trees), int(seed), float(limit_s))))
        return
    sizes, seeds, limit = SIZES, SEEDS, given.limit
    if given.quick:
        sizes, seeds, limit = (100, 300), 3, 10.0
    runs = [(form, trees, 0) for trees in sizes for form in FORMS]
    runs += [("subtree", SEED_TREES, seed) for seed in range(1, seeds)]
    rows = results_kept.read("choice") if given.write else {}
    for form, trees, seed in runs:
        key = f"{form} {trees} {seed}"
        if key in rows and not given.again:
            continue
        row = results_kept.in_child(
            str(Path(__file__)), form, str(trees), str(seed), str(limit), timeout_s=limit + 300
        )
        print(key, row.get("failed") or f"{row['seconds']:.2f} s", flush=True)
        rows = results_kept.keep("choice", key, row) if given.write else rows | {key: row}
    print("\n\n".join(tables(rows)))
    if given.write:
        results_kept.write_table("choice", "The choice of spurs", WORDS, tables(rows))


if __name__ == "__main__":
    main()
