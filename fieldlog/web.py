"""The web application: the one place where the parts meet, and the one where faults become answers."""

from __future__ import annotations

import logging
import os
import sqlite3
import time
from collections.abc import Callable
from datetime import datetime
from http import HTTPStatus
from pathlib import Path
from typing import Any

from flask import Flask, Response, g, jsonify, request
from werkzeug.exceptions import HTTPException
from werkzeug.middleware.proxy_fix import ProxyFix

from fieldlog import static_files
from fieldlog.access import routes as access
from fieldlog.access.bodies import MAX_BODY_BYTES
from fieldlog.access.guard import check_sender
from fieldlog.access.headers import add_headers
from fieldlog.closing import routes as closing
from fieldlog.disk import named
from fieldlog.errors import FieldlogError
from fieldlog.exports import routes as exports
from fieldlog.exports.downloads import Downloads
from fieldlog.gauge import routes as gauge
from fieldlog.gauge.works import Works
from fieldlog.imports import routes as imports
from fieldlog.imports.works import ImportWorks
from fieldlog.logs import REQUEST
from fieldlog.metrics import Requests
from fieldlog.openapi import routes as openapi
from fieldlog.openapi.operations import answer, operation
from fieldlog.openapi.shapes import group
from fieldlog.pack import routes as pack
from fieldlog.pack.kept import KeptParts
from fieldlog.package_data import packaged
from fieldlog.plan import routes as plan
from fieldlog.purging import routes as purging
from fieldlog.readiness import Readiness
from fieldlog.records.catalogue import CATALOGUE, Catalogue
from fieldlog.store import Programme, is_replaying
from fieldlog.sync import confirm_routes, photo_routes
from fieldlog.sync import routes as sync
from fieldlog.sync.confirming import Releases
from fieldlog.sync.opening import must_be_rebuilt, open_programme, open_to_serve
from fieldlog.sync.photo_copies import PhotoCopies
from fieldlog.sync.photos import PhotoShelf
from fieldlog.timesheets import routes as timesheets
from fieldlog.windows import routes as windows

SENTENCES = {
    400: "The server cannot read this request. Load the page again; nothing is lost.",
    404: "There is nothing at this address. Open the app at its first page.",
    405: "This address does not take that kind of request. Load the page again.",
    413: "The request is larger than this address accepts. Send it in smaller parts.",
    429: "Too many wrong codes came from this network. Wait a minute, then try again; ask a lead for a new code.",
    500: "The server had an error of its own; see its log. Phones keep their entries and send them again.",
}
WORDS = {413: "too-large", 429: "too-often"}
"""The fixed words of answers that no FieldlogError stands for; else the status's own name."""

METHODS = ("GET", "HEAD", "POST", "PATCH", "PUT", "DELETE", "OPTIONS")

log = logging.getLogger("fieldlog.requests")


def is_behind_proxy() -> bool:
    """Whether one proxy stands before the server and says, in X-Forwarded-*, who asked and how."""
    return os.environ.get("FIELDLOG_BEHIND_PROXY") == "1"


def create_app(data: Path, now: Callable[[], datetime], *, catalogue: Catalogue = CATALOGUE, is_rebuilt_later: bool = False) -> Flask:
    """
    The application for the programme in a folder.

    Args:
        data: the programme's folder.
        now: the server's clock, aware.
        catalogue: the record kinds.
        is_rebuilt_later: tables that an older version made are left to who serves (`rebuilding.py`), who then calls `take_up`.

    Returns:
        The Flask application; `app.extensions` has the `programme`, the `photo_shelf` and `photo_copies`, the `works` (records being worked
        out), the `releases`, the `imports` and the `pack_parts` of this server, and `take_up`, which goes on with what a stopped server left.

    Raises:
        NoProgramme: the folder holds none.
    """
    opened = open_to_serve if is_rebuilt_later else open_programme
    programme = opened(data, catalogue, int(now().timestamp() * 1000))
    shelf, copies = PhotoShelf(programme), PhotoCopies(programme, now)
    works, releases = Works(programme), Releases(programme, catalogue, now)
    import_works = ImportWorks(programme, catalogue, now)
    parts = KeptParts()
    app = Flask("fieldlog", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY_BYTES
    app.extensions.update(programme=programme, photo_shelf=shelf, photo_copies=copies, works=works, pack_parts=parts, releases=releases, imports=import_works)
    if is_behind_proxy():
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]
    for routes in (
        sync.blueprint(programme, catalogue, now, releases.want),
        photo_routes.blueprint(programme, catalogue, now, shelf, copies),
        access.blueprint(programme, now),
        confirm_routes.blueprint(programme, catalogue, now, releases),
        purging.blueprint(programme, catalogue, now),
        pack.blueprint(programme, catalogue, now, parts),
        windows.blueprint(programme, now),
        gauge.blueprint(programme, now, works),
        plan.blueprint(programme, now), timesheets.blueprint(programme, now), closing.blueprint(programme, now),
        exports.blueprint(programme, catalogue, now, Downloads(programme.path)),
        imports.blueprint(programme, catalogue, now, import_works),
        openapi.blueprint(catalogue), static_files.blueprint(packaged("static")),
    ):
        app.register_blueprint(routes)
    _answer_about_itself(app, programme)

    def take_up() -> None:
        copies.serve_pending()
        works.resume()
        releases.resume()
        import_works.resume()

    app.extensions["take_up"] = take_up
    if not must_be_rebuilt(programme):
        take_up()
    return app


