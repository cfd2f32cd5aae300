"""The water rules in words, held against the printed tables they come from.

Widths of Maine's Table 10.27 A-1 (Code of Maine Rules 01-672 chapter 10, section
10.27,A) are typed from the table, not from our rule file. Those of the other rules
are worked by hand from their text.
"""

import re
from pathlib import Path

import pytest

from layout.commands import main
from layout.rule_files import load_rule, rule_names
from layout.rule_words import (
    ELSEWHERE,
    IN_THE_US,
    LABEL,
    NOWHERE,
    WORKED_SLOPES_PCT,
    closing,
    entry_of,
    list_of,
    pages_of,
)

Out = pytest.CaptureFixture[str]
UNVERIFIED = "unverified – check local rule"  # noqa: RUF001 - the words on every sheet

OWN = """
format = 1
name = "brook"
title = "A rule of our own"
jurisdiction = "our town"
local_name = "brook strip"
status = "rule"

[[row]]
water_class = ["perennial", "pond"]
slope_max_pct = 20
upper_inclusive = {inclusive}
a_ft = 60
measured = "ground"
no_machine_ft = 40
no_bare_soil_ft = 60
no_cut_ft = 25
cable_may_enter = true
bank_trees_leave = true
retention = "keep the shade"
status = "rule"
source = "town book"
confirmed = true

[[row]]
water_class = ["perennial", "pond"]
slope_min_pct = 20
a_ft = 60
b_ft_per_pct = 1.5
s0_pct = 20
max_ft = 100
measured = "ground"
{more}
status = "rule"
source = "town book"
confirmed = false
"""


def run(capsys: Out, *words: object) -> tuple[int, str, str]:
    status = main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


def own(folder: Path, inclusive: str = "true", more: str = "") -> Path:
    file = folder / "brook.toml"
    file.write_text(OWN.format(inclusive=inclusive, more=more), encoding="utf-8")
    return file


def fields(lines: list[str], label: str) -> list[str]:
    """Give what stands behind a label, each time it comes."""
    text = "\n".join(lines)
    start = rf"^ *{label} +(\S.*(?:\n +{' ' * (LABEL - 4)}\S.*)*)"
    return [" ".join(match.split()) for match in re.findall(start, text, re.MULTILINE)]


def worked(lines: list[str], row: str) -> list[float]:
    """Give the numbers of a row of the first worked table."""
    line = next(line for line in lines if line.strip().startswith(row))
    return [float(cell) for cell in line.split(row)[1].split()]


@pytest.mark.parametrize(
    ("name", "slopes", "feet"),
    [
        ("slope-50-4", "slope to the water, %", [50, 90, 130, 170, 210, 250]),
        # 50 ft, and 2 ft for each percent over 10: 50 + 2 x 10, 20, 30, 40.
        ("slope-50-2-over-10", "slope to the water, %", [50, 50, 70, 90, 110, 130]),
        # 75 ft to 10 %, and 20 ft for each further 10 %.
        ("slope-75-2-over-10", "slope to the water, %", [75, 75, 95, 115, 135, 155]),
        # FOR-69 Table 3-1: 25 ft, and 55 ft where the bank has 15 % or more.
        ("kentucky-warm-water", "slope of the bank, %", [25, 25, 55, 55, 55, 55]),
        # 50 ft, and 100 ft from 35 % on.
        ("montana", "slope to the water, %", [50, 50, 50, 50, 100, 100]),
    ],
)
def test_widths_as_printed(name: str, slopes: str, feet: list[float]) -> None:
    lines = pages_of(load_rule(name))
    assert worked(lines, slopes) == [0, 10, 20, 30, 40, 50] == list(WORKED_SLOPES_PCT)
    assert worked(lines, "width, ft") == feet
    assert worked(lines, "width, m") == [round(width * 0.3048, 1) for width in feet]


def test_the_list_names_every_rule_with_place_kind_strip_and_whether_it_was_read(
    capsys: Out,
) -> None:
    status, out, err = run(capsys, "rules")
    assert (status, err) == (0, "")
    for name in rule_names():
        rule = load_rule(name)
        start = next(line for line in out.splitlines() if line.startswith(f"{name}: "))
        assert rule.jurisdiction in start and rule.status in start
        assert ("unverified" in start) == (not all(row.confirmed for row in rule.rows))
        assert start.endswith("confirmed" if rule.confirmed else UNVERIFIED)
        assert f"    {rule.local_name}. " in out
    assert out.rstrip().endswith("\n".join(closing()).strip())


