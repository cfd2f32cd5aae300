"""Notes on trees: the ways people write and say them, each with what must be read."""

import re
from dataclasses import fields

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from layout.note_phrases import Note
from layout.species import field_codes, find, species_table
from layout.tree_notes import (
    LEAST_CM,
    MOST_CM,
    MOST_LOGS,
    read_diameter,
    read_more,
    read_note,
)

IN = 2.54


def said(text: str, units: str = "us") -> dict[str, object] | None:
    """Give what a note says, blank parts left out."""
    note = read_note(text, units)  # type: ignore[arg-type]
    if note is None:
        return None
    parts = {f.name: getattr(note, f.name) for f in fields(note)}
    return {k: v for k, v in parts.items() if v not in ("", None) and k != "bare"}


def oak(tree_id: str = "37", dbh_cm: float = 18 * IN, **more: object) -> dict[str, object]:
    return {"tree_id": tree_id, "species": "RO", "dbh_cm": pytest.approx(dbh_cm), **more}


NOTES: list[tuple[str, dict[str, object] | None]] = [
    # signs and blanks
    ("37 RO 18 2", oak(logs=2)),
    ("37 RO 18", oak()),
    ("  37   RO\t18  2 ", oak(logs=2)),
    ("37,RO,18,2", oak(logs=2)),
    ("37; RO; 18; 2", oak(logs=2)),
    ("37/RO/18/2", None),  # 18/2 is a fraction that is none
    ("37-RO-18-2", oak(logs=2)),
    ("37 - RO - 18 - 2", oak(logs=2)),
    ("37_RO_18_2", oak(logs=2)),
    ("37: RO 18", oak()),
    ("37. RO. 18. 2.", oak(logs=2)),
    ("37) RO 18", oak()),
    ("37RO18", oak()),
    ("37RO18-2", oak(logs=2)),
    # numbers of trees
    ('#37 RO 18" 2L', oak(logs=2)),
    ("# 37 RO 18", oak()),
    ("T37 RO 18", oak()),
    ("t 37 RO 18", oak()),
    ("tree 37 RO 18", oak()),
    ("Tree No. 37: RO 18", oak()),
    ("no 37 RO 18", oak()),
    ("037 RO 18", oak("037")),
    ("37A RO 18", oak("37A")),
    ("B-12 RO 18 2", oak("B-12", logs=2)),
    ("B12 RO 18", oak("B12")),
    ("RO 18 2 #37", oak(logs=2)),
    ("RO 18 in, tree 37", oak()),
    ("RO18", {"species": "RO", "dbh_cm": pytest.approx(18 * IN)}),
    ("RO 18 2", {"species": "RO", "dbh_cm": pytest.approx(18 * IN), "logs": 2}),
    # species
    ("37 ro 18", oak() | {"species": "ro"}),
    ("37, red oak, 18 in, 2 logs", oak(logs=2) | {"species": "red oak"}),
    ("T37 sugar maple 18.5", {"tree_id": "37", "species": "sugar maple",
                              "dbh_cm": pytest.approx(18.5 * IN)}),
    ("37 Yellow-Poplar 18", oak() | {"species": "Yellow Poplar"}),
    ("37 big red oak 18", oak(rest="big") | {"species": "red oak"}),
    ("37 overcup oak 18", oak() | {"species": "overcup oak"}),
    ("37 mesquite 18", oak() | {"species": "mesquite"}),
    ("37 dead red oak 18", oak(hazard="dead") | {"species": "red oak"}),
    ("37 dead oak 18", oak(hazard="dead") | {"species": "oak"}),
    ("37 hollow pine 18", oak(hazard="rot") | {"species": "pine"}),
    ("37 leaning oak 18", oak(rest="leaning") | {"species": "oak"}),
    # what is the matter with a tree is no species
    ("39 dead 18", {"tree_id": "39", "hazard": "dead", "dbh_cm": pytest.approx(18 * IN)}),
    ("41 snag 20", {"tree_id": "41", "hazard": "dead", "dbh_cm": pytest.approx(20 * IN)}),
    ("41 Hung up 20 2", {"tree_id": "41", "hazard": "hung", "dbh_cm": pytest.approx(20 * IN),
                         "logs": 2}),
    ("41 widowmaker 20", {"tree_id": "41", "rest": "widowmaker",
                          "dbh_cm": pytest.approx(20 * IN)}),
    ("41 leave 20", {"tree_id": "41", "mark": "leave", "dbh_cm": pytest.approx(20 * IN)}),
    ("41 keep 20", {"tree_id": "41", "keep": "keep", "dbh_cm": pytest.approx(20 * IN)}),
    ("snag 20", None),
    ("37 RO 18, keep", oak(keep="keep")),
    ("37 833 18", None),
    # diameters
    ("37 RO 18in", oak()),
    ("37 RO 18 inches", oak()),
    ("37 RO 18\u201d", oak()),
    ("37 RO 18''", oak()),
    ("37 RO 18 dbh", oak()),
    ("37 RO dbh 18 in", oak()),
    ("37 RO DBH: 18", oak()),
    ("37 RO 18 1/2 2", oak(dbh_cm=18.5 * IN, logs=2)),
    ("37 RO 18\u00bd in", oak(dbh_cm=18.5 * IN)),
    ("37 RO 45cm", oak(dbh_cm=45)),
    ("37 RO 45,5 cm 2", oak(dbh_cm=45.5, logs=2)),
    ("37 RO 455 mm", oak(dbh_cm=45.5)),
    ("37 18 in", {"tree_id": "37", "dbh_cm": pytest.approx(18 * IN)}),
    # logs
    ("37 RO 18 2.5", oak(logs=2.5)),
    ("37 RO 18 2 1/2 logs", oak(logs=2.5)),
    ("37 RO 18in logs 2", oak(logs=2)),
    ("37 RO 18, 2 lg", oak(logs=2)),
    # more words
    ("37 RO 18 2 by the wall", oak(logs=2, rest="by the wall")),
    ("37 RO 18 2, 10 ft from the wall", oak(logs=2, rest="10 ft from the wall")),
    ("37 RO 18 in the hollow", oak(rest="in the hollow")),
    ("37 RO 18 2, dead top", oak(logs=2, hazard="dead_top")),
    ("37 RO 18 2 hung up", oak(logs=2, hazard="hung")),
    ("37 RO 18, den tree, leave", oak(keep="den", mark="leave")),
    ("cut 37 RO 18", oak(mark="cut")),
    ("37 RO 18 2 cut", oak(logs=2, mark="cut")),
    ("37 RO 18 2, 60 ft tall", oak(logs=2, height_m=pytest.approx(18.288))),
    ("37 RO 18, ht 20 m", oak(height_m=20)),
    ("37 RO 18 2 \u00b14m", oak(logs=2, position_error_m=4)),
    ("37 RO 18 2 (+/- 13 ft)", oak(logs=2, position_error_m=pytest.approx(3.9624))),
    ("37 RO 18, accuracy: 4.5 m", oak(position_error_m=4.5)),
    # spoken
    ("thirty seven red oak eighteen two", oak(logs=2) | {"species": "red oak"}),
    ("Thirty-seven, red oak, eighteen inches, two logs", oak(logs=2) | {"species": "red oak"}),
    ("one oh four hemlock fourteen and a half",
     {"tree_id": "104", "species": "hemlock", "dbh_cm": pytest.approx(14.5 * IN)}),
    ("one forty two RO eighteen point five one", oak("142", 18.5 * IN, logs=1)),
    ("tree one hundred and seven RO eighteen", oak("107")),
    ("seven RO twenty two", oak("7", 22 * IN)),
    # web pages of a phone
    ("Tree 37<br>Species: red oak<br/>DBH: 18 in<br>Logs: 2", oak(logs=2) | {"species": "red oak"}),
    ("<table><tr><td>Tree</td><td>37</td></tr><tr><td>Species</td><td>RO</td></tr>"
     "<tr><td>DBH</td><td>18</td></tr></table>", oak()),
    ("37 RO 18&quot; 2", oak(logs=2)),
    # a number, and what is not yet measured
    ("37", {"tree_id": "37"}),
    ("37 RO", {"tree_id": "37", "species": "RO"}),
    # no notes on trees
    ("", None),
    ("Gate", None),
    ("Landing 1", None),
    ("WP2", None),
    ("WP6 by the gate", None),
    ("WP18 2", {"species": "WP", "dbh_cm": pytest.approx(18 * IN), "logs": 2}),
    ('WP18"', {"species": "WP", "dbh_cm": pytest.approx(18 * IN)}),
    ("Waypoint 37", None),
    ("Pin-4", None),
    ("oak 3", None),  # the third oak, not one of 3 inches
    ("37 gate", None),
    ("37 gate on the wall 12", None),
    ("the big one by the stone wall", None),
    ("2026-11-26 10:33", None),
    ("26-NOV-26", None),
    ("26 Nov 26", None),
    ("26-NOV-26 10:33:12AM", None),
    ("Nov 26, 2026", None),
    ("11/26/2026 10:33", None),
    ("2026-11-26T10:33:00Z", None),
    ("44.2501, -75.0001", None),
    # what cannot be meant
    ("37 18", None),
    ("37 RO 182", None),
    ("37 RO 0", None),
    ("37 RO -18", None),
    ("37 RO 18.5.2", None),
    ("37 RO 18 37", None),
    ("37 RO 18 2 3", None),
    ("37 RO 18 SM 12", None),  # two trees: neither may be lost
    ("37 RO 2 logs 18", None),
    ("37 RO 60 ft", None),
    ("37 RO 18, 600 ft tall", None),
    ("37 RO twenty two logs", None),
    ("1,234 RO 18", None),
    ("37 RO 18 " + "x" * 3000, None),
]  # fmt: skip


