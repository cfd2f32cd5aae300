"""The same area told in feet and pounds and in metres and tonnes is planned the same.

The elevations of one are survey feet by a compound CRS, in double precision, so that
they give back the very metres of the other. Every limit is written in units of each
kind and read to the same number: a plan chooses between ways that are all but equal,
and a limit that differs in its last digit may tip it.
"""

import re
import shutil
from pathlib import Path

import numpy as np
import pytest
import rasterio
from made_plan import layout_only

from layout import units
from layout.area import read_area
from layout.plan import Plan

pytestmark = pytest.mark.slow

METRIC = Path(__file__).parent / "data" / "metric_area"
SURVEY_FOOT_M = 1200 / 3937  # exact by definition (US Metric Act, 1866)
# Key, as a woodlot owner writes it in one country, and the same in the other.
SAME = (
    ("setback", "10 ft", "3.048 m"),
    ("position_error", "5 ft", "1.524 m"),
    ("area", "7000 ft^2", "650.32128 m^2"),
    ("width_main", "12.5 ft", "3.81 m"),
    ("width_spur", "10 ft", "3.048 m"),
    ("short_pitch", "100 ft", "30.48 m"),
    ("turn_radius", "26 ft", "7.9248 m"),
    ("spur_length", "400 ft", "121.92 m"),
    ("back_up", "250 ft", "76.2 m"),
    ("cable", "165 ft", "50.292 m"),
    ("choker", "5 ft", "1.524 m"),
    ("working_reach", "130 ft", "39.624 m"),
    ("uphill_reach", "100 ft", "30.48 m"),
    ("width", "6.25 ft", "1.905 m"),
    ("length", "16 ft", "4.8768 m"),
    ("track", "5 ft", "1.524 m"),
    ("wheelbase", "7 ft", "2.1336 m"),
)
NEARLY = (
    ("mass", "7000 lb", "3175.14659 kg", "mass"),
    ("pto_power", "60 hp", "44.741992294936 kW", "power"),
    ("pull_rating", "8800 lbf", "39.144350214292 kN", "force"),
    ("rope_breaking", "18000 lbf", "80.067989074689 kN", "force"),
)


def test_the_two_tables_say_the_same() -> None:
    for key, us, metric in SAME:
        kind = "area" if key == "area" else "length"
        assert units.read(us, kind).value == units.read(metric, kind).value, key
    for key, us, metric, kind in NEARLY:
        assert units.read(us, kind).value == pytest.approx(
            units.read(metric, kind).value, rel=1e-13
        ), key


def written(folder: Path, column: int) -> Path:
    """Write the area with the quantities of one column of the tables."""
    shutil.copytree(METRIC, folder)
    text = (METRIC / "area.toml").read_text(encoding="utf-8")
    for row in (*SAME, *NEARLY):
        text, count = re.subn(rf'(?m)^{row[0]} = ".*"', f'{row[0]} = "{row[column]}"', text)
        assert count == 1, row[0]
    assert not re.search(r'"\d[\d.]* (m|m\^2|t|kN|kW)"', text) or column == 2
    if column == 1:
        text = text.replace('units = "metric"', 'units = "us"')
        text = text.replace('elevation_unit = "m"\n', "")
        with rasterio.open(METRIC / "dem.tif") as data:
            z, profile = data.read(1), data.profile
        profile.update(crs="EPSG:25832+6360", dtype="float64", predictor=1)
        with rasterio.open(folder / "dem.tif", "w", **profile) as out:
            out.write(z.astype(np.float64) / SURVEY_FOOT_M, 1)
    (folder / "area.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Plan]:
    folder = tmp_path_factory.mktemp("both")
    us, metric = (layout_only(read_area(written(folder / str(k), k))) for k in (1, 2))
    return us, metric


def test_feet_and_metres_give_one_plan(plans: tuple[Plan, Plan]) -> None:
    us, metric = plans
    assert (us.area.settings.area.units, metric.area.settings.area.units) == ("us", "metric")
    assert np.array_equal(us.area.dem.z, metric.area.dem.z, equal_nan=True)
    assert [t.trail_id for t in us.trails] == [t.trail_id for t in metric.trails]
    for one, other in zip(us.trails, metric.trails, strict=True):
        assert one.line.hausdorff_distance(other.line) < 0.001
        assert one.joins_at_m == pytest.approx(other.joins_at_m, abs=0.001)
    assert len(us.trails) > 3
    fate = {tree.tree_id: (tree.status, tree.position_id) for tree in us.trees}
    assert fate == {tree.tree_id: (tree.status, tree.position_id) for tree in metric.trees}
    assert sum(status == "served" for status, _ in fate.values()) > 10
    assert [p.position_id for p in us.positions] == [p.position_id for p in metric.positions]
    assert [b.at_m for b in us.bars] == pytest.approx([b.at_m for b in metric.bars], abs=0.001)
    assert us.soil.share_pct == pytest.approx(metric.soil.share_pct, rel=1e-6)


def test_only_the_words_differ(plans: tuple[Plan, Plan]) -> None:
    us, metric = plans
    told = [[(f.code, f.level, f.subject_id) for f in plan.findings] for plan in plans]
    assert sorted(told[0]) == sorted(told[1])
    values = [
        sorted((f.code, f.subject_id, f.value or 0.0) for f in plan.findings) for plan in plans
    ]
    for one, other in zip(*values, strict=True):
        assert one[:2] == other[:2]
        assert one[2] == pytest.approx(other[2], rel=1e-6, abs=1e-9)
    assert us.about.keys() == metric.about.keys()
