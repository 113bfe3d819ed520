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
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, check_takes_writes
from fieldlog.sync.photo_copies import PhotoCopies
from fieldlog.sync.photos import PhotoShelf, faulty_photos, sender_of, served_copy

SENDERS = ("lead", "crew")


def blueprint(
    programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], shelf: PhotoShelf, copies: PhotoCopies
) -> Blueprint:
    """The routes of photos for one programme."""
    routes = Blueprint("photos", __name__)
    budget = Budget()
    shelf.finish_parts(int(now().timestamp() * 1000))

    @routes.patch("/api/photos/<sha256>")
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
