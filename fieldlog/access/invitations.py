"""
Invitations: a short code that lets devices in, with a role, a site, an expiry and a number of uses.

Only the SHA-256 of a code is kept, so a code is shown once. Opening the page that carries it uses none.
"""

from __future__ import annotations

import hashlib
import io
import secrets
from dataclasses import dataclass
from typing import Any

import segno
from sqlite_utils import Database

from fieldlog.access.devices import Device, add_device, check_role, check_sites
from fieldlog.errors import BadRequest, CodeRefused, NotHere
from fieldlog.store import write

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""32 letters, 5 bits each, without those that are taken for one another: 0 and O, 1 and I."""

CODE_LENGTH = 8
MOST_LINK_LETTERS = 1000
"""Far beyond any name of a host (253 letters), and within what a QR code holds."""

MOST_USES = 500
MOST_HOURS = 24 * 366
HOUR_MS = 3_600_000
REFUSED = "This code does not work: it may be mistyped, expired or used up. Ask a lead for a new one."


@dataclass(frozen=True)
class Invitation:
    """A new invitation with its code, XXXX-XXXX, which is not kept; `expires_at` in milliseconds since 1970 UTC."""

    invitation_id: str
    code: str
    role: str
    site_id: str | None
    uses: int
    expires_at: int


def invite(
    db: Database, lead: Device | None, role: object, site_id: str | None, uses: object, hours: object, now_ms: int
) -> Invitation:
    """
    Make an invitation.

    Args:
        lead: who invites; None is the command line, which may do all.
        site_id: the site it is for, None for the whole programme.
        uses: how many devices it lets in, 1 to 500.
        hours: how long it holds, 1 to 8784 (a year).

    Raises:
        BadRequest: the role or site does not exist, or uses or hours are out of bounds.
        NotAllowed: the site is not this lead's.
    """
    checked_role = check_role(role)
    check_sites(db, lead, _sites_of(site_id))
    use_count = _whole("uses", uses, MOST_USES)
    expires_at = now_ms + _whole("hours", hours, MOST_HOURS) * HOUR_MS
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    made = Invitation(
        secrets.token_hex(16), f"{code[:4]}-{code[4:]}", checked_role, site_id, use_count, expires_at
    )  # fmt: skip
    made_by = None if lead is None else lead.device_id
    row = (made.invitation_id, code_hash(code), made.role, site_id, expires_at, use_count, made_by, now_ms)
    with write(db):
        db.conn.execute(
            """INSERT INTO invitation(invitation_id, code_sha256, role, site_id, expires_at, uses_left, made_by, made_at)
               VALUES (?, ?, ?, ?, ?, ?, ?, ?)""",
            row,
        )
    return made


def join(db: Database, code: str, device_name: str, now_ms: int) -> tuple[Device, str]:
    """
    Let a device in by a code; one use of it is spent.

    Returns:
        The device and its token.

    Raises:
        CodeRefused: unknown, expired, used up and withdrawn codes alike, in one statement, so that neither words nor
            time tell them apart.
    """
    with write(db):
        row = db.conn.execute(
            """UPDATE invitation SET uses_left = uses_left - 1
               WHERE code_sha256 = ? AND uses_left > 0 AND expires_at > ? AND revoked_at IS NULL
               AND unconfirmed = 0
               RETURNING role, site_id""",
            (code_hash(code), now_ms),
        ).fetchone()
        if row is None:
            raise CodeRefused(REFUSED)
        return add_device(db, row[0], _sites_of(row[1]), device_name, now_ms)


def list_invitations(db: Database, lead: Device) -> list[dict[str, Any]]:
    """
    The invitations of a lead's sites, newest first; their codes are not known any more.

    Each: invitation_id, role, site_id, uses_left, made_by, made_at, expires_at, revoked_at (milliseconds since 1970),
    unconfirmed (1: of a restored backup; it lets nobody in until a lead confirms it).
    """
    rows = db.query(
        """SELECT invitation_id, role, site_id, uses_left, made_by, made_at, expires_at, revoked_at, unconfirmed FROM invitation
           ORDER BY made_at DESC"""
    )
    return [row for row in rows if lead.sites is None or row["site_id"] in lead.sites]


def open_invitations(db: Database, lead: Device, now_ms: int) -> list[dict[str, Any]]:
    """Of `list_invitations` those that still count: neither withdrawn nor expired nor used up, unconfirmed ones among them."""
    return [
        row for row in list_invitations(db, lead)
        if row["revoked_at"] is None and row["uses_left"] > 0 and row["expires_at"] > now_ms
    ]  # fmt: skip


def withdraw(db: Database, lead: Device, invitation_id: str, now_ms: int) -> None:
    """
    End an invitation; devices that joined by it stay.

    Raises:
        NotHere: there is none of that id among this lead's.
    """
    if invitation_id not in {row["invitation_id"] for row in list_invitations(db, lead)}:
        raise NotHere("There is no invitation with that id. Reload the list of invitations.")
    with write(db):
        db.conn.execute(
            "UPDATE invitation SET revoked_at = coalesce(revoked_at, ?) WHERE invitation_id = ?", (now_ms, invitation_id)
        )


def confirm_invitation(db: Database, lead: Device, invitation_id: str) -> None:
    """
    Say that an invitation of a restored backup still counts.

    Raises:
        NotHere: there is none of that id among this lead's.
    """
    if invitation_id not in {row["invitation_id"] for row in list_invitations(db, lead)}:
        raise NotHere("There is no invitation with that id. Reload the list of invitations.")
    with write(db):
        db.conn.execute("UPDATE invitation SET unconfirmed = 0 WHERE invitation_id = ?", (invitation_id,))


def confirm_invitations(db: Database) -> int:
    """Say of every invitation of a restored backup that it still counts, for who knows that none was withdrawn since. Returns how many waited."""
    with write(db):
        return db.conn.execute("UPDATE invitation SET unconfirmed = 0 WHERE unconfirmed = 1 AND revoked_at IS NULL").rowcount


def code_hash(code: str) -> str:
    """What the server keeps of a code; case, spaces and dashes do not count."""
    letters = "".join(letter for letter in code.upper() if letter.isalnum())
    return hashlib.sha256(letters.encode()).hexdigest()


def qr_svg(link: str) -> str:
    """
    A QR code of a link as a standalone SVG document.

    Raises:
        BadRequest: the link is longer than any host's name makes it.
    """
    if len(link) > MOST_LINK_LETTERS:
        raise BadRequest(f"This address has {len(link)} letters; at most {MOST_LINK_LETTERS} fit in a QR code. Open the app at its own address.")
    drawing = io.BytesIO()
    segno.make(link, error="m").save(drawing, kind="svg", scale=6, border=4, xmldecl=False)
    return drawing.getvalue().decode().strip()


def _sites_of(site_id: str | None) -> frozenset[str] | None:
    return None if site_id is None else frozenset([site_id])


def _whole(name: str, value: object, most: int) -> int:
    if type(value) is not int or not 1 <= value <= most:
        raise BadRequest(f"{name} is {value!r}; it must be a whole number from 1 to {most}.", {name: "out of bounds"})
    return value
