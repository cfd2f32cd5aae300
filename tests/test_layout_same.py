"""No trail drawn: the same wood gives the same plan, again, elsewhere and in a mirror.

`test_plan.py` and `test_plan_properties.py` hold woods with a main trail drawn;
here it is looked for as well, and everything written to plan.json is compared,
time stamps apart.
"""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from made_landforms import EAST_M, Case, wood

from layout.outputs import write_plan
from layout.plan import Plan, make_plan
from layout.site import Area

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[1]
# said of the moment or the machine, not of the plan
STAMPS = {"made", "planned_at", "dated", "seconds", "duration_s", "folder"}


def small_wood(seed: int = 3) -> Area:
    # 140 m a side: a whole number of lattice cells, so that a mirror keeps the lattice
    return wood(Case("rolling", hectares=1.96, marked_per_ha=12.0, leave_per_ha=60.0, seed=seed))


def unstamped(told: Any) -> Any:
    if isinstance(told, dict):
        return {key: unstamped(value) for key, value in told.items() if key not in STAMPS}
    if isinstance(told, list):
        return [unstamped(value) for value in told]
    return told


def as_written(plan: Plan, folder: Path) -> str:
    """Give plan.json as it is written, without its time stamps."""
    out = write_plan(plan, folder)
    told = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    return json.dumps(unstamped(told), indent=1, sort_keys=True)


@pytest.fixture(scope="module")
def plain() -> Plan:
    return make_plan(small_wood())


def test_planned_again_the_file_is_the_same(plain: Plan, tmp_path: Path) -> None:
    first = as_written(plain, tmp_path / "first")
    assert '"trails"' in first
    assert as_written(make_plan(small_wood()), tmp_path / "second") == first


AGAIN = """
import sys
from pathlib import Path
from test_layout_same import as_written, make_plan, small_wood
sys.stdout.write(as_written(make_plan(small_wood()), Path(sys.argv[1])))
"""


@pytest.mark.parametrize("seed", ["0", "4242"])
def test_in_another_process_the_file_is_the_same(plain: Plan, seed: str, tmp_path: Path) -> None:
    # another seed of the hash orders every set of words another way
    folders = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    done = subprocess.run(
        [sys.executable, "-c", AGAIN, str(tmp_path / "there")],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
        timeout=900,
        env=os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": folders},
    )
    assert done.stdout == as_written(plain, tmp_path / "here")


def mirrored(area: Area) -> Area:
    """Lay a wood in a mirror, east for west; its elevations keep their cells."""

    def points(xy: np.ndarray) -> np.ndarray:
        return np.column_stack([2 * EAST_M - xy[:, 0], xy[:, 1]])

    dem = area.dem.with_z(np.ascontiguousarray(area.dem.z[:, ::-1]))
    east = dem.west_m + dem.shape[1] * dem.cell_m
    trees = area.trees
    return replace(
        area,
        dem=replace(dem, west_m=2 * EAST_M - east),
        stand=shapely.transform(area.stand, points),
        trees=replace(trees, x=2 * EAST_M - trees.x),
        access_road=tuple(shapely.transform(r, points) for r in area.access_road),
        landing=shapely.transform(area.landing, points),
    )


def test_in_a_mirror_it_is_as_good(plain: Plan) -> None:
    other = make_plan(mirrored(small_wood()))
    left = [sum(o.status not in ("served", "leave") for o in p.trees) for p in (plain, other)]
    assert left[0] == left[1]
    # the main trails, looked for in both, are each other's mirror
    for one, two in zip(mains(plain), mains(other), strict=True):
        back = shapely.transform(two, lambda xy: np.column_stack([2 * EAST_M - xy[:, 0], xy[:, 1]]))
        assert one.hausdorff_distance(back) < 1e-3
    # each choice is proved among its own spurs; where two ways cost the same the search takes
    # one of them, and the rounds that follow grow on from another network
    assert other.choice.objective_m2 == pytest.approx(plain.choice.objective_m2, rel=0.01)
    assert {plan.choice.stopped_by for plan in (plain, other)} == {"gap"}


def mains(plan: Plan) -> list[shapely.LineString]:
    return [trail.line for trail in plan.trails if trail.kind == "main"]
