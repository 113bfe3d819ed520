"""
Access windows: when a site's work area can be reached, used and left again around each low, with the reasons in words.

The rule is exposures.py's, whose columns these windows are made from; a single low is a column of one. These are reasons to go or
stay, never a promise.
"""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from fieldlog.rounding import rounded
from fieldlog.windows.cautions import Caution, Numbers, caution
from fieldlog.windows.daylight import Light
from fieldlog.windows.exposures import DARK, LIGHTS, POLAR_NIGHT, Crossed, Daylight, Exposures, exposures
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.turning import BACK_WORDS, BackWord, back_reason

MARGIN = timedelta(hours=36)
"""A curve must reach this far beyond the lows asked for, or windows at the edges are cut."""

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "fieldlog")


@dataclass(frozen=True)
class Window:
    """
    What is known about one low. Instants are UTC and whole minutes, starts turned up and ends down; None where it does not happen
    within a day of the low. The low itself is told to the second.

    `low_level_m` is predicted, without the allowance, metres above chart datum. `turn_back_at`, for `turn_back_word`, is one for the
    low. `bed_level_m` is the row's level where the window is a row's, else None; `leave_row_at` is when this row is left, None where
    the window is the site's.
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
    turn_back_word: BackWord | None = None
    turn_back_reason: str | None = None
    route_dries_at: datetime | None = None
    leave_row_at: datetime | None = None


def window_name(site_id: str, low_at: datetime) -> str:
    """The text whose UUIDv5 is a window's id: the site and the hour of the low."""
    return f"window|{site_id}|{low_at.astimezone(UTC):%Y-%m-%dT%H}"


def access_windows(
    curve: Crossed,
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
    work_m = rules.work_level_m if bed_level_m is None else bed_level_m
    return windows_of(exposures(curve, rules, light, from_utc, to_utc, [work_m]), curve, rules, bed_level_m)


def windows_of(columns: Exposures, curve: Crossed, rules: SiteRules, bed_level_m: float | None) -> list[Window]:
    """The windows of the only level of some columns."""
    of_lows = ("low_s", "low_m", "is_dry", "dries_s", "floods_s")
    of_level = (
        "begins_s", "ends_s", "is_joined", "is_below", "opens_s", "closes_s", "back_s", "back_word", "leave_s", "from_s", "until_s",
        "usable_min", "light", "is_late", "safe",
    )  # fmt: skip
    told = [getattr(columns, name).tolist() for name in of_lows] + [getattr(columns, name)[0].tolist() for name in of_level]
    names = (*of_lows, *of_level)
    return [_window(dict(zip(names, one, strict=True)), curve, rules, bed_level_m) for one in zip(*told, strict=True)]


def _window(one: Mapping[str, Any], curve: Crossed, rules: SiteRules, bed_level_m: float | None) -> Window:
    """
    Args:
        one: a low's numbers, by the names of Exposures.
    """
    is_open = one["is_below"] and not one["is_joined"]
    low_at = _instant(one["low_s"])
    back_at = _instant_if(one["back_s"])
    back_word = BACK_WORDS[one["back_word"]] if one["back_word"] >= 0 else None
    bare = Window(
        window_id=str(uuid.uuid5(NAMESPACE, window_name(rules.site_id, low_at))),
        low_at=low_at,
        low_level_m=float(rounded(one["low_m"], 3)),  # whole millimeters, as a pack carries them: a sentence that rounds again says the same
        opens_at=_instant_if(one["opens_s"]),
        turn_back_at=back_at,
        closes_at=_instant_if(one["closes_s"]),
        usable_from=_instant_if(one["from_s"]),
        usable_until=_instant_if(one["until_s"]),
        usable_min=one["usable_min"],
        daylight=LIGHTS[one["light"]],
        safe=False,
        cautions=(),
        bed_level_m=bed_level_m,
        turn_back_word=back_word,
        turn_back_reason=back_reason(back_word, back_at, rules),
        route_dries_at=_instant_if(one["dries_s"]) if is_open else None,
        leave_row_at=None if bed_level_m is None else _instant_if(one["leave_s"]),
    )
    numbers = replace(numbers_of(bare, rules), left_out_m=curve.left_out_m)
    stops = _stops(bare, one, rules)
    minds = _minds(bare, one, rules) if is_open else []
    minds += ["estimated"] * curve.is_estimated + ["incomplete"] * bool(curve.warnings) + ["predicted"]
    cautions = [caution(word, numbers, True) for word in stops] + [caution(word, numbers, False) for word in minds]
    return replace(bare, safe=not stops, cautions=tuple(cautions))


def _stops(window: Window, one: Mapping[str, Any], rules: SiteRules) -> list[str]:
    """The reasons, as words, for which this window is not one to use."""
    if one["is_joined"]:
        return ["same-window"]
    if not one["is_below"]:
        return ["above-work"]
    closure = rules.closure_on(window.low_at)
    words = ["closed"] if closure and closure.stops else []
    if not one["is_dry"]:
        words.append("route-wet")
    elif one["back_s"] <= one["opens_s"]:
        words.append("turn-back-first")
    if one["light"] in (DARK, POLAR_NIGHT):
        words.append(window.daylight.replace(" ", "-"))
    if not words and window.usable_min < max(rules.least_usable_min, 1):
        words.append("short")
    return words


def _minds(window: Window, one: Mapping[str, Any], rules: SiteRules) -> list[str]:
    """What to mind, as words, whether or not the window is one to use."""
    closure = rules.closure_on(window.low_at)
    words = ["care"] if closure and not closure.stops else []
    if one["is_late"]:
        words.append("route-late")
    if window.daylight == "partly" and window.usable_from:
        words.append("partly")
    # What does not happen is NaN, and no comparison with it holds.
    if not (one["opens_s"] >= one["begins_s"] and one["closes_s"] <= one["ends_s"]):
        words.append("stays-below")
    if one["is_dry"] and math.isnan(one["floods_s"]):
        words.append("route-stays-dry")
    return words


def numbers_of(window: Window, rules: SiteRules) -> Numbers:
    """The numbers that a window's sentences say."""
    return Numbers(
        zone=rules.zone,
        low_level_m=window.low_level_m,
        allowance_m=rules.allowance_m,
        work_level_m=rules.work_level_m if window.bed_level_m is None else window.bed_level_m,
        route_low_level_m=rules.route_low_level_m,
        opens_at=window.opens_at,
        turn_back_at=window.turn_back_at,
        route_dries_at=window.route_dries_at,
        usable_from=window.usable_from,
        usable_until=window.usable_until,
        usable_min=window.usable_min,
        least_usable_min=rules.least_usable_min,
        closure=rules.closure_on(window.low_at) if rules.closures else None,
    )


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _instant_if(seconds: float) -> datetime | None:
    return None if math.isnan(seconds) else _instant(seconds)
