"""
Parquet: a file a table, in one zip with the dictionary, written by DuckDB. Loaded only where such a file is asked for: DuckDB is the
optional extra `parquet`.

DuckDB is given the rows as JSON lines, some at a time, and keeps them in a temporary file until it packs them; from a pipe it would keep
all that it has read in memory.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_STORED, ZipFile

import duckdb
import orjson

from fieldlog.errors import WorkFailed
from fieldlog.exports.columns import CHOICE, DATE, ID, INSTANT, LOCAL, NUMBER, TEXT, WHOLE, YES_NO, Table
from fieldlog.exports.dictionary import described, schema_of
from fieldlog.exports.left_behind import temporary_folder
from fieldlog.exports.parts import Tell, at_once, named_part
from fieldlog.exports.stream import Export

TYPES = {
    ID: "VARCHAR", TEXT: "VARCHAR", CHOICE: "VARCHAR", NUMBER: "DOUBLE", WHOLE: "BIGINT", YES_NO: "BOOLEAN", DATE: "DATE", INSTANT: "TIMESTAMPTZ",
    LOCAL: "VARCHAR",
}  # fmt: skip
"""Our types in DuckDB's; the site's clock stays a text, since a moment of Parquet keeps no offset."""

SETTINGS: dict[str, Any] = {"autoinstall_known_extensions": False, "memory_limit": "256MB", "threads": 1}
"""Nothing is fetched behind a user's back, and no more memory is taken than a table's pages need."""


MOST_BYTES_A_ROW = 4 * 1024 * 1024
"""As JSON: far more than the 64 KB that a line of the log may have, or the 256 KB of a record's open values. DuckDB takes twice that at once."""

CHUNK_ROWS = 61_440
"""Rows that DuckDB is given, and packs, together: half of its own number, and half the memory."""


def write_parquet(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write an export; `to` need not be seekable."""
    made_at = export.made_by.made_at
    resources = []
    with temporary_folder(export.made_by.at) as folder, ZipFile(to, "w", ZIP_STORED) as package:
        for table in export.tables:
            made = folder / f"{table.name}.parquet"
            rows = write_table(table, export.rows(table), made, tell)
            part = named_part(made.name, made_at)
            # Its pages are packed already.
            part.compress_type = ZIP_STORED
            with package.open(part, "w", force_zip64=True) as file, made.open("rb") as whole:
                shutil.copyfileobj(whole, file, 1 << 20)
            made.unlink()
            resources.append({
                "name": table.name, "path": made.name, "format": "parquet", "mediatype": "application/vnd.apache.parquet", "title": table.title,
                "rows": rows, "schema": schema_of(table, export.made_by),
            })  # fmt: skip
        with package.open(named_part("datapackage.json", made_at), "w") as file:
            file.write(described(export, resources))


def write_table(table: Table, rows: Iterator[tuple[Any, ...]], path: Path, tell: Tell) -> int:
    """
    Write a table's rows to a Parquet file; returns how many there are.

    Raises:
        WorkFailed: DuckDB could not write it.
    """
    columns = {column.name: TYPES[column.type] for column in table.columns}
    lines, kept = path.with_suffix(".ndjson"), path.with_suffix(".duckdb")
    count = 0
    try:
        with duckdb.connect(kept, config=SETTINGS) as conn:
            # Of what takes longer than two seconds it would tell on standard output, which may be the export itself.
            conn.execute("SET enable_progress_bar = false")
            conn.execute(f"CREATE TABLE made ({', '.join(f'{_name(name)} {kind}' for name, kind in columns.items())})")
            while written := _write_lines(table, islice(rows, CHUNK_ROWS), lines, tell):
                conn.execute(f"INSERT INTO made SELECT * FROM {_reading(lines, columns)}")
                count += written
            conn.execute(f"COPY made TO {_quoted(str(path))} (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {CHUNK_ROWS})")
    except duckdb.Error as fault:
        raise WorkFailed(f"The Parquet file of {table.title} could not be written: {fault}") from fault
    finally:
        for temporary in (lines, kept):
            temporary.unlink(missing_ok=True)
    return count


def _reading(lines: Path, columns: dict[str, str]) -> str:
    named = ", ".join(f"{_quoted(name)}: '{kind}'" for name, kind in columns.items())
    return f"read_json({_quoted(str(lines))}, format = 'newline_delimited', columns = {{{named}}}, maximum_object_size = {MOST_BYTES_A_ROW})"


def _write_lines(table: Table, rows: Iterator[tuple[Any, ...]], path: Path, tell: Tell) -> int:
    """Write rows as JSON lines; returns how many there were."""
    count = 0
    with path.open("wb") as file:
        for chunk in at_once(rows):
            file.writelines(_lines(table, chunk))
            count += len(chunk)
            tell(len(chunk))
    return count


def _lines(table: Table, rows: list[tuple[Any, ...]]) -> Iterator[bytes]:
    names = [column.name for column in table.columns]
    yes_no = [column.name for column in table.columns if column.type == YES_NO]
    for values in rows:
        row = dict(zip(names, values, strict=True))
        for name in yes_no:
            row[name] = None if row[name] is None else bool(row[name])
        yield orjson.dumps(row, option=orjson.OPT_APPEND_NEWLINE)


def _name(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
