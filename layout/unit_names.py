"""Units of height under the names that rasters and CRSs give them."""

UNIT_WORDS = {
    "m": "metres",
    "ft": "feet",
    "us-ft": "US survey feet",
    "dm": "decimetres",
    "cm": "centimetres",
    "mm": "millimetres",
}
UNIT_NAMES = {
    "m": "m metre meter metres meters metro masl",
    "dm": "dm decimetre decimeter decimetres decimeters",
    "cm": "cm centimetre centimeter centimetres centimeters",
    "mm": "mm millimetre millimeter millimetres millimeters",
    "ft": "ft foot feet ft(intl) ift",
    "us-ft": "us-ft usft ftus sft sfoot us-foot",
}
UNIT_PHRASES = {
    "us survey foot": "us-ft",
    "us survey feet": "us-ft",
    "survey foot": "us-ft",
    "survey feet": "us-ft",
    "foot us": "us-ft",
    "us foot": "us-ft",
    "us feet": "us-ft",
    "international foot": "ft",
    "international feet": "ft",
    "foot intl": "ft",
    "foot international": "ft",
} | {name: unit for unit, names in UNIT_NAMES.items() for name in names.split()}


def unit_of_name(name: str) -> str:
    """Give the unit of length a raster or CRS writes, as area.toml would.

    Parameters
    ----------
    name : str
        Like ``metre``, ``US survey foot`` or ``Foot_US``.

    Returns
    -------
    str
        ``m``, ``dm``, ``cm``, ``mm``, ``ft``, ``us-ft``; empty for a name not known.

    Examples
    --------
    >>> unit_of_name("Foot_US"), unit_of_name("metres above sea level"), unit_of_name("chain")
    ('us-ft', 'm', '')
    """
    words = name.lower().replace("_", " ").replace(".", "")
    for tail in (" above", " amsl", " asl", " (navd", " navd", " msl"):  # what it counts from
        words = words.split(tail)[0]
    plain = " ".join(words.split())
    bare = " ".join(plain.replace("(", " ").replace(")", " ").split())
    return UNIT_PHRASES.get(plain) or UNIT_PHRASES.get(bare, "")
