"""
A water-level record beside the tide predicted nearby: whether it is this shore's water at all, and what its clock and its logger did.

Limits are our own choice where no source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldlog.tides.moves import level_drift, moves
from fieldlog.tides.record import LEAST_DAYS, Fault, Levels, gaps, without_dry, without_spikes

NOT_THE_TIDE = 0.05
WEAK = 0.5
"""Under these shares of a record's movement following the tide nearby, it is no water level of this shore, or a doubtful one."""

LEAST_TIDE_M = 0.10
"""Where the tide moves by less than this (standard deviation) the weather may well move the water more."""

LARGEST_M = 5.0
"""No tide's standard deviation is larger: the largest, of 16 m range, has about 5 m."""

LATE_MIN = 150.0
"""A tide so much later or earlier than the port's may be an estuary's, or a wrong zone; our own choice."""

UNLIKE_TIMES = 2.5
"""A range so many times the port's, or its inverse, may be the shore's own, or a wrong unit: feet read as metres are 3.3."""

DRIFT_MIN = 5.0
JUMP_MIN = 20.0

UPSIDE_DOWN = 0.005
UPRIGHT_H = 3.0
SURELY_LIKE = 0.7
"""So much more like the tide turned over than the tide itself, and nearer than this in time where upright it is not; where
the tide hardly moves, neither says anything."""

LESS_LIKE_AN_HOUR = 0.002
"""What an hour of lag takes from a correlation, enough to choose between lags that are as like. Our own choice."""

WEEK_DAYS = 7.4
"""Half a spring-neap cycle."""

_DAY_S = 86_400.0
_LAGS_H = np.arange(-12, 12.01, 0.5)

Tide = Callable[[np.ndarray], np.ndarray]
"""The tide predicted nearby at any times, seconds since 1970: metres above any zero."""


@dataclass(frozen=True, eq=False)
class Lags:
    """Minutes by which a record runs later than the tide nearby, and the middles (s) of the weeks they hold for: one at least."""

    middle_s: np.ndarray
    minutes: np.ndarray

    @property
    def usual_min(self) -> float:
        """That of most weeks."""
        return float(np.median(self.minutes))


def examine(levels: Levels, tide_at: Tide) -> tuple[Levels, list[Fault]]:
    """Everything that is wrong with a record in time order, and the levels that can be used."""
    faults = gaps(levels)
    for cleared in (without_spikes, without_dry):
        levels, found = cleared(levels)
        faults += found
    if levels.days >= LEAST_DAYS:
        like = _likeness_by_lag(levels, tide_at)
        late = _weekly(levels, tide_at, like)
        fitted, times = _fitted(levels, tide_at, late)
        faults += _upside_down(levels, like) + _late(levels, late) + likeness(levels, fitted, times)
        moved = moves(levels, fitted)
        faults += clock_faults(levels, tide_at, late) + moved + level_drift(levels, fitted, moved)
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
    moved_m = float(np.std(levels.level_m))
    share = 0.0 if times <= 0 or moved_m == 0 else 1 - float(np.var(levels.level_m - fitted_m)) / moved_m**2
    tide_m = float(np.std(fitted_m)) / abs(times) if times else 0.0
    if moved_m > LARGEST_M:
        return [_of_all("too-large", levels, moved_m)]
    if share < NOT_THE_TIDE and (tide_m > LEAST_TIDE_M or moved_m == 0):
        return [_of_all("not-the-tide", levels, share)]
    if share < WEAK:
        return [_of_all("weak", levels, share)]
    return [] if 1 / UNLIKE_TIMES <= times <= UNLIKE_TIMES else [_of_all("range", levels, times)]


def _upside_down(levels: Levels, like: np.ndarray) -> list[Fault]:
    """
    "upside-down" where the record falls as the water rises: a distance down to the water.

    Half a tide's lag looks nearly the same. Turned over the record must be the more alike, and alike at no great lag, where upright it
    is alike at a great one only.
    """
    upright, turned = np.argmax(_near_first(like)), np.argmax(_near_first(-like))
    is_nearer = abs(_LAGS_H[turned]) < UPRIGHT_H <= abs(_LAGS_H[upright])
    if not is_nearer or -like[turned] < max(like[upright] + UPSIDE_DOWN, SURELY_LIKE):
        return []
    return [_of_all("upside-down", levels, float(-like[turned]))]


def _late(levels: Levels, late: Lags) -> list[Fault]:
    """"late", with its minutes, where the record runs hours later or earlier than the tide nearby: so does one read in a wrong zone."""
    return [_of_all("late", levels, late.usual_min)] if abs(late.usual_min) >= LATE_MIN else []


def _of_all(word: str, levels: Levels, size: float) -> Fault:
    return Fault(word, len(levels.t_s), float(levels.t_s[0]), float(levels.t_s[-1]), size)


def _fitted(levels: Levels, tide_at: Tide, late: Lags) -> tuple[np.ndarray, float]:
    """The nearby tide brought to the record's own range and weekly lag, and that range in the tide's."""
    tide = tide_at(levels.t_s - 60 * _nearest(levels.t_s, late.middle_s, late.minutes))
    b, a = np.polyfit(tide, levels.level_m, 1)
    fitted: np.ndarray = a + b * tide
    return fitted, float(b)


