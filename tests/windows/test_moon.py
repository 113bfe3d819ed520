"""New and full moons against almanacs: moons of published eclipses, to two minutes (an eclipse's greatest moment is within some of it)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

from fieldlog.windows.moon import moon_columns

PUBLISHED = {
    "new": ["2026-02-17T12:01", "2026-08-12T17:37"],
    "full": ["2026-03-03T11:38", "2026-08-28T04:18"],
}
"""Moon phases of 2026 as the almanacs print them, UTC."""


def test_moons_are_those_of_the_almanacs() -> None:
    start = datetime(2026, 1, 20, tzinfo=UTC)
    found = [(name, start + timedelta(minutes=minute)) for name, minute in moon_columns(start.date(), 300)]
    for name, times in PUBLISHED.items():
        for text in times:
            at = datetime.fromisoformat(text).replace(tzinfo=UTC)
            assert min(abs((one - at).total_seconds()) for other, one in found if other == name) <= 120, text


def test_the_span_begins_with_the_moon_before_it_and_new_and_full_take_turns() -> None:
    for day in range(0, 30, 3):
        moons = moon_columns(date(2026, 11, 1) + timedelta(days=day), 400)
        minutes = [minute for _, minute in moons]
        assert minutes[0] <= 0 < minutes[1]
        assert minutes[-1] < 400 * 1440
        assert all(13.8 < (after - before) / 1440 < 15.7 for before, after in pairwise(minutes))
        assert all(one != other for (one, _), (other, _) in pairwise(moons))
