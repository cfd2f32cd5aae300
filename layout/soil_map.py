"""The owner's soil map: polygons that say how well the ground drains.

The words are the seven natural drainage classes of soil surveys (`sources.DRAINAGE_CLASSES`).
What the map leaves blank counts as poorly drained, the careful side.
"""

import re

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.read_features import cell
from layout.read_vector import Layer
from layout.site import Area, DrainageClass, SoilUnit
from layout.speech import speak_area
from layout.table_cells import listed, shown

COLUMNS = ("drainage_class", "drainagecl", "drclassdcd", "drainage", "drain_class")
NAMES = ("soil_id", "musym", "mukey", "id", "name", "muname")
# The longer names first: "poorly" is also the end of the classes beside it.
WORDS: dict[str, DrainageClass] = {
    "very poorly": "very poorly",
    "subaqueous": "very poorly",
    "poorly": "poorly",
    "somewhat poorly": "somewhat poorly",
    "imperfectly": "somewhat poorly",
    "moderately well": "moderately well",
    "well": "well",
    "somewhat excessively": "somewhat excessively",
    "rapidly": "somewhat excessively",
    "excessively": "excessively",
    "very rapidly": "excessively",
}
# Letters of maps made by hand, from memory.
LETTERS: dict[str, DrainageClass] = {
    "vp": "very poorly", "p": "poorly", "sp": "somewhat poorly", "mw": "moderately well",
    "w": "well", "se": "somewhat excessively", "e": "excessively",
}  # fmt: skip
KNOWN = (
    "excessively, somewhat excessively, well, moderately well, somewhat poorly, poorly, very poorly"
)
WET: frozenset[DrainageClass] = frozenset({"poorly", "very poorly", ""})
COVERED_SHARE = 0.005  # of the stand; what is off the map beyond this is told; ours
NEAR_M = 300.0  # of a county's map, what lies this near to the stand is kept; ours
MOST_FAULTS = 20


def drainage_word(text: str) -> DrainageClass | None:
    """Read one cell of a drainage class.

    Parameters
    ----------
    text : str
        As the map has it, in any case, with or without "drained".

    Returns
    -------
    DrainageClass or None
        An empty class for an empty cell; None where the words are not known.

    Examples
    --------
    >>> drainage_word("Somewhat poorly drained"), drainage_word("MW"), drainage_word("soggy")
    ('somewhat poorly', 'moderately well', None)
    """
    said = re.sub(r"[\s_-]+", " ", text.strip().lower())
    said = said.removesuffix("drained").strip()
    if not said:
        return ""
    return WORDS.get(said) or LETTERS.get(said)


def soil_units(
    layer: Layer, stand: BaseGeometry | None
) -> tuple[tuple[SoilUnit, ...], tuple[Finding, ...]]:
    """Take a soil map as records.

    Parameters
    ----------
    layer : Layer
        Polygons with a column ``drainage_class`` (or a soil survey's ``drainagecl`` or
        ``drclassdcd``).
    stand : geometry or None
        The stand; polygons far from it are left out. None where it could not be read.

    Returns
    -------
    units : tuple of SoilUnit
    findings : tuple of Finding
        Blank classes, and ground of the stand the map does not show.

    Raises
    ------
    InputError, InputFaults
        Without such a column, or where words in it are not known, all of them at once; where
        the map does not touch the stand.
    """
    shapes, found = layer.sound("soil", more=True)
    column = _column(layer)
    faults: list[str] = []
    units: list[SoilUnit] = []
    for row, shape in enumerate(shapes):
        text = cell(layer, row, column)
        drainage = drainage_word(text)
        name = cell(layer, row, *NAMES) or f"{row + 1}"
        if drainage is None:
            faults.append(
                f"{layer.where} {layer.source} row {row + 1}: {column} {shown(text)} is not known; "
                f"write one of {KNOWN}"
            )
        else:
            units.append(SoilUnit(name, drainage, shape))
    if faults:
        rest = len(faults) - MOST_FAULTS
        more = [f"{layer.where} {layer.source}: {rest} more rows like these"] if rest > 0 else []
        raise InputFaults([*faults[:MOST_FAULTS], *more])
    if stand is None:
        return tuple(units), tuple(found)
    near = tuple(unit for unit in units if unit.geometry.distance(stand) <= NEAR_M)
    told = _uncovered(layer, near, stand)
    return near, (*found, *_blank(layer, near), *told)


