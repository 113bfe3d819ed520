"""
Residuals: how much higher the water stood than predicted, and the allowance that follows.

What counts on the shore is the water around low: for each low, the highest of the hourly means of observed minus
predicted within two hours of it. An allowance that is exceeded on 5 % of lows is the 95th percentile of these.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.tides.evenly import interval_s
from fieldlog.tides.record import Levels

AROUND_LOW_S = 2 * 3600
PERCENTILES = (50, 90, 95, 99)
LEAST_LOWS = 30
"""Fewer say nothing of the one in twenty; our own choice."""

LEAST_READINGS = 20
SEASONS = {"winter": (12, 1, 2), "spring": (3, 4, 5), "summer": (6, 7, 8), "autumn": (9, 10, 11)}
"""Months of the northern year; the southern one is turned by six months (`season_of`)."""


@dataclass(frozen=True)
class Spread:
    """How residuals are spread: how many, and metres by percentile (P50, P90, P95, P99)."""

    count: int
    metres: dict[int, float]


@dataclass(frozen=True)
class Residuals:
    """Of a whole record and by season; from and to which year; ``what`` is "low waters" or "readings"."""

    whole: Spread
    seasons: dict[str, Spread]
    first: datetime
    last: datetime
    what: str

    @property
    def allowance_m(self) -> float | None:
        """The level exceeded on 5 % of them, rounded up to whole centimetres; None where they are too few to say."""
        least = LEAST_LOWS if self.what == "low waters" else LEAST_READINGS
        if self.whole.count < least:
            return None
        return max(0.0, float(np.ceil(round(self.whole.metres[95] * 100, 6)) / 100))

    @property
    def basis(self) -> str:
        """Where the allowance comes from, such as "exceeded on 5 % of low waters, 412 lows, 2025-26"."""
        years = str(self.first.year) if self.first.year == self.last.year else f"{self.first.year}-{self.last.year % 100:02d}"
        if self.what == "low waters":
            return f"exceeded on 5 % of low waters, {self.whole.count} lows, {years}"
        return f"exceeded in 5 % of staff readings, {self.whole.count} readings, {years}"


def at_lows(
    levels: Levels, predicted_at: Callable[[np.ndarray], np.ndarray], lows_s: Sequence[float], lat_deg: float
) -> Residuals | None:
    """
    Residuals around each predicted low of a record; None where no low has its hours on record.

    Args:
        levels: the record, its zero brought to the prediction's.
        predicted_at: predicted levels, metres, at times in seconds since 1970.
        lows_s: predicted lows, seconds since 1970.
        lat_deg: tells the season.
    """
    left = levels.level_m - predicted_at(levels.t_s)
    width = max(1, round(3600 / interval_s(levels.t_s)))
    hourly = np.convolve(left, np.ones(width) / width, "same") if width > 1 else left
    found: list[tuple[float, float]] = []
    whole = 2 * AROUND_LOW_S / interval_s(levels.t_s)
    for low_s in lows_s:
        first, last = np.searchsorted(levels.t_s, (low_s - AROUND_LOW_S, low_s + AROUND_LOW_S))
        if last - first >= 0.7 * whole:
            found.append((low_s, float(hourly[first:last].max())))
    return _spread_out(found, lat_deg, "low waters")


def of_readings(at_s: Sequence[float], left_m: Sequence[float], lat_deg: float) -> Residuals | None:
    """Residuals of single readings at a staff or a mark; None where there is none."""
    return _spread_out(list(zip(at_s, left_m, strict=True)), lat_deg, "readings")


def season_of(at_s: float, lat_deg: float) -> str:
    """The season of an instant on its hemisphere."""
    month = datetime.fromtimestamp(at_s, UTC).month
    if lat_deg < 0:
        month = (month + 5) % 12 + 1
    return next(name for name, months in SEASONS.items() if month in months)


def _spread_out(found: list[tuple[float, float]], lat_deg: float, what: str) -> Residuals | None:
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
        what,
    )


def _spread(values: list[float]) -> Spread:
    return Spread(len(values), {p: float(np.percentile(values, p)) for p in PERCENTILES})
