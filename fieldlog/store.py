"""
A programme's folder on disk: one SQLite file, photos by content, backups, a lock.

Reading and writing go through `Programme.db()`, one connection a thread, and `write(db)`, which takes the
writer's lock at once. A deferred BEGIN would be told "locked" as soon as another thread wrote in between.
"""

from __future__ import annotations

import fcntl
import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path

from sqlite_utils import Database

from fieldlog.disk import disk_full_is_named, make_folder, named, settle
from fieldlog.errors import DatabaseDamaged, DiskFull, FieldlogError, NoProgramme, ProgrammeBusy, Rebuilding
from fieldlog.migrations import migrations
from fieldlog.turns import Turns, turns_at

BUSY_TIMEOUT_S = 5.0
NEEDED_TABLES = {"log", "lane", "device", "setting"}


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


class Connection(sqlite3.Connection):
    """A connection to a programme's file, with the turns that this process's writers of it take."""

    turns: Turns


def connect(path: Path | str) -> Database:
    """
    Open a programme's database file: WAL, synchronous FULL, five seconds of patience with another writer.

    Transactions are opened by `write` alone, so the connection itself is in autocommit.
    """
    conn = sqlite3.connect(path, isolation_level=None, timeout=BUSY_TIMEOUT_S, factory=Connection)
    conn.turns = turns_at(path)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=FULL")
    return Database(conn)


def read_only(path: Path) -> sqlite3.Connection:
    """A database file opened to be looked at: nothing of it is changed, its write-ahead file is read along."""
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=BUSY_TIMEOUT_S)


@contextmanager
def write(db: Database) -> Iterator[Database]:
    """
    One all-or-nothing change, in the order in which this process's writers came; inside another `write` it is a savepoint.

    Raises:
        DiskFull: the disk took no more; nothing of this change is kept.
        WriterBusy: another writer held the file for longer than five seconds.
        Rebuilding: a process of this server rebuilds the tables; nobody is waited for.
    """
    if db.conn.in_transaction:
        with db.atomic():
            yield db
        return
    try:
        with own_turn(db):
            db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.conn.execute("COMMIT")
            except BaseException:
                db.rollback()
                raise
    except sqlite3.DatabaseError as fault:
        met = named(fault)
        if isinstance(met, DiskFull):
            _note_disk(db, met)
        raise met from fault
    _note_disk(db, None)


def _note_disk(db: Database, fault: DiskFull | None) -> None:
    """Keep what the disk said to a change, for whoever asks whether this server can work."""
    if isinstance(db.conn, Connection):
        db.conn.turns.disk_fault = fault


def disk_fault(db: Database) -> FieldlogError | None:
    """What the disk said to the last change of this process, None where it took that."""
    return db.conn.turns.disk_fault if isinstance(db.conn, Connection) else None


def undo_in_memory(db: Database) -> None:
    """
    Keep what a single statement may have to take back in memory for as long as this connection lasts.

    A table with triggers needs that of every row that is written, and SQLite puts it in a file as soon as one row takes more than
    64 KB: writing checks then takes half as long again. Sorts and temporary tables go to memory too, so a replay leaves it.
    """
    if not db.conn.in_transaction:
        db.conn.execute("PRAGMA temp_store = MEMORY")


def own_turn(db: Database) -> AbstractContextManager[None]:
    """One's turn among this process's writers; other processes are waited for by SQLite."""
    return db.conn.turns.turn(BUSY_TIMEOUT_S) if isinstance(db.conn, Connection) else nullcontext()


def others_wait(db: Database) -> bool:
    """Whether another writer of this process waits for the one who writes now."""
    return isinstance(db.conn, Connection) and db.conn.turns.others_wait


@contextmanager
def one_snapshot(db: Database) -> Iterator[Database]:
    """Several reads of one state of the file, whatever is written meanwhile."""
    if db.conn.in_transaction:
        yield db
        return
    db.conn.execute("BEGIN")
    try:
        yield db
    finally:
        db.conn.execute("COMMIT")


def create_programme(folder: Path, name: str) -> Programme:
    """
    Make an empty programme in `folder`, which is made too where it is missing.

    The database gets its name when it is complete: a file of that name that is empty is damaged, never begun.

    Raises:
        ProgrammeBusy: the folder already holds one, a damaged one, or what is left of one.
    """
    programme = Programme(folder)
    if programme.path.exists():
        fault = size_fault(programme.path)
        if fault is not None:
            raise ProgrammeBusy(f"{fault} {_restore_advice(programme)}")
        raise ProgrammeBusy(f"The folder {folder} already holds a program. Name another folder, or serve this one.")
    if _holds_remains(programme):
        raise ProgrammeBusy(f"The folder {folder} holds the remains of a program. {_restore_advice(programme)}")
    for path in (folder, programme.photos_folder, programme.backups_folder):
        make_folder(path)
    begun = programme.path.with_name(f"{programme.path.name}.begun")
    begun.unlink(missing_ok=True)
    db = connect(begun)
    migrations.apply(db)
    with write(db):
        set_setting(db, "programme_name", name)
    db.conn.close()
    begun.rename(programme.path)
    settle(folder)
    return programme


