"""The phone's files: what is in static/, and the service worker with the list of its shell's files and their hashes."""

from __future__ import annotations

import gzip
import hashlib
import json
from functools import lru_cache
from pathlib import Path

from flask import Blueprint, Response, request, send_from_directory

PLACEHOLDER = "/*FILES*/{}"
NOT_SHELL = ("online/", "pictures/", "vendor/lazy/", "sw.js")
"""Fetched when they are wanted, or never by the app; screens in online/ can do nothing without the server."""

SHELL_SUFFIXES = (".html", ".js", ".css", ".json", ".webmanifest", ".svg", ".woff2")
"""PNG icons are the installer's, which fetches them itself; no screen shows one."""

KEPT_PACKED = 128
"""As many files as there may be, packed once: what the app loads is a third then, also where no proxy packs."""

MEDIA_TYPES = {".js": "text/javascript", ".webmanifest": "application/manifest+json"}


def shell_files(static: Path) -> dict[str, str]:
    """The path of each file the app needs without a network, "/" for the page itself, and its SHA-256."""
    files = {}
    for file in sorted(static.rglob("*")):
        name = file.relative_to(static).as_posix()
        if file.suffix in SHELL_SUFFIXES and not name.startswith(NOT_SHELL):
            path = "/" if name == "index.html" else f"/{name}"
            files[path] = hashlib.sha256(file.read_bytes()).hexdigest()
    return files


def worker(static: Path) -> str:
    """The service worker's text; it differs when any file of the shell does, and so the browser sees the new version."""
    text = (static / "sw.js").read_text("utf-8")
    return text.replace(PLACEHOLDER, json.dumps(shell_files(static), indent=0), 1)


def blueprint(static: Path) -> Blueprint:
    """The routes of the files in a folder; it is read at each request, so an edited file is served at once."""
    routes = Blueprint("files", __name__)

    @routes.get("/sw.js")
    def service_worker() -> Response:
        headers = {"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"}
        return _packed_for(Response(worker(static), mimetype="text/javascript", headers=headers))

    @routes.get("/")
    def page() -> Response:
        return _file(static, "index.html")

    @routes.get("/<path:name>")
    def file(name: str) -> Response:
        return _file(static, name)

    return routes


def _file(static: Path, name: str) -> Response:
    answer = send_from_directory(static, name, mimetype=MEDIA_TYPES.get(Path(name).suffix))
    answer.headers["Cache-Control"] = "no-cache"
    if Path(name).suffix not in SHELL_SUFFIXES:
        return answer
    # The same file in another packing: equal, but not byte for byte.
    answer.set_etag(answer.get_etag()[0] or "", weak=True)
    return _packed_for(answer)


def _packed_for(answer: Response) -> Response:
    """A text, packed where the browser takes gzip."""
    answer.vary.add("Accept-Encoding")
    if answer.status_code == 200 and request.accept_encodings.best_match(["gzip"]):
        answer.direct_passthrough = False
        answer.data = _packed(answer.get_data())
        answer.content_encoding = "gzip"
    return answer


@lru_cache(maxsize=KEPT_PACKED)
def _packed(text: bytes) -> bytes:
    return gzip.compress(text, 9, mtime=0)
