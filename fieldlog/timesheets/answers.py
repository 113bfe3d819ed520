"""Hours as a lead's screens and the command line get them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from fieldlog.hours.ledger import PREPARATION, SIGN_IN, Line, Remark
from fieldlog.hours.sums import Sum, hours, miles, sums_by, total_of
from fieldlog.shown_names import named
from fieldlog.timesheets.reading import HoursBook
from fieldlog.timesheets.sentences import clock_of, remark_words, signing_words

LISTED_MOST = 200
"""Sentences of one list that are told; of more how many there are."""

NO_ROLE = "none"


def years_of(book: HoursBook) -> list[int]:
    """The years that have hours or miles, the newest first."""
    return sorted({line.day.year for line in book.ledger.lines}, reverse=True)


def of_year(book: HoursBook, year: int | None) -> list[Line]:
    """The lines of a year of the sites' clocks; None is all."""
    return [line for line in book.ledger.lines if year is None or line.day.year == year]


def summary(book: HoursBook, year: int | None) -> dict[str, Any]:
    """
    The ledger in sums.

    Args:
        year: None is all years.

    Returns:
        {"years", "year", "sign_in_count", "total", "roles", "people", "months", "tasks", "awards", "uncounted", "look", "signed_anew"}.
        The lists of sentences have all years, since nothing in them should be overlooked.
    """
    lines = of_year(book, year)
    return {
        "years": years_of(book), "year": year, "sign_in_count": book.ledger.sign_in_count, "total": total_of(lines).document(),
        "roles": [{"role": role or NO_ROLE, **total.document()} for role, total in sums_by(lines, lambda line: line.role).items()],
        "people": _people(book, lines), "months": _months(lines),
        "tasks": [{"task": task, **total.document()} for task, total in sums_by(lines, lambda line: line.task).items()],
        "awards": _awards(book, lines),
        "uncounted": _told(book, book.ledger.uncounted), "look": _told(book, book.ledger.remarks),
        "signed_anew": [{"person_id": word.person, "sentence": signing_words(book, word)} for word in book.ledger.signings[:LISTED_MOST]],
    }  # fmt: skip


def of_person(book: HoursBook, person_id: str, year: int | None) -> dict[str, Any]:
    """One person's hours, by any of their records: {"person_id", "name", "years", "year", "total", "months", "lines", "uncounted", "look"}."""
    person = book.ledger.people[person_id]
    own = [line for line in book.ledger.lines if line.person == person]
    lines = [line for line in own if year is None or line.day.year == year]
    return {
        "person_id": person, "name": book.person(person), "year": year, "years": sorted({line.day.year for line in own}, reverse=True),
        "total": total_of(lines).document(), "roles": [{"role": role or NO_ROLE, **total.document()} for role, total in sums_by(lines, lambda line: line.role).items()],
        "months": _months(lines),
        "to_sign": _to_sign(book, own, year), "lines": [line_row(book, line) for line in reversed(lines)],
        "uncounted": _told(book, [remark for remark in book.ledger.uncounted if remark.person == person]),
        "look": _told(book, [remark for remark in book.ledger.remarks if remark.person == person]),
        "signed_anew": [{"person_id": person, "sentence": signing_words(book, word)} for word in book.ledger.signings if word.person == person],
    }  # fmt: skip


def _to_sign(book: HoursBook, own: list[Line], year: int | None) -> list[dict[str, Any]]:
    """
    The months of a person that no lead's word covers whole, each at each site, as a lead would sign for them. The person is named by the
    record at that site, since a word binds within one.
    """
    told = []
    for (site_id, first), total in sums_by(own, lambda line: (line.site_id, line.day.replace(day=1))).items():
        if not (total.unsigned_min or total.unsigned_mi) or (year is not None and first.year != year):
            continue
        line = next(line for line in own if line.site_id == site_id and line.day.replace(day=1) == first)
        last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
        told.append({
            "site_id": site_id, "site": book.sites.get(site_id or "", ""), "person_id": book.records[line.record_id]["person_id"],
            "from_day": first.isoformat(), "to_day": last.isoformat(), "hours": hours(total.minutes), "miles": miles(total.miles),
        })  # fmt: skip
    return sorted(told, key=lambda row: (row["from_day"], str(row["site"])), reverse=True)


def line_row(book: HoursBook, line: Line) -> dict[str, Any]:
    """A line with its words: whose, where, from when to when on the site's clock, and to which award."""
    record = book.records[line.record_id]
    is_sign_in = line.kind == SIGN_IN
    return {
        "kind": line.kind, "record_id": line.record_id, "site_id": line.site_id, "site": book.sites.get(line.site_id or "", ""),
        "person_id": line.person, "person": book.person(line.person), "role": line.role, "task": line.task, "day": line.day.isoformat(),
        "in": clock_of(book, record, "in_at") if is_sign_in else None, "out": clock_of(book, record, "out_at") if is_sign_in else None,
        "what": None if is_sign_in else record["what"] if line.kind == PREPARATION else record["trip"],
        "hours": hours(line.minutes), "miles": miles(line.miles), "signed": line.signed,
        "awards": [named(book.awards[award_id]["name"]) for award_id in line.awards], "award_ids": list(line.awards),
    }  # fmt: skip


def _people(book: HoursBook, lines: Iterable[Line]) -> list[dict[str, Any]]:
    roles: dict[str, set[str]] = {}
    lines = list(lines)
    for line in lines:
        roles.setdefault(line.person, set()).add(line.role or NO_ROLE)
    told = [
        {"person_id": person, "name": book.person(person), "roles": sorted(roles[person]), **total.document()}
        for person, total in sums_by(lines, lambda line: line.person).items()
    ]
    return sorted(told, key=lambda row: (str(row["name"]).casefold(), row["person_id"]))


def _months(lines: Iterable[Line]) -> list[dict[str, Any]]:
    sums = sums_by(lines, lambda line: f"{line.day.year:04d}-{line.day.month:02d}")
    return [{"month": month, **sums[month].document()} for month in sorted(sums, reverse=True)]


def _awards(book: HoursBook, lines: Iterable[Line]) -> list[dict[str, Any]]:
    """Every award, and what no award has; what two claim is with neither."""
    sums = sums_by(lines, lambda line: line.awards[0] if len(line.awards) == 1 else None if not line.awards else "")
    told = [{"award_id": award_id, "name": named(award["name"]), **sums.get(award_id, Sum()).document()} for award_id, award in book.awards.items()]
    return [*told, {"award_id": None, "name": None, **sums.get(None, Sum()).document()}]


def _told(book: HoursBook, remarks: list[Remark]) -> dict[str, Any]:
    newest = sorted(remarks, key=lambda remark: (remark.day, remark.record_id), reverse=True)
    rows = [
        {"word": remark.word, "kind": remark.kind, "record_id": remark.record_id, "person_id": remark.person, "sentence": remark_words(book, remark)}
        for remark in newest[:LISTED_MOST]
    ]  # fmt: skip
    return {"count": len(remarks), "rows": rows}
