"""HTTP of confirming a device after a restore."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.guard import current_device, require
from fieldlog.openapi.operations import answer, in_path, operation
from fieldlog.openapi.shapes import ref
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme
from fieldlog.sync.confirming import ANSWERED_AFTER_S, Releases, begin_confirming, finish_releasing


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], releases: Releases) -> Blueprint:
    """The route for leads who confirm a device."""
    routes = Blueprint("confirming", __name__)

    @routes.post("/api/devices/<device_id>/confirm")
    @operation(
        "confirm_device", "Confirm a device of a restored backup (leads)", {"200": answer("Confirmed", ref("device_scope"))},
        parameters=[in_path("device_id", "Which one")],
    )
    def confirm(device_id: str) -> Response:
        lead = current_device(request, programme.db())
        require(lead, "lead")
        device = begin_confirming(programme.db(), lead, device_id)
        if not finish_releasing(programme.db(), catalogue, int(now().timestamp() * 1000), ANSWERED_AFTER_S):
            releases.want()
        sites = None if device.sites is None else sorted(device.sites)
        return jsonify(device_id=device.device_id, role=device.role, sites=sites, person_id=device.person_id)

    return routes
