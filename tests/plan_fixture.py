"""A small made-up plan for tests of the outputs: drawn by hand, not by the planner.

A hillside rising north with a brook along the west, a field with the landing on
its south edge, one main trail and four spurs. Nothing in it claims to be a good
layout; it holds one of everything an output has to show.
"""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
from made_stumps import stumps
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.ops import substring

from layout import terrain
from layout.findings import Finding, ordered
from layout.grid import Dem
from layout.plan import Plan
from layout.records import (
    ChoiceReport,
    Landing,
    Pull,
    SoilSummary,
    Trail,
    TrailStep,
    TreeOutcome,
    TurningPlace,
    WaterBar,
    WaterStrip,
    WinchPosition,
)
from layout.settings import AreaSettings
from layout.site import Area, ExistingTrail, Hazard, Trees, WaterFeature
from layout.treatment import treat

WEST, SOUTH = 500_000.0, 4_700_000.0  # a round corner in UTM zone 18 north
CRS = pyproj.CRS.from_epsg(26918)
SPUR_AT_M = (60.0, 110.0, 160.0, 210.0)
LEAVE_IT = "leave it standing"


def dem() -> Dem:
    """Give a 1 m grid, 420 m by 380 m, rising 12 % to the north with a draw in the west."""
    rows, cols = 380, 420
    x, y = np.meshgrid(np.arange(cols) + 0.5, rows - np.arange(rows) - 0.5)
    z = 300 + 0.12 * y + 4 * np.sin(x / 45) - 9 * np.exp(-(((x - 60) / 28) ** 2))
    return Dem(z.astype(np.float32), WEST, SOUTH + rows, 1.0)


def at(x: float, y: float) -> tuple[float, float]:
    """Give grid coordinates of a place in metres from the south-west corner."""
    return (WEST + x, SOUTH + y)


def area(units: str = "us", name: str = "Maple Hill", rules: tuple[str, ...] = ()) -> Area:
    """Give the area with its tree list: 60 marked trees among 500 stems."""
    settings = AreaSettings.model_validate(
        {
            "format": 1,
            "area": {"name": name, "units": units},
            "ground": {"dem": "dem.tif"},
            "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"},
            "water": {"rules": list(rules)},
            "property": {"line": "property.gpkg", "source": "survey"},
        }
    )
    stand = Polygon([at(40, 70), at(380, 60), at(390, 340), at(210, 355), at(50, 330)])
    return Area(
        folder=Path("maple-hill"),
        settings=settings,
        crs=CRS,
        dem=dem(),
        stand=MultiPolygon([stand]),
        trees=trees(stand),
        property_line=LineString([at(395, 8), at(398, 200), at(402, 372), at(30, 362)]),
        may_use=MultiPolygon([box(*at(150, 20), *at(300, 66))]),
        keep_out=(Point(at(335, 130)).buffer(14),),
        water=(
            WaterFeature("brook", "perennial", LineString([at(66, 40), at(58, 150), at(72, 360)])),
        ),
        hazards=(
            Hazard("wire-1", "wire", LineString([at(320, 20), at(400, 110)])),
            Hazard("well-1", "well", Point(at(165, 30))),
        ),
        existing=(ExistingTrail("old-1", LineString([at(300, 80), at(340, 200), at(330, 320)])),),
        access_road=(LineString([at(20, 12), at(400, 15)]),),
    )


def trees(stand: Polygon) -> Trees:
    """Give a tree list in the stand; every eighth stem is marked."""
    rng = np.random.default_rng(7)
    xy: list[tuple[float, float]] = []
    while len(xy) < 500:
        p = at(float(rng.uniform(30, 400)), float(rng.uniform(50, 360)))
        if stand.contains(Point(p)):
            xy.append(p)
    x, y = np.array(xy).T
    n = len(xy)
    marked = np.arange(n) % 8 == 0
    ids = tuple(f"T{i + 1}" for i in range(n))
    species = tuple("sugar maple" if i % 3 else "red oak" for i in range(n))
    dbh_in = np.round(rng.uniform(8, 24, n), 1)
    nan = np.full(n, math.nan)
    table = pd.DataFrame(
        {
            "tree_id": list(ids),
            "x": x,
            "y": y,
            "species": list(species),
            "dbh_in": dbh_in,
            "mark": np.where(marked, "cut", "leave"),
            "status": [f"seen {i}" if i % 2 else None for i in range(n)],
            "note": ["érable, près du mur" if i == 0 else None for i in range(n)],
        }
    )
    return Trees(
        tree_id=ids,
        x=x,
        y=y,
        species=species,
        dbh_cm=dbh_in * 2.54,
        height_m=nan,
        marked=marked,
        keep=("",) * n,
        hazard=("",) * n,
        position_error_m=np.full(n, 5.0),
        lean_deg=nan,
        lean_azimuth_deg=nan,
        logs=nan,
        defect_pct=nan,
        full_list=True,
        table=table,
    )


