"""Tables of area.toml about what wood brings, and about a trailer that carries it on."""

from pydantic import Field

from layout.settings.fields import MEMORY, OURS, Table, plain, quantity
from layout.settings.ground_tables import Place


class PricesTable(Table):
    """What wood brings at the landing; blank means no money anywhere in the report."""

    sawlogs: float | None = plain(
        None,
        "Per 1,000 board feet by the log rule; without one, per m3.",
        ge=0, unit="money", source=OURS, words={"": None},
    )  # fmt: skip
    species: dict[str, float] = plain(
        dict,
        'Sawlogs of one species, like { "sugar maple" = 600 }, instead of sawlogs.',
        unit="money", source=OURS,
    )  # fmt: skip
    pulp: float | None = plain(
        None,
        "Small wood, per cord where units are us, per m3 where metric.",
        ge=0, unit="money", source=OURS, words={"": None},
    )  # fmt: skip
    truck_load: float | None = plain(
        None, "Paid for hauling one truck load.", ge=0, unit="money", source=OURS, words={"": None}
    )
    fuel: float | None = plain(
        None, "Per litre of fuel.", ge=0, unit="money/L", source=OURS, words={"": None}
    )


class TrailerTable(Table):
    """A log trailer that carries wood from a small landing in the woods."""

    compare: bool = plain(
        True, "Whether the report weighs a trailer against dragging all the way.", source=OURS
    )
    use: bool = plain(
        False, "Whether loads go to the small landing, and a trailer on from there.", source=OURS
    )
    at: Place | None = Field(
        default=None,
        description="Small landing on the main trail, [x, y] or {lon, lat}; blank: proposed.",
        json_schema_extra={"unit": "", "source": OURS, "caution": ""},
    )
    payload_kg: float = quantity(
        "payload", "5 t", "mass", "Load of the trailer.", ge="0.3 t", le="20 t", source=MEMORY
    )
    mass_kg: float = quantity(
        "mass", "1.5 t", "mass", "Empty trailer.", ge="0.1 t", le="10 t", source=MEMORY
    )
    rolling: float = plain(
        0.08, "Rolling resistance on a forest lane, share of weight.", gt=0, le=0.5, source=MEMORY
    )
    uphill_pct: float = quantity(
        "uphill", "8 %", "grade", "Steepest loaded uphill.", gt=0, le=20, source=MEMORY
    )
    downhill_pct: float = quantity(
        "downhill", "10 %", "grade", "Steepest loaded downhill.", gt=0, le=20, source=MEMORY
    )
    turn_radius_m: float = quantity(
        "turn_radius", "30 ft", "length", "Tightest bend.", ge="10 ft", le="100 ft", source=MEMORY
    )
    braked: bool = plain(False, "Whether the trailer has brakes of its own.", source=OURS)
    load_min: float = quantity(
        "load", "1.5 min", "minutes", "Loading one piece.", ge=0, le="30 min", source=MEMORY
    )
    unload_min: float = quantity(
        "unload", "0.5 min", "minutes", "Unloading one piece.", ge=0, le="30 min", source=MEMORY
    )
    speed_mps: float = quantity(
        "speed", "6 km/h", "speed", "Driving, empty and loaded.", gt=0, le="25 km/h", source=MEMORY
    )
    area_m2: float = quantity(
        "area", "0.05 acre", "area", "Small landing in the woods.",
        ge="0.005 acre", le="1 acre", source=OURS,
    )  # fmt: skip
