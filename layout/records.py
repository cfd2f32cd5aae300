"""The parts of a layout, as plain frozen records.

Stored trail lines run landing end first. Grades are in the loaded direction
(toward the landing): + adverse, - favourable; so ground rising along the
stored line gives a negative grade. Azimuths are grid degrees clockwise from
north. Lengths are metres on the map unless a name says ground.
"""

from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

TrailKind = Literal["main", "spur"]
TrailSource = Literal["drawn", "routed", "fixed"]
TreeStatus = Literal[
    "served",
    "with_trail",  # marked, in the way: comes out when trail, pad or landing is opened
    "leave",  # not marked
    "beyond_reach",
    "pull_angle",
    "load_above",
    "parking",
    "no_turning",
    "corridor",
    "blocked_by_water",
    "too_heavy",
    "not_worth_it",
    "no_trail",
    "outside",
    "done",  # cut and out already, by progress.csv
]
BarReason = Literal["spacing", "spur_mouth", "landing", "strip", "crossing", "low_point", "end"]
REACHED = frozenset({"served", "with_trail"})
Sureness = Literal["sure", "tight", "doubtful"]


@dataclass(frozen=True, slots=True)
class Landing:
    """Where turns arrive, are bucked, decked and trucked."""

    landing_id: str
    shape: Polygon
    x: float
    y: float
    slope_pct: float
    water_m: float | None  # distance to the nearest mapped water, None without any


@dataclass(frozen=True, slots=True)
class Trail:
    """One skid trail; the line runs landing end first."""

    trail_id: str
    kind: TrailKind
    landing_id: str
    line: LineString
    width_m: float
    source: TrailSource
    joins_id: str = ""
    joins_at_m: float | None = None
    benched: bool = False


@dataclass(frozen=True, slots=True)
class TrailStep:
    """A stretch of trail of 10 m at most."""

    trail_id: str
    from_m: float
    to_m: float
    grade_pct: float  # loaded direction: + adverse, - favourable
    cross_pct: float
    loads: int = 0
    soil_class: int = 0
    line: LineString | None = None
    cut_m3: float = 0.0  # of a new bench
    fill_m3: float = 0.0
    bench_width_m: float = 0.0  # widest bench with its bank and fill; 0: none is dug
    payload_kg: float | None = None  # largest load over its grades; None: not known
    payload_by: str = ""  # what sets it
    tip_margin_deg: float | None = None  # left of the side slope allowed, a wheel on a hump
    front_share_pct: float | None = None  # least on the front axle, empty up or loaded
    # that its steepest 10 m alone is over the limit there; a trail's own is of its whole rule
    p_over_limit: float | None = None


@dataclass(frozen=True, slots=True)
class GradeChance:
    """How likely a trail breaks its limits of grade, the elevations being off a little."""

    trail_id: str
    # that the trail anywhere is past a short pitch in grade, or past the sustained limit for
    # too long; a step's own is of one place and one limit
    p_over_limit: float
    at_m: float  # where that is likeliest
    grade_pct: float  # measured there: + adverse, - favourable
    limit_pct: float  # in force there, a positive size
    sd_pct: float  # of a grade there
    range_m: float  # over which the errors are alike: the worst of those tried
    pitch_m: float | None = None  # the limit there holds for so short a pitch only


@dataclass(frozen=True, slots=True)
class WinchPosition:
    """Where the tractor parks to winch; ``trail_id`` is empty on the landing."""

    position_id: str
    trail_id: str
    landing_id: str
    at_m: float
    x: float
    y: float
    rear_azimuth_deg: float  # as parked, swing included
    swing_deg: float
    cross_pct: float
    along_pct: float
    back_m: float
    tree_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pull:
    """One cable pull from a winch position to a stump."""

    tree_id: str
    position_id: str
    map_m: float
    ground_m: float
    reach_m: float
    margin_m: float
    sure: Sureness
    angle_deg: float
    side: Literal["left", "right", "straight"]  # from the seat, looking back
    rise_m: float  # stump minus fairlead; + the load is above the winch
    leave_hits: float | None  # None: leave trees are not known
    pull_kn: float
    line: LineString
    p_out_of_reach: float | None = None  # from here, as parked; at the least
    pieces: int = 1  # stem bucked into this many before winching
    limit_kn: float | None = None  # the least of winch, rope, anchoring, front axle, side pull
    limited_by: str = ""  # winch | rope | anchoring | front | side
    p_both_ends: float | None = None  # the same, the position too found by a receiver
    p_no_position: float | None = None  # that no chosen position takes it


