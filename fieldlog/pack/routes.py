"""HTTP of the pack."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, request

from fieldlog.access.guard import current_device
from fieldlog.errors import Revoked
from fieldlog.pack.build import build_pack, pack_etag
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> Blueprint:
    """The route of the pack for one programme."""
    routes = Blueprint("pack", __name__)

    @routes.get("/api/pack")
    def pack() -> Response:
        db, at = programme.db(), now()
        device = current_device(request, db)
        if device.revoked:
            raise Revoked("The lead ended this phone's access. What it has not sent yet can still be sent.")
        if request.if_none_match.contains_weak(pack_etag(db, catalogue, device, at)):
            return Response(status=304)
        made = build_pack(db, catalogue, device, at)
        body = json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode()
        answer = Response(body, mimetype="application/json")
        if request.accept_encodings.best_match(["gzip"]):
            answer.data = gzip.compress(body, 6)
            answer.content_encoding = "gzip"
        answer.vary.add("Accept-Encoding")
        answer.set_etag(made["etag"])
        return answer

    return routes
