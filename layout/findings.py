"""A finding: one result of a check, in words a person can act on."""

from dataclasses import dataclass
from typing import Literal

Level = Literal["ok", "caution", "stop", "unknown"]
LEVELS: tuple[Level, ...] = ("stop", "caution", "unknown", "ok")


@dataclass(frozen=True, slots=True)
class Finding:
    """One result of a check.

    Parameters
    ----------
    code : str
        Stable name of the check, lower case with underscores (``grade_favourable``).
    level : {"ok", "caution", "stop", "unknown"}
        ``unknown`` means not looked at, and the message says why.
    message : str
        One sentence: what, where, what to do.
    subject_layer, subject_id : str
        The layer and id of the thing judged; empty when it is the whole plan.
    from_m, to_m : float or None
        Stations along a trail, metres from its landing end.
    value, limit : float or None
        Measured value and the limit it was held against, both in ``unit``.
    unit : str
        ``"%"``, ``"m"``, ``"deg"``, ``"m2"``, ``"kg"``, ``"kN"``, or empty.
    source : str
        The publication the limit comes from, or ``common practice, no source``.
    confirmed : bool
        False where the rule's source was not opened.
    at : tuple of float or None
        Grid x, y of the place, metres.
    """

    code: str
    level: Level
    message: str
    subject_layer: str = ""
    subject_id: str = ""
    from_m: float | None = None
    to_m: float | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""
    confirmed: bool = True
    at: tuple[float, float] | None = None


def ordered(findings: "list[Finding] | tuple[Finding, ...]") -> tuple[Finding, ...]:
    """Sort findings by weight (stop first), then code, subject and place."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (
                LEVELS.index(f.level),
                f.code,
                f.subject_layer,
                f.subject_id,
                -1.0 if f.from_m is None else f.from_m,
                f.message,
            ),
        )
    )
