"""What says stop, and what trees are called, on the Spanish sheets: all of it, and exactly."""

import ast
import re
import string
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import made_order
import plan_fixture
import pytest
from test_crew_spanish import spanish
from test_outputs_crew_pdf import texts

import layout
from layout.findings import Finding
from layout.outputs.crew import book
from layout.outputs.crew.sheet import Sheet
from layout.outputs.words import species_said
from layout.outputs.words.translations import catalogue, tongue
from layout.species import field_codes, find, species_table
from layout.tongue import phrase, speaking

PACKAGE = Path(layout.__file__).parent
HELD = catalogue("es")
PHRASES: dict[str, str] = HELD["phrases"]
STOPS = Path(__file__).parent / "data" / "stop_sentences.txt"
# Functions that put a stop's words together without naming the level themselves.
HELPERS = {
    ("checks/words.py", "place"), ("checks/words.py", "lengths"), ("checks/case.py", "called"),
    ("checks/bends.py", "_bend"), ("checks/cross.py", "_dig"), ("checks/access.py", "_place"),
    ("checks/access.py", "_reverse_curve"), ("checks/corridors.py", "_land"),
    ("checks/corridors.py", "_water"), ("checks/corridors.py", "_stems"),
    ("checks/corridors.py", "_stop"), ("checks/lines.py", "_start"), ("checks/lines.py", "check"),
    ("checks/space.py", "_land"), ("checks/space.py", "_closed"),
    ("checks/space.py", "_hazard_trees"), ("checks/parking.py", "say"),
    ("checks/winching.py", "_say"), ("checks/winching.py", "_stated"),
    ("checks/wet_ground.py", "_trail"), ("checks/wet_ground.py", "_on"),
    ("checks/crossings.py", "_barred"), ("checks/retention.py", "_judged"),
    ("checks/retention.py", "_shares"), ("checks/retention.py", "_basal_area"),
    ("checks/retention.py", "_cover"), ("checks/retention.py", "_size"),
    ("checks/retention.py", "_along_the_bank"), ("checks/strip_trees.py", "_said"),
    ("checks/strip_trees.py", "_count"), ("drainage/stretch_findings.py", "_finding"),
    ("landing/site_checks.py", "say"), ("rule_words.py", "kept_words"),
}  # fmt: skip
# What stands beside a stop in those functions and is no part of one: by why it is none.
NOT_SAID = {
    "unknown": {
        "its curve was not given, so it was not checked",
        "slope not checked, the elevation grid has a gap",
        "slope not checked, the elevation grid does not cover all of it",
        "parking slope not checked, the elevation grid has a gap",
        "ground not checked, the grid has a gap",
        "approaches and banks at", "not checked, the elevations have a gap or end here",
    },
    "caution": {
        "bend through the mouth", "leave stems brushed by one pull: {value}",
        "needs a machine that can dig, a person who has built one, and local approval",
        "by the elevation grid, on a bench recorded as sound; look at its width and outer edge "
        "before driving",
        "past the", "where care begins", "the way to a crossing you allow",
        "lead it across the slope, or break it with dips", "by a phone's record, wider than",
        "see on the ground that it does not face the landing", "wider than",
        "loads will rub at the corner",
        "downhill loaded, and braking on the rear wheels alone may not hold it",
        "for the tractor by itself); engage four-wheel drive and a low gear before the pitch, and "
        "do not clutch on it",
        "downhill loaded, past",
        "on slick ground a load may push, or run when it is let go; no stop on it, and nobody "
        "below",
        "its axis, past", "dig the butt plate in", "and it may be",
        "by trees at the edge of the strip or without a DBH: measure those, or leave more standing",
        "trees.csv of the plan names all", "the way of trails, turning places or landing",
        "of the unmarked", "each needs the owner's mark", "stem stands", "stems stand",
        "the rope leaves up to {value} degrees off the tractor's axis",
        "the load lies up to {value} % above the winch; keep everyone off the ground below",
        "ground falls up to {value} % toward the tractor; on slick ground a log runs",
        "drains not laid out, the elevations have a gap or end here; choose their places on the "
        "ground, and mind that water may run out of this stretch onto the trail below",
        "water stands on it", "it will not dry",
        "of the whole is asked for on the front axle with a load",
        "is the published least, and under it the tractor hardly steers. Set [tractor] front_min "
        '= "20 %"',
        "aimed at", "with the landing over",
        "Hazard trees come down before any other work near them",
        "No lay is suggested for them; nobody else comes within two tree lengths until they lie",
        "No lay suggested for", "each one that suits the pull could reach",
        "The faller decides at the stump, or they stay", "against the lay that suits the pull",
        "for an experienced faller, or laid another way", "without a DBH",
        "back from every lay that suits the pull",
        "whether wedges would do is not known, so no lay is suggested. Measure, or leave standing",
    },
    "ok": {"enough trees stay in", "out of which trees go; in the barest"},
    "source": {
        "the record held against its own geometry", "statics: a block holds up to twice the pull",
    },
    "numbers of the words are parts in the translation": {
        "²/ha) of basal area", "trees for each 100 ft (30.5 m) of each side", "0 in",
        "of what crowns cover",
    },
}  # fmt: skip


