"""The best way to a place: within every limit, no longer than another search finds, or told."""

from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from layout import ground, landing, terrain, water
from layout.area import read_area
from layout.checks import check_layout
from layout.errors import NoWayError
from layout.geometry import along, coordinates
from layout.mains import candidate_mains
from layout.records import Landing, Trail
from layout.settings import limits_in_force
from layout.site import Area
from layout.way_to import WayGround, way_ground, way_to

AREA = Path(__file__).parent / "data" / "metric_area"


class Job:
    """The metric area with its landing, read once."""

    def __init__(self) -> None:
        self.area: Area = read_area(AREA)
        self.shape = terrain.build(self.area.dem)
        self.strips = water.strips(self.area, self.shape)
        self.limits = limits_in_force(self.area.settings)
        assert self.area.landing is not None
        self.site: Landing = landing.measure(self.area, self.shape, self.strips, self.area.landing)
        self.opened = ground.open_area(self.area, self.strips)

    def ways(self, *, main: bool) -> WayGround:
        return way_ground(self.area, self.shape, self.strips, self.opened, self.limits, main=main)


@pytest.fixture(scope="module")
def job() -> Job:
    return Job()


def test_a_main_trail_leads_where_a_candidate_ends_at_no_more_cost(job: Job) -> None:
    given = job.ways(main=True)
    (best, *_) = candidate_mains(
        job.area, job.shape, job.opened, job.limits, job.site, job.strips, most=1
    )
    end = best.line[-1]
    found = way_to(given, job.site, [], (float(end[0]), float(end[1])))
    assert found.host == -1
    assert not found.measured.broken.any()
    assert np.hypot(*(found.line[-1] - end)) <= 2 * given.table.cell_m
    assert found.measured.price_m2[-1] <= best.cost_m2 * 1.03  # its cost pays for no tree's pull
    assert Point(found.line[0]).distance(job.site.shape) < 0.01


@pytest.mark.slow
def test_what_is_found_the_checks_pass(job: Job) -> None:
    assert job.area.main_trail is not None
    main = coordinates(job.area.main_trail)
    given = job.ways(main=False)
    trees = job.area.trees
    told, came = [], 0
    width = job.area.settings.trails.width_main_m, job.area.settings.trails.width_spur_m
    for x, y in zip(trees.x[trees.marked], trees.y[trees.marked], strict=True):
        try:
            found = way_to(given, job.site, [main], (float(x), float(y)))
        except NoWayError as error:
            told.append(str(error))
            continue
        came += 1
        assert found.host == 0
        assert along(found.line)[-1] <= job.area.settings.trails.spur_length_m + 1
        at = float(LineString(main).project(Point(found.line[0])))
        trails = [
            Trail("M", "main", "L1", LineString(main), width[0], "drawn"),
            Trail("S1", "spur", "L1", LineString(found.line),
                  width[1], "routed", "M", at),
        ]  # fmt: skip
        findings = check_layout(job.area, job.shape, job.strips, job.site, trails)
        stops = [f for f in findings if f.level == "stop" and f.subject_id == "S1"]
        assert [f.code for f in stops] == []
    assert came > len(told)
    assert all("limit" in words for words in told)


def test_a_place_out_of_reach_is_told_with_how_near_one_comes(job: Job) -> None:
    west, south, _, _ = job.area.dem.bounds
    with pytest.raises(NoWayError, match=r"nearer than \d+ m"):
        way_to(job.ways(main=True), job.site, [], (west + 1, south + 1))


def test_without_a_landing_there_is_no_beginning(job: Job) -> None:
    x, y = job.area.stand.centroid.coords[0]
    with pytest.raises(NoWayError, match="draw a landing first"):
        way_to(job.ways(main=True), None, [], (x, y))
