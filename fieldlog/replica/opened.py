"""A replica opened as a backup is, to restore a programme from."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from fieldlog.backup_file import DATABASE, FORMAT, Backup, OpenBackup, held_in, what_runs_by_itself
from fieldlog.disk import is_whole, settle
from fieldlog.errors import BackupUnsound, ReplicaFault
from fieldlog.replica.engine import OWN_TABLES, fetch_database
from fieldlog.replica.place import PHOTOS, Place, generation_name, generations
from fieldlog.soundness import faults_of
from fieldlog.store import connect


@contextmanager
def opened_replica(place: Place, workspace: Path) -> Iterator[OpenBackup]:
    """
    The newest generation at a place that holds something, after its database was checked.

    Raises:
        ReplicaFault: nothing is there, or it cannot be read.
        BackupUnsound: what is there is not what was written.
    """
    with tempfile.TemporaryDirectory(dir=workspace, prefix=".check-") as folder:
        copy = Path(folder) / DATABASE
        generation = _fetch_newest(place, Path(folder), copy)
        db = connect(copy)
        try:
            strange = what_runs_by_itself(db)
            faults = faults_of(db, None) if strange is None else [f"It holds {strange!r}, which Fieldlog did not write."]
            if faults:
                raise BackupUnsound(f"The replica {place.text} ({generation_name(generation)}) is not sound. {' '.join(faults[:3])}")
            for table in OWN_TABLES:
                db.conn.execute(f"DROP TABLE IF EXISTS {table}")
            yield OpenBackup(_described(db), db, lambda photos_folder: _fetch_photos(place, db, photos_folder))
        except sqlite3.DatabaseError as fault:
            raise BackupUnsound(f"The replica {place.text} is damaged: {fault}.") from None
        finally:
            db.conn.close()


def _fetch_newest(place: Place, folder: Path, copy: Path) -> int:
    for generation in reversed(generations(place)):
        # A generation that was begun and never received its first state holds nothing that the one before does not.
        if fetch_database(place, generation, folder, copy):
            return generation
    raise ReplicaFault(f"There is no replica at {place.text}.")


def _described(db: Database) -> Backup:
    (last_at,) = db.conn.execute("SELECT coalesce(max(received_at), 0) FROM log").fetchone()
    (photos,) = db.conn.execute("SELECT count(*) FROM photo_file").fetchone()
    return Backup(FORMAT, made_at=last_at, photos=photos, **held_in(db))


def _fetch_photos(place: Place, db: Database, folder: Path) -> int:
    """Photos that are not there, or not what they should be, lose their receipt: their phones still have them."""
    missing = 0
    for (sha256,) in db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL").fetchall():
        target = folder / sha256
        if place.get(f"{PHOTOS}/{sha256}", target) and is_whole(target, sha256):
            settle(target)
            continue
        target.unlink(missing_ok=True)
        db.conn.execute("DELETE FROM photo_file WHERE sha256 = ?", (sha256,))
        missing += 1
    return missing
