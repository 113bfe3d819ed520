"""What can be asked for over HTTP, path by path, as OpenAPI operations."""

from __future__ import annotations

from typing import Any

from fieldlog.records.http_problems import problem
from fieldlog.records.http_shapes import ROLE, SITES, Shape, group, list_of, or_null, ref, text, whole

JSON = "application/json"
OPEN_TO_ALL: list[dict[str, list[str]]] = []
OF_A_DEVICE: list[dict[str, list[str]]] = [{"device": []}]
OFFSET = {
    "Upload-Offset": {"description": "Bytes that the server has", "schema": {"type": "integer"}},
}  # fmt: skip


def answer(
    about: str, shape: Shape | None = None, media_type: str = JSON, headers: Shape | None = None
) -> Shape:
    """One possible answer."""
    content = {"content": {media_type: {"schema": shape}}} if shape is not None else {}
    return {"description": about, **content, **({"headers": headers} if headers else {})}


def operation(
    name: str, summary: str, answers: dict[str, Shape], *, body: Shape | None = None,
    open_to_all: bool = False, parameters: list[Shape] | None = None, refuses: tuple[str, ...] = (),
) -> Shape:  # fmt: skip
    """One verb of one path; `refuses` names the problems that do not follow from what it is (http_problems.py)."""
    return {
        "operationId": name,
        "summary": summary,
        "security": OPEN_TO_ALL if open_to_all else OF_A_DEVICE,
        **({"parameters": parameters} if parameters else {}),
        **({"requestBody": {"required": True, "content": body}} if body else {}),
        **({"x-refuses": list(refuses)} if refuses else {}),
        "responses": answers,
    }


def in_path(name: str, about: str, **says: Any) -> Shape:
    """A part of the path."""
    return {"name": name, "in": "path", "required": True, "description": about, "schema": text(**says)}


def in_header(name: str, about: str, shape: Shape, *, required: bool = True) -> Shape:
    """A header of the request."""
    return {"name": name, "in": "header", "required": required, "description": about, "schema": shape}


def in_query(name: str, about: str) -> Shape:
    """A part of the address after the question mark."""
    return {"name": name, "in": "query", "required": True, "description": about, "schema": text()}


_SYNC_BODY = {
    "application/x-ndjson": {
        "schema": text(
            "One sync_header, then one line an entry, each ended by a newline; gzip if Content-Encoding says so. "
            "The shapes are the schemas sync_header and line."
        )
    }
}
_PHOTO = in_path("sha256", "SHA-256 of the photo's bytes", pattern="^[0-9a-f]{64}$")
_JOIN_BODY = {JSON: {"schema": group(["code", "device_name"], code=text(maxLength=40), device_name=text())}}
_INVITE_BODY = {
    JSON: {
        "schema": group(
            ["role", "uses", "hours"], role=ROLE, site_id=or_null(text()), uses=whole(), hours=whole()
        )
    }
}
_CHANGE_BODY = {JSON: {"schema": group(["role", "sites"], role=ROLE, sites=SITES)}}
_SITE = in_path("site_id", "The site's record id")
_FILE = group(["text"], text=text(), columns=or_null({"type": "object"}))
_RECORD_BODY = {
    JSON: {
        "schema": group(
            ["text"], name=text(), text=text("The logger's file, 16 MB at most"), columns=or_null({"type": "object"}),
            barometer=or_null(_FILE), control=or_null(_FILE), salinity_psu=or_null({"type": "number"}),
            temperature_c=or_null({"type": "number"}), zero_above_chart_datum_m=or_null({"type": "number"}),
        )
    }
}
_BYTES: Shape = {"application/octet-stream": {"schema": {}}}

_IF_NONE_MATCH = in_header("If-None-Match", "The ETag that the phone has", text(), required=False)


def _part(name: str, summary: str, parameters: list[Shape]) -> Shape:
    answers = {"200": answer("The part", {"type": "object"}), "304": answer("The phone has this one")}
    return {"get": operation(f"pack_{name}", summary, answers, parameters=[*parameters, _IF_NONE_MATCH])}


