"""The plain numbers that a site's windows are made from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.errors import SiteNotReady
from fieldlog.shown_names import named, site_fields

ALLOWANCE_M = 0.20
"""Added to every predicted level until a site's own residuals say better; our own proposal, no source."""

WALK_OUT_FACTOR = 1.5
"""The measured walk-out is stretched by this before it is kept free; common practice, no source."""

ONE_DAY = timedelta(days=1)

TRAVEL_MIN = 60.0
"""From home to the shore where the site does not say; our own proposal."""

_NEEDED = ("zone", "lat_deg", "lon_deg", "work_level_m", "route_low_level_m", "walk_out_min", "muster_min", "least_usable_min")


@dataclass(frozen=True)
class Closure:
    """
    Days, both included, on which nobody goes (`stops`) or goes with care.

    `every_year` makes of the two dates a stretch of each year, which may reach across New Year.
    """

    name: str
    from_day: date
    to_day: date
    every_year: bool
    stops: bool

    def holds(self, day: date) -> bool:
        """Whether a local day lies in it."""
        if not self.every_year:
            return self.from_day <= day <= self.to_day
        first, last, this = ((one.month, one.day) for one in (self.from_day, self.to_day, day))
        return first <= this <= last if first <= last else this >= first or this <= last


@dataclass(frozen=True)
class SiteRules:
    """
    What one site asks of a window.

    Levels are metres above the chart datum of the site's tide station; `latest_after_low_min` None sets no limit.
    """

    site_id: str
    zone: str
    lat_deg: float
    lon_deg: float
    work_level_m: float
    route_low_level_m: float
    allowance_m: float
    walk_out_min: float
    muster_min: float
    latest_after_low_min: float | None
    least_usable_min: float
    closures: tuple[Closure, ...] = ()
    travel_min: float = TRAVEL_MIN
    visit_weekday: str = "any"

    def closure_on(self, at_utc: datetime) -> Closure | None:
        """The closure that holds on the local day of an instant: one that stops before one that asks for care."""
        day = at_utc.astimezone(ZoneInfo(self.zone)).date()
        return self._holding(day)

    def open_between(self, at_utc: datetime) -> tuple[datetime | None, datetime | None]:
        """When the day before an instant's local day, or the day after it, is closed: the midnights that part them."""
        zone = ZoneInfo(self.zone)
        day = at_utc.astimezone(zone).date()
        begins, ends = datetime.combine(day, time(), zone), datetime.combine(day + ONE_DAY, time(), zone)
        before, after = self._holding(day - ONE_DAY), self._holding(day + ONE_DAY)
        return (begins if before and before.stops else None, ends if after and after.stops else None)

    def _holding(self, day: date) -> Closure | None:
        holding = sorted((one for one in self.closures if one.holds(day)), key=lambda one: not one.stops)
        return holding[0] if holding else None

    @property
    def walk_s(self) -> int:
        """Seconds, in whole minutes, kept free for walking in: the walk as measured, stretched."""
        return math.ceil(WALK_OUT_FACTOR * self.walk_out_min) * 60

    @property
    def out_s(self) -> int:
        """Seconds, in whole minutes, that the walk out takes, as measured."""
        return math.ceil(self.walk_out_min) * 60

    @property
    def muster_s(self) -> int:
        """Seconds, in whole minutes, to gather everyone."""
        return math.ceil(self.muster_min) * 60


def site_rules(site: Mapping[str, Any], chart_datum: str, closures: Iterable[Mapping[str, Any]] = ()) -> SiteRules:
    """
    The rules in a `site` record.

    Args:
        site: its row, `record_id` included.
        chart_datum: the name of the datum that the site's tide station measures from.
        closures: the site's `closure` records; one that lacks a day or its meaning is left out.

    Raises:
        SiteNotReady: a number is missing, or the site's levels are on another datum than the station's.
    """
    name = named(site.get("name"), "This site")
    missing = [field for field in _NEEDED if site.get(field) is None]
    if missing:
        raise SiteNotReady(
            f"Still missing at {name}: {site_fields(missing)}. Fill this in under Set-up, so that its low tides can be worked out.",
            dict.fromkeys(missing, "missing"),
        )
    datum = site.get("level_datum")
    if datum != chart_datum:
        raise SiteNotReady(
            f"The levels of {name} are on {datum or 'no datum'} but the tide station uses {chart_datum}. Convert the levels to meters above {chart_datum} and set the chart datum to {chart_datum} under Set-up.",
            {"level_datum": f"is {datum}, the station's is {chart_datum}"},
        )
    allowance_m = site.get("allowance_m")
    return SiteRules(
        site_id=site["record_id"],
        allowance_m=ALLOWANCE_M if allowance_m is None else allowance_m,
        latest_after_low_min=site.get("latest_after_low_min"),
        closures=tuple(_closure(one) for one in closures if one["from_day"] and one["to_day"] and one["closure"]),
        travel_min=TRAVEL_MIN if site.get("travel_min") is None else site["travel_min"],
        visit_weekday=site.get("visit_weekday") or "any",
        **{field: site[field] for field in _NEEDED},
    )


def _closure(row: Mapping[str, Any]) -> Closure:
    return Closure(
        name=named(row["name"], "a closure"),
        from_day=date.fromisoformat(row["from_day"]),
        to_day=date.fromisoformat(row["to_day"]),
        every_year=bool(row["every_year"]),
        stops=row["closure"] == "closed",
    )
