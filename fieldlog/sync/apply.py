"""From log to tables: merge, rows, flags. Receiving and releasing end here; `replay.py` does the same for a whole log at once."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.flags.raising import raise_flags
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync import states, tables
from fieldlog.sync.log import Entry
from fieldlog.sync.release import Row, held_for, held_until, release


def apply_entries(db: Database, catalogue: Catalogue, taken: list[tuple[Entry, str]]) -> None:
    """Merge entries that stand in the log, each with its effective stamp, into records, tables and flags."""
    if taken:
        raise_flags(db, tables.store(db, catalogue, states.load(db, taken)))


def release_for(db: Database, catalogue: Catalogue, now_ms: int, reasons: tuple[str, ...]) -> int:
    """
    Release what is held for these reasons and can be taken now, and what waited for that.

    Returns:
        How many entries moved from the tray to the log.
    """
    return _release(db, catalogue, now_ms, held_for(db, reasons))


def release_until(db: Database, catalogue: Catalogue, now_ms: int, begun: list[Entry]) -> int:
    """The same of what waits for records that have begun with these entries."""
    return _release(db, catalogue, now_ms, held_until(db, begun))


def _release(db: Database, catalogue: Catalogue, now_ms: int, held_lines: list[Row]) -> int:
    count = 0
    while held_lines:
        moved, begun = release(db, catalogue, now_ms, held_lines)
        apply_entries(db, catalogue, moved)
        count += len(moved)
        held_lines = held_until(db, begun)
    return count
