"""
Devices: who holds a token, with which role, for which sites.

A device is a phone or a laptop that joined by an invitation. It owns lanes; its rows stay when it leaves or is revoked,
because its entries do.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.access.authors import authors_of_devices
from fieldlog.access.calendar_rights import end_addresses
from fieldlog.errors import BadRequest, NotAllowed, NotHere
from fieldlog.questions.people import people_known
from fieldlog.questions.sites import site_ids
from fieldlog.store import write

ROLES = ("lead", "crew", "desk", "reader")
NAME_LENGTH = 80
_COLUMNS = "device_id, role, sites, person_id, revoked_at IS NOT NULL, unconfirmed"


@dataclass(frozen=True)
class Device:
    """
    A joined device; `sites` are the ids of the sites it belongs to, None for the whole programme.

    `unconfirmed`: it stands in a restored backup, and nobody has said yet that it still may. `continues`: the lane of another device
    that it goes on with by its own rights, as a file does that cannot prove an older phone's lane.
    """

    device_id: str
    role: str
    sites: frozenset[str] | None
    person_id: str | None
    revoked: bool
    unconfirmed: bool = False
    continues: str | None = None


def scope_of(device: Device) -> str:
    """Eight hex digits over what decides which entries travel to a device: its role and its sites."""
    sites = None if device.sites is None else sorted(device.sites)
    return hashlib.sha256(json.dumps([device.role, sites]).encode()).hexdigest()[:8]


def token_hash(token: str) -> str:
    """What the server keeps of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def device_of_token(db: Database, token: str) -> Device | None:
    """The device that holds a token, revoked or not."""
    return _found(db, "token_sha256 = ?", token_hash(token))


def device_of_lane(db: Database, lane_id: str) -> Device | None:
    """The device that owns a lane."""
    return _found(db, "device_id = (SELECT device_id FROM lane WHERE lane_id = ?)", lane_id)


def device_of_id(db: Database, device_id: str) -> Device:
    """
    A device by its id.

    Raises:
        NotHere: there is none.
    """
    device = _found(db, "device_id = ?", device_id)
    if device is None:
        raise NotHere("No device with that id has joined. Reload the list of devices.")
    return device


def _found(db: Database, where: str, value: str) -> Device | None:
    row = db.conn.execute(f"SELECT {_COLUMNS} FROM device WHERE {where}", (value,)).fetchone()
    if row is None:
        return None
    device_id, role, sites, person_id, revoked, unconfirmed = row
    own_sites = None if sites is None else frozenset(json.loads(sites))
    return Device(device_id, role, own_sites, person_id, bool(revoked), bool(unconfirmed))


def add_device(
    db: Database, role: str, sites: frozenset[str] | None, name: str, now_ms: int
) -> tuple[Device, str]:
    """Let a device in. Returns it and its token (256 random bits), of which only the SHA-256 is kept."""
    device = Device(secrets.token_hex(16), role, sites, None, False)
    token = secrets.token_urlsafe(32)
    db.conn.execute(
        "INSERT INTO device(device_id, token_sha256, role, sites, name, made_at) VALUES (?, ?, ?, ?, ?, ?)",
        (device.device_id, token_hash(token), role, sites_json(sites), name[:NAME_LENGTH], now_ms),
    )
    return device, token


def may_lead(lead: Device, sites: frozenset[str] | None) -> bool:
    """Whether a lead's own sites cover these; nobody gives away more than they have."""
    return lead.sites is None or (sites is not None and sites <= lead.sites)


