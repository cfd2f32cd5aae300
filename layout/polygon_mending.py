"""Polygons that cross themselves: mended where the meaning is plain, refused where it is not.

A ring that crosses itself can be read in several ways: by its signed area, by
what lies inside an odd number of times, by what it goes round at all. Where
these agree nothing is lost by mending; how far they differ is the doubt.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.speech import speak_area
from layout.units import Units

DOUBT_SHARE = 0.02  # of the area; more may not be guessed; ours
DOUBT_M2 = 2000.0  # half an acre
NO_AREA_M2 = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Mended:
    """A polygon made valid.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
        Valid; holes and parts kept.
    doubt_m2 : float
        How far its readings differ in area, square metres.
    least_m2, most_m2 : float
        The readings that differ most.
    overlap_m2 : float
        What its parts cover twice, square metres.
    """

    shape: BaseGeometry
    doubt_m2: float
    least_m2: float
    most_m2: float
    overlap_m2: float


def mended(shape: BaseGeometry, *, more: bool = False) -> Mended:
    """Make a polygon valid, ring by ring.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
    more : bool, optional
        Take all its rings go round, where that is the careful side.

    Returns
    -------
    Mended
    """
    parts: list[BaseGeometry] = []
    doubt = least = most = 0.0
    for part in shapely.get_parts(shape):
        if part.is_empty:  # one of no signed area is not: two equal loops have none
            continue
        shell = _readings(Polygon(part.exterior))
        holes = [_readings(Polygon(ring)) for ring in part.interiors]
        body = shell.whole if more else shell.plain
        cut = shapely.union_all([hole.plain for hole in holes])
        parts.append(body if cut.is_empty else body.difference(cut))
        doubt += (0.0 if more else shell.doubt_m2) + sum(hole.doubt_m2 for hole in holes)
        least, most = least + shell.least_m2, most + shell.most_m2
    joined = _areas(shapely.union_all(parts))
    overlap = float(sum(part.area for part in parts) - joined.area)
    return Mended(joined, doubt, least, most, overlap if overlap > NO_AREA_M2 else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """The readings of one ring."""

    plain: BaseGeometry
    whole: BaseGeometry
    least_m2: float
    most_m2: float

    @property
    def doubt_m2(self) -> float:
        return self.most_m2 - self.least_m2


def _readings(ring: Polygon) -> _Ring:
    """Read a ring in every way there is."""
    if ring.is_valid:
        return _Ring(ring, ring, float(ring.area), float(ring.area))
    plain = _areas(shapely.make_valid(ring, method="structure", keep_collapsed=False))
    odd = _areas(shapely.make_valid(ring, method="linework"))
    faces = shapely.polygonize([shapely.node(ring.exterior)])
    whole = _areas(shapely.union_all(shapely.get_parts(faces)))
    areas = [float(ring.area), float(plain.area), float(odd.area), float(whole.area)]
    return _Ring(plain, whole, min(areas), max(areas))


def polygons_of(shape: BaseGeometry) -> list[Polygon]:
    """Split into polygons; lines, points and what has no area are dropped."""
    return [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]


def _areas(shape: BaseGeometry) -> BaseGeometry:
    """Give the areas of a shape; lines and points in it are dropped."""
    parts: list[Polygon] = []
    for part in shapely.get_parts(shape):
        parts += polygons_of(part) if part.geom_type != "Polygon" else [part]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def sound_polygons(
    shapes: Sequence[BaseGeometry],
    source: str,
    layer: str,
    *,
    where: str = "",
    more: bool = False,
    units: Units = "metric",
) -> tuple[list[BaseGeometry], tuple[Finding, ...]]:
    """Mend polygons that cross themselves, and say what changed.

    Parameters
    ----------
    shapes : sequence of geometry
        What is no polygon passes.
    source : str
        File and layer, for messages.
    layer : str
        Our name of what they are, for the findings.
    where : str, optional
        Start of a fault: file, table and key.
    more : bool, optional
        Whether more ground is the careful side, as of ground to keep off; then
        nothing is refused, and all a ring goes round is taken.
    units : {"us", "metric"}, optional
        What messages speak.

    Returns
    -------
    shapes : list of geometry
        Valid; holes and parts kept.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        If what a polygon encloses cannot be told; one line a fault.
    """
    out: list[BaseGeometry] = []
    found: list[Finding] = []
    faults: list[str] = []
    for row, shape in enumerate(shapes, start=1):
        if shapely.is_valid(shape) or shapely.get_dimensions(shape) != 2:
            out.append(shape)
            continue
        new = mended(shape, more=more)
        out.append(new.shape)
        reason, at = _reason(shape)
        place = f"{source} row {row}"
        spot = f" at {at[0]:.0f}, {at[1]:.0f}" if at else ""
        if not more and _doubtful(new):
            faults.append(
                f"{where} {place} {reason}{spot}, and what lies inside cannot be told: "
                f"{speak_area(new.least_m2, units)} or {speak_area(new.most_m2, units)}, by how it "
                "is read; draw it again (are two corners in the wrong order?)".strip()
            )
            continue
        found.append(
            Finding(
                "shape_mended",
                "caution",
                f"{place} {reason}{spot}; it was mended to {speak_area(new.shape.area, units)}, "
                f"{_change(new, units)}. Look at it, and draw it again if wrong.",
                layer,
                source,
                value=float(new.shape.area),
                unit="m2",
                at=at,
            )
        )
    if len(faults) == 1:
        raise InputError(faults[0].strip())
    if faults:
        raise InputFaults([fault.strip() for fault in faults])
    return out, tuple(found)


def _doubtful(new: Mended) -> bool:
    """Tell whether a mend would be a guess, or leave nothing."""
    area = float(new.shape.area)
    return area < NO_AREA_M2 or new.doubt_m2 > min(DOUBT_SHARE * area, DOUBT_M2)


def _change(new: Mended, units: Units) -> str:
    """Say by how much a mend changed the area."""
    said = []
    if new.overlap_m2:
        said.append(f"{speak_area(new.overlap_m2, units)} drawn twice count once")
    if new.doubt_m2 > NO_AREA_M2:
        said.append(f"{speak_area(new.doubt_m2, units)} of it in doubt")
    return " and ".join(said) or "no area is in doubt"


def _reason(shape: BaseGeometry) -> tuple[str, tuple[float, float] | None]:
    """Say in plain words what is wrong with a polygon, and where."""
    reason = str(shapely.is_valid_reason(shape))
    spot = re.search(r"\[(-?[\d.eE+]+) (-?[\d.eE+]+)", reason)
    at = (float(spot[1]), float(spot[2])) if spot else None
    kind = reason.split("[")[0].strip().lower()
    words = {
        "self-intersection": "crosses or covers itself",
        "ring self-intersection": "touches itself",
        "hole lies outside shell": "has a hole outside its edge",
        "holes are nested": "has a hole in a hole",
        "nested shells": "has a part inside another",
        "interior is disconnected": "falls apart where its edges touch",
    }
    return words.get(kind, f"is not sound ({kind})"), at
