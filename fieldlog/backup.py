"""
The whole programme in one file.

A backup is a zip: `fieldlog.sqlite`, copied by SQLite's own backup while phones go on writing, `photos/<sha256>` as they
were received, and `manifest.json`. A photo that is gone stops no backup: the manifest names it. It is opened and checked before anything relies on it: only then does `durable`
move, and phones let go of what they keep. Backups are numbered; no clock says which is the newest.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.backup_file import DATABASE, FORMAT, LAST, MANIFEST, Backup, held_in, opened_backup
from fieldlog.backup_photos import ENDING, pack_photos
from fieldlog.disk import disk_full_is_named, settle
from fieldlog.durable import tops_without
from fieldlog.errors import BackupUnsound, BadReplica, FieldlogError, ReplicaFault
from fieldlog.lost_photos import set_lost
from fieldlog.replica.checking import tops_in_replica
from fieldlog.store import Programme, connect, set_setting, setting, write

KEPT = 7
"""How many days' backups stay in `backups/`."""

NAMED = 5
"""So many missing photos are named in a sentence; the manifest names all."""

MISSING = "backup_missing"
"""The setting that names the photos which the last backup lacks."""

NUMBER = "backup_number"
"""The setting that holds the highest number that a nightly backup was given."""

_OWN = re.compile(r"fieldlog-(?:(\d{6,})-)?((\d{8})T\d{6})\.zip")
"""A nightly backup's name: number and time; those of version 0.2.0 and before have no number."""


def make_backup(programme: Programme, file: Path, now_ms: int, number: int = 0) -> Backup:
    """
    Write a programme into `file`, check it there, then move `durable` for every lane up to what it holds.

    A line that names a photo which is missing is not durable, nor what follows it in its lane, even where it was before.
    Where the programme has a replica, `durable` moves up to the lesser of what the two hold.

    Raises:
        BackupUnsound: what was written is not sound, or the file is gone again; `durable` stays.
        ReplicaFault: the backup is made; the programme's replica cannot be believed, so `durable` stays.
        DiskFull: there is no room.
    """
    with disk_full_is_named():
        file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_name(file.name + ".part")
    with disk_full_is_named(), tempfile.TemporaryDirectory(dir=file.parent, prefix=".backup-") as folder:
        copy = Path(folder) / DATABASE
        _copy_database(programme, copy)
        made = _write_zip(programme, copy, part, now_ms, number)
        try:
            with opened_backup(part, file.parent) as opened:
                tops, ends = tops_without(opened.db, made.missing)
        except BackupUnsound:
            part.unlink()
            raise
        size = part.stat().st_size
        part.replace(file)
        settle(file.parent)
    covered, replica_fault = _also_in_replica(programme, tops)
    db = programme.db()
    with write(db):
        if not file.is_file() or file.stat().st_size != size:
            raise BackupUnsound(f"The backup {file} disappeared right after it was made. Phones keep their entries. Check the disk.")
        db.conn.executemany("UPDATE lane SET durable = max(durable, ?) WHERE lane_id = ?", [(top, lane) for lane, top in covered.items()])
        db.conn.executemany("UPDATE lane SET durable = min(durable, ?) WHERE lane_id = ?", [(end, lane) for lane, end in ends.items()])
        set_setting(db, "backup_at", str(now_ms))
        set_setting(db, MISSING, json.dumps(made.missing))
        is_own = file.parent.resolve() == programme.backups_folder.resolve()
        set_setting(db, LAST, file.name if is_own else str(file.resolve()))
        if number:
            set_setting(db, NUMBER, str(number))
        set_lost(db, made.missing, now_ms)
    if replica_fault is not None:
        raise replica_fault
    return made


def _also_in_replica(programme: Programme, tops: dict[str, int]) -> tuple[dict[str, int], FieldlogError | None]:
    """How far each lane is kept twice, or nowhere and why."""
    try:
        replicated = tops_in_replica(programme)
    except (ReplicaFault, BadReplica) as fault:
        return {}, fault
    if replicated is None:
        return tops, None
    return {lane: min(top, replicated[lane]) for lane, top in tops.items() if lane in replicated}, None


