"""What is told of a phone's waypoints: what was taken, what was not understood."""

from collections.abc import Iterable, Sequence

import numpy as np
import pyproj
import shapely

from layout.findings import Finding, Level
from layout.projection import WGS84
from layout.read_waypoints import Waypoints
from layout.species import find
from layout.speech import speak_length
from layout.table_cells import listed, shown
from layout.tree_notes import read_note
from layout.units import FOOT_M, Units
from layout.waypoint_trees import Said

CLOSE_M = 10 * FOOT_M  # two dots nearer than this may be one tree; asked about
MOST_LISTED = 200


def close_pairs(xy_m: np.ndarray, within_m: float = CLOSE_M) -> list[tuple[int, int, float]]:
    """Find pairs of points near each other.

    Parameters
    ----------
    xy_m : ndarray, shape (n, 2)
        Grid coordinates, metres.
    within_m : float, optional
        How near.

    Returns
    -------
    list of tuple
        Rows, the lower first, and their distance in metres; in order.
    """
    points = np.asarray(shapely.points(xy_m), dtype=object)
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=within_m)
    keep = one < other
    gaps = np.hypot(*(xy_m[one[keep]] - xy_m[other[keep]]).T)
    pairs = zip(one[keep].tolist(), other[keep].tolist(), gaps.tolist(), strict=True)
    return sorted(pairs)


def doubtful_pairs(
    said: Sequence[Said], xy_m: np.ndarray, within_m: float = CLOSE_M
) -> list[tuple[int, int, float]]:
    """Find pairs that may be one tree recorded twice.

    Two that have different numbers and are of different species are two trees,
    however near.

    Parameters
    ----------
    said : sequence of Said
    xy_m : ndarray, shape (n, 2)
        Metres.
    within_m : float, optional

    Returns
    -------
    list of tuple
        As `close_pairs` gives them.
    """
    return [
        (a, b, gap)
        for a, b, gap in close_pairs(xy_m, within_m)
        if not (_differ(said[a].number, said[b].number) and _two_kinds(said[a], said[b]))
    ]


def _differ(one: str, other: str) -> bool:
    """Tell whether both say something, and not the same."""
    return bool(one and other) and one != other


def _two_kinds(one: Said, other: Said) -> bool:
    """Tell whether two trees are of different species."""
    return _differ(one.species, other.species) and find(one.species).row != find(other.species).row


def local_metres(lonlat: Sequence[tuple[float, float]]) -> np.ndarray:
    """Give metres from the middle of points in degrees, good for what is near.

    Parameters
    ----------
    lonlat : sequence of tuple
        Degrees, WGS 84.

    Returns
    -------
    ndarray, shape (n, 2)
        East and north of the middle, on a plane that touches the earth there.
    """
    lon, lat = np.array(lonlat, dtype=float).reshape(-1, 2).T
    middle = f"+proj=aeqd +lon_0={np.median(lon)} +lat_0={np.median(lat)} +datum=WGS84"
    move = pyproj.Transformer.from_crs(WGS84, pyproj.CRS.from_user_input(middle), always_xy=True)
    return np.column_stack(move.transform(lon, lat))


