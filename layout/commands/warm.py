"""``skidway warm``: compile all kernels now, so that the first plan starts at once."""

import argparse
from typing import Any

from layout.commands.terminal import notice_if_cold


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "warm",
        help="compile all kernels now",
        description="Compile all kernels into the user's cache folder.",
    )
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Plan a small made-up slope, which calls every kernel; nothing is written."""
    notice_if_cold()

    from layout.commands.made_slope import made_area
    from layout.kernels import CACHE_FOLDER
    from layout.plan import make_plan

    make_plan(made_area())
    print(f"kernels are compiled in {CACHE_FOLDER}")
    return 0
