"""Which days and sites an export is of, exactly: days on each site's own clock."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.exports.tables import Wanted
from fieldlog.instants import written
from fieldlog.questions.whole_tables import Span

WIDEST = timedelta(hours=14)
"""No clock is further from UTC."""


def span_of(wanted: Wanted) -> Span:
    """A span in UTC that has all of the wanted days, whatever the zone."""
    return Span(wanted.sites, _start(wanted.from_day, -WIDEST), None if wanted.to_day is None else _start(wanted.to_day + timedelta(days=1), WIDEST))


def _start(day: date | None, shift: timedelta) -> str | None:
    return None if day is None else written(datetime.combine(day, time(), UTC) + shift)


class Days:
    """The wanted days, cut at the midnights of each site; what is of no site is cut at UTC's."""

    def __init__(self, wanted: Wanted, zones: Mapping[str, ZoneInfo]) -> None:
        self._from_day, self._to_day = wanted.from_day or date.min, wanted.to_day or date.max
        self._zones = zones

    def has(self, instant: str | None, site_id: str | None) -> bool:
        """Whether a moment falls on one of the days; what says no moment does not."""
        if instant is None:
            return False
        zone = self._zones.get(site_id or "") or UTC
        return self._from_day <= datetime.fromisoformat(instant).astimezone(zone).date() <= self._to_day

    def within(self, rows: Iterable[tuple[Any, ...]], at: int, site: int) -> Iterator[tuple[Any, ...]]:
        """The rows whose moment, their column `at`, falls on one of the days."""
        return (row for row in rows if self.has(row[at], row[site]))


def of_sites_alone(rows: Iterable[tuple[Any, ...]], site: int) -> Iterator[tuple[Any, ...]]:
    """Without what is of no site: private lines of no site, which older apps wrote, are for leads of the whole programme."""
    return (row for row in rows if row[site] is not None)
