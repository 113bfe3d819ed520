"""HTTP of photos: HEAD asks how far a device's upload came, PATCH takes the next part, GET gives the served copy."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Blueprint, Response, jsonify, request, send_file

from fieldlog.access.bodies import MAX_CHUNK_BYTES, body_of
from fieldlog.access.budget import Budget
from fieldlog.access.devices import ROLES
from fieldlog.access.guard import current_device, require
from fieldlog.errors import BadRequest
from fieldlog.openapi.operations import answer, in_header, in_path, operation
from fieldlog.openapi.problems import problem
from fieldlog.openapi.shapes import group, list_of, whole
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, check_takes_writes
from fieldlog.sync.photo_copies import PhotoCopies
from fieldlog.sync.photos import PhotoShelf, faulty_photos, sender_of, served_copy

SENDERS = ("lead", "crew")

_PHOTO = in_path("sha256", "SHA-256 of the photo's bytes", pattern="^[0-9a-f]{64}$")
_OFFSET = {"Upload-Offset": {"description": "Bytes that the server has", "schema": {"type": "integer"}}}


def blueprint(
    programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], shelf: PhotoShelf, copies: PhotoCopies
) -> Blueprint:
    """The routes of photos for one programme."""
    routes = Blueprint("photos", __name__)
    budget = Budget()
    shelf.finish_parts(int(now().timestamp() * 1000))

    @routes.patch("/api/photos/<sha256>")
    @operation(
        "photo_piece", "Send a piece of a photo, 512 KB at most",
        {
            "201": answer("All is here and hashes to its name"), "204": answer("The piece is here", headers=_OFFSET),
            "409": {**problem("409"), "headers": _OFFSET}, "422": {**problem("422"), "headers": _OFFSET},
        },
        body={"application/octet-stream": {"schema": {}}}, refuses=("429",),
        parameters=[
            _PHOTO, in_header("Upload-Offset", "Where the piece begins", whole()),
            in_header("Upload-Length", "Size of the whole photo, bytes", whole(maximum=8_388_608)),
        ],
    )  # fmt: skip
    def take(sha256: str) -> tuple[str, int, dict[str, str]]:
        device, at = current_device(request, programme.db()), now()
        require(device, *SENDERS)
        check_takes_writes(programme)
        offset, total = _whole("Upload-Offset"), _whole("Upload-Length")
        chunk = body_of(request, MAX_CHUNK_BYTES)
        budget.take_photo(programme.db(), device, len(chunk), at)
        sender = sender_of(programme.db(), catalogue, device, sha256)
        have = shelf.take(sha256, sender, offset, total, chunk, int(at.timestamp() * 1000))
        if have is not None:
            return "", 204, {"Upload-Offset": str(have)}
        copies.want(sha256)
        return "", 201, {"Upload-Offset": str(total)}

    @routes.get("/api/photos/<sha256>")
    @operation(
        "photo_state", "How much of a photo is here from this device, or all of it where the device may see it",
        {"200": answer("All"), "404": answer("A part", headers=_OFFSET)}, parameters=[_PHOTO], verb="head",
    )
    @operation(
        "photo", "A photo, without metadata",
        {
            "200": answer("The picture", {}, "image/jpeg"), "206": answer("The range that was asked for", {}, "image/jpeg"),
            "304": answer("The phone has it"),
        },
        parameters=[_PHOTO], refuses=("416",), verb="get",
    )  # fmt: skip
    def give(sha256: str) -> Response | tuple[str, int, dict[str, str]]:
        device = current_device(request, programme.db())
        if request.method == "HEAD":
            require(device, *SENDERS)
            have = shelf.offset(sha256, sender_of(programme.db(), catalogue, device, sha256))
            return ("", 200, {}) if have is None else ("", 404, {"Upload-Offset": str(have)})
        require(device, *ROLES)
        copy = served_copy(programme, catalogue, device, sha256)
        return send_file(copy, mimetype="image/jpeg", download_name=f"{sha256}.jpg")

    @routes.get("/api/photos")
    @operation(
        "faulty_photos", "What arrived as a photo and cannot be shown (leads)",
        {"200": answer("All", group(["faulty"], faulty=list_of({"type": "object"})))},
    )  # fmt: skip
    def list_faulty() -> Response:
        device = current_device(request, programme.db())
        require(device, "lead")
        return jsonify(faulty=faulty_photos(programme.db(), catalogue, device))

    return routes


def _whole(name: str) -> int:
    value = request.headers.get(name, "")
    if not (value.isascii() and value.isdigit() and len(value) <= 12):
        raise BadRequest(f"The header {name} must be a whole number of bytes. Update the app; nothing is lost.")
    return int(value)
