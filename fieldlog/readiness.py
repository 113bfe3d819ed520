"""
Whether a server that runs can also work: its database answers, its disk has room and takes it, and no replay keeps phones waiting.

Free bytes say nothing of a quota, of a limit on a file's size or of a disk that takes no writes, so that is tried.
"""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from fieldlog.errors import FieldlogError, NotReady
from fieldlog.store import Programme, disk_fault, is_replaying, set_setting, write

LEAST_FREE_BYTES = 200 * 1024 * 1024
"""Room for some days of entries and some hundred photos; a full disk takes neither."""

MEGABYTE = 1024 * 1024

TRIED_BYTES = 256 * 1024
"""About what the largest slice of a push writes. Our own proposal."""

TRIED_EVERY_S = 10.0
"""Whoever asks more often is told what the last try said: the address is open to everybody."""

TRIED = ".tried"
"""The file that is written and taken away again."""


class Readiness:
    """Whether a programme's server can work; keeps what the last try of the disk said."""

    def __init__(self, programme: Programme) -> None:
        self._programme = programme
        self._trying = threading.Lock()
        self._tried_s: float | None = None
        self._fault: str | None = None

    def check(self) -> None:
        """
        Look whether requests can be served.

        Raises:
            NotReady: the database does not answer, its tables are being rebuilt, or the disk is nearly full or takes nothing.
        """
        if is_replaying(self._programme.folder):
            raise NotReady("The tables are being rebuilt from the log. Phones read the old ones and wait to send.")
        try:
            self._programme.db().conn.execute("SELECT max(seq) FROM log").fetchone()
        except sqlite3.Error as fault:
            raise NotReady(f"The database does not answer ({type(fault).__name__}). Run: fieldlog doctor") from fault
        refused = room_fault(self._programme.folder) or self._last_try()
        if refused is not None:
            raise NotReady(refused)

    def _last_try(self) -> str | None:
        with self._trying:
            if self._tried_s is None or time.monotonic() - self._tried_s >= TRIED_EVERY_S:
                self._fault = _try_file(self._programme) or _try_database(self._programme)
                self._tried_s = time.monotonic()
            return self._fault


def room_fault(folder: Path) -> str | None:
    """What is said of a disk with too little room for a programme's folder; None where there is enough."""
    free = shutil.disk_usage(folder).free
    if free >= LEAST_FREE_BYTES:
        return None
    return f"The disk has {free // MEGABYTE} MB left; {LEAST_FREE_BYTES // MEGABYTE} MB are needed. Make room; phones keep their entries."


def _try_file(programme: Programme) -> str | None:
    """
    Write a file beside the database, as far in as the database reaches where a file's size is limited; what the disk said against it.

    A hole takes no room, so only the bytes behind it are written.
    """
    path = programme.folder / TRIED
    try:
        with suppress(FileNotFoundError):
            path.unlink()
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            _write(file, _reached_bytes(programme))
            os.fsync(file)
        finally:
            os.close(file)
            path.unlink()
    except OSError as fault:
        return (
            f"A test of writing {TRIED_BYTES // 1024} KB to the disk failed ({fault.strerror}). Look for a quota, a limit on file sizes, a full disk or a read-only one. Phones keep their entries."
        )
    return None


def _write(file: int, at: int) -> None:
    """Random bytes, since a disk that packs would keep others in no room."""
    rest = memoryview(os.urandom(TRIED_BYTES))
    while rest:
        written = os.pwrite(file, rest, at)
        at, rest = at + written, rest[written:]


def _reached_bytes(programme: Programme) -> int:
    """The size of the largest file of the database where the system limits it, else 0."""
    if resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY:
        return 0
    files = [programme.path, programme.path.with_name(f"{programme.path.name}-wal")]
    return max((file.stat().st_size for file in files if file.exists()), default=0)


def _try_database(programme: Programme) -> str | None:
    """Where the disk did not take the last change, make a small one; what it says against that."""
    db = programme.db()
    if disk_fault(db) is None:
        return None
    try:
        with write(db):
            set_setting(db, "tried", "")
    except FieldlogError as fault:
        # Also where others write just now: until one of them went through, the last that is known is the disk's refusal.
        return fault.sentence
    return None


def gauges(programme: Programme) -> Mapping[str, tuple[str, float]]:
    """What the programme holds now, for metrics; the calling thread's connection is closed again."""
    try:
        conn = programme.db().conn
        (entries,) = conn.execute("SELECT coalesce(max(seq), 0) FROM log").fetchone()
        (held,) = conn.execute("SELECT count(*) FROM tray WHERE resolved_by IS NULL").fetchone()
    finally:
        programme.close()
    return {
        "fieldlog_entries": ("Entries in the log.", float(entries)),
        "fieldlog_held_lines": ("Lines that wait for someone to fix them.", float(held)),
        "fieldlog_newest_backup_timestamp_seconds": ("When the newest backup was written, 0 where there is none.", _newest_backup_s(programme)),
        "fieldlog_disk_free_bytes": ("Free space on the data folder's disk.", float(shutil.disk_usage(programme.folder).free)),
    }


def _newest_backup_s(programme: Programme) -> float:
    newest_s = 0.0
    for path in programme.backups_folder.glob("*.zip"):
        # One that is older may be dropped between the list and the look.
        with suppress(FileNotFoundError):
            newest_s = max(newest_s, path.stat().st_mtime)
    return newest_s
