"""
The whole programme in one file, and back.

A backup is a zip: `fieldlog.sqlite`, copied by SQLite's own backup while phones go on writing, `photos/<sha256>` as they
were received, and `manifest.json`. It is opened and checked before anything relies on it: only then does `durable`
move, and phones let go of what they keep.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.errors import BackupUnsound
from fieldlog.records.catalogue import Catalogue
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, ProgrammeLock, connect, disk_full_is_named, set_setting, setting, settle, write
from fieldlog.sync.apply import replay
from fieldlog.sync.opening import open_programme

FORMAT = 1
DATABASE = "fieldlog.sqlite"
MANIFEST = "manifest.json"
KEPT = 7
"""How many days' backups stay in `backups/`."""


@dataclass(frozen=True)
class Backup:
    """What a backup file holds; `made_at` in milliseconds since 1970 UTC."""

    format: int
    programme: str
    made_at: int
    entries: int
    held: int
    photos: int


def make_backup(programme: Programme, file: Path, now_ms: int) -> Backup:
    """
    Write a programme into `file`, check it there, then move `durable` for every lane up to what it holds.

    Raises:
        BackupUnsound: what was written is not sound; `file` is not made and `durable` stays.
        DiskFull: there is no room.
    """
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_name(file.name + ".part")
    with disk_full_is_named(), tempfile.TemporaryDirectory(dir=file.parent, prefix=".backup-") as folder:
        copy = Path(folder) / DATABASE
        _copy_database(programme, copy)
        made = _write_zip(programme, copy, part, now_ms)
        try:
            with opened_backup(part) as (db, _):
                tops = db.conn.execute("SELECT lane_id, top FROM lane").fetchall()
        except BackupUnsound:
            part.unlink()
            raise
        part.replace(file)
        settle(file.parent)
    db = programme.db()
    with write(db):
        db.conn.executemany("UPDATE lane SET durable = max(durable, ?) WHERE lane_id = ?", [(t, lane) for lane, t in tops])
        set_setting(db, "backup_at", str(now_ms))
    return made


def _copy_database(programme: Programme, copy: Path) -> None:
    target = sqlite3.connect(copy)
    try:
        programme.db().conn.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")
    finally:
        target.close()


def _write_zip(programme: Programme, copy: Path, part: Path, now_ms: int) -> Backup:
    db = connect(copy)
    photos = [row[0] for row in db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL")]
    entries, held = (db.conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "tray"))
    made = Backup(FORMAT, setting(db, "programme_name") or "", now_ms, entries, held, len(photos))
    db.conn.execute("PRAGMA journal_mode=DELETE")
    db.conn.close()
    with zipfile.ZipFile(part, "w", zipfile.ZIP_STORED) as packed:
        packed.writestr(MANIFEST, json.dumps(asdict(made)))
        packed.write(copy, DATABASE, zipfile.ZIP_DEFLATED, compresslevel=1)
        for sha256 in photos:
            packed.write(programme.photos_folder / sha256, f"photos/{sha256}")
    settle(part)
    return made


@contextmanager
def opened_backup(file: Path) -> Iterator[tuple[Database, zipfile.ZipFile]]:
    """
    A backup file's database and its zip, after everything in it was checked.

    Raises:
        BackupUnsound: it is no backup, or not what was written; the sentence names the first faults.
    """
    try:
        packed = zipfile.ZipFile(file)
    except zipfile.BadZipFile:
        raise BackupUnsound(f"The file {file} is no backup of a programme, or it is cut off.") from None
    with packed, tempfile.TemporaryDirectory(dir=file.parent, prefix=".check-") as folder:
        _check_manifest(file, packed)
        try:
            copy = packed.extract(DATABASE, folder)
            db = connect(copy)
            faults = faults_of(db, lambda sha256: packed.open(f"photos/{sha256}"))
        except (zipfile.BadZipFile, sqlite3.DatabaseError, KeyError) as fault:
            raise BackupUnsound(f"The backup {file} is damaged: {fault}.") from None
        if faults:
            raise BackupUnsound(f"The backup {file} is not sound. {' '.join(faults[:3])}")
        try:
            yield db, packed
        finally:
            db.conn.close()


