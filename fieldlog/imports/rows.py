"""A row's cells become the fields of a record, judged as a phone's entry is: by the catalogue."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from dataclasses import field as made
from datetime import date
from typing import Any, NamedTuple

from fieldlog.days import day_words
from fieldlog.imports.cells import Cell, text_of
from fieldlog.imports.headers import main_instant
from fieldlog.imports.known import Known
from fieldlog.imports.mapping import OBSERVER, RECORD, SITE, VISIT, Column, Mapping, long_columns
from fieldlog.imports.moments import day_said, moment_in
from fieldlog.imports.newcomers import Newcomers
from fieldlog.imports.readers import LEFT_OUT, Read, ReadAt, is_record_id, reader_of, reference_reader
from fieldlog.imports.values import Mend
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.fields import Instant, Ref, Text
from fieldlog.records.kind import Kind
from fieldlog.records.moments import FIRST_YEAR, LAST_YEAR, is_instant
from fieldlog.records.names import name_fits, name_for

EVERY_ROW = "every row"
"""What stands in the place of a column where the mapping says the same for all rows."""

TIME_KNOWN = "time_known"
"""The field that says no where a moment's time was not said."""


class Remark(NamedTuple):
    """What is said of one cell: its column, its text, a sentence."""

    column: str
    text: str
    sentence: str


@dataclass
class MadeRow:
    """What a row comes to. `mends`: why it cannot be taken; `doubts`: what should be looked at once it is."""

    number: int
    from_column: str | None
    record_id: str
    site_id: str | None = None
    visit_id: str | None = None
    observer: str | None = None
    fields: dict[str, Any] = made(default_factory=dict)
    mends: list[Remark] = made(default_factory=list)
    doubts: list[Remark] = made(default_factory=list)
    is_left_out: bool = False
    faulty: set[str] = made(default_factory=set)
    """Fields whose cell is to be mended already."""


Cells = dict[str, Cell]


