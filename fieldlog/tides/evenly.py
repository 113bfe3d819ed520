"""
A record on an even grid: hourly means with gaps as NaN, which is what harmonic analysis works on.

A year at six minutes is 87,600 levels; their hourly means say the same of the tide once each constituent's amplitude is
divided by what averaging takes from it (`averaging_response`), at a tenth of the memory.
"""

from __future__ import annotations

import numpy as np

_HOUR_S = 3600.0
_WHOLE_BLOCK = 0.8
"""The part of an hour's levels that must be there for its mean to count."""


def interval_s(t_s: np.ndarray) -> float:
    """The record's usual interval, seconds."""
    return float(np.median(np.diff(t_s)))


def hourly(t_s: np.ndarray, level_m: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """
    Hourly means on an even grid.

    Args:
        t_s: times, seconds, rising, shape (n,).
        level_m: levels, shape (n,), metres.

    Returns:
        Times of the means' middles, shape (m,); levels, NaN in gaps; and how many levels a mean is made of. A record at
        longer intervals than half an hour keeps its own, one level each.
    """
    step = interval_s(t_s)
    count = max(1, round(_HOUR_S / step))
    even = _HOUR_S / count if count > 1 else step
    grid = np.arange(t_s[0], t_s[-1] + even / 2, even)
    after = np.clip(np.searchsorted(t_s, grid), 1, len(t_s) - 1)
    is_near = (t_s[after] - t_s[after - 1]) <= 1.5 * step
    on_a_level = np.minimum(np.abs(t_s[after] - grid), np.abs(t_s[after - 1] - grid)) < 0.02 * step
    levels = np.where(is_near | on_a_level, np.interp(grid, t_s, level_m), np.nan)
    if count == 1:
        return grid, levels, 1
    blocks = len(grid) // count
    by_hour = levels[: blocks * count].reshape(blocks, count)
    here = np.isfinite(by_hour)
    enough = here.sum(axis=1) >= _WHOLE_BLOCK * count
    # A mean of an hour with a hole would lean to one side of its middle: the hole is bridged first.
    mean = np.full(blocks, np.nan)
    place = np.arange(count)
    for row in np.flatnonzero(enough & ~here.all(axis=1)):
        by_hour[row] = np.interp(place, place[here[row]], by_hour[row, here[row]])
    mean[enough] = by_hour[enough].mean(axis=1)
    return grid[: blocks * count : count] + even * (count - 1) / 2, mean, count


def averaging_response(speed_deg_per_h: float, count: int) -> float:
    """What is left of a cosine's amplitude in means of ``count`` even levels an hour (1 where there is one)."""
    half = np.radians(speed_deg_per_h) / count / 2
    return 1.0 if count == 1 else float(np.sin(count * half) / (count * np.sin(half)))
