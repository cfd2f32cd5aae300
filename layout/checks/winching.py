"""Every pull measured again from the ground, and held against its record.

The numbers of the record are not trusted: length, rise, angle and corridor are
read once more from the two ends, the elevation grid and the maps.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout import sources
from layout.checks.books import books
from layout.checks.cares import Cares
from layout.checks.case import Case
from layout.checks.corridors import corridor
from layout.checks.parking import Stand, stand_of, wrapped
from layout.checks.words import lengths, pair
from layout.findings import Finding, Level
from layout.grid import bilinear
from layout.records import Pull, WinchPosition
from layout.units import GRAVITY_MPS2
from layout.winch_rules import WinchRules, rules_from

Floats = NDArray[np.float64]

ENDS_M = 0.1
STATED_M = 0.3
STATED_SHARE = 0.01
STATED_DEG = 1.0
STATED_FORCE = 0.05
LIMIT_NOISE_M = 0.02
LIMIT_NOISE_DEG = 0.02
LIMIT_NOISE_PCT = 0.05
DAMAGE_BANDS = (
    "published shares of leave trees damaged, felling included: 10 % or less by skilled crews, 20 "
    "to 40 % by others; in winch strips 12 % with whole stems, 28 % with short logs "
    f"({sources.WINCH_DAMAGE.author}, {sources.WINCH_DAMAGE.dated})"
)


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One pull as the ground has it.

    Parameters
    ----------
    map_m, ground_m : float
        Length on the map and along the ground, metres.
    rise_m : float
        Ground at the stump above ground at the winch, metres.
    rise_pct : float
        The same over ground length, percent.
    turned_deg : float
        From the rear's direction to the pull, + to the left looking back.
    hump_m : float
        Ground above the straight rope, metres; 0 where there is none.
    steep_pct, climb_pct : float
        Steepest stretch of 10 m the load could run down to the tractor, and
        steepest it is pulled up, percent.
    """

    map_m: float
    ground_m: float
    rise_m: float
    rise_pct: float
    turned_deg: float
    hump_m: float
    steep_pct: float
    climb_pct: float


def check(case: Case) -> list[Finding]:
    """Judge every pull.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Stops a pull each; cautions gathered one a position and reason.
    """
    if not case.pulls and not case.positions:
        return []
    rules = rules_from(case.area.settings)
    parked = {p.position_id: p for p in case.positions}
    rows = {name: i for i, name in enumerate(case.area.trees.tree_id)}
    found = books(case, parked, rows)
    care = Cares(case)
    masses = {o.tree_id: o.mass_kg for o in case.outcomes}
    for pull in case.pulls:
        position = parked.get(pull.position_id)
        row = rows.get(pull.tree_id)
        if position is None or row is None:
            continue
        measured = measure(case, rules, pull, position)
        found += _stated(pull, measured, case, row, position)
        if not math.isfinite(measured.ground_m):
            found.append(
                _say(pull, "pull_ground", "unknown", "ground not checked, the grid has a gap")
            )
            continue
        stand = stand_of(case, position)
        found += _reach(case, rules, pull, measured)
        found += _angle(rules, pull, stand, measured, care)
        found += _above(rules, pull, measured, care)
        if measured.hump_m > rules.hump_m + LIMIT_NOISE_M:
            said, bound = lengths(measured.hump_m, rules.hump_m, case.units)
            what = f"the ground rises {said} above the straight rope, over {bound}"
            found.append(_say(pull, "pull_hump", "stop", what, measured.hump_m, rules.hump_m, "m"))
        found += _force(rules, pull, measured, masses.get(pull.tree_id))
        found += corridor(case, rules, pull, row, care.note)
    return found + care.findings() + _brushed(case)


def measure(case: Case, rules: WinchRules, pull: Pull, position: WinchPosition) -> Measured:
    """Measure one pull between the position and the end of its line."""
    x0, y0 = position.x, position.y
    x1, y1 = (float(v) for v in pull.line.coords[-1][:2])
    map_m = math.hypot(x1 - x0, y1 - y0)
    parts = max(1, math.ceil(map_m / rules.profile_m))
    f = np.linspace(0.0, 1.0, parts + 1)
    z = bilinear(case.terrain.dem, x0 + f * (x1 - x0), y0 + f * (y1 - y0))
    ground = float(np.hypot(map_m / parts, np.diff(z)).sum())
    rise = float(z[-1] - z[0])
    rope = (
        z[0]
        + rules.fairlead_height_m
        + f * (z[-1] + rules.hook_height_m - z[0] - rules.fairlead_height_m)
    )
    rear = math.radians(90.0 - position.rear_azimuth_deg)
    turned = 0.0 if map_m == 0 else math.degrees(wrapped(math.atan2(y1 - y0, x1 - x0) - rear))
    return Measured(
        map_m=map_m,
        ground_m=ground,
        rise_m=rise,
        rise_pct=100.0 * rise / ground if ground > 0 else 0.0,
        turned_deg=turned,
        hump_m=float(np.max(z - rope, initial=0.0)),
        steep_pct=_steepest(z, map_m / parts, rules.load_baseline_m),
        climb_pct=_steepest(-z, map_m / parts, rules.load_baseline_m),
    )


