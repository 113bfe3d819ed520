"""
Whether a programme's files are what they were written as: SQLite's own check, the hash chains, the photos' names.

A backup is believed, and `doctor` is content, only when all three find nothing.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Collection, Iterator
from typing import IO

from sqlite_utils import Database

from fieldlog.access.carried_over import are_sites
from fieldlog.migrations import migrations
from fieldlog.sync.log import chain
from fieldlog.sync.purges import is_written

CHUNK = 1024 * 1024
TYPES = {
    "log": {
        "seq": "integer", "entry_id": "text", "lane_id": "text", "number": "integer", "eff": "text", "line": "blob", "h": "text",
        "ch": "text",
    },
    "tray": {"lane_id": "text", "number": "integer", "entry_id": "text", "line": "blob", "why": "text", "ch": "text"},
    "lane": {"lane_id": "text", "device_id": "text", "top": "integer", "top_id": "text", "durable": "integer"},
    "device": {"device_id": "text", "token_sha256": "text", "role": "text", "name": "text", "made_at": "integer"},
    "invitation": {"invitation_id": "text", "code_sha256": "text", "role": "text", "expires_at": "integer", "uses_left": "integer"},
    "photo_file": {"sha256": "text", "bytes": "integer"},
    "setting": {"name": "text", "value": "text"},
}  # fmt: skip
"""What this program writes where, as SQLite names types."""


def faults_of(db: Database, open_photo: Callable[[str], IO[bytes]] | None, missing: Collection[str] = ()) -> list[str]:
    """
    Everything that is not sound, a sentence each; empty where all is well.

    Args:
        db: the programme's database, or a copy of it.
        open_photo: gives a photo's bytes by its SHA-256; raises FileNotFoundError or KeyError where they are missing.
            None leaves the photos to the caller.
        missing: photos that are known not to be there.
    """
    try:
        torn = [row[0] for row in db.conn.execute("PRAGMA integrity_check(5)").fetchall()]
        if torn != ["ok"]:
            return [f"SQLite finds the database damaged: {'; '.join(torn)}."]
        odd = list(lacking_columns(db)) or list(_odd_values(db))
        photos = () if open_photo is None else broken_photos(db, open_photo, missing)
        return odd or [*broken_log(db), *broken_lanes(db), *photos]
    except sqlite3.DatabaseError as fault:
        return [f"SQLite cannot read the database: {fault}."]


def lacking_columns(db: Database) -> Iterator[str]:
    """Columns that the migrations which a database says it had would have made, and that are not there: whoever reads them would fail."""
    stated = {migration.name for migration in migrations.applied(db)}
    like = Database(memory=True)
    for migration in migrations.pending(like):
        if migration.name in stated:
            migration.fn(like)
    for (table,) in like.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name").fetchall():
        lacks = [name for name in _columns(like, table) if name not in _columns(db, table)]
        if lacks:
            yield f"The table {table} lacks what Fieldlog writes there: {', '.join(lacks)}."
    like.conn.close()


def _columns(db: Database, table: str) -> list[str]:
    return [name for (name,) in db.conn.execute("SELECT name FROM pragma_table_info(?)", (table,))]


def _odd_values(db: Database) -> Iterator[str]:
    """Values of another type than is ever written: the chains cannot be worked out over them."""
    for table, columns in TYPES.items():
        wrong = " OR ".join(f"typeof({name}) <> '{kind}'" for name, kind in columns.items())
        (count,) = db.conn.execute(f"SELECT count(*) FROM {table} WHERE {wrong}").fetchone()
        if count:
            yield f"Rows of the table {table} with values that Fieldlog never writes: {count}."
    strange = db.conn.execute("SELECT sha256 FROM photo_file WHERE length(sha256) <> 64 OR sha256 GLOB '*[^0-9a-f]*'").fetchone()
    if strange is not None:
        yield f"A photo is listed under {strange[0]!r}, which is not a SHA-256."
    strange = db.conn.execute("SELECT role FROM device WHERE role NOT IN ('lead', 'crew', 'desk', 'reader')").fetchone()
    if strange is not None:
        yield f"A device has the role {strange[0]!r}, which does not exist."
    for (sites,) in db.conn.execute("SELECT DISTINCT sites FROM device"):
        if not are_sites(sites):
            yield f"A device has the sites {str(sites)[:40]!r}, which is not a list of sites."


def broken_log(db: Database) -> Iterator[str]:
    """Recompute every entry's id and the chain over the log in its order; says where it first breaks. A purged line has its id alone."""
    h, expected = "", 1
    for seq, entry_id, eff, line, stored in db.conn.execute("SELECT seq, entry_id, eff, line, h FROM log ORDER BY seq"):
        h = chain(h, entry_id + eff)
        if seq != expected:
            yield f"The log lacks entry {expected}."
            return
        if not is_written(line, entry_id) or h != stored:
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
        if lane_id not in broken and (number != last + 1 or ch != stored or not is_written(line, entry_id)):
            broken.add(lane_id)
            yield f"Lane {lane_id} is not what was written at its line {number}."
        tops[lane_id] = (number, ch)
    for lane_id, top in db.conn.execute("SELECT lane_id, top FROM lane"):
        if top != tops.get(lane_id, (0, ""))[0]:
            yield f"Lane {lane_id} says it ends at {top}; its lines end at {tops.get(lane_id, (0, ''))[0]}."


def broken_photos(db: Database, open_photo: Callable[[str], IO[bytes]], missing: Collection[str] = ()) -> Iterator[str]:
    """Hash every complete photo but those known to be missing; says which are missing or changed."""
    known = set(missing)
    for sha256, is_here in whole_photos(db, open_photo):
        if is_here is None and sha256 not in known:
            yield f"Photo {sha256[:12]} is missing."
        elif is_here is False:
            yield f"Photo {sha256[:12]} is not the photo that arrived."


def whole_photos(db: Database, open_photo: Callable[[str], IO[bytes]]) -> Iterator[tuple[str, bool | None]]:
    """Every complete photo with a name that is one, and whether its bytes are its own; None where they are missing or cannot be read."""
    names = db.conn.execute(
        """SELECT sha256 FROM photo_file WHERE complete_at IS NOT NULL AND typeof(sha256) = 'text' AND length(sha256) = 64
           AND sha256 NOT GLOB '*[^0-9a-f]*' ORDER BY sha256"""
    )
    for (sha256,) in names.fetchall():
        try:
            with open_photo(sha256) as photo:
                yield sha256, hash_of(photo) == sha256
        except (OSError, KeyError):
            yield sha256, None


def hash_of(file: IO[bytes]) -> str:
    """The SHA-256 of a file's bytes in hex, read a megabyte at a time."""
    digest = hashlib.sha256()
    while piece := file.read(CHUNK):
        digest.update(piece)
    return digest.hexdigest()
