"""
Which windows to choose first: usable minutes, how far the low falls below the work level, daylight, the weekday.

A score of 0 to 100, the sum of four parts that are told beside it; our own proposal, no source. It puts windows that can be
used in an order and says nothing of those that cannot. `static/tides/windows.js` computes the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from fieldlog.windows.access import Window
from fieldlog.windows.rules import SiteRules

ENOUGH_MIN = 180
"""More minutes than this are no better: nobody works longer on the shore."""

ENOUGH_MARGIN_M = 0.5
POINTS = {"minutes": 50, "margin": 20, "daylight": 20, "weekday": 10}
_SATURDAY = 5


@dataclass(frozen=True)
class Ranked:
    """A window that can be used, with its points by part, and its margin: metres from the low, allowance added, to the ground."""

    window: Window
    points: dict[str, int]
    margin_m: float

    @property
    def score(self) -> int:
        """0 to 100."""
        return sum(self.points.values())


def ranked(windows: Sequence[Window], rules: SiteRules) -> list[Ranked]:
    """The windows that nothing stops, best first; of equals the earlier."""
    found = [_ranked(window, rules) for window in windows if window.safe]
    return sorted(found, key=lambda one: (-one.score, one.window.low_at))


def _ranked(window: Window, rules: SiteRules) -> Ranked:
    work_m = rules.work_level_m if window.bed_level_m is None else window.bed_level_m
    margin_m = work_m - rules.allowance_m - window.low_level_m
    weekday = window.low_at.astimezone(ZoneInfo(rules.zone)).weekday()
    wanted = {"any": True, "weekend": weekday >= _SATURDAY, "weekday": weekday < _SATURDAY}[rules.visit_weekday]
    points = {
        "minutes": _part("minutes", window.usable_min / ENOUGH_MIN),
        "margin": _part("margin", margin_m / ENOUGH_MARGIN_M),
        "daylight": POINTS["daylight"] if window.daylight == "day" else POINTS["daylight"] // 2,
        "weekday": POINTS["weekday"] if wanted else 0,
    }
    return Ranked(window, points, margin_m)


def _part(name: str, share: float) -> int:
    """Whole points of a part for its share, 0 to 1."""
    return int(POINTS[name] * min(1.0, max(0.0, share)) + 0.5)
