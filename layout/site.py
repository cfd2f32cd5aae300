"""What an area holds once it has been read: one CRS, metres, checked."""

import math
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.grid import Dem
from layout.plots import Plots
from layout.records import Retired, Trail, TrailKind, WinchPosition
from layout.settings import AreaSettings
from layout.work_records import LoadEnd, LoggedLoad, PayloadLimit, PieceKind, Stage

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """The tree list as columns; row i is one stem.

    All arrays have shape (n,). ``dbh_cm`` and ``height_m`` are NaN where not
    given; ``keep`` and ``hazard`` hold a word or an empty string; ``table``
    keeps every column of the file as read, in the same row order.
    """

    tree_id: tuple[str, ...]
    x: Floats
    y: Floats
    species: tuple[str, ...]
    dbh_cm: Floats
    height_m: Floats
    marked: NDArray[np.bool_]
    keep: tuple[str, ...]
    hazard: tuple[str, ...]
    position_error_m: Floats
    lean_deg: Floats
    lean_azimuth_deg: Floats
    logs: Floats
    defect_pct: Floats
    full_list: bool  # True: every stem was mapped; False: only the marked ones
    table: pd.DataFrame
    done: frozenset[str] = frozenset()  # ids of marked stems that are cut and out already
    log_grade: tuple[str, ...] = ()  # a word or an empty string a stem; () where none is given
    done_pieces: frozenset[tuple[str, int]] = (
        frozenset()
    )  # out already, the rest of their stems not
    set_aside: frozenset[str] = frozenset()  # marked, but no load could hold any part of them

    def __len__(self) -> int:
        """Count the stems."""
        return len(self.tree_id)

    @property
    def to_serve(self) -> NDArray[np.bool_]:
        """Tell which stems are marked, still stand and can come out, shape (n,)."""
        return np.asarray(self.marked & ~_gone(self.tree_id, self.done, self.set_aside))


@lru_cache(maxsize=8)
def _gone(
    names: tuple[str, ...], done: frozenset[str], set_aside: frozenset[str]
) -> NDArray[np.bool_]:
    """Tell which stems are not there to serve; asked many times while a line is dragged."""
    left = done | set_aside
    gone = np.array([name in left for name in names], dtype=bool)
    gone.setflags(write=False)
    return gone


@dataclass(frozen=True, slots=True)
class WaterFeature:
    """One mapped water body: line, polygon or point."""

    feature_id: str
    water_class: str
    geometry: BaseGeometry
    bank_width_m: float | None = None


DrainageClass = Literal[
    "excessively",
    "somewhat excessively",
    "well",
    "moderately well",
    "somewhat poorly",
    "poorly",
    "very poorly",
    "",
]


@dataclass(frozen=True, slots=True)
class SoilUnit:
    """One polygon of a soil map; an empty class is one the map does not say."""

    unit_id: str
    drainage_class: DrainageClass
    geometry: BaseGeometry


@dataclass(frozen=True, slots=True)
class Hazard:
    """A wire, pipe, well, road, house, public trail, fence, wall, ledge or sinkhole."""

    hazard_id: str
    kind: str
    geometry: BaseGeometry


@dataclass(frozen=True, slots=True)
class ExistingTrail:
    """An old trail on the ground; ``benched`` when a sound bench is known."""

    trail_id: str
    line: LineString
    benched: bool = False
    width_m: float | None = None


@dataclass(frozen=True, slots=True)
class NamedLine:
    """A line of the file of flagged or opened trails, as drawn or walked.

    ``kind`` and ``landing_end`` are empty where the file does not say;
    ``place`` is how messages call it. ``walked_m`` is how far off a phone's line
    may be, metres; None: it was drawn.
    """

    trail_id: str
    line: LineString
    place: str
    kind: TrailKind | Literal[""] = ""
    width_m: float | None = None
    landing_end: Literal["first", "last", ""] = ""
    walked_m: float | None = None


@dataclass(frozen=True, slots=True)
class FixedTrail:
    """A trail that stays as it is, landing end first: on the ground already, or drawn by hand."""

    trail_id: str
    kind: TrailKind
    line: LineString
    width_m: float | None = None
    joins_id: str = ""  # empty: it starts at the landing
    joins_at_m: float | None = None
    walked_m: float | None = None  # how far off a phone's line may be; None: it was drawn
    drawn: bool = False  # on the map alone: nobody has flagged it yet


@dataclass(frozen=True, slots=True)
class FurtherLanding:
    """A landing beside the first, and its main trail where one is drawn from it.

    ``main_id`` is how the main trail from it is called, drawn or not;
    ``main_walked_m`` as in `FixedTrail`.
    """

    landing_id: str
    shape: Polygon
    main_id: str
    main: LineString | None = None
    main_walked_m: float | None = None


ProgressState = Literal["", "flagged", "opened", "done", "carried"]
LOAD_IN = ("", "done", "carried")  # what a row of a load that is in says


