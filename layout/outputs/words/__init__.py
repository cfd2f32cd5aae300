"""Every word the outputs say, in one catalogue; a file for each kind of output.

Outputs hold no sentence of their own: they ask for one by its key, so that
wording is judged and translated in one place. Trees' reasons are told as what
stands in the way, never as leave to do something.
"""

from collections.abc import Mapping

from layout.outputs.words.bar_words import BARS
from layout.outputs.words.chance_words import CHANCES
from layout.outputs.words.closeout_words import CLOSEOUT
from layout.outputs.words.crew_words import CREW
from layout.outputs.words.crew_work_words import CREW_WORK
from layout.outputs.words.crossing_words import CROSSINGS
from layout.outputs.words.device_words import DEVICE
from layout.outputs.words.landing_words import LANDINGS
from layout.outputs.words.option_words import OPTIONS
from layout.outputs.words.plan_words import PLAN
from layout.outputs.words.report_words import REPORT
from layout.outputs.words.work_words import WORK_LINES

ENGLISH: Mapping[str, str] = {
    **BARS, **CHANCES, **PLAN, **CREW, **CREW_WORK, **CLOSEOUT, **CROSSINGS, **DEVICE, **LANDINGS,
    **OPTIONS, **REPORT, **WORK_LINES,
}  # fmt: skip


def say(key: str, **values: object) -> str:
    """Give one sentence or label of the outputs.

    Parameters
    ----------
    key : str
        Its name in the catalogue.
    **values : object
        What its places are filled with.

    Returns
    -------
    str
        The words.

    Raises
    ------
    KeyError
        If the catalogue has no such key, or a place is left unfilled.

    Examples
    --------
    >>> say("spur_many", count=7)
    '7 spurs'
    """
    return ENGLISH[key].format(**values)


def counted(thing: str, count: int) -> str:
    """Say how many of a thing there are, in the singular or plural.

    Examples
    --------
    >>> counted("position", 1)
    '1 winch position'
    """
    return say(f"{thing}_one") if count == 1 else say(f"{thing}_many", count=count)
