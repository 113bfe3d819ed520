"""
Whether a logger was moved, or its level drifts: what is left of a record beside the tide steps and stays, or slides.

Limits are our own choice where no source stands beside them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fieldlog.tides.evenly import interval_s
from fieldlog.tides.record import Fault, Levels

MOVED_M = 0.10
WEATHER_SIGMAS = 3.0
"""A step counts from so many times (by the median) what the water's level did over as long a time elsewhere in the record."""

LEAST_SIDE_DAYS = 1.0
"""Of the medians that tell the weather; a part too short for them cannot say that a logger was moved across a hole."""

LEVEL_DRIFT_M = 0.20
DRIFT_SIGMAS = 2.0
LEAST_DRIFT_WEEKS = 4
"""A slide of less over the whole record is weather, and so is one within twice its own uncertainty; both from a month on."""

_WEEK_S = 7 * 86_400.0
_DAY_S = 86_400.0


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
    # The weather has time to move the water across a hole, so a step there must be larger: a hole anywhere among these levels,
    # since the median of a few that reach over it is that of the side where most of them lie.
    hole_h = np.lib.stride_tricks.sliding_window_view(np.diff(t) - interval_s(t), 2 * few - 1).max(axis=1) / 3600
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
        is_far = stays is not None and abs(stays) >= max(MOVED_M, _weather_m(t, left, at))
        if stays is not None and is_far and stays * step[at - few] > 0:
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


def _weather_m(t: np.ndarray, left: np.ndarray, at: int) -> float:
    """
    How far a step before a place must go, by what the longer side's weather does over as long.

    A side too short to tell leaves a sharp step what it is, and a step across a hole is then none.
    """
    hole_s = float(t[at] - t[at - 1])
    unknown_m = float("inf") if hole_s > 1.5 * interval_s(t) else 0.0
    sides = ((t[:at], left[:at]), (t[at:], left[at:]))
    side_t, side_left = max(sides, key=lambda side: float(side[0][-1] - side[0][0]))
    median_s = min(5 * _DAY_S, (side_t[-1] - side_t[0] - hole_s) / 2)
    if median_s < LEAST_SIDE_DAYS * _DAY_S:
        return unknown_m
    changes = []
    for start in np.arange(side_t[0], side_t[-1] - hole_s - 2 * median_s + 1, _DAY_S / 4):
        edges = np.searchsorted(side_t, (start, start + median_s, start + median_s + hole_s, start + 2 * median_s + hole_s))
        if min(edges[1] - edges[0], edges[3] - edges[2]) > 0:
            changes.append(np.median(side_left[edges[2] : edges[3]]) - np.median(side_left[edges[0] : edges[1]]))
    return WEATHER_SIGMAS * 1.4826 * float(np.median(np.abs(changes))) if changes else unknown_m


def level_drift(levels: Levels, predicted_m: np.ndarray, moved: Sequence[Fault]) -> list[Fault]:
    """
    "level-drift", with its metres over the whole record, where what is left beside the tide slides up or down; steps are taken off first.

    Args:
        predicted_m: the tide at the record's times, shape (n,), metres above any zero.
        moved: where the logger was moved.
    """
    t, left = levels.t_s, levels.level_m - predicted_m
    left = left - sum((np.where(t >= one.to_s, one.size, 0.0) for one in moved), np.zeros(len(t)))
    weeks = ((t - t[0]) // _WEEK_S).astype(int)
    whole = [week for week in np.unique(weeks) if (weeks == week).sum() >= 0.5 * _WEEK_S / interval_s(t)]
    if len(whole) < LEAST_DRIFT_WEEKS:
        return []
    middles = np.array([np.mean(t[weeks == week]) for week in whole])
    means = np.array([np.mean(left[weeks == week]) for week in whole])
    line = np.polyfit(middles, means, 1)
    slid_m = float(line[0] * (t[-1] - t[0]))
    # Of a slope through weeks whose scatter is that about the line.
    scatter = float(np.sqrt(np.sum((means - np.polyval(line, middles)) ** 2) / (len(whole) - 2)))
    sigma_m = scatter * float(t[-1] - t[0]) / float(np.sqrt(np.sum((middles - middles.mean()) ** 2)))
    if abs(slid_m) < max(LEVEL_DRIFT_M, DRIFT_SIGMAS * sigma_m):
        return []
    return [Fault("level-drift", len(t), float(t[0]), float(t[-1]), slid_m)]
