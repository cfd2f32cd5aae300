"""Write a plan's files into its folder, all or none."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from pyogrio.errors import DataLayerError, DataSourceError

from layout.errors import OutputError
from layout.outputs import (
    about,
    bar_table,
    crew,
    geojson,
    geopackage,
    gpx,
    kml,
    overview,
    plan_json,
    rasters,
    report,
    swap,
    tree_table,
    turn_table,
)
from layout.outputs.device import degrees
from layout.outputs.device.work_stops import days
from layout.outputs.extras import NONE, Extras
from layout.pool import Pool, Tell

if TYPE_CHECKING:
    from layout.plan import Plan

log = logging.getLogger(__name__)

FILES = (
    geopackage.FILE_NAME,
    overview.FILE_NAME,
    crew.FILE_NAME,
    plan_json.FILE_NAME,
    tree_table.FILE_NAME,
    turn_table.FILE_NAME,
    bar_table.FILE_NAME,
    gpx.FILE_NAME,
    kml.FILE_NAME,
    report.FILE_NAME,
)
MANY_PULLS = 60  # ours, measured: about 4 s of sheets
IN_DEGREES = frozenset({gpx.FILE_NAME, kml.FILE_NAME})


@contextmanager
def sheets_beside(plan: Plan, *, workers: int) -> Iterator[Callable[[], bytes]]:
    """Have the crew's sheets drawn while the block goes on.

    Parameters
    ----------
    plan : Plan
        The plan. Options, limits and cautions do not stand on the sheets, so they may
        still be missing.
    workers : int
        With 2 and more the sheets are drawn in one process of their own or two, where that
        pays; a
        script that asks for it must keep its own work under
        ``if __name__ == "__main__":``.

    Yields
    ------
    callable
        Waits for the sheets and gives them, once; with one worker it draws them.
    """
    if workers == 1 or not _many_sheets(plan):
        yield partial(crew.bound, plan)
        return
    count = crew.parts(plan)
    tasks = [(plan, number, count) for number in range(count)]
    with Pool(workers) as pool, pool.beside(_part, tasks) as parts:
        yield lambda: crew.joined(plan, parts())


def write_plan(
    plan: Plan,
    folder: Path,
    extras: Extras = NONE,
    *,
    workers: int = 1,
    sheets: Callable[[], bytes] | None = None,
) -> Path:
    """Write every output of a plan into a folder, replacing an earlier plan there.

    The earlier plan is kept beside it, as ``<folder>.previous``.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        The folder; it is made if need be, its parent must exist.
    extras : Extras, optional
        What is written besides. Where the way to degrees is not known, files in degrees
        are left out.
    workers : int, optional
        As `sheets_beside` takes it.
    sheets : callable, optional
        Gives the crew's sheets of this layout, where `sheets_beside` draws them already.

    Returns
    -------
    Path
        The folder, with every link resolved.

    Raises
    ------
    OutputError
        If the folder holds files that are not ours, another run is writing it,
        a program holds one of its files open, or the disk does not take the
        files. Nothing has been replaced then.
    """
    target = folder.resolve()
    said = about.facts(plan)
    way = degrees.way(plan.area)  # where none is known, two files are left out
    by_day = days(plan) if extras.by_day and way is not None else ()
    files = (
        *(name for name in FILES if way is not None or name not in IN_DEGREES),
        *(gpx.DAY_NAME.format(number=day.number) for day in by_day),
        *((geojson.FILE_NAME,) if extras.geojson and way is not None else ()),
        *(rasters.NAMES if extras.rasters else ()),
    )
    with (
        swap.replaced(target) as new,
        _naming(target),
        nullcontext(sheets) if sheets else sheets_beside(plan, workers=workers) as drawn,
    ):
        with _naming(target / geopackage.FILE_NAME):
            geopackage.write(plan, new / geopackage.FILE_NAME, said)
        with _naming(target / tree_table.FILE_NAME):
            tree_table.write(plan, new / tree_table.FILE_NAME)
        with _naming(target / turn_table.FILE_NAME):
            turn_table.write(plan, new / turn_table.FILE_NAME)
        with _naming(target / bar_table.FILE_NAME):
            bar_table.write(plan, new / bar_table.FILE_NAME)
        with _naming(target / overview.FILE_NAME):
            overview.write(plan, new / overview.FILE_NAME)
        with _naming(target / report.FILE_NAME):
            report.write(plan, new / report.FILE_NAME)
        if way is not None:
            places = gpx.named(plan)
            with _naming(target / gpx.FILE_NAME):
                gpx.write(plan, new / gpx.FILE_NAME, way, there=places)
            with _naming(target / kml.FILE_NAME):
                kml.write(plan, new / kml.FILE_NAME, way)
            for day in by_day:
                name = gpx.DAY_NAME.format(number=day.number)
                with _naming(target / name):
                    gpx.write(plan, new / name, way, day, there=places)
            if extras.geojson:
                with _naming(target / geojson.FILE_NAME):
                    geojson.write(plan, new / geojson.FILE_NAME, way, said)
        if extras.rasters:
            with _naming(target):
                rasters.write(plan, new)
        with _naming(target / crew.FILE_NAME):
            (new / crew.FILE_NAME).write_bytes(drawn())
        with _naming(target / plan_json.FILE_NAME):  # last: it marks the folder as whole
            plan_json.write(plan_json.as_data(plan, said, files), new / plan_json.FILE_NAME)
    log.info("wrote %s", target)
    return target


def _many_sheets(plan: Plan) -> bool:
    """Say whether drawing the sheets takes longer than a process takes to start."""
    return len(plan.pulls) >= MANY_PULLS


def _part(task: tuple[Plan, int, int], tell: Tell) -> crew.Part:
    """Draw a part of the crew's sheets."""
    del tell
    return crew.part(*task)


@contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Name the file in whatever goes wrong while it is written."""
    try:
        yield
    except OutputError:
        raise
    except OSError as fault:
        raise OutputError(swap.reason(fault, path)) from fault
    except (sqlite3.OperationalError, DataSourceError, DataLayerError) as fault:
        msg = (
            f"cannot write {path}: {fault}; is the disk full? "
            "choose another folder with --out; nothing was replaced"
        )
        raise OutputError(msg) from fault
