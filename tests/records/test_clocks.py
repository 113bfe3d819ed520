"""Instants on a place's clock: the short way that tables take says what the standard library says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from fieldlog.instants import on_the_clock, written

# Whole hours, half and three-quarter ones, a summer time of half an hour, days that were left out, and offsets with seconds.
ZONES = ["UTC", "America/New_York", "Asia/Kolkata", "Asia/Kathmandu", "Australia/Lord_Howe", "Pacific/Apia", "Africa/Monrovia", "Pacific/Kiritimati"]


def the_plain_way(instant: str, zone: ZoneInfo) -> str:
    return datetime.fromisoformat(instant).astimezone(zone).isoformat(timespec="seconds" if instant.endswith(".000Z") else "milliseconds")


@given(st.datetimes(datetime(1970, 1, 2), datetime(2198, 12, 30)), st.sampled_from(ZONES), st.booleans())  # noqa: DTZ001
def test_any_instant_stands_on_the_clock_as_the_standard_library_puts_it(at: datetime, name: str, is_whole_s: bool) -> None:
    instant = written((at.replace(microsecond=0) if is_whole_s else at).replace(tzinfo=UTC))
    assert on_the_clock(instant, ZoneInfo(name)) == the_plain_way(instant, ZoneInfo(name))


def test_every_five_minutes_of_the_days_on_which_clocks_change() -> None:
    for name in ZONES:
        zone = ZoneInfo(name)
        for day in ("2026-03-08", "2026-11-01", "2026-04-05", "2026-10-04", "1972-01-07", "2011-12-30"):
            start = datetime.fromisoformat(f"{day}T00:00:00+00:00") - timedelta(hours=15)
            for step in range(12 * 40):
                instant = written(start + timedelta(minutes=5 * step))
                assert on_the_clock(instant, zone) == the_plain_way(instant, zone)
