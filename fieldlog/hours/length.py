"""
How long a sign-in is: one rule for counts of people, past visits, own hours, the ledger and what readers are told.

A time counts by the minute that its clock shows, so that whoever subtracts the printed times gets the printed hours; seconds are dropped.
Times are instants of UTC, so a night on which the clocks change is as long as it was. The phone does the same
(`static/records/hours.js`, tests/vectors/hours_cases.json).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from fieldlog.records.sign_in import MISTAKEN

MINUTE_S = 60
HOUR_MIN = 60

REMOVED, DAY_ALONE, OPEN, NO_OUT, OUT_FIRST = "removed", "day-alone", "open", "no-out", "out-first"
"""
Why a sign-in has no length: it was a mistake; only its day is known; nobody signed out; a reason stands where the time out
should; the time out is before the time in.
"""


class Turn(NamedTuple):
    """One sign-in that has both ends: its id, and its minutes since 1970 UTC."""

    sign_in_id: str
    from_min: int
    until_min: int


def minute_of(instant: str) -> int:
    """The whole minutes since 1970 UTC of a row's instant."""
    return int(datetime.fromisoformat(instant).timestamp() // MINUTE_S)


def turn_of(sign_in: Mapping[str, Any]) -> Turn | str:
    """A sign-in as a turn, or the word for why it has no length."""
    in_at, out_at = sign_in["in_at"], sign_in["out_at"]
    if sign_in["no_out_reason"] == MISTAKEN:
        return REMOVED
    if sign_in["time_known"] is not None and not sign_in["time_known"]:
        return DAY_ALONE
    if in_at is None or out_at is None:
        return NO_OUT if in_at is not None and sign_in["no_out_reason"] else OPEN
    if out_at < in_at:
        return OUT_FIRST
    return Turn(sign_in["record_id"], minute_of(in_at), minute_of(out_at))


def counted_once(turns: Iterable[Turn]) -> dict[str, Turn]:
    """
    One person's turns, no minute in two of them: of those that overlap the one that began first keeps the minutes.

    Returns:
        {sign-in id: what is left of its turn}, in the order of their beginnings; nothing is left where it ends as it begins.
    """
    reached, left = None, {}
    for turn in sorted(turns, key=lambda turn: (turn.from_min, turn.sign_in_id)):
        start = turn.from_min if reached is None else max(turn.from_min, min(reached, turn.until_min))
        left[turn.sign_in_id] = Turn(turn.sign_in_id, start, turn.until_min)
        reached = turn.until_min if reached is None else max(reached, turn.until_min)
    return left


def by_day(from_min: int, until_min: int, zone: ZoneInfo) -> list[tuple[date, int]]:
    """
    Minutes by the days of a place's clock: a turn over midnight, and so over the end of a month or a year, is parted there.

    Returns:
        [(day, minutes)], days without a minute left out.
    """
    parts = []
    while from_min < until_min:
        day = _day_of(from_min, zone)
        end = min(until_min, _day_starts(day + timedelta(days=1), zone))
        parts.append((day, end - from_min))
        from_min = end
    return parts


def day_of(instant: str, zone: ZoneInfo) -> date:
    """The day of an instant on a place's clock."""
    return _day_of(minute_of(instant), zone)


def _day_of(minute: int, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(minute * MINUTE_S, zone).date()


@lru_cache(1 << 14)
def _day_starts(day: date, zone: ZoneInfo) -> int:
    """The first minute of a day. Where its midnight does not exist, zoneinfo's answer is the moment at which the clocks went on."""
    return int(datetime.combine(day, time(), zone).timestamp()) // MINUTE_S
