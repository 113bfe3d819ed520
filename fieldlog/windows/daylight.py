"""
When there is light to walk by: sunrise, sunset and civil twilight of each local date.

Rise and set: the Sun's upper limb on a sea-level horizon with 34' of refraction; first and last light: its centre
6 degrees below (the definitions of the US Naval Observatory's tables). Computed by PyEphem, within one minute of
those tables from 1 to 78 degrees of latitude (test_daylight).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import ceil, floor
from typing import Any, Literal
from zoneinfo import ZoneInfo

import ephem

Course = Literal["crosses", "above", "below"]
"""Whether the Sun crosses a height on a date, or stays above or below it all day."""

HALF_DAY = timedelta(hours=12)
SUN_WORDS = {"above": "The Sun does not set.", "below": "The Sun does not rise.", "crosses": ""}
LIGHT_WORDS = {
    "above": "It does not get dark.",
    "below": "Polar night: the Sun stays more than 6 degrees below the horizon all day.",
    "crosses": "",
}

_RISE_HORIZON = "-0:34"
_TWILIGHT_HORIZON = "-6"


@dataclass(frozen=True)
class Day:
    """
    The Sun on one local date. Instants are UTC; one that does not happen is None, and `sun`, `light` say why.

    The day runs from solar midnight to solar midnight, so last light may carry the next date in a northern summer.
    """

    day: date
    midday_at: datetime
    first_light_at: datetime | None
    sunrise_at: datetime | None
    sunset_at: datetime | None
    last_light_at: datetime | None
    sun: Course
    light: Course

    @property
    def words(self) -> str:
        """What is unusual about this day's Sun, as a sentence; empty on a usual day."""
        return LIGHT_WORDS[self.light] or SUN_WORDS[self.sun]


@dataclass(frozen=True)
class Light:
    """An unbroken stretch of light, whole seconds since 1970 UTC; in a polar summer it lasts for weeks."""

    starts_s: int
    ends_s: int


def daylight(lat_deg: float, lon_deg: float, zone: str, from_day: date, days: int) -> list[Day]:
    """
    The Sun's day for each of `days` local dates from `from_day` on.

    Args:
        lat_deg, lon_deg: degrees north and east.
        zone: IANA name; says which solar day belongs to a date.
    """
    place = ephem.Observer()
    place.lat, place.lon = ephem.degrees(str(lat_deg)), ephem.degrees(str(lon_deg))
    place.pressure = 0
    sun, clock = ephem.Sun(), ZoneInfo(zone)
    return [_day(place, sun, lon_deg, from_day + timedelta(days=k), clock) for k in range(days)]


def _day(place: Any, sun: Any, lon_deg: float, day: date, clock: ZoneInfo) -> Day:
    midday = _transit(place, sun, _solar_midday(lon_deg, datetime.combine(day, time(12), clock).astimezone(UTC)))
    rise, set_, course = _crossings(place, sun, midday, _RISE_HORIZON, use_center=False)
    dawn, dusk, light = _crossings(place, sun, midday, _TWILIGHT_HORIZON, use_center=True)
    return Day(day, midday, dawn, rise, set_, dusk, course, light)


def _solar_midday(lon_deg: float, local_noon: datetime) -> datetime:
    """The mean solar noon nearest to noon on the local clock."""
    clock_ahead = timedelta(hours=lon_deg / 15) + timedelta(hours=local_noon.hour, minutes=local_noon.minute)
    solar_hour = clock_ahead % timedelta(days=1)
    return local_noon + HALF_DAY - solar_hour


def _transit(place: Any, sun: Any, mean_midday: datetime) -> datetime:
    """
    When the Sun stands highest, up to 17 min off the mean noon.

    About a polar night's ends a day's light is shorter than that: seen from the mean noon it would be missed, or be the day before's.
    """
    place.date = ephem.Date((mean_midday - HALF_DAY / 2).replace(tzinfo=None))
    found: datetime = place.next_transit(sun).datetime().replace(tzinfo=UTC)
    return found


def _crossings(
    place: Any, sun: Any, midday: datetime, horizon: str, use_center: bool
) -> tuple[datetime | None, datetime | None, Course]:
    """When the Sun last rose through a height before midday and next sinks through it after; None where it does not."""
    place.horizon = horizon
    found: list[datetime | None] = []
    course: Course = "above"
    for search in (place.previous_rising, place.next_setting):
        place.date = ephem.Date(midday.replace(tzinfo=None))
        try:
            at = search(sun, use_center=use_center).datetime().replace(tzinfo=UTC)
        except ephem.AlwaysUpError:
            found.append(None)
        except ephem.NeverUpError:
            return None, None, "below"
        else:
            found.append(at)
            course = "crosses"
    return found[0], found[1], course


def light_of(days: Sequence[Day]) -> list[Light]:
    """The stretches of light of consecutive days, in order; those that meet at solar midnight are one."""
    stretches: list[Light] = []
    goes_on = False
    for day in days:
        if day.light == "below":
            goes_on = False
            continue
        meets = goes_on and day.first_light_at is None
        goes_on = day.last_light_at is None
        starts = round((day.first_light_at or day.midday_at - HALF_DAY).timestamp())
        ends = round((day.last_light_at or day.midday_at + HALF_DAY).timestamp())
        if stretches and (meets or starts <= stretches[-1].ends_s):
            stretches[-1] = Light(stretches[-1].starts_s, ends)
        else:
            stretches.append(Light(starts, ends))
    return stretches


def sun_columns(days: Sequence[Day]) -> dict[str, Any]:
    """
    The Sun of consecutive dates in few bytes, for the phone, which does no astronomy.

    Returns:
        `from_day`; `sunrise`, `sunset` a date each, None where it does not happen; `light`, pairs of start and end of
        the stretches of light. All in whole minutes after `from_day` 0 h UTC, turned towards less light.
    """
    start = datetime.combine(days[0].day, time(), UTC)

    def minutes(at: datetime | None) -> int | None:
        return None if at is None else round((at - start).total_seconds() / 60)

    zero_s = start.timestamp()
    return {
        "from_day": days[0].day.isoformat(),
        "sunrise": [minutes(day.sunrise_at) for day in days],
        "sunset": [minutes(day.sunset_at) for day in days],
        "light": [[ceil((one.starts_s - zero_s) / 60), floor((one.ends_s - zero_s) / 60)] for one in light_of(days)],
    }
