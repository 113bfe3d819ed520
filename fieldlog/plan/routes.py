"""HTTP of the visit plan; for leads, who then write it into the log from their phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.bodies import json_body
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import BadRequest
from fieldlog.plan.making import Asked, as_text, make_plan
from fieldlog.store import Programme

MOST_TEAMS = 20


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The route of plans."""
    routes = Blueprint("plan", __name__)

    @routes.post("/api/sites/<site_id>/plan")
    def plan(site_id: str) -> Response:
        db = programme.db()
        device = current_device(request, db)
        require(device, "lead")
        site = site_for(db, device, site_id)
        said = json_body(request)
        teams = said.get("teams", 1)
        if not isinstance(teams, int) or isinstance(teams, bool) or not 1 <= teams <= MOST_TEAMS:
            raise BadRequest(f"teams is {teams!r}; give a whole number from 1 to {MOST_TEAMS}.", {"teams": "1 to 20"})
        asked = Asked(said.get("window_id") or 1, teams, said.get("samples") is True, said.get("everything") is True)
        made = make_plan(db, site, asked, now())
        return jsonify({**made, "record": as_text(made)})

    return routes
