"""
A workbook as sheets of rows. What a formula last came to counts, cells that were merged say the same in each of their places.

Days and times come out right for both of the spreadsheets' calendars (from 1900 and from 1904): the reader knows which one a file has.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum

from fieldlog.imports.cells import Row, cell_of
from fieldlog.imports.limits import (
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_UNPACKED_BYTES,
    too_many_columns,
    too_many_rows,
    unpacks_to,
    unreadable,
)
from fieldlog.shown_names import counted

PART_BYTES = 1024 * 1024
OVERLAP_BYTES = 64 * 1024
"""A cell that is cut in two by the end of a part is seen with the next one, unless it is longer than this."""

TOLD_RANGES = 5

_CELL = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"([^>]*)>(.*?)</c>', re.DOTALL)
_HAS_VALUE = re.compile(rb"<(?:v|is)>[^<]|<is>")
_ERROR = re.compile(rb"<v>([^<]*)</v>")
NO_VALUE = "This cell is a formula that has no value in the file. Open the file in a spreadsheet program, save it, then choose it again."


@dataclass
class SheetRead:
    """A sheet's name, its rows one after the other, and sentences on how they were read."""

    name: str
    rows: Iterator[Row]
    notes: list[str]


def check_packed(path: Path) -> None:
    """
    Unpack all of a packed file once, keeping nothing, so that nobody else unpacks more than the limit.

    Raises:
        BadTable: it is damaged, locked by a password, or unpacks to more than the limit.
    """
    total = 0
    try:
        with zipfile.ZipFile(path) as packed:
            for member in packed.infolist():
                with packed.open(member) as part:
                    # The library stops at the size that the file claims, and says so where there is more.
                    while piece := part.read(PART_BYTES):
                        total += len(piece)
                        if total > MOST_UNPACKED_BYTES:
                            raise unpacks_to(total)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as fault:
        raise unreadable(f"it is damaged or locked ({fault})") from None


def sheets_of(path: Path) -> Iterator[SheetRead]:
    """
    The sheets of a workbook, one at a time.

    Raises:
        BadTable: it cannot be read, or a sheet is too large.
    """
    try:
        book = CalamineWorkbook.from_path(str(path))
        names = [about.name for about in book.sheets_metadata if about.typ == SheetTypeEnum.WorkSheet]
    except CalamineError as fault:
        raise unreadable(str(fault)) from None
    parts = _parts_of(path)
    for name in names:
        try:
            sheet = book.get_sheet_by_name(name)
        except CalamineError as fault:
            raise unreadable(f"sheet {name}: {fault}") from None
        last_row, last_column = sheet.end or (-1, -1)
        if last_row > MOST_ROWS:
            raise too_many_rows(last_row)
        if last_column >= MOST_COLUMNS:
            raise too_many_columns(last_column + 1)
        faults, formulas = _formulas_in(path, parts.get(name))
        merged = _merged(sheet.merged_cell_ranges or [])
        notes = []
        if formulas:
            notes.append(f"{counted(formulas, 'cell holds', 'cells hold')} a formula; what it last came to was read.")
        if merged:
            told = ", ".join(_range_name(*ends) for ends in (sheet.merged_cell_ranges or [])[:TOLD_RANGES])
            notes.append(f"Merged cells were read as if each held the value: {told}{', …' if len(sheet.merged_cell_ranges or []) > TOLD_RANGES else ''}.")
        yield SheetRead(name, _rows(sheet, merged, faults), notes)


Place = tuple[int, int]


def _rows(sheet: Any, merged: dict[Place, Place], faults: dict[Place, str]) -> Iterator[Row]:
    """The rows from the sheet's first line on, so that their numbers are those that people see."""
    spread: dict[Place, Any] = {}
    sources = set(merged.values())
    # The library gives rows from the sheet's first on, and columns from the first that says something.
    before: Row = [None] * (sheet.start or (0, 0))[1]
    for number, cells in enumerate(sheet.iter_rows()):
        yield _with(number, before + [cell_of(value) for value in cells], merged, faults, spread, sources)


