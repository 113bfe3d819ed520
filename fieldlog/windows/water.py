"""
The lows of a curve, and the stretch of water that each of them owns.

Times are whole seconds since 1970 UTC, levels predicted metres above chart datum. `static/tides/windows.js` computes
the same (tests/vectors/windows_cases.json).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

REACH_S = 24 * 3600
"""How far from a low its crossings are looked for; what lies beyond counts as not happening."""

JOIN_S = 8 * 3600
"""Lows nearer than this, with a way to stay out between them, are one window; our own proposal, no source."""


class Extreme(Protocol):
    """A high or a low."""

    @property
    def at_utc(self) -> datetime: ...
    @property
    def level_m(self) -> float: ...
    @property
    def kind(self) -> str: ...


class Crossing(Protocol):
    """An instant at which the curve passes a level."""

    @property
    def at_utc(self) -> datetime: ...
    @property
    def is_rising(self) -> bool: ...


class Curve(Protocol):
    """A predicted curve over a span, metres above chart datum (fieldlog.tides.curve.Curve is one)."""

    @property
    def is_estimated(self) -> bool: ...
    @property
    def warnings(self) -> tuple[str, ...]: ...
    @property
    def left_out_m(self) -> float: ...
    def extremes(self) -> Sequence[Extreme]: ...
    def crossings(self, level_m: float) -> Sequence[Crossing]: ...


@dataclass(frozen=True)
class Low:
    """
    One low and the stretch it owns, from the high before it to the high after, a day at most on either side.

    `is_joined`: a deeper low stands in the same stretch and carries the window for both.
    """

    at_s: int
    level_m: float
    begins_s: int
    ends_s: int
    is_joined: bool


def lows_of(extremes: Sequence[Extreme], dry_below_m: float) -> list[Low]:
    """
    Every low of a list of highs and lows, in time order, with the stretch it owns.

    Args:
        extremes: in time order.
        dry_below_m: predicted level under which both the work area and the route are out of the water; two lows
            within eight hours and a hump below this between them share one stretch, which the lower one carries.
    """
    lows = [(round(e.at_utc.timestamp()), e.level_m, place) for place, e in enumerate(extremes) if e.kind == "low"]
    groups: list[list[tuple[int, float, int]]] = []
    for low in lows:
        previous = groups[-1][-1] if groups else None
        if previous and low[0] - previous[0] < JOIN_S and _stays_below(extremes[previous[2] : low[2]], dry_below_m):
            groups[-1].append(low)
        else:
            groups.append([low])
    return [low for group in groups for low in _stretch(group, extremes)]


def _stays_below(between: Sequence[Extreme], level_m: float) -> bool:
    return max(e.level_m for e in between) < level_m


def _stretch(group: list[tuple[int, float, int]], extremes: Sequence[Extreme]) -> list[Low]:
    first, last = group[0], group[-1]
    deepest = min(group, key=lambda low: (low[1], low[0]))
    # Crossings are known a day around the low that carries the stretch: it must not reach beyond what is known.
    begins_s, ends_s = deepest[0] - REACH_S, deepest[0] + REACH_S
    if first[2] > 0:
        begins_s = max(begins_s, round(extremes[first[2] - 1].at_utc.timestamp()))
    if last[2] + 1 < len(extremes):
        ends_s = min(ends_s, round(extremes[last[2] + 1].at_utc.timestamp()))
    return [Low(at_s, level_m, begins_s, ends_s, place != deepest[2]) for at_s, level_m, place in group]
