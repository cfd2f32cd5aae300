"""A file on the web, read in parts: only what is asked for is fetched.

The map library has a reader of its own, which follows moves, looks names up again
and takes proxies, cookies and keys from the environment and the home folder. This
one does none of that: it connects to numbers that were checked, once, with the
certificates of the system, and gives up where nothing comes.

A name that leads elsewhere at a second look is thereby of no use to anybody. Not
covered: how long the system takes to look a name up, a public machine that passes
requests on to others, and a file that comes slowly but steadily for hours.
"""

import http.client
import io
import logging
import re
import socket
import ssl
import time
from collections import OrderedDict
from typing import TYPE_CHECKING

from layout.errors import InputError
from layout.web_address import DOWNLOAD, WebAddress, checked_numbers

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

log = logging.getLogger(__name__)

STALL_S = 30.0  # nothing, or next to nothing, for so long is a stall
TRICKLE_BYTES = 16_384  # less than this in that time is next to nothing
PART_BYTES = 65_536  # what is fetched at least, and kept as one piece
KEPT_PARTS = 512  # 32 MB
MOST_BYTES = 400_000_000  # more than a stand's surroundings take from any sound file
HEAD_BYTES = 131_072  # an answer's head takes at most this much


class WebFile:
    """A file on the web, open for reading at any place.

    Parameters
    ----------
    address : WebAddress
        Where it lies. Said in the log (at level warning, so that a bare Python
        shows it on stderr) before anything is looked up.
    where : str
        Start of every message: file, table and key.
    stall_s : float, optional
        Seconds without news before it gives up; ``STALL_S`` when left out.

    Raises
    ------
    InputError
        If the host is not public, cannot be reached, does not send parts, or has
        no such file.
    """

    def __init__(self, address: WebAddress, where: str, *, stall_s: float | None = None) -> None:
        log.warning("opening %s", address.text)
        self.address = address
        self.where = where
        self.stall_s = STALL_S if stall_s is None else stall_s
        self.received = 0  # bytes of the file, for tests and the log
        self.size = 0
        self._version: str | None = None
        self._parts: OrderedDict[int, bytes] = OrderedDict()
        self._socket: socket.socket | None = None
        self._numbers = checked_numbers(address, where)
        self.read_at(0, 1)

    @property
    def name(self) -> str:
        """The file's own name."""
        return self.address.name

    def read_at(self, start: int, count: int) -> bytes:
        """Give bytes of the file, fewer at its end.

        Raises
        ------
        InputError
            If they do not come.
        """
        stop = start + count if not self.size else min(start + count, self.size)
        if stop <= start:
            return b""
        first, last = start // PART_BYTES, (stop - 1) // PART_BYTES
        found: dict[int, bytes] = {}
        run: list[int] = []
        for part in range(first, last + 1):
            if part in self._parts:
                self._parts.move_to_end(part)
                found[part] = self._parts[part]
            elif run and part == run[-1] + 1:
                run.append(part)
            else:
                found |= self._fetched(run)
                run = [part]
        found |= self._fetched(run)
        data = b"".join(found[part] for part in range(first, last + 1))
        offset = start - first * PART_BYTES
        return data[offset : offset + stop - start]

    def close(self) -> None:
        """Let go of the connection; what was fetched is kept."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _fetched(self, run: list[int]) -> dict[int, bytes]:
        """Fetch neighbouring parts in one request, and keep them."""
        if not run:
            return {}
        start, stop = run[0] * PART_BYTES, (run[-1] + 1) * PART_BYTES
        if self.size:
            stop = min(stop, self.size)
        if self.received + stop - start > MOST_BYTES:
            raise self._fault(
                f"more than {MOST_BYTES // 1_000_000} MB would have to be fetched; it is not "
                "laid out for reading in parts"
            )
        data = self._asked(start, stop)
        self.received += len(data)
        pieces = {part: data[k * PART_BYTES :][:PART_BYTES] for k, part in enumerate(run)}
        self._parts |= pieces
        while len(self._parts) > KEPT_PARTS:
            self._parts.popitem(last=False)
        return pieces

    def _asked(self, start: int, stop: int) -> bytes:
        """Ask for a range; once more where an idle connection was closed on us."""
        kept = self._socket is not None
        try:
            return self._exchanged(start, stop)
        except TimeoutError:
            self.close()
            raise self._fault(f"next to nothing came for {self.stall_s:g} s") from None
        except ssl.SSLCertVerificationError as error:
            self.close()
            raise self._fault(f"its certificate is not good ({error.verify_message})") from None
        except (OSError, http.client.HTTPException) as error:
            self.close()
            if kept:
                return self._asked(start, stop)
            raise self._fault(_why(error)) from None
        except BaseException:
            self.close()
            raise

    def _exchanged(self, start: int, stop: int) -> bytes:
        """Send one request and read its answer."""
        if self._socket is None:
            self._socket = self._connected()
        host = self.address.host if ":" not in self.address.host else f"[{self.address.host}]"
        lines = (
            f"GET {self.address.target} HTTP/1.1",
            f"Host: {host}:{self.address.port}",
            f"Range: bytes={start}-{stop - 1}",
            "Accept-Encoding: identity",
            "User-Agent: skidway",
            "",
            "",
        )
        self._socket.settimeout(self.stall_s)
        self._socket.sendall("\r\n".join(lines).encode("ascii"))
        wire = _Wire(self._socket, self.stall_s, stop - start + HEAD_BYTES)
        # The library's reader of answers asks its socket for nothing but this file.
        answer = http.client.HTTPResponse(wire, method="GET")  # type: ignore[arg-type]
        answer.begin()
        count = self._judged(answer, start, stop)
        data = answer.read(count)
        if len(data) < count:
            raise http.client.IncompleteRead(data, count - len(data))
        if answer.will_close or answer.read(1):
            self.close()
        return data

    def _connected(self) -> socket.socket:
        """Connect to the first of the checked numbers that answers."""
        fault: OSError = ConnectionError("no address")
        for number in self._numbers:
            try:
                plain = socket.create_connection(
                    (number, self.address.port), timeout=self.stall_s / len(self._numbers)
                )
            except OSError as error:
                fault = error
                continue
            plain.settimeout(self.stall_s)
            if self.address.scheme == "http":
                return plain
            try:
                return ssl.create_default_context().wrap_socket(
                    plain, server_hostname=self.address.host
                )
            except BaseException:
                plain.close()
                raise
        raise fault

    def _judged(self, answer: http.client.HTTPResponse, start: int, stop: int) -> int:
        """See that an answer is the range asked for; give the bytes it holds."""
        status = answer.status
        if 300 <= status < 400:
            moved = _plain(answer.headers.get("Location", "") or "another address")
            raise self._fault(f"it has moved to {moved}, and moves are not followed")
        if status == 200:
            raise self._fault("the server sends whole files only, not the part that is needed")
        if status != 206:
            words = {
                401: "it asks for a password",
                403: "the server refuses it",
                404: "there is no such file",
                410: "there is no such file any more",
                416: "it is empty",
            }
            raise self._fault(words.get(status, f"the server answers {status}"))
        if answer.headers.get("Content-Encoding", "identity").lower() != "identity":
            raise self._fault("the server packs what it sends, so that parts cannot be read")
        said = re.fullmatch(
            r"bytes (\d{1,18})-(\d{1,18})/(\d{1,18})", answer.headers.get("Content-Range", "")
        )
        if said is None or int(said[1]) != start:
            raise self._fault("the server sends another part than was asked for")
        end, size = int(said[2]) + 1, int(said[3])
        if end != min(stop, size):
            raise self._fault("the server sends another part than was asked for")
        version = answer.headers.get("ETag") or answer.headers.get("Last-Modified") or ""
        if self._version is not None and (size, version) != (self.size, self._version):
            raise self._fault("it was replaced while it was read; try again, or")
        self.size, self._version = size, version
        return end - start

    def _fault(self, why: str) -> InputError:
        """Say what failed, and the way out."""
        joint = " " if why.endswith(", or") else "; "
        return InputError(f"{self.where} {self.address.text}: {why}{joint}{DOWNLOAD}")


class WebReader:
    """A place in a `WebFile`, moved and read as a map library does.

    The library calls from code that can carry no error: one that happens is kept in
    `fault`, and every read after it finds the end of the file.

    Parameters
    ----------
    file : WebFile
    """

    def __init__(self, file: WebFile) -> None:
        self.file = file
        self.fault: BaseException | None = None
        self._at = 0

    def __enter__(self) -> "WebReader":
        """Give itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Do nothing: the file stays open for the next window."""

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Move to a place."""
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self.file.size}[whence]
        self._at = start + offset
        return self._at

    def tell(self) -> int:
        """Give the place."""
        return self._at

    def read(self, count: int = -1) -> bytes:
        """Read on from the place."""
        if self.fault is not None:
            return b""
        try:
            data = self.file.read_at(self._at, self.file.size if count < 0 else count)
        except BaseException as error:  # also an interruption: the caller raises it again
            self.fault = error
            return b""
        self._at += len(data)
        return data

    def close(self) -> None:
        """Do nothing, see `__exit__`."""


