"""Cautions of pulls, gathered so that one position says each reason once."""

from layout import sources
from layout.checks.case import Case
from layout.findings import Finding
from layout.records import Pull


class Cares:
    """Keeps the cautions of pulls until all are known.

    Parameters
    ----------
    case : Case
        The layout.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.kept: dict[tuple[str, str, str], list[tuple[str, float]]] = {}
        self.held: dict[str, tuple[float, str, sources.Source | str]] = {}

    def note(
        self,
        pull: Pull,
        code: str,
        words: str,
        value: float,
        limit: float,
        unit: str,
        source: sources.Source | str,
    ) -> None:
        """Keep one caution; ``{value}`` in ``words`` is where the worst goes."""
        self.kept.setdefault((code, pull.position_id, words), []).append((pull.tree_id, value))
        self.held[code] = (limit, unit, source)

    def findings(self) -> list[Finding]:
        """Give one caution a position and reason, naming its trees."""
        places = {p.position_id: p for p in self.case.positions}
        found: list[Finding] = []
        for (code, name, words), entries in self.kept.items():
            limit, unit, source = self.held[code]
            top = max(value for _, value in entries)
            trees = ("tree " if len(entries) == 1 else "trees ") + ", ".join(t for t, _ in entries)
            place = places[name]
            found.append(
                Finding(
                    code=code,
                    level="caution",
                    message=(
                        f"Position {name}, pulling {trees}: "
                        + words.replace("{value}", f"{top:.0f}")
                    ),
                    subject_layer="winch_positions",
                    subject_id=name,
                    from_m=place.at_m if place.trail_id else None,
                    to_m=place.at_m if place.trail_id else None,
                    value=top,
                    limit=limit,
                    unit=unit,
                    source=str(source),
                    confirmed=source.confirmed if isinstance(source, sources.Source) else False,
                    at=(place.x, place.y),
                )
            )
        return found
