"""From log to tables: merge, rows, flags. Receiving and releasing end here; `replay.py` does the same for a whole log at once."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.flags.raising import raise_flags
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync import states, tables
from fieldlog.sync.imported import note_imports
from fieldlog.sync.log import Entry
from fieldlog.sync.release import Row, held_confirmed, held_for, held_ready, let_go, release


def apply_entries(db: Database, catalogue: Catalogue, taken: list[tuple[Entry, str]]) -> None:
    """Merge entries that stand in the log, each with its effective stamp, into records, tables and flags."""
    if taken:
        changes = tables.store(db, catalogue, states.load(db, taken))
        note_imports(db, changes)
        raise_flags(db, changes)


def release_for(db: Database, catalogue: Catalogue, now_ms: int, reasons: tuple[str, ...]) -> int:
    """
    Release what is held for these reasons and can be taken now, and what waited for that.

    Returns:
        How many entries moved from the tray to the log.
    """
    count, held_lines = 0, held_for(db, reasons)
    while held_lines:
        count += _release(db, catalogue, now_ms, held_lines)
        held_lines = held_ready(db)
    return count


def release_some(db: Database, catalogue: Catalogue, now_ms: int) -> int:
    """
    Release some of what waits no more; the rest is for the next transaction.

    Returns:
        How many entries moved from the tray to the log.
    """
    return _release(db, catalogue, now_ms, held_ready(db))


def release_confirmed(db: Database, catalogue: Catalogue, now_ms: int) -> int:
    """
    Release some of what was held until its device was confirmed; the rest is for the next transaction.

    Returns:
        How many entries moved from the tray to the log.
    """
    return _release(db, catalogue, now_ms, held_confirmed(db))


def _release(db: Database, catalogue: Catalogue, now_ms: int, held_lines: list[Row]) -> int:
    if not held_lines:
        return 0
    moved, begun = release(db, catalogue, now_ms, held_lines)
    apply_entries(db, catalogue, moved)
    let_go(db, begun)
    return len(moved)
