"""
What a reader is told of visits: their days, purposes and how many were there; hours as sums over a year. Nobody's name, id or times.

Whoever may read visits and sign-ins themselves (crew, desk, leads) has no need of this.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.flags.joined import last_joined
from fieldlog.questions.visits import turns_on_shore, visits_begun

VISITS_MOST = 500
"""The newest visits that are told one by one; a visit a week for nearly ten years."""

MISTAKEN = "Signed in by mistake"
"""The reason by which a sign-in counts nowhere (static/records/mistaken.js)."""

HOUR_S = 3600.0


def visit_sums(db: Database, site_id: str, zone: str | None) -> dict[str, Any]:
    """
    A site's visits without people.

    Args:
        zone: the site's time zone, whose days and years are told.

    Returns:
        {"visits", "visit_count", "visit_years"}: `visits` the newest first, each {"day", "purpose", "people"}, joined ones as one;
        `visit_count` of all; `visit_years` the newest first, each {"year", "visits", "hours"}: all people's time on the shore together,
        of those with a time out.
    """
    def day_of(instant: str) -> date:
        return datetime.fromisoformat(instant).astimezone(ZoneInfo(zone or "UTC")).date()

    found = visits_begun(db, site_id)
    joined = {visit["record_id"]: visit["joined_to"] for visit in found}

    def root_of(visit_id: str) -> str:
        return last_joined(visit_id, lambda at: joined.get(at) if joined.get(at) in joined else None)

    people: dict[str, set[str]] = defaultdict(set)
    visits_of: dict[int, int] = defaultdict(int)
    seconds_of: dict[int, float] = defaultdict(float)
    for visit_id, person_id, in_at, out_at in turns_on_shore(db, site_id, MISTAKEN):
        if visit_id is not None:
            people[root_of(visit_id)].add(person_id)
        if out_at is not None:
            seconds = (datetime.fromisoformat(out_at) - datetime.fromisoformat(in_at)).total_seconds()
            seconds_of[day_of(in_at).year] += max(0.0, seconds)
    told = []
    for visit in sorted(found, key=lambda visit: (visit["started_at"], visit["record_id"]), reverse=True):
        if root_of(visit["record_id"]) == visit["record_id"]:
            day = day_of(visit["started_at"])
            visits_of[day.year] += 1
            told.append({"day": day.isoformat(), "purpose": visit["purpose"], "people": len(people[visit["record_id"]])})
    years = sorted({*visits_of, *seconds_of}, reverse=True)
    return {
        "visits": told[:VISITS_MOST],
        "visit_count": len(told),
        "visit_years": [{"year": year, "visits": visits_of[year], "hours": round(seconds_of[year] / HOUR_S, 1)} for year in years],
    }

