"""Time of the heading search: ns per settled state, and against a plain cell search.

Run ``python tests/bench/bench_lattice.py``; it prints and never fails on time.
"""

import sys
import time
from pathlib import Path

import numpy as np
from skimage.graph import MCP_Geometric

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from layout.ground import CLOSED, FREE, SHORT_ONLY, Ground
from layout.lattice import number, search

ROUNDS = 3


def best_of(work) -> tuple[float, object]:
    """Give the shortest time of a few, seconds, and what came out."""
    out, least = None, np.inf
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        out = work()
        least = min(least, time.perf_counter() - begun)
    return least, out


def main() -> None:
    """Print the figures."""
    print("cells      states settled   ns/state   ns/cell   MCP ns/cell   ratio   way")
    for side in (150, 300):
        rng = np.random.default_rng(side)
        noise = rng.random((side // 10 + 1, side // 10 + 1))
        smooth = np.kron(noise, np.ones((10, 10)))[:side, :side]
        cell_cost = (3 + 3 * smooth).astype(np.float32)
        cost = np.broadcast_to(cell_cost, (16, side, side)).copy()
        closed = np.full(cost.shape, FREE, np.uint8)
        # some headings closed, as limits of grade and cross slope do
        closed[rng.random(cost.shape) < 0.02] = CLOSED
        flagged = closed.copy()
        patch = np.kron(noise > 0.9, np.ones((10, 10), bool))[:side, :side]
        flagged[:, patch] = np.maximum(flagged[:, patch], SHORT_ONLY)
        middle = side // 2
        plain = Ground(0.0, 2.0 * side, 2.0, closed, cost, 3.0)
        at = number(plain, np.arange(16), np.full(16, middle), np.full(16, middle))
        at = at[closed[np.arange(16), middle, middle] == FREE]
        zero = np.zeros(at.size)
        other, _ = best_of(
            lambda c=cell_cost, m=middle: MCP_Geometric(c.astype(float)).find_costs([(m, m)])
        )
        for name, table, pitch in (("plain", closed, 0.0), ("pitches", flagged, 30.48)):
            ground = Ground(0.0, 2.0 * side, 2.0, table, cost, 3.0)
            seconds, field = best_of(
                lambda g=ground, a=at, z=zero, p=pitch: search(
                    g, a, z, z, z, radius_m=7.62, longest_m=1e6, turn_cost=1.0, short_pitch_m=p
                )
            )
            settled = field.settled
            print(
                f"{side:4d}^2  {settled:15,d}   {1e9 * seconds / settled:8.0f}"
                f"   {1e9 * seconds / side**2:7.0f}   {1e9 * other / side**2:11.0f}"
                f"   {seconds / other:5.1f}   {name}"
            )


if __name__ == "__main__":
    main()
