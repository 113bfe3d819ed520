"""
A backup file: a zip of the database, the photos and a manifest, believed only after everything in it was checked.

It may come from anywhere, so its names, shapes and hashes are judged before anything of it is written to a folder.
"""

from __future__ import annotations

import errno
import hashlib
import json
import re
import shutil
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from fieldlog.disk import disk_full_is_named, settle
from fieldlog.errors import BackupUnsound
from fieldlog.soundness import CHUNK, faults_of, hash_of
from fieldlog.store import connect, setting, size_fault, write

FORMAT = 1
DATABASE = "fieldlog.sqlite"
MANIFEST = "manifest.json"
LAST = "backup_file"
"""The setting that names the last backup's file, one in the programme's own folder by its name alone."""

MOST_MANIFEST_BYTES = 16 * 1024 * 1024
"""Room for the names of 200,000 missing photos."""

YEAR_10000_MS = 253_402_300_800_000
_SHA256 = re.compile(r"[0-9a-f]{64}")
_PHOTO = re.compile(r"photos/([0-9a-f]{64})")
UNREADABLE = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, KeyError, ValueError, OverflowError, struct.error,
    sqlite3.DatabaseError,
)  # fmt: skip
"""What zipfile and SQLite raise for a file that is cut, spoilt, packed in another way or locked with a password."""

WAYS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""How what is in a backup is packed."""


@dataclass(frozen=True)
class Backup:
    """
    What a backup file holds; `made_at` in milliseconds since 1970 UTC by the clock of that day, which orders nothing.

    `number` counts a programme's nightly backups; `top` and `h` are the last entry of its log and the chain up to it.
    `photos` are the photos in the file, `missing` the SHA-256 of those that had been received and were gone or unreadable.
    Backups of older versions name none of these four.
    """

    format: int
    programme: str
    made_at: int
    entries: int
    held: int
    photos: int
    number: int = 0
    top: int = 0
    h: str = ""
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class OpenBackup:
    """
    What a programme can be restored from, after it was checked.

    `unpack_photos(folder)` writes its photos there and gives how many of those that the database names are not in it; their rows
    are then gone from `db`.
    """

    backup: Backup
    db: Database
    unpack_photos: Callable[[Path], int]


@contextmanager
def opened_backup(file: Path, workspace: Path | None) -> Iterator[OpenBackup]:
    """
    A backup file, after everything in it was checked. Beside the file nothing is written, so it may lie on any medium.

    Args:
        workspace: a folder for the copy of the database while it is open; the system's own for None.

    Raises:
        BackupUnsound: it is no backup, or not what was written; the sentence names the first faults.
        DiskFull: the workspace has no room for the database.
    """
    with _damage_is_named(f"The file {file} is not a Fieldlog backup, or it is cut off"):
        packed = zipfile.ZipFile(file)
    with packed, tempfile.TemporaryDirectory(dir=workspace, prefix=".check-") as folder:
        _check_names(file, packed)
        with _damage_is_named(f"The backup {file} is damaged"):
            backup = _manifest(file, packed)
            copy = Path(folder) / DATABASE
            with disk_full_is_named(), packed.open(DATABASE) as source, copy.open("wb") as target:
                shutil.copyfileobj(source, target, CHUNK)
            db = _checked_database(file, copy)
            faults = [*faults_of(db, lambda sha256: packed.open(f"photos/{sha256}"), backup.missing), *_other_photos(packed)]
        try:
            if faults:
                raise BackupUnsound(f"The backup {file} is not sound. {' '.join(faults[:3])}")
            counted = replace(backup, **held_in(db), photos=_count_photos(packed))
            yield OpenBackup(counted, db, lambda photos_folder: _unpack_photos(packed, photos_folder, db, backup.missing))
        finally:
            db.conn.close()


def held_in(db: Database) -> dict[str, Any]:
    """What a copy of a database holds, as a backup's manifest names it; counted, since a manifest may say anything."""
    entries, held = (db.conn.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in ("log", "tray"))
    top, h = db.conn.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")
    return {"programme": setting(db, "programme_name") or "", "entries": entries, "held": held, "top": top, "h": h}


def _count_photos(packed: zipfile.ZipFile) -> int:
    return sum(_PHOTO.fullmatch(name) is not None for name in packed.namelist())


@contextmanager
def _damage_is_named(sentence: str) -> Iterator[None]:
    try:
        yield
    except UNREADABLE as fault:
        raise BackupUnsound(f"{sentence}: {str(fault).rstrip('.')}.") from None
    except OSError as fault:
        if fault.errno != errno.EINVAL:  # else a place is named that no file has
            raise
        raise BackupUnsound(f"{sentence}: it names files outside itself.") from None


