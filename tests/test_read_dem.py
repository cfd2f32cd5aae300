"""Elevation rasters: any grid to one metric window, gaps kept, doubts told."""

import os
import re
from pathlib import Path

import area_files as files
import numpy as np
import pyproj
import pytest
import rasterio
from rasterio.transform import Affine
from shapely.geometry import box

from layout.errors import InputError
from layout.findings import Finding
from layout.grid import Dem, bilinear
from layout.read_dem import open_dem, read_window

WHERE = "area.toml [ground] dem:"


def read(
    path: Path, unit: str | None = None, stand: object = files.STAND, hint: str | None = None
) -> tuple[Dem, dict[str, Finding]]:
    raster = open_dem(
        str(path), WHERE, path.parent, pyproj.CRS.from_user_input(hint) if hint else None
    )
    dem, found = read_window(raster, stand, 40.0, stand, unit)
    return dem, {finding.code: finding for finding in found}


def plane_at(y: np.ndarray) -> np.ndarray:
    return 300 + 0.1 * (y - (files.NORTH - files.SIDE))


def test_a_straight_raster_is_cut_to_the_window_cell_by_cell(tmp_path: Path) -> None:
    dem, found = read(files.write_dem(tmp_path / "dem.tif"))
    assert found == {}
    assert dem.cell_m == 1.0
    assert dem.bounds == (files.WEST + 110, files.NORTH - 290, files.WEST + 290, files.NORTH - 110)
    assert dem.z.dtype == np.float32
    assert dem.z.flags.c_contiguous
    _, y = dem.centres()
    np.testing.assert_allclose(dem.z[:, 0], plane_at(y), atol=1e-4)


