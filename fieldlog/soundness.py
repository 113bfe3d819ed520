"""
Whether a programme's files are what they were written as: SQLite's own check, the hash chains, the photos' names.

A backup is believed, and `doctor` is content, only when all three find nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from typing import IO

from sqlite_utils import Database

from fieldlog.sync.log import chain, line_id

CHUNK = 1024 * 1024


def faults_of(db: Database, open_photo: Callable[[str], IO[bytes]]) -> list[str]:
    """
    Everything that is not sound, a sentence each; empty where all is well.

    Args:
        db: the programme's database, or a copy of it.
        open_photo: gives a photo's bytes by its SHA-256; raises FileNotFoundError or KeyError where they are missing.
    """
    torn = [row[0] for row in db.conn.execute("PRAGMA integrity_check(5)").fetchall()]
    if torn != ["ok"]:
        return [f"SQLite finds the database damaged: {'; '.join(torn)}."]
    return [*broken_log(db), *broken_lanes(db), *broken_photos(db, open_photo)]


def broken_log(db: Database) -> Iterator[str]:
    """Recompute every entry's id and the chain over the log in its order; says where it first breaks."""
    h, expected = "", 1
    for seq, entry_id, eff, line, stored in db.conn.execute("SELECT seq, entry_id, eff, line, h FROM log ORDER BY seq"):
        h = chain(h, entry_id + eff)
        if seq != expected:
            yield f"The log lacks entry {expected}."
            return
        if line_id(line) != entry_id or h != stored:
            yield f"Entry {seq} of the log is not what was written."
            return
        expected += 1


def broken_lanes(db: Database) -> Iterator[str]:
    """Recompute each lane's chain over log and tray; says where a lane first breaks."""
    rows = db.conn.execute(
        """SELECT lane_id, number, entry_id, line, ch FROM log
           UNION ALL SELECT lane_id, number, entry_id, line, ch FROM tray ORDER BY lane_id, number"""
    )
    tops: dict[str, tuple[int, str]] = {}
    broken: set[str] = set()
    for lane_id, number, entry_id, line, stored in rows:
        last, ch = tops.get(lane_id, (0, ""))
        ch = chain(ch, entry_id)
        if lane_id not in broken and (number != last + 1 or ch != stored or line_id(line) != entry_id):
            broken.add(lane_id)
            yield f"Lane {lane_id} is not what was written at its line {number}."
        tops[lane_id] = (number, ch)
    for lane_id, top in db.conn.execute("SELECT lane_id, top FROM lane"):
        if top != tops.get(lane_id, (0, ""))[0]:
            yield f"Lane {lane_id} says it ends at {top}; its lines end at {tops.get(lane_id, (0, ''))[0]}."


def broken_photos(db: Database, open_photo: Callable[[str], IO[bytes]]) -> Iterator[str]:
    """Hash every complete photo; says which are missing or changed."""
    for (sha256,) in db.conn.execute("SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL ORDER BY sha256").fetchall():
        try:
            with open_photo(sha256) as photo:
                right = hash_of(photo) == sha256
        except (FileNotFoundError, KeyError):
            yield f"Photo {sha256[:12]} is missing."
        else:
            if not right:
                yield f"Photo {sha256[:12]} is not what was received."


def hash_of(file: IO[bytes]) -> str:
    """The SHA-256 of a file's bytes in hex, read a megabyte at a time."""
    digest = hashlib.sha256()
    while piece := file.read(CHUNK):
        digest.update(piece)
    return digest.hexdigest()
