"""
The views that questions in SQL are asked of, made from the declarations of the record kinds: a kind to come has its view.

A view has the records of a kind that stand and may be told openly (`records/kind.py`: privacy, by_number, open_when), by the columns that
an export without names has (`fieldlog/exports/tables.py`): words beside ids, the site's clock beside UTC, people as numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fieldlog.exports.columns import LOCAL, Column
from fieldlog.exports.tables import Wanted, tables_of
from fieldlog.questions.names import NAME_COLUMNS
from fieldlog.records.catalogue import Catalogue
from fieldlog.records.kind import Kind

NUMBERS = "person_number"
"""The connection's own table of people's numbers: person_id, number."""

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
    told = [kind for kind in catalogue.kinds.values() if kind.privacy == "open" or kind.by_number or kind.open_when]
    return [*(_of_kind(catalogue, kind, tables[kind.name].columns) for kind in told), _of_flags(catalogue, tables["flag"].columns)]


def _of_kind(catalogue: Catalogue, kind: Kind, columns: tuple[Column, ...]) -> View:
    shown = [column for column in columns if not column.computed and _is_told(kind, column)]
    said = _Said(catalogue, {"site_id": "site", **kind.refs})
    where = "t.deleted = 0" if kind.by_number else f"t.deleted = 0 AND t.{kind.told_where}" if kind.open_when else "t.deleted = 0"
    return _view(kind.plural, kind.name, shown, said, where)


def _of_flags(catalogue: Catalogue, columns: tuple[Column, ...]) -> View:
    shown = [column for column in columns if column.name not in _NOT_STORED]
    return _view("flags", "flag", shown, _Said(catalogue, {"site_id": "site", **_FLAG_REFS}), "t.flag_id IS NOT NULL")


def _view(name: str, table: str, columns: list[Column], said: _Said, where: str) -> View:
    """A view; `where` names a column, or a question that reads none would seem to SQLite to read the table itself."""
    listed = ", ".join(f'{said.of(column)} AS "{column.name}"' for column in columns)
    return View(name, tuple(column.name for column in columns), f'SELECT {listed} FROM main."{table}" AS t WHERE {where}')


def _is_told(kind: Kind, column: Column) -> bool:
    """Whether a column of a kind is among what may be told; of one that is not open, what it says leaves by number, and words beside that."""
    return not kind.by_number or column.name in _ALWAYS or (column.of or column.name) in kind.by_number


@dataclass(frozen=True)
class _Said:
    """What the columns of one table are in SQL; `refs` are its references, {column: the kind, or the column that names the kind}."""

    catalogue: Catalogue
    refs: dict[str, str]

    def of(self, column: Column) -> str:
        """One column of a record `t`."""
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
