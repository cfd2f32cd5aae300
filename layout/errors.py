"""Every error a user of this package can meet.

The command line and the map catch the root; each kind also keeps the built-in
type a library user would expect.
"""


class LayoutError(Exception):
    """Root of all our errors; carries one message a user can act on."""


class InputError(LayoutError, ValueError):
    """Something handed in cannot be used: says what, where, and what to do."""


class InputFaults(InputError):  # noqa: N818 - several faults, not an error of its own
    """Several faults of one input, told together.

    Parameters
    ----------
    faults : sequence of str
        One line each: what, where, what to do.
    """

    def __init__(self, faults: "list[str] | tuple[str, ...]") -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))

    def __reduce__(self) -> "tuple[type[InputFaults], tuple[tuple[str, ...]]]":
        """Come back from another process with the faults still apart."""
        return type(self), (self.faults,)


class BeyondTableError(LayoutError, ValueError):
    """A published table was asked for a value outside the range it covers."""


class NoWayError(LayoutError):
    """A search ended without any way that keeps the limits."""


class SolverError(LayoutError, RuntimeError):
    """The solver's process ended without an answer."""


class WorkerError(LayoutError, RuntimeError):
    """A process that shared the work ended without an answer."""


class OutputError(LayoutError, OSError):
    """A result could not be written whole; nothing was replaced."""
