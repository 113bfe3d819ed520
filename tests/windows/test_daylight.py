"""Sun times against the US Naval Observatory's (tests/data/sun/SOURCES.md), and what a polar day or night becomes."""

import csv
import json
import math
from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from fieldlog.windows.daylight import Day, Light, daylight, light_of, sun_columns

DATA = Path(__file__).parents[1] / "data" / "sun"
MINUTE = timedelta(minutes=1)
# The observatory prints whole minutes (0.5 min); the rest is for the slow Sun near a polar day's first and last rise.
TOLERANCE = 1 * MINUTE
COURSES = {"NORMAL": "crosses", "ALL_DAY": "above", "ALL_NIGHT": "below"}


def days_around(lat_deg: float, lon_deg: float, day: date) -> list[Day]:
    return daylight(lat_deg, lon_deg, "UTC", day - timedelta(days=1), 3)


def nearest(found: list[datetime | None], want: datetime) -> timedelta:
    return min(abs(at - want) for at in found if at)


def test_tables_of_360_days_come_out_within_a_minute() -> None:
    with (DATA / "usno_tables.csv").open() as table:
        rows = list(csv.DictReader(table))
    assert len(rows) == 360
    for row in rows:
        day = date.fromisoformat(row["date"])
        days = days_around(float(row["lat"]), float(row["lon"]), day)
        is_sun = row["kind"] == "sun"
        pairs = [(d.sunrise_at, d.sunset_at) if is_sun else (d.first_light_at, d.last_light_at) for d in days]
        if row["type"] != "NORMAL":
            course = days[1].sun if is_sun else days[1].light
            assert course == COURSES[row["type"]], row
            assert not [at for pair in pairs for at in pair if at and at.date() == day], row
        for side, want in enumerate((row["rise_or_dawn_utc"], row["set_or_dusk_utc"])):
            if want:
                at = datetime.combine(day, time.fromisoformat(want), UTC)
                assert nearest([pair[side] for pair in pairs], at) <= TOLERANCE, row


def test_14_site_days_of_six_decades_come_out_within_a_minute() -> None:
    rows = json.loads((DATA / "usno_rise_set.json").read_text())["rows"]
    assert len(rows) == 14
    names = {
        "civil_dawn": "first_light_at",
        "rise": "sunrise_at",
        "set": "sunset_at",
        "civil_dusk": "last_light_at",
    }
    for row in rows:
        day = date.fromisoformat(row["date"])
        days = days_around(row["lat"], row["lon"], day)
        for theirs, ours in names.items():
            found = [getattr(one, ours) for one in days]
            if theirs in row:
                at = datetime.combine(day, time.fromisoformat(row[theirs]), UTC)
                assert nearest(found, at) <= TOLERANCE, row
            else:
                assert not [at for at in found if at and at.date() == day], row


def test_a_date_has_the_day_that_its_own_clock_calls_day() -> None:
    # Sydney, 21 June 2026 (observatory): dawn 20:32 and rise 21:00 UTC open the 22nd there; set 06:54 ends the 21st.
    (day,) = daylight(-33.8688, 151.2093, "Australia/Sydney", date(2026, 6, 21), 1)
    assert day.sunrise_at and day.sunrise_at.date() == date(2026, 6, 20)
    assert day.sunset_at and abs(day.sunset_at - datetime(2026, 6, 21, 6, 54, tzinfo=UTC)) <= TOLERANCE


def test_polar_night_and_polar_day_are_said_not_faults() -> None:
    night, summer = (daylight(78.2, 15.6, "Arctic/Longyearbyen", date(2026, m, 21), 1)[0] for m in (12, 6))
    assert (night.sun, night.light, night.first_light_at) == ("below", "below", None)
    assert (summer.sun, summer.light, summer.last_light_at) == ("above", "above", None)
    # Tromso, 21 December 2026 (observatory): the Sun does not rise, but there is civil twilight.
    twilight = daylight(69.6496, 18.956, "Europe/Oslo", date(2026, 12, 21), 1)[0]
    assert (twilight.sun, twilight.light) == ("below", "crosses")


