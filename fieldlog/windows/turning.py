"""
Why people turn back when they do: the word of the reason, and its sentence.

There is one time to turn back from a low, the earliest of all reasons (exposures.py works it out). A reason's sentence is made from
its word, that time and the site's rules alone, here and in `static/tides/turning.js`, letter for letter
(tests/vectors/windows_cases.json): so the phone is sent a letter a low.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from fieldlog.windows.rules import SiteRules

BackWord = Literal["path", "work", "light", "latest", "closure", "high"]
"""
The path floods; the work area floods; last light; the site's latest time after low; a closure begins; or the high after the low,
beyond which all counts as the next low's.
"""

BACK_WORDS: tuple[BackWord, ...] = ("path", "work", "light", "latest", "closure", "high")
"""Of reasons that fall on the same second the first is told."""

MINUTE_S = 60


def clock(at: datetime | None, zone: str) -> str:
    """An instant on the site's clock, hours and minutes."""
    return "an unknown time" if at is None else at.astimezone(ZoneInfo(zone)).strftime("%H:%M")


def back_reason(word: BackWord | None, turn_back_at: datetime | None, rules: SiteRules) -> str | None:
    """Why people turn back at a time, as words that follow a colon; None where there is no such time."""
    if word is None or turn_back_at is None:
        return None
    walked_at = turn_back_at + timedelta(seconds=rules.walk_s)
    walk_min = rules.walk_s // MINUTE_S
    if word == "path":
        floods_at = walked_at + timedelta(seconds=rules.muster_s)
        return f"the path floods at {clock(floods_at, rules.zone)}, and gathering and walking in take up to {walk_min + rules.muster_s // MINUTE_S} min"
    if word == "work":
        return f"the work area floods at {clock(turn_back_at, rules.zone)}"
    if word == "light":
        return f"last light is {clock(walked_at, rules.zone)}, and the walk in takes up to {walk_min} min"
    if word == "latest":
        return "the site's latest time after low"
    if word == "closure":
        closure = rules.closure_on(walked_at)
        return f"{closure.name if closure else 'a closure'} begins at {clock(walked_at, rules.zone)}, and the walk in takes up to {walk_min} min"
    return f"the next high is at {clock(turn_back_at, rules.zone)}"


def leaves_home_at(usable_from: datetime, rules: SiteRules) -> datetime:
    """When to leave home so as to stand on the far row as its minutes begin: the way there, and the walk out, which then begins on dry ground."""
    left_at = usable_from - timedelta(minutes=rules.travel_min, seconds=rules.out_s)
    return left_at.replace(second=0, microsecond=0)
