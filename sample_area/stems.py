"""The made-up stand of the sample area: where its trees stand, what they are, which come out."""

import numpy as np
import pandas as pd
import shapely
from landform import Floats, Landform, field
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

# name: share, tallest ft, dbh scale in, likes wet (+) or dry (-), likes high (+) or low (-) ground
SPECIES: dict[str, tuple[float, float, float, float, float]] = {
    "sugar maple": (0.27, 88, 5.2, 0.0, 0.2),
    "red maple": (0.17, 80, 4.6, 0.5, -0.2),
    "American beech": (0.13, 76, 3.9, -0.1, 0.2),
    "yellow birch": (0.08, 78, 5.0, 0.7, -0.3),
    "white ash": (0.07, 92, 5.4, 0.2, -0.1),
    "northern red oak": (0.09, 92, 7.2, -0.9, 0.6),
    "eastern hemlock": (0.08, 86, 5.6, 0.9, -1.1),
    "eastern white pine": (0.03, 104, 8.0, -0.5, -0.2),
    "black cherry": (0.04, 90, 6.0, 0.0, 0.2),
    "American basswood": (0.04, 86, 6.0, 0.2, -0.3),
}
LEAST_DBH_IN, MOST_DBH_IN = 5.0, 31.0


def place_stems(
    rng: np.random.Generator, land: Landform, within: BaseGeometry, count: int, dbh_in: Floats
) -> Floats:
    """Scatter stems in clumps while large stems keep others at a distance.

    Returns
    -------
    ndarray of float, shape (count, 2)
        Local coordinates, for the diameters in the order given.
    """
    rows, cols = land.x.shape
    clumps = 0.55 * field(rng, (rows, cols), 9, 30) + 0.45 * field(rng, (rows, cols), 30, 120)
    here = shapely.contains_xy(within, land.x, land.y)
    weight = np.where(here, np.exp(0.62 * clumps), 0.0).ravel()
    tries = rng.choice(weight.size, size=count * 12, p=weight / weight.sum())
    cell = float(land.x[0, 1] - land.x[0, 0])
    jitter = cell * (rng.random((tries.size, 2)) - 0.5)
    spots = np.column_stack([land.x.ravel()[tries], land.y.ravel()[tries]]) + jitter
    spots = spots[shapely.contains_xy(within, spots[:, 0], spots[:, 1])]

    out = np.zeros((count, 2))
    cells: dict[tuple[int, int], list[int]] = {}
    room = 0.55 + 0.075 * dbh_in  # metres one stem keeps clear, grows with its size
    spot = 0
    for stem in np.argsort(-dbh_in, kind="stable"):
        while True:
            if spot >= len(spots):
                msg = f"no room for {count} stems; ask for fewer"
                raise ValueError(msg)
            px, py = spots[spot]
            spot += 1
            i, j = int(px // 4), int(py // 4)
            near = [k for a in (i - 1, i, i + 1) for b in (j - 1, j, j + 1)
                    for k in cells.get((a, b), ())]  # fmt: skip
            apart = [np.hypot(*(out[k] - (px, py))) - 0.5 * (room[k] + room[stem]) for k in near]
            if all(gap > 0 for gap in apart):
                out[stem] = px, py
                cells.setdefault((i, j), []).append(int(stem))
                break
    return out


def choose_species(rng: np.random.Generator, land: Landform, spots: Floats) -> NDArray[np.str_]:
    """Pick a species for each spot: by wetness and height of the ground, in patches."""
    names = list(SPECIES)
    high = land.at(spots[:, 0], spots[:, 1], 8.0)
    high = (high - high.mean()) / high.std()
    bowl = land.at(spots[:, 0], spots[:, 1], 22.0) - land.at(spots[:, 0], spots[:, 1], 3.0)
    wet = np.clip(bowl / bowl.std(), -2, 2) * 0.5 - 0.4 * high
    score = np.zeros((len(spots), len(names)))
    for k, name in enumerate(names):
        share, _, _, likes_wet, likes_high = SPECIES[name]
        patch = land.with_z(field(rng, land.x.shape, 14, 90)).at(spots[:, 0], spots[:, 1])
        score[:, k] = np.log(share) + likes_wet * wet + likes_high * high + 0.75 * patch
    score += rng.gumbel(size=score.shape)
    return np.asarray(names)[np.argmax(score, axis=1)]


def draw_dbh(rng: np.random.Generator, count: int) -> Floats:
    """Draw diameters at breast height, inches: many small, few large (a reverse J)."""
    dbh = LEAST_DBH_IN + 5.3 * rng.weibull(1.05, size=count)
    return np.asarray(np.round(np.minimum(dbh, MOST_DBH_IN - rng.random(count) * 3), 1))


def heights_ft(rng: np.random.Generator, species: NDArray[np.str_], dbh_in: Floats) -> Floats:
    """Give total heights that rise with diameter and level off, by species."""
    tallest = np.array([SPECIES[s][1] for s in species])
    height = 4.5 + (tallest - 4.5) * (1 - np.exp(-0.145 * dbh_in)) ** 1.05
    return np.asarray(np.round(height * (1 + 0.06 * rng.standard_normal(len(dbh_in)))))


def mark_stems(
    rng: np.random.Generator, spots: Floats, dbh_in: Floats, worth: Floats, count: int
) -> NDArray[np.bool_]:
    """Mark stems singly and in small groups, well spread, where ``worth`` lets it.

    Parameters
    ----------
    rng : Generator
        Seeded source of choices.
    spots, dbh_in : ndarray
        Places, shape (n, 2), and diameters, shape (n,).
    worth : ndarray of float, shape (n,)
        How likely a marker would take the stem, 0 for never.
    count : int
        Stems to mark.
    """
    tree = KDTree(spots)
    marked = np.zeros(len(spots), dtype=bool)
    size = worth * np.clip((dbh_in - 8.0) / 8.0, 0.0, 1.4)
    order = np.argsort(-np.log(np.maximum(size, 1e-12)) + rng.gumbel(size=len(size)) * -1.0)
    for stem in order:
        if marked.sum() >= count:
            break
        near = [k for k in tree.query_ball_point(spots[stem], 17.0) if marked[k]]
        if near or size[stem] <= 0:
            continue
        marked[stem] = True
        group = int(rng.choice([0, 0, 1, 1, 2, 3]))
        close = [k for k in tree.query_ball_point(spots[stem], 11.0) if k != stem and size[k] > 0]
        close.sort(key=lambda k: (-float(size[k]) + 0.4 * float(rng.random()), k))
        room = count - int(marked.sum())
        marked[close[: min(group, room)]] = True
    return marked


def frame(
    spots: Floats,
    species: NDArray[np.str_],
    dbh_in: Floats,
    height_ft: Floats,
    marked: NDArray[np.bool_],
) -> pd.DataFrame:
    """Lay the columns side by side, numbered in strips from the west as a crew walks them."""
    strip = (spots[:, 0] // 20).astype(int)
    walk = np.where(strip % 2 == 0, spots[:, 1], -spots[:, 1])
    order = np.lexsort((walk, strip))
    return pd.DataFrame(
        {
            "tree_id": [str(k + 1) for k in range(len(order))],
            "x": spots[order, 0],
            "y": spots[order, 1],
            "species": species[order],
            "dbh_in": dbh_in[order],
            "height_ft": height_ft[order],
            "mark": np.where(marked[order], "cut", "leave"),
        }
    )
