"""The phone's files: what is in static/, the service worker with the list of its tiers, and each tier as one answer."""

from __future__ import annotations

import gzip
import hashlib
from functools import lru_cache
from pathlib import Path

import brotli
from flask import Blueprint, Response, abort, request, send_from_directory
from werkzeug.security import safe_join

from fieldlog import shell

KEPT_PACKED = 256
"""As many files as there may be, packed once: what the app loads is a quarter then, also where no proxy packs."""

PACKING = "br", "gzip"
"""What a browser takes of these, the first first: over HTTPS, and at home, every browser takes both."""

BROTLI_QUALITY = 10
"""Of a tier of 480 KB: 114 KB in 0.3 s, once; 9 makes 121 KB in 0.1 s, 11 makes 111 KB in 0.7 s, gzip 136 KB."""

MEDIA_TYPES = {
    ".css": "text/css", ".html": "text/html", ".js": "text/javascript", ".json": "application/json", ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}  # fmt: skip
ALWAYS_THE_SAME = "public, max-age=31536000, immutable"
"""An address that names its version has never any other bytes: the worker has from the browser's cache what the page fetched."""


def blueprint(static: Path) -> Blueprint:
    """The routes of the files in a folder; it is looked at at each request, so an edited file is served at once."""
    routes = Blueprint("files", __name__)

    @routes.get("/sw.js")
    def service_worker() -> Response:
        return _text(shell.worker(static).encode(), ".js", {"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"})

    @routes.get("/")
    def page() -> Response:
        return _text(shell.page(static).encode(), ".html", {"Cache-Control": "no-cache"})

    @routes.get("/shell/<version>/")
    def kept_page(version: str) -> Response:
        _see_version(static, version)
        return _text(shell.kept_page(static).encode(), ".html", {"Cache-Control": ALWAYS_THE_SAME})

    @routes.get("/shell/<version>/<path:name>")
    def file_of_version(version: str, name: str) -> Response:
        _see_version(static, version)
        tier = name.removesuffix(".json")
        if tier in shell.TIERS:
            return _text(shell.pack(static, tier).encode(), ".json", {"Cache-Control": ALWAYS_THE_SAME})
        return _file(static, name, ALWAYS_THE_SAME)

    @routes.get("/<path:name>")
    def file(name: str) -> Response:
        return _file(static, name, "no-cache")

    return routes


def _see_version(static: Path, version: str) -> None:
    """A page of another version gets nothing of this one: its files never mix with ours."""
    if version != shell.shell(static).version:
        abort(404)


def _file(static: Path, name: str, cached: str) -> Response:
    suffix = Path(name).suffix
    if suffix not in MEDIA_TYPES:
        answer = send_from_directory(static, name)
        answer.headers["Cache-Control"] = cached
        return answer
    place = safe_join(str(static), name)
    if place is None or not Path(place).is_file():
        abort(404)
    return _text(shell.served(static, name), suffix, {"Cache-Control": cached})


def _text(text: bytes, suffix: str, headers: dict[str, str]) -> Response:
    """A text under its name, packed as the browser takes it; nothing of it where the browser has it."""
    answer = Response(text, mimetype=MEDIA_TYPES[suffix], headers=headers)
    answer.vary.add("Accept-Encoding")
    # The same file in another packing: equal, but not byte for byte.
    answer.set_etag(hashlib.sha256(text).hexdigest()[:16], weak=True)
    answer.make_conditional(request)
    packing = request.accept_encodings.best_match(PACKING)
    if answer.status_code == 200 and packing:
        answer.data = _packed(text, packing)
        answer.content_encoding = packing
    return answer


@lru_cache(maxsize=KEPT_PACKED)
def _packed(text: bytes, packing: str) -> bytes:
    if packing == "br":
        packed: bytes = brotli.compress(text, mode=brotli.MODE_TEXT, quality=BROTLI_QUALITY)
        return packed
    return gzip.compress(text, 9, mtime=0)
