"""How far what phones wrote is kept for good by a copy of the database that lacks some photos."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterator

from sqlite_utils import Database

from fieldlog.questions.photos import of_tables

_SHA256 = re.compile(rb"[0-9a-f]{64}")


def tops_without(db: Database, missing: Collection[str]) -> tuple[dict[str, int], dict[str, int]]:
    """
    Each lane's highest number in a copy, and for lanes with a line that names a missing photo the number before the first such.

    A phone lets go of a photo when the lines up to its own are durable, so they must not be while its bytes are not kept. A photo whose
    record was removed is no longer waited for.

    Args:
        db: the copy.
        missing: SHA-256 of the photos that are not kept beside it.

    Returns:
        The tops, all lanes; the ends of those that are cut short.
    """
    tops = dict(db.conn.execute("SELECT lane_id, top FROM lane").fetchall())
    ends: dict[str, int] = {}
    for lane_id, number in _lines_naming(db, missing) if missing else ():
        ends[lane_id] = min(number - 1, ends.get(lane_id, number))
    return tops, ends


def _lines_naming(db: Database, missing: Collection[str]) -> Iterator[tuple[str, int]]:
    select = """SELECT log.lane_id, log.number FROM json_each(:missing) AS one
        CROSS JOIN "{photo}" photo ON photo.sha256 = one.value AND photo.deleted = 0
        CROSS JOIN log ON log.kind = '{photo}' AND log.record_id = photo.record_id WHERE instr(log.line, CAST(one.value AS BLOB)) > 0"""
    yield from db.conn.execute(of_tables(db, select), {"missing": json.dumps(sorted(missing))})
    held = db.conn.execute("SELECT lane_id, number, line FROM tray WHERE resolved_by IS NULL AND instr(line, CAST('sha256' AS BLOB)) > 0")
    for lane_id, number, line in held:
        if any(name.decode("ascii") in missing for name in _SHA256.findall(line)):
            yield lane_id, number
