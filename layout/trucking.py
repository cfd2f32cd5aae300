"""Decks on the landing by sort, the room it all takes, and trucks away from it.

A deck is as long as its wood asks for at the height and closeness it is piled: for each
log, wood over the solid share, its own length and the height. All wood is taken to lie at
once, since trucks may come late; where they come in between less room will do. Whether
trucks took loads that are in already is not known: sorts, decks and trucks are of what is
still to come, and what is in is told beside it and needs its room as well.
"""

import math
from collections.abc import Sequence
from itertools import groupby

import numpy as np

from layout.findings import Finding
from layout.products import Product
from layout.records import Landing
from layout.settings import AreaSettings
from layout.settings.work_tables import Deck
from layout.sources import TRUCK_SIZES
from layout.speech import speak_area, speak_length, speak_wood
from layout.turning import pad_radius_m
from layout.units import CORD_FT3, CUBIC_FOOT_M3, FOOT_M, SHORT_TON_KG, Units
from layout.work_records import AtLanding, Sort, Trucking, Turn

SMALL_WOOD = "small wood"
NOT_CUT_UP = "stems not cut up"

# What TRUCK_SIZES prints of a tri-axle (18 short tons, 7 cords) and a semi (13 cords); the
# semi's 25 tons and all of the tandem from memory.
PAYLOAD_KG = {"tandem": 9 * SHORT_TON_KG, "tri-axle": 18 * SHORT_TON_KG, "semi": 25 * SHORT_TON_KG}
BUNK_M3 = {
    "tandem": 4 * CORD_FT3 * CUBIC_FOOT_M3,
    "tri-axle": 7 * CORD_FT3 * CUBIC_FOOT_M3,
    "semi": 13 * CORD_FT3 * CUBIC_FOOT_M3,
}
TRUCK_M = {"tandem": 28 * FOOT_M, "tri-axle": 36 * FOOT_M, "semi": 60 * FOOT_M}  # memory
LOADING_WIDTH_M = 15 * FOOT_M  # a truck and a person's way along both its sides; ours
BUCK_ASIDE_M = 2.0  # free at both ends of what is bucked, and to both sides; ours
LOADS_ABREAST_M = 3.0  # width of a load that lies to be bucked; ours
NOISE = 1e-9


def frontage_m(wood_m3: float, length_m: float, deck: Deck) -> float:
    """Give the length of deck wood of one length takes.

    ``wood / (solid share x log length x height)``.

    Parameters
    ----------
    wood_m3, length_m : float
        Solid wood, cubic metres, and length of its logs, metres.
    deck : Deck
        How it is piled.

    Returns
    -------
    float
        Metres along the deck's face; 0 for logs without a length.
    """
    if not length_m > 0:
        return 0.0
    return wood_m3 / (deck.stack_solid * length_m * deck.pile_height_m)


def sorts_of(products: Sequence[Product], deck: Deck) -> tuple[Sort, ...]:
    """Sort what lies on the landing: sawlogs by species, small wood, what stays whole.

    Parameters
    ----------
    products : sequence of Product
    deck : Deck
        How it is piled.

    Returns
    -------
    tuple of Sort
        The most wood first, small wood and stems that stay whole last.
    """

    def name(p: Product) -> str:
        return {"sawlog": p.species, "pulp": SMALL_WOOD, "stem": NOT_CUT_UP}[p.kind]

    rank = {"sawlog": 0, "pulp": 1, "stem": 2}
    some = sorted(products, key=lambda p: (rank[p.kind], name(p), p.tree_id, -p.length_m))
    sorts = [
        _sort(label, list(alike), deck)
        for (_, label), alike in groupby(some, key=lambda p: (rank[p.kind], name(p)))
    ]
    return tuple(sorted(sorts, key=lambda s: (rank[s.kind], -s.wood_m3, s.name)))