def test_a_polar_summer_is_one_stretch_of_light_and_a_polar_night_has_none() -> None:
    summer = light_of(daylight(78.2, 15.6, "Arctic/Longyearbyen", date(2026, 6, 1), 30))
    assert len(summer) == 1
    # From solar midnight to solar midnight, which lies up to 17 min off the mean one.
    assert abs(summer[0].ends_s - summer[0].starts_s - 30 * 86400) < 10 * 60
    assert light_of(daylight(78.2, 15.6, "Arctic/Longyearbyen", date(2026, 12, 10), 20)) == []


def test_every_stretch_of_a_year_is_in_order_and_apart() -> None:
    for lat_deg in (-78.0, -45.0, 0.0, 52.0, 61.2, 66.0, 78.0):
        stretches = light_of(daylight(lat_deg, 10.0, "UTC", date(2026, 1, 1), 366))
        ends = [at for one in stretches for at in (one.starts_s, one.ends_s)]
        assert ends == sorted(ends)


def test_the_phones_columns_never_promise_more_light() -> None:
    days = daylight(41.25, -72.55, "America/New_York", date(2026, 11, 25), 5)
    columns = sun_columns(days)
    zero_s = int(datetime(2026, 11, 25, tzinfo=UTC).timestamp())
    for (starts, ends), light in zip(columns["light"], light_of(days), strict=True):
        assert 0 <= zero_s + starts * 60 - light.starts_s < 60
        assert 0 <= light.ends_s - (zero_s + ends * 60) < 60
    assert len(columns["sunrise"]) == len(columns["sunset"]) == 5


def test_lights_of_days_out_of_the_year_round_are_kept_by_date() -> None:
    days = daylight(66.0, 10.0, "UTC", date(2026, 1, 1), 366)
    by_course: dict[str, int] = defaultdict(int)
    for day in days:
        by_course[day.light] += 1
    assert by_course["below"] == 0 < by_course["above"] < by_course["crosses"]
    assert all(isinstance(one, Light) for one in light_of(days))


def height_deg(lat_deg: float, lon_deg: float, at_s: float) -> float:
    """The Sun's height by the low-precision formulas of the Astronomical Almanac (section C), 0.01 degrees; from memory."""
    n = at_s / 86400 + 2440587.5 - 2451545.0
    anomaly = math.radians(357.528 + 0.9856003 * n)
    longitude = math.radians(280.460 + 0.9856474 * n + 1.915 * math.sin(anomaly) + 0.020 * math.sin(2 * anomaly))
    tilt = math.radians(23.439 - 0.0000004 * n)
    ascension = math.atan2(math.cos(tilt) * math.sin(longitude), math.cos(longitude))
    declination = math.asin(math.sin(tilt) * math.sin(longitude))
    sidereal = math.radians((280.46061837 + 360.98564736629 * n + lon_deg) % 360)
    lat = math.radians(lat_deg)
    sine = math.sin(lat) * math.sin(declination) + math.cos(lat) * math.cos(declination) * math.cos(sidereal - ascension)
    return math.degrees(math.asin(sine))


@pytest.mark.parametrize(("lat_deg", "lon_deg"), [(74.7, 150.0), (74.3, 0.0), (75.0, 19.0), (-74.7, 30.0), (78.2, 15.6)])
def test_about_the_ends_of_polar_day_and_night_the_light_is_neither_longer_nor_shorter(lat_deg: float, lon_deg: float) -> None:
    """Every third minute of the days on which the Sun stands near 6 degrees below the horizon at midday or at midnight, by other formulas."""
    days = daylight(lat_deg, lon_deg, "UTC", date(2026, 1, 1), 366)
    stretches = light_of(days)
    looked_at = 0
    for day in days[1:-1]:
        midday_s = day.midday_at.timestamp()
        for middle_s in (midday_s, midday_s + 43_200):
            if abs(height_deg(lat_deg, lon_deg, middle_s) + 6) > 0.5:
                continue
            looked_at += 1
            for at_s in range(round(middle_s) - 10_800, round(middle_s) + 10_800, 180):
                height = height_deg(lat_deg, lon_deg, at_s)
                is_light = any(one.starts_s <= at_s <= one.ends_s for one in stretches)
                assert abs(height + 6) < 0.012 or is_light == (height > -6), (day.day, at_s - middle_s, height)
    assert looked_at >= 4
