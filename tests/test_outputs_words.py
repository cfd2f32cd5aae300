"""The words: one catalogue, all of it used, and a closing that hides nothing that stops."""

import ast
import re
from dataclasses import replace
from pathlib import Path
from typing import get_args

import plan_fixture
import pytest

import layout
from layout.findings import Finding
from layout.outputs import about, closing, map_panel, summary
from layout.outputs.legend import LEGEND
from layout.outputs.words import ENGLISH, counted, say
from layout.outputs.words.bar_words import BARS
from layout.outputs.words.chance_words import CHANCES
from layout.outputs.words.closeout_words import CLOSEOUT
from layout.outputs.words.crew_page_words import CREW_PAGES
from layout.outputs.words.crew_words import CREW
from layout.outputs.words.crew_work_words import CREW_WORK
from layout.outputs.words.crossing_words import CROSSINGS
from layout.outputs.words.device_words import DEVICE
from layout.outputs.words.landing_words import LANDINGS
from layout.outputs.words.layer_words import LAYER_WORDS
from layout.outputs.words.option_words import OPTIONS
from layout.outputs.words.plan_words import PLAN
from layout.outputs.words.report_words import REPORT
from layout.outputs.words.work_words import WORK_LINES
from layout.plan import Plan
from layout.records import Sureness, TreeStatus
from layout.rule_files import load_rule

ROOM = Path(layout.__file__).parent / "outputs"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def keys_of(node: ast.expr) -> set[str]:
    """Give the keys an expression may name; of one put together, how it begins."""
    if isinstance(node, ast.IfExp):
        return keys_of(node.body) | keys_of(node.orelse)
    if isinstance(node, ast.JoinedStr):
        return keys_of(node.values[0])
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def asked_for() -> set[str]:
    """Collect the keys the outputs ask for, from their source."""
    keys: set[str] = set()
    for path in ROOM.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if node.func.id == "say" and node.args:
                keys |= keys_of(node.args[0])
            if node.func.id == "counted" and isinstance(node.args[0], ast.Constant):
                keys |= {f"{node.args[0].value}_one", f"{node.args[0].value}_many"}
    return keys


def test_no_key_stands_in_two_files() -> None:
    parts = (BARS, CHANCES, CREW, CREW_PAGES, CREW_WORK, CLOSEOUT, CROSSINGS, DEVICE, LANDINGS,
             LAYER_WORDS, OPTIONS, PLAN, REPORT, WORK_LINES)  # fmt: skip
    assert len(ENGLISH) == sum(len(part) for part in parts)


def test_no_key_is_asked_for_that_the_catalogue_lacks() -> None:
    whole = {key for key in asked_for() if not key.endswith("_") and key[0] != "_"}
    assert whole <= set(ENGLISH), whole - set(ENGLISH)


def named() -> set[str]:
    """Collect the keys, whole or begun, that the outputs hand on before they are asked for."""
    found: set[str] = set()
    for path in ROOM.rglob("*.py"):
        if path.parent.name == "words":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant | ast.JoinedStr):
                found |= keys_of(node)
    return {k for k in found if k in ENGLISH or (k.endswith("_") and k.count("_") > 1)}


def test_every_entry_of_the_catalogue_is_used() -> None:
    asked = asked_for() | named()
    begun = tuple(key for key in asked if key.endswith("_"))  # a prefix that a name completes
    hazards = {key for key in ENGLISH if key.startswith("hazard_")}
    idle = {k for k in ENGLISH if k not in asked and not k.startswith(begun)}
    assert idle - hazards == set()


def test_every_status_and_sureness_has_words() -> None:
    for status in get_args(TreeStatus):
        assert say(f"status_{status}")
    for sure in get_args(Sureness):
        assert say(f"sure_{sure}")


def test_nothing_is_called_safe_or_allowed() -> None:
    for key, words in ENGLISH.items():
        assert not re.search(r"\b(safe|safely|permitted|approved|guarantee)", words.lower()), key
    assert len({row[3] for row in LEGEND}) == len(LEGEND)  # no mark means two things


def test_counts_agree_with_their_noun() -> None:
    assert [counted("spur", n) for n in (0, 1, 2)] == ["0 spurs", "1 spur", "2 spurs"]


def test_closing_in_feet(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "plan.gpkg").touch()
    said = closing(plan, tmp_path)
    lines = said.splitlines()
    served = sum(outcome.status == "served" for outcome in plan.trees)
    marked = int(plan.area.trees.marked.sum())
    assert lines[0].startswith(f"Maple Hill: {served} of {marked} marked trees are reached (")
    assert f"{marked - served} marked trees are not reached." in lines[1]
    assert "leave it standing" in lines[1]
    assert "19  takes more ground" in said and "16  farther than the rope reaches" in said
    assert "806 ft of main trail" in said and "in 4 spurs" in said
    assert "18 winch positions and 1 turning place" in said
    assert "2.4 % of the stand (aim 10 %, limit 15 %); 3.4 % with the landing" in said
    assert "14 % downhill loaded (S2 at" in said
    assert f"Written to {tmp_path}: plan.gpkg." in said
    assert "best found among the lines tried" in said
    assert lines[-2:] == [
        "Not walked and flagged = not ready.",
        "A plan, not permission: local law, your own eyes and licensed advice decide.",
    ]
    assert not re.search(r"-\d", said.replace(str(tmp_path), "")), "a grade is said without a sign"
    assert " m " not in said


