"""
XLSX: a sheet a table, and one with the dictionary; written as it is read, so that a download begins at once and no row is kept.

Written by hand, since libraries keep each sheet in memory or in a file of its own until the last row is there; XlsxWriter 3.3.1, with files,
took six times as long for 100,000 rows of 30 columns (one run, busy machine). Texts are cells of type
text, so a spreadsheet program shows them whatever they begin with and nothing is put before them.

Source: ECMA-376 part 1, SpreadsheetML: cells (18.3.1.4), strings whose _xHHHH_ stands for a character (22.9.2.19), numbers from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from html import escape
from itertools import count, islice
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZipFile

from fieldlog.exports.columns import DATE, INSTANT, LOCAL, NUMBER, TEXTS, WHOLE, YES_NO, Column
from fieldlog.exports.dictionary import TITLES, dictionary_rows
from fieldlog.exports.parts import FAST, ROWS_AT_ONCE, Tell, named_part
from fieldlog.exports.stream import Export, Row
from fieldlog.exports.workbook_frame import (
    FIRST_OF_OFFSETS,
    content_types,
    relations,
    root_relations,
    sheet_end,
    sheet_start,
    styles,
    workbook,
)

MOST_ROWS = 1_048_575
"""Rows of a sheet below its header."""

MOST_LETTERS = 32_767
"""UTF-16 units that a cell takes."""

MOST_LISTED = 10_000
"""Cells whose change is listed; of more only how many there are."""

CUT = "Cut at 32,767 letters, the most that a cell takes"

REPLACEMENT = "\ufffd"
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""Characters that XML 1.0 cannot have, not even as a reference."""

_READ_AS_ONE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
"""Where a text would be read as an escaped character."""

_FIRST_DAY = datetime(1899, 12, 30, tzinfo=UTC)
_SOUND_FROM = date(1900, 3, 1)
"""Spreadsheet programs count a Feb 29, 1900 that never was; before it dates are written as text."""

DAY_S = 86400
OFFSET_LETTERS = len("-04:00")
DATE_TIME, DAY, HEADER = 1, 2, 3
"""Styles, by their place in styles.xml."""

ID_WIDTH, TEXT_WIDTH, TIME_WIDTH, LOCAL_WIDTH = 14, 24, 20, 27


@dataclass
class Changed:
    """The cells whose text could not be written as it was: (sheet, cell, what was done)."""

    cells: list[tuple[str, str, str]] = field(default_factory=list)
    more: int = 0

    def note(self, sheet: str, cell: str, what: str) -> None:
        """List one of them."""
        if len(self.cells) < MOST_LISTED:
            self.cells.append((sheet, cell, what))
        else:
            self.more += 1

    def rows(self) -> Iterator[tuple[str, str, str]]:
        """All of them, and at last how many more there are."""
        yield from self.cells
        if self.more:
            yield "", "", f"And {self.more} more cells"


