"""The closing words of a plan, for the terminal: plain, rounded, nothing left out that stops."""

from __future__ import annotations

from collections import Counter, defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from layout import benching
from layout.limit_words import said
from layout.outputs import stand_lines, work_summary
from layout.outputs.about import rule_names, rule_words
from layout.outputs.amounts import grade, limit, share
from layout.outputs.device.degrees import why_left_out
from layout.outputs.gravity import by_kind
from layout.outputs.tree_orders import positions_said
from layout.outputs.what_changes import worth_a_thought
from layout.outputs.words import counted, say
from layout.records import REACHED, Sureness
from layout.speech import speak_area, speak_length, speak_station, speak_volume

if TYPE_CHECKING:
    from layout.geometry import Floats
    from layout.plan import Plan

MOST_CAUTIONS = 8  # kinds
SURENESS: tuple[Sureness, ...] = ("sure", "tight", "doubtful")


def closing(plan: Plan, folder: Path | None = None) -> str:
    """Sum a plan up in plain words.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path, optional
        Where its files were written; left out, nothing is said of files.

    Returns
    -------
    str
        Lines of text, without a last line break: trees reached and why others
        are not, trail, ground, steepest places, findings (every stop, the
        gravest cautions), whether the time limit cut the search short, files, and
        what holds for every plan.
    """
    lines = [
        *_trees(plan),
        *_landing(plan),
        *worth_a_thought(plan),
        *said(plan.limits, plan.area.settings.area.units),
        *_trails(plan),
        *_benches(plan),
        *_changes(plan),
        _ground(plan),
        *_steepest(plan),
        *([] if plan.treatment is None else stand_lines.said(plan.area, plan.treatment)),
        *work_summary.said(plan),
        *_findings(plan),
        *([say("rule_named", rules=names)] if (names := rule_names(plan)) else []),
        *(f"{words}." for words in rule_words(plan)),
        *([say("out_of_time")] if plan.choice.stopped_by == "time" else []),
        say("best_found"),
    ]
    if folder is not None:
        files = ", ".join(sorted(path.name for path in folder.iterdir() if path.is_file()))
        lines.append(say("written", folder=folder, files=files))
        lines += why_left_out(plan.area)
    lines += [say("not_walked"), say("not_permission")]
    return "\n".join(lines)


def _trees(plan: Plan) -> list[str]:
    """Say how many marked trees are reached, how surely, and why the others are not."""
    name = plan.area.settings.area.name
    listed = [outcome for outcome in plan.trees if outcome.status != "leave"]
    if not listed:
        return [say("none_marked", area=name)]
    marked = [outcome for outcome in listed if outcome.status != "done"]
    missed = [outcome for outcome in marked if outcome.status not in REACHED]
    sure = Counter(pull.sure for pull in plan.pulls)
    sureness = ", ".join(f"{sure[word]} {say(f'sure_{word}')}" for word in SURENESS)
    served = len(marked) - len(missed)
    said = [say("served", area=name, served=served, marked=len(marked), sureness=sureness)]
    if missed:
        said.append(say("unserved_one") if len(missed) == 1 else say("unserved", count=len(missed)))
    reasons = Counter(outcome.status for outcome in missed)
    for status, count in sorted(reasons.items(), key=lambda item: (-item[1], item[0])):
        others = Counter(
            outcome.remedies[1]
            for outcome in missed
            if outcome.status == status and len(outcome.remedies) > 1
        )
        best = min(others, key=lambda remedy: (-others[remedy], remedy), default="")
        after = say("next_remedy", remedy=best) if best else ""
        said.append(say("reason", count=count, why=say(f"status_{status}"), next=after))
    done = len(listed) - len(marked)
    if done:
        said.append(say("done_one") if done == 1 else say("done", count=done))
    return said


def _landing(plan: Plan) -> list[str]:
    """Say which of the proposed landings is used, and why the others are not."""
    options = plan.landing_options
    if not options:
        return []
    if len(options) == 1:
        return [say("landing_tried_one")]
    others = (say("landing_tried_other", option=o.option_id, why=o.why) for o in options[1:])
    return [
        say(
            "landing_tried",
            places=counted("landing_place", sum(option.planned for option in options)),
            used=options[0].option_id,
            others=" ".join(others),
        )
    ]


def _changes(plan: Plan) -> list[str]:
    """Say what was kept, is new and is gone since the earlier plan."""
    said = []
    for layer in ("trails", "winch_positions"):
        parts = []
        for kind in ("kept", "moved", "added", "retired"):
            names = [c.name for c in plan.changes if c.layer == layer and c.change == kind]
            if names:
                parts.append(say(f"change_{kind}", names=", ".join(names)))
        if parts:
            said.append(say(f"changes_{layer}", what="; ".join(parts)))
    return said