class _Wire(io.RawIOBase):
    """One answer as it comes in; stops at a stall, and where it does not end."""

    def __init__(self, plain: socket.socket, stall_s: float, most: int) -> None:
        super().__init__()
        self._socket, self._stall_s, self._left = plain, stall_s, most
        self._since = 0
        self._deadline = time.monotonic() + stall_s

    def makefile(self, _mode: str) -> io.BufferedReader:
        """Give itself as the file an answer is read from."""
        return io.BufferedReader(self)

    def readable(self) -> bool:
        """Say yes."""
        return True

    def readinto(self, buffer: "WriteableBuffer") -> int:
        """Take what has come."""
        now = time.monotonic()
        if now >= self._deadline:
            raise TimeoutError
        self._socket.settimeout(self._deadline - now)
        count = self._socket.recv_into(buffer)
        self._left -= count
        if self._left < 0:
            raise http.client.HTTPException("the answer does not end")
        self._since += count
        if self._since >= TRICKLE_BYTES:
            self._since, self._deadline = 0, time.monotonic() + self._stall_s
        return count


def _why(error: Exception) -> str:
    """Say in words why a connection failed."""
    if isinstance(error, ssl.SSLError):
        return "no secure connection is made"
    if isinstance(error, http.client.IncompleteRead | ConnectionError) and not isinstance(
        error, ConnectionRefusedError
    ):
        return "the connection broke off"
    if isinstance(error, OSError):
        return f"it cannot be reached ({(error.strerror or 'no answer').lower()})"
    return "the answer is not that of a web server"


def _plain(text: str) -> str:
    """Show a stranger's text as one short line."""
    return "".join(sign if " " <= sign <= "~" else "?" for sign in text)[:200]
