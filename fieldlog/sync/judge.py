"""
Whether a new line is taken or held, and why.

Judged here: shape (sync/log.py), fields (the catalogue), privacy, the author's claim, and what the device's role may
write. A held line delays nobody; its text is kept.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.sync.log import Entry, UnreadableLineError, entry_of, line_id

SENTENCES = {
    "too-big": "This entry is larger than 64 KB. Shorten its note, then save it again.",
    "cannot-read": "The server cannot read this entry's text. Its text is kept; enter it again if you can.",
    "bad-author": "This entry names another phone or number than the one that sent it. Its text is kept for the lead.",
    "bad-stamp": "This entry's time stamp cannot be read. Its text is kept; save it again.",
    "unknown-kind": "This server does not know this kind of record yet. It is taken as soon as the server is updated.",
    "bad-record-id": "This entry does not say which record it belongs to. Its text is kept for the lead.",
    "no-fields": "This entry changes nothing, or more than 64 fields at once. Its text is kept for the lead.",
    "bad-base": "This entry's references to earlier entries cannot be read. Its text is kept; save it again.",
    "bad-envelope": "This entry's site, visit or author cannot be read. Its text is kept for the lead.",
    "duplicate-id": "The same entry is already here under another number. Nothing is lost.",
    "not-permitted": "Your role on this site may not write this kind of record. Ask the lead; the text is kept.",
    "unknown-person": "The server does not know the person who wrote this yet. It is taken as soon as it does.",
    "private-without-k": "A private record came without its random key. Save it again on an updated phone.",
    "revoked": "This phone's access was ended by the lead. The entry is kept for the lead to read.",
}
_AUTHOR = re.compile(rb'"u":"([A-Za-z0-9-]{1,64})"')


@dataclass(frozen=True)
class Held:
    """A line that needs a person: the fixed word and the sentence."""

    why: str
    sentence: str


REVOKED = Held("revoked", SENTENCES["revoked"])


class Court:
    """One request's judge: what the database knows of the authors and ids in its lines is asked once."""

    def __init__(self, db: Database, catalogue: Catalogue, device: Device, lines: list[bytes]) -> None:
        self._catalogue = catalogue
        self._device = device
        self._people = known_people(db, {match.decode() for line in lines for match in _AUTHOR.findall(line)})
        self._ids = _known_ids(db, [line_id(line) for line in lines])

    def verdict(self, line: bytes, lane_id: str, number: int) -> Entry | Held:
        """The entry in a line, or why it is held."""
        found = self._entry(line, lane_id, number)
        if isinstance(found, Held):
            return found
        if found.entry_id in self._ids:
            return Held("duplicate-id", SENTENCES["duplicate-id"])
        self._ids.add(found.entry_id)
        if found.kind == "person":
            self._people.setdefault(found.record_id, set()).add(found.site_id)
        return found

    def _entry(self, line: bytes, lane_id: str, number: int) -> Entry | Held:
        found = read_entry(line, lane_id, number, self._catalogue)
        if isinstance(found, Held):
            return found
        if not may_write(self._device, self._catalogue.kinds[found.kind], found):
            return Held("not-permitted", SENTENCES["not-permitted"])
        if not author_known(found, self._people):
            return Held("unknown-person", SENTENCES["unknown-person"])
        return found


def read_entry(line: bytes, lane_id: str, number: int, catalogue: Catalogue) -> Entry | Held:
    """The entry in a line as far as its text alone says, whoever sent it."""
    try:
        entry = entry_of(line, lane_id, number)
    except UnreadableLineError as fault:
        return Held(fault.why, SENTENCES[fault.why])
    kind = catalogue.kinds.get(entry.kind)
    if kind is None:
        return Held("unknown-kind", SENTENCES["unknown-kind"])
    hard = [fault for fault in kind.check(entry.fields) if fault.hard]
    if hard:
        return Held(f"{hard[0].word}:{hard[0].field[:40]}", " ".join(fault.sentence for fault in hard))
    if kind.privacy in ("leader", "medical") and entry.random_key is None:
        return Held("private-without-k", SENTENCES["private-without-k"])
    if kind.site_bound and entry.site_id is None:
        return Held("bad-envelope", SENTENCES["bad-envelope"])
    return entry


def may_write(device: Device, kind: Kind, entry: Entry) -> bool:
    """Whether the device's role writes this kind, on a site that is its own."""
    if device.role not in kind.writers:
        return False
    return device.sites is None or entry.site_id is None or entry.site_id in device.sites


def author_known(entry: Entry, people: dict[str, set[str | None]]) -> bool:
    """Whether the author is a person of the entry's site, of the whole programme, or the one the entry makes."""
    if entry.made_by is None or (entry.kind == "person" and entry.record_id == entry.made_by):
        return True
    sites = people.get(entry.made_by)
    return sites is not None and (entry.site_id is None or None in sites or entry.site_id in sites)


def known_people(db: Database, person_ids: set[str]) -> dict[str, set[str | None]]:
    """The sites of those of these people whom the log knows."""
    if not person_ids:
        return {}
    found: dict[str, set[str | None]] = {}
    rows = db.conn.execute(
        """SELECT DISTINCT record_id, site_id FROM log WHERE kind = 'person'
           AND record_id IN (SELECT value FROM json_each(?))""",
        (json.dumps(sorted(person_ids)),),
    )
    for person_id, site_id in rows:
        found.setdefault(person_id, set()).add(site_id)
    return found


def _known_ids(db: Database, ids: list[str]) -> set[str]:
    rows = db.conn.execute("SELECT entry_id FROM log WHERE entry_id IN (SELECT value FROM json_each(?))", (json.dumps(ids),))
    return {row[0] for row in rows}
