"""A layout, checked: the one value that is written, drawn and compared."""

from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from layout.benching import Bench
from layout.channels import Channels
from layout.closeout_records import Closeout
from layout.erosion_records import Erosion
from layout.findings import Finding
from layout.landing_options import LandingOption
from layout.option_records import LimitRow, OptionRow
from layout.records import (
    Change,
    ChoiceReport,
    Crossing,
    FellingGroup,
    GradeChance,
    Landing,
    Lay,
    Pull,
    Retired,
    RubTree,
    SoilSummary,
    Trail,
    TrailStep,
    TreeOutcome,
    TurningPlace,
    WaterBar,
    WaterStrip,
    WinchPosition,
)
from layout.site import Area
from layout.terrain import Stations, Terrain
from layout.treatment import Treatment
from layout.work_records import Work


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A layout, checked: what is written, drawn and compared later."""

    area: Area
    terrain: Terrain
    landing: Landing
    trails: tuple[Trail, ...]
    steps: tuple[TrailStep, ...]
    positions: tuple[WinchPosition, ...]
    pulls: tuple[Pull, ...]
    trees: tuple[TreeOutcome, ...]
    turning_places: tuple[TurningPlace, ...]
    strips: tuple[WaterStrip, ...]
    bars: tuple[WaterBar, ...]
    soil: SoilSummary
    findings: tuple[Finding, ...]
    choice: ChoiceReport
    about: dict[str, str]
    stations: dict[str, Stations]
    changes: tuple[Change, ...] = ()  # since the earlier plan, where names are kept
    retired: tuple[Retired, ...] = ()
    benches: dict[str, Bench] = field(default_factory=dict)  # new ones, by trail
    limits: tuple[LimitRow, ...] = ()  # what limits it, where marked trees are unserved
    options: tuple[OptionRow, ...] = ()  # what a change of rope, tool, trail or place would bring
    rub_trees: tuple[RubTree, ...] = ()
    lays: tuple[Lay, ...] = ()  # one for each marked tree that still stands
    felling_groups: tuple[FellingGroup, ...] = ()  # in the order of work
    treatment: Treatment | None = None  # what is taken and what is left; None: not worked out
    work: Work | None = None  # loads, order, hours; None: not worked out
    channels: Channels = field(default_factory=Channels)  # water on no map, by the elevations
    erosion: Erosion | None = None  # washing and compaction; None: not worked out
    closeout: Closeout | None = None  # what closing takes; None: not worked out
    crossings: tuple[Crossing, ...] = ()  # trails over water, trail by trail
    grade_chances: tuple[GradeChance, ...] = ()  # of being over a limit, trail by trail
    landing_options: tuple[LandingOption, ...] = ()  # where none is drawn, the used one first
    more_landings: tuple[Landing, ...] = ()  # L2, L3 ... where there are several

    @property
    def landings(self) -> tuple[Landing, ...]:
        """All landings, the first one first."""
        return (self.landing, *self.more_landings)

    @property
    def yard(self) -> BaseGeometry:
        """The ground of all landings."""
        if not self.more_landings:
            return self.landing.shape
        return shapely.union_all([landing.shape for landing in self.landings])

    def landing_of(self, landing_id: str) -> Landing:
        """Give a landing by its name; the first where there is none of it."""
        return next((one for one in self.landings if one.landing_id == landing_id), self.landing)
