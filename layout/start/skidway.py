"""The command's first step: make sure that ``layout`` is ours, then run it.

``layout`` is an ordinary word, and an older package carries the same import
name. Where that one is found first, this says so instead of failing with a
traceback. ``python -m skidway`` runs the command too.
"""

import sys
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path


def hiding_package() -> str | None:
    """Give the place of a foreign ``layout`` found before ours, or None."""
    spec = find_spec("layout")
    if spec is None or spec.origin is None:
        return "nowhere"
    init = Path(spec.origin)
    ours = init.read_bytes().startswith(b'"""Skidway:') and (init.parent / "commands").is_dir()
    return None if ours else str(init.parent)


def console() -> None:
    """Run the command line and leave with its exit status."""
    place = hiding_package()
    if place is not None:
        print(
            f"skidway: another package named 'layout' was found first, at {place}; "
            "it hides the one skidway brings. Remove it, or install skidway into a "
            "fresh virtual environment.",
            file=sys.stderr,
        )
        raise SystemExit(2)
    import_module("layout.commands").console()


if __name__ == "__main__":
    console()
