"""Volumes and weights, held against printed worked examples and tables.

Printed sources: USDA Forest Service GTR-WO-104, worked example 1 (Douglas-fir);
USDA Forest Service NRS-38 (Miles & Smith 2009), green weights; Jenkins et al.
2003, Forest Science 49:12-35. The figures are typed here on purpose.
"""

import csv
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import species, timber
from layout.errors import InputError

INCH_CM, FOOT_M, POUND_KG = 2.54, 0.3048, 0.45359237
FT3_M3 = 0.3048**3


def cubic_feet(name: str, dbh_in: float, height_ft: float) -> float:
    volume = timber.stem_volume_m3([name], [dbh_in * INCH_CM], [height_ft * FOOT_M])
    return float(volume[0]) / FT3_M3


def test_douglas_fir_worked_example() -> None:
    # The publication prints 88.452275544288 from rounded intermediate powers.
    assert cubic_feet("Douglas-fir", 20, 110) == pytest.approx(88.452, abs=5e-4)


def test_northern_red_oak_18_in_85_ft() -> None:
    assert cubic_feet("833", 18, 85) == pytest.approx(57.95, abs=5e-3)


def test_whole_red_oak_stem_weighs_4650_lb() -> None:
    kg = timber.stem_mass_kg(["northern red oak"], [18 * INCH_CM], [85 * FOOT_M])
    assert float(kg[0]) / POUND_KG == pytest.approx(4650, abs=10)


# model 1, 2 below and above its joint, 4, and 4 with a negative b1
BY_HAND = [
    ("red maple", 14, 70, 0.001983919 * 14**1.810559393 * 70**1.129417635),
    ("sugar maple", 10, 60, 0.00163448 * 10**2.104341893 * 60**1.035961689),
    (
        "sugar maple",
        20,
        80,
        0.00163448 * 11 ** (2.104341893 - 1.88866572) * 20**1.88866572 * 80**1.035961689,
    ),
    (
        "American beech",
        16,
        75,
        0.00161488 * 16**2.396448915 * math.exp(-0.032188753 * 16) * 75**0.967808454,
    ),
    (
        "hemlock",
        16,
        75,
        0.010314737 * 16**1.833480121 * math.exp(0.015769951 * 16) * 75**0.674341816,
    ),
]


@pytest.mark.parametrize(("name", "dbh_in", "height_ft", "cubic"), BY_HAND)
def test_each_form_of_the_equation(
    name: str, dbh_in: float, height_ft: float, cubic: float
) -> None:
    assert cubic_feet(name, dbh_in, height_ft) == pytest.approx(cubic, rel=1e-9)


def test_the_two_parts_of_model_2_meet() -> None:
    below, above = cubic_feet("sugar maple", 10.999999, 70), cubic_feet("sugar maple", 11, 70)
    assert below == pytest.approx(above, rel=1e-5)


# lb per cubic foot of wood, without and with bark, as printed (NRS-38)
WEIGHTS = [
    ("red maple", 50.0, 55.8),
    ("sugar maple", 55.0, 65.0),
    ("northern red oak", 64.0, 80.2),
    ("white oak", 63.0, 73.6),
    ("yellow-poplar", 48.7, 58.2),
    ("beech", 54.0, 58.7),
    ("black cherry", 45.0, 51.9),
    ("basswood", 41.0, 47.0),
    ("eastern white pine", 35.0, 43.0),
    ("red spruce", 34.0, 38.6),
    ("loblolly pine", 53.0, 59.8),
]


@pytest.mark.parametrize(("name", "wood_lb", "with_bark_lb"), WEIGHTS)
def test_green_weights(name: str, wood_lb: float, with_bark_lb: float) -> None:
    per_ft3 = FT3_M3 / POUND_KG  # printed from unrounded moistures, hence a tenth of a pound
    row = species.lookup(name)
    assert row.green_kg_per_m3(with_bark=False) * per_ft3 == pytest.approx(wood_lb, abs=0.1)
    assert row.green_kg_per_m3(with_bark=True) * per_ft3 == pytest.approx(with_bark_lb, abs=0.13)


