"""Pictures drawn in the page itself: lines, bars and words in the page's own colours.

Every picture has a title and says in a sentence what it shows; its numbers stand in a
table of the same part. Nothing is told by colour alone: outlines, dashes and words tell
it too. Sizes are in units of the picture, which is as wide as the page allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import count

from layout.outputs.report.tags import Markup, tag

WIDTH = 640.0
LETTER = 13.0  # height of letters
LETTER_WIDTH = 7.2  # of one in the middle, a little more than any font needs


def picture(name: str, title: str, told: str, height: float, *parts: Markup | None) -> Markup:
    """Put a picture together.

    Parameters
    ----------
    name : str
        Its id on the page.
    title : str
        What it is.
    told : str
        What it shows, for those who do not see it.
    height : float
        In units of which it is 640 wide.
    *parts : Markup or None
        What is drawn, the farthest back first.

    Returns
    -------
    Markup
        A figure; on a narrow page it scrolls sideways in a box the keyboard can reach.
    """
    drawn = tag(
        "svg",
        tag("title", title, id=f"{name}-title"),
        tag("desc", told, id=f"{name}-desc"),
        *parts,
        viewBox=f"0 0 {WIDTH:g} {height:g}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
    )
    box = tag("div", drawn, class_="wide chart", role="region", aria_label=title, tabindex="0")
    return tag("figure", tag("figcaption", title), box, id=name)


def line(x0: float, y0: float, x1: float, y1: float, look: str) -> Markup:
    """Draw a straight line."""
    return tag("line", x1=_size(x0), y1=_size(y0), x2=_size(x1), y2=_size(y1), class_=look)


def path(points: Iterable[tuple[float, float]], look: str, *, closed: bool = False) -> Markup:
    """Draw a line through points; a gap in it where one is not known."""
    steps, lift = [], True
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            lift = True
            continue
        steps.append(f"{'M' if lift else 'L'}{_size(x)} {_size(y)}")
        lift = False
    return tag("path", d=" ".join(steps) + (" Z" if closed else ""), class_=look)


def bar(x: float, y: float, width: float, height: float, look: str) -> Markup:
    """Draw a bar; one of no length is not drawn."""
    if width <= 0 or height <= 0:
        return Markup("")
    return tag(
        "rect", x=_size(x), y=_size(y), width=_size(width), height=_size(height), class_=look
    )


def words(x: float, y: float, said: str, look: str = "", at: str = "start") -> Markup:
    """Write words; ``at`` tells which end of them stands at x: start, middle or end."""
    return tag("text", said, x=_size(x), y=_size(y), text_anchor=at, class_=look or None)


def wide(said: str) -> float:
    """Tell how wide words are, at the most."""
    return LETTER_WIDTH * len(said)


def round_steps(most: float, wanted: int = 5) -> list[float]:
    """Give round numbers from 0 to at least the most there is.

    Parameters
    ----------
    most : float
        Above 0.
    wanted : int, optional
        About how many steps.

    Examples
    --------
    >>> round_steps(87.0)
    [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]
    """
    rough = max(most, 1e-6) / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = power * next(n for n in (1, 2, 5, 10) if n * power >= rough - 1e-12)
    out = [0.0]
    for n in count(1):
        if out[-1] >= most - 1e-9:
            return out
        out.append(round(n * step, 9))
    return out


def _size(value: float) -> str:
    return f"{round(value, 1):g}"
