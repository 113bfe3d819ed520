"""
The OpenAPI 3.1 document of everything that a phone or a program can ask the server for.

Record schemas are those of the forms; what travels about them is said in `shapes.py`, and on the views that answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from apispec import APISpec

from fieldlog.openapi import shapes
from fieldlog.openapi.problems import with_problems
from fieldlog.openapi.shapes import Shape
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.records.forms import form_of

ABOUT = (
    "A field logger for living-shoreline reef units that works without a network. A phone writes entries, one JSON line "
    "each, and exchanges them with `POST /api/sync`; tables are what the entries amount to. Every answer under /api/ "
    "carries `X-Fieldlog: 1` and `Cache-Control: no-store`; an answer without it comes from another machine."
)


def document(catalogue: Catalogue, paths: Mapping[str, Shape]) -> dict[str, Any]:
    """
    The whole document, in plain JSON values; its version is the catalogue's, so that it changes with any field.

    Args:
        paths: the operations of each path by verb, as their views say them.
    """
    spec = APISpec("Fieldlog", catalogue.version, "3.1.0", info={"description": ABOUT})
    spec.components.security_scheme("device", {"type": "apiKey", "in": "cookie", "name": "__Host-fieldlog"})
    for kind in catalogue.kinds.values():
        spec.components.schema(f"{kind.name}_fields", _fields_of(kind))
        spec.components.schema(f"{kind.name}_line", shapes.line_of(kind))
    spec.components.schema("line", shapes.any_line(list(catalogue.kinds)))
    for name, shape in shapes.SHAPES.items():
        spec.components.schema(name, shape)
    for path, operations in sorted(paths.items()):
        spec.path(path=path, operations=with_problems(path, operations))
    return spec.to_dict()


def _fields_of(kind: Kind) -> dict[str, Any]:
    """An entry may name any of a kind's fields; what a complete record needs is said beside them."""
    form = form_of(kind)
    needed = form.pop("required", [])
    return {**form, "minProperties": 1, "x-required": needed}
