"""What the chosen rules ask of one water body, cell by cell."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.findings import Finding
from layout.grid import Floats
from layout.rule_files import NO_RULE_CHOSEN, load_rule
from layout.site import Area, WaterFeature
from layout.units import FOOT_M
from layout.water_rules import (
    STRICTEST_CLASS,
    WATER_CLASSES,
    Row,
    Rule,
    as_map,
    row_width_ft,
    rows_at,
    width_ft,
)

BANK_BASE_M = 50 * FOOT_M  # ground over which a bank's own slope is read; ours
FARTHEST_M = 3000.0
SAME_WIDTH_M = 0.005  # printed widths that differ by less differ by rounding; ours
POINT_CLASSES = ("spring", "well")
UNVERIFIED = "unverified – check local rule"  # noqa: RUF001 - the words on every sheet


@dataclass(frozen=True, slots=True)
class Asked:
    """One rule's rows for one water body, gentlest first."""

    rule: Rule
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Widths:
    """Map widths asked at some cells; arrays of shape (n,).

    Parameters
    ----------
    machine_m, rope_m : ndarray of float
        Distance from the bank kept free of machines, and of ropes and loads.
    rule : ndarray of int
        Index of the rule whose machine width it is, among those asked.
    row : ndarray of int
        Index of the row among that rule's.
    row_of : tuple of ndarray of int
        Of every rule asked, the row that holds.
    holds : tuple of ndarray of bool
        Of every rule asked, where no other asks more of machines, or none more of
        ropes: rules that ask the same hold together, in whatever order they are named.
    """

    machine_m: Floats
    rope_m: Floats
    rule: NDArray[np.int64]
    row: NDArray[np.int64]
    row_of: tuple[NDArray[np.int64], ...]
    holds: tuple[NDArray[np.bool_], ...]

    def used(self, within: NDArray[np.bool_]) -> set[tuple[int, int]]:
        """Give rule and row of all that holds at some of the cells, shape (n,)."""
        return {
            (number, int(row))
            for number, (rows, holds) in enumerate(zip(self.row_of, self.holds, strict=True))
            for row in np.unique(rows[holds & within])
        }


def chosen_rules(area: Area) -> tuple[list[Rule], list[Finding]]:
    """Read the rules an area names, or the stand-in where it names none.

    Parameters
    ----------
    area : Area
        The job.

    Returns
    -------
    rules : list of Rule
        At least one.
    findings : list of Finding
        ``no_local_rule`` where none was named.

    Raises
    ------
    InputError
        If a named rule cannot be read.
    """
    names = area.settings.water.rules
    if names:
        return [load_rule(name, area.folder) for name in names], []
    rule = load_rule(NO_RULE_CHOSEN)
    finding = Finding(
        code="no_local_rule",
        level="caution",
        message="no local rule chosen: strips are the larger of 50 ft (15 m) and 25 ft + 2 ft "
        "(7.6 m + 0.6 m) for each percent of slope; name your rule under [water] rules",
        source=rule.rows[0].source,
        confirmed=False,
    )
    return [rule], [finding]


def asked_of(body: WaterFeature, rules: list[Rule]) -> tuple[list[Asked], list[Finding]]:
    """Find the rows that hold for one water body.

    Parameters
    ----------
    body : WaterFeature
        The water body. A class a rule has no row for counts as perennial there;
        a spring or well no rule speaks of takes the fixed distance of the
        stand-in rule.
    rules : list of Rule
        The rules in force.

    Returns
    -------
    asked : list of Asked
        At least one.
    findings : list of Finding
        What was taken for what.
    """
    name = body.water_class
    asked = [Asked(rule, rule.rows_for(name)) for rule in rules if rule.rows_for(name)]
    silent = [rule for rule in rules if not rule.rows_for(name)]
    open_classes = _wider_classes(body, rules)
    if not silent or (asked and name in POINT_CLASSES):
        return asked, open_classes
    listed = " and ".join(f"rule {rule.name}" for rule in silent)
    if name in POINT_CLASSES:
        rule = load_rule(NO_RULE_CHOSEN)
        rows = rule.rows_for(name)
        asked.append(Asked(rule, rows))
        feet = rows[0].a_ft
        words = f"{feet:.0f} ft ({feet * FOOT_M:.0f} m) are kept round it instead, {UNVERIFIED}"
    else:
        asked += [Asked(rule, rule.rows_for(STRICTEST_CLASS)) for rule in silent]
        rows = asked[-1].rows
        words = f"it is kept as {STRICTEST_CLASS}"
    finding = Finding(
        code="water_class_not_in_rule",
        level="caution",
        message=f'{body.feature_id}: {listed} does not speak of water_class "{name}"; {words}',
        subject_layer="water",
        subject_id=body.feature_id,
        source=rows[0].source,
        confirmed=rows[0].confirmed,
    )
    return asked, [finding, *open_classes]


