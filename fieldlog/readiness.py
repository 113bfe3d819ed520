"""Whether a server that runs can also work: its database answers, its disk has room, and no replay keeps phones waiting."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import suppress

from fieldlog.errors import NotReady
from fieldlog.store import Programme, is_replaying

LEAST_FREE_BYTES = 200 * 1024 * 1024
"""Room for some days of entries and some hundred photos; a full disk takes neither."""

MEGABYTE = 1024 * 1024


def check_ready(programme: Programme) -> None:
    """
    Look whether requests can be served.

    Raises:
        NotReady: the database does not answer, its tables are being rebuilt, or the disk is nearly full.
    """
    if is_replaying(programme.folder):
        raise NotReady("The tables are being rebuilt from the log. Phones read the old ones and wait with what they send.")
    try:
        programme.db().conn.execute("SELECT max(seq) FROM log").fetchone()
    except sqlite3.Error as fault:
        raise NotReady(f"The database does not answer ({type(fault).__name__}). Look with fieldlog doctor.") from fault
    free = shutil.disk_usage(programme.folder).free
    if free < LEAST_FREE_BYTES:
        raise NotReady(
            f"The disk has {free // MEGABYTE} MB left; {LEAST_FREE_BYTES // MEGABYTE} MB are needed. Make room; phones keep their entries."
        )


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
        "fieldlog_disk_free_bytes": ("Room on the programme's disk.", float(shutil.disk_usage(programme.folder).free)),
    }


def _newest_backup_s(programme: Programme) -> float:
    newest_s = 0.0
    for path in programme.backups_folder.glob("*.zip"):
        # One that is older may be dropped between the list and the look.
        with suppress(FileNotFoundError):
            newest_s = max(newest_s, path.stat().st_mtime)
    return newest_s
