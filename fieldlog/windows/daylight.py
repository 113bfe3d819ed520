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
from functools import cached_property
from math import ceil, floor, pi, tau
from typing import Any, Literal
from zoneinfo import ZoneInfo

import ephem

Course = Literal["crosses", "above", "below"]
"""Whether the Sun crosses a height on a date, or stays above or below it all day."""

Crossings = tuple[datetime | None, datetime | None, Course]
"""When the Sun rises through a height on a date and sinks through it again; None where it does not."""

HALF_DAY = timedelta(hours=12)
POLAR_NIGHT = "Polar night: the Sun stays more than 6 degrees below the horizon all day."

_RISE_HORIZON = "-0:34"
_TWILIGHT_HORIZON = "-6"


@dataclass(frozen=True)
class Day:
    """
    The Sun on one local date. Instants are UTC; one that does not happen is None, and `sun`, `light` say why.

    The day runs from solar midnight to solar midnight, so last light may carry the next date in a northern summer.
    Rise and set are worked out when they are asked for: windows hang on the light alone.
    """

    day: date
    midday_at: datetime
    first_light_at: datetime | None
    last_light_at: datetime | None
    light: Course
    lat_deg: float
    lon_deg: float

    @cached_property
    def _disc(self) -> Crossings:
        return _crossings(_place(self.lat_deg, self.lon_deg), ephem.Sun(), self.midday_at, _RISE_HORIZON, use_center=False)

    @property
    def sunrise_at(self) -> datetime | None:
        """When the upper limb rises."""
        return self._disc[0]

    @property
    def sunset_at(self) -> datetime | None:
        """When it sets."""
        return self._disc[1]

    @property
    def sun(self) -> Course:
        """Whether the Sun rises and sets, or stays up or down."""
        return self._disc[2]


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
    place, sun, clock = _place(lat_deg, lon_deg), ephem.Sun(), ZoneInfo(zone)
    found = []
    for day in (from_day + timedelta(days=k) for k in range(days)):
        midday = _transit(place, sun, _solar_midday(lon_deg, datetime.combine(day, time(12), clock).astimezone(UTC)))
        found.append(Day(day, midday, *_crossings(place, sun, midday, _TWILIGHT_HORIZON, use_center=True), lat_deg, lon_deg))
    return found


def _place(lat_deg: float, lon_deg: float) -> Any:
    place = ephem.Observer()
    place.lat, place.lon = ephem.degrees(str(lat_deg)), ephem.degrees(str(lon_deg))
    place.pressure = 0
    return place


def _solar_midday(lon_deg: float, local_noon: datetime) -> datetime:
    """The mean solar noon nearest to noon on the local clock."""
    clock_ahead = timedelta(hours=lon_deg / 15) + timedelta(hours=local_noon.hour, minutes=local_noon.minute)
    solar_hour = clock_ahead % timedelta(days=1)
    return local_noon + HALF_DAY - solar_hour


def _transit(place: Any, sun: Any, mean_midday: datetime) -> datetime:
    """
    When the Sun stands highest, up to 17 min off the mean noon, by its hour angle then; within a second.

    About a polar night's ends a day's light is shorter than that: seen from the mean noon it would be missed, or be the day before's.
    """
    place.date = ephem.Date(mean_midday.replace(tzinfo=None))
    sun.compute(place)
    past_midday = (place.sidereal_time() - sun.ra + pi) % tau - pi
    return mean_midday - timedelta(days=past_midday / tau)


def _crossings(
    place: Any, sun: Any, midday: datetime, horizon: str, use_center: bool
) -> Crossings:
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
