"""To which award hours are counted: never to two."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, NamedTuple

Row = Mapping[str, Any]



class _Claim(NamedTuple):
    """What a lead said, within the days of the award itself: None where anybody or any task will do."""

    award_id: str
    site_id: str | None
    person: str | None
    task: str | None
    first: date
    last: date


class Assignments:
    """
    What leads said of awards.

    Args:
        awards, said: rows of the kinds award and award_hours that were not removed.
        roots: {a person's record: the one that stands for the person}.
        visits: {a visit: the one that it was joined to}, itself where to none.
    """

    def __init__(self, awards: Iterable[Row], said: Iterable[Row], roots: Mapping[str, str], visits: Mapping[str, str]) -> None:
        known = {award["record_id"]: award for award in awards}
        self._of_record: dict[str, list[_Claim]] = defaultdict(list)
        self._of_visit: dict[str, list[_Claim]] = defaultdict(list)
        self._of_person: dict[str, list[_Claim]] = defaultdict(list)
        self._of_any: list[_Claim] = []
        for row in said:
            award = known.get(row["award_id"])
            if award is None or award["site_id"] != row["site_id"]:
                continue
            person, visit = roots.get(row["person_id"], row["person_id"]), visits.get(row["of_visit_id"], row["of_visit_id"])
            first = max(_day(row["from_day"], date.min), _day(award["from_day"], date.min))
            last = min(_day(row["to_day"], date.max), _day(award["to_day"], date.max))
            claim = _Claim(award["record_id"], row["site_id"], person or None, row["task"] or None, first, last)
            if row["of_id"]:
                self._of_record[row["of_id"]].append(claim)
            elif visit:
                self._of_visit[visit].append(claim)
            elif person:
                self._of_person[person].append(claim)
            elif row["task"] or row["from_day"] or row["to_day"]:
                self._of_any.append(claim)

    def of(self, record_id: str, site_id: str | None, person: str, task: str | None, visit: str | None, day: date) -> tuple[str, ...]:
        """
        The awards that hours of one day are counted to: none, one, or, where leads contradict each other, several. What was said of
        that very record goes before all else. Before an award's first day and after its last none are counted to it.
        """
        own = {claim.award_id for claim in self._of_record.get(record_id, ()) if claim.site_id == site_id and claim.first <= day <= claim.last}
        if own:
            return tuple(sorted(own))
        claims = [*self._of_visit.get(visit or "", ()), *self._of_person.get(person, ()), *self._of_any]
        found = [
            claim.award_id for claim in claims
            if claim.first <= day <= claim.last and claim.site_id == site_id
            and (claim.person is None or claim.person == person) and (claim.task is None or claim.task == task)
        ]  # fmt: skip
        return tuple(found) if len(found) < 2 else tuple(sorted(set(found)))


def _day(text: str | None, otherwise: date) -> date:
    """Days that a row does not say have no end."""
    return date.fromisoformat(text) if text else otherwise
