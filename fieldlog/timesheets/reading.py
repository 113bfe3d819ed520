"""A ledger of a programme's file, and what its people, sites, visits and awards are called."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlite_utils import Database

from fieldlog.flags.joined import last_joined
from fieldlog.hours.ledger import MILEAGE, PREPARATION, SIGN_IN, Given, Ledger, ledger_of
from fieldlog.hours.worth import Rates
from fieldlog.questions.hours import people_on_record, rows_for_hours, visits_for_hours
from fieldlog.questions.names import names_of
from fieldlog.questions.sites import zones_of
from fieldlog.shown_names import named

Row = Mapping[str, Any]


@dataclass(frozen=True)
class HoursBook:
    """
    What is read of hours.

    Attributes:
        ledger: of the sites that were asked for.
        given: the rows that it was made of.
        rates: the table of rates.
        visits: by id; of joined ones the one that stands.
    """

    db: Database
    ledger: Ledger
    given: Given
    rates: Rates
    visits: Mapping[str, Row]

    @cached_property
    def awards(self) -> dict[str, Row]:
        """By id."""
        return {award["record_id"]: award for award in self.given.awards}

    @cached_property
    def sites(self) -> dict[str, str]:
        """The names of sites."""
        return {site_id: named(name) for site_id, name in names_of(self.db, "site").items()}

    @cached_property
    def records(self) -> dict[str, Row]:
        """The rows of hours by their ids."""
        given = self.given
        return {row["record_id"]: row for rows in (given.sign_ins, given.preparations, given.mileages) for row in rows if given.has(row)}

    @cached_property
    def _names(self) -> dict[str, str]:
        """
        What people are called; where two have one name, with the number that stands for their record in exports.
        """
        written = names_of(self.db, "person")
        numbers = {person_id: number for number, person_id in enumerate(sorted(written), 1)}
        own = {person_id: named(name) for person_id, name in written.items() if self.ledger.people.get(person_id) == person_id}
        shared = {name for name, count in Counter(own.values()).items() if count > 1}
        return {person_id: f"{name} (person {numbers[person_id]})" if name in shared else name for person_id, name in own.items()}

    def person(self, person_id: str | None) -> str:
        """What a person is called, by any of their records."""
        known = self._names.get(self.ledger.people.get(person_id or "", person_id or ""))
        return named(None) if known is None else known


def read_book(db: Database, sites: frozenset[str] | None) -> HoursBook:
    """The ledger of these sites; None is all."""
    visits = {visit["record_id"]: visit for visit in visits_for_hours(db, sites)}

    def joined(visit_id: str) -> str | None:
        other = visits.get(visits[visit_id]["joined_to"])
        return other["record_id"] if other is not None and other["site_id"] == visits[visit_id]["site_id"] and other["record_id"] != visit_id else None

    roots = {visit_id: last_joined(visit_id, joined) for visit_id in visits}
    rows = {kind: rows_for_hours(db, kind, sites) for kind in (PREPARATION, MILEAGE, "award", "award_hours", "rate", "hours_signed")}
    rows[SIGN_IN] = rows_for_hours(db, SIGN_IN, None)
    zones = zones_of(db, {row["site_id"] for kind in (SIGN_IN, PREPARATION, MILEAGE) for row in rows[kind] if row["site_id"]})
    given = Given(
        people_on_record(db), rows[SIGN_IN], rows[PREPARATION], rows[MILEAGE], roots, rows["award"], rows["award_hours"], rows["hours_signed"], zones, sites
    )  # fmt: skip
    return HoursBook(db, ledger_of(given), given, Rates(rows["rate"]), visits)
