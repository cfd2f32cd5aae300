"""Tables of area.toml about soil, choice, timber, work and the trucks."""

from typing import Literal, Self

from pydantic import model_validator

from layout.settings.fields import MEMORY, OURS, Table, plain, quantity

SOIL_15 = "USFS regional soil quality supplements, 15 % of the area (number from memory)"
PER_M2 = "ours, from trials; the layout is not sensitive to it"
RUTS = "two state BMP training pages (opened): over 6 in deep for over 50 ft"


class Compaction(Table):
    """k in share = 1 - exp(-k n), n loaded passes."""

    flat: float = plain(0.25, "On flat dry ground.", gt=0, le=3, source=OURS)
    sloping_or_wet: float = plain(0.50, "On sloping or wet ground.", gt=0, le=3, source=OURS)


class Cover(Table):
    """Soil cover factor before and after slash or seed."""

    bare: float = plain(0.45, "Bare trail.", gt=0, le=1, source=MEMORY)
    closed: float = plain(0.10, "After slash or seed.", gt=0, le=1, source=MEMORY)


class Ruts(Table):
    """Ruts that stop the work."""

    depth_m: float = quantity(
        "depth", "6 in", "length", "Deeper than this", gt=0, le="2 ft", source=RUTS
    )
    length_m: float = quantity(
        "length", "50 ft", "length", "for longer than this.", gt=0, le="300 ft", source=RUTS
    )


class SoilTable(Table):
    """How much ground may be disturbed."""

    limit_pct: float = quantity(
        "limit", "15 %", "percent", "Trails and turning places, of the stand.", gt=0, le=40,
        caution="aim", source=SOIL_15,
    )
    aim_pct: float = quantity(
        "aim", "10 %", "percent", "Aimed at.", gt=0, le=40, source=MEMORY
    )
    class_passes: tuple[int, int] = plain(
        (3, 10), "Loaded passes: fewer than the first class 1, than the second class 2.",
        source=OURS,
    )
    compaction: Compaction = plain(Compaction(), "Compaction by passes.", source=OURS)
    k_factor: float = plain(
        0.32, "Soil erodibility, US customary units; default, not your soil.", gt=0, le=0.7,
        source=MEMORY,
    )
    cover: Cover = plain(Cover(), "Soil cover factors.", source=MEMORY)
    ruts: Ruts = plain(Ruts(), "Ruts that stop the work.", source=RUTS)
    map: str = plain("", "Polygons with drainage_class.", source=OURS)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        """Aim below limit; passes rising."""
        faults = []
        if self.aim_pct > self.limit_pct:
            faults.append(
                f"aim ({self.aim_pct:g} %) is above limit ({self.limit_pct:g} %); lower the aim"
            )
        if not 0 < self.class_passes[0] < self.class_passes[1]:
            faults.append("class_passes must be two rising counts, like [3, 10]")
        if faults:
            raise ValueError("\n".join(faults))
        return self


