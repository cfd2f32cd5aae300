"""What a phone says at the stump: how a tree leans, and where it might be laid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.lay_words import lean_to_lay, leaning, why_none
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan


class StumpNotes:
    """Says lean and lay of the marked trees of one plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    """

    def __init__(self, plan: Plan) -> None:
        self._lays = {lay.tree_id: lay for lay in plan.lays}
        self._leaning = leaning(plan)

    def of(self, tree_id: str, *, barred: bool) -> tuple[list[str], list[str]]:
        """Say lean and lay of one tree.

        Parameters
        ----------
        tree_id : str
            A marked tree that still stands.
        barred : bool
            Whether it stays, or is asked about, before anybody cuts it: then it has no lay.

        Returns
        -------
        tuple of two list of str
            What warns and is said first, and what may stand at the end. A lean that is not
            known is said so.
        """
        lay = self._lays.get(tree_id)
        if lay is None:
            return [], []
        lean, laid = self._leaning.get(tree_id, ""), []
        if not barred and lay.azimuth_deg is not None:
            lean = lean_to_lay(lay)
            laid = [say("device_lay", azimuth=f"{round(lay.azimuth_deg) % 360:03d}")]
        elif not barred and (why := why_none(lay)):
            laid = [why]
        if lean and lay.lean == "against":
            return [lean], laid
        return [], [*laid, lean or say("device_lean_unknown")]
