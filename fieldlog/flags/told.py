"""When the times of a record were told: a later entry about something else says nothing of the clock that told them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlite_utils import Database

from fieldlog.instants import normal
from fieldlog.questions.entries import kept_states, lines_of
from fieldlog.records.catalogue import Kind

Row = Mapping[str, Any]


def stamps_of_times(db: Database, kind: Kind, rows: Sequence[Row]) -> dict[str, dict[str, str]]:
    """
    Of records of more than one entry: the effective stamp of the newest one that says what each observed time is now.

    Returns:
        {record id: {field: stamp}}; of a record of one entry nothing, since that one told all.
    """
    by_id = {row["record_id"]: row for row in rows if row["created_eff"] != row["changed_eff"] and any(row[name] for name in kind.observed)}
    found: dict[str, dict[str, str]] = {}
    for record_id, name, stamp, value in _told(db, kind, list(by_id)):
        if normal(name, value) == by_id[record_id][name]:
            stamps = found.setdefault(record_id, {})
            stamps[name] = max(stamp, stamps.get(name, ""))
    return found


def _told(db: Database, kind: Kind, ids: list[str]) -> Iterator[tuple[str, str, str, Any]]:
    """What was told of the observed times of these records: out of the state of those that keep one, out of the log of the others."""
    kept = kept_states(db, kind.name, ids)
    for record_id, text in kept:
        fields = json.loads(text)["fields"]
        for name in kind.observed:
            for _, stamp, value in fields[name]["heads"] if name in fields else []:
                yield record_id, name, stamp, value
    short = sorted({*ids} - {record_id for record_id, _ in kept})
    for record_id, stamp, line in lines_of(db, kind.name, short):
        said = json.loads(line)["f"]
        yield from ((record_id, name, stamp, said[name]) for name in kind.observed if name in said)
