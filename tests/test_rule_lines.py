"""Where a fault of a rule file stands: its line, whatever the way the file is written."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.errors import InputFaults
from layout.rule_format import parse_rule
from layout.toml_lines import KeyLines

HEADER = """format = 1
name = "ours"
title = "t"
jurisdiction = "j"
local_name = "l"
status = "s"
"""
ROW = """[[row]]
water_class = "perennial"
a_ft = 50
measured = "map"
status = "rule"
source = "typed for a test"
confirmed = true
"""
TANGLED = '''# a "comment" with [[row]] in it
format = 1
name = "ours"  # not a = "key"
title = """a title
a_ft = 3
[[row]]
of more lines"""
jurisdiction = "j \\" [["
local_name = "l"
status = 3

[[row]]
water_class = [
  "perennial",  # ]
  "pond",
]
a_ft = -1
measured = "map"
"status" = "rule"
source = \'\'\'s
a_ft = 4
\'\'\'
confirmed = true

[[ row ]]
water_class = "creek"
a_ft = 50
slope_min_pct = 10
measured = "slope"
status = "rule"
source = "s"
confirmed = 1
title = "t"

[[row]]
water_class = "seep"
slope_min_pct = 12
a_ft = 50
measured = "map"
status = "rule"
source = "s"
confirmed = true
keep_min_dbh_in = 8
keep_ba_pct = 0
[[row]]
water_class = "rill"
slope_min_pct = 12
slope_max_pct = 11
a_ft = 50
measured = "map"
status = "rule"
source = "s"
confirmed = true
[[row]]
water_class = "swale"
a_ft = 50
measured = "map"
status = "rule"
source = "s"
confirmed = true
keep_min_dbh_in = 8.5
'''


def faults_of(raw: bytes | str) -> list[str]:
    """Give the faults of a file, without what to do about them."""
    with pytest.raises(InputFaults) as caught:
        parse_rule(raw.encode() if isinstance(raw, str) else raw, "ours.toml")
    return [fault.split(";")[0] for fault in caught.value.faults]


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_every_fault_names_its_line_and_all_come_at_once(ends: str, mark: bytes) -> None:
    text = TANGLED.split("\n")
    rows = [k for k, one in enumerate(text, 1) if one in ("[[row]]", "[[ row ]]")][1:]

    def at(start: str, after: int = 0) -> str:
        number = next(k for k, one in enumerate(text, 1) if one.startswith(start) and k > after)
        return f"ours.toml, line {number}"

    assert faults_of(mark + TANGLED.replace("\n", ends).encode()) == [
        f"{at('status')}: status must be a line of text in quotes",
        f"{at('a_ft = -1')} (row 1): a_ft = -1 must be 0 to 5000",
        f"{at('measured', rows[1])} (row 2): measured = 'slope' must be one of map, ground",
        f"{at('confirmed = 1')} (row 2): confirmed = 1 must be true or false",
        f"{at('title', rows[1])} (row 2): title belongs to the header",
        f"{at('keep_ba')} (row 3): keep_ba_pct = 0 must be above 0, 100 at most",
        f"{at('slope_max')} (row 4): slope_min_pct must be less than slope_max_pct",
        f"{at('keep_min_dbh_in = 8.5')} (row 5): keep_min_dbh_in says which trees count, and "
        "nothing is counted",
    ]


def test_rows_that_leave_slopes_open_name_the_line_of_the_slope() -> None:
    raw = HEADER.replace('title = "t"\n', "") + ROW + "slope_max_pct = 10\n"
    raw += ROW + "slope_min_pct = 12\nslope_max_pct = 40\n"
    assert faults_of(raw) == [
        "ours.toml: title is missing",
        "ours.toml, line 22 (row 2): perennial has no row for slopes over 40 %",
        "ours.toml, line 21 (row 2): perennial has rows to 10 % and from 12 %",
    ]


def test_slopes_of_a_class_wait_until_its_rows_are_right() -> None:
    # The gap of the pond is told beside the fault of the perennial row, whose own gap is not.
    pond = ROW.replace("perennial", "pond") + "slope_max_pct = 30\n"
    said = faults_of(HEADER + ROW.replace("50", "-50") + "slope_max_pct = 30\n" + pond)
    assert [line.split(": ", 1)[1] for line in said] == [
        "a_ft = -50 must be 0 to 5000",
        "pond has no row for slopes over 30 %",
    ]


def test_faults_of_rows_written_as_one_list_name_the_line_of_the_list() -> None:
    raw = HEADER + 'row = [{water_class = "perennial", a_ft = -3}]\n'
    assert "ours.toml, line 7 (row 1): a_ft = -3 must be 0 to 5000" in faults_of(raw)


def test_what_is_no_text_or_no_toml_is_refused() -> None:
    (said,) = faults_of(b'format = 1\nname = "caf\xe9"\n')
    assert said == "ours.toml, line 2: not a TOML file, as it is not UTF-8 text"
    (said,) = faults_of(b"format = " + b"[" * 100_000)
    assert said.startswith("ours.toml: not a TOML file (")
    (said,) = faults_of("format = 1\nformat = 1\n")
    assert "line 2" in said


VALUES = (
    "3",
    '"x"',
    "'''\n[[row]]\nb = 2\n'''",
    "[\n1, # [\n2]",
    "{a = 1, b = [2]}",
    '"\\"[["',
    '"""\na = 1 \\""""',
    "''",
    '"#" # "',
    "'\\'",
)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["", "\n", "# note = 3\n", "  "]),
            st.sampled_from(["a_ft", "note", "'source'", '"s t"', "x.y"]),
            st.sampled_from(VALUES),
        ),
        unique_by=lambda drawn: drawn[1],
        min_size=1,
    )
)
def test_a_key_is_found_on_its_line(drawn: list[tuple[str, str, str]]) -> None:
    text, at = "", {}
    for before, key, value in drawn:
        text += before
        at[key.strip("\"'").split(".")[0]] = text.count("\n") + 1
        text += f"{key} = {value}\n"
    assert list(tomllib.loads(text)) == list(at)  # what is drawn is TOML
    assert {key: KeyLines(text, "row").top(key) for key in at} == at
    below = KeyLines("format = 1\n[[row]]\n" + text, "row")
    assert {key: below.of(0, key) for key in at} == {key: n + 2 for key, n in at.items()}
    assert below.top("format") == 1
    assert below.top("a_ft") is None
    assert below.of(0, "nothing") == below.of(0) == 2
    assert below.of(1) is None


def test_a_number_of_four_hundred_digits_is_a_fault_like_any_other() -> None:
    huge = "9" * 400
    keys = ["slope_min_pct", "s0_pct", "b_ft_per_pct", "keep_min_dbh_in", "keep_trees_pct"]
    text = HEADER + ROW.replace("a_ft = 50", f"a_ft = {huge}")
    text += "".join(f"{key} = {huge}\n" for key in keys)
    found = faults_of(text)
    assert len(found) == 1 + len(keys)
    assert found[0].startswith("ours.toml, line 9 (row 1): a_ft = 99999")
    assert found[0].endswith("9… must be 0 to 5000")
    assert found[1].endswith("9… must be 0 or more, and not endless")
    assert all(len(fault) < 160 for fault in found)
    (endless,) = faults_of(HEADER + ROW + "slope_min_pct = inf\n")
    assert endless.endswith("slope_min_pct = inf must be 0 or more, and not endless")


def test_a_gap_of_slopes_is_told_at_the_key_that_makes_it() -> None:
    # keys by line: HEADER is 6 lines, a row 7, its own slopes after them
    text = HEADER + ROW + "slope_min_pct = 5\nslope_max_pct = 20\n"
    text += ROW.replace('"map"', '"ground"') + "slope_min_pct = 30\nslope_max_pct = 40\n"
    assert faults_of(text) == [
        "ours.toml, line 14 (row 1): perennial has no row for slopes under 5 %",
        "ours.toml, line 24 (row 2): perennial has no row for slopes over 40 %",
        "ours.toml, line 23 (row 2): perennial has rows to 20 % and from 30 %",
        "ours.toml, line 19 (row 2): the rows of perennial differ in measured or slope_of",
    ]


def test_rows_written_as_one_list_stand_on_its_line() -> None:
    row = '{ water_class = "perennial", a_ft = 50, measured = "map", status = "rule", '
    row += 'source = "s", confirmed = true, '
    assert faults_of(HEADER + "row = [" + row + "slope_min_pct = 5 }]\n") == [
        "ours.toml, line 7 (row 1): perennial has no row for slopes under 5 %"
    ]
    assert faults_of(HEADER + "row = [" + row + "min_ft = -1 }]\n") == [
        "ours.toml, line 7 (row 1): min_ft = -1 must be 0 to 5000"
    ]
