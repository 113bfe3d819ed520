"""Records of any kind: their rows by id or a page at a time, whom they refer to, and what phones disagree about."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids, query

Row = dict[str, Any]


def rows_of_ids(db: Database, kind: str, ids: list[str]) -> list[Row]:
    """Those of these records of a kind that are on record and were not removed."""
    return query(db, f'SELECT * FROM "{kind}" WHERE deleted = 0 AND record_id', ids)


def row_or_removed(db: Database, kind: str, record_id: str) -> Row | None:
    """A record of a kind, removed or not."""
    return next(iter(query(db, f'SELECT * FROM "{kind}" WHERE record_id', [record_id])), None)


def page_of(db: Database, kind: str, after: int, count: int) -> tuple[list[Row], int | None]:
    """
    The next records of a kind that were not removed, as they lie in the table.

    Args:
        after: where the page before ended, 0 at first.
        count: how many rows are looked at.

    Returns:
        The records, and where the page ended; None after the last one.
    """
    found = db.conn.execute(f'SELECT rowid, * FROM "{kind}" WHERE rowid > ? ORDER BY rowid LIMIT ?', (after, count))
    names = [column[0] for column in found.description]
    rows = [dict(zip(names, row, strict=True)) for row in found.fetchall()]
    return [row for row in rows if not row["deleted"]], rows[-1]["rowid"] if len(rows) == count else None


def sites_of_records(db: Database, kind: str, ids: list[str]) -> list[tuple[str, str | None]]:
    """Those of these records of a kind that are on record, removed or not, each with its site."""
    return of_ids(db, f'SELECT record_id, site_id FROM "{kind}" WHERE record_id', ids)


def referring(db: Database, kind: str, column: str, record_id: str) -> list[str]:
    """The records of a kind that name one in a column, removed ones too."""
    return [row[0] for row in db.conn.execute(f'SELECT record_id FROM "{kind}" WHERE "{column}" = ?', (record_id,)).fetchall()]


def disagreements_on(db: Database, kind: str, ids: list[str]) -> Iterator[tuple[str, str, str]]:
    """The open disagreements of these records of a kind: record id, field, its values as a JSON array, the one that stands first."""
    yield from of_ids(db, f"SELECT record_id, field, values_json FROM disagreement WHERE kind = '{kind}' AND record_id", ids)


def disagreement_about(db: Database, kind: str, record_id: str, field: str) -> tuple[str, str] | None:
    """The open disagreement about one field: its entries and their values as JSON arrays in one order; None where there is none."""
    found: tuple[str, str] | None = db.conn.execute(
        "SELECT entry_ids, values_json FROM disagreement WHERE kind = ? AND record_id = ? AND field = ?", (kind, record_id, field)
    ).fetchone()
    return found
