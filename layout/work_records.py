"""The parts of the work: pieces, loads, steps of the order, times, trucks.

Masses carry the weight error of the settings, so every sum of them is already on the
unsafe side. Minutes are productive minutes: hours of a day are more, by the share of the
day that work stands still.
"""

from dataclasses import dataclass
from typing import Literal

from shapely.geometry import Polygon

PieceKind = Literal["sawlog", "pulp", "stem", "tree"]
Stage = Literal["open", "harvest", "rub"]
LoadEnd = Literal["landing", "small landing"]
PayloadLimit = Literal[
    "", "traction", "front_axle", "engine", "lift", "braking", "runaway", "machine_share"
]


@dataclass(frozen=True, slots=True)
class Way:
    """The way a load takes from one place to the landing, and what it may weigh there."""

    trail_id: str  # empty on the landing
    at_m: float
    travel_m: float  # along the trails to the landing
    limit_kg: float  # largest load anywhere on the way
    limited_by: PayloadLimit
    limit_trail_id: str  # where that is
    limit_at_m: float
    unknown_m: float = 0.0  # of the way, where its grade is not known: counted as the worst known


@dataclass(frozen=True, slots=True)
class Piece:
    """What is dragged to the landing as one."""

    tree_id: str
    number: int  # 1 for the butt piece
    kind: PieceKind
    stage: Stage
    trail_id: str  # where it is taken up; empty on the landing
    at_m: float
    position_id: str  # it was winched to; empty for a stem out of the trail itself
    length_m: float
    wood_m3: float
    mass_kg: float  # weight error included; what is not known counts as a heavy one
    way: Way
    mass_known: bool = True
    as_before: bool = False  # left of a begun stem, which would now be cut otherwise
    late: bool = False  # a rub tree that loads from other trails than its own still pass


@dataclass(frozen=True, slots=True)
class Turn:
    """One load dragged to the landing; sheets say load."""

    turn_id: str
    order: int  # 1 for the first of the job
    stage: Stage
    trail_id: str  # of its farthest piece
    position_id: str
    at_m: float
    travel_m: float
    pieces: tuple[tuple[str, int], ...]  # tree and piece, as they are taken up
    tree_ids: tuple[str, ...]
    position_ids: tuple[str, ...]  # where it stops, the farthest first
    mass_kg: float
    wood_m3: float
    limit_kg: float
    limited_by: PayloadLimit
    state: Literal["planned", "done", "retired"] = "planned"
    ends_at: LoadEnd = "landing"  # a trailer takes it on from a small one
    landing_id: str = ""  # it comes to; empty where there is one landing alone


@dataclass(frozen=True, slots=True)
class CutShorter:
    """A stem whose usual pieces no load could hold."""

    tree_id: str
    position_id: str
    limit_kg: float
    limited_by: PayloadLimit
    heaviest_kg: float  # of the pieces it would usually be cut into
    lengths_m: tuple[float, ...]  # what it is cut into instead; empty: nothing is light enough


WorkKind = Literal[
    "flag",  # walk every trail, hang ribbons
    "open",  # a trail, near to far, its stems out as they fall
    "fell",  # the trees of one position, or one of them
    "winch",
    "haul",
    "rub",  # rub trees no load will pass again
    "close",  # a trail, for good
    "small_open",  # clear and level the small landing in the woods
    "carry",  # the trailer's trips from it
    "small_close",  # tidy and close it
    "landing",  # tidy and close the landing
]


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One step of the order of work, as it is ticked off."""

    number: int
    kind: WorkKind
    trail_id: str = ""
    position_id: str = ""
    tree_ids: tuple[str, ...] = ()
    turn_ids: tuple[str, ...] = ()
    minutes: float = 0.0  # productive
    done: bool = False
    trips: tuple[int, ...] = ()  # of the trailer, 1 for its first
    landing_id: str = ""  # it is worked from; empty where there is one landing alone


@dataclass(frozen=True, slots=True)
class LoggedLoad:
    """One load of the user's own log; None where the log does not say."""

    line: int  # of the file, the header being line 1
    minutes: float  # from leaving the landing to being back there, breaks left out
    distance_m: float  # one way
    rope_m: float | None = None
    pulls: float | None = None
    pieces: float | None = None
    volume_m3: float | None = None


@dataclass(frozen=True, slots=True)
class Hours:
    """Time of one kind of work, or of all: never without its range."""

    kind: str
    productive_h: float
    low_h: float  # with the pauses of a day, at the short end
    high_h: float

    @property
    def middle_h(self) -> float:
        """Give the middle of the range."""
        return (self.low_h + self.high_h) / 2


