"""Waypoints as another program writes them: through gpsbabel and back into the area's grid.

gpsbabel (GPL-2, Debian package of that name) writes the GPX and KML that phones
and receivers exchange; our reader must find every tree within a centimetre of
where it was put in.
"""

import csv
import subprocess
from pathlib import Path

import numpy as np
import oracles
import pyproj
import pytest

from layout.read_trees import TreeFile, read_trees

pytestmark = pytest.mark.slow

GRID = pyproj.CRS.from_epsg(32618)
ROUND_TRIP_M = 0.01
NOTES = [
    "37 RO 18 2", "38, sugar maple, 14.5 in, 1 log", "39 WP 45cm", "thirty nine RO twelve",
    'T41 hemlock 16" 2L', "gate & \"wall\" <old>", "42 érable 12", "43 RM 9.5",
]  # fmt: skip
DBH_CM = [45.72, 36.83, 45.0, 30.48, 40.64, np.nan, 30.48, 24.13]
FORMATS = {
    "gpx": ("gpx", "t.gpx"),
    "gpx 1.1": ("gpx,gpxver=1.1", "t.gpx"),
    "kml": ("kml,prec=9", "t.kml"),
}


def put_in(folder: Path, xy_m: np.ndarray) -> Path:
    """Write places and notes as the plain table gpsbabel reads."""
    back = pyproj.Transformer.from_crs(GRID, 4326, always_xy=True)
    lon, lat = back.transform(xy_m[:, 0], xy_m[:, 1])
    path = folder / "in.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(["No", "Latitude", "Longitude", "Name", "Description"])
        for n, note in enumerate(NOTES):
            table.writerow([n + 1, f"{lat[n]:.9f}", f"{lon[n]:.9f}", f"WP{n + 1}", note])
    return path


@pytest.mark.parametrize("kind", FORMATS)
def test_trees_come_back_where_they_were(tmp_path: Path, kind: str) -> None:
    oracles.needs("gpsbabel")
    rng = np.random.default_rng(11)
    xy_m = np.column_stack(
        [rng.uniform(499_000, 501_000, len(NOTES)), rng.uniform(4_899_000, 4_901_000, len(NOTES))]
    )
    written, name = FORMATS[kind]
    command = [
        "gpsbabel", "-i", "unicsv,utc=0", "-f", str(put_in(tmp_path, xy_m)),
        "-o", written, "-F", str(tmp_path / name),
    ]  # fmt: skip
    subprocess.run(command, check=True, timeout=60)
    file = TreeFile(tmp_path, name, "trees:", False, 5.0)
    trees, found = read_trees(file, GRID, None)
    assert np.hypot(trees.x - xy_m[:, 0], trees.y - xy_m[:, 1]).max() < ROUND_TRIP_M
    assert trees.tree_id == ("37", "38", "39", "39-2", "41", "P6", "42", "43")
    np.testing.assert_allclose(trees.dbh_cm, DBH_CM, atol=0.01)
    for said, note in zip(trees.table["note"], NOTES, strict=True):
        assert note in said
    assert {f.code for f in found} >= {"waypoint_notes", "waypoint_numbers", "species_unknown"}


def test_dilution_of_a_receiver_comes_through(tmp_path: Path) -> None:
    oracles.needs("gpsbabel")
    (tmp_path / "in.csv").write_text(
        "No,Latitude,Longitude,Name,HDOP\n1,44.25,-75.0,37 RO 18,2.4\n", encoding="utf-8"
    )
    command = ["gpsbabel", "-i", "unicsv", "-f", str(tmp_path / "in.csv"), "-o", "gpx",
               "-F", str(tmp_path / "t.gpx")]  # fmt: skip
    subprocess.run(command, check=True, timeout=60)
    trees, _ = read_trees(TreeFile(tmp_path, "t.gpx", "trees:", False, 5.0), GRID, None)
    assert trees.position_error_m.tolist() == [12.0]  # 5 m for each unit
