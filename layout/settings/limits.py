"""The limits of the day: the user's, or the ceiling where that is lower."""

from dataclasses import dataclass

from layout.settings.model import AreaSettings

# Ceilings no setting can pass (ours, from the trade's working values for farm tractors).
FAVOURABLE_CEILING_PCT = 25.0
ADVERSE_CEILING_PCT = 15.0
CROSS_CEILING_PCT = 20.0  # unbenched
PULL_ANGLE_CEILING_DEG = 30.0  # without a snatch block
POOR_GROUND_POINTS = 5.0  # lower on wet or frozen ground


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in force on the day.

    Grades are positive sizes, percent; ``short_pitch_m`` in metres;
    ``pull_angle_deg`` in degrees. ``lowered`` names the keys that the day's
    ceiling has pulled below what the user set.
    """

    favourable_pct: float
    favourable_caution_pct: float
    favourable_short_pct: float
    adverse_pct: float
    adverse_caution_pct: float
    adverse_short_pct: float
    cross_pct: float
    cross_caution_pct: float
    pull_angle_deg: float
    short_pitch_m: float
    lowered: tuple[str, ...] = ()


def limits_in_force(settings: AreaSettings) -> Limits:
    """Give the lesser of each setting and the day's ceiling.

    Parameters
    ----------
    settings : AreaSettings
        Read settings; ``ground.condition`` sets the day's ceilings.

    Returns
    -------
    Limits
        Cautions never stand above their limit.
    """
    less = POOR_GROUND_POINTS if settings.ground.condition in ("wet", "frozen") else 0.0
    trails = settings.trails
    lowered: list[str] = []

    def least(key: str, value: float, ceiling: float) -> float:
        if value > ceiling + 1e-9:
            lowered.append(key)
            return ceiling
        return value

    favourable = FAVOURABLE_CEILING_PCT - less
    adverse = ADVERSE_CEILING_PCT - less
    cross = CROSS_CEILING_PCT - less
    favourable_pct = least("favourable", trails.favourable_pct, favourable)
    favourable_short = least("favourable_short", trails.favourable_short_pct, favourable)
    adverse_pct = least("adverse", trails.adverse_pct, adverse)
    adverse_short = least("adverse_short", trails.adverse_short_pct, adverse)
    cross_pct = least("cross_slope", trails.cross_slope_pct, cross)
    angle = settings.winch.pull_angle_deg
    if not settings.winch.snatch_block:
        angle = least("pull_angle", angle, PULL_ANGLE_CEILING_DEG - less)
    return Limits(
        favourable_pct=favourable_pct,
        favourable_caution_pct=min(trails.favourable_caution_pct, favourable_pct),
        favourable_short_pct=favourable_short,
        adverse_pct=adverse_pct,
        adverse_caution_pct=min(trails.adverse_caution_pct, adverse_pct),
        adverse_short_pct=adverse_short,
        cross_pct=cross_pct,
        cross_caution_pct=min(trails.cross_slope_caution_pct, cross_pct),
        pull_angle_deg=angle,
        short_pitch_m=trails.short_pitch_m,
        lowered=tuple(lowered),
    )
