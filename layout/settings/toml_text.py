"""Values as area.toml writes them."""

import json


def toml_of(value: object) -> str:
    r"""Write a value as TOML.

    Parameters
    ----------
    value : bool, int, float, str, or list or tuple of these
        What a key holds.

    Returns
    -------
    str

    Examples
    --------
    >>> print(toml_of(["a \\ b", True, 0.25]))
    ["a \\ b", true, 0.25]
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        # A JSON string is a TOML string, but for one control sign JSON leaves bare.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml_of(item) for item in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)
