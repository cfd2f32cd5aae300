"""Tables of area.toml that say where things are: ground, stand, water, landing."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from layout.settings.fields import MEMORY, OURS, PRACTICE, Table, plain, quantity
from layout.units import FOOT_M

PropertySource = Literal["survey", "marked", "tax_map", "walked"]

# How far off a line may be, by where it came from. No source; the safe side of practice.
LINE_ERROR_M = {
    "survey": 2 * FOOT_M,
    "marked": 5 * FOOT_M,
    "tax_map": 30 * FOOT_M,
    "walked": 30 * FOOT_M,
}


class LonLat(Table):
    """A place in degrees east and north (WGS84)."""

    lon: float = plain(..., "Degrees east.", ge=-180, le=180, unit="deg", source=OURS)
    lat: float = plain(..., "Degrees north.", ge=-90, le=90, unit="deg", source=OURS)


def _as_point(value: Any) -> Any:
    """Take whole numbers in [x, y] as they are meant."""
    return tuple(value) if isinstance(value, list) else value


def _as_list(value: Any) -> Any:
    """Show what a list held as the list it was written as."""
    return list(value) if isinstance(value, tuple) else value


def _as_files(value: Any) -> Any:
    """Take one file, or a list of them that is not empty."""
    names = value if isinstance(value, list | tuple) else (value,)
    if names and all(isinstance(name, str) and name.strip() for name in names):
        return value if isinstance(value, str) else tuple(value)
    shown = f'"{value}"' if isinstance(value, str) else str(_as_list(value))[:60]
    raise ValueError(
        f'{shown} is no file; write it like "dem.tif", or tiles like ["a.tif", "b.tif"]'
    )


Place = Annotated[tuple[float, float] | LonLat, BeforeValidator(_as_point)]
# A list of places must hold one at least; [x, y] itself is a place and no list of two.
Places = Annotated[
    Place | Annotated[tuple[Place, ...], Field(min_length=1)], BeforeValidator(_as_point)
]
Files = Annotated[str | tuple[str, ...], BeforeValidator(_as_files)]


class AreaTable(Table):
    """The job's name and the units its sheets speak."""

    name: str = plain(..., "Name of the job, printed on every sheet.", source=OURS)
    units: Literal["us", "metric"] = plain(
        ..., "Units of sheets and reports; files may use any.", source=OURS
    )
    crs: str | None = plain(
        None, "Projected CRS of inputs that do not say their own, like EPSG:26918.", source=OURS
    )


class GroundTable(Table):
    """The elevation grid and what lies on the ground."""

    dem: Files = plain(
        ...,
        "Elevation raster (GeoTIFF, VRT, ASCII grid, IMG), a list of tiles, or the https address "
        "of a GeoTIFF.",
        source=OURS,
    )
    elevation_unit: Literal["m", "ft", "us-ft", "dm", "cm", "mm"] | None = plain(
        None, "Unit of the elevations, where the raster does not say.", source=OURS
    )
    access_road: str = plain("", "Lines of the road trucks use.", source=OURS)
    existing_trails: str = plain("", "Lines of old trails; column benched = yes.", source=OURS)
    keep_out: str = plain("", "Polygons no machine may enter.", source=OURS)
    may_use: str = plain("", "Polygons outside the stand that may be used.", source=OURS)
    condition: Literal["dry", "wet", "frozen"] = plain(
        "dry", "Ground on the day; wet or frozen lowers every ceiling.", source=OURS
    )
    dem_error_m: float = quantity(
        "dem_error",
        "0.15 m",
        "length",
        "Standard error of one elevation.",
        ge=0,
        le="10 m",
        source=MEMORY,
    )


class PropertyTable(Table):
    """The line the neighbour begins at, and how well it is known."""

    line: str = plain("", "Property line or polygon; blank: the stand's edge counts.", source=OURS)
    source: PropertySource = plain("tax_map", "Where the line came from.", source=OURS)
    error_m: float = quantity(
        "error",
        lambda data: LINE_ERROR_M.get(data.get("source", "tax_map"), 30 * FOOT_M),
        "length",
        "How far off the line may be (survey 2 ft, marked 5 ft, otherwise 30 ft).",
        ge=0,
        le="500 ft",
        source=PRACTICE,
    )


class StandTable(Table):
    """The stand and its trees."""

    boundary: str = plain(..., "Polygon(s) of the stand.", source=OURS)
    trees: str = plain(..., "Tree list: a table, a point layer or phone waypoints.", source=OURS)
    setback_m: float = quantity(
        "setback",
        "10 ft",
        "length",
        "Machines stay this far from the property line, or its error if larger.",
        ge=0,
        le="300 ft",
        source=PRACTICE,
    )
    list: Literal["all", "marked"] = plain(
        "all", "What the tree file holds: every stem, or the marked ones only.", source=OURS
    )
    position_error_m: float = quantity(
        "position_error",
        "5 m",
        "length",
        "Error (DRMS) of the tree coordinates.",
        ge=0,
        le="50 m",
        source=MEMORY,
    )
    plots: str = plain(
        "",
        "Sample plots (a table), which tell what stands where only marked trees are listed.",
        source=OURS,
    )


class WaterTable(Table):
    """Water bodies and the rules that keep machines from them."""

    features: str = plain("", "Lines, polygons or points with water_class.", source=OURS)
    rules: tuple[str, ...] = plain(
        (),
        "Rule files; the stricter wins. None chosen: the larger of 50 ft and 25 + 2S.",
        source=OURS,
    )
    channel_area_m2: float = quantity(
        "channel_area",
        "2 acre",
        "area",
        "Drainage area that counts as a possible channel.",
        ge="0.05 acre",
        le="1000 acre",
        source=OURS,
    )


class AccessTable(Table):
    """For the emergency page, and what must be kept clear of."""

    gate: Place | None = Field(
        default=None,
        description="Gate or road entrance, [x, y] or {lon, lat}.",
        json_schema_extra={"unit": "", "source": OURS, "caution": ""},
    )
    road_name: str = plain("", "Name of the road at the gate.", source=OURS)
    meet: str = plain("", "Where help is met.", source=OURS)
    meet_at: Place | None = Field(
        default=None,
        description="The place of it, if that is not the gate, [x, y] or {lon, lat}.",
        json_schema_extra={"unit": "", "source": OURS, "caution": ""},
    )
    helispot: Place | None = Field(
        default=None,
        description="An open spot for a helicopter, [x, y] or {lon, lat}.",
        json_schema_extra={"unit": "", "source": OURS, "caution": ""},
    )
    hazards: str = plain("", "Layer with kind = wire, pipe, well, road, house ...", source=OURS)


class LandingTable(Table):
    """A drawn landing, or several; left out, sites are proposed."""

    at: Places | None = Field(
        default=None,
        description="Middle of the landing, [x, y] or {lon, lat}; of several, a list of these.",
        json_schema_extra={"unit": "", "source": OURS, "caution": ""},
    )
    shape: str = plain("", "Outlines of the landings (polygons), instead of `at`.", source=OURS)
    area_m2: float = quantity(
        "area",
        "0.15 acre",
        "area",
        "Size of a landing given as a point or proposed.",
        ge="0.01 acre",
        le="5 acre",
        source="memory: unverified (practice, 1/10 to 1/4 acre)",
    )


class MainTrailTable(Table):
    """A drawn main trail; left out, it is routed."""

    line: str = plain(
        "", "One line for each landing at most, kept exactly and checked.", source=OURS
    )