def _wider_classes(body: WaterFeature, rules: list[Rule]) -> list[Finding]:
    """Ask about a perennial stream where a rule has a wider class of its own for some of them.

    A map seldom tells a stream of the fourth order from a brook, and the wider
    class is taken only where it is written.
    """
    if body.water_class != STRICTEST_CLASS:
        return []
    found = []
    for rule in rules:
        mine = float(width_ft(rule, STRICTEST_CLASS, 0.0))
        named = [name for name in rule.classes if name not in WATER_CLASSES]
        wider = {name: float(width_ft(rule, name, 0.0)) for name in named}
        for name, feet in wider.items():
            if feet <= mine:
                continue
            row = rule.rows_for(name)[0]
            found.append(
                Finding(
                    code="water_class_may_be_wider",
                    level="caution",
                    message=f"{body.feature_id} is mapped as {STRICTEST_CLASS} and gets "
                    f"{mine:.0f} ft; rule {rule.name} asks {feet:.0f} ft of {name}. See which it "
                    "is, and write that in water_class",
                    subject_layer="water",
                    subject_id=body.feature_id,
                    source=row.source,
                    confirmed=row.confirmed,
                )
            )
    return found


def ends_at_divides(asked: list[Asked]) -> bool:
    """Tell whether any row that may hold lets its strip end at a divide."""
    return any(row.stops_at_divide for ask in asked for row in ask.rows)


def widths(
    asked: list[Asked],
    to_water_pct: Floats,
    bank_pct: Floats,
    beyond: NDArray[np.bool_] | None = None,
) -> Widths:
    """Give the widths asked at cells; the stricter rule wins.

    Parameters
    ----------
    asked : list of Asked
        Rows that hold for the water body.
    to_water_pct : ndarray of float, shape (n,)
        Slope of the ground between the cell and the bank; negative on a back face.
    bank_pct : ndarray of float, shape (n,)
        Slope of the bank on that side.
    beyond : ndarray of bool, shape (n,), optional
        Cells beyond a divide; a row that ends there asks nothing of them.

    Returns
    -------
    Widths
        Map widths, metres.
    """
    machines, ropes, rows = [], [], []
    for ask in asked:
        slope = _slope_meant(ask, to_water_pct, bank_pct)
        machine_ft, rope_ft, index = _printed_ft(ask.rows, slope)
        if beyond is not None:
            ends = np.array([bool(row.stops_at_divide) for row in ask.rows])[index] & beyond
            machine_ft[ends], rope_ft[ends] = 0.0, 0.0
        # A ground distance runs down the slope between the two points, whichever S is.
        machines.append(FOOT_M * as_map(ask.rows[0], machine_ft, to_water_pct))
        ropes.append(FOOT_M * as_map(ask.rows[0], rope_ft, to_water_pct))
        rows.append(index)
    machine, rope = np.max(machines, axis=0), np.max(ropes, axis=0)
    first = np.argmax(machines, axis=0)
    return Widths(
        machine_m=machine,
        rope_m=rope,
        rule=first,
        row=np.take_along_axis(np.array(rows), first[None, :], axis=0)[0],
        row_of=tuple(rows),
        holds=tuple(
            (mine >= machine - SAME_WIDTH_M) | (its >= rope - SAME_WIDTH_M)
            for mine, its in zip(machines, ropes, strict=True)
        ),
    )


