"""What entries said of records: out of the state of those that keep one, else out of the log."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.questions.of_ids import of_ids, query


def kept_states(db: Database, kind: str, ids: list[str]) -> list[tuple[str, str]]:
    """The merge states of those of these records that keep one: record id, the state as JSON."""
    return of_ids(db, f"SELECT record_id, state FROM record_state WHERE kind = '{kind}' AND record_id", ids)


def lines_of(db: Database, kind: str, ids: list[str]) -> list[tuple[str, str, bytes]]:
    """The lines of these records: record id, effective stamp, line."""
    return of_ids(db, f"SELECT record_id, eff, line FROM log WHERE kind = '{kind}' AND record_id", ids)


def written_by(db: Database, entry_ids: list[str]) -> dict[str, dict[str, Any]]:
    """By whom and when these entries were written: entry_id, made_by, eff."""
    return {entry["entry_id"]: entry for entry in query(db, "SELECT entry_id, made_by, eff FROM log WHERE entry_id", entry_ids)}