def _with(
    number: int, row: Row, merged: dict[Place, Place], faults: dict[Place, str], spread: dict[Place, Any], sources: set[Place]
) -> Row:  # fmt: skip
    if not merged and not faults:
        return row
    for column in range(len(row)):
        place = (number, column)
        if place in faults and row[column] is None:
            row[column] = {"fault": faults[place]}
        if place in sources:
            spread[place] = row[column]
        elif place in merged:
            row[column] = spread.get(merged[place])
    return row


def _merged(ranges: list[tuple[Place, Place]]) -> dict[Place, Place]:
    """Of each place in a merged range but its first: where its value stands. Ranges of whole columns are no table's."""
    places: dict[Place, Place] = {}
    for (top, left), (bottom, right) in ranges:
        if (bottom - top + 1) * (right - left + 1) > MOST_ROWS:
            continue
        for row in range(top, bottom + 1):
            places.update({(row, column): (top, left) for column in range(left, right + 1) if (row, column) != (top, left)})
    return places


def _range_name(first: Place, last: Place) -> str:
    return f"{_column_name(first[1])}{first[0] + 1}:{_column_name(last[1])}{last[0] + 1}"


def _column_name(column: int) -> str:
    letters, rest = "", column + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        letters = chr(65 + digit) + letters
    return letters


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number - 1


def _parts_of(path: Path) -> dict[str, str]:
    """Which part of the packed file a sheet is; the file's own tables say so."""
    try:
        with zipfile.ZipFile(path) as packed:
            book, ties = packed.read("xl/workbook.xml").decode("utf-8"), packed.read("xl/_rels/workbook.xml.rels").decode("utf-8")
    except (KeyError, UnicodeDecodeError, zipfile.BadZipFile):
        return {}
    targets = {}
    for tie in re.findall(r"<Relationship [^>]*>", ties):
        tie_id, target = re.search(r'\bId="([^"]+)"', tie), re.search(r'\bTarget="([^"]+)"', tie)
        if tie_id and target:
            targets[tie_id[1]] = target[1]
    found = {}
    for sheet in re.findall(r"<sheet [^>]*>", book):
        name, tie_id = re.search(r'\bname="([^"]+)"', sheet), re.search(r'\br:id="([^"]+)"', sheet)
        if name and tie_id and tie_id[1] in targets:
            part = targets[tie_id[1]]
            found[_plain(name[1])] = part.lstrip("/") if part.startswith("/") else f"xl/{part}"
    return found


def _plain(text: str) -> str:
    for written, sign in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'"), ("&amp;", "&")):
        text = text.replace(written, sign)
    return text


def _formulas_in(path: Path, part: str | None) -> tuple[dict[Place, str], int]:
    """Cells that hold a fault or a formula without a value, which the reader gives as empty, each with its sentence; how many formulas there are."""
    faults: dict[Place, str] = {}
    formulas = 0
    if part is None:
        return faults, formulas
    with zipfile.ZipFile(path) as packed:
        if part not in packed.namelist():
            return faults, formulas
        with packed.open(part) as stream:
            rest = b""
            while piece := stream.read(PART_BYTES):
                text = rest + piece
                end = text.rfind(b"</c>") + 4
                whole, rest = (text[:end], text[end:]) if end > 3 else (b"", text[-OVERLAP_BYTES:])
                if b"<f" not in whole and b't="e"' not in whole:
                    continue
                for letters, number, about, content in _CELL.findall(whole):
                    place = (int(number) - 1, _column_number(letters))
                    is_formula = b"<f" in content
                    formulas += is_formula
                    if b't="e"' in about:
                        said = _ERROR.search(content)
                        faults[place] = f"This cell holds the error {said[1].decode('utf-8', 'replace') if said else ''}. Correct it in the sheet."
                    elif is_formula and not _HAS_VALUE.search(content):
                        faults[place] = NO_VALUE
    return faults, formulas
