"""Main trails to try where none is drawn: straight off the landing, out among the marked trees.

Searches from the landing reach everywhere: by all its run-ins, and by those of one
side alone; at the true price, and drawn to marked trees; to many ends spread over
the trees, and to few. The lines that differ enough and promise most are handed to
the choice, which decides. What is scored here only says which lines are worth that.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import crossing_ways, fairline, lattice
from layout.errors import NoWayError
from layout.fairline import Judge, Measured
from layout.far_ends import GROUPS, drawn, ends, groups, marked_xy
from layout.geometry import along, at_stations, fair_curve
from layout.ground import Ground
from layout.landing import run_in_m
from layout.records import Landing
from layout.run_ins import RunIns, run_ins
from layout.settings import Limits
from layout.site import Area
from layout.soil_map import closed_soil
from layout.sprouts import close_states
from layout.terrain import Terrain
from layout.water import Strips

Floats = NDArray[np.float64]

TURN_COST_M2 = 1.0
FEW_GROUPS = 4
SIDES = 4  # run-ins of each quarter of the compass are also tried alone
REPAIRS = 8
MOST = 12
SAME_M = 5.0  # a main this near another follows it
SAME_SHARE = 0.65  # and is the same trail if it follows it this far
BAND_SHARE = 0.5  # a main serves without spurs what stands within this share of the cable's reach
SPUR_SHARE = 0.25  # about four trees share a spur
LEFT_M2 = 150.0  # a tree too far off counts as left standing
SHORTEST_M = 30.0
WORTH_A_TRY = 2.0  # a score this many times the best one is not tried


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One main trail to try.

    Parameters
    ----------
    line : ndarray of float, shape (n, 2)
        Centre line from the landing's outline outward.
    measured : Measured
        Measured at the main trail's width; nothing is broken.
    score_m2 : float
        What a layout on it might take; only good for comparing.
    """

    line: Floats
    measured: Measured
    score_m2: float

    @property
    def cost_m2(self) -> float:
        """What the line itself costs, weighted square metres."""
        return float(self.measured.price_m2[-1])


def candidate_mains(
    area: Area,
    terrain: Terrain,
    opened: BaseGeometry,
    limits: Limits,
    landing: Landing,
    strips: Strips,
    *,
    most: int = MOST,
) -> tuple[Candidate, ...]:
    """Lay out distinct main trails from a landing.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its elevations.
    opened : shapely geometry
        Ground a machine may stand on (`ground.open_area`).
    limits : Limits
        Limits in force today.
    landing : Landing
        Where they start.
    strips : Strips
        Water strips, for where they may be passed.
    most : int
        How many at most.

    Returns
    -------
    tuple of Candidate
        Best score first; every one keeps the limits at 1 m stations, but where none would
        leave the landing otherwise, that of leading water straight down into a strip.

    Raises
    ------
    NoWayError
        If no line leaves the landing within the limits.
    """
    settings = area.settings
    table, judge = wide_ground(area, terrain, opened, limits, strips)
    ins = run_ins(table, judge, landing, run_in_m(settings))
    if not ins.state.size:
        msg = (
            f"no straight run-in of {run_in_m(settings):.1f} m leaves the landing "
            f"{_within(limits)}; {_closes(area, limits)}"
        )
        raise NoWayError(msg)
    # where every way out leads water down into a strip, the checks say so of the one taken
    found = _sound_lines(table, judge, opened, ins) or _sound_lines(
        table, replace(judge, water=None), opened, ins
    )
    if not found:
        msg = f"no main trail gets away from the landing {_within(limits)}; {_closes(area, limits)}"
        raise NoWayError(msg)
    scored = [Candidate(line, m, score_m2(judge, line, m)) for line, m in found]
    scored.sort(key=lambda c: (c.score_m2, float(along(c.line)[-1]), c.line.tobytes()))
    taken: list[Candidate] = []
    for candidate in scored:
        if candidate.score_m2 > WORTH_A_TRY * scored[0].score_m2:
            break
        if len(taken) < most and all(
            overlap(candidate.line, other.line) < SAME_SHARE for other in taken
        ):
            taken.append(candidate)
    return tuple(taken)


def _within(limits: Limits) -> str:
    return (
        f"within the limits you set (favourable {limits.favourable_pct:g} %, adverse "
        f"{limits.adverse_pct:g} %, cross slope {limits.cross_pct:g} %)"
    )


def _closes(area: Area, limits: Limits) -> str:
    """Say which ground the limits close in every direction: the root of their squares."""
    steepest = math.hypot(limits.favourable_pct, limits.cross_pct)
    climbing = math.hypot(limits.adverse_pct, limits.cross_pct)
    soil = (
        "; poorly drained soil is closed on a wet day"
        if closed_soil(area).intersects(area.stand)
        else ""
    )
    return (
        f"together they close all ground steeper than {steepest:.0f} % in every direction, and "
        f"over {climbing:.0f} % where loads climb; move the landing, draw a main trail, "
        f"or look at strips, setback and keep_out around it{soil}"
    )


