"""
Purging, and what comes afterwards: records of people who were forgotten, from phones that had not heard of it.

A purge names the records that the server knows. A private record that it does not know yet, of a person who was forgotten, is blank when it comes, and
a purge of its own tells the phones that have it.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.changes import Change
from fieldlog.flags.raising import raise_flags
from fieldlog.questions.records import referring
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.rewriting import REWRITE_DUE
from fieldlog.store import set_setting
from fieldlog.sync import merge, states, tables
from fieldlog.sync.clock import effective, is_stamp, pack
from fieldlog.sync.judge import Held
from fieldlog.sync.log import line_id
from fieldlog.sync.own_lane import Own, write_own
from fieldlog.sync.purges import (
    GONE,
    PURGE,
    SENTENCE,
    carry_out,
    is_any,
    is_forgotten,
    purged_record,
    records_in,
    said_in,
)
from fieldlog.sync.rows import log_end
from fieldlog.sync.states import Key, Record

RECORDS_A_PURGE = 400
"""A line holds 64 KB; a record takes some 110 bytes of it."""

Named = tuple[str, str, str | None]
"""A record that a purge names: kind, record id, the entry that stays."""


def write_purge(
    db: Database, catalogue: Catalogue, records: Sequence[Named], why: str, made_by: str | None, now_ms: int, *, is_for_ever: bool = True
) -> None:  # fmt: skip
    """
    Write purges of these records into the log, and carry them out. Within a `write`.

    Args:
        why: "person" for somebody who is forgotten, "age" for what was kept long enough.
        made_by: the person who asked for it.
        is_for_ever: whether what is written later goes too; else only what was written before now.
    """
    for first in range(0, len(records), RECORDS_A_PURGE):
        some = records[first : first + RECORDS_A_PURGE]
        fields = {"why": why, "until": None, "records": [list(named) for named in some]}
        if not is_for_ever:
            fields["until"] = max(log_end(db)[2], pack(now_ms, 0))
        (name,) = write_own(db, catalogue, [Own(PURGE, str(uuid.uuid4()), None, fields, made_by=made_by)], now_ms)
        (line,) = db.conn.execute("SELECT line FROM log WHERE entry_id = ?", (name,)).fetchone()
        carry_out(db, records_in(line))
        for kind, record_id, _keeps in some:
            refold(db, catalogue, (kind, record_id))


def refold(db: Database, catalogue: Catalogue, key: Key) -> None:
    """Make a record's row, disagreements and flags anew of what is left of it in the log. Within a `write`."""
    kind, record_id = key
    before = next(states.rows_of(db, kind, [record_id]), None)
    entries = next((entries for _, entries in states.entries_of(db, kind, [record_id])), [])
    for table in ("record_state", "disagreement"):
        db.conn.execute(f"DELETE FROM {table} WHERE kind = ? AND record_id = ?", key)
    if entries:
        record = Record(entries=len(entries), before=before)
        merge.fold(record.state, entries)
        raise_flags(db, tables.store(db, catalogue, {key: record}))
    elif before is not None:
        db.conn.execute(f'DELETE FROM "{kind}" WHERE record_id = ?', (record_id,))
        raise_flags(db, [Change(kind, record_id, before, {**before, "deleted": 1})])


@dataclass(frozen=True, slots=True)
class Gone:
    """An entry that is taken without its text, and its effective stamp."""

    eff: str


class Arrivals:
    """What comes in a slice of what was purged: of records that are, and of people who were forgotten."""

    def __init__(self, db: Database, catalogue: Catalogue) -> None:
        self._db, self._catalogue = db, catalogue
        self._is_any = is_any(db)
        self._person_of: dict[tuple[str, str], str] = {}
        self._found: dict[tuple[str, str], None] = {}
        self._waiting: dict[tuple[str, str], list[tuple[str, str]]] = {}

    def verdict(self, line: bytes, lane_id: str, number: int, now_ms: int, newest: str) -> Gone | Held | None:
        """How a new line is kept without its text: held where it is no entry; None where it keeps its text."""
        said = said_in(line) if self._is_any else None
        if said is None:
            return None
        is_entry = said.get("d") == lane_id and said.get("n") == number and is_stamp(said.get("s"))
        eff = effective(said["s"], now_ms, newest) if is_entry else None
        if not self._is_gone(said, line_id(line), eff):
            return None
        known = self._db.conn.execute("SELECT 1 FROM log WHERE entry_id = ?", (line_id(line),)).fetchone()
        return Held(GONE, SENTENCE) if eff is None or known else Gone(eff)

    def _is_gone(self, said: Mapping[str, Any], entry_id: str, eff: str | None) -> bool:
        key = (said["t"], said["r"])
        purged = purged_record(self._db, *key)
        if purged is not None:
            return purged.covers(entry_id, eff)
        kind, fields = self._catalogue.kinds.get(said["t"]), said.get("f")
        if kind is None or not isinstance(fields, dict):
            return False
        if kind.name in through_kinds(self._catalogue) and is_forgotten(self._db, fields.get("person_id")):
            self._person_of[key] = fields["person_id"]
            self._found |= dict.fromkeys([*hanging_on(self._db, self._catalogue, *key), *self._waiting.get(key, ())])
        if key in self._found:
            return True
        is_theirs = goes_with_person(kind) and is_forgotten(self._db, self._person(kind, fields, key))
        if is_theirs:
            self._found[key] = None
        return is_theirs

    def _person(self, kind: Kind, fields: Mapping[str, Any], key: tuple[str, str]) -> object:
        """Whom a private record is about, as its line says; where that hangs on a record to come, it is noted as waiting for that."""
        by = str(kind.of_person)
        target, named = kind.refs[by], fields.get(by)
        if target == "person" or not isinstance(named, str):
            return named
        row = self._db.conn.execute(f'SELECT person_id FROM "{target}" WHERE record_id = ?', (named,)).fetchone()
        person_id = self._person_of.get((target, named)) or (row and row[0])
        if person_id is None:
            self._waiting.setdefault((target, named), []).append(key)
        return person_id

    def tell(self, now_ms: int) -> bool:
        """Write a purge of the records that nobody knew of; whether there was one. Within a `write`."""
        if not self._found:
            return False
        write_purge(self._db, self._catalogue, [(*key, None) for key in self._found], "person", None, now_ms)
        set_setting(self._db, REWRITE_DUE, "1")
        return True


def goes_with_person(kind: Kind) -> bool:
    """Whether the records of a kind go when their person is forgotten, whatever another record says."""
    return kind.of_person is not None and kind.kept_until is None


def through_kinds(catalogue: Catalogue) -> set[str]:
    """The kinds by whose records others are about a person: a medical note is of a sign-in."""
    return {kind.refs[kind.of_person] for kind in catalogue.kinds.values() if kind.of_person is not None} - {"person"}


def hanging_on(db: Database, catalogue: Catalogue, of_kind: str, record_id: str) -> list[tuple[str, str]]:
    """The records that go with a person and name this record."""
    return [
        (kind.name, name) for kind in catalogue.kinds.values() if goes_with_person(kind) and kind.refs[str(kind.of_person)] == of_kind
        for name in referring(db, kind.name, str(kind.of_person), record_id)
    ]  # fmt: skip