def trails() -> tuple[Trail, ...]:
    """Give a main trail north from the landing and four spurs leaving it at 45 degrees."""
    main = LineString([at(225, 55), at(228, 120), at(232, 180), at(226, 250), at(230, 300)])
    made = [Trail("M1", "main", "L1", main, 3.66, "drawn")]
    for i, station in enumerate(SPUR_AT_M):
        mouth = main.interpolate(station)
        side = 1 if i % 2 else -1
        far = 75.0 - 8 * i
        line = LineString(
            [
                (mouth.x, mouth.y),
                (mouth.x + side * 30, mouth.y + 30),
                (mouth.x + side * (30 + far), mouth.y + 40),
            ]
        )
        made.append(Trail(f"S{i + 1}", "spur", "L1", line, 3.05, "routed", "M1", station))
    return tuple(made)


def plan(
    units: str = "us",
    *,
    name: str = "Maple Hill",
    rules: tuple[str, ...] = (),
    confirmed: bool = False,
) -> Plan:
    """Give the plan.

    Parameters
    ----------
    units : {"us", "metric"}
        What its sheets speak.
    name : str
        The area's name.
    rules : tuple of str
        Water rules chosen; none means that no local rule was.
    confirmed : bool
        Whether the source of the water rule was read.
    """
    place = area(units, name, rules)
    ground = terrain.build(place.dem)
    lines = trails()
    stations = {t.trail_id: terrain.station_table(ground, t.line, t.width_m) for t in lines}
    positions, pulls, outcomes = winching(place, lines)
    steps = tuple(
        TrailStep(
            trail.trail_id,
            start,
            min(start + 10.0, trail.line.length),
            float(stations[trail.trail_id].grade_pct[int(start)]),
            float(stations[trail.trail_id].cross_pct[int(start)]),
            loads=4,
            soil_class=1,
            line=None
            if start == 0
            else substring(trail.line, start, min(start + 10.0, trail.line.length)),
        )
        for trail in lines
        for start in np.arange(0.0, trail.line.length - 0.5, 10.0).tolist()
    )
    brook = place.water[0].geometry
    widths = {
        kind: sum(t.line.length * t.width_m for t in lines if t.kind == kind)
        for kind in ("main", "spur")
    }
    stand_m2 = place.stand.area
    disturbed = widths["main"] + widths["spur"] + 65.0
    return Plan(
        area=place,
        terrain=ground,
        landing=Landing("L1", box(*at(206, 28), *at(244, 54)), *at(225, 41), 4.2, 130.0),
        trails=lines,
        steps=steps,
        positions=positions,
        pulls=pulls,
        trees=outcomes,
        turning_places=(
            TurningPlace("P1", "M1", 225.0, "pad", box(*at(220, 275), *at(232, 287)), 6.0),
        ),
        strips=(
            WaterStrip(
                "brook",
                "perennial",
                " + ".join(rules) or "no-rule-chosen",
                confirmed,
                brook.buffer(18.0),
            ),
        ),
        bars=tuple(
            WaterBar(
                f"B{k + 1}",
                "M1",
                s,
                *lines[0].line.interpolate(s).coords[0],
                -12.0,
                24.4,
                "left" if k % 2 else "right",
            )
            for k, s in enumerate((30.0, 85.0, 135.0, 190.0, 235.0))
        ),
        soil=SoilSummary(
            stand_m2,
            widths["main"],
            widths["spur"],
            65.0,
            988.0,
            4100.0,
            100 * disturbed / stand_m2,
            100 * (disturbed + 988) / stand_m2,
            {1: disturbed, 2: 0.0},
        ),
        findings=findings(),
        choice=ChoiceReport(
            4321.0, 4318.0, 0.07, 3, 420, 180, 900, 1500, 1200, 5400, 3.2, "gap", 0
        ),
        about={"settings_sha256": "0" * 64, "version": "0.1.0"},
        stations=stations,
        treatment=treat(
            place,
            [t.line.buffer(t.width_m / 2, cap_style="flat") for t in lines],
            [o.role == "in_trail" for o in outcomes],
        ),
        **stumps(place, lines, positions, pulls, outcomes),
    )


