"""A kept drawing put into an area, and the plan told which one it was."""

from dataclasses import replace

from layout.drawing import keeping
from layout.drawing.draft_area import drafted
from layout.findings import Finding, ordered
from layout.site import Area


def with_drawing(area: Area, name: str) -> Area:
    """Put a drawing of the area's folder into the area.

    Parameters
    ----------
    area : Area
        As read from the user's files.
    name : str
        What the drawing is called.

    Returns
    -------
    Area
        With a finding that says which drawing, and its notes.

    Raises
    ------
    InputError
        If there is no such drawing, or it cannot be judged.
    """
    kept = keeping.load(area.folder, area.crs, name)
    told = [
        Finding(
            "drawing_used",
            "unknown",
            f"Planned from the drawing {kept.name}, version {kept.version} of {kept.saved[:10]}, "
            "not from the landing and trails the files name. Drawn on a screen: walk and flag it.",
        )
    ]
    told += [
        Finding("drawing_note", "ok", f"Note on the map: {note.text}", at=note.at)
        for note in kept.draft.notes
        if note.text
    ]
    made = drafted(area, kept.draft)
    return replace(made, findings=ordered((*made.findings, *told)))
