"""Names on the crew's maps: counted where they lie on each other, and none too small to read."""

import itertools

import made_order
import plan_fixture
import pytest

from layout.outputs.crew import map_frames, map_sheet, maps
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.crew.sheet import LEAST_PT, Sheet
from layout.outputs.map_labels import Look
from layout.plan import Plan

SAID = tuple[str, float, float, float, float, Look]
TOUCH_PX = 1.0


@pytest.fixture(scope="module", params=["us", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return made_order.ordered(plan_fixture.plan(request.param))


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[SAID]:
    """Give what is written on maps from now on, with its box in pixels."""
    kept: list[SAID] = []
    draw = PlainLabels._write

    def noted(
        self: PlainLabels, text: str, x: float, y: float, width: float, height: float, look: Look
    ) -> None:
        kept.append((text, x - width / 2, y - height / 2, x + width / 2, y + height / 2, look))
        draw(self, text, x, y, width, height, look)

    monkeypatch.setattr(PlainLabels, "_write", noted)
    return kept


def collisions(said: list[SAID]) -> list[tuple[str, str]]:
    """Name the pairs that lie on each other."""
    return [
        (a[0], b[0])
        for a, b in itertools.combinations(said, 2)
        if min(a[3], b[3]) - max(a[1], b[1]) > TOUCH_PX
        and min(a[4], b[4]) - max(a[2], b[2]) > TOUCH_PX
    ]


def lettered(plan: Plan, written: list[SAID]) -> list[list[SAID]]:
    """Draw the maps of a plan; give what is written on each."""
    chosen, made = maps.chosen(plan), []
    written.clear()  # what was only tried
    for page in chosen.pages:
        sheet = Sheet(plan.area.settings.outputs.paper, page.frame.landscape)
        map_sheet.draw(sheet, plan, page, chosen.contours, chosen.interval)
        made.append(list(written))
        written.clear()
    return made


def test_no_name_lies_on_another(plan: Plan, written: list[SAID]) -> None:
    pages = lettered(plan, written)
    assert sum(map(len, pages)) > 60
    for said in pages:
        assert collisions(said) == []
        assert collisions([*said, said[0]]) != []  # what lies on something is noticed


def test_numbers_of_trees_positions_and_stations_are_nine_points(
    plan: Plan, written: list[SAID]
) -> None:
    pages = lettered(plan, written)
    names = {p.position_id for p in plan.positions} | {t.tree_id for t in plan.trees}
    names |= {t.trail_id for t in plan.trails}
    sizes = {text: look.size_pt for said in pages for text, *_, look in said}
    assert min(sizes[name] for name in names & set(sizes)) >= 9.0
    stations = [size for text, size in sizes.items() if text.endswith((" ft", " 0"))]
    assert all(size >= 9.0 for size in stations)
    assert min(sizes.values()) >= LEAST_PT


@pytest.mark.parametrize("whole", [400, 1200, 2850, 12_500])
def test_detail_sheets_are_at_scales_a_ruler_has(whole: int) -> None:
    for scale in map_frames.detail_scales(whole, "us"):
        assert scale % (12 * 10) == 0  # an inch to whole tens of feet
    for scale in map_frames.detail_scales(whole, "metric"):
        assert scale % 50 == 0
        assert 250 <= scale <= whole
