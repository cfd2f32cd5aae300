"""A page from nested calls: every text is escaped, every element closed.

What comes out reads the same to a strict XML reader and to a browser, so a test
can take the page apart without guessing.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable
from typing import TypeAlias

from layout.outputs.words import say

VOID = frozenset({"br", "img", "meta"})
INLINE = frozenset({"a", "span", "strong"})  # all else ends its line, so that words never run on
# What XML cannot hold, and marks that turn the reading order of the text after them.
_BARRED = {
    **dict.fromkeys([*range(0x9), 0xB, 0xC, *range(0xE, 0x20), 0x7F, 0xFFFE, 0xFFFF], "\ufffd"),
    **dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A)], "\ufffd"),
    **dict.fromkeys(range(0xD800, 0xE000), "\ufffd"),  # halves of a character, never written
}


# A number and its unit stay on one line.
_UNIT = re.compile(r"(?<=\d) (?=(?:%|ft|m|lb|kg|degrees)(?![\w]))")


class Markup(str):
    """Text that is markup already and is not escaped again."""

    __slots__ = ()


Piece: TypeAlias = "str | Iterable[Piece] | None"


def escaped(text: str) -> Markup:
    r"""Give plain text as markup.

    Parameters
    ----------
    text : str
        Any text, also what a user's file holds. Signs no page may hold are replaced.

    Returns
    -------
    Markup

    Examples
    --------
    >>> print(escaped('<b title="x">\x07'))
    &lt;b title=&quot;x&quot;&gt;�
    """
    return Markup(html.escape(_UNIT.sub("\N{NO-BREAK SPACE}", text.translate(_BARRED))))


def join(*pieces: Piece) -> Markup:
    """Put pieces one after the other: plain text is escaped, None left out, lists opened."""
    out: list[str] = []
    for piece in pieces:
        if isinstance(piece, Markup):
            out.append(piece)
        elif isinstance(piece, str):
            out.append(escaped(piece))
        elif piece is not None:
            out.append(join(*piece))
    return Markup("".join(out))


def tag(element: str, /, *pieces: Piece, **attributes: str | None) -> Markup:
    """Make one element.

    Parameters
    ----------
    element : str
        Its name.
    *pieces : str, Markup, None, or iterables of these
        What it holds.
    **attributes : str or None
        None leaves one out. A trailing underscore is dropped (``class_``), others
        become hyphens (``aria_label``).

    Returns
    -------
    Markup

    Examples
    --------
    >>> print(tag("strong", "a < b", class_="note"))
    <strong class="note">a &lt; b</strong>
    """
    said = "".join(
        f' {key.removesuffix("_").replace("_", "-")}="{escaped(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    end = "" if element in INLINE else "\n"
    if element in VOID:
        return Markup(f"<{element}{said} />{end}")
    return Markup(f"<{element}{said}>{join(*pieces)}</{element}>{end}")


def bullets(items: Iterable[Piece], class_: str | None = None) -> Markup | None:
    """Make a list of points; None without any."""
    points = [tag("li", item) for item in items]
    return tag("ul", *points, class_=class_) if points else None


def section(name: str, title: str, *pieces: Piece) -> Markup:
    """Make a part of the page with its heading, to be linked to as ``#name``."""
    return tag(
        "section",
        tag("h2", title, id=f"{name}-title"),
        *pieces,
        id=name,
        aria_labelledby=f"{name}-title",
    )


def link(name: str, *pieces: Piece) -> Markup:
    """Link to a part of this page."""
    return tag("a", *pieces, href=f"#{name}")


def folded(
    summary: str,
    *pieces: Piece,
    printed: bool,
    whole: bool = False,
    file: str = "plan.gpkg",
) -> Markup:
    """Fold something away on the screen.

    Parameters
    ----------
    summary : str
        What stands in its place.
    *pieces : str, Markup, None, or iterables of these
        What is folded.
    printed : bool
        Whether paper shows it all the same. Where not, paper says what it leaves off.
    whole : bool, optional
        Whether what is printed keeps its form; otherwise lists are set smaller.
    file : str, optional
        Where it can be looked up then.
    """
    look = ("whole" if whole else "printed") if printed else "screen"
    made = tag("details", tag("summary", summary), *pieces, class_=look)
    if printed:
        return made
    said = say("report_off_paper", what=_inside(summary), file=file)
    return join(made, tag("p", said, class_="paper"))


def _inside(title: str) -> str:
    """Give a title as it stands inside a sentence."""
    return title[:1].lower() + title[1:]
