"""Bar pictures: ground by use against its limit, diameters before and after, hours by task."""

from __future__ import annotations

from collections.abc import Sequence

from layout.outputs.report import svg
from layout.outputs.report.tags import Markup
from layout.outputs.words import say

LEFT = 20.0
ROW = 30.0
BAR = 18.0
LOOKS = ("full", "dark", "faint", "outline")  # differ in lightness as well, for black and white


def shares(
    parts: Sequence[tuple[str, float, str]], marks: Sequence[tuple[str, float, str]], told: str
) -> Markup:
    """Draw the shares of the ground one after the other, with aim and limit.

    Parameters
    ----------
    parts : sequence of (str, float, str)
        What each is, percent of the stand, and that in words.
    marks : sequence of (str, float, str)
        Lines to hold it against: their words, percent, and look.
    told : str
        What the picture shows.

    Returns
    -------
    Markup
    """
    whole = sum(size for _, size, _ in parts)
    steps = svg.round_steps(max(whole, *(at for _, at, _ in marks)) * 1.04)
    scale = (svg.WIDTH - 2 * LEFT) / steps[-1]
    top = 12.0 + ROW * len(marks)
    foot = top + BAR + 8
    drawn: list[Markup] = []
    for at in steps:
        drawn.append(svg.words(LEFT + at * scale, foot + svg.LETTER, f"{at:g} %", "soft", "middle"))
        drawn.append(svg.line(LEFT + at * scale, top - 4, LEFT + at * scale, foot, "grid"))
    start = LEFT
    for number, (_, size, _) in enumerate(parts):
        look = LOOKS[number % len(LOOKS)]
        drawn.append(svg.bar(start, top, size * scale, BAR, look))
        start += size * scale
    for number, (said, at, look) in enumerate(marks):
        x, y = LEFT + at * scale, 14.0 + ROW * number
        left = x + svg.wide(said) > svg.WIDTH - LEFT
        drawn.append(svg.line(x, y - 10, x, foot, look))
        drawn.append(svg.words(x + (-5 if left else 5), y, said, "", "end" if left else "start"))
    y = foot + 2 * svg.LETTER + 12
    for number, (said, _, size_said) in enumerate(parts):
        look = LOOKS[number % len(LOOKS)]
        drawn.append(svg.bar(LEFT, y - 10 + 20 * number, 22, 12, look))
        drawn.append(svg.words(LEFT + 30, y + 20 * number, f"{said}: {size_said}"))
    return svg.picture("chart-ground", say("chart_ground"), told, y + 20 * len(parts) - 8, *drawn)


def before_after(rows: Sequence[tuple[str, float, float]], unit: str, told: str) -> Markup:
    """Draw the stems of each diameter class before and after.

    Parameters
    ----------
    rows : sequence of (str, float, float)
        Class, stems before and stems after, in the unit.
    unit : str
        What a stem count is of.
    told : str
        What the picture shows.

    Returns
    -------
    Markup
        Before is an outline, after is filled inside it.
    """
    top, height, left = 34.0, 190.0, 56.0
    steps = svg.round_steps(max(max(a, b) for _, a, b in rows) or 1.0)
    scale, foot = height / steps[-1], top + height
    room = (svg.WIDTH - left - 8) / len(rows)
    each = max(1, -(-max(svg.wide(said) + 6 for said, _, _ in rows) // room))  # names that fit
    drawn = [
        part
        for at in steps
        for part in (
            svg.line(left, foot - at * scale, svg.WIDTH - 8, foot - at * scale, "grid"),
            svg.words(left - 6, foot - at * scale + 4, f"{at:g}", "soft", "end"),
        )
    ]
    for number, (said, before, after) in enumerate(rows):
        x, width = left + (number + 0.12) * room, 0.76 * room
        drawn.append(
            svg.bar(x + 0.15 * width, foot - after * scale, 0.7 * width, after * scale, "full")
        )
        drawn.append(svg.bar(x, foot - before * scale, width, before * scale, "outline"))
        if number % each == 0:
            drawn.append(svg.words(x + width / 2, foot + 16, said, "soft", "middle"))
    second = left + 34 + svg.wide(say("report_col_before"))
    drawn += [
        svg.words(svg.WIDTH - 8, 14, unit, "soft", "end"),
        svg.bar(left, 4, 22, 12, "outline"),
        svg.words(left + 28, 14, say("report_col_before")),
        svg.bar(second + 10, 4, 22, 12, "full"),
        svg.words(second + 38, 14, say("report_col_after")),
    ]
    return svg.picture("chart-diameters", say("chart_diameters"), told, foot + 24, *drawn)


def ranges(rows: Sequence[tuple[str, float, float, str]], told: str) -> Markup:
    """Draw hours by task as ranges.

    Parameters
    ----------
    rows : sequence of (str, float, float, str)
        Task, low and high end in hours, and both in words.
    told : str
        What the picture shows.

    Returns
    -------
    Markup
        A bar from low to high; no middle is drawn, for none is likelier.
    """
    left = max(svg.wide(said) for said, *_ in rows) + 14
    right = max(svg.wide(said) for *_, said in rows) + 14
    steps = svg.round_steps(max(high for _, _, high, _ in rows) or 1.0)
    scale = (svg.WIDTH - left - right) / steps[-1]
    foot = 8 + ROW * len(rows)
    drawn = [
        part
        for at in steps
        for part in (
            svg.line(left + at * scale, 4, left + at * scale, foot, "grid"),
            svg.words(left + at * scale, foot + 16, f"{at:g}", "soft", "middle"),
        )
    ]
    for number, (task, low, high, said) in enumerate(rows):
        y = 10 + ROW * number
        drawn.append(svg.words(left - 10, y + 14, task, "", "end"))
        drawn.append(svg.bar(left + low * scale, y, max((high - low) * scale, 2.0), BAR, "full"))
        drawn.append(svg.words(left + high * scale + 8, y + 14, said))
    drawn.append(svg.words(svg.WIDTH - 4, foot + 16, say("chart_hours_axis"), "soft", "end"))
    return svg.picture("chart-hours", say("chart_hours"), told, foot + 24, *drawn)
