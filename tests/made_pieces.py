"""A wood of three trails with winch positions and pulls by hand, and ways by a formula."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from shapely.geometry import LineString
from small_areas import LANDING, MAIN, list_of, path, settings_of, wood

from layout.records import Pull, RubTree, Trail, WinchPosition
from layout.site import Area
from layout.tree_sizes import sizes_of
from layout.work_records import PayloadLimit, Piece, Way

SPUR = path((1.7, 14.2), (20.0, 30.0), (60.0, 40.0))
FORK = path((20.0, 30.0), (40.0, 10.0), (70.0, 5.0))


def trails() -> tuple[Trail, ...]:
    """Give a main trail, a spur off it and a fork off that."""
    return (
        Trail("M", "main", "L1", MAIN, 3.6, "drawn"),
        Trail("S1", "spur", "L1", SPUR, 3.2, "routed", "M", float(MAIN.project(_start(SPUR)))),
        Trail("S2", "spur", "L1", FORK, 3.2, "routed", "S1", float(SPUR.project(_start(FORK)))),
    )


def _start(line: LineString) -> Any:
    return line.interpolate(0.0)


@dataclass
class Ways:
    """The way out of the three trails; a load may weigh less the farther out it starts."""

    most_kg: float = 1000.0
    less_per_m: float = 0.0
    by: PayloadLimit = "traction"

    def way(self, trail_id: str, at_m: float) -> Way:
        """Give the way; of no trail there is none."""
        by_id = {trail.trail_id: trail for trail in trails()}
        travel_m, here = at_m, by_id[trail_id]
        while here.joins_id:
            travel_m, here = travel_m + (here.joins_at_m or 0.0), by_id[here.joins_id]
        limit_kg = max(self.most_kg - self.less_per_m * travel_m, 0.0)
        return Way(trail_id, at_m, travel_m, limit_kg, self.by, trail_id, at_m)


@dataclass
class Made:
    """All that pieces are cut from."""

    area: Area
    positions: tuple[WinchPosition, ...]
    pulls: tuple[Pull, ...]
    ways: Ways
    rub_trees: tuple[RubTree, ...] = ()
    in_trail: tuple[str, ...] = ()

    def arguments(self) -> tuple[Any, ...]:
        """Give them in the order `layout.pieces.pieces_of` takes them."""
        ids = self.area.trees.tree_id
        return (
            self.area, sizes_of(self.area), self.positions, self.pulls, trails(), self.ways,
            self.rub_trees, np.array([name in self.in_trail for name in ids], dtype=bool),
        )  # fmt: skip


SPOTS = (
    ("W1", "M", 40.0),
    ("W2", "S1", 20.0),
    ("W3", "S1", 50.0),
    ("W4", "S2", 35.0),
    ("W5", "", 0.0),
)


def made(
    rows: list[dict[str, Any]], ways: Ways | None = None, *, parts: int = 1, **tables: Any
) -> Made:
    """Serve every marked tree from the position its row names, and the first where it names none.

    Parameters
    ----------
    rows : list of dict
        Of the tree list, as in `small_areas.list_of`, with ``at`` the position.
    ways : Ways, optional
    parts : int, optional
        Each stem is winched in.
    **tables : dict
        Settings.
    """
    spread = [{"x": 3.0 * k, "y": 60.0 + k % 5, "marked": True} | row for k, row in enumerate(rows)]
    area = wood(settings_of(**tables), spread)
    area = replace(area, trees=list_of(spread))
    by_id = {trail.trail_id: trail for trail in trails()}
    pulled: dict[str, list[str]] = {name: [] for name, _, _ in SPOTS}
    for name, row in zip(area.trees.tree_id, spread, strict=True):
        if row["marked"] and row.get("at", "W1"):
            pulled[row.get("at", "W1")].append(name)
    positions, pulls = [], []
    for name, trail_id, at_m in SPOTS:
        line = by_id[trail_id].line if trail_id else LineString(LANDING.exterior.coords)
        spot = line.interpolate(at_m)
        positions.append(
            WinchPosition(
                name, trail_id, "L1", at_m, spot.x, spot.y, 0.0, 0.0, 0.0, 0.0, 0.0,
                tuple(pulled[name]),
            )
        )  # fmt: skip
        for tree in pulled[name]:
            rope = LineString([(spot.x, spot.y), (spot.x + 20.0, spot.y)])
            pulls.append(
                Pull(
                    tree, name, 20.0, 20.0, 40.0, 5.0, "sure", 0.0, "straight", 0.0, 0.0, 5.0,
                    rope, pieces=parts,
                )
            )  # fmt: skip
    return Made(area, tuple(positions), tuple(pulls), ways or Ways())


def piece(
    tree_id: str, number: int, mass_kg: float, trail_id: str = "M", at_m: float = 40.0, **more: Any
) -> Piece:
    """Make one piece by hand; fields of its way are given as ``limit_kg`` and ``travel_m``."""
    travel_m, limit_kg = more.pop("travel_m", at_m), more.pop("limit_kg", 1000.0)
    way = Way(trail_id, at_m, travel_m, limit_kg, "traction", trail_id, at_m)
    plain = Piece(
        tree_id, number, "sawlog", "harvest", trail_id, at_m, "W1", 4.9, mass_kg / 1000, mass_kg,
        way,
    )  # fmt: skip
    return replace(plain, **more)
