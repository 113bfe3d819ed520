"""
An operation of the OpenAPI document, declared on the view that answers it, so that neither is without the other.

    @routes.get("/api/sites/<site_id>/water-records")
    @operation("water_records", "A site's records (leads)", {"200": answer("Newest first", shape)}, parameters=[SITE])
    def shown(site_id: str) -> Response:

Path and verb are the route's; the answers that are no success follow from what the operation is (`problems.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from fieldlog.openapi.shapes import Shape, text

JSON = "application/json"
OPEN_TO_ALL: list[dict[str, list[str]]] = []
OF_A_DEVICE: list[dict[str, list[str]]] = [{"device": []}]

_ON_A_VIEW = "_operations"
"""The attribute of a view that has its operations."""

View = TypeVar("View", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Operation:
    """What one verb of a view does, as the document says it; `verb` None is the only one that its route takes."""

    verb: str | None
    said: Shape


def operation(
    name: str, summary: str, answers: dict[str, Shape], *, body: Shape | None = None,
    open_to_all: bool = False, parameters: list[Shape] | None = None, refuses: tuple[str, ...] = (), verb: str | None = None,
) -> Callable[[View], View]:  # fmt: skip
    """
    Declare what a view answers.

    Args:
        name: the operation's id.
        summary: what it does, with the roles that may ask.
        answers: its successes by status; a refusal too, where it says more than its problem.
        body: what may be sent, by media type.
        open_to_all: whether it is answered without a device's token.
        parameters: parts of the path and the query, headers.
        refuses: the problems that do not follow from what it is.
        verb: which of its route's, where one view answers several.
    """
    said = {
        "operationId": name,
        "summary": summary,
        "security": OPEN_TO_ALL if open_to_all else OF_A_DEVICE,
        **({"parameters": parameters} if parameters else {}),
        **({"requestBody": {"required": True, "content": body}} if body else {}),
        **({"x-refuses": list(refuses)} if refuses else {}),
        "responses": answers,
    }

    def declared(view: View) -> View:
        setattr(view, _ON_A_VIEW, (*operations_of(view), Operation(verb, said)))
        return view

    return declared


def operations_of(view: Callable[..., Any]) -> tuple[Operation, ...]:
    """What was declared of a view."""
    declared: tuple[Operation, ...] = getattr(view, _ON_A_VIEW, ())
    return declared


def answer(about: str, shape: Shape | None = None, media_type: str = JSON, headers: Shape | None = None) -> Shape:
    """One possible answer."""
    content = {"content": {media_type: {"schema": shape}}} if shape is not None else {}
    return {"description": about, **content, **({"headers": headers} if headers else {})}


def json_of(shape: Shape) -> Shape:
    """A body of JSON."""
    return {JSON: {"schema": shape}}


def in_path(name: str, about: str, **says: Any) -> Shape:
    """A part of the path."""
    return {"name": name, "in": "path", "required": True, "description": about, "schema": text(**says)}


def in_header(name: str, about: str, shape: Shape, *, required: bool = True) -> Shape:
    """A header of the request."""
    return {"name": name, "in": "header", "required": required, "description": about, "schema": shape}


def in_query(name: str, about: str) -> Shape:
    """A part of the address after the question mark."""
    return {"name": name, "in": "query", "required": True, "description": about, "schema": text()}


SITE = in_path("site_id", "The site's record id")
