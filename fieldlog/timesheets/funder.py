"""
The sheet of hours for a funder: what was given, at which rate, with which basis; what is left out, and why. It judges nothing: whether
hours count as match is for the grants office.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from fieldlog.days import day_words
from fieldlog.errors import NotHere
from fieldlog.hours.ledger import Line
from fieldlog.hours.sums import hours, miles, sums_by, total_of
from fieldlog.hours.worth import HOUR, MILE, value_of
from fieldlog.records.person import PERSON_ROLES
from fieldlog.records.rate import VALUED_ROLES
from fieldlog.records.sign_in import TASKS
from fieldlog.rounding import rounded
from fieldlog.shown_names import named
from fieldlog.store import setting
from fieldlog.timesheets.reading import HoursBook
from fieldlog.timesheets.sentences import remark_words, signing_words

ASKED_BY_2_CFR_200_306 = (
    ("Documented", "Each hour is in your own records and can be checked there: who, when, how long, at what. The program's log keeps the entries behind each row."),
    ("To one award only", "What counts here counts to no other federal award. This program counts no hour to two of its awards; it knows nothing of awards elsewhere."),
    ("Necessary and reasonable", "The work was needed for what the award is for. Your project's plan shows that; this sheet does not."),
    ("Allowable", "The award and its cost principles allow this kind of cost. Where the agency asks for that, it is in the approved budget."),
    ("Not federally paid", "Nobody was paid for these hours from another federal award, unless a law allows it. Staff are listed apart and have no value here."),
    (
        "Rates", "An hour is worth what you pay for similar work. Where you pay for none, it is worth what the local labor market pays. "
        "Reasonable fringe benefits may be added. The basis of each rate is printed beside it.",
    ),
    (
        "Services of third parties", "Volunteers' services count only where they are an integral and necessary part of the project. "
        "People whom another employer lends without charge have that employer's own rate for them, not a volunteer's.",
    ),
    ("Fair value", "How a value was found is written down, and as far as possible in the way that you use for your own people."),
)  # fmt: skip
"""
2 CFR 200.306 (as in force from Oct 1, 2024), paragraphs b, e, f and j in our own words, from notes on the text; it was not at hand when this was
written, so read the section itself. That records are kept for three years after the final report (200.334) is from memory.
"""

JUDGEMENT = "Whether these hours may be counted as match is for your grants office to judge. This sheet states what was recorded; it is no opinion on the rules."
KEEP = "Keep this sheet and the records behind it for as long as your award asks. Usually that is three years after its final report (2 CFR 200.334, from memory)."
CITED = "2 CFR 200.306, in our own words and without its text at hand; read the section itself."


@dataclass(frozen=True)
class Valued:
    """
    Hours or miles at one rate: what they are of, how many, and what they are worth; `value` is None where no rate is known or several
    contradict each other, and `basis` then says so.
    """

    year: int
    role: str
    task: str
    quantity: str
    unit: str
    amount: str
    currency: str
    basis: str
    value: Decimal | None


@dataclass(frozen=True)
class FunderSheet:
    """What is printed, and written to files."""

    programme: str
    sites: str
    award: Mapping[str, Any] | None
    span: str
    made: str
    valued: list[Valued]
    totals: list[tuple[str, Decimal]]
    apart: list[tuple[str, str]]
    unsigned: list[tuple[str, str]]
    lines: list[Line]
    left_out: list[str]
    people: int


def sheet_for_funder(book: HoursBook, award_id: str | None, first: date, last: date, now: datetime) -> FunderSheet:
    """
    The sheet of an award, or of what no award has, for days on the sites' clocks, both included.

    Raises:
        NotHere: there is no such award.
    """
    award = None if award_id is None else book.awards.get(award_id)
    if award_id is not None and award is None:
        raise NotHere("There is no such award here. Sync once, then open it again.")
    wanted = (award_id,) if award_id is not None else ()
    lines = [line for line in book.ledger.lines if line.awards == wanted and first <= line.day <= last]
    counted = [line for line in lines if line.signed and line.role in VALUED_ROLES]
    valued = [*_valued_hours(book, counted), *_valued_miles(book, counted)]
    totals: dict[str, Decimal] = {}
    for row in valued:
        if row.value is not None:
            totals[row.currency] = totals.get(row.currency, Decimal(0)) + row.value
    undecided = [line for line in book.ledger.lines if len(line.awards) > 1 and (award_id is None or award_id in line.awards) and first <= line.day <= last]
    sites = sorted({book.sites.get(line.site_id or "", "") for line in lines} - {""})
    return FunderSheet(
        named(setting(book.db, "programme_name")), ", ".join(sites), award, f"{day_words(first, year=True)} to {day_words(last, year=True)}",
        day_words(now.date(), year=True), valued, sorted(totals.items()), _apart(lines), _unsigned(book, lines), lines,
        _left_out(book, first, last, undecided), len({line.person for line in counted}),
    )  # fmt: skip


def role_words(role: str | None) -> str:
    """What a role is called; that none is noted."""
    return PERSON_ROLES.get(role or "", "No role noted")


def task_words(task: str | None) -> str:
    """What a task is called; a dash where none is noted."""
    return TASKS.get(task or "", "-")


def _valued_hours(book: HoursBook, lines: Iterable[Line]) -> list[Valued]:
    worked = (line for line in lines if line.minutes)
    sums = sums_by(worked, lambda line: (line.day.year, line.role or "", line.task or "", line.site_id))
    return [
        _valued(book.rates.of(site_id, HOUR, year, role, task), year, role, task, hours(total.minutes), 2, "h")
        for (year, role, task, site_id), total in _sorted(sums)
    ]


def _valued_miles(book: HoursBook, lines: Iterable[Line]) -> list[Valued]:
    driven = (line for line in lines if line.miles)
    sums = sums_by(driven, lambda line: (line.day.year, line.role or "", line.task or "", line.site_id))
    return [
        _valued(book.rates.of(site_id, MILE, year, role, task), year, role, task, miles(total.miles), 1, "mi")
        for (year, role, task, site_id), total in _sorted(sums)
    ]


def _sorted(sums: Mapping[Any, Any]) -> list[tuple[Any, Any]]:
    return sorted(sums.items(), key=lambda item: tuple(str(part) for part in item[0]))


def _valued(rates: list[Mapping[str, Any]], year: int, role: str, task: str, quantity: float, digits: int, unit: str) -> Valued:
    said = (year, role_words(role), task_words(task), rounded(quantity, digits), unit)
    if len(rates) != 1:
        why = f"No rate for {year} is in the table." if not rates else f"{len(rates)} rates contradict each other: {', '.join(named(rate['name']) for rate in rates)}."
        return Valued(*said, "", "", f"{why} No value is counted.", None)
    (rate,) = rates
    amount = f"{rounded(rate['amount'], 2)}" if value_of(1, rate["amount"]) == Decimal(repr(rate["amount"])) else repr(rate["amount"])
    return Valued(*said, amount, rate["currency"], rate["basis"] or "", value_of(quantity, rate["amount"]))


def _apart(lines: list[Line]) -> list[tuple[str, str]]:
    """Hours of those whose time has no value here, by role: students, staff, visitors, and those without a role."""
    others = [line for line in lines if line.role not in VALUED_ROLES and line.minutes]
    return [(role_words(role), f"{rounded(hours(total.minutes), 2)} h") for role, total in sorted(sums_by(others, lambda line: line.role).items(), key=lambda item: str(item[0]))]


def _unsigned(book: HoursBook, lines: list[Line]) -> list[tuple[str, str]]:
    """Hours and miles that would have a value once a lead signs for them, by person."""
    unsigned = [line for line in lines if line.role in VALUED_ROLES and not line.signed]
    told = []
    for person, total in sums_by(unsigned, lambda line: line.person).items():
        driven = f", {rounded(miles(total.miles), 1)} mi" if total.miles else ""
        told.append((book.person(person), f"{rounded(hours(total.minutes), 2)} h{driven}"))
    return sorted(told, key=lambda row: row[0].casefold())


def _left_out(book: HoursBook, first: date, last: date, undecided: list[Line]) -> list[str]:
    """Sentences of what is in no sum of the sheet."""
    said = [remark_words(book, remark) for remark in book.ledger.uncounted if first <= remark.day <= last]
    ids = {line.record_id for line in undecided}
    said += [remark_words(book, remark) for remark in book.ledger.remarks if remark.word == "two-awards" and remark.record_id in ids]
    return said + [signing_words(book, word) for word in book.ledger.signings if word.from_day <= last and first <= word.to_day]


def unsigned_total(sheet: FunderSheet) -> str:
    """The hours that wait for a lead's word, of those that could have a value."""
    total = total_of(line for line in sheet.lines if line.role in VALUED_ROLES)
    return f"{rounded(hours(total.unsigned_min), 2)} h"


def counted_hours(sheet: FunderSheet) -> str:
    """The hours that are signed for, of those that could have a value."""
    total = total_of(line for line in sheet.lines if line.role in VALUED_ROLES)
    return f"{rounded(hours(total.minutes - total.unsigned_min), 2)} h"
