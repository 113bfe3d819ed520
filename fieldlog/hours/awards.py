"""To which award hours are counted: never to two."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

Row = Mapping[str, Any]


class Assignments:
    """
    What leads said of awards.

    Args:
        awards, said: rows of the kinds award and award_hours that were not removed.
        roots: {a person's record: the one that stands for the person}.
        visits: {a visit: the one that it was joined to}, itself where to none.
    """

    def __init__(self, awards: Iterable[Row], said: Iterable[Row], roots: Mapping[str, str], visits: Mapping[str, str]) -> None:
        self._awards = {award["record_id"]: award for award in awards}
        self._of_record: dict[str, list[Row]] = defaultdict(list)
        self._of_visit: dict[str, list[Row]] = defaultdict(list)
        self._of_person: dict[str, list[Row]] = defaultdict(list)
        self._of_any: list[Row] = []
        for row in said:
            award = self._awards.get(row["award_id"])
            if award is None or award["site_id"] != row["site_id"]:
                continue
            row = {**row, "person_id": roots.get(row["person_id"], row["person_id"]), "of_visit_id": visits.get(row["of_visit_id"], row["of_visit_id"])}
            if row["of_id"]:
                self._of_record[row["of_id"]].append(row)
            elif row["of_visit_id"]:
                self._of_visit[row["of_visit_id"]].append(row)
            elif row["person_id"]:
                self._of_person[row["person_id"]].append(row)
            elif row["task"] or row["from_day"] or row["to_day"]:
                self._of_any.append(row)

    def of(self, record_id: str, site_id: str | None, person: str, task: str | None, visit: str | None, day: date) -> tuple[str, ...]:
        """
        The awards that hours of one day are counted to: none, one, or, where leads contradict each other, several. What was said of
        that very record goes before all else. Before an award's first day and after its last none are counted to it.
        """
        text = day.isoformat()
        own = {row["award_id"] for row in self._of_record.get(record_id, ()) if self._is_within(row, site_id, text)}
        if own:
            return tuple(sorted(own))
        rows = (*self._of_visit.get(visit or "", ()), *self._of_person.get(person, ()), *self._of_any)
        return tuple(sorted({
            row["award_id"] for row in rows
            if row["person_id"] in (None, person) and row["task"] in (None, task) and self._is_within(row, site_id, text)
        }))  # fmt: skip

    def _is_within(self, row: Row, site_id: str | None, day: str) -> bool:
        return row["site_id"] == site_id and _has(row, day) and _has(self._awards[row["award_id"]], day)


def _has(row: Row, day: str) -> bool:
    """Whether a row's days have this one; days that it does not say have no end."""
    return (not row["from_day"] or row["from_day"] <= day) and (not row["to_day"] or day <= row["to_day"])
