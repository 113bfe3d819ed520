"""
Access windows: when a site's work area can be reached, used and left again around each low.

Level = predicted + allowance. A window opens and closes where the level passes the work level. The turn-back time is
the first instant after low at which the level reaches the lowest point of the route, less the walk out times 1.5, less
the muster; earlier where the site sets a latest time after low. Usable minutes run from the later of opening and first
light to the earliest of turn-back, closing, and last light less the walk out times 1.5. They never reach past the highs
beside the low: what is dry across a high belongs to the next low. These are reasons to go or stay, never a promise.
"""

from __future__ import annotations

import math
import uuid
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Literal

from fieldlog.windows.cautions import Caution, Numbers, caution
from fieldlog.windows.daylight import Light
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.water import REACH_S, Curve, Low, Passages, Water, lows_of, water_around

Daylight = Literal["day", "partly", "dark", "polar night"]
"""
How the water's stretch lies in civil daylight: all of it, cut by it, none, or none within half a day of the low.
Where the water never falls low enough, whether the low itself has light.
"""

MARGIN = timedelta(hours=36)
"""A curve must reach this far beyond the lows asked for, or windows at the edges are cut."""

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "fieldlog")
HALF_DAY_S = 12 * 3600


@dataclass(frozen=True)
class Window:
    """
    What is known about one low. Instants are UTC; None where it does not happen within a day of the low.

    `low_level_m` is predicted, without the allowance, metres above chart datum. `bed_level_m` is the row's level where
    the window is a row's, else None.
    """

    window_id: str
    low_at: datetime
    low_level_m: float
    opens_at: datetime | None
    turn_back_at: datetime | None
    closes_at: datetime | None
    usable_from: datetime | None
    usable_until: datetime | None
    usable_min: int
    daylight: Daylight
    safe: bool
    cautions: tuple[Caution, ...]
    bed_level_m: float | None = None


@dataclass(frozen=True)
class _Bounds:
    """The stretch that light leaves, seconds since 1970; empty where `until_s` is not after `from_s`."""

    from_s: float
    until_s: float
    daylight: Daylight

    @property
    def is_usable(self) -> bool:
        return self.until_s > self.from_s


def window_name(site_id: str, low_at: datetime) -> str:
    """The text whose UUIDv5 is a window's id: the site and the hour of the low."""
    return f"window|{site_id}|{low_at.astimezone(UTC):%Y-%m-%dT%H}"


def access_windows(
    curve: Curve,
    rules: SiteRules,
    light: Sequence[Light],
    from_utc: datetime,
    to_utc: datetime,
    bed_level_m: float | None = None,
) -> list[Window]:
    """
    One window for every low in [from_utc, to_utc], usable or not, in time order.

    Args:
        curve: predicted, metres above chart datum; reaches MARGIN beyond both ends.
        light: stretches of light (daylight.light_of) of the span and a day more on either side.
        bed_level_m: a row's level in place of the site's work level.
    """
    work_m = (rules.work_level_m if bed_level_m is None else bed_level_m) - rules.allowance_m
    route_m = rules.route_low_level_m - rules.allowance_m
    work, route = Passages(curve.crossings(work_m)), Passages(curve.crossings(route_m))
    ends = [stretch.ends_s for stretch in light]
    first_s, last_s = from_utc.timestamp(), to_utc.timestamp()
    windows = []
    for low in lows_of(curve.extremes(), min(work_m, route_m)):
        if first_s <= low.at_s <= last_s:
            water = water_around(low, work_m, work, route_m, route)
            near = light[bisect_left(ends, low.at_s - REACH_S) : bisect_left(ends, low.at_s + 2 * REACH_S) + 1]
            bounds = _lit(low, water, rules, near)
            windows.append(_window(curve, rules, low, water, bounds, bed_level_m))
    return windows


