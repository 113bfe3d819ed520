"""
A level curve as nodes of a piecewise cubic, and what can be read from it: levels, turning points, crossings.

Nodes ten minutes apart carry level and slope of the exact sum, so the cubic between them is good to 0.01 mm even at
a nine-metre range (test_trace). Two nodes at one time are a step, as at New Year.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fieldlog.tides.yearly import YearNumbers

_NODE_SPACING_S = 600.0
_BLOCK = 256
_BISECTIONS = 24


@dataclass(frozen=True, eq=False)
class Trace:
    """Nodes: t_s (seconds since 1970 UTC, never falling), level_m, slope_m_per_s; each of shape (n,)."""

    t_s: np.ndarray
    level_m: np.ndarray
    slope_m_per_s: np.ndarray


@dataclass(frozen=True, eq=False)
class TurningPoints:
    """
    Highs and lows in turn, each of shape (n,): time, level, whether a high, and the index of its node in the trace.

    ``before_m`` is the level just before; it differs from ``level_m`` only at a step.
    """

    t_s: np.ndarray
    level_m: np.ndarray
    before_m: np.ndarray
    is_high: np.ndarray
    node: np.ndarray


def sum_constituents(numbers: YearNumbers, first_s: float, step_s: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """
    Levels (m) and slopes (m/s) at ``count`` times, ``step_s`` apart, from ``first_s`` seconds after the year's start.

    Block phasors: a rotation by a sum of two angles is the product of two, so only one block's times and the blocks'
    starts are rotated, and the rest is one matrix product.
    """
    starts, within = _phasors(numbers, first_s, step_s, count)
    speed = np.radians(numbers.speed_deg_per_h)[:, None] / 3600
    return _real_product(starts, within, count) + numbers.mean_level_m, _real_product(1j * speed * starts, within, count)


def sum_levels(numbers: YearNumbers, first_s: float, step_s: float, count: int) -> np.ndarray:
    """The levels of sum_constituents without the slopes."""
    levels = _real_product(*_phasors(numbers, first_s, step_s, count), count)
    levels += numbers.mean_level_m
    return levels


def _phasors(numbers: YearNumbers, first_s: float, step_s: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Each constituent's phasor at the blocks' starts, shape (n, blocks), and its rotation within a block, (n, _BLOCK)."""
    speed = np.radians(numbers.speed_deg_per_h) / 3600
    first = numbers.amplitude_m * np.exp(1j * (np.radians(numbers.phase_deg) + speed * first_s))
    starts = first[:, None] * _rotations(speed * step_s * _BLOCK, math.ceil(count / _BLOCK))
    return starts, _rotations(speed * step_s, _BLOCK)


def _rotations(step_rad: np.ndarray, count: int) -> np.ndarray:
    """exp(i k step) for k from 0 to count - 1, shape (n, count), split once more: a cosine costs far more than a product."""
    inner = math.isqrt(count - 1) + 1
    fine = np.exp(1j * np.outer(step_rad, np.arange(inner)))
    coarse = np.exp(1j * np.outer(step_rad * inner, np.arange(math.ceil(count / inner))))
    return (coarse[:, :, None] * fine[:, None, :]).reshape(len(step_rad), -1)[:, :count]


def _real_product(starts: np.ndarray, within: np.ndarray, count: int) -> np.ndarray:
    """The real part of starts times within, summed over the constituents, block after block: shape (count,)."""
    left, right = np.concatenate([starts.real, -starts.imag]), np.concatenate([within.real, within.imag])
    summed: np.ndarray = (left.T @ right).ravel()[:count]
    return summed


def trace_of_year(numbers: YearNumbers, from_utc: datetime, to_utc: datetime) -> Trace:
    """Nodes from one instant to another, both inside the year (its end included)."""
    span_s = (to_utc - from_utc).total_seconds()
    cells = max(1, math.ceil(span_s / _NODE_SPACING_S))
    first_s = (from_utc - numbers.start_utc).total_seconds()
    level_m, slope = sum_constituents(numbers, first_s, span_s / cells, cells + 1)
    return Trace(from_utc.timestamp() + np.linspace(0, span_s, cells + 1), level_m, slope)