@pytest.mark.parametrize(("text", "want"), NOTES, ids=[repr(t[:40]) for t, _ in NOTES])
def test_a_note_is_read_or_refused(text: str, want: dict[str, object] | None) -> None:
    assert said(text) == want


@pytest.mark.parametrize(
    ("text", "dbh_cm", "logs"),
    [
        ("37 RO 45 2", 45, 2),
        ("37 RO 45,5", 45.5, None),
        ("37 RO 45,5 2", 45.5, 2),
        ("37,RO,45,2", 45, 2),  # other commas: they separate
        ("37, RO, 45,5 cm", 45.5, None),
        ("37 RO 18 in", 18 * IN, None),
        ("siebenunddreissig Eiche 45", None, None),
        ("37 Eiche 45", 45, None),
    ],
)
def test_where_units_are_metric_bare_figures_are_centimetres(
    text: str, dbh_cm: float | None, logs: float | None
) -> None:
    note = read_note(text, "metric")
    assert (note.dbh_cm if note else None) == (dbh_cm and pytest.approx(dbh_cm))
    assert (note.logs if note else None) == logs


@pytest.mark.parametrize(
    ("text", "want"),
    [("18", (18 * IN, True)), ("18 in", (18 * IN, False)), ("45cm", (45, False)), ("18 RO", None),
     ("", None), ("oak", None), ("-4", None)],
)  # fmt: skip
def test_a_diameter_alone(text: str, want: tuple[float, bool] | None) -> None:
    assert read_diameter(text, "us") == want


