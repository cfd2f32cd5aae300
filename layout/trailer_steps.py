"""The steps of the order of work that a trailer asks for.

The small landing is made when its trail is open. Each time it is full, and when the last
load that ends there is in, the trailer takes the wood on; then the small landing is closed,
before the trail it lies on is. One that is in use is made already, and what lies there is
carried though no load comes to it any more.
"""

from collections.abc import Sequence
from dataclasses import replace

from layout.work_records import Turn, TwoStage, WorkStep


def with_trailer(
    steps: Sequence[WorkStep], turns: Sequence[Turn], two: TwoStage
) -> tuple[WorkStep, ...]:
    """Put the trailer's steps among the others.

    Parameters
    ----------
    steps : sequence of WorkStep
        The order of work without it.
    turns : sequence of Turn
        Named; those of them that end at the small landing say so.
    two : TwoStage
        Where the small landing is, how often it is full, how many trips there are.

    Returns
    -------
    tuple of WorkStep
        Numbered from 1. Every trip is in one step; the minutes of carrying are shared out
        by trips. Nothing is added where no load ends at the small landing, nor lies there.
    """
    wood = {turn.turn_id: turn.wood_m3 for turn in turns if turn.ends_at == "small landing"}
    bringing = [n for n, step in enumerate(steps) if set(step.turn_ids) & wood.keys()]
    if two.trips < 1 or not (bringing or two.loads_in):
        return tuple(steps)
    if not bringing:
        return _carried_only(steps, two)
    after: dict[int, list[WorkStep]] = {}
    for n, trips in _carried(steps, bringing, wood, two):
        minutes = two.carrying_min * len(trips) / two.trips
        carry = WorkStep(0, "carry", two.trail_id, minutes=minutes, trips=trips)
        after.setdefault(_settled(steps, n, two.trail_id), []).append(carry)
    last = _settled(steps, bringing[-1], two.trail_id)
    after[last].append(WorkStep(0, "small_close", two.trail_id))
    made = two.in_use
    first = _opened(steps, two.trail_id)
    out = [WorkStep(0, "small_open", two.trail_id)] if first < 0 and not made else []
    for n, step in enumerate(steps):
        out += [step, *after.get(n, ())]
        if n == first and not made:
            out.append(WorkStep(0, "small_open", two.trail_id))
    return tuple(replace(step, number=k) for k, step in enumerate(out, start=1))


def _carried_only(steps: Sequence[WorkStep], two: TwoStage) -> tuple[WorkStep, ...]:
    """Carry what lies at the small landing before its trail, or the landing, is closed."""
    ends = [
        n
        for n, step in enumerate(steps)
        if not step.done
        and (step.kind == "landing" or (step.kind == "close" and step.trail_id == two.trail_id))
    ]
    n = ends[0] if ends else len(steps)
    trips = tuple(range(1, two.trips + 1))
    out = [
        *steps[:n],
        WorkStep(0, "carry", two.trail_id, minutes=two.carrying_min, trips=trips),
        WorkStep(0, "small_close", two.trail_id),
        *steps[n:],
    ]
    return tuple(replace(step, number=k) for k, step in enumerate(out, start=1))


def _opened(steps: Sequence[WorkStep], trail_id: str) -> int:
    """Give the step after which the small landing can be made; -1 for before all."""
    opens = [n for n, s in enumerate(steps) if s.kind == "open" and s.trail_id == trail_id]
    if opens and not steps[opens[-1]].done:
        return opens[-1]
    # its trail is open already: after what is done, ribbons and hazard trees
    first = 0
    while steps[first].done or steps[first].kind == "flag" or _alone(steps, first):
        first += 1
    return first - 1


def _alone(steps: Sequence[WorkStep], n: int) -> bool:
    """Tell whether a step only fells, and nothing of it is winched next."""
    following = steps[n + 1] if n + 1 < len(steps) else None
    return steps[n].kind == "fell" and (following is None or following.kind != "winch")


def _settled(steps: Sequence[WorkStep], n: int, trail_id: str) -> int:
    """Go on over trails that are closed right after a step, but not over its own."""
    while n + 1 < len(steps):
        following = steps[n + 1]
        if following.kind != "close" or following.trail_id == trail_id:
            break
        n += 1
    return n


def _carried(
    steps: Sequence[WorkStep], bringing: Sequence[int], wood: dict[str, float], two: TwoStage
) -> list[tuple[int, tuple[int, ...]]]:
    """Share the trips out over the fillings: after which step, which trips."""
    known = {name: m3 if m3 == m3 else 0.0 for name, m3 in wood.items()}  # NaN: not known
    whole, lying, made, full = sum(known.values()), 0.0, 0, 1
    out: list[tuple[int, tuple[int, ...]]] = []
    for n in bringing:
        lying += sum(known.get(name, 0.0) for name in steps[n].turn_ids)
        while full < two.fillings and whole > 0 and lying >= full / two.fillings * whole:
            upto = round(two.trips * full / two.fillings)
            if upto > made and n != bringing[-1]:
                out.append((n, tuple(range(made + 1, upto + 1))))
                made = upto
            full += 1
    return [*out, (bringing[-1], tuple(range(made + 1, two.trips + 1)))]
