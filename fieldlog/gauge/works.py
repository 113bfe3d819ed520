"""The server's one queue of records to work out: a thread that starts a child for each, and ends when none waits."""

from __future__ import annotations

import threading
from collections import deque

from fieldlog.errors import FieldlogError
from fieldlog.gauge.kept import waiting, work_out
from fieldlog.store import Programme


class Works:
    """Records that wait to be worked out, one at a time."""

    def __init__(self, programme: Programme) -> None:
        self._programme = programme
        self._waiting: deque[str] = deque()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None

    def want(self, water_id: str) -> None:
        """Let a record be worked out soon."""
        with self._changed:
            self._waiting.append(water_id)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="water-level records", daemon=True)
                self._thread.start()

    def resume(self) -> None:
        """Take up what a stopped server left."""
        for water_id in waiting(self._programme.db()):
            self.want(water_id)

    def wait(self, timeout_s: float = 120.0) -> bool:
        """Wait until nothing waits; whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(lambda: self._thread is None, timeout_s)

    def _work(self) -> None:
        while (water_id := self._next()) is not None:
            try:
                work_out(self._programme.db(), water_id)
            except FieldlogError:
                continue  # the record itself keeps the sentence, and the lead reads it there

    def _next(self) -> str | None:
        with self._changed:
            if self._waiting:
                return self._waiting.popleft()
            self._programme.close()
            self._thread = None
            self._changed.notify_all()
            return None
