"""What seed, slash and mulch did on skid trails where it was measured.

Two studies of bladed trails, each against trails with water bars only. Between the two
places the same treatment differs ninefold in tonnes, so only shares are handed on, as the
range of what both found.
"""

from typing import Literal

from layout.sources import PIEDMONT_TRAILS, RIDGE_TRAILS

Cover = Literal["seed", "slash", "mulch"]

STUDIES = (PIEDMONT_TRAILS, RIDGE_TRAILS)
# How closed, and soil lost in the first and in the second study, t/ha a year. Bars is water
# bars only, all else besides them; slash is hardwood and pine in the first study, of kinds not
# told apart in the second; mulch is straw over seed.
MEASURED: tuple[tuple[Literal["bars"] | Cover, tuple[float, ...], tuple[float, ...]], ...] = (
    ("bars", (137.7,), (15.1,)),
    ("seed", (31.5,), (5.9,)),
    ("slash", (5.9, 8.9), (0.8,)),
    ("mulch", (3.0,), (1.1,)),
)


def less_lost_pct(cover: Cover) -> tuple[float, float]:
    """Give by how much a treatment cut the soil lost, against water bars only.

    Parameters
    ----------
    cover : {"seed", "slash", "mulch"}
        What was laid or sown.

    Returns
    -------
    low, high : float
        Percent: the least and the most of both studies (`layout.sources.PIEDMONT_TRAILS`,
        `layout.sources.RIDGE_TRAILS`).

    Examples
    --------
    >>> [f"{share:.0f}" for share in less_lost_pct("seed")]
    ['61', '77']
    """
    rows = {name: studies for name, *studies in MEASURED}
    cut = [
        100 * (1 - lost / bars_only)
        for (bars_only,), treated in zip(rows["bars"], rows[cover], strict=True)
        for lost in treated
    ]
    return min(cut), max(cut)
