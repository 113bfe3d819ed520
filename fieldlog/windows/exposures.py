"""
The rule of windows, as columns: for every low of a span and each of some levels of ground, when it is dry, when people may be there,
and when all turn back.

Level = predicted + allowance. Ground opens and closes where the level passes it. The time to turn back is one for a low, whatever the
ground: the earliest of the path's flooding less the muster and the walk in times 1.5, the work area's flooding, last light less that
walk, the site's latest time after low, the midnight of a closure less the walk, and the high after the low. Usable minutes run from
the ground's opening, and not before the path has been walked out dry, in the light and on an open day, to the ground's flooding or
that time. A closure is of the site, its path among it: nobody is on that before the midnight at which one ends, as nobody is on it
after the midnight at which one begins. Minutes never reach past the highs beside the low: what is dry across a high belongs to the next.

Every time is a whole minute, turned inward: starts up, ends down. `static/tides/windows.js` computes the same
(tests/vectors/windows_cases.json); the same rule told one low at a time stands in tests/windows/plain_rule.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, Protocol

import numpy as np

from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.turning import BACK_WORDS, MINUTE_S
from fieldlog.windows.water import JOIN_S, REACH_S, Curve, Low, lows_of

Daylight = Literal["day", "partly", "dark", "polar night"]
"""
How the water's stretch lies in civil daylight: all of it, cut by it, none, or none within half a day of the low.
Where the water never falls low enough, whether the low itself has light.
"""

LIGHTS: tuple[Daylight, ...] = ("day", "partly", "dark", "polar night")
DAY, PARTLY, DARK, POLAR_NIGHT = range(4)

HALF_DAY_S = 12 * 3600
_MOST_LIGHTS = 3
"""A stretch of two days meets three stretches of light at most."""


class Crossed(Curve, Protocol):
    """A predicted curve that tells its crossings as columns too (fieldlog.tides.curve.Curve is one)."""

    def crossing_times(self, level_m: float) -> tuple[np.ndarray, np.ndarray]: ...


@dataclass(frozen=True, eq=False)
class Ground:
    """One level's columns, (lows,): the stretch that each low owns, and when the ground is dry in it, seconds since 1970 UTC."""

    begins_s: np.ndarray
    ends_s: np.ndarray
    is_joined: np.ndarray
    is_below: np.ndarray
    opens_s: np.ndarray
    closes_s: np.ndarray

    @property
    def is_open(self) -> np.ndarray:
        """Whether the low, as one of its own, leaves this ground dry."""
        found: np.ndarray = self.is_below & ~self.is_joined
        return found


@dataclass(frozen=True, eq=False)
class Exposures:
    """
    Columns of shape (levels, lows) but those of the lows and the path, (lows,); times in seconds since 1970 UTC, NaN where they do
    not happen.

    `is_dry`, `dries_s` and `floods_s` are the path's. `opens_s` and `closes_s`: the ground's. `back_s`: when all turn back, the same
    at every level, with the place of its reason in BACK_WORDS. `leave_s`: when this ground is left. `from_s` and `until_s`: what
    path, light and turning back leave of it. `light`: places in LIGHTS. `is_late`: the path decides when the minutes begin.
    """

    low_s: np.ndarray
    low_m: np.ndarray
    is_dry: np.ndarray
    dries_s: np.ndarray
    floods_s: np.ndarray
    begins_s: np.ndarray
    ends_s: np.ndarray
    is_joined: np.ndarray
    is_below: np.ndarray
    opens_s: np.ndarray
    closes_s: np.ndarray
    back_s: np.ndarray
    back_word: np.ndarray
    leave_s: np.ndarray
    from_s: np.ndarray
    until_s: np.ndarray
    usable_min: np.ndarray
    light: np.ndarray
    is_late: np.ndarray
    safe: np.ndarray


def exposures(
    curve: Crossed, rules: SiteRules, light: Sequence[Light], from_utc: datetime, to_utc: datetime, beds_m: Sequence[float]
) -> Exposures:
    """
    The windows of every low in [from_utc, to_utc] at each of some levels.

    Args:
        curve: predicted, metres above chart datum; reaches access.MARGIN beyond both ends.
        light: stretches of light of the span and a day more on either side.
        beds_m: metres above chart datum, one a row of the answer.
    """
    extremes, first_s, last_s = curve.extremes(), from_utc.timestamp(), to_utc.timestamp()

    def lows_at(dry_below_m: float) -> list[Low]:
        return [low for low in lows_of(extremes, dry_below_m) if first_s <= low.at_s <= last_s]

    return Columns(curve, rules, light, lows_at).at_levels(beds_m)


