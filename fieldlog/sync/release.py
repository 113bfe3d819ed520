"""
Held lines that this server can read now move to the log: under a new seq, their own number, id and stamp kept.

Their owners learn it by the pull. Nobody releases by hand.
"""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.access.devices import Device, device_of_lane
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.clock import START, effective
from fieldlog.sync.judge import Court, Held
from fieldlog.sync.log import Entry, chain
from fieldlog.sync.rows import INSERT_LOG, log_row

FOR_A_NEWER_SERVER = ("unknown-kind", "unknown-field", "bad-type", "beyond-limit", "unknown-person")
FOR_A_PERSON = ("unknown-person",)


def release(db: Database, catalogue: Catalogue, now_ms: int, reasons: tuple[str, ...]) -> list[tuple[Entry, str]]:
    """
    Move to the log what was held for one of `reasons` and can be read now.

    Must be called inside a `write`. The role is judged now: a line of an unknown kind or field never was.

    Returns:
        The entries that moved, each with its effective stamp; the caller applies them to the tables.
    """
    seq, h = db.conn.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")
    newest = db.conn.execute("SELECT max(eff) FROM log").fetchone()[0] or START
    moved: list[tuple[Entry, str]] = []
    for lane_id, number, entry_id, line, ch in _waiting(db, reasons):
        device = device_of_lane(db, lane_id)
        verdict = _verdict(db, catalogue, device, line, lane_id, number)
        if device is None or isinstance(verdict, Held):
            continue
        eff = effective(verdict.stamp, now_ms, newest)
        newest = max(newest, eff)
        seq += 1
        h = chain(h, entry_id + eff)
        db.conn.execute("DELETE FROM tray WHERE lane_id = ? AND number = ?", (lane_id, number))
        db.conn.execute(INSERT_LOG, log_row(seq, verdict, eff, line, catalogue, h, ch, now_ms))
        moved.append((verdict, eff))
    return moved


def _waiting(db: Database, reasons: tuple[str, ...]) -> list[tuple[str, int, str, bytes, str]]:
    rows = db.conn.execute(
        "SELECT lane_id, number, entry_id, line, ch, why FROM tray ORDER BY received_at, lane_id, number"
    ).fetchall()
    return [(*row[:5],) for row in rows if row[5].split(":")[0] in reasons]


def _verdict(
    db: Database, catalogue: Catalogue, device: Device | None, line: bytes, lane_id: str, number: int
) -> Entry | Held:
    if device is None:
        return Held("not-permitted", "")
    return Court(db, catalogue, device, [line]).verdict(line, lane_id, number)
