"""The stand: its polygons as one area, of a size that can be planned."""

from shapely.geometry import MultiPolygon

from layout.errors import InputError
from layout.findings import Finding
from layout.read_features import cell
from layout.read_land import joined_polygons
from layout.read_vector import Layer
from layout.speech import speak_area
from layout.units import HECTARE_M2

SMALLEST_STAND_M2, LARGEST_STAND_HA = 200.0, 1000.0
LARGE_STAND_HA = 200.0
MOST_NAMED = 6
# What a row of a map of parcels may be called by, the likeliest first.
NAMED_BY = (
    "name", "stand", "label", "parcel", "parcel_id", "owner", "lot", "title", "id",
)  # fmt: skip


def stand_of(layer: Layer, where: str) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Take the stand from its layer; holes and parts are kept.

    Parameters
    ----------
    layer : Layer
        Polygons, in the area's CRS.
    where : str
        Start of every message: file, table and key.

    Returns
    -------
    stand : MultiPolygon
    findings : tuple of Finding

    Raises
    ------
    InputError
        If it is too small to be a stand, or too large for one plan.
    """
    stand, found = joined_polygons(layer, "stand")
    found += _rows(layer, stand)
    if stand.area < SMALLEST_STAND_M2:
        raise InputError(
            f"{where} the stand of {layer.source} has {stand.area:.0f} m2; is it in the right CRS?"
        )
    if stand.area > LARGEST_STAND_HA * HECTARE_M2:
        raise InputError(
            f"{where} the stand of {layer.source} has {stand.area / HECTARE_M2:,.0f} ha; "
            f"{LARGEST_STAND_HA:.0f} ha at most, plan it in parts"
        )
    if stand.area > LARGE_STAND_HA * HECTARE_M2:
        found += (
            Finding(
                "stand_large",
                "caution",
                f"The stand has {stand.area / HECTARE_M2:.0f} ha; planning it in one piece "
                "takes long.",
                "stand",
            ),
        )
    return stand, found


def _rows(layer: Layer, stand: MultiPolygon) -> tuple[Finding, ...]:
    """Say what was taken as one stand where that is several rows of the layer.

    A map of parcels holds the neighbour's too, and nobody fells on that unasked.
    """
    rows = layer.shapes
    if len(rows) < 2:
        return ()
    said = [
        f"{cell(layer, row, *NAMED_BY) or f'row {row + 1}'} "
        f"({speak_area(float(shape.area), layer.units)})"
        for row, shape in enumerate(rows[:MOST_NAMED])
    ]
    more = f" and {len(rows) - MOST_NAMED} more" if len(rows) > MOST_NAMED else ""
    whole = speak_area(float(stand.area), layer.units)
    return (
        Finding(
            "stand_rows",
            "caution",
            f"{layer.source}: {len(rows)} polygons are taken as one stand of {whole}: "
            f"{', '.join(said)}{more}. If one of them is not yours to cut, take it out.",
            "stand",
            layer.source,
            value=float(len(rows)),
        ),
    )
