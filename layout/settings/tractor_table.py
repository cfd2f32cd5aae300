"""[tractor]: the machine, with presets for what is not known of it."""

from typing import Any, Literal, Self

from pydantic import model_validator

from layout.settings.fields import MEMORY, OURS, Table, plain, quantity
from layout.sources import WINCH_OUTFIT

Answer = Literal["yes", "no", "?"]
ROPS = "common practice; rollover frame, belt and rear screen are asked, never assumed"

# Invented machines of about 35, 60 and 100 hp at the PTO, what else they measure from memory:
# unverified; the user must overwrite them with the machine's own figures.
PRESETS: dict[str, dict[str, Any]] = {
    "compact": {
        "mass_kg": 2100.0,
        "front_share_pct": 38.0,
        "pto_power_kw": 26.0,
        "lift_rating_kg": 900.0,
        "wheelbase_m": 1.75,
        "track_m": 1.25,
        "width_m": 1.5,
        "length_m": 4.2,
        "cg_height_m": 0.75,
        "pivot_height_m": 0.45,
        "hitch_height_m": 0.45,
        "load_behind_axle_m": 0.85,
        "fairlead_height_m": 0.8,
    },
    "mid": {
        "mass_kg": 3200.0,
        "front_share_pct": 38.0,
        "pto_power_kw": 45.0,
        "lift_rating_kg": 1500.0,
        "wheelbase_m": 2.1,
        "track_m": 1.5,
        "width_m": 1.9,
        "length_m": 5.0,
        "cg_height_m": 0.85,
        "pivot_height_m": 0.5,
        "hitch_height_m": 0.5,
        "load_behind_axle_m": 0.9,
        "fairlead_height_m": 0.9,
    },
    "large": {
        "mass_kg": 4800.0,
        "front_share_pct": 38.0,
        "pto_power_kw": 75.0,
        "lift_rating_kg": 2800.0,
        "wheelbase_m": 2.35,
        "track_m": 1.65,
        "width_m": 2.1,
        "length_m": 5.4,
        "cg_height_m": 0.95,
        "pivot_height_m": 0.55,
        "hitch_height_m": 0.55,
        "load_behind_axle_m": 1.0,
        "fairlead_height_m": 1.0,
    },
}


def _of_preset(name: str) -> Any:
    """Give a default that looks the field up in the chosen preset."""
    return lambda data: PRESETS[data.get("preset", "mid")][name]


def _machine(
    key: str, name: str, kind: str, text: str, ge: str, le: str, source: str = MEMORY
) -> Any:
    """Declare a dimension of the machine, filled by the preset where left out."""
    return quantity(key, _of_preset(name), kind, text, ge=ge, le=le, source=source)


