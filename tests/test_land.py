"""How far machines keep from the line the neighbour begins at."""

import made_ground
import pytest

from layout.land import setback_m

FOOT_M = 0.3048
FLAT = made_ground.terrain_of(lambda x, y: 100 + 0 * x)


@pytest.mark.parametrize(
    ("said", "feet"),
    [
        (None, 10),  # nothing known of any line: the setback, and the plan says so
        ({"source": "walked"}, 30),
        ({"source": "tax_map"}, 30),
        ({"source": "survey"}, 10),  # known to 2 ft
        ({"error": "44 ft"}, 44),
    ],
)
def test_a_stands_edge_that_counts_as_the_line_is_kept_from_by_its_error(
    said: dict[str, str] | None, feet: float
) -> None:
    tables = {} if said is None else {"property": said}
    settings = made_ground.settings_of(**tables)
    assert setback_m(made_ground.area_of(FLAT, settings)) == pytest.approx(feet * FOOT_M)


def test_a_line_that_is_drawn_is_kept_from_by_its_error() -> None:
    drawn = made_ground.line((0, 0), (0, 100))
    area = made_ground.area_of(FLAT, property_line=drawn)
    assert setback_m(area) == pytest.approx(30 * FOOT_M)
