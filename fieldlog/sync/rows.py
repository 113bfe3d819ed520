"""The row that an entry becomes in the log table, and where the log ends."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.clock import START
from fieldlog.sync.log import Entry

INSERT_LOG = "INSERT INTO log VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"


def log_row(
    seq: int, entry: Entry, eff: str, line: bytes, catalogue: Catalogue, h: str, ch: str, now_ms: int
) -> tuple[Any, ...]:
    """The values of `INSERT_LOG` for an entry that is taken; `h` and `ch` are its links in both chains."""
    return (
        seq, entry.entry_id, entry.lane_id, entry.number, eff, line, entry.kind, entry.record_id, entry.site_id,
        entry.visit_id, entry.made_by, catalogue.kinds[entry.kind].privacy, h, ch, now_ms,
    )  # fmt: skip


def log_end(db: Database) -> tuple[int, str, str]:
    """The log's last number, its chain there, and the greatest effective stamp in it."""
    seq, h = db.conn.execute("SELECT seq, h FROM log ORDER BY seq DESC LIMIT 1").fetchone() or (0, "")
    return seq, h, db.conn.execute("SELECT max(eff) FROM log").fetchone()[0] or START
