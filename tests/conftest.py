"""What holds for every test."""

import os
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest
from drawing_page import Served, chromium, served
from hypothesis import settings

from layout.outputs.crew import book

# The same examples every time, and no clock: a slow machine is not a failure.
settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))

collect_ignore = ["bench/render_in_desktop_gis.py"]  # runs in the desktop GIS's own Python

MUST_RUN = os.environ.get("SKIDWAY_CI") == "1"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where everything is installed, a test that would be left out has failed."""
    report = yield
    if MUST_RUN and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} would be skipped, and nothing may be here: {reason}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Hold a whole file that skips itself while it is collected to the same rule."""
    report = yield
    if MUST_RUN and report.outcome == "skipped":
        report.outcome = "failed"
        report.longrepr = f"{collector.nodeid} would be skipped, and nothing may be here"
    return report


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Open Debian's Chromium for the tests of a module."""
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Serve the map of a copy of the small metric area."""
    area = Path(__file__).parent / "data" / "metric_area"
    with served(area, tmp_path_factory.mktemp("map") / "area") as running:
        yield running


@pytest.fixture(scope="module")
def book_looks() -> Iterator[None]:
    """Draw as the crew's book is drawn."""
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(book.LOOK)
        yield
