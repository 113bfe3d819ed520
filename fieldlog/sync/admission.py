"""How many large bodies are worked at a time: the others come again in a moment, and hold no thread while they wait."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from fieldlog.errors import WriterBusy

SMALL_LINES = 20
"""A body of so many lines is worked at once, whatever else is under way."""

LARGE_AT_ONCE = 4
"""Each works a slice in turn, so that a small body waits for four slices at most."""


class Admission:
    """The large bodies under way on one server."""

    def __init__(self) -> None:
        self._places = threading.BoundedSemaphore(LARGE_AT_ONCE)

    @contextmanager
    def of(self, body: bytes) -> Iterator[None]:
        """
        A place for a body until it is worked.

        Raises:
            WriterBusy: it is large, and others of its size are under way; nothing of it was taken, the phone sends it again.
        """
        if body.count(b"\n") - 1 <= SMALL_LINES:
            yield
            return
        if not self._places.acquire(blocking=False):
            raise WriterBusy("Other phones are sending many entries just now. Nothing is lost; this phone sends its own again in a moment.")
        try:
            yield
        finally:
            self._places.release()
