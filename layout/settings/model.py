"""The whole of area.toml as one frozen value."""

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import model_validator

from layout.settings.choice_tables import ObjectiveTable, SoilTable, TreatmentTable
from layout.settings.fields import OURS, Table, plain
from layout.settings.ground_tables import (
    AccessTable,
    AreaTable,
    GroundTable,
    LandingTable,
    MainTrailTable,
    PropertyTable,
    StandTable,
    WaterTable,
)
from layout.settings.tractor_table import TractorTable
from layout.settings.trail_tables import WINCH_PRESETS, TrailsTable, WinchTable
from layout.settings.trailer_tables import PricesTable, TrailerTable
from layout.settings.work_tables import OutputsTable, TimberTable, TruckTable, WorkTable

TREE_LENGTH_RADIUS = "40 ft"  # whole trees do not follow a 25 ft bend; memory: unverified


class AreaSettings(Table):
    """Settings of one area; every table but [area], [ground] and [stand] may be left out."""

    format: Literal[1] = plain(1, "Version of this file's form.", source=OURS)
    area: AreaTable = plain(..., "The job.", source=OURS)
    ground: GroundTable = plain(..., "Elevations and what lies on the ground.", source=OURS)
    property: PropertyTable = plain(PropertyTable(), "The property line.", source=OURS)
    stand: StandTable = plain(..., "The stand and its trees.", source=OURS)
    water: WaterTable = plain(WaterTable(), "Water and its rules.", source=OURS)
    access: AccessTable = plain(AccessTable(), "Access and hazards.", source=OURS)
    landing: LandingTable = plain(LandingTable(), "The landing.", source=OURS)
    main_trail: MainTrailTable = plain(MainTrailTable(), "A drawn main trail.", source=OURS)
    trails: TrailsTable = plain(TrailsTable(), "Limits of trails.", source=OURS)
    winch: WinchTable = plain(WinchTable(), "The winch.", source=OURS)
    tractor: TractorTable = plain(TractorTable(), "The tractor.", source=OURS)
    soil: SoilTable = plain(SoilTable(), "Soil limits.", source=OURS)
    objective: ObjectiveTable = plain(ObjectiveTable(), "What things cost.", source=OURS)
    timber: TimberTable = plain(TimberTable(), "Logs, volumes and weights.", source=OURS)
    work: WorkTable = plain(WorkTable(), "Crew, order and times.", source=OURS)
    treatment: TreatmentTable = plain(TreatmentTable(), "The owner's aims.", source=OURS)
    truck: TruckTable = plain(TruckTable(), "Trucks and decks.", source=OURS)
    trailer: TrailerTable = plain(TrailerTable(), "A trailer for logs.", source=OURS)
    prices: PricesTable = plain(PricesTable(), "What wood brings.", source=OURS)
    outputs: OutputsTable = plain(OutputsTable(), "Paper and language.", source=OURS)

    @model_validator(mode="before")
    @classmethod
    def _bends_for_whole_trees(cls, data: Any) -> Any:
        """Whole trees need the wider bend unless the user set one."""
        if not isinstance(data, Mapping):
            return data
        work, trails = data.get("work"), data.get("trails", {})
        if (
            isinstance(work, Mapping)
            and work.get("extract") == "tree"
            and isinstance(trails, Mapping)
            and not {"turn_radius", "turn_radius_m"} & set(trails)
        ):
            return {**data, "trails": {**trails, "turn_radius": TREE_LENGTH_RADIUS}}
        return data

    @model_validator(mode="before")
    @classmethod
    def _winch_of_the_tractor(cls, data: Any) -> Any:
        """Fill what is left out of the winch by the tractor's preset, unless it names its own."""
        if not isinstance(data, Mapping):
            return data
        tractor, winch = data.get("tractor"), data.get("winch", {})
        preset = tractor.get("preset") if isinstance(tractor, Mapping) else None
        known = isinstance(preset, str) and preset in WINCH_PRESETS  # a fault is told over there
        if known and isinstance(winch, Mapping) and "preset" not in winch:
            return {**data, "winch": {**winch, "preset": preset}}
        return data
