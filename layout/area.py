"""Files to a checked Area in one CRS; all faults of the inputs reported at once."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import pyproj
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout import read_features as features
from layout import read_land as land
from layout.errors import InputError, InputFaults
from layout.findings import Finding, ordered
from layout.frozen import landings_of, settle
from layout.grid import Dem
from layout.owner_lines import line_trees, stand_trees, widened
from layout.plots import Plots
from layout.progress import claims, with_done, with_turns
from layout.projection import crs_named, place_of, set_readers
from layout.raster_window import for_stand
from layout.read_dem import open_dem, read_window
from layout.read_fixed import fixed_lines
from layout.read_landing import (
    emergency_places,
    further_landings,
    landing_shapes,
    place_on_grid,
)
from layout.read_lines import walked_error_m
from layout.read_log import read_log
from layout.read_main import main_trail_lines
from layout.read_plots import read_plots
from layout.read_progress import earlier_plan, progress_rows
from layout.read_stand import stand_of
from layout.read_trees import TreeFile, read_trees
from layout.read_vector import Layer, read_layer, split_name
from layout.rule_files import NO_RULE_CHOSEN, load_rule
from layout.settings import AreaSettings, load_settings
from layout.settings.loading import settings_file
from layout.shape_kinds import Wanted
from layout.site import (
    Area,
    FixedTrail,
    FurtherLanding,
    Hazard,
    NamedLine,
    ProgressRow,
    Trees,
    WaterFeature,
)
from layout.soil_map import soil_units
from layout.tiles import Raster
from layout.tree_places import Ground
from layout.work_records import LoggedLoad

T = TypeVar("T")
U = TypeVar("U")
R = TypeVar("R", WaterFeature, Hazard)

BEYOND_REACH_M = 60.0  # ground kept around the stand, beyond the cable's reach
FIELD_REACH_M = 300.0  # of a may_use field, this much around the stand is read


def read_area(path: str | Path, *, out: Path | None = None, offline: bool = False) -> Area:
    """Read a folder that describes one job.

    Parameters
    ----------
    path : str or Path
        The folder, or its area.toml.
    out : Path, optional
        Where the plan goes: names of a plan that stands there are kept. ``out``
        beside area.toml when left out.
    offline : bool
        Refuse elevations named by a web address.

    Returns
    -------
    Area
        Everything in one projected metric CRS; what was taken or doubted on the
        way stands in ``findings``.

    Raises
    ------
    InputError, InputFaults
        One line a fault: what, where, what to do.

    Examples
    --------
    >>> read_area("no/such/folder")
    Traceback (most recent call last):
        ...
    layout.errors.InputError: no/such/folder: no such folder or file; name the folder ...
    """
    file = settings_file(Path(path))
    settings, found = load_settings(file)
    set_readers()
    return _Reader(file, settings, offline=offline).read(found, out)


class _Collecting:
    """Keeps the faults of one input, so that the next can still be read."""

    def __init__(self, faults: list[str]) -> None:
        self.faults = faults

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: object
    ) -> bool:
        if isinstance(error, InputFaults):
            self.faults += error.faults
        elif isinstance(error, InputError):
            self.faults.append(str(error))
        else:
            return False
        return True


class _Reader:
    """One reading of one area: collects faults, then findings."""

    def __init__(self, file: Path, settings: AreaSettings, *, offline: bool = False) -> None:
        self.offline = offline
        self.name = file.name
        self.folder = file.resolve().parent
        self.settings = settings
        self.faults: list[str] = []
        self.found: list[Finding] = []
        self.accuracy_m: dict[str, float] = {}
        self.walked_m: dict[str, float | None] = {}
        self.crs = pyproj.CRS.from_epsg(4326)
        self.hint: pyproj.CRS | None = None

    def where(self, table: str, key: str) -> str:
        """Start a message: file, table and key."""
        return f"{self.name} [{table}] {key}:"

    def collecting(self) -> "_Collecting":
        """Keep a fault and go on to the next input."""
        return _Collecting(self.faults)

    def stop_if_faulty(self) -> None:
        """Raise all faults so far, each once."""
        faults = list(dict.fromkeys(self.faults))
        if len(faults) == 1:
            raise InputError(faults[0])
        if faults:
            raise InputFaults(faults)

    def read(self, found: tuple[Finding, ...], out: Path | None = None) -> Area:
        """Read all inputs, the ones others hang on first."""
        self.found += found
        raster, stand = self._raster_and_stand()
        trees = self._trees(raster, stand)
        plots, loads = self._plots(), self._log()
        property_line = self._shape("property", "line", "any", land.property_shape, None)
        may_use = self._shape("ground", "may_use", "polygon", _may_use, MultiPolygon())
        keep_out = self._shape("ground", "keep_out", "polygon", _keep_out, ())
        water_of = partial(features.water_features, classes=self._water_classes())
        water = self._shape("water", "features", "any", water_of, ())
        hazards = self._shape("access", "hazards", "any", features.hazard_features, ())
        existing = self._shape("ground", "existing_trails", "line", features.existing_trails, ())
        road = self._shape("ground", "access_road", "line", features.road_lines, ())
        soil = self._shape("soil", "map", "polygon", partial(soil_units, stand=stand), ())
        landings: tuple[Polygon, ...] = ()
        with self.collecting():
            landings, notes = landing_shapes(self.settings, self.layer, self.crs, self.name)
            self.found += notes
        mains: tuple[LineString | None, ...] = (None,)
        with self.collecting():
            mains, notes = main_trail_lines(self.settings, self.layer, landings, self.name)
            self.found += notes
        lines: tuple[NamedLine, ...] = ()
        with self.collecting():
            lines, notes = fixed_lines(self.settings, self.layer, self.folder, self.name)
            self.found += notes
        if stand is not None:
            with self.collecting():
                emergency_places(self.settings, stand, self.crs, self.name)
        if self.settings.trailer.at is not None:
            with self.collecting():
                place_on_grid(self.settings.trailer.at, self.crs, self.where("trailer", "at"))
        rows: tuple[ProgressRow, ...] | None = None
        with self.collecting():
            rows = progress_rows(self.folder)
        self.stop_if_faulty()
        assert raster is not None
        assert stand is not None
        assert trees is not None
        needed = bool(lines) or rows is not None
        earlier = None if out is None else earlier_plan(out, self.crs, needed=needed)
        if earlier is None:  # the first plan in a folder of its own goes on from the usual one
            earlier = earlier_plan(self.folder / "out", self.crs, needed=needed)
        unmarked = (name for name, cut in zip(trees.tree_id, trees.marked, strict=True) if not cut)
        said = claims(
            rows or (), trees.tree_id, unmarked, earlier, [line.trail_id for line in lines]
        )
        if not landings:
            landings, notes = landings_of(earlier, lines, said)
            self.found += notes
        walked = "main_trail.line" in self.walked_m
        walked_m = walked_error_m(self.walked_m["main_trail.line"]) if walked else None
        more = further_landings(landings, mains, earlier, walked_m)
        kept = settle(
            mains[0], shapely.union_all(landings) if landings else None, lines, said, earlier,
            self.where("trails", "fixed"), walked_m,
            {further.main_id: further.main for further in more if further.main is not None},
        )  # fmt: skip
        self.found += (*said.findings, *kept.findings)
        main = kept.main
        known = {trail.trail_id for trail in kept.trails}
        more = tuple(replace(m, main=None) if m.main_id in known else m for m in more)
        fixed = [trail.line for trail in kept.trails]
        drawn = [*landings, main, *(further.main for further in more), *fixed]
        keep = _outline([stand, *drawn, may_use & stand.buffer(FIELD_REACH_M)])
        margin = self.settings.winch.rope_reach_m + BEYOND_REACH_M
        dem, notes = read_window(
            raster, keep, margin, stand, self.settings.ground.elevation_unit,
            self.settings.area.units,
        )  # fmt: skip
        self._on_ground(dem, raster.name, landings, main, more, kept.trails)
        may_use, off = land.on_ground(may_use, dem.bounds, self.settings.ground.may_use or "")
        settings, notes_2 = widened(self.settings, self.accuracy_m, self.walked_m)
        area = Area(
            folder=self.folder,
            settings=settings,
            crs=self.crs,
            dem=dem,
            stand=stand,
            trees=with_done(trees, said.done, said.pieces),
            property_line=property_line,
            may_use=may_use,
            keep_out=keep_out,
            water=_near(water, dem.bounds),
            hazards=_near(hazards, dem.bounds),
            existing=existing,
            access_road=road,
            landing=landings[0] if landings else None,
            main_trail=main,
            fixed=kept.trails,
            main_fixed=kept.main_fixed,
            opened_positions=said.positions,
            progress=rows or (),
            earlier=with_turns(earlier, said.turns, said.carried),
            plots=plots,
            log=loads,
            main_walked_m=kept.main_walked_m,
            soil_map=soil,
            more_landings=more,
        )
        self.found += (
            *notes,
            *notes_2,
            *off,
            *stand_trees(area),
            *line_trees(area),
        )
        return replace(area, findings=ordered(self.found))

    def layer(self, table: str, key: str, text: str, wanted: Wanted) -> Layer:
        """Read a layer a key names, and keep how far off its place may be."""
        where, units = self.where(table, key), self.settings.area.units
        layer = read_layer(self.folder, text, where, wanted, self.crs, self.hint, units)
        self.accuracy_m[f"{table}.{key}"] = layer.accuracy_m
        if layer.walked:
            self.walked_m[f"{table}.{key}"] = layer.error_m
        return layer

    def _water_classes(self) -> set[str]:
        """Collect the classes of water the chosen rules have; a rule's faults are an input's."""
        classes: set[str] = set()
        for rule in self.settings.water.rules:
            with self.collecting():
                if rule == NO_RULE_CHOSEN:
                    raise InputError(
                        f"{self.where('water', 'rules')} {rule} is a stand-in and no rule of any "
                        "place; name the rule of yours, or leave the key out"
                    )
                classes.update(load_rule(rule, self.folder).classes)
        return classes

    def _shape(
        self,
        table: str,
        key: str,
        wanted: Wanted,
        take: Callable[[Layer], tuple[T, tuple[Finding, ...]]],
        left_out: U,
    ) -> T | U:
        """Read an optional layer and turn it into records."""
        text = getattr(getattr(self.settings, table), key)
        if not text:
            return left_out
        with self.collecting():
            taken, found = take(self.layer(table, key, text, wanted))
            self.found += found
            return taken
        return left_out

    def _raster_and_stand(self) -> tuple[Raster | None, MultiPolygon | None]:
        """Read the stand into the CRS the elevations settle."""
        raster, found = self._raster(), list(self.found)
        stand = self._stand()
        with self.collecting():
            if raster is not None and stand is not None:
                nearer = for_stand(raster, stand)
                if nearer is not raster:  # elevations of a whole land: the stand chooses the zone
                    self.crs, self.found = nearer.target, found
                    return nearer, self._stand()
        return raster, stand

    def _raster(self) -> Raster | None:
        """Open the elevation raster; it settles the CRS of everything."""
        where = self.where("ground", "dem")
        ground, named = self.settings.ground, self.settings.area.crs
        with self.collecting():
            if named is not None:
                self.hint = crs_named(named, self.where("area", "crs"))
            raster = open_dem(ground.dem, where, self.folder, self.hint, offline=self.offline)
            self.crs = raster.target
            return raster
        # Without a CRS nothing else can be judged; missing files still can.
        self._missing_files()
        self.stop_if_faulty()
        return None

    def _on_ground(
        self,
        dem: Dem,
        name: str,
        landings: tuple[Polygon, ...],
        main: LineString | None,
        more: tuple[FurtherLanding, ...],
        fixed: tuple[FixedTrail, ...],
    ) -> None:
        """Refuse a landing or trail that lies where no elevations are."""
        ground = box(*dem.bounds)
        drawn: list[tuple[str, BaseGeometry | None]] = [
            *(("[landing]", landing) for landing in landings),
            ("[main_trail] line", main),
            *(("[main_trail] line", further.main) for further in more),
            *((f"[trails] fixed: {trail.trail_id}", trail.line) for trail in fixed),
        ]
        for key, shape in drawn:
            if shape is not None and not ground.covers(shape):
                x, y = shape.representative_point().coords[0]
                self.faults.append(
                    f"{self.name} {key}: it lies at {x:.0f}, {y:.0f}, off the elevations of "
                    f"{name}; is it in the right CRS?"
                )
        self.stop_if_faulty()

    def _missing_files(self) -> None:
        """Tell of every other file that is not there."""
        for table, key in (
            ("stand", "boundary"), ("stand", "trees"), ("stand", "plots"), ("property", "line"),
            ("ground", "may_use"), ("ground", "keep_out"), ("ground", "existing_trails"),
            ("ground", "access_road"), ("water", "features"), ("access", "hazards"),
            ("landing", "shape"), ("main_trail", "line"), ("trails", "fixed"), ("work", "log"),
            ("soil", "map"),
        ):  # fmt: skip
            text = getattr(getattr(self.settings, table), key)
            if text:
                with self.collecting():
                    place_of(self.folder, split_name(text)[0], self.where(table, key))

    def _stand(self) -> MultiPolygon | None:
        """Read the stand; holes and parts are kept."""
        with self.collecting():
            layer = self.layer("stand", "boundary", self.settings.stand.boundary, "polygon")
            stand, found = stand_of(layer, self.where("stand", "boundary"))
            self.found += found
            return stand
        return None

    def _trees(self, raster: Raster | None, boundary: MultiPolygon | None) -> Trees | None:
        """Read the tree list."""
        stand = self.settings.stand
        with self.collecting():
            file = TreeFile(
                self.folder,
                stand.trees,
                self.where("stand", "trees"),
                stand.list == "all",
                stand.position_error_m,
                self.settings.area.units,
                Ground(raster.crs, boundary) if raster and boundary else None,
            )
            trees, found = read_trees(file, self.crs, self.hint)
            self.found += found
            return trees
        return None

    def _plots(self) -> Plots | None:
        """Read the sample plots, where there are any."""
        text, where = self.settings.stand.plots, self.where("stand", "plots")
        if not text:
            return None
        with self.collecting():
            plots, found = read_plots(place_of(self.folder, text, where), where)
            self.found += found
            return plots
        return None

    def _log(self) -> tuple[LoggedLoad, ...]:
        """Read the loads the user has timed, where there are any."""
        text, where = self.settings.work.log, self.where("work", "log")
        if not text:
            return ()
        with self.collecting():
            loads, found = read_log(place_of(self.folder, text, where), where)
            self.found += found
            return loads
        return ()


def _may_use(layer: Layer) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Take ground beside the stand that may be used."""
    return land.joined_polygons(layer, "may_use")


def _keep_out(layer: Layer) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Take ground closed to machines."""
    return land.closed_polygons(layer, "keep_out")


def _near(records: tuple[R, ...], bounds: tuple[float, float, float, float]) -> tuple[R, ...]:
    """Keep what lies near the ground that was read; a county's streams need not come along."""
    west, south, east, north = bounds
    reach = FIELD_REACH_M
    window = box(west - reach, south - reach, east + reach, north + reach)
    return tuple(record for record in records if record.geometry.intersects(window))


def _outline(shapes: list[BaseGeometry | None]) -> BaseGeometry:
    """Join what is there."""
    return shapely.union_all([shape for shape in shapes if shape is not None])
