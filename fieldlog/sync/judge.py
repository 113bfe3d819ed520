"""
Whether a new line is taken or held, and why.

What the text alone says comes first (sync/log.py, the catalogue); then, once and at arrival only, who may write it: role, site,
what a field or a removal asks, what a new record must have, and the author. A held line delays nobody; its text is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.records import sentences
from fieldlog.records.catalogue import Catalogue, Kind
from fieldlog.records.kind import DELETED, PRIVATE
from fieldlog.records.names import name_fits
from fieldlog.sync.clock import backdated, effective
from fieldlog.sync.log import Entry, UnreadableLineError, entry_of
from fieldlog.sync.standing import Standing

SENTENCES = {
    "too-big": "This entry is larger than 64 KB. Shorten its note, then save it again.",
    "cannot-read": "The server cannot read this entry's text. Its text is kept; enter it again if you can.",
    "bad-author": "This entry names another phone or number than the one that sent it. Its text is kept for a lead.",
    "bad-stamp": "This entry's time stamp cannot be read. Its text is kept; save it again.",
    "unknown-kind": "This server does not know this kind of record yet. It is stored once the server is updated.",
    "bad-record-id": "This entry does not say which record it belongs to. Its text is kept for a lead.",
    "no-fields": "This entry changes nothing, or more than 64 fields at once. Its text is kept for a lead.",
    "bad-base": "This entry's references to earlier entries cannot be read. Its text is kept; save it again.",
    "bad-envelope": "This entry's site, visit or author cannot be read. Its text is kept for a lead.",
    "duplicate-id": "The same entry is already here under another number. Nothing is lost.",
    "not-permitted": "Your role on this site may not write this kind of record. Ask a lead; the text is kept.",
    "other-site": "This entry names a different site than its record. Save it again from its own site; the text is kept.",
    "not-yours": "Another phone recorded this. Only a lead may change it, remove it or restore it. Ask a lead; the text is kept.",
    "crowded": "This record has too many unsettled values to add another. Sync, then save it again: it replaces them.",
    "waits-for-first": "The entry that made this record has not arrived yet. This one is stored as soon as it does.",
    "unknown-person": "The server does not know the person who wrote this yet. It is stored as soon as it does.",
    "private-without-k": "A private record came without its random key. Save it again on an updated phone.",
    "revoked": "A lead ended this phone's access. The entry is kept for a lead to read.",
    "unconfirmed": "The server was restored from a backup. The entry is kept, and stored once a lead confirms this phone.",
}

@dataclass(frozen=True)
class Held:
    """A line that needs a person: the fixed word, the sentence, and what it waits for ("kind|record id") where it waits."""

    why: str
    sentence: str
    waits_for: str | None = None


REVOKED = Held("revoked", SENTENCES["revoked"])


def held(why: str, waits_for: str | None = None) -> Held:
    """A line held for one of the fixed words."""
    return Held(why, SENTENCES[why], waits_for)


def waits_for(kind: str, record_id: str) -> str:
    """The text by which a held line says which record it waits for."""
    return f"{kind}|{record_id}"


def unconfirmed(lane_id: str) -> Held:
    """A line of a device that a lead must confirm; it waits for that, with its lane."""
    return held("unconfirmed", f"lane|{lane_id}")


class Court:
    """
    A slice's judge.

    What a release takes beside it, it does not see: `ask_anew`.
    """

    def __init__(self, db: Database, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._standing = Standing(db)

    def verdict(self, line: bytes, lane_id: str, number: int, device: Device) -> Entry | Held:
        """The entry in a line that a device sends now, or why it is held."""
        entry = read_entry(line, lane_id, number, self._catalogue)
        if isinstance(entry, Held):
            return entry
        kind = self._catalogue.kinds[entry.kind]
        fault = self._envelope(kind, entry) or self._rights(kind, entry, device) or self._first_or_change(kind, entry, device)
        if fault is None and not self._author_known(entry):
            fault = held("unknown-person", waits_for("person", entry.made_by or ""))
        if fault is None and self._standing.is_taken(entry.entry_id):
            fault = held("duplicate-id")
        if fault is None and self._standing.is_crowded_by(entry):
            fault = held("crowded")
        return entry if fault is None else fault

    def takes(self, entry: Entry, device: Device, now_ms: int, newest: str) -> tuple[str, bool]:
        """
        Note that an entry is taken.

        Args:
            now_ms: the server's clock.
            newest: the greatest effective stamp in the log so far.

        Returns:
            Its effective stamp, and whether its record begins with it.
        """
        eff = effective(entry.stamp, now_ms, newest)
        if self._standing.is_backdated(entry, eff, device):
            eff = backdated(eff)
        return eff, self._standing.takes(entry, eff, device)

    def are_stored(self) -> None:
        """What was taken so far stands in log and tables now."""
        self._standing.are_stored()

    def ask_anew(self) -> None:
        """Held lines were released since: what was asked may not be so any more."""
        self._standing.ask_anew()

    def _envelope(self, kind: Kind, entry: Entry) -> Held | None:
        if kind.privacy in PRIVATE and entry.random_key is None:
            return held("private-without-k")
        return held("bad-envelope") if kind.site_bound and entry.site_id is None else None

    def _rights(self, kind: Kind, entry: Entry, device: Device) -> Held | None:
        """The role; the record's site, which its first entry settled and its name may say; the device's sites."""
        if device.role not in kind.writers or (device.role != "lead" and not entry.fields.keys().isdisjoint(kind.of_leads)):
            return held("not-permitted")
        if kind.name == "site":
            if entry.site_id != entry.record_id:
                return held("other-site")
        else:
            first = self._standing.first_of(entry.kind, entry.record_id)
            if not name_fits(entry.record_id, entry.site_id) or (first is not None and first.site_id != entry.site_id):
                return held("other-site")
        if device.sites is not None and entry.site_id not in device.sites:
            return held("not-permitted")
        if entry.site_id is None and device.role != "lead":
            return held("not-permitted")
        return self._across(kind, entry, device)

    def _across(self, kind: Kind, entry: Entry, device: Device) -> Held | None:
        """A reference to a record of another site is for a lead of both: it waits until the other one's site is known."""
        for name in kind.across:
            other_id = entry.fields.get(name)
            if name in entry.fields and device.role != "lead":
                return held("not-permitted")
            if other_id == entry.record_id and kind.refs[name] == kind.name:
                return Held(f"names-itself:{name[:40]}", sentences.names_itself(kind.fields[name].title))
            if other_id is None or device.sites is None:
                continue
            other = self._standing.first_of(kind.refs[name], other_id)
            if other is None:
                return held("waits-for-first", waits_for(kind.refs[name], other_id))
            if other.site_id not in device.sites:
                return held("not-permitted")
        return None

    def _first_or_change(self, kind: Kind, entry: Entry, device: Device) -> Held | None:
        """What a record must have when it is made; of one that stands, what its fields and its removal ask of the sender."""
        empty = next((name for name in kind.required if name in entry.fields and entry.fields[name] is None), None)
        if empty is not None:
            return Held(f"missing:{empty[:40]}", sentences.missing(kind.fields[empty].title))
        first = self._standing.first_of(entry.kind, entry.record_id)
        if first is None:
            is_whole = all(name in entry.fields for name in kind.required)
            return None if is_whole else held("waits-for-first", waits_for(entry.kind, entry.record_id))
        guarded = kind.guarded(device.role, entry.fields)
        if guarded and not self._makes(kind, entry, guarded, device):
            return held("not-permitted")
        other = next((name for name in kind.settled if name in entry.fields and self._is_another(entry, name)), None)
        if other is not None:
            return Held(f"settled:{other[:40]}", sentences.settled(kind.fields[other].title))
        is_others = (kind.own or DELETED in entry.fields) and device.role != "lead" and not first.is_of(device)
        return held("not-yours") if is_others else None

    def _is_another(self, entry: Entry, name: str) -> bool:
        """Whether an entry gives another value to a field that keeps its first."""
        first = self._standing.first_value(entry.kind, entry.record_id, name)
        return first is not None and entry.fields[name] != first

    def _makes(self, kind: Kind, entry: Entry, guarded: list[str], device: Device) -> bool:
        """
        Whether an entry of a record that stands made it all the same: a copy of it came first, or a change that follows it.

        It follows nothing and is whole. What it says then replaces nothing that was said: of two values the careful one stands.
        """
        is_whole = all(name in entry.fields for name in kind.required)
        if not is_whole or any(entry.bases.values()):
            return False
        return self._standing.is_before_first(entry, device) or all(self._standing.was_begun_with(entry, name) for name in guarded)

    def _author_known(self, entry: Entry) -> bool:
        """Whether the author is a person of the entry's site, of the whole programme, or the one the entry makes."""
        author = entry.made_by
        if author is None or (entry.kind == "person" and entry.record_id == author):
            return True
        sites = self._standing.sites_of_person(author)
        return bool(sites) and (entry.site_id is None or None in sites or entry.site_id in sites)


def read_entry(line: bytes, lane_id: str, number: int, catalogue: Catalogue) -> Entry | Held:
    """The entry in a line as far as its text alone says, whoever sent it and whenever."""
    try:
        entry = entry_of(line, lane_id, number)
    except UnreadableLineError as fault:
        return held(fault.why)
    kind = catalogue.kinds.get(entry.kind)
    if kind is None:
        return held("unknown-kind")
    hard = [fault for fault in kind.check(entry.fields) if fault.hard]
    if hard:
        return Held(f"{hard[0].word}:{hard[0].field[:40]}", " ".join(fault.sentence for fault in hard))
    return entry