def write_workbook(export: Export, to: IO[bytes], tell: Tell, most_rows: int = MOST_ROWS) -> None:
    """Write an export; `to` need not be seekable. A table of more than `most_rows` goes on in a further sheet."""
    with ZipFile(to, "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        book = Book(package, export.made_by.made_at)
        for table in export.tables:
            rows = export.rows(table)
            for number in count(1):
                title = table.title if number == 1 else f"{table.title} {number}"
                left = book.sheet(title, [column.header for column in table.columns], list(table.columns), rows, tell, most_rows)
                if left is None:
                    break
                rows = left
        titles = [Column(title, title, "text") for title in TITLES]
        book.sheet("Dictionary", list(TITLES), titles, dictionary_rows(export), _silent, most_rows)
        if book.changed.cells:
            said = [Column(title, title, "text") for title in ("Sheet", "Cell", "What was changed")]
            book.sheet("Changed characters", [column.title for column in said], said, book.changed.rows(), _silent, most_rows)
        book.end()


def _silent(_rows: int) -> None:
    """Rows that are no data are not told of."""


class Book:
    """The workbook while it is written."""

    def __init__(self, package: ZipFile, made_at: str) -> None:
        self._package, self._made_at = package, made_at
        self.sheets: list[str] = []
        self.changed = Changed()
        self.offsets: dict[str, int] = {}

    def sheet(
        self, title: str, headers: list[str], columns: list[Column], rows: Iterator[Any], tell: Tell, most_rows: int
    ) -> Iterator[Row] | None:  # fmt: skip
        """Write one sheet; returns the rows that it had no room for, None where there are none."""
        name = sheet_name(title, self.sheets)
        self.sheets.append(name)
        cells = _Cells(name, columns, self.changed, self.offsets)
        widths = [_width(column, header) for column, header in zip(columns, headers, strict=True)]
        with self._package.open(named_part(f"xl/worksheets/sheet{len(self.sheets)}.xml", self._made_at), "w", force_zip64=True) as file:
            file.write((sheet_start(widths) + cells.header(headers)).encode())
            written = 0
            while chunk := list(islice(rows, min(ROWS_AT_ONCE, most_rows - written))):
                file.write("".join(map(cells.row, count(written + 2), chunk)).encode())
                written += len(chunk)
                tell(len(chunk))
            file.write(sheet_end().encode())
        # Whether there are more is known only by asking for one.
        following = list(islice(rows, 1)) if written == most_rows else []
        return _again(following, rows) if following else None

    def end(self) -> None:
        """Write what names the sheets."""
        for name, text in (
            ("[Content_Types].xml", content_types(len(self.sheets))), ("_rels/.rels", root_relations()), ("xl/workbook.xml", workbook(self.sheets)),
            ("xl/_rels/workbook.xml.rels", relations(len(self.sheets))), ("xl/styles.xml", styles(self.offsets)),
        ):  # fmt: skip
            with self._package.open(named_part(name, self._made_at), "w") as file:
                file.write(text.encode())


def _again(first: list[Row], rows: Iterable[Row]) -> Iterator[Row]:
    yield from first
    yield from rows


class _Cells:
    """Rows of one sheet as XML."""

    def __init__(self, sheet: str, columns: list[Column], changed: Changed, offsets: dict[str, int]) -> None:
        self._sheet, self._changed, self._offsets = sheet, changed, offsets
        self._letters = [letters_of(place) for place in range(len(columns))]
        self._makers: list[Callable[[str, Any], str]] = [self._maker(column) for column in columns]

    def header(self, headers: list[str]) -> str:
        """The first row."""
        cells = (f'<c r="{letters}1" s="{HEADER}" t="inlineStr"><is><t>{escape(text, quote=False)}</t></is></c>' for letters, text in zip(self._letters, headers, strict=True))
        return f'<row r="1">{"".join(cells)}</row>'

    def row(self, number: int, row: Row) -> str:
        """A row; a value that is null has no cell."""
        cells = [
            make(f"{letters}{number}", value) for letters, make, value in zip(self._letters, self._makers, row, strict=True) if value is not None
        ]  # fmt: skip
        return f'<row r="{number}">{"".join(cells)}</row>'

    def _maker(self, column: Column) -> Callable[[str, Any], str]:
        if column.type in (NUMBER, WHOLE):
            return lambda cell, value: f'<c r="{cell}"><v>{value!r}</v></c>'
        if column.type == YES_NO:
            return lambda cell, value: f'<c r="{cell}" t="b"><v>{1 if value else 0}</v></c>'
        if column.type == INSTANT:
            return self._moment
        if column.type == LOCAL:
            return self._local
        if column.type == DATE:
            return self._day
        return self._text

    def _local(self, cell: str, value: str) -> str:
        """A time on a site's clock, its offset from UTC written behind it by the cell's format: it stays a date to reckon with."""
        offset = value[-OFFSET_LETTERS:]
        return self._moment(cell, value, self._offsets.setdefault(offset, FIRST_OF_OFFSETS + len(self._offsets)))

    def _moment(self, cell: str, value: str, style: int = DATE_TIME) -> str:
        at = datetime.fromisoformat(value).replace(tzinfo=UTC)
        if at.date() < _SOUND_FROM:
            return self._text(cell, value)
        return f'<c r="{cell}" s="{style}"><v>{(at - _FIRST_DAY).total_seconds() / DAY_S!r}</v></c>'

    def _day(self, cell: str, value: str) -> str:
        day = date.fromisoformat(value)
        return f'<c r="{cell}" s="{DAY}"><v>{(day - _FIRST_DAY.date()).days}</v></c>' if day >= _SOUND_FROM else self._text(cell, value)

    def _text(self, cell: str, value: str) -> str:
        # Most cells are ids and short words, which need nothing done.
        text = value if len(value) < 100 and value.isalnum() else self._sound(cell, value)
        return f'<c r="{cell}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'

    def _sound(self, cell: str, text: str) -> str:
        if _FORBIDDEN.search(text):
            codes = sorted({f"U+{ord(sign):04X}" for sign in _FORBIDDEN.findall(text)})
            self._changed.note(self._sheet, cell, f"{', '.join(codes)} replaced by {REPLACEMENT}")
            text = _FORBIDDEN.sub(REPLACEMENT, text)
        if len(text) * 2 > MOST_LETTERS and len(text.encode("utf-16-le")) // 2 > MOST_LETTERS:
            self._changed.note(self._sheet, cell, CUT)
            text = text.encode("utf-16-le")[: MOST_LETTERS * 2].decode("utf-16-le", "ignore")
        # A carriage return would be read as a line feed.
        return escape(_READ_AS_ONE.sub("_x005F_", text), quote=False).replace("\r", "&#13;")


def sheet_name(title: str, taken: Iterable[str]) -> str:
    """A name that a sheet may have: at most 31 letters, none of []:*?/\\, no other's whatever the case."""
    plain = re.sub(r"[\[\]:*?/\\]", " ", title).strip("' ")[:31]
    others = {name.casefold() for name in taken}
    names = (plain if number == 1 else f"{plain[: 30 - len(str(number))]} {number}" for number in count(1))
    return next(name for name in names if name.casefold() not in others)


def letters_of(place: int) -> str:
    """A column's letters: 0 is A, 26 is AA."""
    letters = ""
    place += 1
    while place:
        place, left = divmod(place - 1, 26)
        letters = chr(ord("A") + left) + letters
    return letters


def _width(column: Column, header: str) -> int:
    usual = {INSTANT: TIME_WIDTH, LOCAL: LOCAL_WIDTH}.get(column.type, ID_WIDTH if column.type == "id" else TEXT_WIDTH if column.type in TEXTS else 0)
    return max(usual, min(len(header) + 2, 40))
