"""What each winch rule costs in trees and metres of trail, on one area.

    python tests/bench/bench_rules.py [AREA]

Every line plans the area once with one rule taken away. A measurement of how the
rules shape a layout; none of these plans is one to drive.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from layout import plan as chain
from layout import winch
from layout.area import read_area
from layout.site import Area
from layout.winch import WinchRules

FAR_PCT = 1000.0


def no_parking(rules: WinchRules) -> WinchRules:
    """Park on any slope."""
    return replace(rules, park_pct=FAR_PCT, park_stop_pct=FAR_PCT)


def no_load_above(rules: WinchRules) -> WinchRules:
    """Let loads lie above the winch, and run."""
    return replace(rules, load_above_pct=FAR_PCT, run_stop_pct=FAR_PCT, run_steep_pct=FAR_PCT)


def no_angle_table(rules: WinchRules) -> WinchRules:
    """Give 30 degrees on every cross slope and to either side."""
    return replace(rules, angle_table_deg=(30.0, 30.0, 30.0), downhill_share=1.0)


def no_machine_limit(rules: WinchRules) -> WinchRules:
    """Let the side pull be whatever the table says."""
    side = replace(
        rules.side,
        uphill_deg=(90.0,) * len(rules.side.uphill_deg),
        downhill_deg=(90.0,) * len(rules.side.downhill_deg),
    )
    return replace(rules, side=side)


def no_swing(rules: WinchRules) -> WinchRules:
    """Keep the tractor on the trail's line."""
    return replace(rules, swing_slope_pct=-1.0)


def figures(area: Area, change: Callable[[WinchRules], WinchRules] | None) -> str:
    """Plan once and give one line of figures."""
    original = winch.rules_from
    if change is not None:
        winch.rules_from = lambda settings: change(original(settings))  # type: ignore[assignment]
    try:
        start = time.perf_counter()
        made = chain.make_plan(area)
    finally:
        winch.rules_from = original  # type: ignore[assignment]
    served = sum(t.status == "served" for t in made.trees)
    spurs = [t for t in made.trails if t.kind == "spur"]
    length = sum(t.line.length for t in spurs)
    return (
        f"{served:4d} trees  {len(spurs):3d} spurs  {length:6.0f} m  "
        f"{made.soil.share_pct:5.2f} %  {made.choice.objective_m2:8.0f} m2  "
        f"{time.perf_counter() - start:5.1f} s"
    )


def main(argv: list[str]) -> None:
    """Print the table."""
    area = read_area(Path(argv[0] if argv else "sample_area"))
    settings = area.settings
    free = settings.model_copy(
        update={"trails": settings.trails.model_copy(update={"back_up_m": 1e6})}
    )
    rows: list[tuple[str, Area, Callable[[WinchRules], WinchRules] | None]] = [
        ("all rules", area, None),
        ("no parking slope", area, no_parking),
        ("no load-above rule", area, no_load_above),
        ("no angle table", area, no_angle_table),
        ("no machine side limit", area, no_machine_limit),
        ("neither table nor machine", area, lambda r: no_angle_table(no_machine_limit(r))),
        ("no swing", area, no_swing),
        ("no turning places needed", replace(area, settings=free), None),
    ]
    for name, ground, change in rows:
        print(f"{name:28s}{figures(ground, change)}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
