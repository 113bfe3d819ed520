"""The server's one queue of uploads to try and to take; and what is looked at hourly."""

from __future__ import annotations

import logging
import sqlite3
import threading
from collections.abc import Callable
from datetime import datetime

from fieldlog.errors import FieldlogError
from fieldlog.imports.kept import TAKING, TRYING, Upload, take_upload, tend_uploads, try_upload, uploads
from fieldlog.one_by_one import OneByOne
from fieldlog.records.catalogue import Catalogue
from fieldlog.store import Programme

EVERY_S = 3600.0

log = logging.getLogger("fieldlog")


class ImportWorks(OneByOne[Upload]):
    """Uploads that wait to be tried, or taken where their taking was begun."""

    def __init__(self, programme: Programme, catalogue: Catalogue, now: Callable[[], datetime]) -> None:
        super().__init__("imports", self._do, programme.close)
        self._programme, self._catalogue, self._now = programme, catalogue, now

    def resume(self) -> None:
        """Go on with what a stopped server left; what it was only trying is to be tried again by a person."""
        for upload in uploads(self._programme):
            if upload.about["state"] == TAKING:
                self.want(upload)
            elif upload.about["state"] == TRYING:
                upload.note(state="read", step=None)

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


def tend_hourly(programme: Programme, now: Callable[[], datetime], stop: threading.Event) -> None:
    """Forget uploads that are a day old, at once and then hourly, until `stop` is set."""
    while not stop.is_set():
        try:
            tend_uploads(programme, int(now().timestamp() * 1000))
        except (OSError, ValueError) as fault:
            log.error("Uploaded files were not looked through: %s They are in an hour.", type(fault).__name__)
        stop.wait(EVERY_S)
