"""Windows as the plain rows that the command line and the pack speak."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from fieldlog.days import day_words
from fieldlog.instants import written
from fieldlog.rounding import rounded
from fieldlog.shown_names import counted
from fieldlog.windows.access import Window
from fieldlog.windows.rules import SiteRules
from fieldlog.windows.turning import leaves_home_at


def window_row(window: Window, site: str, rules: SiteRules, row: str | None = None, unit: str | None = None) -> dict[str, Any]:
    """
    A window as JSON: UTC instants, metres above chart datum, whole minutes.

    Args:
        site, row, unit: the names or ids to show; `row` and `unit` None where the levels are the site's own.
    """
    return {
        "site": site,
        "row": row,
        "unit": unit,
        "window_id": window.window_id,
        "opens_at": told(window.opens_at),
        "low_at": told(window.low_at),
        "low_level_m": window.low_level_m,
        "leave_home_at": told(leaves_home_at(window.usable_from, rules)) if window.usable_from else None,
        "route_dries_at": told(window.route_dries_at),
        "turn_back_at": told(window.turn_back_at),
        "turn_back_reason": window.turn_back_reason,
        "leave_row_at": told(window.leave_row_at),
        "closes_at": told(window.closes_at),
        "usable_from": told(window.usable_from),
        "usable_until": told(window.usable_until),
        "usable_min": window.usable_min,
        "bed_level_m": window.bed_level_m,
        "daylight": window.daylight,
        "safe": window.safe,
        "cautions": [{"word": c.word, "sentence": c.sentence, "stops": c.stops} for c in window.cautions],
    }


def told(at: datetime | None) -> str | None:
    """A UTC instant as text, None as nothing."""
    return None if at is None else written(at)


def path_words(row: Mapping[str, Any], zone: ZoneInfo) -> str:
    """From when the path is dry, of a window's row that has minutes: on the site's clock, or that it is so all the time."""
    if row["route_dries_at"]:
        return f"{datetime.fromisoformat(row['route_dries_at']).astimezone(zone):%H:%M}"
    # Work has no time without a path: of one that is not known to dry, it dried more than a day before, or never floods.
    return "all the time" if any(caution["word"] == "route-stays-dry" for caution in row["cautions"]) else "over a day before"


def no_window_sentence(windows: Sequence[Window], rules: SiteRules, days: int) -> str | None:
    """
    Why the next `days` days hold no window to use; None where they hold one.

    Args:
        windows: of these days, all of one work level.
    """
    if any(window.safe for window in windows):
        return None
    if not windows:
        return f"No low tide is predicted in the next {days} days. Is the tide station the right one?"
    work_m = rules.work_level_m if windows[0].bed_level_m is None else windows[0].bed_level_m
    lowest = min(windows, key=lambda window: window.low_level_m)
    level_m, day = lowest.low_level_m + rules.allowance_m, lowest.low_at.astimezone(ZoneInfo(rules.zone))
    if level_m >= work_m:
        return (
            f"No low in the next {days} days falls below the work level {rounded(work_m, 2)} m (lowest: {rounded(level_m, 2)} m on "
            f"{day_words(day)}, with the allowance of {rounded(rules.allowance_m, 2)} m). "
            "Are the work level, its datum and the tide station right?"
        )
    reasons: dict[str, int] = {}
    for window in windows:
        stop = next(caution for caution in window.cautions if caution.stops)
        reasons[stop.word] = reasons.get(stop.word, 0) + 1
    whys = ", ".join(f"{n} {_REASONS[word]}" for word, n in sorted(reasons.items(), key=lambda item: -item[1]))
    return f"No usable low in the next {days} days. Of {counted(len(windows), 'low')}: {whys}."


_REASONS = {
    "above-work": "above the work level",
    "route-wet": "with the path under water",
    "turn-back-first": "with the turn-back time before the work area opens",
    "short": "too short",
    "dark": "in the dark",
    "polar-night": "in the polar night",
    "closed": "on closed days",
    "same-window": "part of another low",
}