def _sort(name: str, some: Sequence[Product], deck: Deck) -> Sort:
    """Sum up one sort."""
    feet = [p.net_bf for p in some if p.net_bf is not None]
    net = [p.net_m3 for p in some if p.net_m3 is not None]
    return Sort(
        name=name,
        kind=some[0].kind,
        pieces=len(some),
        wood_m3=sum(p.wood_m3 for p in some),
        mass_kg=sum(p.mass_kg for p in some),
        net_bf=sum(feet) if feet else None,
        longest_m=max(p.length_m for p in some),
        frontage_m=sum(frontage_m(p.wood_m3, p.length_m, deck) for p in some),
        net_m3=sum(net) if net else None,
    )


def trucking_of(
    settings: AreaSettings,
    landing: Landing,
    products: Sequence[Product],
    longest_m: float = 0.0,
    brought: Sequence[Turn] = (),
) -> Trucking:
    """Lay out decks and load trucks.

    Parameters
    ----------
    settings : AreaSettings
        ``[truck]``; the outfit's length.
    landing : Landing
    products : sequence of Product
    longest_m : float, optional
        Longest stem or log that is dragged in, metres: it is bucked there.
    brought : sequence of Turn, optional
        Loads that are in already; others among them do not count.

    Returns
    -------
    Trucking
        ``needed_m2`` is the sum of four parts: decks with the gaps between (derived),
        a place to buck what comes in (ours), the tractor's turn (ours), and the truck's
        standing (length from memory, width ours). Loads are whole trucks of the greater
        of mass, weight error in it, and of stacked volume; all sorts share them. There are
        as many gaps as the settings' sorts ask for, or those that come out where they are
        more.
    """
    truck, deck = settings.truck, settings.truck.deck
    sorts = sorts_of(products, deck)
    gaps_m = deck.gap_between_sorts_m * (max(deck.sorts, len(sorts)) - 1) if sorts else 0.0
    longest = max((s.longest_m for s in sorts), default=0.0)
    wood = sum(s.wood_m3 for s in sorts)
    mass = sum(s.mass_kg for s in sorts) * (1 + settings.timber.weight_error_pct / 100)
    payload = PAYLOAD_KG[truck.kind] if truck.payload_kg is None else truck.payload_kg
    by_mass, by_volume = mass / payload, wood / deck.stack_solid / BUNK_M3[truck.kind]
    decks = sum(s.frontage_m * s.longest_m for s in sorts) + gaps_m * longest
    dragged = max(longest_m, longest)
    bucking = (dragged + 2 * BUCK_ASIDE_M) * (LOADS_ABREAST_M + 2 * BUCK_ASIDE_M) if sorts else 0.0
    turning = math.pi * pad_radius_m(settings.tractor.length_m) ** 2
    standing = TRUCK_M[truck.kind] * LOADING_WIDTH_M
    done = [turn for turn in brought if turn.state == "done"]
    return Trucking(
        sorts=sorts,
        frontage_m=sum(s.frontage_m for s in sorts) + gaps_m,
        deck_m2=decks,
        needed_m2=decks + bucking + turning + standing,
        has_m2=float(landing.shape.area),
        payload_kg=payload,
        loads_by_mass=by_mass,
        loads_by_volume=by_volume,
        loads=math.ceil(max(by_mass, by_volume) - NOISE),
        bucking_m2=bucking,
        turning_m2=turning,
        standing_m2=standing,
        in_m3=float(np.nansum([turn.wood_m3 for turn in done])) if done else 0.0,
        in_kg=float(np.nansum([turn.mass_kg for turn in done])) if done else 0.0,
    )


def trucking_findings(
    settings: AreaSettings, landing: Landing, trucking: Trucking
) -> tuple[Finding, ...]:
    """Say whether all of it fits on the landing, and how many trucks it fills.

    Parameters
    ----------
    settings : AreaSettings
    landing : Landing
    trucking : Trucking

    Returns
    -------
    tuple of Finding
        None where nothing comes out.
    """
    each = (AtLanding(landing.landing_id, trucking),)
    return (*room_findings(settings, (landing,), each), *truck_findings(settings, trucking))