def findings_of(
    said: Sequence[Said], read: Waypoints, units: Units, made_up: list[str]
) -> list[Finding]:
    """Tell what was taken, and what was not understood.

    Parameters
    ----------
    said : sequence of Said
        Numbered.
    read : Waypoints
        The file they are of, and what it holds that is no point.
    units : {"us", "metric"}
    made_up : list of str
        What `numbered` said.

    Returns
    -------
    list of Finding
    """
    found: list[Finding] = []
    name = read.name

    def tell(code: str, level: Level, message: str, count: int) -> None:
        found.append(Finding(code, level, f"{name}: {message}", "trees", name, value=float(count)))

    missed = [one for one in said if not one.understood]
    if missed:
        what = listed((f"{one.tree_id} {shown(one.raw)}" for one in missed), MOST_LISTED)
        tell(
            "waypoint_notes",
            "caution",
            f'{len(missed)} of {len(said)} notes are not like "37 RO 18 2" (number, species, DBH, '
            f"logs): {what}; the trees are kept without DBH.",
            len(missed),
        )
    twofold = [one.tree_id for one in said if one.twofold]
    if twofold:
        tell(
            "waypoint_twofold",
            "caution",
            f"name and comment of {listed(twofold)} say different things; neither was taken.",
            len(twofold),
        )
    unread = [f"{one.tree_id} ({', '.join(map(shown, one.unread))})" for one in said if one.unread]
    if unread:
        tell(
            "waypoint_forms",
            "caution",
            f"fields of forms hold what their column cannot: {listed(unread, MOST_LISTED)}; they "
            "were left blank and kept in the note. Give figures there, and cut or leave as mark.",
            len(unread),
        )
    doubts = [f"{one.tree_id} ({one.doubt})" for one in said if one.doubt]
    if doubts:
        tell(
            "waypoint_hazards",
            "caution",
            f"notes speak of danger that was not taken as a hazard: {listed(doubts, 20)}; write "
            'it at the end after a comma, like "37 RO 18 2, dead top".',
            len(doubts),
        )
    kept = [one for one in said if one.against.words and one.said_mark != "leave"]
    spared = [_why(one) for one in kept if one.mark == "leave"]
    if spared:
        tell(
            "waypoint_against",
            "caution",
            f"notes speak against cutting: {listed(spared, MOST_LISTED)}; these are taken as leave "
            'trees. Settle each: say leave, or take those words out and say cut, like "37 RO 18 2, '
            'cut".',
            len(spared),
        )
    doubted = [_why(one) for one in kept if one.mark != "leave"]
    if doubted:
        tell(
            "waypoint_cut_doubted",
            "caution",
            f"notes say cut and give a reason against it: {listed(doubted, MOST_LISTED)}; these "
            "are taken as cut. Settle each.",
            len(doubted),
        )
    words = [
        f"{one.tree_id} {shown(one.note.rest)}" for one in said if one.note.rest and one.understood
    ]
    if words:
        tell("waypoint_words", "ok", f"words kept and not used: {listed(words, 20)}.", len(words))
    if made_up:
        tell(
            "waypoint_numbers",
            "caution",
            f"numbers are missing or stand twice, so ids were made up: {listed(made_up, 20)}; "
            "paint numbers and say them.",
            len(made_up),
        )
    bare = [one for one in said if one.note.bare and one.understood]
    if bare:
        unit = "inches" if units == "us" else "centimetres"
        tell(
            "waypoint_units",
            "ok",
            f'{len(bare)} diameters without a unit were taken as {unit} (units = "{units}").',
            len(bare),
        )
    errors = [one.error_m for one in said if one.error_m is not None]
    if errors:
        low, high = (speak_length(value, units) for value in (min(errors), max(errors)))
        tell(
            "waypoint_errors",
            "ok",
            f"{len(errors)} waypoints say how well their place is known ({low} to {high}); that "
            "is used for them.",
            len(errors),
        )
    lost = [*read.lost, *(called for called in read.shapes if _is_tree(called, units))]
    if lost:
        tell(
            "waypoint_lost",
            "caution",
            f"{len(lost)} with a name have no point of their own, so no tree is made of them: "
            f"{listed(map(shown, lost), MOST_LISTED)}. Record those that are trees as one waypoint "
            "each.",
            len(lost),
        )
    if read.left_out:
        count = read.left_out
        tell("waypoint_shapes", "ok", f"{count} tracks or shapes are no waypoints.", count)
    return found


def _is_tree(called: str, units: Units) -> bool:
    """Tell whether the name of a line or a shape is a note on a tree."""
    notes = (read_note(part, units) for part in called.split(" | "))
    return any(note is not None and note.dbh_cm is not None for note in notes)


def _why(one: Said) -> str:
    """Name a tree and the words against cutting it."""
    return f"{one.tree_id} ({shown(one.against.words)})"


def close_finding(ids: Iterable[str], pairs: list[tuple[int, int, float]], name: str,
                  units: Units) -> list[Finding]:  # fmt: skip
    """Ask about trees that may be one, recorded twice."""
    names = list(ids)
    if not pairs:
        return []
    what = listed(
        (f"{names[a]} and {names[b]} ({speak_length(gap, units)})" for a, b, gap in pairs), 20
    )
    return [
        Finding(
            "trees_close",
            "caution",
            f"{name}: {len(pairs)} pairs of waypoints stand within "
            f"{speak_length(CLOSE_M, units)} of each other: {what}; is one tree recorded twice?",
            "trees",
            name,
            value=float(len(pairs)),
            limit=CLOSE_M,
            unit="m",
        )
    ]
