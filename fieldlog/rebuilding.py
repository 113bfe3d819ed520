"""
Tables that an older version made, made anew beside the server: reads get the old ones, and whoever writes is sent away until a child
process is done. A child that dies is told and tried again.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import datetime

from fieldlog import child
from fieldlog.errors import FieldlogError
from fieldlog.store import REPLAYING, Programme, ProgrammeLock
from fieldlog.turns import turns_at

PATIENCE_S = 6 * 3600.0
FIRST_WAIT_S, MOST_WAIT_S = 5.0, 300.0
"""Between a failure and the next try; each wait is twice the one before. Our own proposal."""

log = logging.getLogger("fieldlog")


class Rebuild:
    """
    One thread beside the server; writers of this process are sent away from `start` on, until the tables are made or `close` ends it.

    Args:
        take_up: what a starting server writes, done once writers may.
    """

    def __init__(self, programme: Programme, now: Callable[[], datetime], take_up: Callable[[], None]) -> None:
        self._programme, self._now, self._take_up = programme, now, take_up
        self._turns = turns_at(programme.path)
        self._stop, self._done = threading.Event(), threading.Event()
        self._lock = ExitStack()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """
        Send writers away, and begin.

        Raises:
            ProgrammeBusy: another replay is at work.
        """
        self._lock.enter_context(ProgrammeLock(self._programme.folder, REPLAYING))
        self._turns.is_closed = True
        self._thread = threading.Thread(target=self._run, name="rebuild")
        self._thread.start()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until it is over; whether the tables are made."""
        return self._done.wait(timeout_s) and not self._stop.is_set()

    def close(self) -> None:
        """End the child and the thread."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        begun = time.monotonic()
        try:
            entries = self._until_made()
        finally:
            self._turns.is_closed = False
            self._lock.close()
        if entries is not None:
            log.info("The tables were rebuilt from %d entries in %.0f s; entries are accepted again.", entries, time.monotonic() - begun)
            self._take_up()
        self._programme.close()
        self._done.set()

    def _until_made(self) -> int | None:
        wait_s = FIRST_WAIT_S
        log.warning("An older version made the tables. They are being rebuilt; phones read the old ones and wait to send.")
        while not self._stop.is_set():
            job = {"folder": str(self._programme.folder), "now_ms": int(self._now().timestamp() * 1000)}
            try:
                return int(child.run("fieldlog.replaying", job, patience_s=PATIENCE_S, stop=self._stop))
            except (FieldlogError, OSError) as fault:
                if not self._stop.is_set():
                    log.error("Rebuilding the tables stopped: %s It is tried again in %.0f s.", fault, wait_s)
            self._stop.wait(wait_s)
            wait_s = min(2 * wait_s, MOST_WAIT_S)
        return None