def _unpack_photos(packed: zipfile.ZipFile, folder: Path, db: Database, missing: tuple[str, ...]) -> int:
    """
    Write the photos into a folder, each held to its hash once more.

    Those that were missing when it was made lose their receipt: phones that still have them send them again.
    """
    for name in packed.namelist():
        found = _PHOTO.fullmatch(name)
        if found is None:
            continue
        target, digest = folder / found[1], hashlib.sha256()
        with disk_full_is_named(), packed.open(name) as photo, target.open("wb") as written:
            while piece := photo.read(CHUNK):
                digest.update(piece)
                written.write(piece)
        if digest.hexdigest() != found[1]:
            raise BackupUnsound(f"Photo {found[1][:12]} changed in the backup during the restore. Copy the file again.")
        settle(target)
    with write(db):
        db.conn.executemany("DELETE FROM photo_file WHERE sha256 = ?", [(sha256,) for sha256 in missing])
    return len(missing)


def _check_names(file: Path, packed: zipfile.ZipFile) -> None:
    names = packed.namelist()
    if any(part.compress_type not in WAYS for part in packed.infolist()):
        raise BackupUnsound(f"The backup {file} is compressed in a way that Fieldlog does not use. Nothing was changed.")
    for name in names:
        if name not in (DATABASE, MANIFEST) and _PHOTO.fullmatch(name) is None:
            raise BackupUnsound(
                f"The backup {file} holds {name!r}, which no backup has: Fieldlog did not write it. Nothing was changed."
            )
    if len(set(names)) != len(names):
        raise BackupUnsound(f"The backup {file} has the same name twice: Fieldlog did not write it. Nothing was changed.")


def _manifest(file: Path, packed: zipfile.ZipFile) -> Backup:
    no_backup = BackupUnsound(f"The file {file} is not a Fieldlog backup, or its manifest cannot be read.")
    if MANIFEST not in packed.namelist() or packed.getinfo(MANIFEST).file_size > MOST_MANIFEST_BYTES:
        raise no_backup
    try:
        said: Any = json.loads(packed.read(MANIFEST))
    except (ValueError, RecursionError):
        raise no_backup from None
    if not isinstance(said, dict):
        raise no_backup
    if said.get("format") != FORMAT:
        raise BackupUnsound(f"The backup {file} was written by a newer version. Update, then restore it.")
    members = {field.name: said.get(field.name, field.default) for field in fields(Backup)}
    missing = members.pop("missing")
    texts = {"programme", "h"}
    right = isinstance(missing, (list, tuple)) and all(isinstance(name, str) and _SHA256.fullmatch(name) for name in missing)
    right = right and all(
        isinstance(value, str) if name in texts else type(value) is int and 0 <= value < YEAR_10000_MS
        for name, value in members.items()
    )
    if not right:
        raise no_backup
    return Backup(**members, missing=tuple(missing))


def _checked_database(file: Path, copy: Path) -> Database:
    fault = size_fault(copy)
    if fault is not None:
        raise BackupUnsound(f"The backup {file} is damaged: its database is empty or missing.")
    db = connect(copy)
    strange = what_runs_by_itself(db)
    if strange is not None:
        db.conn.close()
        raise BackupUnsound(f"The database in the backup {file} holds {strange!r}, which Fieldlog did not write.")
    return db


def what_runs_by_itself(db: Database) -> str | None:
    """
    The name of a trigger or view in a copy that is none of this program's, or None; the program's own are taken out of it.

    What runs when a row is written would act after the checks. What the server lays itself it lays anew when it opens the
    programme, so whatever stands under those names goes unread.
    """
    own = db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'pack\\_%' ESCAPE '\\'").fetchall()
    for (name,) in own:
        db.conn.execute('DROP TRIGGER "' + name.replace('"', '""') + '"')
    strange = db.conn.execute("SELECT name FROM sqlite_master WHERE type IN ('trigger', 'view')").fetchone()
    return None if strange is None else str(strange[0])


def _other_photos(packed: zipfile.ZipFile) -> Iterator[str]:
    """Photos that are not of the bytes that their name promises, named in the database or not."""
    for name in packed.namelist():
        found = _PHOTO.fullmatch(name)
        if found is not None:
            with packed.open(name) as photo:
                if hash_of(photo) != found[1]:
                    yield f"Photo {found[1][:12]} is not the photo that arrived."
