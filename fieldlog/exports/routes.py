"""HTTP of downloads: ask for one, take its bytes, see how far it is, stop it."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.bodies import json_body
from fieldlog.access.devices import ROLES, Device
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import NotHere
from fieldlog.exports.asking import asked_export
from fieldlog.exports.downloads import STATES, Downloads
from fieldlog.exports.formats import FORMATS
from fieldlog.exports.opening import open_export
from fieldlog.openapi.operations import answer, in_path, json_of, operation
from fieldlog.openapi.shapes import ID32, RECORD_ID, group, or_null, text, whole
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

_TICKET = in_path("ticket", "What asking for it gave", pattern="^[0-9a-f]{32}$")
_DAY = or_null(text(format="date"))
_ASKED = group(
    ["as"], **{"as": text(enum=list(FORMATS))}, site_id=or_null(RECORD_ID), from_day=_DAY, to_day=_DAY,
    kinds={"type": ["array", "null"], "items": text(), "minItems": 1, "description": "Tables by their names; null: all"},
    **{name: {"type": "boolean"} for name in ("names", "private", "history")},
)  # fmt: skip

log = logging.getLogger("fieldlog.exports")


def _still_sees(device: Device, sites: frozenset[str] | None) -> bool:
    return device.sites is None or (sites is not None and sites <= device.sites)


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], downloads: Downloads) -> Blueprint:
    """The routes of downloads."""
    routes = Blueprint("exports", __name__)

    def device() -> Device:
        asking = current_device(request, programme.db())
        require(asking, *ROLES)
        return asking

    @routes.post("/api/exports")
    @operation(
        "ask_for_data", "Ask for the program's data as a file: leads for all but medical notes, others for what is open",
        {"201": answer("A ticket for one download, and how many rows there are, about", group(["ticket", "rows"], ticket=ID32, rows=whole()))},
        body=json_of(_ASKED), refuses=("404", "422"),
    )  # fmt: skip
    def ask() -> tuple[Response, int]:
        asking = device()
        asked = asked_export(said := json_body(request), asking, catalogue)
        if said.get("site_id") is not None:
            site_for(programme.db(), asking, said["site_id"])
        with open_export(programme.path, catalogue, asked.wanted, now()) as export:
            about = export.count
        if asked.wanted.private:
            log.info("Contacts are exported to the lead's device %s.", asking.device_id)
        return jsonify(ticket=downloads.ask(asking.device_id, asked, about), rows=about), 201

    @routes.get("/api/exports/<ticket>")
    @operation(
        "data_progress", "How far a download of the own device is",
        {"200": answer("It", group(["rows", "about", "state"], rows=whole(), about=whole(), state=text(enum=list(STATES))))}, parameters=[_TICKET],
    )  # fmt: skip
    def progress(ticket: str) -> Response:
        download = downloads.of(device().device_id, ticket)
        return jsonify(rows=download.rows, about=download.about, state=download.state)

    @routes.get("/api/exports/<ticket>/file")
    @operation(
        "take_data", "The file, once",
        {"200": {"description": "Its bytes as they are written", "content": {form.media_type: {"schema": text()} for form in FORMATS.values()}}},
        parameters=[_TICKET], refuses=("422",), verb="get",
    )
    def file(ticket: str) -> Response:
        asking, at = device(), now()
        asked = downloads.of(asking.device_id, ticket).asked
        # What may leave is judged when it is asked for; a device that may have less by now asks again.
        if asked.wanted.role != asking.role or not _still_sees(asking, asked.wanted.sites):
            raise NotHere("What you may have has changed since you asked. Start the download again.")
        form = FORMATS[asked.form]
        # Who asks for the headers alone begins nothing.
        parts = () if request.method == "HEAD" else downloads.begin(asking.device_id, ticket, at)
        name = f"fieldlog {at.date().isoformat()}{form.suffix}"
        headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
        return Response(parts, mimetype=form.media_type, headers=headers)

    @routes.delete("/api/exports/<ticket>")
    @operation("stop_data", "Stop a download of the own device", {"204": answer("It ends")}, parameters=[_TICKET])
    def stop(ticket: str) -> tuple[str, int]:
        downloads.of(device().device_id, ticket).stop.set()
        return "", 204

    return routes
