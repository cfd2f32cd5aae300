"""plan.json: the whole plan as data, in one file that another program can read.

Coordinates are those of the area's own system, metres, in the geometry form of
GeoJSON. Every number is finite; what is not known is null.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from layout.outputs import kept_columns, rows
from layout.outputs.closeout_data import closeout_data
from layout.outputs.erosion_data import erosion_data
from layout.outputs.numbers import rounded
from layout.outputs.schema import TREE_COLUMNS
from layout.outputs.stand_data import stand_data, timber_data
from layout.outputs.stump_data import group_data, lay_data, rub_data
from layout.outputs.swap import MADE_BY
from layout.outputs.turn_data import turn_data
from layout.outputs.work_data import work_data

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "plan.json"
FORMAT = 1
COORDINATE_DECIMALS = 3  # a millimetre: rounding must not bend a line
_LISTS = (
    # key in plan.json, layer whose rows it holds
    ("trails", "trails"),
    ("steps", "trail_steps"),
    ("positions", "winch_positions"),
    ("pulls", "pulls"),
    ("turning_places", "turning_places"),
    ("strips", "water_strips"),
    ("bars", "water_bars"),
    ("crossings", "crossings"),
    ("findings", "findings"),
    ("gaps", "gaps"),
    ("channels", "channels"),
    ("wet_hollows", "wet_hollows"),
)


def as_data(plan: Plan, about: Mapping[str, str], files: tuple[str, ...]) -> dict[str, Any]:
    """Give the plan as plain dictionaries, lists, text and finite numbers.

    Parameters
    ----------
    plan : Plan
        The plan.
    about : mapping of str to str
        What the plan was made with.
    files : tuple of str
        Names of the files written beside this one.

    Returns
    -------
    dict
        As ``layout/tables/plan.schema.json`` describes it.
    """
    area = plan.area
    data: dict[str, Any] = {
        "format": FORMAT,
        "made_by": MADE_BY,
        "files": sorted(files),
        "about": dict(sorted(about.items())),
        "area": {
            "name": area.settings.area.name,
            "units": area.settings.area.units,
            "crs": area.crs.to_string(),
            "crs_wkt": area.crs.to_wkt(),
            "stand": shape_data(area.stand),
            "may_use": shape_data(area.may_use),
        },
        "settings": plain(area.settings.model_dump(mode="python")),
        "landing": _row_data(rows.of_layer(plan, "landing")[0]),
    }
    for key, layer in _LISTS:
        data[key] = [_row_data(row) for row in rows.of_layer(plan, layer)]
    for row, position in zip(data["positions"], plan.positions, strict=True):
        row["tree_ids"] = list(position.tree_ids)
    for row, trail in zip(data["trails"], plan.trails, strict=True):
        row["benched"] = trail.benched
    for row, pull in zip(data["pulls"], plan.pulls, strict=True):
        row["pieces"] = pull.pieces
    agreement = dataclasses.asdict(plan.channels.agreement)
    data["channel_agreement"] = {n: rounded(n, value) for n, value in agreement.items()}
    data["trees"] = _trees(plan)
    data["stations"] = {
        trail_id: {
            column: [rounded(name, value) for value in getattr(stations, column).tolist()]
            for column, name in _STATION_COLUMNS
        }
        for trail_id, stations in sorted(plan.stations.items())
    }
    data["soil"] = {
        name: rounded(name, value)
        for name, value in dataclasses.asdict(plan.soil).items()
        if name != "class_m2"
    }
    data["soil"]["class_m2"] = {
        str(number): rounded("class_m2", value)
        for number, value in sorted(plan.soil.class_m2.items())
    }
    data["rub_trees"] = rub_data(plan)
    data["lays"] = lay_data(plan)
    data["felling_groups"] = group_data(plan)
    if plan.treatment is not None:
        data["timber"] = timber_data(plan, plan.treatment)
        data["stand"] = stand_data(plan.treatment)
    if plan.work is not None:
        data["turns"] = turn_data(plan)
        data["work"] = work_data(plan.work)
        two = plan.work.two_stage
        if two is not None:
            shape = None if two.shape is None else shape_data(two.shape)
            data["work"]["two_stage"]["shape"] = shape
    if plan.erosion is not None:
        data["erosion"] = erosion_data(plan.erosion)
    if plan.closeout is not None:
        data["closeout"] = closeout_data(plan.closeout)
    data["choice"] = plain(dataclasses.asdict(plan.choice))
    if plan.options:  # where marked trees are still to come out
        data["options"] = plain([dataclasses.asdict(row) for row in plan.options])
    if plan.limits:  # where marked trees are unserved
        data["limits"] = plain([dataclasses.asdict(row) for row in plan.limits])
    if plan.more_landings:  # where there are several; the first stands above as well
        data["landings"] = [_row_data(row) for row in rows.of_layer(plan, "landing")]
    if plan.landing_options:  # where no landing is drawn
        data["landing_options"] = _options(plan)
    if plan.changes or plan.retired:  # where names are kept from plan to plan
        data["changes"] = plain([dataclasses.asdict(change) for change in plan.changes])
        data["retired"] = plain([dataclasses.asdict(old) for old in plan.retired])
    return data


_STATION_COLUMNS = (
    ("at_m", "at_m"),
    ("x", "x_m"),
    ("y", "y_m"),
    ("z", "z_m"),
    ("grade_pct", "grade_pct"),
    ("cross_pct", "cross_pct"),
    ("tilt_left", "tilt_pct"),
)


def write(data: Mapping[str, Any], path: Path) -> None:
    """Write plan data as UTF-8 JSON, one top-level entry or list member a line.

    Parameters
    ----------
    data : mapping
        From `as_data`.
    path : Path
        The file.

    Raises
    ------
    ValueError
        If a number in it is not finite.
    """
    lines = [f"{_text(key)}: {_value(value)}" for key, value in data.items()]
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8", newline="\n")


def _value(value: object) -> str:
    """Write a list one member a line, so that two plans can be compared line by line."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "[\n" + ",\n".join(map(_text, value)) + "\n]"
    if isinstance(value, dict) and any(isinstance(part, list) for part in value.values()):
        return (
            "{\n" + ",\n".join(f"{_text(k)}: {_value(part)}" for k, part in value.items()) + "\n}"
        )
    return _text(value)