def _column(layer: Layer) -> str:
    """Find the column that says how ground drains."""
    have = {str(name).lower() for name in layer.table.columns}
    for column in COLUMNS:
        if column in have:
            return column
    others = sorted(have - {"geometry"})
    holds = f"it holds {listed(others)}" if others else "it holds no column at all"
    raise InputError(
        f"{layer.where} {layer.source} has no column drainage_class ({holds}); add one with {KNOWN}"
    )


def _blank(layer: Layer, units: tuple[SoilUnit, ...]) -> list[Finding]:
    """Say which polygons do not say how they drain."""
    blank = [unit for unit in units if not unit.drainage_class]
    if not blank:
        return []
    spot = blank[0].geometry.representative_point()
    which = "1 polygon says" if len(blank) == 1 else f"{len(blank)} polygons say"
    return [
        Finding(
            "soil_map_blank",
            "caution",
            f"{layer.source}: {which} no drainage class ({listed(u.unit_id for u in blank)}) and "
            f"{'counts' if len(blank) == 1 else 'count'} as poorly drained; fill it in.",
            "soil",
            blank[0].unit_id,
            value=float(len(blank)),
            source="ours, the careful side",
            at=(float(spot.x), float(spot.y)),
        )
    ]


def _uncovered(layer: Layer, units: tuple[SoilUnit, ...], stand: BaseGeometry) -> list[Finding]:
    """Say how much of the stand the map does not show."""
    off = stand.difference(shapely.union_all([unit.geometry for unit in units]))
    share = float(off.area / stand.area)
    if share > 1 - 1e-9:
        raise InputError(
            f"{layer.where} {layer.source} does not touch the stand; is it in the right CRS, and "
            "the map of this place?"
        )
    if share <= COVERED_SHARE:
        return []
    spot = off.representative_point()
    return [
        Finding(
            "soil_map_gap",
            "unknown",
            f"{layer.source} leaves {speak_area(float(off.area), layer.units)} of the stand "
            f"({100 * share:.0f} %) without soil: how that ground drains is not known.",
            "soil",
            layer.source,
            value=100 * share,
            unit="%",
            source="ours",
            at=(float(spot.x), float(spot.y)),
        )
    ]


def drained_as(area: Area, classes: frozenset[DrainageClass]) -> BaseGeometry:
    """Give the mapped ground that drains in one of some classes.

    Parameters
    ----------
    area : Area
    classes : frozenset of DrainageClass

    Returns
    -------
    Polygon, MultiPolygon or empty
        Where polygons of a map lie over each other, any of them counts.
    """
    parts = [unit.geometry for unit in area.soil_map if unit.drainage_class in classes]
    return shapely.union_all(parts) if parts else MultiPolygon()


def closed_soil(area: Area) -> BaseGeometry:
    """Give the mapped soil that new trails, parked outfits and landings keep off today.

    Parameters
    ----------
    area : Area

    Returns
    -------
    geometry
        Poorly drained soil where ``[ground] condition`` is wet; empty on any other day.
    """
    if area.settings.ground.condition != "wet":
        return MultiPolygon()
    return drained_as(area, WET)


def wet_ground(area: Area) -> BaseGeometry:
    """Give all ground that is known to be wet: wetlands, and poorly drained soil.

    Parameters
    ----------
    area : Area

    Returns
    -------
    geometry
        A step of trail that touches it counts as wet.
    """
    wetlands = [w.geometry for w in area.water if w.water_class == "wetland"]
    return shapely.union_all([*wetlands, drained_as(area, WET)])
