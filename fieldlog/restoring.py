"""
From a backup back to a programme. Of the folder as it is nothing is needed but that it can be set aside.
"""

from __future__ import annotations

import itertools
import os
import secrets
import shutil
import tempfile
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from fieldlog.access.carried_over import Decided, carry_over, decided_in, unconfirmed_devices
from fieldlog.backup_file import DATABASE, LAST, Backup, OpenBackup, opened_backup
from fieldlog.disk import disk_full_is_named, make_folder, settle
from fieldlog.records.catalogue import Catalogue
from fieldlog.replica.checking import SETTING, keep_replica, replica_set_in
from fieldlog.replica.engine import LOCK, EngineLock
from fieldlog.replica.opened import opened_replica
from fieldlog.replica.place import place_of
from fieldlog.replica.state import STATE
from fieldlog.rewriting import rewrite_file
from fieldlog.store import (
    REPLAYING,
    SERVING,
    Programme,
    ProgrammeLock,
    can_be_lock,
    set_setting,
    setting,
    write,
)
from fieldlog.sync.carried_purges import OwnLane, carry_purges, purges_in
from fieldlog.sync.opening import open_programme
from fieldlog.sync.replay import replay

EPOCH_BYTES = 16
"""A restored programme's own mark, which ends every cursor given out before."""


@dataclass(frozen=True)
class Restored:
    """
    What was restored; `before` is where the former content lies, None where there was none.

    `photos_missing` had not reached a replica, or were gone when the backup was made: phones may still have them. `unconfirmed` are
    the devices, as id, role and name, that get nothing until somebody confirms them. `replica` is where this machine's own setting
    has it, "" for nowhere; `replica_elsewhere` where the restored programme's lay, if that does not hold here. `are_purges_known`: what
    was purged in the folder is purged here too; else nobody knows what was since the backup.
    """

    backup: Backup
    photos_missing: int
    before: Path | None
    unconfirmed: tuple[tuple[str, str, str], ...]
    replica: str
    replica_elsewhere: str
    are_purges_known: bool


class _Aside:
    """The folder for what stood in the restored programme's way, made when the first of it is moved there."""

    def __init__(self, folder: Path, now_ms: int) -> None:
        self._folder, self._now_ms = folder, now_ms
        self.path: Path | None = None

    def move(self, path: Path) -> None:
        """Set one thing aside, whatever it is; nothing where nothing stands."""
        if not os.path.lexists(path):
            return
        if self.path is None:
            stamp = datetime.fromtimestamp(self._now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%S")
            endings = itertools.chain([""], map("-{}".format, itertools.count(2)))
            tries = (self._folder / f"before-restore-{stamp}{ending}" for ending in endings)
            self.path = next(tried for tried in tries if not os.path.lexists(tried))
            self.path.mkdir()
        path.rename(self.path / path.name)


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
        NoProgramme: a file stands where the folder should be; nothing was changed.
        ProgrammeBusy: a server holds the folder.
        BadReplica: the source names neither a file nor a place.
        ReplicaFault: the replica holds nothing, or cannot be read; nothing was changed.
        DiskFull: there is no room; nothing was changed.
    """
    make_folder(folder)
    with ExitStack() as held:
        # What is no file is nobody's lock. It is set aside too, but not before the source was found sound.
        if can_be_lock(folder / SERVING):
            held.enter_context(ProgrammeLock(folder))
        for left in folder.glob(".restoring-*"):
            _remove(left)
        made = held.enter_context(tempfile.TemporaryDirectory(dir=folder, prefix=".restoring-"))
        opened = held.enter_context(_opened(source, Path(made)))
        new, old = Programme(Path(made) / "programme"), Programme(folder)
        with disk_full_is_named():
            new.photos_folder.mkdir(parents=True)
            missing = opened.unpack_photos(new.photos_folder)
            opened.db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            shutil.copyfile(_file_of(opened.db.conn.execute("PRAGMA database_list").fetchone()), new.path)
        decided, replica = decided_in(old.path, opened.db), replica_set_in(old.path)
        purges = purges_in(old.path, opened.db)
        elsewhere = setting(opened.db, SETTING) or ""
        waiting = _make_ready(new, catalogue, decided, purges, replica, now_ms)
        before = _replace(old, new, now_ms, held)
        return Restored(
            opened.backup, missing, before, tuple(waiting), replica, "" if elsewhere == replica else elsewhere, are_purges_known=purges is not None,
        )  # fmt: skip


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink()


def _opened(source: str, workspace: Path) -> AbstractContextManager[OpenBackup]:
    if "://" in source or Path(source).is_dir():
        return opened_replica(place_of(source, None), workspace)
    return opened_backup(Path(source), workspace)


def _file_of(row: tuple[int, str, str]) -> str:
    return row[2]


def _make_ready(
    new: Programme, catalogue: Catalogue, decided: Decided | None, purges: list[OwnLane] | None, replica: str, now_ms: int
) -> list[tuple[str, str, str]]:
    """Its tables, its epoch, its machine's replica, and who may do what in it; gives the devices that wait to be confirmed."""
    programme = open_programme(new.folder, catalogue, now_ms)
    db = programme.db()
    with write(db):
        carry_purges(db, catalogue, purges or [], now_ms)
        replay(db, catalogue)
        # The copies that are served are made again from the originals.
        db.conn.execute("UPDATE photo_file SET served_at = NULL")
        set_setting(db, "epoch", secrets.token_hex(EPOCH_BYTES))
        set_setting(db, "restored_at", str(now_ms))
        # The last backup before this one may never have been on this machine.
        db.conn.execute("DELETE FROM setting WHERE name = ?", (LAST,))
        keep_replica(db, replica)
        carry_over(db, decided)
    waiting = unconfirmed_devices(db)
    if purges:
        rewrite_file(programme)
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    programme.close()
    settle(programme.path)
    settle(programme.photos_folder)
    return waiting


def _replace(old: Programme, new: Programme, now_ms: int, held: ExitStack) -> Path | None:
    """Set aside what stands in the way and give the new programme its place, under the locks; where the old content lies now."""
    aside = _Aside(old.folder, now_ms)
    for name in (SERVING, REPLAYING, LOCK, STATE, f"{STATE}.part"):
        if not can_be_lock(old.folder / name):
            aside.move(old.folder / name)
            if name == SERVING:
                held.enter_context(ProgrammeLock(old.folder))
    with EngineLock(old.folder):  # a replication that a killed server left behind must not follow what is set aside
        names = [f"{DATABASE}{ending}" for ending in ("", "-wal", "-shm", "-journal")]
        for name in (*names, f".{DATABASE}-litestream", old.photos_folder.name):
            aside.move(old.folder / name)
        if not old.backups_folder.is_dir():
            aside.move(old.backups_folder)
        settle(old.folder)
    _put_in_place(new, old)
    return aside.path


def _put_in_place(new: Programme, programme: Programme) -> None:
    """Photos first: once the database has its name, the programme is whole."""
    new.photos_folder.rename(programme.photos_folder)
    new.path.rename(programme.path)
    settle(programme.folder)