class ObjectiveTable(Table):
    """Everything is turned into square metres of ground."""

    main: float = plain(1.0, "Per m2 of new main trail.", ge=0, le=100, source=PER_M2)
    spur: float = plain(1.0, "Per m2 of new spur.", ge=0, le=100, source=PER_M2)
    existing: float = plain(
        0.25, "Per m2 of an old trail driven again.", ge=0, le=100, source=PER_M2
    )
    benched: float = plain(1.5, "Per m2 of cut, fill and strip.", ge=0, le=100, source=PER_M2)
    landing: float = plain(1.0, "Per m2 of landing.", ge=0, le=100, source=PER_M2)
    corridor: float = plain(
        0.1, "Per m2 of winching corridor.", ge=0, le=100, source=PER_M2
    )
    wet_ground: float = plain(
        3.0, "Multiplies the above in wet hollows and possible channels.", ge=1, le=100,
        source=PER_M2,
    )
    stem_removed_m2: float = quantity(
        "stem_removed", "10 m^2", "area", "A leave stem inside a trail.", ge=0, le="1 ha",
        source=PER_M2,
    )
    stem_brushed_m2: float = quantity(
        "stem_brushed", "1.5 m^2", "area", "A leave stem brushed by a pull.", ge=0, le="1 ha",
        source=PER_M2,
    )
    pull_m2_per_m: float = quantity(
        "pull", "0.25 m^2/m", "area per length", "Per metre of winching.", ge=0, le=100,
        source=PER_M2,
    )
    setup_m2: float = quantity(
        "setup", "2 m^2", "area", "One more winch position.", ge=0, le="1 ha", source=PER_M2
    )
    spur_start_m2: float = quantity(
        "spur_start", "10 m^2", "area", "One more junction.", ge=0, le="1 ha", source=PER_M2
    )
    downhill_pull_m2: float = quantity(
        "downhill_pull", "2 m^2", "area", "A pull whose stump is above the fairlead.", ge=0,
        le="1 ha", source=PER_M2,
    )
    crossing_m2: float = quantity(
        "crossing", "200 m^2", "area", "One stream crossing, where allowed.", ge=0, le="10 ha",
        source=PER_M2,
    )
    serve_worth_m2: float = quantity(
        "serve_worth", "200 m^2", "area",
        "Ground a tree may cost before it is left standing; \"all\" serves every tree.",
        ge=0, source=PER_M2, words={"all": float("inf")}, infinite=True,
    )
    time_limit_s: float = quantity(
        "time_limit", "60 s", "seconds", "Wall time of the choice.", ge=1, le="24 h", source=OURS
    )
    gap_pct: float = quantity(
        "gap", "0.1 %", "percent", "Proved distance from the best, at which to stop.", ge=0,
        le=20, source=OURS,
    )
    seed: int = plain(0, "Seed of the solver.", ge=0, le=2**31 - 1, source=OURS)


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
        "log_lengths", None, "length", "Nominal log lengths, tried in this order.", gt=0,
        le="60 ft", many=("16 ft", "14 ft", "12 ft", "10 ft", "8 ft"),
    )
    trim_m: float = quantity("trim", "6 in", "length", "Trim of each log.", ge=0, le="2 ft")
    kerf_m: float = quantity(
        "kerf", "0.25 in", "length", "Between logs when bucking.", ge=0, le="2 in"
    )
    stump_height_m: float = quantity(
        "stump_height", "1 ft", "length", "Height of the stump.", ge=0, le="4 ft"
    )
    top_diameter_m: float = quantity(
        "top_diameter", "10 in", "length", "Smallest sawlog end, inside bark.", ge="3 in",
        le="30 in",
    )
    pulp_top_m: float = quantity(
        "pulp_top", "4 in", "length", "Smallest pulp end, inside bark; 0 in: no small wood.",
        ge=0, le="12 in",
    )
    min_sawlog_dbh: SawlogDbh = plain(SawlogDbh(), "Smallest DBH for a sawlog.", source=MEMORY)
    form_class: float = plain(
        78, "Girard form class, where a tree has logs but no height.", ge=60, le=95
    )
    defect_pct: float = quantity(
        "defect", "0 %", "percent", "Where defect_pct is blank; reported as gross = net.", ge=0,
        le=100, source=OURS,
    )
    height_model: Literal["calibrated", "default"] = plain(
        "calibrated", "Heights from the measured trees (3 or more), or the default curve.",
        source=OURS,
    )
    weight_error_pct: float = quantity(
        "weight_error", "15 %", "percent", "Carried to the unsafe side of every load check.",
        ge=0, le=60, source=MEMORY,
    )
    bark: bool = plain(True, "Weights with bark.", source=OURS)
    cord_solid_m3: float = quantity(
        "cord_solid", "80 ft^3", "volume", "Solid wood in a stacked cord of 128 cubic feet.",
        ge="50 ft^3", le="110 ft^3", source=MEMORY,
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
        1, "People on the job.", ge=1, le=20, caution="1: working alone",
        source="OSHA 29 CFR 1910.266: visual or audible contact",
    )
    work_style: Literal["tree-by-tree", "fell-then-winch"] = plain(
        "tree-by-tree", "Fell one, winch one; or fell all first.", source=OURS
    )
    harvest: Literal["far-first", "near-first"] = plain(
        "far-first", "Order of the spurs.", source="common practice, no source"
    )
    hours_per_day: float = plain(6, "Working hours of a day.", gt=0, le=14, unit="h", source=OURS)
    utilisation: float = plain(
        0.70, "Productive share of the day.", gt=0, le=1, source=MEMORY
    )
    speed_empty_mps: float = quantity(
        "speed_empty", "4.5 km/h", "speed", "Driving empty.", gt=0, le="20 km/h", source=MEMORY
    )
    speed_loaded_mps: float = quantity(
        "speed_loaded", "3.0 km/h", "speed", "Driving loaded.", gt=0, le="15 km/h", source=MEMORY
    )
    rope_out_mps: float = quantity(
        "rope_out", "40 m/min", "speed", "Rope hauled out by hand on the level.", gt=0,
        le="120 m/min", source=MEMORY,
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
        "turn_fixed", "2 min", "minutes", "Fixed time of a load.", ge=0, le="60 min",
        source=MEMORY,
    )
    fell_limb_buck_min_per_m3: float = quantity(
        "fell_limb_buck", "17.9 min/m^3", "time per volume", "Felling, limbing and bucking.",
        ge=0, le=200, source="published time study (opened), trees of 0.3 m3",
    )
    closeout_min: float = quantity(
        "closeout", "15 min", "minutes", "Closing 100 m of trail.", ge=0, le="600 min",
        source="ours, no source",
    )
    hours_range: float = plain(
        0.35, "Plus or minus share printed with every hour figure.", ge=0, le=1, source=OURS
    )
    breakout: float = plain(
        0.4, "Added to the steady pull at the start.", ge=0, le=2, source=MEMORY
    )
    fuel_l_per_h: tuple[float, ...] = quantity(
        "fuel", None, "fuel rate", "Fuel, low and high.", gt=0, le=100, many=("3 L/h", "6 L/h"),
        source=MEMORY, count=2,
    )
    cost_per_hour: CostPerHour = plain(
        CostPerHour(), "Cost of labour and machine; blank: no money.", source=OURS
    )
    log: str = plain("", "log.csv of real loads; calibrates the times.", source=OURS)


