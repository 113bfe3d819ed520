"""Bare servers: for the phone's modules, the tests' own, the shared vectors and the recorded storms; and for the app's files as they are served."""

from __future__ import annotations

import gzip
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from flask import Flask, Response, request

from fieldlog import static_files
from fieldlog.access.bodies import MAX_RECORD_BYTES
from fieldlog.access.headers import add_headers
from fieldlog.connections import open_server
from fieldlog.package_data import packaged
from fieldlog.shell import shell as shell_of
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


BY_THE_SERVER = len("HTTP/1.1 200 OK\r\nDate: Fri, 27 Nov 2026 00:00:00 GMT\r\nServer: waitress\r\n\r\n")
"""What the server itself puts before an answer of ours."""


@dataclass
class Shell:
    """A server of files alone, from a copy that a test may change."""

    folder: Path
    url: str = ""
    served: list[str] = field(default_factory=list)
    """The path of each request."""
    wire: list[tuple[str, int]] = field(default_factory=list)
    """Each answer's path and bytes, headers with them."""
    broken: set[str] = field(default_factory=set)
    """Files that a network in the way answers itself, by the end of their path."""

    @property
    def version(self) -> str:
        return shell_of(self.folder).version

    def change(self, name: str, more: str) -> None:
        file = self.folder / name
        file.write_text(file.read_text("utf-8") + more, "utf-8")

    def bytes_of(self, answer: Response) -> int:
        headers = sum(len(f"{name}: {value}\r\n") for name, value in answer.headers)
        return BY_THE_SERVER + headers + (answer.content_length or 0)


@pytest.fixture
def shell(tmp_path: Path) -> Iterator[Shell]:
    folder = tmp_path / "static"
    shutil.copytree(packaged("static"), folder)
    app = Flask("shell", static_folder=None)
    made = Shell(folder)

    @app.before_request
    def note() -> str | None:
        made.served.append(request.path)
        return "<html>log in first</html>" if request.path.endswith(tuple(made.broken)) and made.broken else None

    @app.after_request
    def count(answer: Response) -> Response:
        add_headers(answer, request)
        made.wire.append((request.path, made.bytes_of(answer)))
        return answer

    app.register_blueprint(static_files.blueprint(folder))
    server = open_server(app, "127.0.0.1", 0, threads=8, most_body_bytes=MAX_RECORD_BYTES, is_behind_proxy=False)
    running = threading.Thread(target=server.run)
    running.start()
    made.url = f"http://127.0.0.1:{server.effective_port}"
    yield made
    server.stop()
    running.join()
