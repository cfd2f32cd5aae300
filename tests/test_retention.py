"""What stays along water, counted by hand and held against the rules that name numbers.

Numbers of the rules are typed from New Hampshire RSA 227-J:9, ARM 36.11.305 and the
other publications named beside them, never from the rule files.
"""

import math
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from made_ground import at, terrain_of
from made_stands import FLAT, grid, stand
from shapely.geometry import LineString, MultiLineString, Point, box
from shapely.geometry.base import BaseGeometry

from layout import treatment
from layout.checks import check_treatment, retention
from layout.findings import LEVELS, Finding
from layout.site import Area, WaterFeature

FT = 0.3048
IN_CM = 2.54
FT2_ACRE = 1e4 * FT**2 / (43560 * FT**2)  # a square foot an acre, square metres a hectare
UNVERIFIED = "unverified – check local rule"  # noqa: RUF001 - the words on every sheet
ACROSS = LineString([at(0, 100), at(300, 100)])  # bank to bank from 99 to 101 m
RULE = """
format = 1
name = "made"
title = "a rule in numbers"
jurisdiction = "none"
local_name = "strip"
status = "s"

[[row]]
water_class = ["perennial", "pond", "spring"]
a_ft = {feet}
measured = "map"
{more}
status = "{status}"
source = "made up for this test"
confirmed = {confirmed}
"""
FIFTEEN_M = 15 / FT


def made(
    folder: Path, more: str, feet: float = FIFTEEN_M, status: str = "law", confirmed: bool = True
) -> None:
    text = RULE.format(feet=feet, more=more, status=status, confirmed=str(confirmed).lower())
    (folder / "made.toml").write_text(text, encoding="utf-8")


def job(
    rows: list[dict[str, Any]],
    folder: Path | None = None,
    rule: str = "made.toml",
    water: BaseGeometry = ACROSS,
    water_class: str = "perennial",
    error: str = "0 m",
    **more: Any,
) -> Area:
    """Give trees along a brook 2 m wide through the middle of a stand of 1 ha."""
    body = WaterFeature("brook", water_class, water, 2.0)
    return stand(
        rows, 100.0, folder=folder, brooks=(body,), water={"rules": [rule]},
        stand={"position_error": error}, **more,
    )  # fmt: skip


def beside(count: int, marked: int, far_m: float = 5.0, **plain: Any) -> list[dict[str, Any]]:
    """Give trees in a row north of the brook, the first ones marked."""
    return [
        {"x": 52 + 96 * (k + 0.5) / count, "y": 101 + far_m, "marked": k < marked, **plain}
        for k in range(count)
    ]


def kept(area: Area) -> list[Finding]:
    return retention.check(area, FLAT, treatment.treat(area))


# ---------------------------------------------------------------- shares


@pytest.mark.parametrize(("water_class", "far_m"), [("perennial", 14.0), ("large_stream", 40.0)])
def test_new_hampshire_half_of_the_basal_area(water_class: str, far_m: float) -> None:
    # RSA 227-J:9: 55 % cut in 12 months breaks it, 50 % does not.
    for marked, level, share in ((11, "stop", 45.0), (10, "ok", 50.0), (1, "ok", 95.0)):
        rows = beside(20, marked, far_m) + beside(30, 30, 47.0)
        (found,) = kept(job(rows, rule="new-hampshire", water_class=water_class))
        assert (found.code, found.level) == ("strip_retention", level)
        assert found.value == pytest.approx(share) and found.limit == 50
        assert found.unit == "%" and found.subject_id == "brook"
        assert found.message.startswith(f"{share:.0f} % of the basal area in the strip of brook")
        assert ("leave more of the marked trees there standing" in found.message) == (marked == 11)
        assert UNVERIFIED not in found.message and found.confirmed
    if water_class == "perennial":  # 40 m off is no strip of a brook
        assert kept(job(beside(20, 20, 16.0), rule="new-hampshire")) == []