def _steepest(z: Floats, step_m: float, baseline_m: float) -> float:
    """Give the steepest stretch of a baseline's length that falls toward the winch."""
    if step_m <= 0:
        return 0.0
    wide = min(max(round(baseline_m / step_m), 1), z.size - 1)
    slopes = (z[wide:] - z[:-wide]) / (wide * step_m)
    return 100.0 * float(np.max(slopes))


def _say(
    pull: Pull,
    code: str,
    level: Level,
    what: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    source: sources.Source | str = sources.COMMON_PRACTICE,
) -> Finding:
    """Put one result of a pull into words."""
    end = pull.line.coords[-1]
    return Finding(
        code=code,
        level=level,
        message=f"Pull of tree {pull.tree_id} to position {pull.position_id}: {what}",
        subject_layer="pulls",
        subject_id=pull.tree_id,
        value=value,
        limit=limit,
        unit=unit,
        source=str(source),
        confirmed=source.confirmed if isinstance(source, sources.Source) else False,
        at=(float(end[0]), float(end[1])),
    )


def _stated(
    pull: Pull, measured: Measured, case: Case, row: int, position: WinchPosition
) -> list[Finding]:
    """Say where a record's numbers are not the ground's."""
    found: list[Finding] = []
    trees = case.area.trees
    start, end = pull.line.coords[0], pull.line.coords[-1]
    if math.dist(start[:2], (position.x, position.y)) > ENDS_M:
        found.append(_say(pull, "record_mismatch", "stop", "its line does not begin there"))
    if math.dist(end[:2], (float(trees.x[row]), float(trees.y[row]))) > ENDS_M:
        found.append(_say(pull, "record_mismatch", "stop", "its line does not end at the tree"))
    near = STATED_M + STATED_SHARE * measured.map_m
    checks: list[tuple[str, float, float, float, str]] = [
        ("map length", pull.map_m, measured.map_m, near, "m"),
        ("ground length", pull.ground_m, measured.ground_m, near, "m"),
        ("rise", pull.rise_m, measured.rise_m, near, "m"),
    ]
    checks.append(("angle", pull.angle_deg, abs(measured.turned_deg), STATED_DEG, "deg"))
    for name, said, true, slack, unit in checks:
        if math.isfinite(true) and abs(said - true) > slack:
            found.append(
                _say(
                    pull,
                    "record_mismatch",
                    "stop",
                    f"{name} stated as {said:.1f} {unit}, measured {true:.1f} {unit}",
                    said,
                    true,
                    unit,
                )
            )
    return found


def _reach(case: Case, rules: WinchRules, pull: Pull, measured: Measured) -> list[Finding]:
    """Judge the length of the pull along the ground."""
    reach = rules.reach_m(measured.rise_pct)
    found: list[Finding] = []
    if measured.ground_m > reach + LIMIT_NOISE_M:
        said, bound = lengths(measured.ground_m, reach, case.units)
        what = f"{said} along the ground, beyond the {bound} that can be reached"
        found.append(_say(pull, "pull_reach", "stop", what, measured.ground_m, reach, "m"))
    if abs(pull.reach_m - reach) > STATED_M + STATED_SHARE * reach:
        what = f"reach stated as {pull.reach_m:.1f} m, by the limits {reach:.1f} m"
        found.append(_say(pull, "record_mismatch", "stop", what, pull.reach_m, reach, "m"))
    if pull.margin_m > reach - measured.ground_m + STATED_M + STATED_SHARE * reach:
        most = reach - measured.ground_m
        what = f"margin stated as {pull.margin_m:.1f} m, but only {most:.1f} m of reach is left"
        found.append(_say(pull, "record_mismatch", "stop", what, pull.margin_m, most, "m"))
    return found


def _angle(
    rules: WinchRules,
    pull: Pull,
    stand: Stand,
    measured: Measured,
    care: Cares,
) -> list[Finding]:
    """Judge how far off the parked axis the rope leaves."""
    if not math.isfinite(stand.cross_pct):
        return []
    angle = abs(measured.turned_deg)
    left = measured.turned_deg >= 0
    downhill = stand.left_higher_pct < 0 if left else stand.left_higher_pct > 0
    limit = rules.table_angle_deg(stand.cross_pct, downhill=downhill)
    if angle > limit + LIMIT_NOISE_DEG:
        said, bound = pair(angle, limit, "deg")
        side = " to the downhill side" if downhill and stand.cross_pct > 1 else ""
        what = (
            f"{said} off the tractor's axis{side}, over {bound} on a cross slope of "
            f"{stand.cross_pct:.0f} %"
        )
        return [_say(pull, "pull_angle", "stop", what, angle, limit, "deg")]
    if angle > rules.angle_caution_deg + LIMIT_NOISE_DEG:
        care.note(
            pull,
            "pull_angle",
            "the rope leaves up to {value} degrees off the tractor's axis",
            angle,
            rules.angle_caution_deg,
            "deg",
            sources.COMMON_PRACTICE,
        )
    return []


