"""``skidway rules``: the water rules there are, or one of them row by row."""

import argparse
from typing import Any


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "rules",
        help="list the water rules, or print one in words",
        description="List the rules for water strips that come with the program, or print one "
        "in words: what it asks, how that is measured, and where it stands.",
    )
    words.add_argument(
        "name",
        metavar="NAME",
        nargs="?",
        help="a rule of the list, or a .toml file of your own, which is checked",
    )
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Print the rules."""
    from layout.rule_files import load_rule, rule_names
    from layout.rule_words import closing, list_of, pages_of

    if words.name is not None:
        lines = pages_of(load_rule(words.name))
    else:
        lines = ["Name: where it holds; what it is; whether its numbers were read in the source"]
        lines += list_of(load_rule(name) for name in rule_names())
        lines += ["", "`skidway rules NAME` prints one in full.", *closing()]
    for line in lines:
        print(line)
    return 0
