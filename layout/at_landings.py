"""Which of several landings each load comes to, and what that means for work and trucks."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from shapely.geometry import Point

from layout.products import Product
from layout.records import Landing, Trail, WinchPosition
from layout.settings import AreaSettings
from layout.site import Area
from layout.trucking import sorts_of, trucking_of
from layout.work_records import AtLanding, Trucking, Turn


def with_landings(
    turns: Sequence[Turn],
    landings: Sequence[Landing],
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    area: Area,
) -> tuple[Turn, ...]:
    """Say of every load which landing it comes to.

    Parameters
    ----------
    turns : sequence of Turn
        Of one plan.
    landings, trails, positions : sequences of Landing, Trail, WinchPosition
        Of the plan.
    area : Area
        Places of its trees, for stems that stand on a landing.

    Returns
    -------
    tuple of Turn
        As they are where there is one landing alone: nobody asks then. Else each leads to
        its trail's landing; from no trail, to that of its position, or to the nearest.
    """
    if len(landings) < 2:
        return tuple(turns)
    by_trail = {trail.trail_id: trail.landing_id for trail in trails}
    by_spot = {spot.position_id: spot.landing_id for spot in positions}
    row = {name: i for i, name in enumerate(area.trees.tree_id)}

    def leads_to(turn: Turn) -> str:
        known = by_trail.get(turn.trail_id) or by_spot.get(turn.position_id)
        spots = [row[tree] for tree in turn.tree_ids if tree in row]
        if known is not None or not spots:
            return known or landings[0].landing_id
        tree = Point(float(area.trees.x[spots[0]]), float(area.trees.y[spots[0]]))
        return min(landings, key=lambda one: (one.shape.distance(tree), one.landing_id)).landing_id

    return tuple(replace(turn, landing_id=leads_to(turn)) for turn in turns)


def truckings_of(
    settings: AreaSettings,
    landings: Sequence[Landing],
    products: Sequence[Product],
    longest_m: Mapping[str, float],
    turns: Sequence[Turn],
    brought: Sequence[Turn],
) -> tuple[AtLanding, ...]:
    """Lay out decks and load trucks at each of several landings.

    Parameters
    ----------
    settings : AreaSettings
    landings : sequence of Landing
    products : sequence of Product
    longest_m : mapping of str to float
        Longest piece dragged to each landing, metres.
    turns : sequence of Turn
        The loads of the plan, each with its landing.
    brought : sequence of Turn
        Loads that are in already, each with its landing.

    Returns
    -------
    tuple of AtLanding
        One a landing.
    """
    comes_to = {tree: turn.landing_id for turn in (*brought, *turns) for tree in turn.tree_ids}
    first = landings[0].landing_id
    return tuple(
        AtLanding(
            one.landing_id,
            trucking_of(
                settings,
                one,
                [p for p in products if comes_to.get(p.tree_id, first) == one.landing_id],
                longest_m.get(one.landing_id, 0.0),
                [turn for turn in brought if turn.landing_id == one.landing_id],
            ),
        )
        for one in landings
    )


def all_together(
    settings: AreaSettings, each: Sequence[AtLanding], products: Sequence[Product]
) -> Trucking:
    """Add up decks and trucks of several landings.

    Parameters
    ----------
    settings : AreaSettings
    each : sequence of AtLanding
    products : sequence of Product
        Of all of them.

    Returns
    -------
    Trucking
        Sorts over all landings; room and trucks are sums, since no deck and no truck
        stands at two landings.
    """
    some = [at.trucking for at in each]
    return Trucking(
        sorts=sorts_of(products, settings.truck.deck),
        frontage_m=sum(t.frontage_m for t in some),
        deck_m2=sum(t.deck_m2 for t in some),
        needed_m2=sum(t.needed_m2 for t in some),
        has_m2=sum(t.has_m2 for t in some),
        payload_kg=some[0].payload_kg,
        loads_by_mass=sum(t.loads_by_mass for t in some),
        loads_by_volume=sum(t.loads_by_volume for t in some),
        loads=sum(t.loads for t in some),
        bucking_m2=sum(t.bucking_m2 for t in some),
        turning_m2=sum(t.turning_m2 for t in some),
        standing_m2=sum(t.standing_m2 for t in some),
        in_m3=sum(t.in_m3 for t in some),
        in_kg=sum(t.in_kg for t in some),
    )
