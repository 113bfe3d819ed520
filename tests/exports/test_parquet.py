"""Parquet, read back by DuckDB: every value as the table has it."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import duckdb
import pytest

from fieldlog.errors import WorkFailed
from fieldlog.exports import formats, parquet
from fieldlog.exports.columns import Column, Table
from fieldlog.exports.formats import FORMATS
from fieldlog.exports.stream import Export
from fieldlog.instants import written


def read_back(path: Path, table: Table) -> list[tuple[Any, ...]]:
    """The rows of a file, moments as texts such as rows keep: in UTC, since DuckDB's own words for them hang on a zone."""
    columns = ", ".join(
        f'epoch_ms("{column.name}")' if column.type == "instant"
        else f'"{column.name}"::VARCHAR' if column.type == "date" else f'"{column.name}"'
        for column in table.columns
    )  # fmt: skip
    instants = [place for place, column in enumerate(table.columns) if column.type == "instant"]
    with duckdb.connect() as conn:
        rows = [list(row) for row in conn.execute(f"SELECT {columns} FROM '{path}'").fetchall()]
    for row in rows:
        for place in instants:
            row[place] = None if row[place] is None else written(datetime.fromtimestamp(row[place] / 1000, UTC))
    return [tuple(row) for row in rows]


def test_every_value_is_read_back_by_duckdb(some: Export, tmp_path: Path) -> None:
    to, told = io.BytesIO(), []
    FORMATS["parquet"].write(some, to, told.append)
    package = ZipFile(to)
    assert sorted(package.namelist()) == sorted([*(f"{table.name}.parquet" for table in some.tables), "datapackage.json"])
    for table in some.tables:
        rows = list(some.rows(table))
        assert read_back(Path(package.extract(f"{table.name}.parquet", tmp_path)), table) == rows, table.name
    assert sum(told) == sum(resource["rows"] for resource in json.loads(package.read("datapackage.json"))["resources"])


def test_columns_have_types_of_their_own(some: Export, tmp_path: Path) -> None:
    table = next(table for table in some.tables if table.name == "unit_check")
    parquet.write_table(table, some.rows(table), tmp_path / "checks.parquet", lambda _rows: None)
    with duckdb.connect() as conn:
        types = {name: kind for name, kind, *_ in conn.execute(f"DESCRIBE SELECT * FROM '{tmp_path / 'checks.parquet'}'").fetchall()}
    assert (types["checked_at"], types["exposed_height_mm"], types["rocking"], types["body_grade"]) == ("TIMESTAMP WITH TIME ZONE", "DOUBLE", "BOOLEAN", "BIGINT")


def test_a_row_that_cannot_be_written_is_told_and_nothing_hangs(tmp_path: Path) -> None:
    table = Table("odd", "Odd", (Column("at", "At", "instant"),))

    def rows() -> Iterator[tuple[str]]:
        yield ("no moment",)
        for _ in range(100_000):
            yield ("2026-06-14T10:30:00.000Z",)

    with pytest.raises(WorkFailed, match="The Parquet file of Odd could not be written"):
        parquet.write_table(table, rows(), tmp_path / "odd.parquet", lambda _rows: None)


def test_without_duckdb_a_sentence_says_what_to_install(some: Export, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(formats, "find_spec", lambda _name: None)
    with pytest.raises(WorkFailed, match=r"needs the package duckdb on the server\. Install it: pip install 'fieldlog\[parquet\]'"):
        FORMATS["parquet"].write(some, io.BytesIO(), lambda _rows: None)
