"""From log to tables: merge, upsert, flags. Receiving, releasing and replaying all end here."""

from __future__ import annotations

from sqlite_utils import Database

from fieldlog.flags.raising import raise_flags, subjects_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync import merge, tables
from fieldlog.sync.judge import Held, read_entry
from fieldlog.sync.log import Entry
from fieldlog.sync.release import Row, held_for, held_until, release

REPLAY_PAGE = 5000


def apply_entries(db: Database, catalogue: Catalogue, taken: list[tuple[Entry, str]]) -> None:
    """Merge entries that stand in the log, each with its effective stamp, into records, tables and flags."""
    if not taken:
        return
    states = tables.load_states(db, [(entry.kind, entry.record_id) for entry, _ in taken])
    before = {key: state["first"] for key, state in states.items()}
    for entry, eff in taken:
        merge.apply(states[entry.kind, entry.record_id], entry, eff)
    tables.store_states(db, catalogue, states)
    moved = {key for key, first in before.items() if first is not None and first[3] != states[key]["first"][3]}
    raise_flags(db, subjects_of(db, set(states), moved))


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


def replay(db: Database, catalogue: Catalogue) -> int:
    """
    Rebuild every derived table from the log, in the order of arrival. Must be called inside a `write`.

    Neither role nor arrival is judged again: what stands in the log is taken.

    Returns:
        How many entries the log holds.
    """
    for table in ("record_state", "disagreement", "flag", *catalogue.kinds):
        db.conn.execute(f'DELETE FROM "{table}"')
    seq = count = 0
    while rows := db.conn.execute(
        "SELECT seq, lane_id, number, eff, line FROM log WHERE seq > ? ORDER BY seq LIMIT ?", (seq, REPLAY_PAGE)
    ).fetchall():
        seq, taken = rows[-1][0], []
        for _seq, lane_id, number, eff, line in rows:
            entry = read_entry(line, lane_id, number, catalogue)
            if not isinstance(entry, Held):
                taken.append((entry, eff))
        apply_entries(db, catalogue, taken)
        count += len(taken)
    return count
