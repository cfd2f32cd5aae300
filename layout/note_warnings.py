"""Words of a note that speak against cutting a tree, or of danger at it.

Nothing is understood of such a note but that a person must settle it: until then
the tree is not cut. So the words are many and taken anywhere in the text. They
are ours, in English, and no list of them is ever whole.
"""

import html
import re
from dataclasses import dataclass

_QUOTES = str.maketrans({"\u2018": "'", "\u2019": "'", "\u02bc": "'", "\u00b4": "'", "`": "'"})
_TAG = re.compile(r"<[^<>]{0,1000}>")
_SPOKEN = (
    r"(?:oh|zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|\w+teen|twenty|"
    r"thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred)\b"
)
# "no" is a negation unless it stands for "number", or says what the stem has not.
_NO = (
    rf"\bno\b(?!\.?\s*[:#]?\s*(?:[a-z]{{0,3}}-?[0-9]|{_SPOKEN}))"
    r"(?!\s+(?:logs?|sawlogs?|tag|number|paint|defects?|rot|value|good|top|lean|damage|water)\b)"
)
_STRONG = re.compile(
    rf"\b(?:do\s*n[o']?t|dont|not|never|nope|cannot|isnt|aint|wont|cant|shouldnt|mustnt|nocut)\b"
    rf"|\b\w+n't\b|{_NO}"
    r"|\b(?:leave|leaving|left\s+standing|keep\w*|kept|saved?|saving|spared?|stays?|staying|"
    r"retain\w*|retention|reserved?|preserv\w+|protect\w*|skip\w*|let|hold|uncut|unmark\w*|"
    r"cancel\w*|off[\s-]+limits|hands[\s-]+off)\b"
    r"|\b(?:cut|mark(?:ed)?)\s*\?",
    re.IGNORECASE,
)
_NEAR = r"(?<!\bby )(?<!\bnear )(?<!\bfrom )(?<!\bby the )(?<!\bnear the )(?<!\bfrom the )"
_WEAK = re.compile(
    rf"{_NEAR}\b(?:neighbou?r\w*|boundar(?:y|ies)|property|owners?|owned|belongs?|corner|easement|"
    r"line\s+tree|witness)\b"
    r"|\b(?:nest\w*|dens?|owls?|hawks?|eagles?|falcons?|raptors?|herons?|bats?|roost\w*|"
    r"cavit(?:y|ies)|wildlife|habitat|seed\s+trees?|crop\s+trees?|legacy|memorial|"
    r"ask|maybe|perhaps|unsure|whose)\b",
    re.IGNORECASE,
)
_DANGER = re.compile(
    r"\b(?:dead|dying|hung|hang\w*|lodged|split|rot\w*|decay\w*|vines?|wires?|hollow|crack\w*|"
    r"broken|snapped|snags?|widow[\s-]*makers?|lean\w*|uproot\w*|root[\s-]*(?:ball|wad|plate)s?|"
    r"tipped|blow[\s-]*downs?|blown|wind[\s-]*throw\w*|spring[\s-]*poles?|barber[\s-]*chair\w*|"
    r"loose|burn(?:ed|t)|conks?|fung\w*|bees?|hornets?|wasps?|spikes?|nails?|power[\s-]*lines?|"
    r"danger\w*|hazard\w*|unsafe|beware)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Against:
    """What in a note speaks against cutting.

    Parameters
    ----------
    words : str
        The words, as they were written; empty where there are none.
    plain : bool
        Whether they say not to cut, so that "cut" beside them is a contradiction; a
        nest or a neighbour's tree is a reason only.
    """

    words: str = ""
    plain: bool = False


def against_cutting(text: str) -> Against:
    """Find words that speak against cutting.

    Parameters
    ----------
    text : str
        A note as the phone or the table holds it.

    Returns
    -------
    Against

    Examples
    --------
    >>> against_cutting("37 RO 18 2 do not cut"), against_cutting("38 RO 18, owl nest")
    (Against(words='do not cut', plain=True), Against(words='owl nest', plain=False))
    >>> against_cutting("tree no 37 RO 18 2 by the boundary").words
    ''
    """
    said = _plain(text)
    strong = _STRONG.search(said)
    found = strong or _WEAK.search(said)
    return Against(_with_next(said, found), strong is not None) if found else Against()


def danger(text: str) -> str:
    """Find a word of danger, empty where there is none.

    Examples
    --------
    >>> danger("37 RO 18, Widowmaker"), danger("by the wall")
    ('widowmaker', '')
    """
    match = _DANGER.search(_plain(text))
    return " ".join(match[0].lower().split()) if match else ""


def _plain(text: str) -> str:
    """Take off tags and entities of web pages, and turned quotes."""
    return _TAG.sub(" ", html.unescape(text)).translate(_QUOTES)


def _with_next(said: str, found: re.Match[str]) -> str:
    """Give what was found and the word after it, for a message."""
    after = re.match(r"\s+[^\W\d_]+", said[found.end() :])
    return " ".join((found[0] + (after[0] if after else "")).split())