def _nearest(t_s: np.ndarray, centres: np.ndarray, values: np.ndarray) -> np.ndarray:
    """The value of the nearest centre: a clock that jumped is not smoothed over."""
    found: np.ndarray = values[np.abs(t_s[:, None] - centres[None, :]).argmin(axis=1)]
    return found


def clock_faults(levels: Levels, tide_at: Tide, late: Lags) -> list[Fault]:
    """
    A clock that drifts against the tide, or jumps (an hour: summer time); the tide's own lag against the site does not matter.

    Returns:
        "drift" with its minutes over the whole record, or "clock-jump" with the minutes of the jump.
    """
    if len(late.minutes) < 4:
        return []
    steps = np.diff(late.minutes)
    largest = int(np.argmax(np.abs(steps)))
    others = np.delete(steps, largest)
    if abs(steps[largest]) >= JUMP_MIN and abs(steps[largest]) > 4 * float(np.median(np.abs(others))):
        return [_jump(levels, tide_at, late, largest)]
    line = np.polyfit(late.middle_s, late.minutes, 1)
    whole = float(line[0] * (levels.t_s[-1] - levels.t_s[0]))
    error = float(np.std(late.minutes - np.polyval(line, late.middle_s)))
    return [_of_all("drift", levels, whole)] if abs(whole) >= max(DRIFT_MIN, 2.5 * error) else []


def _jump(levels: Levels, tide_at: Tide, late: Lags, week: int) -> Fault:
    """
    When a clock jumped, between two weeks' lags: where one lag before and another after leave the least of the level unexplained.

    The week of the jump has a lag between the two, so the weeks beside it tell them.
    """
    weeks = late.minutes
    before, after = float(np.median(weeks[: max(1, week)])), float(np.median(weeks[min(week + 2, len(weeks) - 1) :]))
    near = (levels.t_s > late.middle_s[week] - 5 * _DAY_S) & (levels.t_s < late.middle_s[week + 1] + 5 * _DAY_S)
    part = levels.only(near)
    off = []
    for lag in (before, after):
        tide = tide_at(part.t_s - 60 * lag)
        slope, level = np.polyfit(tide, part.level_m, 1)
        off.append((part.level_m - level - slope * tide) ** 2)
    unexplained = np.cumsum(off[0] - off[1])
    at = min(int(np.argmin(unexplained)), len(part.t_s) - 2)
    return Fault("clock-jump", 1, float(part.t_s[at]), float(part.t_s[at + 1]), after - before)


def lags(levels: Levels, tide_at: Tide) -> Lags:
    """By how much a record runs later than the tide nearby, week by week."""
    return _weekly(levels, tide_at, _likeness_by_lag(levels, tide_at))


def _weekly(levels: Levels, tide_at: Tide, like: np.ndarray) -> Lags:
    """
    The lags of the weeks; where none tells its own, the one at which the whole record is most like the tide.

    Level = a + b tide - b lag d(tide)/dt, by least squares, three times: each time about the lag before, first about the usual one.
    """
    usual_s = 3600 * float(_LAGS_H[np.argmax(_near_first(like))])
    middles, found = [], []
    edges = np.arange(levels.t_s[0], levels.t_s[-1] + 1, WEEK_DAYS * _DAY_S)
    for start, end in pairwise(edges):
        part = levels.only((levels.t_s >= start) & (levels.t_s < end))
        if len(part.t_s) < 40 or part.days < WEEK_DAYS / 2:
            continue
        lag_s = usual_s
        for _ in range(3):
            at = part.t_s - lag_s
            tide, rate = tide_at(at), (tide_at(at + 60) - tide_at(at - 60)) / 120
            _, b, c = np.linalg.lstsq(np.column_stack([np.ones(len(at)), tide, rate]), part.level_m, rcond=None)[0]
            if b <= 0.05:
                break
            lag_s += float(np.clip(-c / b, -7200, 7200))
        else:
            middles.append((start + end) / 2)
            found.append(lag_s / 60)
    if not found:
        middles, found = [float(levels.t_s[0] + levels.t_s[-1]) / 2], [usual_s / 60]
    return Lags(np.array(middles), np.array(found))


def _near_first(like: np.ndarray) -> np.ndarray:
    """Likeness by lag, a little less the longer the lag: a tide earlier or later is about as like, so the shorter is preferred."""
    nearer: np.ndarray = like - LESS_LIKE_AN_HOUR * np.abs(_LAGS_H)
    return nearer


def _likeness_by_lag(levels: Levels, tide_at: Tide) -> np.ndarray:
    """The correlation of the record with the tide at each of _LAGS_H."""
    few = levels.only(np.linspace(0, len(levels.t_s) - 1, min(len(levels.t_s), 4000)).astype(int))
    if np.ptp(few.level_m) == 0:
        return np.zeros(len(_LAGS_H))
    tides = [tide_at(few.t_s - 3600 * lag_h) for lag_h in _LAGS_H]
    return np.array([np.corrcoef(tide, few.level_m)[0, 1] if np.ptp(tide) > 0 else 0.0 for tide in tides])
