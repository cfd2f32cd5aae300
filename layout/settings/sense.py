"""What the settings say of the machine, the rope and the crew, before any ground is read."""

from layout.findings import Finding
from layout.settings.model import AreaSettings
from layout.settings.own_units import size_in_own_units
from layout.sources import (
    COMMON_PRACTICE,
    FRONT_AXLE,
    LONE_WORK,
    ROPE_STRENGTH,
    SNATCH_ANCHOR,
    WINCH_OUTFIT,
)
from layout.units import GRAVITY_MPS2

POWER_PER_PULL_KW_PER_T = 10.0  # WINCH_OUTFIT
LOAD_SHARE = 0.667  # of tractor and winch mass, WINCH_OUTFIT
ROPE_FACTOR = 2.0  # ROPE_STRENGTH
ANCHOR_M_PER_KN = 0.5 / 80  # SNATCH_ANCHOR: about 50 cm at 80 kN
WORKING_REACH_M = 130 * 0.3048  # ours, see settings
TREE_LENGTH_RADIUS_M = 40 * 0.3048
FRONT_SHARE_PCT = 20.0  # FRONT_AXLE
NOISE = 1e-6

ALSO_ASKED = {
    "belly_guard": "a guard under the tractor",
    "front_ballast": "weights on its front",
}
ASKED = {
    "rollover_frame": "a rollover frame",
    "belt": "a seat belt",
    "screen": "a rear screen",
}


def settings_findings(settings: AreaSettings) -> tuple[Finding, ...]:
    """Judge what can be judged from area.toml alone.

    Parameters
    ----------
    settings : AreaSettings
        Read settings.

    Returns
    -------
    tuple of Finding
        Protective gear not answered (stop), keys a preset filled (unknown), an
        outfit that does not fit together (caution), lone work.
    """
    return (
        *_gear(settings),
        *_also_asked(settings),
        *_preset(settings),
        *_outfit(settings),
        *_axle_and_lift(settings),
        *_snatch_block(settings),
        *_work(settings),
    )


def _finding(code: str, level: str, message: str, key: str, **rest: object) -> Finding:
    """Make a finding about one key."""
    return Finding(code, level, message, "settings", key, **rest)  # type: ignore[arg-type]


def _gear(settings: AreaSettings) -> list[Finding]:
    """Frame, belt and screen: no and ? both stop."""
    found = []
    for key, words in ASKED.items():
        answer = getattr(settings.tractor, key)
        if answer == "yes":
            continue
        said = f"has no {words[2:]}" if answer == "no" else f"is not known to have {words}"
        found.append(
            _finding(
                f"tractor_{key}",
                "stop",
                f"The tractor {said}; fit it before winching, then set [tractor] {key} = "
                '"yes" in area.toml.',
                f"tractor.{key}",
                source=COMMON_PRACTICE,
            )
        )
    return found


def _also_asked(settings: AreaSettings) -> list[Finding]:
    """Name the guards and weights that are missing or not answered."""
    tractor = settings.tractor
    missing = [key for key in ALSO_ASKED if getattr(tractor, key) != "yes"]
    if not missing:
        return []
    words = " and ".join(ALSO_ASKED[key] for key in missing)
    keys = " and ".join(missing)
    return [
        _finding(
            "tractor_asked",
            "unknown",
            f"Not known to have {words}: stumps tear at hoses underneath, and a light front does "
            f'not steer. Look, then set [tractor] {keys} = "yes" in area.toml.',
            f"tractor.{missing[0]}",
            source=COMMON_PRACTICE,
        )
    ]


def _preset(settings: AreaSettings) -> list[Finding]:
    """Name the keys a preset filled."""
    tractor, winch = settings.tractor, settings.winch
    told = [
        f"[{name}] {', '.join(filled)} from the {preset} preset"
        for name, filled, preset in (
            ("tractor", tractor.filled, tractor.preset),
            ("winch", winch.filled, winch.preset),
        )
        if filled
    ]
    if not told:
        return []
    return [
        _finding(
            "tractor_preset",
            "unknown",
            f"Not your machine: {' and '.join(told)} (memory: unverified); check against your own "
            "machine: weigh, measure or read the plate, and set them in area.toml.",
            "tractor.preset",
            source="memory: unverified",
            confirmed=False,
        )
    ]