class RowMaker:
    """
    Makes rows of one sheet.

    Args:
        site_id: the import's site; None where it is for the whole programme, and rows may name their own.
        sites: those that the lead may write to, None for all.
        seed: what the names of new records are made of, so that a try and the taking make the same.
        lists: of list fields that have sheets of their own: {field: {record id in the file: items}}.
        latest: the last moment, in UTC, at which something in the sheet can have been seen; None: nobody asks.
    """

    def __init__(
        self, catalogue: Catalogue, kind: Kind, mapping: Mapping, known: Known, site_id: str | None, sites: frozenset[str] | None, seed: str,
        lists: dict[str, dict[str, list[Any]]] | None = None, latest: str | None = None,
    ) -> None:  # fmt: skip
        self.kind, self.newcomers = kind, Newcomers(catalogue, known, seed)
        self._mapping, self._known, self._site_id, self._sites, self._seed, self._lists = mapping, known, site_id, sites, seed, lists or {}
        self._latest = latest
        self._main = main_instant(kind)
        self._moments: dict[str, list[tuple[str, Column]]] = defaultdict(list)
        self._plain: list[tuple[str, str, Read]] = []
        self._refs: list[tuple[str, str, ReadAt]] = []
        self._envelope: dict[str, tuple[str, ReadAt]] = {}
        self._record_column: str | None = None
        self._where: dict[str, str] = {}
        constants = {f"{EVERY_ROW}: {name}": Column(name) for name in mapping.constants}
        self._constants: Cells = {f"{EVERY_ROW}: {name}": cell for name, cell in mapping.constants.items()}
        for header, column in {**long_columns(mapping), **constants}.items():
            self._add(header, column)

    def _add(self, header: str, column: Column) -> None:
        name = column.field
        if name is None:
            return
        self._where.setdefault(name, header)
        declared = self.kind.fields.get(name)
        if name == RECORD:
            self._record_column = header
        elif name in (SITE, VISIT, OBSERVER):
            self._envelope[name] = (header, reference_reader(column, self._known, self.newcomers.id_for))
        elif isinstance(declared, Instant):
            self._moments[name].append((header, column))
        elif isinstance(declared, Ref):
            self._refs.append((name, header, reference_reader(column, self._known, self.newcomers.id_for)))
        elif declared is not None:
            self._plain.append((name, header, reader_of(declared, column)))

    def row(self, number: int, cells: Cells, from_column: str | None = None) -> MadeRow:
        """What a row comes to."""
        if self._constants:
            cells = {**cells, **self._constants}
        row = MadeRow(number, from_column, "")
        self._place(row, cells)
        for name, header, read in self._plain:
            self._put(row, name, header, cells.get(header), read(cells.get(header)))
        self._say_moments(row, cells)
        for name, header, read_at in self._refs:
            cell = cells.get(header)
            self._put(row, name, header, cell, read_at(cell, row.site_id, self._kind_of(name, row)))
        self._name(row, cells)
        self._judge(row, cells)
        return row

    def _place(self, row: MadeRow, cells: Cells) -> None:
        """The envelope: site, visit and observer."""
        row.site_id = self._site_id
        for name, to in ((SITE, "site"), (VISIT, "visit"), (OBSERVER, "person")):
            if name not in self._envelope:
                continue
            header, read_at = self._envelope[name]
            value = read_at(cells.get(header), None if name == SITE else row.site_id, to)
            if isinstance(value, Mend):
                row.mends.append(Remark(header, shown_in(cells.get(header)), value.sentence))
            elif value is LEFT_OUT:
                row.is_left_out = True
            elif value is not None:
                setattr(row, name, value)
        if row.site_id is not None and self._site_id is not None and row.site_id != self._site_id:
            row.mends.append(self._of_place(cells, "This row is of another site than the one chosen. Import it there."))
        elif self._sites is not None and row.site_id not in self._sites and self.kind.name != "site":
            row.mends.append(self._of_place(cells, "This row is of a site that is not yours. Remove it from the file, or ask a lead of that site."))

    def _of_place(self, cells: Cells, sentence: str) -> Remark:
        header = self._envelope[SITE][0] if SITE in self._envelope else ""
        return Remark(header, text_of(cells.get(header)), sentence)

    def _put(self, row: MadeRow, name: str, header: str, cell: Cell, value: Any) -> None:
        if isinstance(value, Mend):
            row.faulty.add(name)
            row.mends.append(Remark(header, shown_in(cell), value.sentence))
        elif value is LEFT_OUT:
            row.is_left_out = True
        elif value is not None:
            before = row.fields.get(name)
            # Two columns of words are one text; of anything else nobody is asked to say it twice.
            row.fields[name] = f"{before}\n{value}" if before is not None and isinstance(self.kind.fields[name], Text) else value

    def _say_moments(self, row: MadeRow, cells: Cells) -> None:
        zone = self._mapping.zone or (self._known.zones.get(row.site_id) if row.site_id else None)
        main = [(column, cells.get(header)) for header, column in self._moments.get(self._main or "", ())]
        day: date | None = day_said(main)
        for name, columns in self._moments.items():
            found = moment_in([(column, cells.get(header)) for header, column in columns], zone, day)
            if found is None:
                continue
            first, second = found
            mend = second if isinstance(second, Mend) else self._out_of_time(name, str(first))
            if mend is not None:
                row.faulty.add(name)
                header = columns[first if isinstance(first, int) else 0][0]
                row.mends.append(Remark(header, shown_in(cells.get(header)), mend.sentence))
                continue
            row.fields[name] = first
            if not second:
                self._without_time(row, name, columns[0][0], cells)

    def _out_of_time(self, name: str, at: str) -> Mend | None:
        """Why a moment cannot be one of a record; what was seen was seen before its sheet came."""
        title = self.kind.fields[name].title
        if not is_instant(at):
            return Mend(f"{title} is in the year {at[:4].lstrip('0')}; it must be from {FIRST_YEAR} to {LAST_YEAR}. Correct the year.")
        if self._latest is not None and name in self.kind.observed and at > self._latest:
            return Mend(f"{title} says {day_words(date.fromisoformat(at[:10]), year=True)}, which is yet to come. Correct the day.")
        return None

    def _without_time(self, row: MadeRow, name: str, header: str, cells: Cells) -> None:
        if TIME_KNOWN in self.kind.fields:
            row.fields[TIME_KNOWN] = False
        else:
            said = f"{self.kind.fields[name].title} needs a time beside its day. Add it."
            row.mends.append(Remark(header, text_of(cells.get(header)), said))

    def _kind_of(self, name: str, row: MadeRow) -> str | None:
        """The kind that a reference is to: its own word, or what another field of the row says."""
        to = self.kind.refs[name]
        if to not in self.kind.fields:
            return to
        said = row.fields.get(to)
        return said if isinstance(said, str) else None

    def _name(self, row: MadeRow, cells: Cells) -> None:
        """The record's name: the file's own where it may be of this site, else one made of the row's place in the file."""
        said = text_of(cells.get(self._record_column)) if self._record_column else ""
        own = said if said and is_record_id(said) else ""
        if self.kind.name == "site":
            row.site_id = row.record_id = own or name_for(None, f"{self._seed}|{row.number}")
            return
        if own and name_fits(own, row.site_id):
            row.record_id = own
        else:
            row.record_id = name_for(row.site_id, f"{self._seed}|{row.number}|{row.from_column or ''}")
        for field, items in self._lists.items():
            if said in items:
                row.fields[field] = items[said]

    def _judge(self, row: MadeRow, cells: Cells) -> None:
        """By the rules of the catalogue, hard and soft; what is said of a cell once is not said again."""
        if self.kind.site_bound and row.site_id is None:
            row.mends.append(Remark("", "", "It is not known of which site this row is. Choose a site, or a column that names it."))
        for fault in self.kind.check(row.fields):
            (row.mends if fault.hard else row.doubts).append(self._remark(cells, fault.field, fault.sentence))
        for fault in self.kind.complete(row.fields):
            if fault.field not in row.faulty and not row.is_left_out:
                row.mends.append(self._remark(cells, fault.field, fault.sentence))

    def _remark(self, cells: Cells, field: str, sentence: str) -> Remark:
        header = self._where.get(field, self.kind.fields[field].title)
        return Remark(header, shown_in(cells.get(header)), sentence)


def shown_in(cell: Cell) -> str:
    """What stands in a cell; nothing of one that could not be read, since the sentence beside it says so."""
    return "" if isinstance(cell, dict) and "fault" in cell else text_of(cell)
