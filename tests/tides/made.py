"""Made water-level records for the tests of a site's own tide: a known tide, weather, noise, and faults put in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from fieldlog.tides.curve import Curve
from fieldlog.tides.record import Levels
from fieldlog.tides.station import Station

BEGIN = datetime(2026, 3, 1, tzinfo=UTC)
HOUR_S = 3600.0


def tide_of(station: Station, from_utc: datetime, days: float) -> Callable[[np.ndarray], np.ndarray]:
    """The station's level at times in seconds since 1970, three days beyond the span too."""
    edge = timedelta(days=3)
    curve = Curve.for_station(station, from_utc - edge, from_utc + timedelta(days=days) + edge)
    return lambda t_s: curve.levels_at((np.asarray(t_s) * 1000).astype("datetime64[ms]"))


def times(from_utc: datetime, days: float, step_s: float = 360.0) -> np.ndarray:
    return from_utc.timestamp() + np.arange(int(days * 86400 / step_s)) * step_s


def weather(count: int, step_s: float, metres: float, rng: np.random.Generator) -> np.ndarray:
    """A slow wander of a day and a half, as wind and pressure make it, of a given standard deviation."""
    width = int(36 * 3600 / step_s)
    window = np.hanning(width)
    white = rng.normal(0, 1, count + 2 * width)
    return metres * np.convolve(white, window / np.sqrt((window**2).sum()), "same")[width : width + count]


def beside(station: Station, rng: np.random.Generator, later_deg: float = 10.0, times: float = 1.1) -> Station:
    """A place near a station: its own range and time, and each constituent a little different."""
    own = tuple(
        (name, height * times * (1 + 0.04 * rng.normal()), (lag + later_deg + 3 * rng.normal()) % 360)
        for name, height, lag in station.constituents
    )
    return replace(station, constituents=own)


def cosine(days: float, step_s: float, period_h: float = 12.42, height_m: float = 1.0) -> Levels:
    """A tide of one constituent that is high at 1970."""
    t = np.arange(int(days * 86_400 / step_s)) * step_s
    return Levels(t, height_m * np.cos(2 * np.pi * t / (period_h * HOUR_S)))
