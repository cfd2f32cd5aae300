"""What may come down on somebody, on the map in the browser: marks, rings, cards, trees to hold."""

import math
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from drawing_page import DESKTOP, Served, Sheet, missing, served
from numpy.testing import assert_allclose

from layout.area import read_area
from layout.drawing.desk import Desk
from layout.drawing.draft_area import draft_of
from layout.drawing.ground_read import ground_read
from layout.land import hazard_tree_reach_m, near_hazard_trees

AREA = Path(__file__).parent / "data" / "metric_area"
PLANNED_S = 240.0
HAZARDS_Z = 18
needs_browser = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give an area with two hazard trees: one nobody marked, beside marked ones, and one marked."""
    made = Path(shutil.copytree(AREA, tmp_path_factory.mktemp("danger") / "area"))
    table = pd.read_csv(made / "trees.csv", dtype=str, keep_default_na=False)
    cut = (table["mark"] == "cut").to_numpy()
    places = table[["x", "y"]].astype(float).to_numpy()
    first = int(np.flatnonzero(cut)[0])
    away = np.hypot(*(places - places[first]).T)
    bad = min(np.flatnonzero(~cut).tolist(), key=lambda row: away[row])
    far = max(np.flatnonzero(cut).tolist(), key=lambda row: away[row])
    table["hazard"], table["keep"] = "", ""
    table.loc[bad, ["hazard", "keep"]] = ["dead top", "den"]
    table.loc[far, "hazard"] = "hung"
    table.to_csv(made / "trees.csv", index=False)
    return made


@pytest.fixture
def desk(folder: Path) -> Desk:
    return Desk(ground_read(read_area(folder)))


def test_the_map_is_told_of_hazard_trees_and_how_far_to_keep_off(desk: Desk) -> None:
    area = desk.ground.area
    got = desk.area({})["hazard_trees"]
    rows = [row for row, kind in enumerate(area.trees.hazard) if kind]
    assert [one["row"] for one in got] == rows and len(rows) == 2
    assert {one["kind"] for one in got} == {"dead top", "hung"}
    assert_allclose([one["keep_off_m"] for one in got], hazard_tree_reach_m(area)[rows], atol=0.06)


def test_a_card_says_every_danger_and_who_is_to_be_held(desk: Desk) -> None:
    area, draft = desk.ground.area, draft_of(desk.ground.area).as_json()
    trees = area.trees
    bad = next(r for r, kind in enumerate(trees.hazard) if kind and not trees.marked[r])
    first = next(r for r, kind in enumerate(trees.hazard) if kind and trees.marked[r])

    def care(row: int, marks: dict[str, str] | None = None) -> list[str]:
        body = {"draft": {**draft, "marks": marks or {}}, "tree": trees.tree_id[row]}
        return list(desk.tree(body)["care"])

    danger, kept = care(bad)  # that it is to be kept does not hide that it may come down
    assert "not marked: keep two tree lengths off" in danger and "to be kept" in kept
    assert "before any other work near it" in care(first)[0]
    near = near_hazard_trees(area)[bad]
    assert near.size
    for row in near.tolist():
        away = math.hypot(trees.x[row] - trees.x[bad], trees.y[row] - trees.y[bad])
        (words,) = care(row)
        assert words.startswith("HOLD") and trees.tree_id[bad] in words
        assert f"{away:.0f} m" in words
        assert care(row, {trees.tree_id[bad]: "cut"}) == []  # it is cut first, then nobody waits


@pytest.fixture(scope="module")
def danger(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(folder, tmp_path_factory.mktemp("map") / "area") as running:
        yield running


def kinds(sheet: Sheet) -> list[str]:
    script = (
        "z => skidway.map.getAllLayers().find(l => l.getZIndex() === z).getSource()"
        ".getFeatures().map(f => f.getGeometry().getType()).sort()"
    )
    return list(sheet.page.evaluate(script, HAZARDS_Z))


@needs_browser
def test_hazard_trees_stand_on_the_map_with_their_rings(browser: Any, danger: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), danger)
    assert kinds(sheet) == ["Circle", "Point", "Point"]
    area = danger.ground.area
    bad = next(r for r, k in enumerate(area.trees.hazard) if k and not area.trees.marked[r])
    radius = sheet.page.evaluate(
        "z => skidway.map.getAllLayers().find(l => l.getZIndex() === z).getSource().getFeatures()"
        ".find(f => f.getGeometry().getType() === 'Circle').getGeometry().getRadius()",
        HAZARDS_Z,
    )
    assert_allclose(radius, hazard_tree_reach_m(area)[bad], atol=0.06)
    name = area.trees.tree_id[bad]
    sheet.page.evaluate(
        "n => skidway.store.commit({...skidway.store.draft(), marks: {[n]: 'cut'}})", name
    )
    sheet.settle()
    assert kinds(sheet) == ["Point", "Point"]  # it is cut first: then nobody keeps off
    sheet.press("Undo")
    assert kinds(sheet) == ["Circle", "Point", "Point"]
    sheet.close()


@pytest.mark.slow
@needs_browser
def test_a_tree_to_hold_is_not_shown_as_one_to_cut(browser: Any, danger: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), danger)
    sheet.press("Plan the spurs")
    sheet.until("skidway.planned.current() && skidway.planned.current().final", PLANNED_S)
    area = danger.ground.area
    near = next(iter(near_hazard_trees(area).values()))
    names = {area.trees.tree_id[row] for row in near.tolist()}
    assert names <= set(sheet.page.evaluate("skidway.planned.current().held"))
    row = int(near[0])
    sheet.page.get_by_role("tab", name="Tree").click()
    sheet.page.get_by_label("Number of a tree").fill(area.trees.tree_id[row])
    sheet.press("Find it")
    sheet.until("document.getElementById('panel-tree').textContent.includes('as it stands')")
    words = sheet.text("#panel-tree")
    assert "HOLD: not to be cut as it stands." in words and "HAZARD TREE" in words
    sheet.close()
