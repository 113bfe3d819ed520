"""HTTP of the record declarations: the OpenAPI document."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify

from fieldlog.records import openapi
from fieldlog.records.catalogue import Catalogue


def blueprint(catalogue: Catalogue) -> Blueprint:
    """The routes of a catalogue."""
    routes = Blueprint("records", __name__)

    @routes.get("/api/openapi.json")
    def document() -> Response:
        return jsonify(openapi.document(catalogue))

    return routes
