"""
The child that reads a file: its bytes become rows of cells, a sheet a file of lines (cells.py), within limits of memory and time.

It knows nothing of a programme. What a file says is somebody else's, so a fault of a reading library takes no server with it.
"""

from __future__ import annotations

import resource
import zipfile
from collections.abc import Iterator
from math import isfinite
from pathlib import Path
from typing import Any

import orjson

from fieldlog.child import Tell, answer
from fieldlog.errors import BadTable
from fieldlog.imports.cells import Row
from fieldlog.imports.delimited import rows_of_text
from fieldlog.imports.limits import MOST_MEMORY_BYTES, MOST_ROWS, too_many_rows, unreadable
from fieldlog.imports.points import rows_of_points
from fieldlog.imports.workbook import SheetRead, check_packed, sheets_of

PACKED = b"PK\x03\x04"
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"


def work(job: dict[str, Any], tell: Tell) -> list[dict[str, Any]]:
    """
    Read a file.

    Args:
        job: `file`, its path; `into`, the folder where its sheets' lines are to stand, which is here.

    Returns:
        Of each sheet its `name`, how many `rows` and `columns` it has, `notes` and the name of the file with its `lines`.

    Raises:
        BadTable: it cannot be read, or holds more than the limits.
    """
    path, into = Path(job["file"]), Path(job["into"])
    tell("reading the file")
    try:
        read = [_kept(sheet, into, number) for number, sheet in enumerate(_sheets(path))]
    except MemoryError:
        raise unreadable(f"it takes more than {MOST_MEMORY_BYTES // 1024**2:,} MB of memory") from None
    sheets = [sheet for sheet in read if sheet["rows"]]
    if not sheets:
        raise unreadable("it is empty")
    return sheets


def _sheets(path: Path) -> Iterator[SheetRead]:
    with path.open("rb") as file:
        begins = file.read(4096)
    if begins.startswith(PACKED):
        check_packed(path)
        with zipfile.ZipFile(path) as packed:
            tables = sorted(name for name in packed.namelist() if name.lower().endswith(".csv"))
        yield from _sheets_of_texts(path, tables) if tables else sheets_of(path)
        return
    if begins.startswith(OLD_WORKBOOK):
        yield from sheets_of(path)
        return
    data = path.read_bytes()
    if begins.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        yield SheetRead("Points", rows_of_points(data), [])
        return
    rows, notes = rows_of_text(data)
    yield SheetRead("", rows, notes)


def _sheets_of_texts(path: Path, names: list[str]) -> Iterator[SheetRead]:
    """The tables of a package of texts, such as an export: each is named by its file."""
    with zipfile.ZipFile(path) as packed:
        for name in names:
            rows, notes = rows_of_text(packed.read(name))
            yield SheetRead(Path(name).stem, rows, notes)


def _kept(sheet: SheetRead, into: Path, number: int) -> dict[str, Any]:
    """Write a sheet's rows as lines; those at its end that say nothing are left out."""
    name, rows, columns, blank = f"sheet-{number}.ndjson", 0, 0, 0
    with (into / name).open("wb") as lines:
        for row in sheet.rows:
            while row and row[-1] is None:
                row.pop()
            if not row:
                blank += 1
                continue
            lines.write(b"[]\n" * blank)
            rows, blank, columns = rows + blank + 1, 0, max(columns, len(row))
            if rows <= MOST_ROWS + 1:
                lines.write(_line(row))
    if rows > MOST_ROWS + 1:
        raise too_many_rows(rows - 1)
    return {"name": sheet.name, "rows": rows, "columns": columns, "notes": sheet.notes, "lines": name}


def _line(row: Row) -> bytes:
    if any(isinstance(cell, float) and not isfinite(cell) for cell in row):
        raise BadTable("A cell holds a number without an end. Correct it in the sheet, then choose the file again.")
    return orjson.dumps(row) + b"\n"


def limited_work(job: dict[str, Any], tell: Tell) -> list[dict[str, Any]]:
    """The same, in no more memory than the limit."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    return work(job, tell)


if __name__ == "__main__":
    answer(limited_work)