def test_further_texts_add_hazards_and_never_figures() -> None:
    note = Note(tree_id="37", species="RO", dbh_cm=45.0)
    more = read_more(note, "dead top, leave", "us")
    assert more is not None
    assert (more.hazard, more.mark, more.dbh_cm) == ("dead_top", "leave", 45.0)
    assert read_more(note, "SM 12", "us") is None


NAMES = sorted(
    {s.common_name for s in species_table() if "," not in s.common_name}
    | {c.code for c in field_codes().values()}
    | {c.common_name for c in field_codes().values()}
)
# The ways a part is written, each to be read as the same.
NUMBERS = ["{} ", "#{} ", "T{} ", "tree {}, ", "No. {}: ", "{}, ", "{} - "]
INCHES = ["{} ", '{}" ', "{} in ", "{}in, ", "{} inches ", "{} dbh ", "dbh {} "]
CENTIMETRES = ["{} cm ", "{}cm, ", "dbh {} cm "]
LOGS = ["{}", "{}L", "{} logs", "{} log"]


@given(
    st.integers(1, 9999),
    st.sampled_from(NAMES),
    st.integers(2, 1200),
    st.sampled_from([None, *range(1, 13)]),
    st.sampled_from(NUMBERS),
    st.sampled_from(INCHES + CENTIMETRES),
    st.sampled_from(LOGS),
    st.sampled_from([str, str.lower, str.upper]),
)
def test_what_is_written_is_read(
    number: int, name: str, tenths: int, logs: int | None, as_number: str, as_dbh: str,
    as_logs: str, case: type[str],
) -> None:  # fmt: skip
    figure = tenths / 10
    centimetres = "cm" in as_dbh
    dbh_cm = figure if centimetres else figure * IN
    assume(LEAST_CM <= dbh_cm <= MOST_CM)
    shown = f"{figure:g}"
    text = as_number.format(number) + name + " " + as_dbh.format(shown)
    text += as_logs.format(logs) if logs else ""
    note = read_note(case(text), "us")
    assert note is not None, text
    assert note.tree_id == str(number)
    assert find(note.species).row == find(name).row
    assert note.dbh_cm == pytest.approx(dbh_cm, abs=1e-5)
    assert note.logs == logs
    assert note.rest == ""


PIECES = st.sampled_from(
    ["37", "RO", "oak", "18", "2", "#", '"', "'", "in", "cm", "logs", "dead", "±4m", ",", "-", ".",
     "1/2", "twenty", "and", "point", "hundred", "T", "ht", "tall", "<br>", "&", "½", "½ ½", "m"]
)  # fmt: skip


@given(st.text() | st.lists(PIECES | st.text(max_size=3), max_size=12).map(" ".join),
       st.sampled_from(["us", "metric"]))  # fmt: skip
def test_any_text_is_a_sound_note_or_none(text: str, units: str) -> None:
    note = read_note(text, units)  # type: ignore[arg-type]
    if note is None:
        return
    assert note.dbh_cm is None or LEAST_CM <= note.dbh_cm <= MOST_CM
    assert note.logs is None or 0 <= note.logs <= MOST_LOGS
    assert note.height_m is None or 1 <= note.height_m <= 120
    assert note.tree_id or note.species
    assert re.fullmatch(r"[A-Za-z]{0,3}-?[0-9]{1,6}[A-Za-z]?|", note.tree_id, re.ASCII) or (
        note.tree_id.isprintable() and len(note.tree_id) < 12
    )
