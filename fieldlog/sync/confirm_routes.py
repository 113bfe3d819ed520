"""HTTP of confirming a device after a restore."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.guard import current_device, require
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme
from fieldlog.sync.confirming import confirm_device


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> Blueprint:
    """The route for leads who confirm a device."""
    routes = Blueprint("confirming", __name__)

    @routes.post("/api/devices/<device_id>/confirm")
    def confirm(device_id: str) -> Response:
        lead = current_device(request, programme.db())
        require(lead, "lead")
        device = confirm_device(programme.db(), catalogue, lead, device_id, int(now().timestamp() * 1000))
        sites = None if device.sites is None else sorted(device.sites)
        return jsonify(device_id=device.device_id, role=device.role, sites=sites, person_id=device.person_id)

    return routes