@dataclass(frozen=True, slots=True)
class Times:
    """How long the job takes, by kind of work, and what that rests on."""

    kinds: tuple[Hours, ...]  # opening, felling, winching, hauling, closing
    total: Hours
    days_low: float
    days_high: float
    m3_per_hour: float | None  # wood out per productive hour of winching and hauling
    in_band: bool | None  # of what studies of farm tractors found; None: no wood
    published_min_per_m3: float | None  # a published line at this job's mean distance
    ours_min_per_m3: float | None  # the same work by our model
    logged_loads: int = 0  # the user's own loads behind the figures; 0: defaults
    logged_factor: float | None = None  # own minutes over those of the model


@dataclass(frozen=True, slots=True)
class Sort:
    """Wood that lies on a pile of its own."""

    name: str  # a species, or small wood
    kind: Literal["sawlog", "pulp", "stem", "tree"]
    pieces: int
    wood_m3: float
    mass_kg: float  # without the weight error
    net_bf: float | None
    longest_m: float
    frontage_m: float
    net_m3: float | None = None  # wood less defect; None: not known


@dataclass(frozen=True, slots=True)
class Trucking:
    """Decks on the landing, and trucks away from it."""

    sorts: tuple[Sort, ...]
    frontage_m: float  # all decks and the gaps between
    deck_m2: float
    needed_m2: float  # decks, bucking, the outfit's turn and the truck's standing
    has_m2: float
    payload_kg: float
    loads_by_mass: float
    loads_by_volume: float
    loads: int  # whole trucks
    bucking_m2: float = 0.0  # the other parts of what is needed
    turning_m2: float = 0.0
    standing_m2: float = 0.0
    in_m3: float = 0.0  # wood of loads that are in, there or trucked off: in no other sum here
    in_kg: float = 0.0  # with the weight error


@dataclass(frozen=True, slots=True)
class AtLanding:
    """Decks and trucks at one of several landings."""

    landing_id: str
    trucking: Trucking


@dataclass(frozen=True, slots=True)
class Money:
    """Cost and value, where the user gave rates and prices; None where not."""

    cost_low: float | None
    cost_high: float | None
    fuel_low: float | None
    fuel_high: float | None
    trucking: float | None
    value: float | None
    value_by_sort: tuple[tuple[str, float], ...]
    unpriced: tuple[str, ...]  # sorts no price was given for
    break_even_m: float | None  # hauling distance at which a mean load just pays, mid-range
    unrated: tuple[str, ...] = ()  # keys that are blank, and so are in no sum
    break_even_near_m: float | None = None  # the same at the long end of the hours
    break_even_far_m: float | None = None  # and at their short end


@dataclass(frozen=True, slots=True)
class TwoStage:
    """Dragging to a small landing in the woods and a trailer on, against dragging all the way."""

    why_none: str  # empty where it was worked out
    trail_id: str = ""
    at_m: float | None = None  # of the small landing
    x: float | None = None
    y: float | None = None
    chosen: bool = False  # the plan is made with it
    turns_through: int = 0  # loads that would end at it
    trips: int = 0  # of the trailer
    trailer_kg: float = 0.0  # what the trailer may carry on its lane
    limited_by: str = ""
    lane_m: float = 0.0
    drag_all: Hours | None = None
    two_stage: Hours | None = None
    passes_saved: int = 0  # dragged loads the lane no longer sees, less the trailer's trips
    landing_m2: float = 0.0  # ground the small landing takes
    turn_at_m: float | None = None  # where tractor and trailer turn round
    clean_share: float = 0.0  # share of the wood never dragged along the lane
    shape: Polygon | None = None  # ground of the small landing
    carrying_min: float = 0.0  # productive, of the trailer and of changing to it and back
    in_use: bool = False  # a load is in that ended there: the place is made, and kept
    loads_in: int = 0  # that lie there already, done by progress.csv and not carried on
    moved: bool = False  # [trailer] at names another place than the one in use
    fillings: int = 1  # of the small landing: so often the trailer is hitched


@dataclass(frozen=True, slots=True)
class Work:
    """All of the work of one plan."""

    turns: tuple[Turn, ...]
    pieces: tuple[Piece, ...]
    shorter: tuple[CutShorter, ...]
    steps: tuple[WorkStep, ...]
    times: Times
    trucking: Trucking
    fuel_low_l: float
    fuel_high_l: float
    money: Money | None = None  # None: neither rates nor prices given
    two_stage: TwoStage | None = None  # None: not asked for
    at_landings: tuple[AtLanding, ...] = ()  # where there are several; ``trucking`` is of all
