"""
The rule of windows told one low at a time, in plain loops: the reference that the server's columns and the phone are held to.

It shares nothing with them but the rules, the lows and the light. Times are seconds since 1970 UTC.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.water import REACH_S, Low, lows_of

MINUTE_S, HALF_DAY_S = 60, 12 * 3600


def up(at_s: float | None) -> float | None:
    return None if at_s is None else math.ceil(at_s / MINUTE_S) * MINUTE_S


def down(at_s: float | None) -> float | None:
    return None if at_s is None else math.floor(at_s / MINUTE_S) * MINUTE_S


@dataclass(frozen=True)
class Dry:
    """When the water is off a level around a low, before and after it; None where that does not happen within a day."""

    from_s: float | None
    until_s: float | None


def dry_around(curve: Any, level_m: float, low: Low) -> Dry | None:
    """None as a whole where the low is not below the level, or its dip too slight to be seen as two crossings."""
    if not low.level_m < level_m:
        return None
    crossings = curve.crossings(level_m)
    after = bisect_left([round(one.at_utc.timestamp()) for one in crossings], low.at_s)
    before = crossings[after - 1] if after else None
    later = crossings[after] if after < len(crossings) else None
    if (before and before.is_rising) or (later and not later.is_rising):
        return None
    fell = round(before.at_utc.timestamp()) if before else None
    rises = round(later.at_utc.timestamp()) if later else None
    return Dry(
        up(fell) if fell is not None and low.at_s - fell <= REACH_S else None,
        down(rises) if rises is not None and rises - low.at_s <= REACH_S else None,
    )


@dataclass(frozen=True)
class Told:
    """One low as the rule has it."""

    low_s: int
    opens_s: float | None
    closes_s: float | None
    dries_s: float | None
    back_s: float | None
    back_word: str | None
    leave_s: float | None
    from_s: float | None
    until_s: float | None
    usable_min: int
    daylight: str
    safe: bool


def plain_windows(curve: Any, rules: SiteRules, light: Sequence[Light], from_utc: datetime, to_utc: datetime, bed_m: float) -> list[Told]:
    """Every low of a span at one level of ground, metres above chart datum."""
    route_m = rules.route_low_level_m - rules.allowance_m

    def lows(level_m: float) -> list[Low]:
        return [low for low in lows_of(curve.extremes(), min(level_m - rules.allowance_m, route_m)) if from_utc.timestamp() <= low.at_s <= to_utc.timestamp()]

    pairs = zip(lows(rules.work_level_m), lows(bed_m), strict=True)
    return [_One(curve, rules, light, site, own, bed_m).told() for site, own in pairs]


class _One:
    def __init__(self, curve: Any, rules: SiteRules, light: Sequence[Light], site: Low, own: Low, bed_m: float) -> None:
        self.rules, self.light, self.own = rules, light, own
        self.path = dry_around(curve, rules.route_low_level_m - rules.allowance_m, own)
        self.site, self.site_low = dry_around(curve, rules.work_level_m - rules.allowance_m, site), site
        self.ground = dry_around(curve, bed_m - rules.allowance_m, own)
        closure = rules.closure_on(datetime.fromtimestamp(own.at_s, UTC))
        self.is_closed = closure is not None and closure.stops
        self.reopens, self.shuts = (None, None) if self.is_closed else rules.open_between(datetime.fromtimestamp(own.at_s, UTC))
        self.has_light = any(one.starts_s < own.at_s + HALF_DAY_S and one.ends_s > own.at_s - HALF_DAY_S for one in light)

    def reasons(self) -> dict[str, float]:
        """When each reason but the light turns people back."""
        rules, found = self.rules, {}
        if self.path and self.path.until_s is not None:
            found["path"] = down(self.path.until_s - rules.walk_s - rules.muster_s)
        if self.site and not self.site_low.is_joined:
            if self.site.until_s is not None:
                found["work"] = self.site.until_s
            found["high"] = down(self.site_low.ends_s)
        if rules.latest_after_low_min is not None:
            found["latest"] = down(self.own.at_s + math.floor(rules.latest_after_low_min * 60))
        if self.shuts is not None:
            found["closure"] = down(self.shuts.timestamp() - rules.walk_s)
        return found

    def starts(self, ground: Dry, low: Low) -> float:
        walked = up(self.path.from_s + self.rules.out_s) if self.path and self.path.from_s is not None else None
        reopens = up(self.reopens.timestamp() + self.rules.out_s) if self.reopens else None
        return max(at for at in (up(low.begins_s), ground.from_s, walked, reopens) if at is not None)

    def stretch(self, ground: Dry | None, low: Low) -> tuple[float, float] | None:
        """What water and rules leave; None where that is nothing."""
        if ground is None or low.is_joined or self.path is None:
            return None
        starts = self.starts(ground, low)
        stops = min(at for at in (down(low.ends_s), ground.until_s, *self.reasons().values()) if at is not None)
        return (starts, stops) if starts < stops else None

    def lit(self, stretch: tuple[float, float], back_s: float) -> tuple[float, float, float] | None:
        """The longest lit part of a stretch, and when its light ends less the walk in."""
        best = None
        for one in self.light if self.has_light else ():
            begins, ends = up(one.starts_s), down(one.ends_s)
            if begins < stretch[1] and ends > stretch[0]:
                last = down(ends - self.rules.walk_s)
                cut = (max(stretch[0], up(begins + self.rules.out_s)), min(stretch[1], last, back_s), last)
                if best is None or cut[1] - cut[0] > best[1] - best[0]:
                    best = cut
        return best

    def back(self) -> tuple[float | None, str | None]:
        found = self.reasons()
        stretch = self.stretch(self.site, self.site_low)
        if stretch is not None:
            lit = self.lit(stretch, math.inf)
            last = lit[2] if lit else None
        else:
            at_low = [one for one in self.light if up(one.starts_s) <= self.own.at_s <= down(one.ends_s)]
            last = down(down(at_low[0].ends_s) - self.rules.walk_s) if at_low else None
        if last is not None:
            found["light"] = last
        order = ("path", "work", "light", "latest", "closure", "high")
        word = min((one for one in order if one in found), key=lambda one: found[one], default=None)
        return (found[word], word) if word else (None, None)

    def told(self) -> Told:
        is_open = self.ground is not None and not self.own.is_joined
        back_s, word = self.back()
        stretch = self.stretch(self.ground, self.own)
        limit = math.inf if back_s is None else back_s
        lit = self.lit(stretch, limit) if stretch else None
        from_s, until_s = lit[:2] if lit and lit[0] < lit[1] else (None, None)
        if from_s is not None and lit[2] < limit:
            back_s, word = lit[2], "light"
        minutes = 0 if from_s is None else int((until_s - from_s) // MINUTE_S)
        if not self.has_light:
            daylight = "polar night"
        elif stretch:
            daylight = "dark" if lit is None else "day" if lit[:2] == stretch else "partly"
        else:
            daylight = "day" if any(up(one.starts_s) <= self.own.at_s <= down(one.ends_s) for one in self.light) else "dark"
        is_back_first = bool(is_open and self.ground.from_s is not None and back_s is not None and back_s <= self.ground.from_s)
        safe = is_open and self.path is not None and not self.is_closed and not is_back_first and daylight in ("day", "partly")
        return Told(
            self.own.at_s, self.ground.from_s if is_open else None, self.ground.until_s if is_open else None,
            self.path.from_s if self.path else None, back_s if is_open else None, word if is_open else None, self.leave(is_open, back_s, until_s),
            from_s, until_s, minutes, daylight, safe and minutes >= max(self.rules.least_usable_min, 1),
        )  # fmt: skip

    def leave(self, is_open: bool, back_s: float | None, until_s: float | None) -> float | None:
        if not is_open or until_s is not None:
            return until_s
        ends = [self.ground.until_s, back_s]
        if self.path is not None:
            ends += [down(self.own.ends_s), *self.reasons().values()]
        return min((at for at in ends if at is not None), default=None)
