"""
The address of a calendar feed: of one device and one site, behind 256 random bits, since calendar programs send no cookie.

An address ends with the device's right to the site: the device was revoked, left, was moved to other sites, or the site was
removed. What it had told until then is kept with it, so that it can be taken back. Of an ended one the secret is forgotten; its
SHA-256, by which every secret is looked up, stays.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from sqlite_utils import Database

from fieldlog.access.calendar_rights import HAS_RIGHT, end_addresses
from fieldlog.access.devices import Device
from fieldlog.errors import DiskFull, Unconfirmed
from fieldlog.store import is_closed, write

WAITS = (
    "This calendar is paused. The server was restored from a backup, and a lead must confirm the phone this calendar belongs to. Keep this address: it works again after that."
)


@dataclass(frozen=True)
class Told:
    """An event as an ended address had told it: its id, its sequence, its lines DTSTART and DTEND."""

    uid: str
    sequence: int
    starts: str
    ends: str


@dataclass(frozen=True)
class Address:
    """An address that was given out; of an ended one (milliseconds since 1970 UTC) what it had told."""

    site_id: str
    ended_at_ms: int | None
    told: tuple[Told, ...]


def calendar_paths(db: Database, device: Device, site_ids: Sequence[str]) -> dict[str, str | None]:
    """
    The path of each site's calendar feed for one device, by site; what is asked for first is made in one write.

    While nobody may write it is None: the phone asks again when the tables are made, since every mark is drawn anew then. So it is
    while the disk takes nothing, until anything else of the site or device changes.
    """
    known = _live_secrets(db, device)
    if not known.keys() >= set(site_ids) and not is_closed(db):
        with suppress(DiskFull), write(db):
            known = _live_secrets(db, device)
            for site_id in sorted(set(site_ids) - known.keys()):
                known[site_id] = secrets.token_urlsafe(32)
                db.conn.execute(
                    "INSERT INTO calendar_address(secret_sha256, site_id, device_id, secret) VALUES (?, ?, ?, ?)",
                    (_hash(known[site_id]), site_id, device.device_id, known[site_id]),
                )
    return {site_id: f"/calendar/{known[site_id]}.ics" if site_id in known else None for site_id in site_ids}


def address_of_secret(db: Database, secret: str, now_ms: int) -> Address | None:
    """
    The address behind a secret that a calendar program asks for, or None. Looked up by hash, so the time it takes tells nothing.

    Writes only at the first question for an address, and at the first after its right ended by means that did not say so. A disk
    that takes nothing hinders neither.

    Raises:
        Unconfirmed: the server was restored from a backup, and nobody has confirmed the address's device yet.
    """
    found = _row(db, secret)
    if found is None:
        return None
    site_id, first_fetch_at, ended_at_ms, told, has_right, waits = found
    if ended_at_ms is None and not has_right:
        with suppress(DiskFull), write(db):
            end_addresses(db, now_ms)
            return address_of_secret(db, secret, now_ms)
        return None
    if ended_at_ms is None and waits:
        raise Unconfirmed(WAITS)
    if ended_at_ms is None and first_fetch_at is None:
        with suppress(DiskFull), write(db):
            db.conn.execute(
                "UPDATE calendar_address SET first_fetch_at = coalesce(first_fetch_at, ?) WHERE secret_sha256 = ?",
                (now_ms, _hash(secret)),
            )
    return Address(site_id, ended_at_ms, tuple(Told(*one) for one in json.loads(told or "[]")))


def _live_secrets(db: Database, device: Device) -> dict[str, str]:
    return dict(
        db.conn.execute(
            "SELECT site_id, secret FROM calendar_address WHERE device_id = ? AND ended_at IS NULL", (device.device_id,)
        ).fetchall()
    )


def _row(db: Database, secret: str) -> tuple[str, int | None, int | None, str | None, int, int] | None:
    row: tuple[str, int | None, int | None, str | None, int, int] | None = db.conn.execute(
        f"""SELECT site_id, first_fetch_at, ended_at, told, {HAS_RIGHT},
            EXISTS (SELECT 1 FROM device d WHERE d.device_id = calendar_address.device_id AND d.unconfirmed)
            FROM calendar_address WHERE secret_sha256 = ?""",
        (_hash(secret),),
    ).fetchone()
    return row


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
