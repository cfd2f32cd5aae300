"""What one map sheet is to show."""

from __future__ import annotations

from dataclasses import dataclass

from layout.outputs.crew.map_frames import Frame
from layout.outputs.map_window import Window


@dataclass(frozen=True, slots=True)
class MapPage:
    """What one map sheet shows.

    Parameters
    ----------
    title : str
        Written over it.
    frame : Frame
        Where things stand.
    window : Window
        The ground shown.
    numbered : bool
        Whether every marked tree bears its number.
    coded : bool
        Whether its species stands with the number too, where reasons do.
    reasons : bool
        Whether why it is not reached, and the number of its rub tree, stand with it.
    tiles : tuple of Window
        Detail sheets to outline on it.
    note : str
        Written at the title's right.
    """

    title: str
    frame: Frame
    window: Window
    numbered: bool
    coded: bool = True
    reasons: bool = True
    tiles: tuple[Window, ...] = ()
    note: str = ""