def functions() -> Iterator[tuple[str, ast.FunctionDef]]:
    """Give the functions that make a stop: by naming the level, or as helpers of such."""
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        if name.split("/")[0] in ("outputs", "drawing", "commands"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                named = any(
                    isinstance(n, ast.Constant) and n.value == "stop" for n in ast.walk(node)
                )
                if named or (name, node.name) in HELPERS:
                    yield name, node


UNIT = re.compile(r"^[ ]?(%|m|degrees|kN|cm|in|ft)(?![a-z])")


def sayings(function: ast.FunctionDef) -> Iterator[str]:
    """Give the pieces of sentences a function holds, less a unit that follows a number."""
    doc = ast.get_docstring(function, clean=False)
    for node in ast.walk(function):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value != doc:
            said = UNIT.sub("", node.value).strip(" .:;,()")
            if " " in said and not said.startswith("setting "):
                yield said


def sentences() -> list[str]:
    return STOPS.read_text(encoding="utf-8").splitlines()


def numbers(words: str) -> list[str]:
    return sorted(re.findall(r"\d+(?:[.,]\d+)?", words.replace(",", ".")))


def test_every_word_of_a_stop_has_its_spanish() -> None:
    english = "\n".join(PHRASES).casefold()
    found = list(functions())
    assert {(name, function.name) for name, function in found} >= HELPERS
    said = {piece: f"{name} {f.name}" for name, f in found for piece in sayings(f)}
    untold = {piece for piece in said if piece.casefold() not in english}
    known = set().union(*NOT_SAID.values())
    assert not {piece: said[piece] for piece in untold - known}
    assert known <= untold  # none is kept here that nobody says any more


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_stop_is_told_whole_with_its_numbers(units: str) -> None:
    english = re.compile(r"\b(the|of|at|from|and|is|are|over|under|with|out|off|to|its|it|trail)\b")
    with speaking(tongue("es", units)):  # type: ignore[arg-type]
        for words in sentences():
            told = phrase(words)
            assert told is not None, words
            assert numbers(told) == numbers(words), (words, told)
            assert not english.search(told.replace("unheard of", "")), told


def test_what_is_not_known_whole_is_left_whole() -> None:
    with speaking(tongue("es", "metric")):
        assert phrase("Landing L1: slopes 9.5 %, over 8 %; find flatter ground") is not None
        assert phrase("Landing L1: slopes 9.5 %, over 8 %; find a field") is None
        assert phrase("Landing L1: slopes 9.5 rods, over 8 %; find flatter ground") is None
        assert phrase("Spur S1 at 5 m: 8 ft") is None
        assert phrase("Position 12,345: stands on a landing that is not there") == (
            "Posición 12,345: está en un patio que no existe"
        )


@pytest.mark.parametrize(
    ("english", "other"),
    [
        (r"\b(not|never|no|nobody|cannot|nothing|nowhere)\b", r"\b(no|nunca|nada|ningún|sin)\b"),
        (r"\bdownhill\b", r"\b(cuesta abajo|de abajo)\b"),
        (r"\b(uphill|climb\w*)\b", r"\b(cuesta arriba|sub\w+)\b"),
        (r"\bbefore\b", r"\bantes\b"),
        (r"\b(over|more than)\b(?! it)", r"\b(más|encima)\b"),
        (r"\b(under|within)\b(?! reach)", r"\b(menos de|menos del|dentro del|debajo|bajo)\b"),
        (r"\b(at most)\b", r"\bcomo máximo\b"),
        (r"\b(at least|is the least|or more|or better)\b", r"\b(al menos|lo menos|o más)\b"),
        (r"\balong its axis\b", r"\ba lo largo de su eje\b"),
        (r"\bacross its axis\b", r"\ba través de su eje\b"),
    ],
)
def test_what_turns_a_sentence_round_is_in_both(english: str, other: str) -> None:
    asked = 0
    for words, told in PHRASES.items():
        if re.search(english, words):
            asked += 1
            assert re.search(other, told, re.IGNORECASE), (words, told)
    assert asked


def test_both_have_the_same_parts() -> None:
    for words, told in PHRASES.items():
        parts = [[name for _, name, _, _ in string.Formatter().parse(w) if name is not None]
                 for w in (words, told)]  # fmt: skip
        assert sorted(parts[0]) == sorted(parts[1]), words


@pytest.mark.slow
def test_no_stop_of_the_spanish_book_is_in_english() -> None:
    plan = spanish(made_order.ordered(plan_fixture.plan("metric")))
    stops = tuple(Finding("made", "stop", words) for words in sentences())
    said = ""
    with speaking(tongue("es", "metric")):
        for landscape, draw in book.drawings(replace(plan, findings=stops)):
            sheet = Sheet(plan.area.settings.outputs.paper, landscape)
            draw(sheet)
            said += " ".join(t.get_text() for t in texts(sheet)) + " "
    said = " ".join(said.replace("«…»", "").split())
    said = said.replace("«a longer rope»", "")  # the made plan's own remedy, which no plan gives
    assert "«" not in said
    with speaking(tongue("es", "metric")):
        told = [str(phrase(words)) for words in sentences()]
    assert sum(words in said for words in told) > 0.8 * len(told)  # the end of a page parts some


def test_every_tree_of_the_tables_has_a_spanish_name() -> None:
    names = [name for row in species_table() for name in (row.common_name, *row.other_names)]
    names += [code.common_name for code in field_codes().values()]
    names = [name for name in names if not name.startswith("GROUP ")]
    assert len(names) > 100
    with speaking(tongue("es", "us")):
        for name in names:
            assert species_said(name) == HELD["species"][find(name).name], name
            assert species_said(name.upper()) != name.upper()
        for own in ("RO", "833", "gumbo limbo", "", "?"):
            assert species_said(own) == own
    assert species_said("sugar maple") == "sugar maple"
