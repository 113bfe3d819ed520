"""
Entries that the server writes itself, each time in a lane of its own: no device holds it, so none may continue it.

Nobody judges them: whoever asks for them was asked for their right before.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.clock import tick
from fieldlog.sync.log import chain, line_id
from fieldlog.sync.rows import INSERT_LOG, log_end

LANE, HOLDER = "server-", "server"
"""How such a lane's name begins, and what stands where another lane has its device."""

RANDOM_BYTES = 16


@dataclass(frozen=True)
class Own:
    """A change that the server writes; `made_by` is the person who asked for it."""

    kind: str
    record_id: str
    site_id: str | None
    fields: dict[str, Any]
    bases: dict[str, list[str]] = field(default_factory=dict)
    made_by: str | None = None


def write_own(db: Database, catalogue: Catalogue, changes: Sequence[Own], now_ms: int) -> list[str]:
    """
    Put entries at the end of the log, in one new lane; tables are the caller's. Within a `write`.

    Returns:
        Their names, in the order of the changes.
    """
    lane_id, ch = f"{LANE}{secrets.token_hex(12)}", ""
    seq, h, stamp = log_end(db)
    names = []
    for number, change in enumerate(changes, 1):
        seq, stamp = seq + 1, tick(now_ms, stamp)
        line = line_of(catalogue, change, lane_id, number, stamp)
        entry_id = line_id(line)
        h, ch = chain(h, entry_id + stamp), chain(ch, entry_id)
        kind = catalogue.kinds.get(change.kind)
        db.conn.execute(INSERT_LOG, (
            seq, entry_id, lane_id, number, stamp, line, change.kind, change.record_id, change.site_id, None, change.made_by,
            "open" if kind is None else kind.privacy, h, ch, now_ms,
        ))  # fmt: skip
        names.append(entry_id)
    if names:
        keep_lane(db, lane_id, len(names), names[-1])
    return names


def line_of(catalogue: Catalogue, change: Own, lane_id: str, number: int, stamp: str) -> bytes:
    """The line that such a change is."""
    kind = catalogue.kinds.get(change.kind)
    salt = {"k": secrets.token_hex(RANDOM_BYTES)} if kind is None or kind.salted else {}
    said = {
        "v": 1, "d": lane_id, "n": number, "s": stamp, "u": change.made_by, "t": change.kind, "r": change.record_id, "g": change.site_id,
        "y": None, "f": change.fields, "b": change.bases, "o": None, **salt,
    }  # fmt: skip
    return orjson.dumps(said)


def keep_lane(db: Database, lane_id: str, top: int, top_id: str) -> None:
    """Note that a lane of the server's ends here."""
    db.conn.execute("INSERT INTO lane(lane_id, device_id, top, top_id) VALUES (?, ?, ?, ?)", (lane_id, HOLDER, top, top_id))
