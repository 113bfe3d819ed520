"""A letter about one person's hours, to be printed and signed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fieldlog.days import day_words, month_words
from fieldlog.hours.ledger import Line
from fieldlog.hours.sums import Sum, hours, miles, sums_by, total_of
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted, named
from fieldlog.store import setting
from fieldlog.timesheets.funder import role_words
from fieldlog.timesheets.reading import HoursBook


@dataclass(frozen=True)
class Letter:
    """What is printed: `rows` are (month, role, hours, miles)."""

    programme: str
    made: str
    name: str
    span: str
    said: str
    rows: list[tuple[str, str, str, str]]
    notes: list[str]


def letter_of(book: HoursBook, person_id: str, first: date, last: date, now: datetime) -> Letter:
    """The letter of a person, by any of their records, for days on the sites' clocks, both included."""
    person = book.ledger.people[person_id]
    lines = [line for line in book.ledger.lines if line.person == person and first <= line.day <= last]
    total = total_of(lines)
    span = f"{day_words(first, year=True)} to {day_words(last, year=True)}"
    sites = sorted({book.sites.get(line.site_id or "", "") for line in lines} - {""})
    where = f" at {' and '.join(sites)}" if sites else ""
    days = len({line.day for line in lines if line.minutes})
    said = f"{book.person(person)} has {_h(total)}{where} on record, from {span}, on {counted(days, 'day')}." if total.minutes else f"No hours of {book.person(person)} are on record, {span}."
    return Letter(
        named(setting(book.db, "programme_name")), day_words(now.date(), year=True), book.person(person), span, said, _rows(lines), _notes(book, person, total, first, last)
    )  # fmt: skip


def _h(total: Sum) -> str:
    return f"{rounded(hours(total.minutes), 2)} h"


def _rows(lines: list[Line]) -> list[tuple[str, str, str, str]]:
    sums = sums_by(lines, lambda line: (line.day.year, line.day.month, role_words(line.role)))
    return [
        (month_words(date(year, month, 1)), role, rounded(hours(total.minutes), 2), rounded(miles(total.miles), 1) if total.miles else "")
        for (year, month, role), total in sorted(sums.items())
    ]


def _notes(book: HoursBook, person: str, total: Sum, first: date, last: date) -> list[str]:
    """What the sum has and has not, so that nobody takes it for more."""
    notes = []
    if total.unsigned_min:
        notes.append(f"{rounded(hours(total.unsigned_min), 2)} h of these are not signed for by a lead yet.")
    lacking = sum(remark.person == person and first <= remark.day <= last for remark in book.ledger.uncounted)
    if lacking:
        notes.append(f"{counted(lacking, 'sign-in')} without both times {'is' if lacking == 1 else 'are'} in none of these hours.")
    if total.miles:
        notes.append(f"Miles driven, as typed: {rounded(miles(total.miles), 1)}.")
    notes.append("Hours on the shore are from sign-ins, by the minute; preparation hours as they were typed.")
    return notes
