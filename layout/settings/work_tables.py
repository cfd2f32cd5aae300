"""Tables of area.toml about timber, work, trucks and the sheets."""

from typing import Literal

from layout.settings.fields import MEMORY, OURS, Table, plain, quantity
from layout.sources import LONE_WORK


class SawlogDbh(Table):
    """Smallest DBH that gives a sawlog."""

    hardwood_m: float = quantity(
        "hardwood", "11 in", "length", "Hardwood.", ge="4 in", le="40 in", source=MEMORY
    )
    softwood_m: float = quantity(
        "softwood", "9 in", "length", "Softwood.", ge="4 in", le="40 in", source=MEMORY
    )


class TimberTable(Table):
    """How stems become logs, volumes and weights."""

    rule: Literal["international-quarter", "scribner", "doyle", "cubic", ""] = plain(
        "", "Log rule of the board feet; blank: none chosen, only cubic is shown.", source=OURS
    )
    log_lengths_m: tuple[float, ...] = quantity(
        "log_lengths",
        None,
        "length",
        "Nominal log lengths, tried in this order.",
        gt=0,
        le="60 ft",
        many=("16 ft", "14 ft", "12 ft", "10 ft", "8 ft"),
    )
    trim_m: float = quantity("trim", "6 in", "length", "Trim of each log.", ge=0, le="2 ft")
    kerf_m: float = quantity(
        "kerf", "0.25 in", "length", "Between logs when bucking.", ge=0, le="2 in"
    )
    stump_height_m: float = quantity(
        "stump_height", "1 ft", "length", "Height of the stump.", ge=0, le="4 ft"
    )
    top_diameter_m: float = quantity(
        "top_diameter",
        "10 in",
        "length",
        "Smallest sawlog end, inside bark.",
        ge="3 in",
        le="30 in",
    )
    pulp_top_m: float = quantity(
        "pulp_top",
        "4 in",
        "length",
        "Smallest pulp end, inside bark; 0 in: no small wood.",
        ge=0,
        le="12 in",
    )
    min_sawlog_dbh: SawlogDbh = plain(SawlogDbh(), "Smallest DBH for a sawlog.", source=MEMORY)
    form_class: float = plain(
        78, "Girard form class, where a tree has logs but no height.", ge=60, le=95
    )
    defect_pct: float = quantity(
        "defect",
        "0 %",
        "percent",
        "Where defect_pct is blank; reported as gross = net.",
        ge=0,
        le=100,
        source=OURS,
    )
    height_model: Literal["calibrated", "default"] = plain(
        "calibrated",
        "Heights from the measured trees (3 or more), or the default curve.",
        source=OURS,
    )
    weight_error_pct: float = quantity(
        "weight_error",
        "15 %",
        "percent",
        "Carried to the unsafe side of every load check.",
        ge=0,
        le=60,
        source=MEMORY,
    )
    bark: bool = plain(True, "Weights with bark.", source=OURS)
    cord_solid_m3: float = quantity(
        "cord_solid",
        "80 ft^3",
        "volume",
        "Solid wood in a stacked cord of 128 cubic feet.",
        ge="50 ft^3",
        le="110 ft^3",
        source=MEMORY,
    )


class CostPerHour(Table):
    """Money; blank means no money anywhere in the report."""

    labour: float | None = plain(
        None, "Per hour of labour.", ge=0, unit="money/h", source=OURS, words={"": None}
    )
    machine: float | None = plain(
        None, "Per hour of the machine.", ge=0, unit="money/h", source=OURS, words={"": None}
    )


