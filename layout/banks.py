"""Where mapped water begins: banks of lines, ponds and points, and distances to them."""

import math

import shapely
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.site import Area, WaterFeature
from layout.units import FOOT_M
from layout.water_rules import STRICTEST_CLASS, WATER_CLASSES

ASSUMED_BANK_WIDTH_M = 10 * FOOT_M  # a perennial line without a width; ours


def counts_as_perennial(water_class: str) -> bool:
    """Tell whether a class is perennial, or one of no known name."""
    return water_class == STRICTEST_CLASS or water_class not in WATER_CLASSES


def drawn_parts(geometry: BaseGeometry) -> list[BaseGeometry]:
    """Take a geometry apart into its polygons, lines and points, empty ones left out."""
    if hasattr(geometry, "geoms"):
        return [simple for part in geometry.geoms for simple in drawn_parts(part)]
    return [] if geometry.is_empty else [geometry]


def bank_parts(body: WaterFeature) -> list[BaseGeometry]:
    """Give the ground a water body covers, bank to bank, part by part; see `bank_shape`."""
    half = 0.5 * _bank_width_m(body)
    return [
        part.buffer(half, quad_segs=16) if half > 0 and part.geom_type == "LineString" else part
        for part in drawn_parts(body.geometry)
    ]


def bank_shape(body: WaterFeature) -> BaseGeometry:
    """Give the ground a water body covers, bank to bank.

    Parameters
    ----------
    body : WaterFeature
        A line is widened by half its bank width to each side, a perennial one
        (or one of an unknown class) without a width by half of 10 ft; polygons
        and points stay as drawn.

    Returns
    -------
    BaseGeometry
        Polygons, or lines and points of no width, in the area's CRS.
    """
    return shapely.union_all(bank_parts(body))


def bank_findings(body: WaterFeature) -> list[Finding]:
    """Tell what was assumed about the banks of one water body."""
    lines = any(part.geom_type == "LineString" for part in drawn_parts(body.geometry))
    if not lines or _stated_m(body) is not None:
        return []
    if counts_as_perennial(body.water_class):
        feet = ASSUMED_BANK_WIDTH_M / FOOT_M
        words = f"{feet:.0f} ft ({ASSUMED_BANK_WIDTH_M:.0f} m) from bank to bank is assumed"
    else:
        words = "the strip is laid from the line itself"
    place = body.geometry.representative_point()
    return [
        Finding(
            code="bank_width_assumed",
            level="caution",
            message=f"{body.feature_id}: the line has no bank_width_m; {words}. Measure it",
            subject_layer="water",
            subject_id=body.feature_id,
            source="ours, no source",
            at=(float(place.x), float(place.y)),
        )
    ]


def water_distance(area: Area, geometry: BaseGeometry) -> float | None:
    """Measure how far a place is from the nearest mapped water.

    Parameters
    ----------
    area : Area
        The job.
    geometry : BaseGeometry
        The place, in the area's CRS.

    Returns
    -------
    float or None
        Metres from the bank's edge on the map, 0 where they touch; None where no
        water is mapped. Wells are no water bodies and do not count.
    """
    parts = [p for body in area.water if body.water_class != "well" for p in bank_parts(body)]
    return min((float(part.distance(geometry)) for part in parts), default=None)


def _stated_m(body: WaterFeature) -> float | None:
    width = body.bank_width_m
    return width if width is not None and math.isfinite(width) and width > 0 else None


def _bank_width_m(body: WaterFeature) -> float:
    stated = _stated_m(body)
    if stated is not None:
        return stated
    return ASSUMED_BANK_WIDTH_M if counts_as_perennial(body.water_class) else 0.0
