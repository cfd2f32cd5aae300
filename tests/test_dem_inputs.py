"""Every way a real owner's elevations arrive: one case a line, and exactly what is said of it."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import area_files as files
import numpy as np
import pyproj
import pytest
import rasterio
from rasterio.errors import NotGeoreferencedWarning
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject
from scipy import ndimage
from shapely.geometry import box

from layout.area import read_area
from layout.elevations import largest_pit_m2
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.grid import Dem, bilinear
from layout.read_dem import open_dem, read_window
from layout.units import US_SURVEY_FOOT_M

WHERE = "area.toml [ground] dem:"
FOOT = 0.3048
PLAIN = files.slope()  # rises 10 % to the north, 300 to 340 m
MIDDLE = (files.WEST + 200.0, files.NORTH - 200.0)
TRUE = 320.0  # of the plane in the middle of the stand
STAND_ROWS = slice(150, 250)


def read(
    folder: Path, named: str | tuple[str, ...] = "a.tif", unit: str | None = None
) -> tuple[Dem, list[Finding]]:
    raster = open_dem(named, WHERE, folder, None)
    dem, found = read_window(raster, files.STAND, 40.0, files.STAND, unit)
    return dem, list(found)


@dataclass
class Case:
    """A raster, how it is read, and what comes of it.

    `found` are code and level, `words` a part of the messages; `fault` is the whole
    of an error after the key. `off` is how far the middle may lie from the truth.
    """

    make: Callable[[Path], object]
    unit: str | None = None
    found: tuple[str, ...] = ()
    words: str = ""
    fault: str = ""
    off: float | None = 0.01
    gaps: int = 0


def tif(z: np.ndarray, unit: str = "m", **more: object) -> Callable[[Path], Path]:
    return lambda folder: files.write_dem(folder / "a.tif", z, unit=unit, **more)  # type: ignore[arg-type]


def scaled(z: np.ndarray, scale: float, unit: str = "m", **more: object) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        path = files.write_dem(folder / "a.tif", z, unit=unit, **more)  # type: ignore[arg-type]
        with rasterio.open(path, "r+") as out:
            out.scales = (scale,)

    return make


def holed(value: float, rows: slice = slice(190, 200), z: np.ndarray = PLAIN) -> np.ndarray:
    out = z.copy()
    out[rows, 160:170] = value
    return out


def as_int(z: np.ndarray, kind: str) -> np.ndarray:
    return np.rint(z).astype(kind)


def bytes_of(data: bytes) -> Callable[[Path], object]:
    return lambda folder: (folder / "a.tif").write_bytes(data)


def degrees_from_0(folder: Path) -> None:
    """Count longitudes from 0 to 360, as some offices do."""
    move = pyproj.Transformer.from_crs(26918, 4269, always_xy=True)
    back = pyproj.Transformer.from_crs(4269, 26918, always_xy=True)
    west, south = move.transform(files.WEST, files.NORTH - 400)
    east, north = move.transform(files.WEST + 400, files.NORTH)
    dx, dy = (east - west) / 400, (north - south) / 400
    lon, lat = np.meshgrid(west + (np.arange(400) + 0.5) * dx, north - (np.arange(400) + 0.5) * dy)
    z = 300 + 0.1 * (back.transform(lon, lat)[1] - (files.NORTH - 400))
    transform = Affine(dx, 0, west + 360, 0, -dy, north)
    files.write_dem(folder / "a.tif", z.astype(np.float32), crs="EPSG:4269", transform=transform)


def ascii_grid(head: str, point: str = ".") -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        rows = "\n".join(" ".join(f"{v:.2f}".replace(".", point) for v in row) for row in PLAIN)
        (folder / "a.tif").write_text(f"{head}\n{rows}\n", encoding="utf-8")
        (folder / "a.prj").write_text(pyproj.CRS.from_epsg(26918).to_wkt("WKT1_ESRI"), "utf-8")

    return make


def nowhere(folder: Path) -> None:
    with pytest.warns(NotGeoreferencedWarning):
        files.write_dem(folder / "a.tif", transform=Affine.identity())


def point_raster(folder: Path) -> None:
    """Say that a value stands for a point, as older tools write it."""
    path = files.write_dem(folder / "a.tif")
    with rasterio.open(path, "r+") as out:
        out.update_tags(AREA_OR_POINT="Point")


RNG = np.random.default_rng(5)
ROUGH = (PLAIN + 4 * RNG.standard_normal(PLAIN.shape)).astype(np.float32)
GRAIN = (PLAIN + 0.1 * RNG.standard_normal(PLAIN.shape)).astype(np.float32)
SPIKED = PLAIN.copy()
SPIKED[180, 190] += 30
COAST = (PLAIN - 320).clip(0).astype(np.float32)  # half of the stand is the sea's edge
SIX_GAPS = PLAIN.copy()
for k, size in enumerate((12, 10, 9, 8, 7, 6)):
    SIX_GAPS[160 + 12 * k, 160 : 160 + size] = -9999
DAM = PLAIN.copy()
DAM[:, 399] = -9999  # at the raster's edge, so no pit

CASES = {
    # units
    "feet by the band": Case(tif(PLAIN / FOOT, "ft")),
    "feet by a long name": Case(tif(PLAIN / US_SURVEY_FOOT_M, "Foot_US")),
    "feet by the heights' CRS": Case(tif(PLAIN / FOOT, "", crs="EPSG:26918+8228")),
    "survey feet by the heights' CRS": Case(
        tif(PLAIN / US_SURVEY_FOOT_M, "", crs="EPSG:26918+6360")
    ),
    "feet by the setting": Case(tif(PLAIN / FOOT, ""), unit="ft"),
    "decimetres by the band": Case(tif(as_int(PLAIN * 10, "int16"), "dm"), off=0.06),
    "centimetres by the setting": Case(tif(as_int(PLAIN * 100, "int32"), ""), unit="cm"),
    "millimetres by the band": Case(tif(as_int(PLAIN * 1000, "int32"), "millimeter")),
    "metres of height": Case(tif(PLAIN, "metres above sea level")),
    "decimetres by a scale": Case(scaled(as_int(PLAIN * 10, "int16"), 0.1), off=0.06),
    "no unit": Case(
        tif(PLAIN, ""),
        found=("elevation_unit unknown",),
        words='a.tif does not say the unit of its elevations; metres are taken. Set [ground] '
        'elevation_unit = "m" or "ft" to settle it.',
    ),
    "a unit that is none": Case(
        tif(PLAIN, "percent"),
        fault='a.tif says its unit of elevations is "percent" in its band; set [ground] '
        'elevation_unit = "m" or "ft", whichever is true',
    ),
    "a unit that is none, and the setting": Case(
        tif(PLAIN, "percent"),
        unit="m",
        found=("elevation_unit caution",),
        words='a.tif says its unit of elevations is "percent" in its band; m is used, as [ground]',
    ),
    "two units": Case(
        tif(PLAIN, "m", crs="EPSG:26918+6360"),
        fault='a.tif says its unit of elevations is "US survey foot" in its CRS and "m" in its '
        'band; set [ground] elevation_unit = "m" or "ft", whichever is true',
    ),
    "two units, and the setting": Case(
        tif(PLAIN, "m", crs="EPSG:26918+6360"), unit="m", found=("elevation_unit caution",)
    ),
    "the setting against the file": Case(
        tif(PLAIN / FOOT, "ft"),
        unit="m",
        found=("elevation_unit caution",),
        words="[ground] elevation_unit says m, a.tif says ft; m is used. Take the key out if",
        off=None,
    ),
    # numbers that look wrong, and what could have made them so
    "feet taken for metres": Case(
        tif(files.slope(rise=0.6), ""),
        found=("elevation_unit unknown", "elevation_unit_suspect caution"),
        words="a.tif does not say its unit, and if that is m, half the stand is steeper than 60 %. "
        "Where would the ground lie? In m at 390 to 450 m, half of it steeper than 60 %; in ft at "
        "119 to 137 m, half of it steeper than 18 %. Set [ground] elevation_unit to what is true",
        off=None,
    ),
    "decimetres taken for metres": Case(
        tif(as_int(PLAIN * 10, "int16"), ""),
        found=("elevation_unit unknown", "dem_whole_numbers caution",
               "elevation_unit_suspect caution"),
        words="in dm at 315 to 325 m, half of it steeper than 10 %",
        off=None,
    ),
    "centimetres taken for metres": Case(
        tif(as_int(PLAIN * 100, "int32"), ""),
        fault="a.tif read in m puts the ground at 31,115 to 32,885 m, where none lies. In dm at "
        "3112 to 3288 m; in cm at 311 to 329 m; in mm at 31 to 33 m it could: set [ground] "
        "elevation_unit if that is true of the place, otherwise get another raster",
    ),
    "twenty times too high": Case(
        tif(PLAIN * 20 + 0.3, ""),
        found=("elevation_unit unknown", "elevation_unit_suspect caution"),
        words="half the stand is steeper than 200 %. Where would the ground lie? In dm at 630 to "
        "650 m, half of it steeper than 20 %; in cm at 63 to 65 m, half of it steeper than 2 %. "
        "Set [ground] elevation_unit to what is true of the place; if none is, the raster's "
        "vertical scale is wrong, or it is not of the bare ground.",
        off=None,
    ),
    "twenty times too high in metres, as it says": Case(
        tif(PLAIN * 20 + 0.3, "m"),
        found=("dem_steep caution",),
        words="a.tif is read in m, half the stand is steeper than 200 %. Where would the ground",
        off=None,
    ),
    "a steep stand in metres, as it says": Case(tif(files.slope(rise=0.95), "m"), off=None),
    "numbers that no unit makes elevations": Case(
        tif((PLAIN - 319.9) * 1e9, ""),
        fault="a.tif read in m puts the ground at -8,750,000,128 to 8,950,011,904 m, where none "
        "lies. Name a raster of elevations",
    ),
    "treetops": Case(
        tif(ROUGH),
        found=("dem_surface caution",),
        words="is as rough as treetops: half the stand is steeper than",
        off=None,
    ),
    "bare ground with its grain": Case(tif(GRAIN), off=0.5),
    "one elevation": Case(
        tif(np.full((400, 400), 7, dtype=np.int16)),
        found=("dem_flat caution",),
        words="a.tif holds the one elevation 7 m all over the stand, and no ground is that flat.",
        off=None,
    ),
    "a spike": Case(
        tif(SPIKED),
        found=("dem_spikes caution",),
        words="1 cells of a.tif in the stand stand more than 10 m above or below all their "
        "neighbours, the first at 500190, 4900220; no ground does.",
    ),
    # steps
    "whole metres": Case(
        tif(as_int(PLAIN, "int16")),
        found=("dem_whole_numbers caution",),
        words="a.tif holds whole metres; a grade over 10 m cannot be judged from steps of 1 m. Use",
        off=0.6,
    ),
    "whole feet": Case(
        tif(as_int(PLAIN / FOOT, "uint16"), "ft"),
        found=("dem_whole_numbers caution",),
        words="a.tif holds whole feet; a grade over 10 m cannot be judged from steps of 0.3 m. Use",
        off=0.2,
    ),
    "whole metres in a raster of decimals": Case(
        tif(np.rint(PLAIN)), found=("dem_whole_numbers caution",), off=0.6
    ),
    # cells that stand for none
    "-9999 declared": Case(
        tif(holed(-9999), nodata=-9999), found=("dem_gaps caution",), gaps=100
    ),
    "no number declared": Case(
        tif(holed(np.nan), nodata=np.nan), found=("dem_gaps caution",), gaps=100
    ),
    "-9999 not declared": Case(
        tif(holed(-9999)),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        words="a.tif holds -9999 in 100 cells, far from all other elevations, and does not say "
        "that it stands for none; they are taken as gaps.",
        gaps=100,
    ),
    "-9999 not declared, in decimetres": Case(
        scaled(holed(-9999, z=PLAIN * 10).astype(np.int16), 0.1),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        words="a.tif holds -999.9 in 100 cells",
        gaps=100,
        off=0.1,
    ),
    "-9999 not declared, in centimetres": Case(
        tif(holed(-9999, z=PLAIN * 100).astype(np.int32), "cm"),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        gaps=100,
    ),
    "-32768 not declared": Case(
        tif(holed(-32768)),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        gaps=100,
    ),
    "the largest number not declared": Case(
        tif(holed(3.4028234663852886e38)),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        words="a.tif holds 3.40282e+38 in 100 cells",
        gaps=100,
    ),
    "0 for none, inland": Case(
        tif(holed(0)),
        found=("dem_gaps caution", "dem_undeclared_gaps caution"),
        words="a.tif holds 0 in 100 cells",
        gaps=100,
    ),
    "0 for the sea, at the coast": Case(tif(COAST), off=None),
    "below the Dead Sea": Case(
        tif(holed(-777)),
        found=("dem_gaps caution", "dem_impossible caution"),
        words="a.tif has 100 cells with elevations no ground has (like -777 m); they are taken as",
        gaps=100,
    ),
    "many gaps": Case(
        tif(SIX_GAPS, nodata=-9999),
        found=("dem_gaps caution",) * 6,
        words="in 1 smaller gaps",
        gaps=52,
    ),
    "gaps at the raster's edge": Case(tif(DAM, nodata=-9999)),
    "elevations in a corner of the stand only": Case(
        tif(np.where(np.arange(400)[:, None] < 159, PLAIN, np.float32(np.nan))),
        fault="a.tif has no elevations in 91 % of the stand; get another raster",
    ),
    # cells
    "30 m one way": Case(
        tif(files.slope(400, 20), transform=Affine(30, 0, files.WEST - 100, 0, -1, files.NORTH)),
        fault="a.tif has cells of 30 m; trail grades are measured over 10 m, so cells of 20 m or "
        "less are needed, 1 m is best",
    ),
    "quarters of a metre": Case(
        tif(
            files.slope(800, 800, 0.25),
            transform=Affine(0.25, 0, files.WEST + 100, 0, -0.25, files.NORTH - 100),
        ),
        found=("dem_resampled ok",),
        words="a.tif was averaged 2 by 2 to cells of 0.5 m.",
        off=None,
    ),
    # places
    "longitudes from 0 to 360": Case(
        degrees_from_0, found=("dem_resampled ok",) * 2, words="brought to NAD83 / UTM zone 18N."
    ),
    "a value stands for a point": Case(point_raster),
    "an ASCII grid by corners": Case(
        ascii_grid(f"ncols 400\nnrows 400\nxllcorner {files.WEST}\nyllcorner {files.NORTH - 400}\n"
                   "cellsize 1"),
        unit="m",
    ),
    "an ASCII grid by centres": Case(
        ascii_grid(f"NCOLS 400\nNROWS 400\nXLLCENTER {files.WEST + 0.5}\nYLLCENTER "
                   f"{files.NORTH - 399.5}\nCELLSIZE 1\nNODATA_VALUE -9999"),
        unit="m",
    ),
    "an ASCII grid with decimal commas": Case(
        ascii_grid(f"ncols 400\nnrows 400\nxllcorner {files.WEST}\nyllcorner {files.NORTH - 400}\n"
                   "cellsize 1", ","),
        unit="m",
    ),
    "a CRS of its own": Case(
        tif(PLAIN, crs='LOCAL_CS["barn yard",UNIT["metre",1]]'),
        fault="a.tif has a CRS of its own (barn yard); give it a real one",
    ),
    "no place": Case(
        nowhere,
        fault="a.tif has no place on the map; store its georeference",
    ),
    # what is no raster
    "an empty file": Case(bytes_of(b""), fault="a.tif is empty; fetch or export it again"),
    "a zip": Case(
        bytes_of(b"PK\x03\x04" + bytes(90)),
        fault="a.tif is a zip archive; unpack it and name the raster in it",
    ),
    "a web page": Case(
        bytes_of(b"<!doctype html><html>"),
        fault="a.tif is a web page; the download went wrong, fetch the file again",
    ),
    "a stand-in": Case(
        bytes_of(b"version https://git-lfs.github.com/spec/v1\n"),
        fault="a.tif is a stand-in for a large file; fetch the file itself",
    ),
    "a point cloud": Case(
        bytes_of(b"LASF" + bytes(90)),
        fault="a.tif is a point cloud; make a raster of its ground points",
    ),
    "two bands": Case(
        tif(np.stack([PLAIN, PLAIN])),
        fault="a.tif has 2 bands, as a picture has; name a raster of elevations with one band",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_raster_as_it_arrives(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    case.make(tmp_path)
    if case.fault:
        with pytest.raises(InputError) as caught:
            read(tmp_path, unit=case.unit)
        assert str(caught.value) == f"{WHERE} {case.fault}"
        return
    dem, found = read(tmp_path, unit=case.unit)
    assert sorted(f"{f.code} {f.level}" for f in found) == sorted(case.found)
    assert case.words in "\n".join(f.message for f in found)
    if case.off is not None:
        assert float(bilinear(dem, *MIDDLE)) == pytest.approx(TRUE, abs=case.off)
    inside = dem.z[40:140, 40:140] if dem.shape == (180, 180) else dem.z
    assert int(np.isnan(inside).sum()) == case.gaps
    assert dem.z.dtype == np.float32 and dem.z.flags.c_contiguous


@pytest.mark.parametrize(
    ("cell", "hole", "bridged"),
    [(1, 4, True), (1, 5, False), (2, 4, True), (2, 5, False), (5, 1, True), (5, 2, False),
     (10, 1, False), (0.5, 16, True), (0.5, 17, False)],
)  # fmt: skip
def test_pits_are_bridged_up_to_their_stated_size(
    cell: float, hole: int, bridged: bool, tmp_path: Path
) -> None:
    n = round(400 / cell)
    z = files.slope(n, n, cell)
    row, col = round(200 / cell), round(160 / cell)
    z[row, col : col + min(hole, 9)] = np.nan
    z[row + 1, col : col + max(hole - 9, 0)] = np.nan
    files.write_dem(
        tmp_path / "a.tif", z, transform=Affine(cell, 0, files.WEST, 0, -cell, files.NORTH)
    )
    dem, found = read(tmp_path)
    codes = {f.code: f for f in found}
    assert np.isnan(dem.z).sum() == (0 if bridged else hole)
    assert (hole * cell**2 <= largest_pit_m2(cell)) is bridged
    if bridged:
        size = f"{largest_pit_m2(cell):.0f} m²"
        assert codes["dem_pits_bridged"].message == (
            f"1 gaps of at most {size} in a.tif were bridged from their neighbours."
        )
        x, y = files.WEST + (col + 0.5) * cell, files.NORTH - (row + 0.5) * cell
        assert float(bilinear(dem, x, y)) == pytest.approx(
            300 + 0.1 * (y - (files.NORTH - 400)), abs=0.1 * cell
        )
    else:
        assert codes["dem_gaps"].value == pytest.approx(hole * cell**2)
        assert codes["dem_gaps"].at is not None


# Tiles. Halves of the plane, west and east of the stand's middle.


def tile(folder: Path, name: str, c0: int, c1: int, z: np.ndarray = PLAIN, **more: object) -> Path:
    more.setdefault("transform", Affine(1, 0, files.WEST + c0, 0, -1, files.NORTH))
    return files.write_dem(folder / name, z[:, c0:c1], **more)  # type: ignore[arg-type]


def test_neighbouring_tiles_are_one_raster(tmp_path: Path) -> None:
    files.write_dem(tmp_path / "whole.tif", GRAIN)
    tile(tmp_path, "a.tif", 0, 200, GRAIN)
    tile(tmp_path, "b.tif", 200, 400, GRAIN)
    whole, _ = read(tmp_path, "whole.tif")
    for named in (("a.tif", "b.tif"), ("b.tif", "a.tif")):
        dem, found = read(tmp_path, named)
        assert found == []
        assert dem.bounds == whole.bounds
        assert np.array_equal(dem.z, whole.z)


def shifted_tile(folder: Path, shift: float, name: str = "b.tif") -> None:
    """Write the eastern half on a grid shifted east, true to the plane."""
    tile(folder, name, 200, 400, transform=Affine(1, 0, files.WEST + 200 + shift, 0, -1,
                                                  files.NORTH - shift))  # fmt: skip
    z = files.slope()[:, 200:] - np.float32(0.1 * shift)
    files.write_dem(folder / name, z, transform=Affine(
        1, 0, files.WEST + 200 + shift, 0, -1, files.NORTH - shift))  # fmt: skip


@pytest.mark.parametrize(("shift", "found"), [
    (0.004, []), (0.37, ["dem_tile_shifted caution"]), (0.5, ["dem_tile_shifted caution"]),
    (0.63, ["dem_tile_shifted caution"]), (-0.25, ["dem_tile_shifted caution"]),
])  # fmt: skip
def test_a_shifted_tile_is_resampled_and_told(
    shift: float, found: list[str], tmp_path: Path
) -> None:
    tile(tmp_path, "a.tif", 0, 200)
    shifted_tile(tmp_path, shift)
    dem, notes = read(tmp_path, ("a.tif", "b.tif"))
    bare = [f for f in notes if f.code in ("dem_gaps", "dem_tile_missing")]
    assert [f"{f.code} {f.level}" for f in notes if f not in bare] == found
    _, y = dem.centres()
    known = np.isfinite(dem.z)
    true = np.repeat((300 + 0.1 * (y - (files.NORTH - 400)))[:, None], dem.shape[1], axis=1)
    np.testing.assert_allclose(dem.z[known], true[known], atol=2e-3)
    # A strip of ground no tile covers, wider than half a cell, is a gap and stays one.
    assert (not known.all()) == (shift > 0.5)
    if found:
        assert notes[0].value == pytest.approx(min(abs(shift), 1 - abs(shift)))


def test_ground_between_tiles_is_a_gap(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 199)
    tile(tmp_path, "b.tif", 202, 400)
    dem, found = read(tmp_path, ("a.tif", "b.tif"))
    gap = np.isnan(dem.z)
    assert gap.sum() == 3 * dem.shape[0]
    assert gap[:, 199 - 110 : 202 - 110].all()
    assert {f.code: f.value for f in found} == {"dem_tile_missing": 300.0, "dem_gaps": 300.0}
    assert found[0].message == (
        "300 m² of the stand lie on none of the tiles a.tif and b.tif, around 500200, 4900200; "
        "list the tile between them."
    )
    assert found[0].level == found[1].level == "caution"


def test_a_gap_of_one_column_between_tiles_is_no_pit(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 200)
    tile(tmp_path, "b.tif", 201, 400)
    dem, _ = read(tmp_path, ("a.tif", "b.tif"))
    assert np.isnan(dem.z[:, 90]).all()


def test_tiles_that_leave_a_side_of_the_stand_out(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 100)
    tile(tmp_path, "b.tif", 100, 200)
    with pytest.raises(InputError) as caught:
        read(tmp_path, ("a.tif", "b.tif"))
    assert str(caught.value) == (
        f"{WHERE} a.tif and b.tif leaves 0.50 ha of the stand's 1.00 ha (50 %) uncovered; get the "
        'neighbouring tile and list both, dem = ["...", "..."]'
    )


def test_a_gap_of_one_tile_is_filled_by_the_tile_below(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 300, holed(np.nan))
    tile(tmp_path, "b.tif", 100, 400)
    dem, found = read(tmp_path, ("a.tif", "b.tif"))
    assert found == []
    assert np.isfinite(dem.z).all()


@dataclass
class Pair:
    """Two tiles, and what comes of listing them."""

    make: Callable[[Path], object]
    found: tuple[str, ...] = ()
    words: str = ""
    faults: tuple[str, ...] = ()
    unit: str | None = None


def halves(
    east: np.ndarray = PLAIN, c0: int = 200, west: dict[str, object] | None = None, **more: object
) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        tile(folder, "a.tif", 0, 200, **(west or {}))
        tile(folder, "b.tif", c0, 400, east, **more)

    return make


def apart(**more: object) -> Callable[[Path], None]:
    """Write the eastern half in cells of 2 m."""

    def make(folder: Path) -> None:
        tile(folder, "a.tif", 0, 200)
        files.write_dem(folder / "b.tif", files.slope(200, 100, 2), transform=Affine(
            2, 0, files.WEST + 200, 0, -2, files.NORTH))  # fmt: skip

    return make


SORT_OUT = (
    "one may be in another unit or count its heights from elsewhere. Bring them to one before they "
    "are listed"
)
PAIRS = {
    "another CRS": Pair(
        halves(crs="EPSG:26917"),
        faults=("a.tif is in NAD83 / UTM zone 18N, b.tif in NAD83 / UTM zone 17N; bring the tiles "
                "to one CRS before they are listed",),
    ),
    "other cells": Pair(
        apart(),
        faults=("a.tif has cells of 1 x 1 m, b.tif of 2 x 2 m; list tiles of one cell size, laid "
                "the same way",),
    ),
    "the other way up": Pair(
        halves(PLAIN[::-1], transform=Affine(1, 0, files.WEST + 200, 0, 1, files.NORTH - 400)),
        faults=("a.tif has cells of 1 x 1 m, b.tif of 1 x -1 m; list tiles of one cell size, laid "
                "the same way",),
    ),
    "another unit": Pair(
        halves(PLAIN / FOOT, unit="ft"),
        faults=("a.tif says m is its unit of elevations, b.tif says ft; bring the tiles to one "
                "unit",),
    ),
    "one unit, one silence": Pair(
        halves(unit=""),
        faults=('a.tif and b.tif differ: a.tif says m is its unit, b.tif says none; set [ground] '
                'elevation_unit = "m" or "ft", whichever is true',),
    ),
    "one unit, one silence, and the setting": Pair(
        halves(unit=""), unit="m", found=("elevation_unit caution",)
    ),
    "heights from elsewhere": Pair(
        halves(west={"crs": "EPSG:26918+5703", "unit": ""}, crs="EPSG:26918+5702", unit=""),
        faults=("a.tif says m is its unit of elevations, b.tif says us-ft; bring the tiles to one "
                "unit", "the heights of a.tif count from NAVD88, those of b.tif from NGVD29; bring "
                "the tiles to one of them"),
    ),
    "one silent on both": Pair(halves(unit="", west={"unit": ""}),
                               found=("elevation_unit unknown",)),
    "a tile twice": Pair(
        lambda folder: [tile(folder, "a.tif", 0, 400), (folder / "b.tif").symlink_to("a.tif")],
    ),
    "an overlap that agrees": Pair(halves(c0=150)),
    "an overlap that nearly agrees": Pair(
        halves(PLAIN + 0.03, c0=150), found=("dem_overlap ok",),
        words="a.tif and b.tif overlap and differ there by up to 0.03 m, half of it by 0.03 m or "
        "more; the one named first is used.",
    ),
    "an overlap that differs in one place": Pair(
        halves(np.where(np.arange(400)[:, None] == 200, PLAIN + np.float32(0.7), PLAIN), c0=150),
        found=("dem_overlap ok",),
        words="differ there by up to 0.70 m, half of it by 0.00 m or more",
    ),
    "an overlap that differs": Pair(
        halves(PLAIN + 0.3, c0=150), found=("dem_overlap caution", "dem_seam caution"),
        words="The ground steps by 0.30 m from a.tif to b.tif, all along the seam; grades across "
        "it are wrong by that.",
    ),
    "an overlap in another unit": Pair(
        halves(PLAIN / FOOT, c0=150, unit="", west={"unit": ""}),
        faults=(f"a.tif and b.tif differ by 729.9 m where they overlap; {SORT_OUT}",),
    ),
    "a seam with a step": Pair(
        halves(PLAIN + 0.5), found=("dem_seam caution",),
        words="The ground steps by 0.50 m from a.tif to b.tif, all along the seam",
    ),
    "a seam between units": Pair(
        halves(PLAIN / FOOT, unit="", west={"unit": ""}),
        faults=(f"between a.tif and b.tif is a step of 729.9 m; {SORT_OUT}",),
    ),
    "one is missing, one is a zip": Pair(
        lambda folder: (folder / "a.tif").write_bytes(b"PK\x03\x04"),
        faults=("a.tif is a zip archive; unpack it and name the raster in it",
                '"b.tif": no such file in {folder}'),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PAIRS)
def test_two_tiles(name: str, tmp_path: Path) -> None:
    pair = PAIRS[name]
    pair.make(tmp_path)
    if pair.faults:
        with pytest.raises(InputError) as caught:
            read(tmp_path, ("a.tif", "b.tif"), pair.unit)
        said = getattr(caught.value, "faults", (str(caught.value),))
        assert list(said) == [f"{WHERE} {line.format(folder=tmp_path)}" for line in pair.faults]
        return
    dem, found = read(tmp_path, ("a.tif", "b.tif"), pair.unit)
    assert sorted(f"{f.code} {f.level}" for f in found) == sorted(pair.found)
    assert pair.words in "\n".join(f.message for f in found)
    assert np.isfinite(dem.z).all()


def test_a_list_names_each_tile_once(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 400)
    with pytest.raises(InputError) as caught:
        open_dem(("a.tif", "a.tif"), WHERE, tmp_path, None)
    assert str(caught.value) == f'{WHERE} "a.tif" is listed twice; list it once'
    with pytest.raises(InputError) as caught:
        open_dem(tuple(f"{k}.tif" for k in range(101)), WHERE, tmp_path, None)
    assert str(caught.value) == (
        f"{WHERE} 101 tiles are too many, 100 at most; list those around the stand"
    )


def test_a_tile_beside_the_window_is_not_read(tmp_path: Path) -> None:
    tile(tmp_path, "a.tif", 0, 320)
    path = tile(tmp_path, "b.tif", 320, 400)
    raster = open_dem(("a.tif", "b.tif"), WHERE, tmp_path, None)
    path.unlink()
    dem, found = read_window(raster, files.STAND, 40.0, files.STAND, None)
    assert found == ()
    assert np.isfinite(dem.z).all()


def test_tiles_in_degrees_are_joined_before_they_are_resampled(tmp_path: Path) -> None:
    degrees_from_0(tmp_path)
    with rasterio.open(tmp_path / "a.tif") as whole:
        z, t = whole.read(1), whole.transform
    for name, c0, c1 in (("b.tif", 0, 190), ("c.tif", 190, 400)):
        files.write_dem(
            tmp_path / name, z[:, c0:c1], crs="EPSG:4269",
            transform=Affine(t.a, 0, t.c + c0 * t.a, 0, t.e, t.f),
        )  # fmt: skip
    want, _ = read(tmp_path, "a.tif")
    dem, found = read(tmp_path, ("b.tif", "c.tif"))
    assert [f.code for f in found] == ["dem_resampled"] * 2
    assert dem.bounds == want.bounds
    np.testing.assert_allclose(dem.z, want.z, atol=1e-4)  # the corner is rounded differently


def test_resampling_looks_every_cell_up_where_it_lies(tmp_path: Path) -> None:
    """Held to PROJ at every cell with scipy's bilinear, and to GDAL's warper.

    GDAL's rows lie up to 0.0008 of a cell off here, also when told to be exact
    (measured by warping a raster of row numbers).
    """
    degrees_from_0(tmp_path)
    with rasterio.open(tmp_path / "a.tif") as data:
        z = data.read(1) + RNG.standard_normal((400, 400)).astype(np.float32)
        t = data.transform
    files.write_dem(tmp_path / "a.tif", z, crs="EPSG:4269", transform=t)
    dem, _ = read(tmp_path)
    want = np.full(dem.shape, np.nan, dtype=np.float32)
    reproject(
        z, want, src_transform=Affine(t.a, 0, t.c - 360, 0, t.e, t.f), src_crs="EPSG:4269",
        dst_transform=Affine(dem.cell_m, 0, dem.west_m, 0, -dem.cell_m, dem.north_m),
        dst_crs="EPSG:26918", dst_nodata=np.nan, resampling=Resampling.bilinear, tolerance=0,
    )  # fmt: skip
    np.testing.assert_allclose(dem.z, want, atol=5e-3)
    x, y = np.meshgrid(*dem.centres())
    lon, lat = pyproj.Transformer.from_crs(26918, 4269, always_xy=True).transform(x, y)
    at = np.stack([(lat - t.f) / t.e - 0.5, (lon + 360 - t.c) / t.a - 0.5])
    exact = ndimage.map_coordinates(z.astype(float), at, order=1)
    np.testing.assert_allclose(dem.z, exact, atol=5e-4)


def wide_land(path: Path, crs: str, bounds: tuple[float, ...], cell: float) -> None:
    """Write a raster of a whole land with elevations around the stand only."""
    west, south, east, north = bounds
    width, height = round((east - west) / cell), round((north - south) / cell)
    transform = Affine(cell, 0, west, 0, -cell, north)
    back = pyproj.Transformer.from_crs(crs, 26918, always_xy=True)
    move = pyproj.Transformer.from_crs(26918, crs, always_xy=True)
    with rasterio.open(
        path, "w", driver="GTiff", width=width, height=height, count=1, dtype="float32",
        crs=crs, transform=transform, tiled=True, compress="deflate", SPARSE_OK="TRUE",
        nodata=-9999,
    ) as out:  # fmt: skip
        out.units = ("m",)
        x, y = move.transform(*MIDDLE)
        col, row = int((x - west) / cell) - 60, int((north - y) / cell) - 60
        xs, ys = np.meshgrid(
            west + (col + np.arange(120) + 0.5) * cell, north - (row + np.arange(120) + 0.5) * cell
        )
        z = 300 + 0.1 * (back.transform(xs, ys)[1] - (files.NORTH - 400))
        out.write(z.astype(np.float32), 1, window=((row, row + 120), (col, col + 120)))


@pytest.mark.parametrize(
    ("crs", "bounds", "cell"),
    [
        ("EPSG:4269", (-96.0, 40.0, -66.0, 48.0), 5e-5),  # its middle is in zone 17
        ("EPSG:3978", (-3_000_000, -1_000_000, 3_000_000, 1_000_000), 5.0),  # true in its middle
        ("EPSG:3857", (-11e6, 4e6, -7e6, 6e6), 5.0),
    ],
)
def test_elevations_of_a_whole_land_come_in_the_zone_of_the_stand(
    crs: str, bounds: tuple[float, ...], cell: float, tmp_path: Path
) -> None:
    lot = files.tidy_area(tmp_path / "lot")
    wide_land(lot / "dem.tif", crs, bounds, cell)
    area = read_area(lot)
    assert area.crs.name.endswith("UTM zone 18N")
    assert float(bilinear(area.dem, *MIDDLE)) == pytest.approx(TRUE, abs=0.15)
    assert area.stand.area == pytest.approx(10_000, rel=1e-3)
    said = [f.message for f in area.findings]
    assert len(said) == len(set(said))  # the stand was read twice and is told of once
    assert sum(f.code == "dem_resampled" for f in area.findings) == 2


def test_a_list_of_tiles_in_area_toml(tmp_path: Path) -> None:
    lot = files.tidy_area(tmp_path / "lot")
    want = read_area(lot)
    tile(lot, "a.tif", 0, 200)
    tile(lot, "b.tif", 200, 400)
    files.write_toml(lot, ground__dem='["a.tif", "b.tif"]')
    area = read_area(lot)
    assert np.array_equal(area.dem.z, want.dem.z)
    assert area.findings == want.findings
    files.write_toml(lot, ground__dem='["a.tif", "c.tif", "/vsicurl/x.tif"]')
    with pytest.raises(InputFaults, match="is a virtual file path"):
        read_area(lot)


@pytest.mark.parametrize("old", ["dem.tif", "stand.gpkg"])
def test_an_old_datum_names_its_grid_and_the_file_to_convert(old: str, tmp_path: Path) -> None:
    lot = files.tidy_area(tmp_path / "lot")
    if old == "dem.tif":
        files.write_dem(lot / "dem.tif", crs="EPSG:26718")
        why = "convert the elevations of [ground] dem to NAD83 with"
    else:
        files.write_layer(lot / "stand.gpkg", [files.STAND], crs="EPSG:26718")
        why = "convert the file to EPSG:26918 with"
    with pytest.raises(InputError) as caught:
        read_area(lot)
    first = str(caught.value).splitlines()[0]
    assert first.startswith("area.toml [stand] boundary: stand.gpkg:stand: the shift from NAD")
    assert "needs the grid us_noaa_nadcon5_nad27_nad83_1986_conus.tif, which is not" in first
    assert why in first
    assert first.endswith(' sync --file us_noaa_nadcon5_nad27_nad83_1986_conus.tif"')


def test_everything_on_an_old_datum_needs_no_grid(tmp_path: Path) -> None:
    lot = files.tidy_area(tmp_path / "lot")
    files.write_dem(lot / "dem.tif", crs="EPSG:26718")
    for name, shape in (("stand", files.STAND), ("landing", files.LANDING), ("main", files.MAIN),
                        ("property", files.STAND.buffer(60, join_style="mitre"))):  # fmt: skip
        files.write_layer(lot / f"{name}.gpkg", [shape], crs="EPSG:26718")
    area = read_area(lot)
    assert area.crs.to_epsg() == 26718
    assert area.stand.equals(files.STAND)


def test_a_doubtful_shift_of_the_elevations_is_told(tmp_path: Path) -> None:
    """Pulkovo 1942 has no UTM zones of its own; the shift to WGS 84 is good to 3 m (EPSG)."""
    lon, lat, cell = 38.0, 55.5, 1.5e-5
    z = (200 + np.arange(400)[:, None] * np.ones(400) * 0.1).astype(np.float32)
    files.write_dem(
        tmp_path / "a.tif", z, crs="EPSG:4284", transform=Affine(cell, 0, lon, 0, -cell, lat)
    )
    raster = open_dem("a.tif", WHERE, tmp_path, None)
    assert raster.target.name == "WGS 84 / UTM zone 37N"
    move = pyproj.Transformer.from_crs(4284, 32637, always_xy=True)
    x, y = move.transform(lon + 200 * cell, lat - 200 * cell)
    stand = box(x - 40, y - 40, x + 40, y + 40)
    _, found = read_window(raster, stand, 10.0, stand, None)
    (note,) = [f for f in found if f.code == "crs_accuracy"]
    assert note.level == "caution"
    assert note.value == 3.0
    assert note.message == (
        "a.tif: the change from Pulkovo 1942 to WGS 84 / UTM zone 37N may be off by 3 m, and the "
        "elevations with it."
    )


def test_a_window_too_large_for_memory_is_refused_before_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files.write_dem(tmp_path / "a.tif")
    monkeypatch.setattr("layout.raster_window.MOST_CELLS", 30_000)
    monkeypatch.setattr("layout.read_dem.read_cells", lambda *_: pytest.fail("it was read"))
    with pytest.raises(InputError) as caught:
        read(tmp_path)
    assert str(caught.value) == (
        f"{WHERE} the stand and its surroundings take 0 million cells; 0 million at most. Use "
        "coarser cells or a smaller stand"
    )
