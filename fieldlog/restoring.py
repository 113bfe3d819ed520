"""
From a backup back to a programme. Of the folder as it is nothing is needed but that it can be set aside.
"""

from __future__ import annotations

import itertools
import secrets
import shutil
import tempfile
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from fieldlog.access.carried_over import Decided, carry_over, decided_in, unconfirmed_devices
from fieldlog.backup_file import DATABASE, Backup, OpenBackup, opened_backup
from fieldlog.disk import disk_full_is_named, settle
from fieldlog.records.catalogue import Catalogue
from fieldlog.replica.engine import EngineLock
from fieldlog.replica.opened import opened_replica
from fieldlog.replica.place import place_of
from fieldlog.store import Programme, ProgrammeLock, set_setting, write
from fieldlog.sync.opening import open_programme
from fieldlog.sync.replay import replay

EPOCH_BYTES = 16
"""A restored programme's own mark, which ends every cursor given out before."""


@dataclass(frozen=True)
class Restored:
    """
    What was restored; `before` is where the former content lies, None where there was none.

    `photos_missing` had not reached a replica, or were gone when the backup was made: phones may still have them. `unconfirmed` are the devices, as id, role and name, that get nothing until somebody confirms them.
    """

    backup: Backup
    photos_missing: int
    before: Path | None
    unconfirmed: tuple[tuple[str, str, str], ...]


def restore_backup(source: str, folder: Path, catalogue: Catalogue, now_ms: int) -> Restored:
    """
    Put a checked backup, or what a replica holds, in the place of what `folder` holds, its tables rebuilt from its log.

    Who was taken off since the backup stays off, as far as the folder can still be read; else its devices wait to be confirmed.
    The programme is made ready in a folder of its own; then what was there is set aside, not deleted, and the new
    database gets its name last. Whenever it is cut short, restoring once more does all of it.

    Args:
        source: a backup's path, a replica's folder or s3://bucket/prefix.

    Raises:
        BackupUnsound: the file is not sound; nothing was changed.
        ProgrammeBusy: a server holds the folder.
        BadReplica: the source names neither a file nor a place.
        ReplicaFault: the replica holds nothing, or cannot be read; nothing was changed.
        DiskFull: there is no room; nothing was changed.
    """
    with disk_full_is_named():
        folder.mkdir(parents=True, exist_ok=True)
    with ProgrammeLock(folder):
        for left in folder.glob(".restoring-*"):
            shutil.rmtree(left)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".restoring-") as made, _opened(source, Path(made)) as opened:
            new = Programme(Path(made) / "programme")
            with disk_full_is_named():
                new.photos_folder.mkdir(parents=True)
                missing = opened.unpack_photos(new.photos_folder)
                opened.db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                shutil.copyfile(_file_of(opened.db.conn.execute("PRAGMA database_list").fetchone()), new.path)
            decided = decided_in(Programme(folder).path, opened.db)
            waiting = _make_ready(new, catalogue, decided, now_ms)
            with EngineLock(folder):  # a replication that a killed server left behind must not follow what is set aside
                before = _set_aside(Programme(folder), now_ms)
            _put_in_place(new, Programme(folder))
            return Restored(opened.backup, missing, before, tuple(waiting))


def _opened(source: str, workspace: Path) -> AbstractContextManager[OpenBackup]:
    if "://" in source or Path(source).is_dir():
        return opened_replica(place_of(source, None), workspace)
    return opened_backup(Path(source), workspace)


def _file_of(row: tuple[int, str, str]) -> str:
    return row[2]


def _make_ready(
    new: Programme, catalogue: Catalogue, decided: Decided | None, now_ms: int
) -> list[tuple[str, str, str]]:
    """Its tables, its epoch, and who may do what in it; gives the devices that wait to be confirmed."""
    programme = open_programme(new.folder, catalogue, now_ms)
    db = programme.db()
    with write(db):
        replay(db, catalogue)
        # The copies that are served are made again from the originals.
        db.conn.execute("UPDATE photo_file SET served_at = NULL")
        set_setting(db, "epoch", secrets.token_hex(EPOCH_BYTES))
        set_setting(db, "restored_at", str(now_ms))
        carry_over(db, decided)
    waiting = unconfirmed_devices(db)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    programme.close()
    settle(programme.path)
    settle(programme.photos_folder)
    return waiting


def _set_aside(programme: Programme, now_ms: int) -> Path | None:
    """Move everything that stands in the restored programme's way, whatever it is, into a folder of its own."""
    names = [f"{DATABASE}{ending}" for ending in ("", "-wal", "-shm", "-journal")]
    places = [programme.folder / name for name in (*names, f".{DATABASE}-litestream", programme.photos_folder.name)]
    standing = [path for path in places if path.exists() or path.is_symlink()]
    if not standing:
        return None
    stamp = datetime.fromtimestamp(now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%S")
    tries = (programme.folder / f"before-restore-{stamp}{ending}" for ending in itertools.chain([""], map("-{}".format, itertools.count(2))))
    before = next(path for path in tries if not path.exists())
    before.mkdir()
    for path in standing:
        path.rename(before / path.name)
    settle(programme.folder)
    return before


def _put_in_place(new: Programme, programme: Programme) -> None:
    """Photos first: once the database has its name, the programme is whole."""
    new.photos_folder.rename(programme.photos_folder)
    new.path.rename(programme.path)
    settle(programme.folder)
