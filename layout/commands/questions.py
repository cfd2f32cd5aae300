"""What `start` must be told: the owner's choices that are never made for them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from layout.commands.asking import ask, choice_lines, read_choice
from layout.errors import InputError
from layout.unit_names import UNIT_WORDS

if TYPE_CHECKING:
    from layout.water_rules import Rule

NONE_YET = "none"  # said of the water rule, where no rule is chosen
NOT_KNOWN = "?"


@dataclass(frozen=True, slots=True)
class Question:
    """One choice: its option, its key in area.toml, and the answers there are.

    Parameters
    ----------
    option : str
        As on the command line.
    table, key : str
        Where the answer goes.
    text : str
        The question.
    meanings : mapping of str to str
        Answers, and what each means. They are the words the key takes.
    also : mapping of str to str
        Other words for an answer.
    """

    option: str
    table: str
    key: str
    text: str
    meanings: Mapping[str, str]
    also: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> tuple[str, ...]:
        """The answers there are."""
        return tuple(self.meanings)

    @property
    def typed(self) -> tuple[str, ...]:
        """The answers as they are typed in a shell, where ? stands for a file name."""
        shell = {word: also for also, word in self.also.items()}
        return tuple(shell.get(word, word) for word in self.words)

    @property
    def form(self) -> str:
        """The option with its answers, for messages."""
        return f"{self.option} {'|'.join(self.typed)}"

    @property
    def help(self) -> str:
        """The question with its answers, for --help."""
        return f"{self.text} {', '.join(self.typed)}"

    def read(self, text: str, *, asked: bool = False) -> str:
        """Read an answer.

        Parameters
        ----------
        text : str
            The answer.
        asked : bool
            An answer to the question, where numbers and beginnings will do.

        Returns
        -------
        str
            One of `words`.

        Raises
        ------
        InputError
            If it is none of them.
        """
        known = self.also.get(text.strip().lower(), text)
        try:
            return read_choice(known, self.words, numbers=asked)
        except InputError as error:
            raise error if asked else InputError(f"{self.option}: {error}") from None

    def ask(self) -> str:
        """Ask at the terminal."""
        return ask(
            choice_lines(self.text, self.meanings), lambda answer: self.read(answer, asked=True)
        )


_YES_NO = {"yes": "", "no": "a plan then says stop", "?": "not known; a plan then says stop"}
_NOT_KNOWN = {"unknown": NOT_KNOWN}

UNITS = Question(
    "--units",
    "area",
    "units",
    "Which units do you work in?",
    {"us": "feet, acres, board feet, pounds", "metric": "metres, hectares, cubic metres, tonnes"},
)
LOG_RULE = Question(
    "--log-rule",
    "timber",
    "rule",
    "Which log rule do you sell by? Rules differ by half on small logs, so ask your buyer.",
    {
        "international-quarter": "board feet, International 1/4 inch",
        "scribner": "board feet, Scribner",
        "doyle": "board feet, Doyle",
        "cubic": "no board feet, solid volume only",
    },
)
PROPERTY_SOURCE = Question(
    "--property-source",
    "property",
    "source",
    "How is your property line known?",
    {
        "survey": "surveyed, its corners found on the ground",
        "marked": "blazes, paint, fence or wall that can be followed in the woods",
        "tax_map": "a tax or parcel map only",
        "walked": "walked with a phone or GPS",
    },
)
GEAR = (
    Question(
        "--frame",
        "tractor",
        "rollover_frame",
        "Has the tractor a rollover frame, or a cab built as one?",
        _YES_NO,
        _NOT_KNOWN,
    ),
    Question(
        "--belt", "tractor", "belt", "Has it a seat belt, and is it worn?", _YES_NO, _NOT_KNOWN
    ),
    Question(
        "--screen",
        "tractor",
        "screen",
        "Has it a rear screen between rope and driver?",
        _YES_NO,
        _NOT_KNOWN,
    ),
)
MUST = (UNITS, LOG_RULE, PROPERTY_SOURCE, *GEAR)  # and the water rule, see below
TREE_LIST = Question(
    "--list",
    "stand",
    "list",
    "What does the tree list hold?",
    {"all": "every stem, a column mark says which are cut", "marked": "only the trees to cut"},
)
ELEVATION_UNIT = Question(
    "--elevation-unit",
    "ground",
    "elevation_unit",
    "What are the elevations in?",
    UNIT_WORDS | {"?": "not known, ask later"},
    _NOT_KNOWN,
)
PRESET = Question(
    "--preset",
    "tractor",
    "preset",
    "Which size of tractor stands in for what is not filled in?",
    {"compact": "35-40 hp", "mid": "about 60 hp", "large": "about 100 hp"},
)

RULES = "--rules"
RULES_FORM = f"{RULES} NAME|FILE.toml|{NONE_YET} (`skidway rules` lists the names)"


def rules_offered() -> tuple["Rule", ...]:
    """Give the rules that come with the package and belong to some place or study."""
    from layout.rule_files import NO_RULE_CHOSEN, load_rule, rule_names

    return tuple(load_rule(name) for name in rule_names() if name != NO_RULE_CHOSEN)


def read_rules(answers: list[str], folder: Path) -> tuple[str, ...]:
    """Read the choice of water rules.

    Parameters
    ----------
    answers : list of str
        Names of rules, files of one's own, or the one word for none.
    folder : Path
        Where area.toml will stand.

    Returns
    -------
    tuple of str
        As area.toml names them; empty where none is chosen.

    Raises
    ------
    InputError, InputFaults
        If there is no such rule, or its file has faults: all of them.
    """
    from layout.commands.file_names import named_from
    from layout.rule_files import NO_RULE_CHOSEN, load_rule

    chosen = list(dict.fromkeys(answers))
    if NONE_YET in [name.lower() for name in chosen]:
        if len(chosen) > 1:
            raise InputError(f"{RULES}: {NONE_YET} stands alone, or leave it out")
        return ()
    if NO_RULE_CHOSEN in chosen:
        raise InputError(
            f"{RULES}: {NO_RULE_CHOSEN} is a stand-in and no rule of any place; say {NONE_YET}"
        )
    names = []
    for name in chosen:
        if name.endswith(".toml"):
            name = named_from(folder, name, f"{RULES}:")
        load_rule(name, folder)
        names.append(name)
    return tuple(names)


def ask_rules(folder: Path) -> tuple[str, ...]:
    """Show the rules there are, and ask for one."""
    from layout.rule_words import line_of

    rules = rules_offered()
    lines = ["Which water rule holds where you work? Ask the agency of your place if unsure."]
    for number, rule in enumerate(rules, start=1):
        lines.append(f"  {number:2} {line_of(rule)}")
    lines += [
        "A number, a name or a .toml file of your own; several with commas, the stricter wins.",
        f'"{NONE_YET}" where you do not know yet; `skidway rules NAME` prints one in full.',
    ]

    def read(answer: str) -> tuple[str, ...]:
        parts = [part.strip() for part in answer.split(",") if part.strip()]
        if " ".join(parts).lower() in (NONE_YET, "none yet"):
            return ()
        for place, part in enumerate(parts):
            if part.isdecimal():
                if not 1 <= int(part) <= len(rules):
                    raise InputError(f"there is no number {part}; 1 to {len(rules)}")
                parts[place] = rules[int(part) - 1].name
        return read_rules(parts, folder)

    return ask(lines, read)