class WorkTable(Table):
    """Crew, order of work and the times it takes."""

    extract: Literal["log", "tree"] = plain(
        "log", "What travels on the trail after winching.", source=OURS
    )
    crew: int = plain(
        1,
        "People on the job.",
        ge=1,
        le=20,
        caution="1: working alone",
        source=str(LONE_WORK),
    )
    work_style: Literal["tree-by-tree", "fell-then-winch"] = plain(
        "tree-by-tree", "Fell one, winch one; or fell all first.", source=OURS
    )
    harvest: Literal["far-first", "near-first"] = plain(
        "far-first", "Order of the spurs.", source="common practice, no source"
    )
    hours_per_day: float = plain(6, "Working hours of a day.", gt=0, le=14, unit="h", source=OURS)
    utilisation: float = plain(0.70, "Productive share of the day.", gt=0, le=1, source=MEMORY)
    speed_empty_mps: float = quantity(
        "speed_empty", "4.5 km/h", "speed", "Driving empty.", gt=0, le="20 km/h", source=MEMORY
    )
    speed_loaded_mps: float = quantity(
        "speed_loaded", "3.0 km/h", "speed", "Driving loaded.", gt=0, le="15 km/h", source=MEMORY
    )
    rope_out_mps: float = quantity(
        "rope_out",
        "40 m/min",
        "speed",
        "Rope hauled out by hand on the level.",
        gt=0,
        le="120 m/min",
        source=MEMORY,
    )
    rope_in_mps: float = quantity(
        "rope_in", "30 m/min", "speed", "Rope wound in.", gt=0, le="120 m/min", source=MEMORY
    )
    hook_min: float = quantity(
        "hook", "1.0 min", "minutes", "Hooking one piece.", ge=0, le="30 min", source=MEMORY
    )
    unhook_min: float = quantity(
        "unhook", "0.5 min", "minutes", "Unhooking one piece.", ge=0, le="30 min", source=MEMORY
    )
    reset_min: float = quantity(
        "reset", "0.5 min", "minutes", "Reset after each pull.", ge=0, le="30 min", source=MEMORY
    )
    turn_fixed_min: float = quantity(
        "turn_fixed",
        "2 min",
        "minutes",
        "Fixed time of a load.",
        ge=0,
        le="60 min",
        source=MEMORY,
    )
    fell_limb_buck_min_per_m3: float = quantity(
        "fell_limb_buck",
        "17.9 min/m^3",
        "time per volume",
        "Felling, limbing and bucking, with the pauses of the day in it.",
        ge=0,
        le=200,
        source="published standard time (opened), trees of 0.3 m3; larger ones take less",
    )
    closeout_min: float = quantity(
        "closeout",
        "15 min",
        "minutes",
        "Closing 100 m of trail.",
        ge=0,
        le="600 min",
        source="ours, no source",
    )
    hours_range: float = plain(
        0.35, "Plus or minus share printed with every hour figure.", ge=0, le=1, source=OURS
    )
    breakout: float = plain(
        0.4, "Added to the steady pull at the start.", ge=0, le=2, source=MEMORY
    )
    fuel_l_per_h: tuple[float, ...] = quantity(
        "fuel",
        None,
        "fuel rate",
        "Fuel, low and high.",
        gt=0,
        le=100,
        many=("3 L/h", "6 L/h"),
        source=MEMORY,
        count=2,
    )
    cost_per_hour: CostPerHour = plain(
        CostPerHour(), "Cost of labour and machine; blank: no money.", source=OURS
    )
    log: str = plain("", "log.csv of real loads; calibrates the times.", source=OURS)
    watcher: str = plain("", "Who watches for the check-ins; blank is printed blank.", source=OURS)
    check_in_min: float = quantity(
        "check_in", "30 min", "minutes", "Between two check-ins.", gt=0, le="240 min", source=OURS
    )
    radio_channel: str = plain("", "Radio channel; blank is printed blank.", source=OURS)


class Deck(Table):
    """How logs are piled."""

    stack_solid: float = plain(0.6, "Solid share of a pile.", gt=0, le=1, source=MEMORY)
    pile_height_m: float = quantity(
        "pile_height", "4 ft", "length", "Height of a pile.", gt=0, le="20 ft", source=MEMORY
    )
    gap_between_sorts_m: float = quantity(
        "gap_between_sorts", "3 ft", "length", "Between piles.", ge=0, le="50 ft", source=OURS
    )
    sorts: int = plain(2, "Sorts piled apart.", ge=1, le=12, source=OURS)


class TruckTable(Table):
    """What comes to the landing."""

    kind: Literal["tandem", "tri-axle", "semi"] = plain(
        "tri-axle", "Sets the payload: 9, 18 or 25 short tons.", source=MEMORY
    )
    payload_kg: float | None = quantity(
        "payload", None, "mass", "Payload, where known.", ge="1 t", le="60 t", source=OURS
    )
    turn_radius_m: float = quantity(
        "turn_radius",
        "50 ft",
        "length",
        "Centre-line radius of a turn.",
        ge="15 ft",
        le="200 ft",
        source=MEMORY,
    )
    deck: Deck = plain(Deck(), "How logs are piled.", source=MEMORY)


class OutputsTable(Table):
    """Paper and language of the sheets."""

    paper: Literal["letter", "a4"] = plain("letter", "Paper of the sheets.", source=OURS)
    language: Literal["en", "es"] = plain(
        "en",
        "Language of crew_map.pdf; es: Spanish, not checked by a native forester.",
        source=OURS,
    )
    declination_deg: float | None = quantity(
        "declination",
        None,
        "declination",
        "Magnetic declination, as 12.5 deg W (or -12.5 deg); blank: written in by hand.",
        ge=-180,
        le=180,
        source=OURS,
        words={"": None},
    )
