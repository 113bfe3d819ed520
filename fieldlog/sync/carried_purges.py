"""
What was purged since a backup, carried from the folder that the backup replaces: its lanes of the server's own, as they stand there.

The folder may be damaged or another programme's: only lanes are taken that are what was written, line by line, and of a log that began as the backup's did.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from fieldlog.records.catalogue import Catalogue
from fieldlog.store import read_only, size_fault
from fieldlog.sync.clock import is_stamp
from fieldlog.sync.log import chain, line_id
from fieldlog.sync.own_lane import LANE, keep_lane
from fieldlog.sync.purges import PURGE, records_in, said_in
from fieldlog.sync.rows import INSERT_LOG, log_end

KINDS = (PURGE, "person")
"""What a purge writes: itself, and what stays of a person."""


@dataclass(frozen=True)
class OwnLane:
    """A lane of the server's own: its name and its lines, from the first on."""

    lane_id: str
    lines: tuple[bytes, ...]


def purges_in(path: Path, backup: Database) -> list[OwnLane] | None:
    """The server's own lanes in a programme's database file, in their order; None where it is none, is damaged, or another programme's."""
    if not path.exists() or size_fault(path) is not None:
        return None
    try:
        conn = read_only(path)
        try:
            lanes = own_lanes(conn)
            first = conn.execute("SELECT entry_id FROM log WHERE seq = 1").fetchone()
        finally:
            conn.close()
    except sqlite3.DatabaseError:
        return None
    if first != backup.conn.execute("SELECT entry_id FROM log WHERE seq = 1").fetchone():
        return None
    return lanes


def own_lanes(conn: sqlite3.Connection) -> list[OwnLane]:
    """The lanes of a database that are the server's own and hold a purge's entries alone, in their order."""
    rows = conn.execute("SELECT lane_id, line FROM log WHERE substr(lane_id, 1, ?) = ? ORDER BY seq", (len(LANE), LANE)).fetchall()
    lanes: dict[str, list[bytes]] = {}
    for lane_id, line in rows:
        lanes.setdefault(lane_id, []).append(line)
    return [OwnLane(lane_id, tuple(lines)) for lane_id, lines in lanes.items() if _is_sound(lane_id, lines)]


def _is_sound(lane_id: str, lines: list[bytes]) -> bool:
    for number, line in enumerate(lines, 1):
        said = said_in(line) if isinstance(line, bytes) else None
        if said is None or said.get("d") != lane_id or said.get("n") != number or said["t"] not in KINDS or not is_stamp(said.get("s")):
            return False
        if said["t"] == PURGE and not _is_purge(line):
            return False
    return True


def _is_purge(line: bytes) -> bool:
    try:
        records = records_in(line)
    except (KeyError, TypeError, ValueError):
        return False
    return all(
        isinstance(one.kind, str) and isinstance(one.record_id, str) and isinstance(one.until, str | None) and isinstance(one.keeps, str | None)
        for one in records
    )  # fmt: skip


def carry_purges(db: Database, catalogue: Catalogue, lanes: list[OwnLane], now_ms: int) -> None:
    """Put the lanes that a restored database lacks at the end of its log; a replay carries them out. Within a `write`."""
    for lane in lanes:
        if db.conn.execute("SELECT 1 FROM lane WHERE lane_id = ?", (lane.lane_id,)).fetchone() is not None:
            continue
        seq, h, _newest = log_end(db)
        ch = name = ""
        for number, line in enumerate(lane.lines, 1):
            said = said_in(line)
            assert said is not None
            name, seq = line_id(line), seq + 1
            h, ch = chain(h, name + said["s"]), chain(ch, name)
            privacy = "open" if said["t"] == PURGE else catalogue.kinds[said["t"]].privacy
            db.conn.execute(INSERT_LOG, (
                seq, name, lane.lane_id, number, said["s"], line, said["t"], said["r"], said.get("g"), None, said.get("u"), privacy, h, ch, now_ms,
            ))  # fmt: skip
        keep_lane(db, lane.lane_id, len(lane.lines), name)
