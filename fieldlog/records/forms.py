"""
What the phone is told of each kind: JSON Schema with x-* words, enough to draw its form and to judge what is
typed.

    {"version": "12 hex", "kinds": {"unit_check": {"title", "type": "object", "properties": {name: {...}},
     "required": [names], "additionalProperties": false, "x-kind", "x-privacy", "x-writers", "x-rules"}}}
"""

from __future__ import annotations

from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow.openapi import OpenAPIConverter

from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind

_CONVERTER = OpenAPIConverter("3.1.0", lambda _schema: "", APISpec("Forms", "1", "3.1.0"))


def form_of(kind: Kind) -> dict[str, Any]:
    """The description of one kind, in plain JSON values."""
    said: dict[str, Any] = _CONVERTER.schema2jsonschema(kind.schema())  # type: ignore[no-untyped-call]
    return {
        "title": kind.title,
        **said,
        "x-kind": kind.name,
        "x-privacy": kind.privacy,
        "x-writers": sorted(kind.writers),
        "x-site-bound": kind.site_bound,
        "x-rules": kind.rules,
        **({"x-salted": True} if kind.salted else {}),
    }


def forms(catalogue: Catalogue) -> dict[str, Any]:
    """The descriptions of all kinds, with the version they are of."""
    return {
        "version": catalogue.version,
        "kinds": {name: form_of(kind) for name, kind in catalogue.kinds.items()},
    }
