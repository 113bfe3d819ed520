"""
Held lines that can be taken now move to the log: under a new seq, their own number, id and stamp kept.

Their owners learn it by the pull. Nobody releases by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlite_utils import Database

from fieldlog.access.authors import count_authors
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import set_setting, setting
from fieldlog.sync.file_parts import sender_of
from fieldlog.sync.fixes import settle_held
from fieldlog.sync.judge import Court, Held, unconfirmed, waits_for
from fieldlog.sync.log import Entry, chain
from fieldlog.sync.rows import INSERT_LOG, log_end, log_row

FOR_A_NEWER_SERVER = ("unknown-kind", "unknown-field", "bad-type", "beyond-limit", "unknown-person", "waits-for-first")
"""Words of lines that another version of the server may take."""

READY = "now"
"""In the place of "kind|record id": what the line waited for has come."""

AT_ONCE = 200
"""Lines that are released in one transaction: thousands may wait for one person, and others want to write meanwhile."""

CONFIRMED_AT_ONCE = 50
"""The same of what devices wrote before they were confirmed, in a process of its own beside the server's, whose writers wait longer for it."""

RELEASING = "releasing"
"""The setting that stands while such lines are released, so that whoever comes next goes on where it was stopped."""

Row = tuple[Any, ...]


def held_for(db: Database, reasons: tuple[str, ...]) -> list[Row]:
    """The held lines of these fixed words, in the order in which they came."""
    where = " OR ".join(["why = ? OR why LIKE ? || ':%'"] * len(reasons))
    return _rows(db, where, [word for reason in reasons for word in (reason, reason)])


def let_go(db: Database, begun: Iterable[Entry]) -> None:
    """Note that what waits for records which have begun with these entries waits no more. Must be called inside a `write`."""
    awaited = [(READY, waits_for(entry.kind, entry.record_id)) for entry in begun]
    db.conn.executemany("UPDATE tray SET waits_for = ? WHERE waits_for = ?", awaited)


def has_ready(db: Database) -> bool:
    """Whether a held line waits no more."""
    return db.conn.execute("SELECT 1 FROM tray WHERE waits_for = ? LIMIT 1", (READY,)).fetchone() is not None


def held_ready(db: Database) -> list[Row]:
    """The held lines that wait no more, in the order in which they came, as many as one transaction takes."""
    return _rows(db, "waits_for = ?", [READY], AT_ONCE)


def begin_releasing(db: Database) -> None:
    """Note that lines of devices that are confirmed by now may wait. Must be called inside a `write`."""
    set_setting(db, RELEASING, "1")


def is_releasing(db: Database) -> bool:
    """Whether lines may wait whose device was confirmed."""
    return setting(db, RELEASING) is not None


def held_confirmed(db: Database) -> list[Row]:
    """
    The next held lines of a device that was confirmed, in the order in which they came, as many as one transaction takes.

    With none, the release is over. Must be called inside a `write`.
    """
    row = db.conn.execute(
        """SELECT t.waits_for FROM lane JOIN device d USING (device_id) JOIN tray t ON t.rowid =
            (SELECT min(rowid) FROM tray WHERE waits_for = 'lane|' || lane.lane_id)
           WHERE NOT d.unconfirmed ORDER BY t.rowid LIMIT 1"""
    ).fetchone()
    if row is None:
        db.conn.execute("DELETE FROM setting WHERE name = ?", (RELEASING,))
        return []
    return db.conn.execute(
        "SELECT lane_id, number, entry_id, line, ch FROM tray WHERE waits_for = ? ORDER BY rowid LIMIT ?", (row[0], CONFIRMED_AT_ONCE)
    ).fetchall()


def _rows(db: Database, where: str, values: list[str], most: int = -1) -> list[Row]:
    return db.conn.execute(
        f"SELECT lane_id, number, entry_id, line, ch FROM tray WHERE {where} ORDER BY received_at, lane_id, number LIMIT ?", [*values, most]
    ).fetchall()


def release(db: Database, catalogue: Catalogue, now_ms: int, held_lines: list[Row]) -> tuple[list[tuple[Entry, str]], list[Entry]]:
    """
    Move to the log what can be taken now of these held lines. Must be called inside a `write`.

    The rights are those of the device that holds the lane now, or of the file that brought the line; lines of a revoked or
    unconfirmed one stay.

    Returns:
        The entries that moved, each with its effective stamp, which the caller applies to the tables; and those with which a
        record began.
    """
    seq, h, newest = log_end(db)
    court = Court(db, catalogue)
    moved: list[tuple[Entry, str]] = []
    begun: list[Entry] = []
    for lane_id, number, entry_id, line, ch in held_lines:
        device = sender_of(db, lane_id, number)
        if device is None or device.revoked:
            db.conn.execute("UPDATE tray SET waits_for = NULL WHERE lane_id = ? AND number = ?", (lane_id, number))
            continue
        if device.unconfirmed:
            _hold(db, lane_id, number, unconfirmed(lane_id))
            continue
        verdict = court.verdict(line, lane_id, number, device)
        if isinstance(verdict, Held):
            # It may wait for something else by now.
            _hold(db, lane_id, number, verdict)
            continue
        eff, begins = court.takes(verdict, device, now_ms, newest)
        if begins:
            begun.append(verdict)
        newest = max(newest, eff)
        seq += 1
        h = chain(h, entry_id + eff)
        db.conn.execute("DELETE FROM tray WHERE lane_id = ? AND number = ?", (lane_id, number))
        db.conn.execute(INSERT_LOG, log_row(seq, verdict, eff, line, catalogue, h, ch, now_ms))
        settle_held(db, verdict, device)
        count_authors(db, device.device_id, [verdict.made_by], now_ms)
        moved.append((verdict, eff))
    return moved, begun


def _hold(db: Database, lane_id: str, number: int, why: Held) -> None:
    db.conn.execute(
        "UPDATE tray SET why = ?, sentence = ?, waits_for = ? WHERE lane_id = ? AND number = ?",
        (why.why, why.sentence, why.waits_for, lane_id, number),
    )
