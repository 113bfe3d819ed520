"""HTTP of what is held about a person, and of forgetting them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.bodies import json_body
from fieldlog.access.guard import current_device, require
from fieldlog.errors import BadRequest
from fieldlog.openapi.operations import answer, in_path, json_of, operation
from fieldlog.openapi.shapes import group, list_of, text
from fieldlog.purging.copies import copies_of, phones_of
from fieldlog.purging.doing import forget
from fieldlog.purging.held import check_may_purge, held_about
from fieldlog.purging.naming import texts_naming
from fieldlog.purging.telling import told
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

_PERSON = in_path("person_id", "Who")
_ANY = {"type": "object"}


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> Blueprint:
    """The routes for leads of all of a person's sites."""
    routes = Blueprint("purging", __name__)

    @routes.get("/api/people/<person_id>/held")
    @operation(
        "held_about_person", "What is held about a person, and where (leads of all their sites)", {"200": answer("What is held", _ANY)},
        parameters=[_PERSON],
    )
    def held(person_id: str) -> Response:
        lead = current_device(request, programme.db())
        require(lead, "lead")
        found = held_about(programme.db(), catalogue, person_id, now().date())
        check_may_purge(found, lead.sites)
        return jsonify(told(programme, catalogue, found))

    @routes.post("/api/people/<person_id>/purge")
    @operation(
        "purge_person", "Forget a person for good (leads of all their sites)",
        {"200": answer("Forgotten: what is left to look at", group(["initials"], initials=text("The name as it is now"), named=list_of(_ANY)))},
        parameters=[_PERSON], refuses=("409",),
        body=json_of(group(["tag", "name"], tag=text("Of the report that was shown"), name=text("The person's name, as a second yes"))),
    )  # fmt: skip
    def purge(person_id: str) -> Response:
        lead = current_device(request, programme.db())
        require(lead, "lead")
        said = json_body(request)
        found = held_about(programme.db(), catalogue, person_id, now().date())
        check_may_purge(found, lead.sites)
        if not isinstance(said.get("name"), str) or not is_called(said["name"], found.name):
            raise BadRequest(f"Type the name as it stands here, {found.name}. Nothing was deleted.", {"name": "another name"})
        is_clean = forget(programme, catalogue, person_id, str(said.get("tag")), lead.person_id, now())
        named = texts_naming(programme.db(), catalogue, found.names, found.goes)
        return jsonify(
            initials=found.initials, is_clean=is_clean, named=named, copies=copies_of(programme), phones=phones_of(programme, set(found.sites)),
        )  # fmt: skip

    return routes


def is_called(typed: str, name: str) -> bool:
    """Whether a typed name is this one, whatever its case and spaces."""
    return typed.casefold().split() == name.casefold().split()