def _trails(plan: Plan) -> list[str]:
    """Say how much trail there is, and how many places to work from."""
    units = plan.area.settings.area.units
    if not plan.trails:
        return [say("no_trail")]
    length_m = {
        kind: sum(trail.line.length for trail in plan.trails if trail.kind == kind)
        for kind in ("main", "spur")
    }
    main, spur = (speak_length(length_m[kind], units) for kind in ("main", "spur"))
    spurs = counted("spur", sum(trail.kind == "spur" for trail in plan.trails))
    if not length_m["spur"]:
        lengths = say("trail_main_only", main=main)
    elif not length_m["main"]:
        lengths = say("trail_spurs_only", spur=spur, spurs=spurs)
    else:
        lengths = say("trail_lengths", main=main, spur=spur, spurs=spurs)
    return [
        lengths,
        say(
            "places",
            positions=positions_said(plan),
            turnings=counted("turning", len(plan.turning_places)),
        ),
    ]


def _benches(plan: Plan) -> list[str]:
    """Say how much new bench there is, and what is dug for it."""
    if not plan.benches:
        return []
    units = plan.area.settings.area.units
    length_m, cut_m3, fill_m3 = benching.totals(plan.benches)
    return [
        say(
            "benches",
            length=speak_length(length_m, units),
            cut=speak_volume(cut_m3, units),
            fill=speak_volume(fill_m3, units),
            ground=speak_area(plan.soil.bench_m2, units),
        )
    ]


def _ground(plan: Plan) -> str:
    """Say the share of the stand that is disturbed, against aim and limit."""
    soil = plan.area.settings.soil
    return (
        say("ground", share=share(plan.soil.share_pct))
        + say("ground_aim", aim=limit(soil.aim_pct), limit=limit(soil.limit_pct))
        + say("ground_landing", share=share(plan.soil.share_with_landing_pct))
    )


def _steepest(plan: Plan) -> list[str]:
    """Say the steepest loaded grades and cross slope, each with its place, never with a sign."""
    found: dict[str, list[tuple[str, Floats, Floats]]] = defaultdict(list)
    for trail in sorted(plan.trails, key=lambda trail: trail.trail_id):
        if (stations := plan.stations.get(trail.trail_id)) is None:
            continue
        at_m = stations.at_m
        found["downhill_loaded"].append((trail.trail_id, at_m, -stations.grade_pct))
        found["uphill_loaded"].append((trail.trail_id, at_m, stations.grade_pct))
        found["cross_slope"].append((trail.trail_id, stations.at_m, stations.cross_pct))
    said = []
    for key, trails in found.items():
        worst, place = 0.5, ("", 0.0)  # what rounds to 0 % is not worth a word
        for trail_id, at_m, pct in trails:
            sizes = np.nan_to_num(pct, nan=0.0)
            if sizes.size and float(sizes.max()) > worst:
                worst = float(sizes.max())
                place = (trail_id, float(at_m[int(sizes.argmax())]))
        if place[0]:
            end_m = next(t.line.length for t in plan.trails if t.trail_id == place[0])
            at = speak_station(place[1], plan.area.settings.area.units, end_m)
            said.append(say(key, size=grade(worst), place=say("place", trail=place[0], at=at)))
    return [say("steepest", grades=", ".join(said))] if said else []


def _findings(plan: Plan) -> list[str]:
    """Count the findings; tell every stop, and of each kind of caution the gravest.

    Two hundred cautions in a row are not read; a dozen kinds are.
    """
    levels = Counter(finding.level for finding in plan.findings)
    said = [
        say(
            "findings",
            stops=levels["stop"],
            cautions=levels["caution"],
            unknowns=levels["unknown"],
        )
    ]
    said += [say("stop", message=f.message) for f in plan.findings if f.level == "stop"]
    cautions = [f for f in plan.findings if f.level == "caution"]
    kinds = by_kind(cautions)
    told = list(kinds.values())[:MOST_CAUTIONS]
    for alike in told:
        tail = say("caution_alike", count=len(alike) - 1) if len(alike) > 1 else ""
        tail += "" if alike[0].confirmed else say("caution_unverified")
        said.append(say("caution", message=alike[0].message) + tail)
    more = len(cautions) - sum(len(alike) for alike in told)
    if more > 0:
        said.append(say("more_cautions_one") if more == 1 else say("more_cautions", count=more))
    return said