def shorten(window: Window, seen_minus_predicted_m: float, curve: Curve, rules: SiteRules) -> Window:
    """
    The window after a level was read on the shore: shorter where the water stood higher than predicted.

    Args:
        window: one of `access_windows` of the same curve and rules.
        seen_minus_predicted_m: metres; 0 or less changes nothing, since only a lead may lengthen a window.
    """
    if seen_minus_predicted_m <= 0 or {"above-work", "same-window"} & {one.word for one in window.cautions}:
        return window
    higher = replace(rules, allowance_m=rules.allowance_m + seen_minus_predicted_m)
    work_m = (rules.work_level_m if window.bed_level_m is None else window.bed_level_m) - higher.allowance_m
    route_m = rules.route_low_level_m - higher.allowance_m
    low_s = round(window.low_at.timestamp())
    low = Low(low_s, window.low_level_m, low_s - REACH_S, low_s + REACH_S, False)
    water = water_around(low, work_m, Passages(curve.crossings(work_m)), route_m, Passages(curve.crossings(route_m)))
    starts_s, ends_s = _stretch(low, water, higher)
    was_from_s = window.usable_from.timestamp() if window.usable_from else math.inf
    was_until_s = window.usable_until.timestamp() if window.usable_until else -math.inf
    bounds = _Bounds(max(starts_s, was_from_s), min(ends_s, was_until_s), window.daylight)
    shorter = _window(curve, higher, low, water, bounds, window.bed_level_m)
    told = caution("water-higher", _numbers(shorter, higher), stops=False)
    return replace(shorter, window_id=window.window_id, cautions=(told, *shorter.cautions))


def _turn_back_s(low: Low, water: Water, rules: SiteRules) -> int | None:
    """The time to turn back, seconds since 1970; None where neither the route nor the site sets one."""
    times = []
    if water.floods_s is not None:
        times.append(water.floods_s - rules.walk_s - math.ceil(rules.muster_min * 60))
    if rules.latest_after_low_min is not None:
        times.append(low.at_s + math.floor(rules.latest_after_low_min * 60))
    return min(times, default=None)


def _stretch(low: Low, water: Water, rules: SiteRules) -> tuple[float, float]:
    """From when to when the water lets people be there, seconds since 1970; empty where it never does."""
    if low.is_joined or not (water.is_below_work and water.is_route_dry):
        return math.inf, -math.inf
    starts = [low.begins_s, water.opens_s]
    ends = [low.ends_s, water.closes_s, _turn_back_s(low, water, rules)]
    return max(at for at in starts if at is not None), min(at for at in ends if at is not None)


def _lit(low: Low, water: Water, rules: SiteRules, light: Sequence[Light]) -> _Bounds:
    """The stretch that the water and the light leave; the longest where it has light twice."""
    starts_s, ends_s = _stretch(low, water, rules)
    if not any(one.starts_s < low.at_s + HALF_DAY_S and one.ends_s > low.at_s - HALF_DAY_S for one in light):
        return _Bounds(math.inf, -math.inf, "polar night")
    if starts_s >= ends_s:
        has_light = any(one.starts_s <= low.at_s <= one.ends_s for one in light)
        return _Bounds(starts_s, ends_s, "day" if has_light else "dark")
    shared = [one for one in light if one.starts_s < ends_s and one.ends_s > starts_s]
    if not shared:
        return _Bounds(math.inf, -math.inf, "dark")
    cut = [(max(starts_s, one.starts_s), min(ends_s, one.ends_s - rules.walk_s)) for one in shared]
    from_s, until_s = max(cut, key=lambda pair: pair[1] - pair[0])
    return _Bounds(from_s, until_s, "day" if (from_s, until_s) == (starts_s, ends_s) else "partly")


