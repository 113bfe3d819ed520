"""Levels, curves and highs and lows of a station, straight from its constants."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from fieldlog.errors import BadSpan
from fieldlog.tides.curve import Curve
from fieldlog.tides.extremes import Extreme
from fieldlog.tides.station import Station
from fieldlog.tides.trace import sum_levels
from fieldlog.tides.yearly import YearNumbers, yearly_numbers

_SHORTEST_STEP = timedelta(seconds=1)
_LONGEST_LIST = 600_000


def predict_levels(station: Station, at_utc: np.ndarray) -> np.ndarray:
    """
    Predict water levels.

    At a harmonic station each time is summed with its own UTC year's numbers; at a station by offsets the levels
    are read from the warped curve and are estimates.

    Args:
        station: The station.
        at_utc: Times, shape (n,), datetime64, UTC, in any order.

    Returns:
        Levels, shape (n,), metres above the station's chart datum.
    """
    at_ms = at_utc.astype("datetime64[ms]")
    if not at_ms.size:
        return np.zeros(at_ms.shape)
    if station.offsets is not None:
        first, last = (_aware(at_ms.min()), _aware(at_ms.max()))
        return Curve.for_station(station, first, last + timedelta(seconds=1)).levels_at(at_ms)
    first, last = (_aware(at_ms.flat[0]), _aware(at_ms.flat[-1]))
    if first.year == last.year and _is_even(at_ms):
        return _evenly(yearly_numbers(station, first.year), at_ms)
    years = at_ms.astype("datetime64[Y]").astype(int) + 1970
    levels = np.empty(at_ms.shape)
    for year in np.unique(years):
        of_year = years == year
        levels[of_year] = _summed(yearly_numbers(station, int(year)), at_ms[of_year])
    return levels


def _summed(numbers: YearNumbers, at_ms: np.ndarray) -> np.ndarray:
    start = np.datetime64(numbers.start_utc.replace(tzinfo=None), "ms")
    hours = (at_ms - start).astype(np.int64) / 3_600_000
    angles = np.outer(hours, np.radians(numbers.speed_deg_per_h)) + np.radians(numbers.phase_deg)
    level_m: np.ndarray = numbers.mean_level_m + np.cos(angles) @ numbers.amplitude_m
    return level_m


def _is_even(at_ms: np.ndarray) -> bool:
    """Whether times rise by one and the same step."""
    if at_ms.ndim != 1 or len(at_ms) < 2:
        return False
    step = np.diff(at_ms.view(np.int64))
    return bool(step[0] > 0 and (step == step[0]).all())


def _evenly(numbers: YearNumbers, at_ms: np.ndarray) -> np.ndarray:
    """Even times inside one year: one matrix product (trace.sum_levels) instead of a cosine for each time."""
    from_ms, step_ms = int(at_ms[0].astype(np.int64)), int((at_ms[1] - at_ms[0]).astype(np.int64))
    first_s = from_ms / 1000 - numbers.start_utc.timestamp()
    return sum_levels(numbers, first_s, step_ms / 1000, len(at_ms))


def _aware(at_ms: np.datetime64) -> datetime:
    return datetime.fromtimestamp(int(at_ms.astype(np.int64)) / 1000, UTC)


def level_curve(
    station: Station, from_utc: datetime, to_utc: datetime, step: timedelta
) -> tuple[np.ndarray, np.ndarray]:
    """
    Levels at even steps from one instant, as far as another (included where a step falls on it).

    Returns:
        Times, shape (n,), datetime64[ms], UTC, and levels, shape (n,), metres above chart datum.

    Raises:
        BadSpan: the span is empty, the step under one second, or the list longer than 600,000 levels.
    """
    if step < _SHORTEST_STEP:
        raise BadSpan(f"A step of {step.total_seconds():g} s is too short: give one second or more.")
    count = int((to_utc - from_utc) / step) + 1
    if count > _LONGEST_LIST:
        raise BadSpan(f"That would be {count:,} levels, at most {_LONGEST_LIST:,}: take a longer step or less time.")
    curve = Curve.for_station(station, from_utc, to_utc)
    first_ms = round(from_utc.timestamp() * 1000)
    steps_ms = np.arange(count) * round(step.total_seconds() * 1000)
    at_ms = (first_ms + steps_ms).astype("datetime64[ms]")
    return at_ms, curve.levels_at(at_ms)


def tide_extremes(station: Station, from_utc: datetime, to_utc: datetime) -> list[Extreme]:
    """Highs and lows from one instant to another, both included, in time order, by the list rule."""
    return Curve.for_station(station, from_utc, to_utc).extremes()
