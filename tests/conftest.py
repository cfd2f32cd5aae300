"""What holds for every test."""

import os
from collections.abc import Generator

import pytest
from hypothesis import settings

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
