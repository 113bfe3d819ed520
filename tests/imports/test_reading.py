"""Files as they come from people's own programs: which rows are read from them, and which are refused, with what is said."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from fieldlog import child
from fieldlog.errors import BadTable, WorkFailed
from fieldlog.imports import limits, reading, workbook
from fieldlog.imports.cells import cell_of, text_of

AT, JUST_BEFORE = datetime.fromisoformat("2025-07-05T08:10:00"), datetime.fromisoformat("2025-07-05T08:09:59.999600")


def read(folder: Path, data: bytes) -> list[dict[str, Any]]:
    file = folder / "file"
    file.write_bytes(data)
    return reading.work({"file": str(file), "into": str(folder)}, lambda _step: None)


def rows(folder: Path, data: bytes, sheet: int = 0) -> list[Any]:
    found = read(folder, data)[sheet]
    return [json.loads(line) for line in (folder / found["lines"]).read_text("utf-8").splitlines()]


def book(*sheet_rows: list[Any], title: str = "Checks", epoch: Any = None) -> Workbook:
    made = Workbook()
    if epoch is not None:
        made.epoch = epoch
    made.active.title = title
    for row in sheet_rows:
        made.active.append(row)
    return made


def packed(made: Workbook) -> bytes:
    into = io.BytesIO()
    made.save(into)
    return into.getvalue()


CHECKS = [["Block no", "Date", "exposed in."], ["B7", "7/5/2025", "16.5"]]


def test_commas_semicolons_and_tabs_are_told_apart(tmp_path: Path) -> None:
    for sign in ",;\t|":
        text = "\n".join(sign.join(row) for row in CHECKS)
        assert rows(tmp_path, text.encode()) == CHECKS, sign
    assert read(tmp_path, b"a;b\n1;2\n")[0]["notes"] == ["Its cells stand between semicolons."]


def test_a_decimal_comma_in_a_file_with_semicolons_stays_in_its_cell(tmp_path: Path) -> None:
    assert rows(tmp_path, b"tag;height\nB070;41,9\nB071;40,0\n")[1] == ["B070", "41,9"]


@pytest.mark.parametrize("charset", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_unicode_is_read_with_and_without_its_mark(tmp_path: Path, charset: str) -> None:
    assert rows(tmp_path, "tag,note\nB070,Étang à Noé\n".encode(charset)) == [["tag", "note"], ["B070", "Étang à Noé"]]


def test_text_of_an_older_machine_is_read_by_the_likeliest_charset_and_says_so(tmp_path: Path) -> None:
    data = ("tag,note\n" + "B070,Étang à l’été, très déplacé où l’algue pousse\n" * 20).replace(", très", " très").encode("cp1252")
    (sheet,) = read(tmp_path, data)
    assert rows(tmp_path, data)[1][1].startswith("Étang à l’été")
    assert sheet["notes"][0].startswith("Read as cp125")


def test_the_apostrophe_that_keeps_a_text_from_being_run_is_taken_off(tmp_path: Path) -> None:
    texts = ["'=1+1", "'+3", "'-3", "'@x", "''quoted", "'tis", "'", "=1"]
    assert [row[0] for row in rows(tmp_path, "\n".join(texts).encode())] == ["=1+1", "+3", "-3", "@x", "'quoted", "'tis", "'", "=1"]


def test_quotes_hold_separators_and_line_ends(tmp_path: Path) -> None:
    assert rows(tmp_path, b'tag,note\r\nB070,"algae, and\nmud"\r\n')[1] == ["B070", "algae, and\nmud"]


def test_a_quote_that_never_ends_is_no_table(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="line 3"):
        rows(tmp_path, b'tag,note\nB070,"algae\nB071,x\n')


def test_bytes_that_are_no_text_are_refused_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="cannot be read as a table"):
        rows(tmp_path, bytes(range(256)) * 40)


def test_a_pdf_is_no_table_also_where_it_is_text_all_through(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="it is a PDF, which holds pictures of tables and no cells"):
        read(tmp_path, b"%PDF-1.4\n1 0 obj\n")


def test_an_empty_file_says_so(tmp_path: Path) -> None:
    for data in (b"", b"\n\n , \n"):
        with pytest.raises(BadTable, match="it is empty"):
            rows(tmp_path, data)


def test_empty_rows_count_where_rows_follow_so_that_numbers_are_those_that_people_see(tmp_path: Path) -> None:
    assert rows(tmp_path, b"tag\n\n\nB070\n\n") == [["tag"], [], [], ["B070"]]


@pytest.mark.parametrize("epoch", [None, CALENDAR_MAC_1904], ids=["1900", "1904"])
def test_days_and_times_come_out_alike_in_both_calendars(tmp_path: Path, epoch: Any) -> None:
    data = packed(book(["when"], [AT], [date(2025, 7, 5)], [time(8, 10)], [date(1999, 12, 31)], epoch=epoch))
    assert rows(tmp_path, data)[1:] == [[{"at": "2025-07-05T08:10:00"}], [{"on": "2025-07-05"}], [{"clock": "08:10:00"}], [{"on": "1999-12-31"}]]


def test_numbers_stay_numbers_and_text_stays_text(tmp_path: Path) -> None:
    assert rows(tmp_path, packed(book(["a", "b", "c", "d", "e"], [0, 16.5, "007", True, None])))[1] == [0, 16.5, "007", True]


def test_a_table_that_begins_further_in_keeps_the_sheets_own_row_numbers(tmp_path: Path) -> None:
    made = book()
    made.active["B3"], made.active["C3"], made.active["B4"], made.active["C4"] = "tag", "lean", "B070", 2
    assert rows(tmp_path, packed(made)) == [[], [], [None, "tag", "lean"], [None, "B070", 2]]


def test_merged_cells_say_the_same_in_each_place_and_it_is_told(tmp_path: Path) -> None:
    made = book(["Row", "tag"], ["B", "B070"], [None, "B071"], [None, "B072"])
    made.active.merge_cells("A2:A4")
    (sheet,) = read(tmp_path, packed(made))
    assert [row[0] for row in rows(tmp_path, packed(made))] == ["Row", "B", "B", "B"]
    assert sheet["notes"] == ["Merged cells were read as if each held the value: A2:A4."]


def with_formulas() -> bytes:
    """A sheet as a spreadsheet program saves it: a formula with what it came to, one without, and an error."""
    data = packed(book(["tag", "lean"], ["B070", "=1+1"], ["B071", "=1+2"], ["B072", "x"]))
    into = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(into, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name.endswith("sheet1.xml"):
                text = text.replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>").replace(b"<f>1+1</f><v></v>", b"<f>1+1</f><v>2</v>")
                text = text[: text.index(b'<c r="B4"')] + b'<c r="B4" t="e"><v>#REF!</v></c></row></sheetData></worksheet>'
            new.writestr(name, text)
    return into.getvalue()


def test_what_a_formula_came_to_counts_and_one_without_a_value_says_so(tmp_path: Path) -> None:
    found = rows(tmp_path, with_formulas())
    assert found[1] == ["B070", 2]
    assert found[2] == ["B071", {"fault": workbook.NO_VALUE}]
    assert found[3][1]["fault"].startswith("This cell holds the error #REF!")
    assert read(tmp_path, with_formulas())[0]["notes"] == ["2 cells hold a formula; what it last came to was read."]


def test_each_sheet_is_named(tmp_path: Path) -> None:
    made = book(["tag"], ["B070"])
    made.create_sheet("Empty")
    made.create_sheet("Rows & more").append(["Row name"])
    assert [sheet["name"] for sheet in read(tmp_path, packed(made))] == ["Checks", "Rows & more"]


def test_a_package_of_texts_is_read_table_by_table(tmp_path: Path) -> None:
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w") as made:
        made.writestr("unit.csv", "tag\nB070\n")
        made.writestr("row.csv", "name\nB\n")
        made.writestr("datapackage.json", "{}")
    assert [(sheet["name"], sheet["rows"]) for sheet in read(tmp_path, into.getvalue())] == [("row", 2), ("unit", 2)]


def test_points_become_rows_with_their_place(tmp_path: Path) -> None:
    def feature(geometry: Any, **own: Any) -> dict[str, Any]:
        return {"type": "Feature", "geometry": geometry, "properties": own}

    features = [feature({"type": "Point", "coordinates": [-70.6, 41.5, 1.2]}, tag="B070", sigma=0.02), feature({"type": "LineString", "coordinates": []}, tag="B071")]
    found = rows(tmp_path, json.dumps({"type": "FeatureCollection", "features": features}).encode())
    assert found[:2] == [["tag", "sigma", "lon_deg", "lat_deg", "height_m"], ["B070", 0.02, -70.6, 41.5, 1.2]]
    assert found[2][3]["fault"] == "This feature is LineString, not a point. Draw it as a point, or remove it."


def test_more_rows_than_the_limit_are_refused_with_both_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert limits.MOST_ROWS == 300_000
    for module in (limits, reading, workbook):
        monkeypatch.setattr(module, "MOST_ROWS", 3000)
    for data in (b"tag\n" + b"B\n" * 3005, packed(book(*[["B"]] * 3006))):
        with pytest.raises(BadTable, match=r"The number of rows is 3,005; the limit is 3,000\."):
            rows(tmp_path, data)
    for data in (b"tag\n" + b"B\n" * 3000, packed(book(*[["B"]] * 3001))):
        assert len(rows(tmp_path, data)) == 3001, "the line of the headers is no row"


def test_more_columns_than_the_limit_are_refused_with_both_numbers(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match=r"The sheet has 1,001 columns; the limit is 1,000"):
        rows(tmp_path, b"," * 1000 + b"\n")


def bomb(claimed: int | None = None) -> bytes:
    """A workbook that unpacks to 80 MB of zeros out of 80 KB; `claimed`: how many bytes it says it has."""
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as made, made.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
        zeros = b"\0" * 2**24
        for _ in range(5 if claimed is None else 1):
            part.write(zeros)
    data = into.getvalue()
    return data if claimed is None else data.replace(struct.pack("<Q", 2**24), struct.pack("<Q", claimed)).replace(struct.pack("<L", 2**24), struct.pack("<L", claimed))


def test_a_zip_bomb_named_xlsx_is_refused_before_anything_of_it_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "MOST_UNPACKED_BYTES", 64 * limits.MEGABYTE)
    with pytest.raises(BadTable, match=r"unpacks to more than 65 MB; the limit is 1,000 MB"):
        rows(tmp_path, bomb())


def test_a_zip_bomb_that_claims_to_be_small_is_damaged(tmp_path: Path) -> None:
    with pytest.raises(BadTable, match="damaged or locked"):
        rows(tmp_path, bomb(claimed=1000))


def test_a_picture_or_a_locked_file_named_xlsx_is_a_sentence(tmp_path: Path) -> None:
    for data in (b"PK\x03\x04" + b"\0" * 200, reading.OLD_WORKBOOK + b"\0" * 2000):
        with pytest.raises(BadTable, match="cannot be read as a table"):
            rows(tmp_path, data)


def test_the_child_reads_and_says_what_is_wrong(tmp_path: Path) -> None:
    """In a process of its own, whose memory is limited before it opens the file."""
    file = tmp_path / "file"
    file.write_bytes(b"tag,lean\nB070,2\n")
    job = {"file": str(file), "into": str(tmp_path)}
    assert child.run("fieldlog.imports.reading", job)[0] == {"name": "", "rows": 2, "columns": 2, "notes": [], "lines": "sheet-0.ndjson"}
    file.write_bytes(b"")
    with pytest.raises(WorkFailed, match="it is empty"):
        child.run("fieldlog.imports.reading", job)


@pytest.mark.parametrize(
    ("value", "cell", "text"),
    [
        ("  a ", "  a ", "  a "), ("", None, ""), (" ", None, ""), (3.0, 3, "3"), (0.1, 0.1, "0.1"), (True, True, "TRUE"), (None, None, ""),
        (JUST_BEFORE, {"at": "2025-07-05T08:10:00"}, "2025-07-05 08:10:00"),
        (date(2025, 7, 5), {"on": "2025-07-05"}, "2025-07-05"), (time(8, 10), {"clock": "08:10:00"}, "08:10:00"),
    ],
)  # fmt: skip
def test_cells_are_what_a_person_would_read(value: Any, cell: Any, text: str) -> None:
    assert cell_of(value) == cell
    assert text_of(cell_of(value)) == text
