"""Streamside rules in words: a line each, or one rule row by row with a worked table."""

import textwrap
from collections.abc import Iterable

import numpy as np

from layout.rule_files import NO_RULE_CHOSEN
from layout.strip_widths import UNVERIFIED
from layout.units import ACRE_M2, FOOT_M, HECTARE_M2, INCH_M
from layout.water_rules import STRICTEST_CLASS, Keep, Row, Rule, width_ft

WORKED_SLOPES_PCT = (0, 10, 20, 30, 40, 50)
WIDTH = 92
LABEL = 16
CLOSING = (
    "This lists what a rule file holds. It is no advice on the law: a rule may have changed, may "
    "hold more than its widths, and another may bind you. Law and agencies of your place decide; "
    "ask them before work begins."
)
NOT_SAID = "not said"
IN_THE_US, ELSEWHERE = "IN THE UNITED STATES", "ELSEWHERE"
NOWHERE = "OF NO PLACE: from research, or used while no rule is chosen"
SILENT = (
    f'What is "{NOT_SAID}" is taken the strict way: machines and bare soil stay out of the whole '
    "strip, and nothing is winched out of it. A water_class without rows here counts as "
    f"{STRICTEST_CLASS}; a spring or well then takes the distance of {NO_RULE_CHOSEN}."
)


def sureness(rule: Rule) -> str:
    """Say whether the rows of a rule were read in their source."""
    unread = sum(not row.confirmed for row in rule.rows)
    if not unread:
        return "confirmed"
    many = len(rule.rows)
    return UNVERIFIED if unread == many else f"{unread} of {many} rows {UNVERIFIED}"


def line_of(rule: Rule) -> str:
    """Give a rule on one line: name, where it holds, what it is, whether it was read."""
    return f"{rule.name}: {rule.jurisdiction}; {rule.status}; {sureness(rule)}"


def entry_of(rule: Rule) -> list[str]:
    """Give a rule on two lines: the second says what the strip is called, and the widths."""
    return [line_of(rule), *_hanging("    ", f"{rule.local_name}. {rule.title}.", "    ")]


def list_of(rules: Iterable[Rule]) -> list[str]:
    """Give many rules, gathered by where they hold; each as `entry_of` has it."""
    groups: dict[str, list[Rule]] = {heading: [] for heading in (IN_THE_US, ELSEWHERE, NOWHERE)}
    for rule in rules:
        anywhere = all(row.status == "research" for row in rule.rows) or rule.name == NO_RULE_CHOSEN
        place = IN_THE_US if rule.jurisdiction.startswith("US") else ELSEWHERE
        groups[NOWHERE if anywhere else place].append(rule)
    lines: list[str] = []
    for heading, alike in groups.items():
        lines += ["", heading, ""] if alike else []
        for rule in sorted(alike, key=lambda rule: (rule.jurisdiction, rule.name)):
            lines += entry_of(rule)
    return lines


def pages_of(rule: Rule) -> list[str]:
    """Give a whole rule in words.

    Parameters
    ----------
    rule : Rule
        The rule.

    Returns
    -------
    list of str
        Header, then for each group of water classes its rows and a table of
        widths worked for a few slopes, then what holds where a rule is silent.
    """
    lines = [*_hanging("", f"{rule.name}: {rule.title}", "    "), ""]
    lines += _labelled("Where", rule.jurisdiction)
    lines += _labelled("Called there", rule.local_name)
    lines += _labelled("Status", rule.status)
    lines += _labelled("Numbers", sureness(rule))
    lines += _labelled("Note", rule.note) if rule.note else []
    groups: dict[tuple[Row, ...], list[str]] = {}
    for name in rule.classes:
        groups.setdefault(rule.rows_for(name), []).append(name)
    for rows, names in groups.items():
        lines += ["", ", ".join(names)]
        for row, gentler in zip(rows, (None, *rows), strict=False):
            lines += ["", *(f"  {line}" for line in _row_lines(row, gentler))]
        lines += ["", *(f"  {line}" for line in _worked(rule, names[0], rows[0]))]
    return [*lines, "", *_hanging("", SILENT, ""), *closing()]


def closing() -> list[str]:
    """Defer to local law."""
    return ["", *_hanging("", CLOSING, "")]


def _row_lines(row: Row, gentler: Row | None) -> list[str]:
    """Say one row, and where it takes over; what it does not speak of stands on one line."""
    said = [
        ("Slopes", _slopes(row, gentler)),
        ("Width", _width(row)),
        ("Measured", _measured(row)),
        ("Machines", _kept_off(row.no_machine_ft)),
        ("Bare soil", _kept_off(row.no_bare_soil_ft)),
        ("Cutting", _kept_off(row.no_cut_ft)),
        ("Rope", _answer(row.cable_may_enter, "may enter the strip", "may not enter the strip")),
        ("Bank trees", _answer(row.bank_trees_leave, "must stay", "need not stay")),
        ("Left standing", row.retention),
    ]
    counted = [("Counted", kept_words(row.keep))] if row.keep else []
    silent = [label.lower() for label, text in said if not text]
    told = [(label, text) for label, text in said if text]
    told += [(NOT_SAID.capitalize(), _listed(silent))] if silent else []
    told += [
        *counted,
        ("Winching out", _winching(row)),
        ("Kind", row.status),
        ("Source", row.source),
        ("Confirmed", "yes, the numbers were read there" if row.confirmed else f"no: {UNVERIFIED}"),
    ]
    return [line for label, text in told for line in _labelled(label, text)]


