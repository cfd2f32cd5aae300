"""What a layout does to the soil beside the ground it takes: washing, and compaction."""

from dataclasses import dataclass
from typing import Literal

WashClass = Literal["low", "moderate", "high", "very high"]

# Index 1 is a bare 10 % trail of default soil with bars 80 ft apart. Steps are ours.
WASH_STEPS: tuple[tuple[float, WashClass], ...] = ((0.25, "low"), (1.0, "moderate"), (2.0, "high"))


def wash_class(index: float) -> WashClass:
    """Put an index into words.

    Parameters
    ----------
    index : float
        How fast ground would wash, as a multiple of a bare 10 % trail with bars 80 ft apart.

    Returns
    -------
    str
        ``"low"`` up to a quarter, ``"moderate"`` up to 1, ``"high"`` up to 2; ours.

    Examples
    --------
    >>> [wash_class(x) for x in (0.1, 0.25, 1.0, 1.7, 4.0)]
    ['low', 'low', 'moderate', 'high', 'very high']
    """
    # a bare 10 % trail with bars 80 ft apart is in its own class whatever the last bit says
    return next((name for most, name in WASH_STEPS if index <= most + 1e-9), "very high")


@dataclass(frozen=True, slots=True)
class WashStretch:
    """A stretch of trail that keeps its own water, from a crest or bar down to the next."""

    trail_id: str
    from_m: float
    to_m: float
    grade_pct: float  # mean, its size
    ls: float
    bare: float  # index once its bars are in, nothing on it
    covered: float  # index once slash or seed lies on it as well
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class TrailWash:
    """How one trail, or all of them, would wash: means by length, as indices."""

    trail_id: str  # empty: all trails
    length_m: float
    longest_run_m: float  # that keeps its own water, without bars
    longest_barred_m: float
    ls_run: float
    ls_barred: float
    open: float  # index without a bar, bare
    barred: float  # with its bars, bare
    covered: float  # with its bars, under slash or seed


@dataclass(frozen=True, slots=True)
class TrailCompaction:
    """How far the loads press one trail together, of what loads without end would."""

    trail_id: str  # empty: all trails
    loads_mean: float
    loads_most: int
    share: float  # 0 to 1, mean by area
    area_m2: float
    done_m2: float  # pressed to 95 % and more


@dataclass(frozen=True, slots=True)
class Concentrated:
    """What it saves to drive few trails: the planned loads against half on twice the trail."""

    planned_m2: float  # pressed to 95 % and more
    spread_m2: float
    planned_whole_m2: float  # area times share: as much as this, pressed wholly
    spread_whole_m2: float
    stand_m2: float


@dataclass(frozen=True, slots=True)
class Erosion:
    """Washing and compaction of a finished layout; classes, never tonnes."""

    family: str
    k_factor: float
    k_default: bool  # nobody gave the soil's own
    cover_bare: float
    cover_covered: float
    other_family: str
    other_ratio: float  # its LS with bars over ours
    whole: TrailWash | None  # None: no trail could be judged
    trails: tuple[TrailWash, ...]
    stretches: tuple[WashStretch, ...]
    unjudged: tuple[str, ...]  # trails that leave the known elevations
    compaction: tuple[TrailCompaction, ...]
    compaction_whole: TrailCompaction
    concentrated: Concentrated
