"""The command line: parse, call, say; a file per command, no rule lives here.

Rooms are imported in the bodies of the commands, so that the version and a slip
in area.toml are answered at once.
"""

import argparse
import os
import sys

import layout
from layout.commands import check, draw, keys, plan, rules, sample, start, trees, warm
from layout.commands.surroundings import drop_foreign_data
from layout.commands.terminal import say
from layout.errors import LayoutError

DONE, HAS_STOPS, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130
COMMANDS = (start, sample, trees, check, draw, plan, rules, keys, warm)


def parser() -> argparse.ArgumentParser:
    """Describe the command line."""
    top = argparse.ArgumentParser(
        prog="skidway",
        description="Plan skid trails, winch positions and water bars of a small thinning.",
        epilog="Exit status: 0 done; 1 done, with findings that say stop; 2 bad input.",
    )
    top.add_argument("--version", action="version", version=f"skidway {layout.__version__}")
    each = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in COMMANDS:
        command.add_to(each)
    return top


def main(argv: list[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : list of str, optional
        Words after the program's name; left out, those of this process.

    Returns
    -------
    int
        0 done, 1 done with stop findings, 2 bad input, 130 interrupted.
    """
    try:
        words = parser().parse_args(argv)
    except SystemExit as leaving:  # argparse has said what it had to
        return leaving.code if isinstance(leaving.code, int) else BAD_INPUT
    for line in drop_foreign_data():
        if getattr(words, "verbose", False):
            say(line)
    try:
        status: int = words.run(words)
    except LayoutError as error:
        for line in str(error).splitlines():
            say(f"skidway: {line}")
        return BAD_INPUT
    except MemoryError:
        say("skidway: not enough memory; close other programs, or use a smaller area")
        return BAD_INPUT
    except KeyboardInterrupt:
        say("skidway: interrupted; nothing was replaced")
        return INTERRUPTED
    return status


def console() -> None:
    """Run the command line and leave with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:  # a Windows console may not hold every sign
            reconfigure(errors="replace")
    try:
        status = main()
        sys.stdout.flush()
    except BrokenPipeError:  # the reader of our output has gone, as with `| head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = DONE
    raise SystemExit(status)
