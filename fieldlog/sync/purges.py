"""
What was purged, and what a purge does to the log.

A purge is an entry that only the server writes (`own_lane.py`): it names records, and of each all that was written goes out of log and tray but
numbers, names of entries, stamps and chains. So sync, replay and the checks of backups go on as if the text stood there; to whoever reads records
such an entry is not there, for it is of no record any more. What comes later of such a record is kept the same way, as a blank.

    {"t": "purge", "f": {"why": "person" or "age", "until": stamp or null, "records": [[kind, record id, entry id that stays, or null], ...]}}
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from fieldlog.json_text import read
from fieldlog.sync.log import BLANK, line_id

PURGE = "purge"
"""The kind of such an entry; no device may write it, since no catalogue knows it."""

GONE = "gone"
"""The class of privacy of a line whose text is gone, which nobody reads, and the word of such a line in the tray."""

SENTENCE = "What this entry said was deleted for good: its person was forgotten, or it was kept long enough."


@dataclass(frozen=True, slots=True)
class Purged:
    """One record of which is gone what was written up to the stamp `until`, None for ever; the entry `keeps` stays."""

    kind: str
    record_id: str
    until: str | None
    keeps: str | None

    def covers(self, entry_id: str, eff: object) -> bool:
        """Whether an entry of this record is gone; one whose stamp cannot be read is."""
        return entry_id != self.keeps and (self.until is None or not isinstance(eff, str) or eff <= self.until)


def is_any(db: Database) -> bool:
    """Whether anything was ever purged here."""
    return db.conn.execute("SELECT 1 FROM purged LIMIT 1").fetchone() is not None


def purged_record(db: Database, kind: str, record_id: str) -> Purged | None:
    """What is gone of a record, None where nothing is."""
    row = db.conn.execute("SELECT kind, record_id, until, keeps FROM purged WHERE kind = ? AND record_id = ?", (kind, record_id)).fetchone()
    return None if row is None else Purged(*row)


def is_forgotten(db: Database, person_id: object) -> bool:
    """Whether a person was forgotten."""
    purged = purged_record(db, "person", person_id) if isinstance(person_id, str) else None
    return purged is not None and purged.until is None


def count_of_purges(db: Database) -> int:
    """How many purges the log holds."""
    return int(db.conn.execute("SELECT count(*) FROM log WHERE kind = ?", (PURGE,)).fetchone()[0])


def records_in(line: bytes) -> list[Purged]:
    """The records that a purge names."""
    said = read(line)["f"]
    return [Purged(kind, record_id, said["until"], keeps) for kind, record_id, keeps in said["records"]]


def carry_out(db: Database, purged: Sequence[Purged]) -> None:
    """Note what is gone, and take it out of log and tray; tables are the caller's. Within a `write`."""
    db.conn.executemany(
        """INSERT INTO purged(kind, record_id, until, keeps) VALUES (?, ?, ?, ?) ON CONFLICT(kind, record_id) DO UPDATE SET
           until = iif(until IS NULL OR excluded.until IS NULL, NULL, max(until, excluded.until)), keeps = coalesce(excluded.keeps, keeps)""",
        [(one.kind, one.record_id, one.until, one.keeps) for one in purged],
    )
    # Of what was purged before, the wider word holds, and what stayed then stays.
    marks = [mark for one in purged if (mark := purged_record(db, one.kind, one.record_id)) is not None]
    for one in marks:
        rows = db.conn.execute("SELECT seq, entry_id, eff FROM log WHERE kind = ? AND record_id = ?", (one.kind, one.record_id)).fetchall()
        _blank_log(db, [seq for seq, entry_id, eff in rows if one.covers(entry_id, eff)])
    _blank_tray(db, {(one.kind, one.record_id): one for one in marks})


def carry_out_all(db: Database) -> None:
    """The same of every purge that the log holds, in its order: tables are about to be rebuilt. Within a `write`."""
    db.conn.execute("DELETE FROM purged")
    for (line,) in db.conn.execute("SELECT line FROM log WHERE kind = ? ORDER BY seq", (PURGE,)).fetchall():
        carry_out(db, records_in(line))


def _blank_log(db: Database, seqs: Iterable[int]) -> None:
    """A line without text is of no record, site, visit or author either."""
    db.conn.executemany(
        "UPDATE log SET line = ?, kind = '', record_id = '', site_id = NULL, visit_id = NULL, made_by = NULL, privacy = ? WHERE seq = ?",
        [(BLANK, GONE, seq) for seq in seqs],
    )


def blank_row(seq: int, entry_id: str, lane_id: str, number: int, eff: str, h: str, ch: str, now_ms: int) -> tuple[Any, ...]:
    """The values of `INSERT_LOG` for an entry that came when its record was purged already."""
    return (seq, entry_id, lane_id, number, eff, BLANK, "", "", None, None, None, GONE, h, ch, now_ms)


def _blank_tray(db: Database, purged: dict[tuple[Any, Any], Purged]) -> None:
    gone = []
    for lane_id, number, entry_id, line in db.conn.execute("SELECT lane_id, number, entry_id, line FROM tray WHERE length(line) > 0"):
        said = said_in(line)
        one = None if said is None else purged.get((said.get("t"), said.get("r")))
        if one is not None and one.covers(entry_id, said and said.get("s")):
            gone.append((BLANK, GONE, SENTENCE, GONE, lane_id, number))
    db.conn.executemany(
        """UPDATE tray SET line = ?, why = ?, sentence = ?, waits_for = NULL, resolved_by = coalesce(resolved_by, ?)
           WHERE lane_id = ? AND number = ?""",
        gone,
    )


def said_in(line: bytes) -> dict[str, Any] | None:
    """What a line says if it can be read and names a kind and a record, whatever else is wrong with it."""
    try:
        said = read(line)
    except (ValueError, RecursionError):
        return None
    names_record = isinstance(said, dict) and isinstance(said.get("t"), str) and isinstance(said.get("r"), str)
    return said if names_record else None


def is_written(line: bytes, entry_id: str) -> bool:
    """Whether a stored line is what was written, or gone."""
    return line == BLANK or line_id(line) == entry_id
