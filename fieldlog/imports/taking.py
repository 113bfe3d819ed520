"""
Taking what a try found good: the server writes a lane under the lead's device, its entries taken by the same code as a phone's.

The lane's first entry is the import's own record, which one later entry removes or restores with all that came with it. Every line is made of
the files of the try, the lane's key and the time at which the taking began, so that a taking that was cut off goes on with the very same lines.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import Any

import orjson
from sqlite_utils import Database

from fieldlog.access.devices import Device
from fieldlog.child import Tell
from fieldlog.imports.trying import entries_in
from fieldlog.instants import written
from fieldlog.records.catalogue import Catalogue
from fieldlog.sync.clock import START, tick
from fieldlog.sync.lanes import chain_before, lane_name, lane_of
from fieldlog.sync.receive import receive

LINES_AT_ONCE = 1000


@dataclass(frozen=True)
class Begun:
    """A taking as it was begun: `key` is its lane's, `began_ms` the time of import, milliseconds since 1970 UTC; `count` records are made."""

    import_id: str
    key: str
    began_ms: int
    site_id: str | None
    file_name: str
    kind: str
    count: int


@dataclass
class Taken:
    """How many entries are here, and how many of them are held back."""

    entries: int = 0
    held: int = 0


def lines_of(begun: Begun, folder: Path, catalogue: Catalogue) -> Iterator[bytes]:
    """The lane's lines from its first on."""
    lane_id, stamp = lane_name(begun.key), START
    first = {
        "t": "import", "r": begun.import_id, "g": begun.site_id, "y": None, "u": None,
        "f": {"file_name": begun.file_name, "of_kind": begun.kind, "records_made": begun.count, "imported_at": written(datetime.fromtimestamp(begun.began_ms / 1000, UTC))},
    }  # fmt: skip
    for number, said in enumerate(_with(first, entries_in(folder)), 1):
        stamp = tick(begun.began_ms, stamp)
        line = {
            "v": 1, "d": lane_id, "n": number, "s": stamp, "u": said["u"], "t": said["t"], "r": said["r"], "g": said["g"], "y": said["y"],
            "f": said["f"], "b": {}, "o": None,
        }  # fmt: skip
        if number > 1:
            line["i"] = begun.import_id
        if catalogue.kinds[said["t"]].salted:
            line["k"] = hashlib.sha256(f"{begun.key}|{number}".encode()).hexdigest()[:32]
        yield orjson.dumps(line)


def _with(first: dict[str, Any], rest: Iterator[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    yield first
    yield from rest


def take(
    db: Database, catalogue: Catalogue, begun: Begun, folder: Path, who: Callable[[], Device], now_ms: Callable[[], int], tell: Tell
) -> Taken:  # fmt: skip
    """
    Take what is not here yet of an import.

    Args:
        folder: where the try left its entries.
        who: the lead's device, asked anew for each part.
        tell: is told how far it is.
    """
    lane_id = lane_name(begun.key)
    top = lane_of(db, lane_id).top
    lines = islice(lines_of(begun, folder, catalogue), top, None)
    while some := list(islice(lines, LINES_AT_ONCE)):
        tell(f"{top:,} of {begun.count:,} stored")
        body = _body(db, begun, lane_id, top, some, who(), now_ms())
        reply = receive(db, body, catalogue, who, now_ms)
        if reply["err"] is not None:
            raise ValueError(f"The lane of an import was answered {reply['err']}.")
        top += len(some)
    return Taken(top - 1, _held(db, lane_id))


def _body(db: Database, begun: Begun, lane_id: str, top: int, lines: list[bytes], device: Device, now_ms: int) -> bytes:
    """The request of a part of the lane; what is known of the device's own phone stays as it is."""
    app, skew_ms, unsent = db.conn.execute("SELECT app, skew_ms, unsent FROM device WHERE device_id = ?", (device.device_id,)).fetchone()
    header = {
        "p": 1, "rid": f"import-{top}", "d": lane_id, "key": begun.key, "from": top + 1, "prev": chain_before(db, lane_id, top + 1) or "",
        "mine": top + len(lines) + (unsent or 0), "cursor": None, "want": 1, "now": now_ms + (skew_ms or 0), "app": app,
    }  # fmt: skip
    return b"".join(line + b"\n" for line in (json.dumps(header).encode(), *lines))


def _held(db: Database, lane_id: str) -> int:
    return int(db.conn.execute("SELECT count(*) FROM tray WHERE lane_id = ?", (lane_id,)).fetchone()[0])
