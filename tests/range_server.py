"""A small web server on this machine that sends parts of files, or fails in a chosen way."""

import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

Failing = Callable[["Handler", bytes], None]


class Shelf(ThreadingHTTPServer):
    """Files by path, what was asked for, and how many bytes of them went out."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.files: dict[str, bytes] = {}
        self.failing: Failing | None = None
        self.asked: list[tuple[str, str]] = []
        self.headers: list[dict[str, str]] = []
        self.sent = 0
        self.connections = 0
        self.etag = '"1"'
        self.let_go = threading.Event()  # ends a stall, so that no thread is left

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}"

    def verify_request(self, *_: object) -> bool:
        self.connections += 1
        return True

    def handle_error(self, *_: object) -> None:
        """Say nothing: the other side may go whenever it likes."""


class Handler(BaseHTTPRequestHandler):
    server: Shelf
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        shelf = self.server
        shelf.asked.append((self.path, self.headers.get("Range", "")))
        shelf.headers.append(dict(self.headers))
        if shelf.failing is not None:
            shelf.failing(self, shelf.files.get(self.path, b""))
            return
        if self.path not in shelf.files:
            self.answer(404, b"nothing here")
            return
        self.part(shelf.files[self.path])

    def asked_range(self, data: bytes) -> tuple[int, int]:
        match = re.fullmatch(r"bytes=(\d+)-(\d+)", self.headers.get("Range", ""))
        assert match is not None
        return int(match[1]), min(int(match[2]) + 1, len(data))

    def part(self, data: bytes, **more: str) -> None:
        start, stop = self.asked_range(data)
        if start >= len(data):
            self.answer(416, b"")
            return
        said = f"bytes {start}-{stop - 1}/{len(data)}"
        self.answer(206, data[start:stop], **({"Content-Range": said} | more))

    def answer(self, status: int, body: bytes, **headers: str) -> None:
        self.send_response(status)
        for name, value in ({"ETag": self.server.etag} | headers).items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.server.sent += len(body)  # before the other side can look
        self.wfile.write(body)


@contextmanager
def running(shelf: Shelf) -> Iterator[Shelf]:
    """Serve until the test is over."""
    thread = threading.Thread(target=shelf.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield shelf
    finally:
        shelf.let_go.set()
        shelf.shutdown()
        shelf.server_close()
        thread.join()
