"""What the log knows of the records and people that a slice touches: asked once, and following what is taken meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.sync import merge, states
from fieldlog.sync.clock import is_as_old
from fieldlog.sync.crowding import ALWAYS_ROOM_BYTES, HEAD_BYTES, crowds
from fieldlog.sync.log import Entry
from fieldlog.sync.reading import values_of
from fieldlog.sync.states import Key

MOST_ASKED = 64
"""Entries that are asked how a record began: what a phone follows is a few, and a device may name thousands."""


@dataclass(frozen=True)
class First:
    """
    Whose a record is: the site of its first taken entry, that entry's name and stamp, the device that holds its lane, and the file
    that brought it.
    """

    site_id: str | None
    entry_id: str
    eff: str
    device_id: str | None
    file_id: str | None = None

    def is_of(self, device: Device) -> bool:
        """Whether a device, or a file, made the record."""
        return device.device_id in (self.device_id, self.file_id)


class Standing:
    """Records and people as the log has them."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self._taken: set[str] = set()
        self._written: dict[Key, list[tuple[Entry, str]]] = {}
        self._firsts: dict[Key, First | None] = {}
        self._people: dict[str, set[str | None]] = {}
        self._states: dict[Key, merge.State] = {}
        self._bytes: dict[Key, int] = {}

    def takes(self, entry: Entry, eff: str, device: Device) -> bool:
        """Note that an entry is taken. Returns whether its record begins with it."""
        key = (entry.kind, entry.record_id)
        begins = self.first_of(*key) is None
        self._taken.add(entry.entry_id)
        self._written.setdefault(key, []).append((entry, eff))
        if begins:
            self._firsts[key] = First(entry.site_id, entry.entry_id, eff, device.device_id)
        if key in self._states:
            merge.apply(self._states[key], entry, eff)
        if entry.kind == "person":
            self.sites_of_person(entry.record_id).add(entry.site_id)
        return begins

    def are_stored(self) -> None:
        """What was taken so far stands in log and tables now."""
        for key in self._written:
            self._bytes.pop(key, None)
        self._written.clear()

    def ask_anew(self) -> None:
        """Others' entries were taken since, and all that was taken so far stands in log and tables."""
        for noted in (self._written, self._firsts, self._people, self._states, self._bytes):
            noted.clear()

    def first_of(self, kind: str, record_id: str) -> First | None:
        """Whose a record is, or None where nothing of it has been taken."""
        key = (kind, record_id)
        if key not in self._firsts:
            row = self._db.conn.execute(
                """SELECT site_id, entry_id, eff, (SELECT device_id FROM lane WHERE lane.lane_id = log.lane_id),
                   (SELECT device_id FROM file_part f WHERE f.lane_id = log.lane_id AND log.number BETWEEN f.first AND f.last)
                   FROM log WHERE kind = ? AND record_id = ? ORDER BY seq LIMIT 1""",
                key,
            ).fetchone()
            self._firsts[key] = None if row is None else First(*row)
        return self._firsts[key]

    def first_value(self, kind: str, record_id: str, field: str) -> Any:
        """The first value of a record's field, None where it has none yet."""
        stored = (value for _seq, value in values_of(self._db, kind, record_id, field))
        written = (entry.fields.get(field) for entry, _eff in self._written.get((kind, record_id), ()))
        return next((value for value in chain(stored, written) if value is not None), None)

    def sites_of_person(self, person_id: str) -> set[str | None]:
        """The sites whose person this is; None in it is the whole programme."""
        if person_id not in self._people:
            rows = self._db.conn.execute("SELECT DISTINCT site_id FROM log WHERE kind = 'person' AND record_id = ?", (person_id,))
            self._people[person_id] = {site_id for (site_id,) in rows}
        return self._people[person_id]

    def is_taken(self, entry_id: str) -> bool:
        """Whether an entry of this name stands in the log."""
        return entry_id in self._taken or (
            self._db.conn.execute("SELECT 1 FROM log WHERE entry_id = ?", (entry_id,)).fetchone() is not None
        )

    def is_backdated(self, entry: Entry, eff: str, device: Device) -> bool:
        """Whether an entry that neither began its record nor stands before what did says that it is as old or older."""
        first = self.first_of(entry.kind, entry.record_id)
        return first is not None and is_as_old(eff, first.eff) and not self.is_before_first(entry, device)

    def is_before_first(self, entry: Entry, device: Device) -> bool:
        """
        Whether what began the record follows this entry, itself or by others: after a restore they may come in any order.

        Nobody can bring it about of a record that stands, for what began it is settled, and entries are named by their hashes. What
        one's own device wrote anew under another lane goes by its former name too: its rest comes behind what stood there already.
        """
        first = self.first_of(entry.kind, entry.record_id)
        names = {entry.entry_id, entry.was} if first is not None and first.is_of(device) else {entry.entry_id}
        return any(not names.isdisjoint(followed) for _fields, followed in self._beginning(entry))

    def was_begun_with(self, entry: Entry, name: str) -> bool:
        """Whether what began the record, or what that follows, says of a field what this entry says."""
        said = merge.same(entry.fields[name])
        return any(name in fields and merge.same(fields[name]) == said for fields, _followed in self._beginning(entry))

    def _beginning(self, of: Entry) -> Iterator[tuple[dict[str, Any], set[str]]]:
        """The fields of the entry that began a record and of those that it follows, each with the names of what it follows."""
        first = self.first_of(of.kind, of.record_id)
        asked = [] if first is None else [first.entry_id]
        for entry_id in asked:
            found = self._written_as(entry_id, of)
            if found is not None:
                followed = {base for bases in found[1].values() for base in bases}
                yield found[0], followed
                asked += sorted(followed.difference(asked))[: MOST_ASKED - len(asked)]

    def _written_as(self, entry_id: str, of: Entry) -> tuple[dict[str, Any], dict[str, list[str]]] | None:
        """Fields and bases of an entry of the same record, None where it has not come."""
        for entry, _eff in self._written.get((of.kind, of.record_id), ()):
            if entry.entry_id == entry_id:
                return entry.fields, entry.bases
        row = self._db.conn.execute(
            "SELECT line FROM log WHERE entry_id = ? AND kind = ? AND record_id = ?", (entry_id, of.kind, of.record_id)
        ).fetchone()
        said = None if row is None else orjson.loads(row[0])
        return None if said is None else (said["f"], said.get("b") or {})

    def is_crowded_by(self, entry: Entry) -> bool:
        """Whether an entry would leave more unsettled at its record than that may carry."""
        key = (entry.kind, entry.record_id)
        if self.first_of(*key) is None:
            return False
        if key not in self._states:
            if key not in self._bytes:
                self._bytes[key] = states.bytes_of(self._db, key, ALWAYS_ROOM_BYTES)
            if self._bytes[key] + sum(map(_bytes_of, self._written.get(key, ()))) <= ALWAYS_ROOM_BYTES:
                return False
            self._states[key] = states.state_of(self._db, key, self._written.get(key, []))
        return crowds(self._states[key], entry)


def _bytes_of(written: tuple[Entry, str]) -> int:
    return len(orjson.dumps([written[0].fields, written[0].bases])) + HEAD_BYTES
