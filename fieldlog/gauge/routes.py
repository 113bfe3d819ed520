"""HTTP of water-level records; for leads."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.bodies import long_json_body
from fieldlog.access.devices import Device
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import BadRequest
from fieldlog.gauge import readings
from fieldlog.gauge.kept import keep, records, seen
from fieldlog.gauge.works import Works
from fieldlog.openapi.operations import SITE, answer, json_of, operation
from fieldlog.openapi.shapes import group, list_of, or_null, text
from fieldlog.store import Programme

_FILE = group(["text"], text=text(), columns=or_null({"type": "object"}))
_RECORD = json_of(
    group(
        ["text"], name=text(), text=text("The logger's file, 16 MB at most"), columns=or_null({"type": "object"}),
        barometer=or_null(_FILE), control=or_null(_FILE), salinity_psu=or_null({"type": "number"}),
        temperature_c=or_null({"type": "number"}), zero_above_chart_datum_m=or_null({"type": "number"}),
    )
)  # fmt: skip


def blueprint(programme: Programme, now: Callable[[], datetime], works: Works) -> Blueprint:
    """The routes of a site's water-level records."""
    routes = Blueprint("gauge", __name__)

    @routes.post("/api/sites/<site_id>/water-records/look")
    @operation(
        "look_at_water_record", "How a logger's file would be read; stores nothing (leads)",
        {"200": answer("Columns, units, zone, first lines, questions", {"type": "object"})}, body=_RECORD, parameters=[SITE],
    )  # fmt: skip
    def look(site_id: str) -> Response:
        site = site_for(programme.db(), _lead(programme), site_id)
        return jsonify(seen(long_json_body(request), site["zone"] or "UTC"))

    @routes.post("/api/sites/<site_id>/water-records")
    @operation(
        "bring_water_record", "Store a logger's record and have it worked out (leads)",
        {"202": answer("Stored; its state is listed", group(["water_id"], water_id=text()))}, body=_RECORD, parameters=[SITE], refuses=("409",),
    )  # fmt: skip
    def bring(site_id: str) -> tuple[Response, int]:
        db = programme.db()
        site = site_for(db, _lead(programme), site_id)
        asked = long_json_body(request)
        name = asked.get("name") or "Logger"
        if not isinstance(name, str):
            raise BadRequest(f"name is {name!r}; give the record's name as a text.", {"name": "no text"})
        water_id = keep(db, site, name, asked, int(now().timestamp() * 1000))
        works.want(water_id)
        return jsonify(water_id=water_id), 202

    @routes.get("/api/sites/<site_id>/water-records")
    @operation(
        "water_records", "A site's records, their states and what came of them (leads)",
        {"200": answer("Newest first", group(["records", "readings"], records=list_of({"type": "object"}), readings=or_null({"type": "object"})))},
        parameters=[SITE],
    )  # fmt: skip
    def shown(site_id: str) -> Response:
        db = programme.db()
        site = site_for(db, _lead(programme), site_id)
        return jsonify(records=records(db, site_id), readings=readings.shown(readings.residuals_of_readings(db, site)))

    return routes


def _lead(programme: Programme) -> Device:
    device = current_device(request, programme.db())
    require(device, "lead")
    return device
