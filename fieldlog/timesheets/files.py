"""The letter and the funder's sheet as pages that print, and the sheet as CSV and XLSX."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from zipfile import ZIP_DEFLATED, ZipFile

from jinja2 import Environment, PackageLoader, StrictUndefined

from fieldlog.exports.columns import CHOICE, DATE, NUMBER, TEXT, YES_NO, Column, Table
from fieldlog.exports.csv_package import cells_of, write_csv
from fieldlog.exports.parts import FAST
from fieldlog.exports.workbook import MOST_ROWS, Book
from fieldlog.hours.ledger import SIGN_IN, Line
from fieldlog.hours.sums import hours, miles
from fieldlog.package_data import packaged
from fieldlog.records.award_hours import HOURS_OF
from fieldlog.records.person import PERSON_ROLES
from fieldlog.records.sign_in import TASKS
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.timesheets.funder import (
    ASKED_BY_2_CFR_200_306,
    CITED,
    JUDGEMENT,
    KEEP,
    FunderSheet,
    Valued,
    counted_hours,
    role_words,
    task_words,
    unsigned_total,
)
from fieldlog.timesheets.letter import Letter
from fieldlog.timesheets.reading import HoursBook
from fieldlog.timesheets.sentences import clock_of

STYLE = "online/hours.css"
NO_AWARD = "None: hours that are counted to no award"

_TEMPLATES = Environment(
    loader=PackageLoader("fieldlog.timesheets", "."), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
)

RECORDS = Table("hours", "Hours", (
    Column("day", "Day", DATE), Column("person", "Person", TEXT), Column("role", "Role", CHOICE, choices=PERSON_ROLES),
    Column("task", "Task", CHOICE, choices=TASKS), Column("kind", "Kind of record", CHOICE, choices=HOURS_OF),
    Column("in_local", "In, on the site's clock", TEXT), Column("out_local", "Out, on the site's clock", TEXT),
    Column("hours_h", "Hours", NUMBER, unit="h"), Column("miles_mi", "Miles", NUMBER, unit="mi"),
    Column("signed", "Signed for by a lead", YES_NO), Column("record_id", "Record", TEXT),
))  # fmt: skip
"""A row a record and day; the same in CSV and in the workbook."""

VALUES = (
    Column("year", "Year", NUMBER), Column("role", "Role", TEXT), Column("task", "Task", TEXT), Column("quantity", "Quantity", NUMBER), Column("unit", "Unit", TEXT),
    Column("amount", "Rate", NUMBER), Column("currency", "Currency", TEXT), Column("value", "Value", NUMBER), Column("basis", "Where the rate comes from", TEXT),
)  # fmt: skip
SAID = (Column("what", "What", TEXT), Column("said", "Says", TEXT))


def funder_page(book: HoursBook, sheet: FunderSheet, *, alone: bool = False) -> str:
    """The funder's sheet as one page; `alone`: with its style within, for a file."""
    is_federal = sheet.award is None or sheet.award["federal"] is None or bool(sheet.award["federal"])
    return _TEMPLATES.get_template("funder.html").render(
        sheet=sheet, award_name=_award_name(sheet), rows=[_words_of(book, line) for line in sheet.lines], judgement=JUDGEMENT,
        counted_hours=counted_hours(sheet), unsigned_total=unsigned_total(sheet), people_words=counted(sheet.people, "person", "people"),
        rules=ASKED_BY_2_CFR_200_306 if is_federal else (), cited=CITED, keep=KEEP, **_styled(alone),
    )  # fmt: skip


def letter_page(letter: Letter, *, alone: bool = False) -> str:
    """A letter as one page."""
    return _TEMPLATES.get_template("letter.html").render(letter=letter, **_styled(alone))


def _styled(alone: bool) -> dict[str, str | None]:
    return {"style": (packaged("static") / STYLE).read_text("utf-8") if alone else None, "stylesheet": f"/{STYLE}"}


def _award_name(sheet: FunderSheet) -> str:
    return NO_AWARD if sheet.award is None else named(sheet.award["name"])


def _words_of(book: HoursBook, line: Line) -> tuple[str, ...]:
    begun, ended = _clocks(book, line)
    worked = rounded(hours(line.minutes), 2) if line.minutes else ""
    driven = rounded(miles(line.miles), 1) if line.miles else ""
    role, task = role_words(line.role), task_words(line.task)
    return line.day.isoformat(), book.person(line.person), role, task, begun or HOURS_OF[line.kind], ended or "", worked, driven, "yes" if line.signed else "no"


def _clocks(book: HoursBook, line: Line) -> tuple[str | None, str | None]:
    if line.kind != SIGN_IN:
        return None, None
    record = book.records[line.record_id]
    return clock_of(book, record, "in_at"), clock_of(book, record, "out_at")


def _records(book: HoursBook, sheet: FunderSheet) -> Iterator[tuple[object, ...]]:
    for line in sheet.lines:
        begun, ended = _clocks(book, line)
        yield (
            line.day.isoformat(), book.person(line.person), line.role, line.task, line.kind, begun, ended,
            hours(line.minutes) if line.minutes else None, miles(line.miles) if line.miles else None, int(line.signed), line.record_id,
        )  # fmt: skip


def funder_csv(book: HoursBook, sheet: FunderSheet) -> bytes:
    """The rows of the sheet as CSV (RFC 4180), texts guarded as in every export."""
    to = io.BytesIO()
    write_csv([column.name for column in RECORDS.columns], cells_of(RECORDS, _records(book, sheet)), to, _silent)
    return to.getvalue()


def funder_workbook(book: HoursBook, sheet: FunderSheet, made_at: str) -> bytes:
    """The whole sheet as XLSX: values, each record, what is in no sum, and what the rules ask."""
    to = io.BytesIO()
    with ZipFile(to, "w", ZIP_DEFLATED, compresslevel=FAST) as package:
        written = Book(package, made_at)
        for title, columns, rows in _sheets(book, sheet):
            written.sheet(title, [column.header for column in columns], list(columns), iter(rows), _silent, MOST_ROWS)
        written.end()
    return to.getvalue()


def _sheets(book: HoursBook, sheet: FunderSheet) -> Iterator[tuple[str, tuple[Column, ...], Iterable[tuple[object, ...]]]]:
    about = [
        ("Program", sheet.programme), ("Site", sheet.sites), ("Award", _award_name(sheet)), ("Days", sheet.span), ("Made", sheet.made),
        ("Signed for", counted_hours(sheet)), *((f"Value, {currency}", f"{total:,}") for currency, total in sheet.totals),
        ("Not signed for, without value", unsigned_total(sheet)), *((f"Kept apart: {role}", said) for role, said in sheet.apart), ("Judgement", JUDGEMENT),
    ]  # fmt: skip
    yield "Summary", SAID, about
    yield "Values", VALUES, map(_value_row, sheet.valued)
    yield "Each record", RECORDS.columns, _records(book, sheet)
    yield "In no sum", SAID, [*(("Not signed for", f"{person}: {said}") for person, said in sheet.unsigned), *(("Left out", said) for said in sheet.left_out)]
    yield "What the rules ask", SAID, [("Source", CITED), *ASKED_BY_2_CFR_200_306, ("Keep", KEEP)]


def _value_row(row: Valued) -> tuple[object, ...]:
    return (
        row.year, row.role, row.task, float(row.quantity), row.unit, float(row.amount) if row.amount else None, row.currency or None,
        None if row.value is None else float(row.value), row.basis,
    )  # fmt: skip


def _silent(_rows: int) -> None:
    """A sheet is small: nobody waits for its rows to be counted."""
