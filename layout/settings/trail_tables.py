"""Tables of area.toml that limit trails and winching."""

from typing import Any, Literal, Self

from pydantic import model_validator

from layout.settings.fields import MEMORY, OURS, PRACTICE, Table, plain, quantity
from layout.sources import (
    FARM_TRACTOR_SLOPES,
    ROPE_STRENGTH,
    SNATCH_ANCHOR,
    TRAIL_GRADE,
    TRAIL_PITCH,
)
from layout.units import GRAVITY_MPS2

WRAP_M = 0.5  # rope on one wrap of a bare drum; memory: unverified
TONNE_KN = GRAVITY_MPS2

# What goes with the tractor of the same name: 2.5, 4 and 6 t of pull, 10 kW of PTO power
# for each of which the tractor has; winches of 250 to 600 kg. Invented; memory: unverified.
WINCH_PRESETS: dict[str, dict[str, float]] = {
    "compact": {"pull_rating_kn": 2.5 * TONNE_KN, "rope_breaking_kn": 52.0, "mass_kg": 250.0},
    "mid": {"pull_rating_kn": 4 * TONNE_KN, "rope_breaking_kn": 80.0, "mass_kg": 400.0},
    "large": {"pull_rating_kn": 6 * TONNE_KN, "rope_breaking_kn": 120.0, "mass_kg": 600.0},
}

SKID_GRADE = str(TRAIL_GRADE)
FARM_TRACTOR = str(FARM_TRACTOR_SLOPES)
TURNAROUND = "memory: unverified; a turning place every 500 ft is WAC 296-54-57350(4)"


class TrailsTable(Table):
    """Limits of trails; a caution is the softer tier, one finding a run."""

    width_main_m: float = quantity(
        "width_main", "12 ft", "length", "Width of the main trail.", ge="6 ft", le="20 ft"
    )
    width_spur_m: float = quantity(
        "width_spur", "10 ft", "length", "Width of a spur.", ge="6 ft", le="20 ft"
    )
    favourable_pct: float = quantity(
        "favourable",
        "20 %",
        "grade",
        "Steepest sustained grade, loaded downhill.",
        gt=0,
        le=25,
        caution="favourable_caution",
        source=SKID_GRADE,
    )
    favourable_caution_pct: float = quantity(
        "favourable_caution",
        "15 %",
        "grade",
        "Above this a downhill run is a caution.",
        ge=0,
        le=25,
        source=FARM_TRACTOR,
    )
    favourable_short_pct: float = quantity(
        "favourable_short",
        "25 %",
        "grade",
        "Steepest downhill grade of a short pitch.",
        gt=0,
        le=25,
        source=str(TRAIL_PITCH),
    )
    adverse_pct: float = quantity(
        "adverse",
        "10 %",
        "grade",
        "Steepest sustained grade, loaded uphill.",
        gt=0,
        le=15,
        caution="adverse_caution",
        source=FARM_TRACTOR,
    )
    adverse_caution_pct: float = quantity(
        "adverse_caution",
        "5 %",
        "grade",
        "Above this an uphill run is a caution.",
        ge=0,
        le=15,
        source=OURS,
    )
    adverse_short_pct: float = quantity(
        "adverse_short",
        "15 %",
        "grade",
        "Steepest uphill grade of a short pitch.",
        gt=0,
        le=15,
        source=FARM_TRACTOR,
    )
    short_pitch_m: float = quantity(
        "short_pitch",
        "100 ft",
        "length",
        "Longest pitch over the sustained limit.",
        ge=0,
        le="200 ft",
        source="ours; state BMPs allow up to 200 ft (memory: unverified)",
    )
    back_up_m: float = quantity(
        "back_up",
        "250 ft",
        "length",
        "Farthest the tractor backs to a position.",
        ge="20 ft",
        le="1000 ft",
        source=TURNAROUND,
    )
    cross_slope_pct: float = quantity(
        "cross_slope",
        "20 %",
        "grade",
        "Steepest slope across an unbenched trail.",
        gt=0,
        le=20,
        caution="cross_slope_caution",
        source=FARM_TRACTOR,
    )
    cross_slope_caution_pct: float = quantity(
        "cross_slope_caution",
        "15 %",
        "grade",
        "Above this the cross slope is a caution.",
        ge=0,
        le=20,
        source=FARM_TRACTOR,
    )
    bench_up_to_pct: float = quantity(
        "bench_up_to",
        "0 %",
        "grade",
        "Above cross_slope, benching is allowed up to here; 0 = no benching.",
        ge=0,
        le=60,
        source=OURS,
    )
    turn_radius_m: float = quantity(
        "turn_radius",
        "25 ft",
        "length",
        'Tightest bend; 40 ft where whole trees are dragged (extract = "tree").',
        ge="12 ft",
        le="200 ft",
        source=MEMORY,
    )
    junction_angle_deg: float = quantity(
        "junction_angle",
        "45 deg",
        "angle",
        "Between the outbound bearings of spur and main at the mouth.",
        ge=15,
        le=90,
        source="memory: unverified (practice, 30-60 degrees)",
    )
    junction_tolerance_deg: float = quantity(
        "junction_tolerance",
        "15 deg",
        "angle",
        "How far a junction may be off that.",
        ge=0,
        le=45,
        source=OURS,
    )
    spur_length_m: float = quantity(
        "spur_length",
        "400 ft",
        "length",
        "Longest spur, between junctions.",
        ge="20 ft",
        le="3000 ft",
        source=OURS,
    )
    crossings: bool = plain(False, "Whether trails may cross streams.", source=OURS)
    fixed: str = plain("", "Trails flagged or opened already: kept, names and all.", source=OURS)

    @model_validator(mode="after")
    def _tiers_in_order(self) -> Self:
        """Caution, sustained, short: each at least as steep as the one before."""
        faults = [
            f"{lower} ({low:g} %) is above {upper} ({up:g} %); lower it or raise {upper}"
            for lower, low, upper, up in (
                (
                    "favourable_caution",
                    self.favourable_caution_pct,
                    "favourable",
                    self.favourable_pct,
                ),
                ("favourable", self.favourable_pct, "favourable_short", self.favourable_short_pct),
                ("adverse_caution", self.adverse_caution_pct, "adverse", self.adverse_pct),
                ("adverse", self.adverse_pct, "adverse_short", self.adverse_short_pct),
                (
                    "cross_slope_caution",
                    self.cross_slope_caution_pct,
                    "cross_slope",
                    self.cross_slope_pct,
                ),
            )
            if low > up + 1e-9
        ]
        if 0 < self.bench_up_to_pct < self.cross_slope_pct:
            faults.append(
                f"bench_up_to ({self.bench_up_to_pct:g} %) is below cross_slope "
                f"({self.cross_slope_pct:g} %); set it above, or to 0 % for no benching"
            )
        if faults:
            raise ValueError("\n".join(faults))
        return self


