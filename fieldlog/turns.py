"""
Writers of one file take turns in the order in which they came.

SQLite's own lock is not fair: whoever commits and begins again at once starves those who sleep in its busy handler.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from weakref import WeakValueDictionary

from fieldlog.errors import FieldlogError, Rebuilding, WriterBusy


class Turns:
    """A lock that serves in order."""

    def __init__(self) -> None:
        self._mutex = threading.Lock()
        self._queue: deque[threading.Event] = deque()
        self.is_closed = False
        """Whether nobody gets a turn, since another process rebuilds the tables."""
        self.disk_fault: FieldlogError | None = None
        """What the disk said to the last change that it was given, None where it took that."""

    @property
    def others_wait(self) -> bool:
        """Whether somebody waits behind the one whose turn it is."""
        return len(self._queue) > 1

    @contextmanager
    def turn(self, patience_s: float) -> Iterator[None]:
        """
        Wait for one's turn, and have it until the end of the block.

        Raises:
            WriterBusy: it did not come within `patience_s` seconds.
            Rebuilding: nobody gets one now.
        """
        if self.is_closed:
            raise Rebuilding
        mine = threading.Event()
        with self._mutex:
            self._queue.append(mine)
            if self._queue[0] is mine:
                mine.set()
        try:
            if not mine.wait(patience_s):
                raise WriterBusy(f"Others have been writing for over {patience_s:g} s. Nothing was changed; try again.")
            yield
        finally:
            with self._mutex:
                self._queue.remove(mine)
                if self._queue:
                    self._queue[0].set()


_turns: WeakValueDictionary[str, Turns] = WeakValueDictionary()
_mutex = threading.Lock()


def turns_at(path: Path | str) -> Turns:
    """The turns of a file: one queue a file and process, for as long as somebody holds on to it."""
    name = str(Path(path).resolve())
    with _mutex:
        turns = _turns.get(name)
        if turns is None:
            turns = _turns[name] = Turns()
        return turns
