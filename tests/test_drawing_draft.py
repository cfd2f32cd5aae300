"""A draft: what goes in comes out, and every fault of it is told."""

import contextlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.drawing.draft import Draft, read_draft, sound_name
from layout.errors import InputFaults

WHOLE: dict[str, Any] = {
    "format": 1,
    "name": "north way",
    "landing": {"outline": [[0, 0], [20, 0], [20, 20], [0, 20]]},
    "trails": [
        {"id": "S1", "kind": "spur", "line": [[30, 10], [50, 30.126]], "joins": "M"},
        {"id": "M", "kind": "main", "line": [[20, 10], [90, 10]], "joins": ""},
    ],
    "keep_out": [{"id": "K1", "outline": [[60, 60], [70, 60], [65, 70]]}],
    "notes": [{"id": "N1", "at": [5, 5], "text": "soft here"}],
    "marks": {"T7": "leave", "T2": "cut"},
    "positions": [{"id": "P1", "at": [40, 20], "state": "forbidden"}],
}


def changed(**parts: Any) -> dict[str, Any]:
    return {**json.loads(json.dumps(WHOLE)), **parts}


def told(value: object) -> str:
    with pytest.raises(InputFaults) as caught:
        read_draft(value)
    return str(caught.value)


def test_a_whole_draft_comes_back_the_same() -> None:
    draft = read_draft(WHOLE)
    assert [t.trail_id for t in draft.trails] == ["M", "S1"]  # a trail after the one it joins
    assert draft.trails[1].line[1] == (50.0, 30.13)  # to the centimetre
    assert draft.landing is not None and len(draft.landing.outline) == 4
    assert read_draft(json.loads(json.dumps(draft.as_json()))) == draft


def test_an_empty_draft_is_a_draft() -> None:
    assert read_draft({"format": 1}) == Draft()
    assert read_draft(Draft().as_json()) == Draft()


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ([], "JSON object"),
        ({}, "format None"),
        (changed(format=2), "format 2"),
        (changed(landing={"point": [1, 2], "outline": []}), "either a point or an outline"),
        (changed(landing={"point": [1, "2"]}), "a place is two numbers"),
        (changed(landing={"point": [1, True]}), "a place is two numbers"),
        (changed(landing={"point": [1, float("nan")]}), "a place is two numbers"),
        (changed(landing={"outline": [[0, 0], [1, 1]]}), "3 to"),
        (changed(landing={"outline": [[0, 0], [1, 1], [0, 0]]}), "three corners"),
        (changed(trails=[{"id": "M", "kind": "main", "line": [[0, 0], [0, 0]]}]), "2 different"),
        (changed(trails=[{"id": "M", "kind": "road", "line": [[0, 0], [1, 0]]}]), "main, spur"),
        (changed(trails=[{"id": "a\nb", "kind": "main", "line": [[0, 0], [1, 0]]}]), "be printed"),
        (
            changed(trails=[{"id": "x" * 41, "kind": "main", "line": [[0, 0], [1, 0]]}]),
            "40 letters",
        ),
        (changed(notes=[{"id": "../N", "at": [0, 0], "text": ""}]), "an id of"),
        (changed(notes=[{"id": "N", "at": [10**400, 0], "text": ""}]), "a place is two numbers"),
        (changed(trails=WHOLE["trails"][:1]), "joins 'M', which is not there"),
        (changed(trails=WHOLE["trails"] * 2), "is there twice"),
        (changed(trails={"M": 1}), "a list of at most"),
        (changed(marks={"T1": "burn"}), "cut or leave"),
        (changed(positions=[{"id": "P", "at": [0, 0], "state": "maybe"}]), "wanted, forbidden"),
        (changed(notes=[{"id": "N", "at": [0, 0], "text": "x" * 501}]), "at most 500"),
        (changed(name="x" * 41), "at most 40"),
    ],
)
def test_each_fault_is_told(value: object, words: str) -> None:
    assert words in told(value)


def test_trails_that_hang_on_each_other_are_told() -> None:
    ring = [
        {"id": "A", "kind": "spur", "line": [[0, 0], [9, 0]], "joins": "B"},
        {"id": "B", "kind": "spur", "line": [[0, 0], [9, 9]], "joins": "A"},
    ]
    assert "hang on each other" in told(changed(trails=ring))


def test_all_faults_are_told_together() -> None:
    words = told(changed(landing={"point": "here"}, marks={"T": 1}, notes=[3]))
    assert words.count("\n") == 2


@pytest.mark.parametrize(
    "name", ["north way", "A-1_b", "  two  ", "é", "Über den Bach", "2 ñandú", "Ålesund"]
)
def test_names_of_drawings(name: str) -> None:
    assert sound_name(name) == name.strip()


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        "../up",
        "a/b",
        "a.b",
        "con",
        "LPT1",
        "x" * 41,
        "-a",
        "COM\u00b9",
        "é/ü",
        "a\u2215b",
        "a\uff0fb",
        "\u202eab",
        "a\u0000",
        "ü.gpkg",
        "\ud800",
        "_a",
    ],
)
def test_names_no_file_can_have_everywhere(name: str) -> None:
    with pytest.raises(InputFaults):
        sound_name(name)


def test_an_accented_letter_is_one_however_it_was_typed() -> None:
    # Unicode Standard Annex 15: e and the combining acute accent compose to U+00E9 in form NFC
    assert sound_name("cafe\u0301") == sound_name("caf\u00e9") == "caf\u00e9"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["format", "trails", "line", "id", "kind", "joins", "at", "marks"])
            | st.text(max_size=4),
            inner,
            max_size=4,
        )
    ),
    max_leaves=20,
)


@given(json_values, st.sampled_from(sorted(WHOLE)))
def test_no_value_raises_anything_else(value: object, key: str) -> None:
    for handed in (value, changed(**{key: value})):
        with contextlib.suppress(InputFaults):
            read_draft(handed)