@pytest.mark.parametrize("name", rule_names())
def test_each_rule_is_printed_whole(capsys: Out, name: str) -> None:
    status, out, _ = run(capsys, "rules", name)
    rule, lines = load_rule(name), out.splitlines()
    assert status == 0
    assert all(len(line) <= 92 + 2 for line in lines)
    assert fields(lines, "Where") == [rule.jurisdiction]
    assert fields(lines, "Called there") == [rule.local_name]
    assert out.count("width, ft") == len({rule.rows_for(c) for c in rule.classes})
    shown = [row for name in rule.classes for row in rule.rows_for(name)]
    rows = list(dict.fromkeys(shown))
    assert fields(lines, "Source") == [row.source for row in rows]
    assert fields(lines, "Kind") == [row.status for row in rows]
    for row, sure, winching in zip(
        rows, fields(lines, "Confirmed"), fields(lines, "Winching out"), strict=True
    ):
        assert sure == (
            "yes, the numbers were read there" if row.confirmed else f"no: {UNVERIFIED}"
        )
        assert winching.startswith("not allowed") == (row.winching_ft is None)
    plain = re.sub(r"\s+", " ", out.lower())
    assert not re.search(
        r"\bsafe\b|\bpermitted\b|\bcomplies|\bcompliant", plain.split("source")[-1]
    )
    assert "no advice on the law" in plain and "decide; ask them before work begins" in plain


def test_a_rule_of_ones_own_that_says_everything(capsys: Out, tmp_path: Path) -> None:
    status, out, _ = run(capsys, "rules", own(tmp_path))
    lines = out.splitlines()
    assert status == 0
    assert "perennial, pond" in lines
    assert fields(lines, "Slopes")[0].startswith("up to 20 %; S is the slope of the ground")
    assert fields(lines, "Slopes")[1].startswith("over 20 %; ")
    assert fields(lines, "Width") == [
        "60 ft (18.3 m)",
        "60 ft and 1.5 ft more for each percent of S over 20 %; 100 ft (30.5 m) at most",
    ]
    assert fields(lines, "Measured")[0] == "from the bank, along the ground, down the slope"
    assert fields(lines, "Machines") == ["none within 40 ft (12.2 m) of the bank"]
    assert fields(lines, "Bare soil") == ["none within 60 ft (18.3 m) of the bank"]
    assert fields(lines, "Cutting") == ["none within 25 ft (7.6 m) of the bank"]
    assert fields(lines, "Rope") == ["may enter the strip"]
    assert fields(lines, "Bank trees") == ["must stay"]
    assert fields(lines, "Left standing") == ["keep the shade"]
    assert fields(lines, "Winching out") == [
        "only beyond 25 ft (7.6 m) from the bank",
        "not allowed here, as the rule does not speak of cutting, rope and bank trees",
    ]
    assert fields(lines, "Not said") == [
        "machines, bare soil, cutting, rope, bank trees and left standing"
    ]
    assert fields(lines, "Numbers") == [f"1 of 2 rows {UNVERIFIED}"]
    assert worked(lines, "width, ft") == [60, 60, 60, 75, 90, 100]


def test_the_step_itself_belongs_to_the_row_that_says_so(tmp_path: Path) -> None:
    lines = pages_of(load_rule(own(tmp_path, inclusive="false")))
    said = fields(lines, "Slopes")
    assert said[0].startswith("under 20 %") and said[1].startswith("from 20 %")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("cable_may_enter = false", "not allowed, as no rope may enter"),
        ("cable_may_enter = true", "does not speak of cutting and bank trees"),
        ("no_cut_ft = 20\ncable_may_enter = true", "does not speak of bank trees"),
        ("no_cut_ft = 20\nbank_trees_leave = false", "does not speak of rope"),
    ],
)
def test_what_is_not_said_of_winching_is_not_allowed(tmp_path: Path, more: str, said: str) -> None:
    winching = fields(pages_of(load_rule(own(tmp_path, more=more))), "Winching out")[1]
    assert winching.startswith("not allowed") and winching.endswith(said)