class TreatmentTable(Table):
    """The owner's aims; blank is not judged, and the report says so."""

    residual_min_m2_per_ha: float | None = quantity(
        "residual_min", None, "basal area", "Least basal area left.", ge=0, le=100, source=OURS,
        words={"": None},
    )
    removal_max_pct: float | None = quantity(
        "removal_max", "33 %", "percent", "Most basal area removed.", ge=0, le=100,
        source=MEMORY, words={"": None},
    )
    gap_max_m: float | None = quantity(
        "gap_max", "60 ft", "length", "Largest gap, as a circle's diameter.", ge=0, le="1000 ft",
        source=OURS, words={"": None},
    )
    leave_damage_max_pct: float | None = quantity(
        "leave_damage_max", "10 %", "percent", "Most leave stems damaged.", ge=0, le=100,
        source="UNH Good Forestry 5.4: experienced operators hold 10 % or less",
        words={"": None},
    )


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
        "turn_radius", "50 ft", "length", "Centre-line radius of a turn.", ge="15 ft",
        le="200 ft", source=MEMORY,
    )
    deck: Deck = plain(Deck(), "How logs are piled.", source=MEMORY)


class OutputsTable(Table):
    """Paper and language of the sheets."""

    paper: Literal["letter", "a4"] = plain("letter", "Paper of the sheets.", source=OURS)
    language: Literal["en"] = plain("en", "Language of the sheets.", source=OURS)
