"""HTTP of the visit plan; for leads, who then write it into the log from their phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.bodies import json_body
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import BadRequest
from fieldlog.openapi.operations import SITE, answer, json_of, operation
from fieldlog.openapi.shapes import group, or_null, text, whole
from fieldlog.plan.making import Asked, as_lists, as_text, make_plan
from fieldlog.plan.roster import roster_page
from fieldlog.plan.sheet import page, sheet_of
from fieldlog.store import Programme

MOST_TEAMS = 20


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The route of plans."""
    routes = Blueprint("plan", __name__)

    @routes.post("/api/sites/<site_id>/plan")
    @operation(
        "plan", "Plan a visit: stops in order, what does not fit (leads); stores nothing",
        {"200": answer("The plan; `record`, the fields that make a visit_plan; `lists`, those of its further entries", {"type": "object"})},
        body=json_of(group(
            [], window_id=or_null(text()), teams=whole(minimum=1, maximum=MOST_TEAMS), samples={"type": "boolean"}, everything={"type": "boolean"},
        )),
        parameters=[SITE], refuses=("409", "422"),
    )  # fmt: skip
    def plan(site_id: str) -> Response:
        db = programme.db()
        device = current_device(request, db)
        require(device, "lead")
        site = site_for(db, device, site_id)
        made = make_plan(db, site, _asked(json_body(request)), now())
        return jsonify({**made, "record": as_text(made), "lists": as_lists(made)})

    @routes.get("/api/sites/<site_id>/sheet")
    @operation(
        "sheet", "The sheet of the next usable low for paper, one page of HTML (leads, crew)",
        {"200": answer("The page", text(), "text/html")}, parameters=[SITE], refuses=("409",),
    )  # fmt: skip
    def sheet(site_id: str) -> Response:
        db = programme.db()
        device = current_device(request, db)
        require(device, "lead", "crew")
        return Response(page(sheet_of(db, site_for(db, device, site_id), 1, now())), mimetype="text/html")

    @routes.get("/api/sites/<site_id>/roster")
    @operation(
        "roster", "The roster for paper, names with boxes, one page of HTML (leads, crew, desk)",
        {"200": answer("The page", text(), "text/html")}, parameters=[SITE],
    )  # fmt: skip
    def roster(site_id: str) -> Response:
        db = programme.db()
        device = current_device(request, db)
        require(device, "lead", "crew", "desk")
        return Response(roster_page(db, site_for(db, device, site_id), now()), mimetype="text/html")

    return routes


def _asked(said: dict[str, Any]) -> Asked:
    window, teams = said.get("window_id"), said.get("teams", 1)
    if window is not None and not isinstance(window, str):
        raise BadRequest(
            f"window_id is {window!r}; give a low tide's id, or null for the next one.", {"window_id": "no text"}
        )
    if type(teams) is not int or not 1 <= teams <= MOST_TEAMS:
        raise BadRequest(f"teams is {teams!r}; give a whole number from 1 to {MOST_TEAMS}.", {"teams": "1 to 20"})
    for name in ("samples", "everything"):
        if not isinstance(said.get(name, False), bool):
            raise BadRequest(f"{name} is {said[name]!r}; give true or false.", {name: "not true or false"})
    return Asked(1 if window is None else window, teams, said.get("samples", False), said.get("everything", False))