def _check_manifest(file: Path, packed: zipfile.ZipFile) -> None:
    try:
        said = json.loads(packed.read(MANIFEST))
    except (KeyError, ValueError, zipfile.BadZipFile):
        raise BackupUnsound(f"The file {file} is no backup of a programme.") from None
    if said.get("format") != FORMAT:
        raise BackupUnsound(f"The backup {file} was written by a newer version. Update, then restore it.")


def restore_backup(file: Path, folder: Path, catalogue: Catalogue, now_ms: int) -> tuple[Backup, Path | None]:
    """
    Put a checked backup in the place of what `folder` holds, then rebuild its tables from its log.

    What was there before is moved aside, not deleted.

    Returns:
        What was restored, and where the former content lies (None where there was none).

    Raises:
        BackupUnsound: the file is not sound; nothing was changed.
        ProgrammeBusy: a server holds the folder.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with ProgrammeLock(folder), opened_backup(file) as (_, packed):
        said = Backup(**json.loads(packed.read(MANIFEST)))
        new = Path(tempfile.mkdtemp(dir=folder, prefix=".restoring-"))
        with disk_full_is_named():
            _unpack(packed, Programme(new))
        aside = _move_aside(Programme(folder), now_ms)
        for path in sorted(new.iterdir()):
            path.rename(folder / path.name)
        new.rmdir()
        settle(folder)
        programme = open_programme(folder, catalogue, now_ms)
        with write(programme.db()):
            replay(programme.db(), catalogue)
        programme.close()
    return said, aside


def _unpack(packed: zipfile.ZipFile, programme: Programme) -> None:
    packed.extract(DATABASE, programme.folder)
    programme.photos_folder.mkdir()
    for name in packed.namelist():
        kind, _, sha256 = name.partition("/")
        if kind == "photos":
            with packed.open(name) as photo, (programme.photos_folder / sha256).open("wb") as written:
                shutil.copyfileobj(photo, written)
    db = connect(programme.path)
    # The copies that are served are made again from the originals.
    db.conn.execute("UPDATE photo_file SET served_at = NULL")
    db.conn.close()


def _move_aside(programme: Programme, now_ms: int) -> Path | None:
    if not programme.path.exists():
        return None
    connect(programme.path).conn.close()  # folds the write-ahead file into the database
    aside = programme.folder / f"before-restore-{_stamp(now_ms)}"
    aside.mkdir()
    beside = [programme.path.with_name(programme.path.name + ending) for ending in ("", "-wal", "-shm")]
    for path in (*beside, programme.photos_folder):
        if path.exists():
            path.rename(aside / path.name)
    return aside


def nightly_backup(programme: Programme, now_ms: int) -> Backup:
    """Back up into the programme's own `backups/`; the newest of each of the last seven days stays."""
    made = make_backup(programme, programme.backups_folder / f"fieldlog-{_stamp(now_ms)}.zip", now_ms)
    newest_of_day = {path.name[:17]: path for path in own_backups(programme)}
    kept = set(sorted(newest_of_day.values())[-KEPT:])
    for path in own_backups(programme):
        if path not in kept:
            path.unlink()
    return made


def own_backups(programme: Programme) -> list[Path]:
    """The backups that `serve` made, oldest first."""
    return sorted(programme.backups_folder.glob("fieldlog-????????T??????.zip"))


def _stamp(now_ms: int) -> str:
    return datetime.fromtimestamp(now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%S")


def backup_age_h(db: Database, now_ms: int) -> float | None:
    """Hours since the last checked backup, or None where there was none."""
    at: Any = setting(db, "backup_at")
    return None if at is None else (now_ms - int(at)) / 3_600_000
