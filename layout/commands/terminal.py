"""What is said on the terminal: notices and progress to stderr, results to stdout."""

import logging
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.findings import Finding

QUIET_S = 1.0  # nothing is said of what is quicker


def say(line: str) -> None:
    """Say one line on stderr."""
    print(line, file=sys.stderr, flush=True)


class Progress:
    """Lines of progress, on a terminal only and only once a second has passed."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()
        self.start = time.monotonic()

    def __call__(self, line: str) -> None:
        """Say how far the work has come."""
        passed = time.monotonic() - self.start
        if self.shown and passed >= QUIET_S:
            say(f"{passed:4.0f} s  {line}")


def notice_if_cold() -> None:
    """Say that the first run takes longer, before anything slow is loaded."""
    from layout.kernel_cache import is_cold

    if is_cold():
        say("preparing, first run only: compiling takes some seconds")


def log_to_stderr(*, verbose: bool) -> None:
    """Send the rooms' log to stderr where it was asked for."""
    if verbose:
        logging.basicConfig(stream=sys.stderr, level=logging.INFO, format="%(name)s: %(message)s")


def check_settings(area: Path) -> None:
    """Read area.toml alone, so that a slip in it is answered before libraries load."""
    from layout.settings import load_settings
    from layout.settings.loading import settings_file

    load_settings(settings_file(area))


def lines_of(findings: "tuple[Finding, ...]") -> list[str]:
    """Write findings as lines: level, sentence, source."""
    lines = []
    for finding in findings:
        source = f" [{finding.source}]" if finding.source else ""
        lines.append(f"{finding.level:8}{finding.message}{source}")
    return lines
