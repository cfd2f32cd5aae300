"""report.html for everybody: a linter of accessibility, in the browser, by day, night and phone.

The linter is axe-core (npm, MPL-2.0), fetched as data when the slow test runs. It holds the
page to WCAG 2.2 A and AA and to what its makers call good practice.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import made_work
import plan_fixture
import pytest
from drawing_page import missing
from report_plans import cautions_of_many_kinds, limit_rows, long_plan, many_findings
from test_drawing_browser_access import axe

from layout.outputs import report
from layout.plan import Plan

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}"),
]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    report.write(full(), path)
    return path


def full() -> Plan:
    """Give a plan whose page has every part, folded tables and findings of every level."""
    plan = long_plan(plan_fixture.plan())
    return made_work.worked(
        replace(plan, findings=(*many_findings(), *cautions_of_many_kinds()), limits=limit_rows())
    )


@pytest.fixture(params=["day", "night", "phone"])
def opened(browser: Any, written: Path, request: pytest.FixtureRequest) -> Iterator[Any]:
    wide = 390 if request.param == "phone" else 1100
    context = browser.new_context(
        viewport={"width": wide, "height": 900},
        color_scheme="dark" if request.param == "night" else "light",
        bypass_csp=True,
    )
    page = context.new_page()
    page.goto(written.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.evaluate(axe() + "; 0")
    yield page
    context.close()


def faults(page: Any) -> list[tuple[str, list[Any]]]:
    told = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert len(told["passes"]) > 15
    return [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in told["violations"]]


def test_a_linter_of_accessibility_finds_nothing(opened: Any) -> None:
    assert faults(opened) == []


def test_the_linter_can_say_no(opened: Any) -> None:
    opened.evaluate(
        "document.querySelector('svg').removeAttribute('aria-labelledby');"
        "document.querySelector('svg title').remove();"
        "document.querySelector('img').removeAttribute('alt');"
        "0"
    )
    found = {name for name, _ in faults(opened)}
    assert {"svg-img-alt", "image-alt"} <= found
