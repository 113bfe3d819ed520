"""
What a phone is given: the entries after its cursor that its role and sites may see.

Text travels by role and sites alone; of its own lane a phone also hears the news (that a line was taken, and under which
stamp), never the text of what it may not read. The cursor moves past what is not for it. Its second half is a hash over the
log's chain, the device's scope and the server's epoch, which a restore draws anew: a server restored from a backup, and a
device whose role or sites changed, are both told to start again (`reset`).

A phone that has nothing may ask for the season first (`past.py`): then the cursor's second half is over `past` too, how far
back the phone has come, so that a gap never passes for the end. The entries of both may travel as their lines alone
(`older`): a phone works out an entry's name from its line, and order is by the line's own stamp but where the server set it
back. That is half the bytes of a new phone's way.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.access.devices import Device, scope_of
from fieldlog.store import setting
from fieldlog.sync.past import first_page, next_page, unsent_before
from fieldlog.sync.purges import count_of_purges
from fieldlog.sync.reading import Reading, Row

MOST = 2000


@dataclass(frozen=True)
class Asked:
    """
    How a phone asks for entries.

    `lane_id` is the lane that asks, where it is proven to be the device's; its own lines up to `mine` come without their
    text. `cursor` is where the phone stands, or None at the start; `want` how many entries at most; `season`, `past` and
    `older` and `purges` as in the header.
    """

    lane_id: str | None
    mine: int
    cursor: tuple[int, str] | None
    want: int
    season: bool = False
    past: int | None = None
    older: bool = False
    purges: bool = False


def pull(db: Database, device: Device, asked: Asked, now_ms: int) -> dict[str, Any]:
    """
    The next entries for a device, of one snapshot of the log.

    Returns:
        pull: [[seq, entry id, eff, line or None], ...]; cursor; more; reset; `past` where older records are still to
        come; and where they were asked for, `older`: [line or [line, eff where it is not the line's stamp], ...].
    """
    if device.revoked or device.unconfirmed:
        return {"pull": [], "cursor": list(asked.cursor or (0, "")), "more": False, "reset": False}
    scope = scope_of(device)
    reading = Reading(db, device, asked.lane_id)
    want = max(1, min(asked.want, MOST))
    start, past, reset = _start(db, asked, scope)
    older: list[Row] = []
    if start is None:
        older, past = first_page(reading, want, now_ms)
        rows: list[Row] = []
        last, more = reading.top(), False
    else:
        rows = reading.after(start, want + 1)
        more = len(rows) > want
        rows = rows[:want]
        last = rows[-1][0] if more else reading.top()
        if past is not None:
            rows = unsent_before(reading, rows, start, past)
        if past is not None and not more:
            older, past = next_page(reading, past, max(1, want - len(rows)))
    told: dict[str, Any] = {"past": past} if past is not None else {}
    if asked.older and older:
        told["older"] = [_unnamed(row) for row in sorted(older, key=_likeness) if _has_text(row, asked)]
        older = [row for row in older if not _has_text(row, asked)]
    return {
        "pull": [[*row[:3], row[3].decode() if _has_text(row, asked) else None] for row in rows + older],
        "cursor": [last, cursor_mark(db, last, scope, past, asked.purges)],
        "more": more,
        "reset": reset,
        **told,
    }


def _has_text(row: Row, asked: Asked) -> bool:
    """Whether an entry travels with its line: what the device may read, and has not written itself."""
    return bool(row[6]) and not (row[4] == asked.lane_id and row[5] <= asked.mine)


def _likeness(row: Row) -> tuple[str, str, int]:
    """Like beside like packs best: a kind's records, in the order of their names, which begin with their time."""
    return row[7], row[8], row[0]


def _unnamed(row: Row) -> str | list[str]:
    """An entry whose name and place the phone works out."""
    line = row[3].decode()
    return line if json.loads(line)["s"] == row[2] else [line, row[2]]


def _start(db: Database, asked: Asked, scope: str) -> tuple[int | None, int | None, bool]:
    """From where on, how far back the phone has come, whether it begins again; None is the start of a season."""
    cursor = asked.cursor
    begins = None if asked.season else 0
    if cursor is None or cursor[0] == 0:
        return begins, None, False
    if cursor_mark(db, cursor[0], scope, asked.past, asked.purges) == cursor[1]:
        return cursor[0], asked.past, False
    return begins, None, True


def cursor_mark(db: Database, seq: int, scope: str, past: int | None, purges: bool = False) -> str:
    """
    The second half of a cursor: what changes with the log before `seq`, the device's scope, the epoch, and how far back it came.

    An app that carries out no purge itself starts anew after each: then it drops what others wrote, and is given what is left.
    """
    if seq == 0:
        return ""
    row = db.conn.execute("SELECT h FROM log WHERE seq = ?", (seq,)).fetchone()
    if row is None:
        return ""
    until = "" if past is None else f"|past {past}"
    count = 0 if purges else count_of_purges(db)
    purged = f"|purged {count}" if count else ""
    return hashlib.sha256((row[0] + scope + (setting(db, "epoch") or "") + until + purged).encode()).hexdigest()[:32]
