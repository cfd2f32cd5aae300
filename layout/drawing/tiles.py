"""Background tiles: only from an address the user gives, over https."""

from urllib.parse import urlsplit

from layout.errors import InputError


def tile_host(address: str) -> str:
    """Give the one origin the page may then ask for pictures.

    Parameters
    ----------
    address : str
        ``https://host/.../{z}/{x}/{y}...``; empty: no tiles.

    Returns
    -------
    str
        ``https://host``, or an empty text.

    Raises
    ------
    InputError
        If it is no such address.
    """
    if not address:
        return ""
    parts = urlsplit(address)
    wanted = all(mark in parts.path + parts.query for mark in ("{z}", "{x}", "{y}"))
    plain = all(c.isalnum() or c in ".-:" for c in parts.netloc)
    if parts.scheme != "https" or not parts.netloc or not plain or not wanted:
        msg = (
            f"--tiles {address}: an https address with {{z}}, {{x}} and {{y}} in it is expected, "
            "as the tile provider prints it"
        )
        raise InputError(msg)
    return f"https://{parts.netloc}"
