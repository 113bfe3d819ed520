"""HTTP of sync: guard, call, answer."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import brotli
from flask import Blueprint, Response, request

from fieldlog.access.bodies import sync_body
from fieldlog.access.budget import Budget
from fieldlog.access.guard import current_device, set_cookie
from fieldlog.openapi.operations import answer, operation
from fieldlog.openapi.shapes import ref, text
from fieldlog.pack.marks import pack_tag
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, check_takes_writes
from fieldlog.sync.admission import Admission
from fieldlog.sync.imported import is_turning
from fieldlog.sync.receive import receive

LONG_BYTES = 4096
"""Shorter replies go in a few packets as they are."""

BROTLI_QUALITY = 5
"""A thousand lines of a log in 9 ms, a quarter smaller than by gzip at 8 in 16 ms, measured. Browsers take it over HTTPS."""

GZIP_LEVEL = 4
"""Lines of a log are a twentieth larger than at 6 and take two thirds of its time."""

GZIP_LEVEL_OLDER = 8
"""For records of earlier seasons, which a phone asks for once: a tenth smaller than at 6, 15 ms for a thousand."""

_BODY = {
    "application/x-ndjson": {
        "schema": text(
            "One sync_header, then one line an entry, each ended by a newline; gzip if Content-Encoding says so. "
            "The shapes are the schemas sync_header and line."
        )
    }
}


def blueprint(programme: Programme, catalogue: Catalogue, now: Callable[[], datetime], go_on: Callable[[], None]) -> Blueprint:
    """The route of sync for one programme; `go_on` is called where a request left work that nobody needs to wait for."""
    routes = Blueprint("sync", __name__)
    budget, admission = Budget(), Admission()

    @routes.post("/api/sync")
    @operation("sync", "Send entries, get those of others", {"200": answer("Receipts and news", ref("sync_reply"))}, body=_BODY, refuses=("429",))
    def sync() -> Response:
        db = programme.db()
        device, body = current_device(request, db), sync_body(request)
        if brings := body.count(b"\n") > 1:
            check_takes_writes(programme)
        with admission.of(device.device_id, body, now()):
            # In here, since a body that is sent away for others' sake was not taken and is no part of the hour's worth.
            may_hold = budget.take_sync(db, device, body, now())
            reply = receive(
                db, body, catalogue, lambda: current_device(request, db), lambda: int(now().timestamp() * 1000), may_hold=may_hold
            )
        if brings and is_turning(db):
            go_on()
        device, at = current_device(request, db), now()
        reply["role"] = device.role
        reply["sites"] = None if device.sites is None else sorted(device.sites)
        reply["pack"] = None if device.revoked or device.unconfirmed else pack_tag(db, catalogue, device, at.astimezone(UTC).date())
        answer = _answer(reply)
        set_cookie(answer, request)
        return answer

    return routes


def _goes_on(reply: dict[str, Any]) -> bool:
    """Whether the next of the past can be asked for before this reply was applied: nothing in it changes what is asked."""
    return "past" in reply and not (reply["acks"] or reply["err"] or reply["reset"] or reply["more"])


def _answer(reply: dict[str, Any]) -> Response:
    """A reply, packed where it is long and the phone takes it so: a new phone's season is a tenth then."""
    said = json.dumps(reply, ensure_ascii=False, separators=(",", ":")).encode()
    answer = Response(said, mimetype="application/json")
    answer.vary.add("Accept-Encoding")
    if _goes_on(reply):
        seq, mark = reply["cursor"]
        answer.headers["Fieldlog-Next"] = f"{seq} {mark} {reply['past']}"
    packing = request.accept_encodings.best_match(["br", "gzip"]) if len(said) >= LONG_BYTES else None
    if packing:
        answer.data = brotli.compress(said, quality=BROTLI_QUALITY) if packing == "br" else gzip.compress(said, _gzip_level(reply), mtime=0)
        answer.content_encoding = packing
    return answer


def _gzip_level(reply: dict[str, Any]) -> int:
    return GZIP_LEVEL_OLDER if reply.get("older") else GZIP_LEVEL
