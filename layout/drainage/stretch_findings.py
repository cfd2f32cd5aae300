"""What there is to say of stretches of trail: where no drain is laid out, where the table ends."""

import numpy as np
from numpy.typing import NDArray

from layout.drainage.spacing import BEYOND_TABLE_PCT, PRINTED_SPACING_FT, beyond_table
from layout.findings import Finding, Level
from layout.records import Trail
from layout.runs import Run, runs
from layout.sources import WATER_BARS
from layout.speech import speak_station
from layout.terrain import Stations
from layout.units import FOOT_M, Units


def stretch_findings(trail: Trail, stations: Stations, units: Units = "us") -> tuple[Finding, ...]:
    """Report where a trail's drains could not be laid out, and where no table spaces them.

    Parameters
    ----------
    trail : Trail
        The trail.
    stations : Stations
        What it meets, about every metre.
    units : {"us", "metric"}, optional
        What the messages speak.

    Returns
    -------
    tuple of Finding
        ``bar_gap``, a caution for each stretch without elevations; ``bar_beyond_table``, a
        stop for each that is steeper than the table of bars.
    """
    unknown = ~(np.isfinite(stations.z) & np.isfinite(stations.grade_pct))
    found = [
        _finding(
            trail,
            stations,
            run,
            units,
            "bar_gap",
            "caution",
            "drains not laid out, the elevations have a gap or end here; choose their places on "
            "the ground, and mind that water may run out of this stretch onto the trail below",
            value=run.length_m,
        )
        for run in runs(unknown, stations.at_m)
    ]
    for run in runs(beyond_table(stations.grade_pct), stations.at_m):
        top = _steepest(stations.grade_pct[run.first : run.last + 1])
        closest = _said_closest(units)
        found.append(
            _finding(
                trail,
                stations,
                run,
                units,
                "bar_beyond_table",
                "stop",
                f"up to {top:.0f} % steep, and the table of water bars ends at "
                f"{BEYOND_TABLE_PCT:g} %; bars are drawn {closest} apart as in its last row, and "
                "nothing published says that is close enough. Move the trail to gentler ground",
                value=top,
                limit=BEYOND_TABLE_PCT,
            )
        )
    return tuple(found)


def _steepest(grade_pct: NDArray[np.float64]) -> float:
    return float(np.abs(grade_pct).max())


def _said_closest(units: Units) -> str:
    feet = PRINTED_SPACING_FT[int(BEYOND_TABLE_PCT)]
    return f"{feet} ft" if units == "us" else f"{feet * FOOT_M:.0f} m"


def _finding(
    trail: Trail,
    stations: Stations,
    run: Run,
    units: Units,
    code: str,
    level: Level,
    words: str,
    *,
    value: float,
    limit: float | None = None,
) -> Finding:
    kind = "Main trail" if trail.kind == "main" else "Spur"
    first, last = speak_station(run.from_m, units), speak_station(run.to_m, units)
    where = f"at {first}" if first == last else f"from {first} to {last}"
    middle = (run.first + run.last) // 2
    return Finding(
        code=code,
        level=level,
        message=f"{kind} {trail.trail_id} {where}: {words}",
        subject_layer="trails",
        subject_id=trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=value,
        limit=limit,
        unit="m" if limit is None else "%",
        source="ours" if limit is None else str(WATER_BARS),
        at=(float(stations.x[middle]), float(stations.y[middle])),
    )