def list_devices(db: Database, lead: Device) -> list[dict[str, Any]]:
    """
    The devices of a lead's sites, newest contact first.

    Each: device_id, name, role, sites (None: all), person_id, state ("joined", "unconfirmed", "left", or "revoked" whether it left or not), made_at, seen_at,
    revoked_at (milliseconds since 1970 UTC), skew_ms (its clock ahead of the server's), unsent (entries it had left to
    send at last contact), app, entries (taken from its lanes: a lane's numbers run without a gap, and what is not in the
    tray is in the log), held, person_name (of who is chosen on it, where the lead may read that person), authors (who wrote on it: `authors_of_devices`).
    """
    rows = list(db.query(
        """SELECT d.device_id, d.name, d.role, d.sites, d.person_id, d.made_at, d.seen_at, d.revoked_at, d.skew_ms,
           d.unsent, d.app, d.unconfirmed, d.token_sha256 LIKE 'left %' AS has_left,
           coalesce((SELECT sum(top) FROM lane l WHERE l.device_id = d.device_id), 0) - (SELECT count(*) FROM tray WHERE
            lane_id IN (SELECT lane_id FROM lane l WHERE l.device_id = d.device_id)) AS entries,
           (SELECT count(*) FROM tray WHERE resolved_by IS NULL AND
            lane_id IN (SELECT lane_id FROM lane l WHERE l.device_id = d.device_id)) AS held
           FROM device d ORDER BY coalesce(d.seen_at, d.made_at) DESC"""
    ))  # fmt: skip
    people = people_known(db, (row["person_id"] for row in rows), lead.sites)
    authors = authors_of_devices(db, lead.sites)
    found = []
    for row in rows:
        row["person_name"] = people.get(row["person_id"])
        row["authors"] = authors.get(row["device_id"], [])
        row["sites"] = None if row["sites"] is None else json.loads(row["sites"])
        row["state"] = _state(left=bool(row.pop("has_left")), revoked=row["revoked_at"] is not None, unconfirmed=row.pop("unconfirmed"))
        if may_lead(lead, None if row["sites"] is None else frozenset(row["sites"])):
            found.append(row)
    return found


def _state(*, left: bool, revoked: bool, unconfirmed: int) -> str:
    return "revoked" if revoked else "left" if left else "unconfirmed" if unconfirmed else "joined"


def revoke(db: Database, lead: Device, device_id: str, now_ms: int) -> None:
    """
    End a device's access. What it still sends goes to the tray; it is given nothing more.

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs to sites that are not this lead's.
    """
    _led_by(db, lead, device_id)
    with write(db):
        db.conn.execute(
            "UPDATE device SET revoked_at = ? WHERE device_id = ? AND revoked_at IS NULL", (now_ms, device_id)
        )
        end_addresses(db, now_ms)


def confirm(db: Database, lead: Device | None, device_id: str) -> Device:
    """
    Say that a device of a restored backup still may what it might then; `lead` None is the command line.

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs to sites that are not this lead's.
    """
    if lead is None:
        device_of_id(db, device_id)
    else:
        _led_by(db, lead, device_id)
    with write(db):
        db.conn.execute("UPDATE device SET unconfirmed = 0 WHERE device_id = ?", (device_id,))
    return device_of_id(db, device_id)


def change(
    db: Database, lead: Device, device_id: str, role: object, sites: frozenset[str] | None, now_ms: int
) -> Device:
    """
    Give a device another role or other sites; its phone starts its pull again by itself (`scope_of`).

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs, or would belong, to sites that are not this lead's.
        BadRequest: the role or a site does not exist.
    """
    _led_by(db, lead, device_id)
    checked_role = check_role(role)
    check_sites(db, lead, sites)
    with write(db):
        db.conn.execute(
            "UPDATE device SET role = ?, sites = ? WHERE device_id = ?", (checked_role, sites_json(sites), device_id)
        )
        end_addresses(db, now_ms)
    return device_of_id(db, device_id)


def leave(db: Database, device: Device, now_ms: int) -> None:
    """Forget a device's token at its own wish; the device stays as the owner of its lanes."""
    with write(db):
        db.conn.execute(
            "UPDATE device SET token_sha256 = ? WHERE device_id = ?", (f"left {device.device_id}", device.device_id)
        )
        end_addresses(db, now_ms)


def check_role(role: object) -> str:
    """
    A role that exists.

    Raises:
        BadRequest: it does not.
    """
    if role not in ROLES:
        raise BadRequest(f"There is no role {role!r}; it must be one of {', '.join(ROLES)}.", {"role": "unknown"})
    return str(role)


def check_sites(db: Database, lead: Device | None, sites: frozenset[str] | None) -> None:
    """
    Whether sites exist and are a lead's to give; `lead` None is the command line, which may give all.

    Raises:
        BadRequest: a site does not exist.
        NotAllowed: they are not this lead's.
    """
    if lead is not None and not may_lead(lead, sites):
        raise NotAllowed("You lead only some of the sites. Choose among your own.")
    known = set(site_ids(db))
    unknown = sorted((sites or frozenset()) - known)
    if unknown:
        raise BadRequest(f"No site {unknown[0]!r} here. Set it up first.", {"sites": "unknown"})


def _led_by(db: Database, lead: Device, device_id: str) -> None:
    if not may_lead(lead, device_of_id(db, device_id).sites):
        raise NotAllowed("That device belongs to sites that you do not lead.")


def sites_json(sites: frozenset[str] | None) -> str | None:
    """Sites as a device's row and statements have them: a JSON array, or None for all."""
    return None if sites is None else json.dumps(sorted(sites))
