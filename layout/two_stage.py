"""A small landing in the woods and a trailer along the lane, against dragging all the way.

Loads that would come over the lane end at the small landing instead, are bucked there and
carried on; the others are dragged as before. Weighed are the hours of bringing wood in
(winching, felling and all else are alike), the passes the lane is spared, the ground the
small landing takes, and the share of the wood that is never dragged along the lane and so
stays clean. Loads stay as they were packed: what heavier ones a shorter drag allows is not
counted, nor that the tractor's winch comes off and on more often than once a filling.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from layout.calibration import Calibration
from layout.cycle_model import MIN_S, Pace
from layout.cycle_times import Job, hours, turn_minutes
from layout.findings import Finding
from layout.packing import Item, pack
from layout.products import Product
from layout.read_landing import place_on_grid
from layout.records import Trail
from layout.settings import AreaSettings
from layout.shorter_ways import NOISE_M, ends_short, entries
from layout.small_landing import Ground, SmallLanding, small_landing_at, small_landings
from layout.speech import speak_area, speak_station
from layout.units import POUND_KG, Units
from layout.work_records import Hours, Piece, Turn, TwoStage

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


def two_stage_findings(settings: AreaSettings, two: TwoStage) -> tuple[Finding, ...]:
    """Say what came of the comparison.

    Parameters
    ----------
    settings : AreaSettings
    two : TwoStage

    Returns
    -------
    tuple of Finding
        One. Where no place will do it is a caution if the trailer was to be used.
    """
    units, use = settings.area.units, settings.trailer.use
    if two.why_none:
        goes = " Loads are dragged all the way." if use else ""
        return (
            Finding(
                "trailer_not_possible",
                "caution" if use else "ok",
                f"No trailer on this plan: {two.why_none}.{goes}",
                "settings",
                "trailer",
                source="ours",
            ),
        )
    hours_of = (two.drag_all, two.two_stage)
    return (
        Finding(
            "trailer_compared",
            "ok",
            f"{_told(two, units)} What a trailer may carry here is from statics and memory, "
            "unverified: hold it against its plate, its brakes and the lane on the day.",
            "trails",
            two.trail_id,
            from_m=0.0,
            to_m=two.at_m,
            value=None if hours_of[1] is None else hours_of[1].middle_h,
            limit=None if hours_of[0] is None else hours_of[0].middle_h,
            unit="h",
            source="ours",
            confirmed=False,
            at=None if two.x is None or two.y is None else (two.x, two.y),
        ),
    )


def _told(two: TwoStage, units: Units) -> str:
    """Put the comparison into a sentence."""
    trips = "1 trip carries" if two.trips == 1 else f"{two.trips} trips carry"
    loads = (
        "1 dragged load ends"
        if two.turns_through == 1
        else f"{two.turns_through} dragged loads end"
    )
    lead = "A trailer is used" if two.chosen else "A trailer could be used"
    return (
        f"{lead} from a small landing on {two.trail_id} at {speak_station(two.lane_m, units)}: "
        f"{loads} there, {trips} their wood on. Bringing wood in takes {_range(two.two_stage)} "
        f"hours so, {_range(two.drag_all)} dragged all the way; the lane is spared "
        f"{two.passes_saved} passes, {100 * two.clean_share:.0f} % of the wood stays clean on it, "
        f"and the small landing takes {speak_area(two.landing_m2, units)}."
    )


def _range(some: Hours | None) -> str:
    """Say hours as a range, outward to whole ones."""
    if some is None:
        return "unknown"
    return f"{math.floor(some.low_h)} to {math.ceil(some.high_h)}"


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
        err = 1 + self.settings.timber.weight_error_pct / 100
        self.parts: dict[str, list[tuple[float, float]]] = {}
        # a stick longer than any log is cut for the trailer, its parts taken as alike
        longest = max(self.settings.timber.log_lengths_m, default=math.inf)
        for product in products:
            cuts = math.ceil(product.length_m / longest - NOISE_M) if product.kind == "pulp" else 1
            cuts = max(cuts, 1)
            self.parts.setdefault(product.tree_id, []).extend(
                [(product.mass_kg * err / cuts, product.wood_m3 / cuts)] * cuts
            )

    def through(self, place: SmallLanding) -> list[Turn]:
        """Give the loads that would end at a place."""
        return [
            turn
            for turn, (name, at) in zip(self.turns, self.enters, strict=True)
            if ends_short(turn, name, at, place.trail_id, place.at_m)
        ]

    def carried(self, place: SmallLanding) -> list[tuple[float, float]]:
        """Give mass with the weight error and wood of every log the trailer would carry."""
        trees = dict.fromkeys(t for turn in self.through(place) for t in turn.tree_ids)
        return [part for tree in trees for part in self.parts.get(tree, [])]

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
            passes_saved=len(through) - trips,
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
