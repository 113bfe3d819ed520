"""New and full moons, for the picture of a year: springs follow them, so a line from one to the next is a run of lows."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import ephem

HALF_MONTH = timedelta(days=16)
"""Longer than from any new moon to the full moon after it, or from full to new (13.9 to 15.6 days)."""


def moon_columns(from_day: date, days: int) -> list[list[Any]]:
    """
    The new and full moons of a span, and the one before it.

    Args:
        from_day: the first UTC day.

    Returns:
        ["new" or "full", whole minutes after `from_day` 0 h UTC] each, in time order.
    """
    start = datetime.combine(from_day, time(), UTC)
    before, end = (start - HALF_MONTH).replace(tzinfo=None), (start + timedelta(days=days)).replace(tzinfo=None)
    found: list[tuple[datetime, str]] = []
    for name, following in (("new", ephem.next_new_moon), ("full", ephem.next_full_moon)):
        at = following(before).datetime()
        while at < end:
            found.append((at, name))
            at = following(at + timedelta(days=1)).datetime()
    found.sort()
    last_before = max((n for n, (at, _) in enumerate(found) if at <= start.replace(tzinfo=None)), default=0)
    return [[name, round((at.replace(tzinfo=UTC) - start).total_seconds() / 60)] for at, name in found[last_before:]]
