"""Curves with known answers: straight lines between points, and a plain cosine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np


@dataclass(frozen=True)
class Turn:
    at_utc: datetime
    level_m: float
    kind: str


@dataclass(frozen=True)
class Passing:
    at_utc: datetime
    is_rising: bool


@dataclass(frozen=True)
class LineTide:
    """Straight lines between points (minutes after `start`, metres)."""

    start: datetime
    points: Sequence[tuple[float, float]]
    is_estimated: bool = False
    warnings: tuple[str, ...] = ()
    left_out_m: float = 0.0

    def extremes(self) -> list[Turn]:
        levels = [level for _, level in self.points]
        turns = []
        for k, (minute, level) in enumerate(self.points):
            others = [levels[j] for j in (k - 1, k + 1) if 0 <= j < len(levels)]
            if level > max(others) or level < min(others):
                kind = "high" if level > max(others) else "low"
                turns.append(Turn(self.start + timedelta(minutes=minute), level, kind))
        return turns

    def crossings(self, level_m: float) -> list[Passing]:
        found = []
        for (t0, a), (t1, b) in zip(self.points, self.points[1:], strict=False):
            if (a < level_m) != (b < level_m):
                minute = t0 + (t1 - t0) * (level_m - a) / (b - a)
                found.append(Passing(self.start + timedelta(minutes=minute), b > a))
        return found

    def crossing_times(self, level_m: float) -> tuple[np.ndarray, np.ndarray]:
        """The same as columns: seconds since 1970, and whether the level rises."""
        found = self.crossings(level_m)
        return np.array([one.at_utc.timestamp() for one in found]), np.array([one.is_rising for one in found], bool)


@dataclass(frozen=True)
class CosineTide:
    """One cosine whose first low is at `low_at`, for `count` lows: range and lowest level in metres, period in hours."""

    low_at: datetime
    range_m: float
    lowest_m: float = 0.0
    period_h: float = 12.42
    count: int = 1
    is_estimated: bool = False
    warnings: tuple[str, ...] = ()
    left_out_m: float = 0.0

    def extremes(self) -> list[Turn]:
        half = timedelta(hours=self.period_h / 2)
        return [
            Turn(self.low_at + k * half, self.lowest_m + (k % 2) * self.range_m, "high" if k % 2 else "low")
            for k in range(-1, 2 * self.count)
        ]

    def crossings(self, level_m: float) -> list[Passing]:
        share = (level_m - self.lowest_m) / self.range_m
        if not 0 < share < 1:
            return []
        away = timedelta(hours=self.period_h / math.tau * math.acos(1 - 2 * share))
        lows = [self.low_at + timedelta(hours=k * self.period_h) for k in range(self.count)]
        return [Passing(low + side * away, side > 0) for low in lows for side in (-1, 1)]

    def crossing_times(self, level_m: float) -> tuple[np.ndarray, np.ndarray]:
        """The same as columns: seconds since 1970, and whether the level rises."""
        found = self.crossings(level_m)
        return np.array([one.at_utc.timestamp() for one in found]), np.array([one.is_rising for one in found], bool)