def test_basal_area_weighs_thick_trees_more(tmp_path: Path) -> None:
    made(tmp_path, "keep_ba_pct = 50")
    thick = beside(1, 1, 3.0, dbh_cm=60.0)  # as much as 4 of 30 cm
    (found,) = kept(job(thick + beside(4, 0, 6.0, dbh_cm=30.0), tmp_path))
    assert found.value == pytest.approx(50) and found.level == "ok"
    (found,) = kept(job(thick + beside(3, 0, 6.0, dbh_cm=30.0), tmp_path))
    assert found.value == pytest.approx(300 / 7) and found.level == "stop"


def test_maine_keeps_sixty_percent_of_the_volume() -> None:
    # Chapter 21 section 7, option 1: at most 40 % of the volume, of trees 4.5 in and over.
    thin = beside(50, 50, 20.0, dbh_cm=4.4 * IN_CM)
    for marked, level in ((4, "ok"), (5, "stop")):
        rows = beside(10, marked, 30.0) + thin
        (found,) = kept(job(rows, rule="maine-chapter-21", water_class="large_river"))
        assert found.level == level and found.value == pytest.approx(100 - 10 * marked)
        assert "of the stem wood of trees 4.5 in and over" in found.message


def test_a_guideline_advises_and_an_unread_rule_says_so(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_pct = 60", status="guideline", confirmed=False)
    (found,) = kept(job(beside(10, 5), tmp_path))
    assert found.level == "caution" and not found.confirmed
    assert found.message.endswith(f"({UNVERIFIED})")
    made(tmp_path, "keep_trees_pct = 60", status="rule", confirmed=False)
    (found,) = kept(job(beside(10, 5), tmp_path))
    assert found.level == "stop" and found.message.endswith(f"({UNVERIFIED})")


def test_nothing_is_said_where_nothing_goes_or_no_number_is_named(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_pct = 60")
    assert kept(job(beside(10, 0), tmp_path)) == []
    assert kept(job([], tmp_path)) == []
    assert kept(job(beside(10, 10), rule="indiana")) == []
    assert kept(job(beside(10, 10), tmp_path, water=Point(at(90, 107)), water_class="well")) == []


def test_a_list_of_the_marked_trees_alone_tells_nothing(tmp_path: Path) -> None:
    made(tmp_path, "keep_ba_pct = 50\nkeep_trees_per_100ft = 10")
    rows = beside(10, 10)
    body = WaterFeature("brook", "perennial", ACROSS, 2.0)
    area = stand(rows, full_list=False, folder=tmp_path, brooks=(body,),
                 water={"rules": ["made.toml"]})  # fmt: skip
    (found,) = kept(area)
    assert found.level == "unknown" and found.value is None
    assert "only the marked trees are listed" in found.message
    assert "50 % of the basal area and 10 trees for each 100 ft" in found.message


# ---------------------------------------------------------------- what is not sure


def test_a_tree_that_may_stand_in_the_strip_is_counted_before_all_is_called_well(
    tmp_path: Path,
) -> None:
    made(tmp_path, "keep_trees_pct = 50")
    rows = beside(10, 5) + beside(3, 3, 16.0)  # 1 m outside
    (found,) = kept(job(rows, tmp_path, error="0.5 m"))
    assert found.level == "ok" and found.value == 50
    (found,) = kept(job(rows, tmp_path, error="2 m"))
    assert found.level == "caution" and found.value == 50
    assert "it may be 38 % by trees at the edge" in found.message  # 5 of 13
    # too few in any case is no matter of places
    (found,) = kept(job(beside(10, 6) + beside(3, 3, 16.0), tmp_path, error="2 m"))
    assert found.level == "stop"


def test_trees_without_a_diameter(tmp_path: Path) -> None:
    made(tmp_path, "keep_ba_pct = 50")
    blind = {"dbh_cm": math.nan}
    # One that goes may be as thick as the thickest: 5 of 11.
    (found,) = kept(job(beside(10, 5) + beside(1, 1, 7.0, **blind), tmp_path))
    assert found.level == "caution" and found.value == pytest.approx(50)
    assert "may be 45 %" in found.message
    # One that stays may be: 5 of 10 then, so it is no stop before it is measured.
    (found,) = kept(job(beside(9, 5) + beside(1, 0, 7.0, **blind), tmp_path))
    assert found.level == "caution" and found.value == pytest.approx(400 / 9)
    (found,) = kept(job(beside(9, 6) + beside(1, 0, 7.0, **blind), tmp_path))
    assert found.level == "stop"
    (found,) = kept(job(beside(9, 6, **blind), tmp_path))
    assert found.level == "unknown" and "no tree there has a DBH" in found.message


# ---------------------------------------------------------------- basal area an acre


@pytest.mark.parametrize("units", ["us", "metric"])
def test_basal_area_that_must_stay_on_an_acre(tmp_path: Path, units: str) -> None:
    # Two sides of 15 m along 100 m are 0.3 ha; 40 trees of 30 cm that stay are 2.827 m2.
    rows = [{**row, "dbh_cm": 30.0} for row in beside(45, 5, 6.0)]
    stays = 40 * math.pi / 4 * 0.3**2 / 0.3
    for least, level in ((stays / FT2_ACRE - 0.01, "ok"), (stays / FT2_ACRE + 0.01, "stop")):
        made(tmp_path, f"keep_ba_ft2_acre = {least:.4f}")
        (found,) = kept(job(rows, tmp_path, area={"units": units}))
        assert found.level == level
        assert found.value == pytest.approx(stays, rel=1e-9) and found.unit == "m2/ha"
        assert found.limit == pytest.approx(least * FT2_ACRE, rel=1e-4)
        assert ("ft²/acre" in found.message) == (units == "us")
        assert ("just under" in found.message) == (level == "stop")


def test_where_less_stands_than_must_that_is_said(tmp_path: Path) -> None:
    made(tmp_path, "keep_ba_ft2_acre = 500")
    (found,) = kept(job(beside(10, 1, 6.0), tmp_path))
    # 10 trees of 30 cm on 0.3 ha are 2.36 m2/ha, 10 ft2 an acre
    assert found.level == "stop" and "(of 10 ft²/acre there now)" in found.message


def test_only_ground_of_the_stand_counts(tmp_path: Path) -> None:
    # The brook runs along the stand's edge: one side of 15 m along 100 m, 0.15 ha.
    edge = LineString([at(0, 49), at(300, 49)])
    rows = [{"x": 55 + 9 * k, "y": 58.0, "marked": k < 2} for k in range(10)]
    made(tmp_path, "keep_ba_ft2_acre = 1")
    (found,) = kept(job(rows, tmp_path, water=edge))
    assert found.value == pytest.approx(8 * math.pi / 4 * 0.3**2 / 0.15, rel=1e-9)


# ---------------------------------------------------------------- trees along the bank

HUNDRED_FEET = LineString([at(60, 100), at(60 + 100 * FT, 100)])


def row_of(count: int, marked: int, side: float, **plain: Any) -> list[dict[str, Any]]:
    """Give trees along the hundred feet of brook, north (1) or south (-1) of it."""
    plain = {"dbh_cm": 8 * IN_CM} | plain
    return [
        {"x": 60.5 + 29.5 * k / count, "y": 100 + 6 * side, "marked": k < marked, **plain}
        for k in range(count)
    ]


@pytest.mark.parametrize(
    ("water_class", "standing", "must"),
    [("class_1", 30, 15), ("class_1", 14, 10), ("class_2", 14, 7), ("class_2", 8, 5)],
)
def test_montana_one_segment_of_100_ft(water_class: str, standing: int, must: int) -> None:
    # ARM 36.11.305: the larger of 50 % and 10 (5) trees of 8 in and over for each 100 ft.
    for marked, level in ((standing - must, "ok"), (standing - must + 1, "stop")):
        rows = row_of(standing, marked, 1.0) + row_of(20, 20, 1.0, dbh_cm=7.9 * IN_CM)
        rows += row_of(30, 0, -1.0)  # the other side makes up for nothing
        (found,) = kept(job(rows, rule="montana", water=HUNDRED_FEET, water_class=water_class))
        assert (found.level, found.limit) == (level, must)
        assert found.value == standing - marked
        assert f"on its north side {standing - marked} stay and {must} must" in found.message
        assert "of trees 8 in (20 cm) DBH and over" in found.message
        assert found.message.endswith(f"({UNVERIFIED})")  # where its zone widens was not read


def test_where_fewer_stand_than_must_all_stay(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_per_100ft = 10")
    (found,) = kept(job(row_of(6, 1, -1.0), tmp_path, water=HUNDRED_FEET))
    assert (found.level, found.value, found.limit) == ("stop", 5, 6)
    assert "on its south side 5 stay and 6 must" in found.message


def test_each_stretch_is_counted_by_itself(tmp_path: Path) -> None:
    # Three stretches of 100 ft: 12 trees in each, none left in the second.
    made(tmp_path, "keep_trees_per_100ft = 4")
    brook = LineString([at(52, 100), at(52 + 300 * FT, 100)])
    rows = [
        {"x": 52 + 100 * FT * (part + (k + 0.5) / 12), "y": 106.0, "marked": part == 1 or k < 2}
        for part in range(3)
        for k in range(12)
    ]
    (found,) = kept(job(rows, tmp_path, water=brook))
    assert found.level == "stop" and (found.value, found.limit) == (0, 4)
    assert "in 1 of 3 stretches of about 100 ft" in found.message
    assert found.at is not None and at(52, 0)[0] < found.at[0] - 100 * FT < at(52 + 100 * FT, 0)[0]
    split = MultiLineString([[at(52 + 100 * FT * k, 100), at(52 + 100 * FT * (k + 1), 100)]
                             for k in range(3)])  # fmt: skip
    (again,) = kept(job(rows, tmp_path, water=split, area={"units": "metric"}))
    assert (again.level, again.value, again.limit) == ("stop", 0, 4)
    assert "of about 30 m" in again.message


def test_the_shore_of_a_pond_is_counted_along(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_per_100ft = 5")
    side = 100 * FT
    pond = box(*at(70, 80), *at(70 + side, 80 + side))
    spots = [(72 + 3 * k, 80 + side + 4.0) for k in range(9)]
    rows = [{"x": x, "y": y, "marked": k < 4} for k, (x, y) in enumerate(spots)]
    (found,) = kept(job(rows, tmp_path, water=pond, water_class="pond"))
    assert (found.level, found.value, found.limit) == ("ok", 5, 5)
    assert "on its north side" in found.message
    (found,) = kept(
        job([{**r, "marked": k < 5} for k, r in enumerate(rows)], tmp_path, water=pond,
            water_class="pond")
    )  # fmt: skip
    assert (found.level, found.value, found.limit) == ("stop", 4, 5)


def test_a_spring_has_no_bank_to_count_along(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_per_100ft = 5")
    rows = beside(10, 10, 3.0)
    assert kept(job(rows, tmp_path, water=Point(at(100, 100)), water_class="spring")) == []


# ---------------------------------------------------------------- crowns


def test_ground_under_crowns(tmp_path: Path) -> None:
    made(tmp_path, "keep_cover_pct = 50")
    # Like crowns that do not touch, whole within the strip: by number.
    wide = [{**row, "dbh_cm": 20.0} for row in beside(8, 4, 7.0)]
    (found,) = kept(job(wide, tmp_path))
    assert found.level == "ok" and found.value == pytest.approx(50, abs=1e-9)
    (found,) = kept(job([{**row, "marked": k < 5} for k, row in enumerate(wide)], tmp_path))
    assert found.level == "stop" and found.value == pytest.approx(37.5, abs=1.0)
    assert "of what crowns cover in the strip of brook stays" in found.message
    # Small trees under a large crown that stays take no shade away.
    over = [{"x": 100.0, "y": 108.0, "dbh_cm": 60.0, "marked": False}]
    under = [{"x": 99.0 + k, "y": 107.5, "dbh_cm": 12.0, "marked": True} for k in range(3)]
    (found,) = kept(job(over + under, tmp_path))
    assert found.value == pytest.approx(100)


def test_kentucky_counts_the_overstory_both_ways() -> None:
    # FOR-69 Table 3-1: keep 50 % of the overstory; on the level the strip is 25 ft.
    found = kept(job(beside(10, 6, 4.0), rule="kentucky-warm-water"))
    assert [(f.level, f.unit) for f in found] == [("stop", "%")] * 2
    assert ["basal area" in f.message for f in found] == [True, False]


# ---------------------------------------------------------------- where the strip is


def test_a_strip_that_ends_at_a_divide_counts_no_tree_beyond(tmp_path: Path) -> None:
    # 20 % up to a crest 8 m off, then 30 % down; the strip of 15 m ends soon after it.
    hill = terrain_of(
        lambda x, y: 100 + np.where(abs(y - 100) < 8, 0.2 * abs(y - 100), 4 - 0.3 * abs(y - 100))
    )
    rows = beside(10, 3, 4.0) + beside(10, 10, 13.0)
    for more, share in (("", 35.0), ("stops_at_divide = true", 70.0)):
        made(tmp_path, f"keep_trees_pct = 50\n{more}")
        area = replace(job(rows, tmp_path), dem=hill.dem)
        (found,) = retention.check(area, hill, treatment.treat(area))
        assert found.value == pytest.approx(share)


def tilted(rise: float, x: Any, y: Any) -> Any:
    return 100 + rise * (y - 100) + 0 * x


def test_the_width_goes_by_the_slope_at_the_tree(tmp_path: Path) -> None:
    # 50 ft, and 100 ft from 35 % on: trees 20 m up a slope of 40 % are in the strip.
    for pct, told in ((40, 1), (30, 0)):
        rise = 0.01 * pct
        steep = terrain_of(partial(tilted, rise))
        area = job(beside(12, 6, 20.0), rule="montana", water_class="class_2")
        area = replace(area, dem=steep.dem)
        found = retention.check(area, steep, treatment.treat(area))
        assert len(found) == told


def test_two_rules_are_held_each_by_itself(tmp_path: Path) -> None:
    made(tmp_path, "keep_trees_pct = 90", feet=100)
    area = job(beside(10, 4, 20.0) + beside(10, 6, 5.0), tmp_path)
    both = area.settings.model_copy(
        update={"water": area.settings.water.model_copy(
            update={"rules": ("made.toml", "new-hampshire")})}
    )  # fmt: skip
    found = kept(replace(area, settings=both))
    assert [(f.value, f.limit) for f in found] == [(50, 90), (40, 50)]


# ---------------------------------------------------------------- as a whole


def test_it_comes_with_what_else_is_said_of_the_marking(tmp_path: Path) -> None:
    made(tmp_path, "keep_ba_pct = 50")
    area = job(beside(10, 8), tmp_path)
    found = check_treatment(area, FLAT, treatment.treat(area))
    assert found[0].code == "strip_retention" and found[0].level == "stop"
    assert "strip_cutting" in {f.code for f in found}


@given(
    st.integers(0, 10_000), st.sampled_from(["new-hampshire", "montana", "texas", "virginia-50"])
)
@hypothesis_settings(max_examples=15)
def test_leaving_a_tree_more_never_makes_it_worse(seed: int, rule: str) -> None:
    rng = np.random.default_rng(seed)
    rows = [
        {**row, "x": row["x"] + rng.uniform(-2, 2), "dbh_cm": float(rng.uniform(12, 50)),
         "marked": bool(rng.random() < 0.5)}
        for row in grid(7)
    ]  # fmt: skip
    marked = [k for k, row in enumerate(rows) if row["marked"] and 80 < row["y"] < 120]
    if not marked:
        return
    spare = [dict(row) for row in rows]
    spare[int(rng.choice(marked))]["marked"] = False
    before, after = (kept(job(r, rule=rule, error="1 m")) for r in (rows, spare))

    def worst(found: list[Finding]) -> int:
        return min((LEVELS.index(f.level) for f in found), default=len(LEVELS))

    assert worst(after) >= worst(before)


def test_units_and_order_change_no_level() -> None:
    rng = np.random.default_rng(5)
    rows = [{**row, "dbh_cm": float(rng.uniform(12, 50)), "marked": bool(rng.random() < 0.6),
             "tree_id": f"T{k}"} for k, row in enumerate(grid(9))]  # fmt: skip
    mixed = [rows[k] for k in rng.permutation(len(rows))]
    told = [
        [(f.level, f.value, f.limit) for f in kept(job(r, rule="virginia-50", area={"units": u}))]
        for r, u in ((rows, "us"), (mixed, "metric"))
    ]
    assert [t[0] for t in told[0]] == [t[0] for t in told[1]]
    for one, other in zip(*told, strict=True):
        assert one[1] == pytest.approx(other[1]) and one[2] == other[2]
