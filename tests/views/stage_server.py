"""A small web server for drawing screens: static/ with the product's headers, and the cardboard phone beside it."""

from __future__ import annotations

import contextlib
import io
import json
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from PIL import Image, ImageDraw

from fieldlog.access.headers import SECURITY

HERE = Path(__file__).parent
STATIC = HERE.parents[1] / "static"
MEDIA_TYPES = {
    ".html": "text/html; charset=utf-8", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml",
    ".png": "image/png", ".json": "application/json", ".webmanifest": "application/manifest+json",
}  # fmt: skip


def block_photo() -> bytes:
    """A drawn photo: one plain block on sand with water behind it."""
    image = Image.new("RGB", (640, 480), "#cbbfa5")
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 0, 640, 170), fill="#8fa9b3")
    pen.polygon(((230, 190), (410, 190), (460, 400), (180, 400)), fill="#77736b")
    made = io.BytesIO()
    image.save(made, "PNG")
    return made.getvalue()


def answers(pack: dict, folders: list[Path]) -> Callable[[str], tuple[bytes, str] | None]:
    """What each path gives: the stage's own page and data, else a file of the first folder that has it."""
    page = (STATIC / "index.html").read_text("utf-8").replace('src="start.js"', 'src="stage/stage.js"')
    own = {
        "/": (page.encode(), ".html"),
        "/stage_pack.json": (json.dumps(pack).encode(), ".json"),
        "/stage_photo.png": (block_photo(), ".png"),
    }

    def answer(path: str) -> tuple[bytes, str] | None:
        if path in own:
            return own[path]
        places = [HERE / path.removeprefix("/stage/")] if path.startswith("/stage/") else [one / path[1:] for one in folders]
        found = next((place for place in places if place.is_file()), None)
        return None if found is None else (found.read_bytes(), found.suffix)

    return answer


def serve(pack: dict, folders: list[Path]) -> ThreadingHTTPServer:
    """Start on a free loopback port, in a thread. Its `server_port` tells where; `shutdown()` ends it."""
    answer = answers(pack, folders)

    class Stage(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            given = answer(self.path.split("?")[0])
            self.send_response(404 if given is None else 200)
            body, kind = given or (b"", ".html")
            headers = {**SECURITY, "Content-Type": MEDIA_TYPES[kind], "Content-Length": str(len(body))}
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()
            with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # the page went on before it had all
                self.wfile.write(body)

        def log_message(self, *_said: object) -> None:
            """Say nothing: a test's output is its own."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Stage)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    return server
