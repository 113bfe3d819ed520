"""
Record tables: what the log says now, one table a kind, columns from the catalogue.

They are never written but from merge states, so they can be dropped and rebuilt at any time.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any

from sqlite_utils import Database

from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.store import set_setting, setting
from fieldlog.sync import merge

Key = tuple[str, str]
"""A record: (kind, record id)."""

ENVELOPE = {
    "record_id": "TEXT PRIMARY KEY", "site_id": "TEXT", "visit_id": "TEXT", "deleted": "INTEGER NOT NULL DEFAULT 0",
    "created_by": "TEXT", "created_eff": "TEXT", "changed_by": "TEXT", "changed_eff": "TEXT",
}  # fmt: skip
"""The columns every record table has beside its kind's own."""

BATCH = 400
"""Keys a statement asks for at once: well under SQLite's limit of bound values."""

_COMPACT = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
"""Made once: `json.dumps` makes an encoder a call where its options are not the usual ones."""


def load_states(db: Database, keys: Iterable[Key]) -> dict[Key, merge.State]:
    """The merge states of these records; a record the log does not know gets an empty one."""
    found: dict[Key, merge.State] = {}
    for kind, group in groupby(sorted(set(keys)), key=lambda key: key[0]):
        ids = [record_id for _, record_id in group]
        for start in range(0, len(ids), BATCH):
            some = ids[start : start + BATCH]
            rows = db.conn.execute(
                f"SELECT record_id, state FROM record_state WHERE kind = ? AND record_id IN ({_marks(some)})", [kind, *some]
            )
            stored = dict(rows.fetchall())
            for record_id in some:
                text = stored.get(record_id)
                found[kind, record_id] = merge.empty() if text is None else json.loads(text)
    return found


def store_states(db: Database, catalogue: Catalogue, states: dict[Key, merge.State]) -> None:
    """Write merge states, the rows they amount to, and their open disagreements: one statement a kind."""
    db.conn.executemany(
        "INSERT OR REPLACE INTO record_state(kind, record_id, state) VALUES (?, ?, ?)",
        [(*key, _COMPACT(state)) for key, state in states.items()],
    )
    by_kind: dict[str, list[tuple[str, merge.State]]] = {}
    for (kind, record_id), state in states.items():
        by_kind.setdefault(kind, []).append((record_id, state))
    for name, records in by_kind.items():
        _upsert(db, catalogue.kinds[name], records)
    _store_disagreements(db, states)


def _upsert(db: Database, kind: Kind, records: list[tuple[str, merge.State]]) -> None:
    columns = [*ENVELOPE, *kind.columns()]
    quoted = ", ".join(f'"{name}"' for name in columns)
    db.conn.executemany(
        f'INSERT OR REPLACE INTO "{kind.name}"({quoted}) VALUES ({_marks(columns)})',
        [list(_row(kind, record_id, state)) for record_id, state in records],
    )


def _row(kind: Kind, record_id: str, state: merge.State) -> Iterator[Any]:
    values = merge.winners(state, kind.cautious)
    first, last = state["first"], state["last"]
    yield from (record_id, first[3], first[4], bool(values.get("_deleted")), first[2], first[0], last[2], last[0])
    for name in kind.columns():
        yield values.get(name)


def _store_disagreements(db: Database, states: dict[Key, merge.State]) -> None:
    db.conn.executemany("DELETE FROM disagreement WHERE kind = ? AND record_id = ?", list(states))
    db.conn.executemany(
        "INSERT INTO disagreement VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            (*key, field, state["first"][3], ids[0], json.dumps(ids), json.dumps(values, ensure_ascii=False))
            for key, state in states.items()
            for field, (ids, values) in merge.disagreements(state).items()
        ],
    )


def _marks(values: list[Any]) -> str:
    return ", ".join("?" * len(values))


def follow(db: Database, catalogue: Catalogue) -> bool:
    """
    Bring the record tables to the catalogue: a new field is added, anything else drops and refills that kind.

    Returns:
        Whether the catalogue differs from the one these tables were last opened with.
    """
    for kind in catalogue.kinds.values():
        _follow_kind(db, kind)
    changed = setting(db, "catalogue") != catalogue.hash
    set_setting(db, "catalogue", catalogue.hash)
    return changed


def _follow_kind(db: Database, kind: Kind) -> None:
    wanted = {**ENVELOPE, **kind.columns()}
    have = {row[1]: row[2] for row in db.conn.execute(f'PRAGMA table_info("{kind.name}")').fetchall()}
    missing = [name for name in wanted if name not in have]
    same_types = all(wanted[name].split()[0] == have[name] for name in wanted if name in have)
    if have and same_types and not set(have) - set(wanted):
        for name in missing:
            db.conn.execute(f'ALTER TABLE "{kind.name}" ADD COLUMN "{name}" {wanted[name]}')
        return
    db.conn.execute(f'DROP TABLE IF EXISTS "{kind.name}"')
    columns = ", ".join(f'"{name}" {affinity}' for name, affinity in wanted.items())
    db.conn.execute(f'CREATE TABLE "{kind.name}"({columns})')
    db.conn.execute(f'CREATE INDEX "{kind.name}_place" ON "{kind.name}"(site_id, visit_id)')
    for name in kind.columns():
        if name.endswith("_id"):
            db.conn.execute(f'CREATE INDEX "{kind.name}_{name}" ON "{kind.name}"("{name}")')
    rows = db.conn.execute("SELECT record_id, state FROM record_state WHERE kind = ?", (kind.name,)).fetchall()
    _upsert(db, kind, [(record_id, json.loads(state)) for record_id, state in rows])
