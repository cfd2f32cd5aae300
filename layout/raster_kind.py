"""What kind of raster a file is, before any library opens it."""

import re
from pathlib import Path

from layout.errors import InputError

# How a raster starts, and the one driver that then opens it.
STARTS = (
    (b"II*\x00", "GTiff"),
    (b"MM\x00*", "GTiff"),
    (b"II+\x00", "GTiff"),
    (b"MM\x00+", "GTiff"),
    (b"EHFA_HEADER_TAG", "HFA"),
    (b"<VRTDataset", "VRT"),
    (b"ncols", "AAIGrid"),
)
LARGEST_VRT_BYTES = 5_000_000


def driver_of(path: Path, where: str) -> str:
    """Tell the kind of raster by its first bytes.

    Parameters
    ----------
    path : Path
    where : str
        Start of a message.

    Returns
    -------
    str
        The one driver that may open it.

    Raises
    ------
    InputError
        If it is of no kind read here.
    """
    with path.open("rb") as file:
        head = file.read(64).lstrip(b"\xef\xbb\xbf \r\n\t")
    for start, driver in STARTS:
        if head.lower().startswith(start.lower()):
            return driver
    raise InputError(
        f"{where} {path.name} is no elevation raster read here (GeoTIFF, VRT, ASCII grid, IMG)"
    )


def check_mosaic(path: Path, where: str, folder: Path) -> None:
    """Refuse a VRT that reaches out of the area's folder, or carries code.

    Parameters
    ----------
    path : Path
        The VRT.
    where : str
        Start of a message.
    folder : Path
        The area's folder.

    Raises
    ------
    InputError
        If it holds code, entities or a warp, or draws on anything but a raster
        of the folder.
    """
    if path.stat().st_size > LARGEST_VRT_BYTES:
        raise InputError(f"{where} {path.name} is too large for a VRT; name the raster itself")
    text = path.read_text(encoding="utf-8", errors="replace")
    if "<!DOCTYPE" in text or "PixelFunctionLanguage" in text or "<GDALWarpOptions" in text:
        raise InputError(
            f"{where} {path.name} holds entities, code or a warp; make a plain mosaic or a GeoTIFF"
        )
    for relative, name in re.findall(r"<(?:SourceFilename|SourceDataset)([^>]*)>([^<]*)<", text):
        source = name.strip().replace("&amp;", "&")
        beside = re.search(r"relativeToVRT=[\"']1", relative) is not None
        # A name that is not beside the VRT would be looked for where the command runs.
        full = (path.parent / source).resolve() if beside else Path(source)
        inside = full.is_absolute() and full.resolve().is_relative_to(folder.resolve())
        if not (inside and full.is_file()):
            raise InputError(
                f"{where} {path.name} draws on {source!r}, which is no file of the area's folder; "
                "copy it there and make the mosaic again"
            )
        if driver_of(full, where) == "VRT":
            raise InputError(
                f"{where} {path.name} draws on another mosaic, {full.name}; join the rasters "
                "themselves"
            )
