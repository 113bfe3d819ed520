"""The stretch that each low of a list owns: from the high before it to the high after, a day at most."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import pytest

from fieldlog.tides.extremes import Extreme
from fieldlog.windows.water import lows_of

HOUR_S, DAY_S = 3600, 86_400


def turning(*told: tuple[float, float, str]) -> list[Extreme]:
    return [Extreme(datetime.fromtimestamp(hour * HOUR_S, UTC), level_m, kind) for hour, level_m, kind in told]


def test_a_low_owns_what_lies_between_its_highs_and_at_the_ends_of_the_list_a_day() -> None:
    first, last = lows_of(turning((3, 0.0, "low"), (9, 2.0, "high"), (15, 0.1, "low")), -math.inf)
    assert (first.begins_s, first.at_s, first.ends_s) == (3 * HOUR_S - DAY_S, 3 * HOUR_S, 9 * HOUR_S)
    assert (last.begins_s, last.at_s, last.ends_s) == (9 * HOUR_S, 15 * HOUR_S, 15 * HOUR_S + DAY_S)
    (inner,) = lows_of(turning((0, 2.0, "high"), (6, 0.0, "low"), (40, 2.0, "high")), -math.inf)
    assert (inner.begins_s, inner.ends_s) == (0, 30 * HOUR_S), "of a high that is farther off than a day, a day"


@pytest.mark.parametrize(("apart_h", "hump_m", "is_one"), [(7.9, 0.4, True), (8, 0.4, False), (7.9, 0.5, False), (7.9, 0.6, False)])
def test_two_lows_within_eight_hours_share_a_stretch_where_the_hump_stays_dry(apart_h: float, hump_m: float, is_one: bool) -> None:
    """Dry below 0.5 m; the lower one, here the second, carries the window."""
    list_of = turning((0, 2.0, "high"), (6, 0.1, "low"), (6 + apart_h / 2, hump_m, "high"), (6 + apart_h, 0.0, "low"), (20, 2.0, "high"))
    lows = lows_of(list_of, 0.5)
    assert [low.is_joined for low in lows] == [is_one, False]
    assert (lows[1].begins_s == 0) is is_one
