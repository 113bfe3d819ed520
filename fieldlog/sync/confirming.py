"""A device of a restored backup is confirmed: what it wrote meanwhile leaves the tray, some lines at a time."""

from __future__ import annotations

import logging
import sqlite3
import threading
from collections.abc import Callable
from datetime import datetime
from math import inf
from time import monotonic, sleep

from sqlite_utils import Database

from fieldlog.access import devices
from fieldlog.access.devices import Device
from fieldlog.errors import FieldlogError
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme, write
from fieldlog.sync.apply import release_confirmed, release_some
from fieldlog.sync.imported import is_turning, turn_some
from fieldlog.sync.release import begin_releasing, has_ready, is_releasing

PAUSE_S = 0.02
"""Between two transactions: SQLite's lock is not fair to the server's writers, where this is a process beside it."""

ANSWERED_AFTER_S = 0.1
"""A request that confirms releases for so long before it is answered: most devices have no more. Our own proposal."""

log = logging.getLogger("fieldlog")


def begin_confirming(db: Database, lead: Device | None, device_id: str) -> Device:
    """
    Confirm a device; what it wrote meanwhile is then to be released. `lead` None is the command line.

    Raises:
        NotHere: no such device.
        NotAllowed: it belongs to sites that are not this lead's.
    """
    with write(db):
        device = devices.confirm(db, lead, device_id)
        begin_releasing(db)
    return device


def confirm_device(db: Database, catalogue: Catalogue, lead: Device | None, device_id: str, now_ms: int) -> Device:
    """
    Confirm a device, and release all that it wrote meanwhile.

    Raises:
        NotHere, NotAllowed: as `begin_confirming`.
    """
    device = begin_confirming(db, lead, device_id)
    finish_releasing(db, catalogue, now_ms)
    return device


def finish_releasing(db: Database, catalogue: Catalogue, now_ms: int, within_s: float = inf) -> bool:
    """
    Release what devices wrote before they were confirmed, also what an earlier process was stopped in.

    Returns:
        Whether nothing is left; False where `within_s` seconds were over first.
    """
    began_s = monotonic()
    while is_releasing(db) or has_ready(db) or is_turning(db):
        if monotonic() - began_s > within_s:
            return False
        with write(db):
            if is_releasing(db):
                release_confirmed(db, catalogue, now_ms)
            release_some(db, catalogue, now_ms)
            turn_some(db, catalogue)
        sleep(PAUSE_S)
    return True


class Releases:
    """
    What a server's confirmations leave to be released: one thread, which ends when nothing is left, so that no request's thread waits.

    A server that is killed leaves the rest to the next one, and to each request.
    """

    def __init__(self, programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> None:
        self._programme, self._catalogue, self._now = programme, catalogue, now
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._is_wanted = False

    def want(self) -> None:
        """Let what is left be released soon."""
        with self._changed:
            self._is_wanted = True
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="releases", daemon=True)
                self._thread.start()

    def resume(self) -> None:
        """Take up what a stopped server left."""
        if is_releasing(self._programme.db()) or is_turning(self._programme.db()):
            self.want()

    def wait(self, timeout_s: float = 60.0) -> bool:
        """Wait until the thread has ended; whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(lambda: self._thread is None, timeout_s)

    def _work(self) -> None:
        while self._goes_on():
            try:
                finish_releasing(self._programme.db(), self._catalogue, int(self._now().timestamp() * 1000))
            except (FieldlogError, sqlite3.Error) as fault:
                log.error("Releasing what confirmed devices wrote stopped: %s Each request goes on with it.", fault)

    def _goes_on(self) -> bool:
        with self._changed:
            wanted, self._is_wanted = self._is_wanted, False
            if not wanted:
                self._programme.close()
                self._thread = None
                self._changed.notify_all()
            return wanted
