"""Instants as text, 2026-11-25T06:12:00.000Z: one form, so that texts are equal where moments are, and sort as moments do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

SUFFIX = "_at"
"""How the names of all fields end that are instants, and of none that are not (tests/records/test_catalogue.py)."""

_WITHOUT_MS = len("2026-11-25T06:12:00Z")
_WITH_MS = len("2026-11-25T06:12:00.000Z")
_HOUR = len("2026-11-25T06")


def written(at: datetime) -> str:
    """An aware instant in the form that rows, flags and answers have: UTC, whole milliseconds, what is under them cut off."""
    return f"{at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='milliseconds')}Z"


def on_the_clock(instant: str, zone: ZoneInfo) -> str:
    """A row's instant on a place's clock, with the offset that it had: 2026-11-25T01:12:00-05:00; milliseconds where it has any."""
    hour = _hour(instant[:_HOUR], zone) if len(instant) == _WITH_MS else None
    if hour is not None:
        return f"{hour[0]}{instant[_HOUR : -5 if instant.endswith('.000Z') else -1]}{hour[1]}"
    return datetime.fromisoformat(instant).astimezone(zone).isoformat(timespec="seconds" if instant.endswith(".000Z") else "milliseconds")


@lru_cache(1 << 14)
def _hour(hour: str, zone: ZoneInfo) -> tuple[str, str] | None:
    """
    Day and hour on a place's clock, and its offset, for all of an hour of UTC: most instants of a table share one with others.

    None where the clock changes within that hour, or is off by parts of an hour.
    """
    start, end = (datetime.fromisoformat(f"{hour}{rest}").astimezone(zone) for rest in (":00:00Z", ":59:59.999Z"))
    offset = start.utcoffset() or timedelta(0)
    if offset != end.utcoffset() or offset % timedelta(hours=1):
        return None
    text = start.isoformat(timespec="seconds")
    return text[:_HOUR], text[len("2026-11-25T01:12:00") :]


def in_one_form(fields: Mapping[str, Any]) -> dict[str, Any]:
    """
    The fields of an entry as its record has them: the check takes an instant with milliseconds and without, a row has it with them.

    An entry's own text stays as it was written.
    """
    return {name: normal(name, value) for name, value in fields.items()}


def normal(name: str, value: Any) -> Any:
    """One field's value, as `in_one_form` has it."""
    if name.endswith(SUFFIX) and isinstance(value, str) and len(value) == _WITHOUT_MS:
        return f"{value[:-1]}.000Z"
    return value


_HALF_DAY = timedelta(hours=12)
"""Noon is written for a day whose time is not known (records/times.py): it was at most so long before or after."""


def half_a_day_before(instant: str) -> str:
    """The beginning of the day of which only noon is written; within an hour on days when clocks change."""
    return written(datetime.fromisoformat(instant) - _HALF_DAY)


def half_a_day_after(instant: str) -> str:
    """The end of that day."""
    return written(datetime.fromisoformat(instant) + _HALF_DAY)


def latest_of(instant: str, is_time_known: bool) -> str:
    """The latest that something was: its instant, or the last moment of the day that alone is known."""
    return instant if is_time_known else written(datetime.fromisoformat(instant) + _HALF_DAY - timedelta(milliseconds=1))
