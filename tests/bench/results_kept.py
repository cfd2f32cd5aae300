"""Where bench figures are kept: a JSON file of rows, and a table made from it.

Figures are written one case at a time, so that a run that is broken off goes on
where it ended.
"""

import json
import os
import platform
import re
import resource
import subprocess
import sys
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "results"


def read(name: str) -> dict[str, dict[str, Any]]:
    """Give the rows of a bench by case; none where it was never run."""
    path = FOLDER / f"{name}.json"
    return dict(json.loads(path.read_text(encoding="utf-8"))) if path.exists() else {}


def keep(name: str, case: str, row: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Add one row to the file of a bench and give all rows."""
    rows = read(name) | {case: row | {"dated": f"{datetime.now(UTC):%Y-%m-%d}"}}
    path = FOLDER / f"{name}.json"
    FOLDER.mkdir(exist_ok=True)
    half = path.with_suffix(".part")
    half.write_text(json.dumps(rows, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    half.replace(path)
    return rows


def write_table(name: str, title: str, words: str, tables: Iterable[str]) -> Path:
    """Write the Markdown page of a bench."""
    path = FOLDER / f"{name}.md"
    machine = (
        f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}; "
        f"written {datetime.now(UTC):%Y-%m-%d} by `python tests/bench/bench_{name}.py --write`."
    )
    text = "\n\n".join([f"# {title}", words.strip(), machine, *tables]) + "\n"
    path.write_text(text, encoding="utf-8")
    return path


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Lay out a Markdown table."""
    lines = [" | ".join(map(str, row)) for row in (head, ["---"] * len(head), *rows)]
    return "\n".join(f"| {line} |" for line in lines)


def peak_mb(process: int | None = None) -> float:
    """Give the most memory a process has held since it began to run its program, megabytes.

    Taken from the memory map of the program itself where the system tells it: what
    `resource` says of a process starts with the size of the one that started it.
    """
    status = Path("/proc") / str(process or "self") / "status"
    if status.exists():
        held = re.search(r"VmHWM:\s+(\d+) kB", status.read_text(encoding="utf-8"))
        if held:
            return int(held[1]) / 1024.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024.0**2 if sys.platform == "darwin" else 1024.0)


def in_child(
    script: str,
    *words: str,
    timeout_s: float | None = None,
    env: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """Run a bench script for one case in a process of its own and read its last line.

    A process that is ended for want of memory or time gives what it died of.
    """
    command = [sys.executable, script, "--one", *words]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=timeout_s, check=False, env=env
        )
    except subprocess.TimeoutExpired:
        return {"failed": f"not done in {timeout_s:.0f} s"}
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no word"])[-1]
        return {"failed": f"exit {done.returncode}: {last[:160]}"}
    return dict(json.loads(done.stdout.strip().splitlines()[-1]))


def growth(sizes: Sequence[float], values: Sequence[float]) -> float:
    """Give the exponent b of values = a * sizes ** b, by least squares of logarithms."""
    import numpy as np

    if len(sizes) < 2:
        return float("nan")
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])