def _window(
    curve: Curve, rules: SiteRules, low: Low, water: Water, bounds: _Bounds, bed_level_m: float | None
) -> Window:
    is_open = water.is_below_work and not low.is_joined
    low_at = _instant(low.at_s)
    bare = Window(
        window_id=str(uuid.uuid5(NAMESPACE, window_name(rules.site_id, low_at))),
        low_at=low_at,
        low_level_m=low.level_m,
        opens_at=_instant_if(is_open, water.opens_s),
        turn_back_at=_instant_if(is_open and water.is_route_dry, _turn_back_s(low, water, rules)),
        closes_at=_instant_if(is_open, water.closes_s),
        usable_from=_instant_if(bounds.is_usable, bounds.from_s),
        usable_until=_instant_if(bounds.is_usable, bounds.until_s),
        usable_min=int((bounds.until_s - bounds.from_s) // 60) if bounds.is_usable else 0,
        daylight=bounds.daylight,
        safe=False,
        cautions=(),
        bed_level_m=bed_level_m,
    )
    numbers = replace(_numbers(bare, rules), left_out_m=curve.left_out_m)
    stops = _stops(bare, low, water, rules)
    minds = _minds(bare, low, water, rules) if is_open else []
    minds += ["estimated"] * curve.is_estimated + ["incomplete"] * bool(curve.warnings) + ["predicted"]
    cautions = [caution(word, numbers, True) for word in stops] + [caution(word, numbers, False) for word in minds]
    return replace(bare, safe=not stops, cautions=tuple(cautions))


def _stops(window: Window, low: Low, water: Water, rules: SiteRules) -> list[str]:
    """The reasons, as words, for which this window is not one to use."""
    if low.is_joined:
        return ["same-window"]
    if not water.is_below_work:
        return ["above-work"]
    closure = rules.closure_on(window.low_at)
    words = ["closed"] if closure and closure.stops else []
    if not water.is_route_dry:
        words.append("route-wet")
    elif window.turn_back_at and window.opens_at and window.turn_back_at <= window.opens_at:
        words.append("turn-back-first")
    if window.daylight in ("dark", "polar night"):
        words.append(window.daylight.replace(" ", "-"))
    if _dry_min(window, water) < rules.least_usable_min <= window.usable_min:
        words.append("route-late")
    if not words and window.usable_min < max(rules.least_usable_min, 1):
        words.append("short")
    return words


def _minds(window: Window, low: Low, water: Water, rules: SiteRules) -> list[str]:
    """What to mind, as words, whether or not the window is one to use."""
    closure = rules.closure_on(window.low_at)
    words = ["care"] if closure and not closure.stops else []
    if window.usable_min > _dry_min(window, water) >= rules.least_usable_min:
        words.append("route-late")
    if window.daylight == "partly" and window.usable_from:
        words.append("partly")
    if water.opens_s is None or water.closes_s is None or water.opens_s < low.begins_s or water.closes_s > low.ends_s:
        words.append("stays-below")
    if water.is_route_dry and water.floods_s is None:
        words.append("route-stays-dry")
    return words


def _dry_min(window: Window, water: Water) -> int:
    """The usable minutes that are left once the route is dry."""
    if not window.usable_from or not window.usable_until or water.dries_s is None:
        return window.usable_min
    dry_s = max(window.usable_from.timestamp(), water.dries_s)
    return max(0, int((window.usable_until.timestamp() - dry_s) // 60))


def _numbers(window: Window, rules: SiteRules) -> Numbers:
    return Numbers(
        zone=rules.zone,
        low_level_m=window.low_level_m,
        allowance_m=rules.allowance_m,
        work_level_m=rules.work_level_m if window.bed_level_m is None else window.bed_level_m,
        route_low_level_m=rules.route_low_level_m,
        opens_at=window.opens_at,
        turn_back_at=window.turn_back_at,
        usable_from=window.usable_from,
        usable_until=window.usable_until,
        usable_min=window.usable_min,
        least_usable_min=rules.least_usable_min,
        closure=rules.closure_on(window.low_at) if rules.closures else None,
    )


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _instant_if(is_known: bool, seconds: float | None) -> datetime | None:
    return _instant(seconds) if is_known and seconds is not None else None
