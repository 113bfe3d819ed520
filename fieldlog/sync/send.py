"""
What a phone is given: the entries after its cursor that its role and sites may see.

Text travels by role and sites alone; of its own lane a phone also hears the news (that a line was taken, and under which
stamp), never the text of what it may not read. The cursor moves past what is not for it. Its second half is a hash over the
log's chain, the device's scope and the server's epoch, which a restore draws anew: a server restored from a backup, and a
device whose role or sites changed, are both told to start again (`reset`).
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, scope_of
from fieldlog.store import setting

SEES = {
    "reader": ("open",),
    "crew": ("open", "crew"),
    "desk": ("open", "crew"),
    "lead": ("open", "crew", "leader", "medical"),
}
"""The privacy classes that travel down to a role."""

MOST = 2000

MAY_READ = """(privacy IN (SELECT value FROM json_each(:privacy)) AND (:sites IS NULL OR site_id IN (SELECT value FROM json_each(:sites))
    OR (site_id IS NULL AND privacy IN ('open', 'crew'))))"""
"""Private lines of no site, which older apps wrote, are for leads of the whole programme."""


def pull(
    db: Database, device: Device, lane_id: str | None, mine: int, cursor: tuple[int, str] | None, want: int
) -> dict[str, Any]:
    """
    The next entries for a device.

    Args:
        lane_id: the lane that asks, where it is proven to be the device's; its own lines up to `mine` come without their text.
        mine: the highest number of that lane on the phone.
        cursor: where the phone stands, or None at the start.
        want: how many entries at most.

    Returns:
        pull: [[seq, entry id, eff, line or None], ...]; cursor; more; reset.
    """
    scope = scope_of(device)
    if device.revoked:
        return {"pull": [], "cursor": list(cursor or (0, "")), "more": False, "reset": False}
    start, reset = _start(db, cursor, scope)
    want = max(1, min(want, MOST))
    rows = _rows(db, device, lane_id, start, want)
    more = len(rows) > want
    rows = rows[:want]
    last = rows[-1][0] if more else _top(db)
    return {
        "pull": [
            [seq, entry_id, eff, line.decode() if may_read and not (lane == lane_id and number <= mine) else None]
            for seq, entry_id, eff, line, lane, number, may_read in rows
        ],
        "cursor": [last, _mark(db, last, scope)],
        "more": more,
        "reset": reset,
    }


def _start(db: Database, cursor: tuple[int, str] | None, scope: str) -> tuple[int, bool]:
    if cursor is None or cursor[0] == 0:
        return 0, False
    return (cursor[0], False) if _mark(db, cursor[0], scope) == cursor[1] else (0, True)


def _top(db: Database) -> int:
    return int(db.conn.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()[0])


def _mark(db: Database, seq: int, scope: str) -> str:
    if seq == 0:
        return ""
    row = db.conn.execute("SELECT h FROM log WHERE seq = ?", (seq,)).fetchone()
    if row is None:
        return ""
    return hashlib.sha256((row[0] + scope + (setting(db, "epoch") or "")).encode()).hexdigest()[:32]


def _rows(db: Database, device: Device, lane_id: str | None, start: int, want: int) -> list[tuple[Any, ...]]:
    """One more than wanted, so that the caller knows whether there is more."""
    asked = {
        "start": start,
        "lane": lane_id,
        "privacy": json.dumps(SEES[device.role]),
        "sites": None if device.sites is None else json.dumps(sorted(device.sites)),
        "want": want + 1,
    }
    return db.conn.execute(
        f"""SELECT seq, entry_id, eff, line, lane_id, number, {MAY_READ} AS may_read FROM log
           WHERE seq > :start AND (may_read OR lane_id = :lane) ORDER BY seq LIMIT :want""",
        asked,
    ).fetchall()
