"""What is on record of the kinds that a sheet's rows name: by tag, name, label, initials or id."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from dataclasses import field as made

from sqlite_utils import Database

from fieldlog.questions.names import NAME_COLUMNS
from fieldlog.questions.whole_tables import Span, columns_of, rows_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Tag, Text
from fieldlog.records.kind import Kind
from fieldlog.records.tags import tag_for

LIKE_NAMES = ("tag", "label", "name", "title")
"""Fields that name a record of a kind of which nothing else is said."""

MOST_NEAR = 4


def name_fields(kind: Kind) -> list[str]:
    """The fields of a kind by which people name its records, the one that every record has first."""
    told = [name for name in NAME_COLUMNS.get(kind.name, LIKE_NAMES) if isinstance(kind.fields.get(name), Text | Tag)]
    return sorted(told, key=lambda name: not kind.fields[name].required)


def folded(text: str) -> str:
    """A name as it is compared: small letters, single spaces."""
    return " ".join(text.casefold().split())


def bare(text: str) -> str:
    """Letters and digits of a name alone, a number without zeros before it: “B-07” and “b 7” alike."""
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", re.sub(r"[\W_]+", "", text.casefold()))


@dataclass
class KnownKind:
    """The records of one kind that were not removed: {id: (site, name)}, and by names of more or less certainty {name: ids}."""

    records: dict[str, tuple[str | None, str]] = made(default_factory=dict)
    exact: dict[str, list[str]] = made(default_factory=lambda: defaultdict(list))
    near: dict[str, list[str]] = made(default_factory=lambda: defaultdict(list))

    def add(self, record_id: str, site_id: str | None, names: Iterable[str]) -> None:
        """Note one record by its names, the first of which it is shown by."""
        told = [name for name in names if name]
        self.records[record_id] = (site_id, told[0] if told else record_id)
        for name in told:
            self.exact[folded(name)].append(record_id)
            self.near[bare(name)].append(record_id)


@dataclass
class Known:
    """By kind what is on record, and the zone of each site."""

    kinds: dict[str, KnownKind] = made(default_factory=dict)
    zones: dict[str, str] = made(default_factory=dict)

    def called(self, kind: str, text: str, site_id: str | None) -> list[str]:
        """The records that a text names for certain: by id, or by name at the site or in the whole programme."""
        of = self.kinds.get(kind)
        if of is None:
            return []
        if text in of.records:
            return [text]
        return self._within(of, of.exact.get(folded(text), ()), site_id)

    def add_own(self, kind: str, ids: Iterable[str]) -> None:
        """The file's own records: its rows may name each other by their ids."""
        of = self.kinds.get(kind)
        if of is not None:
            of.records = {**{record_id: (None, record_id) for record_id in ids}, **of.records}

    def near(self, kind: str, text: str, site_id: str | None) -> list[str]:
        """The records that a text may name, to be offered."""
        of = self.kinds.get(kind)
        return [] if of is None else self._within(of, of.near.get(bare(text), ()), site_id)[:MOST_NEAR]

    def name(self, kind: str, record_id: str) -> str:
        """What a record is called, its id where it has no name."""
        of = self.kinds.get(kind)
        return of.records[record_id][1] if of is not None and record_id in of.records else record_id

    @staticmethod
    def _within(of: KnownKind, ids: Iterable[str], site_id: str | None) -> list[str]:
        """Those of one site or of none; where rows say their own site, all."""
        return list(dict.fromkeys(one for one in ids if site_id is None or of.records[one][0] in (None, site_id)))


def known_of(db: Database, catalogue: Catalogue, kinds: Iterable[str], sites: frozenset[str] | None) -> Known:
    """
    What is on record of these kinds, of the sites that a lead may see.

    Args:
        sites: ids; None is all. A file may name any id, and must learn nothing of those of other sites.
    """
    span = Span(sites)
    known = Known()
    wanted = dict.fromkeys([*kinds, *(("row",) if "unit" in kinds else ())])
    if "site" in catalogue.kinds:
        columns = columns_of(catalogue.kinds["site"])
        at, zone = columns.index("record_id"), columns.index("zone")
        known.zones = {row[at]: row[zone] for row in rows_of(db, catalogue.kinds["site"], span) if row[zone]}
    for name in wanted:
        if name in catalogue.kinds:
            known.kinds[name] = _read(db, catalogue.kinds[name], span)
    if "unit" in known.kinds:
        _add_slots(db, catalogue, known, span)
    return known


def _read(db: Database, kind: Kind, span: Span) -> KnownKind:
    of = KnownKind()
    columns = columns_of(kind)
    at, site = columns.index("record_id"), columns.index("site_id")
    names = [columns.index(name) for name in name_fields(kind)]
    for row in rows_of(db, kind, span):
        own_site = row[at] if kind.name == "site" else row[site]
        of.add(row[at], own_site, [row[place] for place in names])
    if kind.name == "person":
        for record_id, (_, name) in of.records.items():
            initials = "".join(word[0] for word in name.split() if word)
            if len(initials) > 1:
                of.exact[folded(initials)].append(record_id)
    return of


def _add_slots(db: Database, catalogue: Catalogue, known: Known, span: Span) -> None:
    """A unit is also named by its row's letter and its slot, as on paper: B7, and as it may be meant: B-7."""
    kind, units, rows = catalogue.kinds["unit"], known.kinds["unit"], known.kinds["row"]
    columns = columns_of(kind)
    at, row_id, slot = columns.index("record_id"), columns.index("row_id"), columns.index("slot_number")
    for row in rows_of(db, kind, span):
        if row[row_id] in rows.records and row[slot] is not None:
            name = rows.records[row[row_id]][1]
            tag = tag_for(name, row[slot])
            letter = tag[0] if tag else name
            for text in {f"{letter}{row[slot]}", f"{letter}{row[slot]:02d}"}:
                if row[at] not in units.exact[folded(text)]:
                    units.exact[folded(text)].append(row[at])
                if row[at] not in units.near[bare(text)]:
                    units.near[bare(text)].append(row[at])
