"""The shapes of what travels over HTTP, as JSON Schema."""

from __future__ import annotations

from typing import Any

from fieldlog.records.kind import PRIVATE, Kind

Shape = dict[str, Any]


def ref(name: str) -> Shape:
    """A pointer to a shape or a kind's fields by name."""
    return {"$ref": f"#/components/schemas/{name}"}


def text(about: str | None = None, **says: Any) -> Shape:
    """A string."""
    return {"type": "string", **({"description": about} if about else {}), **says}


def whole(about: str | None = None, **says: Any) -> Shape:
    """A whole number, 0 or greater."""
    return {"type": "integer", "minimum": 0, **({"description": about} if about else {}), **says}


def or_null(shape: Shape) -> Shape:
    """The shape, or null."""
    return {**shape, "type": [shape["type"], "null"]}


def group(required: list[str], **properties: Shape) -> Shape:
    """A JSON object; other members may stand beside those named."""
    return {"type": "object", "properties": properties, "required": required}


def row_of(*shapes: Shape) -> Shape:
    """A list of exactly these, in this order."""
    return {"type": "array", "prefixItems": list(shapes), "minItems": len(shapes), "maxItems": len(shapes)}


def list_of(shape: Shape) -> Shape:
    """A list of any length."""
    return {"type": "array", "items": shape}


ID32 = text(pattern="^[0-9a-f]{32}$")
RECORD_ID = text(pattern="^[A-Za-z0-9-]{1,64}$")
STAMP = text("Hybrid logical clock: 12 hex digits of milliseconds, 4 of a counter", pattern="^[0-9a-f]{16}$")
ROLE = text(enum=["lead", "crew", "desk", "reader"])
SITES = {"type": ["array", "null"], "items": RECORD_ID, "description": "Null: every site of the program"}
MOMENT_MS = whole("Milliseconds since 1970, UTC")


def line_of(kind: Kind) -> Shape:
    """A line of the log that changes a record of this kind."""
    own: Shape = {"t": {"const": kind.name}, "f": ref(f"{kind.name}_fields")}
    needed = ["k"] if kind.privacy in PRIVATE else []
    return {"allOf": [ref("envelope"), {"properties": own, "required": needed}]}


def any_line(kind_names: list[str]) -> Shape:
    """A line of any kind."""
    return {
        "oneOf": [ref(f"{name}_line") for name in kind_names],
        "discriminator": {
            "propertyName": "t",
            "mapping": {name: f"#/components/schemas/{name}_line" for name in kind_names},
        },
    }  # fmt: skip