def test_a_grid_in_kilometres_is_read_and_nothing_else_is_said(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    path = files.write_dem(
        tmp_path / "dem.tif",
        crs="+proj=utm +zone=18 +datum=NAD83 +units=km +no_defs",
        transform=Affine(0.001, 0, files.WEST / 1000, 0, -0.001, files.NORTH / 1000),
    )
    capfd.readouterr()
    before = {name: os.environ.get(name) for name in ("PROJ_DATA", "PROJ_LIB")}
    dem, _ = read(path)
    assert capfd.readouterr() == ("", "")
    assert {name: os.environ.get(name) for name in before} == before
    assert dem.cell_m == pytest.approx(1.0, abs=0.01)
    inner = dem.z[20:-20, 20:-20]
    _, y = dem.centres()
    np.testing.assert_allclose(inner[:, 5], plane_at(y)[20:-20], atol=0.01)


@pytest.mark.parametrize("driver", ["HFA", "AAIGrid"])
def test_other_rasters_read_the_same(tmp_path: Path, driver: str) -> None:
    z = files.slope()
    if driver == "HFA":
        path = files.write_dem(tmp_path / "dem.img", z, driver="HFA", unit="")
    else:
        path = tmp_path / "dem.asc"
        head = f"ncols 400\nnrows 400\nxllcorner {files.WEST}\nyllcorner {files.NORTH - 400}\n"
        rows = "\n".join(" ".join(f"{v:.3f}" for v in row) for row in z)
        path.write_text(f"{head}cellsize 1\n{rows}\n", encoding="utf-8")
    dem, found = read(path, "m", hint="EPSG:26918")
    _, y = dem.centres()
    np.testing.assert_allclose(dem.z[:, 5], plane_at(y), atol=1e-3)
    assert found == {}


def test_feet_by_the_file_by_the_setting_and_by_the_vertical_crs(tmp_path: Path) -> None:
    z = files.slope() / np.float32(0.3048)
    want = plane_at(np.array([files.NORTH - 200]))[0]
    for path, unit in (
        (files.write_dem(tmp_path / "a.tif", z, unit="ft"), None),
        (files.write_dem(tmp_path / "b.tif", z, unit=""), "ft"),
        (files.write_dem(tmp_path / "c.tif", z, unit="", crs="EPSG:26918+8228"), None),
    ):
        dem, found = read(path, unit)
        assert bilinear(dem, files.WEST + 200, files.NORTH - 200) == pytest.approx(want, abs=1e-3)
        assert found == {}


def test_survey_feet_are_not_feet(tmp_path: Path) -> None:
    z = np.full((400, 400), 10_000.0, dtype=np.float32)
    dem, _ = read(files.write_dem(tmp_path / "a.tif", z, unit="", crs="EPSG:26918+6360"))
    assert dem.z[0, 0] == pytest.approx(10_000 * 1200 / 3937, abs=1e-4)


def test_a_unit_set_against_the_file_is_used_and_told(tmp_path: Path) -> None:
    _, found = read(files.write_dem(tmp_path / "a.tif"), "ft")
    assert found["elevation_unit"].level == "caution"
    assert found["elevation_unit"].message == (
        "[ground] elevation_unit says ft, a.tif says m; ft is used. Take the key out if the file "
        "is right."
    )


def test_a_silent_raster_is_metres_and_unknown(tmp_path: Path) -> None:
    _, found = read(files.write_dem(tmp_path / "a.tif", unit=""))
    assert set(found) == {"elevation_unit"}
    assert found["elevation_unit"].level == "unknown"


def test_numbers_that_look_like_feet_are_told(tmp_path: Path) -> None:
    steep = files.slope(rise=0.7)
    _, found = read(files.write_dem(tmp_path / "a.tif", steep, unit=""))
    assert found["elevation_unit_suspect"].level == "caution"
    assert found["elevation_unit_suspect"].message == (
        "a.tif does not say its unit, and if that is m, half the stand is steeper than 70 %. Where "
        "would the ground lie? In m at 405 to 475 m, half of it steeper than 70 %; in ft at 124 to "
        "145 m, half of it steeper than 21 %. Set [ground] elevation_unit to what is true of the "
        "place; if none is, the raster's vertical scale is wrong, or it is not of the bare ground."
    )
    _, found = read(files.write_dem(tmp_path / "b.tif", steep, unit="m"))
    assert found == {}


def test_degrees_are_brought_to_the_utm_zone(tmp_path: Path) -> None:
    to_degrees = pyproj.Transformer.from_crs("EPSG:26918", "EPSG:4269", always_xy=True)
    lon0, lat0 = to_degrees.transform(files.WEST - 50, files.NORTH - 450)
    lon1, lat1 = to_degrees.transform(files.WEST + 450, files.NORTH + 50)
    n = 400
    dlon, dlat = (lon1 - lon0) / n, (lat1 - lat0) / n
    lon, lat = np.meshgrid(lon0 + (np.arange(n) + 0.5) * dlon, lat1 - (np.arange(n) + 0.5) * dlat)
    back = pyproj.Transformer.from_crs("EPSG:4269", "EPSG:26918", always_xy=True)
    _, y = back.transform(lon, lat)
    path = files.write_dem(
        tmp_path / "a.tif",
        plane_at(y).astype(np.float32),
        crs="EPSG:4269",
        transform=Affine(dlon, 0, lon0, 0, -dlat, lat1),
    )
    raster = open_dem(str(path), WHERE, tmp_path, None)
    assert raster.target == pyproj.CRS.from_epsg(26918)
    dem, found = read(path)
    assert found["dem_resampled"].level == "ok"
    assert dem.cell_m == pytest.approx(1.25, abs=0.05)
    _, ys = dem.centres()
    inner = dem.z[5:-5, 5:-5]
    np.testing.assert_allclose(
        inner, np.repeat(plane_at(ys)[5:-5, None], inner.shape[1], axis=1), atol=0.02
    )


def test_a_map_in_feet_is_brought_to_utm_and_its_heights_are_doubted(tmp_path: Path) -> None:
    move = pyproj.Transformer.from_crs(26918, 2261, always_xy=True)  # New York Central, US feet
    back = pyproj.Transformer.from_crs(2261, 26918, always_xy=True)
    west, south, east, north = move.transform_bounds(
        files.WEST - 50, files.NORTH - 450, files.WEST + 450, files.NORTH + 50
    )
    x, y = np.meshgrid(np.arange(west, east, 3) + 1.5, np.arange(north, south, -3) - 1.5)
    path = files.write_dem(
        tmp_path / "a.tif",
        (plane_at(back.transform(x, y)[1]) / 0.3048).astype(np.float32),
        crs="EPSG:2261",
        transform=Affine(3, 0, west, 0, -3, north),
        unit="",
    )
    dem, found = read(path)
    assert dem.cell_m == pytest.approx(3 * 1200 / 3937, abs=0.01)
    assert found["elevation_unit_suspect"].message == (
        "The elevations of a.tif may be feet, as its map is: in ft the ground would lie at 315 to "
        '325 m, in m at 1034 to 1066 m. Set [ground] elevation_unit = "ft" or "m".'
    )
    dem, found = read(path, "ft")
    assert "elevation_unit_suspect" not in found
    assert bilinear(dem, files.WEST + 200, files.NORTH - 200) == pytest.approx(
        plane_at(np.array([files.NORTH - 200]))[0], abs=0.02
    )


def test_metres_of_a_web_map_are_brought_to_utm(tmp_path: Path) -> None:
    move = pyproj.Transformer.from_crs(26918, 3857, always_xy=True)
    back = pyproj.Transformer.from_crs(3857, 26918, always_xy=True)
    west, south, east, north = move.transform_bounds(
        files.WEST - 50, files.NORTH - 450, files.WEST + 450, files.NORTH + 50
    )
    x, y = np.meshgrid(np.arange(west, east) + 0.5, np.arange(north, south, -1) - 0.5)
    path = files.write_dem(
        tmp_path / "a.tif",
        plane_at(back.transform(x, y)[1]).astype(np.float32),
        crs="EPSG:3857",
        transform=Affine(1, 0, west, 0, -1, north),
    )
    raster = open_dem(str(path), WHERE, tmp_path, None)
    assert raster.target.to_epsg() == 32618
    dem, found = read(path)
    assert found["dem_resampled"].level == "ok"
    _, ys = dem.centres()
    middle = dem.z[:, dem.shape[1] // 2]
    np.testing.assert_allclose(middle[3:-3], plane_at(ys)[3:-3], atol=0.03)
    assert dem.cell_m == pytest.approx(0.717, abs=0.01)  # cosine of 44.25 degrees


@pytest.mark.parametrize(
    "transform",
    [
        Affine(1.0, 0.0, files.WEST, 0.0, 1.0, files.NORTH - 400),  # south up
        Affine(2.0, 0.0, files.WEST - 200, 0.0, -1.0, files.NORTH),  # not square
        Affine(0.96, 0.28, files.WEST - 50, 0.28, -0.96, files.NORTH - 20),  # turned
    ],
)
def test_turned_or_uneven_cells_are_resampled(tmp_path: Path, transform: Affine) -> None:
    col, row = np.meshgrid(np.arange(400) + 0.5, np.arange(400) + 0.5)
    y = transform.d * col + transform.e * row + transform.f
    path = files.write_dem(tmp_path / "a.tif", plane_at(y).astype(np.float32), transform=transform)
    dem, found = read(path)
    assert found["dem_resampled"].value == pytest.approx(dem.cell_m)
    _, ys = dem.centres()
    middle = dem.z[:, dem.shape[1] // 2]
    np.testing.assert_allclose(middle[3:-3], plane_at(ys)[3:-3], atol=0.02)


def test_very_fine_cells_are_averaged(tmp_path: Path) -> None:
    stand = box(files.WEST + 40, files.NORTH - 60, files.WEST + 60, files.NORTH - 40)
    path = files.write_dem(
        tmp_path / "a.tif",
        files.slope(1000, 1000, 0.1),
        transform=Affine(0.1, 0, files.WEST, 0, -0.1, files.NORTH),
    )
    dem, _ = read(path, stand=stand)
    assert dem.cell_m == pytest.approx(0.4)


def test_small_pits_are_bridged_and_larger_gaps_stay_open(tmp_path: Path) -> None:
    z = files.slope()
    z[200, 200] = -9999
    z[210:212, 210:212] = -9999
    z[180:190, 180:183] = -9999
    dem, found = read(files.write_dem(tmp_path / "a.tif", z, nodata=-9999))
    assert np.isnan(dem.z).sum() == 30
    x, y = files.WEST + 200.5, files.NORTH - 200.5
    assert bilinear(dem, x, y) == pytest.approx(plane_at(np.array([y]))[0], abs=0.02)
    assert found["dem_pits_bridged"].value == 5
    assert found["dem_gaps"].level == "caution"
    assert found["dem_gaps"].value == pytest.approx(30.0)
    assert found["dem_gaps"].message == (
        "a.tif has no elevations on 30 m² of the stand (0.3 %) around 500182, 4900216; that ground "
        "is closed to machines, not guessed."
    )


def test_elevations_no_ground_has_are_gaps(tmp_path: Path) -> None:
    z = files.slope()
    z[160:170, 160:170] = -7777
    dem, found = read(files.write_dem(tmp_path / "a.tif", z))
    assert np.isnan(dem.z).sum() == 100
    assert found["dem_impossible"].value == 100


def test_scaled_whole_numbers_are_as_good_as_their_steps(tmp_path: Path) -> None:
    path = files.write_dem(tmp_path / "a.tif", (files.slope() * 10).astype(np.int16))
    with rasterio.open(path, "r+") as out:
        out.scales = (0.1,)
    dem, found = read(path)
    _, y = dem.centres()
    np.testing.assert_allclose(dem.z[:, 0], plane_at(y), atol=0.11)
    assert found == {}
    with rasterio.open(path, "r+") as out:
        out.scales = (0.5,)
    assert read(path)[1]["dem_whole_numbers"].message == (
        "a.tif holds steps of 0.5 m; a grade over 10 m cannot be judged from steps of 0.5 m. "
        "Use the raster with decimals."
    )


def message(path: Path, **more: object) -> str:
    with pytest.raises(InputError) as caught:
        read(path, **more)  # type: ignore[arg-type]
    return str(caught.value).removeprefix(f"{WHERE} ")


def test_a_raster_that_leaves_part_of_the_stand_out(tmp_path: Path) -> None:
    path = files.write_dem(tmp_path / "a.tif", files.slope(200, 400))
    assert message(path) == (
        "a.tif leaves 0.50 ha of the stand's 1.00 ha (50 %) uncovered; get the neighbouring tile "
        'and list both, dem = ["...", "..."]'
    )


def test_a_raster_somewhere_else(tmp_path: Path) -> None:
    path = files.write_dem(
        tmp_path / "a.tif", transform=Affine(1, 0, files.WEST + 5000, 0, -1, files.NORTH)
    )
    assert message(path) == (
        "a.tif does not reach the stand at all; the stand lies at 500150 to 500250, 4900150 to "
        "4900250 in NAD83 / UTM zone 18N. Is one of them in the wrong CRS?"
    )


def test_a_raster_without_elevations_in_the_stand(tmp_path: Path) -> None:
    z = np.full((400, 400), np.nan, dtype=np.float32)
    assert message(files.write_dem(tmp_path / "a.tif", z)) == (
        "a.tif has no elevations in 100 % of the stand; get another raster"
    )


def test_a_raster_too_coarse_for_a_trail_grade(tmp_path: Path) -> None:
    path = files.write_dem(
        tmp_path / "a.tif",
        files.slope(20, 20, 30.0),
        transform=Affine(30, 0, files.WEST - 100, 0, -30, files.NORTH + 100),
    )
    assert message(path) == (
        "a.tif has cells of 30 m; trail grades are measured over 10 m, so cells of 20 m or less "
        "are needed, 1 m is best"
    )


def test_coarse_cells_are_a_caution(tmp_path: Path) -> None:
    path = files.write_dem(
        tmp_path / "a.tif",
        files.slope(60, 60, 10.0),
        transform=Affine(10, 0, files.WEST - 100, 0, -10, files.NORTH + 100),
    )
    assert read(path)[1]["dem_coarse"].value == 10.0


def test_pictures_are_refused(tmp_path: Path) -> None:
    z = np.zeros((3, 400, 400), dtype=np.uint8)
    assert message(files.write_dem(tmp_path / "a.tif", z)) == (
        "a.tif has 3 bands, as a picture has; name a raster of elevations with one band"
    )
    assert message(files.write_dem(tmp_path / "b.tif", z[0])) == (
        "b.tif holds uint8 values, a picture rather than elevations; name the raster of "
        "elevations itself"
    )


def test_no_crs_and_no_place(tmp_path: Path) -> None:
    assert message(files.write_dem(tmp_path / "a.tif", crs=None)) == (
        'a.tif does not say its CRS; add crs = "EPSG:..." under [area], or store it in the file'
    )
    dem, _ = read(tmp_path / "a.tif", hint="EPSG:26918")
    assert dem.cell_m == 1.0


def test_files_of_another_kind_and_cut_short(tmp_path: Path) -> None:
    (tmp_path / "a.tif").write_bytes(b"not a raster at all")
    assert message(tmp_path / "a.tif") == (
        "a.tif is no elevation raster read here (GeoTIFF, VRT, ASCII grid, IMG)"
    )
    whole = files.write_dem(tmp_path / "b.tif").read_bytes()
    (tmp_path / "b.tif").write_bytes(whole[: len(whole) // 2])
    assert re.fullmatch(
        r"b\.tif is damaged and cannot be read \(.*\); fetch or export it again",
        message(tmp_path / "b.tif"),
    )


VRT = """<VRTDataset rasterXSize="400" rasterYSize="400"><SRS>EPSG:26918</SRS>
<GeoTransform>{west}, 1, 0, {north}, 0, -1</GeoTransform>
<VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType>{more}<SimpleSource>
<SourceFilename relativeToVRT="{relative}">{source}</SourceFilename><SourceBand>1</SourceBand>
</SimpleSource></VRTRasterBand></VRTDataset>"""


def vrt(path: Path, source: str, relative: int = 1, more: str = "") -> Path:
    text = VRT.format(
        west=files.WEST, north=files.NORTH, source=source, relative=relative, more=more
    )
    path.write_text(text, encoding="utf-8")
    return path


def test_a_mosaic_of_the_folder_is_read(tmp_path: Path) -> None:
    files.write_dem(tmp_path / "tile.tif")
    dem, found = read(vrt(tmp_path / "a.vrt", "tile.tif"))
    assert found == {}
    assert np.isfinite(dem.z).all()


@pytest.mark.parametrize(
    ("source", "relative"),
    [
        ("../other/tile.tif", 1),
        ("/etc/passwd", 0),
        ("/vsicurl/http://localhost/x.tif", 0),
        ("http://localhost/x.tif", 0),
        ("GTIFF_DIR:1:/etc/passwd", 0),
        ("tile.tif", 0),
    ],
)
def test_a_mosaic_that_reaches_out_is_refused(tmp_path: Path, source: str, relative: int) -> None:
    files.write_dem(tmp_path / "tile.tif")
    text = message(vrt(tmp_path / "a.vrt", source, relative))
    assert text == (
        f"a.vrt draws on {source!r}, which is no file of the area's folder; copy it there and "
        "make the mosaic again"
    )


def test_a_mosaic_of_mosaics_is_refused(tmp_path: Path) -> None:
    files.write_dem(tmp_path / "tile.tif")
    vrt(tmp_path / "b.vrt", "tile.tif")
    assert message(vrt(tmp_path / "a.vrt", "b.vrt")) == (
        "a.vrt draws on another mosaic, b.vrt; join the rasters themselves"
    )


def test_a_mosaic_with_code_or_entities_is_refused(tmp_path: Path) -> None:
    files.write_dem(tmp_path / "tile.tif")
    rest = "make a plain mosaic, or list the rasters in dem"
    for more, what in (
        ("<PixelFunctionLanguage>Python</PixelFunctionLanguage>", "<PixelFunctionLanguage>, more"),
        ("<MaskBand/>", "<MaskBand>, more"),
        ("<Description x='1'/>", "x=, more"),
        ("<!-- a -->", ""),
        ("<?a b?>", ""),
    ):
        said = f"{what} than a mosaic" if what else "entities or comments"
        assert message(vrt(tmp_path / "a.vrt", "tile.tif", more=more)) == (
            f"a.vrt holds {said}; {rest}"
        )
    (tmp_path / "a.vrt").write_text("<VRTDataset", encoding="utf-8")
    assert message(tmp_path / "a.vrt") == "a.vrt is damaged inside; make it again"
    (tmp_path / "b.vrt").write_text("<!DOCTYPE x>\n<VRTDataset/>", encoding="utf-8")
    assert message(tmp_path / "b.vrt") == (
        "b.vrt is no elevation raster read here (GeoTIFF, VRT, ASCII grid, IMG)"
    )
