"""How long the job takes: minutes of its parts, and hours by kind of work.

The hours are those of the order of work, step by step, so what is in no step takes none:
what is done, trails nobody drives on, a layout without a load. Nothing here is a promise.
Every figure is a range: productive time over the share of the day that is productive, more
and less by a share that the user's own loads narrow. Hours are those of one outfit and its
people; a second person is not counted as faster, since nothing was found that says by how
much.

Winching and hauling are held against what studies of farm tractors found, and beside them
stands a published line at the same distance, where the distance lies inside its range. It
is a cross-check and no limit: it comes from another wood and another tractor, 12 %
downhill and loads of 1.1 m3.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layout.calibration import LEAST_LOADS, Calibration, Usual, calibrate
from layout.cycle_model import MIN_S, Pace, pace_of
from layout.findings import Finding
from layout.records import Pull, Trail
from layout.settings import AreaSettings
from layout.site import Area
from layout.sources import SKIDDING_BAND
from layout.speech import speak_wood
from layout.units import Units
from layout.work_records import Hours, Piece, Times, Turn, WorkStep

BAND_M3_PER_H = (1.2, 15.8)  # SKIDDING_BAND, a productive hour without pauses
# layout.sources.SKIDDING_LINE, through its printed ends; nothing is said outside them
LINE_M = (150.0, 650.0)
LINE_MIN_PER_M3, LINE_PER_M = 22.75, 0.01538
KINDS = ("open", "fell", "winch", "haul", "close")
# what else than hauling a step is, by its kind; a rub tree is felled and winched in one
STEPS = {
    "flag": "open", "open": "open", "small_open": "open", "fell": "fell", "winch": "winch",
    "haul": "haul", "carry": "haul", "rub": "fell", "close": "close", "small_close": "close",
    "landing": "close",
}  # fmt: skip
LOGGED = ("winch", "haul")  # what a log tells of
NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class Job:
    """What the time of a plan depends on.

    Parameters
    ----------
    trails : tuple of Trail
    pulls : tuple of Pull
    pieces : tuple of Piece
    turns : tuple of Turn
        Those that are done or retired are left aside, with all that is in them.
    """

    trails: tuple[Trail, ...]
    pulls: tuple[Pull, ...]
    pieces: tuple[Piece, ...]
    turns: tuple[Turn, ...]

    @property
    def ahead(self) -> tuple[Turn, ...]:
        """The loads that are still to be hauled."""
        return tuple(turn for turn in self.turns if turn.state == "planned")

    @property
    def pieces_ahead(self) -> tuple[Piece, ...]:
        """What is in them."""
        named = {key for turn in self.ahead for key in turn.pieces}
        return tuple(p for p in self.pieces if (p.tree_id, p.number) in named)


def published_min_per_m3(distance_m: float) -> float | None:
    """Give the published time of winching and skidding a cubic metre, pauses in it.

    Parameters
    ----------
    distance_m : float
        Mean distance, metres.

    Returns
    -------
    float or None
        Minutes; None outside the 150 to 650 m the line was published for.

    Examples
    --------
    >>> published_min_per_m3(400), published_min_per_m3(100)
    (28.902, None)
    """
    low, high = LINE_M
    if not low - NOISE <= distance_m <= high + NOISE:
        return None
    return LINE_MIN_PER_M3 + LINE_PER_M * distance_m


def pull_minutes(pace: Pace, pull: Pull, logs: int = 1) -> float:
    """Give the minutes of winching one tree.

    Parameters
    ----------
    pace : Pace
    pull : Pull
    logs : int, optional
        Pieces of the tree; they matter only where logs are winched.

    Returns
    -------
    float
        Productive minutes.
    """
    return pace.pull(
        pull.ground_m, rise_m=pull.rise_m, run_m=pull.map_m, parts=pull.pieces, logs=logs
    )


def turn_minutes(pace: Pace, turn: Turn) -> float:
    """Give the minutes of hauling one load; its winching is apart.

    Parameters
    ----------
    pace : Pace
    turn : Turn

    Returns
    -------
    float
        Productive minutes; of a load winched straight onto the landing, the unhooking.
    """
    return pace.load(
        turn.travel_m,
        len(turn.pieces),
        stops=len(turn.position_ids),
        winched=turn.stage != "open",
        dragged=turn.trail_id != "",
    )


def fell_minutes(pace: Pace, pieces: Sequence[Piece]) -> float:
    """Give the minutes of felling, limbing and bucking one tree.

    Parameters
    ----------
    pace : Pace
    pieces : sequence of Piece
        All of that tree; wood that is not known counts as none, and the tree still takes
        the least a tree takes.

    Returns
    -------
    float
        Productive minutes.
    """
    return pace.fell(float(np.nansum([piece.wood_m3 for piece in pieces])) if pieces else 0.0)


def flag_minutes(pace: Pace, trail: Trail) -> float:
    """Give the productive minutes of walking and flagging a trail."""
    return pace.flag(trail.line.length)


def clear_minutes(pace: Pace, trail: Trail) -> float:
    """Give the productive minutes of clearing a trail; one that is there already takes none."""
    return pace.clear(trail.line.length, new=trail.source != "fixed")


def close_minutes(pace: Pace, trail: Trail) -> float:
    """Give the productive minutes of closing a trail for good."""
    return pace.close(trail.line.length)


def usual_of(job: Job, settings: AreaSettings) -> Usual:
    """Give a load of this plan, for what a log leaves blank.

    Parameters
    ----------
    job : Job
    settings : AreaSettings

    Returns
    -------
    Usual
        One piece and one winching over half the working reach where nothing is planned.
    """
    trees = {p.tree_id for p in job.pieces_ahead if p.position_id}
    pulls = [pull for pull in job.pulls if pull.tree_id in trees]
    loads = len(job.ahead)
    if not loads or not pulls:
        return Usual(settings.winch.working_reach_m / 2, 1.0, 1.0)
    count = sum(pull.pieces for pull in pulls)
    return Usual(
        rope_m=sum(pull.ground_m * pull.pieces for pull in pulls) / count,
        pulls=count / loads,
        pieces=sum(len(turn.pieces) for turn in job.ahead) / loads,
    )


def calibration_of(area: Area, job: Job) -> Calibration:
    """Hold the user's own loads, where there are any, against the model."""
    return calibrate(area.log, pace_of(area.settings), usual_of(job, area.settings))


