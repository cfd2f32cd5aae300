"""Names of eight characters: all different, none given away, numbers kept."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.outputs.device.short_names import shorten, with_prefix

NAME = re.compile(r"[A-Z0-9-]{1,8}")


@given(st.lists(st.text(max_size=24), max_size=60))
def test_short_names_are_good_and_all_different(names: list[str]) -> None:
    short = shorten(names)
    assert len(short) == len(names)
    assert all(NAME.fullmatch(name) for name in short)
    assert len(set(short)) == len(short)
    assert shorten(short) == short  # what fits stays as it is


@given(st.lists(st.from_regex(r"[A-Z][A-Z0-9-]{0,7}", fullmatch=True), unique=True, max_size=40),
       st.lists(st.text(max_size=20), max_size=40))  # fmt: skip
def test_a_name_that_fits_is_never_given_to_another(good: list[str], other: list[str]) -> None:
    assert shorten([*other, *good])[len(other) :] == tuple(good)


@given(st.integers(0, 9_999_999), st.text(max_size=12))
def test_the_number_a_name_ends_in_stays_with_it(number: int, words: str) -> None:
    (short,) = shorten([f"T{words} {number}"])
    assert re.search(rf"(?<!\d){number}$", short) or re.search(r"\d", words), short


@pytest.mark.parametrize(
    ("names", "short"),
    [
        (["37", "T37", "t37"], ["T37", "T37-A", "T37-B"]),
        (["oak 12 by the long wall", "oak 12 by the long run"], ["TOAK-12", "TOAK-1-A"]),
        (["PLOT-2024-00012", "PLOT-2025-00012"], ["TPL00012", "T00012-A"]),
        (["дуб", "дуб", "дуб 7"], ["T", "T-A", "T-7"]),
        (["Érable 5"], ["TERABLE5"]),
    ],
)
def test_how_tree_names_are_cut(names: list[str], short: list[str]) -> None:
    assert list(shorten([with_prefix("T", name) for name in names])) == short


def test_many_names_alike_are_told_apart_in_no_time() -> None:
    short = shorten(["the same long name"] * 1500)
    assert len(set(short)) == 1500 and all(NAME.fullmatch(name) for name in short)
