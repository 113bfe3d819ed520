"""
Record tables: what the log says now, one table a kind, columns from the catalogue.

They are never written but from the log, so they can be dropped and rebuilt at any time. Beside the fields stand columns that
are worked out of the row for the flags (`flags/verdicts.py`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from typing import Any

from sqlite_utils import Database

from fieldlog.flags import verdicts
from fieldlog.flags.changes import Change
from fieldlog.flags.doubt import VALUES_TOLD
from fieldlog.instants import in_one_form
from fieldlog.questions.imports import removed_imports
from fieldlog.questions.whole_tables import columns_of
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.records.fields import Ref, Sha256
from fieldlog.records.kind import DELETED, ENVELOPE
from fieldlog.records.listed import packed
from fieldlog.records.on_visit import IN_VISIT
from fieldlog.store import set_setting, setting
from fieldlog.sync import merge, states
from fieldlog.sync.log import Entry
from fieldlog.sync.states import Key, Record

MADE_AS = "19"
"""
How derived tables are made, flags included. Raise it when the same log makes other rows or flags than before: folders made
by an older version are then rebuilt when they are opened.
"""

_DELETED, _IMPORT = list(ENVELOPE).index("deleted"), list(ENVELOPE).index("import_id")

BATCH = 500
"""Records that are folded anew at once."""


def store(db: Database, catalogue: Catalogue, records: dict[Key, Record]) -> list[Change]:
    """Write touched records' rows, what their verdicts are, their open disagreements and long states: one statement a kind."""
    changes = []
    removed = removed_imports(db, {record.alone[0].import_id for record in records.values() if record.alone is not None})
    first = dict.fromkeys(name for name in verdicts.HANG_ON if any(kind == name for kind, _ in records))
    for name in first | dict.fromkeys(kind for kind, _ in records):
        kind = catalogue.kinds[name]
        names = list(all_columns(kind))
        touched = {record_id: record for (of, record_id), record in records.items() if of == name}
        own = tuple(kind.columns())
        made = as_stored(kind, [_row(kind, own, record_id, record) for record_id, record in touched.items()], removed)
        rows = list(verdicts.judged(db, kind, columns_of(kind), made))
        upsert(db, name, names, rows)
        changes += [
            Change(name, record_id, record.before, dict(zip(names, row, strict=True)))
            for (record_id, record), row in zip(touched.items(), rows, strict=True)
        ]
    states.store(db, records)
    store_disagreements(db, catalogue.kinds, records)
    verdicts.keep(db, changes)
    return changes


def all_columns(kind: Kind) -> dict[str, str]:
    """Every column of a kind's table: {name: SQLite type}."""
    return {**ENVELOPE, **kind.columns(), **verdicts.columns_of(kind)}


def as_stored(kind: Kind, rows: Sequence[tuple[Any, ...]], removed: Set[str]) -> Sequence[tuple[Any, ...]]:
    """
    Rows of `row_of` as their table keeps them: lists as JSON text, and what an import made as removed as that is.

    Args:
        removed: the imports that were removed.
    """
    if removed:
        rows = [(*row[:_DELETED], 1, *row[_DELETED + 1 :]) if row[_IMPORT] in removed else row for row in rows]
    if not kind.lists:
        return rows
    at = {columns_of(kind).index(name) for name in kind.lists}
    return [tuple(packed(value) if n in at else value for n, value in enumerate(row)) for row in rows]


def upsert(db: Database, table: str, columns: list[str], rows: Iterable[tuple[Any, ...]]) -> None:
    """Put rows in the place of those with the same record id; columns that are not named are left as they are."""
    quoted = ", ".join(f'"{name}"' for name in columns)
    changed = ", ".join(f'"{name}" = excluded."{name}"' for name in columns[1:])
    db.conn.executemany(
        f'INSERT INTO "{table}"({quoted}) VALUES ({", ".join("?" * len(columns))}) ON CONFLICT(record_id) DO UPDATE SET {changed}', rows
    )


def _row(kind: Kind, own: Iterable[str], record_id: str, record: Record) -> tuple[Any, ...]:
    if record.alone is None:
        return row_of(kind, record_id, record.state)
    entry, eff = record.alone
    return row_of_one(own, record_id, entry.site_id, entry.visit_id, entry.made_by, eff, entry.fields, entry.import_id)


def row_of_one(
    own: Iterable[str], record_id: str, site_id: str | None, visit_id: str | None, made_by: str | None, eff: str, fields: Mapping[str, Any],
    import_id: str | None,
) -> tuple[Any, ...]:  # fmt: skip
    """The values of `columns_of` for a record of one entry, whose fields stand; `own` are its kind's columns."""
    gone = int(bool(fields.get(DELETED)))
    return (record_id, site_id, fields.get(IN_VISIT) or visit_id, gone, made_by, eff, made_by, eff, import_id, *map(in_one_form(fields).get, own))


def row_of(kind: Kind, record_id: str, state: merge.State, import_id: str | None = None) -> tuple[Any, ...]:
    """The values of `columns_of` that a state amounts to; `import_id` of one that an import made and nobody changed since."""
    values = merge.winners(state, kind.merges, kind.since)
    first, last = state["first"], state["last"]
    return (
        record_id, first[3], values.get(IN_VISIT) or first[4], int(bool(values.get(DELETED))), first[2], first[0], last[2], last[0], import_id,
        *map(values.get, kind.columns()),
    )  # fmt: skip


