"""
Photos that came and whose files are gone from the disk, or are not what came any more. The phone that wrote one's name is asked
for it at each of its syncs, until it is here again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection

from sqlite_utils import Database

from fieldlog.questions.photos import of_tables, standing_names

_SHA256 = re.compile(rb"[0-9a-f]{64}")

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


def asked_of(db: Database, device_id: str, proven_lane: str | None = None) -> list[str]:
    """
    The SHA-256 of lost photos that a device is asked for, drawn anew each time where they are many.

    Those whose names its lines hold: taken ones, and held ones, which the phone keeps as well; of its own lanes and of the lane that the
    request proved, which may be another device's still where the phone lost its cookie and joined again. One that no record shows any more
    is not asked for, nor one of a held line that was mended without it.
    """
    if db.conn.execute("SELECT 1 FROM photo_file WHERE lost_at IS NOT NULL LIMIT 1").fetchone() is None:
        return []
    taken = """SELECT f.sha256 FROM photo_file f CROSS JOIN "{photo}" photo ON photo.sha256 = f.sha256 AND photo.deleted = 0
        CROSS JOIN log ON log.kind = '{photo}' AND log.record_id = photo.record_id JOIN lane USING (lane_id)
        WHERE f.lost_at IS NOT NULL AND (lane.device_id = :device_id OR lane_id = :proven_lane)
          AND instr(log.line, CAST(f.sha256 AS BLOB)) > 0"""
    rows = db.conn.execute(
        f"""SELECT sha256 FROM (
             {of_tables(db, taken)}
             UNION SELECT f.sha256 FROM json_each(:held) one JOIN photo_file f ON f.sha256 = one.value WHERE f.lost_at IS NOT NULL)
           ORDER BY random() LIMIT :most""",
        {
            "device_id": device_id, "proven_lane": proven_lane, "most": ASKED_AT_ONCE,
            "held": json.dumps(sorted(_held_names(db, device_id, proven_lane))),
        },
    )  # fmt: skip
    return [row[0] for row in rows]


def _held_names(db: Database, device_id: str, proven_lane: str | None) -> set[str]:
    """What a device's held lines name."""
    rows = db.conn.execute(
        """SELECT resolved_by, line FROM tray
           WHERE lane_id IN (SELECT lane_id FROM lane WHERE device_id = ? UNION SELECT ?) AND instr(line, CAST('sha256' AS BLOB)) > 0""",
        (device_id, proven_lane),
    )
    waiting: set[str] = set()
    mended: set[str] = set()
    for resolved_by, line in rows:
        (waiting if resolved_by is None else mended).update(name.decode("ascii") for name in _SHA256.findall(line))
    return waiting | standing_names(db, mended)
