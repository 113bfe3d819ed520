"""
Windows of several work levels in few bytes; `static/store/packed.js` reads them.

    {"from_day": "2026-11-24", "low_s": [...], "low_mm": [...], "dries": [...], "words": [["predicted"], ...],
     "levels": {name: {"bed_level_m", "opens", "back", "why", "closes", "from", "until", "usable", "daylight", "stops", "minds"}}}

All levels share their lows: seconds after `from_day` 0 h UTC and millimetres above chart datum, each the difference to
the one before. The times are whole minutes after `from_day` 0 h UTC, turned towards less time on the shore (`opens`,
`from` and the path's `dries` up, the others down), each counted from the low's minute as the difference to the low before; null
where there is none. `daylight` is a letter a low, and `why` one for the reason to turn back, "-" for none. `stops` and `minds` are
places in `words`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time
from math import ceil, floor
from typing import Any

from fieldlog.windows.access import Window
from fieldlog.windows.turning import BackWord

LETTERS = {"day": "d", "partly": "p", "dark": "k", "polar night": "n"}
WHY: dict[BackWord | None, str] = {"path": "p", "work": "w", "light": "l", "latest": "t", "closure": "c", "high": "h", None: "-"}


def windows_columns(from_day: date, levels: Mapping[str, Sequence[Window]]) -> dict[str, Any]:
    """
    The columns of the windows of each level.

    Args:
        from_day: minutes are counted from its 0 h UTC.
        levels: windows of the same lows in time order, by a level's name.
    """
    zero_s = datetime.combine(from_day, time(), UTC).timestamp()
    lows = next(iter(levels.values()), [])
    words: dict[tuple[str, ...], int] = {}
    return {
        "from_day": from_day.isoformat(),
        "low_s": differences([round(window.low_at.timestamp() - zero_s) for window in lows]),
        "low_mm": differences([round(window.low_level_m * 1000) for window in lows]),
        "dries": differences([_dries(some, zero_s) for some in zip(*levels.values(), strict=True)]),
        "levels": {name: _level(windows, zero_s, words) for name, windows in levels.items()},
        "words": [list(some) for some in words],
    }


def _level(windows: Sequence[Window], zero_s: float, words: dict[tuple[str, ...], int]) -> dict[str, Any]:
    def place(window: Window, *, stops: bool) -> int:
        some = tuple(caution.word for caution in window.cautions if caution.stops == stops)
        return words.setdefault(some, len(words))

    def minutes(name: str, turned: Any) -> list[int | None]:
        return differences([_after_low(window, getattr(window, name), zero_s, turned) for window in windows])

    return {
        "bed_level_m": windows[0].bed_level_m if windows else None,
        "opens": minutes("opens_at", ceil),
        "back": minutes("turn_back_at", floor),
        "why": "".join(WHY[window.turn_back_word] for window in windows),
        "closes": minutes("closes_at", floor),
        "from": minutes("usable_from", ceil),
        "until": minutes("usable_until", floor),
        "usable": differences([window.usable_min for window in windows]),
        "daylight": "".join(LETTERS[window.daylight] for window in windows),
        "stops": [place(window, stops=True) for window in windows],
        "minds": [place(window, stops=False) for window in windows],
    }


def _dries(some: Sequence[Window], zero_s: float) -> int | None:
    """When the path of one low dries: a level that stays under water then does not say."""
    told = next((window for window in some if window.route_dries_at), some[0])
    return _after_low(told, told.route_dries_at, zero_s, ceil)


def _after_low(window: Window, at: datetime | None, zero_s: float, turned: Any) -> int | None:
    if at is None:
        return None
    minute: int = turned((at.timestamp() - zero_s) / 60)
    return minute - floor((window.low_at.timestamp() - zero_s) / 60)


def differences(values: Iterable[int | None]) -> list[Any]:
    """Each number less the one before; the first less nothing; None stays and is passed over."""
    last = 0
    found: list[int | None] = []
    for value in values:
        found.append(None if value is None else value - last)
        last = last if value is None else value
    return found
