"""
Straight lines by least squares over arrays of any leading shape; the last axis are dates. Slopes are per unit of `t` (years), never per step.

Checked against the certified values of NIST's Norris and Michelson data.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldlog.outcomes.intervals import LEVEL, Interval, interval
from fieldlog.outcomes.results import YEAR_DAYS, Floats

LEAST_WAVE_VISITS, LEAST_WAVE_YEARS, LEAST_WAVE_MONTHS = 8, 1.75, 4
"""From so many visits, years and months apart a yearly wave stands beside the line (our suggestion)."""

SAME_SEASON_DAYS = 30.0


@dataclass(frozen=True, slots=True)
class Line:
    """
    A line y = intercept + slope t.

    Attributes:
        slope, intercept, slope_variance, residual_variance: of the leading shape.
        residuals: of the shape of y.
        spread: what the residual variance is divided by for the slope's: sum (t - mean t)² where there is no wave.
        df: n less what was fitted.
        amplitude: of the yearly wave; 0 without one.
    """

    slope: Floats
    intercept: Floats
    slope_variance: Floats
    residual_variance: Floats
    residuals: Floats
    spread: Floats
    df: int
    amplitude: Floats | float = 0.0

    def interval(self, level: float = LEVEL) -> Interval:
        """The slope with t(df)."""
        return interval(self.slope, np.sqrt(self.slope_variance), self.df, level)


def line(t: Floats, y: Floats) -> Line:
    """Least squares of y (..., k) on t (k,) or (..., k); k >= 3, t not all equal, none missing."""
    middle = t.mean(-1, keepdims=True)
    off = t - middle
    spread = (off * off).sum(-1)
    level = y.mean(-1, keepdims=True)
    slope = (off * (y - level)).sum(-1) / spread
    residuals = (y - level) - slope[..., None] * off
    df = y.shape[-1] - 2
    variance = (residuals**2).sum(-1) / df
    return Line(slope, (level - slope[..., None] * middle)[..., 0], variance / spread, variance, residuals, spread, df)


def line_with_wave(t: Floats, y: Floats) -> Line:
    """Least squares of y (..., k) on t (k,) in years, with a sin and a cos of one year beside the line; k >= 5."""
    turns = 2 * np.pi * t
    design = np.stack([np.ones_like(t), t - t.mean(), np.sin(turns), np.cos(turns)], -1)
    inverse = np.linalg.inv(design.T @ design)
    found = y @ design @ inverse
    residuals = y - found @ design.T
    df = len(t) - 4
    variance = (residuals**2).sum(-1) / df
    spread = np.asarray(1 / inverse[1, 1])
    intercept = found[..., 0] - found[..., 1] * t.mean()
    return Line(found[..., 1], intercept, variance / spread, variance, residuals, spread, df, np.hypot(found[..., 2], found[..., 3]))


def line_in_pieces(t: Floats, y: Floats, pieces: Sequence[int]) -> Line:
    """One slope, a level for each piece: a reset, a moved stake or another datum starts a new one. t (k,), y (..., k), a piece's number each."""
    numbers = np.asarray(pieces)
    own = numbers == np.unique(numbers)[:, None]
    members = own / own.sum(1, keepdims=True)
    off = t - (members @ t) @ own
    levels = (y @ members.T) @ own
    spread = (off * off).sum()
    slope = ((y - levels) * off).sum(-1) / spread
    residuals = y - levels - slope[..., None] * off
    df = len(t) - len(own) - 1
    variance = (residuals**2).sum(-1) / df
    return Line(slope, levels[..., 0], variance / spread, variance, residuals, spread, df)


def weighted_line(t: Floats, y: Floats, weights: Floats) -> Line:
    """Least squares with weights (..., k), scaled by its residuals: weights need be right only relative to each other."""
    whole = weights.sum(-1, keepdims=True)
    off = t - (weights * t).sum(-1, keepdims=True) / whole
    level = (weights * y).sum(-1, keepdims=True) / whole
    spread = (weights * off * off).sum(-1)
    slope = (weights * off * (y - level)).sum(-1) / spread
    residuals = y - level - slope[..., None] * off
    df = y.shape[-1] - 2
    variance = (weights * residuals**2).sum(-1) / df
    intercept = level[..., 0] - slope * (t - off)[..., 0]
    return Line(slope, intercept, variance / spread, variance, residuals, spread, df)


def parts_season(t: Floats) -> bool:
    """Whether visits at t years (k,) can tell a yearly wave from a line: enough of them, over long enough, in enough months of the year."""
    months = np.unique(np.floor(12 * ((t - t.min()) % 1.0 + 1e-9)))
    return len(t) >= LEAST_WAVE_VISITS and bool(np.ptp(t) >= LEAST_WAVE_YEARS - 1e-9) and len(months) >= LEAST_WAVE_MONTHS


def is_of_one_season(t: Floats) -> bool:
    """Whether all visits at t years (k,) are of the same time of year, within 30 days: then no season is in their line."""
    off = t - t[0]
    return bool((np.abs(off - np.round(off)) * YEAR_DAYS <= SAME_SEASON_DAYS).all())


def lag1(residuals: Floats, groups: Sequence[int] | None = None) -> float:
    """
    How far each value resembles the one before: sum e[t] e[t+1] / sum e[t]², about the mean; pairs across two groups are none.

    0 where nothing varies.
    """
    off = residuals - residuals.mean()
    whole = float((off * off).sum())
    within = np.ones(len(off) - 1) if groups is None else np.diff(np.asarray(groups)) == 0
    return float((off[:-1] * off[1:] * within).sum()) / whole if whole > 0 else 0.0
