"""Work shared out among processes, answered in the order it was asked.

Processes are always started afresh (``spawn``): a copy of a process that has compiled
kernels or used threads may abort. What is large is not sent: arrays of a megabyte and
more are written once into a temporary folder, and every process reads the same pages
of it; an array that comes back unchanged is the caller's own again.

A process started here dies with the one that started it, and takes along what it
started itself, such as a solver.
"""

import io
import multiprocessing
import os
import pickle
import signal
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import connection
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from layout.errors import LayoutError, WorkerError

Task = TypeVar("Task")
Result = TypeVar("Result")
Tell = Callable[[str], None]
Array = NDArray[Any]

LENT_BYTES = 1_000_000  # ours: a smaller array is quicker sent than written and read
PATIENCE_S = 5.0  # an idle process is given this long to end by itself


def cores() -> int:
    """Count the processors this process may use.

    Returns
    -------
    int
        At least 1.
    """
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return max(1, os.cpu_count() or 1)


class Pool:
    """Processes that share work, started when they are first needed.

    Use it as a context: none outlives the block.

    Parameters
    ----------
    workers : int, optional
        Most processes at once. With 1 everything happens here. A script that asks for
        more must keep its own work under ``if __name__ == "__main__":``, as each process
        reads that script again.
    """

    def __init__(self, workers: int = 1) -> None:
        self._most = workers
        self._crew: list[_Worker] = []
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._lent: _Lent | None = None

    def __enter__(self) -> Self:
        """Start nothing yet; the first tasks do."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the processes: at once where the block ends with an error."""
        self._end(PATIENCE_S if kind is None else 0.0)

    def run(
        self,
        function: Callable[[Task, Tell], Result],
        tasks: Sequence[Task],
        *,
        tell: Tell | None = None,
    ) -> list[Result]:
        """Work through some tasks, in processes of their own where more than one is allowed.

        Parameters
        ----------
        function : callable
            Takes a task, and what to tell progress to. With processes it must stand at
            the top of a module, and may change nothing it is handed.
        tasks : sequence
            What it is called with.
        tell : callable, optional
            Told a line now and then, in whatever order the lines come.

        Returns
        -------
        list
            One answer a task, in the order of the tasks.

        Raises
        ------
        WorkerError
            If a process ended without an answer.
        Exception
            What ``function`` raised, for the first task that raised; tasks before it
            have been finished, and no process is left.
        """
        told = tell or _untold
        count = min(self._most, len(tasks))
        if count <= 1:
            return [function(task, told) for task in tasks]
        try:
            lent = self._ready(count)
            packed = [lent.pack((function, task)) for task in tasks]
            return _shared_out(self._crew, packed, lent, told)
        except BaseException:
            self._end(0.0)
            raise

    @contextmanager
    def beside(
        self, function: Callable[[Task, Tell], Result], tasks: Sequence[Task]
    ) -> Iterator[Callable[[], list[Result]]]:
        """Have tasks done in processes of their own while the block goes on.

        Parameters
        ----------
        function : callable
            As `run` takes it.
        tasks : sequence
            What it is called with. Those there is a process for are begun now, the others
            when the answers are waited for.

        Yields
        ------
        callable
            Waits for the answers and gives them; raises as `run` does. It is called once.
            Where only one process is allowed, the tasks are done in that call.
        """
        if self._most <= 1:
            yield lambda: [function(task, _untold) for task in tasks]
            return
        try:
            lent = self._ready(min(self._most, len(tasks)))
            packed = [lent.pack((function, task)) for task in tasks]
            for number, (worker, _) in enumerate(zip(self._crew, packed, strict=False)):
                worker.begin(number, lent, packed)
            yield lambda: _shared_out(self._crew, packed, lent, _untold)
        except BaseException:
            self._end(0.0)
            raise

    def _ready(self, count: int) -> "_Lent":
        """See to it that there are processes enough."""
        if self._lent is None:
            self._folder = tempfile.TemporaryDirectory(
                prefix="skidway-", ignore_cleanup_errors=True
            )
            self._lent = _Lent(Path(self._folder.name))
        context = multiprocessing.get_context("spawn")
        with _deaf_to_interrupts():
            while len(self._crew) < count:
                mine, other = context.Pipe()
                process = context.Process(target=_serve, args=(other,))
                process.start()
                other.close()
                self._crew.append(_Worker(process, mine))
        return self._lent

    def _end(self, patience_s: float) -> None:
        """End every process, and forget what was lent."""
        crew, self._crew = self._crew, []
        for worker in crew:
            worker.link.close()
        for worker in crew:
            worker.process.join(patience_s)
            _end(worker.process)
        self._lent = None
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None


@dataclass(slots=True, eq=False)
class _Worker:
    process: Any  # of a spawn context; its own type differs by system
    link: "connection.Connection[Any, Any]"
    number: int = -1  # of its task; -1: idle

    def begin(self, number: int, lent: "_Lent", packed: Sequence[bytes]) -> None:
        """Hand over a task."""
        self.number = number
        with suppress(OSError):  # it has died: reading its answer says so
            self.link.send((number, lent.paths(), packed[number]))


def _untold(line: str) -> None:
    """Tell nobody."""


