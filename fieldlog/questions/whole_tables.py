"""
Whole tables, a row at a time, for whoever takes a programme's data out of it: of each kind its records in the order in which they happened.

Nothing of a table is held in memory. What sorts more than SQLite's cache goes to a file of its own, on a connection of its own.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.records.kind import ENVELOPE, Kind
from fieldlog.store import one_snapshot, read_only

ROWS_AT_ONCE = 500
"""Rows that are fetched together."""


@dataclass(frozen=True, slots=True)
class Span:
    """
    Which records are asked for.

    Attributes:
        sites: ids; None is all. What belongs to the whole programme (no site) is always among them.
        from_at, until_at: UTC texts as rows have them (`fieldlog/instants.py`), the first one in, the last one not. They leave out no
            record of a kind that says no time, such as a unit, and every one that should say its time and does not.
    """

    sites: frozenset[str] | None = None
    from_at: str | None = None
    until_at: str | None = None


EVERYTHING = Span()


@contextmanager
def one_state(path: Path) -> Iterator[Database]:
    """A programme's file as it stands now, for as long as somebody reads, whatever is written meanwhile; nothing is changed by it."""
    with closing(read_only(path)) as conn, one_snapshot(Database(conn)) as db:
        yield db


def columns_of(kind: Kind) -> list[str]:
    """The columns of the rows that `rows_of` gives: what every record has, then the kind's own in the order of their declaration."""
    return [*ENVELOPE, *kind.columns()]


def time_of(kind: Kind) -> str | None:
    """The column that says when a record of this kind happened; None where it says no time."""
    return kind.observed[0] if kind.observed else None


def rows_of(db: Database, kind: Kind, span: Span = EVERYTHING) -> Iterator[tuple[Any, ...]]:
    """
    The records of a kind that were not removed, by site, time and id; of a kind that says no time in the order in which they were made.

    Args:
        db: should be of `one_state`, where several tables must agree.
    """
    where, values = _within(kind, span)
    columns = ", ".join(f'"{name}"' for name in columns_of(kind))
    order = f'site_id, "{time_of(kind) or "created_eff"}", record_id'
    found = db.conn.execute(f'SELECT {columns} FROM "{kind.name}" WHERE {where} ORDER BY {order}', values)
    while rows := found.fetchmany(ROWS_AT_ONCE):
        yield from rows


def count_of(db: Database, kind: Kind, span: Span = EVERYTHING) -> int:
    """How many records `rows_of` gives."""
    where, values = _within(kind, span)
    return int(db.conn.execute(f'SELECT count(*) FROM "{kind.name}" WHERE {where}', values).fetchone()[0])


def flags_of(db: Database, sites: frozenset[str] | None = None) -> Iterator[dict[str, Any]]:
    """
    The stored flags, open, settled and accepted, by site and the time they were raised: the columns of the table `flag`, `evidence` read.

    What hangs on today (overdue, not signed out) is not stored: `fieldlog/flags/reading.py` tells it.
    """
    order = "ORDER BY site_id, raised_at, flag_id"
    for row in _dicts(db, f"SELECT * FROM flag WHERE {_OF_SITES} {order}", _sites(sites)):
        yield row | {"evidence": json.loads(row["evidence"])}


def disagreements_of(db: Database, sites: frozenset[str] | None = None) -> Iterator[dict[str, Any]]:
    """
    The open disagreements, by site and record: kind, record_id, field, site_id, winner_id, and two lists in the same order, the value that
    stands first: entry_ids and values. Of many values the first ones only are kept (`sync/tables.py` says how many).
    """
    order = "ORDER BY site_id, kind, record_id, field"
    for row in _dicts(db, f"SELECT * FROM disagreement WHERE {_OF_SITES} {order}", _sites(sites)):
        yield row | {"entry_ids": json.loads(row["entry_ids"]), "values": json.loads(row.pop("values_json"))}


_OF_SITES = "(:sites IS NULL OR site_id IS NULL OR site_id IN (SELECT value FROM json_each(:sites)))"


def _sites(sites: frozenset[str] | None) -> dict[str, str | None]:
    return {"sites": None if sites is None else json.dumps(sorted(sites))}


def _within(kind: Kind, span: Span) -> tuple[str, dict[str, Any]]:
    """What a statement asks of a kind's records, and the values for it."""
    place = _OF_SITES if kind.name != "site" else _OF_SITES.replace("site_id", "record_id")
    time = time_of(kind)
    asked = [place, "deleted = 0"]
    if time is not None and span.from_at is not None:
        asked.append(f'"{time}" >= :from_at')
    if time is not None and span.until_at is not None:
        asked.append(f'"{time}" < :until_at')
    return " AND ".join(asked), {**_sites(span.sites), "from_at": span.from_at, "until_at": span.until_at}


def _dicts(db: Database, select: str, values: dict[str, Any]) -> Iterator[dict[str, Any]]:
    found = db.conn.execute(select, values)
    names = [column[0] for column in found.description]
    while rows := found.fetchmany(ROWS_AT_ONCE):
        yield from (dict(zip(names, row, strict=True)) for row in rows)
