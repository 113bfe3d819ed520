"""HTTP of the OpenAPI document, which is gathered from the routes of the application that serves it."""

from __future__ import annotations

import json
import re
from functools import cache

from flask import Blueprint, Flask, Response, current_app

from fieldlog.openapi.document import document
from fieldlog.openapi.operations import answer, operation, operations_of
from fieldlog.openapi.shapes import Shape
from fieldlog.records.catalogue import Catalogue

VERBS = {"GET", "POST", "PATCH", "PUT", "DELETE"}


def blueprint(catalogue: Catalogue) -> Blueprint:
    """The route of the document."""
    routes = Blueprint("openapi", __name__)

    @cache
    def made() -> str:
        return json.dumps(document(catalogue, paths_of(current_app)))

    @routes.get("/api/openapi.json")
    @operation("openapi", "This document", {"200": answer("OpenAPI 3.1", {"type": "object"})}, open_to_all=True)
    def told() -> Response:
        return Response(made(), mimetype="application/json")

    return routes


def paths_of(app: Flask) -> dict[str, Shape]:
    """What the views of an application say of themselves, by path and verb."""
    paths: dict[str, Shape] = {}
    for rule in app.url_map.iter_rules():
        for declared in operations_of(app.view_functions[rule.endpoint]):
            (only, *_) = VERBS & (rule.methods or set())
            path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule)
            paths.setdefault(path, {})[declared.verb or only.lower()] = declared.said
    return paths