def room_findings(
    settings: AreaSettings, landings: Sequence[Landing], each: Sequence[AtLanding]
) -> tuple[Finding, ...]:
    """Say of every landing whether all that comes to it fits on it; see `trucking_findings`."""
    units, deck = settings.area.units, settings.truck.deck
    return tuple(
        finding
        for landing, at in zip(landings, each, strict=True)
        if at.trucking.sorts
        for finding in _room(landing, at.trucking, deck, units)
    )


def truck_findings(settings: AreaSettings, trucking: Trucking) -> tuple[Finding, ...]:
    """Say how many trucks all of it fills; see `trucking_findings`."""
    return (_trucks(settings, trucking, settings.area.units),) if trucking.sorts else ()


def _room(landing: Landing, trucking: Trucking, deck: Deck, units: Units) -> list[Finding]:
    """Hold the room it takes against the landing's, with what is in already."""
    # deck of wood of whatever length: front times length
    lying_m2 = trucking.in_m3 / (deck.stack_solid * deck.pile_height_m)
    needed_m2 = trucking.needed_m2 + lying_m2
    if needed_m2 <= trucking.has_m2 + 1e-6:
        return []
    there = (
        f"; in that {speak_area(lying_m2, units)} for what is in already, unless trucks took it"
        if lying_m2 > 0
        else ""
    )
    parts = (
        ("decks", trucking.deck_m2 + lying_m2),
        ("bucking", trucking.bucking_m2),
        ("the tractor's turn", trucking.turning_m2),
        ("a truck", trucking.standing_m2),
    )
    told = ", ".join(f"{name} {speak_area(m2, units)}" for name, m2 in parts)
    return [
        Finding(
            "landing_decks",
            "caution",
            f"Landing {landing.landing_id}: with all its wood on it, it needs about "
            f"{speak_area(needed_m2, units)} ({told}{there}) and has "
            f"{speak_area(trucking.has_m2, units)}; {speak_length(trucking.frontage_m, units)} of "
            f"deck{' for what is still to come' if there else ''}. Have trucks come before it is "
            "full, pile higher, or make it larger.",
            "landing",
            landing.landing_id,
            value=needed_m2,
            limit=trucking.has_m2,
            unit="m2",
            source="ours; room for decks derived, sizes of trucks from memory",
            confirmed=False,
            at=(landing.x, landing.y),
        )
    ]


def _trucks(settings: AreaSettings, trucking: Trucking, units: Units) -> Finding:
    """Say how many trucks, and what fills them."""
    wood = sum(s.wood_m3 for s in trucking.sorts)
    what = "its weight" if trucking.loads_by_mass >= trucking.loads_by_volume else "its bulk"
    lead, rest = f"{speak_wood(wood, units)} of wood fill", ""
    if trucking.in_m3 > 0:
        lead = f"{speak_wood(wood, units)} of wood still to come fill"
        rest = (
            f" {speak_wood(trucking.in_m3, units)} more are in already: with them "
            f"{_loads(all_loads(settings, trucking))}, less what trucks took away."
        )
    return Finding(
        "truck_loads",
        "ok",
        f"{lead} {_loads(trucking.loads)} of a {settings.truck.kind} truck, set by "
        f"{what}; more where sorts go to different buyers.{rest} What a truck may carry on your "
        "roads is for its driver to say.",
        "landing",
        value=float(trucking.loads),
        source=str(TRUCK_SIZES),
        confirmed=TRUCK_SIZES.confirmed and settings.truck.kind == "tri-axle",
    )


def all_loads(settings: AreaSettings, trucking: Trucking) -> int:
    """Count the truck loads of what is in already and of what is still to come together.

    Parameters
    ----------
    settings : AreaSettings
    trucking : Trucking

    Returns
    -------
    int
        Whole trucks.
    """
    truck = settings.truck
    by_mass = trucking.loads_by_mass + trucking.in_kg / trucking.payload_kg
    stacked_m3 = trucking.in_m3 / truck.deck.stack_solid
    by_volume = trucking.loads_by_volume + stacked_m3 / BUNK_M3[truck.kind]
    return math.ceil(max(by_mass, by_volume) - NOISE)


def _loads(count: int) -> str:
    return "1 load" if count == 1 else f"{count} loads"
