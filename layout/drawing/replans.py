"""Planning in the background of the map: one job at a time, and the newest one wins.

A job runs in a process of its own, for it cannot be interrupted from within. Where a process
can be copied, one has read the area and plans each drawing in a copy; when a newer drawing
comes that is ended. Elsewhere the process itself is ended and one that stands ready takes
over, so the wait for its start is paid before anybody waits; while one stands ready no other
is started before there is something to look at: until then the job has the machine to itself.

While somebody draws the job rests, for the verdict under the pen comes first. Those that get
ready rest with it and no other is started, but not where none stands ready: what is drawn
next would wait for them.
"""

import pickle
import secrets
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from layout.drawing import forked
from layout.drawing.planner import LOST, Crew, Job, ended, sent, stopped, woken
from layout.errors import InputError
from layout.units import Units

BEGIN = (  # what is guarded may be told to rest, while it reads the program too
    "from layout.drawing.guard import stand_by; stand_by(); "
    "from layout.drawing.replan_child import main; main()"
)
KEPT = 20  # jobs whose end can still be asked for
REST_S = 0.3  # after a verdict, longer than a pause between two while a line is dragged
MOST_REST_S, WORK_S = 4.0, 1.0  # who draws on and on holds the planning back no longer than this
RESTS = "Waits while you draw:"
SPARES = 2  # a third edit in the same few seconds has to wait for a start; each holds 0.2 GB
FORKS = forked.POSSIBLE  # then there are no spares


