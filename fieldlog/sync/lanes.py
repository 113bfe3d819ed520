"""
Whose a lane is, and where it stands.

A lane is named by the hash of a key that its phone made: who shows the key writes the lane, whatever the server kept or lost,
and the server keeps neither key nor hash. Lanes of older phones have a name at random and belong to the device that opened them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.sync.header import Header

KEYED = "k-"
FOR_THE_SENDER = ("not-permitted", "other-site", "not-yours", "revoked", "unconfirmed")
"""Words of lines that are held for who sent them, not for what they say: under another name they may be taken."""

NOT_HERE, OWN = "-", "own"
"""
How incidents name all lanes that the server does not know, and all that the device holds itself: one row a device, or names that it
invents, and lanes that it opens to show them without their key, would crowd out the others.
"""


@dataclass
class Lane:
    """One device's numbered sequence as the server knows it; `ch` is its chain up to where a request has come."""

    lane_id: str
    top: int = 0
    top_id: str = ""
    durable: int = 0
    ch: str = ""


def lane_name(key: str) -> str:
    """The name of the lane of a key, 32 hex digits. Source of the hash: FIPS 180-4."""
    return KEYED + hashlib.sha256(f"fieldlog lane {key}".encode()).hexdigest()[:32]


def is_proven(db: Database, header: Header, device: Device) -> bool:
    """Whether the lane of a request is the device's to write."""
    if header.lane_id.startswith(KEYED):
        return header.key is not None and lane_name(header.key) == header.lane_id
    row = db.conn.execute("SELECT device_id FROM lane WHERE lane_id = ?", (header.lane_id,)).fetchone()
    return row is None or row[0] == device.device_id or device.continues == header.lane_id


def lane_of(db: Database, lane_id: str) -> Lane:
    """Where a lane stands; one that the server does not know stands at its beginning."""
    row = db.conn.execute("SELECT top, top_id, durable FROM lane WHERE lane_id = ?", (lane_id,)).fetchone()
    return Lane(lane_id) if row is None else Lane(lane_id, *row)


def store_lane(db: Database, lane: Lane, device: Device) -> None:
    """Keep where a lane stands now; a lane with a key is held by the device that showed it last, one that a file continues stays."""
    holder = "lane.device_id" if device.continues == lane.lane_id else "excluded.device_id"
    db.conn.execute(
        f"""INSERT INTO lane(lane_id, device_id, top, top_id) VALUES (?, ?, ?, ?)
           ON CONFLICT(lane_id) DO UPDATE SET device_id = {holder}, top = excluded.top, top_id = excluded.top_id""",
        (lane.lane_id, device.device_id, lane.top, lane.top_id),
    )


def line_at(db: Database, lane_id: str, number: int) -> tuple[Any, ...] | None:
    """(entry id, "ok", seq, eff, chain) or (entry id, "q", 0, why, chain, sentence) of a line that is here."""
    row: tuple[Any, ...] | None = db.conn.execute(
        "SELECT entry_id, 'ok', seq, eff, ch FROM log WHERE lane_id = ? AND number = ?", (lane_id, number)
    ).fetchone()
    if row is None:
        row = db.conn.execute(
            "SELECT entry_id, 'q', 0, why, ch, sentence FROM tray WHERE lane_id = ? AND number = ?", (lane_id, number)
        ).fetchone()
    return row


def chain_before(db: Database, lane_id: str, number: int) -> str | None:
    """The chain of a lane up to before `number`; None where the line before is not here."""
    if number == 1:
        return ""
    row = line_at(db, lane_id, number - 1)
    return None if row is None else str(row[4])


def refuse_unproven(db: Database, header: Header, device: Device, has_lines: bool, now_ms: int) -> int:
    """
    A lane that is not the device's: nothing of it is given or taken, and leads see who showed it.

    An older phone that joined again asks for its retired lane without lines for ever, and knows its chain: that is no incident.

    Returns:
        Up to which number its phone need not write the lane anew: what it knows the chain of and was not held for its sender's sake.
    """
    stands = _stands(db, header)
    if has_lines or header.number == 1 or stands < header.number - 1:
        db.conn.execute(
            """INSERT INTO incident(device_id, lane_id, what, first_at, last_at, times) VALUES (?, ?, 'lane', ?, ?, 1)
               ON CONFLICT(device_id, lane_id, what) DO UPDATE SET times = times + 1, last_at = excluded.last_at""",
            (device.device_id, _name_of(db, header.lane_id, device), now_ms, now_ms),
        )
    return stands


def _name_of(db: Database, lane_id: str, device: Device) -> str:
    row = db.conn.execute("SELECT device_id FROM lane WHERE lane_id = ?", (lane_id,)).fetchone()
    return NOT_HERE if row is None else OWN if row[0] == device.device_id else lane_id


def _stands(db: Database, header: Header) -> int:
    if header.number == 1 or chain_before(db, header.lane_id, header.number) != header.previous:
        return 0
    (held,) = db.conn.execute(
        f"SELECT min(number) FROM tray WHERE lane_id = ? AND why IN ({', '.join('?' * len(FOR_THE_SENDER))})",
        (header.lane_id, *FOR_THE_SENDER),
    ).fetchone()
    return header.number - 1 if held is None else min(header.number, held) - 1
