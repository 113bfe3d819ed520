"""A database file written anew, without what was deleted in it."""

from __future__ import annotations

import sqlite3
import time

from sqlite_utils import Database

from fieldlog.disk import named
from fieldlog.store import Programme, connect, own_turn, write

REWRITE_DUE = "rewrite_due"
"""The setting that stands while the file may hold, between its rows, text that was purged since it was last written anew."""

EMPTYING_S = 5.0
"""So long the write-ahead file is tried to be emptied: whoever reads holds it for moments, a replica's engine for as long as it runs."""


def rewrite_file(programme: Programme) -> bool:
    """
    Write the database's file anew, without what was deleted in it, and empty the write-ahead file.

    Returns:
        Whether nothing of what was deleted is left in either; else `REWRITE_DUE` still stands.

    Raises:
        DiskFull: there is no room for a second copy of the database.
        WriterBusy: another writer held the file for longer than five seconds.
    """
    # A connection of its own: others keep temporary tables, and VACUUM's copy would be one, in memory.
    db = connect(programme.path)
    try:
        with own_turn(db):
            db.conn.execute("VACUUM")
        if not _emptied(db):
            return False
        with write(db):
            db.conn.execute("DELETE FROM setting WHERE name = ?", (REWRITE_DUE,))
        return True
    except sqlite3.DatabaseError as fault:
        raise named(fault) from fault
    finally:
        db.conn.close()


def _emptied(db: Database) -> bool:
    deadline = time.monotonic() + EMPTYING_S
    while db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
        if time.monotonic() > deadline:
            return False
        time.sleep(0.05)
    return True