def _outfit(settings: AreaSettings) -> list[Finding]:
    """Rope against pull, power against pull, load against mass."""
    winch, tractor = settings.winch, settings.tractor
    found = []
    rope_need = ROPE_FACTOR * winch.pull_rating_kn
    if winch.rope_breaking_kn < rope_need * (1 - NOISE):
        found.append(
            _finding(
                "rope_strength",
                "caution",
                f"The rope breaks at {winch.rope_breaking_kn:.0f} kN, less than twice the winch's "
                f"pull of {winch.pull_rating_kn:.0f} kN; fit a rope of {rope_need:.0f} kN or more.",
                "winch.rope_breaking",
                value=winch.rope_breaking_kn,
                limit=rope_need,
                unit="kN",
                source=str(ROPE_STRENGTH),
                confirmed=ROPE_STRENGTH.confirmed,
            )
        )
    pull_t = winch.pull_rating_kn / GRAVITY_MPS2
    power_need = POWER_PER_PULL_KW_PER_T * pull_t
    if tractor.pto_power_kw < power_need * (1 - NOISE):
        # a second published rule asks for a pull in kN within the power in kW: hardly less
        over = winch.pull_rating_kn > tractor.pto_power_kw * (1 + NOISE)
        more = f", and its {winch.pull_rating_kn:.0f} kN are more than that" if over else ""
        found.append(
            _finding(
                "winch_power",
                "caution",
                f"A winch of {pull_t:.1f} t pull asks for {power_need:.0f} kW (10 kW per tonne of "
                f"pull), the tractor has {tractor.pto_power_kw:.0f} kW{more}; use the winch below "
                "its rating.",
                "tractor.pto_power",
                value=tractor.pto_power_kw,
                limit=power_need,
                unit="kW",
                source=str(WINCH_OUTFIT),
            )
        )
    if tractor.load_max > LOAD_SHARE + NOISE:
        found.append(
            _finding(
                "load_share",
                "caution",
                f"Loads up to {tractor.load_max:.0%} of tractor and winch are allowed; two thirds "
                "is the published limit. Set [tractor] load_max = 0.667.",
                "tractor.load_max",
                value=100 * tractor.load_max,
                limit=100 * LOAD_SHARE,
                unit="%",
                source=str(WINCH_OUTFIT),
            )
        )
    if winch.working_reach_m > WORKING_REACH_M + 0.5:  # 40 m is 130 ft as people say it
        found.append(
            _finding(
                "working_reach",
                "caution",
                f"Rope dragged {winch.working_reach_m:.0f} m by hand is more than the "
                f"{WORKING_REACH_M:.0f} m (130 ft) most people manage all day.",
                "winch.working_reach",
                value=winch.working_reach_m,
                limit=WORKING_REACH_M,
                unit="m",
                source="ours, no source",
            )
        )
    return found