def winching(
    place: Area, lines: tuple[Trail, ...]
) -> tuple[tuple[WinchPosition, ...], tuple[Pull, ...], tuple[TreeOutcome, ...]]:
    """Park every 25 m and give each marked tree within 34 m to its nearest position."""
    parked: list[WinchPosition] = []
    for trail in lines:
        for k, s in enumerate(np.arange(20.0, trail.line.length, 25.0).tolist()):
            p = trail.line.interpolate(s)
            parked.append(
                WinchPosition(
                    f"{trail.trail_id}-{k + 1}",
                    trail.trail_id,
                    "L1",
                    s,
                    p.x,
                    p.y,
                    0.0,
                    5.0,
                    4.0,
                    6.0,
                    20.0,
                )
            )
    reach = 34.0
    pulls: list[Pull] = []
    outcomes: list[TreeOutcome] = []
    served: dict[str, list[str]] = {p.position_id: [] for p in parked}
    listed = place.trees
    for i, tree in enumerate(listed.tree_id):
        if not listed.marked[i]:
            outcomes.append(TreeOutcome(tree, "leave", "in_trail" if i == 1 else "leave"))
            continue
        x, y = float(listed.x[i]), float(listed.y[i])
        near = min(parked, key=lambda p: (math.hypot(p.x - x, p.y - y), p.position_id))
        map_m = math.hypot(near.x - x, near.y - y)
        margin = reach - map_m
        if margin < 0:
            status = "not_worth_it" if i % 16 else "beyond_reach"
            outcomes.append(
                TreeOutcome(
                    tree,
                    status,
                    "leave",
                    shortfall=-margin,
                    shortfall_unit="m",
                    remedies=(LEAVE_IT, "a longer rope"),
                    marginal_m2=math.nan,
                )
            )
            continue
        sure = "sure" if margin >= 6 else "tight" if margin >= 3 else "doubtful"
        served[near.position_id].append(tree)
        pulls.append(
            Pull(
                tree,
                near.position_id,
                map_m,
                map_m * 1.01,
                reach,
                margin,
                sure,
                12.0,
                "left",
                0.8,
                0.0,
                9.6,
                LineString([(near.x, near.y), (x, y)]),
                p_out_of_reach={"sure": 0.01, "tight": 0.12, "doubtful": 0.4}[sure],
                p_both_ends={"sure": 0.04, "tight": 0.2, "doubtful": 0.45}[sure],
                p_no_position={"sure": 0.0, "tight": 0.02, "doubtful": 0.3}[sure],
            )
        )
        outcomes.append(
            TreeOutcome(tree, "served", "cut", near.position_id, margin, mass_kg=812.34567)
        )
    used = tuple(
        WinchPosition(
            p.position_id,
            p.trail_id,
            p.landing_id,
            p.at_m,
            p.x,
            p.y,
            p.rear_azimuth_deg,
            p.swing_deg,
            p.cross_pct,
            p.along_pct,
            p.back_m,
            tuple(served[p.position_id]),
        )
        for p in parked
        if served[p.position_id]
    )
    return used, tuple(pulls), tuple(outcomes)


def findings() -> tuple[Finding, ...]:
    """Give findings of every level, with and without a place."""
    return ordered(
        [
            Finding(
                "rollover_frame",
                "stop",
                "The tractor's rollover frame is not confirmed; fit one before any work.",
                source="practice",
            ),
            Finding(
                "grade_favourable",
                "stop",
                "S2 from 40 ft to 95 ft: 22 % downhill loaded, over the 20 % limit; move it.",
                "trails",
                "S2",
                12.0,
                29.0,
                22.0,
                20.0,
                "%",
                "practice",
                False,
                lines_at("S2", 20.0),
            ),
            *(
                Finding(
                    "pull_tight",
                    "caution",
                    f"Pull {k}: little rope to spare.",
                    "pulls",
                    f"T{k}",
                    value=float(k),
                    limit=5.0,
                    unit="m",
                    at=at(200 + 9 * k, 200),
                )
                for k in range(1, 8)
            ),
            Finding("wires", "unknown", "Overhead wires: not checked, none were given."),
            Finding("landing_slope", "ok", "Landing slope 4 %, within the limit you set."),
        ]
    )


def lines_at(trail_id: str, at_m: float) -> tuple[float, float]:
    """Give the place of a station of a trail."""
    line = next(t.line for t in trails() if t.trail_id == trail_id)
    point = line.interpolate(at_m)
    return (point.x, point.y)