def _copy_database(programme: Programme, copy: Path) -> None:
    target = sqlite3.connect(copy)
    try:
        programme.db().conn.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")
    finally:
        target.close()


def _write_zip(programme: Programme, copy: Path, part: Path, now_ms: int, number: int) -> Backup:
    db = connect(copy)
    photos = [row[0] for row in db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL")]
    held = held_in(db)
    db.conn.execute("PRAGMA journal_mode=DELETE")
    db.conn.close()
    with zipfile.ZipFile(part, "w", zipfile.ZIP_STORED) as packed:
        packed.write(copy, DATABASE, zipfile.ZIP_DEFLATED, compresslevel=1)
        missing = pack_photos(packed, programme, photos, reversed(own_backups(programme)))
        made = Backup(FORMAT, made_at=now_ms, photos=len(photos) - len(missing), number=number, missing=missing, **held)
        packed.writestr(MANIFEST, json.dumps(asdict(made)))
    settle(part)
    return made


def nightly_backup(programme: Programme, now_ms: int) -> Backup:
    """
    Back up into the programme's own `backups/`; the newest of each of the last seven days stays.

    The newest is the one with the highest number, and a day is a name: a clock that jumps deletes nothing else.
    """
    # What a server that was killed in the middle of a backup left behind.
    for left in [*programme.backups_folder.glob(".backup-*"), *programme.backups_folder.glob(".check-*")]:
        shutil.rmtree(left, ignore_errors=True)
    for left in [*programme.backups_folder.glob("fieldlog-*.zip.part"), *programme.photos_folder.glob(f"*{ENDING}")]:
        if left.is_file():
            left.unlink()
    given = int(setting(programme.db(), NUMBER) or 0)
    number = 1 + max([given, *(_number(path) for path in own_backups(programme))])
    try:
        return make_backup(programme, programme.backups_folder / f"fieldlog-{number:06d}-{_stamp(now_ms)}.zip", now_ms, number)
    finally:
        # Also where the replica is at fault, which may be for months: backups would fill the disk.
        _drop_older(programme)


def _drop_older(programme: Programme) -> None:
    newest_of_day: dict[str, Path] = {}
    for path in reversed(own_backups(programme)):
        newest_of_day.setdefault(_own_name(path)[3], path)
    kept = list(newest_of_day.values())[:KEPT]
    for path in own_backups(programme):
        if path not in kept:
            path.unlink()


def own_backups(programme: Programme) -> list[Path]:
    """The backups that `serve` made, in the order in which they were made."""
    own = [path for path in programme.backups_folder.glob("fieldlog-*.zip") if _OWN.fullmatch(path.name) and path.is_file()]
    return sorted(own, key=lambda path: (_number(path), path.name))


def _own_name(path: Path) -> re.Match[str]:
    found = _OWN.fullmatch(path.name)
    assert found is not None
    return found


def _number(path: Path) -> int:
    return int(_own_name(path)[1] or 0)


def _stamp(now_ms: int) -> str:
    return datetime.fromtimestamp(now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%S")


def backup_age_h(db: Database, now_ms: int) -> float | None:
    """Hours since the last checked backup, negative where it is dated after now, or None where there was none."""
    at: Any = setting(db, "backup_at")
    return None if at is None else (now_ms - int(at)) / 3_600_000


def backup_gone(programme: Programme) -> Path | None:
    """Where the last backup was written, if it is not there now; None also where that is not known."""
    name = setting(programme.db(), LAST)
    if name is None:
        return None
    path = programme.backups_folder / name
    try:
        return None if path.is_file() else path
    except OSError:  # a folder on the way that may not be looked into
        return path


def photos_missing(db: Database) -> list[str]:
    """The SHA-256 of the photos that the last backup lacks, since they were gone or unreadable."""
    missing: list[str] = json.loads(setting(db, MISSING) or "[]")
    return missing


def photos_named(missing: Sequence[str]) -> str:
    """How many photos, and the first few by the beginning of their names: 3 (0a1b2c3d4e5f, …)."""
    named = ", ".join(sha256[:12] for sha256 in missing[:NAMED])
    return f"{len(missing)} ({named}{', ...' if len(missing) > NAMED else ''})"
