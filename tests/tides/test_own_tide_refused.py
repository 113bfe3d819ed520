"""What a record that tells nothing of its tide is answered, and what goes to the phone of a station by offsets."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from made import BEGIN, tide_of, times

from fieldlog.errors import RecordTooShort
from fieldlog.stations import find
from fieldlog.tides.beside_tide import examine, lags
from fieldlog.tides.phone import phone_numbers
from fieldlog.tides.proposal import propose
from fieldlog.tides.record import Levels

FORT = find("noaa/8670870")


def test_a_logger_dry_at_every_low_that_does_not_follow_the_port_is_told() -> None:
    """The tops of a swing of nine hours, which is nobody's tide, and no low among them."""
    t = times(BEGIN, 20)
    swing = np.cos(2 * np.pi * (t - t[0]) / (9 * 3600))
    wet = swing > 0.2
    with pytest.raises(RecordTooShort, match="does not follow the reference port's tide"):
        propose(Levels(t[wet], swing[wet] + 2.0), FORT, (32.0, -80.9))


@pytest.mark.parametrize(("days", "says"), [(3.9, "The record holds 3.9 days, fewer than 4: leave the logger out for a month.")])
def test_four_days_are_the_least_that_anything_is_made_from(days: float, says: str) -> None:
    t = times(BEGIN, days)
    with pytest.raises(RecordTooShort) as fault:
        propose(Levels(t, tide_of(FORT, BEGIN, days)(t)), FORT, (32.0, -80.9))
    assert fault.value.sentence == says


def test_a_record_of_just_four_days_is_tried_and_each_step_is_named_before_it_is_taken() -> None:
    """The last two days are held back; harmonic constants need fourteen."""
    t = times(BEGIN, 5)
    t = t[t <= t[0] + 4 * 86_400]
    steps: list[str] = []
    found = propose(Levels(t, tide_of(FORT, BEGIN, 5)(t)), FORT, (32.0, -80.9), tell=steps.append)
    assert steps[:2] == ["datums against the control station", "trying station on 2 held-back days"]
    assert [step for step in steps if step.startswith("trying")] == [f"trying {kind} on 2 held-back days" for kind in ("station", "offsets", "constants")]
    assert "station" in {one.kind for one in found.candidates}
    assert any("harmonic constants need 14 or more" in reason for reason in found.reasons)


def test_a_control_that_shares_under_four_days_says_nothing_of_the_datums() -> None:
    t = times(BEGIN, 12)
    tide = tide_of(FORT, BEGIN, 12)(t)
    late = t >= t[0] + 8.1 * 86_400
    with pytest.raises(RecordTooShort, match="share fewer than four days"):
        propose(Levels(t, tide), FORT, (32.0, -80.9), control=Levels(t[late], tide[late]))


def test_a_tide_that_stands_still_has_no_lag_and_no_likeness() -> None:
    t = times(BEGIN, 10)
    levels = Levels(t, tide_of(FORT, BEGIN, 10)(t))
    still = lags(levels, lambda at_s: np.zeros(len(at_s)))
    assert still.minutes.tolist() == [0.0]
    assert still.middle_s.tolist() == [pytest.approx((t[0] + t[-1]) / 2)]
    flat = Levels(t, np.full(len(t), 1.5))
    assert [fault.word for fault in examine(flat, tide_of(FORT, BEGIN, 10))[1]] == ["not-the-tide"]


def test_a_station_by_offsets_goes_to_the_phone_with_its_offsets_and_its_references_numbers() -> None:
    hudson = find("noaa/8518974")
    told = phone_numbers(hudson, datetime(2026, 12, 30, tzinfo=UTC), datetime(2027, 1, 2, tzinfo=UTC))
    own = hudson.offsets
    assert own is not None and own.minutes_high != own.minutes_low
    assert told["offsets"] == {
        "high": {"minutes": own.minutes_high, "times": own.times_high, "plus_m": own.plus_high_m},
        "low": {"minutes": own.minutes_low, "times": own.times_low, "plus_m": own.plus_low_m},
    }
    assert told["is_estimated"] is True
    assert [one["year"] for one in told["numbers"]] == [2026, 2027]
    fort = phone_numbers(FORT, datetime(2026, 6, 1, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC) + timedelta(days=1))
    assert (fort["offsets"], fort["is_estimated"]) == (None, False)
