"""
The windows of many levels at once, as columns: when the ground of each unit is out of the water, over a whole season.

The same rules as access.py, over arrays instead of one low at a time (test_exposures holds them equal): a season of one level
takes a hundredth of the time. What a column cannot say, the sentences, is access.py's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from fieldlog.tides.curve import Curve
from fieldlog.windows.access import HALF_DAY_S
from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.water import JOIN_S, REACH_S, lows_of

_MOST_LIGHTS = 3
"""A stretch of two days meets three stretches of light at most."""


@dataclass(frozen=True, eq=False)
class Exposures:
    """
    Columns of shape (levels, lows) but the lows' own, (lows,); times in seconds since 1970 UTC, NaN where they do not happen.

    `dries_s`, (lows,): when the way falls dry before the low. `opens_s` and `closes_s`: the ground's; `from_s` and `until_s`: what the way, the light and the turn-back time leave of it.
    """

    low_s: np.ndarray
    low_m: np.ndarray
    dries_s: np.ndarray
    opens_s: np.ndarray
    closes_s: np.ndarray
    from_s: np.ndarray
    until_s: np.ndarray
    usable_min: np.ndarray
    safe: np.ndarray


def exposures(
    curve: Curve, rules: SiteRules, light: Sequence[Light], from_utc: datetime, to_utc: datetime, beds_m: Sequence[float]
) -> Exposures:
    """
    The windows of every low in [from_utc, to_utc] at each of some levels.

    Args:
        curve: predicted, metres above chart datum; reaches access.MARGIN beyond both ends.
        light: stretches of light of the span and a day more on either side.
        beds_m: metres above chart datum, one a row of the answer.
    """
    around = _Lows(curve, rules, light, from_utc.timestamp(), to_utc.timestamp())
    rows = [around.at_level(bed_m) for bed_m in beds_m]
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return Exposures(around.low_s, around.low_m, around.dries_s, *columns)


class _Lows:
    """The lows of a span, and all about them that hangs on no level."""

    def __init__(self, curve: Curve, rules: SiteRules, light: Sequence[Light], first_s: float, last_s: float) -> None:
        self.curve, self.rules, self.first_s, self.last_s = curve, rules, first_s, last_s
        self.extremes = curve.extremes()
        self.route_m = rules.route_low_level_m - rules.allowance_m
        self.lows = [low for low in lows_of(self.extremes, -math.inf) if first_s <= low.at_s <= last_s]
        self.low_s = np.array([low.at_s for low in self.lows], dtype=float)
        self.low_m = np.array([low.level_m for low in self.lows])
        self.begins_s, self.ends_s, self.is_joined = self._stretches(-math.inf)
        self.has_near = bool((np.diff(self.low_s) < JOIN_S).any())
        self.is_dry, self.dries_s, self.floods_s = self._passed(self.route_m)
        self.back_s = self._turn_back()
        self.light_starts = np.array([float(one.starts_s) for one in light] or [math.inf])
        self.light_ends = np.array([float(one.ends_s) for one in light] or [math.inf])
        next_light = np.minimum(np.searchsorted(self.light_ends, self.low_s - HALF_DAY_S, "right"), len(self.light_ends) - 1)
        self.has_light = (self.light_ends[next_light] > self.low_s - HALF_DAY_S) & (self.light_starts[next_light] < self.low_s + HALF_DAY_S)
        self.is_closed = np.array([self._closed(at_s) for at_s in self.low_s], dtype=bool)

    def _closed(self, at_s: float) -> bool:
        closure = self.rules.closure_on(datetime.fromtimestamp(at_s, UTC)) if self.rules.closures else None
        return closure is not None and closure.stops

    def _stretches(self, dry_below_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        lows = self.lows
        if dry_below_m > -math.inf:
            lows = [low for low in lows_of(self.extremes, dry_below_m) if self.first_s <= low.at_s <= self.last_s]
        return (
            np.array([low.begins_s for low in lows], dtype=float),
            np.array([low.ends_s for low in lows], dtype=float),
            np.array([low.is_joined for low in lows], dtype=bool),
        )

    def _passed(self, level_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Whether the water lies below a level at each low, when it fell there and when it rises again (Passages.around)."""
        at_s, is_rising = self.curve.crossing_times(level_m)
        at_s = np.round(at_s)
        padded = np.concatenate([[np.nan], at_s, [np.nan]])
        rising = np.concatenate([[False], is_rising, [True]])
        after = np.searchsorted(at_s, self.low_s, "left") + 1
        is_below = (self.low_m < level_m) & ~rising[after - 1] & rising[after]
        fell, rises = padded[after - 1], padded[after]
        fell = np.where(is_below & (self.low_s - fell <= REACH_S), fell, np.nan)
        rises = np.where(is_below & (rises - self.low_s <= REACH_S), rises, np.nan)
        return is_below, fell, rises

    def _turn_back(self) -> np.ndarray:
        rules = self.rules
        by_water = self.floods_s - rules.walk_s - math.ceil(rules.muster_min * 60)
        if rules.latest_after_low_min is None:
            return by_water
        found: np.ndarray = np.fmin(by_water, self.low_s + math.floor(rules.latest_after_low_min * 60))
        return found

    def at_level(self, bed_m: float) -> tuple[np.ndarray, ...]:
        """opens, closes, from, until, usable minutes, safe."""
        work_m = bed_m - self.rules.allowance_m
        begins, ends, is_joined = self.begins_s, self.ends_s, self.is_joined
        if self.has_near:
            begins, ends, is_joined = self._stretches(min(work_m, self.route_m))
        is_below, opens, closes = self._passed(work_m)
        is_open = is_below & ~is_joined
        is_there = is_open & self.is_dry
        starts = np.where(is_there, np.fmax(begins, opens), np.inf)
        stops = np.where(is_there, np.fmin(np.fmin(ends, closes), self.back_s), -np.inf)
        from_s, until_s, is_dark = self._lit(starts, stops)
        is_usable = until_s > from_s
        minutes = np.where(is_usable, np.floor((until_s - from_s) / 60), 0)
        dry_from = np.fmax(from_s, self.dries_s)
        dry_min = np.where(is_usable, np.maximum(0, np.floor((until_s - dry_from) / 60)), 0)
        least = self.rules.least_usable_min
        # Comparisons with NaN are false: a turn-back time that there is none of never comes first.
        back_first = is_there & (self.back_s <= opens)
        late = (dry_min < least) & (minutes >= least)
        is_safe = is_there & ~self.is_closed & ~back_first & ~is_dark & ~late & (minutes >= max(least, 1))
        hidden = np.where(is_open, 0.0, np.nan)
        found = np.where(is_usable, 0.0, np.nan)
        return opens + hidden, closes + hidden, _shown(from_s, found), _shown(until_s, found), minutes.astype(int), is_safe

    def _lit(self, starts: np.ndarray, stops: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """What the light leaves of stretches, the longest where it has light twice; and whether it is dark for them."""
        is_some = starts < stops
        first = np.searchsorted(self.light_ends, np.where(is_some, starts, 0.0), "right")
        best_from, best_until = np.full(len(starts), np.inf), np.full(len(starts), -np.inf)
        found = np.zeros(len(starts), bool)
        for step in range(_MOST_LIGHTS):
            place = np.minimum(first + step, len(self.light_ends) - 1)
            begins, ends = self.light_starts[place], self.light_ends[place]
            meets = is_some & (first + step < len(self.light_ends)) & (begins < stops) & (ends > starts)
            cut_from, cut_until = np.maximum(starts, begins), np.minimum(stops, ends - self.rules.walk_s)
            with np.errstate(invalid="ignore"):
                better = meets & (~found | (cut_until - cut_from > best_until - best_from))
            best_from, best_until = np.where(better, cut_from, best_from), np.where(better, cut_until, best_until)
            found |= meets
        lit = found & self.has_light
        low_lit = self._is_lit_at(self.low_s)
        is_dark = np.where(is_some, ~lit, ~low_lit) | ~self.has_light
        return np.where(lit, best_from, np.inf), np.where(lit, best_until, -np.inf), is_dark

    def _is_lit_at(self, at_s: np.ndarray) -> np.ndarray:
        place = np.minimum(np.searchsorted(self.light_ends, at_s, "left"), len(self.light_ends) - 1)
        found: np.ndarray = (self.light_starts[place] <= at_s) & (at_s <= self.light_ends[place])
        return found


def _shown(values: np.ndarray, hidden: np.ndarray) -> np.ndarray:
    """Values where they are to be shown, else NaN."""
    found: np.ndarray = np.where(np.isnan(hidden), np.nan, values)
    return found
