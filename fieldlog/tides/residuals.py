"""
Residuals: how much higher the water stood than predicted.

What counts on the shore is the water around low: for each low, the highest of the hourly means of observed minus
predicted within two hours of it. What they ask for in the year to come says allowance.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.tides.evenly import interval_s

AROUND_LOW_S = 2 * 3600
LEAST_SHARE = 0.7
"""Of the readings about a low that must be there for it to count. Our own choice, no source."""

PERCENTILES = (50, 90, 95, 99)
SEASONS = {"winter": (12, 1, 2), "spring": (3, 4, 5), "summer": (6, 7, 8), "autumn": (9, 10, 11)}
"""Months of the northern year; the southern one is turned by six months (`season_of`)."""


@dataclass(frozen=True)
class Spread:
    """How residuals are spread: how many, and metres by percentile (P50, P90, P95, P99)."""

    count: int
    metres: dict[int, float]


@dataclass(frozen=True)
class Residuals:
    """Of a whole record and by season, from when to when; ``left_m`` are the residuals themselves, metres."""

    whole: Spread
    seasons: dict[str, Spread]
    first: datetime
    last: datetime
    left_m: tuple[float, ...]

    @property
    def years(self) -> str:
        """Of which years, such as 2025-26."""
        return str(self.first.year) if self.first.year == self.last.year else f"{self.first.year}-{self.last.year % 100:02d}"


def at_lows(t_s: np.ndarray, left_m: np.ndarray, lows_s: Sequence[float], lat_deg: float) -> Residuals | None:
    """
    Residuals around each predicted low of a record; None where no low has its hours on record.

    Args:
        t_s: times of the levels, seconds since 1970, rising.
        left_m: observed less predicted there, metres.
        lows_s: predicted lows, seconds since 1970.
        lat_deg: tells the season.
    """
    width = max(1, round(3600 / interval_s(t_s)))
    hourly = np.convolve(left_m, np.ones(width) / width, "same") if width > 1 else left_m
    found: list[tuple[float, float]] = []
    whole = 2 * AROUND_LOW_S / interval_s(t_s)
    for low_s in lows_s:
        first, last = np.searchsorted(t_s, low_s - AROUND_LOW_S), np.searchsorted(t_s, low_s + AROUND_LOW_S, "right")
        if last - first >= LEAST_SHARE * whole:
            found.append((low_s, float(hourly[first:last].max())))
    return _spread_out(found, lat_deg)


def of_readings(at_s: Sequence[float], left_m: Sequence[float], lat_deg: float) -> Residuals | None:
    """Residuals of single readings at a staff or a mark; None where there is none."""
    return _spread_out(list(zip(at_s, left_m, strict=True)), lat_deg)


def season_of(at_s: float, lat_deg: float) -> str:
    """The season of an instant on its hemisphere."""
    month = datetime.fromtimestamp(at_s, UTC).month
    if lat_deg < 0:
        month = (month + 5) % 12 + 1
    return next(name for name, months in SEASONS.items() if month in months)


def _spread_out(found: list[tuple[float, float]], lat_deg: float) -> Residuals | None:
    if not found:
        return None
    by_season: dict[str, list[float]] = {name: [] for name in SEASONS}
    for at_s, left_m in found:
        by_season[season_of(at_s, lat_deg)].append(left_m)
    times = [at_s for at_s, _ in found]
    return Residuals(
        _spread([left_m for _, left_m in found]),
        {name: _spread(values) for name, values in by_season.items() if values},
        datetime.fromtimestamp(min(times), UTC),
        datetime.fromtimestamp(max(times), UTC),
        tuple(left_m for _, left_m in found),
    )


def _spread(values: list[float]) -> Spread:
    return Spread(len(values), {p: float(np.percentile(values, p)) for p in PERCENTILES})
