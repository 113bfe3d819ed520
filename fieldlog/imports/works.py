"""The server's one queue of uploads to try and to take: a thread that ends when none waits; and what is looked at hourly."""

from __future__ import annotations

import logging
import sqlite3
import threading
from collections import deque
from collections.abc import Callable
from datetime import datetime

from fieldlog.errors import FieldlogError
from fieldlog.imports.kept import TAKING, TRYING, Upload, take_upload, tend_uploads, try_upload, uploads
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

EVERY_S = 3600.0

log = logging.getLogger("fieldlog")


class ImportWorks:
    """Uploads that wait to be tried or taken, one at a time."""

    def __init__(self, programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> None:
        self._programme, self._catalogue, self._now = programme, catalogue, now
        self._waiting: deque[Upload] = deque()
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None

    def want(self, upload: Upload) -> None:
        """Let an upload be tried, or taken where its taking was begun."""
        with self._changed:
            self._waiting.append(upload)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="imports", daemon=True)
                self._thread.start()

    def resume(self) -> None:
        """Go on with what a stopped server left; what it was only trying is to be tried again by a person."""
        for upload in uploads(self._programme):
            if upload.about["state"] == TAKING:
                self.want(upload)
            elif upload.about["state"] == TRYING:
                upload.note(state="read", step=None)

    def wait(self, timeout_s: float = 120.0) -> bool:
        """Wait until nothing waits; whether that came to pass."""
        with self._changed:
            return self._changed.wait_for(lambda: self._thread is None, timeout_s)

    def _work(self) -> None:
        try:
            while (upload := self._next()) is not None:
                self._do(upload)
        finally:
            # A fault of our own ends this thread; what waits is done by the next one.
            with self._changed:
                if self._thread is threading.current_thread():
                    self._thread = None
                    self._changed.notify_all()

    def _do(self, upload: Upload) -> None:
        try:
            if upload.about["state"] == TAKING:
                take_upload(self._programme, self._catalogue, upload, lambda: int(self._now().timestamp() * 1000))
            else:
                try_upload(self._programme, upload)
        except (FieldlogError, OSError, sqlite3.Error, ValueError) as fault:
            if upload.folder.exists():
                said = fault.sentence if isinstance(fault, FieldlogError) else "The import stopped. It goes on when the server starts again."
                upload.note(step=None, fault=said)
            log.error("An import stopped: %s", type(fault).__name__)

    def _next(self) -> Upload | None:
        with self._changed:
            if self._waiting:
                return self._waiting.popleft()
            self._programme.close()
            self._thread = None
            self._changed.notify_all()
            return None


def tend_hourly(programme: Programme, now: Callable[[], datetime], stop: threading.Event) -> None:
    """Forget uploads that are a day old, at once and then hourly, until `stop` is set."""
    while not stop.is_set():
        try:
            tend_uploads(programme, int(now().timestamp() * 1000))
        except (OSError, ValueError) as fault:
            log.error("Uploaded files were not looked through: %s They are in an hour.", type(fault).__name__)
        stop.wait(EVERY_S)
