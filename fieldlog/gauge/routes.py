"""HTTP of water-level records; for leads."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, jsonify, request
from sqlite_utils import Database

from fieldlog.access.bodies import long_json_body
from fieldlog.access.devices import Device
from fieldlog.access.guard import current_device, require
from fieldlog.errors import NotAllowed, NotHere
from fieldlog.gauge.kept import keep, records, seen
from fieldlog.gauge.works import Works
from fieldlog.store import Programme


def blueprint(programme: Programme, now: Callable[[], datetime], works: Works) -> Blueprint:
    """The routes of a site's water-level records."""
    routes = Blueprint("gauge", __name__)

    @routes.post("/api/sites/<site_id>/water-records/look")
    def look(site_id: str) -> Response:
        site = _site(programme.db(), _lead(programme), site_id)
        return jsonify(seen(long_json_body(request), site["zone"] or "UTC"))

    @routes.post("/api/sites/<site_id>/water-records")
    def bring(site_id: str) -> tuple[Response, int]:
        db = programme.db()
        site = _site(db, _lead(programme), site_id)
        asked = long_json_body(request)
        water_id = keep(db, site, str(asked.get("name") or "Logger"), asked, int(now().timestamp() * 1000))
        works.want(water_id)
        return jsonify(water_id=water_id), 202

    @routes.get("/api/sites/<site_id>/water-records")
    def shown(site_id: str) -> Response:
        db = programme.db()
        _site(db, _lead(programme), site_id)
        return jsonify(records=records(db, site_id))

    return routes


def _lead(programme: Programme) -> Device:
    device = current_device(request, programme.db())
    require(device, "lead")
    return device


def _site(db: Database, device: Device, site_id: str) -> dict[str, Any]:
    if device.sites is not None and site_id not in device.sites:
        raise NotAllowed("This site is not one of yours. Ask the lead who invited you.")
    site = next(db.query("SELECT * FROM site WHERE record_id = ? AND deleted = 0", [site_id]), None)
    if site is None:
        raise NotHere("There is no such site here. Sync once, then open it again.")
    return site
