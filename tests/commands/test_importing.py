"""A spreadsheet by command: what is open is printed, a file of choices settles it, a dry run stores nothing."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fieldlog.__main__ import main
from fieldlog.imports import kept
from fieldlog.store import Programme

Run = Callable[..., tuple[int, str]]
SHEET = "tag,Date,Time,found,exposed in.\nB019,7/5/2025,8:10,seen,16.5\nB024,7/5/2025,25:10,seen,9\n"


@pytest.fixture
def folder(demo_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder, tmp_path / "programme"))


@pytest.fixture
def run(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    def of(data: str | bytes, *options: str, mapping: Any = None) -> tuple[int, str]:
        file = tmp_path / "summer.csv"
        file.write_bytes(data if isinstance(data, bytes) else data.encode())
        if mapping is not None:
            (tmp_path / "map.json").write_text(json.dumps(mapping), "utf-8")
            options = (*options, "--map", str(tmp_path / "map.json"))
        with pytest.raises(SystemExit) as ended:
            main(["--data", str(folder), "import", str(file), *options])
        said = capsys.readouterr()
        return int(ended.value.code or 0), said.out + said.err

    return of


def entries(folder: Path) -> int:
    programme = Programme(folder)
    (count,) = programme.db().conn.execute("SELECT count(*) FROM log").fetchone()
    programme.close()
    return int(count)


def test_what_is_open_is_printed_with_the_line_that_settles_it(run: Run, folder: Path) -> None:
    before = entries(folder)
    status, said = run(SHEET)
    assert status == 1
    assert "Date: 7/5/2025 is Jul 5 / May 7 (Both fit 2 rows. No row settles it.)" in said
    assert 'in --map, for Jul 5: {"columns": {"Date": {"order": "mdy"}}}' in said
    assert said.endswith("Nothing was imported.\n")
    assert entries(folder) == before


def test_a_dry_run_says_what_would_come_and_stores_nothing(run: Run, folder: Path) -> None:
    before = entries(folder)
    status, said = run(SHEET, "--dry-run", mapping={"columns": {"Date": {"order": "mdy"}}})
    assert status == 1
    assert said.splitlines() == [
        "Read as unit_check. B019, checked at Jul 5, 2025, 08:10", "1 row good, 1 to fix, 0 already here, 0 left out.",
        "Row 3, Time “25:10”: “25:10” is not a time. Write it as 08:10.",
    ]  # fmt: skip
    assert entries(folder) == before
    assert not list((folder / kept.FOLDER).glob("*"))


def test_good_rows_are_imported_once(run: Run, folder: Path) -> None:
    before = entries(folder)
    good = SHEET.replace("25:10", "9:10")
    assert run(good, mapping={"columns": {"Date": {"order": "mdy"}}}) == (
        0, "Read as unit_check. B019, checked at Jul 5, 2025, 08:10\n2 rows good, 0 to fix, 0 already here, 0 left out.\nImported: 2 records.\n",
    )  # fmt: skip
    assert entries(folder) == before + 3
    status, said = run(good, "--json", mapping={"columns": {"Date": {"order": "mdy"}}})
    assert (status, json.loads(said)["result"]["already_here"], json.loads(said)["imported"]) == (0, 2, 0)
    assert entries(folder) == before + 3
    assert not list((folder / kept.FOLDER).glob("*"))


def test_a_kind_and_a_site_can_be_named(run: Run) -> None:
    status, said = run("Scientific name\nUlva lactuca\n", "--kind", "species", "--whole-program")
    assert (status, said.splitlines()[-1]) == (0, "Imported: 1 record.")
    status, said = run(SHEET, "--site", "Nowhere")
    assert (status, said.startswith("No site is called 'Nowhere'.")) == (2, True)


def test_of_several_sheets_the_one_called_as_the_kind_is_read_and_the_others_are_named(run: Run) -> None:
    book, made = openpyxl.Workbook(), io.BytesIO()
    book.active.title = "Checks"
    for row in (["tag", "Checked at", "found"], ["B019", "2025-07-05 10:10", "seen"], ["B024", "2025-07-05 10:20", "seen"]):
        book.active.append(row)
    marks = book.create_sheet("Species")
    for row in (["Scientific name", "Common name", "shelf"], ["Ulva rigida", "=1+1"], ["Ulva torta", None, "B"]):
        marks.append(row)
    marks.merge_cells("A3:A4")
    book.save(made)
    status, said = run(made.getvalue(), "--kind", "species", "--whole-program", "--dry-run")
    assert status == 1
    assert 'This is sheet Species. The file also has Checks; in --map, for another one: {"sheet": "Checks"}' in said
    assert "Columns left out: shelf." in said
    assert "Merged cells were read as if each held the value: A3:A4." in said
    assert "Row 2, Common name: This cell is a formula that has no value in the file." in said


def test_a_file_that_is_no_table_is_a_sentence(run: Run, folder: Path) -> None:
    status, said = run("")
    assert (status, said) == (2, "The file cannot be read as a table: it is empty. Save it as CSV or XLSX, then choose it again.\n")
    assert run(SHEET, mapping=[])[0] == 2
