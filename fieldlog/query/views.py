"""
The views that questions in SQL are asked of, made from the declarations of the record kinds: a kind to come has its view.

A view has the records of a kind that stand and may be told openly (`records/kind.py`: privacy, by_number, open_when), by the columns that
an export without names has (`fieldlog/exports/tables.py`): words beside ids, the site's clock beside UTC, people as numbers, and what is
computed. A list has a view of its own, as it has a table of its own there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fieldlog.exports.columns import LOCAL, Column, Table, column_of
from fieldlog.exports.computed import COMPUTED
from fieldlog.exports.making import read_by_computed
from fieldlog.exports.tables import Wanted, tables_of
from fieldlog.questions.names import NAME_COLUMNS
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind
from fieldlog.records.listed import PLACE, RECORD_ID

NUMBERS = "person_number"
"""The connection's own table of people's numbers: person_id, number."""

LIST_ITEMS, COMPUTED_VALUE = "list_items", "computed_value"
"""Functions that a connection has for the views alone (asking.py)."""

_ALWAYS = {"record_id", "site_id", "site_name", "visit_id", "observer_number"}
_STORED = {"observer_id": "created_by"}
_FLAG_REFS = {"subject_id": "subject_kind"}
_NOT_STORED = {"rule_title"}


@dataclass(frozen=True)
class View:
    """A view: its name, the names of its columns in order, and the statement that it stands for."""

    name: str
    columns: tuple[str, ...]
    select: str


def views_of(catalogue: Catalogue) -> list[View]:
    """Every view, kinds in the catalogue's order, flags last."""
    tables = {table.name: table for table in tables_of(catalogue, Wanted())}
    told = {kind.name: kind for kind in catalogue.kinds.values() if kind.privacy == "open" or kind.by_number or kind.open_when}
    lists = [table for table in tables.values() if table.list_of and table.kind in told]
    return [
        *(_of_kind(catalogue, kind, tables[kind.name].columns) for kind in told.values()),
        *(_of_list(catalogue, told[table.kind or ""], table) for table in lists if _is_list_told(told[table.kind or ""], table)),
        _of_flags(catalogue, tables["flag"].columns),
    ]  # fmt: skip


def _of_kind(catalogue: Catalogue, kind: Kind, columns: tuple[Column, ...]) -> View:
    shown = [column for column in columns if _is_told(kind, column)]
    said = _Said(catalogue, {"site_id": "site", **kind.refs}, kind)
    return _view(kind.plural, f'main."{kind.name}"', shown, said, _where(kind, "t"))


def _where(kind: Kind, row: str) -> str:
    return f"{row}.deleted = 0 AND {row}.{kind.told_where}" if kind.open_when and not kind.by_number else f"{row}.deleted = 0"


def _is_list_told(kind: Kind, table: Table) -> bool:
    return not kind.by_number or table.list_of in kind.by_number


def _of_list(catalogue: Catalogue, kind: Kind, table: Table) -> View:
    """A row an item of a list, read by the same code as an export's where older apps wrote it as another field."""
    field = table.list_of or ""
    listed = kind.lists[field]
    stored = ", ".join(f'r."{name}"' for name in kind.columns())
    items = f"coalesce(r.\"{field}\", '[]')" if listed.before is None else f"{LIST_ITEMS}('{kind.name}', '{field}', {stored})"
    values = {name: "j.value" if listed.is_bare else f"json_extract(j.value, '$.{name}')" for name in listed.inner}
    inner = ", ".join(f'{value} AS "{name}"' for name, value in values.items())
    rows = f'(SELECT r.{RECORD_ID}, r.site_id, j.key + 1 AS {PLACE}, {inner} FROM main."{kind.name}" AS r, json_each({items}) AS j WHERE {_where(kind, "r")})'
    refs = {name: column.refers_to for name, column in ((name, column_of(name, one)) for name, one in listed.inner.items()) if column.refers_to}
    return _view(table.name, rows, list(table.columns), _Said(catalogue, {"site_id": "site", **refs}), f"t.{RECORD_ID} IS NOT NULL")


def _of_flags(catalogue: Catalogue, columns: tuple[Column, ...]) -> View:
    shown = [column for column in columns if column.name not in _NOT_STORED]
    return _view("flags", 'main."flag"', shown, _Said(catalogue, {"site_id": "site", **_FLAG_REFS}), "t.flag_id IS NOT NULL")


def _view(name: str, table: str, columns: list[Column], said: _Said, where: str) -> View:
    """A view; `where` names a column, or a question that reads none would seem to SQLite to read the table itself."""
    listed = ", ".join(f'{said.of(column)} AS "{column.name}"' for column in columns)
    return View(name, tuple(column.name for column in columns), f'SELECT {listed} FROM {table} AS t WHERE {where}')


def _is_told(kind: Kind, column: Column) -> bool:
    """Whether a column of a kind is among what may be told; of one that is not open, what it says leaves by number, and words beside that."""
    return not kind.by_number or column.name in _ALWAYS or (column.of or column.name) in kind.by_number


@dataclass(frozen=True)
class _Said:
    """What the columns of one table are in SQL; `refs` are its references, {column: the kind, or the column that names the kind}."""

    catalogue: Catalogue
    refs: dict[str, str]
    kind: Kind | None = None

    def of(self, column: Column) -> str:
        """One column of a record `t`."""
        if column.computed and self.kind is not None:
            place = [one.name for one in COMPUTED[self.kind.name]].index(column.name)
            read = ", ".join(f't."{_STORED.get(name, name)}"' for name in read_by_computed(self.kind))
            return f"{COMPUTED_VALUE}('{self.kind.name}', {place}, {read})"
        if column.of is None or (column.of not in self.refs | _STORED and column.type != LOCAL):
            return f't."{column.name}"'
        stored = f't."{_STORED.get(column.of, column.of)}"'
        if column.type == LOCAL:
            return f"local_time({stored}, (SELECT zone FROM main.site WHERE record_id = t.site_id))"
        if column.name.endswith("_number"):
            return f"(SELECT number FROM temp.{NUMBERS} WHERE person_id = {stored})"
        if column.name.endswith("_row"):
            return f'(SELECT r.name FROM main.unit AS u JOIN main."row" AS r ON r.record_id = u.row_id AND r.site_id = u.site_id WHERE {_bound("u", stored)})'
        to = self.refs[column.of]
        return _name(to, stored) if to in self.catalogue.kinds else self._name_by(to, stored)

    def _name_by(self, kind_column: str, stored: str) -> str:
        """The name of a record of whichever kind a column says; of kinds that are not open none."""
        cases = " ".join(f"WHEN '{name}' THEN {_name(name, stored)}" for name in self._open_names())
        return f'CASE t."{kind_column}" {cases} END'

    def _open_names(self) -> Iterator[str]:
        return (name for name in NAME_COLUMNS if name in self.catalogue.kinds and self.catalogue.kinds[name].privacy == "open")


def _name(kind: str, stored: str) -> str:
    """What the record is called that a column names."""
    names = ", ".join(f"nullif(n.{column}, '')" for column in NAME_COLUMNS[kind])
    bound = f"n.record_id = {stored}" if kind == "site" else _bound("n", stored)
    return f'(SELECT coalesce({names}, NULL) FROM main."{kind}" AS n WHERE {bound})'


def _bound(other: str, stored: str) -> str:
    """A reference binds within one site, or to a record of the whole programme."""
    return f"{other}.record_id = {stored} AND ({other}.site_id = t.site_id OR {other}.site_id IS NULL)"
