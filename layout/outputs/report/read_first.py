"""What to decide and to read first: stops, cautions by weight, what was not checked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from layout.outputs.about import rule_words
from layout.outputs.report.figures import length, measured
from layout.outputs.report.places import Places
from layout.outputs.report.tags import Markup, bullets, folded, join, link, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.report.weights import grouped, title_of
from layout.outputs.words import counted, say

if TYPE_CHECKING:
    from layout.findings import Finding

OPEN = 12  # cautions, with all of their last kind; the kinds after them are folded on the screen
TOLD = 3  # of one kind; the rest is folded away on the screen
UNVERIFIED = " [unverified]"  # what a source that was not read ends with
NECK = "neck"


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        Every finding of the plan but the necks, which stand with what limits the plan.
    """
    writer = _Writer(tally)
    return section(
        "read-first",
        say("report_read_first"),
        tag("h3", say("report_decide")),
        bullets(_decisions(tally), class_="decide"),
        writer.stops(),
        writer.cautions(),
        writer.unknowns(),
        writer.fine(),
    )


def item(finding: Finding, number: int, tally: Tally, places: Places, *, alone: bool) -> Markup:
    """Write one finding: its place and numbers, then its sentence.

    Parameters
    ----------
    finding : Finding
        Of the plan.
    number : int
        Its place among the plan's findings; gives it a name on the page.
    tally, places : Tally, Places
        The plan.
    alone : bool
        Whether it stands without a heading for its kind: it then names kind and source.
    """
    value, limit = measured(finding, tally.units)
    figures = None
    if value and limit:
        figures = say("report_value_limit", value=value, limit=limit)
    elif value:
        figures = say("report_value" if finding.unit else "report_count", value=value)
    elif limit:
        figures = say("report_limit", limit=limit)
    place = places.of(finding)
    if alone:
        said = [figures] if figures else []
        figures = "; ".join([place, *said])
        place = title_of(finding.code)
    return tag(
        "li",
        tag(
            "p",
            tag("span", place, class_="place"),
            " " if figures else None,
            tag("span", figures, class_="figures") if figures else None,
            class_="facts",
        ),
        " ",
        tag("div", tag("p", _sentence(finding)), " ", source_line([finding]) if alone else None),
        id=f"finding-{number}",
    )


def source_line(findings: Iterable[Finding]) -> Markup | None:
    """Name the sources of some findings, and say where the limit is unverified."""
    told: list[tuple[str, bool]] = []
    for finding in findings:
        source = finding.source.removesuffix(UNVERIFIED)
        if (source, finding.confirmed) not in told and (source or not finding.confirmed):
            told.append((source, finding.confirmed))
    if not told:
        return None
    pieces = []
    for source, confirmed in told:
        said = say("report_source", source=source) if source else None
        mark = None if confirmed else tag("strong", say("report_unverified"), class_="mark")
        pieces.append(tag("span", said, " " if said and mark else None, mark))
    return tag("p", *(join(piece, " ") for piece in pieces), class_="source")


def _sentence(finding: Finding) -> str:
    """Give a finding's sentence with a capital and a full stop."""
    said = finding.message.strip()
    said = said[:1].upper() + said[1:]
    return said if said.endswith((".", "!", "?", ")")) else said + "."


