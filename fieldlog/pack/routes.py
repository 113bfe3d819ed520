"""HTTP of the pack: its index, its parts, and the whole document that older apps ask for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, jsonify, request

from fieldlog.access.devices import ROLES, Device
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import NotJoined
from fieldlog.flags.reading import flags_of_unit
from fieldlog.openapi.operations import SITE, answer, in_header, in_path, in_query, operation
from fieldlog.openapi.shapes import group, list_of, ref, text
from fieldlog.pack.build import build_document, build_index
from fieldlog.pack.kept import KeptParts, Part, part_of
from fieldlog.pack.marks import pack_tag
from fieldlog.pack.parts import day_of, forms_part, state_part, tray_part, visits_part, windows_part
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

_IF_NONE_MATCH = in_header("If-None-Match", "The ETag that the phone has", text(), required=False)
_THE_SAME = answer("The phone has this one")
_PART = {"200": answer("The part", {"type": "object"}), "304": _THE_SAME}


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], kept: KeptParts) -> Blueprint:
    """The routes of the pack for one programme."""
    routes = Blueprint("pack", __name__)

    def reader() -> Device:
        device = current_device(request, programme.db())
        require(device, *ROLES)
        return device

    def whole(build: Callable[..., dict[str, Any]]) -> Response:
        db, device, at = programme.db(), reader(), now()
        if request.if_none_match.contains_weak(pack_tag(db, catalogue, device, day_of(at))):
            return Response(status=304)
        made = build(kept, db, catalogue, device, at)
        return _answer(part_of(made, made["etag"]))

    @routes.get("/api/pack")
    @operation(
        "pack", "What the server works out, in one document, for apps older than its parts",
        {"200": answer("The pack", ref("pack")), "304": _THE_SAME}, parameters=[_IF_NONE_MATCH],
    )  # fmt: skip
    def pack() -> Response:
        return whole(build_document)

    @routes.get("/api/pack/index")
    @operation(
        "pack_index", "What the pack is made of: the tag of each part",
        {"200": answer("The index", ref("pack_index")), "304": _THE_SAME, "204": answer("Nobody known: asked with only_known")},
        parameters=[_IF_NONE_MATCH, {**in_query("only_known", "No fault if no device is known by the token"), "required": False}],
    )  # fmt: skip
    def index() -> Response:
        try:
            return whole(build_index)
        except NotJoined:
            # A browser that does not know who it is only asks whether we do: that we do not is no fault.
            if "only_known" in request.args:
                return Response(status=204)
            raise

    @routes.get("/api/pack/forms")
    @operation("pack_forms", "The forms of each kind of record", _PART, parameters=[_IF_NONE_MATCH])
    def forms() -> Response:
        reader()
        return _answer(forms_part(kept, catalogue))

    @routes.get("/api/pack/tray")
    @operation("pack_tray", "Held lines, newest first (leads)", _PART, parameters=[_IF_NONE_MATCH])
    def tray() -> Response:
        lead = reader()
        require(lead, "lead")
        return _answer(tray_part(kept, programme.db(), lead))

    @routes.get("/api/pack/sites/<site_id>/windows")
    @operation("pack_windows", "A site's tide, Sun and windows of 400 days", _PART, parameters=[SITE, _IF_NONE_MATCH])
    def windows(site_id: str) -> Response:
        device = reader()
        site_for(programme.db(), device, site_id)
        return _answer(windows_part(kept, programme.db(), site_id, day_of(now()), device.role))

    @routes.get("/api/pack/sites/<site_id>/state")
    @operation("pack_state", "A site's closures, levels and gravest flags", _PART, parameters=[SITE, _IF_NONE_MATCH])
    def state(site_id: str) -> Response:
        device = reader()
        site_for(programme.db(), device, site_id)
        return _answer(state_part(kept, programme.db(), site_id, day_of(now()), device.role))

    @routes.get("/api/pack/sites/<site_id>/visits")
    @operation("pack_visits", "A site's visits and hours without people (readers' packs name it)", _PART, parameters=[SITE, _IF_NONE_MATCH])
    def visits(site_id: str) -> Response:
        site_for(programme.db(), reader(), site_id)
        return _answer(visits_part(kept, programme.db(), site_id))

    @routes.get("/api/pack/sites/<site_id>/units/<unit_id>/flags")
    @operation(
        "unit_flags", "A unit's flags, those too that were settled too long ago for the pack",
        {"200": answer("Open ones first", group(["flags"], flags=list_of({"type": "object"})))},
        parameters=[SITE, in_path("unit_id", "The unit's record id")],
    )  # fmt: skip
    def unit_flags(site_id: str, unit_id: str) -> Response:
        device = reader()
        site_for(programme.db(), device, site_id)
        return jsonify(flags=flags_of_unit(programme.db(), site_id, unit_id))

    return routes


def _answer(part: Part) -> Response:
    """A part as it was packed, unpacked for who takes no gzip, or 304 for who has it."""
    if request.if_none_match.contains_weak(part.etag):
        return Response(status=304)
    if request.accept_encodings.best_match(["gzip"]):
        answer = Response(part.packed, mimetype="application/json")
        answer.content_encoding = "gzip"
    else:
        answer = Response(part.text(), mimetype="application/json")
    answer.vary.add("Accept-Encoding")
    answer.set_etag(part.etag)
    return answer
