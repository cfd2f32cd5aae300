"""The whole job on real ground under a real stem map, with nothing drawn.

Ground: Maunga Whau (R's `volcano`, 10 m cells); stems: Lansing Woods (spatstat).
See `lansing.py`. What is held here: a plan is made and written, neither checker
finds a limit broken on what was routed, and the caution that 10 m cells are too
coarse for trails is given.
"""

from pathlib import Path

import lansing
import numpy as np
import plan_checker
import pytest

from layout.area import read_area
from layout.outputs import write_plan
from layout.plan import Plan, make_plan
from layout.records import REACHED

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = lansing.write(tmp_path_factory.mktemp("lansing") / "area")
    return make_plan(read_area(folder))


def test_every_stem_of_the_map_is_there_and_every_twelfth_is_marked(made: Plan) -> None:
    assert len(made.area.trees) == 2251
    assert int(made.area.trees.marked.sum()) == int(np.ceil(2251 / 12))


def test_nothing_that_was_routed_breaks_a_limit(made: Plan) -> None:
    routed = {t.trail_id for t in made.trails if t.source == "routed"}
    assert routed
    stops = [
        f.message
        for f in made.findings
        if f.level == "stop" and (f.subject_id in routed or f.subject_layer != "trails")
    ]
    assert stops == []
    assert plan_checker.of_plan(made) == []


def test_coarse_cells_are_said(made: Plan) -> None:
    assert any(f.code == "dem_coarse" for f in made.findings)


def test_trees_without_a_diameter_are_said_and_every_marked_one_has_a_fate(made: Plan) -> None:
    marked = [t for t in made.trees if t.role == "cut"]
    assert len(marked) == int(made.area.trees.marked.sum())
    served = [t for t in marked if t.status == "served"]
    assert served
    for tree in marked:
        if tree.status not in REACHED:
            assert tree.remedies[0] == "leave it standing"
    assert all(tree.mass_kg is None for tree in marked)


def test_the_plan_is_written(made: Plan, tmp_path: Path) -> None:
    out = write_plan(made, tmp_path / "out")
    assert {"plan.gpkg", "plan.json", "trees.csv", "overview.png"} <= {
        path.name for path in out.iterdir()
    }
