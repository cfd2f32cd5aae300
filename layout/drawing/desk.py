"""The calls of the page: each reads what came, asks a room that knows, and answers."""

import hashlib
import logging
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from layout import benching, landing, reach
from layout.checks import check_treatment
from layout.drawing import (
    compared,
    ground_layers,
    inputs_seen,
    judge,
    keeping,
    pictures,
    tree_card,
    world_places,
)
from layout.drawing.draft import FARTHEST_M, Draft, DraftTrail, read_draft
from layout.drawing.draft_area import draft_of, not_on_the_map, with_marks
from layout.drawing.ground_read import GroundRead
from layout.drawing.plain import plain
from layout.drawing.planned_numbers import PlannedNumbers, text_of
from layout.drawing.replans import Replans
from layout.drawing.server import Call, Picture
from layout.drawing.spoken import wanted
from layout.errors import InputError, LayoutError, NoWayError
from layout.findings import ordered
from layout.geometry import coordinates
from layout.outputs import ready
from layout.outputs.stand_lines import said
from layout.terrain import station_table
from layout.treatment import treat
from layout.way_to import way_to

log = logging.getLogger(__name__)

CARE = (
    "A map from elevations and dots knows nothing of soft ground, dead tops and what has changed. "
    "Walk and flag every line before a machine moves. Local law and licensed practice come first."
)
MOST_COMPARED = 8
JOBS_KNOWN = 8  # of which it is known what drawing they plan: the newest wins anyway
SPURS_KNOWN = 20  # drawings whose planned spurs can be laid beside another
SPUR = ("spur", "routed")  # not drawn: found by planning
WARM_M = 15.0  # half of a line judged for practice, longer than any tractor
SPURS_DEEP = 3.0  # a spur off a spur off a spur, each as long as it may be


