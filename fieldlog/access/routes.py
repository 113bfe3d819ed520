"""HTTP of access: joining, leaving, invitations, devices, a person's private records."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from ipaddress import ip_address, ip_network
from typing import Any, cast

from flask import Blueprint, Flask, Response, jsonify, request
from flask_limiter import Limiter

from fieldlog.access import devices, incidents, invitations
from fieldlog.access.bodies import json_body
from fieldlog.access.devices import Device
from fieldlog.access.guard import current_device, drop_cookie, require, set_cookie
from fieldlog.access.private import private_of
from fieldlog.errors import BadRequest, CodeRefused
from fieldlog.openapi.operations import answer, in_path, json_of, operation
from fieldlog.openapi.shapes import ROLE, SITES, group, list_of, or_null, ref, text, whole
from fieldlog.records.empty import is_empty
from fieldlog.store import Programme, setting

FAILED_JOINS_OF_AN_ADDRESS = "10 per minute"
"""
Joins that succeed are not counted: a class of students behind one address joins in the same minute. Nor are malformed ones,
which tell nothing of a code; and no limit goes by the code, or strangers who know one could lock it.
"""

NETWORK_BITS = 64
"""What one household or phone gets of IPv6 (RFC 6177): its addresses count as one."""

_NO_LETTER = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")
"""Line ends, controls, and what turns the direction of the words beside a name."""

_INVITATION, _DEVICE = in_path("invitation_id", "Which one"), in_path("device_id", "Which one")


def blueprint(programme: Programme, now: Callable[[], datetime]) -> Blueprint:
    """The routes of access for one programme."""
    routes = Blueprint("access", __name__)
    limiter = Limiter(_address, storage_uri="memory://", headers_enabled=True, retry_after="delta-seconds")
    routes.record(lambda state: limiter.init_app(cast(Flask, state.app)))

    def lead() -> Device:
        device = current_device(request, programme.db())
        require(device, "lead")
        return device

    @routes.post("/api/join")
    @limiter.limit(FAILED_JOINS_OF_AN_ADDRESS, deduct_when=_was_refused)
    @operation(
        "join", "Become a device of the program", {"200": answer("What the device may", ref("device_scope"))},
        body=json_of(group(["code", "device_name"], code=text(maxLength=40), device_name=text())), open_to_all=True, refuses=("429",),
    )
    def join() -> Response:
        said = json_body(request)
        code, name = _text(said, "code", 40), _text(said, "device_name", devices.NAME_LENGTH)
        device, token = invitations.join(programme.db(), code, name, _ms(now()))
        answer = jsonify(**_scope(device), programme=setting(programme.db(), "programme_name"), person_id=None)
        set_cookie(answer, request, token)
        return answer

    @routes.post("/api/leave")
    @operation("leave", "Give the device's access back", {"204": answer("Given back")})
    def leave() -> tuple[Response, int]:
        devices.leave(programme.db(), current_device(request, programme.db()), _ms(now()))
        answer = Response()
        drop_cookie(answer, request)
        return answer, 204

    @routes.post("/api/invitations")
    @operation(
        "invite", "Make an invitation (leads)", {"201": answer("Made", ref("invitation"))},
        body=json_of(group(["role", "uses", "hours"], role=ROLE, site_id=or_null(text()), uses=whole(), hours=whole())),
    )
    def invite() -> tuple[Response, int]:
        by, said = lead(), json_body(request)
        made = invitations.invite(
            programme.db(), by, said.get("role"), _site(said), said.get("uses"), said.get("hours"), _ms(now())
        )
        link = f"/#join={made.code}"
        return jsonify(
            invitation_id=made.invitation_id, code=made.code, link=link, role=made.role, site_id=made.site_id,
            uses=made.uses, expires_at=made.expires_at, qr_svg=invitations.qr_svg(request.host_url.rstrip("/") + link),
        ), 201  # fmt: skip

    @routes.get("/api/invitations")
    @operation(
        "invitations", "Invitations that are open (leads)",
        {"200": answer("All", group(["invitations"], invitations=list_of(ref("invitation"))))},
    )
    def list_invitations() -> Response:
        return jsonify(invitations=invitations.open_invitations(programme.db(), lead(), _ms(now())))

    @routes.delete("/api/invitations/<invitation_id>")
    @operation("withdraw", "Withdraw an invitation (leads)", {"204": answer("Withdrawn")}, parameters=[_INVITATION])
    def withdraw(invitation_id: str) -> tuple[str, int]:
        invitations.withdraw(programme.db(), lead(), invitation_id, _ms(now()))
        return "", 204

    @routes.post("/api/invitations/<invitation_id>/confirm")
    @operation(
        "confirm_invitation", "Confirm an invitation of a restored backup (leads)", {"204": answer("It lets in again")}, parameters=[_INVITATION]
    )
    def confirm_invitation(invitation_id: str) -> tuple[str, int]:
        invitations.confirm_invitation(programme.db(), lead(), invitation_id)
        return "", 204

    @routes.get("/api/devices")
    @operation("devices", "Devices of the program (leads)", {"200": answer("All", group(["devices"], devices=list_of({"type": "object"})))})
    def list_devices() -> Response:
        return jsonify(devices=devices.list_devices(programme.db(), lead()))

    @routes.delete("/api/devices/<device_id>")
    @operation("revoke", "End a device's access (leads)", {"204": answer("Ended")}, parameters=[_DEVICE])
    def revoke(device_id: str) -> tuple[str, int]:
        devices.revoke(programme.db(), lead(), device_id, _ms(now()))
        return "", 204

    @routes.patch("/api/devices/<device_id>")
    @operation(
        "change_device", "Change a device's role and sites (leads)", {"200": answer("Changed", ref("device_scope"))},
        body=json_of(group(["role", "sites"], role=ROLE, sites=SITES)), parameters=[_DEVICE],
    )
    def change(device_id: str) -> Response:
        by, said = lead(), json_body(request)
        changed = devices.change(programme.db(), by, device_id, said.get("role"), _sites(said), _ms(now()))
        return jsonify(**_scope(changed), person_id=changed.person_id)

    @routes.get("/api/incidents")
    @operation(
        "incidents", "Devices that asked or wrote in the name of a lane that they could not prove to be theirs (leads)",
        {"200": answer("Newest first", group(["incidents", "in_all"], incidents=list_of(ref("incident")), in_all=whole()))},
    )
    def list_incidents() -> Response:
        told = incidents.list_incidents(programme.db(), lead())
        return jsonify(incidents=told[: incidents.MOST_TOLD], in_all=len(told))

    @routes.get("/api/private/<person_id>")
    @operation(
        "private", "Contacts and medical notes of a person (leads)", {"200": answer("What is known", {"type": "object"})},
        parameters=[in_path("person_id", "Who")],
    )
    def private(person_id: str) -> Response:
        return jsonify(private_of(programme.db(), lead(), person_id))

    return routes


def _address() -> str:
    """Who asks, for counting guesses."""
    address = request.remote_addr or ""
    try:
        number = ip_address(address)
    except ValueError:
        return address
    return str(ip_network((number, NETWORK_BITS), strict=False)) if number.version == 6 else address


def _was_refused(answer: Response) -> bool:
    return answer.status_code == CodeRefused.status


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def _scope(device: Device) -> dict[str, Any]:
    sites = None if device.sites is None else sorted(device.sites)
    return {"device_id": device.device_id, "role": device.role, "sites": sites}


def _text(said: dict[str, Any], name: str, most: int) -> str:
    value = said.get(name)
    if not isinstance(value, str) or is_empty(value) or len(value) > most:
        raise BadRequest(f"{name} must be 1 to {most} letters long.", {name: "missing, empty or too long"})
    if _NO_LETTER.search(value):
        raise BadRequest(f"{name} contains a line break or a control character. Write it on one line.", {name: "control sign"})
    return value.strip()


def _site(said: dict[str, Any]) -> str | None:
    site_id = said.get("site_id")
    if site_id is not None and not isinstance(site_id, str):
        raise BadRequest("site_id must be a site's id, or null for the whole program.", {"site_id": "unreadable"})
    return site_id


def _sites(said: dict[str, Any]) -> frozenset[str] | None:
    sites = said.get("sites", ())
    if sites is None:
        return None
    if not isinstance(sites, list) or not sites or not all(isinstance(site, str) for site in sites):
        raise BadRequest("sites must be a list of site ids, or null for the whole program.", {"sites": "unreadable"})
    return frozenset(sites)