PATHS: dict[str, Shape] = {
    "/api/sync": {
        "post": operation(
            "sync", "Send entries, get those of others",
            {"200": answer("Receipts and news", ref("sync_reply"))},
            body=_SYNC_BODY, refuses=("429",),
        ),
    },
    "/api/pack": {
        "get": operation(
            "pack", "What the server works out, in one document, for apps older than its parts",
            {"200": answer("The pack", ref("pack")), "304": answer("The phone has this one")},
            parameters=[_IF_NONE_MATCH],
        ),
    },
    "/api/pack/index": {
        "get": operation(
            "pack_index", "What the pack is made of: the tag of each part",
            {
                "200": answer("The index", ref("pack_index")), "304": answer("The phone has this one"),
                "204": answer("Nobody known: asked with only_known"),
            },
            parameters=[_IF_NONE_MATCH, {**in_query("only_known", "No fault if no device is known by the token"), "required": False}],
        ),
    },
    "/api/pack/forms": _part("forms", "The forms of each kind of record", []),
    "/api/pack/tray": _part("tray", "Held lines, newest first (leads)", []),
    "/api/pack/sites/{site_id}/windows": _part("windows", "A site's tide, Sun and windows of 400 days", [_SITE]),
    "/api/pack/sites/{site_id}/state": _part("state", "A site's closures, levels and gravest flags", [_SITE]),
    "/api/pack/sites/{site_id}/visits": _part("visits", "A site's visits and hours without people (readers' packs name it)", [_SITE]),
    "/api/stations": {
        "get": operation(
            "stations", "The tide stations nearest to a place, and its time zone (leads)",
            {"200": answer(
                "Nearest first; mirrored: one close to the place at the other sign of longitude, where none is near the place itself",
                group(
                    ["stations", "zone", "mirrored"], stations=list_of({"type": "object"}), zone=or_null(text("IANA name")),
                    mirrored=or_null({"type": "object"}),
                ),
            )},
            parameters=[in_query("near", "Latitude and longitude in degrees, such as 32.03,-80.92")],
        ),
    },
    "/api/sites/{site_id}/water-records": {
        "post": operation(
            "bring_water_record", "Store a logger's record and have it worked out (leads)",
            {"202": answer("Stored; its state is listed", group(["water_id"], water_id=text()))},
            body=_RECORD_BODY, parameters=[_SITE], refuses=("409",),
        ),
        "get": operation(
            "water_records", "A site's records, their states and what came of them (leads)",
            {"200": answer("Newest first", group(["records", "readings"], records=list_of({"type": "object"}), readings=or_null({"type": "object"})))}, parameters=[_SITE],
        ),
    },
    "/api/sites/{site_id}/water-records/look": {
        "post": operation(
            "look_at_water_record", "How a logger's file would be read; stores nothing (leads)",
            {"200": answer("Columns, units, zone, first lines, questions", {"type": "object"})},
            body=_RECORD_BODY, parameters=[_SITE],
        ),
    },
    "/api/sites/{site_id}/plan": {
        "post": operation(
            "plan", "Plan a visit: stops in order, what does not fit (leads); stores nothing",
            {"200": answer("The plan; `record`, the fields that make a visit_plan; `lists`, those of its further entries", {"type": "object"})},
            body={
                JSON: {
                    "schema": group(
                        [], window_id=or_null(text()), teams=whole(minimum=1, maximum=20), samples={"type": "boolean"},
                        everything={"type": "boolean"},
                    )
                }
            },
            parameters=[_SITE], refuses=("409", "422"),
        ),
    },
    "/api/sites/{site_id}/sheet": {
        "get": operation(
            "sheet", "The sheet of the next usable low for paper, one page of HTML (leads, crew)",
            {"200": answer("The page", text(), "text/html")}, parameters=[_SITE], refuses=("409",),
        )
    },
    "/api/photos": {
        "get": operation(
            "faulty_photos", "What arrived as a photo and cannot be shown (leads)",
            {"200": answer("All", group(["faulty"], faulty=list_of({"type": "object"})))},
        ),
    },
    "/api/photos/{sha256}": {
        "head": operation(
            "photo_state", "How much of a photo is here from this device, or all of it where the device may see it",
            {"200": answer("All"), "404": answer("A part", headers=OFFSET)},
            parameters=[_PHOTO],
        ),
        "patch": operation(
            "photo_piece", "Send a piece of a photo, 512 KB at most",
            {
                "201": answer("All is here and hashes to its name"),
                "204": answer("The piece is here", headers=OFFSET),
                "409": {**problem("409"), "headers": OFFSET},
                "422": {**problem("422"), "headers": OFFSET},
            },
            body=_BYTES, refuses=("429",),
            parameters=[
                _PHOTO, in_header("Upload-Offset", "Where the piece begins", whole()),
                in_header("Upload-Length", "Size of the whole photo, bytes", whole(maximum=8_388_608)),
            ],
        ),
        "get": operation(
            "photo", "A photo, without metadata",
            {
                "200": answer("The picture", {}, "image/jpeg"), "206": answer("The range that was asked for", {}, "image/jpeg"),
                "304": answer("The phone has it"),
            },
            parameters=[_PHOTO], refuses=("416",),
        ),
    },
    "/api/join": {
        "post": operation(
            "join", "Become a device of the program",
            {"200": answer("What the device may", ref("device_scope"))},
            body=_JOIN_BODY, open_to_all=True, refuses=("429",),
        ),
    },
    "/api/leave": {"post": operation("leave", "Give the device's access back", {"204": answer("Given back")})},
    "/api/invitations": {
        "post": operation("invite", "Make an invitation (leads)", {"201": answer("Made", ref("invitation"))}, body=_INVITE_BODY),
        "get": operation(
            "invitations", "Invitations that are open (leads)",
            {"200": answer("All", group(["invitations"], invitations=list_of(ref("invitation"))))},
        ),
    },
    "/api/invitations/{invitation_id}": {
        "delete": operation(
            "withdraw", "Withdraw an invitation (leads)", {"204": answer("Withdrawn")},
            parameters=[in_path("invitation_id", "Which one")],
        ),
    },
    "/api/invitations/{invitation_id}/confirm": {
        "post": operation(
            "confirm_invitation", "Confirm an invitation of a restored backup (leads)", {"204": answer("It lets in again")},
            parameters=[in_path("invitation_id", "Which one")],
        ),
    },
    "/api/devices/{device_id}/confirm": {
        "post": operation(
            "confirm_device", "Confirm a device of a restored backup (leads)", {"200": answer("Confirmed", ref("device_scope"))},
            parameters=[in_path("device_id", "Which one")],
        ),
    },
    "/api/devices": {
        "get": operation(
            "devices", "Devices of the program (leads)",
            {"200": answer("All", group(["devices"], devices=list_of({"type": "object"})))},
        ),
    },
    "/api/devices/{device_id}": {
        "patch": operation(
            "change_device", "Change a device's role and sites (leads)",
            {"200": answer("Changed", ref("device_scope"))},
            body=_CHANGE_BODY, parameters=[in_path("device_id", "Which one")],
        ),
        "delete": operation(
            "revoke", "End a device's access (leads)", {"204": answer("Ended")},
            parameters=[in_path("device_id", "Which one")]
        ),
    },
    "/api/incidents": {
        "get": operation(
            "incidents", "Devices that asked or wrote in the name of a lane that they could not prove to be theirs (leads)",
            {"200": answer("Newest first", group(["incidents", "in_all"], incidents=list_of(ref("incident")), in_all=whole()))},
        ),
    },
    "/api/private/{person_id}": {
        "get": operation(
            "private", "Contacts and medical notes of a person (leads)",
            {"200": answer("What is known", {"type": "object"})},
            parameters=[in_path("person_id", "Who")],
        ),
    },
    "/calendar/{secret}.ics": {
        "get": operation(
            "calendar", "A site's usable low tides as a calendar feed; at an address that has ended, its events, canceled",
            {"200": answer("RFC 5545", text(), "text/calendar")},
            parameters=[in_path("secret", "The secret of one device and one site")], open_to_all=True,
            refuses=("403", "409", "410"),
        ),
    },
    "/healthz": {
        "get": operation(
            "health", "Whether the server runs",
            {"200": answer("It does", group(["ok"], ok={"const": True}, rebuilding={"type": "boolean"}))}, open_to_all=True
        ),
    },
    "/readyz": {
        "get": operation(
            "readiness", "Whether the server can work: its database answers, its disk has room, its tables are not being rebuilt",
            {"200": answer("It can", group(["ready"], ready={"const": True}))}, open_to_all=True
        ),
    },
    "/api/openapi.json": {
        "get": operation("openapi", "This document", {"200": answer("OpenAPI 3.1", {"type": "object"})}, open_to_all=True),
    },
}  # fmt: skip