class _Writer:
    """Writes the findings of one plan, each once."""

    def __init__(self, tally: Tally) -> None:
        self.tally = tally
        self.places = Places(tally.plan)
        self.number = {id(f): n for n, f in enumerate(tally.findings, start=1)}

    def stops(self) -> Markup:
        """Write every stop, in full."""
        found = self.tally.by_level["stop"]
        title = tag("h3", say("report_stops", count=len(found)), id="stops")
        if not found:
            return join(title, tag("p", say("report_no_stops")))
        kinds = (f for kinds in grouped(found).values() for alike in kinds.values() for f in alike)
        return join(
            title,
            tag("p", say("report_stops_lead")),
            self._list(kinds, alone=True, class_="findings stop"),
        )

    def cautions(self) -> Markup:
        """Write the cautions by group and kind, the gravest of each first."""
        found = self.tally.by_level["caution"]
        title = tag("h3", say("report_cautions", count=len(found)), id="cautions")
        if not found:
            return join(title, tag("p", say("report_no_cautions")))
        necks = sum(f.code == NECK for f in found)
        rest = [f for f in found if f.code != NECK]
        pieces: list[Markup | None] = [title, tag("p", say("report_cautions_lead"))]
        first: list[Markup | None] = []
        later: list[Markup | None] = []
        shown = kept_back = 0
        for name, kinds in grouped(rest).items():
            headed: list[Markup | None] | None = None
            for code, alike in kinds.items():
                here = first if shown < OPEN else later
                if here is not headed:  # a group that is cut in two is named twice
                    here.append(tag("h4", say(f"report_group_{name}")))
                    headed = here
                here.append(self._kind(code, alike))
                shown += _told(alike)
                kept_back += len(alike) if here is later else 0
        pieces += first
        if kept_back:
            pieces.append(folded(counted("report_cautions_rest", kept_back), *later, printed=True,
                                 whole=True))  # fmt: skip
        if necks:
            pieces.append(tag("p", link("necks", counted("report_necks", necks))))
        return join(*pieces)

    def unknowns(self) -> Markup:
        """Write what was not checked, and why."""
        found = self.tally.by_level["unknown"]
        title = tag("h3", say("report_unknowns", count=len(found)), id="not-checked")
        if not found:
            return join(title, tag("p", say("report_no_unknowns")))
        kinds = (f for kinds in grouped(found).values() for alike in kinds.values() for f in alike)
        return join(
            title,
            tag("p", say("report_unknowns_lead")),
            self._list(kinds, alone=True, class_="findings unknown"),
        )

    def fine(self) -> Markup:
        """Write what was checked and is within the limits, folded away."""
        found = self.tally.by_level["ok"]
        title = tag("h3", say("report_fine", count=len(found)), id="within-limits")
        if not found:
            return join(title, tag("p", say("report_no_fine")))
        pieces: list[Markup | None] = []
        for kinds in grouped(found).values():
            for code, alike in kinds.items():
                pieces += [
                    tag("h4", self._title(code, alike)),
                    source_line(alike),
                    self._list(alike, alone=False, class_="findings fine"),
                ]
        return join(title, folded(say("report_fine_fold"), *pieces, printed=False))

    def _kind(self, code: str, alike: list[Finding]) -> Markup:
        """Write one kind of caution: the gravest open, the rest folded."""
        told, more = alike[: _told(alike)], alike[_told(alike) :]
        return join(
            tag("h5", self._title(code, alike)),
            source_line(alike),
            self._list(told, alone=False, class_="findings caution"),
            folded(
                say("report_more", count=len(more), kind=title_of(code)),
                self._list(more, alone=False, class_="findings caution"),
                printed=True,
            )
            if more
            else None,
        )

    def _title(self, code: str, alike: list[Finding]) -> str:
        """Say a kind, and how many there are of it."""
        return say("report_kind", kind=title_of(code), count=len(alike))

    def _list(self, findings: Iterable[Finding], *, alone: bool, class_: str) -> Markup:
        """Write findings as a list."""
        items = [
            item(f, self.number[id(f)], self.tally, self.places, alone=alone) for f in findings
        ]
        return tag("ul", *items, class_=class_)


def _told(alike: list[Finding]) -> int:
    """Give how many of one kind stand open; folding a single one away saves nothing."""
    return len(alike) if len(alike) == TOLD + 1 else min(TOLD, len(alike))


def _decisions(tally: Tally) -> list[Markup]:
    """List what is for the owner to decide before a saw is started, each with its place."""
    levels, plan, units = tally.by_level, tally.plan, tally.units
    out: list[Markup] = []

    def add(where: str, key: str, count: int, **values: object) -> None:
        if count:
            said = (
                say(f"decide_{key}_one", **values)
                if count == 1
                else say(f"decide_{key}", count=count, **values)
            )
            out.append(tag("span", link(where, said)))

    add("stops", "stops", len(levels["stop"]))
    out += [tag("span", link("water", tag("strong", words))) for words in rule_words(plan)]
    held = sum(found.code == "hazard_work_inside" for found in plan.findings)
    add("cautions", "hazard_work", held)
    add("unserved", "missed", len(tally.missed))
    own_m = sum(o.marginal_trail_m or 0.0 for o in tally.costly)
    add("costly", "costly", len(tally.costly), length=length(own_m, units))
    add("sureness", "doubtful", tally.sure["doubtful"])
    add("timber", "in_trail", len(tally.in_trail))
    add("rub-trees", "rub", sum(rub.kind == "proposed" for rub in plan.rub_trees))
    against = [lay for lay in plan.lays if lay.lean == "against" and not lay.why_none]
    add("lays", "against", len(against))
    work = plan.work
    if work is not None and work.trucking.needed_m2 > work.trucking.has_m2:
        out.append(tag("span", link("decks", say("decide_landing_small"))))
    if tally.landing_proposed:
        out.append(
            tag(
                "span",
                link("landings" if plan.landing_options else "proposed", say("decide_landing")),
            )
        )
    if tally.main_routed:
        out.append(tag("span", link("proposed", say("decide_main"))))
    add("cautions", "cautions", len(levels["caution"]))
    add("not-checked", "unknown", len(levels["unknown"]))
    out.append(tag("span", link("closing", say("decide_walk"))))
    return out
