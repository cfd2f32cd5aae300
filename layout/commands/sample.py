"""``skidway sample``: a copy of the sample area, to try the program on."""

import argparse
import shlex
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

# What makes the sample, or was made from it, is no part of a copy; the wheel leaves it out too.
LEFT_OUT = ("*.py", "overview.png", "out", "out.*", "__pycache__", ".*")


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "sample",
        help="copy the sample area to a new folder, to try the program on",
        description="Copy the sample area, an invented woodlot, to the new folder FOLDER.",
    )
    words.add_argument("folder", metavar="FOLDER", type=Path, help="a new folder, or an empty one")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Copy the sample area."""
    from layout.commands.new_folder import filled

    source = sample_area()
    filled(words.folder, lambda folder: copy(source, folder))
    print(f"The sample area is in {words.folder}; README.md there says what it holds. Next:")
    print(f"  skidway plan {shlex.quote(str(words.folder))}")
    return 0


def copy(source: Path, target: Path) -> None:
    """Copy what belongs to the sample, with rights of the user's own."""
    import shutil

    for item in sorted(source.iterdir()):
        if any(fnmatch(item.name, pattern) for pattern in LEFT_OUT):
            continue
        if item.is_dir():
            (target / item.name).mkdir()
            copy(item, target / item.name)
        else:
            shutil.copyfile(item, target / item.name)


def sample_area() -> Path:
    """Find the sample area: in the installed package, or beside it in the source."""
    import layout
    from layout.errors import InputError

    package = Path(layout.__file__).parent
    for folder in (package / "sample_area", package.parent / "sample_area"):
        if (folder / "area.toml").is_file():
            return folder
    raise InputError(
        f"the sample area is missing from {package}; install skidway again to have it back"
    )