class Columns:
    """The lows of a span, and all about them that hangs on no level."""

    def __init__(self, curve: Crossed, rules: SiteRules, light: Sequence[Light], lows_at: Callable[[float], list[Low]]) -> None:
        """
        Args:
            lows_at: the lows, with the stretches that they own where ground and path are dry below a level (water.lows_of).
        """
        self.curve, self.rules, self.lows_at = curve, rules, lows_at
        self.route_m = rules.route_low_level_m - rules.allowance_m
        self.lows = lows_at(-math.inf)
        self.low_s = np.array([low.at_s for low in self.lows], dtype=float)
        self.low_m = np.array([low.level_m for low in self.lows])
        self.has_near = bool((np.diff(self.low_s) < JOIN_S).any())
        self.is_dry, self.dries_s, self.floods_s = self._passed(self.route_m)
        self.walked_s = up(self.dries_s + rules.out_s)
        self.light_starts = up(np.array([float(one.starts_s) for one in light] or [math.inf]))
        self.light_ends = down(np.array([float(one.ends_s) for one in light] or [math.inf]))
        next_light = np.minimum(np.searchsorted(self.light_ends, self.low_s - HALF_DAY_S, "right"), len(self.light_ends) - 1)
        self.has_light = (self.light_ends[next_light] > self.low_s - HALF_DAY_S) & (self.light_starts[next_light] < self.low_s + HALF_DAY_S)
        self.is_closed, self.reopens_s, self.shuts_s = self._closures()
        self.water_back_s, self.back_s, self.back_word = self._turn_back()

    def at_levels(self, beds_m: Sequence[float]) -> Exposures:
        """The columns of some levels, metres above chart datum."""
        rows = [self.at_level(bed_m) for bed_m in beds_m]
        columns = [np.array(column) for column in zip(*rows, strict=True)]
        return Exposures(self.low_s, self.low_m, self.is_dry, self.dries_s, self.floods_s, *columns)

    def _closures(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Whether each low's day is closed; where days beside it are, the midnights that part them: with the walk out, less the walk in."""
        closed, reopens, shuts = np.zeros(len(self.lows), bool), np.full(len(self.lows), np.nan), np.full(len(self.lows), np.nan)
        for n, at_s in enumerate(self.low_s if self.rules.closures else ()):
            at = datetime.fromtimestamp(at_s, UTC)
            closure = self.rules.closure_on(at)
            closed[n] = closure is not None and closure.stops
            if not closed[n]:
                begins, ends = self.rules.open_between(at)
                reopens[n] = np.nan if begins is None else begins.timestamp() + self.rules.out_s
                shuts[n] = np.nan if ends is None else ends.timestamp() - self.rules.walk_s
        return closed, up(reopens), down(shuts)

    def _ground(self, work_m: float) -> Ground:
        """The columns of ground that floods at a predicted level."""
        lows = self.lows_at(min(work_m, self.route_m)) if self.has_near else self.lows
        return Ground(
            up(np.array([low.begins_s for low in lows], dtype=float)),
            down(np.array([low.ends_s for low in lows], dtype=float)),
            np.array([low.is_joined for low in lows], dtype=bool),
            *self._passed(work_m),
        )

    def _passed(self, level_m: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """
        Whether the water lies below a level at each low, when it fell there and when it rises again.

        Not below where the low's dip was too slight to be seen as two crossings: what lies beyond belongs to other lows.
        """
        at_s, is_rising = self.curve.crossing_times(level_m)
        at_s = np.round(at_s)
        padded = np.concatenate([[np.nan], at_s, [np.nan]])
        rising = np.concatenate([[False], is_rising, [True]])
        after = np.searchsorted(at_s, self.low_s, "left") + 1
        is_below = (self.low_m < level_m) & ~rising[after - 1] & rising[after]
        fell, rises = padded[after - 1], padded[after]
        fell = np.where(is_below & (self.low_s - fell <= REACH_S), fell, np.nan)
        rises = np.where(is_below & (rises - self.low_s <= REACH_S), rises, np.nan)
        return is_below, up(fell), down(rises)

    def _turn_back(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """When all turn back from each low: by the water and the rules alone; all counted; and the place of the reason, -1 for none."""
        rules, site = self.rules, self._ground(self.rules.work_level_m - self.rules.allowance_m)
        none = np.full(len(self.lows), np.nan)
        latest = none if rules.latest_after_low_min is None else down(self.low_s + math.floor(rules.latest_after_low_min * 60))
        reasons = {
            "path": down(self.floods_s - rules.walk_s - rules.muster_s), "work": np.where(site.is_open, site.closes_s, np.nan), "light": none,
            "latest": latest, "closure": self.shuts_s, "high": np.where(site.is_open, site.ends_s, np.nan),
        }  # fmt: skip
        by_water = np.fmin.reduce([reasons[word] for word in BACK_WORDS])
        starts, stops = self._stretch(site, by_water)
        _, _, chosen = self._lit(starts, stops, np.full(len(self.lows), np.inf))
        last = np.where(chosen >= 0, self.light_ends[chosen], np.nan)
        reasons["light"] = down(last - rules.walk_s)
        told = np.array([reasons[word] for word in BACK_WORDS])
        back = np.fmin.reduce(told)
        word = np.where(np.isnan(back), -1, np.argmin(np.where(np.isnan(told), np.inf, told), axis=0))
        return by_water, back, word

    def _stretch(self, ground: Ground, by_water_s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """From when to when the water and the rules let people be on some ground; empty where they never do."""
        is_there = ground.is_open & self.is_dry
        starts = np.fmax(np.fmax(ground.begins_s, ground.opens_s), np.fmax(self.walked_s, self.reopens_s))
        stops = np.fmin(np.fmin(ground.ends_s, ground.closes_s), by_water_s)
        return np.where(is_there, starts, np.inf), np.where(is_there, stops, -np.inf)

    def at_level(self, bed_m: float) -> tuple[np.ndarray, ...]:
        """The columns of Exposures from `begins_s` on."""
        ground = self._ground(bed_m - self.rules.allowance_m)
        is_open = ground.is_open
        is_there = is_open & self.is_dry
        starts, stops = self._stretch(ground, self.water_back_s)
        from_s, until_s, chosen = self._lit(starts, stops, np.where(np.isnan(self.back_s), np.inf, self.back_s))
        is_usable = until_s > from_s
        minutes = np.where(is_usable, np.floor((until_s - from_s) / MINUTE_S), 0).astype(int)
        light = self._light_of(starts, stops, from_s, until_s, chosen)
        # Ground above the work area has minutes in the light of lows whose work area is open in the dark alone.
        lit_s = np.where(is_usable & (chosen >= 0), down(self.light_ends[chosen] - self.rules.walk_s), np.nan)
        back_s = np.fmin(self.back_s, lit_s)
        back_word = np.where((back_s == lit_s) & ~(self.back_s <= lit_s), BACK_WORDS.index("light"), self.back_word)
        leave = np.where(is_usable, until_s, np.where(is_there, np.fmin(stops, self.back_s), np.fmin(ground.closes_s, self.back_s)))
        is_late = is_there & ~(self.walked_s <= ground.opens_s) & np.where(is_usable, from_s == self.walked_s, self.walked_s > ground.opens_s)
        # Comparisons with NaN are false: a turn-back time that there is none of never comes first.
        is_safe = is_there & ~self.is_closed & ~(self.back_s <= ground.opens_s) & (light < DARK)
        is_safe &= minutes >= max(self.rules.least_usable_min, 1)
        return (
            ground.begins_s, ground.ends_s, ground.is_joined, ground.is_below, _shown(ground.opens_s, is_open), _shown(ground.closes_s, is_open),
            _shown(back_s, is_open), np.where(is_open, back_word, -1), _shown(leave, is_open),
            _shown(from_s, is_usable), _shown(until_s, is_usable), minutes, light, is_late, is_safe,
        )  # fmt: skip

    def _lit(self, starts: np.ndarray, stops: np.ndarray, back: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """
        What the light leaves of stretches, the longest where it has light twice, and the place of that light.

        Where a stretch is empty, the place of the light that the low itself has; -1 for none.
        """
        is_some = starts < stops
        first = np.searchsorted(self.light_ends, np.where(is_some, starts, 0.0), "right")
        best_from, best_until = np.full(len(starts), np.inf), np.full(len(starts), -np.inf)
        chosen = np.where(is_some, -1, self._light_at(self.low_s))
        for step in range(_MOST_LIGHTS):
            place = np.minimum(first + step, len(self.light_ends) - 1)
            begins, ends = self.light_starts[place], self.light_ends[place]
            meets = is_some & self.has_light & (first + step < len(self.light_ends)) & (begins < stops) & (ends > starts)
            cut_from = np.maximum(starts, up(begins + self.rules.out_s))
            cut_until = np.minimum(np.minimum(stops, back), down(ends - self.rules.walk_s))
            with np.errstate(invalid="ignore"):
                better = meets & ((chosen < 0) | (cut_until - cut_from > best_until - best_from))
            best_from, best_until = np.where(better, cut_from, best_from), np.where(better, cut_until, best_until)
            chosen = np.where(better, place, chosen)
        return best_from, best_until, chosen

    def _light_of(self, starts: np.ndarray, stops: np.ndarray, from_s: np.ndarray, until_s: np.ndarray, chosen: np.ndarray) -> np.ndarray:
        is_whole = (starts >= stops) | ((from_s == starts) & (until_s == stops))
        found: np.ndarray = np.where(~self.has_light, POLAR_NIGHT, np.where(chosen < 0, DARK, np.where(is_whole, DAY, PARTLY)))
        return found

    def _light_at(self, at_s: np.ndarray) -> np.ndarray:
        place = np.minimum(np.searchsorted(self.light_ends, at_s, "left"), len(self.light_ends) - 1)
        is_lit = (self.light_starts[place] <= at_s) & (at_s <= self.light_ends[place])
        found: np.ndarray = np.where(is_lit, place, -1)
        return found


def up(seconds: np.ndarray) -> np.ndarray:
    """The whole minute at or after each time."""
    found: np.ndarray = np.ceil(seconds / MINUTE_S) * MINUTE_S
    return found


def down(seconds: np.ndarray) -> np.ndarray:
    """The whole minute at or before each time."""
    found: np.ndarray = np.floor(seconds / MINUTE_S) * MINUTE_S
    return found


def _shown(values: np.ndarray, is_shown: np.ndarray) -> np.ndarray:
    """Values where they are to be shown, else NaN."""
    found: np.ndarray = np.where(is_shown, values, np.nan)
    return found
