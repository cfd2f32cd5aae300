"""What closing a trail, or the landing, takes: to be ticked, and later held against what was done.

Stations are metres along the stored line, landing end first. Ground is counted once: what
two trails share is the one's that comes first, what a trail shares with the landing is the
landing's.
"""

from dataclasses import dataclass
from typing import Literal

CoverReason = Literal["grade", "bench", "crossing"]
ClosingTask = Literal[
    # of a trail, in the order they are done
    "crossings",  # pulled, banks as they were
    "ruts",
    "berms",
    "turning",  # turning places smoothed
    "small_landing",  # of a trailer
    "bars",
    "outlets",  # of dips, and of low points that drain by themselves: opened
    "cover",  # slash or mulch laid
    "seed",
    "mouth",  # blocked where it leaves another trail
    # of the landing, seed as well
    "wood",
    "smooth",
    "water",  # led round it and off it
    "gate",
    "ribbons",  # of the whole job
    "rubbish",
]


@dataclass(frozen=True, slots=True)
class CoverStretch:
    """A stretch of trail to be covered with slash or mulch."""

    from_m: float
    to_m: float
    why: CoverReason  # the first that holds: crossing, bench, grade


@dataclass(frozen=True, slots=True)
class CloseoutItem:
    """What closing one trail takes, or the landing."""

    trail_id: str  # empty: the landing
    length_m: float
    tasks: tuple[ClosingTask, ...]
    bars: tuple[tuple[str, float], ...] = ()  # name and station, from the far end in
    bars_m: float = 0.0  # their lengths added up
    outlets: tuple[tuple[str, float], ...] = ()  # dips and low points, name and station
    cover: tuple[CoverStretch, ...] = ()
    cover_m2: float = 0.0
    seed_m2: float = 0.0
    litter_m2: float = 0.0  # few loads pass: leaf litter mostly stays; seeded where soil shows
    crossings: tuple[tuple[str, float], ...] = ()  # name and station
    turning_ids: tuple[str, ...] = ()
    minutes: float = 0.0  # productive; those of its step in the order of work
    done: bool = False
    landing_id: str = ""  # of a landing's own item, where there are several


@dataclass(frozen=True, slots=True)
class Closeout:
    """Closing the whole job: trails in the order they are closed, the landing last."""

    items: tuple[CloseoutItem, ...]

    @property
    def bars(self) -> int:
        """Water bars of all trails."""
        return sum(len(item.bars) for item in self.items)

    @property
    def bars_m(self) -> float:
        """Their lengths added up, metres."""
        return sum(item.bars_m for item in self.items)

    @property
    def cover_m2(self) -> float:
        """Ground to be covered with slash or mulch, square metres."""
        return sum(item.cover_m2 for item in self.items)

    @property
    def seed_m2(self) -> float:
        """Ground to be seeded, square metres."""
        return sum(item.seed_m2 for item in self.items)

    @property
    def litter_m2(self) -> float:
        """Driven ground whose litter mostly stays, square metres."""
        return sum(item.litter_m2 for item in self.items)

    @property
    def minutes(self) -> float:
        """Productive minutes of all that is still to be done."""
        return sum(item.minutes for item in self.items)
