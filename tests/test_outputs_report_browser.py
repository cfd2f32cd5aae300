"""report.html in a browser: nothing runs off a phone, every text can be read, paper holds it.

Needs Debian's chromium, and poppler's pdfinfo and pdftotext.
"""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import made_work
import numpy as np
import plan_fixture
import pytest
from matplotlib import image
from report_plans import cautions_of_many_kinds, limit_rows, long_plan, many_findings

from layout.outputs import report
from layout.outputs.report import page
from layout.plan import Plan

MISSING = [name for name in ("chromium", "pdfinfo", "pdftotext") if shutil.which(name) is None]
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}"),
]
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run")
NIGHT = ("--force-dark-mode", "--blink-settings=preferredColorScheme=0")
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>\n')

# Asks the browser itself: how wide things are, and each text's colour on its ground.
MEASURE = """
function light(c) {
  const p = c.match(/[0-9.]+/g).map(Number).slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4));
  return 0.2126 * p[0] + 0.7152 * p[1] + 0.0722 * p[2];
}
function ground(e) {
  for (; e; e = e.parentElement) {
    const c = getComputedStyle(e).backgroundColor;
    if (!/, 0\\)$/.test(c) && c !== 'transparent') return c;
  }
  return 'rgb(255, 255, 255)';
}
addEventListener('load', () => {
  document.querySelectorAll('details').forEach(d => { d.open = true; });
  const width = document.documentElement.clientWidth, out = [], faint = [];
  let texts = 0;
  for (const e of document.body.querySelectorAll('*')) {
    const scrolls = e.closest('.wide table, .wide img, .wide svg');
    if (!scrolls && e.getBoundingClientRect().right > width + 0.5)
      out.push(e.tagName + ' ' + e.textContent.slice(0, 40));
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own || !e.checkVisibility()) continue;
    texts += 1;
    const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) faint.push([ratio.toFixed(2), e.textContent.slice(0, 40)]);
  }
  const img = document.querySelector('img');
  parent.postMessage(JSON.stringify({
    width, scroll: document.documentElement.scrollWidth, out, faint, texts,
    picture: img.naturalWidth, night: matchMedia('(prefers-color-scheme: dark)').matches,
    scrollers: [...document.querySelectorAll('.wide')].filter(e => e.scrollWidth > e.clientWidth)
      .length,
  }), '*');
});
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    plan = long_plan(
        plan_fixture.plan(name="Maple Hill with averyveryverylongnameindeed" + "x" * 60)
    )
    return replace(plan, findings=many_findings(), limits=limit_rows())


@pytest.fixture(scope="module")
def written(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    report.write(plan, path)
    return path


def browse(tmp_path: Path, *words_: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["chromium", *FLAGS, f"--user-data-dir={tmp_path / 'profile'}", *words_],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )


def measured(written: Path, tmp_path: Path, width: int, *flags: str) -> dict[str, Any]:
    """Lay the page out at a width, in a frame, and let the browser measure it."""
    asking = POLICY.sub("", written.read_text(encoding="utf-8"))
    asking = asking.replace("</head>", f"<script>{MEASURE}</script></head>")
    (tmp_path / "asking.html").write_text(asking, encoding="utf-8")
    (tmp_path / "frame.html").write_text(
        "<pre></pre><script>addEventListener('message', e => "
        "{ document.querySelector('pre').textContent = e.data; });</script>"
        f"<iframe src='asking.html' width='{width}' height='800' style='border: 0'></iframe>",
        encoding="utf-8",
    )
    url = (tmp_path / "frame.html").as_uri()
    ran = browse(
        tmp_path, *flags, "--virtual-time-budget=5000", "--window-size=1400,900", "--dump-dom", url
    )
    found = re.search(r"<pre>(.*?)</pre>", ran.stdout, re.S)
    assert found and found[1], ran.stderr
    said: dict[str, Any] = json.loads(
        found[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
    )
    return said


@pytest.mark.parametrize("width", [320, 390, 1000])
@pytest.mark.parametrize("night", [False, True], ids=["day", "night"])
def test_nothing_runs_off_the_page_and_every_text_can_be_read(
    written: Path, tmp_path: Path, width: int, night: bool
) -> None:
    told = measured(written, tmp_path, width, *(NIGHT if night else ()))
    assert told["night"] is night
    assert told["width"] == width and told["scroll"] == width
    assert told["out"] == []
    assert told["texts"] > 300 and told["faint"] == []
    assert told["picture"] == 1650  # the picture was read, though nothing may be loaded
    if width < 500:
        assert told["scrollers"] >= 3  # wide tables and the map scroll inside their own boxes


@pytest.mark.parametrize("width", [320, 1000])
def test_the_work_runs_off_no_phone_and_is_on_paper(plan: Plan, tmp_path: Path, width: int) -> None:
    path = tmp_path / "worked.html"
    report.write(made_work.worked(plan), path)
    told = measured(path, tmp_path, width)
    assert told["scroll"] == width and told["out"] == [] and told["faint"] == []
    if width == 1000:
        _, text = printed(path, tmp_path)
        assert "Left off paper: all 35 steps." in text
        assert "Loads by trail; the heaviest" in text and "Where it is tight, by trail" in text


def test_the_measuring_itself_notices(written: Path, tmp_path: Path) -> None:
    spoiled = tmp_path / "spoiled.html"
    text = written.read_text(encoding="utf-8")
    text = text.replace("</style>", ".sub { color: #bbbbbb; } h1 { width: 50rem; }</style>")
    spoiled.write_text(text, encoding="utf-8")
    told = measured(spoiled, tmp_path, 390)
    assert told["scroll"] > 390 and any(said.startswith("H1") for said in told["out"])
    assert any("Plan for thinning" in said for _, said in told["faint"])


def test_the_console_stays_silent(written: Path, tmp_path: Path) -> None:
    ran = browse(
        tmp_path, "--enable-logging=stderr", "--log-level=0", "--dump-dom", written.as_uri()
    )
    assert "CONSOLE" not in ran.stderr
    assert "What to decide and read first" in ran.stdout


def test_what_slips_in_is_neither_run_nor_loaded(written: Path, tmp_path: Path) -> None:
    slipped = tmp_path / "slipped.html"
    (tmp_path / "near.png").write_bytes(b"")
    text = written.read_text(encoding="utf-8")
    extra = (
        '<script>document.title = "ran"</script><img src="near.png" /><p style="color: red">x</p>'
    )
    slipped.write_text(text.replace("</main>", f"{extra}</main>"), encoding="utf-8")
    ran = browse(
        tmp_path, "--enable-logging=stderr", "--log-level=0", "--dump-dom", slipped.as_uri()
    )
    assert "<title>ran" not in ran.stdout
    assert len(re.findall(r"CONSOLE.*Content Security Policy", ran.stderr)) >= 3
    # the same without the policy: then it is run, so the policy is what holds it
    slipped.write_text(POLICY.sub("", slipped.read_text(encoding="utf-8")), encoding="utf-8")
    assert "<title>ran" in browse(tmp_path, "--dump-dom", slipped.as_uri()).stdout


def printed(path: Path, tmp_path: Path) -> tuple[str, str]:
    """Print a page; give what pdfinfo says of it, and its words."""
    pdf = tmp_path / "report.pdf"
    browse(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", path.as_uri())
    info, text = (
        subprocess.run(list(command), capture_output=True, text=True, check=True).stdout
        for command in (("pdfinfo", str(pdf)), ("pdftotext", "-layout", str(pdf), "-"))
    )
    return info, " ".join(text.split())


def test_paper_shows_every_caution_and_says_what_it_leaves_off(
    written: Path, tmp_path: Path
) -> None:
    info, text = printed(written, tmp_path)
    assert re.search(r"Page size: +612 x 792 pts \(letter\)", info)
    pages = re.search(r"Pages: +(\d+)", info)
    assert pages and int(pages[1]) <= 18
    for place in range(1, 8):  # the folded ones as well, by place and number
        start = 5 * round(10 * place / 0.3048 / 5)
        assert f"S1 from {start} ft to" in text
    assert "Left off paper: all 40 winch positions." in text
    assert "Left off paper: what was checked" in text
    assert "What is on this page" not in text
    assert "Not walked and flagged = not ready." in text


def test_paper_shows_a_long_run_of_cautions_in_full(plan: Plan, tmp_path: Path) -> None:
    some = cautions_of_many_kinds()
    path = tmp_path / "long.html"
    report.write(replace(plan, findings=some), path)
    _, text = printed(path, tmp_path)
    assert all(finding.message in text for finding in some)
    assert "more cautions" not in text


def test_a4_where_the_area_asks_for_it(plan: Plan, tmp_path: Path) -> None:
    outputs = plan.area.settings.outputs.model_copy(update={"paper": "a4"})
    settings = plan.area.settings.model_copy(update={"outputs": outputs})
    path = tmp_path / "a4.html"
    short = replace(plan, area=replace(plan.area, settings=settings), findings=(), bars=())
    path.write_text(page.page(short), encoding="utf-8")
    info, _ = printed(path, tmp_path)
    assert re.search(r"Page size: +59[45][.\d]* x 84[12][.\d]* pts \(A4\)", info)


def test_pictures_by_day_and_night(written: Path, tmp_path: Path) -> None:
    grey = []
    for flags in ((), NIGHT):
        shot = tmp_path / "shot.png"
        browse(tmp_path, *flags, "--window-size=1000,1200", f"--screenshot={shot}",
               written.as_uri())  # fmt: skip
        pixels = np.asarray(image.imread(shot))[:, :, :3].mean(axis=2)
        assert pixels.shape == (1200, 1000) and pixels.std() > 0.1
        grey.append(float(np.median(pixels)))
    assert grey[0] > 0.9 and grey[1] < 0.2


def test_xmllint_reads_it_strictly(written: Path) -> None:
    if shutil.which("xmllint") is None:
        pytest.skip("not installed: xmllint")
    ran = subprocess.run(["xmllint", "--noout", "--nonet", "--huge", str(written)],
                         capture_output=True, text=True, check=False)  # fmt: skip
    assert ran.returncode == 0, ran.stderr