class TractorTable(Table):
    """Tractor and winch as they stand ready to work."""

    preset: Literal["compact", "mid", "large"] = plain(
        "mid",
        "Fills what is left out, and lists it; check against your own machine.",
        source=MEMORY,
    )
    mass_kg: float = _machine(
        "mass",
        "mass_kg",
        "mass",
        "Ready to work, winch and ballast on (weighed).",
        "300 kg",
        "20 t",
    )
    front_share_pct: float = _machine(
        "front_share",
        "front_share_pct",
        "percent",
        "Share of the mass on the front axle, level, winch raised.",
        "10 %",
        "70 %",
    )
    drive: Literal["2wd", "4wd"] = plain("4wd", "Driven wheels.", source=OURS)
    four_wheel_braking: bool = plain(
        False,
        "4WD engaged downhill, or trailing brakes; false: the rear axle alone, and a caution "
        "where a 4WD tractor must engage.",
        source=OURS,
    )
    pto_power_kw: float = _machine(
        "pto_power", "pto_power_kw", "power", "Power at the PTO.", "5 kW", "300 kW"
    )
    driveline: float = plain(
        0.75, "Share of PTO power that reaches the ground.", gt=0, le=1, source=MEMORY
    )
    lift_rating_kg: float = _machine(
        "lift_rating",
        "lift_rating_kg",
        "mass",
        "Three-point lift at the hitch (the plate).",
        "100 kg",
        "10 t",
    )
    wheelbase_m: float = _machine(
        "wheelbase", "wheelbase_m", "length", "Front to rear axle.", "1 m", "4 m"
    )
    track_m: float = _machine(
        "track", "track_m", "length", "Between outer tyre contact centres.", "0.8 m", "3 m"
    )
    width_m: float = _machine("width", "width_m", "length", "Widest part.", "0.9 m", "3.5 m")
    length_m: float = _machine("length", "length_m", "length", "Tractor and winch.", "2 m", "10 m")
    cg_height_m: float = _machine(
        "cg_height",
        "cg_height_m",
        "length",
        "Height of the centre of gravity.",
        "0.3 m",
        "2 m",
        "Penn State Extension, Tractor Stability: about 10 in above the rear axle",
    )
    pivot_height_m: float = _machine(
        "pivot_height",
        "pivot_height_m",
        "length",
        "Height of the front axle pivot.",
        "0.2 m",
        "1.5 m",
    )
    hitch_height_m: float = _machine(
        "hitch_height", "hitch_height_m", "length", "Height of the drag point.", "0.2 m", "1.5 m"
    )
    load_behind_axle_m: float = _machine(
        "load_behind_axle",
        "load_behind_axle_m",
        "length",
        "Lifted log end behind the rear axle.",
        "0.2 m",
        "3 m",
    )
    fairlead_height_m: float = _machine(
        "fairlead_height",
        "fairlead_height_m",
        "length",
        "Height the rope leaves the winch at.",
        "0.2 m",
        "3 m",
    )
    traction: float = plain(
        0.40,
        "Net traction, like 0.50 dry firm, 0.35 frozen with chains; left out: 0.40 dry, "
        "0.30 wet, 0.20 frozen, 0.10 more with chains.",
        gt=0,
        le=0.7,
        source=MEMORY,
    )
    braking: float = plain(
        0.40, "The same, braking downhill; never more than traction.", gt=0, le=0.7, source=MEMORY
    )
    skid_friction: tuple[float, float] = plain(
        (0.3, 0.8),
        "Low and high friction of a dragged log; the unsafe end is used.",
        source="memory: unverified; a range, as Navratil and Skoupy 2002 ask",
    )
    lifted_share: float = plain(
        0.5,
        "Share of the log's weight on the tractor.",
        ge=0,
        le=0.8,
        source="statics: a uniform log lifted at its very end",
    )
    front_min_pct: float = quantity(
        "front_min",
        "20 %",
        "percent",
        "Least front axle load, of unladen mass.",
        ge=10,
        le=60,
        caution="under 20 %",
        source="implement maker's ballast rule (opened)",
    )
    load_max: float = plain(
        0.667,
        "Largest load, as a share of tractor and winch mass.",
        gt=0,
        le=1.0,
        caution="over 0.667",
        source=str(WINCH_OUTFIT),
    )
    tip_margin_deg: float = quantity(
        "tip_margin",
        "10 deg",
        "angle",
        "Kept from the static tipping angle.",
        ge=0,
        le=30,
        source="one web calculator (opened, weak)",
    )
    tip_share: float = plain(
        0.5, "Largest share of the static tipping angle.", gt=0, le=0.8, source=MEMORY
    )
    wheel_bump_m: float = quantity(
        "wheel_bump",
        "0.2 m",
        "length",
        "One wheel raised this much.",
        ge=0,
        le="0.6 m",
        source=MEMORY,
    )
    chains: bool = plain(False, "Tyre chains on.", source=OURS)
    rollover_frame: Answer = plain("?", "Rollover frame fitted: yes, no or ?.", source=ROPS)
    belt: Answer = plain("?", "Seat belt fitted and worn: yes, no or ?.", source=ROPS)
    screen: Answer = plain("?", "Rear screen fitted: yes, no or ?.", source=ROPS)
    belly_guard: Answer = plain("?", "Guard under the tractor: yes, no or ?.", source=ROPS)
    front_ballast: Answer = plain(
        "?", "Front weights on, counted in mass and front_share: yes, no or ?.", source=ROPS
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        """Refuse what cannot be a tractor."""
        faults = []
        if self.track_m > self.width_m + 1e-9:
            faults.append(
                f"track ({self.track_m:g} m) is wider than width ({self.width_m:g} m); "
                "the tyres cannot stand outside the machine"
            )
        if self.wheelbase_m >= self.length_m:
            faults.append(
                f"wheelbase ({self.wheelbase_m:g} m) is not shorter than length "
                f"({self.length_m:g} m)"
            )
        low, high = self.skid_friction
        if not 0 < low <= high <= 2:
            faults.append(
                f"skid_friction [{low:g}, {high:g}] must be a low and a high value "
                "between 0 and 2, like [0.3, 0.8]"
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
            if name in PRESETS["mid"] and name not in self.model_fields_set
        )
