"""HTTP of closing a season; for leads. What they decide is written into the log from their phone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.devices import Device
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.closing.open_matters import open_matters
from fieldlog.closing.successors import as_html, page_of
from fieldlog.openapi.operations import SITE, answer, operation
from fieldlog.openapi.shapes import group, list_of, text, whole
from fieldlog.store import Programme

_MATTER = group(["word", "count", "sentence", "details"], word=text(), count=whole(), sentence=text(), details=list_of(text()))


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The routes of closing a season."""
    routes = Blueprint("closing", __name__)

    def asked(site_id: str) -> tuple[Device, dict[str, Any]]:
        device = current_device(request, programme.db())
        require(device, "lead")
        return device, site_for(programme.db(), device, site_id)

    @routes.get("/api/sites/<site_id>/open-matters")
    @operation(
        "open_matters", "What is open at a site when its season is closed (leads)",
        {"200": answer("Each kind of thing, also where there is none", group(["matters"], matters=list_of(_MATTER)))}, parameters=[SITE],
    )  # fmt: skip
    def matters(site_id: str) -> Response:
        device, site = asked(site_id)
        found = open_matters(programme.db(), device, site_id, site["zone"], now())
        return jsonify(matters=[asdict(matter) for matter in found])

    @routes.get("/api/sites/<site_id>/successors")
    @operation(
        "successors", "The page for a site's next leads, one page of HTML (leads)",
        {"200": answer("The page", text(), "text/html")}, parameters=[SITE],
    )  # fmt: skip
    def successors(site_id: str) -> Response:
        device, site = asked(site_id)
        return Response(as_html(page_of(programme, device, site, now())), mimetype="text/html")

    return routes
