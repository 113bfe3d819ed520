"""
The stamp that orders entries: a hybrid logical clock.

A stamp is 16 lowercase hex digits: 12 of milliseconds since 1970 UTC, 4 of a counter up to 7fff. Stamps compare
as text.

Source: Kulkarni et al. 2014, Logical Physical Clocks, LNCS 8878, pp. 17-32; the carry of the counter is ours.
"""

from __future__ import annotations

DRIFT_MS = 5 * 60 * 1000
"""A phone's stamp may lie this far ahead of the server before the server's own tick orders the entry instead."""

COUNTER_MAX = 0x7FFF
START = "0" * 16
BACKDATED = 0x8000
"""A bit above the counter, in effective stamps alone: no line's own stamp has it."""

_HEX = frozenset("0123456789abcdef")


def pack(ms: int, counter: int) -> str:
    """The stamp of a millisecond and a counter."""
    return f"{ms:012x}{counter:04x}"


def unpack(stamp: str) -> tuple[int, int]:
    """Milliseconds since 1970 UTC and the counter of a stamp."""
    return int(stamp[:12], 16), int(stamp[12:], 16)


def is_stamp(value: object) -> bool:
    """Whether a value is a stamp: 16 lowercase hex digits, the counter no more than 7fff."""
    return isinstance(value, str) and len(value) == 16 and _HEX.issuperset(value) and value[12:] <= "7fff"


def tick(now_ms: int, last: str) -> str:
    """The next stamp after `last` at wall time `now_ms`; a full counter carries into the millisecond."""
    ms, counter = unpack(last)
    if now_ms > ms:
        return pack(now_ms, 0)
    return pack(ms, counter + 1) if counter < COUNTER_MAX else pack(ms + 1, 0)


def effective(stamp: str, now_ms: int, newest: str) -> str:
    """
    The stamp an entry is ordered by: its own, unless that lies over five minutes in the server's future.

    Args:
        stamp: the claim in the line.
        now_ms: the server's clock.
        newest: the greatest effective stamp in the log so far.
    """
    return stamp if unpack(stamp)[0] <= now_ms + DRIFT_MS else tick(now_ms, newest)


def is_as_old(eff: str, other: str) -> bool:
    """Whether an effective stamp lies in another's millisecond or before it."""
    return eff[:12] <= other[:12]


def backdated(eff: str) -> str:
    """
    The effective stamp of an entry that says it is as old as what began its record, and came after that.

    It is ordered by its time, so that an older value does not win by coming late; it says of nobody that they made the record.
    """
    ms, counter = unpack(eff)
    return pack(ms, counter | BACKDATED)


def is_backdated(eff: str) -> bool:
    """Whether an effective stamp is of such an entry."""
    return eff[12:13] >= "8"
