"""What a ledger of hours is made of."""

from __future__ import annotations

import json
from typing import Any

from sqlite_utils import Database

Row = dict[str, Any]
_OF_SITES = "deleted = 0 AND (:sites IS NULL OR site_id IN (SELECT value FROM json_each(:sites)))"
COLUMNS = {
    "sign_in": "record_id, site_id, visit_id, person_id, sign_in_role, task, in_at, out_at, no_out_reason, time_known",
    "preparation": "record_id, site_id, person_id, worked_on, spent_h, preparation_role, task, what",
    "mileage": "record_id, site_id, person_id, driven_on, driven_mi, trip",
    "award": "record_id, site_id, name, award_number, funder, federal, from_day, to_day",
    "award_hours": "record_id, site_id, award_id, of_visit_id, person_id, task, from_day, to_day, of_kind, of_id",
    "rate": "record_id, site_id, name, rate_year, rate_per, rate_role, task, amount, currency, basis",
    "hours_signed": "record_id, site_id, person_id, from_day, to_day, signed_h, signed_mi, signed_by_id, signed_at",
}  # fmt: skip
"""By kind the columns that hours need."""


def rows_for_hours(db: Database, kind: str, sites: frozenset[str] | None) -> list[Row]:
    """A kind's records at these sites (None: all) that were not removed, with the columns above."""
    names = COLUMNS[kind].split(", ")
    return [dict(zip(names, row, strict=True)) for row in db.conn.execute(f'SELECT {COLUMNS[kind]} FROM "{kind}" WHERE {_OF_SITES}', _asked(sites)).fetchall()]


def people_on_record(db: Database) -> list[Row]:
    """Everybody, of all sites and removed ones too, in the order of their records: record_id, site_id, same_as, role."""
    return list(db.query("SELECT record_id, site_id, same_as, role FROM person ORDER BY record_id"))


def visits_for_hours(db: Database, sites: frozenset[str] | None) -> list[Row]:
    """The visits of these sites that were not removed: record_id, site_id, joined_to, started_at, purpose."""
    return list(db.query(f"SELECT record_id, site_id, joined_to, started_at, purpose FROM visit WHERE {_OF_SITES}", _asked(sites)))


def _asked(sites: frozenset[str] | None) -> dict[str, str | None]:
    return {"sites": None if sites is None else json.dumps(sorted(sites))}
