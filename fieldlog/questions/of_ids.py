"""Rows of many ids at once."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database


def of_ids(db: Database, select: str, ids: list[str]) -> list[tuple[Any, ...]]:
    """The rows of a statement that ends before `IN (these ids)`."""
    if not ids:
        return []
    return db.conn.execute(f"{select} IN (SELECT value FROM json_each(?))", (json.dumps(ids),)).fetchall()


def query(db: Database, select: str, ids: list[str]) -> list[dict[str, Any]]:
    """The same as dicts."""
    if not ids:
        return []
    found = db.conn.execute(f"{select} IN (SELECT value FROM json_each(?))", (json.dumps(ids),))
    names = [column[0] for column in found.description]
    return [dict(zip(names, row, strict=True)) for row in found.fetchall()]