@dataclass(frozen=True, slots=True)
class ProgressRow:
    """One row of progress.csv."""

    line: int  # in the file, the header being line 1
    name: str
    state: ProgressState
    kind: Literal["", "tree", "trail", "position", "turn"] = ""


@dataclass(frozen=True, slots=True)
class EarlierTurn:
    """A load of the earlier plan: where it starts and what is in it."""

    turn_id: str
    trail_id: str
    position_id: str
    tree_ids: tuple[str, ...] = ()
    pieces: tuple[tuple[str, int], ...] = ()  # tree and piece, as in `work_records.Turn`
    state: Literal["planned", "done", "retired"] = "planned"
    stage: Stage = "harvest"
    at_m: float = 0.0
    travel_m: float = 0.0
    position_ids: tuple[str, ...] = ()
    mass_kg: float = 0.0
    wood_m3: float = 0.0
    limit_kg: float = math.inf
    limited_by: PayloadLimit = ""
    ends_at: LoadEnd = "landing"
    carried: bool = False  # from a small landing on to the landing


@dataclass(frozen=True, slots=True)
class EarlierPiece:
    """A piece of a stem that the earlier plan still had to bring in."""

    tree_id: str
    number: int
    kind: PieceKind
    length_m: float
    wood_m3: float
    mass_kg: float
    mass_known: bool = True


@dataclass(frozen=True, slots=True)
class EarlierPlace:
    """The small landing in the woods of the earlier plan."""

    trail_id: str
    at_m: float
    shape: Polygon


@dataclass(frozen=True, slots=True)
class Earlier:
    """What the plan now in the out folder calls its parts."""

    trails: tuple[Trail, ...]
    positions: tuple[WinchPosition, ...]
    retired: tuple[Retired, ...] = ()
    turns: tuple[EarlierTurn, ...] = ()
    landing: Polygon | None = None
    small_landing: EarlierPlace | None = None
    pieces: tuple[EarlierPiece, ...] = ()
    more_landings: tuple[Polygon, ...] = ()  # L2, L3 ...

    @property
    def landings(self) -> tuple[Polygon, ...]:
        """Its landings: L1, L2 ..."""
        return () if self.landing is None else (self.landing, *self.more_landings)


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """Everything known about one job, in one projected metric CRS."""

    folder: Path
    settings: AreaSettings
    crs: pyproj.CRS
    dem: Dem
    stand: MultiPolygon
    trees: Trees
    property_line: BaseGeometry | None = None  # None: the stand's edge counts
    may_use: MultiPolygon = field(default_factory=MultiPolygon)
    keep_out: tuple[Polygon, ...] = ()
    water: tuple[WaterFeature, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    existing: tuple[ExistingTrail, ...] = ()
    access_road: tuple[LineString, ...] = ()
    landing: Polygon | None = None  # drawn landing outline (a point becomes a square)
    main_trail: LineString | None = None  # drawn main trail, landing end first
    findings: tuple[Finding, ...] = ()
    fixed: tuple[FixedTrail, ...] = ()  # kept as they are; each after the one it joins
    main_fixed: FixedTrail | None = None  # where the main trail is flagged or opened
    opened_positions: frozenset[str] = frozenset()  # named in progress.csv
    progress: tuple[ProgressRow, ...] = ()
    earlier: Earlier | None = None  # None: no names to keep
    plots: Plots | None = None  # sample plots, where given
    log: tuple[LoggedLoad, ...] = ()  # loads the user has timed
    main_walked_m: float | None = None  # how far off a walked main trail may be; None: drawn
    soil_map: tuple[SoilUnit, ...] = ()  # near the stand; () where none was given
    more_landings: tuple[FurtherLanding, ...] = ()  # L2, L3 ...
    wanted_positions: tuple[tuple[float, float], ...] = ()  # places the user would park at
    closed_positions: tuple[tuple[float, float], ...] = ()  # places where nobody is to park

    @property
    def landings(self) -> tuple[Polygon, ...]:
        """The landings: L1, L2 ...; empty where none is drawn."""
        more = tuple(further.shape for further in self.more_landings)
        return () if self.landing is None else (self.landing, *more)

    @property
    def named_keep_outs(self) -> tuple[tuple[str, Polygon], ...]:
        """The ground to keep out of, each with the name it has in every file: KEEP1, KEEP2 ..."""
        return tuple((f"KEEP{n}", shape) for n, shape in enumerate(self.keep_out, start=1))

    @property
    def yard(self) -> BaseGeometry | None:
        """The ground of all landings; None where none is drawn."""
        return shapely.union_all(self.landings) if self.more_landings else self.landing

    def walked_m(self, trail_id: str) -> float | None:
        """Give how far off a trail may be that a phone recorded, metres; None for any other."""
        if self.main_trail is not None and trail_id == "M":
            return self.main_walked_m
        for further in self.more_landings:
            if further.main is not None and trail_id == further.main_id:
                return further.main_walked_m
        return next((t.walked_m for t in self.fixed if t.trail_id == trail_id), None)