def test_whole_tree_of_the_oak_group_at_40_cm() -> None:
    # 1060.8 kg dry (Jenkins 2003), 83.1 % moisture
    kg = timber.tree_mass_kg(["red oak"], [40.0])
    assert float(kg[0]) == pytest.approx(1060.8 * 1.831, rel=1e-4)


@pytest.mark.parametrize(
    "name", ["RED OAK", " northern  red-oak ", "833", "833.0", "ro", "Red_Oak"]
)
def test_a_name_is_found_however_it_is_typed(name: str) -> None:
    assert species.lookup(name).common_name == "northern red oak"


@pytest.mark.parametrize(
    ("name", "answers"),
    [
        ("swamp white oak", "hard maple, oak, hickory and beech, any"),
        ("pitch pine", "pine, any"),
        ("94", "spruce, any"),
        ("830", "hard maple, oak, hickory and beech, any"),
        ("ironwood", "hard maple, oak, hickory and beech, any"),
        ("", "hard maple, oak, hickory and beech, any"),
        ("999", "mixed hardwood, any"),
    ],
)
def test_a_stranger_takes_its_group_and_is_flagged(name: str, answers: str) -> None:
    found = species.resolve([name, "red maple"])
    assert species.species_table()[found.row[0]].common_name == answers
    assert found.generic.tolist() == [True, False]


def test_an_unknown_species_is_never_lighter_than_a_known_one() -> None:
    heaviest = max(s.green_kg_per_m3(with_bark=True) for s in species.species_table())
    assert species.lookup("no idea").green_kg_per_m3(with_bark=True) == heaviest


def test_a_group_row_is_as_heavy_as_its_heaviest_member() -> None:
    table = species.species_table()
    for group in (s for s in table if s.stands_for_group):
        members = [s for s in table if s.group == group.group]
        assert group.green_kg_per_m3(with_bark=True) == max(
            s.green_kg_per_m3(with_bark=True) for s in members
        )


def test_missing_heights_take_the_curve_and_say_so() -> None:
    # red oak 20 in: 77 ft, sugar maple 8 in: 58 ft (the curve's own table)
    height, estimated = timber.heights_m(
        ["red oak", "sugar maple", "red oak"], np.array([20, 8, 20]) * INCH_CM, [np.nan, np.nan, 25]
    )
    assert (height[:2] / FOOT_M).round().tolist() == [77, 58]
    assert height[2] == 25
    assert estimated.tolist() == [True, True, False]


def test_a_missing_diameter_stays_missing() -> None:
    assert np.isnan(timber.stem_mass_kg(["red oak"], [np.nan], [np.nan]))[0]


def test_a_diameter_of_nought_is_refused_with_its_place() -> None:
    with pytest.raises(InputError, match=r"stem 2 of the list has a diameter of 0 cm"):
        timber.stem_volume_m3(["red oak", "red oak"], [30, 0], [20, 20])
    with pytest.raises(InputError, match=r"stem 1 of the list has a height of -3 m"):
        timber.stem_volume_m3(["red oak"], [30], [-3])


def test_every_row_names_its_sources() -> None:
    with species.SPECIES_FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        for part in ("volume ", "weight ", "biomass ", "height "):
            assert part in row["source"], row["common_name"]
    names = [n for s in species.species_table() for n in (s.common_name, *s.other_names)]
    assert len({n.casefold() for n in names}) == len(names)  # no name answers twice


@given(
    st.sampled_from([s.common_name for s in species.species_table()]),
    st.floats(10, 90),
    st.floats(5, 38),
    st.floats(1.01, 1.3),
)
def test_a_taller_or_thicker_stem_holds_more(
    name: str, dbh_cm: float, height_m: float, more: float
) -> None:
    one = timber.stem_volume_m3([name], [dbh_cm], [height_m])[0]
    assert timber.stem_volume_m3([name], [dbh_cm], [height_m * more])[0] > one
    assert timber.stem_volume_m3([name], [dbh_cm * more], [height_m])[0] > one