def existing_programme(folder: Path) -> Programme:
    """
    The programme in `folder`, its tables brought to this version.

    Raises:
        NoProgramme: the folder holds none.
        DatabaseDamaged: its database is empty, another program's file, or cannot be read.
    """
    programme = Programme(folder)
    if not programme.path.exists():
        if _holds_remains(programme):
            raise NoProgramme(f"The database in {folder} is gone. {_restore_advice(programme)}")
        raise NoProgramme(f"The folder {folder} holds no program. Make one with: fieldlog --data {folder} init")
    fault = size_fault(programme.path)
    if fault is not None:
        raise DatabaseDamaged(f"{fault} {_restore_advice(programme)}")
    for path in (programme.photos_folder, programme.backups_folder):
        if path.is_symlink() and not path.exists():
            or_else = "If not, remove the link, and a folder is made." if path == programme.backups_folder else _restore_advice(programme)
            raise DatabaseDamaged(f"{path} points to a place that is not here. Is its disk mounted? {or_else}")
        if path.exists() and not path.is_dir():
            raise DatabaseDamaged(f"{path} is not a folder. Move it aside, or restore the newest backup: fieldlog --data {folder} restore FILE")
    with disk_full_is_named():
        for path in (programme.photos_folder, programme.backups_folder):
            path.mkdir(exist_ok=True)
    try:
        db = programme.db()
        tables = {row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not tables >= NEEDED_TABLES:
            raise DatabaseDamaged(f"The database {programme.path} is damaged: its tables are gone. {_restore_advice(programme)}")
        migrations.apply(db)
    except sqlite3.DatabaseError as fault_met:
        programme.close()
        raise named(fault_met) from fault_met
    return programme


def size_fault(path: Path) -> str | None:
    """
    What is wrong with a database file before SQLite opens it, None where nothing is.

    SQLite takes an empty file for a new database, and throws the write-ahead file away. The file itself must not be opened here:
    closing it again would drop the locks of every connection that this process has to it (sqlite.org/howtocorrupt.html, 2.2).
    """
    if not path.is_file():
        return f"The database {path} is damaged: it is not a file."
    return None if path.stat().st_size else f"The database {path} is damaged: it is empty (0 bytes)."


def _holds_remains(programme: Programme) -> bool:
    """Whether photos, backups or what an earlier restore set aside stand where a database should."""
    places = (programme.photos_folder, programme.backups_folder)
    return any(place.is_dir() and any(place.iterdir()) for place in places) or any(programme.folder.glob("before-restore-*"))


def _restore_advice(programme: Programme) -> str:
    where = f", which a server keeps in {programme.backups_folder}" if any(programme.backups_folder.glob("*.zip")) else ""
    return f"Restore the newest backup{where}: fieldlog --data {programme.folder} restore FILE"


def setting(db: Database, name: str) -> str | None:
    """A stored setting's text, or None."""
    row = db.conn.execute("SELECT value FROM setting WHERE name = ?", (name,)).fetchone()
    return None if row is None else row[0]


def set_setting(db: Database, name: str, value: str) -> None:
    """Store a setting's text under its name."""
    db.conn.execute("INSERT OR REPLACE INTO setting(name, value) VALUES (?, ?)", (name, value))


SERVING, REPLAYING = "lock", "replaying"
"""The files that say what is done with a folder."""

_DONE_BY = {SERVING: "in use by another server", REPLAYING: "being rebuilt by another replay"}


ASKING_S = 0.5
"""So long a lock is tried for."""


class ProgrammeLock:
    """
    Held by the one server, or the one replay, of a folder; the kernel lets go of it when the process ends, however it ends.

    Raises on entry:
        ProgrammeBusy: another process holds it, or something that is no file stands in its place.
    """

    def __init__(self, folder: Path, name: str = SERVING) -> None:
        self._name = name
        self._path = folder / name
        self._file: int | None = None

    def __enter__(self) -> ProgrammeLock:
        if not can_be_lock(self._path):
            raise ProgrammeBusy(f"{self._path} is not a file, so it cannot lock the program. Move it aside, then try again.")
        file = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        if not _taken(file):
            holder = os.read(file, 20).decode("ascii", "replace").strip() or "unknown"
            os.close(file)
            raise ProgrammeBusy(
                f"The program in {self._path.parent} is {_DONE_BY[self._name]} (process {holder}). Stop that one first."
            )
        os.truncate(file, 0)
        os.write(file, str(os.getpid()).encode("ascii"))
        self._file = file
        return self

    def __exit__(self, *_fault: object) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None


def can_be_lock(path: Path) -> bool:
    """Whether a lock is a file, or can become one."""
    return path.is_file() or not (path.exists() or path.is_symlink())


def _taken(file: int) -> bool:
    """Whether the lock is ours now. Who asks `is_replaying` has it for a moment, so it is tried for one."""
    deadline = time.monotonic() + ASKING_S
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if time.monotonic() > deadline:
                return False
        time.sleep(ASKING_S / 1000)


def check_takes_writes(programme: Programme) -> None:
    """
    Look whether a request that writes should go on: while the tables are rebuilt, here or by a command beside, it would only wait.

    Raises:
        Rebuilding: they are.
    """
    if is_replaying(programme.folder):
        raise Rebuilding


def is_closed(db: Database) -> bool:
    """Whether no writer of this process gets in just now, since the tables are rebuilt."""
    return isinstance(db.conn, Connection) and db.conn.turns.is_closed


def is_replaying(folder: Path) -> bool:
    """Whether a process rebuilds the tables of a folder."""
    try:
        file = os.open(folder / REPLAYING, os.O_RDWR)
    except (FileNotFoundError, IsADirectoryError):
        return False
    try:
        fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(file)
    return False