def wide_ground(
    area: Area, terrain: Terrain, opened: BaseGeometry, limits: Limits, strips: Strips
) -> tuple[Ground, Judge]:
    """Give the lattice and the judge of lines as wide as a main trail.

    Parameters
    ----------
    area, terrain, opened, limits, strips
        As `candidate_mains` takes them.

    Returns
    -------
    table : Ground
    judge : Judge
    """
    width, weight = area.settings.trails.width_main_m, area.settings.objective.main
    table = crossing_ways.build(area, terrain, strips, opened, limits, width_m=width, weight=weight)
    judge = fairline.judge_for(
        area, terrain, limits, opened, width_m=width, weight=weight,
        passages=crossing_ways.passages(area, terrain, strips, width),
        strips=strips.polygons,
    )  # fmt: skip
    return table, judge


def _sound_lines(
    table: Ground, judge: Judge, opened: BaseGeometry, ins: RunIns
) -> list[tuple[Floats, Measured]]:
    """Search, lay out, measure, close what breaks a limit, and search again, in every way."""
    xy = marked_xy(judge.area)
    if not len(xy):
        return []
    start = (float(ins.start[0, 0]), float(ins.start[0, 1]))
    many, few = groups(xy, start, GROUPS), groups(xy, start, FEW_GROUPS)
    near = drawn(table, xy)
    sides = [side for side in _sides(ins) if side.size < ins.state.size]
    everywhere = np.arange(ins.state.size)
    ways = [(table, everywhere, many), (near, everywhere, many)]
    ways += [(near, side, few) for side in sides]
    closed = table.closed.copy()
    kept: dict[bytes, tuple[Floats, Measured]] = {}
    for way, rows, parted in ways:
        kept.update(_sound_of(way, closed, judge, opened, ins.take(rows), parted))
    return list(kept.values())


def _sides(ins: RunIns) -> list[NDArray[np.int64]]:
    """Part run-ins by the quarter of the compass they lead into."""
    quarter = (ins.state % 16 + 2) % 16 // (16 // SIDES)
    found = [np.flatnonzero(quarter == k) for k in range(SIDES)]
    return [rows for rows in found if rows.size]


def _sound_of(
    way: Ground,
    closed: NDArray[np.uint8],
    judge: Judge,
    opened: BaseGeometry,
    ins: RunIns,
    parted: list[Floats],
) -> dict[bytes, tuple[Floats, Measured]]:
    """Give the sound lines of one way to search; what breaks a limit is closed, in place."""
    kept: dict[bytes, tuple[Floats, Measured]] = {}
    for _ in range(REPAIRS):
        broken = False
        kept = {}
        lattice_now = way.states(closed)
        field = _search(lattice_now, judge, ins)
        for state in ends(lattice_now, field, judge, opened, parted):
            line = _line(lattice_now, field, judge, ins, state)
            measured = fairline.measure(judge, line)
            bad = measured.broken
            if bad.any():
                broken = True
                st = measured.stations
                close_states(way, closed, st.x[bad], st.y[bad], st.heading_rad[bad])
            elif float(along(line)[-1]) >= SHORTEST_M:
                kept[line.tobytes()] = (line, measured)
        if not broken:
            break
    return kept


def _search(table: Ground, judge: Judge, ins: RunIns) -> lattice.Field:
    per_m = judge.width_m * judge.weight
    return lattice.search(
        table,
        ins.state,
        per_m * ins.length_m,
        ins.length_m,
        ins.length_m,
        radius_m=judge.radius_m,
        longest_m=math.inf,
        turn_cost=TURN_COST_M2,
        short_pitch_m=judge.limits.short_pitch_m,
    )


def _line(table: Ground, field: lattice.Field, judge: Judge, ins: RunIns, state: int) -> Floats:
    chain, source = lattice.trace(field, state)
    _, row, col = lattice.parts(table, np.array(chain))
    corners = np.concatenate(
        [ins.start[source : source + 1], np.column_stack(table.centre(row, col))]
    )
    return fair_curve(corners, judge.radius_m)


def overlap(line: Floats, other: Floats) -> float:
    """Give the share of a line that follows another, 0 to 1."""
    at = np.arange(0.0, float(along(line)[-1]), 1.0)
    points = shapely.points(at_stations(line, at))
    return float(np.mean(shapely.dwithin(LineString(other), points, SAME_M)))


def score_m2(judge: Judge, line: Floats, measured: Measured) -> float:
    """Guess what a layout on a main trail takes, weighted square metres.

    The main itself, and for each marked tree outside the band the main serves
    by cable a share of a straight spur to it, at most the price of a tree left
    standing. Soft: no limit is looked at; the choice compares what counts.
    """
    settings, trees = judge.area.settings, judge.area.trees
    marked = shapely.points(trees.x[trees.marked], trees.y[trees.marked])
    apart = np.asarray(shapely.distance(LineString(line), marked), dtype=float)
    band = BAND_SHARE * settings.winch.working_reach_m
    per_m = SPUR_SHARE * settings.trails.width_spur_m * settings.objective.spur
    spurs = np.minimum(per_m * np.maximum(apart - band, 0.0), LEFT_M2)
    return float(measured.price_m2[-1] + spurs.sum())