def _text(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _row_data(row: rows.Row) -> dict[str, Any]:
    """Give a row's values, and its shape where it has one."""
    return {**row.values, "shape": None if row.shape is None else shape_data(row.shape)}


def _trees(plan: Plan) -> list[dict[str, Any]]:
    """Give every listed tree: what the plan says, and what the list said."""
    listed = plan.area.trees
    ours = ("tree_id", *(name for name, _ in TREE_COLUMNS))
    given = kept_columns.kept(listed.table, ours, listed.tree_id)
    inputs = given.to_dict(orient="records")
    data = []
    for row, outcome, source in zip(rows.of_layer(plan, "trees"), plan.trees, inputs, strict=True):
        more = {
            "shortfall": rounded("shortfall", outcome.shortfall),
            "shortfall_unit": outcome.shortfall_unit,
            "remedies": list(outcome.remedies),
            "marginal_m2": rounded("marginal_m2", outcome.marginal_m2),
            "marginal_trail_m": rounded("marginal_trail_m", outcome.marginal_trail_m),
        }
        data.append({"tree_id": outcome.tree_id, **_row_data(row), **more, "input": plain(source)})
    return data


def _options(plan: Plan) -> list[dict[str, Any]]:
    """Give the landings tried, with their places and why nothing could be planned from one."""
    made = rows.of_layer(plan, "landing_options")
    return [
        {
            **_row_data(row),
            "x_m": rounded("x_m", option.x),
            "y_m": rounded("y_m", option.y),
            "reason": option.reason,
        }
        for row, option in zip(made, plan.landing_options, strict=True)
    ]


def shape_data(shape: BaseGeometry) -> dict[str, Any]:
    """Give a geometry as type and coordinates, to the millimetre."""
    made = mapping(shape)
    return {"type": made["type"], "coordinates": _coordinates(made["coordinates"])}


def _coordinates(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_coordinates(part) for part in value]
    return round(float(value), COORDINATE_DECIMALS) + 0.0


def plain(value: Any) -> Any:
    """Turn settings and records into what JSON holds; a number without end becomes null.

    Parameters
    ----------
    value : object
        Mappings, sequences, text, numbers, None.

    Returns
    -------
    object
        Only dict, list, str, int, finite float, bool and None.
    """
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple | set | frozenset | np.ndarray):
        return [plain(part) for part in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(f"{float(value):.12g}") + 0.0 if math.isfinite(value) else None
    return value if value is None or isinstance(value, str) else str(value)
