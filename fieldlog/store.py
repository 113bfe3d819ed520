"""
A programme's folder on disk: one SQLite file, photos by content, backups, a lock.

Reading and writing go through `Programme.db()`, one connection a thread, and `write(db)`, which takes the
writer's lock at once. A deferred BEGIN would be told "locked" as soon as another thread wrote in between.
"""

from __future__ import annotations

import errno
import fcntl
import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from fieldlog.errors import DiskFull, NoProgramme, ProgrammeBusy
from fieldlog.migrations import migrations

BUSY_TIMEOUT_S = 5.0


class Programme:
    """One restoration programme: its folder and this process's connections to it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "fieldlog.sqlite"
        self.photos_folder = folder / "photos"
        self.backups_folder = folder / "backups"
        self._local = threading.local()

    def db(self) -> Database:
        """The calling thread's connection, opened on first use."""
        db: Database | None = getattr(self._local, "db", None)
        if db is None:
            db = connect(self.path)
            self._local.db = db
        return db

    def close(self) -> None:
        """Close the calling thread's connection."""
        db: Database | None = getattr(self._local, "db", None)
        if db is not None:
            db.conn.close()
            self._local.db = None


def connect(path: Path | str) -> Database:
    """
    Open a programme's database file: WAL, synchronous FULL, five seconds of patience with another writer.

    Transactions are opened by `write` alone, so the connection itself is in autocommit.
    """
    conn = sqlite3.connect(path, isolation_level=None, timeout=BUSY_TIMEOUT_S)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    return Database(conn)


@contextmanager
def write(db: Database) -> Iterator[Database]:
    """
    One all-or-nothing change; inside another `write` it is a savepoint.

    Raises:
        DiskFull: the disk took no more; nothing of this change is kept.
        ProgrammeBusy: another writer held the file for longer than five seconds.
    """
    if db.conn.in_transaction:
        with db.atomic():
            yield db
        return
    try:
        db.conn.execute("BEGIN IMMEDIATE")
        try:
            yield db
            db.conn.execute("COMMIT")
        except BaseException:
            db.rollback()
            raise
    except sqlite3.OperationalError as fault:
        raise _named(fault) from fault


def _named(fault: sqlite3.OperationalError) -> Exception:
    code = getattr(fault, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return disk_full()
    if code == sqlite3.SQLITE_BUSY:
        return ProgrammeBusy("Another program has been writing to this programme for over 5 s. Nothing was changed; try again.")
    return fault


def disk_full() -> DiskFull:
    """The one sentence for a full disk, wherever it is met."""
    return DiskFull("The server's disk is full. Nothing was changed; phones keep their entries until there is room.")


@contextmanager
def disk_full_is_named() -> Iterator[None]:
    """Files written in here: a full disk becomes DiskFull, any other fault stays what it is."""
    try:
        yield
    except OSError as fault:
        if fault.errno in (errno.ENOSPC, errno.EDQUOT):
            raise disk_full() from fault
        raise


def settle(path: Path) -> None:
    """Return when a file's bytes, or a folder's new names, are on the disk and not only in memory."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def create_programme(folder: Path, name: str) -> Programme:
    """
    Make an empty programme in `folder`, which is made too where it is missing.

    Raises:
        ProgrammeBusy: the folder already holds one.
    """
    programme = Programme(folder)
    if programme.path.exists():
        raise ProgrammeBusy(f"The folder {folder} already holds a programme. Give another folder, or serve this one.")
    with disk_full_is_named():
        for path in (folder, programme.photos_folder, programme.backups_folder):
            path.mkdir(parents=True, exist_ok=True)
    db = programme.db()
    migrations.apply(db)
    with write(db):
        set_setting(db, "programme_name", name)
    return programme


def existing_programme(folder: Path) -> Programme:
    """
    The programme in `folder`, its tables brought to this version.

    Raises:
        NoProgramme: the folder holds none.
    """
    programme = Programme(folder)
    if not programme.path.exists():
        raise NoProgramme(f"The folder {folder} holds no programme. Make one with: fieldlog --data {folder} init")
    for path in (programme.photos_folder, programme.backups_folder):
        path.mkdir(exist_ok=True)
    migrations.apply(programme.db())
    return programme


def setting(db: Database, name: str) -> str | None:
    """A stored setting's text, or None."""
    row = db.conn.execute("SELECT value FROM setting WHERE name = ?", (name,)).fetchone()
    return None if row is None else row[0]


def set_setting(db: Database, name: str, value: str) -> None:
    """Store a setting's text under its name."""
    db.conn.execute("INSERT OR REPLACE INTO setting(name, value) VALUES (?, ?)", (name, value))


class ProgrammeLock:
    """
    Held by the one server of a folder; the kernel lets go of it when the process ends, however it ends.

    Raises on entry:
        ProgrammeBusy: another process holds it.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / "lock"
        self._file: int | None = None

    def __enter__(self) -> ProgrammeLock:
        file = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.read(file, 20).decode("ascii", "replace").strip() or "unknown"
            os.close(file)
            raise ProgrammeBusy(
                f"The programme in {self._path.parent} is in use by another server (process {holder}). Stop that one first."
            ) from None
        os.truncate(file, 0)
        os.write(file, str(os.getpid()).encode("ascii"))
        self._file = file
        return self

    def __exit__(self, *_fault: object) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
