"""
The merge states of records that are touched again: folded from their lines in the log.

97 of 100 records have one entry, and their state says nothing that their row and entry do not; so none is stored. A record
of many entries keeps its state, so that what it costs to touch it does not grow with each further entry.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.sync import merge
from fieldlog.sync.log import Entry

Key = tuple[str, str]
"""A record: (kind, record id)."""

MANY = 20
"""A record with more entries than this keeps its state. Reading 20 lines costs about a millisecond."""


@dataclass
class Record:
    """
    A record that is being touched: its state, how many entries it was folded from, and its row as it was.

    `alone` is the entry, with its effective stamp, of a record that has no other: its fields are the row, and it needs no state.
    """

    state: merge.State = field(default_factory=merge.empty)
    entries: int = 0
    before: Mapping[str, Any] | None = None
    alone: tuple[Entry, str] | None = None


def load(db: Database, taken: Iterable[tuple[Entry, str]]) -> dict[Key, Record]:
    """
    The records that these entries touch, with these folded in; whether they stand in the log already does not matter.

    Args:
        taken: entries of kinds that have a table, each with its effective stamp, in the order of arrival.
    """
    new: dict[Key, list[tuple[Entry, str]]] = {}
    for entry, eff in taken:
        new.setdefault((entry.kind, entry.record_id), []).append((entry, eff))
    records = {key: Record() for key in new}
    for kind, keys in groupby(sorted(new), key=lambda key: key[0]):
        ids = [record_id for _, record_id in keys]
        for row in rows_of(db, kind, ids):
            records[kind, row["record_id"]].before = row
        known = [record_id for record_id in ids if records[kind, record_id].before is not None]
        _read(db, kind, known, {entry.entry_id for record_id in known for entry, _ in new[kind, record_id]}, records)
    for key, entries in new.items():
        record = records[key]
        if record.before is None and len(entries) == 1:
            record.alone = entries[0]
        else:
            merge.fold(record.state, entries)
        record.entries += len(entries)
    return records


def rows_of(db: Database, kind: str, ids: list[str]) -> Iterator[dict[str, Any]]:
    """The rows of these records of a kind."""
    found = db.conn.execute(f'SELECT * FROM "{kind}" WHERE record_id IN (SELECT value FROM json_each(?))', (json.dumps(ids),))
    names = [column[0] for column in found.description]
    return (dict(zip(names, row, strict=True)) for row in found.fetchall())


def _read(db: Database, kind: str, ids: list[str], new_ids: set[str], records: dict[Key, Record]) -> None:
    if not ids:
        return
    stored = db.conn.execute(
        "SELECT record_id, state FROM record_state WHERE kind = ? AND record_id IN (SELECT value FROM json_each(?))", (kind, json.dumps(ids))
    )
    for record_id, text in stored.fetchall():
        records[kind, record_id].state, records[kind, record_id].entries = orjson.loads(text), MANY + 1
    for record_id, entries in entries_of(db, kind, [one for one in ids if not records[kind, one].entries]):
        record = records[kind, record_id]
        earlier = [(entry, eff) for entry, eff in entries if entry.entry_id not in new_ids]
        merge.fold(record.state, earlier)
        record.entries = len(earlier)


def bytes_of(db: Database, key: Key, enough: int) -> int:
    """How long a record's lines in the log are in all, bytes; of one of many entries, more than is `enough` to look at its state."""
    count, total = db.conn.execute(
        "SELECT count(*), total(length(line)) FROM (SELECT line FROM log WHERE kind = ? AND record_id = ? LIMIT ?)", (*key, MANY + 1)
    ).fetchone()
    return enough + 1 if count > MANY else int(total)


def state_of(db: Database, key: Key, besides: list[tuple[Entry, str]]) -> merge.State:
    """A record's state as the log says; `besides` are entries of it that may not stand there yet, each with its effective stamp."""
    kind, record_id = key
    records = {key: Record()}
    new_ids = {entry.entry_id for entry, _eff in besides}
    _read(db, kind, [record_id], new_ids, records)
    merge.fold(records[key].state, besides)
    return records[key].state


def entries_of(db: Database, kind: str, ids: list[str]) -> Iterator[tuple[str, list[tuple[Entry, str]]]]:
    """The log's entries of these records of a kind, each with its effective stamp, in the order of arrival."""
    rows = db.conn.execute(
        """SELECT record_id, entry_id, lane_id, number, eff, line, made_by, site_id, visit_id FROM log
           WHERE kind = ? AND record_id IN (SELECT value FROM json_each(?)) ORDER BY record_id, seq""",
        (kind, json.dumps(ids)),
    )
    for record_id, group in groupby(rows, key=lambda row: row[0]):
        yield record_id, [(entry_in_log(kind, record_id, *row[1:4], *row[5:]), row[4]) for row in group]


def entry_in_log(
    kind: str, record_id: str, entry_id: str, lane_id: str, number: int, line: bytes, made_by: str | None, site_id: str | None,
    visit_id: str | None,
) -> Entry:  # fmt: skip
    """An entry that stands in the log. It was judged when it came: what is taken stays taken, and its text is read as it is."""
    said = orjson.loads(line)
    return Entry(entry_id, lane_id, number, said["s"], kind, record_id, said["f"], said.get("b") or {}, made_by, site_id, visit_id, None, None, import_id=said.get("i"))


def store(db: Database, records: dict[Key, Record]) -> None:
    """Keep the states of those that have many entries."""
    db.conn.executemany(
        "INSERT OR REPLACE INTO record_state(kind, record_id, state) VALUES (?, ?, ?)",
        [(*key, orjson.dumps(record.state).decode()) for key, record in records.items() if record.entries > MANY],
    )
