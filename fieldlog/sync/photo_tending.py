"""What is done for the photos' folder each hour: files that are gone are noted, so that phones are asked for them, and old parts go."""

from __future__ import annotations

import logging
import os
import sqlite3
from collections.abc import Callable
from datetime import datetime
from threading import Event

from fieldlog.errors import FieldlogError
from fieldlog.lost_photos import add_lost
from fieldlog.store import Programme, is_closed, write
from fieldlog.sync.photos import PhotoShelf

EVERY_S = 3600.0
SOON_S = 60.0
"""While the tables are rebuilt nothing can be noted."""

log = logging.getLogger("fieldlog")


def tend_photos(programme: Programme, shelf: PhotoShelf, now: Callable[[], datetime], stop: Event) -> None:
    """Look through the folder at once and each hour, until `stop` is set."""
    while not stop.is_set():
        if is_closed(programme.db()):
            stop.wait(SOON_S)
            continue
        now_ms = int(now().timestamp() * 1000)
        try:
            shelf.drop_old_parts(now_ms)
            gone = note_gone(programme, now_ms)
            if gone:
                log.error("Photos whose files are gone: %d. The phones that have them are asked for them; fieldlog doctor names them.", gone)
        except (FieldlogError, OSError, sqlite3.Error) as fault:
            log.error("The photos' folder was not looked through: %s It is tried again in an hour.", fault)
        stop.wait(EVERY_S)
    programme.close()


def note_gone(programme: Programme, now_ms: int) -> int:
    """
    Note the photos whose files are gone; how many were not known to be.

    By their names alone: bytes that rotted are found by the backup and the doctor, who read them.
    """
    db = programme.db()
    # The rows first: a photo has its name before its row.
    rows = db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL AND lost_at IS NULL").fetchall()
    here = {entry.name for entry in os.scandir(programme.photos_folder) if entry.is_file()}
    gone = [sha256 for (sha256,) in rows if sha256 not in here]
    if gone:
        with write(db):
            add_lost(db, gone, now_ms)
    return len(gone)
