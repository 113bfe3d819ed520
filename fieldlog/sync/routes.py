"""HTTP of sync: guard, call, answer."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime

from flask import Blueprint, Response, request

from fieldlog.access.bodies import sync_body
from fieldlog.access.budget import Budget
from fieldlog.access.guard import current_device, set_cookie
from fieldlog.pack.marks import pack_tag
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme
from fieldlog.sync.admission import Admission
from fieldlog.sync.receive import receive


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> Blueprint:
    """The route of sync for one programme."""
    routes = Blueprint("sync", __name__)
    budget, admission = Budget(), Admission()

    @routes.post("/api/sync")
    def sync() -> Response:
        db = programme.db()
        device, body = current_device(request, db), sync_body(request)
        budget.take_sync(db, device, body, now())
        with admission.of(body):
            reply = receive(
                db, body, catalogue, lambda: current_device(request, db), lambda: int(now().timestamp() * 1000)
            )
        device, at = current_device(request, db), now()
        budget.note_held(device, reply["acks"], at)
        reply["role"] = device.role
        reply["sites"] = None if device.sites is None else sorted(device.sites)
        reply["pack"] = None if device.revoked else pack_tag(db, catalogue, device, at.astimezone(UTC).date())
        answer = Response(json.dumps(reply, ensure_ascii=False, separators=(",", ":")), mimetype="application/json")
        set_cookie(answer, request)
        return answer

    return routes
