"""One wrong coordinate among many good ones: it is named, and sizes nothing."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from layout.commands import main
from layout.read_land import on_ground
from layout.winch_ground import binned

from area_files import write_layer  # isort: skip

AREA = Path(__file__).parent / "data" / "metric_area"


def strayed(folder: Path, row: str, x: str, y: str) -> Path:
    """Give the metric area with one tree moved."""
    shutil.copytree(AREA, folder)
    lines = (folder / "trees.csv").read_text(encoding="utf-8").splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith(row + ","))
    cells = lines[at].split(",")
    lines[at] = ",".join([cells[0], x, y, *cells[3:]])
    (folder / "trees.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def test_a_tree_and_a_field_at_nought_are_told_and_the_rest_is_checked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = strayed(tmp_path / "lot", "T003", "0", "0")
    write_layer(folder / "field.gpkg", [box(0, 0, 100, 100)], crs="EPSG:25832")
    file = folder / "area.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace("[ground]\n", '[ground]\nmay_use = "field.gpkg"\n', 1), encoding="utf-8"
    )
    status = main(["check", str(folder)])
    said = capsys.readouterr()
    assert status == 0, said.err
    tree = next(line for line in said.out.splitlines() if "outside the stand" in line)
    assert tree.startswith("caution") and "T003" in tree
    field = next(line for line in said.out.splitlines() if "may_use" in line)
    assert field.startswith("caution") and "off the elevations" in field
    assert "20 of 20 marked trees could be winched" in said.out


def test_a_number_no_grid_has_is_refused_with_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = strayed(tmp_path / "lot", "T003", "1e99", "5400116.0")
    assert main(["check", str(folder)]) == 2
    said = capsys.readouterr()
    assert "trees.csv line 4: x 1e99 is outside" in said.err and len(said.err.splitlines()) == 1


def test_bins_hold_what_is_near_and_nothing_sizes_them_from_afar() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 100, 400), rng.uniform(0, 100, 400)
    x[7], y[7] = 0.0, -5.4e6
    x[9] = 1e99
    bins = binned(x, y, 5.0, (0.0, 0.0, 100.0, 100.0))
    assert bins.first.shape[0] <= 21 and bins.first.shape[1] <= 22
    near = np.delete(np.arange(400), [7, 9])
    assert sorted(bins.items.tolist()) == near.tolist()
    for i in near.tolist():
        row = int(np.floor((bins.north_m - y[i]) / 5.0))
        col = int(np.floor((x[i] - bins.west_m) / 5.0))
        assert i in bins.items[bins.first[row, col] : bins.first[row, col + 1]]


def test_a_field_is_cut_to_the_elevations_and_left_alone_on_them() -> None:
    bounds = (0.0, 0.0, 100.0, 100.0)
    whole = MultiPolygon([box(10, 10, 20, 20)])
    assert on_ground(whole, bounds, "f") == (whole, ())
    cut, found = on_ground(MultiPolygon([box(50, 50, 9e6, 60)]), bounds, "f")
    assert cut.bounds == (50, 50, 100, 60) and not found
    cut, found = on_ground(MultiPolygon([box(-9e6, 0, -8e6, 9), *whole.geoms]), bounds, "f")
    assert cut.equals(whole) and [f.code for f in found] == ["may_use_far"]
    none, _ = on_ground(MultiPolygon([box(-9e6, 0, -8e6, 9)]), bounds, "f")
    assert none.is_empty
