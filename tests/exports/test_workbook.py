"""The workbook, read back by openpyxl and pandas."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pandas
import pytest

from fieldlog.exports import workbook as workbook_module
from fieldlog.exports.columns import Column
from fieldlog.exports.stream import Export
from fieldlog.exports.workbook import MOST_LETTERS, letters_of, sheet_name, write_workbook
from fieldlog.records.catalogue import CATALOGUE
from tests.exports.conftest import HOSTILE, exported

FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


def written(export: Export, most_rows: int = workbook_module.MOST_ROWS) -> io.BytesIO:
    to = io.BytesIO()
    write_workbook(export, to, lambda _rows: None, most_rows)
    return to


def as_read(column: Column, value: Any) -> Any:
    """What a spreadsheet has for a value of a row."""
    if value is None:
        return None
    if column.type == "yesno":
        return bool(value)
    if column.type in ("instant", "local"):
        return datetime.fromisoformat(value).replace(tzinfo=None)
    if column.type == "date":
        return datetime.fromisoformat(value)
    # openpyxl reads the escape of an underscore as it stands.
    return re.sub("_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", FORBIDDEN.sub("\ufffd", value)) if isinstance(value, str) else value


def test_every_value_of_every_table_is_read_back_with_its_type(made: Export) -> None:
    book = openpyxl.load_workbook(written(made), read_only=True)
    assert book.sheetnames[-2:] == ["Dictionary", "Changed characters"]
    for table, sheet in zip(made.tables, book.worksheets, strict=False):
        header, *rows = [list(row) for row in sheet.iter_rows(values_only=True)] or [[]]
        assert header == [column.header for column in table.columns]
        wanted = [[as_read(column, value) for column, value in zip(table.columns, row, strict=True)] for row in made.rows(table)]
        assert len(rows) == len(wanted)
        for theirs, ours in zip(rows, wanted, strict=True):
            padded = theirs + [None] * (len(ours) - len(theirs))
            for column, read, value in zip(table.columns, padded, ours, strict=True):
                if isinstance(value, datetime):
                    assert abs(read - value) < timedelta(milliseconds=1), (table.name, column.name)
                else:
                    assert (read, type(read) in (int, float)) == (value if value != "" else read, type(value) in (int, float)), (table.name, column.name)


def test_nothing_is_a_formula_and_what_xml_forbids_is_listed(some: Export) -> None:
    book = openpyxl.load_workbook(written(some))
    checks = book["Unit check"]
    notes = {cell.value for cell in checks[letters_of([column.value for column in checks[1]].index("Note"))]}
    assert {note for note in HOSTILE if "=" in note} <= notes
    assert not [cell.coordinate for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    listed = [row[2] for row in book["Changed characters"].iter_rows(min_row=2, values_only=True) if row[0] == "Unit check"]
    assert listed == ["U+0001 replaced by \ufffd", "U+FFFE replaced by \ufffd"]


def test_the_header_stays_in_sight_and_says_units(some: Export) -> None:
    book = openpyxl.load_workbook(written(some))
    checks = book["Unit check"]
    assert checks.freeze_panes == "A2"
    assert {"Exposed height [mm]", "Checked at [UTC]", "Checked at [site's clock]", "Body, computed"} <= {cell.value for cell in checks[1]}
    assert checks.column_dimensions["A"].width == 14
    assert [row[1] for row in book["Dictionary"].iter_rows(min_row=2, values_only=True)] == [column.name for table in some.tables for column in table.columns]


def test_pandas_reads_the_same_sums(some: Export) -> None:
    table = next(table for table in some.tables if table.name == "unit_check")
    place = [column.name for column in table.columns].index("exposed_height_mm")
    read = pandas.read_excel(written(some), sheet_name="Unit check", engine="openpyxl")
    assert read["Exposed height [mm]"].sum() == sum(row[place] or 0 for row in some.rows(table))
    assert read["Checked at [UTC]"].dtype.kind == "M"


def test_no_two_columns_of_a_sheet_have_one_header(shore_folder: Path) -> None:
    for names in (True, False):
        with exported(shore_folder, names=names, private=True, history=True) as export:
            for table in export.tables:
                headers = [column.header for column in table.columns]
                assert len(headers) == len(set(headers)), (table.name, headers)
                assert len({column.name for column in table.columns}) == len(headers), table.name
    assert len({sheet_name(kind.title, []) for kind in CATALOGUE.kinds.values()}) == len(CATALOGUE.kinds)


def test_rows_beyond_a_sheets_end_go_on_in_a_further_one(some: Export) -> None:
    assert workbook_module.MOST_ROWS == 2**20 - 1
    table = next(table for table in some.tables if table.name == "unit_check")
    rows = [row[0] for row in some.rows(table)]
    book = openpyxl.load_workbook(written(some, most_rows=len(rows) - 1), read_only=True)
    assert [row[0] for row in book["Unit check"].iter_rows(min_row=2, values_only=True)] == rows[:-1]
    assert [row[0] for row in book["Unit check 2"].iter_rows(min_row=2, values_only=True)] == rows[-1:]
    full = openpyxl.load_workbook(written(some, most_rows=len(rows)), read_only=True)
    assert "Unit check 2" not in full.sheetnames, "a table that just fits has one sheet"


@pytest.mark.parametrize("text", ["x" * 40_000, "\U0001f980" * 17_000])
def test_a_text_longer_than_a_cell_is_cut_and_listed(text: str) -> None:
    changed = workbook_module.Changed()
    cells = workbook_module._Cells("Sheet", [Column("note", "Note", "text")], changed, {})
    kept = re.search("preserve\">(.*)</t>", cells.row(2, (text,))).group(1)
    assert len(kept.encode("utf-16-le")) // 2 in (MOST_LETTERS - 1, MOST_LETTERS)
    assert changed.cells == [("Sheet", "A2", "Cut at 32,767 letters, the most that a cell takes")]


def test_a_moment_before_spreadsheets_count_is_a_text() -> None:
    cells = workbook_module._Cells("Sheet", [Column("at", "At", "instant"), Column("on", "On", "date")], workbook_module.Changed(), {})
    row = cells.row(2, ("1900-02-28T12:00:00.000Z", "1900-02-28"))
    assert ">1900-02-28T12:00:00.000Z<" in row
    assert ">1900-02-28<" in row
    assert datetime(1900, 3, 1, tzinfo=UTC) - timedelta(days=61) == workbook_module._FIRST_DAY


def test_names_of_sheets_and_columns() -> None:
    assert [letters_of(place) for place in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]
    assert sheet_name("a/b:c " * 9, []) == "a b c a b c a b c a b c a b c a"
    assert sheet_name("Unit", ["unit", "UNIT 2"]) == "Unit 3"


def test_the_parts_are_packed(made: Export) -> None:
    assert {part.compress_type for part in zipfile.ZipFile(written(made)).infolist()} == {zipfile.ZIP_DEFLATED}


def test_a_time_on_the_sites_clock_shows_its_offset_and_stays_a_date(made: Export) -> None:
    sheet = openpyxl.load_workbook(written(made))["Unit check"]
    column = next(cell.column for cell in sheet[1] if "site's clock" in cell.value)
    formats = {sheet.cell(row, column).number_format for row in range(2, sheet.max_row + 1) if sheet.cell(row, column).value is not None}
    assert formats == {'yyyy\\-mm\\-dd\\ hh:mm:ss" -04:00"'}
    assert all(sheet.cell(row, column).is_date for row in range(2, sheet.max_row + 1) if sheet.cell(row, column).value is not None)