def _shared_out(crew: list[_Worker], packed: list[bytes], lent: "_Lent", tell: Tell) -> list[Any]:
    """Hand out tasks in order, but for those begun already, and gather the answers."""
    answers: dict[int, Any] = {}
    faults: dict[int, BaseException] = {}
    begun = max(worker.number for worker in crew) + 1
    while True:
        for worker in crew:
            if worker.number < 0 and begun < len(packed) and not faults:
                worker.begin(begun, lent, packed)
                begun += 1
        # after a fault only what comes before it still counts
        last = min(faults, default=len(packed))
        waited = [w for w in crew if 0 <= w.number < last]
        if not waited:
            break
        for ready in connection.wait([w.link for w in waited]):
            worker = next(w for w in waited if w.link is ready)
            kind, value = _heard(worker)
            if kind == "line":
                tell(value)
                continue
            if kind == "answer":
                answers[worker.number] = lent.unpack(value)
            else:
                faults[worker.number] = value
            worker.number = -1
    if faults:
        raise faults[min(faults)]
    return [answers[n] for n in range(len(packed))]


def _heard(worker: _Worker) -> tuple[str, Any]:
    """Read one message of a worker; its death is a fault."""
    try:
        kind, value = worker.link.recv()
    except (EOFError, OSError):
        msg = (
            "a process of this job ended without an answer (most often for want of memory); "
            "try again with fewer processes, or with nothing else running"
        )
        return "fault", WorkerError(msg)
    return kind, value


def _end(process: Any) -> None:
    """End a process and what it started."""
    if process.is_alive():
        if hasattr(os, "killpg"):
            with suppress(OSError):  # before it leads a group of its own there is none
                os.killpg(process.pid, signal.SIGKILL)
        process.kill()
    process.join()
    process.close()


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let processes started meanwhile ignore Ctrl-C: the one that waits for them ends them."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may change what a signal does
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _serve(link: "connection.Connection[Any, Any]") -> None:
    """Answer tasks until the other side closes the link."""
    # Before any kernel is loaded: libraries that would run them in parallel must not,
    # as two such threads can abort a process.
    os.environ["NUMBA_NUM_THREADS"] = "1"
    if hasattr(os, "setsid"):
        os.setsid()
    threading.Thread(target=_die_with_parent, daemon=True).start()
    known: list[Array] = []
    while True:
        try:
            _, paths, packed = link.recv()
        except EOFError:
            return
        known += [_read(path) for path in paths[len(known) :]]  # earlier ones are the same
        try:
            function, task = _Unpickler(packed, known).load()
            answer = function(task, lambda line: link.send(("line", line)))
            made = io.BytesIO()
            _Known(made, known).dump(answer)
            link.send(("answer", made.getvalue()))
        except Exception as error:
            link.send(("fault", _sendable(error)))


def _die_with_parent() -> None:
    """Wait for the process that started this one to end, and end then, group and all."""
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    if hasattr(os, "killpg"):
        os.killpg(os.getpid(), signal.SIGKILL)
    os._exit(1)


def _sendable(error: Exception) -> Exception:
    """Give an error as it is, or as text where it cannot be sent."""
    if not isinstance(error, LayoutError):  # a slip of ours: where it happened is all there is
        error.add_note("In a process of its own:\n" + "".join(traceback.format_exception(error)))
    error.__traceback__ = None
    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        return RuntimeError("".join(traceback.format_exception(error)))
    return error


def _read(path: str) -> Array:
    """Map an array of the temporary folder; what is written to it stays with this process."""
    return np.asarray(np.load(path, mmap_mode="c", allow_pickle=False))


class _Lent:
    """Large arrays that processes read from one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.arrays: list[Array] = []

    def pack(self, thing: object) -> bytes:
        """Pickle a thing, its large arrays by number."""
        made = io.BytesIO()
        _Lender(made, self).dump(thing)
        return made.getvalue()

    def unpack(self, packed: bytes) -> Any:
        """Undo `pack`, or what a worker did."""
        return _Unpickler(packed, self.arrays).load()

    def paths(self) -> tuple[str, ...]:
        """Give the file of each array."""
        return tuple(str(self._file(n)) for n in range(len(self.arrays)))

    def lend(self, array: Array) -> int:
        """Give the number of an array, written when it is first seen."""
        for number, known in enumerate(self.arrays):
            if known is array:
                return number
        np.save(self._file(len(self.arrays)), array, allow_pickle=False)
        self.arrays.append(array)
        return len(self.arrays) - 1

    def _file(self, number: int) -> Path:
        return self._folder / f"{number}.npy"


class _Lender(pickle.Pickler):
    """Writes the number of a large array in its place."""

    def __init__(self, file: io.BytesIO, lent: _Lent) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self._lent = lent

    def persistent_id(self, obj: Any) -> int | None:
        """Give the number of a large array; None: the thing is written itself."""
        if type(obj) is np.ndarray and obj.nbytes >= LENT_BYTES and not obj.dtype.hasobject:
            return self._lent.lend(obj)
        return None


class _Known(pickle.Pickler):
    """Writes the number of an array that was lent in its place."""

    def __init__(self, file: io.BytesIO, known: list[Array]) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self._number = {id(array): n for n, array in enumerate(known)}

    def persistent_id(self, obj: Any) -> int | None:
        """Give the number of an array that was lent; None: the thing is written itself."""
        return self._number.get(id(obj)) if type(obj) is np.ndarray else None


class _Unpickler(pickle.Unpickler):
    """Puts arrays in the place of their numbers."""

    def __init__(self, packed: bytes, known: list[Array]) -> None:
        super().__init__(io.BytesIO(packed))
        self._known = known

    def persistent_load(self, pid: Any) -> Any:
        """Give the array of a number."""
        return self._known[pid]
