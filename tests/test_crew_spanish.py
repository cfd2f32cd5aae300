"""The crew's book in Spanish: every word of it, and how it writes numbers."""

import re
import string
from collections.abc import Iterator, Mapping
from dataclasses import replace
from io import BytesIO

import made_order
import pikepdf
import plan_fixture
import pytest
from test_outputs_crew_pdf import texts

from layout import thinning, winch
from layout.outputs.crew import book
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, Line, Sheet, width_of
from layout.outputs.words import ENGLISH, say, words_of_the_crew
from layout.outputs.words.translations import catalogue, tongue
from layout.plan import Plan
from layout.speech import speak_chance, speak_length, speak_load, speak_wood
from layout.tongue import phrase, speaking, spoken

SPANISH = catalogue("es")["words"]
LETTERS = re.compile(r"[A-Za-z]{3,}")
SAME = {"crew_blank_hospital", "crew_ribbon_care", "crew_paper_a4", "log_rule_doyle",
        "report_by_acre"}  # fmt: skip


class Asked(Mapping[str, str]):
    """The English words, which note what they are asked for."""

    def __init__(self) -> None:
        self.keys_asked: set[str] = set()

    def __getitem__(self, key: str) -> str:
        """Note a key, and give its words."""
        self.keys_asked.add(key)
        return ENGLISH_WORDS[key]

    def __iter__(self) -> Iterator[str]:
        """Go through the keys."""
        return iter(ENGLISH_WORDS)

    def __len__(self) -> int:
        """How many there are."""
        return len(ENGLISH_WORDS)


ENGLISH_WORDS = dict(ENGLISH)


def spanish(plan: Plan) -> Plan:
    settings = plan.area.settings
    outputs = settings.outputs.model_copy(update={"language": "es"})
    settings = settings.model_copy(update={"outputs": outputs})
    return replace(plan, area=replace(plan.area, settings=settings))


@pytest.fixture(scope="module", params=["us", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return spanish(made_order.ordered(plan_fixture.plan(request.param)))


@pytest.fixture(scope="module")
def sheets(plan: Plan) -> list[Sheet]:
    made = []
    with speaking(tongue("es", plan.area.settings.area.units)):
        for landscape, draw in book.drawings(plan):
            made.append(Sheet(plan.area.settings.outputs.paper, landscape))
            draw(made[-1])
    return made


def places(words: str) -> list[tuple[str, str]]:
    parts = string.Formatter().parse(words)
    return sorted((name, how or "") for _, name, how, _ in parts if name is not None)


def test_every_word_of_the_crew_is_in_both_with_the_same_places() -> None:
    assert set(SPANISH) == words_of_the_crew()
    for key, words in SPANISH.items():
        assert places(words) == places(ENGLISH[key]), key


def test_no_sentence_is_left_in_english() -> None:
    same = {k for k, words in SPANISH.items() if words == ENGLISH[k] and LETTERS.search(
        re.sub(r"\{[^}]*\}", "", words))}  # fmt: skip
    assert same <= SAME


@pytest.mark.slow
def test_the_book_asks_for_no_word_that_is_not_translated(
    monkeypatch: pytest.MonkeyPatch, plan: Plan
) -> None:
    asked = Asked()
    monkeypatch.setattr("layout.outputs.words.ENGLISH", asked)
    book.bound(plan)
    assert asked.keys_asked <= set(SPANISH)
    asked.keys_asked.clear()
    say("report_col_rub")
    assert asked.keys_asked == {"report_col_rub"}  # what English is asked for is noticed


def test_the_sheets_say_no_english_sentence(sheets: list[Sheet]) -> None:
    said = " ".join(t.get_text() for sheet in sheets for t in texts(sheet))
    said = " ".join(said.replace("\N{NO-BREAK SPACE}", " ").split())
    said = re.sub("«.*?»", "", said)  # what the plan itself says is quoted
    for key in words_of_the_crew():
        for part in re.split(r"\{[^}]*\}", ENGLISH[key]):
            words = " ".join(part.replace("\N{NO-BREAK SPACE}", " ").split())
            if len(words.split()) >= 4:
                assert words not in said, key
    assert "Diga esto, despacio" in said
    assert "Hoja de encintado" in said


@pytest.mark.slow
def test_a_book_says_that_nobody_has_checked_the_translation(plan: Plan) -> None:
    with pikepdf.open(BytesIO(book.bound(plan))) as file:
        assert "mapa de la cuadrilla" in str(file.docinfo["/Title"])
        assert str(file.Root.Lang) == "es"
    assert "sin revisar" in SPANISH["crew_translation"]
    assert ENGLISH["crew_translation"] == ""
    assert spoken().language == "en"


def test_nothing_runs_off_the_paper_or_under_seven_points(sheets: list[Sheet]) -> None:
    lines = [(sheet, line) for sheet in sheets for line in sheet.figure.findobj(Line)]
    assert len(lines) > 300
    for sheet, line in lines:
        assert isinstance(line, Line)
        size, words = float(line.get_fontsize()), line.get_text()
        assert size >= LEAST_PT
        wide = width_of(words, size, bold=line.get_fontweight() == "bold")
        left_of = {"right": wide, "center": wide / 2}.get(line.get_horizontalalignment(), 0.0)
        x = float(line.get_position()[0]) - left_of
        if not line.get_rotation():
            assert x >= MARGIN_PT - 2, words  # boxes to tick hang out a little
            assert x + wide <= sheet.width_pt - MARGIN_PT + 1, words


@pytest.mark.parametrize(
    ("units", "tenths", "load"), [("us", "3,937 ft", "1450 lb"), ("metric", "3,5 m", "660 kg")]
)
def test_numbers_are_written_as_in_the_country(units: str, tenths: str, load: str) -> None:
    """Spain writes a comma, Mexico and the United States a point (CLDR 44, es and es-MX).

    Nobody's thousands are parted by a point or comma: the Academies' rule, from memory.
    """
    with speaking(tongue("es", units)):  # type: ignore[arg-type]
        assert speak_load(679.9, units) == load  # type: ignore[arg-type]
        if units == "metric":
            assert speak_length(3.5, units) == tenths  # type: ignore[arg-type]
            assert speak_wood(12345.6, units) == "12\N{NO-BREAK SPACE}345,6 m³"  # type: ignore[arg-type]
        else:
            assert speak_length(1200.0, units) == "3937 pies"  # type: ignore[arg-type]
        assert speak_chance(0.2) == "cerca de 1 de cada 5"
    assert speak_length(3.5, "metric") == "3.5 m"


def test_remedies_and_reasons_of_a_plan_are_translated() -> None:
    statuses = ("beyond_reach", "pull_angle", "load_above", "parking", "no_turning", "corridor",
                "blocked_by_water", "too_heavy", "not_worth_it", "no_trail", "outside")  # fmt: skip
    with speaking(tongue("es", "metric")):
        for status in statuses:
            for shortfall in (None, 12.4):
                for words in winch.remedies(status, shortfall, "us"):  # type: ignore[arg-type]
                    assert phrase(words) is not None, words
        for reason in (thinning.MARKED_ONLY, thinning.NO_DBH, thinning.MORE_THAN_STANDS):
            assert phrase(reason) is not None
        assert phrase("no such sentence") is None
