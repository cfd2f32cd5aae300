"""Files a user names on the command line, as area.toml will name them."""

import os
from pathlib import Path


def named_from(folder: Path, text: str, where: str, *, web: bool = False) -> str:
    """Name a file from the area's folder where it lies in it, otherwise in full.

    Parameters
    ----------
    folder : Path
        Where area.toml stands or will stand; need not exist yet.
    text : str
        ``file`` or ``file:layer``, from the folder one is in, or else from
        `folder`.
    where : str
        Start of a message: the option.
    web : bool
        Let a web address pass as it is.

    Returns
    -------
    str
        With forward slashes, the layer kept.

    Raises
    ------
    InputError
        If there is no such file, or its name is no text.
    """
    from layout.errors import InputError
    from layout.projection import place_of
    from layout.vector_files import split_name
    from layout.web_address import is_web_address

    if web and is_web_address(text):
        return text
    name, layer = split_name(text)
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        raise InputError(
            f"{where} {name!r} holds signs that are no text; rename the file"
        ) from None
    beside = folder / name
    here = Path.cwd()
    start = folder if beside.is_file() and not (here / name).is_file() else here
    file = Path(os.path.abspath(place_of(start, name, where)))
    home = Path(os.path.abspath(folder))
    shown = file.relative_to(home) if file.is_relative_to(home) else file
    return f"{shown.as_posix()}:{layer}" if layer else shown.as_posix()