def _axle_and_lift(settings: AreaSettings) -> list[Finding]:
    """Judge the front axle without a load, and the lift with the winch on it."""
    winch, tractor = settings.winch, settings.tractor
    lift, weighs = (
        size_in_own_units(kg, "mass", settings.area.units)
        for kg in (tractor.lift_rating_kg, winch.mass_kg)
    )
    found = []
    if tractor.front_min_pct < FRONT_SHARE_PCT * (1 - NOISE):
        found.append(
            _finding(
                "front_min",
                "caution",
                f"Only {tractor.front_min_pct:.0f} % of the whole is asked for on the front axle "
                f"with a load; {FRONT_SHARE_PCT:.0f} % is the published least, and under it the "
                'tractor hardly steers. Set [tractor] front_min = "20 %".',
                "tractor.front_min",
                value=tractor.front_min_pct,
                limit=FRONT_SHARE_PCT,
                unit="%",
                source=str(FRONT_AXLE),
            )
        )
    if tractor.front_share_pct < tractor.front_min_pct * (1 - NOISE):
        found.append(
            _finding(
                "tractor_front_axle",
                "stop",
                f"The front axle carries {tractor.front_share_pct:.0f} % without a load, and "
                f"{tractor.front_min_pct:.0f} % of the whole is the least with one: nothing can be "
                "dragged. Put ballast on the front, weigh again and set [tractor] front_share.",
                "tractor.front_share",
                value=tractor.front_share_pct,
                limit=tractor.front_min_pct,
                unit="%",
                source=str(FRONT_AXLE),
            )
        )
    if tractor.lift_rating_kg <= winch.mass_kg * (1 + NOISE):
        found.append(
            _finding(
                "tractor_lift",
                "stop",
                f"The three-point lift is rated {lift} and the winch weighs {weighs}: it cannot "
                "lift a log too. Use a lighter winch, or read the lift's plate and set [tractor] "
                "lift_rating.",
                "tractor.lift_rating",
                value=tractor.lift_rating_kg,
                limit=winch.mass_kg,
                unit="kg",
                source=COMMON_PRACTICE,
                confirmed=False,
            )
        )
    return found


def _snatch_block(settings: AreaSettings) -> list[Finding]:
    """Block and anchor tree against twice the pull."""
    winch = settings.winch
    if not winch.snatch_block or winch.block_rating_kn is None or winch.anchor_dbh_m is None:
        return []
    found = []
    need = 2 * winch.pull_rating_kn
    if winch.block_rating_kn < need * (1 - NOISE):
        found.append(
            _finding(
                "block_rating",
                "stop",
                f"Block and strap are rated {winch.block_rating_kn:.0f} kN; they may hold twice "
                f"the pull, {need:.0f} kN. Use a stronger block and strap.",
                "winch.block_rating",
                value=winch.block_rating_kn,
                limit=need,
                unit="kN",
                source="statics: a block holds up to twice the pull",
            )
        )
    tree = ANCHOR_M_PER_KN * winch.pull_rating_kn * 2
    if winch.anchor_dbh_m < tree * (1 - NOISE):
        found.append(
            _finding(
                "anchor_dbh",
                "stop",
                f"An anchor tree of {100 * winch.anchor_dbh_m:.0f} cm may hold "
                f"{need:.0f} kN; choose one of {100 * tree:.0f} cm or more, of low value, padded "
                "and strapped low.",
                "winch.anchor_dbh",
                value=winch.anchor_dbh_m,
                limit=tree,
                unit="m",
                source=str(SNATCH_ANCHOR),
                confirmed=SNATCH_ANCHOR.confirmed,
            )
        )
    return found


def _work(settings: AreaSettings) -> list[Finding]:
    """Lone work, whole trees on a tight bend, no log rule."""
    found = []
    if settings.work.crew == 1:
        found.append(
            _finding(
                "lone_crew",
                "caution",
                "One person works alone: agree on check-in times and name who watches for them.",
                "work.crew",
                value=1.0,
                limit=2.0,
                source=str(LONE_WORK),
                confirmed=LONE_WORK.confirmed,
            )
        )
    radius = settings.trails.turn_radius_m
    if settings.work.extract == "tree" and radius < TREE_LENGTH_RADIUS_M - NOISE:
        found.append(
            _finding(
                "tree_length_bend",
                "caution",
                f"Whole trees are dragged round bends of {radius:.1f} m; 12.2 m (40 ft) or more "
                "is the habit (memory: unverified).",
                "trails.turn_radius",
                value=radius,
                limit=TREE_LENGTH_RADIUS_M,
                unit="m",
                source="memory: unverified",
                confirmed=False,
            )
        )
    if not settings.timber.rule:
        found.append(
            _finding(
                "log_rule",
                "unknown",
                "No log rule is chosen, so no board feet are shown; set [timber] rule to "
                '"international-quarter", "scribner" or "doyle", or "cubic" for none.',
                "timber.rule",
            )
        )
    return found
