"""What is left of a stem some of whose pieces are in.

Pieces are known by their number from the butt up. Where settings or the list have changed
since, the same stem would be cut otherwise and its numbers would mean other wood; but it
lies, and its first pieces are gone. So the rest stays as it was cut.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

from layout.site import EarlierPiece
from layout.work_records import Piece

SAME_M = 0.02  # plan.json rounds lengths to a centimetre
SAME_M3, SAME_SHARE = 0.002, 0.01  # and wood to a litre
ROUND_KG = 0.5  # and masses to a kilogram


def left_as_cut(
    pieces: Sequence[Piece],
    before: Sequence[EarlierPiece],
    done: Collection[int],
    limit_kg: float,
    kg_per_m3: float,
    shortest_m: float,
) -> list[Piece] | None:
    """Give what is left of a stem as it was cut before, where it would now be cut otherwise.

    Parameters
    ----------
    pieces : sequence of Piece
        As all of the stem would be cut now; one at least.
    before : sequence of EarlierPiece
        What the earlier plan still held of it.
    done : collection of int
        Numbers of the pieces that are in.
    limit_kg : float
        Heaviest piece of its way now: what is heavier is cut into parts of one length.
    kg_per_m3 : float
        Mass of its wood now, weight error in it; NaN where not known. No piece counts
        lighter than it did before.
    shortest_m : float
        No part is shorter.

    Returns
    -------
    list of Piece or None
        None where it is cut alike, and where nothing is known of the earlier cut.
    """
    rest = [piece for piece in before if piece.number not in done]
    now = [piece for piece in pieces if piece.number not in done]
    if not rest or (len(rest) == len(now) and all(map(_alike, rest, now))):
        return None
    number = max(*done, *(piece.number for piece in before))
    out: list[Piece] = []
    for piece in rest:
        known = float(kg_per_m3 * piece.wood_m3)
        mass = max(piece.mass_kg, known if math.isfinite(known) else 0.0)
        mass = min(mass, limit_kg) if mass <= limit_kg + ROUND_KG else mass
        parts = math.ceil(mass / limit_kg) if 0 < limit_kg < mass else 1
        if piece.length_m < parts * shortest_m:
            parts = 1
        for n in range(parts):
            number += n > 0
            out.append(
                replace(
                    pieces[0],
                    number=number if n else piece.number,
                    kind=piece.kind,
                    length_m=piece.length_m / parts,
                    wood_m3=piece.wood_m3 / parts,
                    mass_kg=mass / parts,
                    mass_known=piece.mass_known,
                    as_before=True,
                )
            )
    return out


def _alike(before: EarlierPiece, now: Piece) -> bool:
    return (
        (before.number, before.kind) == (now.number, now.kind)
        and abs(before.length_m - now.length_m) <= SAME_M
        and abs(before.wood_m3 - now.wood_m3) <= SAME_M3 + SAME_SHARE * now.wood_m3
    )
