"""Time the landing scan: seconds a site on 8 ha of rolling ground, and what it is made of.

Run as ``python tests/bench/bench_landing.py``. The ratio is against one search
of the same lattice from the same place: the reach test must cost little beside it.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from made_ground import area_of, at, strips_of, terrain_of, trees_of
from shapely.geometry import MultiPolygon, box

from layout import lattice, reach, sites
from layout.settings import limits_in_force

SIDE_M = 283.0  # 8 ha
GOAL_S = 0.15


def main() -> int:
    """Print the figures; 1 where a site takes longer than the goal."""
    ground = terrain_of(
        lambda x, y: 100 + 0.06 * y + 5 * np.sin(x / 40) + 4 * np.cos(y / 55) + 2 * np.sin(y / 17)
    )
    rng = np.random.default_rng(7)
    spots = rng.uniform(70, 70 + SIDE_M - 20, (160, 2))
    trees = trees_of([{"x": x, "y": y, "marked": True} for x, y in spots])
    stand = MultiPolygon([box(*at(60, 60), *at(60 + SIDE_M, 60 + SIDE_M))])
    area = area_of(ground, trees=trees, stand=stand)
    strips, limits = strips_of(ground), limits_in_force(area.settings)
    width = area.settings.trails.width_main_m
    begun = time.perf_counter()
    given = reach.scene(area, ground, strips, limits, width_m=width)
    made = time.perf_counter() - begun
    places = sites._spread(area, ground, strips, sites._places(area, ground, strips), 24)
    sites._judged(given, places[0])  # compiles
    begun = time.perf_counter()
    found = [sites._judged(given, place) for place in places]
    each = (time.perf_counter() - begun) / len(places)
    states = reach.ways_off(given.ground, places[0].shape)
    none = np.zeros(states.size)
    begun = time.perf_counter()
    lattice.search(
        given.ground, states, none, none, none,
        radius_m=area.settings.trails.turn_radius_m, longest_m=np.inf, turn_cost=1.0,
    )  # fmt: skip
    once = time.perf_counter() - begun
    served = [site.trees for site in found]
    print(f"ground, winch and serving states, once: {made:.2f} s")
    print(
        f"{len(places)} sites: {each:.3f} s each (goal {GOAL_S} s), {each / once:.2f} x one search"
    )
    print(f"trees served: {min(served)} to {max(served)} of {len(trees)}")
    return int(each > GOAL_S)


if __name__ == "__main__":
    sys.exit(main())
