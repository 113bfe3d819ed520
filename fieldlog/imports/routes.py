"""HTTP of imports: a file comes, is looked at, tried, taken or dropped; for leads, each of whom sees their own uploads."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, jsonify, request
from sqlite_utils import Database

from fieldlog.access.bodies import json_body
from fieldlog.access.devices import Device, sites_json
from fieldlog.access.guard import current_device, require, site_for
from fieldlog.errors import BadRequest, NotAllowed, NotHere
from fieldlog.imports import kept
from fieldlog.imports.kept import PIECE_BYTES, TAKING, Upload, upload_of
from fieldlog.imports.limits import MOST_BYTES, too_many_bytes
from fieldlog.imports.works import ImportWorks
from fieldlog.openapi.operations import answer, in_path, json_of, operation
from fieldlog.openapi.shapes import ID32, RECORD_ID, group, list_of, or_null, text
from fieldlog.questions.imports import changed_since, imports_of, unchanged_of_import
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

MOST_MAPPING_BYTES = 4 * 1024 * 1024
CHANGED_TOLD = 100

_UPLOAD = in_path("upload_id", "What choosing the file gave", pattern="^[0-9a-f]{32}$")
_STATE = group(["upload_id", "state"], upload_id=ID32, state=text())
_ANY = {"type": "object"}
_AT_SITE = {"name": "site_id", "in": "query", "required": False, "description": "The site; without it the whole program", "schema": text()}


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], works: ImportWorks) -> Blueprint:
    """The routes of imports."""
    routes = Blueprint("imports", __name__)
    settling = threading.Lock()

    def lead() -> Device:
        device = current_device(request, programme.db())
        require(device, "lead")
        return device

    def now_ms() -> int:
        return int(now().timestamp() * 1000)

    @routes.post("/api/imports")
    @operation(
        "bring_file", "Read a spreadsheet of up to 50 MB and 300,000 rows; nothing of it is stored yet (leads)",
        {"201": answer("It is kept for a day, until it is imported or dropped", _STATE)},
        body={"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        parameters=[
            {"name": "name", "in": "query", "required": False, "description": "The file's name", "schema": text()},
            _AT_SITE,
        ], refuses=("404", "413", "422"),
    )  # fmt: skip
    def bring() -> tuple[Response, int]:
        device = lead()
        site_id = _place(device, request.args.get("site_id") or None)
        if (request.content_length or 0) > MOST_BYTES:
            raise too_many_bytes(request.content_length or 0)
        request.max_content_length = MOST_BYTES + 1
        upload = kept.begin(programme, device, site_id, request.args.get("name") or "file", _pieces(), now_ms())
        return jsonify(_told(upload)), 201

    @routes.get("/api/imports")
    @operation(
        "imports", "Own uploads, imports of one's sites, and choices of columns that were kept (leads)",
        {"200": answer("Them", group(["uploads", "imports", "mappings"], uploads=list_of(_ANY), imports=list_of(_ANY), mappings=list_of(_ANY)))},
    )
    def listed() -> Response:
        device, db = lead(), programme.db()
        own = [_told(upload) for upload in kept.uploads(programme) if upload.is_of(device)]
        imports = [_import(db, catalogue, one) for one in imports_of(db, sites_json(device.sites))]
        return jsonify(uploads=own, imports=imports, mappings=kept.kept_mappings(db, device.sites))

    @routes.get("/api/imports/<upload_id>")
    @operation("upload", "How far an upload is (leads)", {"200": answer("It", _ANY)}, parameters=[_UPLOAD])
    def state(upload_id: str) -> Response:
        return jsonify(_told(upload_of(programme, lead(), upload_id)))

    @routes.post("/api/imports/<upload_id>/look")
    @operation(
        "look_at_upload", "How an upload would be read, and what is open; stores nothing (leads)",
        {"200": answer("Columns, questions, and how its first row will read", _ANY)}, body=json_of(_ANY), parameters=[_UPLOAD],
    )  # fmt: skip
    def look(upload_id: str) -> Response:
        return jsonify(kept.looked(programme.db(), catalogue, _at_rest(lead(), upload_id), json_body(request, MOST_MAPPING_BYTES)))

    @routes.post("/api/imports/<upload_id>/try")
    @operation("try_upload", "Try an upload as it was looked at; stores nothing (leads)", {"202": answer("It is being tried", _STATE)}, parameters=[_UPLOAD])
    def tried(upload_id: str) -> tuple[Response, int]:
        device = lead()
        with settling:
            upload = _at_rest(device, upload_id)
            kept.check_is_settled(upload)
            upload.note(state=kept.TRYING, step=None, fault=None)
        works.want(upload)
        return jsonify(_told(upload)), 202

    @routes.post("/api/imports/<upload_id>/take")
    @operation("take_upload", "Import the good rows of an upload that was tried (leads)", {"202": answer("It is being imported", _STATE)}, parameters=[_UPLOAD])
    def take(upload_id: str) -> tuple[Response, int]:
        device = lead()
        with settling:
            upload = _at_rest(device, upload_id)
            kept.begin_taking(upload, now_ms())
        works.want(upload)
        return jsonify(_told(upload)), 202

    @routes.delete("/api/imports/<upload_id>")
    @operation("drop_upload", "Forget an upload (leads)", {"204": answer("It is gone")}, parameters=[_UPLOAD])
    def drop(upload_id: str) -> tuple[str, int]:
        kept.drop(upload_of(programme, lead(), upload_id))
        return "", 204

    @routes.get("/api/imports/<upload_id>/to-fix.csv")
    @operation(
        "rows_to_fix", "The rows of an upload that need fixing, with the reasons (leads)", {"200": answer("A CSV", text(), "text/csv")}, parameters=[_UPLOAD],
    )  # fmt: skip
    def to_fix(upload_id: str) -> Response:
        upload = _at_rest(lead(), upload_id)
        if not upload.about.get("result"):
            raise NotHere("This file was not tried yet. Try it first.")
        headers = {"Content-Disposition": 'attachment; filename="rows to fix.csv"', "Cache-Control": "no-store"}
        return Response(kept.rows_to_fix(upload), mimetype="text/csv", headers=headers)

    @routes.post("/api/import-mappings")
    @operation(
        "keep_mapping", "Keep how the columns of a sheet are read, by name, at a site or for the whole program (leads)", {"204": answer("It is kept")},
        body=json_of(group(["name", "mapping"], name=text(), mapping=_ANY, site_id=or_null(RECORD_ID))), refuses=("404",),
    )  # fmt: skip
    def keep() -> tuple[str, int]:
        device, said = lead(), json_body(request, MOST_MAPPING_BYTES)
        site_id = _place(device, said.get("site_id"))
        if not isinstance(said.get("name"), str):
            raise BadRequest("Say under which name to keep these choices.", {"name": "no text"})
        kept.keep_mapping(programme.db(), site_id, said["name"], said.get("mapping"), now_ms())
        return "", 204

    @routes.delete("/api/import-mappings/<path:name>")
    @operation(
        "drop_mapping", "Forget a kept choice of columns (leads)", {"204": answer("It is gone")},
        parameters=[in_path("name", "Its name"), _AT_SITE], refuses=("404",),
    )  # fmt: skip
    def forget(name: str) -> tuple[str, int]:
        kept.drop_mapping(programme.db(), _place(lead(), request.args.get("site_id") or None), name)
        return "", 204

    def _place(device: Device, site_id: Any) -> str | None:
        """A site that a lead may see, or the whole programme."""
        if site_id is None:
            if device.sites is not None:
                raise NotAllowed("What is of the whole program is for leads of the whole program. Choose a site first.")
            return None
        if not isinstance(site_id, str):
            raise BadRequest(f"site_id is {site_id!r}; give a site's id, or null.", {"site_id": "no text"})
        site_for(programme.db(), device, site_id)
        return site_id

    def _at_rest(device: Device, upload_id: str) -> Upload:
        upload = upload_of(programme, device, upload_id)
        if upload.about["state"] in (TAKING, kept.TRYING):
            raise BadRequest("This file is being worked on. Wait a moment, then try again.")
        return upload

    return routes


def _pieces() -> Iterator[bytes]:
    while piece := request.stream.read(PIECE_BYTES):
        yield piece


def _told(upload: Upload) -> dict[str, Any]:
    about = upload.about
    return {
        "upload_id": upload.upload_id, "name": about["name"], "site_id": about["site_id"], "made_at": about["made_at"], "state": about["state"],
        "step": about["step"], "fault": about["fault"], "result": about.get("result"), "mapping": about.get("mapping"),
        "sheets": [{"name": sheet["name"], "rows": sheet["rows"]} for sheet in about["sheets"]], "taken_sheets": about.get("taken_sheets", []),
    }  # fmt: skip


def _import(db: Database, catalogue: Catalogue, one: dict[str, Any]) -> dict[str, Any]:
    changed, count = changed_since(db, one.pop("lane_id"), CHANGED_TOLD)
    unchanged = unchanged_of_import(db, catalogue.kinds, one["import_id"])
    return one | {"unchanged": unchanged, "changed": count, "changed_first": [{"kind": kind, "record_id": record_id} for kind, record_id in changed]}