def _printed_ft(
    rows: tuple[Row, ...], slope_pct: Floats
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Give widths for machines and ropes as the rule measures them, and their rows."""
    index = rows_at(rows, slope_pct)
    machine, rope = np.zeros(slope_pct.shape), np.zeros(slope_pct.shape)
    for number, row in enumerate(rows):
        here = index == number
        width = row_width_ft(row, slope_pct[here])
        # What a rule does not say of machines or bare soil holds for its whole width.
        machine[here] = np.maximum(
            width if row.no_machine_ft is None else row.no_machine_ft,
            width if row.no_bare_soil_ft is None else row.no_bare_soil_ft,
        )
        if row.winching_ft is None:
            rope[here] = np.maximum(np.maximum(width, machine[here]), row.no_cut_ft or 0.0)
        else:
            rope[here] = row.winching_ft
    return machine, rope, index


def reach_m(asked: list[Asked], relief_m: float) -> float:
    """Bound the distance from the bank at which ground can still lie in a strip.

    A strip is wide only on steep ground, and ground cannot stay steep for longer
    than the height there is.

    Parameters
    ----------
    asked : list of Asked
        Rows that hold for the water body.
    relief_m : float
        Height between the lowest and the highest ground, metres.

    Returns
    -------
    float
        Map distance, metres; 3 km at most.
    """
    far = np.arange(1.0, FARTHEST_M + 1)
    reach = 0.0
    for ask in asked:
        run = np.minimum(far, BANK_BASE_M) if ask.rows[0].slope_of == "bank" else far
        steepest = 100.0 * relief_m / run
        # Widths between the slopes tried: a step starts just past its printed edge.
        starts = [row.slope_min_pct + 1e-5 for row in ask.rows]
        slope = np.unique(np.concatenate([steepest, starts, [-1.0, 0.0]]))
        machine_ft, rope_ft, _ = _printed_ft(ask.rows, slope)
        widest = np.maximum.accumulate(FOOT_M * np.maximum(machine_ft, rope_ft))
        reached = widest[np.searchsorted(slope, steepest)] >= far - 1.0
        reach = max(reach, float(far[reached].max(initial=0.0)))
    return reach


def rule_findings(asked: list[Asked], used: set[tuple[int, int]]) -> list[Finding]:
    """Say which of the rows in use are not confirmed, or silent about winching.

    Parameters
    ----------
    asked : list of Asked
        Rows that hold for the water body.
    used : set of (int, int)
        Rule and row of all that holds inside the strip (`Widths.used`).

    Returns
    -------
    list of Finding
        The same words for the same row, so that they can be told once.
    """
    findings = []
    for rule_number, row_number in sorted(used):
        ask = asked[rule_number]
        row = ask.rows[row_number]
        if not row.confirmed:
            findings.append(
                Finding(
                    code="rule_unverified",
                    level="caution",
                    message=f"rule {ask.rule.name}: {UNVERIFIED} ({row.source})",
                    source=row.source,
                    confirmed=False,
                )
            )
        if row.winching_ft is None and row.cable_may_enter is not False:
            findings.append(
                Finding(
                    code="strip_winching_unknown",
                    level="unknown",
                    message=f"rule {ask.rule.name} does not say whether trees may be winched "
                    "out of the strip (no_cut_ft, cable_may_enter, bank_trees_leave); "
                    "no rope enters it",
                    source=row.source,
                    confirmed=row.confirmed,
                )
            )
    return findings


def zone_width(
    ask: Asked, to_water_pct: Floats, bank_pct: Floats
) -> tuple[Floats, NDArray[np.int64]]:
    """Give the whole width of one rule's strip, whatever may enter it.

    Parameters
    ----------
    ask : Asked
        The rule's rows.
    to_water_pct, bank_pct : ndarray of float, shape (n,)
        As in `widths`.

    Returns
    -------
    width_m : ndarray of float, shape (n,)
        Map distance from the bank, metres.
    row : ndarray of int, shape (n,)
        Which of the rule's rows holds.
    """
    slope = _slope_meant(ask, to_water_pct, bank_pct)
    index = rows_at(ask.rows, slope)
    width = np.zeros(slope.shape)
    for number, row in enumerate(ask.rows):
        here = index == number
        width[here] = row_width_ft(row, slope[here])
    return FOOT_M * as_map(ask.rows[0], width, to_water_pct), index


def _slope_meant(ask: Asked, to_water_pct: Floats, bank_pct: Floats) -> Floats:
    """Give the slope a rule's widths go by; a back face is one by whichever slope."""
    if ask.rows[0].slope_of == "bank":
        return np.where(to_water_pct < 0, to_water_pct, bank_pct)
    return to_water_pct