class Desk:
    """Answers the calls of one area's page.

    Parameters
    ----------
    ground : GroundRead
        The area's ground.
    tiles : str, optional
        Address of background tiles; empty: none.
    named : Path, optional
        What the user named the area by, where it may be another file than the area.toml
        of its folder: what is planned is read from it.
    state : Path, optional
        Where the numbers of plans are kept between runs; None: nowhere.
    """

    def __init__(
        self,
        ground: GroundRead,
        tiles: str = "",
        named: Path | None = None,
        state: Path | None = None,
    ) -> None:
        self.ground, self.tiles = ground, tiles
        self.replans = Replans(ground.area.folder if named is None else named)
        self._files = inputs_seen.seen(ground.area.folder)
        self._drawing_of_job: dict[int, str] = {}
        self._planned = PlannedNumbers(ground.area.folder, self._files, state)
        self._spurs: dict[str, list[Any]] = {}  # lines of those planned on the newest drawings

    def calls(self) -> dict[str, Call]:
        """Give what the page may ask."""
        return {
            "area": self.area,
            "picture": self.picture,
            "judge": self.judge,
            "profile": self.profile,
            "save": self.save,
            "load": self.load,
            "drawings": self.drawings,
            "compare": self.compare,
            "way": self.way,
            "tree": self.tree,
            "stand": self.stand,
            "replan": self.replan,
            "replan_state": self.replan_state,
            "replan_stop": self.replan_stop,
            "outputs": self.outputs,
        }

    def warm(self) -> None:
        """Judge what is there, or a short line, so that the first stroke of a pen need not wait.

        The first call reads the ground under every rope and compiles the kernels: seconds.
        """
        draft = draft_of(self.ground.area)
        if not draft.trails:
            spot = self.ground.area.stand.representative_point()
            line = ((spot.x - WARM_M, spot.y), (spot.x + WARM_M, spot.y))
            draft = replace(draft, trails=(DraftTrail("M", "main", line),))
        try:
            self.judge({"draft": draft.as_json()})
            self.ground.scene(draft)  # for the picture of reach; a verdict does not need it
        except LayoutError as error:  # the page is told when it asks
            log.info("warming: %s", error)

    def area(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give the ground and what is drawn on it already."""
        del body
        area = self.ground.area
        out = ground_layers.layers(
            area, self.ground.terrain, self.ground.strips, self.ground.limits
        )
        corners = world_places.lonlat(area.crs, area.dem.bounds)
        if self.tiles:
            out["tiles_fit"] = world_places.tiles_fit(area.crs, area.dem.bounds)
        return out | {
            "lonlat": None if corners is None else {"corners": corners},
            "key": hashlib.sha256(str(area.folder.resolve()).encode("utf-8")).hexdigest()[:16],
            "folder": area.folder.name,
            "care": CARE,
            "note": not_on_the_map(area),
            "draft": draft_of(area).as_json(),
            "drawings": self._drawings(),
            "tiles": self.tiles or None,
        }

    def picture(self, body: dict[str, Any]) -> Picture:
        """Give a picture to lay under the drawing."""
        name, dem = body.get("name"), self.ground.area.dem
        if name == "hillshade":
            return Picture(pictures.shaded(dem), dem.bounds)
        if name == "slope":
            return Picture(pictures.sloped(dem), dem.bounds)
        if name == "reach":
            made = self.ground.scene(_draft(body))
            trails, site = judge.trails_of(made.area), made.area.landing
            if trails:
                found = reach.from_lines(
                    made,
                    [coordinates(t.line) for t in trails],
                    None if site is None else (site.centroid.x, site.centroid.y),
                    longest_m=SPURS_DEEP * made.area.settings.trails.spur_length_m,
                )
            elif site is not None:
                found = reach.from_site(made, site)
            else:
                raise InputError("draw a landing or a main trail first: reach counts from there")
            png, bounds = pictures.reached(made, found)
            return Picture(png, bounds)
        raise InputError(f"picture: {str(name)[:20]!r} is none of hillshade, slope, reach")

    def judge(self, body: dict[str, Any]) -> dict[str, Any]:
        """Judge a draft as it stands."""
        self.replans.rest()
        told = self._ground(body).judged(_draft(body))
        return told.answer | {"seq": body.get("seq")}

    def profile(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give the long section of one drawn trail."""
        made = self.ground.with_draft(_draft(body))
        wanted = body.get("trail")
        for trail in judge.trails_of(made.area):
            if trail.trail_id == wanted:
                st = station_table(self.ground.terrain, trail.line, trail.width_m)
                step = max(1, len(st) // 1000)
                keep = np.arange(0, len(st), step)
                return {
                    "trail": trail.trail_id,
                    "at_m": plain(st.at_m[keep], 1),
                    "x": plain(st.x[keep], 2),
                    "y": plain(st.y[keep], 2),
                    "z_m": plain(st.z[keep], 2),
                    "grade_pct": plain(st.grade_pct[keep], 1),
                    "cross_pct": plain(st.cross_pct[keep], 1),
                }
        raise InputError(f"profile: no trail {str(wanted)[:20]!r} in the drawing")

    def way(self, body: dict[str, Any]) -> dict[str, Any]:
        """Find the best way to a place; shown first, kept only when the user says so."""
        draft, kind = _draft(body), body.get("kind")
        to = body.get("to")
        if kind not in ("main", "arm", "spur"):
            raise InputError("way: kind is main, arm or spur")
        if not isinstance(to, list) or len(to) != 2 or not all(_number(v) for v in to):
            raise InputError("way: to is a place, [x, y]")
        ground = self._ground(body)
        area = ground.with_draft(draft).area
        trails = judge.trails_of(area) if kind != "main" else ()
        landing_ = None
        if area.landing is not None:
            landing_ = landing.measure(area, ground.terrain, ground.strips, area.landing)
        given = ground.ways(draft, area, main=kind != "spur")
        try:
            lines = [coordinates(t.line) for t in trails]
            found = way_to(given, landing_, lines, (float(to[0]), float(to[1])))
        except NoWayError as error:
            text = str(error)
            return {"line": None, "words": f"{text[0].upper()}{text[1:]}."}
        joins = trails[found.host].trail_id if found.host >= 0 else ""
        start = f"Off trail {joins}," if joins else "From the landing,"
        return {
            "line": plain(found.line, 2),
            "joins": joins,
            "length_m": plain(found.measured.stations.at_m[-1], 1),
            "words": f"{start} within the limits in force:",
        }

    def tree(self, body: dict[str, Any]) -> dict[str, Any]:
        """Describe one stem."""
        area = with_marks(self._ground(body).area, _draft(body))  # a bad outline is no matter here
        return tree_card.card(area, self.ground.sizes, str(body.get("tree")))

    def stand(self, body: dict[str, Any]) -> dict[str, Any]:
        """Say what marks and lines take from the stand, and what they leave."""
        area = self._ground(body).with_draft(_draft(body)).area
        cleared = [*area.landings, *(benching.footprint(t, None) for t in judge.trails_of(area))]
        treatment = treat(area, cleared, whole=False)
        found = check_treatment(area, self.ground.terrain, treatment, area.yard)
        return {
            "sentences": said(area, treatment),
            "findings": [judge.told(finding) for finding in ordered(found)],
        }

    def save(self, body: dict[str, Any]) -> dict[str, Any]:
        """Save a drawing in the area's folder."""
        based_on = body.get("based_on")
        if based_on is not None and not _is_version(based_on):
            raise InputError("save: based_on is the number of a version, or null")
        area = self.ground.area
        kept = keeping.save(area.folder, area.crs, _draft(body), _name(body, "save"), based_on)
        return {"name": kept.name, "version": kept.version, "saved": kept.saved}

    def load(self, body: dict[str, Any]) -> dict[str, Any]:
        """Read a drawing of the area's folder, or an earlier version of it."""
        area, version = self.ground.area, body.get("version")
        if version is not None and not _is_version(version):
            raise InputError("load: version is the number of a version, or null")
        kept = keeping.load(area.folder, area.crs, _name(body, "load"), version)
        self._take_in()
        return {
            "name": kept.name,
            "version": kept.version,
            "draft": kept.draft.as_json(),
            "spurs": self._spurs.get(text_of(kept.draft)),
        }

    def drawings(self, body: dict[str, Any]) -> dict[str, Any]:
        """List the drawings of the area's folder."""
        del body
        return {"drawings": self._drawings()}

    def replan(self, body: dict[str, Any]) -> dict[str, Any]:
        """Plan a drawing in the background; the one before is given up."""
        draft, units = _draft(body), wanted(body.get("units"), self.ground.area)
        self.ground.with_draft(draft)  # what cannot be planned is told at once
        words = inputs_seen.changed(self._files, inputs_seen.seen(self.ground.area.folder))
        job = self.replans.start(draft.as_json(), words, units)
        if not words:  # numbers of other files than the map has read are not compared
            self._remember(job, draft)
        return {"job": job} | ({"stale": True, "words": words} if words else {})

    def replan_state(self, body: dict[str, Any]) -> dict[str, Any]:
        """Tell how far a planning is."""
        job, seen = body.get("job"), body.get("seen", 0)
        if not isinstance(job, int) or not isinstance(seen, int):
            raise InputError("replan_state: job and seen are whole numbers")
        state = self.replans.state(job, seen)
        self._take_in()
        return state

    def replan_stop(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give a planning up."""
        job = body.get("job")
        if isinstance(job, int):
            self.replans.stop(job)
        return {"job": job}

    def outputs(self, body: dict[str, Any]) -> dict[str, Any]:
        """Plan a kept drawing and write the crew's files, as ``skidway plan`` does."""
        area = self.ground.area
        kept = keeping.load(area.folder, area.crs, _name(body, "outputs"))
        mended = ready(area.folder / "out")
        unchanged = not inputs_seen.changed(self._files, inputs_seen.seen(area.folder))
        job = self.replans.write(kept.name, area.folder / "out")
        if unchanged:
            self._remember(job, kept.draft)
        return {"job": job, "mended": mended}

    def compare(self, body: dict[str, Any]) -> dict[str, Any]:
        """Lay kept drawings side by side."""
        names = body.get("names")
        if not isinstance(names, list) or not 1 < len(names) <= MOST_COMPARED:
            raise InputError(f"compare: two to {MOST_COMPARED} names are expected")
        if not all(isinstance(name, str) for name in names):
            raise InputError("compare: a name is text")
        ground = self._ground(body)
        area, units = ground.area, ground.area.settings.area.units
        self._take_in()
        kept = [keeping.load(area.folder, area.crs, name) for name in names]
        judged = [ground.judged(one.draft) for one in kept]
        return compared.table(
            [one.name for one in kept],
            judged,
            [self._planned.get(text_of(one.draft)) for one in kept],
            units,
        )

    def _take_in(self) -> None:
        """Keep what was planned, whether or not a page was open to ask for it."""
        for job, drawing in list(self._drawing_of_job.items()):
            network = self.replans.planned(job)
            if network is None or self._drawing_of_job.pop(job, None) is None:
                continue
            self._planned.keep(drawing, network["lines"])
            self._spurs[drawing] = [
                t["line"] for t in network["trails"] if (t["kind"], t["source"]) == SPUR
            ]
            while len(self._spurs) > SPURS_KNOWN:
                self._spurs.pop(next(iter(self._spurs)), None)

    def _remember(self, job: int, draft: Draft) -> None:
        """Remember what drawing a job plans, so that its numbers can be compared."""
        self._take_in()
        self._drawing_of_job[job] = text_of(draft)
        for old in sorted(self._drawing_of_job)[:-JOBS_KNOWN]:
            self._drawing_of_job.pop(old, None)

    def _ground(self, body: dict[str, Any]) -> GroundRead:
        """Give the ground, spoken of in the units the page asks for."""
        return self.ground.said_in(wanted(body.get("units"), self.ground.area))

    def _drawings(self) -> list[dict[str, Any]]:
        out: list[dict[str, Any]] = []
        for name in keeping.names(self.ground.area.folder):
            try:
                kept = keeping.load(self.ground.area.folder, self.ground.area.crs, name)
            except InputError as error:  # one bad file must not hide the others
                out.append({"name": name, "version": None, "saved": "", "error": str(error)})
                continue
            out.append(
                {
                    "name": kept.name,
                    "version": kept.version,
                    "versions": [*keeping.versions(self.ground.area.folder, name), kept.version],
                    "saved": kept.saved,
                    "trails": len(kept.draft.trails),
                }
            )
        return out


def _name(body: dict[str, Any], call: str) -> str:
    name = body.get("name")
    if not isinstance(name, str):
        raise InputError(f"{call}: name is the name of a drawing, as text")
    return name


def _is_version(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value > 0


def _number(value: object) -> bool:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return abs(value) <= FARTHEST_M  # NaN is not


def _draft(body: dict[str, Any]) -> Draft:
    return read_draft(body.get("draft"))
