"""
Words and moments of a movement: towards where, and from which fix on it counts. What moved is judged in `verdict.py`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

PHONE = "phone_gnss"
"""A phone's own position errs by metres: it never says whether anything moved."""

STARTS_ANEW = frozenset({"placed", "reset", "righted", "replaced"})
COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def compass_word(bearing_deg: float) -> str:
    """The nearest of eight directions."""
    return COMPASS[math.floor(bearing_deg / 45 + 0.5) % 8]


def zero_fix(fixes: Sequence[tuple[str, str]], events: Sequence[tuple[str, str]]) -> int | None:
    """
    Which fix every later one is compared with: the first not by phone at or after the newest epoch-starting event.

    Args:
        fixes: (instant, method) in order of time.
        events: (instant, what was done) in any order. Instants are UTC texts of one form.

    Returns:
        The place in `fixes`, or None.
    """
    start = started_at(events)
    return next((n for n, (at, method) in enumerate(fixes) if method != PHONE and at >= start), None)


def started_at(events: Sequence[tuple[str, str]]) -> str:
    """The time of the newest of these events, (instant, what was done), that starts an epoch; empty where none does."""
    return max((at for at, event in events if event in STARTS_ANEW), default="")