def _of_preset(name: str) -> Any:
    """Give a default that looks the field up in the preset in force."""
    return lambda data: WINCH_PRESETS[data.get("preset", "mid")][name]


class WinchTable(Table):
    """The winch as its plate and manual describe it, and how it is used."""

    preset: Literal["compact", "mid", "large"] = plain(
        "mid",
        "Fills pull_rating, rope_breaking and mass; left out: as [tractor] preset.",
        source=MEMORY,
    )
    cable_m: float = quantity(
        "cable",
        "165 ft",
        "length",
        "Rope on the drum.",
        ge="20 ft",
        le="500 ft",
        source="observed user cables 160-230 ft (opened forum accounts)",
    )
    wraps_kept: int = plain(
        3, "Wraps kept on the drum: 3 steel, 8 synthetic.", ge=1, le=30, source=MEMORY
    )
    choker_m: float = quantity(
        "choker", "6 ft", "length", "Length a choker adds to the rope.", ge=0, le="30 ft"
    )
    winch_form: Literal["stem", "log"] = plain(
        "stem", "What is winched: whole limbed stems, or logs bucked at the stump.", source=OURS
    )
    working_reach_m: float = quantity(
        "working_reach",
        "130 ft",
        "length",
        "How far rope is dragged by hand on the level.",
        ge="20 ft",
        le="300 ft",
        caution="over 130 ft",
        source="ours, from Technodiversity glossary SP-11-21 (50 m at most on flat ground)",
    )
    uphill_reach_m: float = quantity(
        "uphill_reach",
        "100 ft",
        "length",
        "The same where the stump is 20 % above.",
        ge="10 ft",
        le="300 ft",
        source=OURS,
    )
    hump_m: float = quantity(
        "hump",
        "3 ft",
        "length",
        "Highest ground above the straight rope.",
        ge=0,
        le="10 ft",
        source=OURS,
    )
    pull_rating_kn: float = quantity(
        "pull_rating",
        _of_preset("pull_rating_kn"),
        "force",
        "Rated pull on the bare drum.",
        ge="5 kN",
        le="200 kN",
        source=MEMORY,
    )
    pull_full_drum_kn: float | None = quantity(
        "pull_full_drum",
        None,
        "force",
        "The same on the full drum, from its plate; blank: 65 % of the bare drum.",
        ge="3 kN",
        le="200 kN",
        source="memory: unverified (60 to 70 % of the bare drum)",
    )
    rope_breaking_kn: float = quantity(
        "rope_breaking",
        _of_preset("rope_breaking_kn"),
        "force",
        "Minimum breaking load of the rope.",
        ge="5 kN",
        le="500 kN",
        caution="under 2 x pull_rating",
        source=str(ROPE_STRENGTH),
    )
    mass_kg: float = quantity(
        "mass",
        _of_preset("mass_kg"),
        "mass",
        "The winch by itself: the three-point lift carries it and the load.",
        ge="50 kg",
        le="2 t",
        source=MEMORY,
    )
    pull_angle_deg: float = quantity(
        "pull_angle",
        "30 deg",
        "angle",
        "Widest pull from the parked axis, on level ground.",
        ge=0,
        le=90,
        caution="over 15 deg",
        source=PRACTICE,
    )
    snatch_block: bool = plain(False, "Whether a snatch block is used.", source=OURS)
    block_rating_kn: float | None = quantity(
        "block_rating",
        None,
        "force",
        "Rated load of block and strap.",
        ge="5 kN",
        le="1000 kN",
        source="statics: a block holds up to twice the pull",
    )
    anchor_dbh_m: float | None = quantity(
        "anchor_dbh",
        None,
        "length",
        "Smallest anchor tree for a block.",
        ge="4 in",
        le="60 in",
        source=str(SNATCH_ANCHOR),
    )
    chokers: int = plain(3, "Stems pulled at once at most.", ge=1, le=12)
    leave_hits: int = plain(
        2, "Most leave stems one pull may brush.", ge=0, le=10, caution="from 1", source=OURS
    )
    operation: Literal["mechanical", "radio"] = plain(
        "mechanical", "How the winch is worked; decides where the operator stands.", source=OURS
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        """Refuse what cannot be a winch."""
        faults = []
        if self.rope_free_m <= 0:
            faults.append(
                f"wraps_kept ({self.wraps_kept} wraps, about {self.wraps_kept * WRAP_M:.1f} m) "
                f"leaves nothing of cable ({self.cable_m:.1f} m) to pull with"
            )
        full = self.pull_full_drum_kn
        if full is not None and full > self.pull_rating_kn + 1e-9:
            faults.append(
                f"pull_full_drum ({full:.1f} kN) is above pull_rating "
                f"({self.pull_rating_kn:.1f} kN); a drum pulls less the more rope is on it"
            )
        if self.uphill_reach_m > self.working_reach_m + 1e-9:
            faults.append(
                f"uphill_reach ({self.uphill_reach_m:.1f} m) is above working_reach "
                f"({self.working_reach_m:.1f} m); rope is not dragged farther uphill"
            )
        if self.snatch_block:
            faults += [
                f"{key} is missing; a snatch block needs it, like {key} = {form}"
                for key, value, form in (
                    ("block_rating", self.block_rating_kn, '"80 kN"'),
                    ("anchor_dbh", self.anchor_dbh_m, '"18 in"'),
                )
                if value is None
            ]
        elif self.pull_angle_deg > 30:
            faults.append(
                f"pull_angle ({self.pull_angle_deg:g} deg) is above the ceiling of 30 deg "
                "without a snatch block; set 30 deg or less"
            )
        if faults:
            raise ValueError("\n".join(faults))
        return self

    @property
    def filled(self) -> tuple[str, ...]:
        """Keys a preset filled, as area.toml writes them."""
        return tuple(
            str(info.alias)
            for name, info in type(self).model_fields.items()
            if name in WINCH_PRESETS["mid"] and name not in self.model_fields_set
        )

    @property
    def rope_free_m(self) -> float:
        """Rope that may leave the drum, metres."""
        return self.cable_m - self.wraps_kept * WRAP_M

    @property
    def rope_reach_m(self) -> float:
        """Farthest the choked end can lie from the fairlead, metres along the ground."""
        return self.rope_free_m + self.choker_m
