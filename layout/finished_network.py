"""A finished plan's network taken up again, on the plan's own rules or on changed ones."""

from dataclasses import dataclass, replace

from shapely.geometry.base import BaseGeometry

from layout import winch
from layout.geometry import coordinates
from layout.ground import open_area
from layout.growing_ground import prepare
from layout.network import Branch
from layout.plan_record import Plan
from layout.records import Trail
from layout.settings import limits_in_force
from layout.site import Area
from layout.sprouts import Grower, Known
from layout.standing import with_standing
from layout.turning import pad_radius_m
from layout.water import Strips


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """What growing on from a finished plan needs.

    Parameters
    ----------
    plan : Plan
        The plan.
    area : Area
        Its area, with the settings that count here.
    grower : Grower
        Tables and rules made from them.
    known : Known
        Lines measured by them.
    branches : tuple of Branch
        The plan's trails; its winch positions stay on offer.
    standing : tuple of Trail
        Those that stand whatever is chosen; the first branches.
    opened : shapely geometry
        Ground a machine may stand on.
    main_swing_deg, pad_radius_m : float
        How far the outfit may swing off a main trail, and the size of a turning pad.
    """

    plan: Plan
    area: Area
    grower: Grower
    known: Known
    branches: tuple[Branch, ...]
    standing: tuple[Trail, ...]
    opened: BaseGeometry
    main_swing_deg: float
    pad_radius_m: float

    @property
    def yards(self) -> list[tuple[float, float]]:
        """Where the tractor stands on each landing to winch."""
        return [(one.x, one.y) for one in self.plan.landings]


def network_of(plan: Plan, strips: Strips, area: Area | None = None) -> Network:
    """Take a plan's network up again.

    Parameters
    ----------
    plan : Plan
        A finished plan.
    strips : Strips
        Its water strips.
    area : Area, optional
        The plan's area with other settings.

    Returns
    -------
    Network
    """
    area = plan.area if area is None else area
    tractor = area.settings.tractor
    limits = limits_in_force(area.settings)
    opened = open_area(area, strips)
    standing = tuple(t for t in plan.trails if _stands(t))
    main = standing[0]
    grower, trunk = prepare(area, plan.terrain, strips, opened, limits, main)
    known = Known(grower)
    number = {trail.trail_id: n for n, trail in enumerate(standing)}
    stops: dict[str, set[float]] = {}
    for position in plan.positions:
        stops.setdefault(position.trail_id, set()).add(position.at_m)
    branches = list(with_standing(grower, trunk, standing))
    rest = [t for t in plan.trails if not _stands(t)]
    for trail in rest:
        line = coordinates(trail.line)
        number[trail.trail_id] = len(branches)
        branches.append(
            Branch(
                line,
                number[trail.joins_id],
                trail.joins_at_m or 0.0,
                known.measured(line),
                built=True,
            )
        )
    for trail, n in ((t, number[t.trail_id]) for t in (*standing, *rest)):
        mine = stops.get(trail.trail_id, set()) | set(branches[n].stops)
        branches[n] = replace(branches[n], stops=tuple(sorted(mine)))
    return Network(
        plan, area, grower, known, tuple(branches), standing, opened,
        winch.swing_limit_deg(tractor.length_m, tractor.width_m, main.width_m),
        pad_radius_m(tractor.length_m),
    )  # fmt: skip


def rewinched(network: Network, area: Area) -> Network:
    """Give the same network and ground with the winch of other settings."""
    rules = winch.rules_from(area.settings)
    return replace(network, area=area, grower=replace(network.grower, winch=rules))


def _stands(trail: Trail) -> bool:
    """Tell whether a trail is there whatever is chosen: a main trail, or on the ground already."""
    return trail.kind == "main" or trail.source != "routed"
