"""What the crew has done, and what the earlier plan called its parts.

``progress.csv`` is the user's own and is only ever read. The earlier plan is
the ``plan.json`` that a run left in the out folder.
"""

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import pyproj
from shapely.geometry import LineString, Polygon

from layout import formula_marks
from layout.errors import InputError, InputFaults
from layout.records import Retired, Trail, WinchPosition
from layout.site import Earlier, EarlierPiece, EarlierPlace, EarlierTurn, ProgressRow, ProgressState

PROGRESS = "progress.csv"
PLAN = "plan.json"
MADE_BY = "skidway"
STATES: dict[str, ProgressState] = {
    "": "", "flagged": "flagged", "opened": "opened", "open": "opened", "done": "done",
    "carried": "carried",
}  # fmt: skip
KINDS = ("tree", "trail", "position", "turn")
LARGEST_BYTES = 20_000_000


def progress_rows(folder: Path) -> tuple[ProgressRow, ...] | None:
    """Read progress.csv beside area.toml.

    Parameters
    ----------
    folder : Path
        The area's folder.

    Returns
    -------
    tuple of ProgressRow or None
        In the order of the file; None where there is no such file. Several
        rows may name the same thing.

    Raises
    ------
    InputError, InputFaults
        If the file or a row cannot be read; one line a fault.
    """
    path = folder / PROGRESS
    if not path.is_file():
        return None
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(f"{PROGRESS} is larger than {LARGEST_BYTES / 1e6:.0f} MB; is it the one?")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{PROGRESS}: not UTF-8 text; save it as CSV UTF-8") from None
    head = text.partition("\n")[0]
    mark = max(",;\t", key=head.count)  # the first of them where none is there
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    names = [name.strip().lower() for name in next(reader, [])]
    if "id" not in names:
        raise InputError(
            f"{PROGRESS}: no column id in its first line; start it with id,date,note,state"
        )
    rows: list[ProgressRow] = []
    faults: list[str] = []
    for cells in reader:
        if not any(c.strip() for c in cells):
            continue
        row = dict(zip(names, (formula_marks.bare(c.strip()) for c in cells), strict=False))
        where = f"{PROGRESS} line {reader.line_num}:"
        said = row.get("state", "").lower()
        kind, _, bare = row["id"].partition(":") if "id" in row else ("", "", "")
        if len(cells) > len(names) and any(c.strip() for c in cells[len(names) :]):
            faults.append(
                f"{where} {len(cells)} cells under {len(names)} headings; put a note that holds "
                f"{mark!r} in quotes"
            )
        elif not row.get("id"):
            faults.append(f"{where} the id is blank; write which tree, trail or position it is")
        elif said not in STATES:
            faults.append(
                f"{where} state {row['state']!r} is not known; write flagged, opened, done or "
                "carried, or leave it blank"
            )
        elif kind.strip().lower() in KINDS and bare.strip():
            rows.append(
                ProgressRow(
                    reader.line_num,
                    bare.strip(),
                    STATES[said],
                    kind.strip().lower(),  # type: ignore[arg-type]  # one of KINDS
                )
            )
        else:
            rows.append(ProgressRow(reader.line_num, row["id"], STATES[said]))
    if faults:
        raise InputFaults(faults)
    return tuple(rows)


def earlier_plan(out: Path, crs: pyproj.CRS, *, needed: bool) -> Earlier | None:
    """Read what the plan in the out folder calls its trails and positions.

    Parameters
    ----------
    out : Path
        The folder of the plan; where a run was cut short while swapping, the
        one beside it with ``.previous`` is read.
    crs : CRS
        The area's CRS.
    needed : bool
        Whether this area has trails or progress to keep. Where it has not, an
        earlier plan counts only if names were retired in it, or loads were in.

    Returns
    -------
    Earlier or None
        None where there is no earlier plan, or no name to keep.

    Raises
    ------
    InputError
        If an earlier plan is needed, is there and cannot be used.
    """
    path = out / PLAN
    if not path.is_file():
        path = out.with_name(f"{out.name}.previous") / PLAN
    if not path.is_file():
        return None
    shown = f"{path.parent.name}/{path.name}"
    remedy = f"its names cannot be kept. Put a whole plan back, or move {path.parent.name} away"
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(data, dict) or data.get("made_by") != MADE_BY:
            raise InputError(f"{shown} is no plan of ours; {remedy}")
        names = data.get("retired") or any(
            t.get("state") != "planned" for t in data.get("turns", ())
        )
        if not needed and not names:
            return None
        if pyproj.CRS.from_wkt(data["area"]["crs_wkt"]) != crs:
            raise InputError(
                f"{shown} was made in {data['area']['crs']}, this area is in {crs.name}; {remedy}"
            )
        return _earlier(data)
    except InputError:
        if needed:
            raise
        return None
    except (ValueError, KeyError, TypeError) as fault:
        if needed:
            raise InputError(f"{shown} is damaged ({fault!r}); {remedy}") from None
        return None


