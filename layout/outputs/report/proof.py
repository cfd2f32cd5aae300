"""The appendix: how the layout was found, and how near the best of what was tried it is.

The only place in the report where a solver's words are used.
"""

from __future__ import annotations

from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say

LEAST_GAP_PCT = 0.001  # what the table below shows at the least


def part(tally: Tally) -> Markup:
    """Write the appendix.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    choice, plan = tally.plan.choice, tally.plan
    asked = plan.area.settings.objective.gap_pct
    proved = choice.gap_pct <= asked + 1e-9
    verdict = (
        say("proof_optimal", gap=_percent(choice.gap_pct))
        if proved
        else say("proof_not", gap=_percent(choice.gap_pct))
    )
    facts: list[tuple[str, str]] = [
        (say("proof_objective"), f"{choice.objective_m2:,.1f} m\N{SUPERSCRIPT TWO}"),
        (say("proof_bound"), f"{choice.bound_m2:,.1f} m\N{SUPERSCRIPT TWO}"),
        (say("proof_gap"), f"{choice.gap_pct:.3f} %"),
        (say("proof_rounds"), f"{choice.rounds:,}"),
        (say("proof_segments"), f"{choice.segments:,}"),
        (say("proof_positions"), f"{choice.positions:,}"),
        (say("proof_pairs"), f"{choice.pairs:,}"),
        (
            say("proof_model"),
            say(
                "proof_model_size",
                rows=f"{choice.rows:,}",
                columns=f"{choice.columns:,}",
                nonzeros=f"{choice.nonzeros:,}",
            ),
        ),
        (say("proof_seconds"), f"{choice.seconds:.1f} s"),
        (say("proof_stopped"), _stopped(choice.stopped_by)),
        (say("proof_seed"), str(choice.seed)),
        (say("proof_crs"), plan.area.crs.to_string()),
    ]
    for key in ("version", "settings_sha256"):
        if key in plan.about:
            facts.append((say(f"proof_{key}"), plan.about[key]))
    listed: list[list[Piece]] = [list(fact) for fact in facts]
    return section(
        "appendix",
        say("report_appendix"),
        tag("p", verdict),
        tag("p", say("proof_means")),
        table(
            say("proof_cap"), (Column(say("proof_col_what")), Column(say("proof_col_is"))), listed
        ),
    )


def _percent(gap_pct: float) -> str:
    """Say a gap in plain figures; one that is nothing but rounding is at most a thousandth."""
    gap = max(gap_pct, LEAST_GAP_PCT)
    return f"{gap:,.0f}" if gap >= 10 else f"{gap:.2g}"


def _stopped(how: str) -> str:
    """Say what ended the choice; a word without a sentence of its own stands as it is."""
    return say(f"proof_stopped_{how}") if how in ("gap", "time", "work") else how
