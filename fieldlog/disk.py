"""Faults of the disk as sentences, wherever they are met, and the one way to have something on it for certain."""

from __future__ import annotations

import errno
import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fieldlog.errors import DatabaseDamaged, DiskFull, DiskReadOnly, NoProgramme, WriterBusy

UNREADABLE = (sqlite3.SQLITE_IOERR_READ, sqlite3.SQLITE_IOERR_SHORT_READ, sqlite3.SQLITE_IOERR_CORRUPTFS)


def named(fault: sqlite3.DatabaseError) -> Exception:
    """A fault of SQLite as one of ours where a person can do something about it, else itself."""
    code = getattr(fault, "sqlite_errorcode", 0)
    kind = code & 0xFF
    if code in UNREADABLE or kind in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return DatabaseDamaged(
            f"The database is damaged ({fault}). Phones keep their entries."
            " Restore the newest backup: fieldlog restore FILE"
        )
    if kind in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return disk_full()
    if kind in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
        return disk_read_only(str(fault))
    if kind == sqlite3.SQLITE_BUSY:
        return WriterBusy("Another process has been writing to this database for over 5 s. Nothing was changed; try again.")
    return fault


def disk_full() -> DiskFull:
    """The one sentence for a full disk, wherever it is met."""
    return DiskFull("The server's disk is full. Nothing was changed; phones keep their entries until there is room.")


def disk_read_only(reason: str) -> DiskReadOnly:
    """The one sentence for a disk that takes no writes, such as one that the system mounted again after a fault."""
    return DiskReadOnly(
        f"The server cannot write to its disk ({reason}). Nothing was changed; phones keep their entries until it can."
    )


@contextmanager
def disk_full_is_named() -> Iterator[None]:
    """Files written in here: a full disk, a quota or a limit becomes DiskFull, a read-only disk DiskReadOnly, any other fault stays itself."""
    try:
        yield
    except OSError as fault:
        if fault.errno in (errno.ENOSPC, errno.EDQUOT):
            raise disk_full() from fault
        if fault.errno == errno.EFBIG:
            raise DiskFull(
                "This file reached a size limit of the server's system. Nothing was changed; phones keep their entries until the limit is raised."
            ) from fault
        if fault.errno == errno.EROFS:
            raise disk_read_only(fault.strerror or "read-only") from fault
        raise


def settle(path: Path) -> None:
    """Return when a file's bytes, or a folder's new names, are on the disk and not only in memory."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def make_folder(folder: Path) -> None:
    """
    Make a folder where it is missing.

    Raises:
        NoProgramme: a file stands there or above it, or a link that points to nothing. It stays: it may be somebody's only copy.
        DiskFull: there is no room.
    """
    try:
        with disk_full_is_named():
            folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        if folder.is_symlink() and not folder.exists():
            raise NoProgramme(f"{folder} points to a place that is not here. Is its disk mounted? If not, name another folder: --data DIR") from None
        raise NoProgramme(f"{folder} is not a folder, or part of its path is a file. Move that aside, or name another folder: --data DIR") from None


def is_whole(path: Path, sha256: str) -> bool:
    """Whether a file is here with the bytes that its name, a SHA-256, promises."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == sha256
