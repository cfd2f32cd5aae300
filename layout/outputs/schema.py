"""The layers of plan.gpkg: names, geometry and columns, as other tools read them.

Names and types here are fixed. A new column is appended at the end of its
layer, never put in place of another.
"""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "real", "int", "bool"]
# "Unknown" is what GDAL calls a layer that may hold any of them, "None" one without geometry.
Shape = Literal[
    "Point", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "Unknown", "None"
]


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: its geometry and its columns in their order."""

    name: str
    shape: Shape
    columns: tuple[tuple[str, Kind], ...]


def _columns(spec: str) -> tuple[tuple[str, Kind], ...]:
    """Read ``name:kind`` words; a bare name is text."""
    kinds: dict[str, Kind] = {"": "text", "r": "real", "i": "int", "b": "bool"}
    pairs = (word.partition(":") for word in spec.split())
    return tuple((name, kinds[letter]) for name, _, letter in pairs)


# Columns the tree layer has of its own; the columns of the input file stand before them.
TREE_COLUMNS = _columns(
    "role status position_id margin_m:r log_rule volume_bf:r volume_m3:r mass_kg:r "
    "lay_azimuth_deg:r gross_bf:r saw_m3:r pulp_m3:r saw_logs:r cut_pieces:r stem_height_m:r "
    "height_from turn_ids saw_net_m3:r"
)

LAYERS: tuple[Layer, ...] = (
    Layer("stand", "MultiPolygon", _columns("name area_ha:r")),
    Layer("landing", "Polygon", _columns("landing_id slope_pct:r area_m2:r water_m:r")),
    Layer(
        "trails",
        "LineString",
        _columns(
            "trail_id kind landing_id joins_id joins_at_m:r junction_deg:r length_m:r width_m:r "
            "area_m2:r favourable_max_pct:r adverse_max_pct:r cross_max_pct:r radius_min_m:r "
            "loads:i soil_class:i source payload_kg:r payload_by payload_at_m:r p_over_limit:r"
        ),
    ),
    Layer(
        "trail_steps",
        "LineString",
        _columns(
            "trail_id from_m:r to_m:r grade_pct:r loaded_dir cross_pct:r loads:i soil_class:i "
            "cut_m3:r fill_m3:r bench_width_m:r payload_kg:r payload_by tip_margin_deg:r "
            "front_share_pct:r p_over_limit:r"
        ),
    ),
    Layer(
        "winch_positions",
        "Point",
        _columns(
            "position_id trail_id landing_id at_m:r rear_azimuth_deg:r swing_deg:r cross_pct:r "
            "along_pct:r back_m:r tree_count:i stop"
        ),
    ),
    Layer(
        "pulls",
        "LineString",
        _columns(
            "tree_id position_id map_m:r ground_m:r reach_m:r margin_m:r sure angle_deg:r side "
            "rise_m:r leave_hits:r pull_kn:r p_out_of_reach:r limit_kn:r limited_by "
            "p_both_ends:r p_no_position:r"
        ),
    ),
    Layer("trees", "Point", TREE_COLUMNS),
    Layer("water_strips", "MultiPolygon", _columns("feature_id water_class rule confirmed:b")),
    Layer("turning_places", "Polygon", _columns("place_id trail_id at_m:r kind slope_pct:r")),
    Layer(
        "water_bars",
        "Point",
        _columns(
            "bar_id trail_id at_m:r grade_pct:r spacing_m:r outlet why skew_deg:r length_m:r kind "
            "bar_set room_m:r meets"
        ),
    ),
    Layer(
        "findings",
        "Point",
        _columns(
            "code level subject_layer subject_id from_m:r to_m:r value:r limit:r unit message "
            "source confirmed:b"
        ),
    ),
    Layer("keep_out", "MultiPolygon", _columns("keep_out_id")),
    Layer("hazards", "Unknown", _columns("hazard_id kind")),
    Layer("hazard_trees", "Point", _columns("tree_id hazard marked:b keep_off_m:r said")),
    Layer("hazard_rings", "Polygon", _columns("tree_id hazard keep_off_m:r marked:b")),
    Layer("property_line", "MultiLineString", _columns("source error_m:r")),
    Layer(
        "crossings",
        "Point",
        _columns(
            "crossing_id trail_id at_m:r angle_deg:r approach_pct:r water_class bank_m:r area_ha:r"
        ),
    ),
    Layer("gaps", "Polygon", _columns("gap_id diameter_m:r height_ratio:r area_m2:r")),
    Layer(
        "rub_trees",
        "Point",
        _columns(
            "rub_id kind tree_id place trail_id at_m:r side from_id protects cut_after out_m:r"
        ),
    ),
    Layer(
        "reach_chance",
        "Point",
        _columns(
            "tree_id position_id sure p_out_of_reach:r said p_both_ends:r p_no_position:r "
            "position_error_m:r"
        ),
    ),
    Layer("channels", "LineString", _columns("channel_id area_ha:r at_least:b")),
    Layer("wet_hollows", "Polygon", _columns("hollow_id kind area_m2:r depth_m:r")),
    Layer("small_landing", "Polygon", _columns("trail_id at_m:r area_m2:r turn_at_m:r")),
    Layer(
        "landing_options",
        "Polygon",
        _columns(
            "option_id used:b slope_pct:r marked:i tree_count:i sure_count:i trail_m:r "
            "disturbed_m2:r disturbed_pct:r adverse_pct:r skid_m:r low_h:r high_h:r stops:i "
            "cautions:i unknowns:i objective_m2:r why"
        ),
    ),
    Layer(
        "turns",
        "None",
        _columns(
            "turn_id order:i trail_id position_id mass_kg:r stage at_m:r travel_m:r wood_m3:r "
            "limit_kg:r limited_by pieces:i state ends_at"
        ),
    ),
    Layer(
        "turn_pieces",
        "None",
        _columns("turn_id tree_id piece:i kind length_m:r wood_m3:r mass_kg:r"),
    ),
)
BY_NAME = {layer.name: layer for layer in LAYERS}
