"""The calls of the page: each reads what came, asks a room that knows, and answers."""

import hashlib
from typing import Any

import numpy as np

from layout import benching, reach
from layout.checks import check_treatment
from layout.drawing import ground_layers, judge, keeping, pictures, tree_card
from layout.drawing.draft import Draft, read_draft
from layout.drawing.draft_area import draft_of
from layout.drawing.ground_read import GroundRead
from layout.drawing.plain import plain
from layout.drawing.server import Call, Picture
from layout.errors import InputError
from layout.findings import ordered
from layout.geometry import coordinates
from layout.outputs.stand_lines import said
from layout.terrain import station_table
from layout.treatment import treat

CARE = (
    "A map from elevations and dots knows nothing of soft ground, dead tops and what has changed. "
    "Walk and flag every line before a machine moves. Local law and licensed practice come first."
)
SPURS_DEEP = 3.0  # a spur off a spur off a spur, each as long as it may be


class Desk:
    """Answers the calls of one area's page.

    Parameters
    ----------
    ground : GroundRead
        The area's ground.
    tiles : str, optional
        Address of background tiles; empty: none.
    """

    def __init__(self, ground: GroundRead, tiles: str = "") -> None:
        self.ground, self.tiles = ground, tiles

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
            "tree": self.tree,
            "stand": self.stand,
        }

    def area(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give the ground and what is drawn on it already."""
        del body
        area = self.ground.area
        out = ground_layers.layers(
            area, self.ground.terrain, self.ground.strips, self.ground.limits
        )
        return out | {
            "key": hashlib.sha256(str(area.folder.resolve()).encode("utf-8")).hexdigest()[:16],
            "folder": area.folder.name,
            "care": CARE,
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
            made = self.ground.with_draft(_draft(body))
            trails, site = judge.trails_of(made.area), made.area.landing
            if trails:
                found = reach.from_lines(
                    made.scene,
                    [coordinates(t.line) for t in trails],
                    None if site is None else (site.centroid.x, site.centroid.y),
                    longest_m=SPURS_DEEP * made.area.settings.trails.spur_length_m,
                )
            elif site is not None:
                found = reach.from_site(made.scene, site)
            else:
                raise InputError("draw a landing or a main trail first: reach counts from there")
            png, bounds = pictures.reached(made.scene, found)
            return Picture(png, bounds)
        raise InputError(f"picture: {str(name)[:20]!r} is none of hillshade, slope, reach")

    def judge(self, body: dict[str, Any]) -> dict[str, Any]:
        """Judge a draft as it stands."""
        made = self.ground.with_draft(_draft(body))
        told = judge.judge(made.area, self.ground.terrain, self.ground.strips, made.scene)
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

    def tree(self, body: dict[str, Any]) -> dict[str, Any]:
        """Describe one stem."""
        area = self.ground.with_draft(_draft(body)).area
        return tree_card.card(area, self.ground.sizes, str(body.get("tree")))

    def stand(self, body: dict[str, Any]) -> dict[str, Any]:
        """Say what marks and lines take from the stand, and what they leave."""
        area = self.ground.with_draft(_draft(body)).area
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
        if based_on is not None and not (isinstance(based_on, int) and based_on > 0):
            raise InputError("save: based_on is the number of a version, or null")
        area = self.ground.area
        kept = keeping.save(
            area.folder, area.crs, _draft(body), str(body.get("name", "")), based_on
        )
        return {"name": kept.name, "version": kept.version, "saved": kept.saved}

    def load(self, body: dict[str, Any]) -> dict[str, Any]:
        """Read a drawing of the area's folder."""
        kept = keeping.load(self.ground.area.folder, self.ground.area.crs, str(body.get("name")))
        return {"name": kept.name, "version": kept.version, "draft": kept.draft.as_json()}

    def drawings(self, body: dict[str, Any]) -> dict[str, Any]:
        """List the drawings of the area's folder."""
        del body
        return {"drawings": self._drawings()}

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
                    "saved": kept.saved,
                    "trails": len(kept.draft.trails),
                }
            )
        return out


def _draft(body: dict[str, Any]) -> Draft:
    return read_draft(body.get("draft"))
