"""Quantities: read as written, refused where a general parser reads them wrong."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.errors import InputError
from layout.units import KINDS, read

# How the oracle spells a unit, where not as we do.
SPELT = {
    "short ton": "short_ton",
    "short tons": "short_ton",
    "°": "degree",
    "ac": "acre",
    "acres": "acre",
    "ft2": "ft^2",
    "ft²": "ft^2",
    "m2": "m^2",
    "m²": "m^2",
    "m3": "m^3",
    "m³": "m^3",
    "ft3": "ft^3",
    "ft³": "ft^3",
    "lbf": "lbf",
    "hp": "550 * foot * force_pound / second",
    "PS": "75 * kilogram_force * meter / second",
    "%": "percent",
    "deg": "degree",
    "ha": "hectare",
    "lbs": "lb",
    "inches": "inch",
    "feet": "foot",
    "gal/h": "gallon/hour",
    "L/h": "liter/hour",
    "l/h": "liter/hour",
    "m2/m": "m^2/m",
    "m²/m": "m^2/m",
    "ft2/ft": "ft^2/ft",
    "min/m3": "min/m^3",
    "min/m³": "min/m^3",
    "m2/ha": "m^2/hectare",
    "m²/ha": "m^2/hectare",
    "m^2/ha": "m^2/hectare",
    "ft^2/acre": "ft^2/acre_int",
    "ft2/acre": "ft^2/acre_int",
    "ft²/acre": "ft^2/acre_int",
    "daN": "decanewton",
    "km/h": "kilometer/hour",
    "h/m^3": "hour/m^3",
    "mph": "mile/hour",
}
STORED = {
    "m2": "m^2",
    "m2/m": "m^2/m",
    "min/m3": "min/m^3",
    "m2/ha": "m^2/hectare",
    "m3": "m^3",
    "L/h": "liter/hour",
    "%": "percent",
    "deg": "degree",
}
PAIRS = [(kind, unit) for kind, k in KINDS.items() for unit in k.factors]


@pytest.fixture(scope="module")
def oracle() -> pint.UnitRegistry:
    ureg = pint.UnitRegistry()
    # The acre of the international foot; the oracle's own is of the survey foot.
    ureg.define("acre_int = 43560 * foot ** 2")
    return ureg


@pytest.mark.parametrize(("kind", "unit"), PAIRS)
def test_every_unit_agrees_with_the_oracle(oracle: pint.UnitRegistry, kind: str, unit: str) -> None:
    spelt = SPELT.get(unit, unit)
    if kind == "declination":  # the oracle knows degrees, not which side they turn to
        degrees, side = unit.split()
        spelt = f"{'-' if side.lower().startswith('w') else ''}{SPELT.get(degrees, degrees)}"
    if spelt == "acre":
        spelt = "acre_int"
    stored = STORED.get(KINDS[kind].stored, KINDS[kind].stored)
    want = oracle.parse_expression(f"7.5 * ({spelt})").to(stored).magnitude
    assert read(f"7.5 {unit}", kind).value == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("165 ft", "length", 165 * 0.3048),
        ("165ft", "length", 165 * 0.3048),
        (" 165  ft ", "length", 165 * 0.3048),
        (".5 m", "length", 0.5),
        ("5 ft 6 in", "length", 1.6764),
        ("5ft 6in", "length", 1.6764),
        ("5' 6\"", "length", 1.6764),
        ("5\u2032 6\u2033", "length", 1.6764),
        ("6'", "length", 1.8288),
        ('18"', "length", 0.4572),
        ("0.25 in", "length", 0.00635),
        ("12 %", "grade", 12.0),
        ("12%", "percent", 12.0),
        ("30 deg", "angle", 30.0),
        ("0.15 acre", "area", 607.0284634),
        ("3.2 t", "mass", 3200.0),
        ("2000 lb", "mass", 907.18474),
        ("9 short tons", "mass", 8164.66266),
        ("80 kN", "force", 80.0),
        ("60 hp", "power", 44.7419923),
        ("4.5 km/h", "speed", 1.25),
        ("40 m/min", "speed", 2 / 3),
        ("2 min", "seconds", 120.0),
        ("90 s", "minutes", 1.5),
        ("80 ft^3", "volume", 2.265347),
        ("0.25 m^2/m", "area per length", 0.25),
        ("17.9 min/m^3", "time per volume", 17.9),
        ("70 ft^2/acre", "basal area", 16.0697888),
        ("3 L/h", "fuel rate", 3.0),
    ],
)
def test_read_as_written(text: str, kind: str, value: float) -> None:
    reading = read(text, kind)
    assert reading.value == pytest.approx(value, rel=1e-6)
    assert reading.note == ""


def test_a_grade_in_degrees_is_its_tangent_and_is_echoed() -> None:
    reading = read("12 deg", "grade")
    assert reading.value == pytest.approx(100 * math.tan(math.radians(12)))
    assert reading.note == '"12 deg" is a grade in degrees; read as 21 %'


def test_a_pull_given_as_mass_is_its_weight_and_is_echoed() -> None:
    reading = read("4 t", "force")
    assert reading.value == pytest.approx(39.2266)
    assert reading.note == '"4 t" is a mass; taken as the force it weighs, 39.2 kN'


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        (
            "3,2 t",
            "mass",
            '"3,2 t" has a comma; write the decimals with a point and no thousands mark, '
            'like "3.2 t"',
        ),
        (
            "1,000 kg",
            "mass",
            '"1,000 kg" has a comma; write the decimals with a point and no thousands mark, '
            'like "3.2 t"',
        ),
        (
            "5 ton",
            "mass",
            '"5 ton": a ton may be 907, 1,000 or 1,016 kg; write "t" (1,000 kg), "short ton" '
            '(2,000 lb), "kg" or "lb"',
        ),
        (
            "5 T",
            "force",
            '"5 T": a T may be 907, 1,000 or 1,016 kg; write "t" (1,000 kg), "short ton" '
            '(2,000 lb), "kg" or "lb"',
        ),
        ("-5 m", "length", '"-5 m" has a sign; only sizes are given here, write it like "165 ft"'),
        ("\u22125 m", "length", '"\u22125 m" has a sign; only sizes are given here, write it like '
         '"165 ft"'),
        ("+5 m", "length", '"+5 m" has a sign; only sizes are given here, write it like "165 ft"'),
        (
            "12 %",
            "angle",
            '"12 %" is a percent, and this is an angle; write it like "30 deg"',
        ),
        ("100", "length", '"100" has no unit; write it like "165 ft"'),
        (50, "length", '50 has no unit; write it like "165 ft", as text in quotes with a unit'),
        (2.5, "mass", '2.5 has no unit; write it like "3.2 t", as text in quotes with a unit'),
        (True, "length", 'must be a quantity with a unit; write it like "165 ft"'),
        (None, "length", 'must be a quantity with a unit; write it like "165 ft"'),
        ("", "length", 'is blank; write it like "165 ft"'),
        ("ft", "length", '"ft" is not a number followed by one unit; write it like "165 ft"'),
        ("5 5 m", "length", '"5 5 m" is not a number followed by one unit; write it like "165 ft"'),
        ("1e3 m", "length", '"1e3 m" is written with an exponent; write the number out, like "165 '
         'ft"'),
        ("5 M", "length", '"5 M": "M" is not known here; did you mean "m"?'),
        ("45 KW", "power", '"45 KW": "KW" is not known here; did you mean "kW"?'),
        ("5 kg", "length", '"5 kg": "kg" is no unit of length known here; use one of mm, cm, m, km,'
         ' in, inch, inches, ft, foot, feet, yd, mi, like "165 ft"'),
        ("5 ft 13 in", "length", '"5 ft 13 in": 13 inches is a foot or more; write it like '
         '"165 ft"'),
        ("89.5 deg", "grade", '"89.5 deg" is no grade; write it like "12 %"'),
        ("2 cords", "volume", '"2 cords": board feet and cords do not convert to solid wood by '
         'unit; write it like "80 ft^3"'),
        ("1 MBF", "volume", '"1 MBF": board feet and cords do not convert to solid wood by unit; '
         'write it like "80 ft^3"'),
        ("12 deg", "percent", '"12 deg": "deg" is no unit of percent known here; use one of %, '
         'like "12 %"'),
        ("5 m 3 cm", "length", '"5 m 3 cm": "m 3 cm" is no unit of length known here; use one of '
         'mm, cm, m, km, in, inch, inches, ft, foot, feet, yd, mi, like "165 ft"'),
    ],
)  # fmt: skip
def test_refused_with_the_right_form(text: object, kind: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text, kind)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12.5 deg W", -12.5),
        ("12.5\N{DEGREE SIGN} W", -12.5),
        ("3 deg E", 3.0),
        ("-12.5 deg", -12.5),
        ("\N{MINUS SIGN}12.5 deg", -12.5),
        ("+3 degrees", 3.0),
        ("0 deg", 0.0),
    ],
)
def test_a_declination_has_a_side(text: str, degrees: float) -> None:
    assert read(text, "declination").value == degrees


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("12.5 deg", 'does not say which way the needle turns; write "12.5 deg W"'),
        ("-12.5 deg W", "has a sign"),
        ("-12.5", "has a sign"),
        ("12.5 W", "use one of deg E"),
        (-12.5, "has no unit"),
    ],
)
def test_a_declination_without_one_side_is_refused(text: object, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(text, "declination")


def test_a_number_of_hundreds_of_digits_is_refused_and_cut_short() -> None:
    with pytest.raises(InputError) as caught:
        read("9" * 400 + " m", "length")
    assert str(caught.value).startswith('"9999')
    assert len(str(caught.value)) < 120


numbers = st.decimals(min_value=0, max_value=99999, places=3).map(lambda d: f"{d:f}")


@settings(deadline=None)
@given(numbers, st.sampled_from(PAIRS), st.sampled_from(["", " "]))
def test_any_plain_number_reads_to_its_factor(
    number: str, pair: tuple[str, str], space: str
) -> None:
    kind, unit = pair
    value = read(f"{number}{space}{unit}", kind).value
    assert value == pytest.approx(float(number) * KINDS[kind].factors[unit], rel=1e-12)


@settings(deadline=None)
@given(st.integers(0, 999), st.integers(0, 11))
def test_feet_and_inches_make_whole_inches(feet: int, inches: int) -> None:
    assert read(f"{feet} ft {inches} in", "length").value == pytest.approx(
        (12 * feet + inches) * 0.0254, rel=1e-12, abs=1e-15
    )


@settings(deadline=None)
@given(numbers, st.sampled_from(PAIRS))
def test_a_comma_or_a_sign_is_never_read(number: str, pair: tuple[str, str]) -> None:
    kind, unit = pair
    for text in (f"{number.replace('.', ',')} {unit}", f"-{number} {unit}"):
        with pytest.raises(InputError, match=r"comma|sign"):
            read(text, kind)


@settings(deadline=None)
@given(
    st.text("0123456789.,-+'\" %°²ftminhkgacrelbTNWdeg/^", max_size=14),
    st.sampled_from(sorted(KINDS)),
)
def test_any_text_is_read_or_refused_in_words(text: str, kind: str) -> None:
    try:
        value = read(text, kind).value
    except InputError:
        return  # in our words; any other error fails
    assert math.isfinite(value)
    assert value >= 0


@pytest.mark.parametrize(("kind", "unit"), PAIRS)
def test_units_of_another_kind_are_refused(kind: str, unit: str) -> None:
    for other, k in KINDS.items():
        taken = unit in k.factors or (other == "grade" and kind == "angle")
        if taken or (other == "force" and kind == "mass"):
            continue
        with pytest.raises(InputError):
            read(f"3 {unit}", other)
