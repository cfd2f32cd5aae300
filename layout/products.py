"""What lies on the landing in the end: logs and sticks, one by one, with what they measure.

Logs bucked beside the trail arrive as they are. Stems and trees that travel whole are
bucked on the landing, as `layout.harvest` cuts them up on paper. What cannot be cut up on
paper (a tree without a diameter, a stem that gives neither log nor stick) stays a stem.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from layout.harvest import Harvest, cut_up, harvest_of
from layout.site import Area
from layout.stocking import called
from layout.tree_sizes import TreeSizes, sizes_of
from layout.work_records import Piece

WHOLE = ("stem", "tree")


@dataclass(frozen=True, slots=True)
class Product:
    """One log, stick or stem on the landing.

    Parameters
    ----------
    tree_id : str
    kind : {"sawlog", "pulp", "stem"}
        ``stem``: not cut up.
    species : str
        The tree it was taken as.
    length_m, wood_m3, mass_kg : float
        Its length; wood inside bark and green mass, defect and weight error left out.
        0 where not known.
    net_m3 : float or None
        Wood less defect; None where not known.
    net_bf : float or None
        Net board feet by the settings' rule; None without one, or where not known.
    """

    tree_id: str
    kind: Literal["sawlog", "pulp", "stem"]
    species: str
    length_m: float
    wood_m3: float
    mass_kg: float
    net_m3: float | None
    net_bf: float | None


def products_of(
    area: Area, pieces: Sequence[Piece], sizes: TreeSizes | None = None
) -> tuple[Product, ...]:
    """Give what the pieces of a plan are on the landing.

    Parameters
    ----------
    area : Area
    pieces : sequence of Piece
        Their masses hold the weight error, which is taken off here.
    sizes : TreeSizes, optional
        Of that area, where they are at hand.

    Returns
    -------
    tuple of Product
        In the order of the pieces. Of a tree whose logs are cut shorter than usual,
        board feet are those of the usual logs, shared out by wood.
    """
    sizes = sizes_of(area) if sizes is None else sizes
    harvest = harvest_of(area, sizes)
    row = {name: i for i, name in enumerate(area.trees.tree_id)}
    species = tuple(called(name) for name in area.trees.species)
    err = 1.0 + area.settings.timber.weight_error_pct / 100
    on_paper = _on_paper(area, sizes, harvest)
    out: list[Product] = []
    bucked: set[str] = set()
    for piece in pieces:
        i = row[piece.tree_id]
        if piece.kind in WHOLE and i in on_paper:
            if piece.tree_id not in bucked:
                bucked.add(piece.tree_id)
                out += on_paper[i]
            continue
        kind: Literal["sawlog", "pulp", "stem"] = (
            "sawlog" if piece.kind == "sawlog" else "pulp" if piece.kind == "pulp" else "stem"
        )
        wood = float(np.nan_to_num(piece.wood_m3))
        net_m3, net_bf = _net(harvest, i, kind, wood)
        mass = float(np.nan_to_num(piece.mass_kg)) / err
        out.append(
            Product(
                piece.tree_id, kind, species[i], piece.length_m, wood, mass, net_m3, net_bf
            )
        )  # fmt: skip
    return tuple(out)


def _net(
    harvest: Harvest, row: int, kind: str, wood_m3: float
) -> tuple[float | None, float | None]:
    """Give wood less defect and net board feet of a part of a tree's wood."""
    if kind == "pulp":
        return wood_m3, None
    saw = float(harvest.saw_m3[row])
    if kind == "stem" or not saw > 0:
        return None, None
    share = wood_m3 / saw
    board_feet = float(harvest.net_bf[row]) * share
    return (
        float(harvest.saw_net_m3[row]) * share,
        board_feet if np.isfinite(board_feet) else None,
    )


def _on_paper(area: Area, sizes: TreeSizes, harvest: Harvest) -> dict[int, list[Product]]:
    """Cut up every listed tree, by its row; those that give nothing are left out."""
    cut = cut_up(area, sizes).pieces
    out: dict[int, list[Product]] = {}
    for k, i in enumerate(cut.tree.tolist()):
        kind: Literal["sawlog", "pulp"] = "sawlog" if cut.is_log[k] else "pulp"
        wood = float(cut.wood_m3[k])
        net_m3, net_bf = _net(harvest, i, kind, wood)
        out.setdefault(i, []).append(
            Product(
                area.trees.tree_id[i], kind, harvest.species[i], float(cut.length_m[k]), wood,
                float(cut.mass_kg[k]), net_m3, net_bf,
            )
        )  # fmt: skip
    return out
