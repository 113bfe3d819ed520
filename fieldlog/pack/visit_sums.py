"""
What a reader is told of visits: their days, purposes and how many were there; hours as sums over a year. Nobody's name, id or times.

Whoever may read visits and sign-ins themselves (crew, desk, leads) has no need of this.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from fieldlog.flags.joined import last_joined, shown_visits
from fieldlog.hours.length import HOUR_MIN, Turn, by_day, counted_once, day_of, turn_of
from fieldlog.questions.visits import sign_ins_begun, visits_begun
from fieldlog.records.sign_in import MISTAKEN
from fieldlog.rounding import rounded

VISITS_MOST = 500
"""The newest visits that are told one by one; a visit a week for nearly ten years."""


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
    clock = ZoneInfo(zone or "UTC")
    found = visits_begun(db, site_id)
    joined = {visit["record_id"]: visit["joined_to"] for visit in found}

    def root_of(visit_id: str) -> str:
        return last_joined(visit_id, lambda at: joined.get(at) or None)

    people: dict[str, set[str]] = defaultdict(set)
    turns: dict[str, list[Turn]] = defaultdict(list)
    for sign_in in sign_ins_begun(db, site_id):
        if sign_in["visit_id"] is not None and sign_in["no_out_reason"] != MISTAKEN:
            people[root_of(sign_in["visit_id"])].add(sign_in["person_id"])
        turn = turn_of(sign_in)
        if isinstance(turn, Turn):
            turns[sign_in["person_id"]].append(turn)
    visits_of: dict[int, int] = defaultdict(int)
    minutes_of = _minutes_by_year(turns.values(), clock)
    told = []
    for root, visit in sorted(shown_visits(found).items(), key=lambda shown: (shown[1]["started_at"], shown[0]), reverse=True):
        day = day_of(visit["started_at"], clock)
        visits_of[day.year] += 1
        told.append({"day": day.isoformat(), "purpose": visit["purpose"], "people": len(people[root])})
    years = sorted({*visits_of, *minutes_of}, reverse=True)
    return {
        "visits": told[:VISITS_MOST],
        "visit_count": len(told),
        "visit_years": [{"year": year, "visits": visits_of[year], "hours": float(rounded(minutes_of[year] / HOUR_MIN, 1))} for year in years],
    }


def _minutes_by_year(turns_of_people: Iterable[list[Turn]], clock: ZoneInfo) -> dict[int, int]:
    minutes: dict[int, int] = defaultdict(int)
    for turns in turns_of_people:
        for turn in counted_once(turns).values():
            for day, passed in by_day(turn.from_min, turn.until_min, clock):
                minutes[day.year] += passed
    return minutes
