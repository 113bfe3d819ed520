"""
A water-level record, and what is wrong with it: every fault is told, and what cannot be levels is taken out.

Gaps, doubled times, spikes, a logger that fell dry at low water, one that was moved, a clock that drifts or jumps. Limits
are our own choice where no source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldlog.tides.evenly import interval_s

SPIKE_M = 0.15
"""A level this far from the median of its neighbours, and six times their usual distance, is a spike."""

DRY_RANGE_M = 0.01
DRY_LEAST_MIN = 40.0
DRY_SHARPNESS = 3.0
"""Flat ground is left with a kink: the water falls this many times faster before it than a low's parabola would."""

NOT_THE_TIDE = 0.05
WEAK = 0.5
"""Under these shares of a record's movement following the tide nearby, it is no water level of this shore, or a doubtful one."""

LEAST_TIDE_M = 0.10
"""Where the tide moves by less than this (standard deviation) the weather may well move the water more."""

LARGEST_M = 5.0
"""No tide's standard deviation is larger: the largest, of 16 m range, has about 5 m."""

UNLIKE_TIMES = 2.5
"""A range so many times the port's, or its inverse, may be the shore's own, or a wrong unit: feet read as metres are 3.3."""

MOVED_M = 0.10
DRIFT_MIN = 5.0
JUMP_MIN = 20.0
_DAY_S = 86_400.0


@dataclass(frozen=True)
class Levels:
    """Times (seconds since 1970 UTC, rising) and levels (metres above the record's own zero), each of shape (n,)."""

    t_s: np.ndarray
    level_m: np.ndarray

    @property
    def days(self) -> float:
        """Length, gaps included."""
        return float(self.t_s[-1] - self.t_s[0]) / _DAY_S if len(self.t_s) else 0.0

    def only(self, keep: np.ndarray) -> Levels:
        """Those of a mask or of a slice's indexes."""
        return Levels(self.t_s[keep], self.level_m[keep])


@dataclass(frozen=True)
class Fault:
    """What was found: a word, how many levels or events it concerns, from when to when (seconds since 1970 UTC), and a size."""

    word: str
    count: int
    from_s: float
    to_s: float
    size: float
    """Hours for a gap, metres for a spike or a move, minutes for a clock, a share or a ratio for what does not follow the tide."""


def in_order(t_s: np.ndarray, level_m: np.ndarray) -> tuple[Levels, list[Fault]]:
    """Levels in time order, each time once: the first of several is kept."""
    order = np.argsort(t_s, kind="stable")
    times, first = np.unique(t_s[order], return_index=True)
    faults = []
    back = int((np.diff(t_s) < 0).sum())
    if back:
        faults.append(Fault("out-of-order", back, float(times[0]), float(times[-1]), 0.0))
    if len(times) < len(t_s):
        faults.append(Fault("doubled", len(t_s) - len(times), float(times[0]), float(times[-1]), 0.0))
    return Levels(times, level_m[order][first]), faults


def gaps(levels: Levels) -> list[Fault]:
    """Each gap of more than one and a half intervals; size in hours."""
    step = np.diff(levels.t_s)
    usual = interval_s(levels.t_s)
    return [
        Fault("gap", round(float(step[i] / usual)) - 1, float(levels.t_s[i]), float(levels.t_s[i + 1]), float(step[i]) / 3600)
        for i in np.flatnonzero(step > 1.5 * usual)
    ]


def without_spikes(levels: Levels) -> tuple[Levels, list[Fault]]:
    """Without levels that stand far off both of their sides; size is the farthest, metres."""
    z = levels.level_m
    if len(z) < 7:
        return levels, []
    # Mirrored at the ends, so that a wild first level is not its own neighbour.
    padded = np.pad(z, 3, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 7)
    off = np.abs(z - np.median(windows, axis=1))
    # A steep tide moves its own neighbours apart: the usual distance tells how much.
    limit = max(SPIKE_M, 6 * float(np.percentile(off, 90)))
    is_spike = off > limit
    if not is_spike.any():
        return levels, []
    at = levels.t_s[is_spike]
    return levels.only(~is_spike), [Fault("spike", int(is_spike.sum()), float(at[0]), float(at[-1]), float(off[is_spike].max()))]


def without_dry(levels: Levels) -> tuple[Levels, list[Fault]]:
    """
    Without the stretches in which the logger lay dry, or in a puddle: flat where a low water would be round.

    A low is a parabola: of a stretch of length L that stays within r, the half hour before it drops by r ((1 + 60 min / L)^2 - 1).
    Where the drop was three times that or more, what ended it was the ground.
    """
    t, z = levels.t_s, levels.level_m
    drop = np.zeros(len(z), bool)
    runs = 0
    lowest = float(np.percentile(z, 40))
    for start, end in _flat_runs(t, z, lowest):
        length_min = (t[end] - t[start]) / 60
        if length_min < DRY_LEAST_MIN:
            continue
        before = _level_at(t, z, t[start] - 1800)
        spread = max(float(np.ptp(z[start : end + 1])), 0.004)
        rounded = spread * ((1 + 60 / length_min) ** 2 - 1)
        if before is not None and before - z[start] > max(DRY_SHARPNESS * rounded, 0.03):
            drop[start : end + 1] = True
            runs += 1
    if not runs:
        return levels, []
    at = t[drop]
    return levels.only(~drop), [Fault("dry", runs, float(at[0]), float(at[-1]), float(np.median(z[drop])))]


