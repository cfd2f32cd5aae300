"""Every word the outputs say, in one catalogue; a file for each kind of output.

Outputs hold no sentence of their own: they ask for one by its key, so that
wording is judged and translated in one place. Trees' reasons are told as what
stands in the way, never as leave to do something.
"""

from collections.abc import Mapping

from layout.outputs.words.bar_words import BARS
from layout.outputs.words.chance_words import CHANCES
from layout.outputs.words.closeout_words import CLOSEOUT
from layout.outputs.words.crew_page_words import CREW_PAGES
from layout.outputs.words.crew_words import CREW
from layout.outputs.words.crew_work_words import CREW_WORK
from layout.outputs.words.crossing_words import CROSSINGS
from layout.outputs.words.device_words import DEVICE
from layout.outputs.words.landing_words import LANDINGS
from layout.outputs.words.layer_words import LAYER_WORDS
from layout.outputs.words.option_words import OPTIONS
from layout.outputs.words.plan_words import PLAN
from layout.outputs.words.report_words import REPORT
from layout.outputs.words.work_words import WORK_LINES
from layout.species import find
from layout.tongue import phrase, spoken

ENGLISH: Mapping[str, str] = {
    **BARS, **CHANCES, **PLAN, **CREW, **CREW_PAGES, **CREW_WORK, **CLOSEOUT, **CROSSINGS, **DEVICE,
    **LANDINGS, **LAYER_WORDS, **OPTIONS, **REPORT, **WORK_LINES,
}  # fmt: skip


# Beside what begins with "crew_": shared with maps, lists and the report.
_ON_SHEETS = ("crew_", "order_", "lean_", "no_lay_", "care_", "tree_hazard_", "hazard_", "status_",
              "mark_", "device_on_landing", "log_rule_", "report_by_",
              "report_plot_", "step_flag_", "hours_")  # fmt: skip
_SINGLE = frozenset({
    "not_walked", "not_permission", "no_rule", "unverified_rule", "unverified_named", "rule_named",
    "rule_made_no_strip", "map_contours", "map_grid_north", "map_landing", "map_small_landing",
    "no_trail", "amount_range", "report_no_species", "report_no_dbh", "report_stand_plots",
    "report_gaps_none", "report_without_dbh", "report_col_before", "report_col_taken",
    "report_col_after", "report_stand_cap", "report_timber_all", "report_timber_in_way",
    "report_cord", "report_boards", "report_row_trees", "report_row_basal", "report_row_qmd",
    "report_row_stocking", "report_row_b_line", "report_row_cover",
})  # fmt: skip


def words_of_the_crew() -> set[str]:
    """Give the keys of all that crew sheets may say: what a translation must hold."""
    return {key for key in ENGLISH if key.startswith(_ON_SHEETS) or key in _SINGLE}


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
    return (spoken().words.get(key) or ENGLISH[key]).format(**values)


def word(key: str, other: str = "") -> str:
    """Give a word of the catalogue that has no places to fill, or another where there is none.

    Examples
    --------
    >>> word("hazard_wire"), word("hazard_beehive", "beehive")
    ('wire', 'beehive')
    """
    return say(key) if key in ENGLISH else other


def retold(words: str) -> str:
    """Give a sentence that a plan itself holds in the language of the sheets.

    Parameters
    ----------
    words : str
        The English sentence.

    Returns
    -------
    str
        Where the language does not have it, the English words, marked as such.
    """
    told = phrase(words)
    return say("crew_quoted", words=words) if told is None else told


def species_said(name: str) -> str:
    """Give what the sheets call a tree that a list names.

    Parameters
    ----------
    name : str
        As the user wrote it.

    Returns
    -------
    str
        Its name in the language of the sheets; as it was written where our tables do not
        have it, and where it is letters of a tally or a number.
    """
    ours = spoken().species
    if not ours or name.strip()[:1].isdigit():
        return name
    found = find(name)
    return name if found.code is not None else ours.get(found.name, name)


def counted(thing: str, count: int) -> str:
    """Say how many of a thing there are, in the singular or plural.

    Examples
    --------
    >>> counted("position", 1)
    '1 winch position'
    """
    return say(f"{thing}_one") if count == 1 else say(f"{thing}_many", count=count)
