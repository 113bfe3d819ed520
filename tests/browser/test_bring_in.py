"""A lead brings a paper sheet in: its questions, a try that stores nothing, the import, and its removal as a whole."""

from __future__ import annotations

import io

import openpyxl
import pytest
from playwright.sync_api import expect

from tests.browser.app_page import LAPTOP_PX, PHONE_PX, AppPage
from tests.browser.test_real_screens import faults_of
from tests.screen_checks import words_in

pytestmark = pytest.mark.browser

SHEET = b"""Block no,Date,Time,exposed in.,OK?,who
B1,7/5/2025,8:10,16.5,seen,AV
B-2,8/6/2025,25:10,16,chip,AV
"""


CUT = """() => [...document.querySelectorAll('.map td:nth-child(2) select')].filter((one) => {
  const pen = document.createElement('canvas').getContext('2d');
  const { font, fontSize, paddingLeft, paddingRight } = getComputedStyle(one);
  pen.font = font;
  const arrow = parseFloat(fontSize);
  return pen.measureText(one.selectedOptions[0].text).width + parseFloat(paddingLeft) + parseFloat(paddingRight) + arrow > one.clientWidth;
}).map((one) => one.selectedOptions[0].text)"""


BELOW = """() => [...document.querySelectorAll('.map .askbox')].map((box) => {
  const { left, right } = box.getBoundingClientRect();
  if (left < 0 || right > innerWidth) throw new Error('a question is cut off');
  const { childNodes } = box.closest('tr').previousElementSibling.querySelector('th');
  return [...childNodes].find((node) => node.nodeType === Node.TEXT_NODE).data;
})"""
"""The columns below whose rows a question is asked."""


def choose_file(app: AppPage, data: bytes = SHEET) -> None:
    app.page.set_input_files("#sheet-file", {"name": "summer.csv", "mimeType": "text/csv", "buffer": data})


def test_a_lead_brings_a_paper_sheet_in_and_takes_it_back(joined, shore) -> None:
    db = shore.programme.db()
    app = joined("lead", "Ruth Okafor-Lind")
    page = app.page
    app.go("#/bring-in", "Import a spreadsheet")
    choose_file(app)
    expect(page.get_by_text("3 questions before you can try it.")).to_be_visible()
    expect(page.get_by_role("button", name="Try it, store nothing")).to_be_disabled()
    assert page.evaluate(BELOW) == ["Block no", "Date", "OK?"], "on a phone each question stands below its column"
    for size in (LAPTOP_PX, PHONE_PX):
        page.set_viewport_size(size)
        assert faults_of(page) == []
        assert page.evaluate(CUT) == [], "what a column goes to is read whole"
    page.locator(".askbox label").filter(has_text="B024").click()
    expect(page.get_by_text("2 questions before")).to_be_visible()
    page.get_by_label("Jul 5").focus()
    page.keyboard.press("Space")
    expect(page.get_by_text("1 question before")).to_be_visible()
    page.locator(".askbox label").filter(has_text="Not found, dry").click()
    expect(page.locator(".askbox")).to_have_count(0)
    assert "B019, checked at Jul 5, 2025, 08:10" in words_in(page.locator(".said-back"))
    app.tap("Try it, store nothing")
    expect(page.get_by_text("1 row can be imported")).to_be_visible()
    assert "“25:10” is not a time. Write it as 08:10." in words_in(page.locator("main"))
    assert faults_of(page) == []
    (before,) = db.execute("SELECT count(*) FROM unit_check WHERE deleted = 0").fetchone()
    app.tap("Import 1 row")
    expect(page.get_by_text("Imported. Nothing of the file is left on the server.")).to_be_visible()
    assert db.execute("SELECT count(*) FROM unit_check WHERE deleted = 0").fetchone() == (before + 1,)
    expect(page.get_by_text("Imports so far")).to_be_visible()
    assert faults_of(page) == []
    app.tap("Remove summer.csv")
    expect(page.get_by_role("button", name="Restore summer.csv")).to_be_visible()
    app.all_taken()
    assert db.execute("SELECT count(*) FROM unit_check WHERE deleted = 0").fetchone() == (before,)
    app.go("#/bring-in", "Import a spreadsheet")
    app.tap("Restore summer.csv")
    expect(page.get_by_role("button", name="Remove summer.csv")).to_be_visible()
    app.all_taken()
    assert db.execute("SELECT count(*) FROM unit_check WHERE deleted = 0").fetchone() == (before + 1,)
    assert app.faults == []


def test_choices_that_were_kept_are_used_with_one_tap_and_a_file_that_cannot_be_read_is_a_sentence(joined) -> None:
    app = joined("lead", "Ruth Okafor-Lind")
    page = app.page
    app.go("#/bring-in", "Import a spreadsheet")
    choose_file(app, b"")
    expect(page.get_by_text("The file cannot be read as a table: it is empty.")).to_be_visible()
    choose_file(app)
    page.get_by_label("Jul 5").check(force=True)
    expect(page.get_by_text("2 questions before")).to_be_visible()
    app.tap("Keep these choices")
    page.get_by_label("A name for these choices").fill("Paper sheets")
    app.tap("Keep them")
    expect(page.get_by_text("The next file like this takes one tap.")).to_be_visible()
    app.tap("Drop the file")
    choose_file(app)
    app.tap("Use “Paper sheets”")
    expect(page.get_by_text("2 questions before")).to_be_visible()
    app.tap("Drop the file")
    app.tap("Remove Paper sheets")
    expect(page.get_by_text("Kept choices of columns")).to_have_count(0)
    app.tap("Undo")
    expect(page.get_by_role("button", name="Remove Paper sheets")).to_be_visible()
    assert app.faults == []


def two_sheets() -> bytes:
    book, made = openpyxl.Workbook(), io.BytesIO()
    for name, rows in (("Plots", [["Plot", "East (m)", "North (m)"], ["P9", 1, 2]]), ("Marks", [["Mark", "East (m)", "North (m)"], ["M8", 1, 2], ["M9", 3, 4]])):
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    del book["Sheet"]
    book.save(made)
    return made.getvalue()


def test_the_sheets_of_one_file_are_imported_one_after_the_other(joined) -> None:
    app = joined("lead", "Ruth Okafor-Lind")
    page = app.page
    app.go("#/bring-in", "Import a spreadsheet")
    page.set_input_files("#sheet-file", {"name": "site.xlsx", "mimeType": "application/octet-stream", "buffer": two_sheets()})
    for kind, rows, then in (("control_mark", 2, "Sheet Marks is imported. 1 sheet left in this file."), ("plot", 1, "Nothing of the file is left on the server.")):
        page.locator("#kind").select_option(kind)
        app.tap("Try it, store nothing")
        app.tap(f"Import {rows} row{'s' if rows > 1 else ''}")
        expect(page.get_by_text(then)).to_be_visible()
    assert "site.xlsx, Marks" in words_in(page.locator("main")) and "site.xlsx, Plots" in words_in(page.locator("main"))
    assert app.faults == []
