"""
Every derived table anew from the log, as when all of it came in one request: a record of one entry becomes its row at once,
indexes are made last, flags once. Readers see the old tables until the transaction around it ends.
"""

from __future__ import annotations

import gc
from collections.abc import Collection, Iterator, Sequence, Set
from contextlib import contextmanager
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.flags import verdicts
from fieldlog.flags.raising import raise_all
from fieldlog.pack.marks import lay_marks
from fieldlog.questions.imports import removed_imports
from fieldlog.questions.whole_tables import columns_of
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.store import set_setting
from fieldlog.sync import merge, states, tables
from fieldlog.sync.purges import carry_out_all
from fieldlog.sync.states import Record

PAGE = 2000
"""Entries or records at a time."""

CACHE_KB = 48 * 1024
"""What SQLite may keep in memory meanwhile; the rest of the server stays within its bounds beside it."""


def replay(db: Database, catalogue: Catalogue) -> int:
    """
    Rebuild every derived table from the log. Must be called inside a `write`.

    Neither role nor arrival nor a field is judged again: what stands in the log is taken.

    Returns:
        How many entries the log holds.
    """
    (cache,) = db.conn.execute("PRAGMA cache_size").fetchone()
    db.conn.execute(f"PRAGMA cache_size = -{CACHE_KB}")
    try:
        with _no_collection():
            count = _rebuild(db, catalogue)
        set_setting(db, "tables", tables.MADE_AS)
        if "site" in catalogue.kinds:
            lay_marks(db)
    finally:
        db.conn.execute(f"PRAGMA cache_size = {cache}")
    return count


@contextmanager
def _no_collection() -> Iterator[None]:
    """Python does not look for cycles meanwhile: rows and lines have none, and looking takes a twelfth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _rebuild(db: Database, catalogue: Catalogue) -> int:
    carry_out_all(db)
    _empty(db, catalogue)
    _several(db)
    # What was removed with its import is removed when it is made.
    first = [name for name in ("import", *verdicts.HANG_ON) if name in catalogue.kinds]
    removed: Set[str] = frozenset()
    for name in first:
        _fold_kind(db, catalogue.kinds[name], "", removed)
        tables.index(db, catalogue.kinds[name])
        removed = removed if name != "import" else removed_imports(db)
    count = _take_single(db, catalogue, first, removed)
    for kind in catalogue.kinds.values():
        if kind.name not in first:
            _fold_kind(db, kind, "AND record_id IN (SELECT record_id FROM temp.several WHERE kind = log.kind)", removed)
            tables.index(db, kind)
    db.conn.execute("DROP TABLE temp.several")
    raise_all(db, catalogue.kinds, PAGE)
    return count


def _empty(db: Database, catalogue: Catalogue) -> None:
    for kind in catalogue.kinds.values():
        db.conn.execute(f'DROP TABLE IF EXISTS "{kind.name}"')
        tables.make(db, kind.name, tables.all_columns(kind))
    for table in ("record_state", "disagreement", "flag", "survey", "survey_verdict", "site_tapes", "import_turn"):
        db.conn.execute(f"DELETE FROM {table}")


def _several(db: Database) -> None:
    """Which records have more than one entry; on disk, since it may be most of them."""
    db.conn.execute("CREATE TEMP TABLE several(kind TEXT, record_id TEXT, PRIMARY KEY(kind, record_id)) WITHOUT ROWID")
    db.conn.execute("INSERT INTO temp.several SELECT kind, record_id FROM log GROUP BY kind, record_id HAVING count(*) > 1")


def _fold_kind(db: Database, kind: Kind, only: str, removed: Set[str]) -> None:
    """The records of a kind, entry by entry."""
    ids = db.conn.execute(f"SELECT DISTINCT record_id FROM log WHERE kind = ? {only} ORDER BY record_id", (kind.name,))
    while some := [row[0] for row in ids.fetchmany(PAGE)]:
        records, rows = {}, list[tuple[Any, ...]]()
        for record_id, entries in states.entries_of(db, kind.name, some):
            records[kind.name, record_id] = record = Record(entries=len(entries))
            merge.fold(record.state, entries)
            rows.append(tables.row_of(kind, record_id, record.state, tables.made_by_import(entries)))
        _insert(db, kind, rows, removed)
        states.store(db, records)
        tables.store_disagreements(db, {kind.name: kind}, records)


def _take_single(db: Database, catalogue: Catalogue, first: Collection[str], removed: Set[str]) -> int:
    """The records of one entry, in the order of arrival. Returns how many entries the log holds in all."""
    lines = db.conn.execute(
        """SELECT entry_id, eff, line, kind, record_id, site_id, visit_id, made_by FROM log
           WHERE NOT EXISTS (SELECT 1 FROM temp.several s WHERE s.kind = log.kind AND s.record_id = log.record_id) ORDER BY seq"""
    )
    wanted = {name: (kind, tuple(kind.columns())) for name, kind in catalogue.kinds.items() if name not in first}
    while some := lines.fetchmany(PAGE):
        rows: dict[str, list[tuple[Any, ...]]] = {name: [] for name in wanted}
        for _entry_id, eff, line, name, record_id, site_id, visit_id, made_by in some:
            if name in wanted:
                said = orjson.loads(line)
                own = wanted[name][1]
                rows[name].append(tables.row_of_one(own, record_id, site_id, visit_id, made_by, eff, said["f"], said.get("i")))
        for name, found in rows.items():
            _insert(db, wanted[name][0], found, removed)
    (count,) = db.conn.execute("SELECT count(*) FROM log").fetchone()
    return int(count)


def _insert(db: Database, kind: Kind, rows: Sequence[tuple[Any, ...]], removed: Set[str]) -> None:
    if not rows:
        return
    names = list(tables.all_columns(kind))
    quoted = ", ".join(f'"{name}"' for name in names)
    judged = verdicts.judged(db, kind, columns_of(kind), tables.as_stored(kind, rows, removed))
    db.conn.executemany(f'INSERT INTO "{kind.name}"({quoted}) VALUES ({", ".join("?" * len(names))})', judged)