def _flat_runs(t: np.ndarray, z: np.ndarray, below_m: float) -> list[tuple[int, int]]:
    """Stretches under a level in which it moves by a centimetre at most, each as long as it gets."""
    runs = []
    start = 0
    while start < len(z):
        if z[start] > below_m:
            start += 1
            continue
        end, low, high = start, z[start], z[start]
        while end + 1 < len(z) and t[end + 1] - t[end] <= 5400:
            low_next, high_next = min(low, z[end + 1]), max(high, z[end + 1])
            if high_next - low_next > DRY_RANGE_M:
                break
            end, low, high = end + 1, low_next, high_next
        if end > start + 1:
            runs.append((start, end))
            start = end + 1
        else:
            start += 1
    return runs


def _level_at(t: np.ndarray, z: np.ndarray, at_s: float) -> float | None:
    after = int(np.searchsorted(t, at_s))
    if after == 0 or after >= len(t) or t[after] - t[after - 1] > 5400:
        return None
    return float(np.interp(at_s, t[after - 1 : after + 1], z[after - 1 : after + 1]))


def moves(levels: Levels, predicted_m: np.ndarray) -> list[Fault]:
    """
    Where the logger seems to have been moved: what is left beside the tide steps at once and stays there for days.

    Args:
        predicted_m: the tide at the record's times, shape (n,), metres above any zero.

    Returns:
        A fault a step; size in metres, up positive.
    """
    left, t = levels.level_m - predicted_m, levels.t_s
    few = max(3, round(5400 / interval_s(t)))
    if len(left) < 4 * few:
        return []
    medians = np.median(np.lib.stride_tricks.sliding_window_view(left, few), axis=1)
    # step[i]: the few levels from place i + few on against the few before it; a gap in between does not matter.
    step = medians[few:] - medians[:-few]
    # The weather has time to move the water across a hole, so a step there must be larger.
    hole_h = (t[few : few + len(step)] - t[few - 1 : few - 1 + len(step)] - interval_s(t)) / 3600
    limit_m = max(MOVED_M, 6 * float(np.median(np.abs(step)))) * np.clip(1 + hole_h / 3, 1, 2)
    sharp = np.abs(step) > limit_m
    faults: list[Fault] = []
    place = 0
    while place < len(step):
        if not sharp[place]:
            place += 1
            continue
        end = min(len(step), place + 2 * few)
        at = place + int(np.argmax(np.abs(step[place:end]))) + few
        stays = _stays(t, left, at)
        if stays is not None and stays * step[at - few] > 0 and abs(stays) >= MOVED_M:
            faults.append(Fault("moved", 1, float(t[at - 1]), float(t[at]), stays))
        place = end
    return faults


def _stays(t: np.ndarray, left: np.ndarray, at: int) -> float | None:
    """The difference of the medians of five days after and before a place; None where there are not two days of both."""
    before = left[:at][t[:at] > t[at - 1] - 5 * _DAY_S]
    after = left[at:][t[at:] < t[at] + 5 * _DAY_S]
    if t[at - 1] - t[0] < 2 * _DAY_S or t[-1] - t[at] < 2 * _DAY_S:
        return None
    return float(np.median(after) - np.median(before))


def clock_faults(levels: Levels, tide_at: Callable[[np.ndarray], np.ndarray]) -> list[Fault]:
    """
    A clock that drifts against the tide, or jumps (an hour: summer time).

    Args:
        tide_at: the predicted tide at any times, seconds since 1970; its own lag against the site does not matter.

    Returns:
        "drift" with its minutes over the whole record, or "clock-jump" with the minutes of the jump.
    """
    centre, lag_min = lags(levels, tide_at)
    if len(centre) < 4:
        return []
    steps = np.diff(lag_min)
    largest = int(np.argmax(np.abs(steps)))
    others = np.delete(steps, largest)
    if abs(steps[largest]) >= JUMP_MIN and abs(steps[largest]) > 4 * float(np.median(np.abs(others))):
        return [_jump(levels, tide_at, lag_min, centre, largest)]
    slope, _ = np.polyfit(centre, lag_min, 1)
    whole = float(slope * (levels.t_s[-1] - levels.t_s[0]))
    error = float(np.std(lag_min - np.polyval(np.polyfit(centre, lag_min, 1), centre)))
    if abs(whole) >= max(DRIFT_MIN, 2.5 * error):
        return [Fault("drift", 1, float(levels.t_s[0]), float(levels.t_s[-1]), whole)]
    return []


