"""The row that an entry becomes in the log table."""

from __future__ import annotations

from typing import Any

from fieldlog.records.catalogue import Catalogue
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