def _earlier(data: dict[str, Any]) -> Earlier:
    """Take the parts of a plan that have names."""
    trails = tuple(
        Trail(
            trail_id=row["trail_id"],
            kind=row["kind"],
            landing_id=row["landing_id"],
            line=LineString(row["shape"]["coordinates"]),
            width_m=float(row["width_m"]),
            source=row["source"],
            joins_id=row["joins_id"],
            joins_at_m=row["joins_at_m"],
            benched=bool(row["benched"]),
        )
        for row in data["trails"]
    )
    positions = tuple(
        WinchPosition(
            position_id=row["position_id"],
            trail_id=row["trail_id"],
            landing_id=row["landing_id"],
            at_m=float(row["at_m"]),
            x=float(row["shape"]["coordinates"][0]),
            y=float(row["shape"]["coordinates"][1]),
            rear_azimuth_deg=float(row["rear_azimuth_deg"]),
            swing_deg=float(row["swing_deg"]),
            cross_pct=float(row["cross_pct"]),
            along_pct=float(row["along_pct"]),
            back_m=float(row["back_m"]),
            tree_ids=tuple(row["tree_ids"]),
        )
        for row in data["positions"]
    )
    retired = tuple(
        Retired(
            row["layer"],
            row["name"],
            row["trail_id"],
            tuple(row["tree_ids"]),
            row["at_m"],
            row["x"],
            row["y"],
            row["rear_azimuth_deg"],
        )
        for row in data.get("retired", ())
    )
    turns = tuple(_turn(row) for row in data.get("turns", ()))
    landing = _outline(data["landing"])
    more = tuple(_outline(row) for row in data.get("landings", ())[1:])
    work = data.get("work") or {}
    place = _place(work.get("two_stage") or {})
    pieces = tuple(_piece(row) for row in work.get("pieces") or ())
    return Earlier(trails, positions, retired, turns, landing, place, pieces, more)


def _outline(row: dict[str, Any]) -> Polygon:
    """Take the outline of a landing."""
    rings = row["shape"]["coordinates"]
    return Polygon(rings[0], rings[1:])


def _piece(row: dict[str, Any]) -> EarlierPiece:
    """Take one piece."""
    return EarlierPiece(
        tree_id=str(row["tree_id"]),
        number=int(row["piece"]),
        kind=row["kind"],
        length_m=float(row.get("length_m") or 0.0),
        wood_m3=float(row.get("wood_m3") or 0.0),
        mass_kg=float(row.get("mass_kg") or 0.0),
        mass_known=bool(row.get("mass_known", True)),
    )


def _place(row: dict[str, Any]) -> EarlierPlace | None:
    """Take the small landing in the woods, where there is one."""
    shape = row.get("shape")
    if not shape or row.get("at_m") is None:
        return None
    rings = shape["coordinates"]
    return EarlierPlace(str(row["trail_id"]), float(row["at_m"]), Polygon(rings[0], rings[1:]))


def _turn(row: dict[str, Any]) -> EarlierTurn:
    """Take one load."""
    limit_kg = row.get("limit_kg")
    return EarlierTurn(
        turn_id=str(row["turn_id"]),
        trail_id=row.get("trail_id") or "",
        position_id=row.get("position_id") or "",
        tree_ids=tuple(row.get("tree_ids") or ()),
        pieces=tuple((str(tree), int(number)) for tree, number in row.get("pieces") or ()),
        state=row.get("state") or "planned",
        stage=row.get("stage") or "harvest",
        at_m=float(row.get("at_m") or 0.0),
        travel_m=float(row.get("travel_m") or 0.0),
        position_ids=tuple(row.get("position_ids") or ()),
        mass_kg=float(row.get("mass_kg") or 0.0),
        wood_m3=float(row.get("wood_m3") or 0.0),
        limit_kg=math.inf if limit_kg is None else float(limit_kg),
        limited_by=row.get("limited_by") or "",
        ends_at=row.get("ends_at") or "landing",
    )