@dataclass(frozen=True, slots=True)
class TreeOutcome:
    """What the plan says of one tree of the list."""

    tree_id: str
    status: TreeStatus
    role: Literal["cut", "leave", "rub", "in_trail"]
    position_id: str = ""
    margin_m: float | None = None
    shortfall: float | None = None  # by how much the reason's limit is missed
    shortfall_unit: str = ""
    remedies: tuple[str, ...] = ()
    mass_kg: float | None = None
    volume_m3: float | None = None
    marginal_m2: float | None = None  # ground that is disturbed for this tree alone
    marginal_trail_m: float | None = None


@dataclass(frozen=True, slots=True)
class RubPlace:
    """One corner that loads cut, or one pull that brushes by."""

    kind: Literal["junction", "bend", "pull"]
    trail_id: str  # whose station is named; at a junction the trail that is joined
    at_m: float
    from_id: str  # the spur at a junction, the winch position of a pull, or empty
    side: Literal["left", "right"]  # looking along the trail outward from the landing


@dataclass(frozen=True, slots=True)
class RubTree:
    """What loads rub against in place of the trees that stay."""

    rub_id: str
    # marked: kept standing till the last load; proposed: the owner's mark is needed;
    # bumper: no stem stands there, a log or high stump; look: choose on the ground
    kind: Literal["marked", "proposed", "bumper", "look"]
    tree_id: str  # empty where there is no stem
    x: float
    y: float
    out_m: float  # travel to the landing; what is farther out is cut earlier
    places: tuple[RubPlace, ...]
    protects: tuple[str, ...] = ()  # trees that stay and that loads would reach
    cut_after: tuple[str, ...] = ()  # positions whose loads pass; all of them are in by then


@dataclass(frozen=True, slots=True)
class Lay:
    """Where a marked tree might be laid; the faller decides at the stump."""

    tree_id: str
    position_id: str  # winched from; empty where it is not reached
    azimuth_deg: float | None  # where the tip would point, grid; None: none is suggested
    off_pull_deg: float | None  # of the pull line, going on behind the stump; + clockwise
    why_none: Literal[
        "", "not_reached", "bad_tree", "bad_tree_near", "barred", "lean", "lean_unknown"
    ]
    barred_by: tuple[str, ...]  # what some lay that suits the pull would meet
    height_m: float  # as it counts for distances, erring tall
    height_measured: bool
    lean: Literal["", "unknown", "upright", "with", "side", "against"]  # to the suggested lay
    lean_off_deg: float | None
    ground: Literal["", "unknown", "level", "uphill", "downhill", "across"]  # the way it falls
    slope_pct: float | None
    in_way: tuple[str, ...] | None  # trees that stay and stand in its way; None: not known
    near: tuple[str, ...] = ()  # wires, houses, roads within two tree lengths
    wedge_lift_m: float | None = None  # for the planner, never for a crew sheet
    beyond_wedges: bool = False


@dataclass(frozen=True, slots=True)
class FellingGroup:
    """Trees felled together at one place, and where everything else waits meanwhile."""

    position_id: str  # empty for trees no position is given
    tree_ids: tuple[str, ...]
    reach_m: float  # two lengths of its tallest tree
    trail_id: str | None  # where the tractor waits: empty on the landing, None: nowhere found
    at_m: float | None
    x: float | None
    y: float | None
    travel_m: float | None  # along the trails from the position, where there is one
    clear_positions: tuple[str, ...]  # nobody works at these meanwhile
    clear_landing: bool  # nor on the landing, or any of several
    landing_id: str = ""  # its work is done from; empty where there is one landing alone


