"""Which hours a lead has signed for: by the sum that was signed, so that hours which change later are asked for again."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from itertools import accumulate
from typing import TYPE_CHECKING, Any, NamedTuple

from fieldlog.hours.length import HOUR_MIN

if TYPE_CHECKING:
    from fieldlog.hours.ledger import Line

HALF_A_HUNDREDTH = 0.005 + 1e-9
"""How far a sum that was written with two digits may be from the sum that it is of."""

HALF_A_TENTH = 0.05 + 1e-9


class Signing(NamedTuple):
    """A lead's word that no longer holds: what was signed, and what the hours and miles are now."""

    record_id: str
    site_id: str | None
    person: str
    from_day: date
    to_day: date
    signed_h: float
    now_min: int
    now_mi: float


class Spans:
    """Days of people that a word covers."""

    def __init__(self) -> None:
        self._spans: dict[tuple[str | None, str], list[tuple[date, date]]] = defaultdict(list)

    def add(self, site_id: str | None, person: str, from_day: date, to_day: date) -> None:
        """Cover days of a person at a site, both included."""
        self._spans[(site_id, person)].append((from_day, to_day))

    def cover(self, site_id: str | None, person: str, day: date) -> bool:
        """Whether a day is covered."""
        return any(first <= day <= last for first, last in self._spans.get((site_id, person), ()))


class _Days:
    """One person's lines at a site, by day, with running sums."""

    def __init__(self, lines: list[Line]) -> None:
        lines.sort(key=lambda line: line.day)
        self._days = [line.day for line in lines]
        self._minutes = [0, *accumulate(line.minutes for line in lines)]
        self._miles = [0.0, *accumulate(line.miles for line in lines)]

    def sums(self, first: date, last: date) -> tuple[int, float]:
        """Minutes and miles of days, both included."""
        start, end = bisect_left(self._days, first), bisect_right(self._days, last)
        return (self._minutes[end] - self._minutes[start], self._miles[end] - self._miles[start]) if start < end else (0, 0.0)

    def within(self, first: date, last: date) -> list[date]:
        """The days of lines among these days."""
        return self._days[bisect_left(self._days, first) : bisect_right(self._days, last)]


def signed_spans(signings: Iterable[Mapping[str, Any]], lines: Iterable[Line], roots: Mapping[str, str]) -> tuple[Spans, list[Signing]]:
    """What leads' words cover, and those that no longer hold and are covered by no other."""
    words = [row for row in signings if row["from_day"] and row["to_day"] and row["signed_h"] is not None]
    parted: dict[tuple[str | None, str], list[Line]] = defaultdict(list)
    if words:
        for line in lines:
            parted[(line.site_id, line.person)].append(line)
    days = defaultdict(lambda: _Days([]), {whose: _Days(own) for whose, own in parted.items()})
    spans, broken = Spans(), []
    for row in words:
        person = roots.get(row["person_id"], row["person_id"])
        first, last = date.fromisoformat(row["from_day"]), date.fromisoformat(row["to_day"])
        minutes, miles = days[(row["site_id"], person)].sums(first, last)
        is_as_signed = abs(row["signed_h"] - minutes / HOUR_MIN) <= HALF_A_HUNDREDTH and abs((row["signed_mi"] or 0.0) - miles) <= HALF_A_TENTH
        if is_as_signed:
            spans.add(row["site_id"], person, first, last)
        else:
            broken.append(Signing(row["record_id"], row["site_id"], person, first, last, row["signed_h"], minutes, miles))
    return spans, [
        word for word in broken
        if not all(spans.cover(word.site_id, word.person, day) for day in days[(word.site_id, word.person)].within(word.from_day, word.to_day))
    ]  # fmt: skip
