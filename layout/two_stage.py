"""A small landing in the woods and a trailer along the lane, against dragging all the way.

Loads that would come over the lane end at the small landing instead, are bucked there and
carried on; the others are dragged as before. Weighed are the hours of bringing wood in
(winching, felling and all else are alike), the passes the lane is spared, the ground the
small landing takes, and the share of the wood that is never dragged along the lane and so
stays clean. Loads stay as they were packed: what heavier ones a shorter drag allows is not
counted, nor that the tractor's winch comes off and on more often than once a filling.

Once a load is in that ended at the small landing, the place is kept, and the trailer
carries what lies there too, until ``progress.csv`` calls those loads carried.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import Point

from layout.calibration import Calibration
from layout.cycle_model import MIN_S, Pace
from layout.cycle_times import Job, hours, turn_minutes
from layout.packing import Item, pack
from layout.pieces import ON_LANDING
from layout.products import Product, products_of
from layout.read_landing import place_on_grid
from layout.shorter_ways import NOISE_M, ends_short, entries
from layout.site import Area, EarlierPlace, EarlierTurn
from layout.small_landing import (
    Ground,
    SmallLanding,
    small_landing_at,
    small_landing_kept,
    small_landings,
)
from layout.units import POUND_KG, Units
from layout.work_records import Hours, Piece, Turn, TwoStage

AWAY_M = 10.0  # a place set so far from the one in use is another; ours
CHANGE_MIN = 20.0  # winch off and trailer on, or back; ours
PILED_SHARE = 0.5  # of a small landing's ground that wood lies on; ours
LIMIT_WORDS = {
    "rating": "its rating",
    "traction": "the tractor's traction",
    "front_axle": "the tractor's front axle",
    "engine": "the tractor's power",
    "braking": "the tractor's brakes",
}
NEVER = "the wood is all within reach of the landing: no load would come over the lane"


def two_stage_of(
    ground: Ground, job: Job, products: Sequence[Product], pace: Pace, calibration: Calibration
) -> TwoStage:
    """Weigh a trailer against dragging all the way.

    Parameters
    ----------
    ground : Ground
        The layout and the ground it lies on; ``[trailer]`` of its settings.
    job : Job
    products : sequence of Product
        What the job's pieces are once they are bucked.
    pace : Pace
        Corrected by the user's own loads, where there are any.
    calibration : Calibration
        Of those loads; narrows the range of what is dragged.

    Returns
    -------
    TwoStage
        At the place the user set, or at the station of the main trail that brings the
        wood in fastest. ``why_none`` says what is in the way, where nothing will do.
        ``chosen`` where the settings ask for it and it can be done.
    """
    area = ground.area
    at = area.settings.trailer.at
    kept = in_use(area)
    if kept is not None:
        return _kept(ground, kept, _Weighed(ground, job, products, pace, calibration))
    if at is None:
        places, why = small_landings(ground)
    else:
        x, y = place_on_grid(at, area.crs, "[trailer] at:")
        places, why = small_landing_at(ground, x, y)
    if not places:
        return TwoStage(why)
    weighed = _Weighed(ground, job, products, pace, calibration)
    ranked = [(weighed.minutes(place), place) for place in places if weighed.through(place)]
    if not ranked:
        return TwoStage(NEVER)
    fitting = [(m, p) for m, p in ranked if weighed.heaviest_kg(p) <= p.load_kg]
    if not fitting:
        return TwoStage(weighed.too_heavy([place for _, place in ranked]))
    _, best = min(fitting, key=lambda one: (round(one[0], 6), one[1].trail_id, one[1].at_m))
    return weighed.answer(best)


def in_use(area: Area) -> EarlierPlace | None:
    """Give the small landing of the earlier plan, once a load is in that ended there.

    Parameters
    ----------
    area : Area
        Its earlier plan, told what is in.

    Returns
    -------
    EarlierPlace or None
    """
    earlier = area.earlier
    return earlier.small_landing if earlier is not None and _ended_there(area) else None


def _ended_there(area: Area) -> list[EarlierTurn]:
    """Give the loads that are in and ended at the small landing."""
    turns = area.earlier.turns if area.earlier is not None else ()
    return [t for t in turns if t.state == "done" and t.ends_at == "small landing"]


def _kept(ground: Ground, kept: EarlierPlace, weighed: "_Weighed") -> TwoStage:
    """Weigh the place that is in use."""
    at, count = ground.area.settings.trailer.at, len(weighed.lying)
    moved = False
    if at is not None:
        spot = Point(place_on_grid(at, ground.area.crs, "[trailer] at:"))
        moved = kept.shape.distance(spot) > AWAY_M
    places, why = small_landing_kept(ground, kept)
    if places and not (count or weighed.through(places[0])):
        places, why = (), NEVER
    if places and weighed.heaviest_kg(places[0]) > places[0].load_kg:
        places, why = (), weighed.too_heavy(places)
    two = (
        weighed.answer(places[0])
        if places
        else TwoStage(why, kept.trail_id, kept.at_m, shape=kept.shape)
    )
    return replace(two, in_use=True, loads_in=count, moved=moved)


class _Weighed:
    """The job, weighed at one place after another."""

    def __init__(
        self, ground: Ground, job: Job, products: Sequence[Product], pace: Pace,
        calibration: Calibration,
    ) -> None:  # fmt: skip
        self.ground, self.pace, self.calibration = ground, pace, calibration
        self.settings = ground.area.settings
        self.turns = job.ahead
        self.enters = entries(self.turns, job.pieces, ground.trails)
        self.lying = [turn for turn in _ended_there(ground.area) if not turn.carried]
        err = 1 + self.settings.timber.weight_error_pct / 100
        self.parts: dict[str, list[tuple[float, float]]] = {}
        # a stick longer than any log is cut for the trailer, its parts taken as alike
        longest = max(self.settings.timber.log_lengths_m, default=math.inf)

        def logs(product: Product) -> list[tuple[float, float]]:
            cuts = math.ceil(product.length_m / longest - NOISE_M) if product.kind == "pulp" else 1
            cuts = max(cuts, 1)
            return [(product.mass_kg * err / cuts, product.wood_m3 / cuts)] * cuts

        for product in products:
            self.parts.setdefault(product.tree_id, []).extend(logs(product))
        self.there: list[tuple[float, float]] = []
        if self.settings.work.extract == "tree":
            self.there = [part for one in self._whole_trees() for part in logs(one)]
        else:
            for turn in self.lying:
                count = max(len(turn.pieces), 1)
                self.there += [(turn.mass_kg / count, turn.wood_m3 / count)] * count

    def _whole_trees(self) -> tuple[Product, ...]:
        """Give what trees that lie at the small landing are bucked into."""
        of_tree = {
            tree: turn.mass_kg / len(turn.tree_ids)
            for turn in self.lying
            for tree in turn.tree_ids
            if tree not in self.parts  # what is still to come of it counts all of it
        }
        pieces = [
            Piece(tree, 1, "tree", "harvest", "", 0.0, "", 0.0, 0.0, kg, ON_LANDING)
            for tree, kg in of_tree.items()
        ]
        return products_of(self.ground.area, pieces) if pieces else ()

    def through(self, place: SmallLanding) -> list[Turn]:
        """Give the loads that would end at a place."""
        return [
            turn
            for turn, (name, at) in zip(self.turns, self.enters, strict=True)
            if ends_short(turn, name, at, place.trail_id, place.at_m)
        ]

    def carried(self, place: SmallLanding) -> list[tuple[float, float]]:
        """Give mass with the weight error and wood of every log the trailer would carry.

        What lies there is taken with what is still to come; of a load of logs each is taken
        as alike.
        """
        trees = dict.fromkeys(t for turn in self.through(place) for t in turn.tree_ids)
        return [*self.there, *(part for tree in trees for part in self.parts.get(tree, []))]

    def heaviest_kg(self, place: SmallLanding) -> float:
        """Give the mass of the heaviest log the trailer would carry."""
        return max((mass for mass, _ in self.carried(place)), default=0.0)

    def too_heavy(self, places: Sequence[SmallLanding]) -> str:
        """Say what a trailer may carry at the best of some places, and what it would have to."""
        best = max(places, key=lambda p: (p.load_kg - self.heaviest_kg(p), -p.at_m))
        units = self.settings.area.units
        most, log = _mass(best.load_kg, units), _mass(self.heaviest_kg(best), units)
        help_ = "; one with brakes would carry more" if best.limited_by == "braking" else ""
        return (
            f"along the lane a trailer may carry {most} at most ({LIMIT_WORDS[best.limited_by]}), "
            f"and the heaviest log weighs {log}{help_}"
        )

    def minutes(self, place: SmallLanding) -> float:
        """Give the productive minutes of bringing wood in, by a quick count of trips."""
        parts = self.carried(place)
        trips = math.ceil(sum(mass for mass, _ in parts) / max(place.load_kg, 1e-9) - 1e-9)
        return self._dragged(place) + self._carrying(place, len(parts), trips)

    def _dragged(self, place: SmallLanding | None) -> float:
        """Give the minutes of dragging; all the way where there is no place."""
        names = set() if place is None else {id(turn) for turn in self.through(place)}
        lane = 0.0 if place is None else place.at_m
        return sum(
            turn_minutes(
                self.pace,
                replace(turn, travel_m=max(turn.travel_m - lane, 0.0))
                if id(turn) in names
                else turn,
            )
            for turn in self.turns
        )

    def _carrying(self, place: SmallLanding, logs: int, trips: int) -> float:
        """Give the minutes of the trailer: trips, logs on and off, winch off and on again."""
        trailer = self.settings.trailer
        fillings = self._fillings(place)
        way_m = place.at_m + max(place.turn_at_m - place.at_m, 0.0)
        drive = trips * 2 * way_m / trailer.speed_mps / MIN_S
        return (
            drive
            + trips * self.settings.work.turn_fixed_min
            + logs * (trailer.load_min + trailer.unload_min)
            + 2 * CHANGE_MIN * fillings
        )

    def _fillings(self, place: SmallLanding) -> int:
        """Count how often the small landing is full, and the trailer hitched."""
        wood = sum(wood for _, wood in self.carried(place))
        deck = self.settings.truck.deck
        piled_m2 = PILED_SHARE * self.settings.trailer.area_m2
        return max(math.ceil(wood / (piled_m2 * deck.pile_height_m * deck.stack_solid) - 1e-9), 1)

    def answer(self, place: SmallLanding) -> TwoStage:
        """Work a place out in full."""
        work = self.settings.work
        parts, through = self.carried(place), self.through(place)
        items = [
            Item((place.trail_id, n), mass, place.load_kg) for n, (mass, _) in enumerate(parts)
        ]
        trips = len(pack(items, len(items))) if items else 0
        own = self.calibration.range_share
        share = work.hours_range if own is None else own
        dragged = hours("haul", self._dragged(place), work.utilisation, share)
        carrying = self._carrying(place, len(parts), trips)
        carried = hours("haul", carrying, work.utilisation, work.hours_range)
        wood = sum(turn.wood_m3 for turn in self.turns)
        centre = place.shape.centroid
        return TwoStage(
            why_none="",
            trail_id=place.trail_id,
            at_m=place.at_m,
            x=float(centre.x),
            y=float(centre.y),
            chosen=self.settings.trailer.use,
            turns_through=len(through),
            trips=trips,
            trailer_kg=place.load_kg,
            limited_by=place.limited_by,
            lane_m=place.at_m,
            drag_all=hours("haul", self._dragged(None), work.utilisation, share),
            two_stage=_together(dragged, carried),
            passes_saved=len(through) + len(self.lying) - trips,
            landing_m2=place.taken_m2,
            turn_at_m=place.turn_at_m,
            clean_share=sum(turn.wood_m3 for turn in through) / wood if wood > 0 else 0.0,
            shape=place.shape,
            carrying_min=carrying,
            fillings=min(self._fillings(place), max(trips, 1)),
        )


def _mass(kg: float, units: Units) -> str:
    """Say a mass to 50 pounds, or to 10 kilograms."""
    if units == "us":
        return f"{50 * round(kg / POUND_KG / 50):,} lb"
    return f"{10 * round(kg / 10):,} kg"


def _together(first: Hours, second: Hours) -> Hours:
    """Add two times of one kind."""
    return Hours(
        first.kind,
        first.productive_h + second.productive_h,
        first.low_h + second.low_h,
        first.high_h + second.high_h,
    )