@dataclass(frozen=True, slots=True)
class TurningPlace:
    """A place where the outfit turns round."""

    place_id: str
    trail_id: str
    at_m: float
    kind: Literal["landing", "pad", "y", "loop"]
    shape: Polygon
    slope_pct: float
    line: LineString | None = None  # of a Y: the way the outfit backs, from spur to main


@dataclass(frozen=True, slots=True)
class WaterStrip:
    """A streamside strip kept free of machines and bare soil."""

    feature_id: str
    water_class: str
    rule: str
    confirmed: bool
    shape: BaseGeometry


@dataclass(frozen=True, slots=True)
class WaterBar:
    """Drainage across a trail: a water bar, a dip, or a low point that drains by itself."""

    bar_id: str
    trail_id: str
    at_m: float
    x: float
    y: float
    grade_pct: float
    spacing_m: float
    outlet: Literal["left", "right", "unknown"]  # looking along the stored line
    why: BarReason = "spacing"
    skew_deg: float = 30.0
    length_m: float | None = None  # of a bar as built, ends beyond the trail; None: not a bar
    kind: Literal["bar", "dip", "grade_break"] = "bar"  # a grade break is there already
    # shutdown: before every shutdown or rain, and for good at closeout; closeout: when the
    # section is finished; before_use: shaped before loads pass; empty: nothing is built
    bar_set: Literal["shutdown", "closeout", "before_use", ""] = "closeout"
    room_m: float | None = None  # way of its water to what it meets; None: nothing near, or unknown
    meets: str = ""  # a trail's id, landing, strip or water; empty: nothing near


@dataclass(frozen=True, slots=True)
class Crossing:
    """One place where a trail goes over water; figures from the final line and the elevations."""

    crossing_id: str  # X1, X2 … trail by trail
    trail_id: str
    feature_id: str
    water_class: str
    at_m: float
    from_m: float  # bank to bank along the trail
    to_m: float
    x: float
    y: float
    angle_deg: float | None  # 90 is square; None: it follows the water, or is no line
    approach_pct: float | None  # steepest within 50 ft of either bank; None: not known
    bank_m: float | None  # higher bank over the lowest ground between; None: not known
    area_ha: float | None = None  # that drains to it; None: not known
    apart_m: float | None = None  # to the next crossing, as the crow flies; None: the only one


@dataclass(frozen=True, slots=True)
class SoilSummary:
    """Disturbed ground by kind, square metres, and its share of the stand."""

    stand_m2: float
    main_m2: float
    spur_m2: float
    turning_m2: float
    landing_m2: float
    corridor_m2: float  # beside the share, never in it
    share_pct: float  # trails and turning places, without the landing
    share_with_landing_pct: float
    class_m2: dict[int, float] = field(default_factory=dict)
    bench_m2: float = 0.0  # bank and fill of new benches beyond the trails' width; in the share


@dataclass(frozen=True, slots=True)
class ChoiceReport:
    """How the layout was chosen, for the appendix."""

    objective_m2: float
    bound_m2: float
    gap_pct: float
    rounds: int
    segments: int
    positions: int
    pairs: int
    rows: int
    columns: int
    nonzeros: int
    seconds: float
    stopped_by: str  # gap | time | work
    seed: int


ChangeKind = Literal["added", "kept", "moved", "retired"]
NamedLayer = Literal["trails", "winch_positions"]


@dataclass(frozen=True, slots=True)
class Change:
    """What became of one trail or winch position since the earlier plan."""

    layer: NamedLayer
    name: str
    change: ChangeKind  # moved: the same name on another line


@dataclass(frozen=True, slots=True)
class Retired:
    """A name that stood in an earlier plan and is never used again.

    The rest says, of a position, where it was and what it served, so that a
    later note that it is done is still understood, and one that is flagged
    finds its name again.
    """

    layer: NamedLayer
    name: str
    trail_id: str = ""
    tree_ids: tuple[str, ...] = ()
    at_m: float | None = None
    x: float | None = None
    y: float | None = None
    rear_azimuth_deg: float | None = None
