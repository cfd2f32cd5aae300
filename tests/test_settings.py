"""Settings: units in every name, bounds that bite, all faults told at once."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.settings import AreaSettings, Limits, limits_in_force, load_settings
from layout.settings.faults import keys_of, table_of, tables_of
from layout.settings.fields import extra_of
from layout.settings.key_table import key_rows
from layout.settings.loading import settings_from
from layout.units import read

BASE: dict[str, Any] = {
    "format": 1,
    "area": {"name": "North lot", "units": "us"},
    "ground": {"dem": "dem.tif"},
    "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"},
}
SUFFIX = {
    "m": "_m",
    "%": "_pct",
    "deg": "_deg",
    "m2": "_m2",
    "kg": "_kg",
    "kN": "_kn",
    "kW": "_kw",
    "m/s": "_mps",
    "s": "_s",
    "min": "_min",
    "m3": "_m3",
    "m2/m": "_m2_per_m",
    "min/m3": "_min_per_m3",
    "m2/ha": "_m2_per_ha",
    "L/h": "_l_per_h",
}
GEAR = {"rollover_frame": "yes", "belt": "yes", "screen": "yes"}


def models(model: type[BaseModel] = AreaSettings) -> list[type[BaseModel]]:
    return [model, *(m for sub in tables_of(model).values() for m in models(sub))]


def with_keys(table: str, **keys: object) -> dict[str, Any]:
    return {**BASE, table: {**BASE.get(table, {}), **keys}}


def faults_of(raw: dict[str, Any]) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        settings_from(raw)
    return list(caught.value.faults)


def finding(code: str, raw: dict[str, Any]) -> Finding:
    (found,) = [f for f in settings_from(raw)[1] if f.code == code]
    return found


@pytest.mark.parametrize("model", models(), ids=lambda m: m.__name__)
def test_every_key_says_unit_source_and_text(model: type[BaseModel]) -> None:
    for name, info in model.model_fields.items():
        extra = extra_of(info)
        assert info.description, name
        assert extra["source"], name
        if "kind" in extra:
            assert name == f"{info.alias}{SUFFIX[extra['unit']]}", name
        elif info.alias is not None:
            assert name == info.alias


# Typed again from the design's page of area.toml, not from our models.
PRINTED = """
[ground]
condition = "dry"
dem_error = "0.15 m"
[property]
source = "tax_map"
error = "30 ft"
[stand]
setback = "10 ft"
list = "all"
position_error = "5 m"
[water]
channel_area = "2 acre"
[landing]
area = "0.15 acre"
[trails]
width_main = "12 ft"
width_spur = "10 ft"
favourable = "20 %"
favourable_caution = "15 %"
favourable_short = "25 %"
adverse = "10 %"
adverse_caution = "5 %"
adverse_short = "15 %"
short_pitch = "100 ft"
back_up = "250 ft"
cross_slope = "20 %"
cross_slope_caution = "15 %"
bench_up_to = "0 %"
turn_radius = "25 ft"
junction_angle = "45 deg"
junction_tolerance = "15 deg"
spur_length = "400 ft"
crossings = false
[winch]
cable = "165 ft"
wraps_kept = 3
choker = "6 ft"
winch_form = "stem"
working_reach = "130 ft"
hump = "3 ft"
uphill_reach = "100 ft"
pull_rating = "4 t"
rope_breaking = "80 kN"
pull_angle = "30 deg"
snatch_block = false
chokers = 3
leave_hits = 2
operation = "mechanical"
[tractor]
preset = "mid"
mass = "3.2 t"
front_share = "38 %"
drive = "4wd"
four_wheel_braking = false
pto_power = "45 kW"
driveline = 0.75
lift_rating = "1.5 t"
wheelbase = "2.1 m"
track = "1.5 m"
width = "1.9 m"
length = "5 m"
cg_height = "0.85 m"
pivot_height = "0.5 m"
hitch_height = "0.5 m"
load_behind_axle = "0.9 m"
fairlead_height = "0.9 m"
traction = 0.40
braking = 0.40
skid_friction = [0.3, 0.8]
lifted_share = 0.5
front_min = "20 %"
load_max = 0.667
tip_margin = "10 deg"
tip_share = 0.5
wheel_bump = "0.2 m"
chains = false
rollover_frame = "?"
belt = "?"
screen = "?"
belly_guard = "?"
front_ballast = "?"
[soil]
limit = "15 %"
aim = "10 %"
class_passes = [3, 10]
compaction = { flat = 0.25, sloping_or_wet = 0.50 }
k_factor = 0.32
cover = { bare = 0.45, closed = 0.10 }
ruts = { depth = "6 in", length = "50 ft" }
map = ""
erosion_hazard = ""
dips = ""
[objective]
main = 1.0
spur = 1.0
existing = 0.25
benched = 1.5
landing = 1.0
corridor = 0.1
wet_ground = 3.0
stem_removed = "10 m^2"
stem_brushed = "1.5 m^2"
pull = "0.25 m^2/m"
setup = "2 m^2"
spur_start = "10 m^2"
downhill_pull = "2 m^2"
crossing = "200 m^2"
serve_worth = "200 m^2"
time_limit = "5 min"
gap = "0.1 %"
seed = 0
[timber]
log_lengths = ["16 ft", "14 ft", "12 ft", "10 ft", "8 ft"]
trim = "6 in"
kerf = "0.25 in"
stump_height = "1 ft"
top_diameter = "10 in"
pulp_top = "4 in"
min_sawlog_dbh = { hardwood = "11 in", softwood = "9 in" }
form_class = 78
defect = "0 %"
height_model = "calibrated"
weight_error = "15 %"
bark = true
cord_solid = "80 ft^3"
[work]
extract = "log"
crew = 1
work_style = "tree-by-tree"
harvest = "far-first"
hours_per_day = 6
utilisation = 0.70
speed_empty = "4.5 km/h"
speed_loaded = "3.0 km/h"
rope_out = "40 m/min"
rope_in = "30 m/min"
hook = "1.0 min"
unhook = "0.5 min"
reset = "0.5 min"
turn_fixed = "2 min"
fell_limb_buck = "17.9 min/m^3"
closeout = "15 min"
hours_range = 0.35
breakout = 0.4
fuel = ["3 L/h", "6 L/h"]
cost_per_hour = { labour = "", machine = "" }
log = ""
watcher = ""
check_in = "30 min"
radio_channel = ""
[treatment]
residual_min = ""
removal_max = "33 %"
gap_max = "60 ft"
leave_damage_max = "10 %"
[truck]
kind = "tri-axle"
turn_radius = "50 ft"
deck = { stack_solid = 0.6, pile_height = "4 ft", gap_between_sorts = "3 ft", sorts = 2 }
[outputs]
paper = "letter"
language = "en"
declination = ""
"""


def test_the_defaults_are_the_printed_ones() -> None:
    printed = tomllib.loads(PRINTED)
    raw = {**BASE, **printed}
    raw["ground"] = {**BASE["ground"], **printed["ground"]}
    raw["stand"] = {**BASE["stand"], **printed["stand"]}
    assert settings_from(raw)[0] == settings_from(BASE)[0]
    left_out = {"rule", "payload", "block_rating", "anchor_dbh", "crs", "elevation_unit"}
    left_out |= {"pull_full_drum", "preset", "mass"}  # of [winch], filled by the tractor's preset
    for table, keys in printed.items():
        listed = set(keys_of(tables_of(AreaSettings)[table])) - left_out
        files = {k for k in listed - set(keys) if k not in {"log", "map"}}
        assert files <= {
            "dem", "access_road", "existing_trails", "keep_out", "may_use", "line", "boundary",
            "trees", "features", "rules", "at", "shape", "fixed", "plots",
        }  # fmt: skip


def test_defaults_lie_within_their_own_bounds() -> None:
    settings = settings_from(BASE)[0]
    assert AreaSettings.model_validate(settings.model_dump()) == settings


def test_python_takes_si_by_field_name() -> None:
    settings = AreaSettings.model_validate(with_keys("winch", cable_m=70.0))
    assert settings.winch.cable_m == 70.0
    assert settings.winch.rope_reach_m == pytest.approx(70.0 - 3 * 0.5 + 6 * 0.3048)
    with pytest.raises(ValidationError):
        settings.winch.cable_m = 80.0  # type: ignore[misc]


@pytest.mark.parametrize(
    ("table", "keys", "message"),
    [
        ("winch", {"cable": 50}, "[winch] cable: 50 has no unit; write it like \"165 ft\", as text "
         "in quotes with a unit"),
        ("winch", {"cabel": "50 m"}, '[winch] cabel: unknown key; did you mean "cable"?'),
        ("trails", {"cable": "50 m"}, "[trails] cable: unknown key; it belongs under [winch]"),
        ("trails", {"favorable": "10 %"}, '[trails] favorable: unknown key; did you mean '
         '"favourable"?'),
        ("outputs", {"zzz": 1}, "[outputs] zzz: unknown key; known here: paper, language, "
         "declination"),
        ("winch", {"cable_m": 50.0}, '[winch] cable_m: the key is cable, with a unit, like cable = '
         '"165 ft"'),
        ("winch", {"pull_rating": "5 T"}, '[winch] pull_rating: "5 T": a T may be 907, 1,000 or '
         '1,016 kg; write "t" (1,000 kg), "short ton" (2,000 lb), "kg" or "lb"'),
        ("winch", {"pull_angle": "12 %"}, '[winch] pull_angle: "12 %" is a percent, and this is an '
         'angle; write it like "30 deg"'),
        ("winch", {"pull_angle": "35 deg"}, "[winch]: pull_angle (35 deg) is above the ceiling of "
         "30 deg without a snatch block; set 30 deg or less"),
        ("winch", {"wraps_kept": "3"}, '[winch] wraps_kept: "3" must be a whole number, without '
         'quotes'),
        ("winch", {"snatch_block": "no"}, '[winch] snatch_block: "no" must be true or false, '
         'without quotes'),
        ("winch", {"snatch_block": True, "anchor_dbh": "20 in"}, "[winch]: block_rating is missing;"
         ' a snatch block needs it, like block_rating = "80 kN"'),
        ("winch", {"winch_form": "logs"}, '[winch] winch_form: "logs" must be one of "stem", "log";'
         ' did you mean "log"?'),
        ("winch", {"cable": "20 ft", "wraps_kept": 30}, "[winch]: wraps_kept (30 wraps, about 15.0 "
         "m) leaves nothing of cable (6.1 m) to pull with"),
        ("winch", {"pull_full_drum": "41 kN"}, "[winch]: pull_full_drum (41.0 kN) is above "
         "pull_rating (39.2 kN); a drum pulls less the more rope is on it"),
        ("winch", {"uphill_reach": "150 ft"}, "[winch]: uphill_reach (45.7 m) is above "
         "working_reach (39.6 m); rope is not dragged farther uphill"),
        ("winch", {"cable": "600 ft"}, '[winch] cable: "600 ft" is above the ceiling of 500 ft'),
        ("winch", {"cable": "1 ft"}, '[winch] cable: "1 ft" is below the least allowed, 20 ft'),
        ("winch", {"cable": "0 m"}, '[winch] cable: "0 m" is below the least allowed, 20 ft '
         '(6.1 m)'),
        ("winch", {"cable": "3e9 m"}, '[winch] cable: "3e9 m" is written with an exponent; write '
         'the number out, like "165 ft"'),
        ("ground", {"dem_error": "50 ft"}, '[ground] dem_error: "50 ft" is above the ceiling of '
         '10 m (32.8 ft)'),
        ("trails", {"favourable": "26 %"}, '[trails] favourable: "26 %" is above the ceiling of '
         '25 %'),
        ("trails", {"adverse": "12 deg"}, '[trails] adverse: "12 deg" (= 21 %) is above the ceiling'
         ' of 15 %'),
        ("trails", {"cross_slope": "30 %"}, '[trails] cross_slope: "30 %" is above the ceiling of '
         '20 %'),
        ("trails", {"adverse": "16 %"}, '[trails] adverse: "16 %" is above the ceiling of 15 %'),
        ("trails", {"favourable": "10 %"}, "[trails]: favourable_caution (15 %) is above favourable"
         " (10 %); lower it or raise favourable"),
        ("trails", {"bench_up_to": "10 %"}, "[trails]: bench_up_to (10 %) is below cross_slope "
         "(20 %); set it above, or to 0 % for no benching"),
        ("trails", {"favourable": "0 %"}, '[trails] favourable: "0 %" must be more than 0 %'),
        ("tractor", {"mass": "3,2 t"}, '[tractor] mass: "3,2 t" has a comma; write the decimals '
         'with a point and no thousands mark, like "3.2 t"'),
        ("tractor", {"preset": "medium"}, '[tractor] preset: "medium" must be one of "compact", '
         '"mid", "large"'),
        ("tractor", {"belt": True}, '[tractor] belt: true must be one of "yes", "no", "?"'),
        ("tractor", {"track": "2.5 m"}, "[tractor]: track (2.5 m) is wider than width (1.9 m); the "
         "tyres cannot stand outside the machine"),
        ("tractor", {"skid_friction": [0.8, 0.3]}, "[tractor]: skid_friction [0.8, 0.3] must be a "
         "low and a high value between 0 and 2, like [0.3, 0.8]"),
        ("tractor", {"skid_friction": [0.3]}, "[tractor] skid_friction: [0.3] must be a list like "
         "[0.3, 0.8]"),
        ("tractor", {"traction": "40 %"}, '[tractor] traction: "40 %" must be a number without a '
         'unit or quotes'),
        ("tractor", {"traction": float("nan")}, "[tractor] traction: nan must be a number without "
         "a unit or quotes"),
        ("soil", {"aim": "20 %"}, "[soil]: aim (20 %) is above limit (15 %); lower the aim"),
        ("soil", {"class_passes": [10, 3]}, "[soil]: class_passes must be two rising counts, like "
         "[3, 10]"),
        ("soil", {"ruts": {"depth": 6}}, '[soil.ruts] depth: 6 has no unit; write it like '
         '"165 ft", as text in quotes with a unit'),
        ("work", {"fuel": ["3 L/h"]}, '[work] fuel: must hold 2 of them, like ["3 L/h"]'),
        ("work", {"cost_per_hour": {"labour": "25"}}, '[work.cost_per_hour] labour: "25" must be a '
         'number without a unit or quotes'),
        ("timber", {"log_lengths": "16 ft"}, '[timber] log_lengths: must be a list like '
         '["165 ft"]'),
        ("timber", {"log_lengths": ["0 ft"]}, '[timber] log_lengths: "0 ft" must be more than 0 and'
         ' at most 60 ft'),
        ("timber", {"log_lengths": ["20 m"]}, '[timber] log_lengths: "20 m" must be more than 0 and'
         ' at most 60 ft (18.3 m)'),
        ("timber", {"rule": "doile"}, '[timber] rule: "doile" must be one of '
         '"international-quarter", "scribner", "doyle", "cubic"; did you mean "doyle"?'),
        ("objective", {"serve_worth": "some"}, '[objective] serve_worth: "some" is not a number '
         'followed by one unit; write it like "0.15 acre"'),
        ("landing", {"at": [1, 2, 3]}, "[landing] at: [1, 2, 3] is no place; write [x, y] in the "
         "area's CRS or {lon = ..., lat = ...}, or for several landings a list of these"),
        ("access", {"gate": {"lon": 200, "lat": 3}}, "[access] gate: {'lon': 200, 'lat': 3} is no "
         "place; write [x, y] in the area's CRS or {lon = ..., lat = ...}"),
        ("ground", {"dem": 3}, '[ground] dem: 3 is no file; write it like "dem.tif", or tiles like '
         '["a.tif", "b.tif"]'),
        ("ground", {"dem": []}, '[ground] dem: [] is no file; write it like "dem.tif", or tiles '
         'like ["a.tif", "b.tif"]'),
        ("ground", {"dem": ["a.tif", " "]}, "[ground] dem: ['a.tif', ' '] is no file; write it "
         'like "dem.tif", or tiles like ["a.tif", "b.tif"]'),
        ("ground", {"condition": "Dry"}, '[ground] condition: "Dry" must be one of "dry", "wet", '
         '"frozen"; did you mean "dry"?'),
        ("ground", {"dem": "/vsicurl/http://x/y.tif"}, "[ground] dem: '/vsicurl/http://x/y.tif' is "
         "a virtual file path; name an ordinary file"),
        ("water", {"rules": ["/vsizip/a"]}, "[water] rules: '/vsizip/a' is a virtual file path; "
         "name an ordinary file"),
        ("water", {"rules": "slope-50-2-over-10"}, '[water] rules: "slope-50-2-over-10" must be a '
         'list like ["slope-50-2-over-10"]'),
        ("area", {"name": "x" * 2000}, "[area] name: 2,000 signs are too many; 1,000 at most"),
        ("area", {"name": "a\x07b"}, "[area] name: holds a control sign; write it as plain text"),
        ("area", {"units": "imperial"}, '[area] units: "imperial" must be one of "us", "metric"'),
    ],
)  # fmt: skip
def test_one_fault_is_one_line(table: str, keys: dict[str, object], message: str) -> None:
    assert faults_of(with_keys(table, **keys)) == [f"area.toml {message}"]


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        ({**BASE, "format": 2}, "area.toml format: 2 is not known to this version; it reads "
         "format = 1"),
        ({**BASE, "wnch": {}}, 'area.toml wnch: unknown table; did you mean "winch"?'),
        ({**BASE, "cable": "5 m"}, "area.toml cable: unknown key; it belongs under [winch]"),
        ({**BASE, "winch": 5}, "area.toml: [winch] must be a table of keys, not 5"),
        ({k: v for k, v in BASE.items() if k != "ground"}, "area.toml: table [ground] is missing; "
         'add it with dem = "dem.tif"'),
        ({**BASE, "stand": {"boundary": "s.gpkg"}}, "area.toml [stand] trees: missing; add it, "
         'like trees = "trees.csv"'),
        ({**BASE, "area": {"name": "x"}}, 'area.toml [area] units: missing; add it, like units = '
         '"us"'),
    ],
)  # fmt: skip
def test_faults_of_the_file_itself(raw: dict[str, Any], message: str) -> None:
    assert faults_of(raw) == [message]


def test_all_faults_are_told_at_once() -> None:
    raw = with_keys("winch", cable=50, pull_rating="5 T") | {"trails": {"adverse": "16 %"}}
    assert len(faults_of(raw)) == 3


def test_a_fault_in_the_preset_is_told_without_its_consequences() -> None:
    assert len(faults_of(with_keys("tractor", preset="big"))) == 1


def test_a_preset_fills_what_is_left_out_and_says_so() -> None:
    raw = with_keys("tractor", preset="compact", mass="2.5 t", **GEAR)
    settings, _ = settings_from(raw)
    assert settings.tractor.mass_kg == 2500.0
    assert settings.tractor.track_m == 1.25
    said = finding("tractor_preset", raw)
    assert said.level == "unknown"
    assert "Not your machine" in said.message
    of_tractor, of_winch = said.message.split(" and [winch] ")
    assert "track" in of_tractor
    assert "mass" not in of_tractor
    assert of_winch.startswith("pull_rating, rope_breaking, mass from the compact preset")
    assert "check against your own machine" in of_winch
    assert not said.confirmed


PTO_KW = {"compact": 26.0, "mid": 45.0, "large": 75.0}  # typed again


@pytest.mark.parametrize(
    ("preset", "tonnes", "rope_kn"), [("compact", 2.5, 52), ("mid", 4, 80), ("large", 6, 120)]
)
def test_a_winch_goes_with_its_tractor(preset: str, tonnes: float, rope_kn: float) -> None:
    settings, found = settings_from(with_keys("tractor", preset=preset, **GEAR))
    winch = settings.winch
    assert winch.pull_rating_kn == pytest.approx(tonnes * 9.80665)
    assert winch.rope_breaking_kn == rope_kn
    assert settings.tractor.pto_power_kw == PTO_KW[preset]
    # Burgenland: 10 kW a tonne; a second published rule: kN not above kW; rope twice the pull
    assert PTO_KW[preset] >= 10 * tonnes
    # 35, 60 and 100 mechanical horsepower at the PTO
    horses = {"compact": 35, "mid": 60, "large": 100}[preset]
    assert PTO_KW[preset] / 0.7457 == pytest.approx(horses, abs=1)
    assert winch.pull_rating_kn <= PTO_KW[preset]
    assert rope_kn >= 2 * winch.pull_rating_kn
    assert 250 <= winch.mass_kg <= 600  # three-point winches; memory
    assert winch.mass_kg < settings.tractor.lift_rating_kg
    codes = {f.code for f in found}
    assert codes.isdisjoint({"rope_strength", "winch_power", "load_share", "tractor_front_axle"})


def test_a_winch_of_its_own_is_not_the_presets() -> None:
    raw = with_keys("tractor", preset="large") | {"winch": {"preset": "compact"}}
    assert settings_from(raw)[0].winch.pull_rating_kn == pytest.approx(2.5 * 9.80665)
    raw = with_keys("tractor", preset="large") | {
        "winch": {"pull_rating": "50 kN", "rope_breaking": "100 kN", "mass": "420 kg"}
    }
    settings, found = settings_from(raw)
    assert (settings.winch.pull_rating_kn, settings.winch.mass_kg) == (50.0, 420.0)
    assert settings.winch.filled == ()
    assert "[winch]" not in next(f.message for f in found if f.code == "tractor_preset")


def test_a_machine_given_in_full_takes_nothing_from_a_preset() -> None:
    full = {k: v for k, v in tomllib.loads(PRINTED)["tractor"].items() if k != "preset"}
    assert settings_from(with_keys("tractor", **full))[0].tractor.filled == ()


@pytest.mark.parametrize("key", sorted(GEAR))
@pytest.mark.parametrize("answer", ["no", "?"])
def test_gear_not_there_or_not_known_stops(key: str, answer: str) -> None:
    said = finding(f"tractor_{key}", with_keys("tractor", **{**GEAR, key: answer}))
    assert said.level == "stop"
    assert key in said.message


def test_a_belly_guard_and_front_weights_are_asked_for() -> None:
    said = finding("tractor_asked", with_keys("tractor", **GEAR, belly_guard="yes"))
    assert said.level == "unknown" and "belly_guard" not in said.message
    assert "front_ballast" in said.message
    raw = with_keys("tractor", **GEAR, belly_guard="yes", front_ballast="yes")
    assert not [f for f in settings_from(raw)[1] if f.code == "tractor_asked"]


def test_no_preset_answers_for_the_gear() -> None:
    for preset in ("compact", "mid", "large"):
        codes = {f.code for f in settings_from(with_keys("tractor", preset=preset))[1]}
        assert {f"tractor_{key}" for key in GEAR} <= codes
    assert not {f.code for f in settings_from(with_keys("tractor", **GEAR))[1] if f.level == "stop"}


def test_a_rope_under_twice_the_pull_is_a_caution() -> None:
    said = finding("rope_strength", with_keys("winch", pull_rating="45 kN"))
    assert (said.level, said.value, said.limit, said.unit) == ("caution", 80.0, 90.0, "kN")
    codes = {f.code for f in settings_from(with_keys("winch", pull_rating="40 kN"))[1]}
    assert "rope_strength" not in codes


def test_ten_kilowatts_for_each_tonne_of_pull() -> None:
    raw = with_keys("winch", pull_rating="5 t", rope_breaking="100 kN")
    said = finding("winch_power", raw)
    assert said.limit == pytest.approx(50.0)
    assert "Burgenland" in said.source
    assert "its 49 kN are more" in said.message  # kN above kW, a second published rule
    assert "kN" not in finding("winch_power", with_keys("tractor", pto_power="39.9 kW")).message
    codes = {f.code for f in settings_from(with_keys("winch", pull_rating="4.5 t"))[1]}
    assert "winch_power" not in codes


def test_a_load_over_two_thirds_is_a_caution() -> None:
    said = finding("load_share", with_keys("tractor", load_max=0.8))
    assert said.message == (
        "Loads up to 80% of tractor and winch are allowed; two thirds is the published limit. "
        "Set [tractor] load_max = 0.667."
    )


def test_a_snatch_block_holds_twice_the_pull() -> None:
    raw = with_keys(
        "winch", snatch_block=True, block_rating="60 kN", anchor_dbh="12 in", pull_angle="80 deg"
    )
    assert finding("block_rating", raw).level == "stop"
    said = finding("anchor_dbh", raw)
    assert said.level == "stop"
    assert said.limit == pytest.approx(0.5 / 80 * 2 * 39.2266)
    enough = with_keys("winch", snatch_block=True, block_rating="79 kN", anchor_dbh="20 in")
    assert {"block_rating", "anchor_dbh"}.isdisjoint(f.code for f in settings_from(enough)[1])


def test_a_front_axle_set_lighter_than_published_is_a_caution() -> None:
    light = {"front_share": "15 %", "front_min": "10 %"}
    said = finding("front_min", with_keys("tractor", **light))
    assert said.level == "caution" and said.subject_id == "tractor.front_min"
    assert (said.value, said.limit) == (10.0, 20.0)  # FRONT_AXLE
    for least in ("20 %", "25 %"):
        _, found = settings_from(with_keys("tractor", front_min=least))
        assert "front_min" not in {f.code for f in found}


def test_a_front_axle_too_light_without_a_load_stops() -> None:
    said = finding("tractor_front_axle", with_keys("tractor", front_share="19 %"))
    assert (said.level, said.value, said.limit, said.unit) == ("stop", 19.0, 20.0, "%")
    codes = {f.code for f in settings_from(with_keys("tractor", front_share="20 %"))[1]}
    assert "tractor_front_axle" not in codes


def test_a_lift_that_hardly_carries_its_winch_stops() -> None:
    said = finding("tractor_lift", with_keys("tractor", lift_rating="400 kg"))
    assert (said.level, said.limit, said.unit) == ("stop", 400.0, "kg")
    assert "rated 880 lb and the winch weighs 880 lb" in said.message
    codes = {f.code for f in settings_from(with_keys("tractor", lift_rating="410 kg"))[1]}
    assert "tractor_lift" not in codes


def test_notes_become_findings_with_their_table() -> None:
    raw = with_keys("trails", adverse_caution="2 deg") | {"winch": {"pull_rating": "4 t"}}
    notes = {f.subject_id: f.message for f in settings_from(raw)[1] if f.code == "settings_note"}
    assert notes == {
        "trails.adverse_caution": 'area.toml [trails] adverse_caution: "2 deg" is a grade in '
        "degrees; read as 3 %",
        "winch.pull_rating": 'area.toml [winch] pull_rating: "4 t" is a mass; taken as the force '
        "it weighs, 39.2 kN",
    }


def test_whole_trees_take_the_wide_bend_unless_told_otherwise() -> None:
    assert settings_from(with_keys("work", extract="tree"))[0].trails.turn_radius_m == (
        pytest.approx(12.192)
    )
    raw = with_keys("work", extract="tree") | {"trails": {"turn_radius": "30 ft"}}
    assert settings_from(raw)[0].trails.turn_radius_m == pytest.approx(9.144)
    assert finding("tree_length_bend", raw).level == "caution"


def test_words_that_stand_for_values() -> None:
    raw = with_keys("objective", serve_worth="all") | {"treatment": {"gap_max": ""}}
    settings = settings_from(raw)[0]
    assert settings.objective.serve_worth_m2 == float("inf")
    assert settings.treatment.gap_max_m is None
    assert settings.work.cost_per_hour.labour is None
    assert AreaSettings.model_validate(settings.model_dump()) == settings


def test_the_line_error_follows_its_source() -> None:
    for source, feet in (("survey", 2), ("marked", 5), ("tax_map", 30), ("walked", 30)):
        settings = settings_from(with_keys("property", source=source))[0]
        assert settings.property.error_m == pytest.approx(feet * 0.3048)


def limits(condition: str = "dry", **trails: str) -> Limits:
    raw = {**BASE, "trails": trails, "ground": {"dem": "d", "condition": condition}}
    return limits_in_force(settings_from(raw)[0])


def test_dry_limits_are_the_users() -> None:
    assert limits() == Limits(20, 15, 25, 10, 5, 15, 20, 15, 30, 30.48, ())


@pytest.mark.parametrize("condition", ["wet", "frozen"])
def test_wet_or_frozen_lowers_every_ceiling_by_five(condition: str) -> None:
    got = limits(condition)
    assert (got.favourable_pct, got.favourable_short_pct) == (20, 20)
    assert (got.adverse_pct, got.adverse_short_pct) == (10, 10)
    assert (got.cross_pct, got.pull_angle_deg) == (15, 25)
    assert got.lowered == ("favourable_short", "adverse_short", "cross_slope", "pull_angle")


def test_a_limit_below_the_ceiling_of_the_day_stays() -> None:
    got = limits("wet", cross_slope="12 %", cross_slope_caution="10 %", favourable_short="20 %")
    assert (got.cross_pct, got.cross_caution_pct) == (12, 10)
    assert "cross_slope" not in got.lowered


def test_no_caution_stands_above_its_limit() -> None:
    got = limits("wet", favourable_caution="20 %", cross_slope_caution="18 %")
    assert got.cross_caution_pct == got.cross_pct == 15
    assert got.favourable_caution_pct <= got.favourable_pct


def test_the_day_does_not_limit_a_snatch_block() -> None:
    raw = with_keys(
        "winch", snatch_block=True, block_rating="90 kN", anchor_dbh="24 in", pull_angle="80 deg"
    ) | {"ground": {"dem": "d", "condition": "wet"}}
    assert limits_in_force(settings_from(raw)[0]).pull_angle_deg == 80


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("format = 1\n[area\n", "area.toml: not readable as TOML: Expected ']' at the end of a "
         "table declaration (at line 2, column 6)"),
        ('a = "x\n', "area.toml: not readable as TOML: Illegal character '\\n' (at line 1, column "
         "7)"),
        ("[winch]\ncable = 1\ncable = 2\n", "area.toml: not readable as TOML: Cannot overwrite a "
         "value (at line 3, column 10)"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_toml(tmp_path: Path, text: str, message: str) -> None:
    file = tmp_path / "area.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_settings(file)
    assert str(caught.value) == message


def test_a_file_in_another_encoding_or_far_too_large(tmp_path: Path) -> None:
    file = tmp_path / "area.toml"
    file.write_bytes(b'name = "caf\xe9"')
    with pytest.raises(InputError, match=r"^area\.toml: not UTF-8 text; save it as UTF-8$"):
        load_settings(file)
    file.write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match=r"^area\.toml: 1,000,001 bytes is no settings file"):
        load_settings(file)


def test_a_mark_at_the_start_of_the_file_is_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "area.toml"
    text = (
        '\ufeffformat = 1\n[area]\nname = "x"\nunits = "us"\n[ground]\ndem = "d.tif"\n'
        '[stand]\nboundary = "s.gpkg"\ntrees = "t.csv"\n'
    )
    file.write_text(text, encoding="utf-8")
    assert load_settings(file)[0].area.name == "x"


def test_the_table_of_keys_holds_every_key_once_with_its_default() -> None:
    rows = key_rows()
    places = [(row.table, row.key) for row in rows]
    assert len(set(places)) == len(places)
    counted = sum(
        len([n for n, i in m.model_fields.items() if (i.alias or n) not in tables_of(m)])
        for m in models()
    )
    assert len(rows) == counted
    by_place = dict(zip(places, rows, strict=True))
    row = by_place["trails", "favourable"]
    assert (row.unit, row.default, row.bounds) == ("%", '"20 %"', "over 0 to 25 %")
    assert row.caution == "favourable_caution"
    assert "Indiana" in row.source
    assert by_place["winch", "operation"].bounds == '"mechanical" | "radio"'
    assert by_place["timber.min_sawlog_dbh", "hardwood"].default == '"11 in"'


def test_shown_defaults_read_back_to_the_real_ones() -> None:
    for model in models():
        for name, info in model.model_fields.items():
            extra = extra_of(info)
            shown = extra.get("shown")
            if "kind" not in extra or not isinstance(shown, str):
                continue
            if shown and shown != "see text" and shown not in extra.get("words", {}):
                value = read(shown, extra["kind"]).value
                assert value == info.default, (table_of(model), name)


PLACES = [(table_of(m), key) for m in models() if table_of(m) for key in keys_of(m)]
ANY_VALUE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-10, 10**6)
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(
        ["5 m", "12 %", "3 deg", "all", "", "yes", "-5 m", "1 t", "/vsimem/x", "0 m"]
    ),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=2)
    ),
    max_leaves=4,
)


@hypothesis_settings(deadline=None)
@given(st.lists(st.tuples(st.sampled_from(PLACES), ANY_VALUE), min_size=1, max_size=4))
def test_any_values_give_settings_or_faults_in_lines(
    changes: list[tuple[tuple[str, str], object]],
) -> None:
    raw: dict[str, Any] = {table: dict(keys) for table, keys in BASE.items() if table != "format"}
    for (table, key), value in changes:
        inner = raw
        for part in table.split("."):
            inner = inner.setdefault(part, {})
            if not isinstance(inner, dict):
                return
        inner[key] = value
    try:
        settings, _ = settings_from(raw)
    except InputFaults as refused:
        told = refused.faults
    else:
        told = ()
        assert AreaSettings.model_validate(settings.model_dump()) == settings
    for line in told:
        assert line.startswith("area.toml")
        assert "Undefined" not in line
        assert "Input should" not in line, line