def calibrated_pace(area: Area, job: Job) -> Pace:
    """Give the pace of this crew: the settings, corrected by its own loads."""
    return calibration_of(area, job).on(pace_of(area.settings))


def times_of(area: Area, job: Job, steps: Sequence[WorkStep]) -> Times:
    """Add up the time of a job from the steps of its order of work.

    Parameters
    ----------
    area : Area
        Its settings, and the loads the user has timed.
    job : Job
        Its loads by the names the steps call them.
    steps : sequence of WorkStep
        Their minutes by `calibrated_pace`.

    Returns
    -------
    Times
        Hours of the kinds ``open``, ``fell``, ``winch``, ``haul`` and ``close``, and all of
        them together; what is done already is not in it. Loads out of a trail that is
        opened are hauling; stems that are felled then are ``open``.
    """
    work = area.settings.work
    found = calibration_of(area, job)
    minutes = _minutes(job, steps, found.on(pace_of(area.settings)))
    own = work.hours_range if found.range_share is None else found.range_share
    kinds = tuple(
        hours(kind, minutes[kind], work.utilisation, own if kind in LOGGED else work.hours_range)
        for kind in KINDS
    )
    total = Hours(
        "total",
        *(sum(getattr(k, name) for k in kinds) for name in ("productive_h", "low_h", "high_h")),
    )
    wood = float(np.nansum([turn.wood_m3 for turn in job.ahead])) if job.ahead else 0.0
    skidding = (minutes["winch"] + minutes["haul"]) / MIN_S
    rate = wood / skidding if wood > 0 and skidding > 0 else None
    low, high = BAND_M3_PER_H
    return Times(
        kinds=kinds,
        total=total,
        days_low=total.low_h / work.hours_per_day,
        days_high=total.high_h / work.hours_per_day,
        m3_per_hour=rate,
        in_band=None if rate is None else low - NOISE <= rate <= high + NOISE,
        published_min_per_m3=None if rate is None else published_min_per_m3(mean_distance_m(job)),
        ours_min_per_m3=None if rate is None else MIN_S / rate / work.utilisation,
        logged_loads=found.loads,
        logged_factor=found.factor if found.loads else None,
    )


def hours(kind: str, minutes: float, utilisation: float, share: float) -> Hours:
    """Give the hours of productive minutes, with the pauses of a day and their range.

    Parameters
    ----------
    kind : str
    minutes : float
        Productive.
    utilisation : float
        Productive share of the day, over 0 to 1.
    share : float
        Plus or minus this share.

    Returns
    -------
    Hours
    """
    productive = minutes / MIN_S
    whole = productive / utilisation
    return Hours(kind, productive, whole * max(1 - share, 0.0), whole * (1 + share))


