"""The choice among links that close loops, against trying everything and other forms.

Model class: connected facility location (Gollowitzer & Ljubic 2011). The second
opinions are every tree of links tried one by one, a flow for each tree given to
scipy's solver, networkx's largest flow, and the exact choice on forests.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import networkx as nx
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from looped_networks import grid_network
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from layout.choice import choose
from layout.looped_ascent import ascend
from layout.looped_choice import choose_looped
from layout.looped_cuts import cut_sets
from layout.looped_model import Looped, as_forest, by_group, faults, objective_of
from layout.looped_rows import first_program
from layout.row_solver import RowSolver
from layout.solver import Solver

Running = tuple[Solver, RowSolver]


@pytest.fixture(scope="module")
def running() -> Iterator[Running]:
    with Solver() as solver, RowSolver() as rows:
        yield solver, rows


def small_network(seed: int, nodes: int = 5, arcs: int = 11) -> Looped:
    """Links any way round, side by side or free of cost, and positions where chance puts them."""
    rng = np.random.default_rng(seed)
    head = rng.integers(1, nodes, arcs)
    tail = (head + rng.integers(1, nodes, arcs)) % nodes
    positions, trees = 5, 5
    pulls = sorted({(int(rng.integers(trees)), int(rng.integers(positions))) for _ in range(11)})
    return Looped(
        nodes=nodes,
        tail=tail.astype(np.int64),
        head=head.astype(np.int64),
        arc_cost=rng.uniform(0, 60, arcs) * (rng.random(arcs) < 0.9),
        position_node=rng.integers(1 if seed % 3 else 0, nodes, positions),
        position_cost=rng.uniform(0, 4, positions),
        pair_position=np.array([p for _, p in pulls], dtype=np.int64),
        pair_tree=np.array([t for t, _ in pulls], dtype=np.int64),
        pair_cost=rng.uniform(1, 15, len(pulls)),
        tree_price=rng.uniform(15, 70, trees),
    )


def cheapest_by_trying_everything(net: Looped) -> float:
    best = np.inf
    choices = [[-1, *np.flatnonzero(net.head == v).tolist()] for v in range(1, net.nodes)]
    for ways in product(*choices):
        arcs = np.zeros(net.tail.size, dtype=bool)
        arcs[[a for a in ways if a >= 0]] = True
        if faults(net, arcs, np.full(net.tree_price.size, -1)):
            continue
        reached = np.isin(net.position_node, [0, *net.head[arcs].tolist()])
        for opened in product([False, True], repeat=net.position_node.size):
            sites = np.array(opened)
            if (sites & ~reached).any():
                continue
            cost = net.tree_price.copy()
            usable = sites[net.pair_position]
            np.minimum.at(cost, net.pair_tree[usable], net.pair_cost[usable])
            total = net.arc_cost[arcs].sum() + net.position_cost[sites].sum() + cost.sum()
            best = min(best, float(total))
    return best


def by_ascent(net: Looped) -> float:
    return float(
        ascend(
            net.tail, net.arc_cost, *net.arriving, net.position_node, net.position_cost,
            *by_group(net.pair_tree, net.tree_price.size), net.pair_position, net.pair_cost,
            net.price, 1000,
        )[0]
    )  # fmt: skip


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 100_000))
def test_small_networks_against_trying_everything(seed: int, running: Running) -> None:
    net = small_network(seed)
    truth = cheapest_by_trying_everything(net)
    found, _ = choose_looped(net, *running, time_limit_s=300, gap=0.0, seed=0)
    assert faults(net, found.arcs, found.tree_pair) == []
    assert found.objective == pytest.approx(objective_of(net, found.arcs, found.tree_pair))
    assert found.objective == pytest.approx(truth, abs=1e-6)
    assert found.bound == pytest.approx(truth, abs=1e-4)
    assert found.bound <= truth + 1e-6
    assert by_ascent(net) <= truth + 1e-6


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 100_000))
def test_out_of_time_the_bound_still_holds(seed: int, running: Running) -> None:
    net = small_network(seed, nodes=6, arcs=14)
    truth = cheapest_by_trying_everything(net)
    found, _ = choose_looped(net, *running, time_limit_s=0.0, gap=0.0, seed=0)
    assert faults(net, found.arcs, found.tree_pair) == []
    assert found.bound - 1e-6 <= truth <= found.objective + 1e-6


def flow_for_each_tree(net: Looped) -> float:
    """Solve with one flow a tree: f_ta <= y_a, and a pull takes in the flow at its node."""
    a, p, k, t = (x.size for x in (net.tail, net.position_node, net.pair_cost, net.tree_price))
    flow0 = a + p + k + t
    n = flow0 + t * a
    rows, low, high = [], [], []

    def row(entries: list[tuple[int, float]], lo: float, hi: float) -> None:
        line = np.zeros(n)
        for column, value in entries:
            line[column] += value
        rows.append(line)
        low.append(lo)
        high.append(hi)

    for tree in range(t):
        mine = np.flatnonzero(net.pair_tree == tree)
        row([*[(a + p + int(j), 1.0) for j in mine], (a + p + k + tree, 1.0)], 1, 1)
        for link in range(a):
            row([(flow0 + tree * a + link, 1.0), (link, -1.0)], -np.inf, 0)
        for v in range(1, net.nodes):
            parked = [j for j in mine if net.position_node[net.pair_position[j]] == v]
            row(
                [(flow0 + tree * a + int(i), 1.0) for i in np.flatnonzero(net.head == v)]
                + [(flow0 + tree * a + int(i), -1.0) for i in np.flatnonzero(net.tail == v)]
                + [(a + p + int(j), -1.0) for j in parked],
                0,
                0,
            )
    for j in range(k):
        row([(a + p + j, 1.0), (a + int(net.pair_position[j]), -1.0)], -np.inf, 0)
    answer = milp(
        np.concatenate(
            [net.arc_cost, net.position_cost, net.pair_cost, net.tree_price, np.zeros(t * a)]
        ),
        constraints=LinearConstraint(np.array(rows), low, high),
        bounds=Bounds(0, 1),
        integrality=(np.arange(n) < a + p).astype(int),
    )
    assert answer.success
    return float(answer.fun)


@pytest.mark.parametrize("seed", range(2))
def test_a_made_network_against_one_flow_a_tree_and_scipy(seed: int, running: Running) -> None:
    net = grid_network(seed, side=4, trees=10)
    found, _ = choose_looped(net, *running, time_limit_s=300, gap=0.0, seed=0)
    assert found.objective == pytest.approx(flow_for_each_tree(net), abs=1e-5)


def test_seventy_trees_are_settled_and_the_same_each_time(running: Running) -> None:
    net = grid_network(1, side=8, trees=70)
    first, course = choose_looped(net, *running, time_limit_s=300, gap=0.0, seed=0)
    again, _ = choose_looped(net, *running, time_limit_s=300, gap=0.0, seed=0)
    assert first.objective - first.bound < 1e-4
    assert faults(net, first.arcs, first.tree_pair) == []
    np.testing.assert_array_equal(first.arcs, again.arcs)
    np.testing.assert_array_equal(first.tree_pair, again.tree_pair)
    assert (first.objective, first.bound) == (again.objective, again.bound)
    assert course.ascent < course.relaxed <= first.objective + 1e-6
    # the loops are worth something here: the shortest ways alone cost more
    alone = choose(
        as_forest(net, shortest_ways(net))[0], running[0], time_limit_s=30, gap=0.0, seed=0
    )
    assert alone.objective > first.objective + 1.0


def shortest_ways(net: Looped) -> np.ndarray:
    graph = nx.DiGraph()
    for a in range(net.tail.size):
        graph.add_edge(int(net.tail[a]), int(net.head[a]), cost=float(net.arc_cost[a]), arc=a)
    before, _ = nx.dijkstra_predecessor_and_distance(graph, 0, weight="cost")
    way = np.full(net.nodes, -1, dtype=np.int64)
    for v, up in before.items():
        if up:
            way[v] = graph.edges[up[0], v]["arc"]
    return way


@pytest.mark.parametrize("seed", range(3))
def test_on_a_forest_it_agrees_with_the_exact_choice(seed: int, running: Running) -> None:
    whole = grid_network(seed, side=6, trees=30)
    on = np.isin(np.arange(whole.tail.size), shortest_ways(whole))
    net = replace(whole, tail=whole.tail[on], head=whole.head[on], arc_cost=whole.arc_cost[on])
    forest, _, _ = as_forest(net, shortest_ways(net))
    exact = choose(forest, running[0], time_limit_s=30, gap=0.0, seed=0)
    found, _ = choose_looped(net, *running, time_limit_s=300, gap=0.0, seed=0)
    assert found.objective == pytest.approx(exact.objective, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 100_000))
def test_cuts_are_as_short_as_the_largest_flow_says(seed: int) -> None:
    net = small_network(seed, nodes=7, arcs=16)
    rng = np.random.default_rng(seed)
    arcs, pulls = rng.random(net.tail.size) * 0.6, rng.random(net.pair_cost.size) * 0.3
    trees = by_group(net.pair_tree, net.tree_price.size)
    tree, sets, short = cut_sets(
        net.tail, net.head, *net.arriving, *net.leaving, net.position_node, *trees,
        net.pair_position, arcs, pulls, np.arange(net.tree_price.size), 3, 1e-4,
    )  # fmt: skip
    for t in range(net.tree_price.size):
        graph = nx.DiGraph()
        graph.add_nodes_from([0, "sink"])
        for a in range(net.tail.size):
            u, v = int(net.tail[a]), int(net.head[a])
            there = graph.get_edge_data(u, v, {"capacity": 0.0})["capacity"]
            graph.add_edge(u, v, capacity=there + float(arcs[a]))
        need = 0.0
        for k in np.flatnonzero(net.pair_tree == t):
            v = int(net.position_node[net.pair_position[k]])
            if v:
                there = graph.get_edge_data(v, "sink", {"capacity": 0.0})["capacity"]
                graph.add_edge(v, "sink", capacity=there + float(pulls[k]))
                need += float(pulls[k])
        lack = need - nx.maximum_flow_value(graph, 0, "sink")
        mine = short[tree == t]
        assert mine.size > 0 or lack < 2e-4
        if mine.size:
            assert mine.max() == pytest.approx(lack, abs=1e-4)
    for t, inside, lack in zip(tree, sets.astype(bool), short, strict=True):
        assert not inside[0]
        into = arcs[inside[net.head] & ~inside[net.tail]].sum()
        on = (net.pair_tree == t) & inside[net.position_node[net.pair_position]]
        assert lack == pytest.approx(pulls[on].sum() - into)


def test_rows_added_and_the_bound_from_duals_against_scipy(running: Running) -> None:
    net = grid_network(3, side=4, trees=12)
    program = first_program(net)
    rows = running[1]
    rows.open(program, seed=0)
    none = np.zeros(0, dtype=np.int64)
    still = {"limited": none, "low": np.zeros(0), "high": np.zeros(0)}
    first = rows.run(
        np.zeros(1, dtype=np.int64), none, np.zeros(0), **still, loose_rounds=9, time_limit_s=20
    )
    # two rows more: links 0 and 1 together carry no less than pull 0, nor than pull 1
    pull0 = net.tail.size + net.position_node.size
    columns = np.array([0, 1, pull0, 0, 1, pull0 + 1])
    values = np.array([1.0, 1.0, -1.0, 1.0, 1.0, -1.0])
    second = rows.run(
        np.array([0, 3, 6]), columns, values, **still, loose_rounds=9, time_limit_s=20
    )
    dense = rows.matrix.toarray()
    assert dense.shape[0] == program.row_low.size + 2
    for found, until in ((first, program.row_low.size), (second, program.row_low.size + 2)):
        low, high = rows.row_low[:until], rows.row_high[:until]
        part = dense[:until]
        equal = low == high
        truth = linprog(
            program.cost,
            A_ub=np.concatenate([part[~equal & (high < 9)], -part[~equal & (low > -9)]]),
            b_ub=np.concatenate([high[~equal & (high < 9)], -low[~equal & (low > -9)]]),
            A_eq=part[equal],
            b_eq=low[equal],
            bounds=(0, 1),
        )
        assert found.solved
        assert found.bound == pytest.approx(truth.fun, abs=1e-6)
        assert (found.left[found.values > 1e-7] < 1e-6).all()
    assert second.bound >= first.bound - 1e-9


def test_nothing_to_choose(running: Running) -> None:
    none = np.zeros(0, dtype=np.int64)
    net = Looped(
        1, none, none, np.zeros(0), none, np.zeros(0), none, none, np.zeros(0), np.full(3, 200.0)
    )
    found, _ = choose_looped(net, *running, time_limit_s=5, gap=0.0, seed=0)
    assert found.objective == found.bound == pytest.approx(600.0)