SHAPES: dict[str, Shape] = {
    "envelope": group(
        ["v", "d", "n", "s", "t", "r", "f"],
        v=whole("Version of the line"),
        d=text("The lane, one device's numbered sequence", pattern="^[A-Za-z0-9-]{8,40}$"),
        n=whole("Number in the lane, from 1", minimum=1), s=STAMP,
        u=or_null(RECORD_ID | {"description": "Who wrote it"}),
        t=text("Kind of record"), r=RECORD_ID | {"description": "The record it changes"},
        g=or_null(RECORD_ID | {"description": "Site; null: the whole program"}),
        y=or_null(RECORD_ID | {"description": "Visit"}),
        f={"type": "object", "description": "Fields and their new values; null empties a field", "maxProperties": 64},
        b={"type": "object", "additionalProperties": list_of(ID32), "description": "Per field, the entries it replaces"},
        o={"type": "array", "description": "Offset from UTC in minutes, time zone, measured clock error in ms"},
        k=ID32 | {"description": "Random bits of a private line"}, was=ID32,
        fixes=ID32 | {"description": "The held line that it says again"}, reopens=ID32 | {"description": "The held line whose fix it takes back"},
    ),
    "sync_header": group(
        ["p", "rid", "d", "from", "prev", "mine", "cursor", "now"],
        p={"const": 1}, rid=text("Repeated in the reply", maxLength=64), d=text("The lane"),
        **{"from": whole("Number of the first line that follows", minimum=1)},
        prev=text("Chain of the lane before that line", pattern="^([0-9a-f]{32})?$"),
        mine=whole("Highest own number"),
        cursor={"type": ["array", "null"], "description": "[seq, chain of the log], as the last reply gave it"},
        want=whole("Most entries to be sent back"), now=MOMENT_MS,
        app=or_null(text("Version of the app", maxLength=64)),
        person=or_null(RECORD_ID | {"description": "Who holds the device"}),
        season={"type": "boolean", "description": "A phone that has nothing: this season first"},
        past=or_null(whole("How far back it has come, as the last reply gave it")),
        older={"type": "boolean", "description": "It takes the entries of season and past as their lines alone"},
    ),
    "sync_reply": group(
        ["rid", "now", "err", "acks", "top", "pull", "cursor", "more", "reset", "durable", "revoked", "schema"],
        rid=text(), now=MOMENT_MS, err={"enum": [None, "gap", "diverged", "fork"]},
        acks=list_of({"oneOf": [ref("ack_taken"), ref("ack_held")]}),
        top=row_of(whole(), text("Entry id, or empty")),
        pull=list_of(row_of(whole(), ID32, STAMP, or_null(text("The line; null for the asker's own")))),
        older=list_of({"oneOf": [text("A line"), row_of(text("A line"), STAMP)]}), past=whole("Older records are still to come"),
        cursor=row_of(whole(), text()), more={"type": "boolean"}, reset={"type": "boolean"},
        durable=whole("Own entries up to this number are in a verified backup"), revoked={"type": "boolean"},
        photos=list_of(text("SHA-256 of one whose file is lost here: send it again", pattern="^[0-9a-f]{64}$")),
        schema=text("Version of the forms"), pack=text("ETag of the pack"), role=ROLE, sites=SITES,
    ),
    "ack_taken": row_of(whole("Number"), ID32, {"const": "ok"}, whole("Place in the log"), STAMP),
    "ack_held": row_of(whole("Number"), ID32, {"const": "q"}, {"const": 0}, text("Fixed word"), text("Sentence")),
    "problem": group(
        ["type", "title", "status", "word", "detail"],
        type=text(), title=text(), status=whole(), word=text("A fixed word for programs"),
        detail=text("A sentence"),
        fields={"type": "object", "additionalProperties": text()},
    ),
    "device_scope": group(
        ["device_id", "role", "sites"],
        device_id=text(), role=ROLE, sites=SITES, programme=text("Its name"), person_id=or_null(text()),
    ),
    "incident": group(
        ["device_id", "device_name", "role", "whose", "what", "first_at", "last_at", "times"],
        device_id=text(), device_name=text("Its name"), role=ROLE, person_id=or_null(text()), person_name=or_null(text("Who is chosen on it")),
        whose={"enum": ["own", "other", "unknown"], "description": "Whose lane it was"},
        holder_name=or_null(text("The name of the device that holds the lane")), what=text(), first_at=MOMENT_MS, last_at=MOMENT_MS, times=whole(),
    ),
    "invitation": group(
        ["role", "expires_at"],
        invitation_id=text(), code=text("XXXX-XXXX"), link=text(), role=ROLE, site_id=or_null(text()),
        expires_at=MOMENT_MS, uses=whole(), qr_svg=text("The link as a QR code"),
    ),
    "pack_index": group(
        ["etag", "made_at", "me", "programme", "attribution", "calendars", "parts"],
        etag=text(), made_at=text(), me=ref("device_scope"), programme=group(["name"], name=text(), leads=whole("For leads: how many people lead as much")), attribution=list_of(text()),
        calendars={"type": "object", "description": "This device's calendar address of each site, null while the tables are rebuilt", "additionalProperties": or_null(text())},
        parts={"type": "object", "description": "Tag of each part, by its address below /api/pack/", "additionalProperties": text()},
    ),
    "pack": group(
        ["etag", "made_at", "me", "programme", "forms", "sites"],
        etag=text(), made_at=text(), me=ref("device_scope"), programme=group(["name"], name=text(), leads=whole("For leads: how many people lead as much")),
        forms=group(["version", "kinds"], version=text(), kinds={"type": "object"}),
        attribution=list_of(text()),
        sites={"type": "object", "description": "Per site: tide, sun, windows, flags, calendar"},
        tray=list_of({"type": "object"}), devices=list_of({"type": "object"}),
    ),
}  # fmt: skip
