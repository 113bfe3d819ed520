"""
The rows of an export's tables, one at a time: what every writer of a format is fed with.

A row has a value a column, in the form that tables keep: yes and no as 1 and 0, instants and dates as text. Nothing of a table is held in
memory but names, which are few.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import chain
from operator import itemgetter

from sqlite_utils import Database

from fieldlog.exports.columns import Table
from fieldlog.exports.further import further_rows
from fieldlog.exports.making import Row, beside_values, makers_of
from fieldlog.exports.parts import at_once
from fieldlog.exports.tables import PRIVATE, Wanted, tables_of
from fieldlog.exports.within import Days, of_sites_alone, span_of
from fieldlog.exports.words import Words
from fieldlog.questions.whole_tables import columns_of, count_of, rows_of, time_of
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind
from fieldlog.records.listed import item_rows

__all__ = ["Export", "MadeBy", "Row"]


@dataclass(frozen=True)
class MadeBy:
    """What is said of the making of an export: the programme's name, the version, how tables were made, and when (UTC text)."""

    programme: str
    version: str
    made_as: str
    made_at: str

    @property
    def at(self) -> datetime:
        """When it is made."""
        return datetime.fromisoformat(self.made_at)

    @property
    def computed_by(self) -> str:
        """What computed columns were computed by."""
        return f"Fieldlog {self.version}, tables made as {self.made_as}"


class Export:
    """
    One export.

    Args:
        db: one state of the file for all of its tables (`questions/whole_tables.one_state`).
        catalogue: the record kinds.
        wanted: what is asked for.
        made_by: what is said of its making.
    """

    def __init__(self, db: Database, catalogue: Catalogue, wanted: Wanted, made_by: MadeBy) -> None:
        self.db, self.catalogue, self.wanted, self.made_by = db, catalogue, wanted, made_by
        self.tables = tables_of(catalogue, wanted)
        self.words = Words(db)
        self.under_way: Table | None = None
        """The table whose rows are read."""

    @cached_property
    def count(self) -> int:
        """How many rows its kinds' tables have, about: days are cut at each site's midnight only when rows are read."""
        kinds = [self.catalogue.kinds[table.kind] for table in self.tables if table.kind and not table.list_of]
        return sum(count_of(self.db, kind, span_of(self.wanted)) for kind in kinds)

    def rows(self, table: Table) -> Iterator[Row]:
        """The rows of one of its tables."""
        self.under_way = table
        if table.kind is None:
            return further_rows(self.db, self.catalogue, self.wanted, self.words, table)
        kind = self.catalogue.kinds[table.kind]
        if table.list_of is not None:
            return self._of_list(table, kind, table.list_of)
        in_order = _in_order(table, columns_of(kind), self.words, kind.name)
        return chain.from_iterable(map(in_order, at_once(self._records(kind))))

    def _of_list(self, table: Table, kind: Kind, field: str) -> Iterator[Row]:
        """A row an item of a list."""
        stored = columns_of(kind)
        for record in self._records(kind):
            row = dict(zip(stored, record, strict=True))
            for item in item_rows(kind.lists[field], field, row):
                yield tuple(beside_values(table.columns, item | {"site_id": row["site_id"]}, self.words))

    def _records(self, kind: Kind) -> Iterable[Row]:
        """The records of a kind that are wanted, as they are stored."""
        stored = columns_of(kind)
        rows: Iterable[Row] = rows_of(self.db, kind, span_of(self.wanted))
        at, site = time_of(kind), stored.index("site_id")
        if at is not None and (self.wanted.from_day or self.wanted.to_day):
            rows = Days(self.wanted, self.words.zones).within(rows, stored.index(at), site)
        if kind.privacy == PRIVATE and self.wanted.sites is not None:
            rows = of_sites_alone(rows, site)
        if kind.privacy not in self.wanted.classes and kind.open_when is not None:
            says = stored.index(kind.open_when)
            rows = (row for row in rows if row[says] == 1)
        return rows


def _in_order(table: Table, stored: list[str], words: Words, kind: str) -> Callable[[list[Row]], Iterator[Row]]:
    """What makes rows of a table out of records' rows: stored values as they are, what stands beside them, and what is computed."""
    made, makers = makers_of(table, stored, words, kind)
    places = {name: place for place, name in enumerate([*stored, *made])}
    pick = itemgetter(*(places[column.name] for column in table.columns))

    def in_order(rows: list[Row]) -> Iterator[Row]:
        columns = [*zip(*rows, strict=True), *(column for make in makers for column in make(rows))]
        return zip(*pick(columns), strict=True)

    return in_order
