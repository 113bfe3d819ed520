"""
An import that was removed or restored: the records that it made, and nobody changed since, follow it, some at a time.

Nobody waits for all of them: a request carries a few further, the server's own thread the rest, and each server goes on with what another
left.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlite_utils import Database

from fieldlog.flags import verdicts
from fieldlog.flags.changes import Change
from fieldlog.flags.raising import raise_flags
from fieldlog.questions.imports import removed_imports, rows_of_import
from fieldlog.questions.whole_tables import columns_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync import tables

AT_ONCE = 200
"""Records that follow within one transaction: about a tenth of a second."""


def note_imports(db: Database, changes: Sequence[Change]) -> None:
    """Keep which imports were removed or restored, so that their records follow. Within a `write`."""
    turned = [
        (change.record_id,) for change in changes
        if change.kind == "import" and bool(change.after["deleted"]) != bool(change.before is not None and change.before["deleted"])
    ]  # fmt: skip
    db.conn.executemany("INSERT OR IGNORE INTO import_turn(import_id) VALUES (?)", turned)


def is_turning(db: Database) -> bool:
    """Whether records are still to follow an import."""
    return db.conn.execute("SELECT 1 FROM import_turn LIMIT 1").fetchone() is not None


def turn_some(db: Database, catalogue: Catalogue) -> int:
    """Let some records follow their import. Within a `write`. Returns how many did."""
    row = db.conn.execute("SELECT import_id FROM import_turn ORDER BY import_id LIMIT 1").fetchone()
    if row is None:
        return 0
    (import_id,) = row
    is_removed = import_id in removed_imports(db, [import_id])
    for kind in catalogue.kinds.values():
        rows = rows_of_import(db, kind.name, import_id, are_removed=not is_removed, most=AT_ONCE)
        if rows:
            names, stored = list(tables.all_columns(kind)), columns_of(kind)
            after = [tuple(before[name] if name != "deleted" else int(is_removed) for name in stored) for before in rows]
            judged = list(verdicts.judged(db, kind, stored, after))
            tables.upsert(db, kind.name, names, judged)
            changes = [Change(kind.name, before["record_id"], before, dict(zip(names, row, strict=True))) for before, row in zip(rows, judged, strict=True)]
            verdicts.keep(db, changes)
            raise_flags(db, changes)
            return len(rows)
    db.conn.execute("DELETE FROM import_turn WHERE import_id = ?", (import_id,))
    return 0