def test_closing_in_metres() -> None:
    said = closing(plan_fixture.plan("metric"))
    assert "246 m of main trail" in said
    assert " ft" not in said.replace("40 ft to 95 ft", "")  # a finding's own words


def test_every_stop_is_told_in_full_and_the_gravest_cautions_first(plan: Plan) -> None:
    said = closing(plan)
    for finding in plan.findings:
        if finding.level == "stop":
            assert f"STOP: {finding.message}" in said
    assert "Findings: 2 stop, 7 caution, 1 not checked." in said
    # All seven are of one kind with a limit of 5 m; the one farthest from it speaks for them.
    assert re.findall(r"Caution: Pull (\d)", said) == ["1"]
    assert "(and 6 more of this kind)" in said
    assert "more cautions" not in said


def test_the_gravest_kinds_of_caution_are_told_first(plan: Plan) -> None:
    kinds = tuple(
        Finding(f"kind_{n}", "caution", f"Kind {n}.", value=10.0 + n, limit=10.0, confirmed=n != 9)
        for n in range(12)
    )
    cut = Finding("search_cut_short", "caution", "Cut short.")
    said = closing(replace(plan, findings=(*kinds, cut)))
    assert re.findall(r"Caution: (Cut short|Kind \d+)", said) == [
        "Cut short",
        *[f"Kind {n}" for n in (11, 10, 9, 8, 7, 6, 5)],
    ]
    assert "Kind 9. [limit unverified]" in said
    assert "Kind 10. [" not in said
    assert "and 5 more cautions" in said


def test_many_stops_are_all_told(plan: Plan) -> None:
    stops = tuple(Finding("x", "stop", f"Stop number {n}.") for n in range(40))
    said = closing(replace(plan, findings=stops))
    assert all(f"Stop number {n}." in said for n in range(40))


@pytest.mark.parametrize(
    ("rules", "confirmed", "words"),
    [
        ((), True, ["NO LOCAL RULE CHOSEN"]),
        (("a-rule",), False, ["unverified – check local rule"]),  # noqa: RUF001
        ((), False, ["NO LOCAL RULE CHOSEN", "unverified – check local rule"]),  # noqa: RUF001
        (("a-rule",), True, []),
    ],
)
def test_an_open_water_rule_is_said(
    rules: tuple[str, ...], confirmed: bool, words: list[str]
) -> None:
    said = closing(plan_fixture.plan(rules=rules, confirmed=confirmed))
    for phrase in ("NO LOCAL RULE CHOSEN", "unverified – check local rule"):  # noqa: RUF001
        assert (phrase in said) == (phrase in words)
    # The rule is named also where nothing is open about it.
    assert ("Water strips by rule a-rule." in said) == bool(rules)
    assert ("Water strip rule a-rule unverified" in said) == (bool(rules) and not confirmed)


def test_a_chosen_rule_nobody_confirmed_is_labelled_where_no_water_is_mapped() -> None:
    dry = replace(plan_fixture.plan(rules=("california",)), strips=())  # widths from memory
    label = "Water strip rule california unverified"
    assert label in closing(dry)
    assert any(label in chip for chip in map_panel.open_questions(dry))
    assert label.partition(" california")[0] in about.facts(dry)["water_rules"]
    read = replace(plan_fixture.plan(rules=("indiana",)), strips=())
    assert load_rule("indiana").confirmed and not load_rule("california").confirmed
    assert "unverified" not in closing(replace(read, findings=()))
    both = replace(plan_fixture.plan(rules=("indiana", "california")), strips=())
    assert label in closing(both) and "indiana unverified" not in closing(both)
    gone = replace(plan_fixture.plan(rules=("gone.toml",)), strips=())
    assert "Water strip rule gone unverified" in closing(gone)


def test_trails_of_one_kind_only_are_told_without_a_nought(plan: Plan) -> None:
    def trail(kind: str) -> str:
        some = tuple(t for t in plan.trails if t.kind == kind)
        said = closing(replace(plan, trails=some))
        return next(line for line in said.splitlines() if line.startswith("Trail: "))

    assert trail("main") == "Trail: 806 ft of main trail, no spur."
    assert re.fullmatch(r"Trail: [1-9],\d{3} ft in 4 spurs, no main trail\.", trail("spur"))


def test_small_and_bare_plans(plan: Plan) -> None:
    none = tuple(replace(o, status="leave", position_id="") for o in plan.trees)
    said = closing(
        replace(plan, trees=none, pulls=(), positions=(), trails=(), stations={}, findings=())
    )
    assert said.startswith("Maple Hill: no tree of the list is marked to be cut.")
    assert "Trail: none." in said and "Steepest" not in said
    missed = next(o for o in plan.trees if o.status == "beyond_reach")
    one = closing(replace(plan, trees=(missed,)))
    assert "1 marked tree is not reached. First remedy: leave it standing." in one


def test_the_summary_has_no_sentence_of_its_own() -> None:
    tree = ast.parse(Path(summary.__file__).read_text(encoding="utf-8"))
    docs = {
        ast.get_docstring(n, clean=False)
        for n in ast.walk(tree)
        if isinstance(n, ast.Module | ast.FunctionDef)
    }
    texts = {
        n.value
        for n in ast.walk(tree)
        if isinstance(n, ast.Constant) and isinstance(n.value, str) and n.value not in docs
    }
    assert not {text for text in texts if " " in text.strip(", .")}
