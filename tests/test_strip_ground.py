"""Strips from edges of ponds and wetlands, round springs and wells, and up to divides.

Widths on planes, ridges and knolls are known in closed form; half a cell is added on
the wide side, and the strip errs wide by what the elevations may be off.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box
from water_ground import NORTH_M, WEST_M, area_with, contour_line, plane, strips_of

from layout import terrain
from layout.checks import check_layout
from layout.divides import CREST_ERRORS
from layout.grid import Dem
from layout.records import Trail
from layout.site import Area, WaterFeature
from layout.water import Strips

FOOT_M = 0.3048  # exact by definition
HEAD = """format = 1
name = "ours"
title = "t"
jurisdiction = "j"
local_name = "l"
status = "s"
"""
ROW = """[[row]]
water_class = ["perennial", "spring"]
a_ft = {feet}
measured = "map"
status = "rule"
source = "typed for a test"
confirmed = true
{more}
"""
CELLS = 120
ERROR_M = 0.15
DIVIDE = "stops_at_divide = true"


def ours(folder: Path, feet: float = 100.0, more: str = DIVIDE) -> None:
    text = HEAD + ROW.format(feet=feet, more=more)
    (folder / "ours.toml").write_text(text, encoding="utf-8")


def ground(z: np.ndarray, cell_m: float = 1.0) -> Dem:
    return Dem(z.astype(np.float32), WEST_M, NORTH_M, cell_m)


def brook_at(south_m: float) -> WaterFeature:
    line = LineString([(WEST_M - 50, NORTH_M - south_m), (WEST_M + 400, NORTH_M - south_m)])
    return WaterFeature("brook", "perennial", line, 2.0)


def laid(area: Area, error_m: float = ERROR_M) -> Strips:
    table = area.settings.ground.model_copy(update={"dem_error_m": error_m})
    settings = area.settings.model_copy(update={"ground": table})
    return strips_of(replace(area, settings=settings))


def uphill() -> np.ndarray:
    """Give metres north of the middle row, cell by cell."""
    return np.repeat((CELLS / 2 - np.arange(CELLS) - 0.5)[:, None], CELLS, axis=1)


# ---------------------------------------------------------------- edges


def test_a_wetland_on_a_tilted_plane_is_kept_from_its_edge() -> None:
    # 50 + 2 (S - 10) ft along the ground at 27 %: 84 ft, 81.1 ft on the map; below: 50 ft.
    dem, up = plane(27.0, cells=160)
    middle = NORTH_M - 80
    marsh = WaterFeature("marsh", "wetland", box(WEST_M - 9, middle - 12, WEST_M + 169, middle + 8))
    strips = strips_of(area_with(dem, marsh, rules=("slope-50-2-over-10",)))
    level = 1 / np.hypot(1, 0.27)
    for side, edge, feet in ((1, 8.0, 84.0), (-1, 12.0, 50.0)):
        far = side * up - edge
        ask = feet * FOOT_M * level
        assert strips.inside[(far <= ask) & (side * up > 0)].all()
        assert not strips.inside[(far > ask + 0.51) & (side * up > 0)].any()
    wet = (up < 8) & (up > -12)
    assert strips.water[wet].all() and (strips.distance_m[wet] == 0).all()


def test_a_stream_drawn_bank_to_bank_and_one_with_a_width_are_the_same() -> None:
    dem, _ = plane(20.0)
    ends = contour_line(dem, 90.0)
    line = WaterFeature("b", "perennial", LineString(ends), 7.0)
    drawn = replace(line, geometry=LineString(ends).buffer(3.5), bank_width_m=None)
    one, other = (strips_of(area_with(dem, b, rules=("slope-50-4",))) for b in (line, drawn))
    np.testing.assert_array_equal(one.inside, other.inside)
    assert not any(f.code == "bank_width_assumed" for f in other.findings)


@pytest.mark.parametrize("round_m", [0.0, 2.0])
def test_a_spring_with_a_row_of_its_own_and_a_pool_of_its_own(
    tmp_path: Path, round_m: float
) -> None:
    ours(tmp_path, 60.0, "")
    dem, _ = plane(25.0)
    place = Point(WEST_M + 60.3, NORTH_M - 70.8)
    pool = place.buffer(round_m, quad_segs=64) if round_m else place
    body = WaterFeature("spring", "spring", pool)
    strips = laid(area_with(dem, body, rules=("ours.toml",), folder=tmp_path))
    x, y = np.meshgrid(*dem.centres())
    far = np.hypot(x - place.x, y - place.y)
    assert strips.inside[far - round_m <= 60 * FOOT_M].all()
    assert not strips.inside[far - round_m > 60 * FOOT_M + 0.55].any()


# ---------------------------------------------------------------- divides


@pytest.mark.parametrize("error_m", [0.05, 0.15])
@pytest.mark.parametrize("cell_m", [1.0, 2.0])
def test_a_strip_ends_at_a_ridge(tmp_path: Path, error_m: float, cell_m: float) -> None:
    # From a brook 20 % up for 12 m, then 15 % down: the strip of 100 ft ends where the
    # ground is surely below the crest, 3 errors of height past it: 0.45 m in 3 m.
    ours(tmp_path)
    step = (60 - np.arange(0, CELLS, cell_m) - 0.5 * cell_m)[:, None]
    up = np.repeat(step, round(CELLS / cell_m), axis=1)
    z = 100 + np.where(np.abs(up) < 12, 0.20 * np.abs(up), 2.4 - 0.15 * (np.abs(up) - 12))
    area = area_with(ground(z, cell_m), brook_at(60), rules=("ours.toml",), folder=tmp_path)
    strips = laid(area, error_m)
    ends = 12 + CREST_ERRORS * error_m / 0.15
    assert strips.inside[np.abs(up) <= ends - 0.1].all()
    assert not strips.inside[np.abs(up) > ends + cell_m].any()
    (said,) = (f for f in strips.findings if f.code == "strip_ends_at_divide")
    assert said.level == "caution" and said.subject_id == "brook"
    # without the key nothing ends there
    ours(tmp_path, more="")
    plain = laid(area, error_m)
    assert plain.inside[np.abs(up) - 1 <= 100 * FOOT_M].all()
    assert not any(f.code == "strip_ends_at_divide" for f in plain.findings)


def test_the_strip_goes_on_over_ground_that_only_rises(tmp_path: Path) -> None:
    ours(tmp_path)
    dem, up = plane(20.0, cells=CELLS)
    body = brook_at(60)
    strips = laid(area_with(dem, body, rules=("ours.toml",), folder=tmp_path))
    far = np.abs(up) - 1.0
    # Below the brook the ground falls away from it: a back face, and no divide.
    assert strips.inside[far <= 100 * FOOT_M].all()
    assert not any(f.code == "strip_ends_at_divide" for f in strips.findings)


def test_water_that_runs_round_a_knoll_belongs_to_the_brook(tmp_path: Path) -> None:
    # A knoll 2 m high on a slope toward the brook: the ground behind it lies lower than
    # its top, and its water runs round it, down to the brook.
    ours(tmp_path)
    up = uphill()
    east = np.tile(np.arange(CELLS) + 0.5 - CELLS / 2, (CELLS, 1))
    hill = 2.0 * np.exp(-((up - 14) ** 2 + east**2) / (2 * 3.0**2))
    z = 100 + 0.04 * np.abs(up) + np.where(up > 0, hill, 0.0)
    behind = (up > 19) & (up < 25) & (np.abs(east) < 2)
    assert (z[behind] < z[(up > 13) & (up < 15)].max() - 3 * ERROR_M).all()
    area = area_with(ground(z), brook_at(60), rules=("ours.toml",), folder=tmp_path)
    assert laid(area).inside[np.abs(up) - 1 <= 100 * FOOT_M].all()


def test_a_low_bank_within_the_error_is_no_divide(tmp_path: Path) -> None:
    ours(tmp_path)
    up = uphill()
    z = 100 + np.where(np.abs(up) < 8, 0.05 * np.abs(up), 0.4 - 0.001 * (np.abs(up) - 8))
    area = area_with(ground(z), brook_at(60), rules=("ours.toml",), folder=tmp_path)
    assert laid(area).inside[np.abs(up) - 1 <= 100 * FOOT_M].all()


def test_noise_does_not_cut_a_strip_short(tmp_path: Path) -> None:
    ours(tmp_path)
    rng = np.random.default_rng(7)
    up = uphill()
    z = 100 + 0.08 * np.abs(up) + rng.normal(0, 0.1, up.shape)
    area = area_with(ground(z), brook_at(60), rules=("ours.toml",), folder=tmp_path)
    assert laid(area).inside[np.abs(up) - 1 <= 100 * FOOT_M].mean() > 0.999


def test_a_rule_that_goes_over_the_divide_keeps_its_strip(tmp_path: Path) -> None:
    # Beside a rule that ends at the divide, 50 ft of another rule stay whole.
    ours(tmp_path)
    up = uphill()
    z = 100 + np.where(np.abs(up) < 9, 0.30 * np.abs(up), 2.7 - 0.30 * (np.abs(up) - 9))
    rules = ("ours.toml", "indiana")
    strips = laid(area_with(ground(z), brook_at(60), rules=rules, folder=tmp_path))
    far = np.abs(up) - 1
    assert strips.inside[far <= 50 * FOOT_M].all()
    assert not strips.inside[far > 50 * FOOT_M + 0.55].any()


def test_a_strip_that_ends_at_a_divide_is_part_of_the_one_that_does_not(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    row, col = np.mgrid[0:CELLS, 0:CELLS]
    line = LineString([(WEST_M + 30, NORTH_M - 40), (WEST_M + 90, NORTH_M - 90)])
    z = 100 + 6 * np.sin(row / 9.0) * np.cos(col / 13.0) + rng.normal(0, 0.05, row.shape)
    bodies = (
        WaterFeature("line", "perennial", line, 1.0),
        WaterFeature("spring", "spring", Point(WEST_M + 20, NORTH_M - 100)),
    )
    area = area_with(ground(z), *bodies, rules=("ours.toml",), folder=tmp_path)
    ours(tmp_path)
    cut = laid(area)
    ours(tmp_path, more="")
    whole = laid(area)
    assert (whole.inside & ~cut.inside).any()
    assert not (cut.inside & ~whole.inside).any()
    assert not (cut.no_cable & ~whole.no_cable).any()
    np.testing.assert_array_equal(cut.water, whole.water)


# ---------------------------------------------------------------- a tractor in it


@pytest.mark.parametrize(("feet", "level"), [(40.0, "stop"), (70.0, None)])
def test_a_tractor_in_montanas_zone_is_a_violation(feet: float, level: str | None) -> None:
    # ARM 36.11.304: no wheeled or tracked machine within 50 ft, but on established roads.
    dem, _ = plane(0.0, cells=160)
    south = 60 + 1.0 + feet * FOOT_M
    line = LineString([(WEST_M + 20, NORTH_M - south), (WEST_M + 140, NORTH_M - south)])
    area = area_with(dem, brook_at(60), rules=("montana",))
    trail = Trail("M", "main", "", line, 3.6, "drawn")
    found = check_layout(area, terrain.build(dem), strips_of(area), None, [trail])
    entered = [f.level for f in found if f.code == "strip_entered"]
    assert entered == ([level] if level else [])
