"""What an area holds once it has been read: one CRS, metres, checked."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.grid import Dem
from layout.settings import AreaSettings

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

    def __len__(self) -> int:
        """Count the stems."""
        return len(self.tree_id)


@dataclass(frozen=True, slots=True)
class WaterFeature:
    """One mapped water body: line, polygon or point."""

    feature_id: str
    water_class: str
    geometry: BaseGeometry
    bank_width_m: float | None = None


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
