"""An allowance out of the crew's own readings: never less than a record of under a year may offer."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from fieldlog.gauge.readings import OfReadings, shown
from fieldlog.tides.allowance import FLOOR_M
from fieldlog.tides.residuals import of_readings


@pytest.mark.parametrize("is_season_known", [True, False])
@pytest.mark.parametrize("months", [1, 2, 11, 12, 17, 40])
def test_single_readings_are_no_years_record_however_long_they_were_collected(months: int, is_season_known: bool) -> None:
    """Twenty of them, spread over 17 months, offered 0.16 m, where no record of under a year may offer less than 0.20 m."""
    at_s = [datetime(2025, 1, 15, 12, tzinfo=UTC).timestamp() + n * 86_400 for n in range(20)]
    low = of_readings(at_s, [-0.12 - 0.001 * n for n in range(20)], 42.0)
    high = of_readings(at_s, [0.10 + 0.001 * n for n in range(20)], 42.0)
    assert low and high
    found = OfReadings(low, months, is_season_known)
    if months < 2 and (not is_season_known):
        assert found.allowance is None
        return
    allowance = found.allowance
    assert allowance and allowance.metres == FLOOR_M and allowance.is_floor
    told = shown(found)
    assert told and not told["allowance"]["is_year"] and f"in {months} month" in told["basis"] and len(told["basis"]) <= 200
    assert "made years" not in told["basis"], "no made year was held against single readings"
    above = OfReadings(high, months, is_season_known).allowance
    assert above and above.metres > 0.25 and above.is_season_known == is_season_known
