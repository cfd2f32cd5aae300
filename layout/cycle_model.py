"""Minutes each part of the work takes, by the planner's cycle model.

A load takes a fixed time, the drive out and back, for each winching the rope hauled out
by hand (slower uphill), wound in and a reset, and for each piece a hook and an unhook::

    T = fixed + d (1/v_empty + 1/v_loaded)
        + sum of (w (1 + 2 slope) / v_out + w / v_in + reset) + n (hook + unhook)

Every rate is a setting under [work], from memory until the user's own loads correct it
(`layout.calibration`). Minutes are productive ones: pauses come on top of them.

Felling is the exception. The published rate is a standard time: its trees of 0.3 m3 took
12.3 minutes a cubic metre of bare work and 17.86 with the pauses of the day in it. So the
setting holds its pauses too, and they are taken off here once to be put back on with
those of all other work. Larger trees take less time a cubic metre, small ones more: the
figure is long for sawtimber, and no tree takes less than `FELL_LEAST_MIN`.
"""

import math
from dataclasses import dataclass

from layout.settings import AreaSettings
from layout.settings.work_tables import WorkTable

UPHILL_SLOWER = 2.0  # the rope goes out slower by (1 + 2 slope); memory
FELL_LEAST_MIN = 3.0  # walk to a tree, look up, clear round it, fell it; ours
WALK_MPS = 2.0 / 3.6  # through the woods with saw and ribbons; ours
CLEAR_MIN_PER_100M = 5.0  # brush and tops thrown off a new trail; ours
LANDING_MIN = 60.0  # tidying and closing the landing; ours
MIN_S = 60.0


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast this crew works: the settings, and what its own loads make of them.

    Parameters
    ----------
    work : WorkTable
        Rates.
    hooks_twice : bool
        True where a stem is winched whole and bucked beside the trail: it is hooked for
        the pull, and its pieces once more for the load. False where what is winched
        stays hooked till the landing.
    chokers : int
        Logs one winching brings, where logs are winched.
    logs_winched : bool
        True where stems are bucked at the stump.
    travel, rest : float
        Own minutes over those of the model, for driving and for everything else of a load.
    """

    work: WorkTable
    hooks_twice: bool
    chokers: int = 1
    logs_winched: bool = False
    travel: float = 1.0
    rest: float = 1.0

    def drive(self, travel_m: float) -> float:
        """Give the minutes of driving a way out empty and back loaded."""
        return self.travel * drive_minutes(self.work, travel_m)

    def pull(
        self, ground_m: float, *, rise_m: float = 0.0, run_m: float = 0.0, parts: int = 1,
        logs: int = 1,
    ) -> float:  # fmt: skip
        """Give the minutes of winching one tree to the trail.

        Parameters
        ----------
        ground_m : float
            Length of the pull along the ground, metres.
        rise_m, run_m : float, optional
            Stump above the fairlead and distance on the map, metres: rope is hauled out
            uphill where the stump is the higher.
        parts : int, optional
            Winchings the tree needs; each hauls the rope out anew.
        logs : int, optional
            Logs it is bucked into, which matters only where logs are winched.

        Returns
        -------
        float
            Productive minutes; the unhooking only where the load is hooked anew.
        """
        slope = max(rise_m, 0.0) / run_m if run_m > 0 else 0.0
        hooked = max(logs, parts) if self.logs_winched else parts
        winchings = max(parts, math.ceil(hooked / self.chokers)) if self.logs_winched else parts
        each = self.work.hook_min + (self.work.unhook_min if self.hooks_twice else 0.0)
        rope = winchings * rope_minutes(self.work, ground_m, slope)
        return self.rest * (rope + hooked * each)

    def load(
        self, travel_m: float, pieces: int, *, stops: int = 1, winched: bool = True,
        dragged: bool = True,
    ) -> float:  # fmt: skip
        """Give the minutes of bringing one load in, its winching apart.

        Parameters
        ----------
        travel_m : float
            Along the trails to the landing, one way, metres.
        pieces : int
        stops : int, optional
            Winch positions it is picked up at; each after the first takes a reset. Ours.
        winched : bool, optional
            False for stems out of the trail itself, which are hooked where they lie.
        dragged : bool, optional
            False where it was winched straight onto the landing: nothing is driven.

        Returns
        -------
        float
            Productive minutes.
        """
        work, hooks_now = self.work, self.hooks_twice or not winched
        if not dragged:
            return 0.0 if self.hooks_twice else self.rest * pieces * work.unhook_min
        here = work.turn_fixed_min + max(stops - 1, 0) * work.reset_min
        here += pieces * (work.unhook_min + (work.hook_min if hooks_now else 0.0))
        return self.drive(travel_m) + self.rest * here

    def whole(self, travel_m: float, rope_m: float, pulls: float, pieces: float) -> float:
        """Give the minutes of one whole load, winching and all, as a log would have them.

        Parameters
        ----------
        travel_m, rope_m : float
            One way along the trails, and rope out for one winching, metres.
        pulls, pieces : float
            Winchings and pieces of the load; means need not be whole.

        Returns
        -------
        float
            Productive minutes.
        """
        return self.drive(travel_m) + self.rest * self.standing(rope_m, pulls, pieces)

    def standing(self, rope_m: float, pulls: float, pieces: float) -> float:
        """Give what of `whole` is not driving, before it is corrected."""
        work = self.work
        hooks = pieces + (pulls if self.hooks_twice else 0.0)
        return (
            work.turn_fixed_min
            + pulls * rope_minutes(work, rope_m)
            + hooks * (work.hook_min + work.unhook_min)
        )

    def fell(self, wood_m3: float) -> float:
        """Give the minutes of felling, limbing and bucking one tree.

        Parameters
        ----------
        wood_m3 : float
            Wood it gives, cubic metres; NaN and nothing take the least a tree takes.

        Returns
        -------
        float
            Productive minutes, pauses taken off the rate that holds them.
        """
        rate = self.work.fell_limb_buck_min_per_m3 * self.work.utilisation
        return max(rate * wood_m3, FELL_LEAST_MIN) if wood_m3 > 0 else FELL_LEAST_MIN

    def flag(self, length_m: float) -> float:
        """Give the minutes of walking a trail out and back and hanging its ribbons; ours."""
        return 2 * length_m / WALK_MPS / MIN_S

    def clear(self, length_m: float, *, new: bool = True) -> float:
        """Give the minutes of clearing a trail, the stems in it apart; ours, no source found.

        Parameters
        ----------
        length_m : float
        new : bool, optional
            False for a trail that is on the ground already: nothing is left to clear.

        Returns
        -------
        float
            Productive minutes; digging a bench is not in them.
        """
        return CLEAR_MIN_PER_100M * length_m / 100 if new else 0.0

    def close(self, length_m: float) -> float:
        """Give the minutes of closing a length of trail: ruts, bars, brush."""
        return self.work.closeout_min * length_m / 100


def pace_of(settings: AreaSettings) -> Pace:
    """Give the pace the settings set.

    Parameters
    ----------
    settings : AreaSettings

    Returns
    -------
    Pace
        Not corrected by any log.
    """
    stems = settings.winch.winch_form == "stem"
    return Pace(
        settings.work,
        hooks_twice=settings.work.extract == "log" and stems,
        chokers=settings.winch.chokers,
        logs_winched=not stems,
    )


def drive_minutes(work: WorkTable, travel_m: float) -> float:
    """Give the minutes of driving a way out empty and back loaded.

    Parameters
    ----------
    work : WorkTable
    travel_m : float
        One way, metres.

    Returns
    -------
    float
        Minutes.
    """
    return travel_m * (1 / work.speed_empty_mps + 1 / work.speed_loaded_mps) / MIN_S


def rope_minutes(work: WorkTable, rope_m: float, slope: float = 0.0) -> float:
    """Give the minutes of one winching: rope out by hand, wound in, reset.

    Parameters
    ----------
    work : WorkTable
    rope_m : float
        Rope out, metres.
    slope : float, optional
        Rise over run from the winch to the stump; below 0 it is not faster.

    Returns
    -------
    float
        Minutes.
    """
    out = rope_m * (1 + UPHILL_SLOWER * max(slope, 0.0)) / work.rope_out_mps
    return (out + rope_m / work.rope_in_mps) / MIN_S + work.reset_min
