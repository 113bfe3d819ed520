"""A bare server for the phone's modules: static/, the tests' own modules, the shared vectors and the recorded storms."""

from __future__ import annotations

import gzip
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from tests.phone.phone_page import PhonePage

HERE = Path(__file__).parent
TESTS = HERE.parent
PLACES = {
    "/test/": HERE, "/vectors/": TESTS / "vectors", "/schedules/": TESTS / "storm_schedules", "/": TESTS.parent / "static",
}  # fmt: skip
MEDIA_TYPES = {".js": "text/javascript", ".json": "application/json"}


def file_at(path: str) -> bytes | None:
    """The file at an address; a packed one is unpacked."""
    if path == "/blank":
        return b"<!doctype html><title>bench</title>"
    start = next(start for start in PLACES if path.startswith(start))
    file = PLACES[start] / path.removeprefix(start)
    if file.is_file():
        return file.read_bytes()
    packed = file.with_name(f"{file.name}.gz")
    return gzip.decompress(packed.read_bytes()) if packed.is_file() else None


class Bench(BaseHTTPRequestHandler):
    """Serves files, and nothing else."""

    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        body = file_at(self.path.split("?")[0])
        self.send_response(404 if body is None else 200)
        self.send_header("Content-Type", MEDIA_TYPES.get(Path(self.path.split("?")[0]).suffix, "text/html"))
        self.send_header("Content-Length", str(len(body or b"")))
        self.end_headers()
        self.wfile.write(body or b"")

    def log_message(self, *_said: object) -> None:
        """Say nothing: a test's output is its own."""


@pytest.fixture(scope="session")
def bench_url() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Bench)
    server.daemon_threads = True
    running = threading.Thread(target=server.serve_forever)
    running.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()
    running.join()


@pytest.fixture
def bench(browser, bench_url: str):
    """An empty page from which the phone's modules can be imported."""
    page = browser.new_page()
    page.goto(f"{bench_url}/blank")
    yield page
    page.close()


@pytest.fixture
def context(browser, live_server):
    # Made after the server and closed before it: a server waits for the connections that are open.
    made = browser.new_context()
    yield made
    made.close()


@pytest.fixture
def lead(context, live_server) -> PhonePage:
    """A lead's phone that joined."""
    phone = PhonePage(context, live_server.url)
    phone.join(live_server.join_link("lead").split("=")[1])
    return phone
