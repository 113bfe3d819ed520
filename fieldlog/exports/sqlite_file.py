"""
SQLite: a file with the tables that questions are asked of, under the same names (`records/kind.py`: plural), for other programs.

Values are as rows keep them: instants as text, yes and no as 1 and 0. Nothing is guarded against spreadsheets, which do not open it.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import IO

from fieldlog.exports.columns import NUMBER, WHOLE, YES_NO, Table
from fieldlog.exports.dictionary import TITLES, dictionary_rows
from fieldlog.exports.left_behind import temporary_folder
from fieldlog.exports.parts import Tell, at_once
from fieldlog.exports.stream import Export, Row

_TYPES = {NUMBER: "REAL", WHOLE: "INTEGER", YES_NO: "INTEGER"}


def write_sqlite(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write an export; `to` need not be seekable, so the file is made beside it first, in the folder for temporary files."""
    with temporary_folder(export.made_by.at) as folder:
        path = folder / "export.sqlite"
        make_file(export, path, tell)
        with path.open("rb") as made:
            shutil.copyfileobj(made, to, 1 << 20)


def make_file(export: Export, path: Path, tell: Tell) -> None:
    """Make a database file of an export's tables, and of what each of their columns is."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        # What is not whole is thrown away, so nothing is written twice for the sake of it.
        conn.execute("PRAGMA journal_mode = OFF")
        conn.execute("PRAGMA synchronous = OFF")
        conn.execute("BEGIN")
        for table in export.tables:
            columns = {column.name: _TYPES.get(column.type, "TEXT") for column in table.columns}
            _fill(conn, name_of(export, table), columns, export.rows(table), tell)
        _fill(conn, "dictionary", dict.fromkeys((title.lower().replace(" ", "_") for title in TITLES), "TEXT"), map(tuple, dictionary_rows(export)), lambda _rows: None)
        conn.execute("COMMIT")


def name_of(export: Export, table: Table) -> str:
    """What a table is called: a kind's by its plural, any other by its own name, flags as the view of them."""
    if table.kind is not None and not table.list_of:
        return export.catalogue.kinds[table.kind].plural
    return "flags" if table.name == "flag" else table.name


def _fill(conn: sqlite3.Connection, name: str, columns: dict[str, str], rows: Iterator[Row], tell: Tell) -> None:
    listed = ", ".join(f'"{column}" {affinity}' for column, affinity in columns.items())
    conn.execute(f'CREATE TABLE "{name}"({listed})')
    insert = f'INSERT INTO "{name}" VALUES ({", ".join("?" * len(columns))})'
    for some in at_once(rows):
        conn.executemany(insert, some)
        tell(len(some))
