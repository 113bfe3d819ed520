"""What is asked of hours, read and judged: a year or all of them, a person, an award, a form."""

from __future__ import annotations

import re
from datetime import date

from fieldlog.errors import BadRequest, NotHere
from fieldlog.timesheets.reading import HoursBook

ALL = "all"
_YEAR = re.compile("[12][0-9]{3}")


def year_asked(said: str) -> int | None:
    """
    A year of the site's clock; None is all.

    Raises:
        BadRequest: it is neither.
    """
    if said == ALL:
        return None
    if not _YEAR.fullmatch(said):
        raise BadRequest(f"The year is {said!r}; give a year such as 2026, or all.", {"year": "a year, or all"})
    return int(said)


def days_of(book: HoursBook, year: int | None, today: date, person: str | None = None) -> tuple[date, date]:
    """
    The first and last day of a year; of all years those on which something is on record, of everybody or of one person, counted or not;
    today where nothing is.
    """
    if year is not None:
        return date(year, 1, 1), date(year, 12, 31)
    told: list[tuple[str | None, date]] = [(line.person, line.day) for line in book.ledger.lines] + [(remark.person, remark.day) for remark in book.ledger.uncounted]
    days = [day for whose, day in told if day != date.min and (person is None or whose == person)]
    return min(days, default=today), max(days, default=today)


def person_known(book: HoursBook, person_id: str, sites: frozenset[str] | None) -> str:
    """
    The record that stands for a person whom a device of these sites may see.

    Raises:
        NotHere: there is nobody of that id, or only at other sites.
    """
    person = book.ledger.people.get(person_id)
    own = [row for row in book.given.people if book.ledger.people[row["record_id"]] == person]
    if person is None or not any(sites is None or row["site_id"] is None or row["site_id"] in sites for row in own):
        raise NotHere("There is no such person here. Sync once, then open it again.")
    return person
