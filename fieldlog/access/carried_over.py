"""
Who may do what, carried from the folder that a restored backup replaces.

A backup knows nothing of what leads decided since. Where the replaced database can still be read, what was ended or changed in
it holds; where it cannot, every device and invitation waits for somebody's word. It may be a damaged file or another
programme's, so nothing of it is believed unread: only rows that the backup knows too, with values that are ever written.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from fieldlog.access.devices import ROLES
from fieldlog.store import read_only, size_fault

_DEVICE = "device_id, token_sha256, role, sites, revoked_at"
_INVITATION = "invitation_id, uses_left, revoked_at"


@dataclass(frozen=True)
class _DeviceRow:
    device_id: str
    token_sha256: str
    role: str
    sites: str | None
    revoked_at: int | None
    unconfirmed: int


@dataclass(frozen=True)
class _InvitationRow:
    invitation_id: str
    uses_left: int
    revoked_at: int | None
    unconfirmed: int


@dataclass(frozen=True)
class Decided:
    """What the replaced folder says; `continues` where its log goes on from the backup's, so that its word is the later one."""

    devices: dict[str, _DeviceRow]
    invitations: dict[str, _InvitationRow]
    continues: bool


def decided_in(path: Path, backup: Database) -> Decided | None:
    """What was decided in a programme's database file, or None where it is none, is damaged, or says what is never said."""
    if not path.exists() or size_fault(path) is not None:
        return None
    try:
        conn = read_only(path)
        try:
            # A page of these two tables that SQLite doubts, and nothing here is believed.
            for table in ("device", "invitation"):
                if conn.execute(f"PRAGMA quick_check('{table}')").fetchall() != [("ok",)]:
                    return None
            devices = _devices(conn)
            invitations = _invitations(conn)
            continues = _continues(conn, backup)
        finally:
            conn.close()
    except sqlite3.DatabaseError:
        return None
    if devices is None or invitations is None or (continues and not _ids(backup) <= devices.keys()):
        # Nobody's row is ever removed: a later state without one has lost some.
        return None
    return Decided(devices, invitations, continues)


def _devices(conn: sqlite3.Connection) -> dict[str, _DeviceRow] | None:
    found = {row[0]: _DeviceRow(*row) for row in conn.execute(f"SELECT {_DEVICE}, {_doubt(conn, 'device')} FROM device")}
    right = all(
        isinstance(one.device_id, str) and isinstance(one.token_sha256, str) and one.role in ROLES and are_sites(one.sites)
        and _is_moment(one.revoked_at) and one.unconfirmed in (0, 1)
        for one in found.values()
    )  # fmt: skip
    return found if right else None


def _invitations(conn: sqlite3.Connection) -> dict[str, _InvitationRow] | None:
    rows = conn.execute(f"SELECT {_INVITATION}, {_doubt(conn, 'invitation')} FROM invitation")
    found = {row[0]: _InvitationRow(*row) for row in rows}
    right = all(
        isinstance(one.invitation_id, str) and type(one.uses_left) is int and one.uses_left >= 0 and _is_moment(one.revoked_at)
        and one.unconfirmed in (0, 1)
        for one in found.values()
    )  # fmt: skip
    return found if right else None


def _doubt(conn: sqlite3.Connection, table: str) -> str:
    """The column of unconfirmed rows; a database of version 0.2.0 and before has none."""
    return "unconfirmed" if "unconfirmed" in [row[1] for row in conn.execute(f"PRAGMA table_info({table})")] else "0"


def are_sites(sites: object) -> bool:
    """Whether a stored value is what a device's sites are: None for all, else a JSON array of ids."""
    if sites is None:
        return True
    try:
        ids = json.loads(sites) if isinstance(sites, str) else None
    except (ValueError, RecursionError):
        return False
    return isinstance(ids, list) and bool(ids) and all(isinstance(one, str) for one in ids)


def _is_moment(value: object) -> bool:
    return value is None or (type(value) is int and value >= 0)


def _continues(conn: sqlite3.Connection, backup: Database) -> bool:
    top, h = backup.conn.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")
    return top > 0 and conn.execute("SELECT h FROM log WHERE seq = ?", (top,)).fetchone() == (h,)


def _ids(backup: Database) -> set[str]:
    return {row[0] for row in backup.conn.execute("SELECT device_id FROM device")}


def carry_over(db: Database, decided: Decided | None) -> None:
    """
    Put what was decided into a restored database; what nothing is known of waits to be confirmed.

    An end is carried over whoever is later. A role or sites that differ are taken from the replaced folder where its log goes
    on from the backup's; else the device waits. Must be called inside a `write`.
    """
    if decided is None:
        db.conn.execute("UPDATE device SET unconfirmed = 1")
        db.conn.execute("UPDATE invitation SET unconfirmed = 1")
        return
    for device_id, role, sites in db.conn.execute("SELECT device_id, role, sites FROM device").fetchall():
        later = decided.devices.get(device_id)
        if later is None:
            db.conn.execute("UPDATE device SET unconfirmed = 1 WHERE device_id = ?", (device_id,))
            continue
        if decided.continues:
            role, sites, doubt = later.role, later.sites, later.unconfirmed
        else:
            doubt = int(later.unconfirmed or (later.role, later.sites) != (role, sites))
        left = later.token_sha256 if later.token_sha256 == f"left {device_id}" else None
        db.conn.execute(
            """UPDATE device SET role = ?, sites = ?, unconfirmed = max(unconfirmed, ?), revoked_at = coalesce(revoked_at, ?),
               token_sha256 = coalesce(?, token_sha256) WHERE device_id = ?""",
            (role, sites, doubt, later.revoked_at, left, device_id),
        )
    for (invitation_id,) in db.conn.execute("SELECT invitation_id FROM invitation").fetchall():
        one = decided.invitations.get(invitation_id)
        if one is None:
            db.conn.execute("UPDATE invitation SET unconfirmed = 1 WHERE invitation_id = ?", (invitation_id,))
        else:
            db.conn.execute(
                """UPDATE invitation SET uses_left = min(uses_left, ?), revoked_at = coalesce(revoked_at, ?),
                   unconfirmed = max(unconfirmed, ?) WHERE invitation_id = ?""",
                (one.uses_left, one.revoked_at, one.unconfirmed, invitation_id),
            )


def unconfirmed_devices(db: Database) -> list[tuple[str, str, str]]:
    """(id, role, name) of the devices that wait to be confirmed, leads first, then by name."""
    rows: list[tuple[str, str, str]] = db.conn.execute(
        """SELECT device_id, role, name FROM device WHERE unconfirmed AND revoked_at IS NULL AND token_sha256 NOT LIKE 'left %'
           ORDER BY role <> 'lead', name, device_id"""
    ).fetchall()
    return rows
