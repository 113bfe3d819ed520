"""
A water-level record, and what is wrong with it by itself: every fault is told, and what cannot be levels is taken out.

Gaps, doubled times, spikes, a logger that fell dry at low water; what only the tide beside it shows is beside_tide.py's.
Limits are our own choice where no source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fieldlog.tides.evenly import interval_s

SPIKE_M = 0.15
"""A level this far from the median of its neighbours, and six times their usual distance, is a spike."""

DRY_RANGE_M = 0.01
DRY_LEAST_MIN = 40.0
DRY_SHARPNESS = 3.0
"""Flat ground is left with a kink: the water falls this many times faster before it than a low's parabola would."""

LEAST_DAYS = 4.0
"""Of a record that anything is made from."""

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
    padded = np.pad(z, 3, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 7)
    off = np.abs(z - np.median(windows, axis=1))
    # The first and the last are their own neighbours there: the two beside them say where they should be.
    off[0], off[-1] = abs(z[0] - 2 * z[1] + z[2]), abs(z[-1] - 2 * z[-2] + z[-3])
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