def _jump(
    levels: Levels, tide_at: Callable[[np.ndarray], np.ndarray], lag_min: np.ndarray, centre: np.ndarray, week: int
) -> Fault:
    """
    When a clock jumped, between two weeks' lags: where one lag before and another after leave the least of the level unexplained.

    The week of the jump has a lag between the two, so the weeks beside it tell them.
    """
    before, after = float(np.median(lag_min[: max(1, week)])), float(np.median(lag_min[min(week + 2, len(lag_min) - 1) :]))
    near = (levels.t_s > centre[week] - 5 * _DAY_S) & (levels.t_s < centre[week + 1] + 5 * _DAY_S)
    part = levels.only(near)
    off = []
    for lag in (before, after):
        tide = tide_at(part.t_s - 60 * lag)
        slope, level = np.polyfit(tide, part.level_m, 1)
        off.append((part.level_m - level - slope * tide) ** 2)
    unexplained = np.cumsum(off[0] - off[1])
    at = min(int(np.argmin(unexplained)), len(part.t_s) - 2)
    return Fault("clock-jump", 1, float(part.t_s[at]), float(part.t_s[at + 1]), after - before)


def examine(levels: Levels, tide_at: Callable[[np.ndarray], np.ndarray]) -> tuple[Levels, list[Fault]]:
    """
    Everything that is wrong with a record in time order, and the levels that can be used.

    Args:
        tide_at: the tide predicted nearby at any times, seconds since 1970; metres above any zero.
    """
    faults = gaps(levels)
    for cleared in (without_spikes, without_dry):
        levels, found = cleared(levels)
        faults += found
    faults += clock_faults(levels, tide_at)
    if levels.days >= 4:
        fitted, times = _fitted(levels, tide_at)
        faults += likeness(levels, fitted, times) + moves(levels, fitted)
    return levels, faults


def likeness(levels: Levels, fitted_m: np.ndarray, times: float) -> list[Fault]:
    """
    Whether the record moves as the tide nearby does: a barometer's file, another column and a wrong unit do not.

    Args:
        fitted_m: the nearby tide brought to the record's range, shape (n,).
        times: the record's range in the nearby tide's.

    Returns:
        "not-the-tide" (size: the share of the movement that follows the tide), "too-large" (its standard deviation, metres),
        "weak" (the share) or "range" (how many times the nearby range).
    """
    def fault(word: str, size: float) -> list[Fault]:
        return [Fault(word, len(levels.t_s), float(levels.t_s[0]), float(levels.t_s[-1]), size)]

    moved_m = float(np.std(levels.level_m))
    share = 0.0 if times <= 0 or moved_m == 0 else 1 - float(np.var(levels.level_m - fitted_m)) / moved_m**2
    tide_m = float(np.std(fitted_m)) / abs(times) if times else 0.0
    if moved_m > LARGEST_M:
        return fault("too-large", moved_m)
    if share < NOT_THE_TIDE and (tide_m > LEAST_TIDE_M or moved_m == 0):
        return fault("not-the-tide", share)
    if share < WEAK:
        return fault("weak", share)
    return [] if 1 / UNLIKE_TIMES <= times <= UNLIKE_TIMES else fault("range", times)


def _fitted(levels: Levels, tide_at: Callable[[np.ndarray], np.ndarray]) -> tuple[np.ndarray, float]:
    """The nearby tide brought to the record's own range and weekly lag, and that range in the tide's."""
    centres, lag_min = lags(levels, tide_at)
    lag_s = np.zeros(len(levels.t_s)) if not len(centres) else 60 * _nearest(levels.t_s, centres, lag_min)
    tide = tide_at(levels.t_s - lag_s)
    b, a = np.polyfit(tide, levels.level_m, 1)
    fitted: np.ndarray = a + b * tide
    return fitted, float(b)


def _nearest(t_s: np.ndarray, centres: np.ndarray, values: np.ndarray) -> np.ndarray:
    """The value of the nearest centre: a clock that jumped is not smoothed over."""
    found: np.ndarray = values[np.abs(t_s[:, None] - centres[None, :]).argmin(axis=1)]
    return found


def lags(levels: Levels, tide_at: Callable[[np.ndarray], np.ndarray], chunk_days: float = 7.4) -> tuple[np.ndarray, np.ndarray]:
    """
    Minutes by which the record runs later than the predicted tide, a value a week (half a spring-neap cycle).

    Level = a + b tide - b lag d(tide)/dt, by least squares, twice: the second time about the first lag.
    """
    centres, found = [], []
    edges = np.arange(levels.t_s[0], levels.t_s[-1] + 1, chunk_days * _DAY_S)
    for start, end in pairwise(edges):
        part = levels.only((levels.t_s >= start) & (levels.t_s < end))
        if len(part.t_s) < 40 or part.days < chunk_days / 2:
            continue
        lag_s = 0.0
        for _ in range(3):
            at = part.t_s - lag_s
            tide, rate = tide_at(at), (tide_at(at + 60) - tide_at(at - 60)) / 120
            _, b, c = np.linalg.lstsq(np.column_stack([np.ones(len(at)), tide, rate]), part.level_m, rcond=None)[0]
            if b <= 0.05:
                break
            lag_s += float(np.clip(-c / b, -7200, 7200))
        else:
            centres.append((start + end) / 2)
            found.append(lag_s / 60)
    return np.array(centres), np.array(found)
