"""Tables of area.toml about soil, the choice between layouts, and the owner's aims."""

from typing import Literal, Self

from pydantic import model_validator

from layout.settings.fields import MEMORY, OURS, Table, plain, quantity
from layout.sources import DIPS, LEAVE_DAMAGE, SOIL_AIM, SOIL_LIMIT, WATERBREAKS

SOIL_15 = str(SOIL_LIMIT)
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
        "limit",
        "15 %",
        "percent",
        "Trails and turning places, of the stand.",
        gt=0,
        le=40,
        caution="aim",
        source=SOIL_15,
    )
    aim_pct: float = quantity(
        "aim", "10 %", "percent", "Aimed at.", gt=0, le=40, source=str(SOIL_AIM)
    )
    class_passes: tuple[int, int] = plain(
        (3, 10),
        "Loaded passes: fewer than the first class 1, than the second class 2.",
        source=OURS,
    )
    compaction: Compaction = plain(Compaction(), "Compaction by passes.", source=OURS)
    k_factor: float = plain(
        0.32,
        "Soil erodibility, US customary units; default, not your soil.",
        gt=0,
        le=0.7,
        source=MEMORY,
    )
    cover: Cover = plain(Cover(), "Soil cover factors.", source=MEMORY)
    ruts: Ruts = plain(Ruts(), "Ruts that stop the work.", source=RUTS)
    map: str = plain(
        "", "Soil survey polygons with drainage_class (well, poorly ...).", source=OURS
    )

    erosion_hazard: Literal["", "low", "moderate", "high", "extreme"] = plain(
        "",
        "Erosion hazard; where known, the closer of its spacing and the grade table counts.",
        source=str(WATERBREAKS),
    )
    dips: Literal["", "broad", "rolling"] = plain(
        "",
        "Dips in place of bars: broad (grades of 3 to 5 %), rolling (those and up to 15 %).",
        source=str(DIPS),
    )

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
    corridor: float = plain(0.1, "Per m2 of winching corridor.", ge=0, le=100, source=PER_M2)
    wet_ground: float = plain(
        3.0,
        "Multiplies the above in wet hollows, possible channels and poorly drained soil.",
        ge=1,
        le=100,
        source=PER_M2,
    )
    stem_removed_m2: float = quantity(
        "stem_removed",
        "10 m^2",
        "area",
        "A leave stem inside a trail.",
        ge=0,
        le="1 ha",
        source=PER_M2,
    )
    stem_brushed_m2: float = quantity(
        "stem_brushed",
        "1.5 m^2",
        "area",
        "A leave stem brushed by a pull.",
        ge=0,
        le="1 ha",
        source=PER_M2,
    )
    pull_m2_per_m: float = quantity(
        "pull",
        "0.25 m^2/m",
        "area per length",
        "Per metre of winching.",
        ge=0,
        le=100,
        source=PER_M2,
    )
    setup_m2: float = quantity(
        "setup", "2 m^2", "area", "One more winch position.", ge=0, le="1 ha", source=PER_M2
    )
    spur_start_m2: float = quantity(
        "spur_start", "10 m^2", "area", "One more junction.", ge=0, le="1 ha", source=PER_M2
    )
    downhill_pull_m2: float = quantity(
        "downhill_pull",
        "2 m^2",
        "area",
        "A pull whose stump is above the fairlead.",
        ge=0,
        le="1 ha",
        source=PER_M2,
    )
    crossing_m2: float = quantity(
        "crossing",
        "200 m^2",
        "area",
        "One stream crossing, where allowed.",
        ge=0,
        le="10 ha",
        source=PER_M2,
    )
    serve_worth_m2: float = quantity(
        "serve_worth",
        "200 m^2",
        "area",
        'Ground a tree may cost before it is left standing; "all" serves every tree.',
        ge=0,
        source=PER_M2,
        words={"all": float("inf")},
        infinite=True,
    )
    time_limit_s: float = quantity(
        "time_limit", "5 min", "seconds", "Wall time of the choice.", ge=1, le="24 h", source=OURS
    )
    gap_pct: float = quantity(
        "gap",
        "0.1 %",
        "percent",
        "Proved distance from the best, at which to stop.",
        ge=0,
        le=20,
        source=OURS,
    )
    seed: int = plain(0, "Seed of the solver.", ge=0, le=2**31 - 1, source=OURS)


class TreatmentTable(Table):
    """The owner's aims; blank is not judged, and the report says so."""

    residual_min_m2_per_ha: float | None = quantity(
        "residual_min",
        None,
        "basal area",
        "Least basal area left.",
        ge=0,
        le=100,
        source=OURS,
        words={"": None},
    )
    removal_max_pct: float | None = quantity(
        "removal_max",
        "33 %",
        "percent",
        "Most basal area removed.",
        ge=0,
        le=100,
        source=MEMORY,
        words={"": None},
    )
    gap_max_m: float | None = quantity(
        "gap_max",
        "60 ft",
        "length",
        "Largest gap, as a circle's diameter.",
        ge=0,
        le="1000 ft",
        source=OURS,
        words={"": None},
    )
    leave_damage_max_pct: float | None = quantity(
        "leave_damage_max",
        "10 %",
        "percent",
        "Most leave stems damaged.",
        ge=0,
        le=100,
        source=str(LEAVE_DAMAGE),
        words={"": None},
    )