def made_by_import(entries: Sequence[tuple[Entry, str]]) -> str | None:
    """The import that made a record of these entries, where nobody has changed it since."""
    return entries[0][0].import_id if len(entries) == 1 else None


def store_disagreements(db: Database, kinds: Mapping[str, Kind], records: Mapping[Key, Record]) -> None:
    """Write the open disagreements of these records in the place of the former, of each as much as a flag tells."""
    db.conn.executemany(
        "DELETE FROM disagreement WHERE kind = ? AND record_id = ?", [key for key, record in records.items() if record.before is not None]
    )
    db.conn.executemany("INSERT INTO disagreement VALUES (?, ?, ?, ?, ?, ?, ?)", list(_disagreements(kinds, records)))


def _disagreements(kinds: Mapping[str, Kind], records: Mapping[Key, Record]) -> Iterator[tuple[Any, ...]]:
    for key, record in records.items():
        if record.alone is not None:
            continue
        for name, (ids, values) in merge.disagreements(record.state, kinds[key[0]].merges, kinds[key[0]].since).items():
            ids, values = ids[: VALUES_TOLD + 1], values[: VALUES_TOLD + 1]
            yield (*key, name, record.state["first"][3], ids[0], json.dumps(ids), json.dumps(values, ensure_ascii=False))


def follow(db: Database, catalogue: Catalogue) -> bool:
    """
    Bring the record tables to the catalogue: columns come and go; one that came is filled from what the log says.

    Returns:
        Whether the catalogue differs from the one these tables were last opened with.
    """
    for kind in catalogue.kinds.values():
        _follow_kind(db, kind)
    changed = setting(db, "catalogue") != catalogue.hash
    set_setting(db, "catalogue", catalogue.hash)
    return changed


def lacking(db: Database, catalogue: Catalogue) -> list[str]:
    """The columns, as kind.column, that the record tables would need to be read by this version."""
    have = {(name, row[1]) for name in catalogue.kinds for row in db.conn.execute(f'PRAGMA table_info("{name}")').fetchall()}
    return [f"{kind.name}.{column}" for kind in catalogue.kinds.values() for column in all_columns(kind) if (kind.name, column) not in have]


def _follow_kind(db: Database, kind: Kind) -> None:
    wanted = all_columns(kind)
    have = {row[1]: row[2] for row in db.conn.execute(f'PRAGMA table_info("{kind.name}")').fetchall()}
    if not have:
        make(db, kind.name, wanted)
        index(db, kind)
        return
    gone = [name for name in have if name not in wanted or wanted[name].split()[0] != have[name]]
    come = [name for name in wanted if name not in have or name in gone]
    if not gone and not come:
        return
    for (name,) in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND tbl_name = ? AND sql IS NOT NULL", (kind.name,)).fetchall():
        db.conn.execute(f'DROP INDEX "{name}"')
    for name in gone:
        db.conn.execute(f'ALTER TABLE "{kind.name}" DROP COLUMN "{name}"')
    for name in come:
        db.conn.execute(f'ALTER TABLE "{kind.name}" ADD COLUMN "{name}" {wanted[name]}')
    index(db, kind)
    _refill(db, kind, [name for name in come if name in kind.fields])
    if any(name in verdicts.columns_of(kind) for name in come):
        verdicts.keep_all(db)


def make(db: Database, table: str, columns: Mapping[str, str]) -> None:
    """An empty record table without its indexes."""
    declared = ", ".join(f'"{name}" {affinity}' for name, affinity in columns.items())
    db.conn.execute(f'CREATE TABLE "{table}"({declared})')


def index(db: Database, kind: Kind) -> None:
    """The indexes of a kind's table: its key, its place, what it refers to, and those by which flags are found."""
    name = kind.name
    db.conn.execute(f'CREATE UNIQUE INDEX "{name}_key" ON "{name}"(record_id)')
    db.conn.execute(f'CREATE INDEX "{name}_place" ON "{name}"(site_id, visit_id)')
    db.conn.execute(f'CREATE INDEX "{name}_import" ON "{name}"(import_id) WHERE import_id IS NOT NULL')
    for column, declared in kind.fields.items():
        if column.endswith("_id") or isinstance(declared, Ref | Sha256):
            db.conn.execute(f'CREATE INDEX "{name}_{column}" ON "{name}"("{column}")')
    for statement in verdicts.indexes_of(kind):
        db.conn.execute(statement)


def _refill(db: Database, kind: Kind, columns: list[str]) -> None:
    """Fill columns that came anew; only records whose lines name one of them have anything to put there."""
    if not columns:
        return
    # A name may stand in a line with escapes, so a line that has any is looked at too.
    asked = [name.encode() for name in columns] + [b"\\u"]
    named = " OR ".join("instr(line, ?) > 0" for _ in asked)
    rows = db.conn.execute(f"SELECT DISTINCT record_id FROM log WHERE kind = ? AND ({named})", (kind.name, *asked)).fetchall()
    ids = [row[0] for row in rows]
    for start in range(0, len(ids), BATCH):
        folded = []
        for record_id, entries in states.entries_of(db, kind.name, ids[start : start + BATCH]):
            state = merge.empty()
            merge.fold(state, entries)
            folded.append(row_of(kind, record_id, state, made_by_import(entries)))
        removed = removed_imports(db, {row[_IMPORT] for row in folded})
        upsert(db, kind.name, columns_of(kind), as_stored(kind, folded, removed))
