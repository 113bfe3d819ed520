"""
Photos that came and whose files are gone from the disk, or are not what came any more. The phone that wrote one's name is asked
for it at each of its syncs, until it is here again.
"""

from __future__ import annotations

import json
from collections.abc import Collection

from sqlite_utils import Database

ASKED_AT_ONCE = 100
"""A phone may have let go of many long ago: others are asked for at its next sync."""


def lost_photos(db: Database) -> set[str]:
    """The SHA-256 of those that are known to be lost."""
    return {row[0] for row in db.conn.execute("SELECT sha256 FROM photo_file WHERE lost_at IS NOT NULL")}


def add_lost(db: Database, lost: Collection[str], now_ms: int) -> None:
    """Note that these are lost. Must be called inside a `write`."""
    db.conn.execute(
        "UPDATE photo_file SET lost_at = ? WHERE lost_at IS NULL AND sha256 IN (SELECT value FROM json_each(?))", (now_ms, json.dumps(sorted(lost)))
    )


def set_lost(db: Database, lost: Collection[str], now_ms: int) -> None:
    """Note that these are lost and all others are here, after every one was looked at. Must be called inside a `write`."""
    db.conn.execute(
        "UPDATE photo_file SET lost_at = NULL WHERE lost_at IS NOT NULL AND sha256 NOT IN (SELECT value FROM json_each(?))",
        (json.dumps(sorted(lost)),),
    )
    add_lost(db, lost, now_ms)


def asked_of(db: Database, device_id: str) -> list[str]:
    """
    The SHA-256 of lost photos that a device is asked for: those whose names its own taken lines hold, drawn anew each time where
    they are many. One that no record shows any more is not asked for.
    """
    rows = db.conn.execute(
        """SELECT DISTINCT f.sha256 FROM photo_file f JOIN photo ON photo.sha256 = f.sha256 AND photo.deleted = 0
           JOIN log ON log.kind = 'photo' AND log.record_id = photo.record_id JOIN lane USING (lane_id)
           WHERE f.lost_at IS NOT NULL AND lane.device_id = ? AND instr(log.line, CAST(f.sha256 AS BLOB)) > 0
           ORDER BY random() LIMIT ?""",
        (device_id, ASKED_AT_ONCE),
    )
    return [row[0] for row in rows]
