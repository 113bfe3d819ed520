"""The OpenAPI document names every address of the application, and no other, with the parts of its path."""

from __future__ import annotations

import re

METHODS = {"GET", "POST", "PATCH", "DELETE", "HEAD", "PUT"}
FILES = {"/", "/sw.js", "/{name}", "/shell/{version}/", "/shell/{version}/{name}"}


def test_what_is_served_is_what_is_told(app):
    told = {
        (path, method.upper())
        for path, said in app.test_client().get("/api/openapi.json").json["paths"].items()
        for method in said
        if method.upper() in METHODS
    }
    served = set()
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule)
        methods = (rule.methods or set()) & METHODS
        implied = set() if path == "/api/photos/{sha256}" else {"HEAD"}
        served |= {(path, method) for method in methods - implied if path not in FILES}
    assert served == told


def test_an_operation_names_each_part_of_its_path(app):
    for path, operations in app.test_client().get("/api/openapi.json").json["paths"].items():
        for verb, said in operations.items():
            named = [part["name"] for part in said.get("parameters", ()) if part["in"] == "path"]
            assert sorted(named) == sorted(re.findall(r"\{(\w+)\}", path)), (verb, path)


def test_no_operation_is_declared_twice(app):
    told = [said["operationId"] for operations in app.test_client().get("/api/openapi.json").json["paths"].values() for said in operations.values()]
    assert len(told) == len(set(told))
