"""HTTP of the record declarations: the OpenAPI document."""

from __future__ import annotations

import json
from functools import cache

from flask import Blueprint, Response

from fieldlog.records import openapi
from fieldlog.records.catalogue import Catalogue


def blueprint(catalogue: Catalogue) -> Blueprint:
    """The routes of a catalogue."""
    routes = Blueprint("records", __name__)
    made = cache(lambda: json.dumps(openapi.document(catalogue)))

    @routes.get("/api/openapi.json")
    def document() -> Response:
        return Response(made(), mimetype="application/json")

    return routes
