"""Drawn rows put into a programme as entries that were taken long ago, by servers that asked less of them."""

from __future__ import annotations

import json
from typing import Any

from fieldlog.records.catalogue import CATALOGUE
from fieldlog.store import Programme, write
from fieldlog.sync.apply import apply_entries
from fieldlog.sync.log import MAX_LINE_BYTES, chain, entry_of, line_id
from fieldlog.sync.rows import INSERT_LOG, log_row
from tests.sync.lines import Lane

ENVELOPE = {"record_id", "site_id", "visit_id", "created_by"}


def take_rows(programme: Programme, rows: dict[str, list[dict[str, Any]]], at_ms: int) -> None:
    """Write one entry a row straight into the log, and the tables from it."""
    db, lane, h, taken = programme.db(), Lane(), "", []
    lane.now_ms = at_ms
    for name, of_kind in rows.items():
        for row in of_kind:
            fields = {field: value for field, value in row.items() if field not in ENVELOPE} or {"_deleted": False}
            key = {"k": "0" * 32} if name.endswith("_private") else {}
            # What no one line holds was written by several.
            whole = len(json.dumps(fields)) < MAX_LINE_BYTES * 0.9
            for some in [fields] if whole else [{field: value} for field, value in fields.items()]:
                lane.write(name, row["record_id"], some, g=row["site_id"], y=row["visit_id"], u=row["created_by"], **key)
    with write(db):
        for seq, line in enumerate(lane.texts, 1):
            entry = entry_of(line, lane.lane_id, seq)
            h = chain(h, line_id(line) + entry.stamp)
            db.conn.execute(INSERT_LOG, log_row(seq, entry, entry.stamp, line, CATALOGUE, h, lane.chain[seq], at_ms))
            taken.append((entry, entry.stamp))
        apply_entries(db, CATALOGUE, taken)
