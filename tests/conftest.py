"""What holds for every test."""

import os
from collections.abc import Generator

import pytest

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
    """The same for a whole file that skips itself while it is collected."""
    report = yield
    if MUST_RUN and report.outcome == "skipped":
        report.outcome = "failed"
        report.longrepr = f"{collector.nodeid} would be skipped, and nothing may be here"
    return report
