"""
CSV: a Frictionless data package in one zip, a file a table (RFC 4180, UTF-8), written as it is read.

The zip may go to a file or straight to whoever downloads it; nothing is sought back in it. `datapackage.json` comes last, since it says how
many rows and bytes each table has.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

from fieldlog.apostrophes import MARKED
from fieldlog.exports.columns import NUMBER, TEXTS, YES_NO, Column, Table
from fieldlog.exports.dictionary import APOSTROPHE, TITLES, described, dictionary_rows, has_texts, schema_of
from fieldlog.exports.parts import FAST, Tell, at_once, named_part
from fieldlog.exports.stream import Export, Row

TRUE, FALSE = "true", "false"


def write_csv_package(export: Export, to: IO[bytes], tell: Tell) -> None:
    """Write an export; `to` need not be seekable."""
    made_at = export.made_by.made_at
    with ZipFile(to, "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        resources = [_resource(export, table, package, made_at, tell) for table in export.tables]
        resources.append(_dictionary(export, package, made_at))
        with package.open(named_part("datapackage.json", made_at), "w") as file:
            file.write(described(export, resources))


def _resource(export: Export, table: Table, package: ZipFile, made_at: str, tell: Tell) -> dict[str, Any]:
    path = f"{table.name}.csv"
    with package.open(named_part(path, made_at), "w", force_zip64=True) as file:
        stats = write_csv([column.name for column in table.columns], cells_of(table, export.rows(table)), file, tell)
    described = {"title": table.title, **({"description": APOSTROPHE} if has_texts(table) else {})}
    of_list = {"listOf": table.list_of} if table.list_of else {}
    return _file(table.name, path, stats) | described | of_list | {"kind": table.kind, "schema": schema_of(table, export.made_by)}


def _dictionary(export: Export, package: ZipFile, made_at: str) -> dict[str, Any]:
    names = [title.lower().replace(" ", "_") for title in TITLES]
    with package.open(named_part("dictionary.csv", made_at), "w") as file:
        stats = write_csv(names, map(list, dictionary_rows(export)), file, lambda _rows: None)
    fields = [{"name": name, "type": "string", "title": title} for name, title in zip(names, TITLES, strict=True)]
    return _file("dictionary", "dictionary.csv", stats) | {"title": "What each column is", "schema": {"fields": fields, "missingValues": [""]}}


def _file(name: str, path: str, stats: dict[str, Any]) -> dict[str, Any]:
    dialect = {"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"', "doubleQuote": True}
    return {"name": name, "path": path, "format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "dialect": dialect, **stats}


def write_csv(header: list[str], rows: Iterable[Sequence[Any]], file: IO[bytes], tell: Tell) -> dict[str, Any]:
    """Rows as CSV; returns how many rows, how many bytes, and the SHA-256 over these."""
    digest, count, size = hashlib.sha256(), 0, 0

    def put(lines: Iterable[Sequence[Any]]) -> int:
        text = io.StringIO()
        csv.writer(text).writerows(lines)
        data = text.getvalue().encode()
        digest.update(data)
        file.write(data)
        return len(data)

    size += put([header])
    for some in at_once(rows):
        size += put(some)
        count += len(some)
        tell(len(some))
    return {"rows": count, "bytes": size, "hash": f"sha256:{digest.hexdigest()}"}


def cells_of(table: Table, rows: Iterable[Row]) -> Iterator[Sequence[Any]]:
    """Rows as CSV has them: texts guarded, yes and no in words, whole numbers without a point."""
    texts = _places(table, lambda column: column.type in TEXTS)
    yes_no = _places(table, lambda column: column.type == YES_NO)
    numbers = _places(table, lambda column: column.type == NUMBER)
    for some in at_once(rows):
        columns: list[Sequence[Any]] = list(zip(*some, strict=True))
        for place in texts:
            columns[place] = [f"'{text}" if text and text[0] in MARKED else text for text in columns[place]]
        for place in yes_no:
            columns[place] = [None if cell is None else TRUE if cell else FALSE for cell in columns[place]]
        for place in numbers:
            columns[place] = [int(cell) if cell.__class__ is float and cell.is_integer() else cell for cell in columns[place]]
        yield from zip(*columns, strict=True)


def _places(table: Table, is_one: Callable[[Column], bool]) -> list[int]:
    return [place for place, column in enumerate(table.columns) if is_one(column)]
