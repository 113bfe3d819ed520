"""
Parquet: a file a table, in one zip with the dictionary, written by DuckDB. Loaded only where such a file is asked for: DuckDB is the
optional extra `parquet`.

DuckDB reads the rows as JSON lines from a pipe, in a thread beside, so that none is kept; its file is a temporary one until the zip has it.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Any
from zipfile import ZIP_STORED, ZipFile

import duckdb
import orjson

from fieldlog.errors import WorkFailed
from fieldlog.exports.columns import CHOICE, DATE, ID, INSTANT, LOCAL, NUMBER, TEXT, WHOLE, YES_NO, Table
from fieldlog.exports.dictionary import described, schema_of
from fieldlog.exports.parts import ROWS_AT_ONCE, Tell, named_part
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

GROUP_ROWS = 61_440
"""Rows that are packed together: half of DuckDB's own number, and half the memory."""


def write_parquet(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write an export; `to` need not be seekable."""
    made_at = export.made_by.made_at
    resources = []
    with TemporaryDirectory(prefix="fieldlog-") as folder, ZipFile(to, "w", ZIP_STORED) as package:
        for table in export.tables:
            made = Path(folder) / f"{table.name}.parquet"
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
    read, write = os.pipe()
    writing = _Writing(table, path, read)
    writing.start()
    count = 0
    try:
        with os.fdopen(write, "wb") as lines:
            for chunk in iter(lambda: list(islice(rows, ROWS_AT_ONCE)), []):
                lines.write(b"".join(_lines(table, chunk)))
                count += len(chunk)
                tell(len(chunk))
    except BrokenPipeError:
        # DuckDB has ended before the last row; it says why.
        pass
    finally:
        writing.join()
    if writing.fault is not None:
        raise WorkFailed(f"The Parquet file of {table.title} could not be written: {writing.fault}")
    return count


def _lines(table: Table, rows: list[tuple[Any, ...]]) -> Iterator[bytes]:
    names = [column.name for column in table.columns]
    yes_no = [column.name for column in table.columns if column.type == YES_NO]
    for values in rows:
        row = dict(zip(names, values, strict=True))
        for name in yes_no:
            row[name] = None if row[name] is None else bool(row[name])
        yield orjson.dumps(row, option=orjson.OPT_APPEND_NEWLINE)


class _Writing(threading.Thread):
    """DuckDB at work: the rows are read by whoever has the database's connection, so it has the thread beside."""

    def __init__(self, table: Table, path: Path, read: int) -> None:
        super().__init__(name="parquet", daemon=True)
        self._table, self._path, self._read = table, path, read
        self.fault: duckdb.Error | None = None

    def run(self) -> None:
        """Write the file; what went wrong is kept for who waits."""
        columns = ", ".join(f"{_quoted(column.name)}: '{TYPES[column.type]}'" for column in self._table.columns)
        source = f"read_json('/dev/fd/{self._read}', format = 'newline_delimited', columns = {{{columns}}}, maximum_object_size = {MOST_BYTES_A_ROW})"
        try:
            with duckdb.connect(config=SETTINGS) as conn:
                # Of what takes longer than two seconds it would tell on standard output, which may be the export itself.
                conn.execute("SET enable_progress_bar = false")
                conn.execute(f"COPY (SELECT * FROM {source}) TO {_quoted(str(self._path))} (FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {GROUP_ROWS})")
        except duckdb.Error as fault:
            self.fault = fault
        finally:
            os.close(self._read)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
