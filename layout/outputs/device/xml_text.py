"""XML that any reader takes: nothing in it that no reader may see."""

import re
from pathlib import Path
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

# Control characters, halves of pairs, and the two codes that are no characters.
UNFIT = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")


def plain(text: str) -> str:
    r"""Give a text on one line, without what XML or a small screen cannot hold.

    Examples
    --------
    >>> plain("old\toak \x00 \n <by> the wall")
    'old oak <by> the wall'
    """
    return " ".join(UNFIT.sub(" ", text).split())


def put(parent: Element, tag: str, text: str) -> Element:
    """Put an element with a text into another; the writer escapes it."""
    made = SubElement(parent, tag)
    made.text = plain(text)
    return made


def write(root: Element, path: Path) -> None:
    """Write a document as UTF-8, an element a line.

    Parameters
    ----------
    root : Element
        The document.
    path : Path
        The file.
    """
    ElementTree.indent(root, space=" ")
    body = ElementTree.tostring(root, encoding="unicode")
    path.write_text(
        f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n', encoding="utf-8", newline="\n"
    )