def _above(rules: WinchRules, pull: Pull, measured: Measured, care: Cares) -> list[Finding]:
    """Judge whether the load lies above the winch, or could run down on its own."""
    found: list[Finding] = []
    rise = measured.rise_pct
    if rise > rules.load_above_pct + LIMIT_NOISE_PCT:
        said, bound = pair(rise, rules.load_above_pct, "%")
        what = f"the load lies {said} above the winch, over {bound}; never stand below it"
        found.append(
            _say(
                pull,
                "pull_load_above",
                "stop",
                what,
                rise,
                rules.load_above_pct,
                "%",
                sources.LOAD_ABOVE,
            )
        )
    elif rise > rules.load_above_caution_pct + LIMIT_NOISE_PCT:
        care.note(
            pull,
            "pull_load_above",
            "the load lies up to {value} % above the winch; keep everyone off the ground below",
            rise,
            rules.load_above_caution_pct,
            "%",
            sources.LOAD_ABOVE,
        )
    if measured.rise_m > 0 and measured.steep_pct > rules.run_steep_pct + LIMIT_NOISE_PCT:
        said, bound = pair(measured.steep_pct, rules.run_steep_pct, "%")
        what = f"ground falls {said} toward the tractor, and over {bound} a log may run"
        found.append(
            _say(pull, "pull_may_run", "stop", what, measured.steep_pct, rules.run_steep_pct, "%")
        )
    elif measured.rise_m > 0 and measured.steep_pct > rules.run_caution_pct + LIMIT_NOISE_PCT:
        care.note(
            pull,
            "pull_may_run",
            "ground falls up to {value} % toward the tractor; on slick ground a log runs",
            measured.steep_pct,
            rules.run_caution_pct,
            "%",
            sources.COMMON_PRACTICE,
        )
    return found


def _force(
    rules: WinchRules, pull: Pull, measured: Measured, mass_kg: float | None
) -> list[Finding]:
    """Judge the pull a stem asks for, at its worst place, against winch and rope."""
    if mass_kg is None or not math.isfinite(mass_kg):
        return []
    slope = measured.climb_pct / 100
    weight_kn = mass_kg * rules.weight_share * GRAVITY_MPS2 / 1000 / pull.pieces
    needs = weight_kn * (rules.friction + slope) / math.hypot(1, slope) * (1 + rules.breakout)
    found: list[Finding] = []
    if needs > rules.pull_limit_kn * (1 + STATED_FORCE):
        what = (
            f"asks for {needs:.0f} kN at the start, over the {rules.pull_limit_kn:.0f} kN that "
            "winch and rope are planned for; buck it"
        )
        found.append(_say(pull, "pull_force", "stop", what, needs, rules.pull_limit_kn, "kN"))
    if pull.pull_kn < needs * (1 - STATED_FORCE):
        what = f"pull stated as {pull.pull_kn:.1f} kN, by its weight {needs:.1f} kN"
        found.append(_say(pull, "record_mismatch", "stop", what, pull.pull_kn, needs, "kN"))
    return found


def _brushed(case: Case) -> list[Finding]:
    """Hold the share of leave stems brushed against what a skilled crew keeps to."""
    if not case.pulls:
        return []
    hits = [p.leave_hits for p in case.pulls]
    trees = case.area.trees
    standing = int((~trees.marked).sum())
    limit = case.area.settings.treatment.leave_damage_max_pct
    if not trees.full_list or any(h is None for h in hits) or not standing:
        why = "the tree list holds marked trees only" if not trees.full_list else "not counted"
        return [
            Finding(
                code="leave_brushed",
                level="unknown",
                message=f"Share of leave stems brushed by pulls not checked: {why}; {DAMAGE_BANDS}",
                subject_layer="pulls",
                source=str(sources.LEAVE_DAMAGE),
            )
        ]
    share = 100.0 * sum(h for h in hits if h is not None) / standing
    if limit is None:
        return []
    said, bound = pair(share, limit, "%")
    return [
        Finding(
            code="leave_brushed",
            level="caution" if share > limit + 1e-6 else "ok",
            message=(
                f"Pulls brush {said} of the leave stems"
                + (f", over the {bound} you set" if share > limit else f"; {bound} is the most")
                + f"; {DAMAGE_BANDS}"
            ),
            subject_layer="pulls",
            value=share,
            limit=limit,
            unit="%",
            source=str(sources.LEAVE_DAMAGE),
        )
    ]