def joined(traces: list[Trace]) -> Trace:
    """Traces that follow one another in time, as one."""
    return Trace(
        np.concatenate([trace.t_s for trace in traces]),
        np.concatenate([trace.level_m for trace in traces]),
        np.concatenate([trace.slope_m_per_s for trace in traces]),
    )


def levels_in(trace: Trace, t_s: np.ndarray) -> np.ndarray:
    """Levels (m) at times inside the trace; at a step, the level after it."""
    cell = np.clip(np.searchsorted(trace.t_s, t_s, side="right") - 1, 0, len(trace.t_s) - 2)
    width_s = trace.t_s[cell + 1] - trace.t_s[cell]
    # A span may end on a step; its last cell is then empty, and its end is the level after.
    x = np.where(width_s > 0, (t_s - trace.t_s[cell]) / np.where(width_s > 0, width_s, 1.0), 1.0)
    return _cubic(trace, cell, width_s, x)


def _cubic(trace: Trace, cell: np.ndarray, width_s: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Hermite's cubic in the given cells at x, 0 to 1 across each."""
    before, after = trace.level_m[cell], trace.level_m[cell + 1]
    slope_before, slope_after = trace.slope_m_per_s[cell] * width_s, trace.slope_m_per_s[cell + 1] * width_s
    rise = after - before
    square, cube = 3 * rise - 2 * slope_before - slope_after, slope_before + slope_after - 2 * rise
    level_m: np.ndarray = before + x * (slope_before + x * (square + x * cube))
    return level_m


def with_turning_points(trace: Trace) -> tuple[Trace, TurningPoints]:
    """The trace with a node at every high and low, so that each of its cells only rises or only falls."""
    rising = trace.slope_m_per_s >= 0
    cell = np.flatnonzero(rising[1:] != rising[:-1])
    width_s = trace.t_s[cell + 1] - trace.t_s[cell]
    is_step = width_s == 0
    x = _level_point(trace, cell, np.where(is_step, 1.0, width_s))
    x = np.where(is_step, 1.0, x)
    t_s = trace.t_s[cell] + x * width_s
    level_m = _cubic(trace, cell, width_s, x)
    inner = ~is_step
    grown = Trace(
        np.insert(trace.t_s, cell[inner] + 1, t_s[inner]),
        np.insert(trace.level_m, cell[inner] + 1, level_m[inner]),
        np.insert(trace.slope_m_per_s, cell[inner] + 1, 0.0),
    )
    inserted_before = np.cumsum(inner) - inner
    before_m = np.where(is_step, trace.level_m[cell], level_m)
    return grown, TurningPoints(t_s, level_m, before_m, rising[cell], cell + 1 + inserted_before)


def _level_point(trace: Trace, cell: np.ndarray, width_s: np.ndarray) -> np.ndarray:
    """Where in each cell (0 to 1) the cubic's slope, of two signs at its ends, is nought: Newton from the chord."""
    start, end = trace.slope_m_per_s[cell] * width_s, trace.slope_m_per_s[cell + 1] * width_s
    rise = trace.level_m[cell + 1] - trace.level_m[cell]
    linear, square = 2 * (3 * rise - 2 * start - end), 3 * (start + end - 2 * rise)
    x: np.ndarray = start / (start - end)
    for _ in range(4):
        bend = linear + 2 * square * x
        safe = np.where(bend == 0, 1.0, bend)
        x = np.clip(np.where(bend == 0, x, x - (start + x * (linear + x * square)) / safe), 0.0, 1.0)
    return x


def crossings_in(trace: Trace, level_m: float) -> tuple[np.ndarray, np.ndarray]:
    """
    Times (s) at which the trace passes a level, and whether it rises there.

    The trace must have its turning points as nodes: then a cell holds a crossing exactly when its ends lie on the two
    sides of the level, and none is missed.
    """
    above = trace.level_m >= level_m
    cell = np.flatnonzero(above[1:] != above[:-1])
    is_rising = above[cell + 1]
    width_s = trace.t_s[cell + 1] - trace.t_s[cell]
    low, high = np.zeros(len(cell)), np.ones(len(cell))
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        passed = (_cubic(trace, cell, width_s, middle) >= level_m) == is_rising
        high, low = np.where(passed, middle, high), np.where(passed, low, middle)
    return trace.t_s[cell] + high * width_s, is_rising