def _answer_about_itself(app: Flask, programme: Programme) -> None:
    """Health, the headers, log lines and counts of every answer, and faults as answers."""
    app.add_url_rule("/healthz", "healthz", _IS_ALIVE(lambda: _health(programme)))
    readiness = Readiness(programme)
    app.add_url_rule("/readyz", "readyz", _IS_READY(lambda: _readiness(readiness)))
    requests = app.extensions["requests"] = Requests()
    app.before_request(_begin)
    app.before_request(lambda: check_sender(request))
    app.after_request(lambda answer: add_headers(answer, request))
    app.after_request(lambda answer: _note(answer, requests))
    app.log_exception = _log_fault  # type: ignore[assignment, method-assign]
    app.register_error_handler(FieldlogError, _own_fault)
    app.register_error_handler(HTTPException, _http_fault)
    app.register_error_handler(sqlite3.DatabaseError, _database_fault)


_IS_ALIVE = operation(
    "health", "Whether the server runs",
    {"200": answer("It does", group(["ok"], ok={"const": True}, rebuilding={"type": "boolean"}))}, open_to_all=True,
)  # fmt: skip
_IS_READY = operation(
    "readiness", "Whether the server can work: its database answers, its disk has room, its tables are not being rebuilt",
    {"200": answer("It can", group(["ready"], ready={"const": True}))}, open_to_all=True,
)  # fmt: skip


def _health(programme: Programme) -> Response:
    (entries,) = programme.db().conn.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()
    return jsonify(ok=True, entries=entries, rebuilding=is_replaying(programme.folder))


def _readiness(readiness: Readiness) -> Response:
    readiness.check()
    return jsonify(ready=True)


def _begin() -> None:
    g.begun_s = time.perf_counter()


def _note(answer: Response, requests: Requests) -> Response:
    """Count and log an answer by its route's pattern: an address may hold a secret, and a body anything."""
    route = request.url_rule.rule if request.url_rule else "none"
    taken_s = time.perf_counter() - g.begun_s
    requests.note(route, request.method if request.method in METHODS else "other", answer.status_code, taken_s)
    told = {"route": route, "status": answer.status_code, "ms": round(taken_s * 1000, 1), "received_bytes": request.content_length or 0}
    log.info("%s %s", request.method if request.method in METHODS else "other", route, extra={REQUEST: told})
    return answer


def _log_fault(fault: Any) -> None:
    """A fault of our own, by its route; `logs.py` leaves its message out."""
    log.error("A request met a fault at %s", request.url_rule.rule if request.url_rule else "none", exc_info=fault)


def _own_fault(fault: FieldlogError) -> Response:
    answer = _problem(fault.status, fault.word, fault.sentence, fault.fields)
    answer.headers.update(fault.headers)
    return answer


def _database_fault(fault: sqlite3.DatabaseError) -> Response:
    """A bad page or a disk that failed while reading; what is nobody's to mend but ours goes on to the log as a 500."""
    known = named(fault)
    if not isinstance(known, FieldlogError):
        raise fault
    return _own_fault(known)


def _http_fault(fault: HTTPException) -> Response:
    status = fault.code or 500
    word = WORDS.get(status, HTTPStatus(status).phrase.lower().replace(" ", "-"))
    answer = _problem(status, word, SENTENCES.get(status, fault.description or ""), {})
    answer.headers.extend([(name, value) for name, value in fault.get_headers() if name in ("Allow", "Retry-After")])
    return answer


def _problem(status: int, word: str, sentence: str, fields: dict[str, str]) -> Response:
    """RFC 9457 problem details with our fixed word and the fields at fault."""
    answer = jsonify(
        type="about:blank", title=HTTPStatus(status).phrase, status=status, word=word, detail=sentence, fields=fields
    )
    answer.status_code = status
    answer.mimetype = "application/problem+json"
    return answer
