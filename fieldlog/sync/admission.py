"""How many large bodies are worked at a time: a few wait at the door, the others come again in a moment and hold no thread."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from fieldlog.errors import WriterBusy

SMALL_LINES = 20
"""A body of so many lines is worked at once, whatever else is under way."""

LARGE_AT_ONCE = 2
"""Each works a slice in turn, so that a small body waits for two slices at most."""

AT_THE_DOOR = 4
"""Large bodies that wait for a place with a thread each, so that none stands empty; two threads of eight are left for all else."""

PATIENCE_S = 2.0
"""How long one waits there."""

OLDEST_FIRST = 12
"""
Of those that were sent away, only so many of the longest waiting are let in. They come back within a second each, which is as many
bodies as are worked in one; among a hundred that try their luck, one in a hundred waited 12 s, measured.
"""

COMES_BACK = timedelta(seconds=4)
"""Whoever was sent away and does not come again within this time has lost its place in the order."""


class Admission:
    """The large bodies under way on one server, and the devices whose bodies were sent away, the longest waiting first."""

    def __init__(self) -> None:
        self._mutex = threading.Lock()
        self._at_the_door = 0
        self._places = threading.BoundedSemaphore(LARGE_AT_ONCE)
        self._sent_away: dict[str, datetime] = {}

    @contextmanager
    def of(self, device_id: str, body: bytes, now: datetime) -> Iterator[None]:
        """
        A place for a device's body until it is worked.

        Raises:
            WriterBusy: it is large, and others of its size are under way; nothing of it was taken, the phone sends it again.
        """
        if body.count(b"\n") - 1 <= SMALL_LINES:
            yield
            return
        if not self._has_place(device_id, now):
            raise WriterBusy("Other phones are sending many entries. Nothing is lost; this phone tries again in a moment.")
        try:
            yield
        finally:
            self._places.release()

    def _has_place(self, device_id: str, now: datetime) -> bool:
        with self._mutex:
            self._sent_away = {one: at for one, at in self._sent_away.items() if abs(now - at) < COMES_BACK}
            order = list(self._sent_away)
            ahead = order.index(device_id) if device_id in self._sent_away else len(order)
            may_wait = ahead < OLDEST_FIRST and self._at_the_door < AT_THE_DOOR
            self._at_the_door += may_wait
        has_place = may_wait and self._places.acquire(timeout=PATIENCE_S)
        with self._mutex:
            self._at_the_door -= may_wait
            if has_place:
                self._sent_away.pop(device_id, None)
            else:
                self._sent_away[device_id] = now
        return has_place