def test_a_back_face_and_a_floor_are_said() -> None:
    (width,) = fields(pages_of(load_rule("slope-50-4")), "Width")
    assert width.endswith("; 50 ft (15.2 m) where the ground falls away from the water")
    width = fields(pages_of(load_rule("no-rule-chosen")), "Width")[0]
    assert width == "25 ft and 2 ft more for each percent of S; 50 ft (15.2 m) at least"
    (width,) = fields(pages_of(load_rule("slope-75-2-over-10")), "Width")
    assert "S first rounded up to a whole 10 %" in width


def test_what_is_counted_and_a_divide_are_said(tmp_path: Path) -> None:
    more = "keep_ba_ft2_acre = 80\nkeep_cover_pct = 60\nstops_at_divide = true"
    lines = pages_of(load_rule(own(tmp_path, more=more)))
    # 80 square feet an acre are 18.4 m2 a hectare
    assert fields(lines, "Counted") == [
        "at least 60 % of the ground under crowns and 80 ft²/acre (18.4 m²/ha) of basal area stay"
    ]
    end = "it ends at a divide, where water runs off to the other side"
    assert fields(lines, "Width")[1].endswith(end)
    said = fields(pages_of(load_rule("montana")), "Counted")[0]
    assert said == (
        "at least 50 % of the trees and 10 trees for each 100 ft (30.5 m) of each side stay, "
        "of trees 8 in (20 cm) DBH and over"
    )


def test_the_list_is_gathered_by_place() -> None:
    lines = list_of(load_rule(name) for name in rule_names())
    at = [lines.index(head) for head in (IN_THE_US, ELSEWHERE, NOWHERE)]
    assert at == sorted(at)
    under = [
        {name for name in rule_names() if any(one.startswith(f"{name}: ") for one in lines[a:b])}
        for a, b in zip(at, [*at[1:], len(lines)], strict=True)
    ]
    assert under[1] == {"ireland", "nova-scotia", "uk-channel-width"}
    assert under[2] == {"no-rule-chosen", "slope-25-2"}
    assert sum(map(len, under)) == len(rule_names())


def refused(capsys: Out, *words: object) -> list[str]:
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert all(line.startswith("skidway: ") for line in err.splitlines())
    return [line.removeprefix("skidway: ") for line in err.splitlines()]


def test_faults_of_a_rule_of_ones_own_are_told_together(capsys: Out, tmp_path: Path) -> None:
    file = own(tmp_path, more='wide_ft = 3\nstatu = "x"')
    text = file.read_text(encoding="utf-8").replace("a_ft = 60\nb_ft", "a_ft = -60\nb_ft")
    file.write_text(text.replace('local_name = "brook strip"\n', ""), encoding="utf-8")
    lines = refused(capsys, "rules", file)
    text = file.read_text(encoding="utf-8").splitlines()
    at = {key: text.index(key) + 1 for key in ("a_ft = -60", "wide_ft = 3", 'statu = "x"')}
    assert lines[0] == f"{file}: local_name is missing; add local_name to the header"
    assert f"{file}, line {at['a_ft = -60']} (row 2): a_ft = -60 must be 0 to 5000" in lines
    for key in ("wide_ft = 3", 'statu = "x"'):
        start = f"{file}, line {at[key]} (row 2): unknown key {key.split()[0]}; known are "
        assert any(line.startswith(start) for line in lines)


def test_a_slip_in_the_toml_names_its_line(capsys: Out, tmp_path: Path) -> None:
    file = tmp_path / "x.toml"
    file.write_text('format = 1\nname = "x\n', encoding="utf-8")
    (line,) = refused(capsys, "rules", file)
    assert line.startswith(f"{file}: not a TOML file (") and "line 2" in line


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("mont", 'there is no rule "mont"; known are '),
        ("no/such.toml", "rule file no/such.toml cannot be read (No such file or directory)"),
    ],
)
def test_no_such_rule(capsys: Out, name: str, said: str) -> None:
    (line,) = refused(capsys, "rules", name)
    assert line.startswith(said)


def test_an_entry_is_two_lines_or_a_little_more() -> None:
    for name in rule_names():
        assert 2 <= len(entry_of(load_rule(name))) <= 4
