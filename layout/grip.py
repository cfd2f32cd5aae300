"""What the day's ground gives the tyres, and a log that is dragged.

Where the user set the traction, it stands, chains or not. Where it was left out it
follows the ground: 0.40 on dry ground, 0.30 on wet ground or wet leaves, 0.20 on frozen
ground, which may carry packed snow; with chains on 0.10 more, the low end of what is said
of them. All are from memory: unverified. Braking is never better than traction, and
chains are not counted for it.
"""

from typing import Final

from layout.settings import AreaSettings
from layout.settings.tractor_table import TractorTable

DAY_TRACTION: Final = {"dry": 0.40, "wet": 0.30, "frozen": 0.20}  # net; memory: unverified
CHAINS_TRACTION: Final = 0.10  # memory: 0.10 to 0.15
MOST_TRACTION: Final = 0.7  # ceiling of the setting
POOR_FRICTION: Final = 0.2  # low end of a log's friction on wet or frozen ground; memory
RUN_FACTOR: Final = 1.5  # ours; Navratil and Skoupy 2002 ask for a safety factor of 0.5 to 1.0


def on_the_day(settings: AreaSettings) -> TractorTable:
    """Give the tractor with the grip of the day.

    Parameters
    ----------
    settings : AreaSettings
        Read settings; ``ground.condition`` and ``tractor.chains`` decide.

    Returns
    -------
    TractorTable
        ``traction`` and ``braking`` for the day, braking at most traction; the low end
        of ``skid_friction`` is 0.2 at most on wet or frozen ground.

    Examples
    --------
    >>> raw = {"format": 1, "area": {"name": "lot", "units": "us"},
    ...        "ground": {"dem": "dem.tif", "condition": "wet"},
    ...        "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"}}
    >>> tractor = on_the_day(AreaSettings.model_validate(raw))
    >>> tractor.traction, tractor.braking, tractor.skid_friction
    (0.3, 0.3, (0.2, 0.8))
    """
    tractor, condition = settings.tractor, settings.ground.condition
    traction = tractor.traction
    if "traction" not in tractor.model_fields_set:
        chained = CHAINS_TRACTION if tractor.chains else 0.0
        traction = min(DAY_TRACTION[condition] + chained, MOST_TRACTION)
    low, high = tractor.skid_friction
    if condition != "dry":
        low = min(low, POOR_FRICTION)
    grip = {
        "traction": traction,
        "braking": min(traction, tractor.braking),
        "skid_friction": (low, high),
    }
    return tractor.model_copy(update=grip)
