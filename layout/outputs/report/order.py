"""The order of work, a line for each step, as the crew's book has it to tick."""

from __future__ import annotations

from layout.outputs.report.tables import LONG
from layout.outputs.report.tags import Markup, bullets, folded, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.stop_order import on_paper
from layout.outputs.words import counted, say
from layout.outputs.work_lines import StepLines
from layout.work_records import WorkStep


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where the work was not worked out, or has no step. The list is folded away on
        the screen where it is long; paper has it in the crew's book.
    """
    plan = tally.plan
    if plan.work is None or not plan.work.steps:
        return None
    lines = StepLines(plan)
    steps = plan.work.steps
    numbers = {n: number for n, (number, part) in on_paper(plan).items() if part == "harvest"}
    listed = tag("ol", *(tag("li", _line(lines, step, numbers.get(step.number))) for step in steps))
    settings = plan.area.settings.work
    alone = None
    if settings.crew == 1:
        watcher = settings.watcher or say("report_watcher_blank")
        check_in = f"{settings.check_in_min:g}"
        said = say("report_alone", minutes=check_in, watcher=watcher)
        alone = tag("p", tag("strong", said))
    return section(
        "order",
        say("report_order"),
        alone,
        tag("p", say("report_order_lead", steps=counted("report_step", len(steps)))),
        folded(say("report_order_show", count=len(steps)), listed, printed=False, file="plan.json")
        if len(steps) > LONG
        else listed,
        bullets([say("report_order_apart"), say("report_order_again")], class_="notes"),
    )


def _line(lines: StepLines, step: WorkStep, number: int | None) -> str:
    """Say a step, its number in the harvest, and that it is done where its words do not."""
    line, done = lines.line(step), say("report_step_done")
    if number is not None:
        line = say("report_order_harvest", line=line, number=number)
    return f"{done} {line}" if step.done and not line.startswith(done) else line
