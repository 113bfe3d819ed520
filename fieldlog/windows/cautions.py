"""
Why a window is not one to use, and what to mind in one that is.

A caution is a word and numbers; its sentence is made from them, here and in `static/tides/windows.js`, letter for
letter (tests/vectors/windows_cases.json). So the phone is sent words only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from fieldlog.days import day_words
from fieldlog.rounding import rounded
from fieldlog.windows.daylight import POLAR_NIGHT
from fieldlog.windows.rules import Closure
from fieldlog.windows.turning import clock

USUAL = (
    "Predicted from the tide alone: wind, waves, air pressure and rain move the water. "
    "Trust what you see; local rules and authorities come first."
)

FIXED = {
    "predicted": USUAL,
    "estimated": "Estimated: this station publishes only highs and lows. The curve between them comes from another station.",
    "same-window": "This low and a deeper one share one long dry time. See the deeper low.",
    "dark": "Dark from start to end: no daylight while the water is low enough.",
    "polar-night": POLAR_NIGHT,
    "stays-below": "The water stays below the work level through a high next to this low. The minutes end at that high.",
    "route-stays-dry": "The path is not predicted to flood within a day after this low, so it sets no turn-back time.",
}
"""Sentences without numbers."""


@dataclass(frozen=True)
class Caution:
    """`stops`: the window is not to be used, for this reason."""

    word: str
    sentence: str
    stops: bool


@dataclass(frozen=True)
class Numbers:
    """What the sentences speak of: levels in metres above chart datum, instants in UTC, `zone` an IANA name."""

    zone: str
    low_level_m: float
    allowance_m: float
    work_level_m: float
    route_low_level_m: float
    opens_at: datetime | None
    turn_back_at: datetime | None
    route_dries_at: datetime | None
    usable_from: datetime | None
    usable_until: datetime | None
    usable_min: int
    least_usable_min: float
    closure: Closure | None = None
    left_out_m: float = 0.0
    """What the constituents that the prediction leaves out make together, metres."""


def caution(word: str, numbers: Numbers, stops: bool) -> Caution:
    """The caution of a word, with its sentence."""
    return Caution(word, FIXED.get(word) or _MADE[word](numbers), stops)


def _sum(n: Numbers) -> str:
    return f"{rounded(n.low_level_m, 2)} m predicted plus {rounded(n.allowance_m, 2)} m allowance"


def _above_work(n: Numbers) -> str:
    return f"The low stays above the work level: {_sum(n)}, work level {rounded(n.work_level_m, 2)} m."


def _route_wet(n: Numbers) -> str:
    return f"The path stays under water: {_sum(n)}, lowest point of the path {rounded(n.route_low_level_m, 2)} m."


def _turn_back_first(n: Numbers) -> str:
    return (
        f"The turn-back time {clock(n.turn_back_at, n.zone)} comes before the work area opens at "
        f"{clock(n.opens_at, n.zone)}."
    )


def _route_late(n: Numbers) -> str:
    return f"The path is dry only from {clock(n.route_dries_at, n.zone)}: the minutes start after that walk."


def _short(n: Numbers) -> str:
    return f"Too short: {n.usable_min} min usable; this site asks for {math.ceil(n.least_usable_min)} min."


def _partly(n: Numbers) -> str:
    return (
        f"Daylight shortens it: usable from {clock(n.usable_from, n.zone)} to {clock(n.usable_until, n.zone)}, "
        "with both walks in daylight."
    )


def _water_higher(n: Numbers) -> str:
    return f"The water is higher than predicted: turn back by {clock(n.turn_back_at, n.zone)}."


def _closed(n: Numbers) -> str:
    return f"Closed: {_closure(n)}. Follow the permit and the local authority."


def _care(n: Numbers) -> str:
    return f"Go with care: {_closure(n)}."


def _closure(n: Numbers) -> str:
    if n.closure is None:
        return "a closure"
    first, last = n.closure.from_day, n.closure.to_day
    with_year = not n.closure.every_year
    return f"{n.closure.name}, {day_words(first, year=with_year)} to {day_words(last, year=with_year)}"


def _incomplete(n: Numbers) -> str:
    return (
        f"This station's prediction leaves out small parts of the tide, {rounded(n.left_out_m, 2)} m together: the water may be that much higher or lower."
    )


_MADE = {
    "incomplete": _incomplete,
    "closed": _closed,
    "care": _care,
    "above-work": _above_work,
    "route-wet": _route_wet,
    "turn-back-first": _turn_back_first,
    "route-late": _route_late,
    "short": _short,
    "partly": _partly,
    "water-higher": _water_higher,
}
