"""Rows that are here already, or stand twice in a file: by what makes a record of their kind the one that it is."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.imports.known import name_fields
from fieldlog.imports.rows import MadeRow
from fieldlog.instants import normal
from fieldlog.questions.whole_tables import columns_of, rows_of
from fieldlog.records.fields import Date, Instant, Ref, Text
from fieldlog.records.kind import Kind
from fieldlog.records.listed import Listed

SAME_BY = {"unit_check": ("unit_id", "checked_at")}
"""Kinds of which one thing at one time is one record, whatever else they must say."""


def identity_of(kind: Kind) -> list[str]:
    """
    The fields by which two records of a kind at one site are the same: what they are called, and their days; else all that they must
    say, where that is of what and when; else all that they say but words that nobody must write.
    """
    if kind.name in SAME_BY:
        return list(SAME_BY[kind.name])
    names = name_fields(kind)
    if names and kind.fields[names[0]].required:
        return [names[0], *(name for name in kind.required if isinstance(kind.fields[name], Date))]
    refs = [name for name in kind.required if isinstance(kind.fields[name], Ref)]
    times = [name for name in kind.required if isinstance(kind.fields[name], Instant)]
    if refs and times:
        return list(kind.required)
    either = {name for rule in kind.rules if rule["rule"] == "any-of" for name in rule["fields"]}
    return [name for name, declared in kind.fields.items() if not isinstance(declared, Text) or declared.required or name in either]


def digest(values: Iterable[Any]) -> int:
    """A short number for what values say; texts are the same whatever their case, numbers by their value."""
    plain = [
        value.casefold().strip() if isinstance(value, str) else float(value) if isinstance(value, int | float) else value for value in values
    ]  # fmt: skip
    return int.from_bytes(hashlib.blake2b(orjson.dumps(plain), digest_size=8).digest(), "big")


class Doubles:
    """What is on record of a kind, and what the file said so far."""

    def __init__(self, kind: Kind) -> None:
        self._kind, self._by = kind, identity_of(kind)
        self._lists = {name for name in self._by if isinstance(kind.fields[name], Listed)}
        self._by = [name for name in self._by if name not in self._lists]
        self._here: set[int] = set()
        self._ids: set[str] = set()
        self._rows: dict[int, tuple[int, int]] = {}

    def read(self, db: Database) -> None:
        """Note what is on record."""
        columns = columns_of(self._kind)
        at, site = columns.index("record_id"), columns.index("site_id")
        places = [columns.index(name) for name in self._by]
        for row in rows_of(db, self._kind):
            self._ids.add(row[at])
            self._here.add(digest((None if self._kind.name == "site" else row[site], *(row[place] for place in places))))

    def is_here(self, row: MadeRow) -> bool:
        """Whether a row is on record already."""
        return row.record_id in self._ids or self._key(row) in self._here

    def earlier(self, row: MadeRow) -> tuple[int, bool] | None:
        """The number of an earlier row of the file that is the same record, and whether it says the same; else the row is noted."""
        key, whole = self._key(row), digest((orjson.dumps(row.fields, option=orjson.OPT_SORT_KEYS).decode(), row.visit_id))
        if key in self._rows:
            number, said = self._rows[key]
            return number, said == whole
        self._rows[key] = (row.number, whole)
        return None

    def _key(self, row: MadeRow) -> int:
        site = None if self._kind.name == "site" else row.site_id
        return digest((site, *(normal(name, row.fields.get(name)) for name in self._by)))
