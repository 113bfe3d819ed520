"""Whether a replica holds what is relied on: it is restored into a scratch folder and looked at as a backup is."""

from __future__ import annotations

import sqlite3
import tempfile
from pathlib import Path

from sqlite_utils import Database

from fieldlog.durable import tops_without
from fieldlog.errors import ReplicaFault
from fieldlog.replica.engine import engine_program, fetch_database
from fieldlog.replica.place import PHOTOS, Place, generations, place_of
from fieldlog.soundness import faults_of
from fieldlog.store import Programme, connect, read_only, set_setting, setting, size_fault

SETTING, GENERATION, EPOCH, RENEWS = "replica", "replica_generation", "replica_epoch", "replica_renews"
"""
The settings: the place, the generation that is written there, and the epoch of the programme that it belongs to; and one that stands while older
generations hold what was purged.
"""


def place_of_programme(programme: Programme) -> Place | None:
    """
    Where a programme's replica lies, None where it has none.

    Raises:
        BadReplica: the place that is set is none, or its client is not installed.
    """
    text = setting(programme.db(), SETTING)
    return place_of(text, programme.folder) if text else None


def renew_replica(db: Database) -> None:
    """Have the replica, where there is one, begin anew, and what it held before removed once the new one is whole. Within a `write`."""
    if setting(db, SETTING):
        db.conn.execute("DELETE FROM setting WHERE name = ?", (EPOCH,))
        set_setting(db, RENEWS, "1")


def set_replica(programme: Programme, text: str) -> None:
    """
    Keep where the replica lies; an empty text ends it.

    Raises:
        BadReplica: it is no place for one, or its client is not installed.
        ReplicaFault: Litestream is not installed.
    """
    if text:
        text = place_of(text, programme.folder).text
        engine_program()
    set_setting(programme.db(), SETTING, text)


def replica_set_in(path: Path) -> str:
    """Where a database file, damaged or not, says that its machine's replica lies; "" where it says nothing."""
    if not path.exists() or size_fault(path) is not None:
        return ""
    try:
        conn = read_only(path)
        try:
            if conn.execute("PRAGMA quick_check('setting')").fetchall() != [("ok",)]:
                return ""
            row = conn.execute("SELECT value FROM setting WHERE name = ?", (SETTING,)).fetchone()
        finally:
            conn.close()
    except sqlite3.DatabaseError:
        return ""
    return row[0] if row is not None and isinstance(row[0], str) else ""


def keep_replica(db: Database, text: str) -> None:
    """Let a restored programme have its machine's replica, or none for "", and begin a generation there. Within a `write`."""
    db.conn.execute("DELETE FROM setting WHERE name IN (?, ?, ?)", (SETTING, GENERATION, EPOCH))
    if text:
        set_setting(db, SETTING, text)


def tops_in_replica(programme: Programme) -> dict[str, int] | None:
    """
    How far each lane reaches in a programme's replica, up to the first line whose photo is not there; None where it has no replica.

    Raises:
        ReplicaFault: it cannot be read, or is not sound.
    """
    place = place_of_programme(programme)
    if place is None:
        return None
    generation = int(setting(programme.db(), GENERATION) or 0)
    if not generation:
        raise ReplicaFault(f"The replica {place.text} has not started yet. A running server starts it.")
    with tempfile.TemporaryDirectory(prefix="fieldlog-replica-") as folder:
        copy = Path(folder) / "fieldlog.sqlite"
        if not fetch_database(place, generation, Path(folder), copy):
            raise ReplicaFault(f"The replica {place.text} is still empty.")
        db = connect(copy)
        try:
            faults = faults_of(db, None)
            if faults:
                raise ReplicaFault(f"The replica {place.text} is not sound. {faults[0]}")
            photos = {row[0] for row in db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL")}
            tops, ends = tops_without(db, photos - place.names(PHOTOS))
            return {**tops, **ends}
        except sqlite3.DatabaseError as fault:
            raise ReplicaFault(f"The replica {place.text} cannot be read: {fault}.") from None
        finally:
            db.conn.close()


def next_generation(place: Place) -> int:
    """A number that no generation at a place has had."""
    return (generations(place) or [0])[-1] + 1
