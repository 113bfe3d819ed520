"""The SQLite file: every table's rows as they are, under the names by which questions are asked."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fieldlog.errors import AlreadyHere
from fieldlog.exports.formats import FORMATS, write_file
from fieldlog.exports.sqlite_file import make_file, name_of, write_sqlite
from fieldlog.exports.stream import Export
from fieldlog.query.asking import asked
from fieldlog.query.views import views_of
from fieldlog.records.catalogue import CATALOGUE
from tests.exports.conftest import BAR, exported


@pytest.fixture
def conn(made: Export, tmp_path: Path) -> Iterator[sqlite3.Connection]:
    make_file(made, tmp_path / "out.sqlite", lambda _rows: None)
    with closing(sqlite3.connect(tmp_path / "out.sqlite")) as opened:
        yield opened


def test_every_value_of_every_table_is_in_the_file(made: Export, conn: sqlite3.Connection) -> None:
    for table in made.tables:
        found = conn.execute(f'SELECT * FROM "{name_of(made, table)}"')
        assert [column[0] for column in found.description] == [column.name for column in table.columns]
        assert found.fetchall() == list(made.rows(table)), table.name
    assert conn.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert conn.execute("SELECT type FROM pragma_table_info('checks') WHERE name = 'exposed_height_mm'").fetchone() == ("REAL",)


def test_a_view_says_what_the_table_of_its_name_in_the_file_says(shore_folder: Path, tmp_path: Path) -> None:
    with exported(shore_folder) as export:
        make_file(export, tmp_path / "out.sqlite", lambda _rows: None)
    with closing(sqlite3.connect(tmp_path / "out.sqlite")) as conn:
        for view in views_of(CATALOGUE):
            # A check of Heron Bar names a unit of another site, to which it does not bind.
            sql = f"""SELECT {", ".join(f'"{name}"' for name in view.columns)} FROM "{view.name}" WHERE {'site_id' if 'site_id' in view.columns else 'record_id'} IS NOT '{BAR}'"""
            with asked(shore_folder / "fieldlog.sqlite", CATALOGUE, sql) as said:
                told = sorted(said.rows, key=repr)
            assert told == sorted(conn.execute(sql), key=repr), view.name


def test_the_dictionary_says_what_each_column_is(made: Export, conn: sqlite3.Connection) -> None:
    assert conn.execute("SELECT title, unit FROM dictionary WHERE \"table\" = 'unit_check' AND \"column\" = 'exposed_height_mm'").fetchone() == ("Exposed height", "mm")


def test_it_goes_to_a_stream_and_to_a_file_that_is_never_overwritten(made: Export, tmp_path: Path) -> None:
    rows = []
    to = io.BytesIO()
    write_sqlite(made, to, rows.append)
    assert to.getvalue()[:15] == b"SQLite format 3"
    write_file(made, FORMATS["sqlite"], tmp_path / "out.sqlite", lambda _rows: None)
    assert (tmp_path / "out.sqlite").stat().st_size == len(to.getvalue())
    assert [path.name for path in tmp_path.iterdir()] == ["out.sqlite"]
    with pytest.raises(AlreadyHere):
        write_file(made, FORMATS["sqlite"], tmp_path / "out.sqlite", lambda _rows: None)
    assert sum(rows) == sum(len(list(made.rows(table))) for table in made.tables)