class Replans:
    """Plans drawings of one area in the background.

    Parameters
    ----------
    named : Path
        The area's folder, or its settings file; each process reads it anew.
    """

    def __init__(self, named: Path) -> None:
        self._named = named
        self._lock = threading.Lock()
        self._jobs: dict[int, Job] = {}
        # a page that slept through a restart must not take another's job for its own
        self._last = secrets.randbelow(2**31) * 2**20  # a whole number in the browser too
        self._crew: Crew | None = None
        self._spares: list[Crew] = []
        self._closed = False
        self._drawn_until = self._rested_from = self._work_until = 0.0
        self._waking = False  # a thread waits to wake what rests

    def rest(self) -> None:
        """Let planning rest for a moment; a verdict is being waited for.

        A process that is stopped so knows nothing of it, whatever it is in the midst of.
        Where a system cannot do it, it goes on; but none is started.
        """
        if not self._lock.acquire(blocking=False):
            return  # a verdict waits for nobody
        try:
            now = time.monotonic()
            self._drawn_until = now + REST_S
            for crew in self._crews():
                if not crew.ended and (_busy(crew) or self._to_spare(crew)):
                    self._rests(crew, now)
        finally:
            self._lock.release()

    def _rests(self, crew: Crew, now: float) -> None:
        """Let one process rest; what is planned gets its turn in between."""
        if _busy(crew):
            if now < self._work_until:
                return
            if crew.resting and now - self._rested_from > MOST_REST_S:
                self._work_until = now + WORK_S
                woken(crew)
                return
        if not crew.resting:
            stopped(crew)
            if _busy(crew):
                self._rested_from = now
        self._wake_later()

    def _to_spare(self, crew: Crew) -> bool:
        """Tell whether one that gets ready is not needed for the next edit."""
        return not crew.ready and any(map(_stands, self._crews()))

    def _wake_later(self) -> None:
        """Go on once nobody draws."""
        if not self._waking:
            self._waking = True
            threading.Thread(target=self._wait, daemon=True).start()

    def _wait(self) -> None:
        while (left := self._drawn_until - time.monotonic()) > 0:
            time.sleep(left)
        with self._lock:
            self._waking = False
            self._wake()
            if self._looked():
                self._fill()

    def _wake(self) -> None:
        """Let go on what rests."""
        for crew in self._crews():
            woken(crew)

    def _crews(self) -> list[Crew]:
        return [*([] if self._crew is None else [self._crew]), *self._spares]

    def warm(self) -> None:
        """Start a process before it is needed; no more, for somebody draws meanwhile."""
        with self._lock:
            if self._crew is None and not self._closed:
                self._crew = self._started()

    def start(self, draft: dict[str, Any], note: str = "", units: Units | None = None) -> int:
        """Plan a drawing; one that is being planned is given up for it.

        Parameters
        ----------
        draft : dict
            As `Draft.as_json` gives it.
        note : str, optional
            Said with every step of it.
        units : {"us", "metric"}, optional
            What is said of the plan is said in these; the area's own by default.

        Returns
        -------
        int
            Number of the job.

        Raises
        ------
        InputError
            If files are being written: that is not given up half way.
        """
        with self._lock:
            self._make_room()
            if self._crew is None or self._crew.ended:
                self._crew = self._next()
                if not self._spares and not FORKS:
                    self._spares.append(self._started())
            task = {"draft": draft, "units": units, "out": None}
            return self._given(self._crew, Job(self._last + 1, note=note), task)

    def write(self, drawing: str, out: Path) -> int:
        """Plan a kept drawing and write the crew's files, as the command does.

        Parameters
        ----------
        drawing : str
            What it is called in the area's folder.
        out : Path
            Folder the finished plan is written to.

        Returns
        -------
        int
            Number of the job.

        Raises
        ------
        InputError
            If files are being written already.
        """
        with self._lock:
            self._make_room()
            idle = self._crew
            # a process of its own, which reads the area now: what was edited since counts
            self._crew = self._started()
            if idle is not None:
                if len(self._spares) < SPARES and not idle.ended and not FORKS:
                    self._spares.append(idle)
                else:
                    ended(idle)
            task = {"drawing": drawing, "out": str(out)}
            return self._given(self._crew, Job(self._last + 1, written=["under way"]), task)

    def _make_room(self) -> None:
        """Give up what is being planned, unless files are being written."""
        if self._closed:
            raise InputError("the map is being closed")
        busy = self._crew.job if self._crew is not None else None
        if busy is not None and _under_way(busy):
            if busy.written == ["under way"]:
                raise InputError("the crew's files are being written; wait until they are")
            self._end(busy)

    def _given(self, crew: Crew, job: Job, task: dict[str, Any]) -> int:
        """Give a process a job."""
        self._wake()  # what rests does not read
        self._last = job.number
        self._jobs[job.number] = job
        for old in sorted(self._jobs)[:-KEPT]:
            del self._jobs[old]
        crew.job, crew.copy = job, None
        crew.outbox.put({**task, "job": job.number})
        return job.number

    def state(self, number: int, seen: int) -> dict[str, Any]:
        """Tell how far a job is.

        Parameters
        ----------
        number : int
        seen : int
            The version of its layout that is known already; it is not given again.

        Returns
        -------
        dict

        Raises
        ------
        InputError
            If there is no such job.
        """
        with self._lock:
            job = self._jobs.get(number)
            if job is None:
                raise InputError("that planning is not known any more; plan again")
            crew = self._crew
            rests = RESTS if crew is not None and crew.job is job and crew.resting else ""
            return {
                "job": number,
                "state": job.state,
                "step": " ".join(part for part in (job.note, rests, job.step) if part),
                "version": job.version,
                "network": job.network if job.version > seen else None,
                "error": job.error,
                "written": job.written if job.state == "done" else [],
            }

    def planned(self, number: int) -> dict[str, Any] | None:
        """Give the proved layout of a job, however often it was looked at; None without one."""
        with self._lock:
            job = self._jobs.get(number)
            found = None if job is None else job.network
            return found if found is not None and found["final"] else None

    def stop(self, number: int) -> None:
        """Give a job up; one that writes files is left to end."""
        with self._lock:
            job = self._jobs.get(number)
            if job is not None and _under_way(job) and not job.written:
                self._end(job)

    def close(self) -> None:
        """End every process."""
        with self._lock:
            self._closed = True
            crews = self._crews()
            self._crew, self._spares = None, []
        for crew in crews:
            ended(crew)

    def _end(self, job: Job) -> None:
        job.state = "replaced"
        crew = self._crew
        if crew is None or crew.job is not job:
            return
        if crew.forks:
            crew.job = crew.copy = None
            crew.outbox.put({"give_up": True})
            woken(crew)  # while it gets ready it hears nothing where it rests
        else:
            ended(crew)
            self._crew = None

    def _next(self) -> Crew:
        """Give the process that has stood ready longest."""
        self._spares = [crew for crew in self._spares if not crew.ended]
        return self._spares.pop(0) if self._spares else self._started()

    def _looked(self) -> bool:
        """Tell whether nobody waits for a first look."""
        crew = self._crew
        return crew is None or crew.job is None or not _busy(crew) or crew.job.version > 0

    def _fill(self) -> None:
        """Have processes ready for what comes next; one is started after the other is ready.

        Two at once would both be late for an edit that comes soon. While somebody draws none is
        started, if one stands ready.
        """
        self._spares = [crew for crew in self._spares if not crew.ended]
        starts = any(not crew.ready for crew in self._spares)
        if FORKS or len(self._spares) == SPARES or starts or self._closed:
            return
        if time.monotonic() < self._drawn_until and any(map(_stands, self._crews())):
            self._wake_later()
            return
        self._spares.append(self._started())

    def _started(self) -> Crew:
        code = f"import sys; sys.path[:] = {sys.path!r}; {BEGIN}"
        crew = Crew(
            subprocess.Popen(
                [sys.executable, "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                start_new_session=True,  # a group of its own, its solvers with it
            ),
            forks=FORKS,
        )
        crew.outbox.put({"named": str(self._named), "forks": crew.forks})
        for work in (sent, self._heard):
            threading.Thread(target=work, args=(crew,), daemon=True).start()
        return crew

    def _heard(self, crew: Crew) -> None:
        """Listen to one process until it ends."""
        assert crew.process.stdout is not None
        while True:
            try:
                number, kind, value = pickle.load(crew.process.stdout)
            except (EOFError, OSError, pickle.UnpicklingError, ValueError):
                break
            with self._lock:
                self._heard_of(crew, number, kind, value)
        crew.process.wait()
        with self._lock:
            crew.ended = True
            job = crew.job
            if job is not None and _under_way(job):
                _failed(job, LOST)

    def _heard_of(self, crew: Crew, number: int, kind: str, value: Any) -> None:
        """Take in one message; one of a job that was given up says nothing any more."""
        if kind == "guarded":
            crew.guarded = True
            if crew.resting:
                stopped(crew)
            return
        crew.ready = True
        if kind == "ready" and self._looked():
            self._fill()
        job = crew.job
        if job is None or job.number != number or not _under_way(job):
            return
        if kind == "copy":
            crew.copy = value
            if crew.resting:
                stopped(crew)
            return
        ACTS[kind](job, value)
        if not _under_way(job):
            crew.copy = None
        if kind in ("network", "done", "failed"):
            self._fill()


def _busy(crew: Crew) -> bool:
    """Tell whether it plans; while it writes files it is left alone."""
    job = crew.job
    return job is not None and _under_way(job) and not job.written


def _stands(crew: Crew) -> bool:
    """Tell whether it could begin at once with what comes next."""
    free = crew.job is None or not _under_way(crew.job)
    return crew.ready and free and not crew.ended


def _under_way(job: Job) -> bool:
    return job.state in ("waiting", "running")


def _step(job: Job, value: str) -> None:
    job.state, job.step = "running", value


def _network(job: Job, value: dict[str, Any]) -> None:
    job.state, job.network = "running", value
    job.version += 1


def _written(job: Job, value: list[Any]) -> None:
    job.written = value


def _done(job: Job, value: None) -> None:
    del value
    job.state = "done"


def _failed(job: Job, value: str) -> None:
    job.state, job.error, job.written = "failed", value, []


ACTS: dict[str, Callable[[Job, Any], None]] = {
    "step": _step, "network": _network, "written": _written, "done": _done, "failed": _failed,
}  # fmt: skip
