"""Lines that would lead water straight down into a strip, to the checker and to the router."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from made_ground import area_of, at, line, main_trail, strips_of, terrain_of
from numpy.typing import NDArray
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from layout import fairline, fall_lines, ground
from layout.checks import check_layout
from layout.geometry import coordinates
from layout.settings import limits_in_force
from layout.terrain import station_table

Floats = NDArray[np.float64]
RAMP = terrain_of(lambda x, y: 100 + 0.12 * y)
BELOW = strips_of(RAMP, box(*at(150, 20), *at(250, 40)))
AREA = area_of(RAMP)
WATER = fall_lines.water_of(AREA, BELOW.polygons)


def given_up(*places: tuple[float, float], water: BaseGeometry | None = WATER) -> Floats:
    """Give the stations of a line that are given up."""
    stations = station_table(RAMP, line(*places), 3.0)
    return stations.at_m[fall_lines.led_to_water(water, RAMP, stations)]


def test_what_goes_on_past_a_hundred_feet_is_given_up() -> None:
    """State of Oregon, OAR 629-630-0150: never straight up and down for over 100 ft."""
    down = (200.0, 60.0), (200.0, 200.0)
    assert given_up(*down).tolist() == list(range(30, 141))  # 30 stands for 29.5 to 30.5
    assert not given_up((200, 60), (200, 90)).size
    # at a slant it may be as long as it likes, and so it may where no water is below
    assert not given_up((60, 60), (340, 200)).size
    assert not given_up((320, 60), (320, 200)).size
    assert not given_up(*down, water=None).size


def test_a_measured_line_breaks_there_and_nowhere_else() -> None:
    limits, opened = limits_in_force(AREA.settings), ground.open_area(AREA, BELOW)
    down = coordinates(line((200, 60), (200, 200)))
    wet, dry = (
        fairline.judge_for(AREA, RAMP, limits, opened, width_m=3.0, weight=1.0, strips=strips)
        for strips in (BELOW.polygons, None)
    )
    more = fairline.measure(wet, down).broken & ~fairline.measure(dry, down).broken
    assert np.flatnonzero(more).tolist() == list(range(30, 141))  # 30 stands for 29.5 to 30.5


@settings(max_examples=60, deadline=None)
@given(st.floats(60, 340), st.floats(45, 90), st.floats(60, 340), st.floats(100, 300))
def test_router_and_checker_agree(x: float, y: float, to_x: float, to_y: float) -> None:
    """Whatever the checker stops here the router gives up, and nothing else."""
    trail = main_trail((x, y), (to_x, to_y))
    found = check_layout(AREA, RAMP, BELOW, None, (trail,))
    stopped = any(f.code == "fall_line" and f.level == "stop" for f in found)
    broken = given_up((x, y), (to_x, to_y))
    assert bool(broken.size) is stopped
    assert broken.size <= max(0.0, trail.line.length - fall_lines.LONGEST_M) + 3