def _slopes(row: Row, gentler: Row | None) -> str:
    """Say which slopes a row covers, and which slope is meant."""
    which = "of the bank" if row.slope_of == "bank" else "of the ground between it and the water"
    parts = []
    if gentler is not None:  # which of the two holds at the step itself, the gentler one says
        parts.append(f"{'over' if gentler.upper_inclusive else 'from'} {row.slope_min_pct:g} %")
    if np.isfinite(row.slope_max_pct):
        parts.append(f"{'up to' if row.upper_inclusive else 'under'} {row.slope_max_pct:g} %")
    return f"{' '.join(parts) or 'all'}; S is the slope {which}"


def _width(row: Row) -> str:
    """Say the width as the rule puts it."""
    parts = [_feet(min(max(row.a_ft, row.min_ft), row.max_ft))]
    if row.b_ft_per_pct:
        over = f" over {row.s0_pct:g} %" if row.s0_pct else ""
        parts = [f"{row.a_ft:g} ft and {row.b_ft_per_pct:g} ft more for each percent of S{over}"]
        if row.round_up_pct:
            parts.append(f"S first rounded up to a whole {row.round_up_pct:g} %")
        if row.min_ft:
            parts.append(f"{_feet(row.min_ft)} at least")
        if np.isfinite(row.max_ft):
            parts.append(f"{_feet(row.max_ft)} at most")
    if row.back_face_ft is not None:
        parts.append(f"{_feet(row.back_face_ft)} where the ground falls away from the water")
    if row.stops_at_divide:
        parts.append("it ends at a divide, where water runs off to the other side")
    return "; ".join(parts)


def _measured(row: Row) -> str:
    """Say how a width is laid out."""
    how = "along the ground, down the slope" if row.measured == "ground" else "level, as on a map"
    return f"from the bank, {how}"


def kept_words(keep: Keep) -> str:
    """Say in one line what of a strip is counted and must stay; all of it must hold."""
    shares = [
        (keep.ba_pct, "of the basal area"),
        (keep.volume_pct, "of the stem wood"),
        (keep.trees_pct, "of the trees"),
        (keep.cover_pct, "of the ground under crowns"),
    ]
    parts = [f"{share:g} % {what}" for share, what in shares if share is not None]
    if keep.ba_ft2_acre is not None:
        metric = keep.ba_ft2_acre * FOOT_M**2 / ACRE_M2 * HECTARE_M2
        parts.append(f"{keep.ba_ft2_acre:g} ft²/acre ({metric:.1f} m²/ha) of basal area")
    if keep.trees_per_100ft is not None:
        parts.append(f"{keep.trees_per_100ft:g} trees for each 100 ft (30.5 m) of each side")
    thick = keep.min_dbh_in
    size = f", of trees {thick:g} in ({thick * INCH_M * 100:.0f} cm) DBH and over" if thick else ""
    return f"at least {_listed(parts)} stay{size}"


def _kept_off(distance_ft: float | None) -> str:
    """Say how far something stays from the bank; nothing where the rule is silent."""
    return "" if distance_ft is None else f"none within {_feet(distance_ft)} of the bank"


def _answer(said: bool | None, yes: str, no: str) -> str:
    """Say yes or no; nothing where the rule is silent."""
    return "" if said is None else (yes if said else no)


def _winching(row: Row) -> str:
    """Say whether trees may be winched out of the strip."""
    if row.winching_ft is not None:
        return f"only beyond {_feet(row.winching_ft)} from the bank"
    if row.cable_may_enter is False:
        return "not allowed, as no rope may enter"
    silent = [
        words
        for words, value in (
            ("cutting", row.no_cut_ft),
            ("rope", row.cable_may_enter),
            ("bank trees", row.bank_trees_leave),
        )
        if value is None
    ]
    return f"not allowed here, as the rule does not speak of {_listed(silent)}"


def _listed(names: list[str]) -> str:
    """Join names as a sentence does."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _feet(feet: float) -> str:
    """Write a printed distance, with metres."""
    return f"{feet:g} ft ({feet * FOOT_M:.1f} m)"


def _worked(rule: Rule, water_class: str, row: Row) -> list[str]:
    """Work the widths of one class for a few slopes."""
    feet = width_ft(rule, water_class, WORKED_SLOPES_PCT)
    slope = "slope of the bank" if row.slope_of == "bank" else "slope to the water"

    def line(label: str, cells: list[str]) -> str:
        return f"{label:{LABEL + 10}}" + "".join(f"{cell:>8}" for cell in cells)

    return [
        line(f"{slope}, %", [f"{pct}" for pct in WORKED_SLOPES_PCT]),
        line("width, ft", [f"{width:.1f}".removesuffix(".0") for width in feet]),
        line("width, m", [f"{width * FOOT_M:.1f}" for width in feet]),
    ]


def _labelled(label: str, text: str) -> list[str]:
    """Put a label before a text, which goes on below itself."""
    return _hanging(f"{label:{LABEL}}", text, " " * LABEL)


def _hanging(first: str, text: str, rest: str) -> list[str]:
    """Break a text into lines."""
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)