def mean_distance_m(job: Job) -> float:
    """Give how far a cubic metre is hauled on average, metres; 0 without wood."""
    known = [turn for turn in job.ahead if turn.wood_m3 > 0]
    wood = sum(turn.wood_m3 for turn in known)
    return sum(turn.wood_m3 * turn.travel_m for turn in known) / wood if wood else 0.0


def _minutes(job: Job, steps: Sequence[WorkStep], pace: Pace) -> dict[str, float]:
    """Share the productive minutes of all steps out by kind."""
    turns = {turn.turn_id: turn for turn in job.ahead}
    pulls = {pull.tree_id: pull for pull in job.pulls}
    logs = Counter(piece.tree_id for piece in job.pieces)
    out = dict.fromkeys(KINDS, 0.0)
    for step in steps:
        if step.done:
            continue
        hauling = winching = 0.0
        if step.kind in ("open", "rub"):
            hauling = sum(turn_minutes(pace, turns[name]) for name in step.turn_ids)
        if step.kind == "rub":
            winched = [pulls[tree] for tree in step.tree_ids if tree in pulls]
            winching = sum(pull_minutes(pace, pull, logs[pull.tree_id]) for pull in winched)
        out["haul"] += hauling
        out["winch"] += winching
        out[STEPS[step.kind]] += step.minutes - hauling - winching
    return out


def time_findings(area: Area, job: Job, times: Times) -> tuple[Finding, ...]:
    """Say what is doubtful about the hours.

    Parameters
    ----------
    area : Area
    job : Job
    times : Times
        Of that job.

    Returns
    -------
    tuple of Finding
    """
    return (*_rate(times, area.settings.area.units), *_log(area, calibration_of(area, job)))


def _rate(times: Times, units: Units) -> list[Finding]:
    """Say where wood comes out faster or slower than any study found."""
    rate = times.m3_per_hour
    if rate is None or times.in_band:
        return []
    low, high = BAND_M3_PER_H
    slow = rate < low
    why = (
        "loads are small and come from far" if slow else "the times under [work] are set too short"
    )
    return [
        Finding(
            "work_rate",
            "caution",
            f"Winching and hauling come to {speak_wood(rate, units)} of wood a productive hour; "
            f"studies of farm tractors found {speak_wood(low, units)} to "
            f"{speak_wood(high, units)}. Either {why}, or a figure is wrong: take the hours of "
            "this plan with care.",
            "turns",
            value=rate,
            limit=low if slow else high,
            unit="m3/h",
            source=str(SKIDDING_BAND),
            confirmed=SKIDDING_BAND.confirmed,
        )
    ]


def _log(area: Area, found: Calibration) -> list[Finding]:
    """Say what was made of the user's own loads."""
    name = area.settings.work.log
    if not name:
        return []
    out = []
    if not found.loads:
        count = len(area.log) - len(found.left_out)
        out.append(
            Finding(
                "work_log_few",
                "unknown",
                f"{name} holds {_loads(count)} to go by; {LEAST_LOADS} are needed before they say "
                "how fast this crew is, so the hours rest on the settings alone.",
                "settings",
                "work.log",
                value=float(count),
                limit=float(LEAST_LOADS),
                source="ours",
            )
        )
    else:
        blank = f" What is blank ({', '.join(found.filled)}) was taken from this plan's loads."
        out.append(
            Finding(
                "work_log_used",
                "ok",
                f"Winching and hauling go by {_loads(found.loads)} of {name}: "
                f"{_times_over(found.factor)} what the settings alone would give, plus or minus "
                f"{100 * (found.range_share or 0):.0f} %.{blank if found.filled else ''}",
                "settings",
                "work.log",
                value=found.factor,
                source="ours",
            )
        )
    if found.left_out:
        lines = ", ".join(str(line) for line in found.left_out)
        out.append(
            Finding(
                "work_log_far_off",
                "caution",
                f"{name} line {lines}: far longer or shorter than the other loads make likely, so "
                "left out. Were minutes or distance written down wrong, or a break counted in?",
                "settings",
                "work.log",
                value=float(len(found.left_out)),
                source="ours",
            )
        )
    return out


def _loads(count: int) -> str:
    return "1 load" if count == 1 else f"{count} loads"


def _times_over(factor: float) -> str:
    """Say a factor as people do."""
    return f"{factor:.1f} times" if factor >= 2 or factor < 0.5 else f"{100 * factor:.0f} % of"
